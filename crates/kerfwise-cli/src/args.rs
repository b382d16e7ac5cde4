//! Words of the command line.

mod values;

use crate::examples;
use clap::error::{ContextKind, ContextValue};
use clap::{Args, CommandFactory as _, FromArgMatches as _, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use kerfwise::decide::Costs;
use kerfwise::plan::{Faults, Plan, TenonGauge};
use kerfwise::prelude::{Expr, Length, LengthUnits as _, Quantity, Stack};
use kerfwise_report::Input;
use std::path::{Path, PathBuf};

const EXAMPLES: &str = "\
Examples:
  kerfwise                          the main job, on the plan that is built in
  kerfwise new stands.toml          start a plan by being asked
  kerfwise explain run-out          what a word means
  kerfwise job stands.toml          what to dial, how likely it fits, which error eats the band
  kerfwise chance stands.toml       all four propagations side by side
  kerfwise budget stands.toml       the error budget
  kerfwise setting stands.toml      chance against what the dial shows
  kerfwise setting stands.toml --cost-tight 5 --cost-loose 20
                                    the same, where loose joints cost more than tight ones
  kerfwise setting stands.toml --cost-tight 5 --cost-loose 20 --first-cut
                                    where to set the first cut, if its piece can be cut again
  kerfwise card stands.toml -o card.html
  kerfwise report stands.toml -o report.html
                                    all of it on pages for the desk, and where every number came from
  kerfwise compare a.toml b.toml    the same joint by several methods, side by side
  kerfwise testcut stands.toml      what to do for whatever the first test piece measures
  kerfwise testcut stands.toml --measured 0.3742in --measured 0.3751in
                                    test pieces were cut: leave the jig or move it?
  kerfwise testcut stands.toml --cost-tight 5 --cost-loose 20 --cost-test 4
                                    how many test pieces are worth cutting
  kerfwise judge stands.toml --measured 0.3779in
                                    does that tenon fit its mortise?
  kerfwise batch stands.toml --assurance 0.9
                                    how many joints fit, how many spares to cut
  kerfwise batch stands.toml --measured 0.3751in --measured 0.3745in
                                    the same while it runs: of the joints that are left
  kerfwise improve stands.toml --wanted 0.98
                                    which error to fix, and how far
  kerfwise readings kerf.csv        what a column of readings shows
  kerfwise gauge caliper.csv --band 0.01in
                                    is the gauge good enough for the band?
  kerfwise learn tenons.csv         a log of set-ups becomes sources for a plan
  kerfwise watch run.csv            does the run still hold: cut on, look, or stop?
  kerfwise pair tenons.csv mortises.csv --clearance 0.003in
                                    which measured tenon goes into which mortise
  kerfwise chance stands.toml --json --trials 1000000 --seed 7

Kerfwise helps plan the fit of furniture joints. It does not check strength, and no number is a
reason to skip a test cut on scrap.";

/// How likely a sawn tenon fits its routed mortise, and what to dial.
#[derive(Debug, Parser)]
#[command(name = "kerfwise", version, about, after_help = EXAMPLES)]
pub(crate) struct Cli {
    #[command(subcommand)]
    pub(crate) command: Option<Command>,
    #[command(flatten)]
    pub(crate) options: Options,
}

#[derive(Debug, Clone, Subcommand)]
pub(crate) enum Command {
    /// Start a plan by asking
    New(NewWords),
    /// What a word means: a term, or the head of a column
    Explain(ExplainWords),
    /// Words for a shell, so that it completes ours: put them where the shell looks for them
    Completions(CompletionsWords),
    /// What to dial, how likely it fits, which error eats the band
    Job(PlanFile),
    /// All propagations side by side: worst case, root sum of squares, exact, Monte Carlo
    Chance(DrawnPlan),
    /// Which error eats the band
    Budget(DrawnPlan),
    /// Chance against what the dial shows, and the best of it
    Setting(SettingWords),
    /// Plans side by side: the same joint by several methods
    Compare(Plans),
    /// A page that hangs by the saw: what to dial, in which order to work, what to watch
    Card(PageArgs),
    /// All of it on pages for the desk: every propagation, pictures, where each number came from, how to get the same
    Report(PageArgs),
    /// Test pieces were cut: leave the jig or move it, and by how much; with none given, a table of what to do
    /// for each reading of the first
    Testcut(TestCutWords),
    /// How many joints of the batch fit, how many spares to cut
    Batch(BatchWords),
    /// Which error to fix: what each costs in chance, and what gives a wanted chance
    Improve(ImproveWords),
    /// Which measured tenon goes into which mortise
    Pair(PairWords),
    /// What measured tenons are worth, and which readings to accept
    Judge(JudgeWords),
    /// What a column of readings shows: mean, spread, drift, strangers, shape, share outside of limits
    Readings(ReadingsWords),
    /// Whether a gauge is good enough: a study of parts, each measured by several people
    Gauge(StudyWords),
    /// A log of set-ups becomes sources for a plan; and is the arithmetic of the setting right for this saw?
    Learn(LearnWords),
    /// The chart of a run, and what to do now: cut on, look, or stop
    Watch(WatchWords),
}

#[derive(Debug, Clone, Args)]
pub(crate) struct CompletionsWords {
    /// The shell
    pub(crate) shell: Shell,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct ExplainWords {
    /// The word or words; none lists all
    pub(crate) word: Vec<String>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct NewWords {
    /// The plan file to write
    #[arg(default_value = "plan.toml")]
    pub(crate) plan: PathBuf,
    /// CSV files that hold readings; their columns are offered where a width is asked for
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) from_readings: Vec<PathBuf>,
    /// Ask nothing, and take every default
    #[arg(long)]
    pub(crate) yes: bool,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct ReadingsFile {
    /// The CSV file; its first line names the columns, each with its unit, such as kerf (in)
    pub(crate) file: PathBuf,
    /// The column of readings (default: the only one with a unit)
    #[arg(long, value_name = "NAME")]
    pub(crate) column: Option<String>,
    /// How sure the intervals are
    #[arg(long, value_name = "CHANCE", default_value_t = 0.95, value_parser = values::chance)]
    pub(crate) confidence: f64,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct ReadingsWords {
    #[command(flatten)]
    pub(crate) file: ReadingsFile,
    /// A piece must be at least this
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub(crate) lower: Option<Quantity>,
    /// A piece must be at most this
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub(crate) upper: Option<Quantity>,
    /// Share of all pieces for which limits are told
    #[arg(long, value_name = "SHARE", default_value_t = 0.95, value_parser = values::chance)]
    pub(crate) share: f64,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct StudyWords {
    #[command(flatten)]
    pub(crate) file: ReadingsFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// The column that names the part
    #[arg(long, value_name = "NAME", default_value = "part")]
    pub(crate) part: String,
    /// The column that names who measured it
    #[arg(long, value_name = "NAME", default_value = "person")]
    pub(crate) person: String,
    /// Width of the band that pieces must lie in (default for lengths: 0.01 in, the usual fit band)
    #[arg(long, value_name = "QUANTITY")]
    pub(crate) band: Option<Quantity>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct LearnWords {
    #[command(flatten)]
    pub(crate) file: ReadingsFile,
    /// The column that names the set-up
    #[arg(long, value_name = "NAME", default_value = "set-up")]
    pub(crate) set_up: String,
    /// The column that names the piece
    #[arg(long, value_name = "NAME", default_value = "piece")]
    pub(crate) piece: String,
    /// What was read (default: what the column's head names, else tenon)
    #[arg(long, value_enum)]
    pub(crate) of: Option<LogOf>,
    /// Beginning of the names of the sources (default: the column's name)
    #[arg(long, value_name = "NAME")]
    pub(crate) name: Option<String>,
    /// What every set-up was to give on average
    #[arg(long, value_name = "QUANTITY", allow_hyphen_values = true)]
    pub(crate) predicted: Option<Quantity>,
    /// Predicted standard deviation of a set-up's mean
    #[arg(long, value_name = "QUANTITY", requires = "predicted", allow_hyphen_values = true, value_parser = values::spread)]
    pub(crate) predicted_spread: Option<Quantity>,
    /// The plan that was cut by: which of its sources does the log tell apart?
    #[arg(long, value_name = "PLAN")]
    pub(crate) plan: Option<PathBuf>,
    /// Print only the sources, as a plan file has them
    #[arg(long, conflicts_with = "json")]
    pub(crate) sources: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LogOf {
    /// Thickness of tenons, by their set-up
    Tenon,
    /// Width of mortises, by theirs
    Mortise,
    /// Fit deviations, by the set-up of the tenons
    Fit,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct WatchWords {
    #[command(flatten)]
    pub(crate) file: ReadingsFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// The column that names groups of pieces cut one after another, all of one size: their means and ranges are charted
    #[arg(long, value_name = "NAME")]
    pub(crate) by: Option<String>,
    /// So many readings (or groups) from the beginning are taken for good ones: they give the mean and the spread (default: 20,
    /// or all that there are)
    #[arg(long, value_name = "COUNT", value_parser = values::first)]
    pub(crate) first: Option<usize>,
    /// Mean while all is well, if it is known
    #[arg(
        long,
        value_name = "QUANTITY",
        requires = "sd",
        conflicts_with = "first",
        allow_hyphen_values = true
    )]
    pub(crate) mean: Option<Quantity>,
    /// Standard deviation of one reading while all is well, if it is known
    #[arg(long, value_name = "QUANTITY", requires = "mean", allow_hyphen_values = true, value_parser = values::spread)]
    pub(crate) sd: Option<Quantity>,
    /// The chart that tells a lasting change
    #[arg(long, value_enum, default_value_t = ChartWord::Cusum)]
    pub(crate) chart: ChartWord,
    /// Follow the zone rules as well: two of three, four of five, eight in a row; sooner, and more false alarms
    #[arg(long)]
    pub(crate) rules: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum ChartWord {
    /// Cumulative sums
    Cusum,
    /// Exponentially weighted moving averages
    Ewma,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct ImproveWords {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// Which outcome (default: the first that has a band)
    #[arg(long, value_name = "NAME")]
    pub(crate) outcome: Option<String>,
    /// A chance to be reached
    #[arg(long, value_name = "CHANCE", allow_hyphen_values = true, value_parser = values::chance)]
    pub(crate) wanted: Option<f64>,
    /// SOURCE:FACTOR:PRICE, something that makes a source's errors FACTOR times as large; once for each
    #[arg(long, value_name = "OFFER", requires = "wanted", value_parser = crate::improve::offer)]
    pub(crate) offer: Vec<kerfwise::decide::Offer>,
    /// Share the wanted chance out: how large each error may be if all have an equal part
    #[arg(long, requires = "wanted")]
    pub(crate) allocate: bool,
    /// SOURCE:WEIGHT, how dear it is to make a source smaller (others: 1): dearer ones get a larger part
    #[arg(long, value_name = "WEIGHT", requires = "allocate", value_parser = crate::improve::weight)]
    pub(crate) weight: Vec<(String, f64)>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct PairWords {
    /// CSV file with a column of thicknesses
    pub(crate) tenons: PathBuf,
    /// CSV file with a column of widths
    pub(crate) mortises: PathBuf,
    /// The wanted clearance, mortise less tenon
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) clearance: Length,
    /// The least clearance with which a pair fits (default: 0.005 in less than wanted)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) least: Option<Length>,
    /// The greatest (default: 0.005 in more than wanted)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) most: Option<Length>,
    /// Column of the tenons (default: the only one with a unit)
    #[arg(long, value_name = "COLUMN")]
    pub(crate) tenon_column: Option<String>,
    /// Column of the mortises (default: the only one with a unit)
    #[arg(long, value_name = "COLUMN")]
    pub(crate) mortise_column: Option<String>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct JudgeWords {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    /// What the gauge shows of a piece, of a joint the thickness of the tenon; once for each piece (with none: which readings to
    /// accept)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, value_parser = values::width)]
    pub(crate) measured: Vec<Length>,
    /// Which outcome is to conform (default: the fit, told by the tenon; without a joint, the first that has a band). A fit is told
    /// by the thickness of the tenon, any other outcome is measured itself
    #[arg(long, value_name = "NAME")]
    pub(crate) outcome: Option<String>,
    #[command(flatten)]
    pub(crate) gauge: GaugeWords,
    /// How sure to be of each accepted piece
    #[arg(long, value_name = "CHANCE", default_value_t = 0.95, allow_hyphen_values = true, value_parser = values::chance)]
    pub(crate) assurance: f64,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct BatchWords {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// Pieces in the batch, those that were seen among them (default: those of the plan)
    #[arg(long, allow_hyphen_values = true, value_parser = values::pieces)]
    pub(crate) pieces: Option<u32>,
    /// Which outcome; when named several times, a joint is good when all of them lie in their bands (default: every fit of the
    /// joint, such as both of a loose tenon, or else the first outcome that has a band)
    #[arg(long = "outcome", value_name = "NAME")]
    pub(crate) outcomes: Vec<String>,
    /// Wanted chance that enough pieces fit, spares counted
    #[arg(long, value_name = "CHANCE", default_value_t = 0.95, allow_hyphen_values = true, value_parser = values::chance)]
    pub(crate) assurance: f64,
    #[command(flatten)]
    pub(crate) costs: CostWords,
    #[command(flatten)]
    pub(crate) seen: SeenWords,
}

// Pieces that were cut at one setting, and what they are measured with.
#[derive(Debug, Clone, Default, Args)]
pub(crate) struct SeenWords {
    /// Thickness of a tenon as the gauge shows it; once for each piece
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true, value_parser = values::width)]
    pub(crate) measured: Vec<Length>,
    /// How a tenon goes into its mortise; once for each piece
    #[arg(long, value_enum, conflicts_with = "gauge")]
    pub(crate) felt: Vec<FeltWord>,
    #[command(flatten)]
    pub(crate) gauge: GaugeWords,
}

#[derive(Debug, Clone, Copy, Default, Args)]
pub(crate) struct CostWords {
    /// Minutes to plane a joint that is too tight
    #[arg(
        long,
        value_name = "MINUTES",
        alias = "tight",
        requires = "cost_loose",
        allow_hyphen_values = true,
        value_parser = values::minutes
    )]
    pub(crate) cost_tight: Option<f64>,
    /// Minutes to shim a joint that is too loose, or to cut it again
    #[arg(
        long,
        value_name = "MINUTES",
        alias = "loose",
        requires = "cost_tight",
        allow_hyphen_values = true,
        value_parser = values::minutes
    )]
    pub(crate) cost_loose: Option<f64>,
}

impl CostWords {
    /// Both, or none.
    pub(crate) fn costs(self) -> Option<Costs> {
        let (tight, loose) = (self.cost_tight?, self.cost_loose?);
        Some(Costs { tight, loose })
    }
}

#[derive(Debug, Clone, Args)]
pub(crate) struct SettingWords {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    #[command(flatten)]
    pub(crate) costs: CostWords,
    /// Where to set the first cut, whose piece is measured: a fat one is cut again, a thin one is lost
    #[arg(long, requires = "cost_tight")]
    pub(crate) first_cut: bool,
    /// Minutes to move the jig and cut a piece again (with --first-cut)
    #[arg(
        long,
        value_name = "MINUTES",
        default_value_t = 4.0,
        requires = "first_cut",
        allow_hyphen_values = true,
        value_parser = values::minutes
    )]
    pub(crate) recut: f64,
    /// Joints that are cut after it without another look (with --first-cut; default: the rest of the plan's batch)
    #[arg(
        long,
        value_name = "COUNT",
        requires = "first_cut",
        allow_hyphen_values = true,
        value_parser = values::others
    )]
    pub(crate) others: Option<u32>,
    #[command(flatten)]
    pub(crate) gauge: GaugeWords,
}

// What pieces are measured with. No doc comment: clap would take it for that of the command.
#[derive(Debug, Clone, Args)]
pub(crate) struct GaugeWords {
    /// The step in which the gauge shows
    #[arg(
        long,
        value_name = "LENGTH",
        default_value = "0.0005 in",
        allow_hyphen_values = true,
        value_parser = values::step
    )]
    pub(crate) resolution: Length,
    /// The plan's source that is the error of this gauge, if it measured other things as well (default: the one that measured
    /// both kerf and mortise, if there is one, else a caliper of its own, right within 20 um)
    #[arg(long, value_name = "SOURCE")]
    pub(crate) gauge: Option<String>,
}

impl GaugeWords {
    /// The gauge, and every source of the plan and of it; else what is wrong, without the name of the plan.
    pub(crate) fn of(&self, plan: &Plan) -> Result<(TenonGauge, Vec<Input>), String> {
        Self::beside(plan, plan.tenon_gauge(self.gauge.as_deref()))
    }

    /// The same for a gauge that measures an outcome itself.
    pub(crate) fn of_outcome(
        &self,
        plan: &Plan,
        outcome: &str,
    ) -> Result<(TenonGauge, Vec<Input>), String> {
        Self::beside(plan, plan.outcome_gauge(outcome, self.gauge.as_deref()))
    }

    fn beside(
        plan: &Plan,
        gauge: Result<TenonGauge, Faults>,
    ) -> Result<(TenonGauge, Vec<Input>), String> {
        let gauge = gauge.map_err(|faults| {
            let messages = faults.faults().iter().map(|fault| fault.message.as_str());
            messages.collect::<Vec<_>>().join("; ")
        })?;
        let mut inputs = Input::all(plan.stack());
        if !gauge.is_of_plan() {
            let own = Stack::builder()
                .outcome_without_band("gauge", &Expr::source(gauge.error()))
                .build()
                .map_err(|error| error.to_string())?;
            inputs.extend(Input::all(&own));
        }
        Ok((gauge, inputs))
    }
}

impl Default for GaugeWords {
    fn default() -> Self {
        Self {
            resolution: 0.5.thou(),
            gauge: None,
        }
    }
}

#[derive(Debug, Clone, Args)]
pub(crate) struct TestCutWords {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    #[command(flatten)]
    pub(crate) seen: SeenWords,
    /// What the dial showed when the test pieces were cut (default: the setting of the plan)
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub(crate) dial: Option<Length>,
    /// All pieces were tried in one and the same mortise
    #[arg(long, requires = "felt")]
    pub(crate) one_mortise: bool,
    /// It was one and the same piece, tried in several mortises
    #[arg(long, requires = "felt", conflicts_with = "one_mortise")]
    pub(crate) one_tenon: bool,
    #[command(flatten)]
    pub(crate) costs: CostWords,
    /// Minutes to cut and read a test piece: how many are worth cutting, or after pieces that were cut whether one more is
    /// (with --cost-tight and --cost-loose; not for a plan that is not affine)
    #[arg(
        long,
        value_name = "MINUTES",
        default_value_t = 4.0,
        requires = "cost_tight",
        allow_hyphen_values = true,
        value_parser = values::minutes
    )]
    pub(crate) cost_test: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum FeltWord {
    /// It binds or does not go in
    Tight,
    /// It goes as it should
    Fits,
    /// It rattles
    Loose,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct PageArgs {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    /// The file to write, in HTML; without it the page goes to standard output
    #[arg(short, long)]
    pub(crate) output: Option<PathBuf>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct DrawnPlan {
    #[command(flatten)]
    pub(crate) file: PlanFile,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
}

/// The answer as a picture, besides its text.
#[derive(Debug, Clone, Args)]
pub(crate) struct Drawing {
    /// Draw it as well: an SVG file to write
    #[arg(long, value_name = "FILE")]
    pub(crate) svg: Option<PathBuf>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct PlanFile {
    /// The plan file; without one, the built-in plan (docs/plan-file.md tells how to write one)
    pub(crate) plan: Option<PathBuf>,
}

#[derive(Debug, Clone, Args)]
pub(crate) struct Plans {
    /// The plan files
    #[arg(required = true)]
    pub(crate) plans: Vec<PathBuf>,
    #[command(flatten)]
    pub(crate) drawing: Drawing,
    /// Hands-on minutes to plane a tight tenon to fit
    #[arg(long, value_name = "MINUTES", alias = "cost-tight", default_value_t = 5.0, value_parser = values::minutes)]
    pub(crate) tight: f64,
    /// Hands-on minutes to shim a loose tenon
    #[arg(long, value_name = "MINUTES", alias = "cost-loose", default_value_t = 14.0, value_parser = values::minutes)]
    pub(crate) loose: f64,
}

/// A whole number, also as 1e6 or 1,000,000.
fn trials(text: &str) -> Result<u64, String> {
    /// Up to here every whole number has a floating-point number of its own.
    const LARGEST: f64 = (1_u64 << 53) as f64;
    let plain: String = text.chars().filter(|c| !matches!(c, ',' | '_')).collect();
    let scientific = || {
        let count = plain.parse::<f64>().ok()?;
        let is_whole =
            (0.0..=LARGEST).contains(&count) && count.trunc().to_bits() == count.to_bits();
        is_whole.then_some(count as u64)
    };
    let count = plain.parse::<u64>().ok().or_else(scientific);
    count.filter(|count| *count >= 2).ok_or_else(|| {
        "trials must be a whole number of at least 2, such as 1000000 or 1e6".to_owned()
    })
}

#[derive(Debug, Clone, Args)]
pub(crate) struct Options {
    /// Answer in JSON (docs/json.md)
    #[arg(long, global = true)]
    pub(crate) json: bool,
    /// Unit of lengths in text (default: in; for a file of readings in millimetres, mm)
    #[arg(long, global = true, value_enum)]
    pub(crate) unit: Option<LengthUnit>,
    /// Monte Carlo trials; Ctrl-C ends them with what is known so far (exit code 130)
    #[arg(long, global = true, default_value_t = 200_000, value_parser = trials)]
    pub(crate) trials: u64,
    /// Seed of Monte Carlo
    #[arg(long, global = true, default_value_t = 1)]
    pub(crate) seed: u64,
    /// Threads of Monte Carlo; they never change a number (default: all cores)
    #[arg(long, global = true, value_parser = clap::value_parser!(u16).range(1..))]
    pub(crate) threads: Option<u16>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(crate) enum LengthUnit {
    /// Inches and thou
    In,
    /// Millimetres
    Mm,
}

impl Cli {
    /// Whether questions may be asked.
    pub(crate) fn asks(&self) -> bool {
        matches!(self.command, Some(Command::New(_)))
    }
}

/// Reads the command line; ends the program with help or a usage error where it must.
///
/// # Errors
///
/// An option that the command has no use for.
pub(crate) fn parse() -> Result<Cli, String> {
    let matches = match examples::teach(Cli::command()).try_get_matches() {
        Ok(matches) => matches,
        Err(error) => return Err(file_for_command(&error).unwrap_or_else(|| error.exit())),
    };
    if let Some(message) = examples::useless(&matches) {
        return Err(message);
    }
    Ok(Cli::from_arg_matches(&matches).unwrap_or_else(|error| error.exit()))
}

/// A file where a command belongs: which command it is for.
fn file_for_command(error: &clap::Error) -> Option<String> {
    let ContextValue::String(word) = error.get(ContextKind::InvalidSubcommand)? else {
        return None;
    };
    let path = Path::new(word);
    let ending = path.extension().and_then(|ending| ending.to_str());
    let command = match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("csv") => "readings",
        Some("toml") => "job",
        _ if path.is_file() => "job",
        _ => return None,
    };
    Some(format!(
        "{word} is a file, and the first word is a command; did you mean `kerfwise {command} {word}`?"
    ))
}

/// What a shell needs to complete our words.
pub(crate) fn completions(shell: Shell) -> String {
    let mut text = Vec::new();
    clap_complete::generate(
        shell,
        &mut examples::teach(Cli::command()),
        "kerfwise",
        &mut text,
    );
    String::from_utf8_lossy(&text).into_owned()
}
