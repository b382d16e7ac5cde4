//! Joints and cutting methods as stacks over named sources.
//!
//! A joint takes sources (what can be off, and by how much) and gives back a
//! [`Stack`](kerfwise_stack::Stack) whose algebra can be printed and checked by hand. Nothing is
//! hidden: what a recipe adds on its own account is a source with a name, an event and a provenance.
//!
//! ```
//! use kerfwise_joint::{Kerf, Mortise, ShiftedTenon, Travel};
//! use kerfwise_source::{LengthUnits, Source};
//!
//! let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.0.thou()).build()?;
//! let width = Source::new("mortise", 0.375.inch()).rectangular(2.0.thou()).build()?;
//! let joint = ShiftedTenon::new(Travel::of(0.5.inch())?, Kerf::from_source(&kerf), Mortise::at_feel(&width));
//! let stack = joint.stack()?;
//! let fit = stack.outcome("fit").unwrap();
//! assert_eq!(fit.expr().to_string(), "travel - kerf - mortise");
//! // 0.5 − 0.125 − 0.375 = 0, and the errors add to 3 thou at the worst.
//! let worst = fit.worst_case(Default::default())?;
//! assert!((worst.upper.bound.raw() - 0.003).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # The main types
//!
//! [`ShiftedTenon`] is the method that Kerfwise was made for: the rail stands on end in a sliding jig,
//! its reference face against the jig; one cheek is cut, the jig is moved over by tenon thickness plus
//! kerf, the other cheek is cut. [`Travel`], [`Kerf`] and [`Mortise`] are the three numbers in its
//! setting, each with the recipes by which a shop comes to know it. [`Cuts`] is an error that comes
//! anew with each of the two cuts.
//!
//! [`TurnedTenon`], [`StackedCutterTenon`] and [`HandTenon`] are other ways to cut a [`Tenon`], which
//! [`TenonFit`] puts into a mortise; a [`LooseTenon`] has two. [`Slant`] is what angles make of the cheeks,
//! [`Adjustment`] is what each of them has to set, [`BladeHeight`] what the height of the blade makes of the shoulder. Other joints and
//! frames are in [`joints`], the wood itself is in [`wood`].
//!
//! # What it does not do
//!
//! It does not check strength, and it knows no machine: it plans the fit of furniture joints. It reads
//! no files and prints nothing.
//!
//! # Signs
//!
//! The fit deviation is tenon thickness minus (mortise width minus wanted clearance): positive is
//! tight. A [`Clearance`] is stated in total or per glue line, and says which.

mod adjustment;
mod clearance;
mod depth;
mod error;
mod fit;
mod hand;
pub mod joints;
mod kerf;
mod lock_down;
mod loose;
mod moisture;
mod mortise;
mod per_cut;
mod run_out;
mod shifted;
mod slant;
mod step;
#[cfg(test)]
mod testing;
mod travel;
mod turned;
pub mod wood;

pub use adjustment::Adjustment;
pub use clearance::Clearance;
pub use depth::{BladeHeight, Haunch};
pub use error::{Error, ErrorKind};
pub use fit::{BackStep, Moves, Tenon, TenonFit};
pub use hand::HandTenon;
pub use kerf::{Heel, Kerf, Leaves};
pub use lock_down::LockDown;
pub use loose::{LooseTenon, Walls};
pub use moisture::MoistureBetweenCuts;
pub use mortise::{HollowChisel, Mortise, Wedges};
pub use per_cut::Cuts;
pub use run_out::{Flange, RunOut};
pub use shifted::ShiftedTenon;
pub use slant::{CheekSize, CutAngle, Slant};
pub use step::FaceStep;
pub use travel::Travel;
pub use turned::{StackedCutterTenon, TurnedTenon};

// The worked examples of the documents are run with the documentation tests.
#[cfg(doctest)]
mod documents {
    #[doc = include_str!("../../../docs/joints.md")]
    mod joints {}
    #[doc = include_str!("../../../docs/wood-movement.md")]
    mod wood_movement {}
}
