//! From a plan to what to dial.

use crate::args::{Options, SettingWords};
use crate::run::{monte_carlo, show, subject};
use kerfwise::decide::{Costs, FirstCut, FirstCutOptions, Setting, SettingOptions, TestCutOptions};
use kerfwise::plan::Plan;
use kerfwise::prelude::{Length, LengthUnits as _, ShiftedTenon};
use kerfwise_report::{
    FirstCutReport, Input, SettingCost, SettingReport, SettingRow, ThreeChances,
};

/// The best setting of the dial, by chance or by cost.
pub(crate) fn report(
    plan: &Plan,
    costs: Option<Costs>,
    options: &Options,
) -> Result<SettingReport, String> {
    let joint = plan.joint().ok_or_else(|| {
        format!(
            "{}: this plan has no dial to set; `setting` needs a [joint] of method \"shifted\" (docs/plan-file.md)",
            plan.name()
        )
    })?;
    let nominal = joint
        .nominal_travel()
        .map_err(|e| format!("{}: {e}", plan.name()))?;
    let step = plan.dial_step().unwrap_or(0.5.thou());
    let mut look = SettingOptions::around(nominal)
        .step(step)
        .monte_carlo(monte_carlo(options));
    if let Some(costs) = costs {
        look = look.costs(costs);
    }
    let at = |travel: Length| plan.with_travel(travel).map(|p| p.stack().clone());
    let found = Setting::best(&look, ShiftedTenon::FIT, at).map_err(|e| e.to_string())?;
    let inches = Length::to_inches;
    let curve = found.curve.iter().map(|p| SettingRow {
        setting_in: p.setting.to_inches(),
        below: p.chance.below,
        inside: p.chance.inside,
        above: p.chance.above,
        cost: p.cost,
    });
    Ok(SettingReport {
        schema: SettingReport::SCHEMA.into(),
        subject: subject(plan),
        best_in: inches(found.best),
        step_in: inches(step),
        nominal_in: inches(nominal),
        chance: ThreeChances {
            below: found.chance.below,
            inside: found.chance.inside,
            above: found.chance.above,
            error: Some(found.error),
        },
        by: found.by.to_string(),
        fine_in: (inches(found.fine.0), inches(found.fine.1)),
        loss: found.loss,
        cost: SettingCost::of(&found),
        curve: curve.collect(),
        inputs: Input::all(plan.stack()),
        cautions: SettingReport::cautions(),
    })
}

/// Where to set the first cut: the best setting of all, and an offset to it.
pub(crate) fn first_cut(
    plan: &Plan,
    words: &SettingWords,
    costs: Costs,
    options: &Options,
) -> Result<FirstCutReport, String> {
    let dial_in = report(plan, Some(costs), options)?.best_in;
    let plan = plan
        .with_travel(dial_in.inch())
        .map_err(|faults| show(&faults))?;
    let (gauge, inputs) = words
        .gauge
        .of(&plan)
        .map_err(|message| format!("{}: {message}", plan.name()))?;
    let test = TestCutOptions::new()
        .dial_step(plan.dial_step().unwrap_or(0.5.thou()))
        .resolution(words.gauge.resolution);
    let rest = plan.pieces().unwrap_or(1).saturating_sub(1);
    let others = words.others.unwrap_or(rest);
    let look = FirstCutOptions::new(costs)
        .recut(words.recut)
        .others(others)
        .test_cut(test);
    let found = FirstCut::best(plan.stack(), ShiftedTenon::FIT, gauge.shown(), &look)
        .map_err(|error| format!("{}: {error}", plan.name()))?;
    Ok(FirstCutReport::new(
        &subject(&plan),
        dial_in,
        others,
        (costs, words.recut),
        &found,
        inputs,
    ))
}
