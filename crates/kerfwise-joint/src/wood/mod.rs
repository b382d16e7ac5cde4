//! The wood itself: how much a part grows and shrinks with its moisture content.
//!
//! Wood takes up water until it is in balance with the air around it, and swells across its grain as
//! it does. [`Air`] gives the moisture content that goes with a climate, [`Species`] the dimensional
//! change coefficients, [`Movement`] the change in size between two moisture contents, as an
//! expression over whatever is uncertain in them.
//!
//! ```
//! use kerfwise_joint::wood::{Coefficient, Moisture, Movement, Species};
//! use kerfwise_source::{LengthUnits, MoistureContent};
//! use kerfwise_stack::Stack;
//!
//! // Wood Handbook, chapter 13: white fir, flat-grained, 232 mm wide, from 8 to 11 % moisture content.
//! let board = Species::named("white fir")?.factor("board").build()?;
//! let percent = |x| Moisture::known(MoistureContent::from_percent(x));
//! let width = Movement { size: 232.mm().into(), from: percent(8.0), to: percent(11.0) };
//! let change = width.linear(&Coefficient::tangential(Species::named("white fir")?, &board))?;
//! let stack = Stack::builder().outcome_without_band("change", &change).build()?;
//! let change = stack.outcome("change").unwrap().evaluate(&[])?.length().unwrap();
//! assert_eq!(format!("{:.3} mm, {:.3} in", change.to_mm(), change.to_inches()), "1.705 mm, 0.067 in");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! A [`Coefficient`] says by how much of its size a part changes per percent of moisture content, in the
//! direction in which it is measured. A [`Moisture`] is the moisture content of a part at one moment: read
//! with a meter, or in balance with the air. [`EdgeClearance`] is the joint that movement matters to most:
//! a wide tenon in a mortise that lies along the grain.
//!
//! # What it does not do
//!
//! It does not say how fast a part takes up moisture, nor how a part cups or bows. Movement along the
//! grain (0.1 to 0.2 % from green to dry, Wood Handbook, chapter 4) is left out, and so is thermal
//! expansion, which is smaller than the movement of one percent of moisture in ten degrees.
//!
//! # Signs
//!
//! A change in size is positive when the part grows.

mod air;
mod edge;
mod moisture;
mod movement;
mod species;
mod table;

pub use air::Air;
pub use edge::EdgeClearance;
pub use moisture::Moisture;
pub use movement::{Coefficient, Movement};
pub use species::{Kind, Species, Status};
