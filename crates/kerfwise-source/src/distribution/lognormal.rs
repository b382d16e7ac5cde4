use super::law::Law;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Lognormal law above (or, reflected, below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lognormal {
    origin: f64,
    log_mean: f64,
    log_sd: f64,
    reflected: bool,
}

impl Lognormal {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of the logarithm of the distance from the origin.
    #[inline]
    #[must_use]
    pub fn log_mean(&self) -> f64 {
        self.log_mean
    }

    /// Standard deviation of that logarithm, above 0.
    #[inline]
    #[must_use]
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// Whether the law lies below the origin, as the mirror image of the usual one.
    #[inline]
    #[must_use]
    pub fn is_reflected(&self) -> bool {
        self.reflected
    }

    /// Sign of the distance from the origin.
    fn side(&self) -> f64 {
        if self.reflected { -1.0 } else { 1.0 }
    }

    /// Logarithm of the distance from the origin, in standard units.
    fn score(&self, x: f64) -> f64 {
        (float::ln(self.side() * (x - self.origin)) - self.log_mean) / self.log_sd
    }

    fn at_score(&self, z: f64) -> f64 {
        self.origin + self.side() * float::exp(self.log_mean + self.log_sd * z)
    }

    fn checked(
        origin: f64,
        log_mean: f64,
        log_sd: f64,
        reflected: bool,
    ) -> Result<Distribution, Error> {
        let origin = check::finite(Self::NAME, "origin", origin)?;
        let log_mean = check::finite(Self::NAME, "mean of the logarithm", log_mean)?;
        let log_sd = check::spread(Self::NAME, "standard deviation of the logarithm", log_sd)?;
        // No draw lies more than 8.3 standard deviations out, and e^709 is the largest number there is.
        let farthest = log_mean + 9.0 * log_sd;
        if farthest > 709.0 {
            return Err(check::bad(
                Self::NAME,
                format_args!(
                    "mean of the logarithm plus 9 standard deviations of it must not be above 709 (got {farthest}); both are natural logarithms, so a length of 1 has the logarithm 0"
                ),
            ));
        }
        let law = Self {
            origin,
            log_mean,
            log_sd,
            reflected,
        };
        if log_sd == 0.0 {
            return Distribution::point(law.at_score(0.0));
        }
        Ok(Distribution::Lognormal(law))
    }
}

impl Distribution {
    /// Lognormal: `origin` + exp(Y), where Y is normal with mean `log_mean` and standard deviation `log_sd`.
    ///
    /// ```text
    /// mean = origin + exp(log_mean + log_sd²/2)
    /// variance = (exp(log_sd²) - 1) exp(2 log_mean + log_sd²)
    /// ```
    ///
    /// It has no characteristic function in closed form.
    ///
    /// # Errors
    /// When an argument is not finite, `log_sd` is negative, or `log_mean + 9 log_sd` is above 709, where draws
    /// would overflow.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let gap = Distribution::lognormal(0.0, (0.002_f64).ln(), 0.5)?;
    /// assert!((gap.quantile(0.5) - 0.002).abs() < 1e-17);
    /// assert!((gap.mean().unwrap() - 0.002 * (0.125_f64).exp()).abs() < 1e-17);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn lognormal(origin: f64, log_mean: f64, log_sd: f64) -> Result<Self, Error> {
        Lognormal::checked(origin, log_mean, log_sd, false)
    }
}

impl Law for Lognormal {
    const NAME: &'static str = "lognormal";

    fn mean(&self) -> Option<f64> {
        let excess = float::exp(self.log_mean + 0.5 * self.log_sd * self.log_sd);
        Some(self.origin + self.side() * excess)
    }

    fn standard_deviation(&self) -> Option<f64> {
        let square = self.log_sd * self.log_sd;
        Some(float::exp(self.log_mean + square) * (-float::exp_m1(-square)).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        if self.reflected {
            (f64::NEG_INFINITY, self.origin)
        } else {
            (self.origin, f64::INFINITY)
        }
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let distance = self.side() * (x - self.origin);
        Some(if distance > 0.0 {
            special::normal_pdf(self.score(x)) / self.log_sd / distance
        } else {
            0.0
        })
    }

    fn cdf(&self, x: f64) -> f64 {
        special::normal_cdf(self.side() * self.score(x))
    }

    fn sf(&self, x: f64) -> f64 {
        special::normal_sf(self.side() * self.score(x))
    }

    fn quantile(&self, p: f64) -> f64 {
        self.at_score(self.side() * special::normal_quantile(p))
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        self.at_score(self.side() * special::normal_quantile_upper(q))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Self::checked(
            factor * self.origin + shift,
            self.log_mean + float::ln(factor.abs()),
            self.log_sd,
            self.reflected != (factor < 0.0),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn standard() -> Result<(), Error> {
        let law = Distribution::lognormal(0.0, 0.0, 1.0)?;
        reference::moments(
            &law,
            Some(1.648_721_270_700_128_2),
            Some(2.161_197_415_895_087_7),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-16,
                    7.413_412_442_055_41e-280,
                    2.010_773_281_017_838_7e-297,
                    1.0,
                ),
                (
                    1.0e-5,
                    6.585_615_992_616_802e-25,
                    5.677_979_296_841_01e-31,
                    1.0,
                ),
                (
                    0.5,
                    0.627_496_077_115_924_4,
                    0.244_108_595_785_582_72,
                    0.755_891_404_214_417_3,
                ),
                (1.0, 0.398_942_280_401_432_7, 0.5, 0.5),
                (
                    4.0,
                    0.038_153_456_511_886_445,
                    0.917_171_480_998_301_5,
                    0.082_828_519_001_698_49,
                ),
                (
                    1_000_000.0,
                    1.426_850_237_701_254_3e-48,
                    1.0,
                    1.027_460_539_020_422_1e-43,
                ),
                (
                    1_000_000_000_000_000.0,
                    3.631_508_825_875_205_5e-275,
                    1.0,
                    1.050_550_317_105_161_8e-261,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    8.140_489_241_100_185e-17,
                    1.228_427_395_924_977_8e16,
                ),
                (1.0e-20, 9.493_291_347_224_349e-5, 10_533.754_452_741_832),
                (0.01, 0.097_651_733_070_335_96, 10.240_473_656_312_135),
                (0.3, 0.591_910_100_609_554_2, 1.689_445_743_484_004_4),
            ],
        );
        Ok(())
    }

    #[test]
    fn narrow() -> Result<(), Error> {
        // Wider than 4e-15, because the logarithm, -6, is told to 1e-15 and divided by 0.125.
        let law = Distribution::lognormal(0.0, -6.0, 0.125)?;
        reference::moments(
            &law,
            Some(0.002_498_193_270_938_647),
            Some(0.000_313_497_959_894_144_57),
        );
        reference::chances(
            &law,
            2e-14,
            &[
                (
                    0.000_5,
                    1.539_858_493_481_979_4e-32,
                    7.469_601_412_990_188e-38,
                    1.0,
                ),
                (
                    0.002,
                    365.511_871_135_358_04,
                    0.043_001_940_015_165_41,
                    0.956_998_059_984_834_6,
                ),
                (
                    0.002_5,
                    1_273.642_556_652_406_7,
                    0.527_220_069_728_711_8,
                    0.472_779_930_271_288_23,
                ),
                (
                    0.003,
                    331.623_821_290_975,
                    0.936_601_598_230_687_7,
                    0.063_398_401_769_312_3,
                ),
                (
                    0.05,
                    2.355_611_853_221_105_4e-124,
                    1.0,
                    6.115_141_526_097_936e-128,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    2.415_819_163_073_798_6e-5,
                    0.254_332_461_934_383_47,
                ),
                (
                    1.0e-20,
                    0.000_778_771_787_111_458_4,
                    0.007_889_618_569_924_96,
                ),
                (
                    0.01,
                    0.001_853_288_807_780_708_2,
                    0.003_315_302_141_540_385_8,
                ),
                (0.3, 0.002_321_480_700_094_488_4, 0.002_646_678_196_841_408),
            ],
        );
        Ok(())
    }

    #[test]
    fn mirrored() -> Result<(), Error> {
        let law = Distribution::lognormal(0.0, 0.0, 1.0)?.affine(-1.0, 0.0)?;
        reference::moments(
            &law,
            Some(-1.648_721_270_700_128_2),
            Some(2.161_197_415_895_087_7),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -1_000_000_000_000_000.0,
                    3.631_508_825_875_205_5e-275,
                    1.050_550_317_105_161_8e-261,
                    1.0,
                ),
                (
                    -4.0,
                    0.038_153_456_511_886_445,
                    0.082_828_519_001_698_49,
                    0.917_171_480_998_301_5,
                ),
                (
                    -0.5,
                    0.627_496_077_115_924_4,
                    0.755_891_404_214_417_3,
                    0.244_108_595_785_582_72,
                ),
                (
                    -1.0e-5,
                    6.585_615_992_616_802e-25,
                    1.0,
                    5.677_979_296_841_01e-31,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    -1.228_427_395_924_977_8e16,
                    -8.140_489_241_100_185e-17,
                ),
                (1.0e-20, -10_533.754_452_741_832, -9.493_291_347_224_349e-5),
                (0.01, -10.240_473_656_312_135, -0.097_651_733_070_335_96),
                (0.3, -1.689_445_743_484_004_4, -0.591_910_100_609_554_2),
            ],
        );
        Ok(())
    }
    // End of reference values
}
