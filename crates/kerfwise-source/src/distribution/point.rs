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
