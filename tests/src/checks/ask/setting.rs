use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_decide::{Costs, Setting, SettingOptions};
use kerfwise_joint::ShiftedTenon;
use kerfwise_plan::Plan;

/// The best setting of a joint, as the command finds it; at the costs of a tight and a loose joint, if they are given.
pub(super) fn answer(row: &Row, plan: &Plan) -> Got {
    let joint = plan.joint().ok_or("the case has no joint")?;
    if row.ask == "nominal travel" {
        let travel = joint.nominal_travel().map_err(|e| e.to_string())?;
        return Ok(Answer::from(travel.to_inches()));
    }
    let mut options = SettingOptions::around(joint.dialled());
    if let Some(step) = plan.setting_step() {
        options = options.step(step);
    }
    if let &[tight, loose] = row.at.all() {
        options = options.costs(Costs { tight, loose });
    }
    let stack_at = |travel| plan.with_setting(travel).map(|plan| plan.stack().clone());
    let best = Setting::best(&options, ShiftedTenon::FIT, stack_at).map_err(|e| e.to_string())?;
    let value = match row.ask.as_str() {
        "best" => best.best.to_inches(),
        "inside" => best.chance.inside,
        "cost" => best.cost().ok_or("no costs")?,
        "likeliest" => best.likeliest().setting.to_inches(),
        "below" => best.chance.below,
        "above" => best.chance.above,
        "fine from" => best.fine.0.to_inches(),
        "fine to" => best.fine.1.to_inches(),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
