use super::law::{Half, middle, sinc};
use super::{Distribution, check};
use crate::Error;
use multiversion::multiversion;

/// Symmetric trapezoidal law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trapezoidal {
    pub(super) lower: f64,
    pub(super) upper: f64,
    top_ratio: f64,
}

impl Trapezoidal {
    /// Length of the top over length of the base, above 0 and below 1.
    #[inline]
    #[must_use]
    pub fn top_ratio(&self) -> f64 {
        self.top_ratio
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
    const NAME: &'static str = "trapezoidal";

    #[inline(always)]
    fn limits(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn sd(&self) -> f64 {
        let ratio = self.top_ratio;
        self.half_width() * ((1.0 + ratio * ratio) / 6.0).sqrt()
    }

    fn density(&self, y: f64) -> f64 {
        let half = self.half_width();
        let flank = (1.0 - self.top_ratio) * half;
        let share = if y < flank { y / flank } else { 1.0 };
        share / half / (1.0 + self.top_ratio)
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

    #[inline(always)]
    fn depth(&self, p: f64) -> f64 {
        let (ratio, half) = (self.top_ratio, self.half_width());
        if 2.0 * p * (1.0 + ratio) < 1.0 - ratio {
            half * (2.0 * (1.0 - ratio) * (1.0 + ratio) * p).sqrt()
        } else {
            half * (p * (1.0 + ratio) + 0.5 * (1.0 - ratio))
        }
    }

    fn half_draws(&self, column: &mut [f64]) {
        each_quantile(self, column);
    }

    fn characteristic_about_middle(&self, t: f64) -> f64 {
        let quarter = 0.5 * self.half_width();
        let long = sinc(quarter * (1.0 + self.top_ratio) * t);
        let short = sinc(quarter * (1.0 - self.top_ratio) * t);
        long * short
    }

    fn between(&self, lower: f64, upper: f64, _factor: f64) -> Result<Distribution, Error> {
        Distribution::trapezoidal(lower, upper, self.top_ratio)
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn each_quantile(law: &Trapezoidal, column: &mut [f64]) {
    for u in column {
        *u = law.half_quantile(*u);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    // Reference values: computed independently at 60 digits with mpmath.

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::trapezoidal(0.0, 4.0, 0.5)?;
        reference::moments(&law, Some(2.0), Some(0.9128709291752769));
        reference::chances(&law, 4e-15, &[
            (1.0e-140, 3.333333333333333e-141, 1.6666666666666665e-281, 1.0),
            (1.0e-9, 3.3333333333333337e-10, 1.666666666666667e-19, 1.0),
            (0.5, 0.16666666666666666, 0.041666666666666664, 0.9583333333333334),
            (1.0, 0.3333333333333333, 0.16666666666666666, 0.8333333333333334),
            (1.5, 0.3333333333333333, 0.3333333333333333, 0.6666666666666666),
            (2.5, 0.3333333333333333, 0.6666666666666666, 0.3333333333333333),
            (3.5, 0.16666666666666666, 0.9583333333333334, 0.041666666666666664),
            (3.9999999990686774, 3.104408582051595e-10, 1.0, 1.4456028966473392e-19),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 2.449489742783178e-150, 4.0),
            (1.0e-20, 2.449489742783178e-10, 3.999999999755051),
            (0.01, 0.2449489742783178, 3.755051025721682),
            (0.3, 1.4, 2.6),
        ]);
        reference::characteristic(&law, &[
            (1.0e-9, 1.0, 2.0e-9),
            (1.0, -0.2653488566228979, 0.5797978293918973),
            (30.0, -0.0007807419025067214, -0.0002498689424831919),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::trapezoidal(-1.0, 0.0, 0.125)?;
        reference::moments(&law, Some(-0.5), Some(0.2057126839388698));
        reference::chances(&law, 4e-15, &[
            (-0.9999990463256836, 3.875248015873016e-6, 1.8478622512211874e-12, 0.9999999999981521),
            (-0.75, 1.0158730158730158, 0.12698412698412698, 0.873015873015873),
            (-0.5, 1.7777777777777777, 0.5, 0.5),
            (-0.25, 1.0158730158730158, 0.873015873015873, 0.12698412698412698),
            (-1.0e-9, 4.063492063492064e-9, 1.0, 2.031746031746032e-18),
            (-1.0e-140, 4.0634920634920633e-140, 1.0, 2.0317460317460317e-280),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -1.0, -7.01560760020114e-151),
            (1.0e-20, -0.9999999999298439, -7.01560760020114e-11),
            (0.01, -0.9298439239979887, -0.0701560760020114),
            (0.3, -0.615739346276515, -0.38426065372348495),
        ]);
        reference::characteristic(&law, &[
            (2.0, 0.4960713259775326, -0.7725853150572094),
        ]);
        Ok(())
    }
}
