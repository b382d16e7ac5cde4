//! What the tails of the gamma, beta and t distributions share.

use crate::dd::Dd;
use crate::float;
use crate::quadrature::gauss_legendre;

/// A positive number as e^exponent times a factor: its logarithm never underflows.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tail {
    pub(super) exponent: Dd,
    pub(super) factor: f64,
}

impl Tail {
    pub(super) fn times(self, x: f64) -> Self {
        Self {
            factor: self.factor * x,
            ..self
        }
    }

    pub(super) fn value(self) -> f64 {
        self.exponent.exp() * self.factor
    }

    pub(super) fn ln(self) -> Dd {
        self.exponent + float::ln(self.factor)
    }
}

/// ln(1 + v) - v for v > -1, accurate relative to itself.
pub(super) fn log_1p_minus(v: f64) -> f64 {
    if !(-0.4..=0.6).contains(&v) {
        return float::ln_1p(v) - v;
    }
    // With r = v/(2+v): ln(1+v) = 2 artanh(r) and 2r - v = -r v.
    let r = v / (2.0 + v);
    let s = r * r;
    let mut series = 0.0;
    for k in (1..=15).rev() {
        series = s * (series + 1.0 / f64::from(2 * k + 1));
    }
    r * (2.0 * series - v)
}

/// Integral over 0..limit of `exp(log_fall(v))`, where the logarithm starts at 0 and falls about as
/// -slope v - curvature v^2/2 (the slope may be slightly negative).
pub(super) fn decaying_integral(
    log_fall: impl Fn(f64) -> f64,
    slope: f64,
    curvature: f64,
    limit: f64,
) -> f64 {
    let slope = slope.max(0.0);
    let mut end = (80.0 / (slope + float::hypot(slope, (80.0 * curvature).sqrt()))).min(limit);
    while end < limit && log_fall(end) > -40.0 {
        end = (1.25 * end).min(limit);
    }
    let rule = gauss_legendre(32);
    let middle = 0.35 * end;
    rule.integrate(0.0, middle, |v| float::exp(log_fall(v)))
        + rule.integrate(middle, end, |v| float::exp(log_fall(v)))
}
