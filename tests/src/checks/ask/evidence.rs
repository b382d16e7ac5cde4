//! What readings say: columns of files, analysis of variance, capability, tolerance factors, yields.

use super::super::table::{Case, Data, Row, folder};
use super::{Answer, Got, at, charts, level, unknown};
use kerfwise_gauge::{
    Confidence, Fraction, GaugeReading, GaugeStudy, Interaction, Interval, Log, LogReading, OneWay,
    Sample, Sides, Specification, Summary, Tolerance,
};

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
    let found = Summary::new(&readings).map_err(text)?;
    let none = || format!("no {}", row.ask);
    let value = match row.ask.as_str() {
        "mean" => found.sample.mean(),
        "sd" => found.sample.standard_deviation(),
        "u of the mean" => found.sample.standard_error(),
        "lag-1 autocorrelation" => found.autocorrelation.ok_or_else(none)?,
        "A²" => found.normality.ok_or_else(none)?.statistic,
        "A², adjusted" => found.normality.ok_or_else(none)?.adjusted,
        "p of A²" => found.normality.ok_or_else(none)?.p_value,
        "slope" => found.drift.ok_or_else(none)?.slope,
        "slope over its u" => {
            let drift = found.drift.ok_or_else(none)?;
            drift.slope / drift.standard_error
        }
        "p of the slope" => found.drift.ok_or_else(none)?.p_value,
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
        "mean of the group means" => found.mean(),
        "u of the mean" => found.standard_error(),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn log(row: &Row, data: &Data, confidence: Confidence) -> Got {
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
    let spreads = Log::new(&readings).map_err(text)?.spreads(confidence);
    let value = match row.ask.as_str() {
        "variance of set-ups" => spreads.set_up.variance,
        "variance of pieces" => spreads.piece.variance,
        "variance of repeats" => spreads.repeat.ok_or("no repeats")?.variance,
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
    let kept = || study.components(Interaction::Kept, confidence);
    let pooled = || study.components(Interaction::Pooled, confidence);
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
        "variance of repeats" => kept().repeatability.variance,
        "pooled variance of repeats" => pooled().repeatability.variance,
        "pooled variance of people" => pooled().person.variance,
        "pooled variance of parts" => pooled().part.variance,
        "pooled u of the gauge" => pooled().gauge.standard_deviation(),
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

fn from_numbers(row: &Row, confidence: Confidence) -> Got {
    if let Some(ask) = row.ask.strip_prefix("chart: ") {
        return charts::answer(row, ask);
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

/// At lower limit, upper limit, mean, standard deviation and number.
fn capability(row: &Row, confidence: Confidence) -> Got {
    let &[lower, upper, mean, sd, n] = row.at.all() else {
        return Err(format!("five arguments are wanted, not {:?}", at(row)));
    };
    let sample = Sample::new(n as u64, mean, sd).map_err(text)?;
    let limits = Specification::between(lower, upper).map_err(text)?;
    let found = limits.capability(&sample, confidence);
    let potential = found.potential.ok_or("no Cp")?;
    let value = match row.ask.as_str() {
        "Cp" => potential.value,
        "Cp, lower" | "Cp, upper" => end(row, potential.interval),
        "Cpk" => found.actual.value,
        "Cpk, lower" | "Cpk, upper" => end(row, found.actual.interval),
        "Cpk at least" => found.actual_at_least,
        "C: fraction outside" => found.outside.value,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}
