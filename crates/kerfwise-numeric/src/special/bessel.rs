use crate::float;

/// Bessel function of the first kind, order 0.
#[must_use]
pub fn bessel_j0(x: f64) -> f64 {
    float::bessel_j0(x)
}

/// Bessel function of the first kind, order 1.
#[must_use]
pub fn bessel_j1(x: f64) -> f64 {
    float::bessel_j1(x)
}

/// Modified Bessel function of the second kind, real order.
#[must_use]
pub fn bessel_k(nu: f64, x: f64) -> f64 {
    float::exp(ln_bessel_k(nu, x))
}

pub(super) fn ln_bessel_k(nu: f64, x: f64) -> f64 {
    // Trapezoid on the integral of exp(-x cosh t + nu t) over the whole line, from its peak.
    let ratio = nu / x;
    let peak = float::ln(ratio + float::hypot(ratio, 1.0));
    let log_at = |t: f64| nu * t - x * float::cosh(t);
    let top = log_at(peak);
    let h = 0.3 / (1.0 + float::hypot(nu, x)).sqrt().max(2.0);
    let mut total = 1.0;
    for side in [-1.0, 1.0] {
        let mut k = 1.0;
        loop {
            let term = float::exp(log_at(peak + side * k * h) - top);
            total += term;
            if term < 1e-19 || k > 1e5 {
                break;
            }
            k += 1.0;
        }
    }
    top + float::ln(0.5 * h * total)
}
