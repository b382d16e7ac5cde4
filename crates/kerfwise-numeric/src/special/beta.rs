use super::gamma::ln_gamma;
use crate::float;

/// Natural logarithm of the beta function.
#[must_use]
pub fn ln_beta(a: f64, b: f64) -> f64 {
    ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b)
}

/// Regularised incomplete beta function: lower and upper tail.
#[must_use]
pub fn beta_inc(x: f64, a: f64, b: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    if x >= 1.0 {
        return (1.0, 0.0);
    }
    beta_inc_both(x, 1.0 - x, a, b)
}

pub(super) fn beta_inc_both(x: f64, y: f64, a: f64, b: f64) -> (f64, f64) {
    let front = float::exp(a * float::ln(x) + b * float::ln(y) - ln_beta(a, b));
    if x < (a + 1.0) / (a + b + 2.0) {
        let lower = front * fraction(x, a, b) / a;
        (lower, 1.0 - lower)
    } else {
        let upper = front * fraction(y, b, a) / b;
        (1.0 - upper, upper)
    }
}

fn fraction(x: f64, a: f64, b: f64) -> f64 {
    let mut c = 1.0;
    let mut d = 1.0 / (1.0 - (a + b) * x / (a + 1.0));
    let mut h = d;
    for m in 1..10_000 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / (1.0 + even * d);
        c = 1.0 + even / c;
        h *= d * c;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / (1.0 + odd * d);
        c = 1.0 + odd / c;
        h *= d * c;
        if (d * c - 1.0).abs() < 1e-16 {
            break;
        }
    }
    h
}

/// x at which the lower regularised incomplete beta function is p.
#[must_use]
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let (mut lo, mut hi) = (0.0, 1.0);
    for _ in 0..200 {
        let x = 0.5 * (lo + hi);
        if beta_inc(x, a, b).0 < p {
            lo = x
        } else {
            hi = x
        }
    }
    0.5 * (lo + hi)
}
