//! How many of a batch will fit.

use super::super::table::Row;
use super::{Answer, Got, at, unknown};
use kerfwise_decide::{BatchForecast, BatchOptions, Costs};
use kerfwise_plan::Plan;

/// The outcome "fit"; rework takes 10 minutes for a loose joint and 3 for a tight one; the level is the assurance.
pub(super) fn answer(row: &Row, plan: &Plan) -> Got {
    if let Some(what) = row.ask.strip_prefix("simulated: ") {
        return super::ahead::simulated(row, what, plan);
    }
    let pieces = row.pieces.ok_or("how many pieces?")?;
    let options = BatchOptions::of(pieces)
        .assurance(super::level(row))
        .rework_minutes(Costs {
            loose: 10.0,
            tight: 3.0,
        });
    let found = BatchForecast::of(plan.stack(), "fit", &options).map_err(|e| e.to_string())?;
    let value = match row.ask.as_str() {
        "exactly" => {
            let fits = found.fits.get(at(row)? as usize);
            return Ok(Answer {
                value: *fits.ok_or("more than there are pieces")?,
                bound: Some(found.error),
            });
        }
        "exactly, if independent" => {
            let fits = found.if_independent.get(at(row)? as usize);
            *fits.ok_or("more than there are pieces")?
        }
        "all" => found.all(),
        "at least" => found.at_least(at(row)? as u32),
        "expected number" => found.expected,
        "sd of the number" => found.sd,
        "spares" => f64::from(found.spares.needed.ok_or("no number of spares")?),
        "chance with spares" => found.spares.chance,
        "minutes of rework" => found.rework_minutes.ok_or("no minutes")?,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
