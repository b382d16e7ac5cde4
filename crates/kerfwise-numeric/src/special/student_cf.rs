//! The characteristic function of Student's t.

use super::bessel::{peak_integral, scaled_k01};
use super::gamma::{LEAST, scaled_gamma};
use super::normal::FRAC_1_SQRT_TAU;
use super::student::NORMAL_FROM;
use crate::dd::{Dd, two_prod};
use crate::float;

/// Characteristic function of Student's t with `nu` degrees of freedom and unit scale, at `t`.
///
/// For many t and one nu, make a [`StudentCf`] once. NaN for nu not above 0.
///
/// ```
/// use kerfwise_numeric::special::student_t_cf;
/// assert!((student_t_cf(2.0, 1.0) - (-2.0_f64).exp()).abs() < 1e-16); // one degree of freedom: e^-|t|
/// ```
#[must_use]
pub fn student_t_cf(t: f64, nu: f64) -> f64 {
    StudentCf::new(nu).at(t)
}

/// Characteristic function of Student's t for one number of degrees of freedom, its constants kept.
///
/// ```text
/// phi(t) = K_a(z) z^a / (Gamma(a) 2^(a-1)),   a = nu/2,   z = sqrt(nu) |t|
/// ```
/// Hurst (1995), "The characteristic function of the Student t distribution"; K is the modified Bessel function
/// of the second kind. Real, even, 1 at t = 0, and falling. Relative accuracy: 1e-14 for every nu from 1e-3 to infinity,
/// until the value underflows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentCf {
    pub(super) nu: f64,
    pub(super) route: Route,
}

/// How the value is found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Route {
    /// exp(-t^2/2), from so many degrees of freedom on that no bit differs.
    Normal,
    /// Whole nu up to [`MOST_STEPS`]: upward recurrence of the order from its elementary or K0, K1 start.
    Steps { root: Dd, odd: bool },
    /// Any nu: an integral about its peak; the front is sqrt(a / 2 pi) over the scaled gamma function.
    Peak { front: f64 },
}

/// Above this many degrees of freedom the recurrence costs more than the integral.
const MOST_STEPS: f64 = 60.0;

impl StudentCf {
    /// For `nu` degrees of freedom, any real number above 0, infinity included; for others every value is NaN.
    #[must_use]
    pub fn new(nu: f64) -> Self {
        let route = if nu >= NORMAL_FROM {
            Route::Normal
        } else if (1.0..=MOST_STEPS).contains(&nu) && nu % 1.0 == 0.0 {
            Route::Steps {
                root: Dd::new(nu).sqrt(),
                odd: nu % 2.0 > 0.0,
            }
        } else {
            let a = 0.5 * nu.max(LEAST);
            Route::Peak {
                front: FRAC_1_SQRT_TAU * a.sqrt() / scaled_gamma(a),
            }
        };
        Self { nu, route }
    }

    /// The value at `t`.
    ///
    /// ```
    /// use kerfwise_numeric::special::StudentCf;
    /// let phi = StudentCf::new(3.0);
    /// let z = 3.0_f64.sqrt() * 0.5;
    /// assert_eq!(phi.at(0.0), 1.0);
    /// assert!((phi.at(0.5) - (1.0 + z) * (-z).exp()).abs() < 1e-15); // three degrees of freedom: (1 + z) e^-z
    /// ```
    #[must_use]
    pub fn at(&self, t: f64) -> f64 {
        let t = t.abs();
        if t.is_nan() || self.nu.is_nan() || self.nu <= 0.0 {
            return f64::NAN;
        }
        if t == 0.0 {
            return 1.0;
        }
        if t * self.nu.clamp(LEAST, 1.0).sqrt() > 1e4 {
            return 0.0; // falls as e^-z for small nu and as e^(-t^2/2) for large
        }
        match self.route {
            Route::Normal => {
                let square = two_prod(t, t);
                (square * -0.5).exp()
            }
            Route::Steps { root, odd } => self.by_steps(root * t, odd),
            Route::Peak { front } => self.by_peak(t, front),
        }
    }

    /// phi of order a+1 is phi of a plus z^2/(4 a (a-1)) times phi of a-1: all terms are positive, so nothing is lost.
    fn by_steps(&self, z: Dd, odd: bool) -> f64 {
        if z.hi < 1e-17 {
            return 1.0; // 1 - z, or nearer to 1 for more degrees
        }
        let square = z.hi * z.hi;
        let (mut before, mut now, mut a) = if odd {
            (1.0, 1.0 + z.hi, 1.5)
        } else {
            let (k0, k1) = scaled_k01(z.hi);
            let first = z.hi * k1;
            (first, first + 0.5 * square * k0, 2.0)
        };
        let half = (z * -0.5).exp();
        if self.nu <= 2.0 {
            return before * half * half;
        }
        while 2.0 * a < self.nu {
            (before, now) = (now, now + square / (4.0 * a * (a - 1.0)) * before);
            a += 1.0;
        }
        // e^-z in two halves, because it may underflow where the product does not.
        now * half * half
    }

    /// exp(a ln(1 + D/2a) - D), D = sqrt(a^2 + z^2) - a, times front and integral: Stirling's part of Gamma(a) is taken
    /// into the exponent, which for a large nu tends to -t^2/2.
    fn by_peak(&self, t: f64, front: f64) -> f64 {
        let nu = self.nu.max(LEAST);
        let a = 0.5 * nu;
        let square = two_prod(t, t) * nu;
        if square.hi < 1e-18 {
            return self.near_zero(nu.sqrt() * t);
        }
        let root = (square + two_prod(a, a)).sqrt();
        let excess = square / (root + a);
        let exponent = (excess / nu).ln_1p() * a - excess;
        exponent.exp() * front * peak_integral(a, root.hi, excess.hi)
    }

    /// 1 - Gamma(1-a)/Gamma(1+a) (z/2)^2a for z below 1e-9, DLMF 10.27.4 and 10.25.2; 1 for a not below 0.9.
    fn near_zero(&self, z: f64) -> f64 {
        let a = 0.5 * self.nu;
        if a >= 0.9 {
            return 1.0;
        }
        1.0 - float::gamma(1.0 - a) / float::gamma(1.0 + a) * float::powf(0.5 * z, self.nu)
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use crate::special::bessel_k;
    use proptest::prelude::*;

    // t, degrees of freedom, value, computed with mpmath at 50 digits.
    const TABLE: [(f64, f64, f64); 32] = [
        (1.0e-6, 0.1, 0.778_686_086_174_211),
        (3.0, 0.1, 0.044_903_146_208_340_51),
        (200.0, 0.1, 6.548_912_146_924_123e-30),
        (1.0e-20, 0.2, 0.999_916_750_207_228_4),
        (0.01, 0.5, 0.919_628_049_578_321_7),
        (5.0, 0.5, 0.012_068_347_393_040_883),
        (2.0, 1.0, 0.135_335_283_236_612_7),
        (0.001, 1.7, 0.999_977_585_301_932_1),
        (1.0e-8, 2.0, 0.999_999_999_999_998_1),
        (0.1, 2.0, 0.974_197_443_318_119_7),
        (20.0, 2.0, 3.513_894_512_763_649_5e-12),
        (3.0, 3.0, 0.034_313_243_197_460_16),
        (0.05, 4.0, 0.997_519_823_210_570_6),
        (1.0, 4.0, 0.507_519_509_132_111_7),
        (1.5, 4.0, 0.276_797_063_122_839_2),
        (300.0, 4.0, 2.448_633_103_299_411_3e-257),
        (2.5, 5.0, 0.063_510_214_548_943_75),
        (4.0, 6.0, 0.003_994_081_126_287_953),
        (0.7, 7.5, 0.733_030_504_848_439_8),
        (10.0, 9.0, 1.001_492_914_223_713_4e-9),
        (15.0, 20.0, 2.335_515_245_779_424_8e-20),
        (90.0, 59.0, 5.006_503_170_045_187e-257),
        (2.0, 60.0, 0.135_422_790_170_392_2),
        (2.0, 61.0, 0.135_420_135_980_016_48),
        (30.0, 61.0, 5.350_346_665_502_022e-71),
        (6.0, 100.0, 1.189_395_174_685_506e-7),
        (0.2, 333.3, 0.980_081_539_422_734_7),
        (20.0, 1_000.0, 8.186_917_765_051_427e-76),
        (37.0, 10_000.0, 1.113_345_274_611_947_2e-280),
        (3.0, 1_000_000.0, 0.011_109_121_514_056_564),
        (36.0, 1_000_000.0, 5.736_697_712_666_740_6e-282),
        (5.0, 1_000_000_000_000.0, 3.726_653_172_567_794_3e-6),
    ];

    #[test]
    fn values() {
        for (t, nu, want) in TABLE {
            // because: measured 3e-15 at worst over 500 random places
            assert_close(student_t_cf(t, nu), want, 4e-15, (t, nu));
            assert_close(StudentCf::new(nu).at(-t), want, 4e-15, (t, nu));
        }
    }

    #[test]
    fn two_and_four_degrees_are_bessel_functions() {
        // z K_1(z), and z^2 K_2(z)/2: DLMF 10.27 and the definition.
        for t in [0.01, 0.7, 1.3, 1.5, 9.0] {
            let (z, w) = (2.0_f64.sqrt() * t, 2.0 * t);
            assert_close(student_t_cf(t, 2.0), z * bessel_k(1.0, z), 6e-15, t); // because: two functions of 3e-15 each
            assert_close(
                student_t_cf(t, 4.0),
                0.5 * w * w * bessel_k(2.0, w),
                6e-15,
                t,
            );
        }
    }

    #[test]
    fn ends_and_faults() {
        for nu in [
            1e-3,
            0.5,
            1.0,
            2.0,
            2.5,
            4.0,
            61.0,
            1e6,
            1e30,
            f64::INFINITY,
        ] {
            let phi = StudentCf::new(nu);
            assert_eq!((phi.at(0.0), phi.at(f64::INFINITY)), (1.0, 0.0), "{nu}");
            for t in [5e-324, 1e-200, 1e-100, 1e-12, 1e5, 1e100, 1e300, f64::MAX] {
                assert!((0.0..=1.0).contains(&phi.at(t)), "{nu} {t}: {}", phi.at(t));
            }
            assert!(phi.at(f64::NAN).is_nan());
        }
        assert!(
            student_t_cf(1.0, 0.0).is_nan()
                && student_t_cf(0.0, -1.0).is_nan()
                && student_t_cf(1.0, f64::NAN).is_nan()
        );
    }

    #[test]
    fn becomes_the_normal_smoothly() {
        // The first correction is exp(-t^2/2) (1 - t^2 ... ): -t^4/(4 nu) from the second cumulant of 1/chi^2, plus -t^2/nu from its mean.
        for t in [0.5, 2.0, 8.0] {
            let mut nu = 1e9;
            while nu < 1e26 {
                let want = float::exp(-0.5 * t * t) * (1.0 - (t * t - 0.25 * t * t * t * t) / nu);
                // because: next term is t^8/(32 nu^2) of it, below 6e-13
                assert_close(student_t_cf(t, nu), want, 1e-12, (t, nu));
                nu *= 10.0;
            }
        }
    }

    proptest! {
        #[test]
        fn falls_with_t_and_meets_neighbouring_routes(k in 1_u32..=60, t in 0.0..40.0, step in 0.0..1.0) {
            let phi = StudentCf::new(f64::from(k));
            // because: at equal t but for rounding, two values may differ by their error
            prop_assert!(phi.at(t + step) <= phi.at(t) * (1.0 + 8e-15));
            let a = 0.5 * f64::from(k);
            let integral = StudentCf { nu: f64::from(k), route: Route::Peak { front: FRAC_1_SQRT_TAU * a.sqrt() / scaled_gamma(a) } };
            prop_assert!((integral.at(t) - phi.at(t)).abs() <= 8e-15 * phi.at(t));
        }
    }
}
