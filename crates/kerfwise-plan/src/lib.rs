//! Plan files and readings: a joint as a maker writes it down.
//!
//! A plan is a TOML file that names what can be off and by how much, and how it counts; beside it lie
//! CSV files of readings. [`Plan`] turns them into a joint and a stack, or tells all that is wrong with
//! them at once, with the line and a way to mend it.
//!
//! ```
//! let plan = kerfwise_plan::demo()?;
//! // Kerf 0.126 in and a mortise of 0.3745 in at the wanted feel, on a dial that is set by half thou.
//! assert_eq!(plan.joint().unwrap().dialled().to_inches(), 0.5005);
//! assert_eq!(plan.readings()[0].path, "readings/kerf.csv");
//! # Ok::<(), kerfwise_plan::Faults>(())
//! ```
//!
//! # The main types
//!
//! [`Plan`] is what was read; [`Faults`] is what was wrong with it; [`Readings`] is one column of a CSV
//! file, [`ReadingLog`] one with words beside it, and [`stream_readings`] reads one of any length. [`demo`] is
//! a plan to try things on. The format is described in `docs/plan-file.md`.
//!
//! # What it does not do
//!
//! It computes nothing from a plan, writes no plan, and prints nothing. It reads the files that a plan
//! names and no others.
//!
//! # Features
//!
//! `render` (on unless refused): [`Faults::render`], which shows the faulty lines.

mod demo;
mod document;
mod event;
mod fault;
mod files;
mod gauge;
mod joint;
mod law;
mod log;
mod near;
mod outcome;
mod parts;
mod path;
mod plan;
mod pool;
mod read;
mod readings;
#[cfg(feature = "render")]
mod render;
mod slip;
mod source;
mod stream;

pub use demo::{DEMO_PLAN, demo};
pub use fault::{Fault, Faults};
pub use gauge::TenonGauge;
pub use log::{LogRow, ReadingLog, read_log};
pub use near::near;
pub use plan::{FileRead, Plan, ReadingsUsed};
pub use readings::{Readings, read_readings, reading_columns};
pub use stream::{StreamedColumn, stream_readings};
