use super::law::{Law, balanced, increasing_root, middle};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::sum::sum;
use kerfwise_numeric::{float, special};

/// Normal law cut to an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruncatedNormal {
    parent_mean: f64,
    parent_sd: f64,
    lower: f64,
    upper: f64,
    /// What is left of the parent.
    whole: Mass,
    mean: f64,
    sd: f64,
}

impl TruncatedNormal {
    /// Mean of the normal before the cut.
    #[inline]
    #[must_use]
    pub fn parent_mean(&self) -> f64 {
        self.parent_mean
    }

    /// Standard deviation of the normal before the cut, above 0.
    #[inline]
    #[must_use]
    pub fn parent_sd(&self) -> f64 {
        self.parent_sd
    }

    /// Lower end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }
}

impl Distribution {
    /// Normal cut to an interval (either end may be infinite).
    ///
    /// For a setting with a stop, or parts that were sorted. The cut may lie anywhere, however far out in a tail.
    ///
    /// ```text
    /// pdf(x) = φ(z) / (sd (Φ(β) - Φ(α))),    z = (x - mean)/sd, α and β the same of lower and upper
    /// ```
    ///
    /// Mean and variance are integrated numerically, to about 1e-14, because their closed forms cancel in the tails.
    /// The characteristic function is not offered. A cut so narrow that the density does not vary in floating point
    /// gives the rectangular law.
    ///
    /// # Errors
    /// When the mean is not finite, the standard deviation is negative or not finite, the ends are upside down or
    /// not numbers, or the interval lies more than 1e100 standard deviations from the mean.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // A half normal: the stop lets the fence move one way only.
    /// let stop = Distribution::truncated_normal(0.0, 0.002, 0.0, f64::INFINITY)?;
    /// assert!((stop.mean().unwrap() - 0.002 * 0.797_884_560_802_865_4).abs() < 1e-17);
    /// assert!((stop.sf(0.002) - 0.317_310_507_862_914_1).abs() < 1e-15);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn truncated_normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Result<Self, Error> {
        let mean = check::finite(TruncatedNormal::NAME, "mean", mean)?;
        let sd = check::spread(TruncatedNormal::NAME, "standard deviation", sd)?;
        if lower.is_nan()
            || upper.is_nan()
            || lower > upper
            || (lower == upper && lower.is_infinite())
        {
            return Err(check::bad(
                TruncatedNormal::NAME,
                format_args!(
                    "lower end must be a number not above the upper end (got {lower} and {upper}); an end that is not cut is infinite"
                ),
            ));
        }
        if lower == upper {
            return Self::point(lower);
        }
        // How many standard deviations the nearest place that is left lies from the mean.
        let distance = (lower - mean).max(mean - upper).max(0.0);
        if distance > 1e100 * sd {
            return Err(check::bad(
                TruncatedNormal::NAME,
                format_args!(
                    "the interval {lower} to {upper} must not lie more than 1e100 standard deviations from the mean (got mean {mean}, standard deviation {sd}); nothing is left of such a cut"
                ),
            ));
        }
        if sd == 0.0 {
            return Self::point(mean);
        }
        if lower == f64::NEG_INFINITY && upper == f64::INFINITY {
            return Self::normal(mean, sd);
        }
        let width = (upper - lower) / sd;
        let farthest = ((lower - mean) / sd).abs().max(((upper - mean) / sd).abs());
        if width * farthest < 1e-17 && (upper - lower).is_finite() {
            return Self::rectangular(lower, upper);
        }
        Ok(Self::TruncatedNormal(TruncatedNormal::cut(
            mean, sd, lower, upper,
        )))
    }
}

/// The integral of exp(-z²/2) over an interval, as value · exp(-nearest²/2): no interval is too far out.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Mass {
    /// Distance from 0 to the interval.
    nearest: f64,
    value: f64,
}

impl Mass {
    /// Over `a` to `b`, whose distance is told apart because subtracting them would lose it.
    fn over(a: f64, b: f64, width: f64) -> Self {
        if a >= 0.0 {
            Self {
                nearest: a,
                value: outward(a, width),
            }
        } else if b <= 0.0 {
            Self {
                nearest: -b,
                value: outward(-b, width),
            }
        } else {
            Self {
                nearest: 0.0,
                value: outward(0.0, -a) + outward(0.0, b),
            }
        }
    }
}

/// The integral of exp(-as - s²/2) over s from 0 to `width`, for a >= 0.
fn outward(a: f64, width: f64) -> f64 {
    let drop = width * (a + 0.5 * width);
    if drop < 1.0 {
        // The closed form cancels here, and the integrand hardly bends.
        gauss_legendre(16).integrate(0.0, width, |s| float::exp(-s * (a + 0.5 * s)))
    } else {
        mills(a) - mills(a + width) * float::exp(-drop)
    }
}

/// Mills' ratio: the upper tail of the standard normal over its density, for x >= 0.
fn mills(x: f64) -> f64 {
    if x < 3.0 {
        return special::normal_sf(x) / special::normal_pdf(x);
    }
    // Laplace's continued fraction 1/(x + 1/(x + 2/(x + ...))) (DLMF 7.9.3); 45 levels are enough at 3.
    let mut below = x;
    for k in (1..45).rev() {
        below = x + f64::from(k) / below;
    }
    1.0 / below
}

impl TruncatedNormal {
    fn cut(parent_mean: f64, parent_sd: f64, lower: f64, upper: f64) -> Self {
        let mut law = Self {
            parent_mean,
            parent_sd,
            lower,
            upper,
            whole: Mass {
                nearest: 0.0,
                value: 1.0,
            },
            mean: parent_mean,
            sd: parent_sd,
        };
        law.whole = Mass::over(law.alpha(), law.beta(), law.width());
        (law.mean, law.sd) = law.moments();
        law
    }

    fn mirrored(&self) -> Self {
        Self {
            parent_mean: -self.parent_mean,
            lower: -self.upper,
            upper: -self.lower,
            mean: -self.mean,
            ..*self
        }
    }

    fn standard(&self, x: f64) -> f64 {
        (x - self.parent_mean) / self.parent_sd
    }

    /// Width of what is left, in standard deviations of the parent.
    fn width(&self) -> f64 {
        (self.upper - self.lower) / self.parent_sd
    }

    fn alpha(&self) -> f64 {
        self.standard(self.lower)
    }

    fn beta(&self) -> f64 {
        self.standard(self.upper)
    }

    /// How much farther from the parent's mean x lies than the nearest place that is left, in standard deviations;
    /// 0 when x lies on the far side of the mean.
    fn beyond_nearest(&self, x: f64) -> f64 {
        if self.alpha() > 0.0 {
            (x - self.lower) / self.parent_sd
        } else if self.beta() < 0.0 {
            (self.upper - x) / self.parent_sd
        } else {
            self.standard(x).abs()
        }
    }

    /// exp(-(z² - nearest²)/2) at a place that lies so much beyond the nearest.
    fn fall(&self, beyond: f64) -> f64 {
        float::exp(-beyond * (self.whole.nearest + 0.5 * beyond))
    }

    /// Mean and standard deviation: sums of positive terms, counted from the nearest place that is left.
    fn moments(&self) -> (f64, f64) {
        let (alpha, beta) = (self.alpha(), self.beta());
        if beta < 0.0 {
            let (mean, sd) = self.mirrored().moments();
            return (-mean, sd);
        }
        let nearest = self.whole.nearest;
        let (base, from, to) = if alpha > 0.0 {
            (self.lower, 0.0, self.width())
        } else {
            (self.parent_mean, alpha, beta)
        };
        // Where the density has fallen to e^-40 of its greatest, far below the last bit.
        let reach = 80.0 / (nearest + float::hypot(nearest, 80.0_f64.sqrt()));
        let (from, to) = (from.max(-reach), to.min(reach));
        let length = to - from;
        let rule = gauss_legendre(24);
        let panels = 8;
        let mut nodes = Vec::with_capacity(panels * rule.nodes().len());
        for panel in 0..panels {
            for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
                let share = (panel as f64 + 0.5 + 0.5 * node) / panels as f64;
                let s = (from + length * share).abs();
                nodes.push((share, weight * float::exp(-s * (nearest + 0.5 * s))));
            }
        }
        let total = sum(nodes.iter().map(|(_, weight)| *weight));
        let centre = sum(nodes.iter().map(|(share, weight)| weight * share)) / total;
        let square = sum(nodes.iter().map(|(share, weight)| {
            let off = share - centre;
            weight * off * off
        })) / total;
        (
            base + self.parent_sd * (from + length * centre),
            self.parent_sd * length * square.sqrt(),
        )
    }

    /// Quantile for p up to 1/2.
    fn lower_quantile(&self, p: f64) -> f64 {
        let (alpha, beta) = (self.alpha(), self.beta());
        if alpha < 0.0 && beta > -5.0 {
            // What lies below is told by Φ without underflow; the sum has no negative term.
            let left = self.whole.value * special::normal_pdf(self.whole.nearest);
            let z = special::normal_quantile(special::normal_cdf(alpha) + p * left);
            // Near the lower end, though, only the distance from there is accurate.
            if z > 0.5 * alpha {
                return self.parent_mean + self.parent_sd * z;
            }
        }
        // Count from the end that is nearer to the quantile.
        let open = self.width().is_infinite();
        if beta <= -5.0 && (open || p >= self.cdf(middle(self.lower, self.upper))) {
            self.upper - self.parent_sd * self.depth_below_upper(p)
        } else {
            self.lower + self.parent_sd * self.height_above_lower(p)
        }
    }

    /// How far below the upper end (in standard deviations, the parent's mean lying above it) lies the quantile of p,
    /// when it is nearer to this end.
    fn depth_below_upper(&self, p: f64) -> f64 {
        let nearest = self.whole.nearest;
        let log = -float::ln(p);
        // Where the density has fallen to p; the chance below falls a little faster.
        let fallen = 2.0 * log / (nearest + float::hypot(nearest, (2.0 * log).sqrt()));
        let highest = fallen.min(0.5 * self.width());
        let f = |s: f64| {
            let below = outward(nearest + s, self.width() - s);
            let fall = s * (nearest + 0.5 * s) - float::ln(below / self.whole.value);
            (fall - log, 1.0 / below)
        };
        increasing_root(f, 0.0, highest, highest)
    }

    /// How far above the lower end (in standard deviations) lies the quantile of p, at most 1/2.
    fn height_above_lower(&self, p: f64) -> f64 {
        let (alpha, beta) = (self.alpha(), self.beta());
        // No density is above 1 in the unit of the mass, so p needs at least this height; and where the parent's
        // mean is not above the interval, half of the chance lies below alpha + 1 or below 1.
        let lowest = p * self.whole.value;
        let highest = if beta <= 0.0 {
            self.width()
        } else {
            self.width().min(1.0 + (-alpha).max(0.0))
        };
        let log = float::ln(lowest);
        let f = |y: f64| {
            let z = alpha + y;
            let mass = Mass::over(alpha, z, y);
            let density = if alpha >= 0.0 {
                float::exp(-y * (alpha + 0.5 * y))
            } else if z <= 0.0 {
                1.0
            } else {
                float::exp(-0.5 * z * z)
            };
            let beyond = if beta < 0.0 {
                (self.width() - y).max(0.0)
            } else {
                mass.nearest - self.whole.nearest
            };
            let ln = float::ln(mass.value) - beyond * (self.whole.nearest + 0.5 * beyond);
            (ln - log, density / mass.value)
        };
        // The logarithm of the chance is concave: Newton climbs to the root from below.
        increasing_root(f, lowest, highest, lowest)
    }
}

impl Law for TruncatedNormal {
    const NAME: &'static str = "truncated normal";

    fn mean(&self) -> Option<f64> {
        Some(self.mean)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd)
    }

    fn support(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        ((self.upper - self.lower).is_finite()
            && balanced(self.lower, self.parent_mean, self.upper))
        .then_some(self.parent_mean)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(self.fall(self.beyond_nearest(x)) / self.whole.value / self.parent_sd)
    }

    fn cdf(&self, x: f64) -> f64 {
        let z = self.standard(x);
        let mass = Mass::over(self.alpha(), z, (x - self.lower) / self.parent_sd);
        let beyond = if z > 0.0 || self.alpha() >= 0.0 {
            0.0
        } else {
            self.beyond_nearest(x)
        };
        mass.value / self.whole.value * self.fall(beyond)
    }

    fn sf(&self, x: f64) -> f64 {
        self.mirrored().cdf(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        if p <= 0.5 {
            self.lower_quantile(p)
        } else {
            -self.mirrored().lower_quantile(1.0 - p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        -self.mirrored().quantile(q)
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let at = |x: f64| factor * x + shift;
        let (one, other) = (at(self.lower), at(self.upper));
        Distribution::truncated_normal(
            at(self.parent_mean),
            factor.abs() * self.parent_sd,
            one.min(other),
            one.max(other),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn across_the_mean() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, -1.0, 2.0)?;
        reference::moments(
            &law,
            Some(0.229_637_179_091_328_97),
            Some(0.720_945_586_859_045_8),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -0.999_999_999_999_090_5,
                    0.295_592_861_650_302_46,
                    2.688_401_415_527_260_5e-13,
                    0.999_999_999_999_731_2,
                ),
                (
                    -0.5,
                    0.430_085_075_923_224_7,
                    0.183_097_081_521_344_57,
                    0.816_902_918_478_655_4,
                ),
                (
                    0.0,
                    0.487_350_238_469_530_63,
                    0.416_988_751_428_985_84,
                    0.583_011_248_571_014_2,
                ),
                (
                    0.5,
                    0.430_085_075_923_224_7,
                    0.650_880_421_336_627_2,
                    0.349_119_578_663_372_84,
                ),
                (
                    1.5,
                    0.158_219_457_386_813_26,
                    0.946_179_624_736_45,
                    0.053_820_375_263_549_97,
                ),
                (
                    1.999_999_999_999_090_5,
                    0.065_955_682_558_824_64,
                    0.999_999_999_999_94,
                    5.998_634_383_901_358e-14,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-14, -0.999_999_999_999_966_1, 1.999_999_999_999_848_3),
                (0.01, -0.966_723_251_850_333_8, 1.867_210_798_781_251_4),
                (0.3, -0.242_403_817_889_226_82, 0.617_876_073_011_408_8),
                (0.5, 0.171_163_918_017_824_77, 0.171_163_918_017_824_77),
            ],
        );
        Ok(())
    }

    #[test]
    fn half_normal() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 0.0, f64::INFINITY)?;
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
                (0.3, 0.385_320_466_407_567_6, 1.036_433_389_493_789_6),
            ],
        );
        Ok(())
    }

    #[test]
    fn a_stop_below() -> Result<(), Error> {
        let law = Distribution::truncated_normal(1.0, 2.0, -5.0, f64::INFINITY)?;
        reference::moments(
            &law,
            Some(1.008_875_678_084_251_4),
            Some(1.986_622_046_045_255_3),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -4.999_999_999_068_677,
                    0.002_218_919_524_162_626_7,
                    2.066_529_842_664_235_6e-12,
                    0.999_999_999_997_933_4,
                ),
                (
                    -4.0,
                    0.008_775_996_947_789_681,
                    0.004_866_336_352_008_867,
                    0.995_133_663_647_991_2,
                ),
                (
                    1.0,
                    0.199_740_769_872_803_92,
                    0.499_324_138_640_265_8,
                    0.500_675_861_359_734_2,
                ),
                (
                    9.0,
                    6.700_556_356_080_166e-5,
                    0.999_968_285_947_429_7,
                    3.171_405_257_025_953e-5,
                ),
                (
                    70.0,
                    6.933_670_139_362_776e-260,
                    1.0,
                    4.016_150_360_043_014_7e-261,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -5.0, 75.094_265_469_601_61),
                (1.0e-14, -4.999_999_999_995_493, 16.301_603_558_544_76),
                (0.01, -3.557_807_142_120_088, 5.653_709_320_629_929),
                (0.3, -0.043_369_462_932_263_32, 2.051_131_205_638_704),
            ],
        );
        Ok(())
    }

    #[test]
    fn far_above() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 30.0, 31.0)?;
        reference::moments(
            &law,
            Some(30.033_259_667_433_622),
            Some(0.033_223_056_930_921_97),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    30.000_000_000_000_91,
                    30.033_259_666_615_873,
                    2.731_509_054_413_036_2e-11,
                    0.999_999_999_972_685,
                ),
                (
                    30.031_25,
                    11.755_452_104_777_799,
                    0.608_991_940_734_892_2,
                    0.391_008_059_265_107_8,
                ),
                (
                    30.5,
                    8.107_714_218_412_784e-6,
                    0.999_999_734_458_200_9,
                    2.655_417_990_529_591_4e-7,
                ),
                (
                    30.999_999_999_999_09,
                    1.704_593_283_870_926_2e-12,
                    1.0,
                    1.550_318_560_336_469_4e-24,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-14, 30.0, 30.994_609_949_416_933),
                (0.01, 30.000_334_638_332_14, 30.152_946_658_581_97),
                (0.3, 30.011_873_653_870_605, 30.040_061_293_677_947),
                (0.5, 30.023_070_467_827_31, 30.023_070_467_827_31),
            ],
        );
        Ok(())
    }

    #[test]
    fn far_below() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, f64::NEG_INFINITY, -8.0)?;
        reference::moments(
            &law,
            Some(-8.121_368_112_236_112),
            Some(0.119_686_605_112_439),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -38.0,
                    1.763_748_602_660_179_8e-299,
                    4.638_236_049_915_085_5e-301,
                    1.0,
                ),
                (
                    -20.0,
                    8.874_752_212_693_514e-73,
                    4.426_364_844_674_44e-74,
                    1.0,
                ),
                (
                    -9.0,
                    0.001_652_441_523_931_736,
                    0.000_181_417_064_532_023_9,
                    0.999_818_582_935_468,
                ),
                (
                    -8.062_5,
                    4.916_247_330_211_473,
                    0.600_789_420_940_914_1,
                    0.399_210_579_059_085_9,
                ),
                (
                    -8.000_000_000_000_91,
                    8.121_368_112_177_022,
                    0.999_999_999_992_613_7,
                    7.386_341_269_199_482e-12,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -37.979_791_475_189_366, -8.0),
                (1.0e-20, -12.459_325_012_375_604, -8.0),
                (0.01, -8.548_758_805_535_499, -8.001_237_424_664_287),
                (0.3, -8.146_937_123_182_049, -8.043_801_652_928_055),
            ],
        );
        Ok(())
    }

    #[test]
    fn beyond_underflow() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 50.0, f64::INFINITY)?;
        reference::moments(
            &law,
            Some(50.019_984_031_905_636),
            Some(0.019_976_065_348_408_82),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    50.000_000_000_931_32,
                    50.019_981_702_668_68,
                    4.658_473_922_618_399e-8,
                    0.999_999_953_415_260_8,
                ),
                (
                    50.062_5,
                    2.193_436_476_262_912_4,
                    0.956_203_498_895_969_1,
                    0.043_796_501_104_030_876,
                ),
                (
                    51.0,
                    5.851_567_412_345_394_4e-21,
                    1.0,
                    1.146_925_542_089_487_4e-22,
                ),
                (
                    55.0,
                    4.975_560_932_681_161_4e-113,
                    1.0,
                    9.043_486_813_963_121e-115,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-100, 50.0, 54.409_081_288_272_624),
                (1.0e-14, 50.0, 50.640_368_783_800_43),
                (0.01, 50.000_200_926_007_28, 50.091_982_066_982_67),
                (0.3, 50.007_130_140_913_26, 50.024_064_049_676_95),
            ],
        );
        Ok(())
    }

    #[test]
    fn narrow() -> Result<(), Error> {
        let law = Distribution::truncated_normal(0.0, 1.0, 1.0, 1.000_976_562_5)?;
        reference::moments(
            &law,
            Some(1.000_488_201_738_339),
            Some(0.000_281_909_299_919_112_77),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.000_000_000_000_909_5,
                    1_024.500_244_179_425_9,
                    9.317_775_440_466_828e-10,
                    0.999_999_999_068_222_5,
                ),
                (
                    1.000_488_281_25,
                    1_023.999_999_960_254_9,
                    0.500_122_129_912_289_4,
                    0.499_877_870_087_710_6,
                ),
                (
                    1.000_976_562_499_090_5,
                    1_023.499_755_979_551,
                    0.999_999_999_069_132_4,
                    9.308_676_053_288_628e-10,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-14, 1.0, 1.000_976_562_5),
                (0.01, 1.000_009_760_904_266_9, 1.000_966_792_149_746),
                (0.3, 1.000_292_868_584_878_6, 1.000_683_493_545_737_6),
            ],
        );
        Ok(())
    }

    #[test]
    fn a_slope_up_to_0() -> Result<(), Error> {
        let law = Distribution::truncated_normal(10.0, 1.0, -30.0, 0.0)?;
        reference::moments(
            &law,
            Some(-0.098_093_233_962_511_96),
            Some(0.097_187_333_668_828_78),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -20.0,
                    1.933_956_114_646_841_3e-173,
                    6.439_381_326_109_969e-175,
                    1.0,
                ),
                (
                    -2.0,
                    2.816_830_887_495_400_2e-9,
                    2.331_386_322_603_503e-10,
                    0.999_999_999_766_861_4,
                ),
                (
                    -0.125,
                    2.870_637_462_012_653_4,
                    0.280_831_358_155_412_66,
                    0.719_168_641_844_587_3,
                ),
                (
                    -1.0e-9,
                    10.098_093_132_981_58,
                    0.999_999_989_901_906_9,
                    1.009_809_318_347_204_7e-8,
                ),
                (
                    -1.0e-300,
                    10.098_093_233_962_512,
                    1.0,
                    1.009_809_323_396_251_2e-299,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (
                    1.0e-200,
                    -21.917_557_229_768_178,
                    -9.902_859_647_173_191e-202,
                ),
                (1.0e-14, -2.805_673_879_384_370_3, -9.902_859_647_173_24e-16),
                (
                    0.01,
                    -0.446_272_898_689_614_95,
                    -0.000_995_222_074_558_224_9,
                ),
                (0.3, -0.118_538_515_657_099_05, -0.035_260_039_598_790_07),
            ],
        );
        Ok(())
    }
    // End of reference values
}
