//! The affine form of an output once more and once more, the same inputs being known each time but with other values.

use super::affine::{Affine, affine, flow};
use crate::tape::{Code, Step, Tape};
use kerfwise_numeric::sum::CompensatedSum;

/// A program sorted, once for all, into what the known inputs fix and what is affine in the others.
pub(crate) struct Again<'a> {
    tape: &'a Tape,
    output: usize,
    steps: Vec<Step<'a>>,
    /// Whether a value depends on an input that is not known, and the values that do not.
    depends: Vec<bool>,
    values: Vec<f64>,
    coefficients: Vec<CompensatedSum>,
}

impl<'a> Again<'a> {
    /// `known` holds a value for every input that will be known.
    pub(crate) fn new(tape: &'a Tape, output: usize, known: &[Option<f64>]) -> Self {
        let count = tape.values();
        let mut depends = vec![false; count];
        for (input, depends) in depends.iter_mut().enumerate().take(tape.inputs()) {
            *depends = known.get(input).copied().flatten().is_none();
        }
        let mut steps = Vec::new();
        for step in tape.steps_of(output) {
            depends[step.value] = step.args.iter().any(|&arg| depends[arg as usize]);
            steps.push(step);
        }
        let mut values = vec![0.0; count];
        for (value, c) in tape.constants() {
            values[value] = c;
        }
        Self {
            tape,
            output,
            steps,
            depends,
            values,
            coefficients: vec![CompensatedSum::new(); count],
        }
    }

    /// What [`affine`] finds, sooner.
    pub(crate) fn at(&mut self, known: &[Option<f64>]) -> Result<Affine, Vec<usize>> {
        match self.quick(known) {
            Some(form) => Ok(form),
            None => affine(self.tape, self.output, known),
        }
    }

    /// `None` where more must be looked at: whether inputs cancel, or a function, or what is not defined.
    fn quick(&mut self, known: &[Option<f64>]) -> Option<Affine> {
        let inputs = self.tape.inputs();
        for (value, known) in self.values.iter_mut().zip(known).take(inputs) {
            *value = known.unwrap_or(0.0);
        }
        for step in self.steps.iter().filter(|step| !self.depends[step.value]) {
            let (a, b) = (self.values[step.arg(0)], self.values[step.arg(1)]);
            let Code::Op(op) = step.code else {
                return None;
            };
            self.values[step.value] = Some(op.value(a, b)).filter(|value| value.is_finite())?;
        }
        self.coefficients.fill(CompensatedSum::new());
        self.coefficients[self.tape.output_value(self.output)].add(1.0);
        let mut constant = CompensatedSum::new();
        for step in self.steps.iter().rev() {
            let outer = self.coefficients[step.value].value();
            if !self.depends[step.value] {
                constant.add(outer * self.values[step.value]);
                continue;
            }
            let fixed = |k: usize| {
                let value = step.arg(k);
                (!self.depends[value]).then(|| self.values[value])
            };
            let coefficients = &mut self.coefficients;
            flow(step, outer, &fixed, &mut |k, inner| {
                coefficients[step.args[k] as usize].add(inner);
            })?;
        }
        for (value, c) in self.tape.constants() {
            constant.add(self.coefficients[value].value() * c);
        }
        let mut terms = Vec::with_capacity(inputs);
        for (input, coefficient) in self.coefficients.iter().enumerate().take(inputs) {
            let coefficient = coefficient.value();
            match known.get(input).copied().flatten() {
                Some(value) => constant.add(coefficient * value),
                None if coefficient != 0.0 => terms.push((input, coefficient)),
                None => {}
            }
        }
        let constant = constant.value();
        let is_finite = constant.is_finite() && terms.iter().all(|(_, c)| c.is_finite());
        is_finite.then_some(Affine { constant, terms })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Expr, Stack};
    use kerfwise_source::Source;

    #[test]
    fn finds_what_a_single_reading_finds() {
        let length = |name: &str| Source::new(name, 0.5).normal(0.001).build().unwrap();
        let (a, b, c) = (length("a"), length("b"), length("c"));
        let tilt = Source::new("tilt", 0.0).rectangular(0.15).build().unwrap();
        let (a, b, c, tilt) = (
            Expr::source(&a),
            Expr::source(&b),
            Expr::source(&c),
            Expr::source(&tilt),
        );
        // Numbers without a unit: products with what is known, a sum that cancels, a quotient, and a place (1) where that is not defined.
        let y = (a.clone() + b.clone()) * (1.0 - tilt.clone().exp())
            + (a.clone() - a.clone() + 2.0) * c.clone()
            - b / (tilt.clone() - 1.0)
            + c * 0.25;
        let stack = Stack::builder()
            .outcome_without_band("y", &y)
            .build()
            .unwrap();
        let problem = &stack.problem;
        let mut known: Vec<Option<f64>> = vec![None; problem.tape.inputs()];
        let held = problem
            .variables
            .iter()
            .position(|v| v.name == "tilt")
            .unwrap();
        known[held] = Some(0.1);
        let mut again = Again::new(&problem.tape, 0, &known);
        for at in [-0.15, 0.0, 0.02, 0.1, 1.0, 0.3] {
            known[held] = Some(at);
            assert_eq!(again.at(&known), affine(&problem.tape, 0, &known), "{at}");
        }
    }
}
