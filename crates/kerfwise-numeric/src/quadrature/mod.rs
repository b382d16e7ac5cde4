//! Integrals over an interval: fixed Gauss–Legendre rules, adaptive Gauss–Kronrod, and tanh-sinh for singular ends.

mod adaptive;
mod legendre;
mod tanh_sinh;

pub use adaptive::integrate_adaptive;
pub use legendre::{GaussLegendre, gauss_legendre};
pub use tanh_sinh::{tanh_sinh, tanh_sinh_from_ends};

/// An integral with an estimate of its error.
#[derive(Debug, Clone, Copy, PartialEq)]
#[must_use]
pub struct Integral {
    /// The integral; values of the function that were not finite are counted as 0.
    pub value: f64,
    /// Estimate of the absolute error, usually far above the true one; infinite when the function was not finite somewhere.
    /// Larger than wanted when the evaluations ran out.
    pub error: f64,
    /// Evaluations of the function.
    pub evaluations: u32,
}

/// Whether x lies strictly between two ends in either order.
fn is_between(x: f64, a: f64, b: f64) -> bool {
    a.min(b) < x && x < a.max(b)
}
