use super::Integral;
use crate::float::{cosh, exp, sinh};
use std::f64::consts::FRAC_PI_2;

/// Double-exponential integral of `f` from `a` to `b`, for singular ends.
pub fn tanh_sinh(
    mut f: impl FnMut(f64) -> f64,
    a: f64,
    b: f64,
    absolute: f64,
    relative: f64,
) -> Integral {
    tanh_sinh_from_ends(
        |from_a, from_b| {
            f(if from_a < from_b {
                a + from_a
            } else {
                b - from_b
            })
        },
        b - a,
        absolute,
        relative,
    )
}

/// As [`tanh_sinh`], the function being given its distances from both ends of an interval of this width.
pub fn tanh_sinh_from_ends(
    mut f: impl FnMut(f64, f64) -> f64,
    width: f64,
    absolute: f64,
    relative: f64,
) -> Integral {
    let mut before = f64::NAN;
    let mut evaluations = 0;
    let mut value = 0.0;
    let mut error = f64::INFINITY;
    for level in 2..9 {
        let h = 1.0 / f64::from(1 << level);
        let mut total = 0.0;
        let n = 6 * (1_i32 << level);
        for k in -n..=n {
            let t = h * f64::from(k);
            let u = FRAC_PI_2 * sinh(t);
            let near = width / (1.0 + exp(2.0 * u.abs()));
            let far = width - near;
            let weight = width * FRAC_PI_2 * cosh(t) / (2.0 * cosh(u) * cosh(u));
            let (from_a, from_b) = if u < 0.0 { (near, far) } else { (far, near) };
            let y = f(from_a, from_b);
            if weight > 0.0 && near > 0.0 && y.is_finite() {
                total += weight * y;
            }
            evaluations += 1;
        }
        value = h * total;
        error = (value - before).abs();
        if error <= absolute.max(relative * value.abs()) {
            break;
        }
        before = value;
    }
    Integral {
        value,
        error,
        evaluations,
    }
}
