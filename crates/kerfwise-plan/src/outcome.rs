//! `[outcome.NAME]` and `[[correlation]]`: the general form, for any stack.

use crate::document::{Entry, Kind, Value};
use crate::fault::Sink;
use crate::read::{Section, entries, list, number, pair, quantity, text};
use kerfwise_source::Quantity;
use kerfwise_stack::{Band, Error};
use std::ops::Range;

/// An outcome whose expression is still text: it is read anew for every travel.
#[derive(Debug, Clone)]
pub(crate) struct Outcome {
    pub(crate) name: String,
    pub(crate) expression: String,
    pub(crate) band: Option<Band>,
}

/// Two sources that move together.
#[derive(Debug, Clone)]
pub(crate) struct Correlation {
    pub(crate) between: (String, String),
    pub(crate) coefficient: f64,
}

/// Each outcome with the key that names it and the value of its expression.
pub(crate) fn outcomes<'a>(
    entry: Option<&'a Entry>,
    sink: &mut Sink,
) -> Vec<(Outcome, &'a Entry, &'a Value)> {
    let all = entries(entry, sink).iter();
    all.filter_map(|entry| {
        let name = format!("outcome {:?}", entry.key);
        let mut section = Section::of(&name, entry, sink)?;
        let value = section.need("expression");
        let band = band(&mut section, sink);
        section.close(sink);
        let value = value?;
        let expression = text(value, "expression", sink)?.to_owned();
        let name = entry.key.clone();
        let band = band?;
        Some((
            Outcome {
                name,
                expression,
                band,
            },
            entry,
            value,
        ))
    })
    .collect()
}

/// `None` when it is faulty, `Some(None)` when there is none.
fn band(section: &mut Section<'_>, sink: &mut Sink) -> Option<Option<Band>> {
    let both = section.get("band");
    let at_least = section.get("at_least");
    let at_most = section.get("at_most");
    let one_sided = at_least.or(at_most);
    let name = section.name.clone();
    let (place, made) = match (both, one_sided) {
        (None, None) => return Some(None),
        (Some(band), Some(other)) => {
            let message = format!("{name} has both band and {}: keep one", other.key);
            sink.at(&other.key_span, message)
                .also(&band.key_span, "the other is here");
            return None;
        }
        (Some(band), None) => {
            let what = format!("{name}: band");
            let (lower, upper) = pair(&band.value, &what, sink)?;
            let lower = quantity(lower, &what, sink);
            let upper = quantity(upper, &what, sink);
            (&band.value, Band::between(lower?, upper?))
        }
        (None, Some(first)) => {
            let mut read = |entry: Option<&Entry>| -> Option<Option<Quantity>> {
                let Some(entry) = entry else {
                    return Some(None);
                };
                let what = format!("{name}: {}", entry.key);
                quantity(&entry.value, &what, sink).map(Some)
            };
            let (lower, upper) = (read(at_least), read(at_most));
            let made = match (lower?, upper?) {
                (Some(lower), Some(upper)) => Band::between(lower, upper),
                (Some(lower), None) => Band::at_least(lower),
                (None, Some(upper)) => Band::at_most(upper),
                (None, None) => return Some(None),
            };
            (&first.value, made)
        }
    };
    match made {
        Ok(band) => Some(Some(band)),
        Err(error) => {
            sink.at(&place.span, format!("{name}: {error}"));
            None
        }
    }
}

/// Each correlation with the place of its names.
pub(crate) fn correlations<'a>(
    entry: Option<&'a Entry>,
    sink: &mut Sink,
) -> Vec<(Correlation, &'a Value)> {
    let Some(entry) = entry else {
        return Vec::new();
    };
    let mut found: Vec<(Correlation, &Value)> = Vec::new();
    for value in list(&entry.value, "correlation", sink).unwrap_or_default() {
        let Some((correlation, place)) = correlation(value, &entry.key_span, sink) else {
            continue;
        };
        let (a, b) = &correlation.between;
        let is_same = |other: &Correlation| {
            let (c, d) = &other.between;
            (a, b) == (c, d) || (a, b) == (d, c)
        };
        if let Some((_, before)) = found.iter().find(|(other, _)| is_same(other)) {
            let message = format!("the correlation of {a:?} and {b:?} is given twice: keep one");
            sink.at(&place.span, message)
                .also(&before.span, "the other is here");
            continue;
        }
        found.push((correlation, place));
    }
    found
}

fn correlation<'a>(
    value: &'a Value,
    place: &Range<usize>,
    sink: &mut Sink,
) -> Option<(Correlation, &'a Value)> {
    let Kind::Table(table) = &value.kind else {
        let kind = value.kind_name();
        sink.at(
            &value.span,
            format!("correlation must be a table, not {kind}"),
        )
        .help("write [[correlation]] above its keys");
        return None;
    };
    let span = if value.span.is_empty() {
        place
    } else {
        &value.span
    };
    let mut section = Section::new("correlation", span, table);
    let between = section.need("between");
    let names = between.and_then(|value| {
        let (a, b) = pair(value, "correlation: between", sink)?;
        let a = text(a, "correlation: between", sink);
        let b = text(b, "correlation: between", sink);
        Some((a?.to_owned(), b?.to_owned()))
    });
    let coefficient_value = section.need("coefficient");
    let coefficient = coefficient_value.and_then(|value| {
        let x = number(value, "correlation: coefficient", sink)?;
        if (-1.0..=1.0).contains(&x) {
            return Some(x);
        }
        let message = format!("correlation: coefficient must be from -1 to 1 (got {x})");
        sink.at(&value.span, message);
        None
    });
    section.close(sink);
    let (between, place) = (names?, between?);
    if between.0 == between.1 {
        let message = format!("{:?} cannot be correlated with itself", between.0);
        sink.at(&place.span, message);
        return None;
    }
    let coefficient = coefficient?;
    Some((
        Correlation {
            between,
            coefficient,
        },
        place,
    ))
}

/// Tells what is wrong with an expression, at the sign where it is.
pub(crate) fn tell(outcome: &Outcome, value: &Value, error: &Error, sink: &mut Sink) {
    use kerfwise_stack::ErrorKind;
    let name = &outcome.name;
    match error.kind() {
        ErrorKind::Text {
            position, message, ..
        } => {
            let text = &outcome.expression;
            let offset = text.char_indices().nth(*position);
            let offset = offset.map_or(text.len(), |(at, _)| at);
            let place = crate::read::inside(value, text, offset, sink);
            sink.at(&place, format!("outcome {name:?}: {message}"));
        }
        ErrorKind::Stack(faults) => {
            for fault in faults {
                sink.at(&value.span, fault.clone());
            }
        }
        _ => {
            sink.at(&value.span, format!("outcome {name:?}: {error}"));
        }
    }
}
