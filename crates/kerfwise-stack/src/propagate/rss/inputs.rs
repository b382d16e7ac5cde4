//! Estimates and standard uncertainties of the sources that an outcome depends on.

use crate::Outcome;
use kerfwise_source::{Distribution, Source};

/// One input quantity, as the law of propagation sees it.
pub(super) struct Input<'a> {
    /// Input of the tape.
    pub(super) index: usize,
    pub(super) name: &'a str,
    pub(super) source: &'a Source,
    /// Estimate plus mean error.
    pub(super) estimate: f64,
    pub(super) standard_uncertainty: f64,
    pub(super) degrees_of_freedom: f64,
}

/// Two inputs that are correlated, by their places in the list of inputs.
pub(super) struct CorrelatedPair {
    pub(super) a: usize,
    pub(super) b: usize,
    pub(super) coefficient: f64,
}

impl CorrelatedPair {
    pub(super) fn has(&self, k: usize) -> bool {
        self.a == k || self.b == k
    }
}

/// The inputs, by name; or which of them lack an estimate or a standard uncertainty.
pub(super) fn of(outcome: Outcome<'_>) -> Result<Vec<Input<'_>>, Vec<String>> {
    let problem = &outcome.stack.problem;
    let (mut inputs, mut reasons) = (Vec::new(), Vec::new());
    for index in problem.tape.inputs_of(outcome.index) {
        let variable = &problem.variables[index];
        let source = &variable.source;
        match (estimate(source), source.standard_uncertainty()) {
            (Some(estimate), Some(u)) => inputs.push(Input {
                index,
                name: &variable.name,
                source,
                estimate,
                standard_uncertainty: u.raw(),
                degrees_of_freedom: source.degrees_of_freedom(),
            }),
            (estimate, _) => reasons.push(format!(
                "source \"{}\" has no {}: its error is {}",
                variable.name,
                if estimate.is_none() {
                    "mean"
                } else {
                    "standard uncertainty"
                },
                source.error().name()
            )),
        }
    }
    if reasons.is_empty() {
        Ok(inputs)
    } else {
        Err(reasons)
    }
}

/// A Student t of one degree of freedom (two readings) has no mean, but its centre is what JCGM 100 calls the estimate.
fn estimate(source: &Source) -> Option<f64> {
    let mean = source.mean().map(|mean| mean.raw());
    match source.error() {
        Distribution::StudentT(_) => mean.or_else(|| {
            let centre = source.error().centre_of_symmetry()?;
            Some(source.estimate().raw() + centre)
        }),
        _ => mean,
    }
}

/// All inputs of the tape at their estimates.
pub(super) fn point(outcome: Outcome<'_>, inputs: &[Input<'_>]) -> Vec<f64> {
    let variables = &outcome.stack.problem.variables;
    let mut at: Vec<f64> = variables
        .iter()
        .map(|variable| variable.source.estimate().raw())
        .collect();
    for input in inputs {
        at[input.index] = input.estimate;
    }
    at
}

/// All correlated pairs, each once, in the order of the inputs.
pub(super) fn correlated_pairs(outcome: Outcome<'_>, inputs: &[Input<'_>]) -> Vec<CorrelatedPair> {
    let problem = &outcome.stack.problem;
    let place = |index: usize| {
        inputs
            .binary_search_by_key(&index, |input| input.index)
            .ok()
    };
    let mut pairs = Vec::new();
    for group in problem.correlated_groups() {
        let places: Vec<usize> = group.into_iter().filter_map(place).collect();
        for (k, &b) in places.iter().enumerate() {
            for &a in &places[..k] {
                let coefficient = problem.correlation(inputs[a].index, inputs[b].index);
                if coefficient.abs() > 0.0 {
                    pairs.push(CorrelatedPair { a, b, coefficient });
                }
            }
        }
    }
    pairs
}

/// Why the second-order terms do not hold for these inputs.
pub(super) fn against_second_order(
    inputs: &[Input<'_>],
    correlated: &[CorrelatedPair],
) -> Vec<String> {
    let mut reasons = Vec::new();
    let linked: Vec<&str> = (0..inputs.len())
        .filter(|&k| correlated.iter().any(|pair| pair.has(k)))
        .map(|k| inputs[k].name)
        .collect();
    if !linked.is_empty() {
        reasons.push(format!(
            "second-order terms need independent inputs, but {} are correlated",
            quoted(&linked)
        ));
    }
    let skewed: Vec<&str> = inputs
        .iter()
        .filter(|input| input.source.error().centre_of_symmetry().is_none())
        .map(|input| input.name)
        .collect();
    if !skewed.is_empty() {
        reasons.push(format!(
            "second-order terms need symmetric inputs, but {} {} not",
            quoted(&skewed),
            if skewed.len() == 1 { "is" } else { "are" }
        ));
    }
    reasons
}

fn quoted(names: &[&str]) -> String {
    let names: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    names.join(", ")
}
