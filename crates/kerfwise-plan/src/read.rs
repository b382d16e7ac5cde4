//! Tables and values, read key by key, with faults that say what is wrong with which.

use crate::document::{Entry, Kind, Table, Value};
use crate::fault::Sink;
use crate::near::{near, quoted, suggestion};
use kerfwise_source::{Angle, Dimension, ErrorKind, Length, Quantity};
use std::ops::Range;

/// A table that is being read: every key asked for is known, the rest are faults when it is closed.
#[derive(Debug)]
pub(crate) struct Section<'a> {
    /// As messages call it: "[joint]", "source \"kerf\"".
    pub(crate) name: String,
    /// Where it begins.
    pub(crate) span: Range<usize>,
    table: &'a Table,
    known: Vec<&'static str>,
    missing: Vec<Missing>,
}

/// What should have been there; told when the table is closed, unless a slip of the finger explains it.
#[derive(Debug)]
struct Missing {
    keys: Vec<&'static str>,
    message: String,
    help: Option<String>,
}

impl<'a> Section<'a> {
    pub(crate) fn new(name: impl Into<String>, span: &Range<usize>, table: &'a Table) -> Self {
        Self {
            name: name.into(),
            span: span.clone(),
            table,
            known: Vec::new(),
            missing: Vec::new(),
        }
    }

    /// The value of a key, if it is there, as a table.
    pub(crate) fn of(name: &str, entry: &'a Entry, sink: &mut Sink) -> Option<Self> {
        match &entry.value.kind {
            Kind::Table(table) => Some(Self::new(name, &entry.key_span, table)),
            _ => {
                let kind = entry.value.kind_name();
                sink.at(
                    &entry.value.span,
                    format!("{name} must be a table, not {kind}"),
                );
                None
            }
        }
    }

    pub(crate) fn get(&mut self, key: &'static str) -> Option<&'a Entry> {
        if !self.known.contains(&key) {
            self.known.push(key);
        }
        self.table.0.iter().find(|entry| entry.key == key)
    }

    /// A value, whether or not its key is one that is asked for.
    pub(crate) fn peek(&self, key: &str) -> Option<&'a Value> {
        let found = self.table.0.iter().find(|entry| entry.key == key);
        found.map(|entry| &entry.value)
    }

    pub(crate) fn value(&mut self, key: &'static str) -> Option<&'a Value> {
        self.get(key).map(|entry| &entry.value)
    }

    /// A key that must be there.
    pub(crate) fn need(&mut self, key: &'static str) -> Option<&'a Value> {
        let value = self.value(key);
        if value.is_none() {
            self.misses(&[key], format!("{} needs {key}", self.name), None);
        }
        value
    }

    /// A key that must be there, and how it is written.
    pub(crate) fn need_as(&mut self, key: &'static str, help: &str) -> Option<&'a Value> {
        let value = self.value(key);
        if value.is_none() {
            self.misses(&[key], format!("{} needs {key}", self.name), Some(help));
        }
        value
    }

    /// Exactly one of these keys.
    pub(crate) fn one_of(
        &mut self,
        keys: &[&'static str],
        help: &str,
        sink: &mut Sink,
    ) -> Option<&'a Entry> {
        let found = self.at_most_one_of(keys, sink);
        if found.is_none() {
            let list = quoted(keys.iter().copied(), ", ");
            let message = format!("{} needs one of {list}", self.name);
            self.misses(keys, message, Some(help));
        }
        found
    }

    pub(crate) fn misses(&mut self, keys: &[&'static str], message: String, help: Option<&str>) {
        self.missing.push(Missing {
            keys: keys.to_vec(),
            message,
            help: help.map(str::to_owned),
        });
    }

    /// None or one of these keys; of several the first.
    pub(crate) fn at_most_one_of(
        &mut self,
        keys: &[&'static str],
        sink: &mut Sink,
    ) -> Option<&'a Entry> {
        self.known.extend(keys);
        let is_one = |entry: &&Entry| keys.contains(&entry.key.as_str());
        let mut found = self.table.0.iter().filter(is_one);
        let first = found.next()?;
        for second in found {
            let (a, b) = (&first.key, &second.key);
            sink.at(
                &second.key_span,
                format!("{} has both {a} and {b}: keep one", self.name),
            )
            .also(&first.key_span, "the other is here");
        }
        Some(first)
    }

    /// Says which keys are not known, and which are missing.
    pub(crate) fn close(self, sink: &mut Sink) {
        let is_unknown = |entry: &&Entry| !self.known.contains(&entry.key.as_str());
        let unknown: Vec<&Entry> = self.table.0.iter().filter(is_unknown).collect();
        for entry in &unknown {
            let message = format!("{} has no key {:?}", self.name, entry.key);
            let known = self.known.iter().copied();
            let help = match other_word(&entry.key).filter(|word| self.known.contains(word)) {
                Some(word) => format!("did you mean {word:?}?"),
                None => suggestion(&entry.key, known, "it may have"),
            };
            sink.at(&entry.key_span, message).help(help);
        }
        for missing in self.missing {
            let is_slip = |entry: &&Entry| {
                let found = near(&entry.key, self.known.iter().copied());
                found.iter().any(|key| missing.keys.contains(key))
            };
            if unknown.iter().any(is_slip) {
                continue;
            }
            let fault = sink.at(&self.span, missing.message).absence();
            if let Some(help) = missing.help {
                fault.help(help);
            }
        }
    }
}

/// What others call our keys.
fn other_word(key: &str) -> Option<&'static str> {
    Some(match key.to_ascii_lowercase().as_str() {
        "gauss" | "gaussian" | "sd" | "sigma" | "std" | "standard_deviation" | "uncertainty" => {
            "normal"
        }
        "uniform" | "half_width" | "tolerance" | "plus_minus" | "limit" => "rectangular",
        "triangle" => "triangular",
        "t" | "student" => "student_t",
        "dof" | "df" => "degrees_of_freedom",
        "value" | "nominal" | "mean" | "size" => "estimate",
        "file" | "csv" | "data" => "readings",
        "reason" | "because" | "guess" => "assumed",
        "count" | "number" | "joints" => "pieces",
        "formula" | "algebra" | "equation" => "expression",
        "tolerances" | "limits" => "band",
        _ => return None,
    })
}

/// The entries of a table of tables such as `[source.NAME]`.
pub(crate) fn entries<'a>(entry: Option<&'a Entry>, sink: &mut Sink) -> &'a [Entry] {
    match entry.map(|entry| (entry, &entry.value.kind)) {
        None => &[],
        Some((_, Kind::Table(table))) => &table.0,
        Some((entry, _)) => {
            let key = &entry.key;
            let message = format!(
                "{key:?} must be a table of tables, not {}",
                entry.value.kind_name()
            );
            sink.at(&entry.value.span, message)
                .help(format!("write [{key}.NAME] above its keys"));
            &[]
        }
    }
}

/// A text that is not empty.
pub(crate) fn text<'a>(value: &'a Value, what: &str, sink: &mut Sink) -> Option<&'a str> {
    match &value.kind {
        Kind::Text(text) if text.trim().is_empty() => {
            sink.at(&value.span, format!("{what} must not be empty"));
            None
        }
        Kind::Text(text) => Some(text),
        _ => wrong_kind(value, what, "text between quotation marks", sink),
    }
}

/// A list.
pub(crate) fn list<'a>(value: &'a Value, what: &str, sink: &mut Sink) -> Option<&'a [Value]> {
    match &value.kind {
        Kind::List(list) => Some(list),
        _ => wrong_kind(value, what, "a list", sink),
    }
}

/// A list of exactly two.
pub(crate) fn pair<'a>(
    value: &'a Value,
    what: &str,
    sink: &mut Sink,
) -> Option<(&'a Value, &'a Value)> {
    const TWO: &str = "write two values in square brackets, with a comma between them";
    let Kind::List(list) = &value.kind else {
        let kind = value.kind_name();
        sink.at(&value.span, format!("{what} must be a list, not {kind}"))
            .help(TWO);
        return None;
    };
    match list.as_slice() {
        [a, b] => Some((a, b)),
        other => {
            let count = other.len();
            sink.at(
                &value.span,
                format!("{what} must be a list of two (got {count})"),
            )
            .help(TWO);
            None
        }
    }
}

/// A whole number within bounds; `help` tells what it counts.
pub(crate) fn count(
    value: &Value,
    what: &str,
    most: u32,
    help: &str,
    sink: &mut Sink,
) -> Option<u32> {
    let Kind::Integer(number) = value.kind else {
        return wrong_kind(value, what, "a whole number", sink);
    };
    let count = number.and_then(|n| u32::try_from(n).ok());
    let fits = count.filter(|n| (1..=most).contains(n));
    if fits.is_none() {
        let got = sink.shown(&value.span);
        sink.at(
            &value.span,
            format!("{what} must be from 1 to {most} (got {got})"),
        )
        .help(help);
    }
    fits
}

/// A pure number.
pub(crate) fn number(value: &Value, what: &str, sink: &mut Sink) -> Option<f64> {
    quantity(value, what, sink)
        .and_then(|q| of_dimension(q, Dimension::NUMBER, value, what, sink))
        .map(Quantity::raw)
}

/// A length.
pub(crate) fn length(value: &Value, what: &str, sink: &mut Sink) -> Option<Length> {
    quantity(value, what, sink)
        .and_then(|q| of_dimension(q, Dimension::LENGTH, value, what, sink))
        .and_then(Quantity::length)
}

/// An angle.
pub(crate) fn angle(value: &Value, what: &str, sink: &mut Sink) -> Option<Angle> {
    quantity(value, what, sink)
        .and_then(|q| of_dimension(q, Dimension::ANGLE, value, what, sink))
        .and_then(Quantity::angle)
}

/// A number with its unit, in text; or a pure number as it is.
pub(crate) fn quantity(value: &Value, what: &str, sink: &mut Sink) -> Option<Quantity> {
    match &value.kind {
        Kind::Text(text) => match text.parse() {
            Ok(quantity) => Some(quantity),
            Err(error) => {
                let place = error.position().map_or(value.span.clone(), |offset| {
                    inside(value, text, offset, sink)
                });
                let message = match error.kind() {
                    ErrorKind::Text { message, .. } => message.clone(),
                    other => other.to_string(),
                };
                sink.at(&place, format!("{what}: {message}"));
                None
            }
        },
        // Whole numbers are held exactly up to 2^53; a plan that needs more does not need the rest.
        Kind::Integer(Some(n)) => Some((*n as f64).into()),
        Kind::Float(x) if x.is_finite() => Some((*x).into()),
        Kind::Integer(None) | Kind::Float(_) => {
            let got = sink.shown(&value.span);
            sink.at(
                &value.span,
                format!("{what} must be a finite number (got {got})"),
            );
            None
        }
        _ => wrong_kind(value, what, "a number with its unit, in text", sink),
    }
}

/// The place of a byte of a text value in the file. Known when the file writes the text as it is;
/// with escapes in it, the whole text is the place.
pub(crate) fn inside(value: &Value, text: &str, offset: usize, sink: &Sink) -> Range<usize> {
    let span = &value.span;
    let is_as_written =
        span.len() == text.len() + 2 && sink.text_at(&(span.start + 1..span.end - 1)) == text;
    if !is_as_written {
        return span.clone();
    }
    let start = (span.start + 1 + offset).min(span.end - 1);
    start..(span.end - 1).max(start)
}

fn of_dimension(
    quantity: Quantity,
    wanted: Dimension,
    value: &Value,
    what: &str,
    sink: &mut Sink,
) -> Option<Quantity> {
    if quantity.dimension() == wanted {
        return Some(quantity);
    }
    other_dimension(quantity, wanted, value, what, sink);
    None
}

/// A quantity that is not of the wanted dimension; mostly its unit was forgotten.
pub(crate) fn other_dimension(
    quantity: Quantity,
    wanted: Dimension,
    value: &Value,
    what: &str,
    sink: &mut Sink,
) {
    if quantity.dimension() == Dimension::NUMBER {
        Bare::of(value, what, sink).tell(wanted, sink);
    } else {
        let got = sink.shown(&value.span);
        let (wanted, is) = (an(wanted), an(quantity.dimension()));
        sink.at(
            &value.span,
            format!("{what} must be {wanted} (got {got}, which is {is})"),
        );
    }
}

/// A number without a unit, until it is known which one it lacks.
#[derive(Debug, Clone)]
pub(crate) struct Bare {
    what: String,
    span: Range<usize>,
    /// The number as it was written.
    number: String,
}

impl Bare {
    pub(crate) fn of(value: &Value, what: &str, sink: &Sink) -> Self {
        Self {
            what: what.to_owned(),
            span: value.span.clone(),
            number: match &value.kind {
                Kind::Text(text) => text.trim().to_owned(),
                _ => sink.shown(&value.span),
            },
        }
    }

    /// Says that it lacks a unit of this dimension.
    pub(crate) fn tell(&self, wanted: Dimension, sink: &mut Sink) {
        let (what, units, got) = (&self.what, usual_units(wanted), sink.shown(&self.span));
        let unit = units.split(", ").next().unwrap_or_default();
        let help = format!("write \"{} {unit}\"", self.number);
        sink.at(
            &self.span,
            format!("{what} needs a unit: {units} (got {got})"),
        )
        .help(help);
    }
}

/// "a length", "an angle".
pub(crate) fn an(dimension: Dimension) -> String {
    let name = dimension.to_string();
    let article = if name.starts_with('a') { "an" } else { "a" };
    format!("{article} {name}")
}

/// The units in which people give a quantity of this dimension.
pub(crate) fn usual_units(dimension: Dimension) -> String {
    match dimension {
        Dimension::LENGTH => "in, thou, mm".to_owned(),
        Dimension::ANGLE => "deg, arcmin, rad".to_owned(),
        other => other.raw_unit(),
    }
}

fn wrong_kind<T>(value: &Value, what: &str, wanted: &str, sink: &mut Sink) -> Option<T> {
    let kind = value.kind_name();
    sink.at(&value.span, format!("{what} must be {wanted}, not {kind}"));
    None
}
