use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Normal (Gaussian) law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    mean: f64,
    sd: f64,
}

impl Normal {
    /// Mean.
    #[inline]
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Standard deviation, above 0.
    #[inline]
    #[must_use]
    pub fn sd(&self) -> f64 {
        self.sd
    }
}

impl Distribution {
    /// Normal with this mean and standard deviation (JCGM 101:2008, 6.4.7).
    ///
    /// ```text
    /// pdf(x) = exp(-((x - mean)/sd)²/2) / (sd √(2π))
    /// ```
    ///
    /// # Errors
    /// When the mean is not finite, or the standard deviation is negative or not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let kerf = Distribution::normal(0.125, 0.001)?;
    /// // 95 % lie within 1.96 standard deviations.
    /// assert!((kerf.quantile(0.975) - 0.126_959_963_984_54).abs() < 1e-14);
    /// assert!((kerf.sf(0.131) / 9.865_876_450_376_98e-10 - 1.0).abs() < 1e-12);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn normal(mean: f64, sd: f64) -> Result<Self, Error> {
        let mean = check::finite(Normal::NAME, "mean", mean)?;
        let sd = check::spread(Normal::NAME, "standard deviation", sd)?;
        if sd == 0.0 {
            return Self::point(mean);
        }
        Ok(Self::Normal(Normal { mean, sd }))
    }
}

impl Law for Normal {
    const NAME: &'static str = "normal";

    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(special::normal_pdf((x - self.mean) / self.sd) / self.sd)
    }

    fn cdf(&self, x: f64) -> f64 {
        special::normal_cdf((x - self.mean) / self.sd)
    }

    fn sf(&self, x: f64) -> f64 {
        special::normal_sf((x - self.mean) / self.sd)
    }

    fn quantile(&self, p: f64) -> f64 {
        self.mean + self.sd * special::normal_quantile(p)
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        self.mean + self.sd * special::normal_quantile_upper(q)
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let z = self.sd * t;
        Some(turned(self.mean * t, (float::exp(-0.5 * z * z), 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::normal(factor * self.mean + shift, factor.abs() * self.sd)
    }
}
