//! Plan files and readings: a joint as a maker writes it down.

mod demo;
mod fault;
mod plan;
mod readings;

pub use demo::{DEMO_PLAN, demo};
pub use fault::{Fault, Faults};
pub use plan::{Plan, ReadingsUsed};
pub use readings::{Readings, read_readings};
