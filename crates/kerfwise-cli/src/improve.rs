//! From a plan to which error to fix.

use crate::args::ImproveWords;
use crate::batch::outcome_of;
use crate::run::subject;
use kerfwise::decide::{Improve, Offer};
use kerfwise::plan::Plan;
use kerfwise_report::{AimReport, ImproveReport, ImproveRow, Input};

pub(crate) fn report(plan: &Plan, words: &ImproveWords) -> Result<ImproveReport, String> {
    let told = |error: kerfwise::decide::Error| format!("{}: {error}", plan.name());
    let outcome = outcome_of(plan, words.outcome.as_deref())?;
    let improve = Improve::of(plan.stack(), &outcome).map_err(told)?;
    let mut rows = Vec::new();
    for worth in improve.sources().map_err(told)? {
        let largest = match words.wanted {
            Some(wanted) => improve.largest(worth.source.name(), wanted).map_err(told)?,
            None => None,
        };
        rows.push(ImproveRow::new(&worth, largest));
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
