//! A joint described once as an expression over sources, propagated in several ways.
//!
//! Errors of measuring and cutting are sources; a fit is algebra over them. The same algebra gives the worst case, the
//! combined standard uncertainty, the whole distribution and a Monte Carlo check.
//!
//! ```
//! use kerfwise_source::{LengthUnits, Source};
//! use kerfwise_stack::{Band, Expr, Stack, WorstCase};
//!
//! let travel = Source::new("travel", 0.5.inch()).rectangular(1.thou()).build()?;
//! let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.thou()).build()?;
//! let mortise = Source::new("mortise", 0.375.inch()).rectangular(2.thou()).build()?;
//! let fit = Expr::from(travel) - kerf - mortise; // tenon minus mortise
//! let stack = Stack::builder().outcome("fit", &fit, Band::within(5.thou())?).build()?;
//! let fit = stack.outcome("fit").expect("named above");
//! assert_eq!(fit.evaluate(&[])?, 0.inch().into()); // 0.500 - 0.125 - 0.375
//! let worst = fit.worst_case(WorstCase::new())?;
//! assert_eq!(format!("{:.3}", worst.upper.bound), "0.004 in"); // 1 + 1 + 2 thou
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! Three forms, one direction: handles people write with, a checked graph in which equal parts stand once, and a flat
//! program that the propagations run.
//!
//! - [`Expr`] is the handle: made by operators or by [`Expr::parse`] from the algebra that it prints. That text is
//!   also how an expression is stored and sent. [`Expr::function`] takes a Rust function with declared [`Facts`].
//! - [`Stack`] is one or more named outcomes over shared sources, each maybe with its [`Band`]. [`StackBuilder::build`]
//!   finds all faults together: two sources of one name, lengths added to angles, a band upside down.
//! - [`Outcome`] is asked for the [`WorstCase`], for the [`RootSumOfSquares`], for its [`Exact`] distribution or for a
//!   whole [`Batch`]; the stack is asked for [`MonteCarlo`] of all outcomes at once.
//! - [`Error`] means that the input is wrong; a [`Decline`] that this is not the way to answer, and why.
//!
//! Each source is one independent input. [`Expr::redraw`] makes another instance of it, for the second clamping or the
//! next piece; what is not redrawn is shared, and that is all the propagations need to know of events.
//!
//! # What it does not do
//!
//! It reads no files, prints nothing and knows no wood and no joints. It does not solve for a source, fit data or
//! simplify algebra: it computes what is written, in the order in which it is written. A correlation matrix is no
//! distribution: only jointly normal sources are sampled with one. Opaque functions are taken at their declared word.
//!
//! # Features
//!
//! - `parallel` (off by default): Monte Carlo blocks on several threads. It never changes a number.

mod answer;
mod band;
mod builder;
mod decline;
mod error;
mod expr;
mod function;
mod graph;
mod op;
mod problem;
mod propagate;
mod run;
mod stack;
mod tape;
#[cfg(test)]
mod testing;
mod text;

pub use answer::{Bounded, Chance, CoverageInterval};
pub use band::Band;
pub use builder::StackBuilder;
pub use decline::{Decline, Propagation};
pub use error::{Error, ErrorKind};
pub use expr::Expr;
pub use function::{Facts, Monotone, OpaqueFunction};
pub use propagate::batch::{Batch, BatchAnswer};
pub use propagate::compare::{OutcomeSideBySide, SideBySide};
pub use propagate::exact::Exact;
pub use propagate::monte::batch::BatchSimulation;
pub use propagate::monte::{MonteCarlo, MonteCarloAnswer, MonteCarloOutcome, Progress};
pub use propagate::quasi::{QuasiMonteCarlo, QuasiMonteCarloAnswer};
pub use propagate::rss::{BudgetLine, RootSumOfSquares, RootSumOfSquaresAnswer};
pub use propagate::worst::{Extreme, WorstCase, WorstCaseAnswer};
pub use stack::{AffineTerm, Outcome, Stack};
