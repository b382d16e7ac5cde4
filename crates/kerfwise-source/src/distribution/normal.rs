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

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn mean_1_sd_2() -> Result<(), Error> {
        let law = Distribution::normal(1.0, 2.0)?;
        reference::moments(&law, Some(1.0), Some(2.0));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -73.0,
                    1.060_003_275_762_302_8e-298,
                    5.725_571_222_524_577e-300,
                    1.0,
                ),
                (
                    -19.0,
                    3.847_299_313_353_209_4e-23,
                    7.619_853_024_160_525e-24,
                    1.0,
                ),
                (
                    -3.0,
                    0.026_995_483_256_594_024,
                    0.022_750_131_948_179_21,
                    0.977_249_868_051_820_8,
                ),
                (
                    0.5,
                    0.193_334_058_401_424_6,
                    0.401_293_674_317_076_3,
                    0.598_706_325_682_923_7,
                ),
                (
                    3.0,
                    0.120_985_362_259_571_67,
                    0.841_344_746_068_542_9,
                    0.158_655_253_931_457_05,
                ),
                (
                    21.0,
                    3.847_299_313_353_209_4e-23,
                    1.0,
                    7.619_853_024_160_525e-24,
                ),
                (
                    75.0,
                    1.060_003_275_762_302_8e-298,
                    1.0,
                    5.725_571_222_524_577e-300,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -73.094_192_598_722_4, 75.094_192_598_722_4),
                (1.0e-20, -17.524_680_179_596_814, 19.524_680_179_596_814),
                (0.01, -3.652_695_748_081_682_4, 5.652_695_748_081_682),
                (0.3, -0.048_801_025_416_081_63, 2.048_801_025_416_082),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-8, 0.999_999_999_999_999_8, 9.999_999_999_999_999e-9),
                (0.25, 0.855_062_211_035_383_3, 0.218_333_227_729_281_93),
                (1.5, 0.000_785_819_328_451_459_5, 0.011_081_168_353_098_497),
                (4.0, -8.277_851_024_726_13e-15, -9.584_272_088_547_172e-15),
            ],
        );
        Ok(())
    }
    // End of reference values
}
