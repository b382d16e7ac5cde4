use super::beta::{beta_inc_both, ln_beta};
use super::normal::{normal_pdf, normal_sf};
use crate::float;

/// Density of Student's t with unit scale and nu degrees of freedom.
#[must_use]
pub fn student_t_pdf(t: f64, nu: f64) -> f64 {
    if nu > 1e12 {
        return normal_pdf(t);
    }
    float::exp(-0.5 * (nu + 1.0) * float::ln_1p(t * t / nu) - ln_beta(0.5, 0.5 * nu)) / nu.sqrt()
}

/// Chance that t is at most this.
#[must_use]
pub fn student_t_cdf(t: f64, nu: f64) -> f64 {
    student_t_sf(-t, nu)
}

/// Chance that t is above this.
#[must_use]
pub fn student_t_sf(t: f64, nu: f64) -> f64 {
    if nu > 1e9 {
        return normal_sf(t);
    }
    if t == 0.0 {
        return 0.5;
    }
    let square = t * t;
    let x = nu / (nu + square);
    let y = square / (nu + square);
    let tail = 0.5 * beta_inc_both(x, y, 0.5 * nu, 0.5).0;
    if t > 0.0 { tail } else { 1.0 - tail }
}

/// t with cdf p.
#[must_use]
pub fn student_t_quantile(p: f64, nu: f64) -> f64 {
    -student_t_quantile_upper(p, nu)
}

/// t with upper tail q.
#[must_use]
pub fn student_t_quantile_upper(q: f64, nu: f64) -> f64 {
    if !(0.0..=1.0).contains(&q) {
        return f64::NAN;
    }
    if q > 0.5 {
        return -student_t_quantile_upper(1.0 - q, nu);
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    let (mut lo, mut hi) = (0.0, 1.0);
    while student_t_sf(hi, nu) > q && hi < 1e300 {
        hi *= 2.0;
    }
    for _ in 0..80 {
        let t = 0.5 * (lo + hi);
        if student_t_sf(t, nu) > q {
            lo = t
        } else {
            hi = t
        }
    }
    0.5 * (lo + hi)
}
