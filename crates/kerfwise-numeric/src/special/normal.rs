use crate::float;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Error function.
#[must_use]
pub fn erf(x: f64) -> f64 {
    float::erf(x)
}

/// Complementary error function.
#[must_use]
pub fn erfc(x: f64) -> f64 {
    float::erfc(x)
}

/// Density of the standard normal.
#[must_use]
pub fn normal_pdf(z: f64) -> f64 {
    float::exp(-0.5 * z * z) / (2.0 * PI).sqrt()
}

/// Chance that a standard normal is at most z.
#[must_use]
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * float::erfc(-z * FRAC_1_SQRT_2)
}

/// Chance that a standard normal is above z.
#[must_use]
pub fn normal_sf(z: f64) -> f64 {
    0.5 * float::erfc(z * FRAC_1_SQRT_2)
}

/// Chance that a standard normal is between a and b.
#[must_use]
pub fn normal_interval(a: f64, b: f64) -> f64 {
    if a > 0.0 {
        normal_sf(a) - normal_sf(b)
    } else {
        normal_cdf(b) - normal_cdf(a)
    }
}

/// z with cdf p.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    -normal_quantile_upper(p)
}

/// z with upper tail q.
#[must_use]
pub fn normal_quantile_upper(q: f64) -> f64 {
    if !(0.0..=1.0).contains(&q) {
        return f64::NAN;
    }
    if q > 0.5 {
        return -normal_quantile_upper(1.0 - q);
    }
    if q == 0.0 {
        return f64::INFINITY;
    }
    let (mut lo, mut hi) = (0.0, 40.0);
    for _ in 0..60 {
        let z = 0.5 * (lo + hi);
        if normal_sf(z) > q { lo = z } else { hi = z }
    }
    0.5 * (lo + hi)
}
