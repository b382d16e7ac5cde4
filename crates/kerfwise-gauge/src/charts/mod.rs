//! Charts of a run.

mod change;
mod constants;
mod cusum;
mod ewma;
mod linear;
mod run_change;
mod zones;

pub use change::{Change, ChangePoint};
pub use constants::ChartConstants;
pub use cusum::{Cusum, CusumRun};
pub use ewma::{Ewma, EwmaRun};
pub use run_change::RunChange;
pub use zones::{ZoneRule, ZoneRules};

use crate::{Error, Moments};
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_numeric::sum::sum;

/// A process as it is when nothing is wrong: the mean and standard deviation of single readings.
///
/// ```
/// use kerfwise_gauge::Process;
///
/// // Moving ranges 1, 2, 1, 0: mean 1, and d₂ of two readings is 2/√π.
/// let kerf = Process::of_individuals(&[125.0, 126.0, 124.0, 125.0, 125.0])?;
/// assert_eq!(kerf.mean(), 125.0);
/// assert!((kerf.standard_deviation() - std::f64::consts::PI.sqrt() / 2.0).abs() < 1e-12);
/// let limits = kerf.limits(1);
/// assert!((limits.upper - 127.6587).abs() < 1e-4 && limits.centre == 125.0);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Process {
    mean: f64,
    standard_deviation: f64,
}

/// Lines of a chart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChartLimits {
    /// Lower control limit.
    pub lower: f64,
    /// Centre line.
    pub centre: f64,
    /// Upper control limit.
    pub upper: f64,
}

impl ChartLimits {
    /// Whether a point is within the limits, which belong to it.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        (self.lower..=self.upper).contains(&value)
    }
}

impl Process {
    /// From a known mean and standard deviation.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless the mean is finite and the standard deviation above 0 and finite.
    ///
    /// ```
    /// use kerfwise_gauge::Process;
    /// assert_eq!(
    ///     Process::new(125.0, 0.0).unwrap_err().to_string(),
    ///     "a process needs a finite mean and a standard deviation above 0 (got 125 and 0)"
    /// );
    /// ```
    pub fn new(mean: f64, standard_deviation: f64) -> Result<Self, Error> {
        if mean.is_finite() && standard_deviation > 0.0 && standard_deviation.is_finite() {
            Ok(Self {
                mean,
                standard_deviation,
            })
        } else {
            Err(Error::parameter(format!(
                "a process needs a finite mean and a standard deviation above 0 (got {mean} and {standard_deviation})"
            )))
        }
    }

    /// From single readings in order: their mean, and the mean of the moving ranges of two over d₂ = 2/√π.
    ///
    /// A slow drift hardly touches the ranges, so that it shows against them.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two readings and for ones that are not finite or beyond
    /// ±1e140; [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) where all are equal.
    pub fn of_individuals(readings: &[f64]) -> Result<Self, Error> {
        let mean = Moments::of(readings)?.sample()?.mean();
        let ranges = readings.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        let mean_range = sum(ranges) / (readings.len() as f64 - 1.0);
        Self::new(mean, mean_range / ChartConstants::new(2)?.d2)
    }

    /// From subgroups of one size, such as the pieces of a set-up: the mean of all, and the mean range over d₂.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) without subgroups, for subgroups of different sizes and readings that are
    /// not finite or beyond ±1e140; [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for sizes below 2 and above 100, and where
    /// nothing varies.
    ///
    /// ```
    /// use kerfwise_gauge::{ChartConstants, Process};
    ///
    /// let process = Process::of_subgroups(&[[1.0, 2.0, 3.0], [2.0, 2.0, 6.0]])?;
    /// assert!((process.mean() - 16.0 / 6.0).abs() < 1e-15);
    /// assert!((process.standard_deviation() - 3.0 / ChartConstants::new(3)?.d2).abs() < 1e-15);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn of_subgroups<G: AsRef<[f64]>>(subgroups: &[G]) -> Result<Self, Error> {
        let Some(first) = subgroups.first() else {
            return Err(Error::readings("there are no subgroups: take at least one"));
        };
        let size = first.as_ref().len();
        let mut all = Moments::new();
        let mut ranges = Vec::with_capacity(subgroups.len());
        for (index, subgroup) in subgroups.iter().enumerate() {
            let subgroup = subgroup.as_ref();
            let number = index + 1;
            if subgroup.len() != size {
                let got = subgroup.len();
                return Err(Error::readings(format!(
                    "subgroup {number} has {got} readings and the first {size}: a chart of ranges needs one size"
                )));
            }
            for &reading in subgroup {
                all.add(reading)?;
            }
            let low = subgroup.iter().copied().fold(f64::INFINITY, f64::min);
            let high = subgroup.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            ranges.push(high - low);
        }
        let constants = ChartConstants::new(size)?;
        let mean_range = sum(ranges.iter().copied()) / ranges.len() as f64;
        Self::new(all.sample()?.mean(), mean_range / constants.d2)
    }

    /// Mean of a reading.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Standard deviation of a single reading.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.standard_deviation
    }

    /// Limits of the mean of n readings, mean ± 3σ/√n; of single readings for n = 1, and 0 counts as 1.
    #[must_use]
    pub fn limits(&self, n: usize) -> ChartLimits {
        let reach = 3.0 * self.standard_deviation / (n.max(1) as f64).sqrt();
        ChartLimits {
            lower: self.mean - reach,
            centre: self.mean,
            upper: self.mean + reach,
        }
    }

    /// Limits of the range of n readings, (d₂ ± 3 d₃) σ, the lower not below 0; for moving ranges n = 2.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for n below 2 or above 100.
    pub fn range_limits(&self, n: usize) -> Result<ChartLimits, Error> {
        let ChartConstants { d2, d3, .. } = ChartConstants::new(n)?;
        let line = |factor: f64| (factor * self.standard_deviation).max(0.0);
        Ok(ChartLimits {
            lower: line(d2 - 3.0 * d3),
            centre: line(d2),
            upper: line(d2 + 3.0 * d3),
        })
    }

    /// A reading, or a mean of n, in its standard deviations from the mean.
    pub(crate) fn standardised(&self, value: f64, n: usize) -> f64 {
        (value - self.mean) / self.standard_deviation * (n.max(1) as f64).sqrt()
    }
}

fn check_shift(shift: f64) -> Result<(), Error> {
    if shift.abs() <= 20.0 {
        Ok(())
    } else {
        Err(Error::parameter(format!(
            "a shift must be within ±20 standard deviations (got {shift})"
        )))
    }
}

#[cold]
fn no_run_length() -> Error {
    Error::parameter("the run is too long to be computed: take narrower limits")
}

fn checked_length(length: f64) -> Result<f64, Error> {
    if (1.0 - 1e-9..1e12).contains(&length) {
        Ok(length.max(1.0))
    } else {
        Err(no_run_length())
    }
}

/// Where a design has the wanted average run length; `excess` is the logarithm of its ratio to that, and grows.
fn design(excess: impl Fn(f64) -> f64, lo: f64, hi: f64, readings: f64) -> Result<f64, Error> {
    let fine = RootTolerance {
        absolute: 1e-9,
        relative: 0.0,
    };
    find_root(excess, lo, hi, fine)
        .map(|root| root.x)
        .map_err(|_| {
            Error::parameter(format!(
                "no limits give a false alarm every {readings} readings: take a number such as 370"
            ))
        })
}

#[cfg(test)]
mod tests;
