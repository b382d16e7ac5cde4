//! The same-bits floor: elementary and special functions, sums, roots, quadrature, intervals, random streams.
//!
//! Everything here uses only `+ - * / sqrt` and the `libm` crate, so that the same input gives the same bits on every
//! machine. It knows nothing of lengths, joints or errors of measurement.
//!
//! ```
//! use kerfwise_numeric::quadrature::gauss_legendre;
//! use kerfwise_numeric::special::{normal_interval, student_t_quantile};
//! use kerfwise_numeric::sum::sum;
//!
//! assert_eq!(sum([0.1; 10]), 1.0); // a plain sum is off by a rounding
//! assert!((student_t_quantile(0.75, 1.0) - 1.0).abs() < 1e-15); // tan(pi/4)
//! assert!((normal_interval(-1.0, 1.0) - 0.6827).abs() < 1e-4); // the well-known 68.27 %
//! let area = gauss_legendre(8).integrate(0.0, 3.0, |x| x * x); // 3^3/3
//! assert!((area - 9.0).abs() < 1e-14);
//! ```
//!
//! # The main parts
//!
//! - [`float`]: elementary functions, in place of the methods of `f64`, whose bits depend on the platform.
//! - [`special`]: error, gamma, beta and Bessel functions; normal, Student t, beta and Kolmogorov distributions with
//!   relative accuracy in both tails.
//! - [`sum`]: compensated sums.
//! - [`quadrature`] and [`root`]: integrals, roots and minima that always end, and say how far off they are.
//! - [`interval`]: arithmetic with ends rounded outward.
//! - [`stream`]: random numbers addressed by seed, key and block.
//!
//! # What it does not do
//!
//! - No vectors, matrices or complex numbers.
//! - No units: angles are radians, all else is what the caller makes of it.
//! - Nothing here returns an error but [`root`]: an argument outside of a function's domain gives NaN, an interval
//!   outside of it `None`.
//!
//! # Features
//!
//! None.

pub mod columns;
mod dd;
pub mod float;
pub mod interval;
pub mod quadrature;
pub mod root;
pub mod sobol;
pub mod special;
pub mod stream;
pub mod sum;
