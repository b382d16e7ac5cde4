use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;

/// One value, no spread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    value: f64,
}

impl Point {
    /// The value.
    #[inline]
    #[must_use]
    pub fn value(&self) -> f64 {
        self.value
    }
}

impl Distribution {
    /// Known exactly: the value, every time.
    ///
    /// Every other constructor gives this law when its spread is 0.
    ///
    /// # Errors
    /// When the value is not a finite number.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let known = Distribution::point(0.375)?;
    /// assert_eq!(known.quantile(0.2), 0.375);
    /// assert_eq!(known.variance(), Some(0.0));
    /// assert_eq!(known, Distribution::normal(0.375, 0.0)?);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn point(value: f64) -> Result<Self, Error> {
        let value = check::finite(Point::NAME, "value", value)?;
        Ok(Self::Point(Point { value }))
    }
}

impl Law for Point {
    const NAME: &'static str = "point";

    fn mean(&self) -> Option<f64> {
        Some(self.value)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(0.0)
    }

    fn support(&self) -> (f64, f64) {
        (self.value, self.value)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.value)
    }

    fn pdf(&self, _x: f64) -> Option<f64> {
        None
    }

    fn cdf(&self, _x: f64) -> f64 {
        1.0
    }

    fn sf(&self, _x: f64) -> f64 {
        0.0
    }

    fn quantile(&self, _p: f64) -> f64 {
        self.value
    }

    fn quantile_upper(&self, _q: f64) -> f64 {
        self.value
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        Some(turned(t * self.value, (1.0, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::point(factor * self.value + shift)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Distribution;
    use crate::Error;

    #[test]
    fn every_law_without_spread_is_a_point() -> Result<(), Error> {
        let point = Distribution::point(2.0)?;
        for law in [
            Distribution::normal(2.0, 0.0)?,
            Distribution::rectangular(2.0, 2.0)?,
            Distribution::triangular(2.0, 2.0, 2.0)?,
            Distribution::trapezoidal(2.0, 2.0, 0.5)?,
            Distribution::curvilinear_trapezoid(2.0, 2.0, 0.0)?,
            Distribution::arcsine(2.0, 2.0)?,
            Distribution::student_t(2.0, 0.0, 3.0)?,
            Distribution::exponential(2.0, 0.0)?,
            Distribution::lognormal(1.0, 0.0, 0.0)?,
            Distribution::beta(2.0, 2.0, 3.0, 4.0)?,
            Distribution::truncated_normal(2.0, 0.0, 1.0, f64::INFINITY)?,
            Distribution::truncated_normal(0.0, 1.0, 2.0, 2.0)?,
            Distribution::two_piece_normal(2.0, 0.0, 0.0)?,
            Distribution::discrete(&[(2.0, 0.25), (2.0, 0.75), (3.0, 0.0)])?,
            Distribution::empirical(&[2.0, 2.0, 2.0])?,
            Distribution::mixture(vec![(0.5, point.clone()), (0.5, point.clone())])?,
        ] {
            assert_eq!(law, point);
        }
        Ok(())
    }

    #[test]
    fn a_point_is_all_there() -> Result<(), Error> {
        let law = Distribution::point(2.0)?;
        assert_eq!((law.cdf(2.0), law.cdf(2.0_f64.next_down())), (1.0, 0.0));
        assert_eq!((law.sf(2.0), law.sf(2.0_f64.next_down())), (0.0, 1.0));
        assert_eq!((law.quantile(0.0), law.quantile_upper(0.3)), (2.0, 2.0));
        assert_eq!((law.mean(), law.variance()), (Some(2.0), Some(0.0)));
        assert_eq!(law.words_per_draw(), 0);
        // e^{2i}, by the definition of the characteristic function.
        let (re, im) = law.characteristic(1.0).unwrap_or_default();
        assert!(
            (re + 0.416_146_836_547_142_4).abs() < 1e-16
                && (im - 0.909_297_426_825_681_7).abs() < 1e-16
        );
        Ok(())
    }
}
