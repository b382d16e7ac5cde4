use super::law::{Law, balanced, sinc, turned};
use super::{Distribution, check};
use crate::Error;
use kerfwise_numeric::columns::choose;
use kerfwise_numeric::float;
use multiversion::multiversion;

/// Triangular law, not necessarily symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Triangular {
    pub(super) lower: f64,
    peak: f64,
    pub(super) upper: f64,
}

impl Triangular {
    /// Where the density is greatest.
    #[inline]
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.peak
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

/// Draws, each counted from the end of its own flank.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn each_flank(law: &Triangular, column: &mut [f64]) {
    let (width, rise, fall) = (law.width(), law.rise(), law.fall());
    let at_peak = rise / width;
    let rising = width.sqrt() * rise.sqrt();
    let falling = width.sqrt() * fall.sqrt();
    for u in column {
        let is_rising = *u <= at_peak;
        let root = choose(is_rising, *u, 1.0 - *u).sqrt();
        let end = choose(is_rising, law.lower, law.upper);
        let x = end + choose(is_rising, rising, -falling) * root;
        let x = if x < law.lower { law.lower } else { x };
        *u = if x > law.upper { law.upper } else { x };
    }
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

    const STAYS_INSIDE: bool = true;

    fn draws(&self, column: &mut [f64]) {
        each_flank(self, column);
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

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn lower_end_at_0() -> Result<(), Error> {
        let law = Distribution::triangular(0.0, 0.25, 1.0)?;
        reference::moments(&law, Some(0.4166666666666667), Some(0.21245914639969937));
        reference::chances(&law, 4e-15, &[
            (1.0e-140, 8.0e-140, 4.0e-280, 1.0),
            (1.0e-8, 8.0e-8, 4.0000000000000004e-16, 0.9999999999999996),
            (0.1, 0.8, 0.04000000000000001, 0.96),
            (0.25, 2.0, 0.25, 0.75),
            (0.5, 1.3333333333333333, 0.6666666666666666, 0.3333333333333333),
            (0.9, 0.2666666666666666, 0.9866666666666667, 0.013333333333333327),
            (0.9999999990686774, 2.483526865641276e-9, 1.0, 1.1564823173178713e-18),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 5.0e-151, 1.0),
            (1.0e-20, 5.0e-11, 0.9999999999133975),
            (0.01, 0.05, 0.9133974596215562),
            (0.3, 0.2754311626905281, 0.5256583509747431),
        ]);
        reference::characteristic(&law, &[
            (1.0e-9, 1.0, 4.166666666666667e-10),
            (0.01, 0.9999890625370008, 0.004166644531302897),
            (1.0, 0.8942596825985051, 0.3950529392271872),
            (5.0, -0.21571975849409616, 0.5071853602224515),
            (100.0, 2.7331300044322788e-5, -6.144362475022219e-6),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn upper_end_at_0() -> Result<(), Error> {
        let law = Distribution::triangular(-1.0, -0.875, 0.0)?;
        reference::moments(&law, Some(-0.625), Some(0.22243913025065232));
        reference::chances(&law, 4e-15, &[
            (-0.9999999990686774, 1.4901161193847656e-8, 6.938893903907228e-18, 1.0),
            (-0.9, 1.5999999999999996, 0.07999999999999996, 0.92),
            (-0.5, 1.1428571428571428, 0.7142857142857143, 0.2857142857142857),
            (-1.0e-9, 2.2857142857142857e-9, 1.0, 1.142857142857143e-18),
            (-1.0e-140, 2.285714285714286e-140, 1.0, 1.1428571428571428e-280),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, -1.0, -9.354143466934854e-151),
            (1.0e-20, -0.9999999999646446, -9.354143466934854e-11),
            (0.01, -0.9646446609406726, -0.09354143466934854),
            (0.3, -0.7826237921249264, -0.5123475382979799),
        ]);
        reference::characteristic(&law, &[
            (0.5, 0.9456597410274958, -0.3056574848190453),
            (20.0, -0.012006027011440396, 0.08111785599336374),
        ]);
        Ok(())
    }

    #[rustfmt::skip] // a table: one row a line
    #[test]
    fn peak_at_the_lower_end() -> Result<(), Error> {
        let law = Distribution::triangular(0.0, 0.0, 2.0)?;
        reference::moments(&law, Some(0.6666666666666666), Some(0.4714045207910317));
        reference::chances(&law, 4e-15, &[
            (1.0e-300, 1.0, 1.0e-300, 1.0),
            (1.0e-12, 0.9999999999995, 9.9999999999975e-13, 0.999999999999),
            (0.5, 0.75, 0.4375, 0.5625),
            (1.999, 0.0004999999999999449, 0.99999975, 2.4999999999994493e-7),
        ]);
        reference::quantiles(&law, 4e-15, &[
            (1.0e-300, 1.0e-300, 2.0),
            (1.0e-20, 1.0e-20, 1.9999999998),
            (0.01, 0.01002512578676009, 1.8),
            (0.3, 0.3266799469318489, 0.9045548849896677),
        ]);
        reference::characteristic(&law, &[
            (1.0e-5, 0.9999999999666667, 6.6666666665333335e-6),
            (3.0, 0.0022127618527574434, 0.348856416566607),
        ]);
        Ok(())
    }
}
