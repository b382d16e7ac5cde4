//! What the files in `tests/checks` hold.

use serde::Deserialize;
use std::path::{Path, PathBuf};

/// Where a value comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Status {
    /// Printed in the source, read there.
    Published,
    /// Printed in the source, quoted from memory; the arithmetic was repeated.
    FromMemory,
    /// Computed independently at high precision; a source may define the problem, none prints the value.
    Recomputed,
    /// A fact of the trade.
    CommonPractice,
}

impl Status {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Published => "published",
            Self::FromMemory => "from memory",
            Self::Recomputed => "recomputed",
            Self::CommonPractice => "common practice",
        }
    }
}

/// Which part of Kerfwise is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum By {
    /// Worst case.
    WorstCase,
    /// Root sum of squares (law of propagation of uncertainty).
    Rss,
    /// The exact distribution.
    Exact,
    /// The exact distribution given one or two sources, averaged over them.
    SemiExact,
    /// Quasi-Monte Carlo.
    QuasiMonteCarlo,
    /// Monte Carlo.
    MonteCarlo,
    /// The chance of a batch with shared errors, by quadrature.
    Batch,
    /// Batches simulated piece by piece.
    BatchSimulation,
    /// The law of one source.
    Distribution,
    /// A source as a plan gives it: type A and type B evaluation.
    Source,
    /// A function of `kerfwise-numeric`.
    Function,
    /// Integrals, roots, intervals, columns and streams of numbers of `kerfwise-numeric`.
    Arithmetic,
    /// Value of an expression.
    Value,
    /// The setting of the dial.
    Setting,
    /// Conformity of measured pieces.
    Judge,
    /// What test pieces say of the set-up.
    TestCut,
    /// What mending one error is worth.
    Worth,
    /// Which sources matter where the outcome is not affine.
    Sensitivity,
    /// Which tenon goes into which mortise.
    Pairing,
    /// How many of a batch will fit, and spares.
    Forecast,
    /// What readings say (`kerfwise-gauge`).
    Evidence,
    /// Movement of wood.
    Wood,
}

impl By {
    /// In words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::WorstCase => "worst case",
            Self::Rss => "root sum of squares",
            Self::Exact => "exact",
            Self::SemiExact => "semi-exact",
            Self::QuasiMonteCarlo => "quasi-Monte Carlo",
            Self::MonteCarlo => "Monte Carlo",
            Self::Batch => "batch",
            Self::BatchSimulation => "batch simulated",
            Self::Distribution => "distribution",
            Self::Source => "source",
            Self::Function => "function",
            Self::Arithmetic => "arithmetic",
            Self::Value => "value",
            Self::Setting => "decision: setting",
            Self::Judge => "decision: judge",
            Self::TestCut => "decision: test cut",
            Self::Worth => "decision: which error to mend",
            Self::Sensitivity => "decision: which sources matter",
            Self::Pairing => "decision: pairing",
            Self::Forecast => "decision: batch forecast",
            Self::Evidence => "readings",
            Self::Wood => "wood",
        }
    }
}

/// One argument or several.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(untagged)]
pub enum Arguments {
    /// None given.
    #[default]
    None,
    /// One.
    One(f64),
    /// Several.
    Several(Vec<f64>),
}

impl Arguments {
    /// All of them.
    #[must_use]
    pub fn all(&self) -> &[f64] {
        match self {
            Self::None => &[],
            Self::One(x) => std::slice::from_ref(x),
            Self::Several(all) => all,
        }
    }
}

/// Readings in a file: of `tests/checks/data`, or of `datasets/published`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Data {
    /// The file.
    pub file: String,
    /// The column of readings.
    pub column: String,
    /// The column of the groups, or of the parts of a gauge study.
    pub group: Option<String>,
    /// The column of the pieces of a log of set-ups.
    pub piece: Option<String>,
    /// The column of the people of a gauge study.
    pub person: Option<String>,
}

/// One value: what the source says, and what to ask Kerfwise.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Clause or table, where it is another than the case's.
    pub clause: Option<String>,
    /// Where the value comes from, where it is elsewhere than the case's.
    pub status: Option<Status>,
    /// Who is asked.
    pub by: By,
    /// For what.
    pub ask: String,
    /// Of which outcome, source or input; the first when left out.
    pub of: Option<String>,
    /// With which other outcome (correlation), at which input (worst case), for which sources (weights).
    pub with: Option<String>,
    /// At which argument(s).
    #[serde(default)]
    pub at: Arguments,
    /// Level of coverage.
    pub level: Option<f64>,
    /// Second-order terms.
    #[serde(default)]
    pub second_order: bool,
    /// Degrees of freedom cut to a whole number.
    #[serde(default)]
    pub truncated: bool,
    /// Worst case: unbounded sources at so many standard deviations.
    pub at_sd: Option<f64>,
    /// Monte Carlo trials, or batches.
    pub trials: Option<u64>,
    /// Monte Carlo: significant digits of the adaptive procedure.
    pub adaptive: Option<u32>,
    /// Pieces of a batch.
    pub pieces: Option<u32>,
    /// Our number is multiplied by this before it is compared (a change of unit).
    pub times: Option<f64>,
    /// As the source prints it.
    pub printed: Option<String>,
    /// As computed independently, with the digits it was computed to.
    pub value: Option<String>,
    /// The stated error of the independent computation (absolute), where it is not the rule: twelve
    /// significant digits.
    pub within: Option<f64>,
    /// What the library promises for this value, where that is less than twelve digits; says so in `note`.
    pub digits: Option<i32>,
    /// Standard error of one Monte Carlo trial; divided by the square root of the trials.
    pub one_trial: Option<f64>,
    /// Standard error of the printed number, where that was itself found by Monte Carlo or read off a graph.
    pub print_error: Option<f64>,
    /// Why the print is not followed; the recomputed value is the check.
    pub misprint: Option<String>,
    /// Why our value is wrong, until it is mended: the row must then still fail.
    pub known_wrong: Option<String>,
    /// A remark.
    pub note: Option<String>,
}

/// A problem with its rows.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Case {
    /// Short name, unique.
    pub id: String,
    /// The document, as it is counted.
    pub source: String,
    /// Clause or table.
    pub clause: String,
    /// What it is about.
    pub title: String,
    /// Where the values come from, where a row does not say otherwise.
    pub status: Status,
    /// Sources, as in a plan file; beside them `values = [...]` for readings.
    #[serde(default, rename = "sources")]
    pub inputs: toml::Table,
    /// Outcomes, as in a plan file, or the expression alone.
    #[serde(default)]
    pub outcomes: toml::Table,
    /// A joint, as in a plan file.
    pub joint: Option<toml::Table>,
    /// A joint of `kerfwise-joint` made of the sources, by its name in `ask::joint`.
    pub joinery: Option<String>,
    /// Correlations: two names and a coefficient.
    #[serde(default)]
    pub correlations: Vec<(String, String, f64)>,
    /// The readings of all sources belong together: correlations of their means are taken from them.
    #[serde(default)]
    pub read_together: bool,
    /// Readings.
    pub data: Option<Data>,
    /// A remark.
    pub note: Option<String>,
    /// The values.
    pub rows: Vec<Row>,
    /// The file it came from.
    #[serde(skip)]
    pub file: String,
}

impl Case {
    /// The clause of a row.
    #[must_use]
    pub fn clause_of<'a>(&'a self, row: &'a Row) -> &'a str {
        row.clause.as_deref().unwrap_or(&self.clause)
    }

    /// The status of a row.
    #[must_use]
    pub fn status_of(&self, row: &Row) -> Status {
        row.status.unwrap_or(self.status)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    case: Vec<Case>,
}

/// Where the tables stand.
pub(super) fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("checks")
}

/// All cases of all files, by the names of the files.
///
/// # Errors
/// A file that cannot be read, or that holds what a table must not.
pub fn cases() -> Result<Vec<Case>, String> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder())
        .map_err(|e| format!("tests/checks: {e}"))?
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    paths.sort();
    let mut all: Vec<Case> = Vec::new();
    for path in paths {
        let name = path
            .file_stem()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let text = std::fs::read_to_string(&path).map_err(|e| format!("{name}: {e}"))?;
        let file: File = toml::from_str(&text).map_err(|e| format!("{name}: {e}"))?;
        for mut case in file.case {
            if let Some(twin) = all.iter().find(|other| other.id == case.id) {
                return Err(format!("{} stands in {} and {name}", case.id, twin.file));
            }
            case.file.clone_from(&name);
            all.push(case);
        }
    }
    Ok(all)
}
