//! What is decided before the batch is cut: how many test pieces, where to aim the first cut; and the rest of a batch.

use super::super::table::Row;
use super::decision::{FIT, shown};
use super::{Answer, Asker, Got, at, level, unknown};
use kerfwise_decide::{
    BatchForecast, BatchOptions, Costs, FirstCut, FirstCutOptions, TestCut, TestCutOptions,
    TestPlan, TestPlanOptions,
};
use kerfwise_plan::Plan;
use kerfwise_source::{Length, LengthUnits};

fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

/// "plan: " and "felt plan: ", at the number of test pieces, the step of the gauge, what a tight and a loose joint cost, the
/// number of joints, and what a test piece costs.
pub(super) fn plan(row: &Row, what: &str, plan: &Plan) -> Got {
    let &[pieces, step, tight, loose, joints, per_piece] = row.at.all() else {
        return Err(unknown(row));
    };
    let options = TestPlanOptions::new(Costs { tight, loose })
        .joints(joints as u32)
        .per_piece(per_piece)
        .at_most(pieces as u32);
    let test = TestCutOptions::new().resolution(step.inch());
    let found = if row.ask.starts_with("felt") {
        TestPlan::felt(plan.stack(), FIT, &test, &options)
    } else {
        TestPlan::measured(plan.stack(), FIT, &shown(plan)?, &test, &options)
    };
    let found = found.map_err(text)?;
    let line = found.rows.last().ok_or("no row")?;
    Ok(Answer::from(match what {
        "best number" => f64::from(found.best),
        "inside" => line.inside,
        "rework" => line.rework,
        "total" => line.total,
        _ => return Err(unknown(row)),
    }))
}

impl Asker<'_> {
    /// At the step of the gauge, what a tight and a loose joint cost, what cutting again costs, and the joints that follow. Kept
    /// for the rows that follow.
    pub(super) fn first_cut(&mut self, row: &Row) -> Got {
        let at = row.at.all();
        if self.first_cut.as_ref().is_none_or(|(of, _)| of != at) {
            let found = best_first_cut(row, self.plan()?)?;
            self.first_cut = Some((at.to_vec(), found));
        }
        let (_, found) = self.first_cut.as_ref().ok_or("lost")?;
        let cost = |value: f64| Answer {
            value,
            bound: Some(found.error),
        };
        Ok(match row.ask.as_str() {
            "first cut: offset" => found.offset.to_inches().into(),
            "first cut: cost" => cost(found.cost),
            "first cut: cost without an offset" => cost(found.without),
            "first cut: above" => found.first.above.into(),
            _ => return Err(unknown(row)),
        })
    }
}

fn best_first_cut(row: &Row, plan: &Plan) -> Result<FirstCut, String> {
    let &[step, tight, loose, recut, others] = row.at.all() else {
        return Err(unknown(row));
    };
    let options = FirstCutOptions::new(Costs { tight, loose })
        .recut(recut)
        .others(others as u32)
        .test_cut(TestCutOptions::new().resolution(step.inch()));
    FirstCut::best(plan.stack(), FIT, &shown(plan)?, &options).map_err(text)
}

/// How many of the rest fit: at the step of the gauge and the readings; the number asked for is the last.
pub(super) fn rest(row: &Row, what: &str, plan: &Plan, step: Length, lengths: &[Length]) -> Got {
    let (number, readings) = lengths.split_last().ok_or("which number?")?;
    let number = number.to_inches() as usize;
    let test = TestCutOptions::new().resolution(step);
    let cut = TestCut::measured(plan.stack(), FIT, &shown(plan)?, &test).map_err(text)?;
    let pieces = row.pieces.ok_or("how many pieces?")?;
    let found = cut.rest_after_readings(readings, &BatchOptions::of(pieces));
    let found = found.map_err(text)?;
    Ok(match what {
        "exactly" => Answer {
            value: *found.fits.get(number).ok_or("more than there are")?,
            bound: Some(found.error),
        },
        "at least" => found.at_least(number as u32).into(),
        "expected number" => found.expected.into(),
        "sd of the number" => found.sd.into(),
        _ => return Err(unknown(row)),
    })
}

/// The same of a fresh batch, by batches that are simulated.
pub(super) fn simulated(row: &Row, what: &str, plan: &Plan) -> Got {
    let pieces = row.pieces.ok_or("how many pieces?")?;
    let batches = row.trials.ok_or("how many batches?")?;
    let options = BatchOptions::of(pieces).assurance(level(row));
    let run = kerfwise_stack::MonteCarlo::new().trials(batches);
    let found = BatchForecast::simulated(plan.stack(), FIT, &options, &run).map_err(text)?;
    Ok(Answer::from(match what {
        "all" => found.all(),
        "exactly" => *found
            .fits
            .get(at(row)? as usize)
            .ok_or("more than there are")?,
        "expected number" => found.expected,
        "sd of the number" => found.sd,
        "spares" => f64::from(found.spares.needed.ok_or("no number of spares")?),
        _ => return Err(unknown(row)),
    }))
}
