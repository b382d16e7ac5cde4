//! A plan, begun by asking.

mod ask;
mod draft;
mod evidence;
mod methods;
mod size;

use crate::args::{LengthUnit, NewWords};
use crate::explain;
use crate::run::{show, subject, write_safely};
use ask::Dialog;
use draft::Draft;
pub(crate) use draft::toml_text;
use evidence::{Column, columns};
use kerfwise::plan::Plan;
use kerfwise_report::{BudgetReport, Origin};
use methods::METHODS;
use size::{Scale, Size};
use std::fmt::Write as _;
use std::fs::File;
use std::io::{IsTerminal as _, Write as _};
use std::path::{Path, PathBuf};

/// As many joints as plans may have.
const MOST_PIECES: u32 = 1_000_000;

/// What is asked, and what comes of it.
struct Interview<'a> {
    dialog: Dialog<'a>,
    scale: Scale,
    draft: Draft,
    /// Columns of the files that were named.
    columns: Vec<Column>,
    /// Beginning of the names of files that are written beside the plan.
    stem: String,
}

/// Asks, writes the plan, and says what comes next.
pub(crate) fn run(words: &NewWords, unit: LengthUnit) -> Result<String, String> {
    is_free(&words.plan)?;
    let stem = words.plan.file_stem().map(|stem| stem.to_string_lossy());
    let mut found = Vec::new();
    for path in &words.from_readings {
        found.extend(columns(path, &words.plan)?);
    }
    let stdin = std::io::stdin();
    let is_terminal = stdin.is_terminal();
    let (mut input, mut said) = (stdin.lock(), std::io::stderr().lock());
    let mut interview = Interview {
        dialog: Dialog::new(&mut input, &mut said, is_terminal, words.yes),
        scale: Scale { unit },
        draft: Draft::default(),
        columns: found,
        stem: stem.unwrap_or_default().into_owned(),
    };
    let asked = interview.ask(&words.plan);
    let written = asked.and_then(|()| write(&words.plan, &interview.draft, interview.scale.unit));
    written.map_err(|message| match interview.dialog.kept() {
        Some(answers) => format!("{message}\n{}", keep(&words.plan, &answers)),
        None => message,
    })
}

/// What a file of answers begins with, and how it is known again.
const KEPT: &str =
    "# Answers to `kerfwise new`; an empty line takes what stands in brackets above it.\n";

/// Answers that did not come to a plan go into a file beside it, or are shown if that cannot be; says which.
fn keep(plan: &Path, answers: &str) -> String {
    let path = plan.with_extension("answers");
    let shown = path.display();
    // Only a file of ours is written over.
    let is_ours = || std::fs::read_to_string(&path).is_ok_and(|text| text.starts_with(KEPT));
    let is_free = path.symlink_metadata().is_err() || is_ours();
    if is_free && write_safely(&path, &format!("{KEPT}{answers}")).is_ok() {
        let plan = plan.display();
        return format!(
            "what you answered is in {shown}: mend or add lines there, then\n  kerfwise new {plan} < {shown}"
        );
    }
    format!("what you answered (keep it, and give it back as input):\n{answers}")
}

impl Interview<'_> {
    fn ask(&mut self, plan: &Path) -> Result<(), String> {
        self.dialog.say(&format!(
            "A few questions, and then {} is written. Enter takes what stands in brackets. A number may have its unit: \
             3/8 in, 2 thou, 9.5 mm.",
            plan.display()
        ));
        self.draft.title = self
            .dialog
            .text("What is the plan about?", "Rail-to-leg joints")?;
        let default = self.scale.name();
        let unit = self.dialog.ask(
            "in or mm where no unit is typed?",
            default,
            |words| match words.to_lowercase().trim_end_matches('.') {
                "in" | "inch" | "inches" => Ok(LengthUnit::In),
                "mm" | "millimetres" | "millimeters" => Ok(LengthUnit::Mm),
                _ => Err(format!("type in or mm (got \"{words}\")")),
            },
        )?;
        self.scale = Scale { unit };
        let method = self.dialog.choose("How is the tenon made?", &METHODS, 0)?;
        self.draft.pieces = self
            .dialog
            .ask("How many joints at one setting?", "24", |words| {
                let count = words.parse().ok().filter(|n| (1..=MOST_PIECES).contains(n));
                count.ok_or_else(|| {
                    format!("type a whole number from 1 to {MOST_PIECES} (got \"{words}\")")
                })
            })?;
        self.method(method)?;
        let band = self.size(
            "How far may a joint be off, to either side, and still be a good fit",
            self.scale.pick("0.005 in", "0.12 mm"),
            (1e-5, 0.25),
        )?;
        self.draft.joint_with(
            "What the fit may be off by: tight is positive.",
            format!("fit_band = [\"-{0}\", \"{0}\"]", band.text),
        );
        Ok(())
    }

    fn size(&mut self, question: &str, default: &str, bounds: (f64, f64)) -> Result<Size, String> {
        let scale = self.scale;
        self.dialog
            .ask(question, default, |words| scale.read(words, bounds))
    }
}

/// A file that is there is never written over.
fn is_free(path: &Path) -> Result<(), String> {
    let folder = path.parent().unwrap_or(Path::new(""));
    if !folder.as_os_str().is_empty() && !folder.is_dir() {
        return Err(format!(
            "{}: there is no folder {}; make it first",
            path.display(),
            folder.display()
        ));
    }
    // A link that leads nowhere is there as well.
    if path.symlink_metadata().is_ok() {
        return Err(format!(
            "{} is there already, and is not written over; name another file: kerfwise new OTHER.toml",
            path.display()
        ));
    }
    Ok(())
}

fn write_new(path: &Path, text: &str) -> std::io::Result<()> {
    File::create_new(path)?.write_all(text.as_bytes())
}

/// Checks the plan as it will be read, and writes it and its readings.
fn write(path: &Path, draft: &Draft, unit: LengthUnit) -> Result<String, String> {
    let name = path.display().to_string();
    let folder = path.parent().unwrap_or(Path::new(""));
    let text = draft.to_toml();
    let read = |file: &str| match draft.files.iter().find(|(name, _)| name == file) {
        Some((_, text)) => Ok(text.clone()),
        None => std::fs::read_to_string(folder.join(file)),
    };
    let plan = Plan::parse(&name, &text, &read).map_err(|faults| {
        format!(
            "these answers do not make a plan; nothing was written\n\n{}",
            show(&faults)
        )
    })?;
    let files = draft.files.iter();
    let files: Vec<(PathBuf, &str)> = files
        .map(|(file, text)| (folder.join(file), text.as_str()))
        .collect();
    for (file, _) in &files {
        is_free(file)?;
    }
    for (file, text) in files.iter().chain([&(path.to_owned(), text.as_str())]) {
        write_new(file, text)
            .map_err(|error| format!("cannot write {}: {error}", file.display()))?;
    }
    Ok(farewell(&name, &plan, draft, unit))
}

/// What was written, what to measure first, and what to ask next.
fn farewell(name: &str, plan: &Plan, draft: &Draft, unit: LengthUnit) -> String {
    let off = || draft.sources.iter().filter(|source| source.is_off);
    let (sources, assumed) = (off().count(), off().filter(|s| s.is_assumed).count());
    let mut text =
        format!("{name}: written, with {sources} sources of error, {assumed} of them assumed.\n");
    for (file, _) in &draft.files {
        let _never = writeln!(text, "{file}: the readings that were typed; add to it.");
    }
    text.push_str("\nNext:\n");
    if let Some(first) = first_to_measure(plan) {
        let _never = writeln!(
            text,
            "  measure {first} first: of what is assumed, it eats most of the band"
        );
        if explain::knows(&first) {
            let _never = writeln!(text, "  kerfwise explain {first}");
        }
    }
    let has_dial = plan.joint().is_some();
    let ask = [
        ("job", "", "what to dial, and which error counts", true),
        ("chance", "", "how likely a joint fits, four ways", true),
        ("card", "-o card.html", "a page to hang by the saw", true),
        (
            "testcut",
            "",
            "what to do for whatever a test piece measures",
            has_dial,
        ),
        ("batch", "", "how many joints fit, how many spares", true),
    ];
    let in_unit = match unit {
        LengthUnit::In => "",
        LengthUnit::Mm => "--unit mm",
    };
    let mut lines: Vec<(String, &str)> = ask
        .iter()
        .filter(|(.., is_of_use)| *is_of_use)
        .map(|(command, options, what, _)| {
            let words = ["kerfwise", command, name, options, in_unit];
            let words: Vec<&str> = words.into_iter().filter(|w| !w.is_empty()).collect();
            (words.join(" "), *what)
        })
        .collect();
    // What comes out at the saw makes the next plan better.
    let learn = "later: measured tenons make the next plan better";
    lines.push(("kerfwise learn --help".to_owned(), learn));
    let width = lines.iter().map(|(line, _)| line.len()).max().unwrap_or(0);
    for (line, what) in &lines {
        let _never = writeln!(text, "  {line:width$}   {what}");
    }
    text
}

/// Of what was assumed, the source with the largest share of the first outcome.
fn first_to_measure(plan: &Plan) -> Option<String> {
    let report = BudgetReport::new(&subject(plan), plan.stack());
    let is_assumed = |name: &str| {
        let mut inputs = report.inputs.iter();
        inputs.any(|input| input.name == name && input.origin == Origin::Assumed)
    };
    let budget = report.outcomes.first()?.budget.answer()?;
    let row = budget.rows.iter().find(|row| is_assumed(&row.name))?;
    // Both cuts of one source are measured at once.
    let name = row.name.split('.').next()?;
    Some(name.to_owned())
}
