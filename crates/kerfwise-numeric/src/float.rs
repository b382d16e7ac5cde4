//! Elementary functions with the same bits on every machine.
//!
//! Thin names over the `libm` crate, which computes with exact `f64` operations only. This module is the only place of
//! the project that calls it; everywhere else the methods of `f64` of the same names are banned, because they call
//! the platform's own library. All are within one unit in the last place of the true value unless they say otherwise.
//!
//! `sqrt`, `abs`, `floor` and their like are exact on every machine: use the methods.

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
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::exp(0.0), 1.0);
    /// ```
    pub fn exp(x) = exp;
    /// e to the power x, minus 1, without cancellation near 0.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::exp_m1(1e-20), 1e-20);
    /// ```
    pub fn exp_m1(x) = expm1;
    /// Natural logarithm; NaN below 0.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::ln(1.0), 0.0);
    /// ```
    pub fn ln(x) = log;
    /// Natural logarithm of 1 + x, without cancellation near 0; NaN below -1.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::ln_1p(1e-20), 1e-20);
    /// ```
    pub fn ln_1p(x) = log1p;
    /// Logarithm to base 10; NaN below 0.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::log10(1000.0), 3.0);
    /// ```
    pub fn log10(x) = log10;
    /// Sine of an angle in radians; NaN for an infinite one.
    ///
    /// ```
    /// assert!((kerfwise_numeric::float::sin(std::f64::consts::FRAC_PI_6) - 0.5).abs() < 1e-16);
    /// ```
    pub fn sin(x) = sin;
    /// Cosine of an angle in radians; NaN for an infinite one.
    ///
    /// ```
    /// assert!((kerfwise_numeric::float::cos(std::f64::consts::FRAC_PI_3) - 0.5).abs() < 2e-16);
    /// ```
    pub fn cos(x) = cos;
    /// Tangent of an angle in radians; NaN for an infinite one.
    ///
    /// ```
    /// assert!((kerfwise_numeric::float::tan(std::f64::consts::FRAC_PI_4) - 1.0).abs() < 2e-16);
    /// ```
    pub fn tan(x) = tan;
    /// Inverse sine, in radians; NaN outside [-1, 1].
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::asin(1.0), std::f64::consts::FRAC_PI_2);
    /// ```
    pub fn asin(x) = asin;
    /// Inverse cosine, in radians; NaN outside [-1, 1].
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::acos(-1.0), std::f64::consts::PI);
    /// ```
    pub fn acos(x) = acos;
    /// Inverse tangent, in radians.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::atan(1.0), std::f64::consts::FRAC_PI_4);
    /// ```
    pub fn atan(x) = atan;
    /// Angle of the point (x, y) from the positive x axis, in radians, within -pi..=pi; within two units in the last place.
    /// Note the order: y first.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::atan2(1.0, 0.0), std::f64::consts::FRAC_PI_2);
    /// ```
    pub fn atan2(y, x) = atan2;
    /// Hyperbolic sine, within two units in the last place.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::sinh(0.0), 0.0);
    /// ```
    pub fn sinh(x) = sinh;
    /// Hyperbolic cosine, within two units in the last place.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::cosh(0.0), 1.0);
    /// ```
    pub fn cosh(x) = cosh;
    /// Hyperbolic tangent, within two units in the last place.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::tanh(40.0), 1.0);
    /// ```
    pub fn tanh(x) = tanh;
    /// x to the power y; NaN for a negative x and a y that is not whole. 1 for y = 0, whatever x is.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::powf(4.0, 1.5), 8.0);
    /// ```
    pub fn powf(x, y) = pow;
    /// Square root of x² + y², without overflow on the way.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::hypot(3.0, 4.0), 5.0);
    /// ```
    pub fn hypot(x, y) = hypot;
    /// Cube root.
    ///
    /// ```
    /// assert_eq!(kerfwise_numeric::float::cbrt(-27.0), -3.0);
    /// ```
    pub fn cbrt(x) = cbrt;
    pub(crate) fn erf(x) = erf;
    pub(crate) fn erfc(x) = erfc;
    pub(crate) fn ln_gamma(x) = lgamma;
    pub(crate) fn gamma(x) = tgamma;
    pub(crate) fn bessel_j0(x) = j0;
}

/// Sine and cosine of an angle in radians, the same bits as [`sin`] and [`cos`] in less time than both.
///
/// ```
/// use kerfwise_numeric::float::{cos, sin, sin_cos};
/// assert_eq!(sin_cos(0.3), (sin(0.3), cos(0.3)));
/// ```
#[inline]
#[must_use]
pub fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

/// x to the whole power n, by repeated squaring: the bits of n are read from the lowest up, each 1 multiplying the product by
/// the square reached; a negative n gives 1 over the positive power. 1 for n = 0, whatever x is.
///
/// The order never changes, so neither do the bits. Error: at most about |n| roundings; exact where all products are.
///
/// ```
/// use kerfwise_numeric::float::powi;
/// assert_eq!((powi(3.0, 4), powi(2.0, -2), powi(0.0, 0)), (81.0, 0.25, 1.0));
/// ```
#[inline]
#[must_use]
pub fn powi(x: f64, n: i32) -> f64 {
    let mut square = x;
    let mut left = n.unsigned_abs();
    let mut product = 1.0;
    while left > 0 {
        if left & 1 == 1 {
            product *= square;
        }
        square *= square;
        left >>= 1;
    }
    if n < 0 { 1.0 / product } else { product }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Recorded on x86-64: a target or a `libm` that gives other bits changes every result.
    #[test]
    fn recorded_bits() {
        let got = [
            exp(1.1),
            exp_m1(0.3),
            ln(7.3),
            ln_1p(0.7),
            log10(5.0),
            sin(2.2),
            cos(2.2),
            tan(1.3),
            asin(0.4),
            acos(0.4),
        ];
        assert_eq!(got.map(f64::to_bits), RECORDED_ONE);
        let got = [
            atan(3.3),
            atan2(1.0, -2.0),
            sinh(1.2),
            cosh(1.2),
            tanh(0.6),
            powf(2.3, 4.5),
            hypot(1.1, 2.2),
            cbrt(2.0),
            erf(0.7),
            erfc(2.5),
        ];
        assert_eq!(got.map(f64::to_bits), RECORDED_TWO);
        let got = [
            ln_gamma(4.4),
            gamma(4.4),
            bessel_j0(3.0),
            powi(1.1, 13),
            powi(1.1, -13),
        ];
        assert_eq!(got.map(f64::to_bits), RECORDED_THREE);
    }

    proptest! {
        #[test]
        fn sines_and_cosines_are_those_of_the_pair(x in -1e6..1e6) {
            prop_assert_eq!(sin_cos(x), (sin(x), cos(x)));
        }

        // Whole numbers: all products are exact.
        #[test]
        fn powers_of_whole_numbers_are_exact(x in -9_i64..10, n in 0_u32..16) {
            prop_assert_eq!(powi(x as f64, n as i32), x.pow(n) as f64);
        }

        #[test]
        fn whole_powers_agree_with_real_ones(x in 0.1..10.0, n in -40_i32..40) {
            // because: at most |n| roundings, and one of `powf`
            prop_assert!((powi(x, n) / powf(x, f64::from(n)) - 1.0).abs() <= f64::EPSILON * (f64::from(n.abs()) + 1.0));
        }
    }

    const RECORDED_ONE: [u64; 10] = [
        0x4008_0888_3244_d593,
        0x3fd6_6416_3230_6a56,
        0x3fff_ce55_551e_156e,
        0x3fe0_fae8_1914_a991,
        0x3fe6_5df6_57b0_4301,
        0x3fe9_df33_d9aa_d708,
        0xbfe2_d500_4b88_ad70,
        0x400c_d11b_1696_e97e,
        0x3fda_564a_c0e7_3a34,
        0x3ff2_8c68_a40a_5e8b,
    ];
    const RECORDED_TWO: [u64; 10] = [
        0x3ff4_6ccc_069c_173f,
        0x4005_6c6e_7397_f5ae,
        0x3ff8_26c0_f341_2348,
        0x3ffc_f871_f8df_a800,
        0x3fe1_2f82_92d2_ccfc,
        0x4045_3851_8ec3_e9dc,
        0x4003_ad69_f7f3_f386,
        0x3ff4_28a2_f98d_728b,
        0x3fe5_b08c_2117_1646,
        0x3f3a_ab85_9b20_ac9e,
    ];
    const RECORDED_THREE: [u64; 5] = [
        0x4002_8761_446e_91c7,
        0x4024_45af_244f_45d1,
        0xbfd0_a4b0_f464_2393,
        0x400b_9e40_5ed5_ecb6,
        0x3fd2_89dc_7772_40b4,
    ];
}
