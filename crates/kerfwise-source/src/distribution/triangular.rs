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
