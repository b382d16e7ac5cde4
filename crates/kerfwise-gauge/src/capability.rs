use crate::law::noncentrality;
use crate::{Confidence, Error, Fraction, Interval, Sample};
use kerfwise_numeric::special::{normal_quantile_upper, normal_sf};
use kerfwise_source::Distribution;

/// Between which limits a piece is good: a lower one, an upper one, or both. Numbers in the unit of the readings.
///
/// ```
/// use kerfwise_gauge::{Confidence, Sample, Specification};
///
/// // A clearance that may be 1 to 6 thou; twenty-four joints gave 3.2 ± 0.7 thou.
/// let band = Specification::between(1.0, 6.0)?;
/// let found = band.capability(&Sample::new(24, 3.2, 0.7)?, Confidence::default());
/// assert!((found.potential.unwrap().value - 5.0 / 4.2).abs() < 1e-12); // 6 s = 4.2
/// assert!((found.actual.value - 2.2 / 2.1).abs() < 1e-12); // nearer to the lower limit
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Specification {
    lower: Option<f64>,
    upper: Option<f64>,
}

/// An index with its confidence interval.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Index {
    /// The estimate; infinite where nothing varies and all is inside.
    pub value: f64,
    /// Where the true index lies.
    pub interval: Interval,
}

/// How a normal spread fits between limits.
///
/// Of the overall standard deviation these are the performance indices Pp and Ppk, of the one within set-ups
/// ([`Sample::with_spread`]) the capability indices Cp and Cpk (ISO 22514-2).
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Capability {
    /// Cp or Pp, width between the limits over 6 s; `None` with one limit. Its interval is exact (χ²).
    pub potential: Option<Index>,
    /// Cpk or Ppk, distance of the mean from the nearer limit over 3 s, below 0 when the mean is outside. Its interval is exact
    /// with one limit (noncentral t), with two the approximation of Bissell (1990).
    pub actual: Index,
    /// One-sided lower limit of the actual index, as for the nearer limit alone (noncentral t): with two limits it can
    /// only be too low.
    pub actual_at_least: f64,
    /// Fraction of all pieces below the lower limit or above the upper one. Its interval is exact with one limit; with two it
    /// adds those of either side with half of the doubt each (Bonferroni), so that it covers more than it says.
    pub outside: Index,
}

impl Specification {
    /// At least `lower` and at most `upper`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless both are finite and the lower one is below the upper one.
    ///
    /// ```
    /// use kerfwise_gauge::Specification;
    /// assert_eq!(
    ///     Specification::between(6.0, 1.0).unwrap_err().to_string(),
    ///     "limits must be finite numbers, the lower below the upper (got 6 .. 1)"
    /// );
    /// ```
    pub fn between(lower: f64, upper: f64) -> Result<Self, Error> {
        if lower.is_finite() && upper.is_finite() && lower < upper {
            Ok(Self {
                lower: Some(lower),
                upper: Some(upper),
            })
        } else {
            Err(Error::parameter(format!(
                "limits must be finite numbers, the lower below the upper (got {lower} .. {upper})"
            )))
        }
    }

    /// At least `lower`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless it is finite.
    pub fn at_least(lower: f64) -> Result<Self, Error> {
        one_limit(lower).map(|lower| Self {
            lower: Some(lower),
            upper: None,
        })
    }

    /// At most `upper`.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless it is finite.
    pub fn at_most(upper: f64) -> Result<Self, Error> {
        one_limit(upper).map(|upper| Self {
            lower: None,
            upper: Some(upper),
        })
    }

    /// Whether a value is good; the limits are.
    #[must_use]
    pub fn contains(&self, value: f64) -> bool {
        self.lower.is_none_or(|lower| value >= lower)
            && self.upper.is_none_or(|upper| value <= upper)
    }

    /// Indices and fraction outside of normal readings. See [`Capability`] for the methods.
    #[must_use]
    pub fn capability(&self, sample: &Sample, confidence: Confidence) -> Capability {
        let sides: Vec<Side> = self.sides(sample).collect();
        // There is one at least.
        let nearer = sides
            .iter()
            .copied()
            .fold(f64::INFINITY, |least, side| least.min(side.index));
        let side = Side {
            index: nearer,
            ..sides[0]
        };
        let interval = if sides.len() == 1 {
            side.interval(confidence.tail())
        } else {
            side.bissell(confidence)
        };
        Capability {
            potential: self.potential(sample, confidence),
            actual: Index {
                value: nearer,
                interval,
            },
            actual_at_least: side.at_least(1.0 - confidence.level()),
            outside: outside(&sides, interval, confidence),
        }
    }

    fn potential(&self, sample: &Sample, confidence: Confidence) -> Option<Index> {
        let width = self.upper? - self.lower?;
        let index = |sd: f64| width / (6.0 * sd);
        let spread = sample.standard_deviation_interval(confidence);
        Some(Index {
            value: index(sample.standard_deviation()),
            interval: Interval::new(index(spread.upper), index(spread.lower)),
        })
    }

    /// The index of each limit.
    fn sides(&self, sample: &Sample) -> impl Iterator<Item = Side> {
        let mean = sample.mean();
        let distances = [
            self.lower.map(|lower| mean - lower),
            self.upper.map(|upper| upper - mean),
        ];
        let sample = *sample;
        distances.into_iter().flatten().map(move |distance| Side {
            index: ratio(distance, 3.0 * sample.standard_deviation()),
            count: sample.count() as f64,
            nu: sample.degrees_of_freedom(),
        })
    }

    /// Fraction outside as counted, with its exact interval (Clopper and Pearson), whatever the distribution; of few readings
    /// it says little.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) without readings.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Specification};
    ///
    /// let outside = Specification::at_most(6.0)?.counted_outside(&[1.0, 5.0, 7.0, 6.0], Confidence::default())?;
    /// assert_eq!(outside.value, 0.25);
    /// assert!(outside.interval.upper > 0.8);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn counted_outside(
        &self,
        readings: &[f64],
        confidence: Confidence,
    ) -> Result<Index, Error> {
        let outside = readings
            .iter()
            .filter(|&&reading| !self.contains(reading))
            .count();
        let fraction = Fraction::new(outside as u64, readings.len() as u64)?;
        Ok(Index {
            value: fraction.value(),
            interval: fraction.exact(confidence),
        })
    }

    /// Potential and actual index of a known distribution that need not be normal, from its percentiles (ISO 22514-2):
    /// the potential one is `None` with one limit, both where the distribution has no spread.
    ///
    /// ```text
    /// Pp = (U − L)/(x₉₉.₈₆₅ − x₀.₁₃₅)        Ppk = min((U − x₅₀)/(x₉₉.₈₆₅ − x₅₀), (x₅₀ − L)/(x₅₀ − x₀.₁₃₅))
    /// ```
    ///
    /// ```
    /// use kerfwise_gauge::Specification;
    /// use kerfwise_source::Distribution;
    ///
    /// let band = Specification::between(-4.0, 4.0)?;
    /// let (potential, actual) = band.indices_of(&Distribution::normal(0.0, 1.0).unwrap());
    /// assert!((potential.unwrap() - 4.0 / 3.0).abs() < 1e-4 && (actual.unwrap() - 4.0 / 3.0).abs() < 1e-4);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    #[must_use]
    pub fn indices_of(&self, distribution: &Distribution) -> (Option<f64>, Option<f64>) {
        const TAIL: f64 = 0.00135;
        let (low, high) = (
            distribution.quantile(TAIL),
            distribution.quantile(1.0 - TAIL),
        );
        let median = distribution.quantile(0.5);
        if !(low < median && median < high) {
            return (None, None);
        }
        let potential = self
            .lower
            .zip(self.upper)
            .map(|(lower, upper)| (upper - lower) / (high - low));
        let below = self.lower.map(|lower| (median - lower) / (median - low));
        let above = self.upper.map(|upper| (upper - median) / (high - median));
        let actual = below.into_iter().chain(above).reduce(f64::min);
        (potential, actual)
    }
}

fn one_limit(limit: f64) -> Result<f64, Error> {
    if limit.is_finite() {
        Ok(limit)
    } else {
        Err(Error::parameter(format!(
            "a limit must be a finite number (got {limit})"
        )))
    }
}

/// Of a distance over a spread that may be 0; on the limit itself, all is inside.
fn ratio(distance: f64, spread: f64) -> f64 {
    if spread > 0.0 {
        distance / spread
    } else if distance >= 0.0 {
        f64::INFINITY
    } else {
        f64::NEG_INFINITY
    }
}

/// One limit: the distance of the mean from it, over 3 s.
#[derive(Debug, Clone, Copy)]
struct Side {
    index: f64,
    count: f64,
    nu: f64,
}

impl Side {
    /// 3 √n times the index is noncentral t, its noncentrality 3 √n times the true one: which one leaves this chance below?
    fn true_index(&self, below: f64) -> f64 {
        if self.index.is_infinite() {
            return self.index;
        }
        let scale = 3.0 * self.count.sqrt();
        noncentrality(scale * self.index, self.nu, below).map_or(self.index, |delta| delta / scale)
    }

    fn at_least(&self, tail: f64) -> f64 {
        self.true_index(1.0 - tail)
    }

    fn interval(&self, tail: f64) -> Interval {
        Interval::new(self.true_index(1.0 - tail), self.true_index(tail))
    }

    /// C ± z √(1/(9n) + C²/(2ν)).
    fn bissell(&self, confidence: Confidence) -> Interval {
        let c = self.index;
        if c.is_infinite() {
            return Interval::new(c, c);
        }
        let variance = 1.0 / (9.0 * self.count) + c * c / (2.0 * self.nu);
        let reach = normal_quantile_upper(confidence.tail()) * variance.sqrt();
        Interval::new(c - reach, c + reach)
    }
}

/// The fraction of each side is Φ(−3 C) of its index; `of_one` is the interval of the index where there is one side.
fn outside(sides: &[Side], of_one: Interval, confidence: Confidence) -> Index {
    let fraction = |index: f64| normal_sf(3.0 * index);
    let tail = confidence.tail() / sides.len() as f64;
    let (mut value, mut lower, mut upper) = (0.0, 0.0, 0.0_f64);
    for side in sides {
        let interval = if sides.len() == 1 {
            of_one
        } else {
            side.interval(tail)
        };
        value += fraction(side.index);
        lower += fraction(interval.upper);
        upper += fraction(interval.lower);
    }
    Index {
        value,
        interval: Interval::new(lower, upper.min(1.0)),
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;
