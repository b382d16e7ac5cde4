//! Bracketed roots and minima: never outside the bracket, never more than a fixed number of evaluations.

use std::error::Error;
use std::fmt;

/// How narrow the last bracket has to be: at most `absolute + relative * |x|`.
///
/// Both may be 0: then a root is found to neighbouring `f64`s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RootTolerance {
    /// Absolute part, in the unit of x.
    pub absolute: f64,
    /// Part relative to x.
    pub relative: f64,
}

impl RootTolerance {
    fn at(self, x: f64) -> f64 {
        // A negative or NaN part counts as 0.
        self.absolute.max(0.0) + self.relative.max(0.0) * x.abs()
    }
}

/// A root, from [`find_root`].
#[derive(Debug, Clone, Copy, PartialEq)]
#[must_use]
pub struct Root {
    /// The end of the last bracket at which the function is nearer to 0.
    pub x: f64,
    /// Evaluations of the function after those at the two ends.
    pub iterations: u32,
    /// Width of the last bracket, which holds the root; 0 when the function is exactly 0 at x.
    pub width: f64,
}

/// A minimum, from [`minimize`].
#[derive(Debug, Clone, Copy, PartialEq)]
#[must_use]
pub struct Minimum {
    /// Where the smallest value was seen.
    pub x: f64,
    /// That value.
    pub value: f64,
    /// Evaluations of the function.
    pub iterations: u32,
    /// Width of the last bracket.
    pub width: f64,
}

/// Why there is no root or minimum.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum RootError {
    /// The ends are in the wrong order or not finite.
    Bracket {
        /// Lower end as given.
        lo: f64,
        /// Upper end as given.
        hi: f64,
    },
    /// The function has the same sign at both ends.
    NoSignChange {
        /// Value at the lower end.
        at_lo: f64,
        /// Value at the upper end.
        at_hi: f64,
    },
    /// The function gave NaN.
    NotANumber {
        /// Where it did.
        x: f64,
    },
}

impl fmt::Display for RootError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bracket { lo, hi } => {
                write!(
                    f,
                    "bracket must have finite ends, the lower first (got {lo} to {hi})"
                )
            }
            Self::NoSignChange { at_lo, at_hi } => {
                write!(
                    f,
                    "function must change sign within the bracket (got {at_lo} and {at_hi} at its ends)"
                )
            }
            Self::NotANumber { x } => write!(
                f,
                "function must be a number all over the bracket (got NaN at {x})"
            ),
        }
    }
}

impl Error for RootError {}

/// Calls the function and turns a NaN into the error.
fn number_at(f: &mut impl FnMut(f64) -> f64, x: f64) -> Result<f64, RootError> {
    let y = f(x);
    if y.is_nan() {
        Err(RootError::NotANumber { x })
    } else {
        Ok(y)
    }
}

fn check_bracket(lo: f64, hi: f64) -> Result<(), RootError> {
    if lo.is_finite() && hi.is_finite() && lo <= hi {
        Ok(())
    } else {
        Err(RootError::Bracket { lo, hi })
    }
}

/// After so many steps by interpolation the bracket is halved in the order of the floating-point numbers, which ends
/// within 64 more.
const CLEVER_STEPS: u32 = 60;

/// Where a continuous function that changes sign between `lo` and `hi` is 0.
///
/// Chandrupatla's method (1997, Advances in Engineering Software 28, 145): inverse quadratic interpolation where the last three
/// points say that it is safe, else halving. A function with a jump gives the place where it changes sign. The function may
/// be infinite, but not NaN. At most 2 + 60 + 64 evaluations.
///
/// # Errors
///
/// When the bracket is not one, the signs at its ends are equal, or the function gives NaN.
///
/// ```
/// use kerfwise_numeric::root::{RootTolerance, find_root};
/// let root = find_root(|x| x * x - 2.0, 1.0, 2.0, RootTolerance { absolute: 0.0, relative: 1e-15 })?;
/// assert!((root.x - 2.0_f64.sqrt()).abs() < 1e-15 && root.iterations < 12);
/// # Ok::<(), kerfwise_numeric::root::RootError>(())
/// ```
pub fn find_root(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    hi: f64,
    tolerance: RootTolerance,
) -> Result<Root, RootError> {
    check_bracket(lo, hi)?;
    let exact = |x, iterations| {
        Ok(Root {
            x,
            iterations,
            width: 0.0,
        })
    };
    // `a` is the newest point, `b` the other end of the bracket, `c` the point that was dropped last.
    let (mut a, mut fa) = (lo, number_at(&mut f, lo)?);
    let (mut b, mut fb) = (hi, number_at(&mut f, hi)?);
    if fa == 0.0 {
        return exact(a, 0);
    }
    if fb == 0.0 {
        return exact(b, 0);
    }
    if fa.signum() == fb.signum() {
        return Err(RootError::NoSignChange {
            at_lo: fa,
            at_hi: fb,
        });
    }
    let mut share = 0.5_f64;
    let mut iterations = 0;
    loop {
        let best = if fb.abs() < fa.abs() { b } else { a };
        let width = (b - a).abs();
        let wanted = tolerance.at(best);
        let middle = halfway(a, b, iterations >= CLEVER_STEPS);
        if width <= wanted || !(a.min(b) < middle && middle < a.max(b)) {
            return Ok(Root {
                x: best,
                iterations,
                width,
            });
        }
        // Not nearer to an end than a quarter of what is wanted, so that the bracket closes from both sides.
        let least = (0.25 * wanted / width).min(0.5);
        let mut x = a + share.clamp(least, 1.0 - least) * (b - a);
        if iterations >= CLEVER_STEPS || !(a.min(b) < x && x < a.max(b)) {
            x = middle;
        }
        let fx = number_at(&mut f, x)?;
        iterations += 1;
        if fx == 0.0 {
            return exact(x, iterations);
        }
        let (c, fc);
        if fx.signum() == fa.signum() {
            (c, fc) = (a, fa);
        } else {
            (c, fc) = (b, fb);
            (b, fb) = (a, fa);
        }
        (a, fa) = (x, fx);
        share = interpolated_share([a, b, c], [fa, fb, fc]).unwrap_or(0.5);
    }
}

/// The share of the way from a to b at which the parabola x(f) through three points is 0, if it is monotone there.
fn interpolated_share([a, b, c]: [f64; 3], [fa, fb, fc]: [f64; 3]) -> Option<f64> {
    let xi = (a - b) / (c - b);
    let phi = (fa - fb) / (fc - fb);
    let safe = phi * phi < xi && (1.0 - phi) * (1.0 - phi) < 1.0 - xi;
    safe.then(|| {
        fa / (fb - fa) * (fc / (fb - fc)) + (c - a) / (b - a) * (fa / (fc - fa)) * (fb / (fc - fb))
    })
}

/// The middle of two numbers: on the line, or in the order of all `f64`s, where no bracket is wider than 2^64 steps.
fn halfway(a: f64, b: f64, in_order: bool) -> f64 {
    if !in_order {
        return 0.5 * a + 0.5 * b;
    }
    let (near, far) = if a.abs() < b.abs() { (a, b) } else { (b, a) };
    if near != 0.0 && near.signum() != far.signum() {
        return 0.0;
    }
    let (low, high) = (near.abs().to_bits(), far.abs().to_bits());
    f64::from_bits(low + (high - low) / 2).copysign(far)
}

/// Where a function with one valley between `lo` and `hi` is smallest.
///
/// Brent's method (1973): parabolas through the best three points, golden sections where they do not help. A minimum cannot be
/// located better than to about 1e-8 of x, because the function hardly changes there: a tolerance below that is raised to it. With several
/// valleys one of them is found. At most 200 evaluations.
///
/// # Errors
///
/// When the bracket is not one or the function gives NaN.
///
/// ```
/// use kerfwise_numeric::root::{RootTolerance, minimize};
/// let lowest = minimize(|x| (x - 2.0) * (x - 2.0) + 1.0, 0.0, 5.0, RootTolerance { absolute: 1e-9, relative: 0.0 })?;
/// assert!((lowest.x - 2.0).abs() < 1e-7 && lowest.value == 1.0);
/// # Ok::<(), kerfwise_numeric::root::RootError>(())
/// ```
#[expect(
    clippy::float_cmp,
    reason = "the best three points may be one and the same"
)]
pub fn minimize(
    mut f: impl FnMut(f64) -> f64,
    lo: f64,
    hi: f64,
    tolerance: RootTolerance,
) -> Result<Minimum, RootError> {
    check_bracket(lo, hi)?;
    let golden = 0.5 * (3.0 - 5.0_f64.sqrt());
    let (mut a, mut b) = (lo, hi);
    let mut best = {
        let x = a + golden * (b - a);
        (x, number_at(&mut f, x)?)
    };
    let (mut second, mut third) = (best, best);
    let (mut step, mut step_before) = (0.0_f64, 0.0_f64);
    let mut iterations = 1;
    loop {
        let (x, fx) = best;
        let middle = 0.5 * a + 0.5 * b;
        let least = (0.5 * tolerance.at(x))
            .max(1.1e-8 * x.abs())
            .max(f64::MIN_POSITIVE);
        if (x - middle).abs() <= 2.0 * least - 0.5 * (b - a) || iterations >= 200 {
            return Ok(Minimum {
                x,
                value: fx,
                iterations,
                width: b - a,
            });
        }
        let parabola = parabola_step([best, second, third]).filter(|p| {
            step_before.abs() > least && p.abs() < 0.5 * step_before.abs() && a < x + p && x + p < b
        });
        step_before = step;
        step = match parabola {
            // Not onto an end.
            Some(p) if x + p - a < 2.0 * least || b - (x + p) < 2.0 * least => {
                least.copysign(middle - x)
            }
            Some(p) => p,
            None => {
                step_before = if x < middle { b - x } else { a - x };
                golden * step_before
            }
        };
        let u = if step.abs() >= least {
            x + step
        } else {
            x + least.copysign(step)
        };
        let new = (u, number_at(&mut f, u)?);
        iterations += 1;
        if new.1 <= fx {
            if u < x {
                b = x;
            } else {
                a = x;
            }
            (third, second, best) = (second, best, new);
        } else {
            if u < x {
                a = u;
            } else {
                b = u;
            }
            if new.1 <= second.1 || second.0 == x {
                (third, second) = (second, new);
            } else if new.1 <= third.1 || third.0 == x || third.0 == second.0 {
                third = new;
            }
        }
    }
}

/// How far from the first point the parabola through three has its bottom.
fn parabola_step([(x, fx), (w, fw), (v, fv)]: [(f64, f64); 3]) -> Option<f64> {
    let r = (x - w) * (fx - fv);
    let q = (x - v) * (fx - fw);
    let top = (x - v) * q - (x - w) * r;
    let bottom = 2.0 * (q - r);
    let step = -top / bottom;
    step.is_finite().then_some(step)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::float;
    use proptest::prelude::*;

    const FINEST: RootTolerance = RootTolerance {
        absolute: 0.0,
        relative: 0.0,
    };

    // Closed forms: function, bracket, root.
    #[test]
    fn roots_of_common_functions() {
        type Case = (fn(f64) -> f64, f64, f64, f64);
        let cases: [Case; 6] = [
            (|x| x * x - 2.0, 0.0, 5.0, std::f64::consts::SQRT_2),
            (|x| float::exp(x) - 1e10, 0.0, 100.0, 23.025_850_929_940_457),
            (|x| float::cos(x) - x, 0.0, 1.0, 0.739_085_133_215_160_7),
            (|x| (x - 1.0) * (x - 1.0) * (x - 1.0), -3.0, 7.5, 1.0),
            (|x| float::tanh(1e6 * (x - 0.3)), -1.0, 1.0, 0.3),
            (|x| if x < 0.25 { -1.0 } else { 2.0 }, -1.0, 1.0, 0.25),
        ];
        for (k, (f, lo, hi, want)) in cases.into_iter().enumerate() {
            let root = find_root(f, lo, hi, FINEST).expect("a sign change");
            // because: the triple root is flat within 1e-108 of a third; all others are known to a rounding or two
            assert!((root.x - want).abs() <= 3e-16, "{k}: {root:?}");
            assert!(root.iterations <= 124, "{k}: {root:?}");
        }
    }

    #[test]
    fn tolerance_is_kept_and_saves_work() {
        let f = |x| float::exp(x) - 3.0;
        for absolute in [1e-1, 1e-4, 1e-8, 1e-12] {
            let root = find_root(
                f,
                -10.0,
                10.0,
                RootTolerance {
                    absolute,
                    relative: 0.0,
                },
            )
            .expect("a sign change");
            assert!(root.width <= absolute && (root.x - float::ln(3.0)).abs() <= absolute);
        }
        let coarse = find_root(
            f,
            -10.0,
            10.0,
            RootTolerance {
                absolute: 0.1,
                relative: 0.0,
            },
        )
        .expect("a sign change");
        assert!(
            coarse.iterations
                < find_root(f, -10.0, 10.0, FINEST)
                    .expect("a sign change")
                    .iterations
        );
    }

    #[test]
    fn tiny_roots_and_infinite_values() {
        let root = find_root(|x| x - 1e-200, -1.0, 1.0, FINEST).expect("a sign change");
        assert!(
            (root.x - 1e-200).abs() <= 1e-215 && root.iterations <= 125,
            "{root:?}"
        );
        let root = find_root(|x| 1.0 / x - 4.0, 0.0, 1.0, FINEST).expect("infinity is above 0");
        assert!((root.x - 0.25).abs() <= 1e-16);
    }

    #[test]
    fn faults_are_values() {
        assert_eq!(
            find_root(|x| x * x + 1.0, -1.0, 1.0, FINEST),
            Err(RootError::NoSignChange {
                at_lo: 2.0,
                at_hi: 2.0
            })
        );
        assert!(matches!(
            find_root(|_| f64::NAN, -1.0, 1.0, FINEST),
            Err(RootError::NotANumber { .. })
        ));
        assert!(matches!(
            find_root(
                |x| if x.abs() < 0.9 { f64::NAN } else { x },
                -1.0,
                1.0,
                FINEST
            ),
            Err(RootError::NotANumber { .. })
        ));
        for (lo, hi) in [(1.0, 0.0), (0.0, f64::INFINITY), (f64::NAN, 1.0)] {
            assert!(matches!(
                find_root(|x| x, lo, hi, FINEST),
                Err(RootError::Bracket { .. })
            ));
            assert!(matches!(
                minimize(|x| x, lo, hi, FINEST),
                Err(RootError::Bracket { .. })
            ));
        }
        assert!(matches!(
            minimize(|_| f64::NAN, 0.0, 1.0, FINEST),
            Err(RootError::NotANumber { .. })
        ));
        let message = RootError::NoSignChange {
            at_lo: 2.0,
            at_hi: 2.5,
        }
        .to_string();
        assert_eq!(
            message,
            "function must change sign within the bracket (got 2 and 2.5 at its ends)"
        );
        assert_eq!(
            find_root(|x| x, 0.0, 0.0, FINEST),
            Ok(Root {
                x: 0.0,
                iterations: 0,
                width: 0.0
            })
        );
    }

    #[test]
    fn minima() {
        let tolerance = RootTolerance {
            absolute: 1e-8,
            relative: 0.0,
        };
        let smooth =
            minimize(|x| x * float::ln(x), 0.01, 2.0, tolerance).expect("a number everywhere");
        assert!(
            (smooth.x - 1.0 / std::f64::consts::E).abs() < 2e-8 && smooth.iterations < 25,
            "{smooth:?}"
        );
        let kink =
            minimize(|x| (x - 0.3).abs(), -4.0, 9.0, tolerance).expect("a number everywhere");
        assert!((kink.x - 0.3).abs() < 2e-8, "{kink:?}");
        let edge = minimize(|x| x, 1.0, 3.0, tolerance).expect("a number everywhere");
        assert!((edge.x - 1.0).abs() < 1e-7);
        let flat = minimize(|_| 1.0, 0.0, 1.0, FINEST).expect("a number everywhere");
        assert!(flat.value == 1.0 && flat.iterations <= 200);
    }

    proptest! {
        #[test]
        fn root_of_a_shifted_power(r in -50.0..50.0_f64, lo in -200.0..-60.0, hi in 60.0..200.0, p in 0_i32..4, relative in 1e-15..1e-3) {
            let f = |x: f64| float::powi(x - r, 2 * p + 1);
            let root = find_root(f, lo, hi, RootTolerance { absolute: 1e-12, relative }).expect("a sign change");
            prop_assert!((root.x - r).abs() <= root.width && root.width <= 1e-12 + relative * root.x.abs());
            prop_assert!(root.iterations <= 124);
        }

        #[test]
        fn minimum_of_a_bowl(m in -50.0..50.0_f64, height in -5.0..5.0, lo in -200.0..-60.0, hi in 60.0..200.0) {
            let f = |x: f64| (x - m) * (x - m) + height;
            let lowest = minimize(f, lo, hi, RootTolerance { absolute: 1e-6, relative: 0.0 }).expect("a number everywhere");
            prop_assert!((lowest.x - m).abs() < 2e-6 && lowest.value >= height);
        }
    }
}
