//! The error function and the standard normal distribution.

use crate::dd::two_prod;
use crate::float;
use crate::quadrature::gauss_legendre;
use std::f64::consts::FRAC_1_SQRT_2;

/// 1/sqrt(2 pi).
pub(super) const FRAC_1_SQRT_TAU: f64 = 0.398_942_280_401_432_7;
/// ln(sqrt(2 pi)).
const LN_SQRT_TAU: f64 = 0.918_938_533_204_672_7;

/// Error function.
///
/// ```text
/// erf(x) = 2/sqrt(pi) * integral of exp(-t^2) from 0 to x
/// ```
/// DLMF 7.2.1. Accuracy: 2e-16 (`libm`).
///
/// ```
/// use kerfwise_numeric::special::erf;
/// assert_eq!(erf(0.0), 0.0);
/// assert!((erf(1.0) - 0.842_700_792_949_714_9).abs() < 1e-15);
/// ```
#[must_use]
pub fn erf(x: f64) -> f64 {
    float::erf(x)
}

/// Complementary error function, 1 - erf(x), without cancellation in its right tail.
///
/// DLMF 7.2.2. Relative accuracy: 1e-15 (`libm`) down to underflow at x = 27.2.
///
/// ```
/// use kerfwise_numeric::special::erfc;
/// assert_eq!(erfc(0.0), 1.0);
/// assert!((erfc(5.0) / 1.537_459_794_428_035e-12 - 1.0).abs() < 1e-14);
/// ```
#[must_use]
pub fn erfc(x: f64) -> f64 {
    float::erfc(x)
}

/// Density of the standard normal distribution.
///
/// ```text
/// phi(z) = exp(-z^2/2) / sqrt(2 pi)
/// ```
/// Relative accuracy: 4e-16 until it underflows; the square's rounding error is put back.
///
/// ```
/// use kerfwise_numeric::special::normal_pdf;
/// assert!((normal_pdf(0.0) - 0.398_942_280_401_432_7).abs() < 1e-16);
/// ```
#[must_use]
pub fn normal_pdf(z: f64) -> f64 {
    if z.abs() > 40.0 {
        return 0.0; // exp(-800) is below the smallest f64, and an infinite z has no square to split
    }
    let square = two_prod(z, z);
    let e = float::exp(-0.5 * square.hi);
    FRAC_1_SQRT_TAU * (e - e * (0.5 * square.lo))
}

/// Chance that a standard normal quantity is at most `z`, Phi(z).
///
/// ```text
/// Phi(z) = erfc(-z/sqrt(2)) / 2
/// ```
/// Relative accuracy: 1e-15 in both tails, until it underflows at z = -38.
///
/// ```
/// use kerfwise_numeric::special::normal_cdf;
/// assert_eq!(normal_cdf(0.0), 0.5);
/// assert!((normal_cdf(1.0) - 0.841_344_746_068_542_9).abs() < 1e-15);
/// ```
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    normal_sf(-z)
}

/// Chance that a standard normal quantity is above `z`, 1 - Phi(z), with full relative accuracy in the right tail.
///
/// Accuracy as for [`normal_cdf`].
///
/// ```
/// use kerfwise_numeric::special::normal_sf;
/// assert!((normal_sf(6.0) / 9.865_876_450_376_981e-10 - 1.0).abs() < 1e-14);
/// ```
#[must_use]
pub fn normal_sf(z: f64) -> f64 {
    let x = z * FRAC_1_SQRT_2;
    let tail = 0.5 * float::erfc(x);
    if z <= 1.0 || z > 40.0 {
        return tail;
    }
    // The tail falls by x + sqrt(x^2 + 4/pi) per unit of x (within 3 %, DLMF 7.8.2), so that at z = 37 the rounding
    // error of z/sqrt(2) would show as 1e-13: take it back to first order.
    const FRAC_1_SQRT_2_REST: f64 = -4.833_646_656_726_457e-17;
    let product = two_prod(z, FRAC_1_SQRT_2);
    let rest = product.lo + z * FRAC_1_SQRT_2_REST;
    tail - tail * (rest * (x + (x * x + 4.0 / std::f64::consts::PI).sqrt()))
}

/// Chance that a standard normal quantity lies between `a` and `b`, Phi(b) - Phi(a); 0 when `b <= a`.
///
/// The difference is taken between the tails that are small, and where even those are close to each other the density is
/// integrated instead. Relative accuracy: 2e-15 until the result underflows.
///
/// ```
/// use kerfwise_numeric::special::normal_interval;
/// assert!((normal_interval(-1.0, 1.0) - 0.682_689_492_137_085_9).abs() < 1e-15);
/// assert_eq!(normal_interval(2.0, 1.0), 0.0);
/// ```
#[must_use]
pub fn normal_interval(a: f64, b: f64) -> f64 {
    if b <= a {
        0.0
    } else if a <= 0.0 && b >= 0.0 {
        // Both halves are positive, so nothing cancels.
        0.5 * (float::erf(b * FRAC_1_SQRT_2) + float::erf(-a * FRAC_1_SQRT_2))
    } else if (b - a) * (1.0 + a.abs().min(b.abs())) < 1.0 {
        // The density changes by less than e over so short a way: 8 nodes give it all. They are measured from the near
        // end, because rounding their places would cost digits of the density.
        let near = a.abs().min(b.abs());
        normal_pdf(near)
            * gauss_legendre(8).integrate(0.0, b - a, |d| float::exp(-d * (near + 0.5 * d)))
    } else if a > 0.0 {
        normal_sf(a) - normal_sf(b)
    } else {
        normal_cdf(b) - normal_cdf(a)
    }
}

/// The `z` with `normal_cdf(z) = p`: minus infinity at 0, infinity at 1, NaN outside [0, 1].
///
/// Relative accuracy: 4e-16 for every p, the far left tail and the neighbourhood of 1/2 included. Near 1 the given p
/// itself is coarse: use [`normal_quantile_upper`] there.
///
/// ```
/// use kerfwise_numeric::special::normal_quantile;
/// assert_eq!(normal_quantile(0.5), 0.0);
/// assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-14);
/// ```
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    0.0 - normal_quantile_upper(p) // not a negation: the median is +0
}

/// The `z` with `normal_sf(z) = q`: infinity at 0, minus infinity at 1, NaN outside [0, 1].
///
/// A rational start of seven digits (own fit) and one step of Halley's method; accuracy as for [`normal_quantile`].
///
/// ```
/// use kerfwise_numeric::special::normal_quantile_upper;
/// assert!((normal_quantile_upper(1e-300) - 37.047_096_299_361_2).abs() < 1e-13);
/// ```
#[must_use]
pub fn normal_quantile_upper(q: f64) -> f64 {
    if !(0.0..=1.0).contains(&q) {
        f64::NAN
    } else if q > 0.5 {
        -upper_half(1.0 - q) // exact: no rounding for q in [1/2, 1]
    } else {
        upper_half(q)
    }
}

/// As [`normal_quantile_upper`] for q in [0, 1/2].
fn upper_half(q: f64) -> f64 {
    if q == 0.0 {
        return f64::INFINITY;
    }
    let d = 0.5 - q; // exact for q in [1/4, 1/2]
    if d < 0.25 {
        return central(d);
    }
    let z = if d <= 0.4 {
        central_start(d)
    } else {
        tail_start(q)
    };
    // Halley on ln sf(z) - ln q, whose slope is minus the hazard h, with h' = h (h - z).
    let (log_ratio, hazard) = if q > 1e-290 {
        let tail = normal_sf(z);
        (float::ln_1p((tail - q) / q), normal_pdf(z) / tail)
    } else {
        let mills = mills_ratio(z);
        (
            -0.5 * z * z - LN_SQRT_TAU + float::ln(mills) - float::ln(q),
            1.0 / mills,
        )
    };
    let step = log_ratio / hazard;
    z + step / (1.0 + 0.5 * step * (hazard - z))
}

/// The z with Phi(z) - 1/2 = d, for d in [0, 1/4], accurate relative to z.
fn central(d: f64) -> f64 {
    let z = central_start(d);
    let step = (d - 0.5 * float::erf(z * FRAC_1_SQRT_2)) / normal_pdf(z);
    z + step / (1.0 - 0.5 * step * z)
}

/// Within 2e-7 of the quantile, relative, for d = p - 1/2 in [0, 0.4].
fn central_start(d: f64) -> f64 {
    let s = d * d;
    let p = 2.506_627_782_777_823
        + s * (-11.369_012_231_483_826 + s * (9.016_516_084_427_826 + s * 2.317_127_207_686_85));
    let q = 1.0 + s * (-5.582_836_198_370_922 + s * 7.143_414_393_984_436);
    d * p / q
}

/// Within 2e-7 of the quantile, relative, for q from the smallest f64 to 0.1.
fn tail_start(q: f64) -> f64 {
    let r = (-2.0 * float::ln(q)).sqrt();
    let p = -2.734_046_164_644_668_8
        + r * (-1.710_502_044_274_541_6
            + r * (2.184_668_883_378_251_7
                + r * (0.986_701_422_007_728_9 + r * 0.057_963_185_812_257_22)));
    let q = 1.0
        + r * (2.469_415_155_348_046_6
            + r * (0.987_760_390_747_414_4 + r * 0.057_958_051_672_991_236));
    p / q
}

/// sf(z)/pdf(z) for z > 30, where ten levels of Laplace's continued fraction (DLMF 7.9.1) give full accuracy.
fn mills_ratio(z: f64) -> f64 {
    let mut fraction = z;
    for k in (1..=10).rev() {
        fraction = z + f64::from(k) / fraction;
    }
    1.0 / fraction
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // Computed with mpmath at 40 digits.
    const TAILS: [(f64, f64); 11] = [
        (-5.0, 0.999_999_713_348_428_1),
        (-0.5, 0.691_462_461_274_013_1),
        (0.001, 0.499_601_057_786_088_93),
        (0.7, 0.241_963_652_223_073_03),
        (1.5, 0.066_807_201_268_858_07),
        (3.25, 0.000_577_025_042_390_767),
        (8.0, 6.220_960_574_271_784e-16),
        (12.3, 4.528_706_956_158_784_6e-35),
        (20.7, 1.731_851_879_019_737_8e-95),
        (30.1, 2.422_667_217_985_758_6e-199),
        (37.5, 4.605_353_009_581_955e-308),
    ];
    // Upper tail and its z, computed with mpmath at 40 digits.
    const QUANTILES: [(f64, f64); 12] = [
        (0.499_999_999_999, 2.506_572_823_701_860_3e-12),
        (0.499_9, 0.000_250_662_830_088_007_47),
        (0.3, 0.524_400_512_708_040_8),
        (0.2, 0.841_621_233_572_914_2),
        (0.11, 1.226_528_120_036_61),
        (0.09, 1.340_755_033_690_216_3),
        (0.001, 3.090_232_306_167_813_6),
        (1.0e-9, 5.997_807_015_007_686_5),
        (1.0e-50, 14.933_337_534_788_489),
        (1.0e-200, 30.205_594_179_579_64),
        (1.0e-305, 37.356_346_093_067_1),
        (5.0e-324, 38.467_405_617_144_344),
    ];
    // From, to, chance, computed with mpmath at 40 digits.
    const INTERVALS: [(f64, f64, f64); 7] = [
        (-1.0, 2.0, 0.818_594_614_120_363_7),
        (0.5, 0.500_1, 3.520_565_246_910_301e-5),
        (3.0, 3.5, 0.001_117_268_952_594_569_5),
        (-7.25, -7.0, 1.071_426_728_018_628e-12),
        (20.0, 20.01, 5.003_811_501_869_158e-90),
        (30.0, 31.0, 4.906_713_927_147_917_6e-198),
        (29.75, 29.750_000_000_931_323, 2.405_083_977_772_365e-202),
    ];

    #[test]
    fn tails() {
        for (z, want) in TAILS {
            // because: erfc within two units, one product
            assert_close(normal_sf(z), want, 6e-16, z);
            assert_close(normal_cdf(-z), want, 6e-16, z);
        }
        assert_eq!(
            (normal_sf(f64::INFINITY), normal_cdf(f64::NEG_INFINITY)),
            (0.0, 0.0)
        );
        assert_eq!(
            (normal_sf(50.0), normal_sf(-50.0), normal_pdf(f64::INFINITY)),
            (0.0, 1.0, 0.0)
        );
    }

    #[test]
    fn quantiles_in_the_far_tail_and_at_the_middle() {
        for (q, want) in QUANTILES {
            // because: three units in the last place
            assert_close(normal_quantile_upper(q), want, 4e-16, q);
            assert_close(normal_quantile(q), -want, 4e-16, q);
        }
        assert_eq!(
            (normal_quantile(0.0), normal_quantile(1.0)),
            (f64::NEG_INFINITY, f64::INFINITY)
        );
        assert!(normal_quantile(0.5) == 0.0 && normal_quantile(0.5).is_sign_positive());
        assert!(
            normal_quantile(-1e-300).is_nan()
                && normal_quantile(1.1).is_nan()
                && normal_quantile(f64::NAN).is_nan()
        );
    }

    // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1, and common tables: to the digits printed there.
    #[test]
    fn published_quantiles() {
        for (q, want) in [
            (0.1, 1.281_6),
            (0.05, 1.644_9),
            (0.025, 1.960_0),
            (0.01, 2.326_3),
            (0.005, 2.575_8),
            (0.001, 3.090_2),
        ] {
            assert!((normal_quantile_upper(q) - want).abs() < 5.1e-5); // because: four decimals printed
        }
    }

    #[test]
    fn intervals() {
        for (a, b, want) in INTERVALS {
            // because: a difference of two tails with at most e^-1 of one in the other
            assert_close(normal_interval(a, b), want, 2e-15, (a, b));
            assert_close(normal_interval(-b, -a), want, 2e-15, (-b, -a));
        }
        assert_eq!(normal_interval(f64::NEG_INFINITY, f64::INFINITY), 1.0);
        assert_eq!(normal_interval(1.0, 1.0), 0.0);
    }

    proptest! {
        #[test]
        fn quantile_undoes_the_tail(z in 0.0..37.5) {
            let back = normal_quantile_upper(normal_sf(z));
            // because: one rounding of q moves z by 1.1e-16 sf/pdf, which is at most 1.25 in the middle
            prop_assert!((back - z).abs() < 2e-15 * (1.0 + z));
        }

        #[test]
        fn tail_undoes_the_quantile(ln_q in -700.0..-0.7) {
            let q = float::exp(ln_q);
            // because: one rounding of z moves q by z^2 times 1.1e-16, z^2 < 1400
            prop_assert!((normal_sf(normal_quantile_upper(q)) / q - 1.0).abs() < 3e-13);
        }

        #[test]
        fn cdf_rises_and_both_sides_add_to_one(a in -40.0..40.0, step in 0.0..1.0) {
            prop_assert!(normal_cdf(a) <= normal_cdf(a + step));
            prop_assert!((normal_cdf(a) + normal_sf(a) - 1.0).abs() < 3e-16);
        }

        #[test]
        fn adjoining_intervals_add(a in -9.0..9.0, first in 0.0..3.0, second in 0.0..3.0) {
            let (b, c) = (a + first, a + first + second);
            let whole = normal_interval(a, c);
            // because: three intervals, 2e-15 each
            prop_assert!((normal_interval(a, b) + normal_interval(b, c) - whole).abs() <= 6e-15 * whole);
        }
    }
}
