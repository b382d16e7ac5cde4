//! Elementary functions with the same bits on every machine.
//!
//! Thin names over the `libm` crate. This module is the only place of the project that calls it.

macro_rules! over_libm {
    ($($(#[$doc:meta])* $vis:vis fn $name:ident($($arg:ident),+) = $libm:ident;)+) => {$(
        $(#[$doc])*
        #[inline]
        #[must_use]
        $vis fn $name($($arg: f64),+) -> f64 {
            libm::$libm($($arg),+)
        }
    )+};
}

over_libm! {
    /// e to the power x.
    pub fn exp(x) = exp;
    /// e to the power x, minus 1, without cancellation near 0.
    pub fn exp_m1(x) = expm1;
    /// Natural logarithm.
    pub fn ln(x) = log;
    /// Natural logarithm of 1 + x, without cancellation near 0.
    pub fn ln_1p(x) = log1p;
    /// Logarithm to base 10.
    pub fn log10(x) = log10;
    /// Sine of an angle in radians.
    pub fn sin(x) = sin;
    /// Cosine of an angle in radians.
    pub fn cos(x) = cos;
    /// Tangent of an angle in radians.
    pub fn tan(x) = tan;
    /// Inverse sine, in radians; NaN outside [-1, 1].
    pub fn asin(x) = asin;
    /// Inverse cosine, in radians; NaN outside [-1, 1].
    pub fn acos(x) = acos;
    /// Inverse tangent, in radians.
    pub fn atan(x) = atan;
    /// Angle of the point (x, y) from the positive x axis, in (-pi, pi]. Note the order: y first.
    pub fn atan2(y, x) = atan2;
    /// Hyperbolic sine.
    pub fn sinh(x) = sinh;
    /// Hyperbolic cosine.
    pub fn cosh(x) = cosh;
    /// Hyperbolic tangent.
    pub fn tanh(x) = tanh;
    /// x to the power y.
    pub fn powf(x, y) = pow;
    /// Square root of x² + y², without overflow on the way.
    pub fn hypot(x, y) = hypot;
    /// Cube root.
    pub fn cbrt(x) = cbrt;
    pub(crate) fn erf(x) = erf;
    pub(crate) fn erfc(x) = erfc;
    pub(crate) fn ln_gamma(x) = lgamma;
    pub(crate) fn gamma(x) = tgamma;
    pub(crate) fn bessel_j0(x) = j0;
    pub(crate) fn bessel_j1(x) = j1;
}

/// Sine and cosine of an angle in radians, together.
#[inline]
#[must_use]
pub fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

/// x to the whole power n, by repeated squaring in a fixed order.
#[inline]
#[must_use]
pub fn powi(x: f64, n: i32) -> f64 {
    let mut base = x;
    let mut left = n.unsigned_abs();
    let mut product = 1.0;
    while left > 0 {
        if left & 1 == 1 {
            product *= base;
        }
        base *= base;
        left >>= 1;
    }
    if n < 0 { 1.0 / product } else { product }
}
