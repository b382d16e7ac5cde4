//! From files of readings to what the readings commands work on.

use crate::args::ReadingsFile;
use crate::files;
use crate::run::show;
use kerfwise::gauge::{Component, Confidence, Index, Interval};
use kerfwise::plan::{ReadingLog, read_log};
use kerfwise::prelude::Quantity;
use kerfwise::source::Dimension;
use kerfwise_report::{Column, Estimated, SpreadRow};

pub(crate) fn name(words: &ReadingsFile) -> String {
    words.file.display().to_string()
}

pub(crate) fn confidence(words: &ReadingsFile) -> Result<Confidence, String> {
    Confidence::new(words.confidence).map_err(|error| error.to_string())
}

/// A column with the words of other columns beside it.
pub(crate) fn log(words: &ReadingsFile, labels: &[&str]) -> Result<ReadingLog, String> {
    let name = name(words);
    let text = files::text(&words.file)?;
    read_log(&name, &text, labels, words.column.as_deref()).map_err(|faults| show(&faults))
}

pub(crate) fn column(words: &ReadingsFile, log: &ReadingLog) -> Column {
    let unit = log.dimension().raw_unit();
    Column::new(&name(words), log.column(), &unit, log.rows().len() as u64)
}

/// A quantity of the command line in the raw unit of the readings.
pub(crate) fn raw(option: &str, value: Quantity, wanted: Dimension) -> Result<f64, String> {
    if value.dimension() == wanted {
        return Ok(value.raw());
    }
    if value.dimension() == Dimension::NUMBER {
        let (number, unit) = (value.raw(), wanted.raw_unit());
        return Err(format!(
            "{option} needs a unit: write {number}{unit} (got {number})"
        ));
    }
    let unit = |dimension: Dimension| match dimension.raw_unit() {
        unit if unit.is_empty() => "a pure number".to_owned(),
        unit => unit,
    };
    Err(format!(
        "{option} must be of the kind of the readings, {} (got {})",
        unit(wanted),
        unit(value.dimension())
    ))
}

pub(crate) fn pair(interval: Interval) -> (f64, f64) {
    (interval.lower, interval.upper)
}

pub(crate) fn estimated(index: Index) -> Estimated {
    Estimated::new(index.value, pair(index.interval))
}

pub(crate) fn spread(name: &str, component: &Component) -> SpreadRow {
    SpreadRow {
        name: name.to_owned(),
        sd: component.standard_deviation(),
        interval: pair(component.standard_deviation_interval()),
        degrees_of_freedom: component.degrees_of_freedom,
    }
}

pub(crate) fn estimator(estimator: kerfwise::gauge::Estimator) -> String {
    match estimator {
        kerfwise::gauge::Estimator::AnalysisOfVariance => "analysis of variance",
        _ => "restricted likelihood",
    }
    .to_owned()
}
