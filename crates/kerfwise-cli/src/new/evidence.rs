//! What was measured: typed readings, columns of files, or nothing.

use super::Interview;
use super::draft::Entry;
use super::size::Size;
use crate::files;
use kerfwise::plan::{read_readings, reading_columns};
use kerfwise::prelude::{Length, LengthUnits as _};
use kerfwise::source::Dimension;
use std::path::Path;

/// Something whose width is read off a gauge.
pub(super) struct Role {
    /// The name of its source.
    pub(super) name: &'static str,
    /// As questions call it.
    pub(super) what: &'static str,
    /// Beginnings of words in names of columns or files that hold it.
    pub(super) words: &'static [&'static str],
    /// What it may be, in inches.
    pub(super) bounds: (f64, f64),
    /// What it is called by, in inches and in millimetres.
    pub(super) nominal: (&'static str, &'static str),
}

/// What is known of a width.
pub(super) enum Evidence {
    /// Two readings or more.
    Column(Column),
    /// A single reading.
    One(Size),
    /// The size that it is called by.
    Nominal(Size),
}

/// A column of readings of a length.
#[derive(Debug, Clone)]
pub(super) struct Column {
    /// The path as the plan writes it.
    file: String,
    name: String,
    count: usize,
    mean: Length,
}

impl Evidence {
    /// The best estimate.
    pub(super) fn length(&self) -> Length {
        match self {
            Self::Column(column) => column.mean,
            Self::One(size) | Self::Nominal(size) => size.length,
        }
    }

    pub(super) fn is_measured(&self) -> bool {
        !matches!(self, Self::Nominal(_))
    }

    /// An entry that says how readings get into it, where there are none yet.
    fn titled(&self, name: &str, usage: &str) -> Entry {
        let entry = Entry::new(name);
        if let Self::Column(_) = self {
            return entry;
        }
        entry.remark(&format!(
            "Once it is measured, instead of normal and assumed (and the estimate of a mean):\n\
             # readings = \"{name}.csv\", column = \"{name} (in)\", use = \"{usage}\", each on a line of its own."
        ))
    }

    /// The source of the mean, at one set-up. Without enough readings: within `sd` of what is known.
    pub(super) fn mean(&self, name: &str, sd: &str, because: &str) -> Entry {
        let entry = self.titled(name, "mean");
        match self {
            Self::Column(c) => entry.readings(&c.file, &c.name, "mean", c.count),
            Self::One(size) => entry
                .estimate(&size.text)
                .normal(sd)
                .assumed(&format!("a single reading; {because}")),
            Self::Nominal(size) => entry
                .estimate(&size.text)
                .normal(sd)
                .assumed(&format!("not measured; {because}")),
        }
    }

    /// The source of what one differs from the next by.
    pub(super) fn spread(&self, name: &str, sd: &str, because: &str) -> Entry {
        let entry = Entry::new(name);
        match self {
            Self::Column(c) => entry.readings(&c.file, &c.name, "spread", c.count),
            Self::One(_) | Self::Nominal(_) => entry.normal(sd).assumed(because),
        }
    }

    /// Mean and spread in one source.
    pub(super) fn whole(&self, name: &str, mean: &Size, sd: &str, because: &str) -> Entry {
        let entry = self.titled(name, "spread").estimate(&mean.text);
        match self {
            Self::Column(c) => entry.readings(&c.file, &c.name, "spread", c.count),
            Self::One(_) => entry
                .normal(sd)
                .assumed(&format!("a single reading; {because}")),
            Self::Nominal(_) => entry
                .normal(sd)
                .assumed(&format!("not measured; {because}")),
        }
    }
}

impl Interview<'_> {
    /// Asks what is known of a width.
    pub(super) fn evidence(&mut self, role: &Role) -> Result<Evidence, String> {
        if !self.columns.is_empty() {
            if let Some(column) = self.choose_column(role)? {
                return Ok(Evidence::Column(column));
            }
            return self.nominal(role);
        }
        let scale = self.scale;
        let question = format!(
            "Readings of {} on one line, at least four if you can",
            role.what
        );
        let none = "not measured";
        let sizes = self.dialog.ask(&question, none, |words| {
            if words == none {
                Ok(Vec::new())
            } else {
                scale.read_all(words, role.bounds)
            }
        })?;
        match sizes.as_slice() {
            [] => self.nominal(role),
            [one] => Ok(Evidence::One(one.clone())),
            _ => Ok(Evidence::Column(self.keep(role, &sizes))),
        }
    }

    fn nominal(&mut self, role: &Role) -> Result<Evidence, String> {
        let default = self.scale.pick(role.nominal.0, role.nominal.1);
        let question = format!("What should {} be, then?", role.what);
        self.size(&question, default, role.bounds)
            .map(Evidence::Nominal)
    }

    /// Puts typed readings into a file beside the plan.
    fn keep(&mut self, role: &Role, sizes: &[Size]) -> Column {
        let unit = self.scale.name();
        let name = format!("{} ({unit})", role.name.replace('_', " "));
        let mut text = format!(
            "# Readings of {}, typed in; add more below, one a line.\n{name}\n",
            role.what
        );
        let (mut sum, mut count) = (0.0, 0_u32);
        for size in sizes {
            let typed = size.text.strip_suffix(unit).map(str::trim);
            let is_plain = |words: &&str| words.parse::<f64>().is_ok();
            let cell = match typed.filter(is_plain) {
                Some(words) => words.to_owned(),
                // A fraction, or another unit.
                None => ((self.scale.number(size.length) * 1e6).round() / 1e6).to_string(),
            };
            text.push_str(&cell);
            text.push('\n');
            sum += size.length.to_inches();
            count += 1;
        }
        let file = format!("{}-{}.csv", self.stem, role.name.replace('_', "-"));
        self.draft.files.push((file.clone(), text));
        Column {
            file,
            name,
            count: sizes.len(),
            mean: (sum / f64::from(count)).inch(),
        }
    }

    fn choose_column(&mut self, role: &Role) -> Result<Option<Column>, String> {
        let is_about = |words: &str| {
            let words = words.to_lowercase();
            role.words.iter().any(|word| words.contains(word))
        };
        let by_name = self.columns.iter().position(|c| is_about(&c.name));
        let by_file = || self.columns.iter().position(|c| is_about(&c.file));
        let default = by_name.or_else(by_file).unwrap_or(self.columns.len());
        let labels: Vec<(String, String)> = self
            .columns
            .iter()
            .map(|c| (c.file.clone(), format!("{}, {} readings", c.name, c.count)))
            .collect();
        let mut of: Vec<(&str, &str)> = labels
            .iter()
            .map(|(file, what)| (file.as_str(), what.as_str()))
            .collect();
        of.push(("none", "not measured"));
        let question = format!("Which readings are {}?", role.what);
        let chosen = self.dialog.choose(&question, &of, default)?;
        Ok(self.columns.get(chosen).cloned())
    }
}

/// The columns of lengths of a file; `plan` is where the plan will be.
pub(super) fn columns(path: &Path, plan: &Path) -> Result<Vec<Column>, String> {
    let name = path.display().to_string();
    if path.extension().is_some_and(|ending| ending == "toml") {
        return Err(format!(
            "{name}: a plan, not a file of readings; name the plan before --from-readings"
        ));
    }
    let text = files::text(path)?;
    let faults = |faults| crate::run::show(&faults);
    let mut found = Vec::new();
    for column in reading_columns(&name, &text).map_err(faults)? {
        let readings = read_readings(&name, &text, column.as_str()).map_err(faults)?;
        let (raw, count) = (readings.raw(), readings.raw().len());
        if readings.dimension() != Dimension::LENGTH || count < 2 {
            continue;
        }
        found.push(Column {
            file: seen_from(plan, path),
            name: column,
            count,
            mean: (raw.iter().sum::<f64>() / count as f64).inch(),
        });
    }
    if found.is_empty() {
        return Err(format!(
            "{name}: no column holds two or more lengths; the first line names the columns, each with its unit, such as \
             kerf (in)"
        ));
    }
    Ok(found)
}

/// A path as the plan has to write it: relative to the plan's folder where that is simple.
fn seen_from(plan: &Path, path: &Path) -> String {
    let folder = plan.parent().unwrap_or(Path::new(""));
    let found = match path.strip_prefix(folder) {
        Ok(inside) => inside.to_owned(),
        Err(_) => std::path::absolute(path).unwrap_or_else(|_| path.to_owned()),
    };
    found.display().to_string()
}
