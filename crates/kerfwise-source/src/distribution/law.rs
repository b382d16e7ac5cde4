//! What every law can say of itself, and the arithmetic that several laws share.

use super::{
    Arcsine, Beta, CurvilinearTrapezoid, Distribution, Rectangular, Trapezoidal, Triangular,
};
use crate::Error;
use kerfwise_numeric::float;

/// One law.
///
/// [`Distribution`] asks only for what is left after the easy cases: `pdf`, `cdf` and `sf` are called with a finite
/// `x` inside the support, the quantiles with a probability above 0 and below 1, `characteristic` with a finite `t`,
/// and `affine` with finite numbers and a factor other than 0.
pub(super) trait Law {
    const NAME: &'static str;

    fn mean(&self) -> Option<f64>;
    /// Told directly rather than through the variance, which overflows far sooner.
    fn standard_deviation(&self) -> Option<f64>;
    fn support(&self) -> (f64, f64);
    fn centre_of_symmetry(&self) -> Option<f64>;
    fn pdf(&self, x: f64) -> Option<f64>;
    fn cdf(&self, x: f64) -> f64;
    fn sf(&self, x: f64) -> f64;
    fn quantile(&self, p: f64) -> f64;
    fn quantile_upper(&self, q: f64) -> f64;
    /// Whether no draw leaves the support, nor the range of numbers, by a rounding.
    const STAYS_INSIDE: bool = false;
    /// Uniform numbers above 0 and below 1 become draws: their quantiles, or something as good and far faster.
    fn draws(&self, column: &mut [f64]) {
        for u in column {
            *u = self.quantile(*u);
        }
    }
    fn characteristic(&self, _t: f64) -> Option<(f64, f64)> {
        None
    }
    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error>;
}

/// A symmetric law on a bounded interval, told by the half that begins at its lower end: all that [`Law`] asks follows.
///
/// Distances are counted from the nearer end, so both tails keep their relative accuracy, the chances below and above
/// add to 1, and a draw from 1 - u is the mirror image of the draw from u.
pub(super) trait Half {
    const NAME: &'static str;

    /// The limits that the law is made with.
    fn limits(&self) -> (f64, f64);
    /// The ends of the support.
    #[inline(always)]
    fn ends(&self) -> (f64, f64) {
        self.limits()
    }
    fn sd(&self) -> f64;
    /// Density at a distance `y` from the nearer end.
    fn density(&self, y: f64) -> f64;
    /// Chance of lying within `y` of the lower end, for `y` up to half of the width.
    fn tail(&self, y: f64) -> f64;
    /// The distance from the end that holds the chance `p`, for `p` up to 1/2.
    fn depth(&self, p: f64) -> f64;
    /// Characteristic function of the law shifted to have its middle at 0, which is real.
    fn characteristic_about_middle(&self, t: f64) -> f64;
    /// The law between other limits, which are `factor` times as far apart.
    fn between(&self, lower: f64, upper: f64, factor: f64) -> Result<Distribution, Error>;
    /// [`Law::STAYS_INSIDE`].
    const HALF_STAYS_INSIDE: bool = false;
    /// [`Law::draws`].
    fn half_draws(&self, column: &mut [f64]);

    fn half_cdf(&self, x: f64) -> f64 {
        let (lower, upper) = self.ends();
        if x <= middle(lower, upper) {
            self.tail(x - lower).min(0.5)
        } else {
            1.0 - self.tail(upper - x).min(0.5)
        }
    }

    fn half_sf(&self, x: f64) -> f64 {
        let (lower, upper) = self.ends();
        if x <= middle(lower, upper) {
            1.0 - self.tail(x - lower).min(0.5)
        } else {
            self.tail(upper - x).min(0.5)
        }
    }

    /// Inlined, so that it can become part of a loop over a column.
    #[inline(always)]
    fn half_quantile(&self, p: f64) -> f64 {
        let (lower, upper) = self.ends();
        let middle = middle(lower, upper);
        if p <= 0.5 {
            (lower + self.depth(p)).min(middle)
        } else {
            (upper - self.depth(1.0 - p)).max(middle)
        }
    }

    fn half_quantile_upper(&self, q: f64) -> f64 {
        let (lower, upper) = self.ends();
        let middle = middle(lower, upper);
        if q <= 0.5 {
            (upper - self.depth(q)).max(middle)
        } else {
            (lower + self.depth(1.0 - q)).min(middle)
        }
    }
}

impl<T: Half> Law for T {
    const NAME: &'static str = <T as Half>::NAME;
    const STAYS_INSIDE: bool = T::HALF_STAYS_INSIDE;

    fn mean(&self) -> Option<f64> {
        self.centre_of_symmetry()
    }

    fn standard_deviation(&self) -> Option<f64> {
        Some(self.sd())
    }

    fn support(&self) -> (f64, f64) {
        self.ends()
    }

    fn centre_of_symmetry(&self) -> Option<f64> {
        let (lower, upper) = self.limits();
        Some(middle(lower, upper))
    }

    fn pdf(&self, x: f64) -> Option<f64> {
        let (lower, upper) = self.ends();
        Some(self.density((x - lower).min(upper - x)))
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

    fn draws(&self, column: &mut [f64]) {
        self.half_draws(column);
    }

    fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        let (lower, upper) = self.limits();
        let re = self.characteristic_about_middle(t);
        Some(turned(middle(lower, upper) * t, (re, 0.0)))
    }

    fn affine(&self, factor: f64, shift: f64) -> Result<Distribution, Error> {
        let (lower, upper) = self.limits();
        let (one, other) = (factor * lower + shift, factor * upper + shift);
        self.between(one.min(other), one.max(other), factor.abs())
    }
}

/// What laws with two limits say of these.
macro_rules! limits {
    ($($law:ty),+) => {$(
        impl $law {
            /// Lower limit.
            #[inline]
            #[must_use]
            pub fn lower(&self) -> f64 {
                self.lower
            }

            /// Upper limit.
            #[inline]
            #[must_use]
            pub fn upper(&self) -> f64 {
                self.upper
            }
        }
    )+};
}
limits!(
    Rectangular,
    Triangular,
    Trapezoidal,
    CurvilinearTrapezoid,
    Arcsine,
    Beta
);

/// What those say that are symmetric between them.
macro_rules! midpoints {
    ($($law:ty),+) => {$(
        impl $law {
            /// Middle between the limits.
            #[inline]
            #[must_use]
            pub fn midpoint(&self) -> f64 {
                middle(self.lower, self.upper)
            }

            /// Half of the distance of the limits.
            #[inline]
            #[must_use]
            pub fn half_width(&self) -> f64 {
                0.5 * (self.upper - self.lower)
            }
        }
    )+};
}
midpoints!(Rectangular, Trapezoidal, CurvilinearTrapezoid, Arcsine);

/// Middle of an interval, without overflow on the way.
#[inline(always)]
pub(super) fn middle(lower: f64, upper: f64) -> f64 {
    0.5 * lower + 0.5 * upper
}

/// Whether the two sides of a law are equally long, but for the rounding of the three places they come from.
///
/// Ends such as 0.1, 0.2 and 0.3 are not exactly as far apart as they look; an asymmetry that small cannot be told
/// from one, as long as it is also small against the law itself.
pub(super) fn balanced(lower: f64, centre: f64, upper: f64) -> bool {
    let largest = lower.abs().max(centre.abs()).max(upper.abs());
    let slack = (4.0 * f64::EPSILON * largest).min(1e-9 * (upper - lower));
    ((centre - lower) - (upper - centre)).abs() <= slack
}

/// sin(x)/x.
#[inline]
pub(super) fn sinc(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { float::sin(x) / x }
}

/// A complex number turned by an angle: what shifting a law does to its characteristic function.
#[inline]
pub(super) fn turned(angle: f64, (re, im): (f64, f64)) -> (f64, f64) {
    let (sin, cos) = float::sin_cos(angle);
    (re * cos - im * sin, re * sin + im * cos)
}

/// Root of an increasing function between `lo` and `hi`, from a start between them.
///
/// `f` gives value and slope. A Newton step is taken where it stays inside the bracket, and the bracket is halved
/// otherwise (by ratio while it spans more than a factor of 4, because tails are places where ratios count).
pub(super) fn increasing_root(
    mut f: impl FnMut(f64) -> (f64, f64),
    mut lo: f64,
    mut hi: f64,
    start: f64,
) -> f64 {
    let mut x = start;
    // Newton needs about ten steps; the cap is for a function that is flat in floating point.
    for _ in 0..200 {
        let (value, slope) = f(x);
        if value < 0.0 {
            lo = x;
        } else if value > 0.0 {
            hi = x;
        } else {
            return x;
        }
        let step = x - value / slope;
        let next = if step > lo && step < hi {
            step
        } else if lo > 0.0 && hi > 4.0 * lo {
            lo.sqrt() * hi.sqrt()
        } else {
            middle(lo, hi)
        };
        if (next - x).abs() <= f64::EPSILON * x.abs() {
            return next;
        }
        x = next;
    }
    x
}
