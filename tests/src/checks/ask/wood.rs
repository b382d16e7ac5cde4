//! Movement of wood with moisture.

use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_joint::wood::{Air, Moisture, Movement, Species};
use kerfwise_source::{LengthUnits, MoistureContent, Quantity};
use kerfwise_stack::{Expr, Stack};

pub(super) fn answer(row: &Row) -> Got {
    let species = || {
        let name = row.of.as_deref().ok_or("which species?")?;
        Species::named(name).map_err(|e| e.to_string())
    };
    let value = match (row.ask.as_str(), row.at.all()) {
        ("radial coefficient", []) => species()?.radial().raw(),
        ("tangential coefficient", []) => species()?.tangential().raw(),
        ("radial shrinkage, %", []) => species()?.shrinkage().ok_or("none")?.0,
        ("tangential shrinkage, %", []) => species()?.shrinkage().ok_or("none")?.1,
        ("u of a board over the table", []) => species()?.relative_spread(),
        ("equilibrium moisture content", &[fahrenheit, percent]) => {
            equilibrium(fahrenheit, percent)?
        }
        ("u of a pin meter, %", []) => pin_meter()?,
        ("change by shrinkage", &[width, from, to, shrinkage]) => {
            by_shrinkage(width, from, to, shrinkage)?
        }
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn value(expr: &Expr) -> Result<f64, String> {
    let stack = Stack::builder()
        .outcome_without_band("y", expr)
        .build()
        .map_err(|e| e.to_string())?;
    let outcome = stack.outcome("y").ok_or("lost")?;
    outcome
        .evaluate(&[])
        .map(Quantity::raw)
        .map_err(|e| e.to_string())
}

fn equilibrium(fahrenheit: f64, percent: f64) -> Result<f64, String> {
    let air = Air {
        temperature: Expr::constant(Air::celsius_from_fahrenheit(fahrenheit)),
        humidity: Expr::constant(percent / 100.0),
    };
    value(air.equilibrium().map_err(|e| e.to_string())?.expr())
}

/// What a reading may be off, where nobody says otherwise.
fn pin_meter() -> Result<f64, String> {
    let meter = Moisture::pin_meter("meter").build();
    let u = meter.map_err(|e| e.to_string())?.standard_uncertainty();
    u.map(Quantity::raw).ok_or_else(|| "no u".to_owned())
}

/// Width in inches, moisture contents and shrinkage in percent.
fn by_shrinkage(width: f64, from: f64, to: f64, shrinkage: f64) -> Result<f64, String> {
    let known = |x| Moisture::known(MoistureContent::from_percent(x));
    let part = Movement {
        size: Expr::constant(width.inch()),
        from: known(from),
        to: known(to),
    };
    let change = part.from_shrinkage(Expr::constant(shrinkage));
    value(&change.map_err(|e| e.to_string())?)
}
