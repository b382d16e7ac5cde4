//! The same-bits floor: elementary and special functions, sums, roots, quadrature, intervals, random streams.
//!
//! Everything here uses only `+ - * / sqrt` and the `libm` crate, so that the same input gives the same bits on every
//! machine. It knows nothing of lengths, joints or errors of measurement.

pub mod columns;
mod dd;
pub mod float;
pub mod interval;
pub mod quadrature;
pub mod root;
pub mod special;
pub mod stream;
pub mod sum;
