//! The files of readings that a plan names: each is read once.

use crate::document::Value;
use crate::fault::Sink;
use crate::readings::Sheet;
use crate::{Readings, ReadingsUsed};
use std::collections::BTreeMap;
use std::io;
use std::ops::Range;
use std::path::Path;

pub(crate) struct Files<'a> {
    /// The plan's own name, beside which the files lie.
    plan: &'a str,
    read: &'a dyn Fn(&str) -> io::Result<String>,
    /// Text by path as written; `None` where it could not be read, which was told already.
    texts: BTreeMap<String, Option<String>>,
    /// By path and column.
    columns: BTreeMap<(String, Option<String>), Option<Readings>>,
    pub(crate) used: Vec<ReadingsUsed>,
    /// Readings that look like slips of the pen, with where the plan names their file.
    pub(crate) slips: Vec<(Range<usize>, String)>,
}

impl<'a> Files<'a> {
    pub(crate) fn new(plan: &'a str, read: &'a dyn Fn(&str) -> io::Result<String>) -> Self {
        Self {
            plan,
            read,
            texts: BTreeMap::new(),
            columns: BTreeMap::new(),
            used: Vec::new(),
            slips: Vec::new(),
        }
    }

    /// A column of a file; `at` is where the plan names the file, `column_at` where it names the column.
    pub(crate) fn column(
        &mut self,
        (path, at): (&str, &Value),
        column: Option<(&str, &Value)>,
        sink: &mut Sink,
    ) -> Option<&Readings> {
        let key = (path.to_owned(), column.map(|(name, _)| name.to_owned()));
        if !self.columns.contains_key(&key) {
            let readings = self.read_column(path, at, column, sink);
            if let Some(readings) = &readings {
                self.used.push(ReadingsUsed {
                    path: path.to_owned(),
                    column: readings.column().to_owned(),
                    count: readings.raw().len(),
                });
                let column = readings.column();
                for slip in readings.slips() {
                    let message = format!("{path}, column {column:?}: {slip}");
                    self.slips.push((at.span.clone(), message));
                }
            }
            self.columns.insert(key.clone(), readings);
        }
        self.columns.get(&key)?.as_ref()
    }

    fn read_column(
        &mut self,
        path: &str,
        at: &Value,
        column: Option<(&str, &Value)>,
        sink: &mut Sink,
    ) -> Option<Readings> {
        let shown = beside(self.plan, path);
        let text = self.text(path, at, sink)?;
        let mut own = Sink::new(&shown, text);
        let sheet = Sheet::open(text, &mut own);
        let found = sheet.map(|sheet| match sheet.find(column.map(|(name, _)| name)) {
            Ok(index) => sheet.read(index, &mut own),
            Err((message, help)) => {
                let place = column.map_or(at, |(_, value)| value);
                sink.at(&place.span, format!("{path}: {message}"))
                    .help(help);
                None
            }
        });
        if !own.is_empty() {
            sink.append(own);
        }
        found.flatten()
    }

    fn text(&mut self, path: &str, at: &Value, sink: &mut Sink) -> Option<&str> {
        if !self.texts.contains_key(path) {
            let text = match (self.read)(path) {
                Ok(text) => Some(text),
                Err(error) => {
                    sink.at(&at.span, format!("cannot read {path:?}: {error}"))
                        .help("paths are relative to the plan file");
                    None
                }
            };
            self.texts.insert(path.to_owned(), text);
        }
        self.texts.get(path)?.as_deref()
    }

    /// Paths and texts, in the order of the paths.
    pub(crate) fn texts(&self) -> impl Iterator<Item = (&str, &str)> {
        self.texts
            .iter()
            .filter_map(|(path, text)| Some((path.as_str(), text.as_deref()?)))
    }
}

/// A path as somebody sees it who stands where the plan's name was written.
pub(crate) fn beside(plan: &str, path: &str) -> String {
    match Path::new(plan).parent() {
        Some(folder) => folder.join(path).display().to_string(),
        None => path.to_owned(),
    }
}
