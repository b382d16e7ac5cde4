//! Elementary functions of whole columns: loops without branches, the same bits on every processor.

use super::choose;
use crate::float;
use multiversion::multiversion;
use std::f64::consts::{FRAC_1_PI, FRAC_2_PI, LOG2_E};

/// Added and taken away again, it leaves the nearest whole number.
const ROUND: f64 = 6_755_399_441_055_744.0;
/// ln 2 in two parts, the first with so few bits that its products with exponents are exact.
const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;
/// π in three parts, the first two with so many bits left that their products with quarters up to 10⁵ are exact.
const PI_HIGH: f64 = 3.141_592_653_468_251_2;
const PI_MIDDLE: f64 = 1.215_420_101_260_793_2e-10;
const PI_LOW: f64 = 4.044_532_497_591_901e-21;
/// Angles up to here are reduced that way.
const MOST: f64 = 7e4;

/// x becomes e to the power x, within two units in the last place; 0 below −708, and infinite above 709.
///
/// ```
/// let mut column = [0.0, 1.0, -800.0];
/// kerfwise_numeric::columns::exps(&mut column);
/// assert_eq!(column[0], 1.0);
/// assert!((column[1] - std::f64::consts::E).abs() < 1e-15);
/// assert_eq!(column[2], 0.0);
/// ```
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn exps(column: &mut [f64]) {
    for x in column {
        *x = exp(*x);
    }
}

/// x becomes the Bessel function J0(x): absolute error at most 5e-16. For x from 0 up; a negative one is taken as positive.
///
/// The power series below 3 (DLMF 10.2.2), a polynomial in x² below 8, and the amplitudes of DLMF 10.17.3 above.
///
/// ```
/// let mut column = [0.0, 1.0, 30.0];
/// kerfwise_numeric::columns::bessel_j0s(&mut column);
/// for (got, x) in column.into_iter().zip([0.0, 1.0, 30.0]) {
///     assert!((got - kerfwise_numeric::special::bessel_j0(x)).abs() < 5e-16);
/// }
/// ```
pub fn bessel_j0s(column: &mut [f64]) {
    if column.iter().all(|x| x.abs() <= MOST) {
        wide_j0s(column);
    } else {
        for x in column {
            *x = float::bessel_j0(*x);
        }
    }
}

/// Multiplies each of a column by sin(h t)/(h t), for its t of a second column, which are above 0 and ascend.
///
/// The characteristic function of a rectangular distribution of half-width h. Absolute error: two units of 1/(h t).
///
/// ```
/// let mut column = [1.0, 2.0];
/// kerfwise_numeric::columns::times_sinc(&mut column, &[0.5, 1.0], 2.0);
/// assert!((column[0] - 0.841_470_984_807_896_5).abs() < 1e-15); // sin 1
/// assert!((column[1] - 0.909_297_426_825_681_7).abs() < 1e-15); // sin 2
/// ```
pub fn times_sinc(column: &mut [f64], places: &[f64], half_width: f64) {
    let near = places.partition_point(|t| half_width * t <= MOST);
    wide_sinc(&mut column[..near], &places[..near], half_width);
    for (y, t) in column[near..].iter_mut().zip(&places[near..]) {
        let x = half_width * t;
        *y *= float::sin(x) / x;
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_j0s(column: &mut [f64]) {
    for x in column {
        let x_ = x.abs();
        let quarter = 0.25 * x_ * x_;
        let near = polynomial(&J0_SERIES, quarter);
        let middle = polynomial(&J0_MIDDLE, 0.125 * quarter - 1.0);
        *x = choose(x_ < 3.0, near, choose(x_ < 8.0, middle, j0_far(x_)));
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_sinc(column: &mut [f64], places: &[f64], half_width: f64) {
    for (y, t) in column.iter_mut().zip(places) {
        let x = half_width * t + f64::MIN_POSITIVE;
        let (sign, r) = turn(x, 0.0);
        *y *= sign * sine(r) / x;
    }
}

/// e^x without a branch: 2^n times Taylor's polynomial of what is left, at most ln 2/2.
#[inline(always)]
pub(crate) fn exp(x: f64) -> f64 {
    let within = choose(x < -708.0, -708.0, choose(x > 709.0, 709.0, x));
    let shifted = within * LOG2_E + ROUND;
    let n = shifted - ROUND;
    let r = (within - n * LN_2_HIGH) - n * LN_2_LOW;
    let series = polynomial(&EXP, r);
    // 1 + r + r²·series, and the exponent from the low bits of the shifted number.
    let power =
        (shifted.to_bits().wrapping_sub(ROUND.to_bits()) << 52).wrapping_add(1.0_f64.to_bits());
    let y = (1.0 + (r + r * r * series)) * f64::from_bits(power);
    choose(
        x < -708.0,
        0.0,
        choose(x > 709.0, f64::INFINITY, choose(x.is_nan(), x, y)),
    )
}

/// The natural logarithm of a normal number above 0, within two units in the last place of 1 or of itself.
#[inline(always)]
pub(crate) fn ln(x: f64) -> f64 {
    // x = 2^n m with m from 1/√2 to √2, and ln m = 2 atanh((m − 1)/(m + 1)).
    const HALF_ROOT: u64 = std::f64::consts::FRAC_1_SQRT_2.to_bits();
    let steps = x.to_bits().wrapping_sub(HALF_ROOT) >> 52 << 52;
    let m = f64::from_bits(x.to_bits().wrapping_sub(steps));
    // As a number: the top bits, signed, moved into the low ones of the rounding constant.
    let low = (steps >> 52) & 0xfff;
    let signed = low.wrapping_sub((low & 0x800) << 1);
    let n = f64::from_bits(ROUND.to_bits().wrapping_add(signed)) - ROUND;
    let s = (m - 1.0) / (m + 1.0);
    let square = s * s;
    let twice = s + s;
    n * LN_2_HIGH + (twice + (twice * square * polynomial(&ATANH, square) + n * LN_2_LOW))
}

/// x − (n + quarters)·π, which is at most π/2 either way, and (−1)^n.
#[inline(always)]
fn turn(x: f64, quarters: f64) -> (f64, f64) {
    let n = (x * FRAC_1_PI - quarters + ROUND) - ROUND;
    let turns = n + quarters;
    let r = ((x - turns * PI_HIGH) - turns * PI_MIDDLE) - turns * PI_LOW;
    // What is left of n/2 is 0 or ±½.
    let half = 0.5 * n;
    let left = half - ((half + ROUND) - ROUND);
    (1.0 - 8.0 * left * left, r)
}

#[inline(always)]
fn sine(r: f64) -> f64 {
    r * polynomial(&SINE, r * r)
}

#[inline(always)]
fn cosine(r: f64) -> f64 {
    polynomial(&COSINE, r * r)
}

/// √(2/(πx)) (P cos χ − (8/x) Q sin χ) with χ = x − π/4.
#[inline(always)]
fn j0_far(x: f64) -> f64 {
    let x = choose(x < 8.0, 8.0, x);
    let over = 8.0 / x;
    let v = 2.0 * over * over - 1.0;
    let (sign, r) = turn(x, 0.25);
    let (p, q) = (polynomial(&J0_P, v), polynomial(&J0_Q, v));
    sign * (FRAC_2_PI / x).sqrt() * (p * cosine(r) - over * q * sine(r))
}

/// Horner's rule, from the lowest coefficient on.
#[inline(always)]
fn polynomial<const N: usize>(coefficients: &[f64; N], x: f64) -> f64 {
    let mut sum = coefficients[N - 1];
    let mut i = N - 1;
    while i > 0 {
        i -= 1;
        sum = sum * x + coefficients[i];
    }
    sum
}

/// 1/k! from k = 2.
const EXP: [f64; 12] = {
    let (mut all, mut now, mut k) = ([0.0; 12], 1.0, 0);
    while k < 12 {
        now /= (k + 2) as f64;
        all[k] = now;
        k += 1;
    }
    all
};

/// 1/(2k + 1) from k = 1.
const ATANH: [f64; 11] = {
    let (mut all, mut k) = ([0.0; 11], 0);
    while k < 11 {
        all[k] = 1.0 / (2 * k + 3) as f64;
        k += 1;
    }
    all
};

/// (−1)^k/(2k + 1)!: what follows is below 1e-18 for angles up to π/2.
const SINE: [f64; 12] = alternating(1);
/// (−1)^k/(2k)!.
const COSINE: [f64; 12] = alternating(0);

const fn alternating(odd: usize) -> [f64; 12] {
    let (mut all, mut now, mut k) = ([1.0; 12], 1.0, 1);
    while k < 12 {
        now /= -(((2 * k + odd) * (2 * k + odd - 1)) as f64);
        all[k] = now;
        k += 1;
    }
    all
}

/// (−1)^k/(k!)².
const J0_SERIES: [f64; 16] = {
    let (mut all, mut now, mut k) = ([1.0; 16], 1.0, 1);
    while k < 16 {
        now /= -((k * k) as f64);
        all[k] = now;
        k += 1;
    }
    all
};

/// J0(x) in powers of x²/32 − 1 for x up to 8, from its Chebyshev series, computed with mpmath at 60 digits.
const J0_MIDDLE: [f64; 18] = [
    0.04582966485981377,
    0.9303012472958572,
    -0.6484692830871837,
    -0.808088807669687,
    1.0383794611437211,
    -0.507468045847102,
    0.14598884856759264,
    -0.028472718610869575,
    0.004058078989140991,
    -0.00044354592247272207,
    3.8473197855944365e-5,
    -2.7177491450236107e-6,
    1.5956109104549218e-7,
    -7.915407738245845e-9,
    3.3634475788173604e-10,
    -1.2384637259147907e-11,
    4.0037632815796753e-13,
    -1.1382224373024272e-14,
];

/// P and Q in powers of 2 (8/x)² − 1 for x from 8 on, from their Chebyshev series, computed with mpmath at 40 digits.
const J0_P: [f64; 14] = [
    0.9994572757882519,
    -0.0005363673192130047,
    6.137416080109497e-6,
    -2.0527448156307146e-7,
    1.280376144080092e-8,
    -1.2121182069774233e-9,
    1.5500565496632596e-10,
    -2.4882702786880542e-11,
    4.786995821368028e-12,
    -1.0636861151667625e-12,
    2.4531772967345006e-13,
    -6.416781008015415e-14,
    3.339452259070809e-14,
    -1.180002783020184e-14,
];
const J0_Q: [f64; 14] = [
    -0.015555113879513518,
    6.833149099344083e-5,
    -1.477138832589449e-6,
    7.106214852192226e-8,
    -5.668717017471248e-9,
    6.432789503382007e-10,
    -9.469830663448226e-11,
    1.7029372022291316e-11,
    -3.605043103124562e-12,
    8.689732394690306e-13,
    -2.0979723806283122e-13,
    5.756325587995953e-14,
    -3.417306155904644e-14,
    1.2731367623367943e-14,
];

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn sinc_is_the_sine_over_its_argument() {
        let places: Vec<f64> = (0..4000)
            .map(|i| 1e-9 + 0.037 * f64::from(i))
            .chain([6e4, 2.9e5, 1e7])
            .collect();
        for half in [1.0, 0.3, 17.0] {
            let mut column = vec![1.0; places.len()];
            times_sinc(&mut column, &places, half);
            for (y, t) in column.iter().zip(&places) {
                let x = half * t;
                // because: two roundings of a number of the size of 1/x
                let allowed = 2.0 * f64::EPSILON / x.max(1.0);
                assert!((y - float::sin(x) / x).abs() <= allowed, "{x} {y}");
            }
        }
    }

    #[test]
    fn j0_is_that_of_libm() {
        let places: Vec<f64> = (0..40_000)
            .map(|i| 0.0021 * f64::from(i))
            .chain([6.9e4])
            .collect();
        let mut column = places.clone();
        bessel_j0s(&mut column);
        for (y, x) in column.iter().zip(&places) {
            // because: 5e-16 of ours (sizes of the coefficients add up to 4) and 2e-16 of libm's
            assert!((y - float::bessel_j0(*x)).abs() <= 7e-16, "{x} {y}");
        }
        let mut far = [1e6, 3.0];
        bessel_j0s(&mut far);
        let wanted = [1e6, 3.0].map(|x| float::bessel_j0(x).to_bits());
        assert_eq!(far.map(f64::to_bits), wanted);
    }

    #[test]
    fn ends_of_exp() {
        let mut column = [
            0.0,
            -709.0,
            710.0,
            f64::NEG_INFINITY,
            f64::INFINITY,
            f64::NAN,
        ];
        exps(&mut column);
        let wanted = [1.0, 0.0, f64::INFINITY, 0.0, f64::INFINITY].map(f64::to_bits);
        assert_eq!(column.map(f64::to_bits)[..5], wanted);
        assert!(column[5].is_nan());
    }

    proptest! {
        #[test]
        fn exp_and_ln_are_those_of_libm(x in -700.0..700.0_f64) {
            let y = float::exp(x);
            // because: two units of ours, one of libm's
            prop_assert!((exp(x) / y - 1.0).abs() <= 1.5 * f64::EPSILON, "{x}");
            prop_assert!((ln(y) - float::ln(y)).abs() <= 2.0 * f64::EPSILON * float::ln(y).abs().max(1.0), "{x}");
        }
    }
}
