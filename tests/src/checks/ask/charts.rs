//! Charts of a run: constants and run lengths.

use super::super::table::Row;
use super::{Answer, Got, unknown};
use kerfwise_gauge::{
    Change, ChangePoint, ChartConstants, ChartLimits, Cusum, Ewma, Process, ZoneRule, ZoneRules,
};

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
        ("decision for", &[every, allowance]) => {
            Cusum::with_false_alarms_every(every, allowance).map(|chart| chart.decision())
        }
        ("limit for", &[every, weight]) => {
            Ewma::with_false_alarms_every(every, weight).map(|chart| chart.limit())
        }
        _ => return run(row, ask),
    };
    value.map(Answer::from).map_err(|error| error.to_string())
}

/// Lines of a chart, and runs that are drawn: at what makes the chart, then mean and standard deviation of the process, then
/// the readings.
fn run(row: &Row, ask: &str) -> Got {
    let (kind, what) = ask.split_once(": ").unwrap_or((ask, ""));
    match (kind, row.at.all()) {
        ("averages", at) => averages(row, what, at),
        ("sums", at) => sums(row, what, at),
        ("zones", at) => zones(row, what, at),
        ("step", at) => change(row, Change::Step, what, at),
        ("drift", at) => change(row, Change::Drift, what, at),
        ("mean of single readings", at) => {
            Ok(Process::of_individuals(at).map_err(text)?.mean().into())
        }
        ("sd of single readings", at) => {
            let process = Process::of_individuals(at).map_err(text)?;
            Ok(process.standard_deviation().into())
        }
        ("sd of groups of three", at) => {
            let groups: Vec<&[f64]> = at.chunks_exact(3).collect();
            let process = Process::of_subgroups(&groups).map_err(text)?;
            Ok(process.standard_deviation().into())
        }
        ("limits of means", &[mean, sd, n]) => {
            let lines = process(mean, sd)?.limits(n as usize);
            end(row, what, lines)
        }
        ("limits of ranges", &[sd, n]) => {
            let lines = process(0.0, sd)?.range_limits(n as usize);
            end(row, what, lines.map_err(text)?)
        }
        _ => Err(unknown(row)),
    }
}

fn text(error: kerfwise_gauge::Error) -> String {
    error.to_string()
}

fn process(mean: f64, sd: f64) -> Result<Process, String> {
    Process::new(mean, sd).map_err(text)
}

fn end(row: &Row, what: &str, lines: ChartLimits) -> Got {
    match what {
        "lower" => Ok(lines.lower.into()),
        "upper" => Ok(lines.upper.into()),
        _ => Err(unknown(row)),
    }
}

fn last(points: &[f64]) -> Got {
    let last = points.last().ok_or("no point")?;
    Ok(Answer::from(*last))
}

fn place(found: Option<usize>) -> Got {
    let place = found.ok_or("there is none")?;
    Ok(Answer::from(place as f64))
}

fn averages(row: &Row, what: &str, at: &[f64]) -> Got {
    let &[weight, limit, mean, sd, ref readings @ ..] = at else {
        return Err(unknown(row));
    };
    let chart = Ewma::new(weight, limit).map_err(text)?;
    let process = process(mean, sd)?;
    let run = chart.run(&process, readings);
    match what {
        "last point" => last(&run.points),
        "signal" => place(run.signal),
        "steady, lower" => end(row, "lower", chart.steady_limits(&process)),
        "steady, upper" => end(row, "upper", chart.steady_limits(&process)),
        end_of => end(row, end_of, *run.limits.last().ok_or("no point")?),
    }
}

fn sums(row: &Row, what: &str, at: &[f64]) -> Got {
    let &[allowance, decision, start, mean, sd, ref readings @ ..] = at else {
        return Err(unknown(row));
    };
    let chart = Cusum::new(allowance, decision).and_then(|chart| chart.head_start(start));
    let run = chart.map_err(text)?.run(&process(mean, sd)?, readings);
    match what {
        "last upper" => last(&run.upper),
        "last lower" => last(&run.lower),
        "signal" => place(run.signal),
        "began" => place(run.began),
        _ => Err(unknown(row)),
    }
}

fn zones(row: &Row, what: &str, at: &[f64]) -> Got {
    let &[n, mean, sd, ref values @ ..] = at else {
        return Err(unknown(row));
    };
    let signals = ZoneRules::all().signals(&process(mean, sd)?, n as usize, values);
    match what {
        "signals" => Ok(Answer::from(signals.len() as f64)),
        "first signal" => place(signals.first().map(|(at, _)| *at)),
        "last signal" => place(signals.last().map(|(at, _)| *at)),
        _ => Err(unknown(row)),
    }
}

fn change(row: &Row, kind: Change, what: &str, at: &[f64]) -> Got {
    let &[mean, sd, ref readings @ ..] = at else {
        return Err(unknown(row));
    };
    let found = ChangePoint::of(kind, &process(mean, sd)?, readings).map_err(text)?;
    Ok(Answer::from(match what {
        "began" => found.began as f64,
        "size" => found.size,
        "u of the size" => found.standard_error,
        "gain" => found.gain,
        _ => return Err(unknown(row)),
    }))
}
