//! Integrals over an interval: Gauss–Legendre, adaptive Gauss–Kronrod, tanh-sinh.

mod adaptive;
mod legendre;
mod tanh_sinh;

pub use adaptive::integrate_adaptive;
pub use legendre::{GaussLegendre, gauss_legendre};
pub use tanh_sinh::{tanh_sinh, tanh_sinh_from_ends};

/// An integral with its error estimate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Integral {
    /// The integral.
    pub value: f64,
    /// Estimated absolute error; infinite when the function was not finite somewhere.
    pub error: f64,
    /// Evaluations of the function.
    pub evaluations: u32,
}
