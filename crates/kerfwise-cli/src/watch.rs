//! From a run of readings to what to do now.

use crate::args::{ChartWord, WatchWords};
use crate::evidence::{column, confidence, log, name, raw};
use kerfwise::gauge::{
    Change, ChangePoint, Cusum, Error, Ewma, Process, RunChange, ZoneRule, ZoneRules,
};
use kerfwise::plan::ReadingLog;
use kerfwise::source::Dimension;
use kerfwise_report::{
    BaselineReport, ChangeKind, ChangeReport, ChartReport, ProcessReport, SignalReport,
    WatchAdvice, WatchPoint, WatchReport,
};

/// The lasting-change chart gives a false alarm as rarely as single readings with limits at 3 standard deviations.
const FALSE_ALARM_EVERY: f64 = 370.4;
/// Suited to a shift of one standard deviation.
const ALLOWANCE: f64 = 0.5;
/// One kind of change is clear where its logarithm of the likelihood is so much above the other's: e² to 1.
const CLEAR: f64 = 2.0;
/// So many readings from the beginning are the baseline, if none is given: common practice.
const FIRST: usize = 20;
/// A baseline that changes itself is refused at this level: one steady run of a hundred, or fewer.
const BASELINE_LEVEL: f64 = 0.01;
/// Weight of the newest reading: common practice.
const WEIGHT: f64 = 0.2;

pub(crate) fn report(words: &WatchWords) -> Result<WatchReport, String> {
    let name = name(&words.file);
    let told = |error: Error| format!("{name}: {error}");
    // Charts have no confidence; but a wrong one is told.
    confidence(&words.file)?;
    let labels: Vec<&str> = words.by.iter().map(String::as_str).collect();
    let log = log(&words.file, &labels)?;
    let mut run = Run::new(words, &log).map_err(|message| format!("{name}: {message}"))?;
    let baseline = Baseline::new(words, &run).map_err(told)?;
    if let Some(changed) = baseline.as_ref().and_then(|b| b.changed) {
        run.level(changed.mean_before).map_err(told)?;
    }
    let lasting = Lasting::new(words.chart, &run.process, &run.values).map_err(told)?;
    let signals = signals(words, &run, &lasting);
    let first_lasting = signals.iter().find(|signal| signal.is_lasting);
    let change = match (baseline.as_ref().and_then(|b| b.changed), first_lasting) {
        (Some(changed), _) => Some(told_of(&changed)),
        (None, None) => None,
        (None, Some(signal)) => Some(change(&run, signal.reading as usize).map_err(told)?),
    };
    let advice = match (&change, signals.is_empty()) {
        (Some(_), _) => WatchAdvice::Stop,
        (None, false) => WatchAdvice::Look,
        (None, true) => WatchAdvice::GoOn,
    };
    let limits = run.process.limits(1);
    let mut points = lasting.points;
    for (point, range) in points.iter_mut().zip(&run.ranges) {
        point.range = *range;
    }
    Ok(WatchReport {
        schema: WatchReport::SCHEMA.into(),
        column: column(&words.file, &log),
        group_size: run.size as u64,
        process: ProcessReport {
            mean: run.single.mean(),
            sd: run.single.standard_deviation(),
            from_first: run.from_first,
        },
        limits: (limits.lower, limits.upper),
        range_limit: run.range_limit,
        chart: lasting.chart,
        points,
        signals,
        change,
        baseline: baseline.map(|b| b.report),
        advice,
        cautions: kerfwise_report::cautions::all(),
    })
}

/// What is charted: single readings with the change from the one before, or means of groups with their ranges.
struct Run {
    size: usize,
    values: Vec<f64>,
    ranges: Vec<Option<f64>>,
    range_limit: f64,
    /// Of single readings.
    single: Process,
    /// Of what is charted.
    process: Process,
    from_first: u64,
}

impl Run {
    fn new(words: &WatchWords, log: &ReadingLog) -> Result<Self, String> {
        let told = |error: Error| error.to_string();
        let known = known(words, log.dimension())?;
        if words.by.is_none() {
            let values: Vec<f64> = log.rows().iter().map(|row| row.raw).collect();
            let first = &values[..values.len().min(words.first.unwrap_or(FIRST))];
            let single = match known {
                Some(process) => process,
                None => Process::of_individuals(first).map_err(told)?,
            };
            let moves = values
                .windows(2)
                .map(|pair| Some((pair[1] - pair[0]).abs()));
            return Ok(Self {
                size: 1,
                ranges: std::iter::once(None).chain(moves).collect(),
                range_limit: single.range_limits(2).map_err(told)?.upper,
                single,
                process: single,
                from_first: known.map_or(first.len() as u64, |_| 0),
                values,
            });
        }
        let groups = groups(log);
        // All of one size, whether they are among the first or not.
        let all = Process::of_subgroups(&groups);
        let first = &groups[..groups.len().min(words.first.unwrap_or(FIRST))];
        let single = match known {
            Some(process) => all.map(|_| process),
            None => all.and_then(|_| Process::of_subgroups(first)),
        }
        .map_err(told)?;
        let size = groups.first().map_or(1, Vec::len);
        let n = size as f64;
        let process = Process::new(single.mean(), single.standard_deviation() / n.sqrt());
        let ranges = groups.iter().map(|group| {
            let low = group.iter().copied().fold(f64::INFINITY, f64::min);
            let high = group.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            Some(high - low)
        });
        Ok(Self {
            size,
            values: groups
                .iter()
                .map(|group| group.iter().sum::<f64>() / n)
                .collect(),
            ranges: ranges.collect(),
            range_limit: single.range_limits(size).map_err(told)?.upper,
            single,
            process: process.map_err(told)?,
            from_first: known.map_or(first.len() as u64, |_| 0),
        })
    }
}

impl Run {
    /// With another mean while all was well; spreads, which a change hardly touches, stay.
    fn level(&mut self, mean: f64) -> Result<(), Error> {
        self.single = Process::new(mean, self.single.standard_deviation())?;
        self.process = Process::new(mean, self.process.standard_deviation())?;
        Ok(())
    }
}

/// The readings that the charts start from, looked at themselves.
struct Baseline {
    report: BaselineReport,
    /// If they change: how the run is likely to have changed.
    changed: Option<RunChange>,
}

impl Baseline {
    /// Nothing where mean and standard deviation were given.
    fn new(words: &WatchWords, run: &Run) -> Result<Option<Self>, Error> {
        let first = run.from_first as usize;
        if first == 0 {
            return Ok(None);
        }
        let found = RunChange::find(&run.values[..first])?;
        // The last one alone is an odd reading, of which the charts tell.
        let own =
            found.filter(|found| found.p_value < BASELINE_LEVEL && found.change.began + 1 < first);
        let changed = match own {
            None => None,
            Some(own) => {
                // All readings tell more, unless the run has come back since.
                let all = RunChange::find(&run.values)?;
                all.filter(|all| all.change.began < first).or(Some(own))
            }
        };
        Ok(Some(Self {
            report: BaselineReport {
                first: run.from_first,
                was_chosen: words.first.is_none(),
                p_value: found.map(|found| found.p_value),
                changes: own.map(|own| told_of(&own)),
            },
            changed,
        }))
    }
}

/// The process as given.
fn known(words: &WatchWords, dimension: Dimension) -> Result<Option<Process>, String> {
    let (Some(mean), Some(sd)) = (words.mean, words.sd) else {
        return Ok(None);
    };
    let mean = raw("--mean", mean, dimension)?;
    let sd = raw("--sd", sd, dimension)?;
    Process::new(mean, sd)
        .map(Some)
        .map_err(|error| error.to_string())
}

/// Readings that follow one another under one name.
fn groups(log: &ReadingLog) -> Vec<Vec<f64>> {
    log.rows()
        .chunk_by(|a, b| a.labels == b.labels)
        .map(|rows| rows.iter().map(|row| row.raw).collect())
        .collect()
}

fn signals(words: &WatchWords, run: &Run, lasting: &Lasting) -> Vec<SignalReport> {
    let rules = if words.rules {
        ZoneRules::all()
    } else {
        ZoneRules::new(&[])
    };
    let mut signals: Vec<SignalReport> = rules
        .signals(&run.process, 1, &run.values)
        .into_iter()
        .map(|(index, rule)| signal(index, rule_in_words(rule), rule != ZoneRule::BeyondThree))
        .collect();
    let rule = if run.size > 1 {
        "its readings differ too much"
    } else {
        "a jump from the one before"
    };
    for (index, range) in run.ranges.iter().enumerate() {
        if range.is_some_and(|range| range > run.range_limit) {
            signals.push(signal(index, rule, false));
        }
    }
    if let Some(index) = lasting.signal {
        signals.push(signal(index, lasting.rule, true));
    }
    signals.sort_by_key(|signal| signal.reading);
    signals
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
        _ => "beyond the limits",
    }
}

/// The likelier of a step and a drift in all readings; in those up to the signal, if the run has come back since.
///
/// Where the mean comes from readings of the run, a change may lie among those, so that it is looked for without that mean.
fn change(run: &Run, signal: usize) -> Result<ChangeReport, Error> {
    let first = run.from_first as usize;
    if first > 0 {
        let is_among_first = signal <= first;
        if let Some(found) = RunChange::find(&run.values)?
            // The mean that a signal among the first leans on may itself lie on the wrong side of the change.
            && (is_among_first || found.change.began < signal)
        {
            return Ok(told_of(&found));
        }
        if let Some(found) = RunChange::find(&run.values[..signal])? {
            return Ok(told_of(&found));
        }
    }
    let whole = both(&run.process, &run.values)?;
    let (found, other) = if whole.0.began < signal {
        whole
    } else {
        both(&run.process, &run.values[..signal])?
    };
    Ok(changed(&found, found.gain - other.gain > CLEAR))
}

fn told_of(found: &RunChange) -> ChangeReport {
    changed(&found.change, found.is_clear)
}

fn changed(found: &ChangePoint, is_clear: bool) -> ChangeReport {
    ChangeReport {
        kind: match found.kind {
            Change::Drift => ChangeKind::Drift,
            _ => ChangeKind::Step,
        },
        began: found.began as u64 + 1,
        size: found.size,
        standard_error: found.standard_error,
        is_clear,
    }
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
