use crate::{Distribution, Error, ErrorKind};
use kerfwise_numeric::sum::sum;

/// Type A evaluation (JCGM 100:2008, 4.2) of independent readings of one quantity, numbers in one raw unit.
///
/// ```text
/// mean = Σ xᵢ / n        s² = Σ (xᵢ − mean)² / (n − 1)        u(mean) = s / √n
/// ```
///
/// ```
/// use kerfwise_source::TypeA;
///
/// // Three readings of a mortise, in thou over 3/8 in.
/// let mortise = TypeA::from_readings(&[1.0, 2.0, 3.0])?;
/// assert_eq!(mortise.mean(), 2.0);
/// assert_eq!(mortise.standard_deviation(), 1.0);
/// assert_eq!(mortise.standard_uncertainty(), 1.0 / 3.0_f64.sqrt());
/// assert_eq!(mortise.degrees_of_freedom(), 2.0);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypeA {
    count: usize,
    mean: f64,
    standard_deviation: f64,
}

impl TypeA {
    /// From at least two finite readings.
    ///
    /// Counted from the middle of the readings, with compensated sums: readings that differ only in
    /// their last digits keep what digits of their spread they have, and none is too large or small.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`] for fewer than two readings, for one that is not a finite number
    /// (which one is said, counted from 1), and where the standard deviation is above the largest number.
    ///
    /// ```
    /// use kerfwise_source::TypeA;
    ///
    /// let error = TypeA::from_readings(&[0.3752]).unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "one reading only has no spread: take at least 2 readings, or state a limit"
    /// );
    /// ```
    pub fn from_readings(readings: &[f64]) -> Result<Self, Error> {
        let wrong = |what: String| Err(ErrorKind::Readings { what }.into());
        match readings {
            [] => {
                return wrong(
                    "there are no readings: take at least 2 readings, or state a limit".to_owned(),
                );
            }
            [_] => {
                return wrong(
                    "one reading only has no spread: take at least 2 readings, or state a limit"
                        .to_owned(),
                );
            }
            _ => {}
        }
        if let Some(index) = readings.iter().position(|reading| !reading.is_finite()) {
            let (number, count) = (index + 1, readings.len());
            let reading = readings[index];
            return wrong(format!(
                "reading {number} of {count} must be a finite number (got {reading})"
            ));
        }
        let n = readings.len() as f64;
        let least = readings.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let middle = 0.5 * least + 0.5 * greatest;
        // Above 0, so that equal readings divide 0 by a number.
        let half = (0.5 * greatest - 0.5 * least).max(f64::from_bits(1));
        let off = || readings.iter().map(|reading| (reading - middle) / half);
        let mean_off = sum(off()) / n;
        let squares = sum(off().map(|off| (off - mean_off) * (off - mean_off)));
        let mean = middle + half * mean_off;
        let standard_deviation = half * (squares / (n - 1.0)).sqrt();
        if !(mean.is_finite() && standard_deviation.is_finite()) {
            return wrong(format!(
                "the readings are too far apart for a spread (got {least:e} to {greatest:e}): use a larger unit"
            ));
        }
        Ok(Self {
            count: readings.len(),
            mean,
            standard_deviation,
        })
    }

    /// How many readings.
    #[must_use]
    pub fn count(&self) -> usize {
        self.count
    }

    /// Arithmetic mean (JCGM 100:2008, 4.2.1).
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Experimental standard deviation s of one reading (JCGM 100:2008, 4.2.2).
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.standard_deviation
    }

    /// Standard uncertainty of the mean, s/√n (JCGM 100:2008, 4.2.3).
    #[must_use]
    pub fn standard_uncertainty(&self) -> f64 {
        self.standard_deviation / (self.count as f64).sqrt()
    }

    /// Degrees of freedom of s, n − 1.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.count as f64 - 1.0
    }

    /// Error of the mean: Student t, scale s/√n, n − 1 degrees of freedom (JCGM 101:2008, 6.4.9).
    /// For readings that are all the same, a point.
    ///
    /// ```
    /// use kerfwise_source::{Distribution, TypeA};
    ///
    /// let readings = TypeA::from_readings(&[1.0, 3.0, 2.0, 2.0])?;
    /// let scale = readings.standard_uncertainty();
    /// assert_eq!(readings.error_of_mean(), Distribution::student_t(0.0, scale, 3.0)?);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn error_of_mean(&self) -> Distribution {
        self.student_t(self.standard_uncertainty())
    }

    /// Deviation of one further piece from its process mean: normal with standard deviation s.
    ///
    /// This takes s for the true spread, as the spread of pieces in a batch; what is not known about
    /// s and the mean is in [`TypeA::error_of_next`].
    ///
    /// ```
    /// use kerfwise_source::{Distribution, TypeA};
    ///
    /// let readings = TypeA::from_readings(&[1.0, 2.0, 3.0])?;
    /// assert_eq!(readings.spread(), Distribution::normal(0.0, 1.0)?);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn spread(&self) -> Distribution {
        checked(Distribution::normal(0.0, self.standard_deviation))
    }

    /// Deviation of one further piece from the mean of these: Student t, scale s·√(1 + 1/n),
    /// n − 1 degrees of freedom.
    ///
    /// ```
    /// use kerfwise_source::TypeA;
    ///
    /// let readings = TypeA::from_readings(&[1.0, 2.0, 3.0])?;
    /// // 95 % of further pieces lie within t · s · √(1 + 1/3); t of 2 degrees of freedom is 4.303.
    /// let reach = readings.error_of_next().quantile(0.975);
    /// assert!((reach - 4.303 * (4.0_f64 / 3.0).sqrt()).abs() < 0.001);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn error_of_next(&self) -> Distribution {
        let n = self.count as f64;
        self.student_t(self.standard_deviation * (1.0 + 1.0 / n).sqrt())
    }

    fn student_t(&self, scale: f64) -> Distribution {
        checked(Distribution::student_t(
            0.0,
            scale,
            self.degrees_of_freedom(),
        ))
    }
}

fn checked(distribution: Result<Distribution, Error>) -> Distribution {
    distribution.expect("s was checked to be finite and not below 0, and n to be at least 2")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[track_caller]
    fn assert_near(value: f64, expected: f64, relative: f64) {
        assert!(
            ((value - expected) / expected).abs() < relative,
            "{value} instead of {expected}"
        );
    }

    // JCGM 100:2008, 4.4.3, table 1: twenty readings of a temperature in degrees Celsius, with mean
    // 100.145, s = 1.489 and s/√20 = 0.333; here recomputed from the table to more digits.
    #[test]
    fn gum_4_4_3_table_1() {
        let readings = [
            96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
            100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
        ];
        let temperature = TypeA::from_readings(&readings).unwrap();
        // Because the twenty readings are themselves rounded to binary, 1e-14 of their size.
        assert_near(temperature.mean(), 100.145, 1e-14);
        assert_near(
            temperature.standard_deviation(),
            1.488_844_483_059_543_5,
            1e-13,
        );
        assert_near(
            temperature.standard_uncertainty(),
            0.332_915_747_204_667_3,
            1e-13,
        );
        assert_eq!(temperature.count(), 20);
        assert_near(temperature.degrees_of_freedom(), 19.0, 1e-15);
    }

    // NIST Statistical Reference Datasets, univariate, NumAcc4 (from memory): 10000000.2, then
    // 10000000.1 and 10000000.3 five hundred times; mean 10000000.2, s = 0.1 exactly.
    #[test]
    fn nist_numacc4_keeps_its_spread() {
        let mut readings = vec![10_000_000.2];
        for _ in 0..500 {
            readings.extend([10_000_000.1, 10_000_000.3]);
        }
        let evaluated = TypeA::from_readings(&readings).unwrap();
        assert_near(evaluated.mean(), 10_000_000.2, 1e-15);
        // Because the readings are only good to 9e-10 in binary, which is 1e-8 of the spread.
        assert_near(evaluated.standard_deviation(), 0.1, 1e-8);
    }

    #[test]
    fn equal_readings_have_no_spread() {
        let evaluated = TypeA::from_readings(&[0.1; 7]).unwrap();
        assert_eq!(evaluated.standard_uncertainty().to_bits(), 0);
        assert_eq!(evaluated.error_of_mean(), Distribution::point(0.0).unwrap());
    }

    #[test]
    fn faults_are_named() {
        let message = |readings: &[f64]| TypeA::from_readings(readings).unwrap_err().to_string();
        assert_eq!(
            message(&[]),
            "there are no readings: take at least 2 readings, or state a limit"
        );
        assert_eq!(
            message(&[0.3752]),
            "one reading only has no spread: take at least 2 readings, or state a limit"
        );
        assert_eq!(
            message(&[1.0, f64::NAN, f64::INFINITY]),
            "reading 2 of 3 must be a finite number (got NaN)"
        );
        assert_eq!(
            message(&[f64::MAX, -f64::MAX]),
            "the readings are too far apart for a spread (got -1.7976931348623157e308 to 1.7976931348623157e308): use a larger unit"
        );
    }

    #[test]
    fn readings_of_any_size_have_a_spread() {
        // By hand: three readings a step apart have the standard deviation of one step.
        for step in [1e-309, 1e-200, 1.0, 1e200, 8e307] {
            let evaluated = TypeA::from_readings(&[-step, 0.0, step]).unwrap();
            assert_near(evaluated.standard_deviation(), step, 1e-13);
            assert_eq!(evaluated.mean().abs().to_bits(), 0);
        }
    }

    proptest! {
        // Because moving or scaling rounds every reading, 1e-12 of the largest of them.
        #[test]
        fn moving_and_scaling_the_readings_does_the_same_to_the_result(
            readings in prop::collection::vec(-1.0_f64..1.0, 2..20),
            shift in -10.0_f64..10.0,
            factor in -10.0_f64..10.0,
        ) {
            let before = TypeA::from_readings(&readings).unwrap();
            let moved: Vec<f64> = readings.iter().map(|x| factor * x + shift).collect();
            let after = TypeA::from_readings(&moved).unwrap();
            prop_assert!((after.mean() - (factor * before.mean() + shift)).abs() < 2e-11);
            let wanted = factor.abs() * before.standard_deviation();
            prop_assert!((after.standard_deviation() - wanted).abs() < 2e-11);
        }

        #[test]
        fn any_finite_readings_give_finite_results_or_an_error(
            readings in prop::collection::vec(prop::num::f64::ANY, 0..8),
        ) {
            if let Ok(evaluated) = TypeA::from_readings(&readings) {
                prop_assert!(evaluated.mean().is_finite());
                prop_assert!(evaluated.standard_uncertainty().is_finite());
            }
        }
    }
}
