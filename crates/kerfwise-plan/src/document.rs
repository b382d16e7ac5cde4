//! TOML as this crate sees it: a tree in which everything knows its place. The only file that
//! knows the `toml` crate.

use crate::fault::Sink;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeString, DeTable, DeValue};

/// A value and where it stands.
#[derive(Debug)]
pub(crate) struct Value {
    pub(crate) span: Range<usize>,
    pub(crate) kind: Kind,
}

#[derive(Debug)]
pub(crate) enum Kind {
    Text(String),
    /// `None` when it does not fit.
    Integer(Option<i64>),
    Float(f64),
    /// Booleans and dates, which no plan needs.
    Other(&'static str),
    List(Vec<Value>),
    Table(Table),
}

/// Keys and values in the order of the file.
#[derive(Debug, Default)]
pub(crate) struct Table(pub(crate) Vec<Entry>);

#[derive(Debug)]
pub(crate) struct Entry {
    pub(crate) key: String,
    pub(crate) key_span: Range<usize>,
    pub(crate) value: Value,
}

impl Value {
    /// As a message calls it: "text", "a list".
    pub(crate) fn kind_name(&self) -> &'static str {
        match &self.kind {
            Kind::Text(_) => "text",
            Kind::Integer(_) => "a whole number",
            Kind::Float(_) => "a number",
            Kind::Other(name) => name,
            Kind::List(_) => "a list",
            Kind::Table(_) => "a table",
        }
    }
}

/// Reads as much as it can, and returns how many syntax faults there were.
pub(crate) fn read(text: &str, sink: &mut Sink) -> (Table, usize) {
    let (root, errors) = DeTable::parse_recoverable(text);
    let (mut repeated, mut told) = (None, 0);
    for error in &errors {
        let span = error.span().unwrap_or(0..0);
        if error.message().starts_with("duplicate key") {
            // Under a heading that is there twice, all keys are.
            let heading = heading(text, span.start);
            if heading.is_some() && heading == repeated {
                continue;
            }
            repeated = heading.filter(|start| {
                text[*start..]
                    .lines()
                    .next()
                    .is_some_and(|line| (*start..start + line.len()).contains(&span.start))
            });
        }
        let (message, help) = in_plain_words(error.message(), text, &span);
        let first = repeated.and_then(|start| first_heading(text, start));
        let fault = sink.at(&span, message);
        told += 1;
        if let Some(first) = first.filter(|_| error.message().starts_with("duplicate key")) {
            fault.also(&first, "the other is here");
        }
        if let Some(help) = help {
            fault.help(help);
        }
    }
    (table(root.get_ref()), told)
}

/// Where the line begins that heads the section of a place.
fn heading(text: &str, at: usize) -> Option<usize> {
    let mut start = 0;
    let mut found = None;
    for line in text.split_inclusive('\n') {
        if start > at {
            break;
        }
        if line.trim_start().starts_with('[') {
            found = Some(start);
        }
        start += line.len();
    }
    found
}

/// Where a heading stood before the line that begins here.
fn first_heading(text: &str, again: usize) -> Option<Range<usize>> {
    let heading = text.get(again..)?.lines().next()?.trim_end();
    let start = text.get(..again)?.find(heading)?;
    Some(start..start + heading.len())
}

/// The slips that makers make most, in other words than those of the parser.
fn in_plain_words(message: &str, text: &str, span: &Range<usize>) -> (String, Option<String>) {
    let here = text.get(span.clone()).unwrap_or_default().trim();
    if message.starts_with("duplicate key") {
        return (format!("{here:?} is given twice: keep one"), None);
    }
    if message.starts_with("string values must be quoted") {
        let value = here.split('#').next().unwrap_or_default().trim();
        let bare = value.trim_matches(['\u{201c}', '\u{201d}', '\u{201e}', '\u{2018}', '\u{2019}']);
        if bare.len() < value.len() {
            let message = format!("{value} has quotation marks of a text program");
            return (message, Some(format!("write \"{bare}\", with plain ones")));
        }
        return if value.is_empty() {
            ("a value is missing here".to_owned(), None)
        } else {
            let help = format!("write \"{value}\"");
            (format!("{value} needs quotation marks"), Some(help))
        };
    }
    if message.starts_with("invalid basic string, expected `\"`") {
        return ("the closing quotation mark is missing".to_owned(), None);
    }
    let help = match message {
        m if m.starts_with("unclosed table") => Some("a heading ends with ]"),
        m if m.starts_with("unclosed array") => Some("a list ends with ]"),
        m if m.starts_with("unclosed inline table") => Some("a table on one line ends with }"),
        m if m.starts_with("key with no value") => Some("a line is a [heading], or KEY = VALUE"),
        _ => None,
    };
    (message.to_owned(), help.map(str::to_owned))
}

// These call each other, but no deeper than the parser lets texts nest (80 levels).

fn table(table: &DeTable<'_>) -> Table {
    let mut entries: Vec<Entry> = table.iter().map(|(key, v)| entry(key, v)).collect();
    entries.sort_by_key(|entry| entry.key_span.start);
    Table(entries)
}

fn entry(key: &Spanned<DeString<'_>>, of: &Spanned<DeValue<'_>>) -> Entry {
    Entry {
        key: key.get_ref().to_string(),
        key_span: key.span(),
        value: value(of),
    }
}

fn value(value_: &Spanned<DeValue<'_>>) -> Value {
    let kind = match value_.get_ref() {
        DeValue::String(text) => Kind::Text(text.to_string()),
        DeValue::Integer(n) => Kind::Integer(i64::from_str_radix(n.as_str(), n.radix()).ok()),
        DeValue::Float(x) => Kind::Float(x.as_str().parse().unwrap_or(f64::NAN)),
        DeValue::Boolean(_) => Kind::Other("true or false"),
        DeValue::Datetime(_) => Kind::Other("a date"),
        DeValue::Array(list) => Kind::List(list.iter().map(value).collect()),
        DeValue::Table(inner) => Kind::Table(table(inner)),
    };
    Value {
        span: value_.span(),
        kind,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_order_and_the_places_of_a_file() {
        let text = "zebra = 0x10\n[apple]\nx = [1.5, \"a\"]\n";
        let mut sink = Sink::new("plan.toml", text);
        let (Table(entries), faults) = read(text, &mut sink);
        assert_eq!(faults, 0);
        assert_eq!(entries[0].key, "zebra");
        assert!(matches!(entries[0].value.kind, Kind::Integer(Some(16))));
        let Kind::Table(Table(inner)) = &entries[1].value.kind else {
            panic!("a table");
        };
        let Kind::List(list) = &inner[0].value.kind else {
            panic!("a list");
        };
        assert_eq!(&text[list[1].span.clone()], "\"a\"");
    }

    #[test]
    fn finds_more_than_one_syntax_fault() {
        let text = "a = \nb = 1\nb = 2\n";
        let mut sink = Sink::new("plan.toml", text);
        assert_eq!(read(text, &mut sink).1, 2);
    }

    // The depth is bounded by the parser, so that nothing here runs out of stack.
    #[test]
    fn ten_thousand_brackets_are_a_fault() {
        let deep = format!("a = {}", "[".repeat(10_000));
        let tables = format!("[{}]", vec!["a"; 10_000].join("."));
        let inline = "a={".repeat(10_000);
        for text in [deep, tables, inline] {
            let mut sink = Sink::new("plan.toml", &text);
            let (_, faults) = read(&text, &mut sink);
            assert!(faults > 0);
        }
    }
}
