//! What readings say: columns of files, analysis of variance, capability, tolerance factors, yields.

use super::super::table::{Case, Data, Row, folder};
use super::{Answer, Got, at, charts, level, unknown};
use kerfwise_gauge::{
    Achieved, Bias, Component, Confidence, Fraction, GaugeReading, GaugeStudy, Interaction,
    Interval, Log, LogNames, LogReading, OneWay, Sample, Sides, Specification, Summary, Tolerance,
};
use kerfwise_plan::Plan;
use kerfwise_source::{Dimension, Distribution, Event, Source};

pub(super) fn answer(row: &Row, case: &Case) -> Got {
    let confidence = Confidence::new(level(row)).map_err(text)?;
    match &case.data {
        Some(data) if data.piece.is_some() => log(row, data, confidence),
        Some(data) if data.person.is_some() => study(row, data, confidence),
        Some(data) if data.group.is_some() => one_way(row, data, confidence),
        Some(data) => summary(row, data, confidence),
        None => from_numbers(row, confidence),
    }
}

fn text(error: kerfwise_gauge::Error) -> String {
    error.to_string()
}

fn end(row: &Row, interval: Interval) -> f64 {
    if row.ask.ends_with("lower") {
        interval.lower
    } else {
        interval.upper
    }
}

/// The named columns of a file, line by line.
fn columns(data: &Data, names: &[&str]) -> Result<Vec<Vec<String>>, String> {
    let near = folder().join("data").join(&data.file);
    let far = folder().join("../../datasets/published").join(&data.file);
    let path = if near.exists() { near } else { far };
    let text = std::fs::read_to_string(&path).map_err(|e| format!("{}: {e}", data.file))?;
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let head: Vec<&str> = lines.next().unwrap_or("").split(',').collect();
    let places = names
        .iter()
        .map(|name| head.iter().position(|h| h == name))
        .collect::<Option<Vec<usize>>>()
        .ok_or_else(|| format!("{}: no column {names:?}", data.file))?;
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let cell = |&place: &usize| cells.get(place).map(|c| (*c).to_owned());
            places.iter().map(cell).collect::<Option<Vec<String>>>()
        })
        .collect::<Option<_>>()
        .ok_or_else(|| format!("{}: a short line", data.file))
}

fn reading(cell: &str) -> Result<f64, String> {
    cell.parse().map_err(|_| format!("{cell} is no number"))
}

fn summary(row: &Row, data: &Data, confidence: Confidence) -> Got {
    let lines = columns(data, &[&data.column])?;
    let readings = lines
        .iter()
        .map(|line| reading(&line[0]))
        .collect::<Result<Vec<f64>, String>>()?;
    summary_of(row, &row.ask, &readings, confidence)
}

fn summary_of(row: &Row, ask: &str, readings: &[f64], confidence: Confidence) -> Got {
    let found = Summary::new(readings).map_err(text)?;
    let none = || format!("no {}", row.ask);
    let drift = || found.drift.ok_or_else(none);
    let farthest = || found.outliers.first().ok_or_else(none);
    let value = match ask {
        "mean" => found.sample.mean(),
        "sd" => found.sample.standard_deviation(),
        "u of the mean" => found.sample.standard_error(),
        "lag-1 autocorrelation" => found.autocorrelation.ok_or_else(none)?,
        "A²" => found.normality.ok_or_else(none)?.statistic,
        "A², adjusted" => found.normality.ok_or_else(none)?.adjusted,
        "p of A²" => found.normality.ok_or_else(none)?.p_value,
        "median" => found.median,
        "smallest" => found.smallest,
        "largest" => found.largest,
        "robust spread" => found.robust_spread,
        "number of different ones" => found.distinct as f64,
        "number of outliers" => found.outliers.len() as f64,
        "the farthest" => farthest()?.value,
        "deviate of the farthest" => farthest()?.deviate,
        "limit of the farthest" => farthest()?.critical,
        "u of the slope" => drift()?.standard_error,
        "slope, lower" | "slope, upper" => end(row, drift()?.interval(confidence)),
        "slope" => drift()?.slope,
        "slope over its u" => {
            let drift = drift()?;
            drift.slope / drift.standard_error
        }
        "p of the slope" => drift()?.p_value,
        "mean, lower" | "mean, upper" => end(row, found.sample.mean_interval(confidence)),
        "sd, lower" | "sd, upper" => end(row, found.sample.standard_deviation_interval(confidence)),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn one_way(row: &Row, data: &Data, confidence: Confidence) -> Got {
    let group = data.group.as_deref().unwrap_or_default();
    let mut groups: Vec<(String, Vec<f64>)> = Vec::new();
    for line in columns(data, &[group, &data.column])? {
        let y = reading(&line[1])?;
        match groups.iter_mut().find(|(name, _)| *name == line[0]) {
            Some((_, all)) => all.push(y),
            None => groups.push((line[0].clone(), vec![y])),
        }
    }
    let groups: Vec<Vec<f64>> = groups.into_iter().map(|(_, all)| all).collect();
    let found = OneWay::new(&groups).map_err(text)?;
    let value = match row.ask.as_str() {
        "sum of squares between" => found.between().sum_of_squares,
        "sum of squares within" => found.within().sum_of_squares,
        "mean square between" => found.between().mean_square(),
        "mean square within" => found.within().mean_square(),
        "F" => found.f(),
        "p of F" => found.p_value(),
        "R²" => found.r_squared(),
        "variance within" => found.within_component(confidence).variance,
        "variance between" => found.between_component(confidence).variance,
        "variance of one reading" => found.total_component(confidence).variance,
        "variance within, lower" | "variance within, upper" => {
            end(row, found.within_component(confidence).interval)
        }
        "variance between, lower" | "variance between, upper" => {
            end(row, found.between_component(confidence).interval)
        }
        "variance of one reading, lower" | "variance of one reading, upper" => {
            end(row, found.total_component(confidence).interval)
        }
        "mean, lower" | "mean, upper" => end(row, found.mean_interval(confidence)),
        "mean of the group means" => found.mean(),
        "u of the mean" => found.standard_error(),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn read_log(data: &Data) -> Result<Log, String> {
    let (group, piece) = (
        data.group.as_deref().unwrap_or("set_up"),
        data.piece.as_deref().unwrap_or_default(),
    );
    let lines = columns(data, &[group, piece, &data.column])?;
    let readings = lines
        .iter()
        .map(|line| {
            Ok(LogReading {
                set_up: &line[0],
                piece: &line[1],
                reading: reading(&line[2])?,
            })
        })
        .collect::<Result<Vec<_>, String>>()?;
    Log::new(&readings).map_err(text)
}

/// How many of a plan's sources the log tells as one group.
pub(super) fn groups(row: &Row, case: &Case, plan: &Plan) -> Got {
    let log = read_log(case.data.as_ref().ok_or("which log?")?)?;
    let sources: Vec<Source> = plan.stack().sources().into_iter().cloned().collect();
    let found = log.groups(&sources, &Event::tenon_set_up(), &Event::piece());
    let count = match row.ask.as_str() {
        "groups: with the set-up" => found.set_up.len(),
        "groups: with the piece" => found.piece.len(),
        "groups: unseen" => found.unseen.len(),
        "groups: measurements that tell more" => found.advice.len(),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(count as f64))
}

fn log(row: &Row, data: &Data, confidence: Confidence) -> Got {
    let log = read_log(data)?;
    if let Some(part) = row.ask.strip_prefix("source: ") {
        return of_source(row, part, &log);
    }
    let spreads = log.spreads(confidence);
    let component = of_component(row, &row.ask, |name| match name {
        "set-ups" => Some(spreads.set_up),
        "pieces" => Some(spreads.piece),
        "repeats" => spreads.repeat,
        _ => None,
    });
    if let Some(answer) = component {
        return Ok(answer);
    }
    let value = match row.ask.as_str() {
        "mean" => log.mean(),
        "u of the mean" => log.standard_error(),
        "mean, lower" | "mean, upper" => end(row, log.mean_interval(confidence)),
        "least number of set-ups" => log.set_ups_for(at(row)?, confidence).map_err(text)? as f64,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

/// The sources that a log of thou makes, in inches.
fn of_source(row: &Row, part: &str, log: &Log) -> Got {
    let names = LogNames {
        name: "tenon",
        dimension: Dimension::LENGTH,
        set_up: Event::tenon_set_up(),
        piece: Event::piece(),
        limits_at_sd: Some(2.5),
        readings: "a log",
    };
    let sources = log.sources(&names).map_err(text)?;
    let source = match part.split_once(": ") {
        Some((_, "mean")) => sources.mean,
        Some((_, "set-ups")) => sources.set_up,
        Some((_, "pieces")) => sources.piece,
        _ => return Err(unknown(row)),
    };
    let u = source.standard_uncertainty().ok_or("no u")?;
    let value = match part.split_once(": ").map(|(what, _)| what) {
        Some("u") => u.raw(),
        Some("estimate") => source.estimate().raw(),
        Some("degrees of freedom") => source.degrees_of_freedom(),
        Some("upper limit") => source.bounds().ok_or("no limits")?.1,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn study(row: &Row, data: &Data, confidence: Confidence) -> Got {
    let (part, person) = (
        data.group.as_deref().unwrap_or("part"),
        data.person.as_deref().unwrap_or_default(),
    );
    let lines = columns(data, &[part, person, &data.column])?;
    let readings = lines
        .iter()
        .map(|line| {
            Ok(GaugeReading {
                part: &line[0],
                person: &line[1],
                reading: reading(&line[2])?,
            })
        })
        .collect::<Result<Vec<_>, String>>()?;
    let study = GaugeStudy::new(&readings).map_err(text)?;
    let value = match row.ask.as_str() {
        "sum of squares of parts" => study.part().sum_of_squares,
        "sum of squares of people" => study.person().sum_of_squares,
        "sum of squares of the interaction" => study.interaction().sum_of_squares,
        "sum of squares of repeats" => study.repeat().sum_of_squares,
        "mean square of parts" => study.part().mean_square(),
        "mean square of people" => study.person().mean_square(),
        "mean square of the interaction" => study.interaction().mean_square(),
        "mean square of repeats" => study.repeat().mean_square(),
        "p of the interaction" => study.interaction_p_value().ok_or("no p")?,
        _ => return of_components(row, &study, confidence),
    };
    Ok(Answer::from(value))
}

/// What begins with "pooled" takes the interaction for none, what begins with "tested" if that may be so.
fn of_components(row: &Row, study: &GaugeStudy, confidence: Confidence) -> Got {
    let modes = [
        ("pooled ", Interaction::Pooled),
        ("tested ", Interaction::Tested),
        ("", Interaction::Kept),
    ];
    let mode = modes
        .into_iter()
        .find_map(|(word, mode)| Some((row.ask.strip_prefix(word)?, mode)));
    let (ask, mode) = mode.ok_or_else(|| unknown(row))?;
    let found = study.components(mode, confidence);
    if ask == "distinct classes" {
        return Ok(found.distinct_classes().into());
    }
    if let Some(end_of) = ask.strip_prefix("share of the band") {
        let (share, interval) = found.share_of_band(at(row)?).map_err(text)?;
        return Ok(if end_of.is_empty() {
            share
        } else {
            end(row, interval)
        }
        .into());
    }
    if ask == "u of the gauge" {
        return Ok(found.gauge.standard_deviation().into());
    }
    let none = || Err(unknown(row));
    of_component(row, ask, |name| match name {
        "repeats" => Some(found.repeatability),
        "people" => Some(found.person),
        "the interaction" => found.interaction,
        "people and interaction" => Some(found.reproducibility),
        "the gauge" => Some(found.gauge),
        "parts" => Some(found.part),
        "one reading" => Some(found.total),
        _ => None,
    })
    .map_or_else(none, Ok)
}

/// "variance of …", its ends, or "degrees of freedom of …".
fn of_component(row: &Row, ask: &str, named: impl Fn(&str) -> Option<Component>) -> Option<Answer> {
    if let Some(name) = ask.strip_prefix("degrees of freedom of ") {
        return Some(named(name)?.degrees_of_freedom.into());
    }
    let name = ask.strip_prefix("variance of ")?;
    Some(match name.split_once(", ") {
        None => named(name)?.variance.into(),
        Some((name, _)) => end(row, named(name)?.interval).into(),
    })
}

fn from_numbers(row: &Row, confidence: Confidence) -> Got {
    if let Some(ask) = row.ask.strip_prefix("chart: ") {
        return charts::answer(row, ask);
    }
    if let Some(ask) = row.ask.strip_prefix("readings: ") {
        return summary_of(row, ask, row.at.all(), confidence);
    }
    if let Some(ask) = row.ask.strip_prefix("bias: ") {
        return bias(row, ask, confidence);
    }
    if row.ask.starts_with('C') && !row.ask.starts_with("Clopper") {
        return capability(row, confidence);
    }
    let value = match (row.ask.as_str(), row.at.all()) {
        ("Clopper-Pearson, lower" | "Clopper-Pearson, upper", &[k, n]) => {
            end(row, fraction(k, n)?.exact(confidence))
        }
        ("Wilson, lower" | "Wilson, upper", &[k, n]) => {
            end(row, fraction(k, n)?.wilson(confidence))
        }
        ("Jeffreys, lower" | "Jeffreys, upper", &[k, n]) => {
            end(row, fraction(k, n)?.jeffreys(confidence))
        }
        ("one-sided upper limit", &[k, n]) => fraction(k, n)?.exact_upper(confidence),
        ("tolerance limit, lower" | "tolerance limit, upper", &[n, mean, sd, content]) => {
            let tolerance = Tolerance::new(content, confidence).map_err(text)?;
            let sample = Sample::new(n as u64, mean, sd).map_err(text)?;
            end(row, tolerance.limits(&sample).map_err(text)?)
        }
        ("tolerance limit of one side, lower", &[n, mean, sd, content]) => {
            let tolerance = Tolerance::new(content, confidence).map_err(text)?;
            let sample = Sample::new(n as u64, mean, sd).map_err(text)?;
            tolerance.lower_limit(&sample).map_err(text)?
        }
        ("tolerance limit of one side, upper", &[n, mean, sd, content]) => {
            let tolerance = Tolerance::new(content, confidence).map_err(text)?;
            let sample = Sample::new(n as u64, mean, sd).map_err(text)?;
            tolerance.upper_limit(&sample).map_err(text)?
        }
        ("free limit, lower" | "free limit, upper", [content, readings @ ..]) => {
            let tolerance = Tolerance::new(*content, confidence).map_err(text)?;
            end(row, tolerance.free_limits(readings).map_err(text)?)
        }
        (
            "counted outside" | "counted outside, lower" | "counted outside, upper",
            &[lower, upper, ref readings @ ..],
        ) => {
            let limits = specification(lower, upper)?;
            let found = limits.counted_outside(readings, confidence).map_err(text)?;
            if row.ask.ends_with("outside") {
                found.value
            } else {
                end(row, found.interval)
            }
        }
        ("one-sided lower limit", &[k, n]) => fraction(k, n)?.exact_lower(confidence),
        ("tolerance factor, one side", &[n, content]) => {
            let tolerance = Tolerance::new(content, confidence).map_err(text)?;
            tolerance.one_sided_factor(&unit(n)?).map_err(text)?
        }
        ("tolerance factor, two sides", &[n, content]) => {
            let tolerance = Tolerance::new(content, confidence).map_err(text)?;
            tolerance.two_sided_factor(&unit(n)?).map_err(text)?
        }
        ("least number, one side", &[content, order]) => {
            least(content, order, Sides::One, confidence)?
        }
        ("least number, two sides", &[content, order]) => {
            least(content, order, Sides::Two, confidence)?
        }
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn fraction(k: f64, n: f64) -> Result<Fraction, String> {
    Fraction::new(k as u64, n as u64).map_err(text)
}

/// Mean 0 and standard deviation 1: then limits are factors.
fn unit(n: f64) -> Result<Sample, String> {
    Sample::new(n as u64, 0.0, 1.0).map_err(text)
}

fn least(content: f64, order: f64, sides: Sides, confidence: Confidence) -> Result<f64, String> {
    let tolerance = Tolerance::new(content, confidence).map_err(text)?;
    let n = tolerance.least_count(order as u64, sides).map_err(text)?;
    Ok(n as f64)
}

/// Achieved less predicted, at predicted, spread, achieved, predicted, …
fn bias(row: &Row, ask: &str, confidence: Confidence) -> Got {
    let rows: Vec<Achieved> = row
        .at
        .all()
        .chunks_exact(3)
        .map(|x| Achieved {
            predicted: x[0],
            spread: x[1],
            achieved: x[2],
        })
        .collect();
    let found = Bias::new(&rows).map_err(text)?;
    let ratio = || found.spread_ratio(confidence).ok_or("no ratio");
    let value = match ask {
        "mean" => found.differences().mean(),
        "sd" => found.differences().standard_deviation(),
        "mean, lower" | "mean, upper" => end(row, found.interval(confidence)),
        "p" => found.p_value(),
        "ratio of spreads" => ratio()?.value,
        "ratio of spreads, lower" | "ratio of spreads, upper" => end(row, ratio()?.interval),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

/// Percentile indices of a law, at the two limits.
pub(super) fn percentiles(row: &Row, law: &Distribution) -> Got {
    let &[lower, upper] = row.at.all() else {
        return Err("two limits are wanted".to_owned());
    };
    let (potential, actual) = specification(lower, upper)?.indices_of(law);
    let value = match row.ask.as_str() {
        "percentile index Pp" => potential,
        "percentile index Ppk" => actual,
        _ => None,
    };
    value.map(Answer::from).ok_or_else(|| unknown(row))
}

/// A limit that is infinite is none.
fn specification(lower: f64, upper: f64) -> Result<Specification, String> {
    match (lower.is_finite(), upper.is_finite()) {
        (false, _) => Specification::at_most(upper),
        (_, false) => Specification::at_least(lower),
        _ => Specification::between(lower, upper),
    }
    .map_err(text)
}

/// At lower limit, upper limit, mean, standard deviation and number.
fn capability(row: &Row, confidence: Confidence) -> Got {
    let &[lower, upper, mean, sd, n] = row.at.all() else {
        return Err(format!("five arguments are wanted, not {:?}", at(row)));
    };
    let sample = Sample::new(n as u64, mean, sd).map_err(text)?;
    let found = specification(lower, upper)?.capability(&sample, confidence);
    let potential = || found.potential.ok_or("no Cp");
    let value = match row.ask.as_str() {
        "Cp" => potential()?.value,
        "Cp, lower" | "Cp, upper" => end(row, potential()?.interval),
        "Cpk" => found.actual.value,
        "Cpk, lower" | "Cpk, upper" => end(row, found.actual.interval),
        "Cpk at least" => found.actual_at_least,
        "C: fraction outside" => found.outside.value,
        "C: fraction outside, lower" | "C: fraction outside, upper" => {
            end(row, found.outside.interval)
        }
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
