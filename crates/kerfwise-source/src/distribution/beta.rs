use super::law::Law;
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};

/// Beta law stretched over an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    lower: f64,
    upper: f64,
    a: f64,
    b: f64,
}

impl Beta {
    /// Lower end.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// Shape at the lower end, from 0.001 to 1 000 000.
    #[inline]
    #[must_use]
    pub fn a(&self) -> f64 {
        self.a
    }

    /// Shape at the upper end, from 0.001 to 1 000 000.
    #[inline]
    #[must_use]
    pub fn b(&self) -> f64 {
        self.b
    }

    fn width(&self) -> f64 {
        self.upper - self.lower
    }

    /// Distances from the two ends as shares of the width.
    fn shares(&self, x: f64) -> (f64, f64) {
        (
            ((x - self.lower) / self.width()).clamp(0.0, 1.0),
            ((self.upper - x) / self.width()).clamp(0.0, 1.0),
        )
    }

    /// Chances below and above x, told from the nearer end.
    fn tails(&self, x: f64) -> (f64, f64) {
        let (from_lower, from_upper) = self.shares(x);
        if from_lower <= 0.5 {
            special::beta_inc(from_lower, self.a, self.b)
        } else {
            let (above, below) = special::beta_inc(from_upper, self.b, self.a);
            (below, above)
        }
    }

    fn up_from_lower(&self, p: f64) -> f64 {
        self.lower + self.width() * special::beta_quantile(p, self.a, self.b)
    }

    fn down_from_upper(&self, q: f64) -> f64 {
        self.upper - self.width() * special::beta_quantile(q, self.b, self.a)
    }
}

impl Distribution {
    /// Beta with shapes `a`, `b` stretched over an interval.
    ///
    /// ```text
    /// pdf(x) = y^(a-1) (1-y)^(b-1) / (B(a,b) (upper - lower)),    y = (x - lower)/(upper - lower)
    /// mean = lower + (upper - lower) a/(a + b)
    /// variance = (upper - lower)² ab/((a + b)²(a + b + 1))
    /// ```
    ///
    /// With a shape below 1 the density is infinite at that end. Shapes 1, 1 give the rectangular law, 1/2, 1/2
    /// the arcsine law. The characteristic function is not offered. The density loses a few digits when the shapes
    /// are large (relative 1e-10 at a million); chances and quantiles do not pass through it.
    ///
    /// # Errors
    /// When an end is not finite, the lower one is above the upper one, or a shape is outside 0.001 to 1 000 000.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let moisture = Distribution::beta(6.0, 12.0, 2.0, 3.0)?;
    /// assert!((moisture.mean().unwrap() - 8.4).abs() < 1e-14);
    /// // P(y <= 1/2) = 11/16 for shapes 2 and 3.
    /// assert!((moisture.cdf(9.0) - 0.6875).abs() < 1e-14);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn beta(lower: f64, upper: f64, a: f64, b: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Beta::NAME, lower, upper)?;
        let a = check::between(Beta::NAME, "shape a", a, 1e-3, 1e6)?;
        let b = check::between(Beta::NAME, "shape b", b, 1e-3, 1e6)?;
        if lower == upper {
            return Self::point(lower);
        }
        if a == 1.0 && b == 1.0 {
            return Self::rectangular(lower, upper);
        }
        if a == 0.5 && b == 0.5 {
            return Self::arcsine(lower, upper);
        }
        Ok(Self::Beta(Beta { lower, upper, a, b }))
    }
}

/// (shape - 1) ln(share), where a shape of 1 leaves no trace of the end.
fn log_power(share: f64, shape: f64) -> f64 {
    if shape == 1.0 {
        0.0
    } else {
        (shape - 1.0) * float::ln(share)
    }
}

impl Law for Beta {
    const NAME: &'static str = "beta";

    fn mean(&self) -> Option<f64> {
        let total = self.a + self.b;
        Some(if self.a <= self.b {
            self.lower + self.width() * (self.a / total)
        } else {
            self.upper - self.width() * (self.b / total)
        })
    }

    fn standard_deviation(&self) -> Option<f64> {
        let total = self.a + self.b;
        let square = (self.a / total) * (self.b / total) / (total + 1.0);
        Some(self.width() * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        (self.a == self.b).then(|| super::law::middle(self.lower, self.upper))
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let (from_lower, from_upper) = self.shares(x);
        let log = log_power(from_lower, self.a) + log_power(from_upper, self.b)
            - special::ln_beta(self.a, self.b);
        Some(float::exp(log) / self.width())
    }

    fn cdf(&self, x: f64) -> f64 {
        self.tails(x).0
    }

    fn sf(&self, x: f64) -> f64 {
        self.tails(x).1
    }

    fn quantile(&self, p: f64) -> f64 {
        if p <= 0.5 {
            self.up_from_lower(p)
        } else {
            self.down_from_upper(1.0 - p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        if q <= 0.5 {
            self.down_from_upper(q)
        } else {
            self.up_from_lower(1.0 - q)
        }
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (one, other) = (factor * self.lower + shift, factor * self.upper + shift);
        if factor > 0.0 {
            Distribution::beta(one, other, self.a, self.b)
        } else {
            Distribution::beta(other, one, self.b, self.a)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn shapes_2_and_3() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -323.
        let law = Distribution::beta(0.0, 1.0, 2.0, 3.0)?;
        reference::moments(&law, Some(0.4), Some(0.2));
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-140, 1.199_999_999_999_999_9e-139, 6.0e-280, 1.0),
                (
                    1.0e-9,
                    1.199_999_997_600_000_1e-8,
                    5.999_999_992_000_001e-18,
                    1.0,
                ),
                (
                    0.2,
                    1.536,
                    0.180_800_000_000_000_02,
                    0.819_199_999_999_999_9,
                ),
                (0.5, 1.5, 0.687_5, 0.312_5),
                (
                    0.9,
                    0.107_999_999_999_999_96,
                    0.996_3,
                    0.003_699_999_999_999_997_6,
                ),
                (
                    0.999_999_999_068_677_4,
                    1.040_834_084_616_732e-17,
                    1.0,
                    3.231_174_265_528_315_2e-27,
                ),
            ],
        );
        reference::quantiles(
            &law,
            1e-13,
            &[
                (1.0e-280, 4.082_482_904_638_63e-141, 1.0),
                (1.0e-20, 4.082_482_904_749_741e-11, 0.999_999_864_279_114_6),
                (0.01, 0.041_998_635_621_700_71, 0.859_132_457_305_454_1),
                (0.3, 0.272_383_942_075_105_36, 0.508_404_754_872_584_4),
            ],
        );
        Ok(())
    }

    #[test]
    fn infinite_density_at_the_lower_end() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -645.
        let law = Distribution::beta(0.0, 1.0, 0.5, 3.0)?;
        reference::moments(
            &law,
            Some(0.142_857_142_857_142_85),
            Some(0.164_957_219_768_464_5),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-300, 9.375e149, 1.875e-150, 1.0),
                (
                    1.0e-9,
                    29_646.353_004_785_848,
                    5.929_270_608_862_864e-5,
                    0.999_940_707_293_911_4,
                ),
                (
                    0.2,
                    1.341_640_786_499_873_8,
                    0.733_430_296_619_931_1,
                    0.266_569_703_380_068_97,
                ),
                (
                    0.5,
                    0.331_456_303_681_194_16,
                    0.950_174_737_219_423_2,
                    0.049_825_262_780_576_765,
                ),
                (
                    0.9,
                    0.009_882_117_688_026_18,
                    0.999_675_025_320_728_9,
                    0.000_324_974_679_271_083_46,
                ),
                (
                    0.999_999_999_068_677_4,
                    8.131_516_297_427_816e-19,
                    1.0,
                    2.524_354_897_588_858_5e-28,
                ),
            ],
        );
        reference::quantiles(
            &law,
            1e-13,
            &[
                (1.0e-140, 2.844_444_444_444_444_4e-281, 1.0),
                (1.0e-20, 2.844_444_444_444_444e-41, 0.999_999_682_519_802_2),
                (0.01, 2.844_552_328_873_524_6e-5, 0.696_125_948_203_921_9),
                (0.3, 0.026_522_285_810_497_318, 0.176_538_138_003_414_86),
            ],
        );
        Ok(())
    }

    #[test]
    fn most_of_the_chance_at_the_lower_end() -> Result<(), Error> {
        // Wider than 4e-15, because small quantiles are solved for through their logarithm, here -664.
        let law = Distribution::beta(0.0, 1.0, 0.0625, 2.0)?;
        reference::moments(
            &law,
            Some(0.030_303_030_303_030_304),
            Some(0.097_954_186_138_396_2),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    1.180_888_670_728_972_2e280,
                    1.889_421_873_166_355_6e-19,
                    1.0,
                ),
                (
                    1.0e-9,
                    18_184_817.865_601_957,
                    0.290_957_086_123_473_26,
                    0.709_042_913_876_526_7,
                ),
                (
                    0.2,
                    0.240_205_707_341_265_53,
                    0.949_519_031_372_532_1,
                    0.050_480_968_627_467_89,
                ),
                (
                    0.9,
                    0.007_330_044_369_323_544,
                    0.999_645_580_343_512_3,
                    0.000_354_419_656_487_731_17,
                ),
            ],
        );
        reference::quantiles(
            &law,
            1e-13,
            &[
                (
                    1.0e-18,
                    3.790_853_319_179_365_4e-289,
                    0.999_999_994_512_045_2,
                ),
                (1.0e-10, 3.790_853_319_179_363e-161, 0.999_945_121_393_928),
                (0.01, 3.790_853_319_179_362_4e-33, 0.542_133_576_326_74),
                (0.3, 1.631_838_054_332_632_7e-9, 0.001_261_308_134_613_830_8),
                (0.7, 0.001_261_308_134_613_829_2, 1.631_838_054_332_637_4e-9),
            ],
        );
        Ok(())
    }

    #[test]
    fn large_shapes() -> Result<(), Error> {
        // Wider than 4e-15, because the density is the exponential of a sum of logarithms of some hundreds.
        let law = Distribution::beta(0.0, 1.0, 200.0, 300.0)?;
        reference::moments(&law, Some(0.4), Some(0.021_887_026_206_583_313));
        reference::chances(
            &law,
            1e-13,
            &[
                (
                    0.05,
                    1.649_251_704_522_945_6e-119,
                    4.473_094_421_204_644e-123,
                    1.0,
                ),
                (
                    0.25,
                    4.133_115_836_920_186e-11,
                    1.016_953_106_527_660_3e-13,
                    0.999_999_999_999_898_3,
                ),
                (
                    0.4,
                    18.199_532_673_567_944,
                    0.502_428_616_319_932,
                    0.497_571_383_680_068,
                ),
                (
                    0.5,
                    0.000_741_242_405_387_276_5,
                    0.999_996_456_519_735_6,
                    3.543_480_264_392_538e-6,
                ),
                (
                    0.8,
                    3.204_602_833_063_015e-82,
                    1.0,
                    2.558_600_439_012_789_2e-85,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-100, 0.066_364_031_403_326_93, 0.826_022_676_480_116_4),
                (1.0e-20, 0.215_998_056_565_311_87, 0.605_517_344_261_364_7),
                (0.01, 0.349_733_011_245_541_5, 0.451_442_305_391_317_13),
                (0.3, 0.388_410_831_537_717, 0.411_395_804_215_644),
            ],
        );
        Ok(())
    }
    // End of reference values
}
