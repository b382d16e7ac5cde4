use crate::wide::Wide;
use crate::{Error, Sample};

/// Largest reading whose square, added up, stays a number.
const LARGEST: f64 = 1e140;

/// Mean, standard deviation and extremes of readings that come one by one, in constant memory.
///
/// The deviations from the first reading and their squares are added up with 32 digits, so that the variance loses
/// nothing that can be seen: its relative error is that of one rounding, even if the first reading lies a million
/// standard deviations away from the rest.
///
/// ```text
/// mean = x₁ + Σ dᵢ / n        s² = (Σ dᵢ² − (Σ dᵢ)² / n) / (n − 1)        dᵢ = xᵢ − x₁
/// ```
///
/// ```
/// use kerfwise_gauge::Moments;
///
/// let mut thickness = Moments::new();
/// for reading in [1.0, 2.0, 3.0] {
///     thickness.add(reading)?;
/// }
/// assert_eq!((thickness.count(), thickness.mean()), (3, Some(2.0)));
/// assert_eq!(thickness.standard_deviation(), Some(1.0));
/// assert_eq!((thickness.smallest(), thickness.largest()), (Some(1.0), Some(3.0)));
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Moments {
    count: u64,
    first: f64,
    smallest: f64,
    largest: f64,
    sum: Wide,
    squares: Wide,
}

impl Moments {
    /// Of no readings yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Of a column.
    ///
    /// # Errors
    ///
    /// As [`Moments::add`]; an empty column is none.
    ///
    /// ```
    /// use kerfwise_gauge::Moments;
    /// assert_eq!(Moments::of(&[1.0, 2.0])?.mean(), Some(1.5));
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn of(readings: &[f64]) -> Result<Self, Error> {
        let mut moments = Self::new();
        for &reading in readings {
            moments.add(reading)?;
        }
        Ok(moments)
    }

    /// Takes one more reading.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings), with the number of the reading counted from 1, for one
    /// that is not finite or is beyond ±1e140; the moments are then as before.
    ///
    /// ```
    /// use kerfwise_gauge::Moments;
    /// let error = Moments::new().add(f64::INFINITY).unwrap_err();
    /// assert_eq!(error.to_string(), "reading 1 must be a finite number (got inf)");
    /// ```
    pub fn add(&mut self, reading: f64) -> Result<(), Error> {
        let number = self.count + 1;
        if !reading.is_finite() {
            return Err(Error::readings(format!(
                "reading {number} must be a finite number (got {reading})"
            )));
        }
        if reading.abs() > LARGEST {
            return Err(Error::readings(format!(
                "reading {number} must be within ±1e140 (got {reading:e}): use a larger unit"
            )));
        }
        if self.count == 0 {
            (self.first, self.smallest, self.largest) = (reading, reading, reading);
        }
        self.count = number;
        self.smallest = self.smallest.min(reading);
        self.largest = self.largest.max(reading);
        let deviation = Wide::difference(reading, self.first);
        self.sum = self.sum + deviation;
        self.squares = self.squares + deviation * deviation;
        Ok(())
    }

    /// How many readings.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Arithmetic mean; `None` without readings.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.wide_mean().value())
    }

    /// Experimental standard deviation, with n − 1; `None` with fewer than two readings.
    #[must_use]
    pub fn standard_deviation(&self) -> Option<f64> {
        let n = self.count as f64;
        (self.count > 1).then(|| (self.sum_of_squares() / (n - 1.0)).sqrt())
    }

    /// Smallest reading; `None` without readings.
    #[must_use]
    pub fn smallest(&self) -> Option<f64> {
        (self.count > 0).then_some(self.smallest)
    }

    /// Largest reading; `None` without readings.
    #[must_use]
    pub fn largest(&self) -> Option<f64> {
        (self.count > 0).then_some(self.largest)
    }

    /// Number, mean and standard deviation, on which intervals are built.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) with fewer than two readings.
    pub fn sample(&self) -> Result<Sample, Error> {
        match (self.mean(), self.standard_deviation()) {
            (Some(mean), Some(sd)) => Sample::new(self.count, mean, sd),
            (None, _) => Err(Error::readings("there are no readings: take at least 2")),
            _ => Err(Error::readings(
                "one reading only has no spread: take at least 2",
            )),
        }
    }

    /// Σ (xᵢ − mean)².
    pub(crate) fn sum_of_squares(&self) -> f64 {
        let n = (self.count as f64).max(1.0);
        let squares = self.squares - (self.sum * self.sum).over(n);
        squares.value().max(0.0)
    }

    pub(crate) fn wide_mean(&self) -> Wide {
        Wide::from(self.first) + self.sum.over((self.count as f64).max(1.0))
    }
}
