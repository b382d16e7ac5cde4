//! Measurement uncertainty and tolerance stacking for sawn-and-routed joinery.
//!
//! A joint is described once, as an expression over named error sources, and that one description is
//! propagated in several ways (worst case, root sum of squares, exactly, by Monte Carlo), judged
//! against a fit band, and used to decide what to do at the saw. This crate only gathers the others
//! under short paths; everything can be reached from here.
//!
//! ```
//! use kerfwise::prelude::*;
//!
//! // Three numbers of a setting, each off by at most so much.
//! let travel = Source::new("travel", 0.5.inch()).rectangular(1.0.thou()).build()?;
//! let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.0.thou()).build()?;
//! let mortise = Source::new("mortise", 0.375.inch()).rectangular(2.0.thou()).build()?;
//! let fit = Expr::source(&travel) - Expr::source(&kerf) - Expr::source(&mortise);
//! let stack = Stack::builder().outcome("fit", &fit, Band::within(3.0.thou())?).build()?;
//! let fit = stack.outcome("fit").unwrap();
//! // At the worst 1 + 1 + 2 = 4 thou. Beyond 3 thou on one side lie (1/3!)/(2·2·4) = 1/96 of all joints.
//! assert!((fit.worst_case(WorstCase::new())?.upper.bound.raw() - 0.004).abs() < 1e-12);
//! let chance = fit.exact()?.chance(&Band::within(3.0.thou())?).value;
//! assert!((chance.above - 1.0 / 96.0).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Where things are
//!
//! | path | what |
//! | --- | --- |
//! | [`prelude`] | what most programs use |
//! | [`source`] | lengths, distributions, sources, type A and type B evaluation |
//! | [`stack`] | expressions, stacks and their propagations |
//! | [`joint`] | joints and cutting methods |
//! | [`gauge`] | what readings say about a gauge, a saw and a method |
//! | [`decide`] | what to do at the saw |
//! | [`plan`] | plan files and readings |
//! | [`numeric`] | the functions underneath, with the same bits everywhere |
//!
//! The examples of this crate are the main job in library calls (`main_job`), a stack that is no joint
//! (`drawer`), a plan read from a file (`plan_file`), two ways to cut one tenon (`two_ways`), and a log of
//! set-ups that becomes sources (`from_a_log`).
//!
//! # What it does not do
//!
//! It does not check strength. It helps plan the fit of furniture joints; the instructions of the
//! saw's and tools' makers, local codes and shop rules come first.
//!
//! # Features
//!
//! `parallel`: Monte Carlo on several threads. It never changes a number.

pub use kerfwise_decide as decide;
pub use kerfwise_gauge as gauge;
pub use kerfwise_joint as joint;
pub use kerfwise_numeric as numeric;
pub use kerfwise_plan as plan;
pub use kerfwise_source as source;
pub use kerfwise_stack as stack;

/// What most programs use.
pub mod prelude {
    pub use kerfwise_decide::{Setting, SettingOptions};
    pub use kerfwise_joint::{Cuts, Kerf, LockDown, Mortise, ShiftedTenon, Travel};
    pub use kerfwise_plan::Plan;
    pub use kerfwise_source::{
        Angle, AngleUnits, Distribution, Event, Length, LengthUnits, Quantity, Source, TypeA,
    };
    pub use kerfwise_stack::{
        Band, Batch, Chance, Expr, MonteCarlo, RootSumOfSquares, Stack, WorstCase,
    };
}
