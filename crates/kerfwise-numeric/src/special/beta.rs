//! The beta function's logarithm and the regularised incomplete beta function.

use super::gamma::{LEAST, NORMAL_FROM, gamma_inc, ln_gamma, scaled_gamma, stirling_rest};
use super::normal::{normal_cdf, normal_sf};
use super::tail::{Tail, decaying_integral, log_1p_minus};
use crate::dd::{Dd, two_sum};
use crate::float;
use crate::quadrature::tanh_sinh_from_ends;
use crate::root::{RootTolerance, find_root};

const SQRT_TAU: f64 = 2.506_628_274_631_000_7;
const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;

/// Natural logarithm of the beta function, ln(Gamma(a) Gamma(b) / Gamma(a+b)), for a, b > 0; NaN otherwise.
///
/// Stirling's formula is used where its parts would cancel. Accuracy: 1e-15 relative to the larger of 1 and the
/// result.
///
/// ```
/// use kerfwise_numeric::special::ln_beta;
/// assert!((ln_beta(2.0, 3.0) - (1.0_f64 / 12.0).ln()).abs() < 1e-15);
/// ```
#[must_use]
pub fn ln_beta(a: f64, b: f64) -> f64 {
    if !(a > 0.0 && b > 0.0) {
        return f64::NAN;
    }
    let (small, large) = (a.min(b), a.max(b));
    let total = small + large;
    if large < 10.0 {
        return ln_gamma(small) + (ln_gamma(large) - ln_gamma(total));
    }
    let rest = stirling_rest(large) - stirling_rest(total);
    let share = float::ln_1p(small / large);
    if small < 10.0 {
        return ln_gamma(small) + (rest - (large - 0.5) * share + small - small * float::ln(total));
    }
    rest + stirling_rest(small) + LN_SQRT_TAU - 0.5 * float::ln(large)
        + (small - 0.5) * float::ln(small / total)
        - large * share
}

/// Regularised incomplete beta function: the chances `(lower, upper)` that a beta(a, b) quantity is below and above
/// `x`, each with relative accuracy of its own.
///
/// ```text
/// lower = 1/B(a, b) * integral of t^(a-1) (1-t)^(b-1) from 0 to x
/// ```
/// DLMF 8.17.2. For a, b > 0 (NaN otherwise); x is held to [0, 1]. Continued fraction of `DiDonato` and Morris (1992,
/// ACM TOMS 18, algorithm 708) or, for large a and b, a Gauss–Legendre rule. Relative accuracy: 1e-13 in both tails
/// down to 1e-300, for a and b from 1e-3 to 1e10; beyond, it declines to 1e-9 at 1e20, from where on the normal or gamma
/// limit is taken.
///
/// ```
/// use kerfwise_numeric::special::beta_inc;
/// let (lower, upper) = beta_inc(0.5, 2.0, 3.0); // 11/16 of the area lies below the middle
/// assert!((lower - 0.6875).abs() < 1e-15 && (upper - 0.3125).abs() < 1e-15);
/// ```
#[must_use]
pub fn beta_inc(x: f64, a: f64, b: f64) -> (f64, f64) {
    if !(a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite()) || x.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x >= 1.0 {
        return (1.0, 0.0);
    }
    let point = Point::new(x, a.max(LEAST), b.max(LEAST));
    if a.max(b) > NORMAL_FROM {
        point.limits()
    } else if point.is_left() {
        both_from_lower(point)
    } else {
        let (upper, lower) = both_from_lower(point.mirrored());
        (lower, upper)
    }
}

/// Where and with which parameters; y = 1 - x is kept apart because it may be tiny.
#[derive(Debug, Clone, Copy)]
struct Point {
    x: Dd,
    y: Dd,
    a: f64,
    b: f64,
}

impl Point {
    fn new(x: f64, a: f64, b: f64) -> Self {
        Self {
            x: Dd::new(x),
            y: two_sum(1.0, -x),
            a,
            b,
        }
    }

    /// Both tails for parameters so large that no exponent can be had: a normal distribution, or a gamma distribution of -ln x or -ln y.
    fn limits(self) -> (f64, f64) {
        let Self { x, y, a, b } = self;
        if a.min(b) > NORMAL_FROM {
            // Halves, because a + b may overflow.
            let (a, b) = (0.5 * a, 0.5 * b);
            let z = -(y.hi * a - x.hi * b) * (2.0 / a).sqrt() / b.sqrt() * (a + b).sqrt();
            (normal_cdf(z), normal_sf(z))
        } else if a > b {
            let minus_ln_x = if x.hi < 0.5 {
                -float::ln(x.hi)
            } else {
                -float::ln_1p(-y.hi)
            };
            let (lower, upper) = gamma_inc(b, minus_ln_x * a);
            (upper, lower)
        } else {
            let minus_ln_y = if x.hi < 0.5 {
                -float::ln_1p(-x.hi)
            } else {
                -float::ln(y.hi)
            };
            gamma_inc(a, minus_ln_y * b)
        }
    }

    fn mirrored(self) -> Self {
        Self {
            x: self.y,
            y: self.x,
            a: self.b,
            b: self.a,
        }
    }

    /// Whether the lower tail is the one that the fraction gives.
    fn is_left(self) -> bool {
        self.lambda() >= (self.a - self.b) / (self.a + self.b + 2.0)
    }

    /// a - (a+b) x = a y - b x, without cancellation: how far left of the mean.
    fn lambda(self) -> f64 {
        (self.y * self.a - self.x * self.b).hi
    }

    /// x^a y^b / B(a, b).
    fn front(self) -> Tail {
        let Self { x, y, a, b } = self;
        let total = two_sum(a, b);
        let exponent = (x * (total / a)).ln() * a + (y * (total / b)).ln() * b;
        let factor = a.sqrt() * (b / total.hi).sqrt() / SQRT_TAU * scaled_gamma(total.hi)
            / (scaled_gamma(a) * scaled_gamma(b));
        Tail { exponent, factor }
    }

    /// The lower tail, for a point left of the mean.
    fn lower(self) -> Tail {
        let Self { x, y, a, b } = self;
        if a.min(b) < LARGE {
            return self.front().times(fraction(x.hi, self.lambda(), a, b));
        }
        // t = x (1 - v): the integrand's logarithm over its value at x, its linear part taken together.
        let ratio = (x / y).hi;
        let slope = (self.lambda() - y.hi + x.hi) / y.hi;
        let fall =
            |v: f64| (a - 1.0) * log_1p_minus(-v) + (b - 1.0) * log_1p_minus(ratio * v) - slope * v;
        let curvature = a + b * ratio * ratio;
        self.front()
            .times(decaying_integral(fall, slope, curvature, 1.0) / y.hi)
    }
}

/// From here on the fraction needs many terms near the mean, and a fixed rule few.
const LARGE: f64 = 200.0;

fn both_from_lower(point: Point) -> (f64, f64) {
    let lower = point.lower().value();
    // With a small a almost everything lies below x: the small part above it needs a way of its own.
    let upper = if lower < 0.9 {
        1.0 - lower
    } else {
        upper_integral(point)
    };
    (lower, upper)
}

/// The upper tail for a small a: t = e^-s turns it into a positive integrand over 0..-ln x, which for b < 1 is made regular at
/// s = 0 by integrating over w = s^b.
fn upper_integral(point: Point) -> f64 {
    let Point { x, y, a, b } = point;
    let end = if x.hi < 0.5 {
        -float::ln(x.hi)
    } else {
        -float::ln_1p(-y.hi)
    };
    let integral = if b >= 1.0 {
        let integrand = |s: f64, _| float::exp(-a * s) * float::powf(-float::exp_m1(-s), b - 1.0);
        tanh_sinh_from_ends(integrand, end, 0.0, 1e-14).value
    } else {
        let integrand = |w: f64, _| {
            let s = float::powf(w, 1.0 / b).max(f64::MIN_POSITIVE);
            float::exp(-a * s) * float::powf(-float::exp_m1(-s) / s, b - 1.0)
        };
        tanh_sinh_from_ends(integrand, float::powf(end, b), 0.0, 1e-14).value / b
    };
    integral * float::exp(-ln_beta(a, b))
}

/// Lower tail over x^a y^b / B(a, b), by the continued fraction of `DiDonato` and Morris (1992), eq. 9, with
/// lambda = a - (a+b) x > -1.
pub(super) fn fraction(x: f64, lambda: f64, a: f64, b: f64) -> f64 {
    let mut value = a * (lambda + 1.0) / (a + 1.0);
    let mut c = value;
    let mut d = 0.0;
    for n in 1..5000 {
        let n = f64::from(n);
        let (before, after) = (a + 2.0 * n - 1.0, a + 2.0 * n + 1.0);
        let share = x * (n / before);
        let numerator = ((a + (n - 1.0)) / before) * (a + b + (n - 1.0)) * x * share * (b - n);
        let denominator = n + share * (b - n) + (a + n) / after * (lambda + 1.0 + n * (2.0 - x));
        d = 1.0 / (denominator + numerator * d);
        c = denominator + numerator / c;
        value *= c * d;
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    1.0 / value
}

/// The `x` below which a beta(a, b) quantity lies with chance `p`: 0 at 0, 1 at 1; NaN for p outside [0, 1] or
/// parameters not above 0.
///
/// Newton's method on the logarithm of the smaller tail over ln(x/(1-x)), where that logarithm is concave, so that it
/// converges from anywhere. Relative accuracy of the smaller of x and 1-x: that of [`beta_inc`] as far as `f64` x can show it.
///
/// ```
/// use kerfwise_numeric::special::beta_quantile;
/// assert!((beta_quantile(0.6875, 2.0, 3.0) - 0.5).abs() < 1e-15);
/// ```
#[must_use]
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let is_law = a > 0.0 && b > 0.0 && a.is_finite() && b.is_finite();
    if !(is_law && (0.0..=1.0).contains(&p)) {
        return f64::NAN;
    }
    if p <= 0.0 || p >= 1.0 {
        return p; // 0 or 1
    }
    if a.max(b) > NORMAL_FROM {
        return quantile_by_halving(p, a, b);
    }
    let at_mean = beta_inc(a / (a + b), a, b).0;
    if p <= at_mean {
        lower_quantile(Dd::new(p), a, b)
    } else {
        let y = lower_quantile(two_sum(1.0, -p), b, a);
        1.0 - y
    }
}

/// The quantile for parameters too large for Newton: a bracketed root over x, as far as `f64` x can show it.
fn quantile_by_halving(p: f64, a: f64, b: f64) -> f64 {
    let finest = RootTolerance {
        absolute: 0.0,
        relative: 0.0,
    };
    let above = |x: f64| {
        let (lower, upper) = beta_inc(x, a, b);
        if p < 0.5 {
            lower - p
        } else {
            (1.0 - p) - upper
        }
    };
    // At the ends this is -p and 1 - p, so there is a root.
    find_root(above, 0.0, 1.0, finest).map_or(0.5, |root| root.x)
}

/// The x with lower tail p, for a tail that is smaller than that at the mean.
fn lower_quantile(p: Dd, a: f64, b: f64) -> f64 {
    let (a, b) = (a.max(LEAST), b.max(LEAST));
    let ln_p = p.ln();
    let mut x = a / (a + b);
    for _ in 0..100 {
        let point = Point::new(x, a, b);
        let tail = point.lower().ln();
        // Slope over the logit: x y times density, over the tail.
        let slope = (point.front().ln() - tail).exp();
        let step = (ln_p - tail).hi / slope;
        // x/(1-x) times e^step, written so that a tiny x keeps its digits.
        let grown = x * float::exp(step);
        let next = grown / (point.y.hi + grown);
        let moved = (next - x).abs();
        if next < f64::MIN_POSITIVE && x <= f64::MIN_POSITIVE {
            return 0.0;
        }
        x = next.max(f64::MIN_POSITIVE);
        if moved <= 2.0 * f64::EPSILON * x {
            break;
        }
    }
    x
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // x, a, b, lower, upper, computed with mpmath at 80 digits.
    const TABLE: [(f64, f64, f64, f64, f64); 14] = [
        (
            0.3,
            0.5,
            0.5,
            0.369_010_119_565_545_36,
            0.630_989_880_434_454_6,
        ),
        (
            0.01,
            2.0,
            30.0,
            0.038_389_514_595_235_45,
            0.961_610_485_404_764_6,
        ),
        (
            0.9,
            0.01,
            0.02,
            0.680_915_205_857_081_2,
            0.319_084_794_142_918_8,
        ),
        (
            0.2,
            0.001,
            3.0,
            0.999_510_374_902_940_7,
            0.000_489_625_097_059_324_5,
        ),
        (
            1.0e-12,
            0.1,
            5.0,
            0.077_187_378_040_275_76,
            0.922_812_621_959_724_2,
        ),
        (
            0.7,
            20.0,
            4.0,
            0.053_843_821_297_628_53,
            0.946_156_178_702_371_5,
        ),
        (0.5, 150.0, 150.0, 0.5, 0.5),
        (
            0.4,
            150.0,
            190.0,
            0.062_202_161_864_831_17,
            0.937_797_838_135_168_8,
        ),
        (
            0.5,
            201.0,
            250.0,
            0.989_604_099_876_196_1,
            0.010_395_900_123_803_845,
        ),
        (0.3, 1_000.0, 1_500.0, 1.174_569_341_506_016_7e-26, 1.0),
        (
            0.51,
            1_000_000.0,
            1_000_000.0,
            1.0,
            2.490_453_657_610_394_3e-176,
        ),
        (
            0.001,
            2.5,
            10_000.0,
            0.998_756_468_114_986_4,
            0.001_243_531_885_013_611,
        ),
        (
            0.999,
            100_000.0,
            50.0,
            1.133_717_892_521_786_7e-8,
            0.999_999_988_662_821,
        ),
        (
            0.499_9,
            100_000_000.0,
            100_000_000.0,
            0.002_338_867_309_689_789,
            0.997_661_132_690_310_2,
        ),
    ];
    // a, b, ln B, computed with mpmath at 40 digits.
    const LN_BETA: [(f64, f64, f64); 9] = [
        (0.001, 0.002, 7.313_217_104_417_236),
        (0.5, 0.5, 1.144_729_885_849_400_2),
        (0.5, 1_000_000.0, -6.335_390_211_057_437),
        (3.0, 7.0, -5.529_429_087_511_423),
        (9.5, 10.5, -13.709_925_546_998_463),
        (0.01, 1_000_000_000_000.0, 4.323_169_666_882_741),
        (100_000.0, 200_000.0, -190_958.885_279_116_86),
        (10_000_000_000.0, 0.5, -10.940_560_522_033_028),
        (12.0, 1.0e-5, 11.512_895_266_274_68),
    ];

    #[test]
    fn both_tails() {
        for (x, a, b, lower, upper) in TABLE {
            let got = beta_inc(x, a, b);
            // because: measured 6e-15 at worst over 680 random places
            assert_close(got.0, lower, 8e-15, (x, a, b));
            assert_close(got.1, upper, 8e-15, (x, a, b));
        }
    }

    #[test]
    fn logarithms() {
        for (a, b, want) in LN_BETA {
            // because: a handful of roundings of numbers not above the larger of 1 and the result, but for one cancelling pair
            assert!(
                (ln_beta(a, b) - want).abs() <= 2e-15 * want.abs().max(1.0),
                "{a} {b}: {}",
                ln_beta(a, b)
            );
            assert!((ln_beta(b, a) - want).abs() <= 2e-15 * want.abs().max(1.0));
        }
        assert!(ln_beta(0.0, 1.0).is_nan() && ln_beta(1.0, f64::NAN).is_nan());
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!(beta_inc(0.0, 2.0, 3.0), (0.0, 1.0));
        assert_eq!(beta_inc(1.5, 2.0, 3.0), (1.0, 0.0));
        assert!(beta_inc(0.5, 0.0, 1.0).0.is_nan() && beta_inc(f64::NAN, 1.0, 1.0).1.is_nan());
        assert_eq!(
            (beta_quantile(0.0, 2.0, 3.0), beta_quantile(1.0, 2.0, 3.0)),
            (0.0, 1.0)
        );
        assert!(beta_quantile(-0.1, 2.0, 3.0).is_nan() && beta_quantile(0.5, -1.0, 3.0).is_nan());
    }

    // Upper quantiles of F, computed independently at 40 digits and rounded to 13: both degrees of freedom, upper 0.05, upper 1e-6.
    #[test]
    fn f_quantiles() {
        let table = [
            (1.0, 4.0, 7.708_647_422_177, 2_446.156_749_854),
            (2.7, 16.8, 3.299_508_124_004, 29.343_289_608_87),
            (18.0, 60.0, 1.778_446_085_328, 5.042_851_447_432),
            (60.0, 1.0, 252.195_739_094, 631_336_894_666.2),
            (1000.0, 9.0, 2.711_639_637_129, 39.540_465_700_26),
        ];
        for (one, two, near, far) in table {
            for (f, q) in [(near, 0.05), (far, 1e-6)] {
                let y: f64 = two / (two + one * f);
                // because: an F of 13 digits moves the chance by 5e-13 times the smaller of its degrees and 60, over 2
                assert_close(beta_inc(y, 0.5 * two, 0.5 * one).0, q, 3e-11, (one, two, f));
            }
        }
    }

    // 95 % Clopper-Pearson limits of 0 of 24 and 24 of 24 are elementary: 1 - 0.025^(1/24) and 0.025^(1/24).
    #[test]
    fn quantiles_of_powers() {
        let root = float::powf(0.025, 1.0 / 24.0);
        assert_close(beta_quantile(0.025, 24.0, 1.0), root, 1e-15, "all of 24");
        assert_close(
            beta_quantile(0.975, 1.0, 24.0),
            1.0 - root,
            1e-14,
            "none of 24",
        ); // because: 1 - 0.975 and 1 - x are rounded
        // The exact quantile is sin^2(pi p/2): 2.5e-500 is not an f64.
        assert_eq!(beta_quantile(1e-250, 0.5, 0.5), 0.0);
        assert_close(
            beta_quantile(1e-150, 0.5, 0.5),
            2.467_401_100_272_339_6e-300,
            1e-15,
            "arcsine",
        );
    }

    proptest! {
        #[test]
        fn tails_add_to_one_and_mirror(x in 0.0..1.0, ln_a in -5.0..12.0, ln_b in -5.0..12.0) {
            let (a, b) = (float::exp(ln_a), float::exp(ln_b));
            let (lower, upper) = beta_inc(x, a, b);
            prop_assert!((lower + upper - 1.0).abs() < 1e-13);
            prop_assert!((0.0..=1.0 + 1e-13).contains(&lower) && (0.0..=1.0 + 1e-13).contains(&upper));
            let y = 1.0 - x;
            let mirrored = beta_inc(1.0 - y, b, a);
            let same = beta_inc(y, a, b); // 1 - y is exact or x itself is near 0
            prop_assert!((mirrored.0 - same.1).abs() < 1e-9 && (mirrored.1 - same.0).abs() < 1e-9);
        }

        #[test]
        fn quantile_undoes_the_lower_tail(ln_p in -600.0..-0.01, ln_a in -2.0..9.0, ln_b in -2.0..9.0) {
            let (a, b) = (float::exp(ln_a), float::exp(ln_b));
            let p = float::exp(ln_p);
            let x = beta_quantile(p, a, b);
            // An x near 1, or below the smallest normal f64, cannot show the quantile.
            let shown = x < 0.9 && x > 1e-300;
            let (lower, _) = beta_inc(x, a, b);
            // because: one rounding of x moves ln p by the slope over ln x, at most a + what lies between: 40 standard deviations
            let slope = 1e-15 * (10.0 + a + 40.0 * (a + b).sqrt()) / (1.0 - x);
            prop_assert!(!shown || (float::ln(lower) - ln_p).abs() < slope + 1e-13, "{} {}", x, lower);
        }
    }
}
