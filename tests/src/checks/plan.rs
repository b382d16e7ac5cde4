//! A case as a plan file.

use super::table::Case;
use kerfwise_plan::Plan;
use kerfwise_source::TypeA;
use std::fmt::Write;
use toml::{Table, Value};

/// The plan and the readings (path, text) that it names.
///
/// # Errors
/// When the case gives readings that are no numbers, or nothing to compute.
pub fn plan_text(case: &Case) -> Result<(String, Vec<(String, String)>), String> {
    let mut plan = Table::new();
    plan.insert("version".into(), Value::Integer(1));
    plan.insert("title".into(), Value::String(case.title.clone()));
    let mut files = Vec::new();
    let mut sources = Table::new();
    for (name, input) in &case.inputs {
        let mut input = input
            .as_table()
            .cloned()
            .ok_or_else(|| format!("source {name} is no table"))?;
        if let Some(values) = input.remove("values") {
            let unit = input.remove("unit");
            let unit = unit.as_ref().and_then(Value::as_str).unwrap_or("1");
            let (path, text) = readings_file(name, unit, &values)?;
            files.push((path.clone(), text));
            input.insert("readings".into(), Value::String(path));
        } else {
            input.insert("stated".into(), Value::String(case.source.clone()));
        }
        sources.insert(name.clone(), Value::Table(input));
    }
    plan.insert("outcome".into(), Value::Table(outcomes(case)));
    plan.insert("source".into(), Value::Table(sources));
    if let Some(joint) = &case.joint {
        plan.insert("joint".into(), Value::Table(joint.clone()));
    }
    let correlations = correlations(case)?;
    if !correlations.is_empty() {
        plan.insert("correlation".into(), Value::Array(correlations));
    }
    let text = toml::to_string(&plan).map_err(|e| e.to_string())?;
    Ok((text, files))
}

/// Reads that plan.
pub(super) fn plan(case: &Case) -> Result<Plan, String> {
    let (text, files) = plan_text(case)?;
    let read = |path: &str| {
        let found = files.iter().find(|(name, _)| name == path);
        found
            .map(|(_, text)| text.clone())
            .ok_or_else(|| std::io::ErrorKind::NotFound.into())
    };
    Plan::parse(&case.id, &text, &read).map_err(|faults| format!("{faults}\n{text}"))
}

/// An expression alone is an outcome without a band. Without any, every source is an outcome.
fn outcomes(case: &Case) -> Table {
    let expression = |text: &str| {
        let mut outcome = Table::new();
        outcome.insert("expression".into(), Value::String(text.to_owned()));
        Value::Table(outcome)
    };
    if case.outcomes.is_empty() && case.joint.is_none() {
        return case
            .inputs
            .keys()
            .map(|name| (format!("just_{name}"), expression(name)))
            .collect();
    }
    let outcomes = case.outcomes.iter();
    outcomes
        .map(|(name, outcome)| match outcome {
            Value::String(text) => (name.clone(), expression(text)),
            other => (name.clone(), other.clone()),
        })
        .collect()
}

fn numbers(name: &str, values: &Value) -> Result<Vec<f64>, String> {
    let wrong = || format!("{name}: values must be a list of numbers");
    let list = values.as_array().ok_or_else(wrong)?;
    list.iter()
        .map(|value| match value {
            Value::Float(x) => Ok(*x),
            Value::Integer(n) => n.to_string().parse().map_err(|_| wrong()),
            _ => Err(wrong()),
        })
        .collect()
}

/// A column of numbers in one unit.
fn readings_file(name: &str, unit: &str, values: &Value) -> Result<(String, String), String> {
    let mut text = format!("value ({unit})\n");
    for number in numbers(name, values)? {
        let _ = writeln!(text, "{number}");
    }
    Ok((format!("{name}.csv"), text))
}

fn correlation(a: &str, b: &str, coefficient: f64) -> Value {
    let mut entry = Table::new();
    let names = [a, b].map(|name| Value::String(name.to_owned()));
    entry.insert("between".into(), Value::Array(names.to_vec()));
    entry.insert("coefficient".into(), Value::Float(coefficient));
    Value::Table(entry)
}

fn correlations(case: &Case) -> Result<Vec<Value>, String> {
    let mut all: Vec<Value> = case
        .correlations
        .iter()
        .map(|(a, b, r)| correlation(a, b, *r))
        .collect();
    if !case.read_together {
        return Ok(all);
    }
    let mut columns = Vec::new();
    for (name, input) in &case.inputs {
        if let Some(values) = input.get("values") {
            columns.push((name, numbers(name, values)?));
        }
    }
    for (k, (b, second)) in columns.iter().enumerate() {
        for (a, first) in &columns[..k] {
            all.push(correlation(a, b, of_readings(first, second)?));
        }
    }
    Ok(all)
}

/// Correlation coefficient of readings taken together (JCGM 100:2008, 5.2.3, from eq. 17).
fn of_readings(a: &[f64], b: &[f64]) -> Result<f64, String> {
    let of = |x: &[f64]| TypeA::from_readings(x).map_err(|e| e.to_string());
    let (first, second) = (of(a)?, of(b)?);
    let products: f64 = a
        .iter()
        .zip(b)
        .map(|(x, y)| (x - first.mean()) * (y - second.mean()))
        .sum();
    let deviations = first.standard_deviation() * second.standard_deviation();
    Ok(products / first.degrees_of_freedom() / deviations)
}
