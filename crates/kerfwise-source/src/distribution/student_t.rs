use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};
use std::f64::consts::PI;

/// Scaled and shifted Student t law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentT {
    location: f64,
    scale: f64,
    degrees_of_freedom: f64,
}

impl StudentT {
    /// Centre of symmetry; the mean where there is one.
    #[inline]
    #[must_use]
    pub fn location(&self) -> f64 {
        self.location
    }

    /// Scale (not the standard deviation), above 0.
    #[inline]
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// Degrees of freedom, at least 0.001.
    #[inline]
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }
}

impl Distribution {
    /// Scaled and shifted Student t: location + scale·t (JCGM 101:2008, 6.4.9).
    ///
    /// What n readings with mean x̄ and standard deviation s say about their expectation is location x̄,
    /// scale s/√n and n - 1 degrees of freedom. Infinite degrees of freedom give the normal law.
    ///
    /// ```text
    /// mean = location                     above 1 degree of freedom ν, none otherwise
    /// variance = scale² ν/(ν - 2)         above 2 degrees of freedom, none otherwise
    /// ```
    ///
    /// # Errors
    /// When the location is not finite, the scale is negative or not finite, or the degrees of freedom are below 0.001.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let five_readings = Distribution::student_t(0.375, 0.0002, 4.0)?;
    /// // t for 95 % and 4 degrees of freedom is 2.776 (JCGM 100:2008, table G.2: 2.78).
    /// let upper = five_readings.quantile(0.975);
    /// assert!(((upper - 0.375) / 0.0002 - 2.776_445_105_198).abs() < 1e-9);
    /// assert!((five_readings.variance().unwrap() - 2.0 * 0.0002 * 0.0002).abs() < 1e-22);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn student_t(location: f64, scale: f64, degrees_of_freedom: f64) -> Result<Self, Error> {
        let location = check::finite(StudentT::NAME, "location", location)?;
        let scale = check::spread(StudentT::NAME, "scale", scale)?;
        if degrees_of_freedom.is_nan() || degrees_of_freedom < 1e-3 {
            return Err(check::bad(
                StudentT::NAME,
                format_args!(
                    "degrees of freedom must be at least 0.001 (got {degrees_of_freedom}); n readings give n - 1"
                ),
            ));
        }
        if scale == 0.0 {
            return Self::point(location);
        }
        if degrees_of_freedom == f64::INFINITY {
            return Self::normal(location, scale);
        }
        Ok(Self::StudentT(StudentT {
            location,
            scale,
            degrees_of_freedom,
        }))
    }
}

/// The t that holds the chance `p`, at most 1/2, below it; 0 or less.
///
/// Closed forms for 1, 2 and 4 degrees of freedom, none of which cancels at either end.
fn lower_quantile(p: f64, degrees_of_freedom: f64) -> f64 {
    let below_half = 1.0 - 2.0 * p;
    if degrees_of_freedom == 1.0 {
        return if p > 0.25 {
            -float::tan(0.5 * PI * below_half)
        } else {
            -1.0 / float::tan(PI * p)
        };
    }
    if degrees_of_freedom == 2.0 {
        return -below_half / (2.0 * p * (1.0 - p)).sqrt();
    }
    if degrees_of_freedom == 4.0 {
        // cos a = 2√(p(1-p)) solves the cubic for t² (Shaw 2006); a from its tangent, so that t keeps its digits at 0.
        let cos = 2.0 * (p.sqrt() * (1.0 - p).sqrt());
        let third = float::atan2(below_half, cos) / 3.0;
        return -4.0 * float::sin(third) * (float::cos(third) / cos).sqrt();
    }
    special::student_t_quantile(p, degrees_of_freedom)
}

impl Law for StudentT {
    const NAME: &'static str = "Student t";

    fn mean(&self) -> Option<f64> {
        (self.degrees_of_freedom > 1.0).then_some(self.location)
    }

    fn standard_deviation(&self) -> Option<f64> {
        let nu = self.degrees_of_freedom;
        (nu > 2.0).then(|| self.scale * (nu / (nu - 2.0)).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (f64::NEG_INFINITY, f64::INFINITY)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.location)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let t = (x - self.location) / self.scale;
        Some(special::student_t_pdf(t, self.degrees_of_freedom) / self.scale)
    }

    fn cdf(&self, x: f64) -> f64 {
        special::student_t_cdf((x - self.location) / self.scale, self.degrees_of_freedom)
    }

    fn sf(&self, x: f64) -> f64 {
        special::student_t_sf((x - self.location) / self.scale, self.degrees_of_freedom)
    }

    fn quantile(&self, p: f64) -> f64 {
        let t = if p <= 0.5 {
            lower_quantile(p, self.degrees_of_freedom)
        } else {
            -lower_quantile(1.0 - p, self.degrees_of_freedom)
        };
        self.location + self.scale * t
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        let t = if q <= 0.5 {
            -lower_quantile(q, self.degrees_of_freedom)
        } else {
            lower_quantile(1.0 - q, self.degrees_of_freedom)
        };
        self.location + self.scale * t
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let re = special::student_t_cf(self.scale * t, self.degrees_of_freedom);
        Some(turned(self.location * t, (re, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::student_t(
            factor * self.location + shift,
            factor.abs() * self.scale,
            self.degrees_of_freedom,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn with_1_degree_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 1.0)?;
        reference::moments(&law, None, None);
        reference::chances(
            &law,
            4e-15,
            &[
                (-1.0e300, 0.0, 3.183_098_861_837_906_5e-301, 1.0),
                (
                    -1_000_000_000.0,
                    3.183_098_861_837_906_5e-19,
                    3.183_098_861_837_906_5e-10,
                    0.999_999_999_681_690_1,
                ),
                (
                    -2.0,
                    0.063_661_977_236_758_14,
                    0.147_583_617_650_433_26,
                    0.852_416_382_349_566_7,
                ),
                (
                    0.001,
                    0.318_309_567_874_222_8,
                    0.500_318_309_780_080_5,
                    0.499_681_690_219_919_4,
                ),
                (
                    0.5,
                    0.254_647_908_947_032_54,
                    0.647_583_617_650_433_3,
                    0.352_416_382_349_566_74,
                ),
                (
                    3.0,
                    0.031_830_988_618_379_07,
                    0.897_583_617_650_433_3,
                    0.102_416_382_349_566_72,
                ),
                (
                    1.0e20,
                    3.183_098_861_837_906_7e-41,
                    1.0,
                    3.183_098_861_837_906_7e-21,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    -3.183_098_861_837_906_6e299,
                    3.183_098_861_837_906_6e299,
                ),
                (
                    1.0e-20,
                    -3.183_098_861_837_906_7e19,
                    3.183_098_861_837_906_7e19,
                ),
                (0.01, -31.820_515_953_773_956, 31.820_515_953_773_956),
                (0.3, -0.726_542_528_005_360_9, 0.726_542_528_005_360_9),
                (0.499, -0.003_141_602_989_056_159, 0.003_141_602_989_056_159),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.001, 0.999_000_499_833_375, 0.0),
                (1.0, 0.367_879_441_171_442_33, 0.0),
                (30.0, 9.357_622_968_840_175e-14, 0.0),
            ],
        );
        Ok(())
    }

    #[test]
    fn with_2_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 2.0)?;
        reference::moments(&law, Some(0.0), None);
        reference::chances(
            &law,
            4e-15,
            &[
                (-1.0e140, 0.0, 4.999_999_999_999_999e-281, 1.0),
                (-1_000_000_000.0, 1.0e-27, 5.0e-19, 1.0),
                (
                    -2.0,
                    0.068_041_381_743_977_17,
                    0.091_751_709_536_136_98,
                    0.908_248_290_463_863,
                ),
                (
                    0.001,
                    0.353_553_125_428_396_56,
                    0.500_353_553_302_205,
                    0.499_646_446_697_795_07,
                ),
                (
                    0.5,
                    0.296_296_296_296_296_3,
                    0.666_666_666_666_666_6,
                    0.333_333_333_333_333_3,
                ),
                (
                    3.0,
                    0.027_410_122_234_342_15,
                    0.952_267_016_866_645_4,
                    0.047_732_983_133_354_56,
                ),
                (1.0e20, 1.0e-60, 1.0, 5.0e-41),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-280,
                    -7.071_067_811_865_475e139,
                    7.071_067_811_865_475e139,
                ),
                (1.0e-20, -7_071_067_811.865_476, 7_071_067_811.865_476),
                (0.01, -6.964_556_734_283_274, 6.964_556_734_283_274),
                (0.3, -0.617_213_399_848_367_6, 0.617_213_399_848_367_6),
                (0.499, -0.002_828_432_781_617_413, 0.002_828_432_781_617_413),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.001, 0.999_992_822_884_813_8, 0.0),
                (1.0, 0.444_342_523_632_236_03, 0.0),
                (9.0, 1.364_887_069_401_965e-5, 0.0),
            ],
        );
        Ok(())
    }

    #[test]
    fn with_4_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 4.0)?;
        reference::moments(&law, Some(0.0), Some(1.414_213_562_373_095_1));
        reference::chances(
            &law,
            4e-15,
            &[
                (-1.0e70, 0.0, 2.999_999_999_999_999e-280, 1.0),
                (-1_000_000_000.0, 1.2e-44, 2.999_999_999_999_999_8e-36, 1.0),
                (
                    -2.0,
                    0.066_291_260_736_238_82,
                    0.058_058_261_758_407_795,
                    0.941_941_738_241_592_2,
                ),
                (
                    0.001,
                    0.374_999_765_625_102_57,
                    0.500_374_999_921_875_1,
                    0.499_625_000_078_125,
                ),
                (
                    0.5,
                    0.322_261_868_560_387_1,
                    0.678_335_018_409_068_4,
                    0.321_664_981_590_931_65,
                ),
                (
                    3.0,
                    0.019_693_498_090_836_536,
                    0.980_029_015_964_140_6,
                    0.019_970_984_035_859_413,
                ),
                (1.0e20, 1.2e-99, 1.0, 3.0e-80),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-280,
                    -1.316_074_012_952_492_4e70,
                    1.316_074_012_952_492_4e70,
                ),
                (1.0e-20, -131_607.401_282_585_3, 131_607.401_282_585_3),
                (0.01, -3.746_947_387_979_197, 3.746_947_387_979_197),
                (0.3, -0.568_649_063_049_705_5, 0.568_649_063_049_705_5),
                (
                    0.499,
                    -0.002_666_670_617_294_136_7,
                    0.002_666_670_617_294_136_7,
                ),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.001, 0.999_999_000_007_080_5, 0.0),
                (1.0, 0.507_519_509_132_111_7, 0.0),
                (9.0, 8.065_805_339_434_444e-7, 0.0),
            ],
        );
        Ok(())
    }

    #[test]
    fn shifted_and_scaled() -> Result<(), Error> {
        let law = Distribution::student_t(2.0, 0.5, 7.0)?;
        reference::moments(&law, Some(2.0), Some(0.591_607_978_309_961_6));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -40.0,
                    7.428_761_513_070_77e-13,
                    4.461_187_115_082_835e-12,
                    0.999_999_999_995_538_8,
                ),
                (
                    -1.0,
                    0.000_540_753_599_550_411_9,
                    0.000_271_129_171_001_405_04,
                    0.999_728_870_828_998_6,
                ),
                (
                    1.5,
                    0.451_349_840_550_915,
                    0.175_308_331_410_103_77,
                    0.824_691_668_589_896_3,
                ),
                (
                    2.25,
                    0.669_146_506_700_330_2,
                    0.683_796_432_155_357_9,
                    0.316_203_567_844_642_1,
                ),
                (
                    6.0,
                    7.275_114_727_343_491e-5,
                    0.999_954_425_394_145_6,
                    4.557_460_585_437_681_4e-5,
                ),
                (
                    30.0,
                    1.894_504_831_885_854_3e-11,
                    0.999_999_999_924_069_5,
                    7.593_052_030_661_74e-11,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-100, -193_931_292_024_767.94, 193_931_292_024_771.94),
                (1.0e-20, -720.895_990_405_718_4, 724.895_990_405_718_4),
                (0.01, 0.501_024_216_565_735_8, 3.498_975_783_434_264_3),
                (0.3, 1.725_445_171_026_357_4, 2.274_554_828_973_642_4),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.001, 0.999_997_825_001_042_2, 0.001_999_998_316_667_218),
                (1.0, -0.352_188_424_640_501, 0.769_545_747_218_770_1),
                (9.0, 0.000_811_788_880_841_610_3, -0.000_923_258_625_704_428),
            ],
        );
        Ok(())
    }

    #[test]
    fn half_a_degree_of_freedom() -> Result<(), Error> {
        // Wider than 4e-15, because far quantiles are solved for through the logarithm of the chance, -230, over 0.5.
        let law = Distribution::student_t(0.0, 1.0, 0.5)?;
        reference::moments(&law, None, None);
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -1.0e200,
                    1.603_504_877_071_114_7e-301,
                    3.207_009_754_142_229e-101,
                    1.0,
                ),
                (
                    -5.0,
                    0.014_130_747_946_566_2,
                    0.142_995_701_579_429_4,
                    0.857_004_298_420_570_6,
                ),
                (
                    0.25,
                    0.246_875_725_979_702_86,
                    0.565_440_115_157_574_5,
                    0.434_559_884_842_425_47,
                ),
                (
                    10.0,
                    0.005_051_795_234_152_221,
                    0.898_661_323_614_334_4,
                    0.101_338_676_385_665_57,
                ),
                (
                    1.0e100,
                    1.603_504_877_071_114_5e-151,
                    1.0,
                    3.207_009_754_142_229e-51,
                ),
            ],
        );
        reference::quantiles(
            &law,
            1e-13,
            &[
                (
                    1.0e-100,
                    -1.028_491_156_316_34e199,
                    1.028_491_156_316_34e199,
                ),
                (
                    1.0e-20,
                    -1.028_491_156_316_340_2e39,
                    1.028_491_156_316_340_2e39,
                ),
                (0.01, -1_028.491_010_471_621_8, 1_028.491_010_471_621_8),
                (0.3, -1.009_525_878_607_166_1, 1.009_525_878_607_166_1),
            ],
        );
        reference::characteristic(&law, &[(1.0, 0.286_182_210_341_548_1, 0.0)]);
        Ok(())
    }

    #[test]
    fn many_degrees_of_freedom() -> Result<(), Error> {
        let law = Distribution::student_t(0.0, 1.0, 300.0)?;
        reference::moments(&law, Some(0.0), Some(1.003_350_093_135_976_7));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -30.0,
                    9.784_067_935_723_366e-92,
                    1.303_107_210_048_927_8e-92,
                    1.0,
                ),
                (
                    -5.0,
                    2.338_035_830_246_940_7e-6,
                    4.884_577_365_123_886e-7,
                    0.999_999_511_542_263_5,
                ),
                (
                    0.25,
                    0.386_307_047_433_264_4,
                    0.598_620_772_584_398_5,
                    0.401_379_227_415_601_5,
                ),
                (
                    3.0,
                    0.004_661_716_260_766_242,
                    0.998_536_890_067_967,
                    0.001_463_109_932_033_053,
                ),
                (
                    25.0,
                    1.006_853_334_048_894_2e-74,
                    1.0,
                    1.239_821_355_973_839_5e-75,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-100, -32.542_604_433_373_846, 32.542_604_433_373_846),
                (1.0e-20, -9.975_051_370_335_501, 9.975_051_370_335_501),
                (0.01, -2.338_841_923_786_992_6, 2.338_841_923_786_992_6),
                (0.3, -0.524_958_158_097_533, 0.524_958_158_097_533),
            ],
        );
        reference::characteristic(&law, &[(1.0, 0.605_014_037_835_533_8, 0.0)]);
        Ok(())
    }
    // End of reference values
}
