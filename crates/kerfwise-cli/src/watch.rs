//! From a run of readings to what to do now.

use crate::args::{ChartWord, WatchWords};
use crate::evidence::{column, confidence, log, name, raw};
use kerfwise::gauge::{Change, ChangePoint, Cusum, Error, Ewma, Process, ZoneRule, ZoneRules};
use kerfwise::source::Dimension;
use kerfwise_report::{
    ChangeKind, ChangeReport, ChartReport, ProcessReport, SignalReport, WatchAdvice, WatchPoint,
    WatchReport,
};

/// The lasting-change chart gives a false alarm as rarely as single readings with limits at 3 standard deviations.
const FALSE_ALARM_EVERY: f64 = 370.4;
/// Suited to a shift of one standard deviation.
const ALLOWANCE: f64 = 0.5;
/// One kind of change is clear where its logarithm of the likelihood is so much above the other's: e² to 1.
const CLEAR: f64 = 2.0;
/// Weight of the newest reading: common practice.
const WEIGHT: f64 = 0.2;

pub(crate) fn report(words: &WatchWords) -> Result<WatchReport, String> {
    let name = name(&words.file);
    let told = |error: Error| format!("{name}: {error}");
    // Charts have no confidence; but a wrong one is told.
    confidence(&words.file)?;
    let log = log(&words.file, &[])?;
    let readings: Vec<f64> = log.rows().iter().map(|row| row.raw).collect();
    let (process, from_first) = process(words, &readings, log.dimension())
        .map_err(|message| format!("{name}: {message}"))?;
    let lasting = Lasting::new(words.chart, &process, &readings).map_err(told)?;
    let rules = if words.rules {
        ZoneRules::all()
    } else {
        ZoneRules::new(&[])
    };
    let range_limit = process.range_limits(2).map_err(told)?.upper;
    let mut signals: Vec<SignalReport> = rules
        .signals(&process, 1, &readings)
        .into_iter()
        .map(|(index, rule)| signal(index, rule_in_words(rule), rule != ZoneRule::BeyondThree))
        .collect();
    for (index, pair) in readings.windows(2).enumerate() {
        if (pair[1] - pair[0]).abs() > range_limit {
            signals.push(signal(index + 1, "a jump from the one before", false));
        }
    }
    if let Some(index) = lasting.signal {
        signals.push(signal(index, lasting.rule, true));
    }
    signals.sort_by_key(|signal| signal.reading);
    let first_lasting = signals.iter().find(|signal| signal.is_lasting);
    let change = first_lasting
        .map(|signal| change(&process, &readings, signal.reading as usize))
        .transpose()
        .map_err(told)?;
    let advice = match (&change, signals.is_empty()) {
        (Some(_), _) => WatchAdvice::Stop,
        (None, false) => WatchAdvice::Look,
        (None, true) => WatchAdvice::GoOn,
    };
    let limits = process.limits(1);
    let mut points = lasting.points;
    for (index, point) in points.iter_mut().enumerate().skip(1) {
        point.range = Some((readings[index] - readings[index - 1]).abs());
    }
    Ok(WatchReport {
        schema: WatchReport::SCHEMA.into(),
        column: column(&words.file, &log),
        process: ProcessReport {
            mean: process.mean(),
            sd: process.standard_deviation(),
            from_first,
        },
        limits: (limits.lower, limits.upper),
        range_limit,
        chart: lasting.chart,
        points,
        signals,
        change,
        advice,
        cautions: kerfwise_report::cautions::all(),
    })
}

/// The process as given, or from the first readings, and how many those are.
fn process(
    words: &WatchWords,
    readings: &[f64],
    dimension: Dimension,
) -> Result<(Process, u64), String> {
    let told = |error: Error| error.to_string();
    if let (Some(mean), Some(sd)) = (words.mean, words.sd) {
        let mean = raw("--mean", mean, dimension)?;
        let sd = raw("--sd", sd, dimension)?;
        return Ok((Process::new(mean, sd).map_err(told)?, 0));
    }
    let first = &readings[..readings.len().min(words.first)];
    let process = Process::of_individuals(first).map_err(told)?;
    Ok((process, first.len() as u64))
}

/// The chart that tells a lasting change, drawn.
struct Lasting {
    chart: ChartReport,
    points: Vec<WatchPoint>,
    signal: Option<usize>,
    rule: &'static str,
}

impl Lasting {
    fn new(chart: ChartWord, process: &Process, readings: &[f64]) -> Result<Self, Error> {
        let point = |(index, &value): (usize, &f64)| WatchPoint {
            reading: index as u64 + 1,
            value,
            range: None,
            sums: None,
            average: None,
        };
        let mut points: Vec<WatchPoint> = readings.iter().enumerate().map(point).collect();
        match chart {
            ChartWord::Cusum => {
                let chart = Cusum::with_false_alarms_every(FALSE_ALARM_EVERY, ALLOWANCE)?;
                let run = chart.run(process, readings);
                for (point, sums) in points.iter_mut().zip(run.upper.iter().zip(&run.lower)) {
                    point.sums = Some((*sums.0, *sums.1));
                }
                Ok(Self {
                    chart: ChartReport::Cusum {
                        allowance: ALLOWANCE,
                        decision: chart.decision(),
                        false_alarm_every: FALSE_ALARM_EVERY,
                        tells_one_sd_after: chart.average_run_length(1.0)?,
                    },
                    points,
                    signal: run.signal,
                    rule: "a cumulative sum is beyond its limit",
                })
            }
            ChartWord::Ewma => {
                let chart = Ewma::with_false_alarms_every(FALSE_ALARM_EVERY, WEIGHT)?;
                let run = chart.run(process, readings);
                for (point, (average, limits)) in
                    points.iter_mut().zip(run.points.iter().zip(&run.limits))
                {
                    point.average = Some((*average, limits.lower, limits.upper));
                }
                Ok(Self {
                    chart: ChartReport::Ewma {
                        weight: WEIGHT,
                        limit: chart.limit(),
                        false_alarm_every: FALSE_ALARM_EVERY,
                        tells_one_sd_after: chart.average_run_length(1.0)?,
                    },
                    points,
                    signal: run.signal,
                    rule: "the moving average is beyond its limits",
                })
            }
        }
    }
}

fn signal(index: usize, rule: &str, is_lasting: bool) -> SignalReport {
    SignalReport {
        reading: index as u64 + 1,
        rule: rule.to_owned(),
        is_lasting,
    }
}

fn rule_in_words(rule: ZoneRule) -> &'static str {
    match rule {
        ZoneRule::TwoOfThree => "two of three beyond 2 standard deviations on one side",
        ZoneRule::FourOfFive => "four of five beyond 1 standard deviation on one side",
        ZoneRule::EightInARow => "eight in a row on one side of the mean",
        _ => "beyond the limits of single readings",
    }
}

/// The likelier of a step and a drift in all readings; in those up to the signal, if the run has come back since.
fn change(process: &Process, readings: &[f64], signal: usize) -> Result<ChangeReport, Error> {
    let whole = both(process, readings)?;
    let (found, other) = if whole.0.began < signal {
        whole
    } else {
        both(process, &readings[..signal])?
    };
    Ok(ChangeReport {
        kind: match found.kind {
            Change::Drift => ChangeKind::Drift,
            _ => ChangeKind::Step,
        },
        began: found.began as u64 + 1,
        size: found.size,
        standard_error: found.standard_error,
        is_clear: found.gain - other.gain > CLEAR,
    })
}

/// The likelier kind first.
fn both(process: &Process, readings: &[f64]) -> Result<(ChangePoint, ChangePoint), Error> {
    let step = ChangePoint::of(Change::Step, process, readings)?;
    let drift = ChangePoint::of(Change::Drift, process, readings)?;
    Ok(if drift.gain > step.gain {
        (drift, step)
    } else {
        (step, drift)
    })
}
