use super::law::Law;
use super::{Distribution, atoms, check};
use crate::Error;
use kerfwise_numeric::sum::CompensatedSum;

/// Values with probabilities.
#[derive(Debug, Clone, PartialEq)]
pub struct Discrete {
    values: Vec<f64>,
    probabilities: Vec<f64>,
    /// P(X <= value) and P(X > value), each summed from its own end.
    up_to: Vec<f64>,
    above: Vec<f64>,
    mean: f64,
    sd: f64,
}

impl Discrete {
    /// The values, ascending and all different; at least two.
    #[inline]
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The probability of each value, in the order of the values; all above 0, together 1.
    #[inline]
    #[must_use]
    pub fn probabilities(&self) -> &[f64] {
        &self.probabilities
    }

    fn atoms(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + ExactSizeIterator + Clone {
        self.values
            .iter()
            .copied()
            .zip(self.probabilities.iter().copied())
    }

    /// How many values are at most x.
    fn count_up_to(&self, x: f64) -> usize {
        self.values.partition_point(|value| *value <= x)
    }
}

impl Distribution {
    /// Values with probabilities (which must add to 1 within 1e-9, and are scaled to do so exactly).
    ///
    /// The order of the pairs does not matter; equal values are merged, and values of probability 0 left out.
    ///
    /// # Errors
    /// When there is no pair, a value is not finite, a probability is negative or not finite, or they do not add to 1.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // Which of three feeler leaves was left in the stack?
    /// let leaf = Distribution::discrete(&[(0.002, 0.5), (0.003, 0.25), (0.0, 0.25)])?;
    /// assert!((leaf.mean().unwrap() - 0.00175).abs() < 1e-18);
    /// assert_eq!(leaf.cdf(0.002), 0.75);
    /// assert_eq!(leaf.quantile(0.75), 0.002);
    /// assert_eq!(leaf.pdf(0.002), None);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn discrete(pairs: &[(f64, f64)]) -> Result<Self, Error> {
        if pairs.is_empty() {
            return Err(check::bad(
                Discrete::NAME,
                "there must be at least one value with its probability (got none)",
            ));
        }
        let total = check::weights(
            Discrete::NAME,
            "probability",
            pairs.iter().map(|(_, probability)| *probability),
        )?;
        Discrete::of(pairs.to_vec(), total)
    }
}

impl Discrete {
    /// The law of checked probabilities that add to `total`.
    fn of(mut pairs: Vec<(f64, f64)>, total: f64) -> Result<Distribution, Error> {
        for (value, _) in &pairs {
            check::finite(Self::NAME, "value", *value)?;
        }
        pairs.retain(|(_, probability)| *probability > 0.0);
        pairs.sort_by(|one, other| one.0.total_cmp(&other.0));
        let (mut values, mut probabilities): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        for (value, probability) in pairs {
            match (values.last(), probabilities.last_mut()) {
                (Some(last), Some(sum)) if *last == value => *sum += probability / total,
                _ => {
                    values.push(value);
                    probabilities.push(probability / total);
                }
            }
        }
        match *values.as_slice() {
            // Probabilities that add to 1 are not all 0, so at least one value is left.
            [] | [_] => Distribution::point(values.first().copied().unwrap_or(0.0)),
            [least, .., greatest] => Ok(Distribution::Discrete(Self::new(
                values,
                probabilities,
                least,
                greatest,
            ))),
        }
    }

    fn new(values: Vec<f64>, probabilities: Vec<f64>, least: f64, greatest: f64) -> Self {
        let running = |probabilities: &mut dyn Iterator<Item = &f64>| -> Vec<f64> {
            let mut total = CompensatedSum::new();
            probabilities
                .map(|probability| {
                    total.add(*probability);
                    total.value().min(1.0)
                })
                .collect()
        };
        let mut up_to = running(&mut probabilities.iter());
        let mut above = running(&mut probabilities.iter().rev());
        // Nothing lies above the greatest, and all up to it: exactly, whatever the roundings.
        above.pop();
        above.reverse();
        above.push(0.0);
        if let Some(last) = up_to.last_mut() {
            *last = 1.0;
        }
        let mut law = Self {
            values,
            probabilities,
            up_to,
            above,
            mean: 0.0,
            sd: 0.0,
        };
        (law.mean, law.sd) = atoms::moments(law.atoms(), least, greatest);
        law
    }
}

impl Law for Discrete {
    const NAME: &'static str = "discrete";

    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn support(&self) -> (f64, f64) {
        (self.values[0], self.values[self.values.len() - 1])
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        let (least, greatest) = self.support();
        atoms::centre_of_symmetry(self.atoms(), least, greatest)
    }

    fn pdf(&self, _x: f64) -> Option<f64> {
        None
    }

    fn cdf(&self, x: f64) -> f64 {
        match self.count_up_to(x) {
            0 => 0.0,
            count => self.up_to[count - 1],
        }
    }

    fn sf(&self, x: f64) -> f64 {
        match self.count_up_to(x) {
            0 => 1.0,
            count => self.above[count - 1],
        }
    }

    fn quantile(&self, p: f64) -> f64 {
        let short = self.up_to.partition_point(|up_to| *up_to < p);
        self.values[short.min(self.values.len() - 1)]
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let short = self.above.partition_point(|above| *above > q);
        self.values[short.min(self.values.len() - 1)]
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        Some(atoms::characteristic(self.atoms(), t))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let pairs = self
            .atoms()
            .map(|(value, probability)| (factor * value + shift, probability))
            .collect();
        Self::of(pairs, 1.0)
    }
}
