//! What to do at the saw, from the chances that a stack gives.
//!
//! A chance is only useful for what it changes. So far one decision is here: the [`setting`], which
//! finds what the dial is to show for the best chance that the joint fits.
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
//! # What it does not do
//!
//! It reads no files, prints nothing and knows no machine. A number from it is no reason to skip a
//! test cut on scrap.

pub mod setting;

pub use setting::{Setting, SettingError, SettingOptions, SettingPoint};
