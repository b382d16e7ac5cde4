//! Joints beside mortise and tenon: the same arithmetic with other parts.
//!
//! ```
//! use kerfwise_joint::joints::HalfLap;
//! use kerfwise_source::{LengthUnits, Source};
//! use kerfwise_stack::Band;
//!
//! let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
//! let joint = HalfLap {
//!     upper_stock: length("upper", 0.75)?,
//!     lower_stock: length("lower", 0.75)?,
//!     upper_cut: (&length("cut_1", 0.375)?).into(),
//!     lower_cut: (&length("cut_2", 0.375)?).into(),
//!     band: Band::within(4.thou())?,
//! };
//! let worst = joint.stack()?.outcome("top_step").unwrap().worst_case(Default::default())?;
//! assert!((worst.upper.bound.raw() - 0.003).abs() < 1e-12); // stock, and two depths, 1 thou each
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! [`HalfLap`], [`BoxJoint`], [`Dowels`], [`PanelInGroove`], [`SlidingDovetail`], [`Drawer`]; and [`Frame`], made of parts
//! that are [cut at one stop setting](StopCut). A bridle joint is a tenon in a [sawn slot](crate::Mortise::sawn_at_two_settings),
//! a tongue and groove one in a [sawn groove](crate::Mortise::sawn_in_one_pass).
//!
//! # What it does not do
//!
//! It does not check strength, and it does not say how wood gives: what squeeze a joint can bear is said by its band.
//!
//! # Signs
//!
//! A fit is positive when tight. A room, a gap or a clearance is positive when there is space, and total: both
//! sides together.

mod box_joint;
mod dowels;
mod drawer;
mod frame;
mod half_lap;
mod panel;
mod sliding_dovetail;

pub use box_joint::BoxJoint;
pub use dowels::Dowels;
pub use drawer::Drawer;
pub use frame::{Frame, StopCut};
pub use half_lap::HalfLap;
pub use panel::PanelInGroove;
pub use sliding_dovetail::SlidingDovetail;

use crate::{Error, ErrorKind};
use kerfwise_stack::{Band, Expr, Stack};

/// A stack of outcomes that all have a band.
fn stack_of(outcomes: &[(&str, Expr, Band)]) -> Result<Stack, Error> {
    let builder = outcomes
        .iter()
        .fold(Stack::builder(), |stack, (name, expr, band)| {
            stack.outcome(name, expr, *band)
        });
    Ok(builder.build().map_err(ErrorKind::Stack)?)
}
