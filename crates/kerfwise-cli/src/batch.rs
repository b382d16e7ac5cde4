//! From a plan to how many joints of a batch fit.

use crate::args::BatchWords;
use crate::run::subject;
use kerfwise::decide::{BatchForecast, BatchOptions};
use kerfwise::plan::Plan;
use kerfwise_report::{BatchReport, Input};

pub(crate) fn report(plan: &Plan, words: &BatchWords) -> Result<BatchReport, String> {
    let name = plan.name();
    let pieces = words.pieces.or(plan.pieces()).ok_or_else(|| {
        format!("{name}: how many pieces? Say --pieces N, or give the plan a [batch] (docs/plan-file.md)")
    })?;
    let outcome = outcome_of(plan, words.outcome.as_deref())?;
    let mut options = BatchOptions::of(pieces).assurance(words.assurance);
    if let Some(costs) = words.costs.costs() {
        options = options.rework_minutes(costs);
    }
    let batch = BatchForecast::of(plan.stack(), &outcome, &options)
        .map_err(|error| format!("{name}: {error}"))?;
    let inputs = Input::all(plan.stack());
    Ok(BatchReport::new(&subject(plan), &outcome, &batch, inputs))
}

/// The outcome asked for, or the first that has a band.
pub(crate) fn outcome_of(plan: &Plan, name: Option<&str>) -> Result<String, String> {
    let banded: Vec<&str> = plan
        .stack()
        .outcomes()
        .filter(|o| o.band().is_some())
        .map(|o| o.name())
        .collect();
    let found = match name {
        Some(name) => banded.iter().find(|n| **n == name),
        None => banded.first(),
    };
    found.map(|n| (*n).to_owned()).ok_or_else(|| {
        let what = name.map_or_else(
            || "no outcome of this plan has a band to fit in".to_owned(),
            |name| {
                format!(
                    "no outcome \"{name}\" with a band (there are: {})",
                    banded.join(", ")
                )
            },
        );
        format!("{}: {what}", plan.name())
    })
}
