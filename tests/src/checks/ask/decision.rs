//! What to do with measured pieces: judge them, or learn from them how the set-up lies.

use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_decide::{
    Advice, Feel, Judge, SampledTestCut, TestCut, TestCutAnswer, TestCutOptions,
};
use kerfwise_plan::Plan;
use kerfwise_source::{Length, LengthUnits};
use kerfwise_stack::{Bounded, Chance, Expr};

/// The outcome that is to fit.
pub(super) const FIT: &str = "fit";

/// What the gauge shows of a piece, before it is rounded.
pub(super) fn shown(plan: &Plan) -> Result<Expr, String> {
    let outcome = plan.stack().outcome("shown");
    Ok(outcome.ok_or("the case shows nothing")?.expr().clone())
}

/// The step of the gauge, and lengths.
fn lengths(row: &Row) -> Result<(Length, Vec<Length>), String> {
    let (step, rest) = row.at.all().split_first().ok_or("at which step?")?;
    Ok((step.inch(), rest.iter().map(|x| x.inch()).collect()))
}

/// A reading (`inside` and its like), or all pieces with acceptance limits (the risks).
pub(super) fn judge(row: &Row, plan: &Plan) -> Got {
    let text = |e: kerfwise_decide::Error| e.to_string();
    let (step, lengths) = lengths(row)?;
    let judge = Judge::new(plan.stack(), FIT, &shown(plan)?, step).map_err(text)?;
    match (row.ask.as_str(), &lengths[..]) {
        ("measurement capability", []) => {
            let capability = judge.gauge().capability.ok_or("none")?;
            Ok(Answer::from(capability))
        }
        ("accept from" | "accept to" | "guard below" | "guard above", &[wanted]) => {
            let limits = judge.limits(wanted.to_inches()).map_err(text)?;
            let limits = limits.ok_or("no reading is enough")?;
            let found = match row.ask.as_str() {
                "accept from" => limits.lower,
                "accept to" => limits.upper,
                "guard below" => limits.guard.0,
                _ => limits.guard.1,
            };
            Ok(found.ok_or("no limit")?.to_inches().into())
        }
        ("best reading" | "inside at the best reading", []) => {
            let best = judge.best_reading().map_err(text)?;
            Ok(match row.ask.as_str() {
                "best reading" => best.reading.to_inches().into(),
                _ => best.chance.value.inside.into(),
            })
        }
        ("uncertainty of a reading", []) => Ok(judge.gauge().uncertainty.to_inches().into()),
        ("step for four", []) => {
            let step = judge.gauge().step_for_four.ok_or("none")?;
            Ok(step.to_inches().into())
        }
        (ask, &[reading]) => {
            let chance = judge.reading(reading).map_err(text)?.chance;
            let value = match ask {
                "below" => chance.value.below,
                "inside" => chance.value.inside,
                "above" => chance.value.above,
                _ => return Err(unknown(row)),
            };
            Ok(Answer {
                value,
                bound: Some(chance.error),
            })
        }
        (ask, &[lower, upper]) => {
            let risks = judge.risks(Some(lower), Some(upper)).map_err(text)?;
            let value = match ask {
                "conforming" => risks.conforming,
                "accepted" => risks.accepted,
                "consumer's risk" => risks.consumer,
                "producer's risk" => risks.producer,
                _ => return Err(unknown(row)),
            };
            Ok(Answer {
                value,
                bound: Some(risks.error),
            })
        }
        _ => Err(unknown(row)),
    }
}

/// What readings of test pieces say, with a dial of 0.0005 in; and what one more would be worth.
pub(super) fn test_cut(row: &Row, plan: &Plan) -> Got {
    let text = |e: kerfwise_decide::Error| e.to_string();
    let is_felt = row.ask.strip_prefix("felt ").unwrap_or(&row.ask);
    if let Some(what) = is_felt.strip_prefix("plan: ") {
        return super::ahead::plan(row, what, plan);
    }
    let (step, readings) = lengths(row)?;
    if let Some(what) = row.ask.strip_prefix("the rest: ") {
        return super::ahead::rest(row, what, plan, step, &readings);
    }
    let options = TestCutOptions::new().resolution(step);
    let cut = TestCut::measured(plan.stack(), FIT, &shown(plan)?, &options).map_err(text)?;
    if let Some(what) = row.ask.strip_prefix("card: ") {
        return card(row, what, &cut, &readings);
    }
    if let Some(when) = row.ask.strip_prefix("one more: ") {
        let next = cut.next_reading(&readings).map_err(text)?;
        return match when {
            "now" => Ok(Answer::from(next.now)),
            "then" => Ok(Answer::from(next.then)),
            _ => Err(unknown(row)),
        };
    }
    after(row, &row.ask, &cut.after_readings(&readings).map_err(text)?)
}

/// The line of the card that a reading belongs to.
fn card(row: &Row, what: &str, cut: &TestCut, readings: &[Length]) -> Got {
    let lines = cut.advice_by_reading().map_err(|e| e.to_string())?;
    let of = readings.first().ok_or("which reading?")?;
    // Nine steps of 0.001 are not quite the number that 0.009 reads as.
    let hair = 1e-9.inch();
    let line = lines
        .iter()
        .find(|line| line.from - hair <= *of && *of <= line.to + hair);
    let line = line.ok_or("the reading is not on the card")?;
    Ok(Answer::from(match (what, line.advice) {
        ("from", _) => line.from.to_inches(),
        ("to", _) => line.to.to_inches(),
        ("inside", _) => line.inside,
        ("move", Advice::Leave) => 0.0,
        ("move", Advice::MoveBy(by)) => by.to_inches(),
        _ => return Err(unknown(row)),
    }))
}

/// What the feel of test pieces says: 1 is tight, 0 fits, -1 is loose.
pub(super) fn felt(row: &Row, plan: &Plan) -> Got {
    let text = |e: kerfwise_decide::Error| e.to_string();
    let feels: Vec<Feel> = row
        .at
        .all()
        .iter()
        .map(|&feel| match feel {
            f if f > 0.5 => Feel::Tight,
            f if f < -0.5 => Feel::Loose,
            _ => Feel::Fits,
        })
        .collect();
    let cut = TestCut::felt(plan.stack(), FIT, &TestCutOptions::new()).map_err(text)?;
    match row.ask.strip_prefix("felt: ").unwrap_or_default() {
        "one more: now" => Ok(cut.next_feel(&feels).map_err(text)?.now.into()),
        "one more: then" => Ok(cut.next_feel(&feels).map_err(text)?.then.into()),
        ask => after(row, ask, &cut.after_feeling(&feels).map_err(text)?),
    }
}

/// Standard errors that a chance found by weighted trials may be off by.
const STANDARD_ERRORS: f64 = 5.0;

/// The same by weighted trials, as where the fit is not affine.
pub(super) fn sampled(row: &Row, plan: &Plan) -> Got {
    let text = |e: kerfwise_decide::Error| e.to_string();
    let (step, readings) = lengths(row)?;
    let options = TestCutOptions::new().resolution(step);
    let cut = SampledTestCut::measured(plan.stack(), FIT, &shown(plan)?, &options);
    let found = cut.and_then(|cut| cut.after_readings(&readings));
    let ask = row.ask.strip_prefix("sampled: ").unwrap_or_default();
    let mut answer = after(row, ask, &found.map_err(text)?.answer)?;
    answer.bound = answer.bound.map(|error| STANDARD_ERRORS * error);
    Ok(answer)
}

fn after(row: &Row, ask: &str, answer: &TestCutAnswer) -> Got {
    let bounded = |chance: Bounded<Chance>, value: f64| Answer {
        value,
        bound: Some(chance.error),
    };
    Ok(match ask {
        "offset" => answer.after.mean.to_inches().into(),
        "u of the offset" => answer.after.sd.to_inches().into(),
        "offset, lower" => answer.after.interval_95.0.to_inches().into(),
        "offset, upper" => answer.after.interval_95.1.to_inches().into(),
        "u of the offset before" => answer.before.sd.to_inches().into(),
        "inside" => bounded(answer.leave, answer.leave.value.inside),
        "above" => bounded(answer.leave, answer.leave.value.above),
        "inside before" => answer.untested.inside.into(),
        "best move" => answer.best_move.to_inches().into(),
        "inside when moved" => bounded(answer.moved, answer.moved.value.inside),
        "above when moved" => bounded(answer.moved, answer.moved.value.above),
        "chance that moving is better" => answer.raises.into(),
        _ => return Err(unknown(row)),
    })
}
