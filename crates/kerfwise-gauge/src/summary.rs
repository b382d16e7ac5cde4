use crate::line::{Line, deviations};
use crate::normality::{Normality, normality};
use crate::outlier::{Outlier, outliers};
use crate::{Confidence, Error, Interval, Moments, Sample};
use kerfwise_numeric::special::{student_t_quantile_upper, student_t_sf};
use kerfwise_numeric::sum::sum;

/// What a column of readings shows, in the order in which they were taken.
///
/// Nothing is left out and nothing is put right: outliers count in every number here, and are named.
///
/// ```
/// use kerfwise_gauge::Summary;
///
/// // A mortise, in thou over 3/8 in; the last reading was taken on a chip.
/// let mortise = Summary::new(&[1.0, 2.0, 1.0, 3.0, 2.0, 2.0, 3.0, 2.0, 1.0, 13.0])?;
/// assert_eq!((mortise.sample.mean(), mortise.median), (3.0, 2.0));
/// assert_eq!(mortise.outliers[0].index, 9);
/// // Half of the readings lie within 1 thou of the median; for normal readings that is 0.6745 of s.
/// assert!((mortise.robust_spread - 1.0 / 0.6745).abs() < 1e-3);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Summary {
    /// Number, mean and standard deviation, with their intervals.
    pub sample: Sample,
    /// Smallest reading.
    pub smallest: f64,
    /// Largest reading.
    pub largest: f64,
    /// The middle reading, or half-way between the two middle ones.
    pub median: f64,
    /// Median distance from the median, times 1.4826: an estimate of the standard deviation of normal readings that up
    /// to half of them cannot spoil. 0 where more than half are equal.
    pub robust_spread: f64,
    /// How many different readings there are. A few only say that the gauge is coarse.
    pub distinct: usize,
    /// Slope over the order of reading; `None` with fewer than three readings.
    pub drift: Option<Drift>,
    /// Correlation of each reading with the one before; of independent readings it is beyond ±2/√n with a chance of
    /// about 5 %. `None` where all are equal.
    ///
    /// ```text
    /// r₁ = Σ (xᵢ − mean)(xᵢ₊₁ − mean) / Σ (xᵢ − mean)²
    /// ```
    pub autocorrelation: Option<f64>,
    /// Whether the readings look normal (Anderson and Darling); `None` with fewer than eight readings or where all are equal.
    pub normality: Option<Normality>,
    /// Readings too far from the rest at a significance of 5 % for the whole column, the farthest first: Grubbs (1969) below
    /// 15 readings, Rosner's generalised extreme studentised deviates (1983) from there, for up to n/5 and at most 10
    /// outliers. Both take the others for normal.
    pub outliers: Vec<Outlier>,
}

/// 1/Φ⁻¹(3/4).
const NORMAL_OVER_QUARTILE: f64 = 1.482_602_218_505_602;

impl Summary {
    /// Of at least two readings.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two readings, and for one that is not finite or beyond
    /// ±1e140 (which one is said, counted from 1).
    pub fn new(readings: &[f64]) -> Result<Self, Error> {
        let moments = Moments::of(readings)?;
        let sample = moments.sample()?;
        let mut sorted = readings.to_vec();
        sorted.sort_by(f64::total_cmp);
        let median = middle(&sorted);
        let mut distances: Vec<f64> = sorted.iter().map(|x| (x - median).abs()).collect();
        distances.sort_by(f64::total_cmp);
        let changes = sorted.windows(2).filter(|pair| pair[0] < pair[1]).count();
        Ok(Self {
            sample,
            smallest: sorted[0],
            largest: sorted[sorted.len() - 1],
            median,
            robust_spread: NORMAL_OVER_QUARTILE * middle(&distances),
            distinct: changes + 1,
            drift: Drift::of(readings),
            autocorrelation: autocorrelation(readings),
            normality: normality(&sorted),
            outliers: outliers(readings),
        })
    }
}

/// Of sorted numbers, at least one.
fn middle(sorted: &[f64]) -> f64 {
    let half = sorted.len() / 2;
    if sorted.len().is_multiple_of(2) {
        0.5 * sorted[half - 1] + 0.5 * sorted[half]
    } else {
        sorted[half]
    }
}

fn autocorrelation(readings: &[f64]) -> Option<f64> {
    let deviations = deviations(readings);
    let squares = sum(deviations.iter().map(|d| d * d));
    let products = sum(deviations.windows(2).map(|pair| pair[0] * pair[1]));
    (squares > 0.0).then(|| products / squares)
}

/// How much a reading changes from one to the next, by the least-squares line over their order.
///
/// ```
/// use kerfwise_gauge::{Confidence, Summary};
///
/// let steady = Summary::new(&[3.0, 1.0, 4.0, 1.0, 5.0, 9.0, 2.0, 6.0])?.drift.unwrap();
/// assert_eq!(steady.degrees_of_freedom, 6.0);
/// assert!(steady.interval(Confidence::default()).contains(0.0) && steady.p_value > 0.05);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Drift {
    /// Change per reading.
    pub slope: f64,
    /// Standard uncertainty of the slope, if the readings are independent.
    pub standard_error: f64,
    /// Degrees of freedom, n − 2.
    pub degrees_of_freedom: f64,
    /// How often steady readings would give a slope as far from 0 (t test).
    pub p_value: f64,
}

impl Drift {
    fn of(readings: &[f64]) -> Option<Self> {
        let order: Vec<f64> = (0..readings.len()).map(|i| i as f64).collect();
        let Line {
            slope,
            standard_error,
            degrees_of_freedom,
        } = Line::through(&order, readings)?;
        let t = (slope / standard_error).abs();
        let p_value = if t.is_nan() {
            1.0 // no slope and no scatter
        } else {
            (2.0 * student_t_sf(t, degrees_of_freedom)).min(1.0)
        };
        Some(Self {
            slope,
            standard_error,
            degrees_of_freedom,
            p_value,
        })
    }

    /// Where the true slope lies: slope ± t · standard error.
    pub fn interval(&self, confidence: Confidence) -> Interval {
        let t = student_t_quantile_upper(confidence.tail(), self.degrees_of_freedom);
        let reach = t * self.standard_error;
        Interval::new(self.slope - reach, self.slope + reach)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;
