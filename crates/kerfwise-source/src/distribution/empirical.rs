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
        for reading in readings {
            check::finite(Empirical::NAME, "reading", *reading)?;
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
