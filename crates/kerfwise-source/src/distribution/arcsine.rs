use super::law::{Half, Law, middle, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::{float, special};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI, FRAC_PI_2, PI};

/// Arcsine (U-shaped) law on an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arcsine {
    lower: f64,
    upper: f64,
}

impl Arcsine {
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

    /// Middle of the interval.
    #[inline]
    #[must_use]
    pub fn midpoint(&self) -> f64 {
        middle(self.lower, self.upper)
    }

    /// Half of the interval's width: the amplitude of the swing.
    #[inline]
    #[must_use]
    pub fn half_width(&self) -> f64 {
        0.5 * (self.upper - self.lower)
    }
}

impl Distribution {
    /// Arcsine (U-shaped) on an interval: a swing caught at an unknown moment, such as run-out (JCGM 101:2008, 6.4.6).
    ///
    /// ```text
    /// cdf(x) = (2/π) asin √((x - lower)/(upper - lower))    variance = (upper - lower)²/8
    /// ```
    ///
    /// The density is infinite at both ends.
    ///
    /// # Errors
    /// When an end is not finite, or the lower one is above the upper one.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// let run_out = Distribution::arcsine(-0.002, 0.002)?;
    /// assert!((run_out.standard_deviation().unwrap() - 0.002 / 2.0_f64.sqrt()).abs() < 1e-18);
    /// assert!((run_out.cdf(-0.001) - 1.0 / 3.0).abs() < 1e-15);
    /// assert_eq!(run_out.pdf(0.002), Some(f64::INFINITY));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn arcsine(lower: f64, upper: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Arcsine::NAME, lower, upper)?;
        if lower == upper {
            return Self::point(lower);
        }
        Ok(Self::Arcsine(Arcsine { lower, upper }))
    }
}

impl Half for Arcsine {
    fn ends(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn tail(&self, y: f64) -> f64 {
        FRAC_2_PI * float::asin((y / (self.upper - self.lower)).min(1.0).sqrt())
    }

    fn depth(&self, p: f64) -> f64 {
        let sin = float::sin(FRAC_PI_2 * p);
        (self.upper - self.lower) * sin * sin
    }
}

impl Law for Arcsine {
    const NAME: &'static str = "arcsine";

    fn mean(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.half_width() * FRAC_1_SQRT_2)
    }

    fn support(&self) -> (f64, f64) {
        self.ends()
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        Some(self.midpoint())
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        Some(1.0 / (PI * ((x - self.lower).sqrt() * (self.upper - x).sqrt())))
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
        let re = special::bessel_j0(self.half_width() * t);
        Some(turned(self.midpoint() * t, (re, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (one, other) = (factor * self.lower + shift, factor * self.upper + shift);
        Distribution::arcsine(one.min(other), one.max(other))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::arcsine(0.0, 2.0)?;
        reference::moments(&law, Some(1.0), Some(0.707_106_781_186_547_6));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    1.0e-300,
                    2.250_790_790_392_765e149,
                    4.501_581_580_785_53e-151,
                    1.0,
                ),
                (
                    1.0e-9,
                    7_117.625_435_951_177,
                    1.423_525_086_952_981_3e-5,
                    0.999_985_764_749_130_5,
                ),
                (
                    0.25,
                    0.481_239_313_540_334_17,
                    0.230_053_456_162_615_88,
                    0.769_946_543_837_384_1,
                ),
                (1.0, 0.318_309_886_183_790_7, 0.5, 0.5),
                (
                    1.9,
                    0.730_252_961_371_093,
                    0.856_433_706_871_293_6,
                    0.143_566_293_128_706_33,
                ),
                (
                    1.999_999_999_999_090_5,
                    236_012.520_382_742_08,
                    0.999_999_570_695_726_3,
                    4.293_042_736_802_932_4e-7,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, 0.0, 2.0),
                (1.0e-20, 4.934_802_200_544_679e-40, 2.0),
                (0.01, 0.000_493_439_634_268_443, 1.999_506_560_365_731_6),
                (0.3, 0.412_214_747_707_526_86, 1.587_785_252_292_473_1),
            ],
        );
        reference::characteristic(
            &law,
            &[
                (1.0e-9, 1.0, 1.0e-9),
                (1.0, 0.413_438_074_492_235_35, 0.643_891_650_880_656_3),
                (
                    2.404_825_557_695_773,
                    4.524_424_026_600_402e-17,
                    -4.104_461_015_296_328_4e-17,
                ),
                (40.0, -0.004_913_259_726_655_517, 0.005_489_167_126_126_603),
            ],
        );
        Ok(())
    }

    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::arcsine(-2.0, 0.0)?;
        reference::moments(&law, Some(-1.0), Some(0.707_106_781_186_547_6));
        reference::chances(
            &law,
            4e-15,
            &[
                (
                    -1.5,
                    0.367_552_596_947_861_35,
                    0.333_333_333_333_333_3,
                    0.666_666_666_666_666_6,
                ),
                (
                    -1.0e-9,
                    7_117.625_435_951_177,
                    0.999_985_764_749_130_5,
                    1.423_525_086_952_981_3e-5,
                ),
                (
                    -1.0e-300,
                    2.250_790_790_392_765e149,
                    1.0,
                    4.501_581_580_785_53e-151,
                ),
            ],
        );
        reference::quantiles(
            &law,
            4e-15,
            &[
                (1.0e-300, -2.0, -0.0),
                (1.0e-20, -2.0, -4.934_802_200_544_679e-40),
                (0.01, -1.999_506_560_365_731_6, -0.000_493_439_634_268_443),
                (0.3, -1.587_785_252_292_473_1, -0.412_214_747_707_526_86),
            ],
        );
        reference::characteristic(
            &law,
            &[(0.5, 0.823_584_737_695_156_8, -0.449_926_392_800_209_3)],
        );
        Ok(())
    }
    // End of reference values
}
