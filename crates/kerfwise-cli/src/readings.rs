//! From a column of readings to what it shows.

use crate::args::ReadingsWords;
use crate::evidence::{confidence, estimated, name, pair, raw};
use crate::files;
use crate::run::show;
use kerfwise::gauge::{Confidence, Moments, Sample, Specification, Summary, Tolerance};
use kerfwise::plan::stream_readings;
use kerfwise::source::Dimension;
use kerfwise_report::{
    CloserLook, Column, DriftReport, LimitsReport, OutlierReport, ReadingsReport, SlipReport,
    ToleranceReport,
};

/// So many readings are kept; of more only what streams by is told.
const MOST_KEPT: usize = 100_000;

pub(crate) fn report(words: &ReadingsWords) -> Result<ReadingsReport, String> {
    let name = name(&words.file);
    let told = |error: kerfwise::gauge::Error| format!("{name}: {error}");
    let confidence = confidence(&words.file)?;
    let file = files::open(&words.file.file)?;
    let (mut moments, mut kept, mut wrong) = (Moments::new(), Vec::new(), None);
    let found = stream_readings(&name, file, words.file.column.as_deref(), |reading| {
        if let Err(error) = moments.add(reading) {
            wrong.get_or_insert(error);
        }
        if kept.len() <= MOST_KEPT {
            kept.push(reading);
        }
    })
    .map_err(|faults| show(&faults))?;
    if let Some(error) = wrong {
        return Err(told(error));
    }
    let kept = (kept.len() <= MOST_KEPT).then_some(kept.as_slice());
    let sample = moments.sample().map_err(told)?;
    let closer = kept
        .map(|readings| closer(readings, confidence))
        .transpose()
        .map_err(told)?;
    let unit = found.dimension.raw_unit();
    Ok(ReadingsReport {
        schema: ReadingsReport::SCHEMA.into(),
        column: Column::new(&name, &found.name, &unit, moments.count()),
        confidence: confidence.level(),
        mean: sample.mean(),
        standard_error: sample.standard_error(),
        mean_interval: pair(sample.mean_interval(confidence)),
        sd: sample.standard_deviation(),
        sd_interval: pair(sample.standard_deviation_interval(confidence)),
        smallest: moments.smallest().unwrap_or(sample.mean()),
        largest: moments.largest().unwrap_or(sample.mean()),
        closer,
        tolerance: tolerance(words.share, confidence, &sample)?,
        limits: limits(words, found.dimension, kept, &sample, confidence)?,
    })
}

fn closer(readings: &[f64], confidence: Confidence) -> Result<CloserLook, kerfwise::gauge::Error> {
    let summary = Summary::new(readings)?;
    let outliers = summary.outliers.iter().map(|outlier| OutlierReport {
        reading: outlier.index as u64 + 1,
        value: outlier.value,
        deviate: outlier.deviate,
        critical: outlier.critical,
    });
    let slips = slips(readings, summary.median, summary.robust_spread);
    let drift = summary.drift.map(|drift| DriftReport {
        slope: drift.slope,
        interval: pair(drift.interval(confidence)),
        p_value: drift.p_value,
    });
    Ok(CloserLook {
        median: summary.median,
        robust_spread: summary.robust_spread,
        distinct: summary.distinct as u64,
        drift,
        autocorrelation: summary.autocorrelation,
        normal_p_value: summary.normality.map(|normality| normality.p_value),
        outliers: outliers.collect(),
        slips,
    })
}

/// Readings that would be like the others with the decimal point elsewhere, or in the other unit of length.
fn slips(readings: &[f64], median: f64, robust_spread: f64) -> Vec<SlipReport> {
    /// How near to the middle reading, in parts of it, a mended reading must come.
    const NEAR: f64 = 0.05;
    /// Readings that scatter more, such as fit deviations about nought, may well differ tenfold.
    const TIGHT: f64 = 0.02;
    const FACTORS: [f64; 8] = [10.0, 25.4, 100.0, 1000.0, 0.1, 1.0 / 25.4, 0.01, 0.001];
    if robust_spread > TIGHT * median.abs() {
        return Vec::new();
    }
    let slip = |(index, &value): (usize, &f64)| {
        let is_near = |factor: &f64| (value / factor - median).abs() <= NEAR * median.abs();
        let factor = FACTORS.into_iter().find(is_near)?;
        Some(SlipReport {
            reading: index as u64 + 1,
            value,
            times: factor,
            instead: value / factor,
        })
    };
    readings.iter().enumerate().filter_map(slip).collect()
}

/// No limits where so few readings promise none.
fn tolerance(
    share: f64,
    confidence: Confidence,
    sample: &Sample,
) -> Result<Option<ToleranceReport>, String> {
    let wanted = Tolerance::new(share, confidence).map_err(|error| error.to_string())?;
    Ok(wanted.limits(sample).ok().map(|limits| ToleranceReport {
        share,
        lower: limits.lower,
        upper: limits.upper,
    }))
}

fn limits(
    words: &ReadingsWords,
    dimension: Dimension,
    readings: Option<&[f64]>,
    sample: &Sample,
    confidence: Confidence,
) -> Result<Option<LimitsReport>, String> {
    let told = |error: kerfwise::gauge::Error| error.to_string();
    let limit = |option, value: Option<_>| value.map(|q| raw(option, q, dimension)).transpose();
    let lower = limit("--lower", words.lower)?;
    let upper = limit("--upper", words.upper)?;
    let wanted = match (lower, upper) {
        (Some(lower), Some(upper)) => Specification::between(lower, upper),
        (Some(lower), None) => Specification::at_least(lower),
        (None, Some(upper)) => Specification::at_most(upper),
        (None, None) => return Ok(None),
    }
    .map_err(told)?;
    let found = wanted.capability(sample, confidence);
    let counted = readings
        .map(|readings| wanted.counted_outside(readings, confidence))
        .transpose()
        .map_err(told)?;
    Ok(Some(LimitsReport {
        lower,
        upper,
        pp: found.potential.map(estimated),
        ppk: estimated(found.actual),
        outside: estimated(found.outside),
        counted_outside: counted.map(estimated),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_a_reading_that_another_point_or_unit_makes_like_the_rest() {
        let found = |readings: &[f64]| {
            let summary = Summary::new(readings).expect("it is sound");
            let slips = slips(readings, summary.median, summary.robust_spread);
            let told = |slip: &SlipReport| (slip.reading, (1e4 * slip.instead).round() as i64);
            slips.iter().map(told).collect::<Vec<_>>()
        };
        assert_eq!(found(&[0.125, 0.126, 1.27, 0.1255, 0.1251]), [(3, 1270)]);
        assert_eq!(found(&[0.125, 0.126, 3.18, 0.1255, 0.1251]), [(3, 1252)]);
        assert_eq!(found(&[0.125, 0.126, 0.0125, 0.1255, 0.1251]), [(3, 1250)]);
        // Far out, but no slip of the point; and deviations about nought.
        assert_eq!(found(&[0.125, 0.126, 0.5, 0.1255, 0.1251]), []);
        assert_eq!(found(&[0.001, -0.002, 0.010, 0.003, 0.001]), []);
    }
}
