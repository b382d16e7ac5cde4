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

#[cfg(test)]
mod tests {
    use super::super::Distribution;
    use crate::Error;

    #[test]
    fn order_and_repetition_do_not_matter() -> Result<(), Error> {
        let tidy = Distribution::discrete(&[(1.0, 0.25), (2.0, 0.75)])?;
        assert_eq!(
            Distribution::discrete(&[(2.0, 0.5), (1.0, 0.25), (7.0, 0.0), (2.0, 0.25)])?,
            tidy
        );
        assert_eq!(tidy.support(), (1.0, 2.0));
        // By hand: mean 7/4, variance 3/16.
        assert_eq!(tidy.mean(), Some(1.75));
        assert!(
            tidy.variance()
                .is_some_and(|variance| (variance - 0.1875).abs() < 1e-16)
        );
        Ok(())
    }

    #[test]
    fn both_tails_are_summed_from_their_own_end() -> Result<(), Error> {
        let law = Distribution::discrete(&[(0.0, 1e-300), (1.0, 1.0 - 2e-20), (2.0, 2e-20)])?;
        assert_eq!((law.cdf(0.5), law.sf(1.5)), (1e-300, 2e-20));
        assert_eq!((law.quantile(1e-300), law.quantile(2e-300)), (0.0, 1.0));
        assert_eq!(
            (law.quantile_upper(2e-20), law.quantile_upper(1.9e-20)),
            (1.0, 2.0)
        );
        assert_eq!((law.cdf(2.0), law.sf(2.0)), (1.0, 0.0));
        Ok(())
    }

    #[test]
    fn symmetry_is_seen() -> Result<(), Error> {
        let even = Distribution::discrete(&[(-1.0, 0.25), (0.5, 0.5), (2.0, 0.25)])?;
        assert_eq!(even.centre_of_symmetry(), Some(0.5));
        let odd = Distribution::discrete(&[(-1.0, 0.25), (0.5, 0.25), (2.0, 0.5)])?;
        assert_eq!(odd.centre_of_symmetry(), None);
        Ok(())
    }

    #[test]
    fn characteristic_function_of_a_coin_is_a_cosine() -> Result<(), Error> {
        let coin = Distribution::discrete(&[(-1.0, 0.5), (1.0, 0.5)])?;
        // cos 2, computed independently at 40 digits with mpmath.
        assert_eq!(
            coin.characteristic(2.0),
            Some((-0.416_146_836_547_142_4, 0.0))
        );
        Ok(())
    }

    #[test]
    fn draws_have_the_right_shares() -> Result<(), Error> {
        let law = Distribution::discrete(&[(0.0, 0.2), (1.0, 0.3), (2.0, 0.5)])?;
        let mut draws = vec![0.0; 20_000];
        law.fill(
            &mut kerfwise_numeric::stream::Stream::new(3, 1, 4),
            &mut draws,
        );
        for (value, share) in [(0.0, 0.2_f64), (1.0, 0.3), (2.0, 0.5)] {
            let found = draws.iter().filter(|draw| **draw == value).count() as f64 / 20_000.0;
            // Four standard errors of a share, at a fixed seed.
            assert!(
                (found - share).abs() < 4.0 * (share * (1.0 - share) / 20_000.0).sqrt(),
                "{value}: {found}"
            );
        }
        Ok(())
    }
}
