//! What can be off in a measurement or a cut, and by how much.

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
