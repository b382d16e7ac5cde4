//! Derivatives at a point: the gradient backwards, second and third derivatives along pairs of inputs forwards.

use crate::op::Op;
use crate::run::point;
use crate::tape::{Code, Step, Tape};

/// Derivatives of one output at a point.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Derivatives {
    /// The value.
    pub(crate) value: f64,
    /// First derivatives by input. At a kink those that [`Op::slopes`] gives; infinite at the foot of a square root. That
    /// of an opaque function is a difference quotient (see `tape.opaque_function`).
    pub(crate) gradient: Vec<f64>,
    /// An operation is at a kink there (abs, min, max), or its slope is infinite (sqrt): name of the operation.
    pub(crate) kink: Option<&'static str>,
}

/// Value and gradient, by reverse accumulation.
pub(crate) fn gradient(tape: &Tape, output: usize, inputs: &[f64]) -> Derivatives {
    let mut values = Vec::new();
    point::fill(tape, inputs, &mut values, tape.steps_of(output));
    let result = tape.output_value(output);
    let mut slopes = backwards(tape, output, &values, &[(result, 1.0)]);
    let kink = tape.steps_of(output).find_map(|step| match step.code {
        Code::Op(op) if slopes[step.value].abs() > 0.0 => op
            .is_kink(values[step.arg(0)], values[step.arg(1)])
            .then(|| op.row().name),
        _ => None,
    });
    slopes.truncate(tape.inputs());
    Derivatives {
        value: values[result],
        gradient: slopes,
        kink,
    }
}

/// What is zero at the kink of an operation: the operand of `abs`, the difference of those of `min` and `max`.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Kink {
    /// Name of the operation.
    pub(crate) operation: &'static str,
    /// The number that is zero at the kink.
    pub(crate) difference: f64,
    /// Its first derivatives by input.
    pub(crate) gradient: Vec<f64>,
}

/// The kinks on which an output depends, at most so many; those of which nothing reaches the output are left out.
pub(crate) fn kinks(tape: &Tape, output: usize, inputs: &[f64], most: usize) -> Vec<Kink> {
    let mut values = Vec::new();
    point::fill(tape, inputs, &mut values, tape.steps_of(output));
    let slopes = backwards(tape, output, &values, &[(tape.output_value(output), 1.0)]);
    let with_kink = tape.steps_of(output).filter_map(|step| match step.code {
        Code::Op(op @ (Op::Abs | Op::Min | Op::Max)) if slopes[step.value].abs() > 0.0 => {
            Some((op.row().name, step))
        }
        _ => None,
    });
    with_kink
        .take(most)
        .map(|(operation, step)| {
            let seeds = match *step.args {
                [a, b] => vec![(a as usize, 1.0), (b as usize, -1.0)],
                _ => vec![(step.arg(0), 1.0)],
            };
            let difference = seeds.iter().map(|&(at, sign)| sign * values[at]).sum();
            let mut gradient = backwards(tape, output, &values, &seeds);
            gradient.truncate(tape.inputs());
            Kink {
                operation,
                difference,
                gradient,
            }
        })
        .collect()
}

/// The slopes of a combination of values by every value below them.
fn backwards(tape: &Tape, output: usize, values: &[f64], seeds: &[(usize, f64)]) -> Vec<f64> {
    let mut slopes = vec![0.0; tape.values()];
    for &(at, weight) in seeds {
        slopes[at] += weight;
    }
    for step in tape.steps_of(output).rev() {
        let outer = slopes[step.value];
        // Nothing flows through it; 0 times an infinite slope would be NaN.
        if outer == 0.0 {
            continue;
        }
        match step.code {
            Code::Op(op) => {
                let (a, b) = (values[step.arg(0)], values[step.arg(1)]);
                let inner = op.slopes(a, b, values[step.value]);
                for (&arg, inner) in step.args.iter().zip(inner) {
                    slopes[arg as usize] += outer * inner;
                }
            }
            Code::Sum => {
                for (&arg, &c) in step.args.iter().zip(step.coefficients) {
                    slopes[arg as usize] += outer * c;
                }
            }
            Code::Function(function) => {
                let args: Vec<f64> = step.args.iter().map(|&arg| values[arg as usize]).collect();
                let at = |args: &[f64]| function.value(args);
                for (k, &arg) in step.args.iter().enumerate() {
                    slopes[arg as usize] += outer * difference_quotient(&at, &args, k);
                }
            }
        }
    }
    slopes
}

/// A central difference; its step balances rounding against curvature for functions whose argument is of order one.
/// One-sided where the function ends: it may be asked at the very end of where it is defined.
fn difference_quotient(f: &dyn Fn(&[f64]) -> f64, args: &[f64], k: usize) -> f64 {
    let step = 6e-6 * args[k].abs().max(1e-2);
    let moved = |by: f64| {
        let mut moved = args.to_vec();
        moved[k] += by;
        (moved[k], f(&moved))
    };
    let (above, here, below) = (moved(step), moved(0.0), moved(-step));
    let quotient = |(to, high): (f64, f64), (from, low): (f64, f64)| (high - low) / (to - from);
    if below.1.is_nan() {
        quotient(above, here)
    } else if above.1.is_nan() {
        quotient(here, below)
    } else {
        quotient(above, below)
    }
}

/// Along one pair of inputs i, j (maybe equal): (`f_i`, `f_ij`, `f_ijj`), by truncated Taylor arithmetic.
///
/// Not finite where a derivative does not exist, or below an opaque function.
pub(crate) fn pair(
    tape: &Tape,
    output: usize,
    inputs: &[f64],
    i: usize,
    j: usize,
) -> (f64, f64, f64) {
    let mut values: Vec<Jet> = inputs[..tape.inputs()]
        .iter()
        .map(|&x| Jet::constant(x))
        .collect();
    values[i].0[S] += 1.0;
    values[j].0[T] += 1.0;
    values.extend(
        tape.constants()
            .map(|(_, constant)| Jet::constant(constant)),
    );
    values.resize(tape.values(), Jet::constant(0.0));
    for step in tape.steps_of(output) {
        values[step.value] = jet(&step, &values);
    }
    let Jet(out) = values[tape.output_value(output)];
    // The coefficient of s t² is f_ijj / 2.
    (out[S], out[ST], 2.0 * out[STT])
}

fn jet(step: &Step<'_>, values: &[Jet]) -> Jet {
    match step.code {
        Code::Op(op) => operate(*op, values[step.arg(0)], values[step.arg(1)]),
        Code::Sum => step
            .args
            .iter()
            .zip(step.coefficients)
            .fold(Jet::constant(0.0), |sum, (&arg, &c)| {
                sum.plus(values[arg as usize], c)
            }),
        Code::Function(function) => {
            let args: Vec<Jet> = step.args.iter().map(|&arg| values[arg as usize]).collect();
            let constants: Vec<f64> = args.iter().map(|arg| arg.0[0]).collect();
            let value = function.value(&constants);
            if args.iter().all(|arg| arg.is_constant()) {
                Jet::constant(value)
            } else {
                let mut unknown = Jet([f64::NAN; 6]);
                unknown.0[0] = value;
                unknown
            }
        }
    }
}

fn operate(op: Op, a: Jet, b: Jet) -> Jet {
    match op {
        Op::Add => a.plus(b, 1.0),
        Op::Sub => a.plus(b, -1.0),
        Op::Mul => a.times(b),
        Op::Div => {
            let b0 = b.0[0];
            let inverse = Op::Powi(-1);
            a.times(b.through(inverse.value(b0, b0), inverse.derivatives(b0, f64::NAN)))
        }
        Op::Min | Op::Max => {
            let picks_a = op.slopes(a.0[0], b.0[0], f64::NAN)[0] >= 0.5;
            if picks_a { a } else { b }
        }
        _ => {
            let value = op.value(a.0[0], a.0[0]);
            a.through(value, op.derivatives(a.0[0], value))
        }
    }
}

/// A polynomial in two small numbers s and t in which s² and t³ count as zero: 1, t, t², s, st, st².
#[derive(Debug, Clone, Copy)]
struct Jet([f64; 6]);

const T: usize = 1;
const S: usize = 3;
const ST: usize = 4;
const STT: usize = 5;

impl Jet {
    const fn constant(x: f64) -> Self {
        Self([x, 0.0, 0.0, 0.0, 0.0, 0.0])
    }

    fn is_constant(&self) -> bool {
        self.0[1..].iter().all(|&c| c == 0.0)
    }

    fn plus(self, other: Self, factor: f64) -> Self {
        let mut out = self;
        for (out, x) in out.0.iter_mut().zip(other.0) {
            *out += factor * x;
        }
        out
    }

    fn times(self, other: Self) -> Self {
        let (a, b) = (self.0, other.0);
        let mut out = [0.0; 6];
        for (s, t) in [(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2)] {
            for u in 0..=s {
                for v in 0..=t {
                    out[3 * s + t] += a[3 * u + v] * b[3 * (s - u) + t - v];
                }
            }
        }
        Self(out)
    }

    /// g(self) for a g with this value and these derivatives at the constant part: g₀ + g₁δ + g₂δ²/2 + g₃δ³/6, where
    /// δ⁴ is zero.
    fn through(self, value: f64, derivatives: [f64; 3]) -> Self {
        // Also keeps infinite derivatives from turning zeros into NaN.
        if self.is_constant() {
            return Self::constant(value);
        }
        let mut delta = self;
        delta.0[0] = 0.0;
        let square = delta.times(delta);
        let cube = square.times(delta);
        let mut out = Self::constant(value);
        for (factor, power) in [
            (derivatives[0], delta),
            (derivatives[1] / 2.0, square),
            (derivatives[2] / 6.0, cube),
        ] {
            if factor != 0.0 {
                out = out.plus(power, factor);
            }
        }
        out
    }
}
