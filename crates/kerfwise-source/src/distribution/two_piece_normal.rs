use super::law::{Law, increasing_root};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2};

/// Two half normals joined at the mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPieceNormal {
    mode: f64,
    sd_below: f64,
    sd_above: f64,
}

impl TwoPieceNormal {
    /// Where the halves join, and the density is greatest.
    #[inline]
    #[must_use]
    pub fn mode(&self) -> f64 {
        self.mode
    }

    /// Standard deviation of the normal whose lower half is used; 0 when there is nothing below the mode.
    #[inline]
    #[must_use]
    pub fn sd_below(&self) -> f64 {
        self.sd_below
    }

    /// Standard deviation of the normal whose upper half is used; 0 when there is nothing above the mode.
    #[inline]
    #[must_use]
    pub fn sd_above(&self) -> f64 {
        self.sd_above
    }

    /// The chances below and above the mode.
    fn sides(&self) -> (f64, f64) {
        // Halves, because the sum of two huge standard deviations overflows.
        let total = 0.5 * self.sd_below + 0.5 * self.sd_above;
        (0.5 * self.sd_below / total, 0.5 * self.sd_above / total)
    }

    fn mirrored(&self) -> Self {
        Self {
            mode: -self.mode,
            sd_below: self.sd_above,
            sd_above: self.sd_below,
        }
    }
}

impl Distribution {
    /// Two half normals joined at the mode, for an error that strays farther to one side.
    ///
    /// Each side holds its share of the chance, sd_below : sd_above, so the density has no step (the split normal;
    /// Wallis 2014, Statistical Science 29, 106). One of the two may be 0.
    ///
    /// ```text
    /// pdf(x) = 2/(√(2π)(s₁ + s₂)) exp(-((x - mode)/s)²/2),    s = s₁ below the mode, s₂ above
    /// mean = mode + √(2/π)(s₂ - s₁)
    /// variance = (1 - 2/π)(s₂ - s₁)² + s₁s₂
    /// ```
    ///
    /// The characteristic function is not offered.
    ///
    /// # Errors
    /// When the mode is not finite, or a standard deviation is negative or not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let creep = Distribution::two_piece_normal(0.0, 0.001, 0.003)?;
    /// // Three quarters of the chance lie above the mode.
    /// assert!((creep.sf(0.0) - 0.75).abs() < 1e-15);
    /// assert!((creep.mean().unwrap() - 0.002 * 0.797_884_560_802_865_4).abs() < 1e-17);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn two_piece_normal(mode: f64, sd_below: f64, sd_above: f64) -> Result<Self, Error> {
        let mode = check::finite(TwoPieceNormal::NAME, "mode", mode)?;
        let sd_below = check::spread(
            TwoPieceNormal::NAME,
            "standard deviation below the mode",
            sd_below,
        )?;
        let sd_above = check::spread(
            TwoPieceNormal::NAME,
            "standard deviation above the mode",
            sd_above,
        )?;
        if sd_below == sd_above {
            return Self::normal(mode, sd_below);
        }
        Ok(Self::TwoPieceNormal(TwoPieceNormal {
            mode,
            sd_below,
            sd_above,
        }))
    }
}

/// The z with P(|Z| <= z) = p for a standard normal Z.
fn half_normal_quantile(p: f64) -> f64 {
    if p > 0.25 {
        return special::normal_quantile_upper(0.5 * (1.0 - p));
    }
    // p is lost in 1 - p near 0: solve erf(z/√2) = p, whose slope is √(2/π) exp(-z²/2), from below.
    let start = p * FRAC_PI_2.sqrt();
    let slope = FRAC_2_PI.sqrt();
    let f = |z: f64| {
        (
            special::erf(z * FRAC_1_SQRT_2) - p,
            slope * float::exp(-0.5 * z * z),
        )
    };
    // At p = 1/4, z is 0.319 and 1.02 times the start.
    increasing_root(f, 0.99 * start, 1.05 * start, start)
}

impl Law for TwoPieceNormal {
    const NAME: &'static str = "two-piece normal";

    fn mean(&self) -> Option<f64> {
        Some(self.mode + FRAC_2_PI.sqrt() * (self.sd_above - self.sd_below))
    }

    fn standard_deviation(&self) -> Option<f64> {
        let largest = self.sd_below.max(self.sd_above);
        let (below, above) = (self.sd_below / largest, self.sd_above / largest);
        let difference = above - below;
        let square = (1.0 - FRAC_2_PI) * difference * difference + below * above;
        Some(largest * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (
            if self.sd_below > 0.0 {
                f64::NEG_INFINITY
            } else {
                self.mode
            },
            if self.sd_above > 0.0 {
                f64::INFINITY
            } else {
                self.mode
            },
        )
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let sd = if x < self.mode || self.sd_above == 0.0 {
            self.sd_below
        } else {
            self.sd_above
        };
        let density = special::normal_pdf((x - self.mode) / sd);
        Some(density / (0.5 * self.sd_below + 0.5 * self.sd_above))
    }

    fn cdf(&self, x: f64) -> f64 {
        let (below, above) = self.sides();
        if x < self.mode {
            2.0 * below * special::normal_cdf((x - self.mode) / self.sd_below)
        } else if above > 0.0 {
            let z = (x - self.mode) / self.sd_above;
            below + above * special::erf(z * FRAC_1_SQRT_2)
        } else {
            1.0
        }
    }

    fn sf(&self, x: f64) -> f64 {
        self.mirrored().cdf(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        let (below, above) = self.sides();
        if p <= below {
            self.mode + self.sd_below * special::normal_quantile(0.5 * (p / below))
        } else if p <= 0.5 {
            self.mode + self.sd_above * half_normal_quantile((p - below) / above)
        } else {
            let far = ((1.0 - p) / above).min(1.0);
            self.mode + self.sd_above * special::normal_quantile_upper(0.5 * far)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        -self.mirrored().quantile(q)
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let mode = factor * self.mode + shift;
        let (below, above) = (factor.abs() * self.sd_below, factor.abs() * self.sd_above);
        if factor > 0.0 {
            Distribution::two_piece_normal(mode, below, above)
        } else {
            Distribution::two_piece_normal(mode, above, below)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn with_1_below_3_above() -> Result<(), Error> {
        let law = Distribution::two_piece_normal(0.0, 1.0, 3.0)?;
        reference::moments(
            &law,
            Some(1.595_769_121_605_730_8),
            Some(2.110_336_681_795_034),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -37.0,
                    1.060_003_275_762_302_8e-298,
                    2.862_785_611_262_288_6e-300,
                    1.0,
                ),
                (
                    -3.0,
                    0.002_215_924_205_969_003_8,
                    0.000_674_949_015_815_047_3,
                    0.999_325_050_984_185,
                ),
                (
                    -0.5,
                    0.176_032_663_382_149_73,
                    0.154_268_769_362_993_44,
                    0.845_731_230_637_006_5,
                ),
                (0.0, 0.199_471_140_200_716_35, 0.25, 0.75),
                (
                    0.5,
                    0.196_719_858_050_969_95,
                    0.349_275_748_916_355_5,
                    0.650_724_251_083_644_5,
                ),
                (
                    9.0,
                    0.002_215_924_205_969_003_8,
                    0.997_975_152_952_554_9,
                    0.002_024_847_047_445_141_8,
                ),
                (
                    110.0,
                    2.277_604_678_848_545_5e-293,
                    1.0,
                    1.862_111_748_215_542e-294,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -37.028_395_296_325_46, 111.174_093_949_051_71),
                (1.0e-20, -9.188_057_249_502_078, 27.916_571_777_629_67),
                (0.01, -2.053_748_910_631_823, 7.424_218_947_658_453),
                (0.24, -0.050_153_583_464_733_66, 2.983_373_649_629_259_5),
                (0.3, 0.250_955_201_721_387_24, 2.524_863_700_718_743),
                (0.5, 1.292_181_897_886_372_4, 1.292_181_897_886_372_4),
            ],
        );
        Ok(())
    }

    #[test]
    fn nothing_below() -> Result<(), Error> {
        let law = Distribution::two_piece_normal(0.0, 0.0, 1.0)?;
        reference::moments(
            &law,
            Some(0.797_884_560_802_865_4),
            Some(0.602_810_274_989_087),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    0.797_884_560_802_865_4,
                    7.978_845_608_028_653e-301,
                    1.0,
                ),
                (
                    1.0e-9,
                    0.797_884_560_802_865_4,
                    7.978_845_608_028_654e-10,
                    0.999_999_999_202_115_5,
                ),
                (
                    0.25,
                    0.773_336_233_605_698_4,
                    0.197_412_651_365_847_46,
                    0.802_587_348_634_152_6,
                ),
                (
                    0.5,
                    0.704_130_653_528_598_9,
                    0.382_924_922_548_026_2,
                    0.617_075_077_451_973_8,
                ),
                (
                    3.0,
                    0.008_863_696_823_876_015,
                    0.997_300_203_936_739_8,
                    0.002_699_796_063_260_189,
                ),
                (
                    37.0,
                    4.240_013_103_049_211e-298,
                    1.0,
                    1.145_114_244_504_915_4e-299,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    1.253_314_137_315_500_2e-300,
                    37.065_787_880_772_13,
                ),
                (1.0e-20, 1.253_314_137_315_500_2e-20, 9.336_044_849_234_06),
                (0.01, 0.012_533_469_508_069_264, 2.575_829_303_548_901),
                (0.24, 0.305_480_788_099_397_3, 1.174_986_792_066_090_1),
                (0.26, 0.331_853_346_436_816_6, 1.126_391_129_038_800_7),
                (0.3, 0.385_320_466_407_567_6, 1.036_433_389_493_789_6),
                (0.5, 0.674_489_750_196_081_7, 0.674_489_750_196_081_7),
            ],
        );
        Ok(())
    }
    // End of reference values
}
