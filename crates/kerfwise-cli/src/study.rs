//! From a gauge study to whether the gauge is good enough.

use crate::args::StudyWords;
use crate::evidence::{column, confidence, estimator, log, name, pair, raw, spread};
use kerfwise::gauge::{GaugeReading, GaugeStudy, Interaction};
use kerfwise::source::Dimension;
use kerfwise_report::{Estimated, GaugeCell, StudyReport};
use std::collections::BTreeMap;

/// The width of the usual fit band, ±5 thou, in inches.
const USUAL_BAND: f64 = 0.01;

pub(crate) fn report(words: &StudyWords) -> Result<StudyReport, String> {
    let name = name(&words.file);
    let told = |error: kerfwise::gauge::Error| format!("{name}: {error}");
    let confidence = confidence(&words.file)?;
    let log = log(&words.file, &[&words.part, &words.person])?;
    let rows: Vec<GaugeReading<'_>> = log
        .rows()
        .iter()
        .map(|row| GaugeReading {
            part: &row.labels[0],
            person: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let study = GaugeStudy::new(&rows).map_err(told)?;
    let found = study.components(Interaction::Tested, confidence);
    let band = match words.band {
        Some(band) => Some(raw("--band", band, log.dimension())?),
        None => (log.dimension() == Dimension::LENGTH).then_some(USUAL_BAND),
    };
    let share = band
        .map(|band| found.share_of_band(band))
        .transpose()
        .map_err(|error| error.to_string())?;
    let classes = found.distinct_classes();
    let spreads = [
        ("repeatability", &found.repeatability),
        ("reproducibility", &found.reproducibility),
        ("gauge (both)", &found.gauge),
        ("part", &found.part),
        ("one reading (all)", &found.total),
    ];
    Ok(StudyReport {
        schema: StudyReport::SCHEMA.into(),
        column: column(&words.file, &log),
        confidence: confidence.level(),
        parts: study.parts().to_vec(),
        people: study.people().to_vec(),
        estimator: estimator(found.estimator),
        interaction_p_value: study.interaction_p_value(),
        pooled: found.pooled,
        spreads: spreads.map(|(name, part)| spread(name, part)).to_vec(),
        distinct_classes: classes.is_finite().then_some(classes),
        band,
        share_of_band: share.map(|(value, interval)| Estimated::new(value, pair(interval))),
        people_for_twice: study.people_for(&found, 2.0, confidence),
        cells: cells(&rows),
    })
}

/// The readings of each part by each person, in the order in which they come.
fn cells(rows: &[GaugeReading<'_>]) -> Vec<GaugeCell> {
    let mut cells: Vec<GaugeCell> = Vec::new();
    let mut places = BTreeMap::new();
    for row in rows {
        let place = *places.entry((row.part, row.person)).or_insert(cells.len());
        if place == cells.len() {
            cells.push(GaugeCell {
                part: row.part.to_owned(),
                person: row.person.to_owned(),
                readings: Vec::new(),
            });
        }
        if let Some(cell) = cells.get_mut(place) {
            cell.readings.push(row.reading);
        }
    }
    cells
}
