//! `[source.NAME]`: one source as a plan describes it.

use crate::document::{Entry, Value};
use crate::event::Events;
use crate::fault::Sink;
use crate::files::Files;
use crate::law::{self, LAWS, OneDimension};
use crate::near::{quoted, suggestion};
use crate::read::{Bare, Section, number, pair, text};
use kerfwise_joint::wood::Species;
use kerfwise_source::{
    Dimension, Distribution, Error, ErrorKind, Event, Quantity, Source, SourcePart, TypeA,
};
use std::fmt;
use std::ops::Range;

/// What a plan says about a source. It becomes one source, or one for each of the two cuts.
#[derive(Debug)]
pub(crate) struct Description {
    estimate: Quantity,
    error: Option<Distribution>,
    limits: Option<Limits>,
    event: Option<Event>,
    degrees_of_freedom: Option<f64>,
    provenance: Option<(&'static str, String)>,
    readings: Option<Taken>,
    /// Its numbers, where none has a unit.
    bare: Vec<Bare>,
}

/// The readings that a source leans on, for messages.
#[derive(Debug, Clone)]
pub(crate) struct Taken {
    path: String,
    column: String,
    count: usize,
    /// Of readings of the size itself the first that is not above 0: its number from 1.
    not_above_0: Option<usize>,
}

impl Taken {
    pub(crate) fn not_above_0(&self) -> Option<String> {
        let number = self.not_above_0?;
        let (path, column, count) = (&self.path, &self.column, self.count);
        Some(format!(
            "{path}, column {column:?}: reading {number} of {count} is not above 0"
        ))
    }
}

impl fmt::Display for Taken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (path, column, count) = (&self.path, &self.column, self.count);
        write!(f, "the {count} readings of {path}, column {column:?},")
    }
}

#[derive(Debug, Clone, Copy)]
enum Limits {
    Between(f64, f64),
    StandardDeviations(f64),
}

/// Where the parts of a description stand, for the faults that only building the source finds.
#[derive(Debug)]
pub(crate) struct Places {
    key: Range<usize>,
    estimate: Range<usize>,
    error: Range<usize>,
    limits: Range<usize>,
    event: Range<usize>,
    degrees_of_freedom: Range<usize>,
}

impl Description {
    /// Whether its numbers were measured and yet have an error of nought.
    pub(crate) fn is_measured_without_spread(&self) -> bool {
        let is_measured = matches!(self.provenance, Some(("measured", _)));
        is_measured && matches!(self.error, Some(Distribution::Point(_)))
    }

    pub(crate) fn readings(&self) -> Option<&Taken> {
        self.readings.as_ref()
    }

    pub(crate) fn bare(&self) -> &[Bare] {
        &self.bare
    }

    /// Builds a source of this name, redrawn by the event that the plan states, or else by `event`.
    pub(crate) fn build(&self, name: &str, event: Event) -> Result<Source, Error> {
        let raw = |x| Quantity::new(x, self.estimate.dimension());
        let mut builder =
            Source::new(name, self.estimate).event(self.event.clone().unwrap_or(event));
        if let Some(error) = &self.error {
            builder = builder.error(error.clone());
        }
        builder = match self.limits {
            Some(Limits::Between(lower, upper)) => builder.limits(raw(lower), raw(upper)),
            Some(Limits::StandardDeviations(k)) => builder.limits_at_sd(k),
            None => builder,
        };
        if let Some(dof) = self.degrees_of_freedom {
            builder = builder.degrees_of_freedom(dof);
        }
        builder = match &self.provenance {
            Some(("measured", text)) => builder.measured(text),
            Some(("stated", text)) => builder.stated(text),
            Some((_, text)) => builder.assumed(text),
            None => builder,
        };
        builder.build()
    }

    /// Tells what building found, each part at its place.
    pub(crate) fn tell(&self, places: &Places, name: &str, error: &Error, sink: &mut Sink) {
        let ErrorKind::Source { faults, .. } = error.kind() else {
            sink.at(&places.error, format!("source {name:?}: {error}"));
            return;
        };
        for fault in faults {
            let place = match fault.part {
                SourcePart::Estimate => &places.estimate,
                SourcePart::Error => &places.error,
                SourcePart::Limits => &places.limits,
                SourcePart::Event => &places.event,
                SourcePart::DegreesOfFreedom => &places.degrees_of_freedom,
                _ => &places.key,
            };
            let has_no_spread = |law: &Distribution| law.standard_deviation().is_none();
            if let (SourcePart::Limits, Some(taken)) = (fault.part, &self.readings)
                && self.error.as_ref().is_some_and(has_no_spread)
            {
                let message = format!(
                    "source {name:?}: {taken} are too few to say how far their mean may be off: \
                     of fewer than 4 it has no standard deviation"
                );
                sink.at(place, message)
                    .help("take four readings or more, or state limits in place of limits_at_sd");
                continue;
            }
            sink.at(place, format!("source {name:?}: {}", fault.message));
        }
    }
}

/// Reads a description; `None` when it is too faulty to build a source of.
pub(crate) fn read(
    entry: &Entry,
    events: &Events,
    files: &mut Files<'_>,
    sink: &mut Sink,
) -> Option<(Description, Places)> {
    let name = format!("source {:?}", entry.key);
    let section = Section::of(&name, entry, sink)?;
    let mut reader = Reader {
        name,
        section,
        numbers: OneDimension::default(),
        sink,
    };
    let estimate_value = reader.section.value("estimate");
    let estimate = reader.quantity(estimate_value, "estimate");
    let law = reader.law(files);
    let limits_entry = reader
        .section
        .at_most_one_of(&["limits", "limits_at_sd"], reader.sink);
    let limits = reader.limits(limits_entry);
    let event_value = reader.section.value("event");
    let event = event_value.and_then(|value| events.get(value, reader.sink));
    let dof_value = reader.section.value("degrees_of_freedom");
    let dof = reader.number(dof_value, "degrees_of_freedom");
    let provenance = reader.provenance(law.as_ref());
    let readings_dimension = law.as_ref().and_then(|law| law.readings_dimension);
    let dimension = reader.dimension(readings_dimension);
    reader.check_estimate(estimate_value, law.as_ref());
    let bare = match readings_dimension {
        None => reader.numbers.bare(reader.sink),
        Some(_) => Vec::new(),
    };
    let place = |value: Option<&Value>| value.map_or(entry.key_span.clone(), |v| v.span.clone());
    let places = Places {
        key: entry.key_span.clone(),
        estimate: place(estimate_value),
        error: law
            .as_ref()
            .map_or(entry.key_span.clone(), |law| law.span.clone()),
        limits: place(limits_entry.map(|entry| &entry.value)),
        event: place(event_value),
        degrees_of_freedom: place(dof_value),
    };
    reader.section.close(reader.sink);
    let estimate = estimate?;
    // Without a number nothing is known of it, not even its dimension; that was told above.
    if law.is_none() && estimate.is_none() {
        return None;
    }
    let raw = estimate.or(law.as_ref().and_then(|law| law.estimate));
    let law_readings = law.as_ref().and_then(|law| law.readings.clone());
    let law_dof = law.as_ref().and_then(|law| law.degrees_of_freedom);
    let description = Description {
        estimate: Quantity::new(raw.unwrap_or(0.0), dimension?),
        error: match law {
            Some(law) => Some(law.distribution?),
            None => None,
        },
        limits: limits?,
        event,
        degrees_of_freedom: dof?.or(law_dof),
        provenance,
        readings: law_readings,
        bare,
    };
    Some((description, places))
}

/// The law of a source and what it brings along.
struct Law {
    /// `None` when it is faulty.
    distribution: Option<Distribution>,
    span: Range<usize>,
    /// What the readings or the table say, where the law comes from them.
    estimate: Option<f64>,
    degrees_of_freedom: Option<f64>,
    readings_dimension: Option<Dimension>,
    readings: Option<Taken>,
    /// Where the numbers come from, where the law says it.
    from: Option<(&'static str, String)>,
}

struct Reader<'a, 'b> {
    name: String,
    section: Section<'a>,
    numbers: OneDimension<'a>,
    sink: &'b mut Sink,
}

// What may be missing is doubly optional below: `None` is a fault, `Some(None)` is "not there".
impl<'a> Reader<'a, '_> {
    fn what(&self, key: &str) -> String {
        format!("{}: {key}", self.name)
    }

    fn quantity(&mut self, value: Option<&'a Value>, key: &str) -> Option<Option<f64>> {
        let Some(value) = value else {
            return Some(None);
        };
        let what = self.what(key);
        self.numbers.quantity(value, &what, self.sink).map(Some)
    }

    fn number(&mut self, value: Option<&Value>, key: &str) -> Option<Option<f64>> {
        let Some(value) = value else {
            return Some(None);
        };
        let what = self.what(key);
        number(value, &what, self.sink).map(Some)
    }

    fn limits(&mut self, entry: Option<&'a Entry>) -> Option<Option<Limits>> {
        let Some(entry) = entry else {
            return Some(None);
        };
        let what = self.what(&entry.key);
        let limits = if entry.key == "limits" {
            let (lower, upper) = pair(&entry.value, &what, self.sink)?;
            let lower = self.numbers.quantity(lower, &what, self.sink);
            let upper = self.numbers.quantity(upper, &what, self.sink);
            Limits::Between(lower?, upper?)
        } else {
            Limits::StandardDeviations(number(&entry.value, &what, self.sink)?)
        };
        Some(Some(limits))
    }

    /// The law, if the source has one: without, it is known exactly.
    fn law(&mut self, files: &mut Files<'_>) -> Option<Law> {
        let entry = self.section.at_most_one_of(&LAWS, self.sink);
        let column = self.section.get("column");
        let usage = self.section.get("use");
        let direction = self.section.get("direction");
        if let Some(direction) = direction.filter(|_| entry.is_none_or(|entry| entry.key != "wood"))
        {
            let message = format!("{} has a direction but no wood", self.name);
            self.sink
                .at(&direction.key_span, message)
                .help("add wood = \"white ash\" or another, or take it away");
        }
        let Some(entry) = entry else {
            self.only_with_readings([column, usage]);
            return None;
        };
        if entry.key == "readings" {
            return Some(self.readings(entry, column, usage, files));
        }
        self.only_with_readings([column, usage]);
        if entry.key == "wood" {
            return Some(self.wood(entry, direction));
        }
        let distribution = law::read(entry, &self.name, &mut self.numbers, self.sink);
        Some(Law {
            distribution,
            span: entry.value.span.clone(),
            estimate: None,
            degrees_of_freedom: None,
            readings_dimension: None,
            readings: None,
            from: None,
        })
    }

    /// The coefficient of a wood of the table, in one direction.
    fn wood(&mut self, entry: &Entry, direction: Option<&Entry>) -> Law {
        let mut law = Law {
            distribution: None,
            span: entry.value.span.clone(),
            estimate: None,
            degrees_of_freedom: None,
            readings_dimension: Dimension::NUMBER.per(Dimension::MOISTURE),
            readings: None,
            from: Some(("stated", String::new())),
        };
        let is_radial = self.direction(direction);
        let what = self.what("wood");
        let species = text(&entry.value, &what, self.sink).map(Species::named);
        let (species, is_radial) = match (species, is_radial) {
            (Some(Ok(species)), Some(is_radial)) => (species, is_radial),
            (Some(Err(error)), _) => {
                self.sink
                    .at(&entry.value.span, format!("{}: {error}", self.name));
                return law;
            }
            _ => return law,
        };
        let (coefficient, word) = match is_radial {
            true => (species.radial().raw(), "radial"),
            false => (species.tangential().raw(), "tangential"),
        };
        law.estimate = Some(coefficient);
        law.distribution = Distribution::normal(0.0, coefficient * species.relative_spread()).ok();
        law.from = Some((
            "stated",
            format!("{}, {word}: {}", species.name(), species.source()),
        ));
        law
    }

    /// Whether it is radial; else it is tangential.
    fn direction(&mut self, entry: Option<&Entry>) -> Option<bool> {
        let Some(entry) = entry else {
            let message = format!(
                "{} does not say in which direction its wood moves",
                self.name
            );
            let help =
                "add direction = \"radial\" (across the rings) or \"tangential\" (along them)";
            self.section.misses(&["direction"], message, Some(help));
            return None;
        };
        let what = self.what("direction");
        match text(&entry.value, &what, self.sink)? {
            "radial" => Some(true),
            "tangential" => Some(false),
            other => {
                let help = suggestion(other, ["radial", "tangential"], "it may be");
                let message = format!("{what} may not be {other:?}");
                self.sink.at(&entry.value.span, message).help(help);
                None
            }
        }
    }

    fn only_with_readings(&mut self, entries: [Option<&Entry>; 2]) {
        for entry in entries.into_iter().flatten() {
            let message = format!("{} has {} but no readings", self.name, entry.key);
            self.sink
                .at(&entry.key_span, message)
                .help("add readings = \"readings/FILE.csv\", or take it away");
        }
    }

    fn readings(
        &mut self,
        entry: &'a Entry,
        column: Option<&'a Entry>,
        usage: Option<&'a Entry>,
        files: &mut Files<'_>,
    ) -> Law {
        let mut law = Law {
            distribution: None,
            span: entry.value.span.clone(),
            estimate: None,
            degrees_of_freedom: None,
            readings_dimension: None,
            readings: None,
            from: Some(("measured", String::new())),
        };
        let usage = self.usage(usage);
        let what = self.what("column");
        let name = column.and_then(|c| text(&c.value, &what, self.sink).map(|t| (t, &c.value)));
        let what = self.what("readings");
        let Some(path) = text(&entry.value, &what, self.sink) else {
            return law;
        };
        if column.is_some() != name.is_some() {
            return law;
        }
        let Some(readings) = files.column((path, &entry.value), name, self.sink) else {
            return law;
        };
        let (column, count) = (readings.column(), readings.raw().len());
        law.readings_dimension = Some(readings.dimension());
        let not_above_0 = readings.raw().iter().position(|x| *x <= 0.0);
        law.readings = Some(Taken {
            path: path.to_owned(),
            column: column.to_owned(),
            count,
            not_above_0: not_above_0
                .filter(|_| !matches!(usage, Some(Usage::Spread)))
                .map(|index| index + 1),
        });
        law.from = Some((
            "measured",
            format!("{path}, column {column:?}, {count} readings"),
        ));
        match usage.map(|usage| usage.evaluate(readings.raw())) {
            Some(Ok((distribution, estimate, dof))) => {
                law.distribution = Some(distribution);
                law.estimate = estimate;
                law.degrees_of_freedom = dof;
            }
            Some(Err(error)) => {
                let message = format!("{}: {path}, column {column:?}: {error}", self.name);
                self.sink.at(&entry.value.span, message);
            }
            None => {}
        }
        law
    }

    fn usage(&mut self, entry: Option<&Entry>) -> Option<Usage> {
        let Some(entry) = entry else {
            let message = format!("{} does not say what its readings are for", self.name);
            let help = "add use = \"mean\", \"spread\" (one further piece) or \"empirical\" (each reading equally likely)";
            self.section.misses(&["use"], message, Some(help));
            return None;
        };
        let what = self.what("use");
        match text(&entry.value, &what, self.sink)? {
            "mean" => Some(Usage::Mean),
            "spread" => Some(Usage::Spread),
            "empirical" => Some(Usage::Empirical),
            other => {
                let known = ["mean", "spread", "empirical"];
                let help = suggestion(other, known, "it may be");
                let message = format!("{what} may not be {other:?}");
                self.sink.at(&entry.value.span, message).help(help);
                None
            }
        }
    }

    /// Readings or a wood that give an estimate leave none to be stated.
    fn check_estimate(&mut self, value: Option<&Value>, law: Option<&Law>) {
        let given = law
            .filter(|law| law.estimate.is_some())
            .and_then(|law| law.from.as_ref());
        if let (Some(value), Some((from, _))) = (value, given) {
            let (what, help) = match *from {
                "measured" => (
                    "readings",
                    "take the estimate away, or use the readings as a \"spread\"",
                ),
                _ => ("wood", "take the estimate away, or the wood"),
            };
            let message = format!("{} has an estimate from its {what} already", self.name);
            self.sink.at(&value.span, message).help(help);
        }
        if value.is_none() && law.is_none() {
            let message = format!("{} has neither an estimate nor an error", self.name);
            let help = "add estimate = \"0.375 in\", and a law such as normal = \"0.5 thou\"";
            let keys: Vec<&str> = LAWS.into_iter().chain(["estimate"]).collect();
            self.section.misses(&keys, message, Some(help));
        }
    }

    fn provenance(&mut self, law: Option<&Law>) -> Option<(&'static str, String)> {
        const KEYS: [&str; 3] = ["measured", "stated", "assumed"];
        let entry = self.section.at_most_one_of(&KEYS, self.sink);
        let from_law = law.and_then(|law| law.from.clone());
        match (entry, from_law) {
            (None, Some(from)) => Some(from),
            (Some(entry), Some((from, _))) => {
                let (what, help) = match from {
                    "measured" => (
                        "readings",
                        "readings say already where the number came from",
                    ),
                    _ => (
                        "wood",
                        "the table of woods says already where the number came from",
                    ),
                };
                let message = format!("{} has both {what} and {}: keep one", self.name, entry.key);
                self.sink.at(&entry.key_span, message).help(help);
                None
            }
            (Some(entry), None) => {
                let key = KEYS.into_iter().find(|key| *key == entry.key)?;
                let what = self.what(key);
                let text = text(&entry.value, &what, self.sink)?;
                Some((key, text.to_owned()))
            }
            (None, None) => {
                let message = format!("{} does not say where its numbers come from", self.name);
                let list = quoted(KEYS, ", ");
                let help = format!("add one of {list}, such as assumed = \"common practice\"");
                self.section.misses(&KEYS, message, Some(&help));
                None
            }
        }
    }

    /// The dimension of all numbers; a source without any is a pure number, which is told elsewhere.
    fn dimension(&mut self, of_readings: Option<Dimension>) -> Option<Dimension> {
        if self.numbers.is_empty() {
            return Some(of_readings.unwrap_or(Dimension::NUMBER));
        }
        let stated = self.numbers.check(of_readings, self.sink)?;
        Some(of_readings.unwrap_or(stated))
    }
}

/// What readings are taken for.
#[derive(Debug, Clone, Copy)]
enum Usage {
    Mean,
    Spread,
    Empirical,
}

/// The error, the estimate where the readings give it, and degrees of freedom where the law has none.
type Evaluated = (Distribution, Option<f64>, Option<f64>);

impl Usage {
    fn evaluate(self, raw: &[f64]) -> Result<Evaluated, Error> {
        let type_a = TypeA::from_readings(raw)?;
        let mean = type_a.mean();
        Ok(match self {
            Self::Mean => (type_a.error_of_mean(), Some(mean), None),
            Self::Spread => (type_a.spread(), None, Some(type_a.degrees_of_freedom())),
            Self::Empirical => {
                let deviations: Vec<f64> = raw.iter().map(|x| x - mean).collect();
                (Distribution::empirical(&deviations)?, Some(mean), None)
            }
        })
    }
}
