use super::bessel::ln_bessel_k;
use super::gamma::ln_gamma;
use crate::float;
use std::f64::consts::LN_2;

/// Characteristic function of Student's t with unit scale.
#[must_use]
pub fn student_t_cf(t: f64, nu: f64) -> f64 {
    StudentCf::new(nu).at(t)
}

/// Characteristic function of Student's t for one number of degrees of freedom.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentCf {
    nu: f64,
    log_front: f64,
}

impl StudentCf {
    /// For nu degrees of freedom.
    #[must_use]
    pub fn new(nu: f64) -> Self {
        let half = 0.5 * nu;
        Self {
            nu,
            log_front: ln_gamma(half) + (half - 1.0) * LN_2,
        }
    }

    /// Value at t.
    #[must_use]
    pub fn at(&self, t: f64) -> f64 {
        let z = self.nu.sqrt() * t.abs();
        if z < 1e-12 {
            return 1.0;
        }
        float::exp(ln_bessel_k(0.5 * self.nu, z) + 0.5 * self.nu * float::ln(z) - self.log_front)
    }
}
