use super::law::{Half, Law, middle, sinc, turned};
use super::{Distribution, check};
use crate::Error;

/// Symmetric trapezoidal law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trapezoidal {
    lower: f64,
    upper: f64,
    top_ratio: f64,
}

impl Trapezoidal {
    /// Lower end of the base.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end of the base.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// Length of the top over length of the base, above 0 and below 1.
    #[inline]
    #[must_use]
    pub fn top_ratio(&self) -> f64 {
        self.top_ratio
    }

    /// Middle of the base.
    #[inline]
    #[must_use]
    pub fn midpoint(&self) -> f64 {
        middle(self.lower, self.upper)
    }

    /// Half of the length of the base.
    #[inline]
    #[must_use]
    pub fn half_width(&self) -> f64 {
        0.5 * (self.upper - self.lower)
    }
}

impl Distribution {
    /// Symmetric trapezoid; top over base is `top_ratio` in [0, 1] (JCGM 101:2008, 6.4.4).
    ///
    /// The sum of two rectangular laws with half-widths `(1 ± top_ratio)/2` times the half-width. A ratio of 1 gives
    /// the rectangular law, a ratio of 0 the triangular one.
    ///
    /// ```text
    /// variance = (upper - lower)²(1 + top_ratio²)/24
    /// ```
    ///
    /// # Errors
    /// When an end is not finite, the lower one is above the upper one, or the ratio is outside [0, 1].
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let fence = Distribution::trapezoidal(-0.006, 0.006, 0.5)?;
    /// assert!((fence.variance().unwrap() - 0.012 * 0.012 * 1.25 / 24.0).abs() < 1e-19);
    /// assert!((fence.cdf(-0.003) - 1.0 / 6.0).abs() < 1e-15);
    /// assert_eq!(Distribution::trapezoidal(0.0, 1.0, 1.0)?, Distribution::rectangular(0.0, 1.0)?);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn trapezoidal(lower: f64, upper: f64, top_ratio: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Trapezoidal::NAME, lower, upper)?;
        let top_ratio = check::between(Trapezoidal::NAME, "top ratio", top_ratio, 0.0, 1.0)?;
        if lower == upper {
            return Self::point(lower);
        }
        if top_ratio == 1.0 {
            return Self::rectangular(lower, upper);
        }
        if top_ratio == 0.0 {
            return Self::triangular(lower, middle(lower, upper), upper);
        }
        Ok(Self::Trapezoidal(Trapezoidal {
            lower,
            upper,
            top_ratio,
        }))
    }
}

impl Half for Trapezoidal {
    fn ends(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn tail(&self, y: f64) -> f64 {
        let half = self.half_width();
        let flank = (1.0 - self.top_ratio) * half;
        if y < flank {
            0.5 * (y / flank) * (y / half) / (1.0 + self.top_ratio)
        } else {
            (y - 0.5 * flank) / half / (1.0 + self.top_ratio)
        }
    }

    fn depth(&self, p: f64) -> f64 {
        let (ratio, half) = (self.top_ratio, self.half_width());
        if 2.0 * p * (1.0 + ratio) < 1.0 - ratio {
            half * (2.0 * (1.0 - ratio) * (1.0 + ratio) * p).sqrt()
        } else {
            half * (p * (1.0 + ratio) + 0.5 * (1.0 - ratio))
        }
    }
}

impl Law for Trapezoidal {
    const NAME: &'static str = "trapezoidal";

    fn mean(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn standard_deviation(&self) -> Option<f64> {
        let ratio = self.top_ratio;
        Some(self.half_width() * ((1.0 + ratio * ratio) / 6.0).sqrt())
    }

    fn support(&self) -> (f64, f64) {
        self.ends()
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let half = self.half_width();
        let flank = (1.0 - self.top_ratio) * half;
        let y = (x - self.lower).min(self.upper - x);
        let share = if y < flank { y / flank } else { 1.0 };
        Some(share / half / (1.0 + self.top_ratio))
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
        let quarter = 0.5 * self.half_width();
        let long = sinc(quarter * (1.0 + self.top_ratio) * t);
        let short = sinc(quarter * (1.0 - self.top_ratio) * t);
        Some(turned(self.midpoint() * t, (long * short, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (one, other) = (factor * self.lower + shift, factor * self.upper + shift);
        Distribution::trapezoidal(one.min(other), one.max(other), self.top_ratio)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::trapezoidal(0.0, 4.0, 0.5)?;
        reference::moments(&law, Some(2.0), Some(0.912_870_929_175_276_9));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-140,
                    3.333_333_333_333_333e-141,
                    1.666_666_666_666_666_5e-281,
                    1.0,
                ),
                (
                    1.0e-9,
                    3.333_333_333_333_333_7e-10,
                    1.666_666_666_666_667e-19,
                    1.0,
                ),
                (
                    0.5,
                    0.166_666_666_666_666_66,
                    0.041_666_666_666_666_664,
                    0.958_333_333_333_333_4,
                ),
                (
                    1.0,
                    0.333_333_333_333_333_3,
                    0.166_666_666_666_666_66,
                    0.833_333_333_333_333_4,
                ),
                (
                    1.5,
                    0.333_333_333_333_333_3,
                    0.333_333_333_333_333_3,
                    0.666_666_666_666_666_6,
                ),
                (
                    2.5,
                    0.333_333_333_333_333_3,
                    0.666_666_666_666_666_6,
                    0.333_333_333_333_333_3,
                ),
                (
                    3.5,
                    0.166_666_666_666_666_66,
                    0.958_333_333_333_333_4,
                    0.041_666_666_666_666_664,
                ),
                (
                    3.999_999_999_068_677_4,
                    3.104_408_582_051_595e-10,
                    1.0,
                    1.445_602_896_647_339_2e-19,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 2.449_489_742_783_178e-150, 4.0),
                (1.0e-20, 2.449_489_742_783_178e-10, 3.999_999_999_755_051),
                (0.01, 0.244_948_974_278_317_8, 3.755_051_025_721_682),
                (0.3, 1.4, 2.6),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-9, 1.0, 2.0e-9),
                (1.0, -0.265_348_856_622_897_9, 0.579_797_829_391_897_3),
                (
                    30.0,
                    -0.000_780_741_902_506_721_4,
                    -0.000_249_868_942_483_191_9,
                ),
            ],
        );
        Ok(())
    }

    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::trapezoidal(-1.0, 0.0, 0.125)?;
        reference::moments(&law, Some(-0.5), Some(0.205_712_683_938_869_8));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -0.999_999_046_325_683_6,
                    3.875_248_015_873_016e-6,
                    1.847_862_251_221_187_4e-12,
                    0.999_999_999_998_152_1,
                ),
                (
                    -0.75,
                    1.015_873_015_873_015_8,
                    0.126_984_126_984_126_98,
                    0.873_015_873_015_873,
                ),
                (-0.5, 1.777_777_777_777_777_7, 0.5, 0.5),
                (
                    -0.25,
                    1.015_873_015_873_015_8,
                    0.873_015_873_015_873,
                    0.126_984_126_984_126_98,
                ),
                (
                    -1.0e-9,
                    4.063_492_063_492_064e-9,
                    1.0,
                    2.031_746_031_746_032e-18,
                ),
                (
                    -1.0e-140,
                    4.063_492_063_492_063_3e-140,
                    1.0,
                    2.031_746_031_746_031_7e-280,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -1.0, -7.015_607_600_201_14e-151),
                (1.0e-20, -0.999_999_999_929_843_9, -7.015_607_600_201_14e-11),
                (0.01, -0.929_843_923_997_988_7, -0.070_156_076_002_011_4),
                (0.3, -0.615_739_346_276_515, -0.384_260_653_723_484_95),
            ],
        );
        reference::characteristic(
            &law,
            &[(2.0, 0.496_071_325_977_532_6, -0.772_585_315_057_209_4)],
        );
        Ok(())
    }
    // End of reference values
}
