//! What the record must have as a whole.

use super::table::{By, Case, Row};
use super::verdict::Verdict;
use std::collections::BTreeMap;

/// Rows at least.
const ROWS: usize = 300;
/// Of these from tables of quantiles and constants at most.
const TABLE_ROWS: usize = 60;
/// Rows for each propagation, distribution and decision at least.
const EACH: usize = 3;

/// The laws that a plan knows.
const LAWS: [&str; 15] = [
    "normal",
    "rectangular",
    "triangular",
    "trapezoidal",
    "curvilinear trapezoidal",
    "arcsine",
    "Student t",
    "exponential",
    "lognormal",
    "beta",
    "truncated normal",
    "two-piece normal",
    "discrete",
    "mixture",
    "empirical",
];

/// What is asked of each part.
const PARTS: [By; 18] = [
    By::WorstCase,
    By::Rss,
    By::Exact,
    By::SemiExact,
    By::QuasiMonteCarlo,
    By::MonteCarlo,
    By::Batch,
    By::BatchSimulation,
    By::Setting,
    By::Judge,
    By::TestCut,
    By::Forecast,
    By::Worth,
    By::Pairing,
    By::Sensitivity,
    By::Arithmetic,
    By::Evidence,
    By::Wood,
];

/// Who says so where it cannot answer.
const PROPAGATIONS: [By; 8] = [
    By::WorstCase,
    By::Rss,
    By::Exact,
    By::SemiExact,
    By::QuasiMonteCarlo,
    By::MonteCarlo,
    By::Batch,
    By::BatchSimulation,
];

/// What is missing; nothing when the record is whole.
#[must_use]
pub fn lacks(all: &[(&Case, Vec<(&Row, Verdict)>)]) -> Vec<String> {
    let rows: Vec<&Row> = all
        .iter()
        .flat_map(|(_, rows)| rows.iter().map(|(row, _)| *row))
        .collect();
    let mut lacks = Vec::new();
    // Of special functions the rows are as many as the code has regions; they do not make the record whole.
    let is_of_table = |row: &&&Row| row.by == By::Function || row.ask.contains("factor");
    let from_tables = rows.iter().filter(is_of_table).count();
    let others = rows.len() - from_tables;
    if others + from_tables.min(TABLE_ROWS) < ROWS {
        lacks.push(format!(
            "{others} rows are none of quantiles and constants; with {TABLE_ROWS} of those {ROWS} are wanted"
        ));
    }
    for part in PARTS {
        let n = rows.iter().filter(|row| row.by == part).count();
        if n < EACH {
            lacks.push(format!("{} has {n} rows, not {EACH}", part.words()));
        }
    }
    for part in PROPAGATIONS {
        let is_decline = |row: &&&Row| row.by == part && row.ask.starts_with("declines: ");
        if rows.iter().filter(is_decline).count() == 0 {
            lacks.push(format!("{} has no row where it declines", part.words()));
        }
    }
    let laws = by_law(all);
    for law in LAWS {
        let n = laws.get(law).copied().unwrap_or(0);
        if n < EACH {
            lacks.push(format!("the {law} law has {n} rows of its own, not {EACH}"));
        }
    }
    lacks
}

/// Rows that ask a law itself.
fn by_law(all: &[(&Case, Vec<(&Row, Verdict)>)]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for (case, rows) in all {
        let asked = rows.iter().filter(|(row, _)| row.by == By::Distribution);
        for (row, _) in asked {
            let name = super::plan::plan(case).ok().and_then(|plan| {
                let sources = plan.stack().sources();
                let found = match row.of.as_deref() {
                    Some(name) => sources.into_iter().find(|s| s.name() == name),
                    None => sources.into_iter().next(),
                };
                found.map(|source| source.error().name().to_owned())
            });
            *counts.entry(name.unwrap_or_default()).or_default() += 1;
        }
    }
    counts
}
