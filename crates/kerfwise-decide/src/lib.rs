//! What to do at the saw, from the chances that a stack gives.
//!
//! A chance is only useful for what it changes. Each module is one decision over the exact distribution
//! of a stack; the formulas and where they come from are in `docs/decisions.md`.
//!
//! ```
//! use kerfwise_decide::{Setting, SettingOptions};
//! use kerfwise_joint::{Kerf, Mortise, ShiftedTenon, Travel};
//! use kerfwise_source::{LengthUnits, Source};
//!
//! let kerf = Source::new("kerf", 0.125.inch()).normal(0.8.thou()).build()?;
//! let mortise = Source::new("mortise", 0.375.inch()).normal(1.5.thou()).build()?;
//! let at = |travel| {
//!     ShiftedTenon::new(Travel::of(travel)?, Kerf::from_source(&kerf), Mortise::at_feel(&mortise)).stack()
//! };
//! let options = SettingOptions::around(0.49.inch()).step(0.5.thou()).reach(15.0.thou());
//! let setting = Setting::best(&options, "fit", at)?;
//! // Everything is symmetric, so the best travel is mortise plus kerf.
//! assert!((setting.best.to_thou() - 500.0).abs() < 1e-9);
//! // ±5 thou is 2.94 times the standard deviation of 1.7 thou: 99.67 % by the table of the normal.
//! assert!((setting.chance.inside - 0.9967).abs() < 1e-4);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! [`Setting`] finds what the dial is to show. [`TestCut`] says, after test pieces were measured or
//! felt, whether to move the jig and by how much. [`BatchForecast`] counts how many joints of one set-up
//! fit, and the spares. [`Judge`] says what a measured piece is worth and which readings to accept.
//! [`Improve`] says which error to fix, [`Pairing`] which measured tenon goes into which mortise.
//!
//! # What it does not do
//!
//! For stacks that are not affine, [`Setting`], [`BatchForecast::simulated`], [`SampledTestCut`],
//! [`SampledImprove`] and [`SobolIndices`] answer by sampling, with standard errors; the others decline and name the sources in which they are not. It reads no files, prints nothing and knows no machine. A number from
//! it is no reason to skip a test cut on scrap.

mod affine;
pub mod batch;
mod costs;
mod curve;
mod error;
pub mod improve;
pub mod judge;
pub mod pairing;
mod plausible;
mod rule;
mod sampled;
pub mod setting;
pub mod sobol;
pub mod test_cut;

pub use batch::{BatchForecast, BatchOptions, Spares};
pub use costs::Costs;
pub use error::{Error, ErrorKind};
pub use improve::{Cheapest, Improve, Offer, Part, SampledImprove, SourceWorth};
pub use judge::{AcceptanceLimits, GaugeSuits, Judge, Judgement, Risks};
pub use pairing::{Pair, Pairing, PairingOptions};
pub use setting::{Setting, SettingError, SettingOptions, SettingPoint};
pub use sobol::{SobolIndex, SobolIndices, SobolOptions};
pub use test_cut::{
    Advice, Feel, FirstCut, FirstCutLine, FirstCutOptions, NextCost, NextPiece, Offset,
    ReadingAdvice, SampledAnswer, SampledTestCut, TestCut, TestCutAnswer, TestCutOptions, TestPlan,
    TestPlanOptions, TestPlanRow,
};
