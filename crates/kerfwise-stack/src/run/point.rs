//! One number per value.

use crate::tape::{Code, Step, Tape};

/// Values of all outputs at a point; NaN where not defined.
pub(crate) fn point(tape: &Tape, inputs: &[f64], scratch: &mut Vec<f64>) -> Vec<f64> {
    fill(tape, inputs, scratch, tape.steps());
    (0..tape.outputs())
        .map(|output| scratch[tape.output_value(output)])
        .collect()
}

/// Fills `values` with what these steps make.
pub(crate) fn fill<'a>(
    tape: &Tape,
    inputs: &[f64],
    values: &mut Vec<f64>,
    steps: impl Iterator<Item = Step<'a>>,
) {
    values.clear();
    values.extend_from_slice(&inputs[..tape.inputs()]);
    values.extend(tape.constants().map(|(_, constant)| constant));
    values.resize(tape.values(), 0.0);
    for step in steps {
        values[step.value] = value(&step, values);
    }
}

fn value(step: &Step<'_>, values: &[f64]) -> f64 {
    match step.code {
        Code::Op(op) => op.value(values[step.arg(0)], values[step.arg(1)]),
        Code::Sum => {
            let mut terms = step.coefficients.iter().zip(step.args);
            let term = |(c, &arg): (&f64, &u32)| c * values[arg as usize];
            let first = terms.next().map_or(0.0, term);
            terms.fold(first, |sum, next| sum + term(next))
        }
        Code::Function(function) => {
            let args: Vec<f64> = step.args.iter().map(|&arg| values[arg as usize]).collect();
            function.value(&args)
        }
    }
}
