use crate::{Confidence, Error, Interval};
use kerfwise_numeric::special::{beta_quantile, normal_quantile_upper};

/// So many of so many: joints that fit out of joints cut, pieces outside out of pieces measured.
///
/// ```
/// use kerfwise_gauge::{Confidence, Fraction};
///
/// let fits = Fraction::new(23, 24)?;
/// let interval = fits.exact(Confidence::default());
/// assert!((interval.lower - 0.7888).abs() < 1e-4 && (interval.upper - 0.9989).abs() < 1e-4);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fraction {
    count: u64,
    of: u64,
}

impl Fraction {
    /// `count` of `of`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for none of none, and for more than all.
    ///
    /// ```
    /// use kerfwise_gauge::Fraction;
    /// assert_eq!(
    ///     Fraction::new(25, 24).unwrap_err().to_string(),
    ///     "a count must be of at least 1 and not more than all (got 25 of 24)"
    /// );
    /// ```
    pub fn new(count: u64, of: u64) -> Result<Self, Error> {
        if of == 0 || count > of {
            return Err(Error::parameter(format!(
                "a count must be of at least 1 and not more than all (got {count} of {of})"
            )));
        }
        Ok(Self { count, of })
    }

    /// The estimate, count over all.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.count as f64 / self.of as f64
    }

    /// The interval of Clopper and Pearson (1934): covers at no less than the stated rate, whatever the true fraction.
    pub fn exact(&self, confidence: Confidence) -> Interval {
        let tail = confidence.tail();
        Interval::new(self.lower_end(tail), self.upper_end(tail))
    }

    /// The exact one-sided limit: the true fraction is at least this.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Fraction};
    ///
    /// // All of 24 fit: p^24 = 0.05.
    /// let least = Fraction::new(24, 24)?.exact_lower(Confidence::default());
    /// assert!((least - 0.8827).abs() < 1e-4);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    #[must_use]
    pub fn exact_lower(&self, confidence: Confidence) -> f64 {
        self.lower_end(1.0 - confidence.level())
    }

    /// The exact one-sided limit: the true fraction is at most this.
    #[must_use]
    pub fn exact_upper(&self, confidence: Confidence) -> f64 {
        self.upper_end(1.0 - confidence.level())
    }

    /// The score interval of Wilson (1927), without continuity correction: shorter, covers at about the stated rate on
    /// average over fractions, and less at some.
    ///
    /// ```text
    /// (p̂ + z²/2n ± z √(p̂(1−p̂)/n + z²/4n²)) / (1 + z²/n)
    /// ```
    pub fn wilson(&self, confidence: Confidence) -> Interval {
        let z = normal_quantile_upper(confidence.tail());
        let (n, p) = (self.of as f64, self.value());
        let square = z * z / n;
        let middle = p + 0.5 * square;
        let reach = (square * (p * (1.0 - p) + 0.25 * square)).sqrt();
        let end = |x: f64| (x / (1.0 + square)).clamp(0.0, 1.0);
        // At the ends the difference is 0, which rounding would miss.
        Interval::new(
            if self.count == 0 {
                0.0
            } else {
                end(middle - reach)
            },
            if self.count == self.of {
                1.0
            } else {
                end(middle + reach)
            },
        )
    }

    /// The interval of Jeffreys: equal tails of beta(count + ½, rest + ½), its ends set to 0 for none and 1 for all (Brown,
    /// Cai and `DasGupta` 2001). Coverage as [`Fraction::wilson`].
    pub fn jeffreys(&self, confidence: Confidence) -> Interval {
        let tail = confidence.tail();
        let (a, b) = (self.count as f64 + 0.5, self.rest() + 0.5);
        Interval::new(
            if self.count == 0 {
                0.0
            } else {
                beta_quantile(tail, a, b)
            },
            if self.count == self.of {
                1.0
            } else {
                1.0 - beta_quantile(tail, b, a)
            },
        )
    }

    fn rest(&self) -> f64 {
        (self.of - self.count) as f64
    }

    fn lower_end(&self, tail: f64) -> f64 {
        if self.count == 0 {
            return 0.0;
        }
        beta_quantile(tail, self.count as f64, self.rest() + 1.0)
    }

    fn upper_end(&self, tail: f64) -> f64 {
        if self.count == self.of {
            return 1.0;
        }
        1.0 - beta_quantile(tail, self.rest(), self.count as f64 + 1.0)
    }
}

#[cfg(test)]
mod tests;
