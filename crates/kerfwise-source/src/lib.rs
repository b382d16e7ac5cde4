//! What can be off in a measurement or a cut, and by how much.

mod dependence;
mod dimension;
pub mod distribution;
mod error;
mod event;
mod parse;
mod provenance;
mod quantity;
mod source;
mod type_a;
mod type_b;

pub use dependence::CorrelationMatrix;
pub use dimension::Dimension;
pub use distribution::Distribution;
pub use error::{Error, ErrorKind};
pub use event::Event;
pub use provenance::Provenance;
pub use quantity::{Angle, AngleUnits, Length, LengthUnits, MoistureContent, Quantity};
pub use source::{Limits, Source, SourceBuilder};
pub use type_a::TypeA;
pub use type_b::TypeB;
