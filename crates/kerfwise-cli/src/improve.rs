//! From a plan to which error to fix.

use crate::args::ImproveWords;
use crate::batch::outcome_of;
use crate::run::subject;
use kerfwise::decide::{ErrorKind, Improve, Offer, SampledImprove, SobolIndices, SobolOptions};
use kerfwise::plan::Plan;
use kerfwise_report::{AimReport, ImproveReport, ImproveRow, IndexRow, Input};

pub(crate) fn report(plan: &Plan, words: &ImproveWords) -> Result<ImproveReport, String> {
    let told = |error: kerfwise::decide::Error| format!("{}: {error}", plan.name());
    let outcome = outcome_of(plan, words.outcome.as_deref())?;
    let improve = match Improve::of(plan.stack(), &outcome) {
        Err(error) if matches!(error.kind(), ErrorKind::Declined(_)) => {
            return sampled(plan, words, &outcome, &error);
        }
        other => other.map_err(told)?,
    };
    let weights: Vec<(&str, f64)> = words.weight.iter().map(|(n, w)| (n.as_str(), *w)).collect();
    let parts = match words.wanted.filter(|_| words.allocate) {
        Some(wanted) => improve
            .allocate(wanted, &weights)
            .map_err(told)?
            .unwrap_or_default(),
        None => Vec::new(),
    };
    let mut rows = Vec::new();
    for worth in improve.sources().map_err(told)? {
        let largest = match words.wanted {
            Some(wanted) => improve.largest(&worth.name, wanted).map_err(told)?,
            None => None,
        };
        let share = parts.iter().find(|part| part.name == worth.name);
        rows.push(ImproveRow::new(
            &worth,
            largest,
            share.map(|part| part.factor),
        ));
    }
    let aim = words
        .wanted
        .map(|wanted| {
            let cheapest = if words.offer.is_empty() {
                None
            } else {
                improve.cheapest(&words.offer, wanted)?
            };
            let all = improve.largest_of_all(wanted)?;
            Ok(AimReport::new(wanted, all, &words.offer, cheapest.as_ref()))
        })
        .transpose()
        .map_err(told)?;
    Ok(ImproveReport::new(
        &subject(plan),
        &outcome,
        plan.pieces(),
        improve.now(),
        rows,
        aim,
        Input::all(plan.stack()),
    ))
}

/// By sampling, where the outcome is not affine.
fn sampled(
    plan: &Plan,
    words: &ImproveWords,
    outcome: &str,
    declined: &kerfwise::decide::Error,
) -> Result<ImproveReport, String> {
    let told = |error: kerfwise::decide::Error| format!("{}: {error}", plan.name());
    if words.wanted.is_some() {
        return Err(format!(
            "{}: {declined}; by sampling, what gives a wanted chance cannot be solved: leave out --wanted",
            plan.name()
        ));
    }
    let look = SobolOptions::new();
    let found = SampledImprove::of(plan.stack(), outcome, &look).map_err(told)?;
    let indices = SobolIndices::of(plan.stack(), outcome, &look).map_err(told)?;
    let rows = found.sources.iter().map(|worth| ImproveRow {
        indices: Some(IndexRow::of(worth, &indices)),
        ..ImproveRow::new(worth, None, None)
    });
    Ok(ImproveReport::new(
        &subject(plan),
        outcome,
        plan.pieces(),
        found.now,
        rows.collect(),
        None,
        Input::all(plan.stack()),
    ))
}

/// SOURCE:FACTOR:PRICE.
pub(crate) fn offer(text: &str) -> Result<Offer, String> {
    let wrong = || {
        format!(
            "an offer is SOURCE:FACTOR:PRICE, for instance lock_residual:0.5:12 (got \"{text}\")"
        )
    };
    let mut parts = text.rsplitn(3, ':');
    let mut next = || parts.next().ok_or_else(wrong);
    let (price, factor, source) = (next()?, next()?, next()?);
    Ok(Offer {
        source: source.to_owned(),
        factor: factor.parse().map_err(|_| wrong())?,
        price: price.parse().map_err(|_| wrong())?,
    })
}

/// SOURCE:WEIGHT.
pub(crate) fn weight(text: &str) -> Result<(String, f64), String> {
    let wrong = || format!("a weight is SOURCE:WEIGHT, for instance seating:3 (got \"{text}\")");
    let (source, weight) = text.rsplit_once(':').ok_or_else(wrong)?;
    let weight = weight.parse().map_err(|_| wrong())?;
    Ok((source.to_owned(), weight))
}
