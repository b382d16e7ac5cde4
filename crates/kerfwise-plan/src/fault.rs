use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::fmt;
use std::ops::Range;

/// One thing that is wrong with a plan or with a file of readings, and where.
///
/// Its `Display` is one line, and a second one with the way out where there is one:
///
/// ```text
/// plan.toml:12:9: dial_step needs a unit: in, thou, mm (got 0.0005)
///   help: write "0.0005 in"
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fault {
    /// The file, as it was named.
    pub file: String,
    /// The line, from 1; 0 when it is about the file as a whole.
    pub line: usize,
    /// The column in characters, from 1; 0 when it is about the file as a whole.
    pub column: usize,
    /// Where in the file, in bytes.
    pub span: Range<usize>,
    /// What is wrong: lower case, no full stop.
    pub message: String,
    /// How to mend it.
    pub help: Option<String>,
    /// Another place of the same file that has to do with it.
    pub(crate) also: Option<(Range<usize>, String)>,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if self.line > 0 {
            write!(f, ":{}:{}", self.line, self.column)?;
        }
        write!(f, ": {}", self.message)?;
        match &self.help {
            Some(help) => write!(f, "\n  help: {help}"),
            None => Ok(()),
        }
    }
}

/// All that is wrong with a plan, found in one pass; at least one fault.
///
/// ```
/// use kerfwise_plan::Plan;
///
/// let no_files = |_: &str| Err(std::io::ErrorKind::NotFound.into());
/// let faults = Plan::parse("plan.toml", "version = 1\ntitel = \"Stands\"", &no_files).unwrap_err();
/// let [no_outcome, slip] = faults.faults() else { panic!("two faults") };
/// assert_eq!(no_outcome.message, "the plan has neither a joint nor an outcome");
/// assert_eq!(slip.message, "the plan has no key \"titel\"");
/// assert_eq!(slip.help.as_deref(), Some("did you mean \"title\"?"));
/// assert_eq!((slip.line, slip.column), (2, 1));
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    faults: Vec<Fault>,
    /// How many are not kept.
    more: usize,
    /// The files that they are in, for showing their lines.
    pub(crate) texts: Vec<(String, String)>,
}

impl Faults {
    /// The faults, in the order of the file; those of the plan before those of the readings.
    ///
    /// At most a hundred are kept.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// One fault that is about a whole file.
    pub(crate) fn of_file(name: &str, message: impl Into<String>, help: Option<&str>) -> Self {
        let mut sink = Sink::new(name, "");
        let fault = sink.whole_file(message);
        if let Some(help) = help {
            fault.help(help);
        }
        sink.into_faults()
    }

    /// Faults of lines, counted from 1, of a file that is not kept: message and help.
    pub(crate) fn of_lines(name: &str, lines: Vec<(u64, String, &str)>) -> Self {
        let fault = |(line, message, help): (u64, String, &str)| Fault {
            file: name.to_owned(),
            line: usize::try_from(line).unwrap_or(usize::MAX),
            column: 1,
            span: 0..0,
            message,
            help: Some(help.to_owned()),
            also: None,
        };
        Self {
            faults: lines.into_iter().map(fault).collect(),
            more: 0,
            texts: Vec::new(),
        }
    }

    pub(crate) fn more_line(&self) -> Option<String> {
        (self.more > 0).then(|| format!("and {} more", self.more))
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.faults.iter().enumerate() {
            if i > 0 {
                f.write_str("\n")?;
            }
            fault.fmt(f)?;
        }
        match self.more_line() {
            Some(more) => write!(f, "\n{more}"),
            None => Ok(()),
        }
    }
}

impl std::error::Error for Faults {}

/// A fault as it is found: its place is a range of bytes.
#[derive(Debug)]
pub(crate) struct Found {
    file: usize,
    span: Option<Range<usize>>,
    message: String,
    help: Option<String>,
    also: Option<(Range<usize>, String)>,
    is_absence: bool,
}

impl Found {
    pub(crate) fn help(&mut self, help: impl Into<String>) -> &mut Self {
        self.help = Some(help.into());
        self
    }

    /// Points at another place of the same file.
    pub(crate) fn also(&mut self, span: &Range<usize>, label: impl Into<String>) -> &mut Self {
        self.also = Some((span.clone(), label.into()));
        self
    }

    /// Something is missing, which is no news when the file could not be read as a whole.
    pub(crate) fn absence(&mut self) -> &mut Self {
        self.is_absence = true;
        self
    }
}

/// Where faults are gathered while a file is read. Its first file is the one being read.
#[derive(Debug)]
pub(crate) struct Sink {
    files: Vec<(String, String)>,
    found: Vec<Found>,
}

impl Sink {
    pub(crate) fn new(name: &str, text: &str) -> Self {
        Self {
            files: vec![(name.to_owned(), text.to_owned())],
            found: Vec::new(),
        }
    }

    /// A fault at this place of the first file.
    pub(crate) fn at(&mut self, span: &Range<usize>, message: impl Into<String>) -> &mut Found {
        self.push(Some(span.clone()), message.into())
    }

    /// A fault of the first file as a whole.
    pub(crate) fn whole_file(&mut self, message: impl Into<String>) -> &mut Found {
        self.push(None, message.into())
    }

    fn push(&mut self, span: Option<Range<usize>>, message: String) -> &mut Found {
        let index = self.found.len();
        self.found.push(Found {
            file: 0,
            span,
            message,
            help: None,
            also: None,
            is_absence: false,
        });
        &mut self.found[index]
    }

    /// Takes over what was found in other files.
    pub(crate) fn append(&mut self, other: Self) {
        let shift = self.files.len();
        self.files.extend(other.files);
        self.found
            .extend(other.found.into_iter().map(|found| Found {
                file: found.file + shift,
                ..found
            }));
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// The text of the first file at this place.
    pub(crate) fn text_at(&self, span: &Range<usize>) -> &str {
        self.files[0].1.get(span.clone()).unwrap_or_default()
    }

    /// The text of the first file at this place, on one line and not too long, to be shown in a message.
    pub(crate) fn shown(&self, span: &Range<usize>) -> String {
        const LONGEST: usize = 40;
        let text = self.text_at(span);
        let line = text.lines().next().unwrap_or_default().trim();
        let shown: String = line.chars().take(LONGEST).collect();
        if shown.len() < text.trim().len() {
            format!("{shown}…")
        } else {
            shown
        }
    }

    /// Forgets what only follows from syntax faults: whatever is on a faulty line or around it, and
    /// what seems to be missing. The first `syntax` faults are those of the syntax; of several on one
    /// line one is enough.
    pub(crate) fn keep_what_stands_beside(&mut self, syntax: usize) {
        if syntax == 0 {
            return;
        }
        let lines = Lines::of(&self.files[0].1);
        let line_of = |at: usize| lines.position(at).0;
        let mut broken: BTreeMap<usize, Found> = BTreeMap::new();
        for found in self.found.drain(..syntax) {
            let line = line_of(found.span.as_ref().map_or(0, |span| span.start));
            // What is not closed explains what else is odd.
            let is_reason = found.message.starts_with("unclosed");
            match broken.entry(line) {
                Entry::Vacant(place) => {
                    place.insert(found);
                }
                Entry::Occupied(mut place) if is_reason => {
                    place.insert(found);
                }
                Entry::Occupied(_) => {}
            }
        }
        self.found.retain(|found| match &found.span {
            _ if found.is_absence => false,
            Some(span) if found.file == 0 => {
                let is_placeholder = *span == (0..0);
                let (first, last) = (line_of(span.start), line_of(span.end));
                !is_placeholder && broken.range(first..=last).next().is_none()
            }
            _ => true,
        });
        self.found.extend(broken.into_values());
    }

    pub(crate) fn into_faults(mut self) -> Faults {
        const MOST: usize = 100;
        self.found
            .sort_by_key(|found| (found.file, found.span.as_ref().map(|span| span.start)));
        let more = self.found.len().saturating_sub(MOST);
        self.found.truncate(MOST);
        let lines: Vec<Lines> = self.files.iter().map(|(_, text)| Lines::of(text)).collect();
        let faults = self.found.into_iter().map(|found| {
            let (line, column) = match &found.span {
                Some(span) => lines[found.file].position(span.start),
                None => (0, 0),
            };
            Fault {
                file: self.files[found.file].0.clone(),
                line,
                column,
                span: found.span.unwrap_or_default(),
                message: found.message,
                help: found.help,
                also: found.also,
            }
        });
        Faults {
            faults: faults.collect(),
            more,
            texts: self.files,
        }
    }
}

/// Where the lines of a text begin.
struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    fn of(text: &'a str) -> Self {
        let after_breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        Self {
            text,
            starts: std::iter::once(0).chain(after_breaks).collect(),
        }
    }

    /// Line and column from 1; columns count characters, as an editor does.
    fn position(&self, at: usize) -> (usize, usize) {
        let line = self.starts.partition_point(|start| *start <= at).max(1);
        let start = self.starts[line - 1];
        let before = self.text.as_bytes().get(start..at).unwrap_or_default();
        let before = String::from_utf8_lossy(before);
        // A byte order mark is not seen in an editor.
        let column = before.trim_start_matches('\u{feff}').chars().count() + 1;
        (line, column)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn positions_count_characters_from_one() {
        let lines = Lines::of("a\n½ = é\n");
        assert_eq!(lines.position(0), (1, 1));
        assert_eq!(lines.position(2), (2, 1));
        assert_eq!(lines.position(4), (2, 2));
        assert_eq!(lines.position(7), (2, 5));
        assert_eq!(lines.position(10), (3, 1));
        assert_eq!(lines.position(1000), (3, 1));
    }

    #[test]
    fn faults_come_in_the_order_of_the_file_and_no_more_than_a_hundred() {
        let mut sink = Sink::new("plan.toml", &"\n".repeat(300));
        for at in (0..150).rev() {
            sink.at(&(at..at), format!("fault {at}"));
        }
        let faults = sink.into_faults();
        assert_eq!(faults.faults().len(), 100);
        assert_eq!(faults.faults()[0].to_string(), "plan.toml:1:1: fault 0");
        assert!(faults.to_string().ends_with("\nand 50 more"));
    }

    #[test]
    fn a_fault_of_a_whole_file_has_no_line() {
        let faults = Faults::of_file("plan.toml", "cannot be read", Some("look"));
        assert_eq!(
            faults.to_string(),
            "plan.toml: cannot be read\n  help: look"
        );
    }
}
