//! Charts of a run: constants and run lengths.

use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_gauge::{ChartConstants, Cusum, Ewma, ZoneRule, ZoneRules};

/// What begins with "chart: ".
pub(super) fn answer(row: &Row, ask: &str) -> Got {
    let value = match (ask, row.at.all()) {
        ("d2", &[n]) => ChartConstants::new(n as usize).map(|found| found.d2),
        ("d3", &[n]) => ChartConstants::new(n as usize).map(|found| found.d3),
        ("c4", &[n]) => ChartConstants::new(n as usize).map(|found| found.c4),
        ("run length, sums", &[allowance, decision, start, shift]) => {
            Cusum::new(allowance, decision)
                .and_then(|chart| chart.head_start(start))
                .and_then(|chart| chart.average_run_length(shift))
        }
        ("run length, averages", &[weight, limit, shift]) => {
            Ewma::new(weight, limit).and_then(|chart| chart.average_run_length(shift))
        }
        ("run length, zones", &[two, four, eight, shift]) => {
            let all = [
                (two, ZoneRule::TwoOfThree),
                (four, ZoneRule::FourOfFive),
                (eight, ZoneRule::EightInARow),
            ];
            let rules: Vec<ZoneRule> = all
                .into_iter()
                .filter_map(|(is_followed, rule)| (is_followed > 0.5).then_some(rule))
                .collect();
            ZoneRules::new(&rules).average_run_length(shift)
        }
        _ => return Err(unknown(row)),
    };
    value.map(Answer::from).map_err(|error| error.to_string())
}
