//! What readings say about a gauge, a saw and a method.
//!
//! Columns of readings are plain numbers in one unit, which is the unit of what is found in them; it reads no files.
//! Every interval says how sure it is, and is exact where the field has an exact one.
//!
//! ```
//! use kerfwise_gauge::{Confidence, Summary};
//!
//! // Eight kerfs in thou, in the order in which they were cut.
//! let kerf = Summary::new(&[126.0, 125.0, 127.0, 126.0, 124.0, 126.0, 127.0, 127.0])?;
//! assert_eq!(kerf.sample.mean(), 126.0);
//! // Squares of the deviations: 1 + 1 + 4 + 1 + 1 = 8, over 7.
//! assert!((kerf.sample.standard_deviation() - (8.0_f64 / 7.0).sqrt()).abs() < 1e-15);
//! assert!(kerf.outliers.is_empty() && kerf.drift.unwrap().p_value > 0.05);
//! let mean = kerf.sample.mean_interval(Confidence::new(0.95)?); // 126 ± 2.365 · s/√8
//! assert!((mean.upper - 126.894).abs() < 0.001);
//! # Ok::<(), kerfwise_gauge::Error>(())
//! ```
//!
//! # The main types
//!
//! - [`Summary`] of a column: mean, spreads, [`Drift`], autocorrelation, [`Outlier`]s, [`Normality`].
//! - [`Moments`]: number, mean, standard deviation and extremes of readings that stream by.
//! - [`Sample`]: number, mean and standard deviation, and the intervals built on them.
//! - [`OneWay`]: readings in groups, such as set-ups and their pieces; the spread between and within them.
//! - [`GaugeStudy`]: parts by people; repeatability, reproducibility, and the share of a band that the gauge uses up.
//! - [`Log`]: set-ups and the pieces cut in each; the spreads as sources for a plan, and which sources they hold.
//! - [`Bias`]: achieved less predicted deviation.
//! - [`Specification`] and [`Capability`]: indices and fraction outside of limits.
//! - [`Tolerance`]: limits that hold a share of all pieces; [`Fraction`]: so many of so many.
//! - [`Process`] with its [`ChartLimits`], [`ZoneRules`], [`Ewma`] and [`Cusum`]: charts of a run, how soon they tell a shift, and
//!   where it began ([`ChangePoint`]; [`RunChange`] where nothing is known beforehand).
//! - [`Confidence`] and [`Interval`].
//!
//! # What it does not do
//!
//! - It reads no files, prints nothing, and knows no units.
//! - It drops no reading: an outlier is named, and counts.
//!
//! # Features
//!
//! None.

mod bisect;
mod capability;
mod charts;
mod components;
mod confidence;
mod error;
mod fraction;
mod law;
mod line;
mod log;
mod moments;
mod normality;
mod outlier;
#[cfg(test)]
mod published;
mod sample;
mod summary;
#[cfg(test)]
mod testing;
mod tolerance;
mod wide;

pub use capability::{Capability, Index, Specification};
pub use charts::{
    Change, ChangePoint, ChartConstants, ChartLimits, Cusum, CusumRun, Ewma, EwmaRun, Process,
    RunChange, ZoneRule, ZoneRules,
};
pub use components::{
    Component, Estimator, GaugeComponents, GaugeReading, GaugeStudy, Interaction, MeanSquare,
    OneWay,
};
pub use confidence::{Confidence, Interval};
pub use error::{Error, ErrorKind};
pub use fraction::Fraction;
pub use log::{Achieved, Bias, Groups, Log, LogNames, LogReading, LogSources, LogSpreads};
pub use moments::Moments;
pub use normality::Normality;
pub use outlier::Outlier;
pub use sample::Sample;
pub use summary::{Drift, Summary};
pub use tolerance::{Sides, Tolerance};
