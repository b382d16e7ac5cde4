//! Outward-rounded interval arithmetic.

use crate::float;
use std::f64::consts::{FRAC_PI_2, PI};
use std::ops::{Add, Mul, Neg, Sub};

/// A closed interval; an end may be infinite, none is NaN.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    lo: f64,
    hi: f64,
}

fn outward(lo: f64, hi: f64, ulps: u32) -> Interval {
    let (mut lo, mut hi) = (lo, hi);
    for _ in 0..ulps {
        lo = lo.next_down();
        hi = hi.next_up();
    }
    Interval { lo, hi }
}

impl Interval {
    /// All real numbers.
    pub const ENTIRE: Self = Self {
        lo: f64::NEG_INFINITY,
        hi: f64::INFINITY,
    };

    /// From `lo` to `hi`; `None` when they are in the wrong order, NaN, or hold no real number.
    #[must_use]
    pub fn new(lo: f64, hi: f64) -> Option<Self> {
        (lo <= hi && lo < f64::INFINITY && hi > f64::NEG_INFINITY).then_some(Self { lo, hi })
    }

    /// One number; `None` when it is not finite.
    #[must_use]
    pub fn point(x: f64) -> Option<Self> {
        x.is_finite().then_some(Self { lo: x, hi: x })
    }

    /// Lower end.
    #[must_use]
    pub const fn lo(self) -> f64 {
        self.lo
    }

    /// Upper end.
    #[must_use]
    pub const fn hi(self) -> f64 {
        self.hi
    }

    /// Upper minus lower end, rounded up.
    #[must_use]
    pub fn width(self) -> f64 {
        if self.lo == self.hi {
            0.0
        } else {
            (self.hi - self.lo).next_up()
        }
    }

    /// A number in the middle.
    #[must_use]
    pub fn midpoint(self) -> f64 {
        0.5 * self.lo + 0.5 * self.hi
    }

    /// Whether it holds x.
    #[must_use]
    pub fn contains(self, x: f64) -> bool {
        self.lo <= x && x <= self.hi
    }

    /// The smallest interval that holds both.
    #[must_use]
    pub fn hull(self, other: Self) -> Self {
        Self {
            lo: self.lo.min(other.lo),
            hi: self.hi.max(other.hi),
        }
    }

    /// What both hold; `None` when nothing.
    #[must_use]
    pub fn intersect(self, other: Self) -> Option<Self> {
        Self::new(self.lo.max(other.lo), self.hi.min(other.hi))
    }

    /// The two halves.
    #[must_use]
    pub fn split(self) -> (Self, Self) {
        let m = self.midpoint();
        (Self { lo: self.lo, hi: m }, Self { lo: m, hi: self.hi })
    }

    /// Quotient; `None` when the divisor holds zero.
    #[must_use]
    #[expect(
        clippy::should_implement_trait,
        reason = "a quotient may not exist, so this is no `Div`"
    )]
    pub fn div(self, other: Self) -> Option<Self> {
        if other.contains(0.0) {
            return None;
        }
        let q = [
            self.lo / other.lo,
            self.lo / other.hi,
            self.hi / other.lo,
            self.hi / other.hi,
        ];
        Some(outward(
            q.into_iter().fold(f64::INFINITY, f64::min),
            q.into_iter().fold(f64::NEG_INFINITY, f64::max),
            1,
        ))
    }

    /// x times x, knowing that both are the same x.
    #[must_use]
    pub fn square(self) -> Self {
        let a = self.abs();
        let out = outward(a.lo * a.lo, a.hi * a.hi, 1);
        Self {
            lo: out.lo.max(0.0),
            hi: out.hi,
        }
    }

    /// x to the whole power n; `None` when n is negative and x may be zero.
    #[must_use]
    pub fn powi(self, n: i32) -> Option<Self> {
        if n < 0 && self.contains(0.0) {
            return None;
        }
        let base = if n % 2 == 0 { self.abs() } else { self };
        let (a, b) = (float::powi(base.lo, n), float::powi(base.hi, n));
        Some(outward(a.min(b), a.max(b), 64))
    }

    /// Square root; `None` when part of the interval is negative.
    #[must_use]
    pub fn sqrt(self) -> Option<Self> {
        (self.lo >= 0.0).then(|| {
            let out = outward(self.lo.sqrt(), self.hi.sqrt(), 1);
            Self {
                lo: out.lo.max(0.0),
                hi: out.hi,
            }
        })
    }

    /// Absolute value.
    #[must_use]
    pub fn abs(self) -> Self {
        if self.lo >= 0.0 {
            self
        } else if self.hi <= 0.0 {
            -self
        } else {
            Self {
                lo: 0.0,
                hi: self.hi.max(-self.lo),
            }
        }
    }

    /// The smaller of two.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self {
            lo: self.lo.min(other.lo),
            hi: self.hi.min(other.hi),
        }
    }

    /// The larger of two.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self {
            lo: self.lo.max(other.lo),
            hi: self.hi.max(other.hi),
        }
    }

    /// e to the power x.
    #[must_use]
    pub fn exp(self) -> Self {
        let out = outward(float::exp(self.lo), float::exp(self.hi), 4);
        Self {
            lo: out.lo.max(0.0),
            hi: out.hi,
        }
    }

    /// Natural logarithm; `None` unless all of the interval is above zero.
    #[must_use]
    pub fn ln(self) -> Option<Self> {
        (self.lo > 0.0).then(|| outward(float::ln(self.lo), float::ln(self.hi), 4))
    }

    /// Sine.
    #[must_use]
    pub fn sin(self) -> Self {
        (self
            - Self {
                lo: FRAC_PI_2.next_down(),
                hi: FRAC_PI_2.next_up(),
            })
        .cos()
    }

    /// Cosine.
    #[must_use]
    pub fn cos(self) -> Self {
        if !(self.hi - self.lo < 6.0 && self.lo.abs() < 1e9 && self.hi.abs() < 1e9) {
            return Self { lo: -1.0, hi: 1.0 };
        }
        let (a, b) = (float::cos(self.lo), float::cos(self.hi));
        let mut out = outward(a.min(b), a.max(b), 4);
        let slack = 1e-6;
        let first = ((self.lo - slack) / PI).ceil();
        let last = ((self.hi + slack) / PI).floor();
        let mut k = first;
        while k <= last {
            let even = k % 2.0 == 0.0;
            if even {
                out.hi = 1.0
            } else {
                out.lo = -1.0
            }
            k += 1.0;
        }
        Self {
            lo: out.lo.max(-1.0),
            hi: out.hi.min(1.0),
        }
    }

    /// Tangent; `None` when the interval may hold a pole.
    #[must_use]
    pub fn tan(self) -> Option<Self> {
        let k = ((self.lo + FRAC_PI_2) / PI).floor();
        let inside = self.lo > (k - 0.5) * PI + 1e-9 && self.hi < (k + 0.5) * PI - 1e-9;
        inside.then(|| outward(float::tan(self.lo), float::tan(self.hi), 4))
    }

    /// Inverse sine; `None` unless all of the interval is within [-1, 1].
    #[must_use]
    pub fn asin(self) -> Option<Self> {
        (self.lo >= -1.0 && self.hi <= 1.0)
            .then(|| outward(float::asin(self.lo), float::asin(self.hi), 4))
    }

    /// Inverse cosine; `None` unless all of the interval is within [-1, 1].
    #[must_use]
    pub fn acos(self) -> Option<Self> {
        (self.lo >= -1.0 && self.hi <= 1.0)
            .then(|| outward(float::acos(self.hi), float::acos(self.lo), 4))
    }

    /// Inverse tangent.
    #[must_use]
    pub fn atan(self) -> Self {
        outward(float::atan(self.lo), float::atan(self.hi), 4)
    }
}

impl Neg for Interval {
    type Output = Self;

    fn neg(self) -> Self {
        Self {
            lo: -self.hi,
            hi: -self.lo,
        }
    }
}

impl Add for Interval {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        outward(self.lo + other.lo, self.hi + other.hi, 1)
    }
}

impl Sub for Interval {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        outward(self.lo - other.hi, self.hi - other.lo, 1)
    }
}

impl Mul for Interval {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let times = |x: f64, y: f64| if x == 0.0 || y == 0.0 { 0.0 } else { x * y };
        let p = [
            times(self.lo, other.lo),
            times(self.lo, other.hi),
            times(self.hi, other.lo),
            times(self.hi, other.hi),
        ];
        outward(
            p.into_iter().fold(f64::INFINITY, f64::min),
            p.into_iter().fold(f64::NEG_INFINITY, f64::max),
            1,
        )
    }
}
