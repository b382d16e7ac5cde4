use crate::law::chi_squared_quantiles;
use crate::{Confidence, Error, Interval};
use kerfwise_numeric::special::student_t_quantile_upper;

/// Number, mean and standard deviation of readings that are taken as independent and normal.
///
/// ```
/// use kerfwise_gauge::{Confidence, Sample};
///
/// let flow = Sample::new(9, 50.0, 3.0)?;
/// assert_eq!(flow.standard_error(), 1.0);
/// // t of 8 degrees of freedom is 2.306.
/// let interval = flow.mean_interval(Confidence::default());
/// assert!((interval.upper - 52.306).abs() < 0.001);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sample {
    count: u64,
    mean: f64,
    standard_deviation: f64,
    degrees_of_freedom: f64,
}

impl Sample {
    /// From at least two readings that somebody else has evaluated.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two readings, a mean that is not finite, and a
    /// standard deviation that is below 0 or not finite.
    pub fn new(count: u64, mean: f64, standard_deviation: f64) -> Result<Self, Error> {
        if count < 2 {
            return Err(Error::readings(format!(
                "a sample needs at least 2 readings (got {count})"
            )));
        }
        if !mean.is_finite() {
            return Err(Error::readings(format!(
                "the mean must be a finite number (got {mean})"
            )));
        }
        if !(standard_deviation >= 0.0 && standard_deviation.is_finite()) {
            return Err(Error::readings(format!(
                "the standard deviation must be 0 or above and finite (got {standard_deviation})"
            )));
        }
        Ok(Self {
            count,
            mean,
            standard_deviation,
            degrees_of_freedom: count as f64 - 1.0,
        })
    }

    /// The same readings with another standard deviation than their own, such as the one within set-ups, and its degrees of
    /// freedom.
    ///
    /// # Errors
    ///
    /// As [`Sample::new`], and [`ErrorKind::Readings`](crate::ErrorKind::Readings) for degrees of freedom that are not above 0
    /// and finite.
    ///
    /// ```
    /// use kerfwise_gauge::Sample;
    ///
    /// let within = Sample::new(24, 3.2, 0.7)?.with_spread(0.5, 20.0)?;
    /// assert_eq!((within.standard_deviation(), within.degrees_of_freedom()), (0.5, 20.0));
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn with_spread(
        self,
        standard_deviation: f64,
        degrees_of_freedom: f64,
    ) -> Result<Self, Error> {
        if !(degrees_of_freedom > 0.0 && degrees_of_freedom.is_finite()) {
            return Err(Error::readings(format!(
                "degrees of freedom must be above 0 and finite (got {degrees_of_freedom})"
            )));
        }
        let other = Self::new(self.count, self.mean, standard_deviation)?;
        Ok(Self {
            degrees_of_freedom,
            ..other
        })
    }

    /// How many readings.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.count
    }

    /// Arithmetic mean.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Experimental standard deviation s of one reading.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.standard_deviation
    }

    /// Standard error of the mean, s/√n (JCGM 100:2008, 4.2.3).
    #[must_use]
    pub fn standard_error(&self) -> f64 {
        self.standard_deviation / (self.count as f64).sqrt()
    }

    /// Degrees of freedom of s, n − 1 unless it came from elsewhere.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }

    /// Where the true mean lies: mean ± t s/√n, exact for normal readings.
    pub fn mean_interval(&self, confidence: Confidence) -> Interval {
        let t = student_t_quantile_upper(confidence.tail(), self.degrees_of_freedom());
        let reach = t * self.standard_error();
        Interval::new(self.mean - reach, self.mean + reach)
    }

    /// Where the true standard deviation lies: s √(ν/χ²), exact for normal readings, and sensitive to their not
    /// being normal.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Sample};
    ///
    /// // χ² of 24 degrees of freedom: 12.401 and 39.364.
    /// let spread = Sample::new(25, 0.0, 1.0)?.standard_deviation_interval(Confidence::default());
    /// assert!((spread.lower - (24.0 / 39.364_f64).sqrt()).abs() < 1e-5);
    /// assert!((spread.upper - (24.0 / 12.401_f64).sqrt()).abs() < 1e-4);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn standard_deviation_interval(&self, confidence: Confidence) -> Interval {
        let nu = self.degrees_of_freedom();
        let (low, high) = chi_squared_quantiles(confidence.tail(), nu);
        let s = self.standard_deviation;
        Interval::new(s * (nu / high).sqrt(), s * (nu / low).sqrt())
    }
}
