use super::law::Law;
use super::{Distribution, atoms, check};
use crate::Error;

/// Each reading equally likely.
#[derive(Debug, Clone, PartialEq)]
pub struct Empirical {
    readings: Vec<f64>,
    mean: f64,
    sd: f64,
}

impl Empirical {
    /// The readings, ascending; at least two, not all equal.
    #[inline]
    #[must_use]
    pub fn readings(&self) -> &[f64] {
        &self.readings
    }

    fn atoms(&self) -> impl DoubleEndedIterator<Item = (f64, f64)> + ExactSizeIterator + Clone {
        let weight = 1.0 / self.count();
        self.readings.iter().map(move |reading| (*reading, weight))
    }

    fn count(&self) -> f64 {
        self.readings.len() as f64
    }

    /// The reading that has `below` others below it in the list.
    fn reading(&self, below: f64) -> f64 {
        self.readings[(below.max(0.0) as usize).min(self.readings.len() - 1)]
    }
}

impl Distribution {
    /// Each reading equally likely: resampling from what was measured.
    ///
    /// The variance is that of the law, with the number of readings n as divisor. What the readings say about a
    /// larger lot is a type A evaluation (JCGM 100:2008, 4.2), with n - 1.
    ///
    /// # Errors
    /// When there is no reading, or one is not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let widths = Distribution::empirical(&[0.374, 0.376, 0.375, 0.375])?;
    /// assert_eq!(widths.cdf(0.375), 0.75);
    /// assert_eq!(widths.quantile(0.25), 0.374);
    /// assert!((widths.variance().unwrap() - 0.5e-6).abs() < 1e-18);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn empirical(readings: &[f64]) -> Result<Self, Error> {
        if let Some(index) = readings.iter().position(|reading| !reading.is_finite()) {
            let name = format!("reading {}", index + 1);
            check::finite(Empirical::NAME, &name, readings[index])?;
        }
        let mut readings = readings.to_vec();
        readings.sort_by(f64::total_cmp);
        let (Some(&least), Some(&greatest)) = (readings.first(), readings.last()) else {
            return Err(check::bad(
                Empirical::NAME,
                "there must be at least one reading (got none)",
            ));
        };
        if least == greatest {
            return Self::point(least);
        }
        let mut law = Empirical {
            readings,
            mean: 0.0,
            sd: 0.0,
        };
        (law.mean, law.sd) = atoms::moments(law.atoms(), least, greatest);
        Ok(Self::Empirical(law))
    }
}

impl Law for Empirical {
    const NAME: &'static str = "empirical";

    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn support(&self) -> (f64, f64) {
        (self.readings[0], self.readings[self.readings.len() - 1])
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        let (least, greatest) = self.support();
        atoms::centre_of_symmetry(self.atoms(), least, greatest)
    }

    fn pdf(&self, _x: f64) -> Option<f64> {
        None
    }

    fn cdf(&self, x: f64) -> f64 {
        let up_to = self.readings.partition_point(|reading| *reading <= x);
        up_to as f64 / self.count()
    }

    fn sf(&self, x: f64) -> f64 {
        let up_to = self.readings.partition_point(|reading| *reading <= x);
        (self.readings.len() - up_to) as f64 / self.count()
    }

    fn quantile(&self, p: f64) -> f64 {
        let n = self.count();
        // The least rank with rank/n >= p; p·n may be rounded past a whole number either way.
        let mut rank = (p * n).ceil();
        while rank > 1.0 && (rank - 1.0) / n >= p {
            rank -= 1.0;
        }
        while rank < n && rank / n < p {
            rank += 1.0;
        }
        self.reading(rank - 1.0)
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let n = self.count();
        // The greatest number of readings above with number/n <= q.
        let mut above = (q * n).floor();
        while above > 0.0 && above / n > q {
            above -= 1.0;
        }
        while above + 1.0 < n && (above + 1.0) / n <= q {
            above += 1.0;
        }
        self.reading(n - 1.0 - above)
    }

    fn draws(&self, column: &mut [f64]) {
        // Each reading for its share of the uniform numbers.
        let (n, last) = (self.count(), self.readings.len() - 1);
        for u in column {
            *u = self.readings[((*u * n) as usize).min(last)];
        }
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        Some(atoms::characteristic(self.atoms(), t))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let readings: Vec<_> = self
            .readings
            .iter()
            .map(|reading| factor * reading + shift)
            .collect();
        Distribution::empirical(&readings)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    #[test]
    fn ranks_survive_the_rounding_of_p_times_n() -> Result<(), Error> {
        let readings: Vec<f64> = (1..=49).map(f64::from).collect();
        let law = Distribution::empirical(&readings)?;
        for rank in 1..=48 {
            let rank = f64::from(rank);
            // P(X <= rank) = rank/49 exactly as the cdf tells it, so no later reading may be given.
            assert_eq!(law.quantile(rank / 49.0), rank);
            assert_eq!(law.quantile_upper(rank / 49.0), 49.0 - rank);
            assert_eq!(law.cdf(rank), rank / 49.0);
            assert_eq!(law.sf(rank), (49.0 - rank) / 49.0);
        }
        assert_eq!(
            (law.quantile(1e-300), law.quantile_upper(1e-300)),
            (1.0, 49.0)
        );
        Ok(())
    }

    #[test]
    fn twenty_readings_of_a_temperature() -> Result<(), Error> {
        // JCGM 100:2008, 4.4.3, table 1: mean 100.145, s = 1.489 with divisor 19.
        let readings = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
            100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
        ];
        let law = Distribution::empirical(&readings)?;
        assert!(law.mean().is_some_and(|mean| (mean - 100.145).abs() < 5e-4));
        let s = law
            .standard_deviation()
            .map(|sd| sd * (20.0_f64 / 19.0).sqrt());
        assert!(s.is_some_and(|s| (s - 1.489).abs() < 5e-4));
        Ok(())
    }

    #[test]
    fn huge_and_close_readings() -> Result<(), Error> {
        reference::moments(
            &Distribution::empirical(&[-1.5e308, 1.5e308])?,
            Some(0.0),
            Some(1.5e308),
        );
        // By hand: two readings a and a + 2d have standard deviation d.
        let close = Distribution::empirical(&[1e9, 1e9 + 0.25])?;
        reference::moments(&close, Some(1e9 + 0.125), Some(0.125));
        assert_eq!(close.centre_of_symmetry(), Some(1e9 + 0.125));
        Ok(())
    }
}
