use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{columns, float, special};

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

    const STAYS_INSIDE: bool = true;

    fn draws(&self, column: &mut [f64]) {
        columns::normal_quantiles(column);
        columns::scale_and_shift_finite(column, self.sd, self.mean);
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let z = self.sd * t;
        Some(turned(self.mean * t, (float::exp(-0.5 * z * z), 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::normal(factor * self.mean + shift, factor.abs() * self.sd)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn mean_1_sd_2() -> Result<(), Error> {
        let law = Distribution::normal(1.0, 2.0)?;
        reference::moments(&law, Some(1.0), Some(2.0));
        reference::chances(&law, 4e-15, &[
            (-73.0, 1.0600032757623028e-298, 5.725571222524577e-300, 1.0),
            (-19.0, 3.8472993133532094e-23, 7.619853024160525e-24, 1.0),
            (-3.0, 0.026995483256594024, 0.02275013194817921, 0.9772498680518208),
            (0.5, 0.1933340584014246, 0.4012936743170763, 0.5987063256829237),
            (3.0, 0.12098536225957167, 0.8413447460685429, 0.15865525393145705),
            (21.0, 3.8472993133532094e-23, 1.0, 7.619853024160525e-24),
            (75.0, 1.0600032757623028e-298, 1.0, 5.725571222524577e-300),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -73.0941925987224, 75.0941925987224),
            (1.0e-20, -17.524680179596814, 19.524680179596814),
            (0.01, -3.6526957480816824, 5.652695748081682),
            (0.3, -0.04880102541608163, 2.048801025416082),
        ]);
        reference::characteristic(&law, &[
            (1.0e-8, 0.9999999999999998, 9.999999999999999e-9),
            (0.25, 0.8550622110353833, 0.21833322772928193),
            (1.5, 0.0007858193284514595, 0.011081168353098497),
            (4.0, -8.27785102472613e-15, -9.584272088547172e-15),
        ]);
        Ok(())
    }
}
