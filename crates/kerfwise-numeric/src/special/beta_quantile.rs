//! Quantiles of the beta distribution.

use super::beta::{Point, Shapes, beta_inc};
use super::gamma::NORMAL_FROM;
use super::normal::normal_quantile_upper;
use crate::dd::Dd;
use crate::float;
use crate::root::{RootTolerance, find_root};

/// The `x` below which a beta(a, b) quantity lies with chance `p`: 0 at 0, 1 at 1; NaN for p outside [0, 1] or parameters not above
/// 0.
///
/// As [`beta_quantile_pair`]; near 1 an x cannot say how near it is.
///
/// ```
/// use kerfwise_numeric::special::beta_quantile;
/// assert!((beta_quantile(0.6875, 2.0, 3.0) - 0.5).abs() < 1e-15);
/// ```
#[must_use]
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    beta_quantile_pair(p, a, b).0
}

/// The place `x` below which a beta(a, b) quantity lies with chance `p`, as the pair (x, 1 - x), each with relative accuracy of its
/// own: (0, 1) at p = 0, (1, 0) at p = 1; NaN for p outside [0, 1] or parameters not above 0.
///
/// Halley's method on the logarithm of the smaller tail over that of the odds x/(1-x), where it is concave, kept within a bracket.
/// Relative accuracy: that of [`beta_inc`] divided by the larger of 1 and the slope of those logarithms, and 1e-15 at best; for
/// parameters above 1e20 the smaller of the two as far as `f64` can show it, and the other is the rest. What would be below 2e-308 is given as 0.
///
/// ```
/// use kerfwise_numeric::special::beta_quantile_pair;
/// // With shapes 1 and 2 the chance above x is (1-x)^2.
/// let (x, y) = beta_quantile_pair(1e-20, 1.0, 2.0);
/// assert!((x / 5e-21 - 1.0).abs() < 1e-15 && y == 1.0);
/// ```
#[must_use]
pub fn beta_quantile_pair(p: f64, a: f64, b: f64) -> (f64, f64) {
    let is_law = a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite();
    if !(is_law && (0.0..=1.0).contains(&p)) {
        return (f64::NAN, f64::NAN);
    }
    if p <= 0.0 || p >= 1.0 {
        return (p, 1.0 - p); // 0 and 1
    }
    if a.max(b) > NORMAL_FROM {
        return quantile_by_halving(p, a, b);
    }
    let shapes = Shapes::new(a, b);
    if p <= 0.5 {
        sides(odds(p, shapes))
    } else {
        let (y, x) = sides(odds(1.0 - p, shapes.mirrored())); // exact: no rounding for p in [1/2, 1]
        (x, y)
    }
}

/// x and 1 - x of odds x/(1-x).
fn sides(odds: f64) -> (f64, f64) {
    if odds <= 1.0 {
        (odds / (1.0 + odds), 1.0 / (1.0 + odds))
    } else {
        let inverse = 1.0 / odds;
        (1.0 / (1.0 + inverse), inverse / (1.0 + inverse))
    }
}

/// The quantile for parameters too large for exponents: a bracketed root over the smaller of x and 1 - x, as far as `f64` can show
/// it, and the rest.
fn quantile_by_halving(p: f64, a: f64, b: f64) -> (f64, f64) {
    let finest = RootTolerance {
        absolute: 0.0,
        relative: 0.0,
    };
    let is_left = a <= b;
    let (small, large) = if is_left { (a, b) } else { (b, a) };
    let (below, above) = if is_left { (p, 1.0 - p) } else { (1.0 - p, p) };
    let off = |place: f64| {
        let (lower, upper) = beta_inc(place, small, large);
        if below < above {
            lower - below
        } else {
            above - upper
        }
    };
    // At the ends this is below 0 and above 0, so there is a root.
    let place = find_root(off, 0.0, 1.0, finest).map_or(0.5, |root| root.x);
    if is_left {
        (place, 1.0 - place)
    } else {
        (1.0 - place, place)
    }
}

/// Odds outside of these have no x or 1 - x that is a normal number.
const FARTHEST_ODDS: (f64, f64) = (f64::MIN_POSITIVE, 1.0 / f64::MIN_POSITIVE);

/// The odds x/(1-x) with lower tail p, for p up to 1/2.
fn odds(p: f64, shapes: Shapes) -> f64 {
    let ln_p = Dd::new(p).ln();
    let (mut lo, mut hi) = FARTHEST_ODDS;
    let mut odds = start_odds(p, ln_p.hi, shapes).clamp(lo, hi);
    // Three steps are usual; the cap is for a function that is flat in floating point.
    for _ in 0..100 {
        let point = Point::at_odds(odds, shapes);
        let (tail, slope) = point.ln_lower();
        let off = (ln_p - tail).hi;
        if off > 0.0 {
            lo = odds;
        } else if odds <= FARTHEST_ODDS.0 {
            return 0.0;
        } else {
            hi = odds;
        }
        // The slope's own slope over the logarithm of the odds is slope (lambda - slope).
        let lambda = point.lambda();
        let bend = 1.0 + 0.5 * off / slope * (lambda - slope);
        let step = off / slope / bend.max(0.5);
        let next = odds * float::exp(step);
        // The next step would be the cube of this, in units of the distance over which the slope changes.
        if step.abs() * (1.0 + slope + lambda.abs()) < 1e-5 {
            return next;
        }
        odds = if lo < next && next < hi {
            next
        } else {
            lo.sqrt() * hi.sqrt()
        };
    }
    odds
}

/// Near the odds with lower tail p: after Carter (1947; Abramowitz and Stegun 26.5.22) where the law has a hump, else by the power
/// law of the end that is nearer; in a far tail always by that.
fn start_odds(p: f64, ln_p: f64, shapes: Shapes) -> f64 {
    let Shapes { a, b, .. } = shapes;
    // The lower tail is near x^a/(a B), and below it for b >= 1.
    let power = float::exp((ln_p + shapes.ln_a_beta()) / a);
    if a >= 1.0 && b >= 1.0 {
        let z = normal_quantile_upper(p);
        let bend = (z * z - 3.0) / 6.0;
        let (one, other) = (1.0 / (2.0 * a - 1.0), 1.0 / (2.0 * b - 1.0));
        let h = 2.0 / (one + other);
        let w = z * (h + bend).sqrt() / h - (other - one) * (bend + 5.0 / 6.0 - 2.0 / (3.0 * h));
        return (a / b * float::exp(-2.0 * w)).max(power);
    }
    let (left, right) = (
        float::exp(-a * float::ln(shapes.per_a.hi)) / a,
        float::exp(-b * float::ln(shapes.per_b.hi)) / b,
    );
    if p * (left + right) <= left {
        power / (1.0 - power).max(0.5)
    } else {
        let above = float::exp((float::ln_1p(-p) + shapes.mirrored().ln_a_beta()) / b);
        (1.0 - above).max(0.5) / above
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // p, a, b, x, 1 - x, computed with mpmath at 60 digits.
    const QUANTILES: [(f64, f64, f64, f64, f64); 16] = [
        (
            0.99,
            0.5,
            1_000_000.0,
            3.317_443_627_144_276_6e-06,
            0.999_996_682_556_372_9,
        ),
        (
            0.999_999,
            0.5,
            1_000_000.0,
            1.196_399_491_029_505_6e-05,
            0.999_988_036_005_089_7,
        ),
        (
            0.3,
            0.5,
            1_000_000.0,
            7.423_594_671_976_963e-08,
            0.999_999_925_764_053_3,
        ),
        (1e-100, 0.5, 1_000_000.0, 7.853_983_597_470_138e-207, 1.0),
        (
            0.999_999_999_999_999_1,
            0.5,
            1_000_000.0,
            3.233_154_205_850_042e-05,
            0.999_967_668_457_941_5,
        ),
        (
            0.4,
            1_000_000.0,
            0.5,
            0.999_999_645_836_823_8,
            3.541_631_762_254_004e-07,
        ),
        (
            0.01,
            1_000_000.0,
            0.5,
            0.999_996_682_556_372_9,
            3.317_443_627_144_277_4e-06,
        ),
        (
            0.5,
            0.05,
            0.08,
            0.013_771_000_883_351_073,
            0.986_228_999_116_649,
        ),
        (
            0.02,
            2.0,
            0.05,
            0.646_743_479_869_871_9,
            0.353_256_520_130_128_04,
        ),
        (0.9, 2.0, 0.05, 1.0, 3.768_894_828_73e-21),
        (1e-200, 3.0, 7.0, 4.919_340_734_030_985e-68, 1.0),
        (
            0.75,
            3.0,
            7.0,
            0.390_541_238_135_786_4,
            0.609_458_761_864_213_7,
        ),
        (
            0.2,
            150.0,
            190.0,
            0.418_475_594_357_811_4,
            0.581_524_405_642_188_7,
        ),
        (
            1e-30,
            1_000.0,
            3.0,
            0.925_867_576_916_159_3,
            0.074_132_423_083_840_69,
        ),
        (
            0.6,
            100_000.0,
            200_000.0,
            0.333_551_033_303_932_4,
            0.666_448_966_696_067_6,
        ),
        (
            0.001,
            1_000_000.0,
            1_000_000.0,
            0.498_907_439_058_045_1,
            0.501_092_560_941_954_9,
        ),
    ];

    #[test]
    fn quantiles_keep_their_digits_at_both_ends() {
        for (p, a, b, x, y) in QUANTILES {
            let got = beta_quantile_pair(p, a, b);
            // because: the logarithm of the tail is told to 1e-15 of 1, which a slope of 0.05 (the least shape here) turns into 2e-14
            assert_close(got.0, x, 2e-14, (p, a, b));
            assert_close(got.1, y, 2e-14, (p, a, b));
        }
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!(
            (beta_quantile(0.0, 2.0, 3.0), beta_quantile(1.0, 2.0, 3.0)),
            (0.0, 1.0)
        );
        assert!(
            beta_quantile(-0.1, 2.0, 3.0).is_nan() && beta_quantile_pair(0.5, -1.0, 3.0).1.is_nan()
        );
    }

    // 95 % Clopper-Pearson limits of 0 of 24 and 24 of 24 are elementary: 1 - 0.025^(1/24) and 0.025^(1/24).
    #[test]
    fn quantiles_of_powers() {
        let root = float::powf(0.025, 1.0 / 24.0);
        assert_close(beta_quantile(0.025, 24.0, 1.0), root, 1e-15, "all of 24");
        let none = beta_quantile_pair(0.975, 1.0, 24.0);
        assert_close(none.1, root, 1e-15, "none of 24"); // because: 1 - 0.975 is off by a rounding of 1, 4e-15 of it, over 24
        // The exact quantile is sin^2(pi p/2): 2.5e-500 is not an f64.
        assert_eq!(beta_quantile_pair(1e-250, 0.5, 0.5), (0.0, 1.0));
        assert_close(
            beta_quantile(1e-150, 0.5, 0.5),
            2.467_401_100_272_339_6e-300,
            2e-15,
            "arcsine",
        );
    }

    proptest! {
        #[test]
        fn quantile_undoes_the_lower_tail(ln_p in -600.0..-0.01, ln_a in -2.0..9.0, ln_b in -2.0..9.0) {
            let (a, b) = (float::exp(ln_a), float::exp(ln_b));
            let p = float::exp(ln_p);
            let (x, y) = beta_quantile_pair(p, a, b);
            // Told by the smaller of the two, which is the more precise.
            let (lower, _) = if x <= y { beta_inc(x, a, b) } else { let (above, below) = beta_inc(y, b, a); (below, above) };
            // because: one rounding of x moves ln p by its slope over ln x, at most a + what lies between: 40 standard deviations
            let slope = 1e-15 * (10.0 + a + b + 40.0 * (a + b).sqrt());
            prop_assert!(x < 1e-300 || (float::ln(lower) - ln_p).abs() < slope, "{} {}", x, lower);
        }
    }
}
