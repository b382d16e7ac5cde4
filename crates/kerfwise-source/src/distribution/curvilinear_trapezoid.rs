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
