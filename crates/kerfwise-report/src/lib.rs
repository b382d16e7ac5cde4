//! Results into text and JSON.
//!
//! Each report is a plain value with public fields: made from results, written as JSON in a versioned
//! form, read back from it, and turned into text for a terminal. Text and JSON come from the same
//! value, so they cannot tell different stories.
//!
//! ```
//! use kerfwise_report::{BudgetReport, Style, Subject};
//! use kerfwise_source::{LengthUnits, Source};
//! use kerfwise_stack::{Band, Expr, Stack};
//!
//! let kerf = Source::new("kerf", 0.125.inch()).normal(3.0.thou()).build()?;
//! let travel = Source::new("travel", 0.125.inch()).normal(4.0.thou()).build()?;
//! let fit = Expr::source(&travel) - Expr::source(&kerf);
//! let stack = Stack::builder().outcome("fit", &fit, Band::within(10.0.thou())?).build()?;
//! let report = BudgetReport::new(&Subject::titled("two sources"), &stack);
//! // 3 and 4 make 5: the shares are 36 and 64 in a hundred.
//! let text = report.to_text(&Style::default());
//! assert!(text.contains("64"), "{text}");
//! let read: BudgetReport = serde_json::from_str(&report.to_json())?;
//! assert_eq!(read, report);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! [`ChanceReport`] (all propagations side by side), [`BudgetReport`] (which error eats the band),
//! [`SettingReport`] (what the dial is to show), [`FirstCutReport`] (where to set a cut whose piece is measured), [`JobReport`] (the three together), [`CompareReport`]
//! (plans side by side), [`TestCutReport`] (leave the jig or move it), [`TestCutAheadReport`] (what to do
//! for each reading of a test piece), [`BatchReport`] (how many joints fit), [`JudgeReport`] (what
//! measured pieces are worth), [`ImproveReport`] (which error to fix), [`PairReport`] (which tenon into which
//! mortise); [`ReadingsReport`] (what a column of
//! readings shows), [`StudyReport`] (is the gauge good enough), [`LearnReport`] (a log becomes sources),
//! [`WatchReport`] (does a run hold); `Card` is the page that hangs by the saw, `PlanReport` all
//! of it for the desk. [`Style`] says how text looks;
//! [`plot`] draws; [`cautions`] holds the words that go with every output that leads someone to a
//! running saw.
//!
//! # What it does not do
//!
//! It computes no chances, reads no files and prints nothing.
//!
//! # Features
//!
//! `html` (on unless refused): `Card` and `PlanReport`.

mod adjusted;
mod ahead;
mod batch;
mod budget;
#[cfg(feature = "html")]
mod card;
pub mod cautions;
mod chance;
mod compare;
mod evidence;
mod first_cut;
mod improve;
mod input;
mod job;
mod judge;
mod learn;
mod number;
mod pair;
pub mod plot;
mod readings;
#[cfg(feature = "html")]
mod report;
#[cfg(test)]
mod schema;
mod setting;
mod study;
mod style;
mod table;
mod testcut;
mod watch;

pub use adjusted::Adjusted;
pub use ahead::{AheadRow, TestCutAheadReport, TestPlanLine, TestPlanReport};
pub use batch::BatchReport;
pub use budget::{BudgetOutcome, BudgetReport, BudgetRow, BudgetTotal};
#[cfg(feature = "html")]
pub use card::Card;
pub use chance::{
    BatchChances, ChanceReport, ExactChances, MonteCarloChances, OutcomeChances,
    QuasiMonteCarloChances, RangeReport, SumOfSquaresChances, ThreeChances, Way,
};
pub use compare::{CompareReport, ComparedOutcome, ComparedPlan, Minutes};
pub use evidence::{Column, Estimated, SpreadRow};
pub use first_cut::{FirstCutMinutes, FirstCutPoint, FirstCutReport, FirstCutRow};
pub use improve::{AimReport, ImproveReport, ImproveRow, IndexRow, OfferReport};
pub use input::{Input, Origin, Subject, TenonGoal};
pub use job::JobReport;
pub use judge::{AcceptReport, GaugeReport, JudgeReport, JudgedPiece};
pub use learn::{BiasReport, GroupsReport, LearnReport, LogKind};
pub use pair::{PairReport, PairRow};
pub use readings::{
    CloserLook, DriftReport, LimitsReport, OutlierReport, ReadingsReport, SlipReport,
    ToleranceReport,
};
#[cfg(feature = "html")]
pub use report::{FileDigest, PlanReport, Reproduction};
pub use setting::{SettingCost, SettingReport, SettingRow};
pub use study::{GaugeCell, StudyReport};
pub use style::{Style, Unit};
pub use testcut::{
    MoveRow, NextMinutesReport, NextPieceReport, OffsetReport, RarestReading, TestCutReport,
    TestPieces, TrialsReport,
};
pub use watch::{
    BaselineReport, ChangeKind, ChangeReport, ChartReport, ProcessReport, SignalReport,
    WatchAdvice, WatchPoint, WatchReport,
};
