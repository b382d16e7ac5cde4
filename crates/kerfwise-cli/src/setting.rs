//! From a plan to what to set.

use crate::args::{Options, SettingWords};
use crate::run::{monte_carlo, show, subject};
use kerfwise::decide::{Costs, FirstCut, FirstCutOptions, Setting, SettingOptions, TestCutOptions};
use kerfwise::joint::Adjustment;
use kerfwise::plan::Plan;
use kerfwise::prelude::{Length, LengthUnits as _, ShiftedTenon};
use kerfwise_report::{
    Adjusted, FirstCutReport, Input, SettingCost, SettingReport, SettingRow, ThreeChances,
};

/// The best setting of the dial, or of what else is set, by chance or by cost.
pub(crate) fn report(
    plan: &Plan,
    costs: Option<Costs>,
    options: &Options,
) -> Result<SettingReport, String> {
    let told = |message: String| format!("{}: {message}", plan.name());
    let set = plan
        .adjustment()
        .ok_or_else(|| told(nothing_to_set(plan)))?;
    let nominal = set.nominal(plan.stack()).map_err(|e| told(e.to_string()))?;
    let step = plan.setting_step().unwrap_or(set.usual_step());
    let mut look = SettingOptions::around(nominal)
        .step(step)
        .monte_carlo(monte_carlo(options));
    if let Some(costs) = costs {
        look = look.costs(costs);
    }
    let (fit, others) = set.fits().split_first().ok_or("no fit to set it for")?;
    for other in others {
        look = look.also(other);
    }
    let at = |setting: Length| plan.with_setting(setting).map(|p| p.stack().clone());
    let found = Setting::best(&look, fit, at).map_err(|e| e.to_string())?;
    let written = plan
        .setting_was_given()
        .then(|| set.source().estimate().raw());
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
        what: match set {
            Adjustment::Travel(_) => Adjusted::Travel,
            Adjustment::Spacer(_) => Adjusted::Spacer,
            Adjustment::Distance(_) => Adjusted::Distance,
            Adjustment::Height(_) => Adjusted::Height,
            Adjustment::Pins(_) => Adjusted::Pins,
            Adjustment::Slip(_) => Adjusted::Slip,
        },
        best_in: inches(found.best),
        set_in: written,
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

/// Why there is nothing to set, and the way out.
fn nothing_to_set(plan: &Plan) -> String {
    if plan.fits().is_empty() {
        return "this plan has nothing to set, since it has no [joint] (docs/plan-file.md)".into();
    }
    "this plan does not tell what is set for its joint; give an estimate to the distance, height or pins alone, and none to the \
     errors beside it"
        .into()
}

/// Where to set the first cut: the best setting of all, and an offset to it.
pub(crate) fn first_cut(
    plan: &Plan,
    words: &SettingWords,
    costs: Costs,
    options: &Options,
) -> Result<FirstCutReport, String> {
    if plan.joint().is_none() {
        return Err(format!(
            "{}: --first-cut needs a jig that is moved by a dial, method \"shifted\"; this plan's joint is not cut that way",
            plan.name()
        ));
    }
    let dial_in = report(plan, Some(costs), options)?.best_in;
    let plan = plan
        .with_setting(dial_in.inch())
        .map_err(|faults| show(&faults))?;
    let (gauge, inputs) = words
        .gauge
        .of(&plan)
        .map_err(|message| format!("{}: {message}", plan.name()))?;
    let test = TestCutOptions::new()
        .dial_step(plan.setting_step().unwrap_or(0.5.thou()))
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
