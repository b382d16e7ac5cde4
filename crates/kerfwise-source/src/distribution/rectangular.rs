use super::law::{Half, middle, sinc};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::columns::choose;
use multiversion::multiversion;

/// Rectangular (uniform) law on an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rectangular {
    pub(super) lower: f64,
    pub(super) upper: f64,
}

impl Distribution {
    /// Rectangular on an interval: nothing is known but the limits (JCGM 101:2008, 6.4.2).
    ///
    /// ```text
    /// pdf(x) = 1/(upper - lower)    variance = (upper - lower)²/12
    /// ```
    ///
    /// # Errors
    /// When an end is not finite, or the lower one is above the upper one.
    ///
    /// # Examples
    /// ```
    /// use kerfwise_source::Distribution;
    ///
    /// // A caliper that shows steps of 0.001 in is off by up to half a step.
    /// let display = Distribution::rectangular(-0.0005, 0.0005)?;
    /// assert!((display.standard_deviation().unwrap() - 0.001 / 12.0_f64.sqrt()).abs() < 1e-18);
    /// assert!((display.cdf(0.000_25) - 0.75).abs() < 1e-15);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn rectangular(lower: f64, upper: f64) -> Result<Self, Error> {
        let (lower, upper) = check::ends(Rectangular::NAME, lower, upper)?;
        if lower == upper {
            return Self::point(lower);
        }
        Ok(Self::Rectangular(Rectangular { lower, upper }))
    }
}

impl Half for Rectangular {
    const NAME: &'static str = "rectangular";

    #[inline(always)]
    fn limits(&self) -> (f64, f64) {
        (self.lower, self.upper)
    }

    fn sd(&self) -> f64 {
        self.half_width() / 3.0_f64.sqrt()
    }

    fn density(&self, _y: f64) -> f64 {
        1.0 / (self.upper - self.lower)
    }

    fn tail(&self, y: f64) -> f64 {
        y / (self.upper - self.lower)
    }

    #[inline(always)]
    fn depth(&self, p: f64) -> f64 {
        (self.upper - self.lower) * p
    }

    const HALF_STAYS_INSIDE: bool = true;

    fn half_draws(&self, column: &mut [f64]) {
        each_quantile(self, column);
    }

    fn characteristic_about_middle(&self, t: f64) -> f64 {
        sinc(self.half_width() * t)
    }

    fn between(&self, lower: f64, upper: f64, _factor: f64) -> Result<Distribution, Error> {
        Distribution::rectangular(lower, upper)
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn each_quantile(law: &Rectangular, column: &mut [f64]) {
    // `half_quantile`, in so few steps that the difference shows.
    let middle = middle(law.lower, law.upper);
    for u in column {
        let is_low = *u <= 0.5;
        let depth = law.depth(choose(is_low, *u, 1.0 - *u));
        let (low, high) = (law.lower + depth, law.upper - depth);
        let low = if low < middle { low } else { middle };
        let high = if high > middle { high } else { middle };
        *u = choose(is_low, low, high);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Distribution, reference};
    use crate::Error;

    #[test]
    fn distances_from_the_ends_keep_their_digits() -> Result<(), Error> {
        // By hand; the upper end at 0 lets the upper tail be as small as the lower one.
        let law = Distribution::rectangular(-4.0, 0.0)?;
        reference::moments(&law, Some(-2.0), Some((4.0_f64 / 3.0).sqrt()));
        assert_eq!(
            (law.sf(-1e-300), law.quantile_upper(1e-300)),
            (0.25e-300, -4e-300)
        );
        assert_eq!((law.cdf(-3.0), law.sf(-3.0)), (0.25, 0.75));
        assert_eq!((law.pdf(-4.0), law.pdf(-4.5)), (Some(0.25), Some(0.0)));
        let law = Distribution::rectangular(0.0, 4.0)?;
        assert_eq!((law.cdf(1e-300), law.quantile(1e-300)), (0.25e-300, 4e-300));
        Ok(())
    }

    #[test]
    fn characteristic_function_is_a_turned_sinc() -> Result<(), Error> {
        let law = Distribution::rectangular(1.0, 3.0)?;
        // sin(t)/t turned by 2t; computed independently at 40 digits with mpmath.
        reference::characteristic(
            &law,
            &[
                (0.0, 1.0, 0.0),
                (1e-9, 1.0, 2e-9),
                (1.0, -0.350_175_488_374_014_63, 0.765_147_401_234_292_9),
                (10.0, -0.022_200_525_660_174_6, -0.049_666_148_948_201_83),
            ],
        );
        Ok(())
    }
}
