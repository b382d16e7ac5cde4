use super::law::{Law, balanced, sinc, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::float;

/// Triangular law, not necessarily symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Triangular {
    lower: f64,
    peak: f64,
    upper: f64,
}

impl Triangular {
    /// Lower end.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Where the density is greatest.
    #[inline]
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.peak
    }

    /// Upper end.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    fn width(&self) -> f64 {
        self.upper - self.lower
    }

    /// Length of the flank below the peak.
    fn rise(&self) -> f64 {
        self.peak - self.lower
    }

    /// Length of the flank above the peak.
    fn fall(&self) -> f64 {
        self.upper - self.peak
    }

    fn mirrored(&self) -> Self {
        Self {
            lower: -self.upper,
            peak: -self.peak,
            upper: -self.lower,
        }
    }
}

impl Distribution {
    /// Triangular, arguments in ascending order; the peak may lie at an end.
    ///
    /// The symmetric one is the sum of two equal rectangular laws (JCGM 101:2008, 6.4.5).
    ///
    /// ```text
    /// cdf(x) = (x - lower)² / ((upper - lower)(peak - lower))        up to the peak
    /// variance = (r² + rf + f²)/18,    r = peak - lower, f = upper - peak
    /// ```
    ///
    /// # Errors
    /// When an argument is not finite, or they are not in ascending order.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let feel = Distribution::triangular(-0.001, 0.0, 0.001)?;
    /// assert!((feel.standard_deviation().unwrap() - 0.001 / 6.0_f64.sqrt()).abs() < 1e-18);
    /// assert!((feel.cdf(-0.0005) - 0.125).abs() < 1e-15);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn triangular(lower: f64, peak: f64, upper: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Triangular::NAME, lower, upper)?;
        let peak = check::between(Triangular::NAME, "peak", peak, lower, upper)?;
        if lower == upper {
            return Self::point(lower);
        }
        Ok(Self::Triangular(Triangular { lower, peak, upper }))
    }
}

/// Imaginary part of the characteristic function of a flank that falls from 0 to 1: 2(θ - sin θ)/θ².
fn flank_phase(theta: f64) -> f64 {
    if theta.abs() > 1.0 {
        return 2.0 * ((theta - float::sin(theta)) / theta) / theta;
    }
    // The difference cancels near 0, so its Taylor series there.
    let square = theta * theta;
    let mut nested = 1.0;
    for k in (2..10).rev() {
        let k = f64::from(k);
        nested = 1.0 - square / (2.0 * k * (2.0 * k + 1.0)) * nested;
    }
    theta / 3.0 * nested
}

impl Law for Triangular {
    const NAME: &'static str = "triangular";

    fn mean(&self) -> Option<f64> {
        Some(self.peak + (self.fall() - self.rise()) / 3.0)
    }

    fn standard_deviation(&self) -> Option<f64> {
        let (rise, fall) = (self.rise() / self.width(), self.fall() / self.width());
        let square = (rise * rise + rise * fall + fall * fall) / 18.0;
        Some(self.width() * square.sqrt())
    }

    fn support(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        balanced(self.lower, self.peak, self.upper).then_some(self.peak)
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let share = if x < self.peak {
            (x - self.lower) / self.rise()
        } else if x > self.peak {
            (self.upper - x) / self.fall()
        } else {
            1.0
        };
        Some(2.0 * share / self.width())
    }

    fn cdf(&self, x: f64) -> f64 {
        if x < self.peak {
            let y = x - self.lower;
            (y / self.width()) * (y / self.rise())
        } else if x < self.upper {
            // 1 - (upper - x)²/(width·fall), with every term positive: no digit is lost next to a steep rise.
            let y = x - self.peak;
            self.rise() / self.width() + y / self.width() * (1.0 + (self.upper - x) / self.fall())
        } else {
            1.0
        }
    }

    fn sf(&self, x: f64) -> f64 {
        self.mirrored().cdf(-x)
    }

    fn quantile(&self, p: f64) -> f64 {
        let (width, rise, fall) = (self.width(), self.rise(), self.fall());
        let at_peak = rise / width;
        if p <= at_peak {
            (self.lower + p.sqrt() * (width.sqrt() * rise.sqrt())).min(self.peak)
        } else {
            // Inverse of the sum above; 1 - excess is told by 1 - p, which is exact.
            let above = fall / width;
            let excess = (p - at_peak) / above;
            self.peak + fall * (excess / (1.0 + ((1.0 - p) / above).min(1.0).sqrt()))
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        -self.mirrored().quantile(q)
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        // Two flanks that fall away from the peak, each with its share of the chance.
        let (rise, fall) = (self.rise(), self.fall());
        let (left, right) = (rise / self.width(), fall / self.width());
        let (a, b) = (sinc(0.5 * rise * t), sinc(0.5 * fall * t));
        let re = left * (a * a) + right * (b * b);
        let im = right * flank_phase(fall * t) - left * flank_phase(rise * t);
        Some(turned(self.peak * t, (re, im)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let at = |x: f64| factor * x + shift;
        let (one, other) = (at(self.lower), at(self.upper));
        Distribution::triangular(one.min(other), at(self.peak), one.max(other))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::triangular(0.0, 0.25, 1.0)?;
        reference::moments(
            &law,
            Some(0.416_666_666_666_666_7),
            Some(0.212_459_146_399_699_37),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-140, 8.0e-140, 4.0e-280, 1.0),
                (
                    1.0e-8,
                    8.0e-8,
                    4.000_000_000_000_000_4e-16,
                    0.999_999_999_999_999_6,
                ),
                (0.1, 0.8, 0.040_000_000_000_000_01, 0.96),
                (0.25, 2.0, 0.25, 0.75),
                (
                    0.5,
                    1.333_333_333_333_333_3,
                    0.666_666_666_666_666_6,
                    0.333_333_333_333_333_3,
                ),
                (
                    0.9,
                    0.266_666_666_666_666_6,
                    0.986_666_666_666_666_7,
                    0.013_333_333_333_333_327,
                ),
                (
                    0.999_999_999_068_677_4,
                    2.483_526_865_641_276e-9,
                    1.0,
                    1.156_482_317_317_871_3e-18,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 5.0e-151, 1.0),
                (1.0e-20, 5.0e-11, 0.999_999_999_913_397_5),
                (0.01, 0.05, 0.913_397_459_621_556_2),
                (0.3, 0.275_431_162_690_528_1, 0.525_658_350_974_743_1),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-9, 1.0, 4.166_666_666_666_667e-10),
                (0.01, 0.999_989_062_537_000_8, 0.004_166_644_531_302_897),
                (1.0, 0.894_259_682_598_505_1, 0.395_052_939_227_187_2),
                (5.0, -0.215_719_758_494_096_16, 0.507_185_360_222_451_5),
                (100.0, 2.733_130_004_432_278_8e-5, -6.144_362_475_022_219e-6),
            ],
        );
        Ok(())
    }

    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::triangular(-1.0, -0.875, 0.0)?;
        reference::moments(&law, Some(-0.625), Some(0.222_439_130_250_652_32));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -0.999_999_999_068_677_4,
                    1.490_116_119_384_765_6e-8,
                    6.938_893_903_907_228e-18,
                    1.0,
                ),
                (
                    -0.9,
                    1.599_999_999_999_999_6,
                    0.079_999_999_999_999_96,
                    0.92,
                ),
                (
                    -0.5,
                    1.142_857_142_857_142_8,
                    0.714_285_714_285_714_3,
                    0.285_714_285_714_285_7,
                ),
                (
                    -1.0e-9,
                    2.285_714_285_714_285_7e-9,
                    1.0,
                    1.142_857_142_857_143e-18,
                ),
                (
                    -1.0e-140,
                    2.285_714_285_714_286e-140,
                    1.0,
                    1.142_857_142_857_142_8e-280,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -1.0, -9.354_143_466_934_854e-151),
                (
                    1.0e-20,
                    -0.999_999_999_964_644_6,
                    -9.354_143_466_934_854e-11,
                ),
                (0.01, -0.964_644_660_940_672_6, -0.093_541_434_669_348_54),
                (0.3, -0.782_623_792_124_926_4, -0.512_347_538_297_979_9),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (0.5, 0.945_659_741_027_495_8, -0.305_657_484_819_045_3),
                (20.0, -0.012_006_027_011_440_396, 0.081_117_855_993_363_74),
            ],
        );
        Ok(())
    }

    #[test]
    fn peak_at_the_lower_end() -> Result<(), Error> {
        let law = Distribution::triangular(0.0, 0.0, 2.0)?;
        reference::moments(
            &law,
            Some(0.666_666_666_666_666_6),
            Some(0.471_404_520_791_031_7),
        );
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-300, 1.0, 1.0e-300, 1.0),
                (
                    1.0e-12,
                    0.999_999_999_999_5,
                    9.999_999_999_997_5e-13,
                    0.999_999_999_999,
                ),
                (0.5, 0.75, 0.437_5, 0.562_5),
                (
                    1.999,
                    0.000_499_999_999_999_944_9,
                    0.999_999_75,
                    2.499_999_999_999_449_3e-7,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 1.0e-300, 2.0),
                (1.0e-20, 1.0e-20, 1.999_999_999_8),
                (0.01, 0.010_025_125_786_760_09, 1.8),
                (0.3, 0.326_679_946_931_848_9, 0.904_554_884_989_667_7),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-5, 0.999_999_999_966_666_7, 6.666_666_666_533_333_5e-6),
                (3.0, 0.002_212_761_852_757_443_4, 0.348_856_416_566_607),
            ],
        );
        Ok(())
    }
    // End of reference values
}
