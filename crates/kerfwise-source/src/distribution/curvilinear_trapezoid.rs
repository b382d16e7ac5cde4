use super::law::{Half, Law, increasing_root, middle, sinc, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use std::f64::consts::FRAC_PI_2;

/// Rectangular law whose limits are known only to ±d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvilinearTrapezoid {
    lower: f64,
    upper: f64,
    d: f64,
}

impl CurvilinearTrapezoid {
    /// Estimate of the lower limit; the support begins [`d`](Self::d) below.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Estimate of the upper limit; the support ends [`d`](Self::d) above.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// How far either limit may be off: above 0, at most half of `upper - lower`.
    #[inline]
    #[must_use]
    pub fn d(&self) -> f64 {
        self.d
    }

    /// Middle of the interval.
    #[inline]
    #[must_use]
    pub fn midpoint(&self) -> f64 {
        middle(self.lower, self.upper)
    }

    /// Half of the estimated width: the mean of the half-width, which is itself rectangular, give or take `d`.
    #[inline]
    #[must_use]
    pub fn half_width(&self) -> f64 {
        0.5 * (self.upper - self.lower)
    }

    /// Half of the widest width.
    fn reach(&self) -> f64 {
        self.half_width() + self.d
    }

    /// Half of the narrowest width, over which the density is flat.
    fn flat(&self) -> f64 {
        (self.half_width() - self.d).max(0.0)
    }
}

impl Distribution {
    /// Rectangular with limits known to ±d: the two limits move together and oppositely (JCGM 101:2008, 6.4.3).
    ///
    /// ```text
    /// pdf(x) = ln((w + d) / max(|x - m|, w - d)) / (4d),    w = (upper - lower)/2, m the middle
    /// variance = (upper - lower)²/12 + d²/9
    /// characteristic function = e^{imt} (Si((w + d)t) - Si((w - d)t)) / (2dt)
    /// ```
    ///
    /// With `d` = 0 it is the rectangular law. With `d` = w the density is infinite in the middle.
    ///
    /// # Errors
    /// When an end is not finite, the lower one is above the upper one, or `d` is outside [0, (upper - lower)/2].
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // JCGM 101:2008, 6.4.3, example.
    /// let current = Distribution::curvilinear_trapezoid(9.9, 10.1, 0.05)?;
    /// assert!((current.standard_deviation().unwrap() - 0.060).abs() < 0.0005);
    /// let (lowest, highest) = current.support();
    /// assert!((lowest - 9.85).abs() < 1e-14 && (highest - 10.15).abs() < 1e-14);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn curvilinear_trapezoid(lower: f64, upper: f64, d: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(CurvilinearTrapezoid::NAME, lower, upper)?;
        let d = check::spread(CurvilinearTrapezoid::NAME, "d", d)?;
        let half = 0.5 * (upper - lower);
        if d > half {
            return Err(check::bad(
                CurvilinearTrapezoid::NAME,
                format_args!(
                    "d must not be above half of the distance of the limits, {half} (got {d}); limits that uncertain call for a wider interval"
                ),
            ));
        }
        if d == 0.0 {
            return Self::rectangular(lower, upper);
        }
        check::ends(CurvilinearTrapezoid::NAME, lower - d, upper + d)?;
        Ok(Self::CurvilinearTrapezoid(CurvilinearTrapezoid {
            lower,
            upper,
            d,
        }))
    }
}

/// (e + (1 - e) ln(1 - e)) / e: the area under the logarithmic flank, over its length.
fn flank_area(e: f64) -> f64 {
    if e > 0.25 {
        return if e < 1.0 {
            (e + (1.0 - e) * float::ln_1p(-e)) / e
        } else {
            1.0
        };
    }
    // The two terms cancel near 0; the series is the sum of e^(n-1)/(n(n-1)).
    let (mut power, mut total, mut n) = (e, 0.5 * e, 2.0);
    while n < 40.0 {
        n += 1.0;
        power *= e;
        let term = power / (n * (n - 1.0));
        total += term;
        if term < 1e-17 * total {
            break;
        }
    }
    total
}

/// Sine integral Si(x) for x >= 0: its power series up to 4, beyond that the continued fraction of the exponential
/// integral E1(ix) (DLMF 6.6.5 and 6.9.1).
fn sine_integral(x: f64) -> f64 {
    if x <= 4.0 {
        let (mut power, mut total) = (x, x);
        for k in 1..25 {
            let n = 2.0 * f64::from(k);
            power *= -x * x / (n * (n + 1.0));
            total += power / (n + 1.0);
        }
        return total;
    }
    // Backward evaluation of 1/(1+ix - 1/(3+ix - 4/(5+ix - ...))); 80 levels leave nothing at x = 4.
    let (mut re, mut im) = (0.0, 0.0);
    for k in (0..80).rev() {
        let k = f64::from(k);
        let (below_re, below_im) = (2.0 * k + 1.0 - re, x - im);
        let size = below_re * below_re + below_im * below_im;
        let numerator = if k > 0.0 { k * k } else { 1.0 };
        (re, im) = (numerator * below_re / size, -numerator * below_im / size);
    }
    // Si(x) = π/2 + Im(E1(ix)), E1(ix) = e^{-ix} (re + i im).
    let (sin, cos) = float::sin_cos(x);
    FRAC_PI_2 + (im * cos - re * sin)
}

impl Half for CurvilinearTrapezoid {
    fn ends(&self) -> (f64, f64) {
        (self.lower - self.d, self.upper + self.d)
    }

    fn tail(&self, y: f64) -> f64 {
        let (reach, flat) = (self.reach(), self.flat());
        let flank = |y: f64| y / (4.0 * self.d) * flank_area((y / reach).min(1.0));
        let beyond = y - 2.0 * self.d;
        if beyond <= 0.0 {
            flank(y)
        } else {
            flank(2.0 * self.d) + beyond * float::ln_1p(2.0 * self.d / flat) / (4.0 * self.d)
        }
    }

    fn depth(&self, p: f64) -> f64 {
        let reach = self.reach();
        let flank = 2.0 * self.d;
        let at_flank = self.tail(flank);
        if p >= at_flank {
            let density = float::ln_1p(flank / self.flat()) / (2.0 * flank);
            return flank + (p - at_flank) / density;
        }
        // e flank_area(e) lies between e²/2 and e, so its root lies between the target and √(2 target).
        let target = p * (2.0 * flank / reach);
        let highest = (2.0 * p.sqrt() * (flank / reach).sqrt()).min(flank / reach);
        let f = |e: f64| (e * flank_area(e) - target, -float::ln_1p(-e));
        // Newton comes down to the root of a convex function, but not from 1, where the slope is infinite.
        let start = if highest < 0.9 {
            highest
        } else {
            middle(target, highest)
        };
        reach * increasing_root(f, target, highest, start)
    }
}

impl Law for CurvilinearTrapezoid {
    const NAME: &'static str = "curvilinear trapezoidal";

    fn mean(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn standard_deviation(&self) -> Option<f64> {
        let half = self.half_width();
        let ratio = self.d / half;
        Some(half * (1.0 / 3.0 + ratio * ratio / 9.0).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        self.ends()
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let (lowest, highest) = self.ends();
        let y = (x - lowest).min(highest - x);
        let log = if y < 2.0 * self.d {
            -float::ln_1p(-(y / self.reach()).min(1.0))
        } else {
            float::ln_1p(2.0 * self.d / self.flat())
        };
        Some(log / (4.0 * self.d))
    }

    fn cdf(&self, x: f64) -> f64 {
        self.half_cdf(x)
    }

    fn sf(&self, x: f64) -> f64 {
        self.half_sf(x)
    }

    fn quantile(&self, p: f64) -> f64 {
        self.half_quantile(p)
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        self.half_quantile_upper(q)
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let (flat, reach) = (self.flat() * t.abs(), self.reach() * t.abs());
        let re = if reach - flat <= 8.0 {
            // The mean of sinc over the half-widths; the closed form cancels here.
            0.5 * gauss_legendre(24).integrate(-1.0, 1.0, |v| {
                sinc(0.5 * (flat + reach) + 0.5 * (reach - flat) * v)
            })
        } else {
            (sine_integral(reach) - sine_integral(flat)) / (reach - flat)
        };
        Some(turned(self.midpoint() * t, (re, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (one, other) = (factor * self.lower + shift, factor * self.upper + shift);
        let (lower, upper) = (one.min(other), one.max(other));
        // Rounding of the ends must not push d past the half-width that it was within.
        let d = (factor.abs() * self.d).min(0.5 * (upper - lower));
        Distribution::curvilinear_trapezoid(lower, upper, d)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::curvilinear_trapezoid(0.25, 2.25, 0.25)?;
        reference::moments(&law, Some(1.25), Some(0.583_333_333_333_333_4));
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-140, 8.0e-141, 4.0e-281, 1.0),
                (1.0e-9, 8.000_000_003_2e-10, 4.000_000_001_066_667e-19, 1.0),
                (
                    0.1,
                    0.083_381_608_939_051_07,
                    0.004_111_149_720_091_283,
                    0.995_888_850_279_908_7,
                ),
                (
                    0.49,
                    0.497_580_397_015_97,
                    0.111_838_898_267_862_77,
                    0.888_161_101_732_137_2,
                ),
                (
                    0.75,
                    0.510_825_623_765_990_7,
                    0.244_587_188_117_004_67,
                    0.755_412_811_882_995_4,
                ),
                (1.25, 0.510_825_623_765_990_7, 0.5, 0.5),
                (
                    2.2,
                    0.274_436_845_701_760_1,
                    0.960_715_003_416_672_4,
                    0.039_284_996_583_327_673,
                ),
                (
                    2.499_999_999_068_677_4,
                    7.450_580_599_699_386e-10,
                    1.0,
                    3.469_446_952_815_260_5e-19,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 1.581_138_830_084_189_8e-150, 2.5),
                (1.0e-20, 1.581_138_830_050_856_2e-10, 2.499_999_999_841_886),
                (0.01, 0.154_744_171_157_826_85, 2.345_255_828_842_173),
                (0.3, 0.858_476_962_205_756_4, 1.641_523_037_794_243_6),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-9, 1.0, 1.25e-9),
                (0.5, 0.776_941_217_067_624_3, 0.560_550_999_678_827_8),
                (7.0, -0.032_352_201_658_323_84, 0.025_883_725_500_422_55),
                (15.0, -0.005_012_518_381_578_319, 0.000_500_681_127_958_283),
                (
                    40.0,
                    -0.000_730_453_593_490_979_9,
                    0.000_198_610_779_106_066,
                ),
                (300.0, -7.368_697_361_532_579e-6, -1.648_629_587_067_975e-5),
            ],
        );
        Ok(())
    }

    #[test]
    fn no_flat_top() -> Result<(), Error> {
        let law = Distribution::curvilinear_trapezoid(-3.0, -1.0, 1.0)?;
        reference::moments(&law, Some(-2.0), Some(0.666_666_666_666_666_6));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -3.999_999_999_068_677_4,
                    1.164_153_218_540_398_7e-10,
                    5.421_010_863_268_974e-20,
                    1.0,
                ),
                (
                    -3.0,
                    0.173_286_795_139_986_32,
                    0.076_713_204_860_013_68,
                    0.923_286_795_139_986_3,
                ),
                (
                    -2.125,
                    0.693_147_180_559_945_3,
                    0.382_106_602_430_006_8,
                    0.617_893_397_569_993_2,
                ),
                (
                    -1.5,
                    0.346_573_590_279_972_64,
                    0.798_286_795_139_986_3,
                    0.201_713_204_860_013_68,
                ),
                (
                    -0.5,
                    0.071_920_518_112_945_23,
                    0.982_880_777_169_417_8,
                    0.017_119_222_830_582_15,
                ),
                (
                    -1.0e-9,
                    1.250_000_000_312_5e-10,
                    1.0,
                    6.250_000_001_041_667e-20,
                ),
                (-1.0e-140, 1.25e-141, 1.0, 6.25e-282),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -4.0, -4.0e-150),
                (1.0e-20, -3.999_999_999_6, -3.999_999_999_866_666_4e-10),
                (0.01, -3.613_568_338_080_631_4, -0.386_431_661_919_368_5),
                (0.3, -2.264_697_910_197_612_4, -1.735_302_089_802_387_6),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.25, 0.865_484_942_426_762_9, -0.472_816_578_970_050_25),
                (3.0, 0.227_990_442_416_702, 0.066_346_630_319_808_42),
                (9.0, 0.056_369_333_354_476_595, 0.064_109_615_779_380_37),
            ],
        );
        Ok(())
    }

    #[test]
    fn limits_almost_certain() -> Result<(), Error> {
        let law = Distribution::curvilinear_trapezoid(0.000_976_562_5, 1.0, 0.000_976_562_5)?;
        reference::moments(&law, Some(0.500_488_281_25), Some(0.288_393_408_997_742_7));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-140,
                    5.115_004_878_048_780_4e-138,
                    2.557_502_439_024_390_3e-278,
                    1.0,
                ),
                (
                    1.0e-9,
                    5.115_004_883_158_795e-7,
                    2.557_502_440_727_728_6e-16,
                    0.999_999_999_999_999_8,
                ),
                (
                    0.001,
                    0.512_012_170_960_026_3,
                    0.000_255_920_748_095_334_35,
                    0.999_744_079_251_904_7,
                ),
                (
                    0.01,
                    1.000_978_792_407_807_3,
                    0.009_031_632_544_194_033,
                    0.990_968_367_455_806,
                ),
                (
                    0.5,
                    1.000_978_792_407_807_3,
                    0.499_511_240_824_019_6,
                    0.500_488_759_175_980_3,
                ),
                (
                    1.0,
                    0.500_000_158_945_810_4,
                    0.999_755_938_770_294_9,
                    0.000_244_061_229_705_083_68,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 6.253_051_013_118_016e-152, 1.000_976_562_5),
                (1.0e-20, 6.253_051_013_104_995_5e-12, 1.000_976_562_493_747),
                (0.01, 0.010_967_420_551_914_598, 0.990_009_141_948_085_4),
                (0.3, 0.300_683_848_312_005_95, 0.700_292_714_187_994_1),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0, 0.841_315_977_083_566_1, 0.460_146_555_639_864_7),
                (
                    3_000.0,
                    6.688_112_985_428_952e-7,
                    -1.470_644_152_215_786_3e-7,
                ),
                (
                    10_000.0,
                    -6.375_722_053_556_783e-8,
                    -2.153_365_019_187_035_4e-8,
                ),
            ],
        );
        Ok(())
    }
    // End of reference values
}
