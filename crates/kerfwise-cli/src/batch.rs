//! From a plan to how many joints of a batch fit.

use crate::args::BatchWords;
use crate::run::subject;
use kerfwise::decide::{BatchForecast, BatchOptions, ErrorKind, TestCut, TestCutOptions};
use kerfwise::plan::Plan;
use kerfwise::prelude::{MonteCarlo, ShiftedTenon};
use kerfwise_report::{BatchReport, Input};

pub(crate) fn report(
    plan: &Plan,
    words: &BatchWords,
    monte_carlo: &MonteCarlo,
) -> Result<BatchReport, String> {
    let name = plan.name();
    let pieces = words.pieces.or(plan.pieces()).ok_or_else(|| {
        format!("{name}: how many pieces? Say --pieces N, or give the plan a [batch] (docs/plan-file.md)")
    })?;
    let outcomes = outcomes_of(plan, &words.outcomes)?;
    if !(words.seen.measured.is_empty() && words.seen.felt.is_empty()) {
        return running(plan, words, pieces, &outcomes);
    }
    let options = with_costs(BatchOptions::of(pieces), words);
    let stack = plan.stack();
    let batch = match outcomes.as_slice() {
        [one] => BatchForecast::of(stack, one, &options),
        several => BatchForecast::of_all(stack, several, &options),
    };
    let batch = match (batch, outcomes.as_slice()) {
        // Not affine, or more is shared than one number: batches are simulated.
        (Err(error), [one]) if matches!(error.kind(), ErrorKind::Declined(_)) => {
            BatchForecast::simulated(stack, one, &options, monte_carlo)
        }
        (Err(error), several)
            if matches!(error.kind(), ErrorKind::Declined(_) | ErrorKind::Sampled(_)) =>
        {
            BatchForecast::simulated_all(stack, several, &options, monte_carlo)
        }
        (other, _) => other,
    };
    let batch = batch.map_err(|error| format!("{name}: {error}"))?;
    let inputs = Input::all(stack);
    Ok(BatchReport::new(&subject(plan), &outcomes, &batch, inputs))
}

/// The outcomes asked for; or every fit of the joint, such as both of a loose tenon.
fn outcomes_of<'a>(plan: &'a Plan, names: &'a [String]) -> Result<Vec<&'a str>, String> {
    if !names.is_empty() {
        for name in names {
            outcome_of(plan, Some(name))?;
        }
        return Ok(names.iter().map(String::as_str).collect());
    }
    let first = outcome_of(plan, None)?;
    let fits = plan
        .stack()
        .outcomes()
        .filter(|outcome| outcome.band().is_some());
    let all: Vec<&str> = fits
        .map(|outcome| outcome.name())
        .filter(|name| *name == first || (first.starts_with("fit_") && name.starts_with("fit_")))
        .collect();
    Ok(all)
}

fn with_costs(options: BatchOptions, words: &BatchWords) -> BatchOptions {
    let options = options.assurance(words.assurance);
    match words.costs.costs() {
        Some(costs) => options.rework_minutes(costs),
        None => options,
    }
}

/// While the batch runs: of the joints that are left.
fn running(
    plan: &Plan,
    words: &BatchWords,
    pieces: u32,
    outcomes: &[&str],
) -> Result<BatchReport, String> {
    let name = plan.name();
    if outcomes != [ShiftedTenon::FIT] {
        return Err(format!(
            "{name}: measured or felt pieces tell of the outcome \"{}\" only (got \"{}\")",
            ShiftedTenon::FIT,
            outcomes.join("\", \"")
        ));
    }
    let told = |error: kerfwise::decide::Error| format!("{name}: {error}");
    words
        .seen
        .check()
        .map_err(|message| format!("{name}: {message}"))?;
    let seen = words.seen.pieces(false);
    let left = u32::try_from(seen.count())
        .ok()
        .and_then(|m| pieces.checked_sub(m))
        .filter(|left| *left > 0)
        .ok_or_else(|| {
            format!(
                "{name}: a batch of {pieces} has nothing left to forecast once {} are seen; --pieces counts all, those that \
                 were seen among them",
                seen.count()
            )
        })?;
    let options = with_costs(BatchOptions::of(left), words);
    let test = TestCutOptions::new().resolution(words.seen.gauge.resolution);
    let (stack, fit) = (plan.stack(), ShiftedTenon::FIT);
    let (batch, inputs) = if words.seen.felt.is_empty() {
        let (gauge, inputs) = words
            .seen
            .gauge
            .of(plan)
            .map_err(|message| format!("{name}: {message}"))?;
        let cut = TestCut::measured(stack, fit, gauge.shown(), &test).map_err(told)?;
        let batch = cut.rest_after_readings(&words.seen.measured, &options);
        (batch.map_err(told)?, inputs)
    } else {
        let cut = TestCut::felt(stack, fit, &test).map_err(told)?;
        let batch = cut.rest_after_feeling(&words.seen.feels(), &options);
        (batch.map_err(told)?, Input::all(stack))
    };
    let fresh = stack.outcome(fit).and_then(|fit| {
        let band = fit.band()?;
        Some(fit.exact().ok()?.chance(&band).value.inside)
    });
    Ok(BatchReport::new(&subject(plan), outcomes, &batch, inputs).after(seen, fresh))
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
