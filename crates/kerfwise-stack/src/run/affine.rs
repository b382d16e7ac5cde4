//! Whether an output is affine, and with which coefficients.
//!
//! Forwards, each value is classed: a constant (also when its inputs cancel), affine, or not. Backwards, coefficients
//! flow from the output to inputs and constants, as derivatives would: one pass over the program, whatever its width.

use crate::op::Op;
use crate::tape::{Code, Step, Tape};
use kerfwise_numeric::sum::CompensatedSum;

/// constant + Σ coefficient · input.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Affine {
    /// The constant.
    pub(crate) constant: f64,
    /// (input, coefficient), inputs ascending, no zero coefficients.
    pub(crate) terms: Vec<(usize, f64)>,
}

/// The affine form of an output, or the inputs in which it is not affine. Inputs of which `known` holds a value (sources
/// without spread) count as constants, so that a product with one of them is affine; `known` may be short.
pub(crate) fn affine(
    tape: &Tape,
    output: usize,
    known: &[Option<f64>],
) -> Result<Affine, Vec<usize>> {
    let known = |input: usize| known.get(input).copied().flatten();
    let forms = forms(tape, output, &known);
    let mut coefficients = vec![CompensatedSum::new(); tape.values()];
    coefficients[tape.output_value(output)].add(1.0);
    // What lies below an operation that is not affine.
    let mut is_bent = vec![false; tape.values()];
    let mut any_bent = false;
    let mut constant = CompensatedSum::new();
    for step in tape.steps_of(output).rev() {
        let outer = coefficients[step.value].value();
        if let Some(value) = constant_of(&forms, step.value) {
            constant.add(outer * value);
            continue;
        }
        let fixed = |k: usize| constant_of(&forms, step.arg(k));
        let mut add = |k: usize, inner: f64| coefficients[step.args[k] as usize].add(inner);
        if is_bent[step.value] || flow(&step, outer, &fixed, &mut add).is_none() {
            any_bent = true;
            for &arg in step.args {
                is_bent[arg as usize] = true;
            }
        }
    }
    if any_bent {
        let bent = |is_known: bool| {
            let inputs = (0..tape.inputs()).filter(|&input| is_bent[input]);
            inputs.filter(move |&input| known(input).is_some() == is_known)
        };
        let mut inputs: Vec<usize> = bent(false).collect();
        if inputs.is_empty() {
            // Nothing uncertain is bent, but there is no number for a part of known values: it is not defined there.
            inputs = bent(true).collect();
        }
        return Err(inputs);
    }
    for (value, c) in tape.constants() {
        constant.add(coefficients[value].value() * c);
    }
    for (input, coefficient) in coefficients.iter().enumerate().take(tape.inputs()) {
        if let Some(value) = known(input) {
            constant.add(coefficient.value() * value);
        }
    }
    let terms: Vec<(usize, f64)> = (0..tape.inputs())
        .filter(|&input| known(input).is_none())
        .map(|input| (input, coefficients[input].value()))
        .filter(|(_, coefficient)| *coefficient != 0.0)
        .collect();
    let constant = constant.value();
    if constant.is_finite() && terms.iter().all(|(_, c)| c.is_finite()) {
        Ok(Affine { constant, terms })
    } else {
        // Coefficients beyond the range of numbers: leave it to the ways that need none.
        Err(tape.inputs_of(output))
    }
}

/// Hands on what flows to each argument of an affine step, by its place among the arguments; `None`, and nothing handed on,
/// when the step is not affine. `constant` tells the values of arguments that are constant.
pub(super) fn flow(
    step: &Step<'_>,
    outer: f64,
    constant: &dyn Fn(usize) -> Option<f64>,
    add: &mut dyn FnMut(usize, f64),
) -> Option<()> {
    match step.code {
        Code::Sum => {
            for (k, c) in step.coefficients.iter().enumerate() {
                add(k, outer * c);
            }
        }
        Code::Op(Op::Add) => {
            add(0, outer);
            add(1, outer);
        }
        Code::Op(Op::Sub) => {
            add(0, outer);
            add(1, -outer);
        }
        Code::Op(Op::Neg) => add(0, -outer),
        Code::Op(Op::Powi(1)) => add(0, outer),
        Code::Op(Op::Mul) => match (constant(0), constant(1)) {
            (Some(a), _) => add(1, outer * a),
            (_, Some(b)) => add(0, outer * b),
            _ => return None,
        },
        Code::Op(Op::Div) => add(0, outer / constant(1).filter(|&b| b != 0.0)?),
        _ => return None,
    }
    Some(())
}

fn constant_of(forms: &[Option<Form>], value: usize) -> Option<f64> {
    let form = forms[value].as_ref()?;
    form.terms.is_empty().then_some(form.constant)
}

/// An affine value of few inputs, terms by input. It serves to see that inputs cancel, as in `(x - x + 2) * y`;
/// wider sums that cancel are taken for not constant.
#[derive(Debug, Clone)]
struct Form {
    constant: f64,
    terms: Vec<(usize, f64)>,
}

impl Form {
    const WIDEST: usize = 8;

    fn constant(constant: f64) -> Self {
        Self {
            constant,
            terms: Vec::new(),
        }
    }

    /// self + factor · other; `None` when it becomes too wide.
    fn plus(mut self, other: &Self, factor: f64) -> Option<Self> {
        self.constant += factor * other.constant;
        for &(input, coefficient) in &other.terms {
            match self.terms.binary_search_by_key(&input, |(i, _)| *i) {
                Ok(at) => self.terms[at].1 += factor * coefficient,
                Err(at) => self.terms.insert(at, (input, factor * coefficient)),
            }
        }
        self.terms.retain(|(_, coefficient)| *coefficient != 0.0);
        (self.terms.len() <= Self::WIDEST).then_some(self)
    }
}

/// The small affine forms of all values that an output needs; `None` where a value is not affine, or too wide.
fn forms(tape: &Tape, output: usize, known: &dyn Fn(usize) -> Option<f64>) -> Vec<Option<Form>> {
    let mut forms: Vec<Option<Form>> = Vec::with_capacity(tape.values());
    forms.extend((0..tape.inputs()).map(|input| {
        Some(known(input).map_or_else(
            || Form {
                constant: 0.0,
                terms: vec![(input, 1.0)],
            },
            Form::constant,
        ))
    }));
    forms.extend(tape.constants().map(|(_, c)| Some(Form::constant(c))));
    forms.resize(tape.values(), None);
    for step in tape.steps_of(output) {
        forms[step.value] = form(&step, &forms);
    }
    forms
}

fn form(step: &Step<'_>, forms: &[Option<Form>]) -> Option<Form> {
    let constants = step
        .args
        .iter()
        .map(|&arg| constant_of(forms, arg as usize));
    let value = match (step.code, constants.collect::<Option<Vec<f64>>>()) {
        (Code::Op(op), Some(args)) => Some(op.value(args[0], args[args.len() - 1])),
        (Code::Function(function), Some(args)) => Some(function.value(&args)),
        _ => None,
    };
    if let Some(value) = value {
        return value.is_finite().then(|| Form::constant(value));
    }
    // A factor of 0 leaves no terms, but where a wide or bent operand stands, nothing is known.
    let mut factors = vec![0.0; step.args.len()];
    let constant = |k: usize| constant_of(forms, step.arg(k));
    flow(step, 1.0, &constant, &mut |k, factor| factors[k] = factor)?;
    let mut sum = Form::constant(0.0);
    for (&arg, factor) in step.args.iter().zip(factors) {
        if let (Code::Op(Op::Mul | Op::Div), true) = (step.code, factor == 0.0) {
            // The constant side of a product: its worth is in the other factor.
            if constant_of(forms, arg as usize).is_some() {
                continue;
            }
        }
        sum = sum.plus(forms[arg as usize].as_ref()?, factor)?;
    }
    Some(sum)
}
