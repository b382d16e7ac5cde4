use crate::document::{self, Entry, Kind, Table, Value};
use crate::event::Events;
use crate::fault::Sink;
use crate::files::Files;
use crate::joint::{self, JointSection, Method, Recipe};
use crate::near::{near, quoted};
use crate::outcome::{self, Correlation, Outcome};
use crate::parts::{Parts, Problem};
use crate::pool::Pool;
use crate::read::{Section, count, text};
use crate::{Fault, Faults};
use kerfwise_joint::{Adjustment, ShiftedTenon, TenonFit};
use kerfwise_numeric::stream::name_key;
use kerfwise_source::Length;
use kerfwise_stack::Stack;
use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use std::io;
use std::ops::Range;

/// A plan that was read and checked: a stack, and mostly the joint that it comes from.
///
/// ```
/// use kerfwise_plan::Plan;
///
/// let text = r#"
/// version = 1
/// title = "Drawer in its opening"
/// [outcome.gap]
/// expression = "opening - drawer"
/// at_least = "1/32 in"
/// [source.opening]
/// estimate = "12 in"
/// rectangular = "1/64 in"
/// assumed = "invented"
/// [source.drawer]
/// estimate = "11-15/16 in"
/// normal = "5 thou"
/// assumed = "invented"
/// "#;
/// let no_files = |_: &str| Err(std::io::ErrorKind::NotFound.into());
/// let plan = Plan::parse("drawer.toml", text, &no_files)?;
/// assert_eq!(plan.title(), "Drawer in its opening");
/// let gap = plan.stack().outcome("gap").unwrap();
/// assert_eq!(gap.expr().to_string(), "opening - drawer");
/// # Ok::<(), kerfwise_plan::Faults>(())
/// ```
#[derive(Debug, Clone)]
pub struct Plan {
    name: String,
    text: String,
    title: String,
    note: Option<String>,
    pieces: Option<u32>,
    setting_step: Option<Length>,
    setting_was_given: bool,
    pub(crate) parts: Parts,
    joint: Option<ShiftedTenon>,
    stack: Stack,
    /// What is set without a dial, as the plan says and as it is now.
    pub(crate) moved: Option<[Adjustment; 2]>,
    readings: Vec<ReadingsUsed>,
    files: Vec<FileRead>,
    warnings: Vec<Fault>,
    hash: u64,
}

/// A column of readings that a plan leans on.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ReadingsUsed {
    /// The path, as the plan writes it.
    pub path: String,
    /// The column, with its unit.
    pub column: String,
    /// How many readings it holds.
    pub count: usize,
}

/// A file that a plan was read from.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct FileRead {
    /// The path, as it was given or as the plan writes it.
    pub path: String,
    /// SHA-256 of its bytes (FIPS 180-4), in hexadecimal, as `sha256sum` prints it.
    pub sha256: String,
}

impl FileRead {
    fn new(path: &str, text: &str) -> Self {
        let mut sha256 = String::with_capacity(64);
        for byte in Sha256::digest(text.as_bytes()) {
            // Writing to a string cannot fail.
            let _ = write!(sha256, "{byte:02x}");
        }
        Self {
            path: path.to_owned(),
            sha256,
        }
    }
}

/// The version of the format that this program reads.
const VERSION: u32 = 1;
/// A plan is written by hand.
const MOST_BYTES: usize = 1 << 20;
const MOST_PIECES: u32 = 1_000_000;

impl Plan {
    /// Reads a plan from its text; `read` gives the text of a file of readings by its path as written
    /// in the plan. `name` is how faults call the plan.
    ///
    /// # Errors
    ///
    /// All that is wrong with the texts, found in one pass.
    ///
    /// ```
    /// let read = |_: &str| Err(std::io::ErrorKind::NotFound.into());
    /// let faults = kerfwise_plan::Plan::parse("plan.toml", "version = 1", &read).unwrap_err();
    /// assert!(faults.to_string().contains("the plan needs title"));
    /// ```
    pub fn parse(
        name: &str,
        text: &str,
        read: &dyn Fn(&str) -> io::Result<String>,
    ) -> Result<Self, Faults> {
        if text.len() > MOST_BYTES {
            let message = format!("a plan may have {MOST_BYTES} bytes (got {})", text.len());
            return Err(Faults::of_file(name, message, None));
        }
        let mut sink = Sink::new(name, text);
        let (root, syntax) = document::read(text, &mut sink);
        if syntax == 0 && !version_is_read(&root, &mut sink) {
            // Another version may mean something else by the same words.
            return Err(sink.into_faults());
        }
        let mut files = Files::new(name, read);
        let plan = read_plan(name, text, &root, &mut files, &mut sink);
        sink.keep_what_stands_beside(syntax);
        match plan {
            Some(plan) if sink.is_empty() => Ok(plan),
            _ => Err(sink.into_faults()),
        }
    }

    /// What is set for its joint, so that the fits come out right; none where the plan has no joint, or does not tell which of
    /// its lengths is set.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// let set = plan.adjustment().unwrap();
    /// assert!(matches!(&set, kerfwise_joint::Adjustment::Travel(travel) if travel.name() == "travel"));
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn adjustment(&self) -> Option<Adjustment> {
        if let Some([_, now]) = &self.moved {
            return Some(now.clone());
        }
        match &self.joint {
            Some(joint) => Some(joint.adjustment()),
            None => self.parts.method.as_ref()?.adjustment(),
        }
    }

    /// The outcomes that tell how its tenons fit: one, or for a loose tenon two; none where the plan has no joint.
    ///
    /// ```
    /// assert_eq!(kerfwise_plan::demo()?.fits(), ["fit"]);
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn fits(&self) -> &'static [&'static str] {
        match (&self.parts.method, self.adjustment()) {
            (None, _) => &[],
            (Some(_), Some(set)) => set.fits(),
            (Some(_), None) => &[TenonFit::FIT],
        }
    }

    /// The same plan with the dial, or what else is [set](Self::adjustment), at another setting.
    ///
    /// # Errors
    ///
    /// When the plan has no joint for which something is set, or the setting is not above 0.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    ///
    /// let plan = kerfwise_plan::demo()?.with_setting(0.5.inch())?;
    /// assert_eq!(plan.joint().unwrap().dialled(), 0.5.inch());
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    pub fn with_setting(&self, setting: Length) -> Result<Self, Faults> {
        let refused = |message: String| Faults::of_file(&self.name, message, None);
        let Some(set) = self.adjustment() else {
            let message = "the plan has no joint that tells what is set for it";
            return Err(refused(message.to_owned()));
        };
        if self.joint.is_none() {
            let now = set.at(setting).map_err(|e| refused(e.to_string()))?;
            let stack = self.stack.with_source(set.source(), now.source());
            let written = match &self.moved {
                Some([written, _]) => written.clone(),
                None => set,
            };
            return Ok(Self {
                stack: stack.map_err(|e| refused(e.to_string()))?,
                moved: Some([written, now]),
                ..self.clone()
            });
        }
        match self.parts.put_together(Some(setting)) {
            Ok((joint, stack)) => Ok(Self {
                joint,
                stack,
                ..self.clone()
            }),
            Err(problems) => {
                let messages: Vec<String> = problems.iter().map(Problem::to_string).collect();
                Err(refused(messages.join("; ")))
            }
        }
    }

    /// The file, as it was named.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text of the plan.
    #[must_use]
    pub fn source_text(&self) -> &str {
        &self.text
    }

    /// The version of the format that the plan is written in.
    #[must_use]
    pub fn version(&self) -> u32 {
        VERSION
    }

    /// The title.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }

    /// A remark of its author.
    #[must_use]
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }

    /// How many joints are to be cut.
    #[must_use]
    pub fn pieces(&self) -> Option<u32> {
        self.pieces
    }

    /// The smallest step that the dial, or what else is set, can be set by.
    #[must_use]
    pub fn setting_step(&self) -> Option<Length> {
        self.setting_step
    }

    /// Whether the plan states the setting; else it is the nominal travel, rounded to the dial's step.
    #[must_use]
    pub fn setting_was_given(&self) -> bool {
        self.setting_was_given
    }

    /// The joint with a dial to be set, if the plan describes one. What joints by other methods have to say is in
    /// the [`stack`](Self::stack).
    #[must_use]
    pub fn joint(&self) -> Option<&ShiftedTenon> {
        self.joint.as_ref()
    }

    /// All outcomes: those of the joint, then those in the general form.
    #[must_use]
    pub fn stack(&self) -> &Stack {
        &self.stack
    }

    /// The columns of readings that it leans on.
    #[must_use]
    pub fn readings(&self) -> &[ReadingsUsed] {
        &self.readings
    }

    /// The files that it was read from, the plan first, then the readings by their paths; so that another person can tell
    /// whether theirs are the same.
    ///
    /// ```
    /// let plan = kerfwise_plan::demo()?;
    /// let paths: Vec<&str> = plan.files().iter().map(|file| file.path.as_str()).collect();
    /// assert_eq!(paths, ["plant-stands/plan.toml", "readings/kerf.csv", "readings/mortise.csv"]);
    /// assert_eq!(plan.files()[0].sha256.len(), 64);
    /// # Ok::<(), kerfwise_plan::Faults>(())
    /// ```
    #[must_use]
    pub fn files(&self) -> &[FileRead] {
        &self.files
    }

    /// What is odd but not wrong: sources that nothing uses.
    #[must_use]
    pub fn warnings(&self) -> &[Fault] {
        &self.warnings
    }

    /// A number that changes with the text of the plan or of its readings (FNV-1a, 64 bits).
    ///
    /// The same on every machine; the setting of [`with_setting`](Self::with_setting) does not change it.
    #[must_use]
    pub fn hash(&self) -> u64 {
        self.hash
    }
}

fn version_is_read(root: &Table, sink: &mut Sink) -> bool {
    let found = root.0.iter().find(|entry| entry.key == "version");
    match found.map(|entry| &entry.value) {
        None => true,
        Some(value) if matches!(value.kind, Kind::Integer(Some(n)) if n == i64::from(VERSION)) => {
            true
        }
        Some(value) => {
            let got = sink.shown(&value.span);
            let message = format!("version {got} is not one that this program reads");
            sink.at(&value.span, message)
                .help(format!("it reads version {VERSION}"));
            false
        }
    }
}

/// What the parts of a plan are put together from, and where they stand.
struct Sections<'a> {
    joint: Option<JointSection>,
    /// `[joint]` is there, be it faulty or not.
    has_joint: bool,
    outcomes: Vec<(Outcome, &'a Entry, &'a Value)>,
    correlations: Vec<(Correlation, &'a Value)>,
}

fn read_plan(
    name: &str,
    source: &str,
    root: &Table,
    files: &mut Files<'_>,
    sink: &mut Sink,
) -> Option<Plan> {
    let mut section = Section::new("the plan", &(0..0), root);
    section.need_as("version", "write version = 1 at the top");
    let title = section.need_as(
        "title",
        "write title = \"what the plan is about\" at the top",
    );
    let title = title.and_then(|value| text(value, "title", sink));
    let note = section.value("note");
    let note = note.and_then(|value| text(value, "note", sink));
    let pieces = section.get("batch").and_then(|entry| pieces(entry, sink));
    let events = Events::read(section.get("event"), sink);
    let mut pool = Pool::read(section.get("source"), &events, files, sink);
    let joint = section.get("joint");
    let outcomes = section.get("outcome");
    if joint.is_none() && outcomes.is_none() {
        sink.at(&(0..0), "the plan has neither a joint nor an outcome")
            .help("add [joint], or [outcome.NAME] with its expression")
            .absence();
    }
    let sections = Sections {
        has_joint: joint.is_some(),
        joint: joint.and_then(|entry| joint::read(entry, &mut pool, sink)),
        outcomes: outcome::outcomes(outcomes, sink),
        correlations: outcome::correlations(section.get("correlation"), sink),
    };
    section.close(sink);
    let (parts, joint, stack) = put_together(&sections, &pool, sink)?;
    Some(Plan {
        name: name.to_owned(),
        text: source.to_owned(),
        title: title?.to_owned(),
        note: note.map(str::to_owned),
        pieces,
        setting_step: sections.joint.as_ref().and_then(|joint| joint.step),
        setting_was_given: sections
            .joint
            .as_ref()
            .is_some_and(|j| j.travel.is_some() || !matches!(j.method, Some(Method::Shifted(_)))),
        moved: None,
        warnings: warnings(name, source, &pool, &stack, &files.slips),
        parts,
        joint,
        stack,
        hash: hash(source, files),
        files: std::iter::once(FileRead::new(name, source))
            .chain(files.texts().map(|(path, text)| FileRead::new(path, text)))
            .collect(),
        readings: std::mem::take(&mut files.used),
    })
}

fn pieces(entry: &Entry, sink: &mut Sink) -> Option<u32> {
    let mut section = Section::of("[batch]", entry, sink)?;
    let value = section.need("pieces");
    section.close(sink);
    let help =
        "write how many joints are cut at one setting; where that is open, take [batch] away";
    value.and_then(|value| count(value, "pieces", MOST_PIECES, help, sink))
}

type Together = (Parts, Option<ShiftedTenon>, Stack);

fn put_together(sections: &Sections<'_>, pool: &Pool, sink: &mut Sink) -> Option<Together> {
    names_are_free(sections, sink);
    // With faulty parts, what they leave out would only be told a second time.
    let joint_is_sound = match &sections.joint {
        Some(joint) => joint.method.is_some(),
        None => !sections.has_joint,
    };
    if !pool.is_sound() || !joint_is_sound {
        return None;
    }
    let parts = Parts {
        method: sections
            .joint
            .as_ref()
            .and_then(|joint| joint.method.clone()),
        sources: pool.sources(),
        outcomes: sections.outcomes.iter().map(|(o, ..)| o.clone()).collect(),
        correlations: sections
            .correlations
            .iter()
            .map(|(c, _)| c.clone())
            .collect(),
    };
    if parts.method.is_none() && parts.outcomes.is_empty() {
        return None;
    }
    let travel = match (&sections.joint, &parts.method) {
        (Some(joint), Some(Method::Shifted(recipe))) => Some(travel(joint, recipe, pool, sink)?),
        _ => None,
    };
    match parts.put_together(travel) {
        Ok((joint, stack)) => Some((parts, joint, stack)),
        Err(problems) => {
            for problem in &problems {
                tell(problem, sections, &parts, sink);
            }
            None
        }
    }
}

/// The travel that the plan states, or else the nominal one.
fn travel(joint: &JointSection, recipe: &Recipe, pool: &Pool, sink: &mut Sink) -> Option<Length> {
    if joint.travel.is_some() {
        return joint.travel;
    }
    match recipe.nominal_travel(joint.step) {
        Ok(travel) => Some(travel),
        Err(error) => {
            if !pool.tell_without_mean(sink) {
                joint.places.tell_nominal(&error, sink);
            }
            None
        }
    }
}

/// A joint has outcomes of its own.
fn names_are_free(sections: &Sections<'_>, sink: &mut Sink) {
    let method = sections
        .joint
        .as_ref()
        .and_then(|joint| joint.method.as_ref());
    let own = Method::own_outcomes(method);
    for (outcome, entry, _) in &sections.outcomes {
        if sections.has_joint && own.contains(&outcome.name) {
            let message = format!("the joint has an outcome {:?} already", outcome.name);
            sink.at(&entry.key_span, message)
                .help("give it another name");
        }
    }
}

fn tell(problem: &Problem, sections: &Sections<'_>, parts: &Parts, sink: &mut Sink) {
    match problem {
        Problem::Joint(error) => {
            if let Some(joint) = &sections.joint {
                joint.places.tell(error, sink);
            }
        }
        Problem::Outcome(index, error) => {
            let (outcome, _, value) = &sections.outcomes[*index];
            outcome::tell(outcome, value, error, sink);
        }
        Problem::Unknown(index, name) => {
            let (_, value) = &sections.correlations[*index];
            let known: Vec<&str> = parts.sources.iter().map(|source| source.name()).collect();
            let found = near(name, known);
            let message = format!("correlation: there is no source {name:?}");
            let fault = sink.at(&value.span, message);
            if !found.is_empty() {
                fault.help(format!("did you mean {}?", quoted(found, " or ")));
            }
        }
        Problem::Correlations(_) | Problem::Whole(_) => {
            let correlation = sections.correlations.first();
            let place = correlation.map_or(0..0, |(_, value)| value.span.clone());
            sink.at(&place, problem.to_string());
        }
    }
}

/// Sources that neither the joint nor an outcome uses, those whose readings hide their spread, and slips of the pen.
fn warnings(
    name: &str,
    text: &str,
    pool: &Pool,
    stack: &Stack,
    slips: &[(Range<usize>, String)],
) -> Vec<Fault> {
    let used = stack.sources();
    let mut sink = Sink::new(name, text);
    for (source, place) in pool.without_role() {
        if !used.iter().any(|used| used.name() == source) {
            sink.at(place, format!("nothing uses source {source:?}"))
                .help("name it in [joint] or in an expression, or take it away");
        }
    }
    for (source, place) in pool.without_spread() {
        sink.at(place, format!("source {source:?} was measured, and its readings do not differ at all"))
            .help("the step of the gauge hides what they scatter by: add a source for it, rectangular with half of the step");
    }
    for (place, message) in slips {
        sink.at(place, message)
            .help("a slip of the decimal point, or of the unit? mend it in the file; until then it counts as it stands");
    }
    sink.into_faults().faults().to_vec()
}

fn hash(text: &str, files: &Files<'_>) -> u64 {
    let mut all = text.to_owned();
    for (path, text) in files.texts() {
        // A NUL cannot stand in TOML, so no two plans with their readings run together alike.
        all.push('\0');
        all.push_str(path);
        all.push('\0');
        all.push_str(text);
    }
    name_key(&all)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_digest_is_sha_256() {
        // FIPS 180-2, appendix B.1: the digest of "abc".
        assert_eq!(
            FileRead::new("x", "abc").sha256,
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_slip_of_the_pen_is_warned_of_once_and_counts() {
        let text = "version = 1\ntitle = \"Slip\"\n[outcome.gap]\nexpression = \"mean + spread\"\nat_least = \"0 in\"\n\
                    [source.mean]\nreadings = \"m.csv\"\nuse = \"mean\"\n\
                    [source.spread]\nreadings = \"m.csv\"\nuse = \"spread\"\n";
        let read = |_: &str| Ok("m (in)\n0.3760\n0.3755\n3.765\n0.3758\n".to_owned());
        let plan = Plan::parse("slip.toml", text, &read).unwrap();
        let [warning] = plan.warnings() else {
            panic!("{:?}", plan.warnings());
        };
        assert_eq!(
            (warning.line, warning.message.as_str()),
            (
                7,
                "m.csv, column \"m (in)\": reading 3 of 4 is ten times the others"
            )
        );
        assert_eq!(plan.readings()[0].count, 4);
    }
}
