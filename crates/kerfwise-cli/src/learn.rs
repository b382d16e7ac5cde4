//! From a log of set-ups to sources for a plan.

mod places;

use self::places::Placed;
use crate::args::{LearnWords, LogOf};
use crate::evidence::{column, confidence, estimated, estimator, log, name, pair, raw, spread};
use crate::files;
use crate::new::toml_text;
use kerfwise::gauge::{Achieved, Bias, Confidence, Log, LogNames, LogReading, LogSources, Moments};
use kerfwise::plan::{Plan, ReadingLog};
use kerfwise::prelude::{Event, Expr, Quantity, Source, Stack};
use kerfwise::source::Dimension;
use kerfwise_report::{BiasReport, GroupsReport, Input, LearnReport, LogKind};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Limits of the sources for the worst case, in standard deviations.
const LIMITS_AT_SD: f64 = 3.0;

pub(crate) fn report(words: &LearnWords) -> Result<LearnReport, String> {
    let name = name(&words.file);
    let told = |error: kerfwise::gauge::Error| format!("{name}: {error}");
    let confidence = confidence(&words.file)?;
    let readings = log(&words.file, &[&words.set_up, &words.piece])?;
    let rows: Vec<LogReading<'_>> = readings
        .rows()
        .iter()
        .map(|row| LogReading {
            set_up: &row.labels[0],
            piece: &row.labels[1],
            reading: row.raw,
        })
        .collect();
    let log = Log::new(&rows).map_err(told)?;
    let found = log.spreads(confidence);
    let mut spreads = vec![
        spread("set-up to the next", &found.set_up),
        spread("piece to the next in a set-up", &found.piece),
    ];
    if let Some(repeat) = &found.repeat {
        spreads.push(spread("reading of a piece to the next", repeat));
    }
    let of = of(words, readings.column());
    let set_up = match of {
        LogOf::Tenon | LogOf::Fit => Event::tenon_set_up(),
        LogOf::Mortise => Event::mortise_set_up(),
    };
    let names = LogNames {
        name: &source_name(words, readings.column()),
        dimension: readings.dimension(),
        set_up: set_up.clone(),
        piece: Event::piece(),
        limits_at_sd: Some(LIMITS_AT_SD),
        readings: &format!(
            "{name}, column {:?}, {} set-ups, {} pieces",
            readings.column(),
            log.set_ups(),
            log.pieces()
        ),
    };
    let sources = log.sources(&names).map_err(told)?;
    let bias = bias(words, &readings, &rows, confidence)?;
    // A dial makes the mean, so that a plan with one has a place only for what the mean is off by.
    let predicted = bias
        .as_ref()
        .map(|bias| bias.predicted)
        .filter(|_| of != LogOf::Mortise);
    let first = First::new(&log, &names, predicted)?;
    let groups = groups(words, of, &log, &set_up)?;
    Ok(LearnReport {
        schema: LearnReport::SCHEMA.into(),
        column: column(&words.file, &readings),
        of: match of {
            LogOf::Tenon => LogKind::Tenon,
            LogOf::Mortise => LogKind::Mortise,
            LogOf::Fit => LogKind::Fit,
        },
        confidence: confidence.level(),
        set_ups: log.set_ups() as u64,
        pieces: log.pieces() as u64,
        estimator: estimator(found.estimator),
        mean: log.mean(),
        standard_error: log.standard_error(),
        mean_interval: pair(log.mean_interval(confidence)),
        spreads,
        set_ups_for_half: log.set_ups_for(1.5, confidence).ok(),
        bias,
        plan_text: format!(
            "{}\n{}",
            Placed {
                of,
                name: names.name,
                is_off: predicted.is_some(),
                is_length: readings.dimension() == Dimension::LENGTH,
                groups: groups.as_ref(),
            }
            .comments(),
            plan_text(&log, &names, &first)
        ),
        groups,
        sources: inputs(&first.source, &sources)?,
        cautions: kerfwise_report::cautions::all(),
    })
}

/// What was read: as told, or as the head of the column says.
fn of(words: &LearnWords, column: &str) -> LogOf {
    let head = column.to_lowercase();
    let named = || {
        let pairs = [("mortise", LogOf::Mortise), ("fit", LogOf::Fit)];
        let found = pairs.into_iter().find(|(word, _)| head.starts_with(word));
        found.map_or(LogOf::Tenon, |(_, of)| of)
    };
    words.of.unwrap_or_else(named)
}

/// What stands before the unit in the name of the column, made into a name of a source.
fn source_name(words: &LearnWords, column: &str) -> String {
    if let Some(name) = &words.name {
        return name.clone();
    }
    let bare = column.rsplit_once('(').map_or(column, |(bare, _)| bare);
    let plain = |c: char| if c.is_ascii_alphanumeric() { c } else { '_' };
    let name: String = bare.trim().chars().map(plain).collect();
    if name.starts_with(|c: char| c.is_ascii_alphabetic()) {
        name
    } else {
        "reading".to_owned()
    }
}

/// What all set-ups have in common: their mean, or what it is off by.
struct First {
    part: &'static str,
    estimate: f64,
    source: Source,
}

impl First {
    fn new(log: &Log, names: &LogNames<'_>, predicted: Option<f64>) -> Result<Self, String> {
        let (part, estimate) = match predicted {
            Some(predicted) => ("off", log.mean() - predicted),
            None => ("mean", log.mean()),
        };
        let quantity = |raw| Quantity::new(raw, names.dimension);
        let freedom = log.set_ups() as f64 - 1.0;
        let source = Source::new(&format!("{}.{part}", names.name), quantity(estimate))
            .measured(names.readings)
            .student_t(quantity(log.standard_error()), freedom)
            .build()
            .map_err(|error| error.to_string())?;
        Ok(Self {
            part,
            estimate,
            source,
        })
    }
}

fn inputs(first: &Source, sources: &LogSources) -> Result<Vec<Input>, String> {
    let [first, set_up, piece] = [first, &sources.set_up, &sources.piece].map(Expr::source);
    let sum = Stack::builder()
        .outcome_without_band("reading", &(first + set_up + piece))
        .build()
        .map_err(|error| error.to_string())?;
    Ok(Input::all(&sum))
}

/// The sources as a plan file has them (docs/plan-file.md).
fn plan_text(log: &Log, names: &LogNames<'_>, first: &First) -> String {
    let found = log.spreads(Confidence::default());
    let unit = names.dimension.raw_unit();
    let quantity = |x: f64, digits| format!("\"{} {unit}\"", short(x, digits)).replace(" \"", "\"");
    let freedom = log.set_ups() as f64 - 1.0;
    let mut text = String::new();
    let mut source = |part: &str, estimate: f64, law: &str, event: Option<&Event>| {
        let (name, readings) = (names.name, toml_text(names.readings));
        let _never = writeln!(text, "[source.\"{name}.{part}\"]");
        let _never = writeln!(text, "estimate = {}", quantity(estimate, 10));
        text.push_str(law);
        if let Some(event) = event {
            let _never = writeln!(text, "event = {}", toml_text(event.name()));
        }
        let _never = writeln!(text, "measured = {readings}\n");
    };
    // Of one or two degrees of freedom no standard deviation is known.
    let limits = |freedom: f64| match freedom > 2.0 {
        true => format!("limits_at_sd = {LIMITS_AT_SD}\n"),
        false => String::new(),
    };
    let scale = quantity(log.standard_error(), 5);
    let law = format!(
        "student_t = {{ scale = {scale}, degrees_of_freedom = {freedom} }}\n{}",
        limits(freedom)
    );
    source(first.part, first.estimate, &law, None);
    for (part, component, event) in [
        ("set_up", found.set_up, &names.set_up),
        ("piece", found.piece, &names.piece),
    ] {
        let law = format!(
            "normal = {}\ndegrees_of_freedom = {}\nlimits_at_sd = {LIMITS_AT_SD}\n",
            quantity(component.standard_deviation(), 5),
            short(component.degrees_of_freedom, 5)
        );
        source(part, 0.0, &law, Some(event));
    }
    text.truncate(text.trim_end().len());
    text.push('\n');
    text
}

/// A number in so many significant digits: no notebook knows more of a spread than five.
fn short(x: f64, digits: usize) -> f64 {
    format!("{x:.0$e}", digits - 1).parse().unwrap_or(x)
}

fn bias(
    words: &LearnWords,
    readings: &ReadingLog,
    rows: &[LogReading<'_>],
    confidence: Confidence,
) -> Result<Option<BiasReport>, String> {
    let told = |error: kerfwise::gauge::Error| error.to_string();
    let dimension = readings.dimension();
    let Some(predicted) = words.predicted else {
        return Ok(None);
    };
    let predicted = raw("--predicted", predicted, dimension)?;
    let spread = match words.predicted_spread {
        Some(spread) => raw("--predicted-spread", spread, dimension)?,
        None => 0.0,
    };
    let achieved = achieved(rows).map_err(told)?;
    let rows = achieved.iter().map(|&achieved| Achieved {
        predicted,
        spread,
        achieved,
    });
    let rows: Vec<Achieved> = rows.collect();
    let found = Bias::new(&rows).map_err(told)?;
    Ok(Some(BiasReport {
        predicted,
        mean: found.differences().mean(),
        standard_error: found.differences().standard_error(),
        interval: pair(found.interval(confidence)),
        p_value: found.p_value(),
        is_steady: found.is_steady(confidence),
        spread_ratio: found.spread_ratio(confidence).map(estimated),
    }))
}

/// Of each set-up, the mean of its pieces' means.
fn achieved(rows: &[LogReading<'_>]) -> Result<Vec<f64>, kerfwise::gauge::Error> {
    let mut pieces: BTreeMap<(&str, &str), Moments> = BTreeMap::new();
    for row in rows {
        pieces
            .entry((row.set_up, row.piece))
            .or_default()
            .add(row.reading)?;
    }
    let mut set_ups: BTreeMap<&str, Moments> = BTreeMap::new();
    for ((set_up, _), piece) in &pieces {
        if let Some(mean) = piece.mean() {
            set_ups.entry(set_up).or_default().add(mean)?;
        }
    }
    Ok(set_ups.values().filter_map(Moments::mean).collect())
}

/// The sources of the plan that are in what was read; of a plan without a shifted tenon all.
fn read_of(of: LogOf, plan: &Plan) -> Result<Vec<Source>, String> {
    let Some(joint) = plan.joint() else {
        return Ok(plan.stack().sources().into_iter().cloned().collect());
    };
    let fit = joint
        .fit()
        .map_err(|error| format!("{}: {error}", plan.name()))?
        .sources();
    let tenon = joint.tenon().thickness().sources();
    Ok(match of {
        LogOf::Fit => fit,
        LogOf::Tenon => tenon,
        LogOf::Mortise => fit
            .into_iter()
            .filter(|source| !tenon.iter().any(|other| other.is_same(source)))
            .collect(),
    })
}

fn groups(
    words: &LearnWords,
    of: LogOf,
    log: &Log,
    set_up: &Event,
) -> Result<Option<GroupsReport>, String> {
    let Some(path) = &words.plan else {
        return Ok(None);
    };
    let plan = files::plan(path)?;
    let sources = read_of(of, &plan)?;
    let found = log.groups(&sources, set_up, &Event::piece());
    Ok(Some(GroupsReport {
        plan: plan.name().to_owned(),
        set_up: found.set_up,
        piece: found.piece,
        unseen: found.unseen,
        advice: found.advice,
    }))
}
