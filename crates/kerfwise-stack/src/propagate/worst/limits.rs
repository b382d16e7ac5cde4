//! The box of limits.

use crate::Outcome;
use crate::problem::Variable;
use kerfwise_numeric::interval::Interval;
use kerfwise_source::Limits as Stated;

/// The limits of an outcome's sources, and what was assumed to get them.
pub(super) struct Limits {
    /// One interval per input of the stack; a point where the outcome does not depend on the input.
    pub(super) inputs: Vec<Interval>,
    /// The inputs on which the outcome depends.
    pub(super) used: Vec<usize>,
    pub(super) assumptions: Vec<String>,
}

pub(super) fn of(
    outcome: Outcome<'_>,
    unbounded_at_sd: Option<f64>,
) -> Result<Limits, Vec<String>> {
    let problem = &outcome.stack.problem;
    let used = problem.tape.inputs_of(outcome.index);
    let mut inputs: Vec<Interval> = problem
        .variables
        .iter()
        .map(|v| Interval::point(v.source.estimate().raw()).unwrap_or(Interval::ENTIRE))
        .collect();
    let (mut at_sd, mut without_sd, mut without_limits) = (Vec::new(), Vec::new(), Vec::new());
    let mut assumptions = Vec::new();
    for &i in &used {
        let variable = &problem.variables[i];
        if let Some(own) = own_limits(variable) {
            inputs[i] = own;
            if let Some(Stated::StandardDeviations(k)) = variable.source.limits() {
                assumptions.push(format!(
                    "source \"{}\": limits stated as {k} standard deviations either side of the mean",
                    variable.name
                ));
            }
            continue;
        }
        match unbounded_at_sd.map(|k| standard_deviations(variable, k)) {
            Some(Some(side)) => {
                inputs[i] = side;
                at_sd.push(variable.name.as_str());
            }
            Some(None) => without_sd.push(variable.name.as_str()),
            None => without_limits.push(variable.name.as_str()),
        }
    }
    let reasons = reasons(&without_limits, &without_sd);
    if !reasons.is_empty() {
        return Err(reasons);
    }
    if let (Some(k), false) = (unbounded_at_sd, at_sd.is_empty()) {
        assumptions.push(format!(
            "{} no limits: taken at {k} standard deviations either side of the mean",
            having(&at_sd)
        ));
    }
    if is_correlated(outcome, &used) {
        assumptions.push(
            "correlations rule nothing out: every combination of the limits is allowed".to_owned(),
        );
    }
    Ok(Limits {
        inputs,
        used,
        assumptions,
    })
}

fn own_limits(variable: &Variable) -> Option<Interval> {
    variable
        .source
        .bounds()
        .and_then(|(lower, upper)| finite(lower, upper))
}

fn standard_deviations(variable: &Variable, k: f64) -> Option<Interval> {
    let mean = variable.source.mean()?.raw();
    let sd = variable.source.error().standard_deviation()?;
    finite(mean - k * sd, mean + k * sd)
}

fn finite(lower: f64, upper: f64) -> Option<Interval> {
    Interval::new(lower, upper).filter(|_| lower.is_finite() && upper.is_finite())
}

fn reasons(without_limits: &[&str], without_sd: &[&str]) -> Vec<String> {
    let mut reasons = Vec::new();
    if !without_limits.is_empty() {
        reasons.push(format!(
            "{} no limits: state limits, or say how many standard deviations to take for sources without",
            having(without_limits)
        ));
    }
    if !without_sd.is_empty() {
        reasons.push(format!(
            "{} neither limits nor a standard deviation to count them in: state limits",
            having(without_sd)
        ));
    }
    reasons
}

/// `source "a" has`, `sources "a", "b" have`.
fn having(names: &[&str]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    if names.len() == 1 {
        format!("source {} has", quoted[0])
    } else {
        format!("sources {} have", quoted.join(", "))
    }
}

fn is_correlated(outcome: Outcome<'_>, used: &[usize]) -> bool {
    let problem = &outcome.stack.problem;
    let both_used = |group: &Vec<usize>| group.iter().filter(|i| used.contains(i)).count() > 1;
    problem.correlated_groups().iter().any(both_used)
}
