//! A joint described once as an expression over sources, propagated in several ways.

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
pub use decline::{Decline, Propagation};
pub use error::{Error, ErrorKind};
pub use builder::StackBuilder;
pub use expr::Expr;
pub use function::{Facts, Monotone, OpaqueFunction};
pub use propagate::batch::{Batch, BatchAnswer};
pub use propagate::compare::{OutcomeSideBySide, SideBySide};
pub use propagate::exact::Exact;
pub use propagate::monte::batch::BatchSimulation;
pub use propagate::monte::{MonteCarlo, MonteCarloAnswer, MonteCarloOutcome, Progress};
pub use propagate::rss::{BudgetLine, RootSumOfSquares, RootSumOfSquaresAnswer};
pub use propagate::worst::{Extreme, WorstCase, WorstCaseAnswer};
pub use stack::{Outcome, Stack};
