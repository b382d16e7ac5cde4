//! What was measured: typed readings, columns of files, or nothing.

use super::Interview;
use super::draft::Entry;
use super::size::{Scale, Size};
use crate::files;
use kerfwise::plan::{Readings, read_readings, reading_columns};
use kerfwise::prelude::{Length, LengthUnits as _};
use kerfwise::source::Dimension;
use std::path::Path;

/// Something whose width is read off a gauge.
pub(super) struct Role {
    /// The name of its source.
    pub(super) name: &'static str,
    /// Roles of one thing may share their readings.
    pub(super) thing: &'static str,
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
    /// Three readings or more.
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
    readings: Readings,
    /// The thing and the words of the role that it was chosen for.
    taken: Option<(&'static str, &'static str)>,
}

impl Column {
    fn new(file: String, readings: Readings) -> Self {
        let (raw, name) = (readings.raw(), readings.column().to_owned());
        let count = raw.len();
        Self {
            file,
            name,
            count,
            mean: (raw.iter().sum::<f64>() / count as f64).inch(),
            readings,
            taken: None,
        }
    }

    /// Why it cannot be what a role asks for, if it cannot.
    fn check(&self, role: &Role, scale: Scale) -> Result<(), String> {
        let (file, name) = (&self.file, &self.name);
        if let Some((thing, what)) = self.taken
            && thing != role.thing
        {
            return Err(format!(
                "{file}, {name}, is {what} already: choose another, or none"
            ));
        }
        let told =
            |message: String| format!("{file}, {name}: {message}; mend the file, or choose none");
        are_enough(self.count).map_err(|message| told(format!("{message}: four are better")))?;
        are_alike(&self.readings).map_err(told)?;
        let (least, most) = role.bounds;
        let is_out = |inches: &f64| !(least..=most).contains(inches);
        match self.readings.raw().iter().position(is_out) {
            Some(index) => Err(told(format!(
                "reading {} of {} is not {}",
                index + 1,
                self.count,
                scale.bounds(role.bounds)
            ))),
            None => Ok(()),
        }
    }
}

/// Of fewer than three readings the error of the mean has no mean (Student t with n - 1 degrees of freedom).
fn are_enough(count: usize) -> Result<(), String> {
    match count {
        1 => Err("one reading does not show its spread".to_owned()),
        2 => Err("two readings do not show their spread".to_owned()),
        _ => Ok(()),
    }
}

/// No slip of the pen among them.
fn are_alike(readings: &Readings) -> Result<(), String> {
    let slips = readings.slips();
    if slips.is_empty() {
        return Ok(());
    }
    Err(format!(
        "{}: a slip of the decimal point?",
        slips.join(", ")
    ))
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
        let file = format!("{}-{}.csv", self.stem, role.name.replace('_', "-"));
        let typed = self.dialog.ask(&question, none, |words| {
            if words == none {
                return Ok(Typed::Nothing);
            }
            let sizes = scale.read_all(words, role.bounds)?;
            if let [one] = sizes.as_slice() {
                return Ok(Typed::One(one.clone()));
            }
            are_enough(sizes.len()).map_err(|message| {
                format!("{message}: type one more at least (four are better), or one number alone")
            })?;
            // As they will be read from the file.
            let text = text_of(role, scale, &sizes);
            let readings = read_readings(&file, &text, None).map_err(|f| crate::run::show(&f))?;
            are_alike(&readings)?;
            Ok(Typed::Several(text, readings))
        })?;
        match typed {
            Typed::Nothing => self.nominal(role),
            Typed::One(one) => Ok(Evidence::One(one)),
            Typed::Several(text, readings) => {
                self.draft.files.push((file.clone(), text));
                Ok(Evidence::Column(Column::new(file, readings)))
            }
        }
    }

    fn nominal(&mut self, role: &Role) -> Result<Evidence, String> {
        let default = self.scale.pick(role.nominal.0, role.nominal.1);
        let question = format!("What should {} be, then?", role.what);
        self.size(&question, default, role.bounds)
            .map(Evidence::Nominal)
    }

    fn choose_column(&mut self, role: &Role) -> Result<Option<Column>, String> {
        let is_about = |words: &str| {
            let words = words.to_lowercase();
            role.words.iter().any(|word| words.contains(word))
        };
        let is_free = |c: &Column| c.taken.is_none_or(|(thing, _)| thing == role.thing);
        let mut free = self.columns.iter();
        let by_name = free.position(|c| is_free(c) && is_about(&c.name));
        let mut free = self.columns.iter();
        let by_file = || free.position(|c| is_free(c) && is_about(&c.file));
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
        let (columns, scale) = (&self.columns, self.scale);
        let check = |index: usize| columns.get(index).map_or(Ok(()), |c| c.check(role, scale));
        let chosen = self.dialog.choose_sound(&question, &of, default, check)?;
        Ok(self.columns.get_mut(chosen).map(|column| {
            column.taken = Some((role.thing, role.what));
            column.clone()
        }))
    }
}

/// What was typed where readings are asked for.
enum Typed {
    Nothing,
    One(Size),
    /// The text of a file beside the plan, and what it says.
    Several(String, Readings),
}

/// The file that typed readings are kept in.
fn text_of(role: &Role, scale: Scale, sizes: &[Size]) -> String {
    let unit = scale.name();
    let mut text = format!(
        "# Readings of {}, typed in; add more below, one a line.\n{} ({unit})\n",
        role.what,
        role.name.replace('_', " ")
    );
    for size in sizes {
        let typed = size.text.strip_suffix(unit).map(str::trim);
        let is_plain = |words: &&str| words.parse::<f64>().is_ok();
        match typed.filter(is_plain) {
            Some(words) => text.push_str(words),
            // A fraction, or another unit.
            None => text.push_str(&((scale.number(size.length) * 1e6).round() / 1e6).to_string()),
        }
        text.push('\n');
    }
    text
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
        if readings.dimension() == Dimension::LENGTH && !readings.raw().is_empty() {
            found.push(Column::new(seen_from(plan, path), readings));
        }
    }
    if found.is_empty() {
        return Err(format!(
            "{name}: no column holds lengths; the first line names the columns, each with its unit, such as \
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
