//! What test pieces say about the set-up, and whether to move the jig.
//!
//! The fit deviation of a joint is taken apart: what all joints of the batch share (and a test piece with them), and what
//! is drawn anew for each. The shared part is not known; test pieces tell of it by Bayes' rule, exactly: its distribution
//! is that of the stack, not a normal one put in its place. A move of the jig by x shifts what is kept by x and draws anew
//! what the event "jig move" redraws; so moving after every reading adds errors of its own, and the advice weighs that.
//!
//! Derivation and sources: `docs/decisions.md`.

mod advice;
mod ahead;
#[cfg(test)]
mod ahead_tests;
mod even;
mod evidence;
mod first_cut;
mod lattice;
mod options;
mod prior;
mod running;
mod sampled;
#[cfg(test)]
mod sampled_tests;
#[cfg(test)]
mod tests;
mod trials;
mod worth;

pub use advice::{Advice, NextCost, NextPiece, Offset, TestCutAnswer};
pub use ahead::ReadingAdvice;
pub use first_cut::{FirstCut, FirstCutLine, FirstCutOptions};
pub use options::{Feel, TestCutOptions};
pub use prior::TestCut;
pub use sampled::{SampledAnswer, SampledTestCut};
pub use worth::{TestPlan, TestPlanOptions, TestPlanRow};
