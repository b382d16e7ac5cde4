//! Which sources matter where an outcome is not affine, and a wanted chance shared out among the errors.

use super::super::table::Row;
use super::{Answer, Asker, Got, unknown};
use kerfwise_decide::{Improve, SampledImprove, SobolIndices, SobolOptions};
use kerfwise_plan::Plan;
use kerfwise_stack::Bounded;

/// Scrambles that points are split into.
const SCRAMBLES: u64 = 16;
/// Standard errors, of the scatter of those, that a value may be off by: Student t of 15 degrees of freedom is beyond in one
/// case of six thousand.
const STANDARD_ERRORS: f64 = 5.0;

fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

fn options(row: &Row) -> Result<SobolOptions, String> {
    let all = row.trials.ok_or("how many points?")?;
    Ok(SobolOptions::new().points((all / SCRAMBLES) as u32))
}

impl Asker<'_> {
    /// Sobol indices of the outcome "y", kept for the rows that follow.
    pub(super) fn sensitivity(&mut self, row: &Row) -> Got {
        let points = row.trials.ok_or("how many points?")?;
        if self.shares.as_ref().is_none_or(|(of, _)| *of != points) {
            let found = SobolIndices::of(self.plan()?.stack(), "y", &options(row)?);
            self.shares = Some((points, found.map_err(text)?));
        }
        let (_, found) = self.shares.as_ref().ok_or("lost")?;
        share(row, found)
    }
}

fn share(row: &Row, found: &SobolIndices) -> Got {
    if row.ask == "sd" {
        return Ok(found.standard_deviation.raw().into());
    }
    let of = row.of.as_deref().ok_or("of which source?")?;
    let index = found.sources.iter().find(|one| one.source.name() == of);
    let index = index.ok_or_else(|| format!("no source {of}"))?;
    let (value, error) = match row.ask.as_str() {
        "first-order index" => (index.first, index.first_error),
        "total index" => (index.total, index.total_error),
        _ => return Err(unknown(row)),
    };
    Ok(Answer {
        value,
        bound: Some(STANDARD_ERRORS * error),
    })
}

/// "sampled: ", of the outcome "fit".
pub(super) fn sampled(row: &Row, what: &str, plan: &Plan) -> Got {
    let found = SampledImprove::of(plan.stack(), "fit", &options(row)?).map_err(text)?;
    let worth = || {
        let of = row.of.as_deref().unwrap_or_default();
        let one = found.sources.iter().find(|worth| worth.name == of);
        one.ok_or_else(|| format!("no source {of}"))
    };
    let chance = match what {
        "inside" => found.now,
        "inside, halved" => worth()?.halved,
        "inside, removed" => worth()?.removed,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(Bounded {
        value: chance.value.inside,
        error: STANDARD_ERRORS * chance.error,
    }))
}

/// The part of one error in a wanted chance: at that chance, and the weights of the sources that `with` names.
pub(super) fn shared_out(row: &Row, what: &str, plan: &Plan) -> Got {
    let (wanted, weights) = row.at.all().split_first().ok_or("which chance?")?;
    let names = row.with.as_deref().unwrap_or_default();
    let weights: Vec<(&str, f64)> = names.split(' ').zip(weights.iter().copied()).collect();
    let improve = Improve::of(plan.stack(), "fit").map_err(text)?;
    let parts = improve.allocate(*wanted, &weights).map_err(text)?;
    let of = row.of.as_deref().unwrap_or_default();
    let parts = parts.ok_or("not to be had")?;
    let part = parts.iter().find(|part| part.name == of);
    let part = part.ok_or_else(|| format!("no source {of}"))?;
    Ok(Answer::from(match what {
        "factor" => part.factor,
        "part" => part.part.raw(),
        _ => return Err(unknown(row)),
    }))
}
