//! What can be off in a measurement or a cut, and by how much.
//!
//! A [`Source`] is a named input quantity that is not known exactly: an estimate, the distribution
//! of its error, limits for the worst case, the event that redraws it, and where the number came
//! from. Quantities carry units when text comes in or goes out, and are plain numbers of one raw
//! unit (inch, radian, percent moisture content) inside.
//!
//! ```
//! use kerfwise_source::{Length, LengthUnits, Source, TypeA};
//!
//! let kerf: Length = "1/8 in".parse()?;
//! let kerf = Source::new("kerf", kerf).rectangular(3.thou()).stated("blade sheet").build()?;
//! assert_eq!(kerf.bounds(), Some((0.122, 0.128)));
//!
//! let widths = TypeA::from_readings(&[0.374, 0.375, 0.376])?; // inches
//! assert!((widths.standard_deviation() - 0.001).abs() < 1e-12);
//! # Ok::<(), kerfwise_source::Error>(())
//! ```
//!
//! # The main types
//!
//! - [`Length`], [`Angle`], [`MoistureContent`] and, for any of these and their products,
//!   [`Quantity`] with its [`Dimension`]: read from text as a shop writes it ("3/8 in",
//!   "1-1/2 in", "9.5 mm", "2 thou", "0.25°", "0.00274 /%MC") and printed so that they read back
//!   to the same bits.
//! - [`Source`] and its [`SourceBuilder`], which reports all faults of a source together.
//! - [`Distribution`]: the closed set of laws that an error can have.
//! - [`Event`]: what redraws a source, nested in one another.
//! - [`CorrelationMatrix`]: which errors go together where no shared source says why.
//! - [`TypeA`] and [`TypeB`]: evaluation of readings and of what documents state
//!   (JCGM 100:2008, 4.2 and 4.3).
//!
//! # What it does not do
//!
//! - It combines nothing: how sources add up to a fit is for the stack that uses them.
//! - It draws nothing on its own: a distribution fills columns from a stream that is given to it.
//! - It has no wood, tool or joint in it, and no tables of what a shop can hold.
//! - It is no calculator: a text is one number with its unit, never a sum. There is no decimal
//!   comma, and no unit is ever guessed for a length without one.
//! - It reads no files and no clock, and prints nothing.
//!
//! # Features
//!
//! None.

mod builder;
mod dependence;
mod dimension;
pub mod distribution;
mod error;
mod event;
mod parse;
mod print;
mod provenance;
mod quantity;
mod source;
mod type_a;
mod type_b;
mod units;

pub use builder::SourceBuilder;
pub use dependence::CorrelationMatrix;
pub use dimension::Dimension;
pub use distribution::Distribution;
pub use error::{Error, ErrorKind, SourceFault, SourcePart};
pub use event::Event;
pub use provenance::Provenance;
pub use quantity::{Angle, AngleUnits, Length, LengthUnits, MoistureContent, Quantity};
pub use source::{BoundsBasis, Limits, Source};
pub use type_a::TypeA;
pub use type_b::TypeB;
