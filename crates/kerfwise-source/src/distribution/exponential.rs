use super::law::{Law, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::float;

/// Exponential law above (or below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exponential {
    origin: f64,
    mean_excess: f64,
}

impl Exponential {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of X - origin, not 0; negative when the law lies below the origin.
    #[inline]
    #[must_use]
    pub fn mean_excess(&self) -> f64 {
        self.mean_excess
    }

    /// Distance from the origin, in mean excesses.
    fn excess(&self, x: f64) -> f64 {
        (x - self.origin) / self.mean_excess
    }

    /// The x beyond which, seen from the origin, lies the chance `far`.
    fn beyond(&self, far: f64) -> f64 {
        self.origin - self.mean_excess * float::ln(far)
    }

    /// The x short of which, seen from the origin, lies the chance `near`.
    fn within(&self, near: f64) -> f64 {
        self.origin - self.mean_excess * float::ln_1p(-near)
    }
}

impl Distribution {
    /// Exponential above `origin`, with `mean_excess` over it; negative `mean_excess` lies below
    /// (JCGM 101:2008, 6.4.10).
    ///
    /// For an error that has one sign and is mostly small, such as the gap under a fence stop.
    ///
    /// ```text
    /// sf(x) = exp(-(x - origin)/mean_excess)    standard deviation = |mean_excess|
    /// ```
    ///
    /// # Errors
    /// When either argument is not finite.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let sawdust = Distribution::exponential(0.0, 0.002)?;
    /// assert!((sawdust.sf(0.002) - (-1.0_f64).exp()).abs() < 1e-15);
    /// let below = Distribution::exponential(0.0, -0.002)?;
    /// assert_eq!(below.mean(), Some(-0.002));
    /// assert_eq!(below.support(), (f64::NEG_INFINITY, 0.0));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn exponential(origin: f64, mean_excess: f64) -> Result<Self, Error> {
        let origin = check::finite(Exponential::NAME, "origin", origin)?;
        let mean_excess = check::finite(Exponential::NAME, "mean excess", mean_excess)?;
        if mean_excess == 0.0 {
            return Self::point(origin);
        }
        Ok(Self::Exponential(Exponential {
            origin,
            mean_excess,
        }))
    }
}

impl Law for Exponential {
    const NAME: &'static str = "exponential";

    fn mean(&self) -> Option<f64> {
        Some(self.origin + self.mean_excess)
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.mean_excess.abs())
    }

    fn support(&self) -> (f64, f64) {
        if self.mean_excess > 0.0 {
            (self.origin, f64::INFINITY)
        } else {
            (f64::NEG_INFINITY, self.origin)
        }
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        None
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(float::exp(-self.excess(x)) / self.mean_excess.abs())
    }

    fn cdf(&self, x: f64) -> f64 {
        if self.mean_excess > 0.0 {
            -float::exp_m1(-self.excess(x))
        } else {
            float::exp(-self.excess(x))
        }
    }

    fn sf(&self, x: f64) -> f64 {
        if self.mean_excess > 0.0 {
            float::exp(-self.excess(x))
        } else {
            -float::exp_m1(-self.excess(x))
        }
    }

    fn quantile(&self, p: f64) -> f64 {
        if self.mean_excess > 0.0 {
            self.within(p)
        } else {
            self.beyond(p)
        }
    }

    fn quantile_upper(&self, q: f64) -> f64 {
        if self.mean_excess > 0.0 {
            self.beyond(q)
        } else {
            self.within(q)
        }
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        // 1/(1 - imt) with the larger part divided out, so that a huge mt does not overflow.
        let z = self.mean_excess * t;
        let (re, im) = if z.abs() <= 1.0 {
            let square = 1.0 + z * z;
            (1.0 / square, z / square)
        } else {
            let inverse = 1.0 / z;
            let square = 1.0 + inverse * inverse;
            (inverse * inverse / square, inverse / square)
        };
        Some(turned(self.origin * t, (re, im)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        Distribution::exponential(factor * self.origin + shift, factor * self.mean_excess)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn above() -> Result<(), Error> {
        let law = Distribution::exponential(0.0, 2.0)?;
        reference::moments(&law, Some(2.0), Some(2.0));
        reference::chances(
            &law,
            4e-15,
            &[
                (1.0e-300, 0.5, 5.0e-301, 1.0),
                (
                    1.0e-9,
                    0.499_999_999_75,
                    4.999_999_998_75e-10,
                    0.999_999_999_5,
                ),
                (
                    0.5,
                    0.389_400_391_535_702_44,
                    0.221_199_216_928_595_12,
                    0.778_800_783_071_404_9,
                ),
                (
                    3.0,
                    0.111_565_080_074_214_91,
                    0.776_869_839_851_570_2,
                    0.223_130_160_148_429_82,
                ),
                (
                    100.0,
                    9.643_749_239_819_589e-23,
                    1.0,
                    1.928_749_847_963_917_8e-22,
                ),
                (
                    1_380.0,
                    1.085_869_140_694_913_6e-300,
                    1.0,
                    2.171_738_281_389_827e-300,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 2.0e-300, 1_381.551_055_796_427_4),
                (1.0e-20, 2.0e-20, 92.103_403_719_761_83),
                (0.01, 0.020_100_671_707_002_884, 9.210_340_371_976_182),
                (0.3, 0.713_349_887_877_464_7, 2.407_945_608_651_872_2),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-9, 1.0, 2.0e-9),
                (0.5, 0.5, 0.5),
                (30.0, 0.000_277_700_638_711_469_05, 0.016_662_038_322_688_14),
            ],
        );
        Ok(())
    }

    #[test]
    fn below() -> Result<(), Error> {
        let law = Distribution::exponential(1.0, -0.25)?;
        reference::moments(&law, Some(0.75), Some(0.25));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -170.0,
                    3.504_567_018_572_336e-297,
                    8.761_417_546_430_84e-298,
                    1.0,
                ),
                (
                    -20.0,
                    1.322_280_250_704_293_7e-36,
                    3.305_700_626_760_734_3e-37,
                    1.0,
                ),
                (
                    0.5,
                    0.541_341_132_946_450_8,
                    0.135_335_283_236_612_7,
                    0.864_664_716_763_387_3,
                ),
                (
                    0.75,
                    1.471_517_764_685_769_3,
                    0.367_879_441_171_442_33,
                    0.632_120_558_828_557_7,
                ),
                (
                    0.999_999_999_999_090_5,
                    3.999_999_999_985_448,
                    0.999_999_999_996_362,
                    3.637_978_807_085_095_5e-12,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -171.693_881_974_553_42, 1.0),
                (1.0e-20, -10.512_925_464_970_229, 1.0),
                (0.01, -0.151_292_546_497_022_84, 0.997_487_416_036_624_6),
                (0.3, 0.699_006_798_918_516, 0.910_831_264_015_316_9),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0, 0.706_512_990_183_636_6, 0.664_842_737_261_987_4),
                (50.0, -0.014_719_997_728_502_363, -0.078_374_882_097_649_26),
            ],
        );
        Ok(())
    }
    // End of reference values
}
