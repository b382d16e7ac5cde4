//! The characteristic function of Student's t.

use super::bessel::{peak_integral, scaled_k01};
use super::gamma::scaled_gamma;
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
    nu: f64,
    route: Route,
}

/// How the value is found.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Route {
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
                odd: nu % 2.0 == 1.0,
            }
        } else {
            let a = 0.5 * nu;
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
        if t.is_nan() || !(self.nu > 0.0) {
            return f64::NAN;
        }
        if t == 0.0 {
            return 1.0;
        }
        if t * self.nu.min(1.0).sqrt() > 1e4 {
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

    /// phi of order a+1 is phi_a + z^2/(4 a (a-1)) phi_(a-1): all terms are positive, so nothing is lost.
    fn by_steps(&self, z: Dd, odd: bool) -> f64 {
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
        let a = 0.5 * self.nu;
        let square = two_prod(t, t) * self.nu;
        if square.hi < 1e-18 {
            return self.near_zero(square.hi.sqrt());
        }
        let root = (square + two_prod(a, a)).sqrt();
        let excess = square / (root + a);
        let exponent = (excess / self.nu).ln_1p() * a - excess;
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
