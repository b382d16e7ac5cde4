use crate::law::{Tail, chi_squared_quantile};
use crate::{Confidence, Error, Index, Interval, Moments, Sample};
use kerfwise_numeric::special::student_t_sf;
use kerfwise_numeric::sum::sum;

/// A set-up whose deviation was predicted, and what it came to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Achieved {
    /// Predicted mean of what was measured.
    pub predicted: f64,
    /// Predicted standard deviation of what was measured, from one set-up to another; 0 if none was predicted.
    pub spread: f64,
    /// What was measured.
    pub achieved: f64,
}

/// Achieved less predicted over several set-ups: is the arithmetic of the setting right for this saw, or off by a steady amount?
///
/// ```
/// use kerfwise_gauge::{Achieved, Bias, Confidence};
///
/// // Five set-ups that were all to give a deviation of 0 with a spread of 1 thou.
/// let rows = [3.0, 2.0, 4.0, 3.0, 3.0].map(|achieved| Achieved { predicted: 0.0, spread: 1.0, achieved });
/// let bias = Bias::new(&rows)?;
/// assert_eq!(bias.differences().mean(), 3.0);
/// assert!(bias.is_steady(Confidence::default())); // 3 ± 2.776 · 0.707/√5
/// // The set-ups differ by less than was predicted: 2 over 4 degrees of freedom.
/// let ratio = bias.spread_ratio(Confidence::default()).unwrap();
/// assert!((ratio.value - 0.5_f64.sqrt()).abs() < 1e-12 && ratio.interval.contains(1.0));
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Bias {
    differences: Sample,
    /// Σ ((difference − weighted mean)/predicted spread)², if a spread was predicted everywhere.
    squares: Option<f64>,
}

impl Bias {
    /// From at least two set-ups.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two set-ups, for numbers that are not finite or beyond
    /// ±1e140, and a spread below 0.
    pub fn new(rows: &[Achieved]) -> Result<Self, Error> {
        let mut moments = Moments::new();
        for (index, row) in rows.iter().enumerate() {
            let difference = row.achieved - row.predicted;
            if !(row.spread >= 0.0 && row.spread.is_finite()) {
                let (number, spread) = (index + 1, row.spread);
                return Err(Error::readings(format!(
                    "set-up {number}: the predicted spread must be 0 or above and finite (got {spread})"
                )));
            }
            moments.add(difference).map_err(|_| {
                let number = index + 1;
                Error::readings(format!(
                    "set-up {number}: achieved less predicted must be finite and within ±1e140 (got {difference:e})"
                ))
            })?;
        }
        Ok(Self {
            differences: moments.sample()?,
            squares: squares(rows),
        })
    }

    /// Number, mean and standard deviation of achieved less predicted.
    #[must_use]
    pub fn differences(&self) -> &Sample {
        &self.differences
    }

    /// Where the true bias lies (t interval); it does not lean on the predicted spreads.
    pub fn interval(&self, confidence: Confidence) -> Interval {
        self.differences.mean_interval(confidence)
    }

    /// How often set-ups without a bias would be off as far (t test).
    #[must_use]
    pub fn p_value(&self) -> f64 {
        let t = (self.differences.mean() / self.differences.standard_error()).abs();
        if t.is_nan() {
            return 1.0; // no difference and no scatter
        }
        (2.0 * student_t_sf(t, self.differences.degrees_of_freedom())).min(1.0)
    }

    /// Whether the interval of the bias leaves out 0: the setting is off by a steady amount, and taking the mean off the next
    /// one would mend it.
    #[must_use]
    pub fn is_steady(&self, confidence: Confidence) -> bool {
        !self.interval(confidence).contains(0.0)
    }

    /// Ratio of the spread that was achieved to the one predicted, about the mean; its interval (χ²) is exact for normal
    /// deviations. `None` unless a spread above 0 was predicted for every set-up.
    #[must_use]
    pub fn spread_ratio(&self, confidence: Confidence) -> Option<Index> {
        let squares = self.squares?;
        let nu = self.differences.degrees_of_freedom();
        let end = |tail| (squares / chi_squared_quantile(tail, nu)).sqrt();
        let tail = confidence.tail();
        Some(Index {
            value: (squares / nu).sqrt(),
            interval: Interval::new(end(Tail::Upper(tail)), end(Tail::Lower(tail))),
        })
    }
}

fn squares(rows: &[Achieved]) -> Option<f64> {
    if rows.iter().any(|row| row.spread <= 0.0) {
        return None;
    }
    let weight = |row: &Achieved| 1.0 / (row.spread * row.spread);
    let difference = |row: &Achieved| row.achieved - row.predicted;
    let total = sum(rows.iter().map(weight));
    let mean = sum(rows.iter().map(|row| weight(row) * difference(row))) / total;
    let square = |row: &Achieved| {
        let ratio = (difference(row) - mean) / row.spread;
        ratio * ratio
    };
    let squares = sum(rows.iter().map(square));
    squares.is_finite().then_some(squares)
}
