//! Interval arithmetic with ends rounded outward: what comes out holds every value that the inputs allow.
//!
//! Sums, products, quotients and roots are rounded as tightly as `f64` can show: an exact end stays exact. The elementary functions of `libm` are
//! within one unit in the last place of the true value; their ends are moved out by two, so that neither the true value nor a value
//! that `libm` gives for a point inside can lie outside.

mod elementary;
mod rounding;

use rounding::{down, quotient, up};
use std::ops::{Add, Mul, Neg, Sub};

/// A closed interval of real numbers. An end may be infinite, none is NaN, and `lo <= hi`.
///
/// A function that is not defined all over the interval gives `None`.
///
/// ```
/// use kerfwise_numeric::interval::Interval;
/// let travel = Interval::new(0.37, 0.38).expect("in order");
/// let kerf = Interval::new(0.125, 0.126).expect("in order");
/// let left = travel - kerf;
/// assert!(left.contains(0.37 - 0.126) && left.contains(0.38 - 0.125) && left.width() < 0.011_000_1);
/// assert!((travel / Interval::new(-1.0, 1.0).expect("in order")).is_none());
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    lo: f64,
    hi: f64,
}

impl Interval {
    /// All real numbers.
    pub const ENTIRE: Self = Self {
        lo: f64::NEG_INFINITY,
        hi: f64::INFINITY,
    };

    /// From `lo` to `hi`; `None` when they are in the wrong order, NaN, or both the same infinity.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// assert!(Interval::new(2.0, 1.0).is_none());
    /// ```
    #[must_use]
    pub fn new(lo: f64, hi: f64) -> Option<Self> {
        (lo <= hi && lo < f64::INFINITY && hi > f64::NEG_INFINITY).then_some(Self { lo, hi })
    }

    /// The one number `x`; `None` when it is not finite.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// assert_eq!(Interval::point(0.5), Interval::new(0.5, 0.5));
    /// ```
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
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(0.25, 0.75).expect("in order");
    /// assert_eq!(x.width(), 0.5);
    /// ```
    #[must_use]
    pub fn width(self) -> f64 {
        up(crate::dd::two_sum(self.hi, -self.lo))
    }

    /// A finite number in the interval, in the middle if both ends are finite.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(0.25, 0.75).expect("in order");
    /// assert_eq!(x.midpoint(), 0.5);
    /// ```
    #[must_use]
    pub fn midpoint(self) -> f64 {
        let (lo, hi) = (self.lo.max(f64::MIN), self.hi.min(f64::MAX));
        (0.5 * lo + 0.5 * hi).clamp(lo, hi)
    }

    /// Whether it holds `x`.
    #[must_use]
    pub fn contains(self, x: f64) -> bool {
        self.lo <= x && x <= self.hi
    }

    /// What both hold; `None` when they have nothing in common.
    #[must_use]
    pub fn intersect(self, other: Self) -> Option<Self> {
        Self::new(self.lo.max(other.lo), self.hi.min(other.hi))
    }

    /// The two parts left and right of the midpoint, which is in both.
    #[must_use]
    pub fn split(self) -> (Self, Self) {
        let middle = self.midpoint();
        (
            Self {
                lo: self.lo,
                hi: middle,
            },
            Self {
                lo: middle,
                hi: self.hi,
            },
        )
    }

    /// Absolute value.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(-3.0, 1.0).expect("in order");
    /// assert_eq!(x.abs(), Interval::new(0.0, 3.0).expect("in order"));
    /// ```
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

    /// The smaller of a number from here and a number from there.
    #[must_use]
    pub fn min(self, other: Self) -> Self {
        Self {
            lo: self.lo.min(other.lo),
            hi: self.hi.min(other.hi),
        }
    }

    /// The larger of a number from here and a number from there.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self {
            lo: self.lo.max(other.lo),
            hi: self.hi.max(other.hi),
        }
    }

    /// From the smallest to the largest of four rounded results.
    fn around(results: [crate::dd::Dd; 4]) -> Self {
        let lo = results.map(down).into_iter().fold(f64::INFINITY, f64::min);
        let hi = results
            .map(up)
            .into_iter()
            .fold(f64::NEG_INFINITY, f64::max);
        Self { lo, hi }
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
        Self {
            lo: down(crate::dd::two_sum(self.lo, other.lo)),
            hi: up(crate::dd::two_sum(self.hi, other.hi)),
        }
    }
}

impl Sub for Interval {
    type Output = Self;

    fn sub(self, other: Self) -> Self {
        self + -other
    }
}

impl Mul for Interval {
    type Output = Self;

    fn mul(self, other: Self) -> Self {
        let Self { lo, hi } = self;
        Self::around([
            rounding::product(lo, other.lo),
            rounding::product(lo, other.hi),
            rounding::product(hi, other.lo),
            rounding::product(hi, other.hi),
        ])
    }
}

impl std::ops::Div for Interval {
    /// `None` when the divisor holds 0.
    type Output = Option<Self>;

    fn div(self, other: Self) -> Option<Self> {
        if other.contains(0.0) {
            return None;
        }
        let Self { lo, hi } = self;
        Some(Self::around([
            quotient(lo, other.lo),
            quotient(lo, other.hi),
            quotient(hi, other.lo),
            quotient(hi, other.hi),
        ]))
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn interval(lo: f64, hi: f64) -> Interval {
        Interval::new(lo, hi).expect("a test interval in order")
    }

    /// Numbers of every size, and some that are trouble.
    fn number() -> impl Strategy<Value = f64> {
        prop_oneof![
            4 => -100.0..100.0,
            2 => prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO,
            1 => prop::sample::select(vec![0.0, -0.0, 1.0, -1.0, 0.1, f64::MAX, f64::MIN, f64::MIN_POSITIVE, 5e-324, 1e-300, 1e300]),
        ]
    }

    /// An interval and a point in it.
    fn with_point() -> impl Strategy<Value = (Interval, f64)> {
        (number(), number(), 0.0..=1.0).prop_map(|(a, b, share): (f64, f64, f64)| {
            let (a, b) = (a.min(b), a.max(b));
            (interval(a, b), ((1.0 - share) * a + share * b).clamp(a, b))
        })
    }

    #[test]
    fn what_is_not_an_interval_is_refused() {
        assert!(Interval::new(1.0, 0.0).is_none() && Interval::new(f64::NAN, 0.0).is_none());
        assert!(Interval::new(f64::INFINITY, f64::INFINITY).is_none());
        assert!(Interval::point(f64::INFINITY).is_none() && Interval::point(f64::NAN).is_none());
        assert!(Interval::new(f64::NEG_INFINITY, f64::INFINITY) == Some(Interval::ENTIRE));
    }

    #[test]
    fn exact_results_stay_exact() {
        let x = interval(0.25, 0.5);
        assert_eq!(x + interval(1.0, 2.0), interval(1.25, 2.5));
        assert_eq!(x - x, interval(-0.25, 0.25));
        assert_eq!(x * interval(-3.0, 4.0), interval(-1.5, 2.0));
        assert_eq!(x / interval(-2.0, -1.0), Some(interval(-0.5, -0.125)));
        assert_eq!((x.width(), x.midpoint()), (0.25, 0.375));
        // One tenth is not an f64: the sum of three is rounded outward, by one step each.
        let tenth = interval(0.1, 0.1);
        let three = tenth + tenth + tenth;
        assert!(three.contains(0.3) && three.width() <= f64::EPSILON);
    }

    #[test]
    fn infinite_ends() {
        let positive = interval(1.0, f64::INFINITY);
        assert_eq!(positive + interval(-1.0, 0.0), interval(0.0, f64::INFINITY));
        assert_eq!(positive * interval(0.0, 1.0), interval(0.0, f64::INFINITY));
        assert_eq!(interval(1.0, 2.0) / positive, Some(interval(0.0, 2.0)));
        assert_eq!(Interval::ENTIRE - Interval::ENTIRE, Interval::ENTIRE);
        assert_eq!(Interval::ENTIRE.midpoint(), 0.0);
        let big = interval(f64::MAX, f64::MAX);
        assert_eq!(big + big, interval(f64::MAX, f64::INFINITY));
        assert!(
            (interval(1.0, f64::INFINITY) / positive)
                .is_some_and(|q| q == interval(0.0, f64::INFINITY))
        );
    }

    #[test]
    fn sets() {
        let (x, y) = (interval(0.0, 2.0), interval(1.0, 3.0));
        assert_eq!(x.intersect(y), Some(interval(1.0, 2.0)));
        assert_eq!(x.intersect(interval(5.0, 6.0)), None);
        assert_eq!(
            (x.min(y), x.max(y)),
            (interval(0.0, 2.0), interval(1.0, 3.0))
        );
        assert_eq!(interval(-3.0, 1.0).abs(), interval(0.0, 3.0));
        assert_eq!(interval(-3.0, -1.0).abs(), interval(1.0, 3.0));
    }

    proptest! {
        #[test]
        fn operations_contain_their_points((x, a) in with_point(), (y, b) in with_point()) {
            // A rounded result of points is in the interval: its bounds are rounded outward from the same or farther numbers.
            prop_assert!((x + y).contains(a + b) || (a + b).is_infinite());
            prop_assert!((x - y).contains(a - b) || (a - b).is_infinite());
            prop_assert!((x * y).contains(a * b) || (a * b).is_infinite());
            if let Some(q) = x / y {
                prop_assert!(q.contains(a / b) || (a / b).is_infinite(), "{:?}", q);
            }
            prop_assert!((-x).contains(-a) && x.abs().contains(a.abs()));
            prop_assert!(x.min(y).contains(a.min(b)) && x.max(y).contains(a.max(b)));
        }

        #[test]
        fn no_result_is_nan_or_upside_down((x, _) in with_point(), (y, _) in with_point()) {
            for z in [Some(x + y), Some(x - y), Some(x * y), x / y, Some(x.square()), x.sqrt(), x.powi(5), x.powi(-4)] {
                prop_assert!(z.is_none_or(|z| z.lo() <= z.hi()), "{:?}", z);
            }
        }

        // Sums of numbers with few bits are exact in i64: the bounds must be the very numbers.
        #[test]
        fn bounds_are_as_tight_as_can_be(a in -(1_i64 << 52)..1 << 52, b in -(1_i64 << 52)..1 << 52, k in 0_i32..30) {
            let scale = f64::from(1 << k);
            let (x, y) = (a as f64 * scale, b as f64);
            let exact = i128::from(a) * (1 << k) + i128::from(b);
            let sum = interval(x, x) + interval(y, y);
            let is_f64 = (exact as f64) as i128 == exact;
            prop_assert_eq!(sum.width() == 0.0, is_f64);
            prop_assert!(sum.lo() as i128 <= exact && exact <= sum.hi() as i128);
            prop_assert!(is_f64 || sum.hi() == sum.lo().next_up());
        }

        #[test]
        fn products_enclose_the_exact_product(a in -(1_i64 << 53)..1 << 53, b in -(1_i64 << 53)..1 << 53) {
            let product = interval(a as f64, a as f64) * interval(b as f64, b as f64);
            let exact = i128::from(a) * i128::from(b);
            prop_assert!(product.lo() as i128 <= exact && exact <= product.hi() as i128);
            prop_assert!(product.lo() == product.hi() || product.hi() == product.lo().next_up());
        }

        #[test]
        fn halves_join((x, a) in with_point()) {
            let (left, right) = x.split();
            prop_assert_eq!((left.lo(), left.hi(), right.hi()), (x.lo(), right.lo(), x.hi()));
            prop_assert!(left.contains(a) || right.contains(a));
            prop_assert!(x.contains(x.midpoint()) && x.width() >= x.hi() - x.lo());
        }
    }
}
