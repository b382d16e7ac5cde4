use crate::Error;

/// The chance with which an interval, over many repetitions of the readings, holds the true value; 95 % by default.
///
/// ```
/// use kerfwise_gauge::Confidence;
///
/// assert_eq!(Confidence::new(0.95)?, Confidence::default());
/// assert_eq!(
///     Confidence::new(95.0).unwrap_err().to_string(),
///     "confidence must be above 0 and below 1, such as 0.95 (got 95)"
/// );
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Confidence(f64);

impl Confidence {
    /// From a number between 0 and 1.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a number that is not above 0 and below 1.
    pub fn new(level: f64) -> Result<Self, Error> {
        if level > 0.0 && level < 1.0 {
            Ok(Self(level))
        } else {
            Err(Error::parameter(format!(
                "confidence must be above 0 and below 1, such as 0.95 (got {level})"
            )))
        }
    }

    /// The number.
    #[must_use]
    pub fn level(self) -> f64 {
        self.0
    }

    /// The chance left on either side of a two-sided interval.
    pub(crate) fn tail(self) -> f64 {
        0.5 * (1.0 - self.0)
    }
}

/// 95 %.
impl Default for Confidence {
    fn default() -> Self {
        Self(0.95)
    }
}

/// A confidence interval, with equal chances of lying wholly above and wholly below the true value unless its
/// maker says otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
#[must_use]
pub struct Interval {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    pub(crate) fn new(lower: f64, upper: f64) -> Self {
        Self { lower, upper }
    }

    /// Whether a value lies between the ends, which belong to the interval.
    ///
    /// ```
    /// use kerfwise_gauge::Interval;
    /// assert!(Interval { lower: 1.0, upper: 2.0 }.contains(2.0));
    /// ```
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        (self.lower..=self.upper).contains(&value)
    }

    /// Both ends through an increasing function: an interval of that function of the value.
    pub(crate) fn map(self, f: impl Fn(f64) -> f64) -> Self {
        Self::new(f(self.lower), f(self.upper))
    }
}
