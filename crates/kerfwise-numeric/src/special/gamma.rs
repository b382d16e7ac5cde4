//! The gamma function's logarithm and the regularised incomplete gamma functions.

use super::normal::{normal_cdf, normal_sf};
use super::tail::{Tail, decaying_integral, log_1p_minus};
use crate::dd::{Dd, two_sum};
use crate::float;
use crate::quadrature::tanh_sinh_from_ends;

const SQRT_TAU: f64 = 2.506_628_274_631_000_7;

/// Natural logarithm of the absolute value of the gamma function; infinite at 0, -1, -2, ...
///
/// Accuracy: 2e-16 relative to the larger of 1 and the result (`libm`).
///
/// ```
/// use kerfwise_numeric::special::ln_gamma;
/// assert!((ln_gamma(5.0) - 24.0_f64.ln()).abs() < 1e-15);
/// ```
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    float::ln_gamma(x)
}

/// What Stirling's formula leaves of ln Gamma(x), for x >= 10: 1/(12 x) - 1/(360 x^3) + ... (DLMF 5.11.1).
pub(super) fn stirling_rest(x: f64) -> f64 {
    let r = 1.0 / x;
    let s = r * r;
    let far =
        1.0 / 1188.0 + s * (-691.0 / 360_360.0 + s * (1.0 / 156.0 + s * (-3617.0 / 122_400.0)));
    r * (1.0 / 12.0 + s * (-1.0 / 360.0 + s * (1.0 / 1260.0 + s * (-1.0 / 1680.0 + s * far))))
}

/// The scaled gamma function Gamma(x) / (sqrt(2 pi) x^(x-1/2) e^-x), for x > 0; it tends to 1.
pub(super) fn scaled_gamma(x: f64) -> f64 {
    if x >= 10.0 {
        float::exp(stirling_rest(x))
    } else {
        float::gamma(x) * float::exp(x) * float::powf(x, 0.5 - x) / SQRT_TAU
    }
}

/// Gamma(x + 1/2) / (Gamma(x) sqrt(x)) for x > 0; it tends to 1. Series for its logarithm from DLMF 5.11.8.
pub(super) fn half_step_ratio(x: f64) -> f64 {
    if x < 10.0 {
        return float::gamma(x + 0.5) / (float::gamma(x) * x.sqrt());
    }
    let r = 1.0 / x;
    let s = r * r;
    let far = -31.0 / 18_432.0 + s * (691.0 / 180_224.0 + s * (-5461.0 / 425_984.0));
    float::exp(
        r * (-1.0 / 8.0 + s * (1.0 / 192.0 + s * (-1.0 / 640.0 + s * (17.0 / 14_336.0 + s * far)))),
    )
}

/// Regularised lower incomplete gamma function.
///
/// ```text
/// P(a, x) = 1/Gamma(a) * integral of t^(a-1) e^-t from 0 to x
/// ```
/// DLMF 8.2.4; `P(nu/2, x/2)` is the chi-squared distribution. For a > 0 and x >= 0; NaN for other a or a NaN; 0 below
/// x = 0. Relative accuracy: 1e-14 for a up to 1e10, down to 1e-300; beyond,
/// it declines to 1e-9 at a = 1e20, from where on the normal limit is taken.
///
/// ```
/// use kerfwise_numeric::special::gamma_p;
/// assert!((gamma_p(1.0, 2.0) - (1.0 - (-2.0_f64).exp())).abs() < 1e-15);
/// ```
#[must_use]
pub fn gamma_p(a: f64, x: f64) -> f64 {
    gamma_inc(a, x).0
}

/// Regularised upper incomplete gamma function, 1 - P(a, x), with full relative accuracy where it is small.
///
/// DLMF 8.2.4. Domain and accuracy as for [`gamma_p`].
///
/// ```
/// use kerfwise_numeric::special::gamma_q;
/// assert!((gamma_q(1.0, 2.0) - (-2.0_f64).exp()).abs() < 1e-15);
/// ```
#[must_use]
pub fn gamma_q(a: f64, x: f64) -> f64 {
    gamma_inc(a, x).1
}

/// From here on series and fraction need many terms near the mean, and a fixed rule few.
const LARGE: f64 = 200.0;
/// From here on the normal limit is nearer than the exponent's rounding.
pub(super) const NORMAL_FROM: f64 = 1e20;
/// Parameters below this are taken as this: the distribution is a step there, and quotients would overflow.
pub(super) const LEAST: f64 = 1e-260;

/// Both tails, lower and upper.
pub(super) fn gamma_inc(a: f64, x: f64) -> (f64, f64) {
    if !(a > 0.0 && a.is_finite()) || x.is_nan() {
        return (f64::NAN, f64::NAN);
    }
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if a > NORMAL_FROM {
        let z = (x - a) / a.sqrt();
        return (normal_cdf(z), normal_sf(z));
    }
    if x > 2.0 * a + 1e5 {
        return (1.0, 0.0); // the upper tail is below e^-30000
    }
    let a = a.max(LEAST);
    let front = front(a, x);
    if a >= LARGE {
        let drift = x - a + 1.0;
        return if x <= a {
            let fall = |v: f64| (a - 1.0) * log_1p_minus(-v) + drift * v;
            let lower = front.times(decaying_integral(fall, -drift, a, 1.0)).value();
            (lower, 1.0 - lower)
        } else {
            let fall = |v: f64| (a - 1.0) * log_1p_minus(v) - drift * v;
            let upper = front
                .times(decaying_integral(fall, drift, a, f64::INFINITY))
                .value();
            (1.0 - upper, upper)
        };
    }
    if x >= a + 1.0 {
        let upper = front.times(upper_fraction(a, x)).value();
        return (1.0 - upper, upper);
    }
    let lower = front.times(lower_series(a, x)).value();
    // With a small a almost everything lies below x: the small part above it needs a way of its own.
    let upper = if lower < 0.9 {
        1.0 - lower
    } else if x > 1.0 {
        front.times(upper_fraction(a, x)).value()
    } else {
        upper_integral(a, x)
    };
    (lower, upper)
}

/// x^a e^-x / Gamma(a).
fn front(a: f64, x: f64) -> Tail {
    // The quotient might not be a normal number.
    let log = if (1e-100..1e100).contains(&x) && (1e-100..1e100).contains(&a) {
        (Dd::new(x) / a).ln()
    } else {
        Dd::new(x).ln() - Dd::new(a).ln()
    };
    let exponent = log * a - two_sum(x, -a);
    Tail {
        exponent,
        factor: a.sqrt() / (SQRT_TAU * scaled_gamma(a)),
    }
}

/// P(a, x) over its front, DLMF 8.11.4: 1/a + x/(a (a+1)) + ...
fn lower_series(a: f64, x: f64) -> f64 {
    let mut term = 1.0 / a;
    let mut total = term;
    let mut n = a;
    while term > 1e-17 * total {
        n += 1.0;
        term *= x / n;
        total += term;
    }
    total
}

/// Q(a, x) over its front, DLMF 8.9.2 by Lentz's method.
fn upper_fraction(a: f64, x: f64) -> f64 {
    let mut b = x + 1.0 - a;
    let mut c = f64::INFINITY;
    let mut d = 1.0 / b;
    let mut fraction = d;
    for i in 1..2000 {
        let i = f64::from(i);
        let numerator = i * (a - i);
        b += 2.0;
        d = 1.0 / (numerator * d + b);
        c = b + numerator / c;
        fraction *= c * d;
        if (c * d - 1.0).abs() < 1e-16 {
            break;
        }
    }
    fraction
}

/// Q(a, x) for x below 1: t = x e^s turns it into a positive, smooth integrand, which is nothing from t = 800 on.
fn upper_integral(a: f64, x: f64) -> f64 {
    let end = float::ln(800.0) - float::ln(x);
    // t is taken from the upper end, where it matters, so that a tiny x costs no digits.
    let integrand = |s: f64, left: f64| float::exp(a * s - 800.0 * float::exp(-left));
    let integral = tanh_sinh_from_ends(integrand, end, 0.0, 1e-14);
    float::powf(x, a) / float::gamma(a) * integral.value
}

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // a, x, P, Q, computed with mpmath at 80 digits.
    const TABLE: [(f64, f64, f64, f64); 15] = [
        (
            0.001,
            0.5,
            0.999_439_933_343_529_2,
            0.000_560_066_656_470_749_8,
        ),
        (
            0.01,
            1.0e-8,
            0.836_510_254_685_233_3,
            0.163_489_745_314_766_65,
        ),
        (0.5, 0.01, 0.112_462_916_018_284_9, 0.887_537_083_981_715_2),
        (
            0.5,
            20.0,
            0.999_999_999_746_037_1,
            2.539_628_589_470_865e-10,
        ),
        (1.5, 1.0, 0.427_593_295_529_120_2, 0.572_406_704_470_879_8),
        (3.0, 9.5, 0.995_836_366_962_496_7, 0.004_163_633_037_503_346),
        (
            10.0,
            2.0,
            4.649_807_501_726_380_5e-5,
            0.999_953_501_924_982_8,
        ),
        (
            50.0,
            55.0,
            0.767_795_219_499_143_6,
            0.232_204_780_500_856_33,
        ),
        (150.0, 300.0, 1.0, 3.290_836_613_617_175e-22),
        (199.0, 190.0, 0.266_264_354_220_878, 0.733_735_645_779_122),
        (
            201.0,
            190.0,
            0.221_576_346_336_382_32,
            0.778_423_653_663_617_7,
        ),
        (
            1_000.0,
            1_200.0,
            0.999_999_998_711_839_4,
            1.288_160_608_628_143_3e-9,
        ),
        (
            100_000.0,
            100_000.0,
            0.500_420_522_110_365_1,
            0.499_579_477_889_634_8,
        ),
        (100_000_000.0, 100_200_000.0, 1.0, 3.593_692_621_778_8e-89),
        (
            100_000_000.0,
            99_800_000.0,
            2.108_244_367_234_144_5e-89,
            1.0,
        ),
    ];

    #[test]
    fn both_tails() {
        for (a, x, lower, upper) in TABLE {
            // because: measured 7e-15 at worst over 640 random places, for a below 1
            assert_close(gamma_p(a, x), lower, 8e-15, (a, x));
            assert_close(gamma_q(a, x), upper, 8e-15, (a, x));
        }
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!((gamma_p(2.0, 0.0), gamma_q(2.0, -1.0)), (0.0, 1.0));
        assert_eq!(
            (gamma_p(2.0, f64::INFINITY), gamma_q(2.0, f64::INFINITY)),
            (1.0, 0.0)
        );
        assert!(
            gamma_p(0.0, 1.0).is_nan()
                && gamma_q(1.0, f64::NAN).is_nan()
                && gamma_p(f64::INFINITY, 1.0).is_nan()
        );
    }

    // Quantiles of chi-squared, computed independently at 40 digits and rounded to 13: degrees of freedom, lower 1e-9, upper 0.025, upper 1e-9.
    #[test]
    fn chi_squared_quantiles() {
        let table = [
            (
                0.5,
                1.349_939_578_622e-36,
                3.433_235_299_961,
                34.517_146_470_5,
            ),
            (
                1.0,
                1.570_796_326_795e-18,
                5.023_886_187_315,
                37.324_893_051_36,
            ),
            (
                2.5,
                1.394_488_337_536e-7,
                8.392_295_266_913,
                43.201_718_915_47,
            ),
            (
                9.95,
                0.081_122_055_961_59,
                20.410_746_787_16,
                62.832_647_129_33,
            ),
            (
                99.0,
                36.325_312_697_76,
                128.421_988_643_8,
                207.897_520_837_2,
            ),
            (
                1000.0,
                754.633_063_178_3,
                1_089.530_912_775,
                1_291.957_866_236,
            ),
        ];
        for (nu, low, high, far) in table {
            // because: an x of 13 digits moves the chance by 5e-13 times x times the hazard, below 110
            assert_close(gamma_p(0.5 * nu, 0.5 * low), 1e-9, 6e-11, nu);
            assert_close(gamma_q(0.5 * nu, 0.5 * high), 0.025, 6e-11, nu);
            assert_close(gamma_q(0.5 * nu, 0.5 * far), 1e-9, 6e-11, nu);
        }
    }

    #[test]
    fn scaled_gammas_join_where_their_ways_change() {
        // because: 5e-16 for each factor below 10
        assert_close(
            scaled_gamma(10.0_f64.next_down()),
            scaled_gamma(10.0),
            3e-15,
            10,
        );
        assert_close(
            half_step_ratio(10.0_f64.next_down()),
            half_step_ratio(10.0),
            3e-15,
            10,
        );
        // Gamma(1) / (Gamma(1/2) sqrt(1/2)) = sqrt(2/pi).
        assert_close(
            half_step_ratio(0.5),
            (2.0 / std::f64::consts::PI).sqrt(),
            1e-15,
            0.5,
        );
    }

    proptest! {
        #[test]
        fn tails_add_to_one_and_rise(ln_a in -5.0..18.0, z in -9.0..30.0_f64, step in 0.0..1.0) {
            let a = float::exp(ln_a);
            let x = (a + z * a.sqrt()).max(0.0);
            let farther = x + step * a.sqrt();
            prop_assert!((gamma_p(a, x) + gamma_q(a, x) - 1.0).abs() < 1e-14);
            // because: at equal x but for rounding, two values may differ by their error
            prop_assert!(gamma_p(a, farther) >= gamma_p(a, x) * (1.0 - 1e-14));
            prop_assert!(gamma_q(a, farther) <= gamma_q(a, x) * (1.0 + 1e-14));
        }

        #[test]
        fn recurrence_holds(ln_a in -3.0..8.0, z in -6.0..20.0_f64) {
            // Q(a+1, x) = Q(a, x) + x^a e^-x / Gamma(a+1), DLMF 8.8.6.
            let a = float::exp(ln_a);
            let x = (a + z * a.sqrt()).max(0.1 * a);
            let term = front(a, x).value() / a;
            let want = gamma_q(a, x) + term;
            // because: 1e-14 for each of the values, all positive; a + 1 is rounded, which moves Q by ln(x/a) times 1e-13
            prop_assert!((gamma_q(a + 1.0, x) / want - 1.0).abs() < 1e-12);
        }
    }
}
