//! Double-exponential (tanh-sinh) quadrature.

use super::{Integral, is_between};
use crate::float::{cosh, exp, sinh};
use std::f64::consts::FRAC_PI_2;

/// Integral of `f` from `a` to `b`, where `f` may be singular at the ends but is smooth between them.
///
/// ```text
/// x = middle + half tanh(pi/2 sinh u), trapezoidal rule over u (Takahasi and Mori 1974)
/// ```
/// The step is halved until two results agree to the larger of `absolute` and `relative` times the integral: at most about
/// 1 600 evaluations. `f` is never called at the ends, and a value that is not finite is taken as 0. Near an end other than 0 an x cannot say how near it is: if `f` needs
/// that, use [`tanh_sinh_from_ends`]. The ends must be finite (else NaN with infinite error) and may be in either order.
///
/// ```
/// use kerfwise_numeric::quadrature::tanh_sinh;
/// let area = tanh_sinh(|x: f64| 1.0 / x.sqrt(), 0.0, 4.0, 0.0, 1e-12); // 2 sqrt(4)
/// assert!((area.value - 4.0).abs() < 1e-12);
/// ```
pub fn tanh_sinh(
    mut f: impl FnMut(f64) -> f64,
    a: f64,
    b: f64,
    absolute: f64,
    relative: f64,
) -> Integral {
    let width = b - a;
    let at = |from_a: f64, from_b: f64| {
        let x = if from_a.abs() < from_b.abs() {
            a + from_a
        } else {
            b - from_b
        };
        if is_between(x, a, b) { f(x) } else { 0.0 }
    };
    tanh_sinh_from_ends(at, width, absolute, relative)
}

/// The farthest u: there the distance to the end is below 1e-300 of the width, less than any singularity can make count.
const FARTHEST: f64 = 6.1;
/// Steps are 1/2, 1/4, ... to the power of this.
const LEVELS: i32 = 8;

/// As [`tanh_sinh`], over an interval of this width, with `f` given its distances from the lower and from the upper end,
/// each accurate relative to itself however small.
///
/// ```
/// use kerfwise_numeric::quadrature::tanh_sinh_from_ends;
/// // 1/sqrt(1 - x^2) over -1..1 is pi; 1 - x^2 is the product of the distances.
/// let area = tanh_sinh_from_ends(|from_lo, from_hi| 1.0 / (from_lo * from_hi).sqrt(), 2.0, 0.0, 1e-13);
/// assert!((area.value - std::f64::consts::PI).abs() < 1e-13);
/// ```
pub fn tanh_sinh_from_ends(
    mut f: impl FnMut(f64, f64) -> f64,
    width: f64,
    absolute: f64,
    relative: f64,
) -> Integral {
    if !width.is_finite() {
        return Integral {
            value: f64::NAN,
            error: f64::INFINITY,
            evaluations: 0,
        };
    }
    let mut evaluations = 2;
    // Both terms at +u and -u; the weight is that of the distance in units of the width.
    let mut pair = |u: f64| {
        let v = FRAC_PI_2 * sinh(u);
        let share = 1.0 / (1.0 + exp(2.0 * v)); // of the width, from the near end
        let weight = 2.0 * FRAC_PI_2 * cosh(u) * share * (1.0 - share);
        let (near, far) = (width * share, width * (1.0 - share));
        let mut total = 0.0;
        for y in [f(near, far), f(far, near)] {
            if y.is_finite() && share > 0.0 {
                total += weight * y;
            }
        }
        total
    };
    let mut total = 0.5 * pair(0.0);
    let mut result = Integral {
        value: 0.0,
        error: f64::INFINITY,
        evaluations,
    };
    for level in 1..=LEVELS {
        let step = 1.0 / f64::from(1 << level);
        // Every second place is new; at the first level all are.
        let stride = if level == 1 { 1 } else { 2 };
        let mut k = 1;
        while f64::from(k) * step <= FARTHEST {
            total += pair(f64::from(k) * step);
            evaluations += 2;
            k += stride;
        }
        let value = width * step * total;
        result = Integral {
            value,
            error: (value - result.value).abs(),
            evaluations,
        };
        // Three levels at least: two coarse ones may agree by chance.
        if level >= 3 && result.error <= absolute.max(relative * value.abs()) {
            break;
        }
    }
    result
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::float;
    use proptest::prelude::*;

    // Closed forms.
    #[test]
    fn singular_ends() {
        let log = tanh_sinh(float::ln, 0.0, 1.0, 0.0, 1e-13);
        assert!((log.value + 1.0).abs() < 1e-14 && log.evaluations < 500);
        let quarter = tanh_sinh(|x| (1.0 - x * x).sqrt(), 0.0, 1.0, 0.0, 1e-13);
        assert!((quarter.value - std::f64::consts::FRAC_PI_4).abs() < 1e-13);
        let strong = tanh_sinh_from_ends(|x, _| float::powf(x, -0.9), 1.0, 0.0, 1e-12);
        assert!((strong.value - 10.0).abs() < 1e-11, "{strong:?}");
    }

    #[test]
    fn bad_functions_end_without_nan() {
        assert_eq!(tanh_sinh(|_| f64::NAN, 0.0, 1.0, 0.0, 1e-12).value, 0.0);
        let jump = tanh_sinh(|x| if x < 0.3 { 1.0 } else { 0.0 }, 0.0, 1.0, 0.0, 1e-14);
        assert!((jump.value - 0.3).abs() < 0.01 && jump.error > 1e-14);
        assert_eq!(
            tanh_sinh(|x| x, 0.0, f64::INFINITY, 0.0, 1e-12).error,
            f64::INFINITY
        );
    }

    proptest! {
        #[test]
        fn powers_from_either_end(p in -0.8..5.0, a in -3.0..3.0, w in 0.1..4.0) {
            let exact = float::powf(w, p + 1.0) / (p + 1.0);
            let from_lo = tanh_sinh_from_ends(|x, _| float::powf(x, p), w, 0.0, 1e-12);
            let from_hi = tanh_sinh_from_ends(|_, x| float::powf(x, p), w, 0.0, 1e-12);
            // because: asked for, and the estimate lags a level behind
            prop_assert!((from_lo.value / exact - 1.0).abs() < 1e-12 && (from_hi.value / exact - 1.0).abs() < 1e-12);
            let smooth = tanh_sinh(|x| x * x, a, a + w, 0.0, 1e-12).value;
            let back = tanh_sinh(|x| x * x, a + w, a, 0.0, 1e-12).value;
            let cubes = ((a + w) * (a + w) * (a + w) - a * a * a) / 3.0;
            prop_assert!((smooth - cubes).abs() < 1e-11 && (smooth + back).abs() < 1e-11);
        }
    }
}
