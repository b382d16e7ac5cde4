//! An outward-rounded interval per value.

use crate::function::{Function, Monotone};
use crate::op::Op;
use crate::tape::{Code, Step, Tape};
use kerfwise_numeric::interval::Interval;

/// Outward-rounded range of one output over a box of inputs; `Err` says where it is not defined.
pub(crate) fn interval(
    tape: &Tape,
    output: usize,
    inputs: &[Interval],
    scratch: &mut Vec<Interval>,
) -> Result<Interval, String> {
    scratch.clear();
    scratch.extend_from_slice(&inputs[..tape.inputs()]);
    scratch.extend(tape.constants().map(|(_, c)| exactly(c)));
    scratch.resize(tape.values(), Interval::ENTIRE);
    for step in tape.steps_of(output) {
        scratch[step.value] = value(&step, scratch)?;
    }
    Ok(scratch[tape.output_value(output)])
}

/// Ranges of the value and of each first derivative over a box, by input.
///
/// At a kink the range holds all slopes between those of both sides, so the mean value theorem and "rises everywhere"
/// stay true; it may have infinite ends (a square root from 0 on). `None` where there is no bound at all.
pub(crate) fn gradient(
    tape: &Tape,
    output: usize,
    inputs: &[Interval],
) -> Result<(Interval, Vec<Option<Interval>>), String> {
    let mut values = Vec::new();
    let result = interval(tape, output, inputs, &mut values)?;
    let zero = Some(exactly(0.0));
    let mut slopes = vec![zero; tape.values()];
    slopes[tape.output_value(output)] = Some(exactly(1.0));
    for step in tape.steps_of(output).rev() {
        let outer = slopes[step.value];
        if outer == zero {
            continue;
        }
        match step.code {
            Code::Op(op) => {
                let inner = op.interval_slopes(
                    values[step.arg(0)],
                    values[step.arg(1)],
                    values[step.value],
                );
                for (&arg, inner) in step.args.iter().zip(inner) {
                    accumulate(&mut slopes[arg as usize], outer, inner);
                }
            }
            Code::Sum => {
                for (&arg, &c) in step.args.iter().zip(step.coefficients) {
                    accumulate(&mut slopes[arg as usize], outer, Interval::point(c));
                }
            }
            Code::Function(function) => {
                for (&arg, (_, monotone)) in step.args.iter().zip(function.facts.arguments()) {
                    let inner = match monotone {
                        Monotone::Increasing => Interval::new(0.0, f64::INFINITY),
                        Monotone::Decreasing => Interval::new(f64::NEG_INFINITY, 0.0),
                        Monotone::Unknown => None,
                    };
                    accumulate(&mut slopes[arg as usize], outer, inner);
                }
            }
        }
    }
    slopes.truncate(tape.inputs());
    Ok((result, slopes))
}

fn accumulate(sum: &mut Option<Interval>, outer: Option<Interval>, inner: Option<Interval>) {
    let product = match (outer, inner) {
        (Some(outer), Some(inner)) => times(outer, inner),
        _ => {
            *sum = None;
            return;
        }
    };
    if let Some(before) = *sum {
        *sum = Some(before + product);
    }
}

/// A product; most factors of a stack are 1 or -1, and then there is nothing to multiply or to round.
fn times(a: Interval, b: Interval) -> Interval {
    let is = |x: Interval, number: f64| x == exactly(number);
    if is(a, 1.0) {
        b
    } else if is(b, 1.0) {
        a
    } else if is(a, -1.0) {
        -b
    } else if is(b, -1.0) {
        -a
    } else {
        a * b
    }
}

/// Constants and coefficients were checked to be finite when the stack was built.
fn exactly(x: f64) -> Interval {
    Interval::point(x).unwrap_or(Interval::ENTIRE)
}

fn value(step: &Step<'_>, values: &[Interval]) -> Result<Interval, String> {
    match step.code {
        Code::Op(op) => op
            .interval(values[step.arg(0)], values[step.arg(1)])
            .ok_or_else(|| undefined(*op, step)),
        Code::Sum => {
            let mut terms = step.coefficients.iter().zip(step.args);
            let term = |(&c, &arg): (&f64, &u32)| times(exactly(c), values[arg as usize]);
            let first = terms.next().map_or(exactly(0.0), term);
            Ok(terms.fold(first, |sum, next| sum + term(next)))
        }
        Code::Function(function) => {
            let args: Vec<Interval> = step.args.iter().map(|&a| values[a as usize]).collect();
            call(function, &args)
        }
    }
}

/// The extremes of a function that is monotone in every argument that is not a single number.
fn call(function: &Function, args: &[Interval]) -> Result<Interval, String> {
    let name = &function.name;
    let mut low = Vec::with_capacity(args.len());
    let mut high = Vec::with_capacity(args.len());
    for (k, (arg, (_, monotone))) in args.iter().zip(function.facts.arguments()).enumerate() {
        let (lo, hi) = (arg.lo(), arg.hi());
        match monotone {
            Monotone::Increasing => {
                low.push(lo);
                high.push(hi);
            }
            Monotone::Decreasing => {
                low.push(hi);
                high.push(lo);
            }
            Monotone::Unknown if arg.width() == 0.0 => {
                low.push(lo);
                high.push(hi);
            }
            Monotone::Unknown => {
                return Err(format!(
                    "opaque function \"{name}\", which is not declared monotone in argument {}",
                    k + 1
                ));
            }
        }
    }
    // The function's own rounding is not known; one unit in the last place is what a single operation would have.
    let (low, high) = (function.value(&low), function.value(&high));
    if low > high {
        return Err(format!(
            "opaque function \"{name}\", which is not monotone as declared"
        ));
    }
    Interval::new(low.next_down(), high.next_up()).ok_or_else(|| {
        format!("opaque function \"{name}\", which is not defined within the limits")
    })
}

#[cold]
fn undefined(op: Op, step: &Step<'_>) -> String {
    let args = &step.origin.node().args;
    let what = op.row().undefined.unwrap_or("not defined");
    match op {
        Op::Div => format!(
            "division by \"{}\", which may be {what} within the limits",
            args[1].brief()
        ),
        Op::Powi(n) => format!(
            "power {n} of \"{}\", which may be {what} within the limits",
            args[0].brief()
        ),
        _ => format!(
            "{} of \"{}\", which may be {what} within the limits",
            op.row().name,
            args[0].brief()
        ),
    }
}
