//! Powers, roots, exponentials and trigonometric functions of intervals.

use super::Interval;
use super::rounding::{down, product, square_root, up};
use crate::float;
use std::f64::consts::FRAC_1_PI;

/// Two units in the last place further out.
fn outward(lo: f64, hi: f64) -> Interval {
    Interval {
        lo: lo.next_down().next_down(),
        hi: hi.next_up().next_up(),
    }
}

/// Beyond this, where a sine or cosine stands in its period is taken as not known.
const LARGEST_ANGLE: f64 = 1e9;

impl Interval {
    /// x times x, both being the same x: never below 0, unlike the product of two intervals.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(-1.0, 2.0).expect("in order");
    /// assert_eq!((x.square().lo(), x.square().hi()), (0.0, 4.0));
    /// assert_eq!((x * x).lo(), -2.0);
    /// ```
    #[must_use]
    pub fn square(self) -> Self {
        let a = self.abs();
        Self {
            lo: down(product(a.lo, a.lo)).max(0.0),
            hi: up(product(a.hi, a.hi)),
        }
    }

    /// x to the whole power `n`, 1 for n = 0; `None` when n is negative and the interval holds 0.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(-2.0, 1.0).expect("in order");
    /// assert_eq!(x.powi(2), Interval::new(0.0, 4.0));
    /// assert_eq!(x.powi(-1), None);
    /// ```
    #[must_use]
    pub fn powi(self, n: i32) -> Option<Self> {
        let base = if n % 2 == 0 { self.abs() } else { self };
        if n >= 0 {
            let (lo, hi) = (
                power_bounds(base.lo, n.unsigned_abs()),
                power_bounds(base.hi, n.unsigned_abs()),
            );
            return Some(Self {
                lo: lo.lo,
                hi: hi.hi,
            });
        }
        // A subnormal or vanished power has too few digits to divide by: reciprocal first.
        let one = Self { lo: 1.0, hi: 1.0 };
        let inverse = (one / base)?;
        let (lo, hi) = (
            power_bounds(inverse.lo, n.unsigned_abs()),
            power_bounds(inverse.hi, n.unsigned_abs()),
        );
        Some(Self {
            lo: lo.lo,
            hi: hi.hi,
        })
    }

    /// Square root; `None` when part of the interval is below 0.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let root = Interval::new(4.0, 9.0).expect("in order").sqrt().expect("not negative");
    /// assert_eq!((root.lo(), root.hi()), (2.0, 3.0)); // exact ends stay exact
    /// ```
    #[must_use]
    pub fn sqrt(self) -> Option<Self> {
        (self.lo >= 0.0).then(|| Self {
            lo: down(square_root(self.lo)).max(0.0),
            hi: up(square_root(self.hi)),
        })
    }

    /// e to the power x.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(0.0, 1.0).expect("in order");
    /// assert!(x.exp().contains(1.0) && x.exp().contains(std::f64::consts::E) && x.exp().width() < 1.718_282);
    /// ```
    #[must_use]
    pub fn exp(self) -> Self {
        let out = outward(float::exp(self.lo), float::exp(self.hi));
        Self {
            lo: out.lo.max(0.0),
            hi: out.hi,
        }
    }

    /// Natural logarithm; `None` unless all of the interval is above 0.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(1.0, 10.0).expect("in order");
    /// assert!(x.ln().is_some_and(|l| l.contains(std::f64::consts::LN_10) && l.width() < 2.302_586));
    /// ```
    #[must_use]
    pub fn ln(self) -> Option<Self> {
        (self.lo > 0.0).then(|| outward(float::ln(self.lo), float::ln(self.hi)))
    }

    /// Sine of an angle in radians.
    ///
    /// Tight for angles within a billion radians, all of [-1, 1] beyond.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let sine = Interval::new(1.0, 2.0).expect("in order").sin(); // holds pi/2
    /// assert_eq!(sine.hi(), 1.0);
    /// assert!((sine.lo() - 1.0_f64.sin()).abs() < 1e-15);
    /// ```
    #[must_use]
    pub fn sin(self) -> Self {
        self.wave(float::sin, 0.5)
    }

    /// Cosine of an angle in radians, as tight as [`sin`](Self::sin).
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(-0.1, 0.2).expect("in order");
    /// assert_eq!(x.cos().hi(), 1.0);
    /// ```
    #[must_use]
    pub fn cos(self) -> Self {
        self.wave(float::cos, 0.0)
    }

    /// A wave whose tops and bottoms lie at (k + offset) pi, for even and odd k.
    fn wave(self, f: impl Fn(f64) -> f64, offset: f64) -> Self {
        let all = Self { lo: -1.0, hi: 1.0 };
        let Some((first, last)) = self.half_turns(offset) else {
            return all;
        };
        if last > first {
            return all;
        }
        let (a, b) = (f(self.lo), f(self.hi));
        let mut out = outward(a.min(b), a.max(b));
        if first <= last {
            // Just one.
            if first % 2.0 == 0.0 {
                out.hi = 1.0;
            } else {
                out.lo = -1.0;
            }
        }
        Self {
            lo: out.lo.max(-1.0),
            hi: out.hi.min(1.0),
        }
    }

    /// The first and last k with (k + offset) pi in the interval, or nearer to it than rounding can tell; the first is above the last when
    /// there is none. `None` for angles too large.
    fn half_turns(self, offset: f64) -> Option<(f64, f64)> {
        let largest = self.lo.abs().max(self.hi.abs());
        if largest > LARGEST_ANGLE {
            return None;
        }
        // x/pi has two rounding errors; a few more do no harm.
        let slack = 8.0 * f64::EPSILON * (largest * FRAC_1_PI + 1.0);
        let first = (self.lo * FRAC_1_PI - offset - slack).ceil();
        let last = (self.hi * FRAC_1_PI - offset + slack).floor();
        Some((first, last))
    }

    /// Tangent of an angle in radians; `None` when a pole is in the interval or as near as rounding can tell, or the angle is above a billion.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(1.0, 2.0).expect("in order");
    /// assert_eq!(x.tan(), None); // pi/2
    /// ```
    #[must_use]
    pub fn tan(self) -> Option<Self> {
        let (first, last) = self.half_turns(0.5)?;
        (first > last).then(|| outward(float::tan(self.lo), float::tan(self.hi)))
    }

    /// Inverse sine, in radians; `None` unless all of the interval is within [-1, 1].
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(0.0, 1.0).expect("in order");
    /// assert!(x.asin().is_some_and(|a| a.contains(std::f64::consts::FRAC_PI_2)));
    /// ```
    #[must_use]
    pub fn asin(self) -> Option<Self> {
        (self.lo >= -1.0 && self.hi <= 1.0)
            .then(|| outward(float::asin(self.lo), float::asin(self.hi)))
    }

    /// Inverse cosine, in radians; `None` unless all of the interval is within [-1, 1].
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(-1.0, 1.0).expect("in order");
    /// assert!(x.acos().is_some_and(|a| a.lo() == 0.0 && a.contains(std::f64::consts::PI)));
    /// ```
    #[must_use]
    pub fn acos(self) -> Option<Self> {
        (self.lo >= -1.0 && self.hi <= 1.0).then(|| {
            let out = outward(float::acos(self.hi), float::acos(self.lo));
            Self {
                lo: out.lo.max(0.0),
                hi: out.hi,
            }
        })
    }

    /// Inverse tangent, in radians.
    ///
    /// ```
    /// use kerfwise_numeric::interval::Interval;
    /// let x = Interval::new(0.0, 1.0).expect("in order");
    /// assert!(x.atan().contains(std::f64::consts::FRAC_PI_4) && x.atan().width() < 0.785_399);
    /// ```
    #[must_use]
    pub fn atan(self) -> Self {
        outward(float::atan(self.lo), float::atan(self.hi))
    }
}

/// Bounds of x^n, by repeated squaring of bounds of |x|.
fn power_bounds(x: f64, n: u32) -> Interval {
    let mut base = Interval {
        lo: x.abs(),
        hi: x.abs(),
    };
    let mut power = Interval { lo: 1.0, hi: 1.0 };
    let times = |a: Interval, b: Interval| Interval {
        lo: down(product(a.lo, b.lo)).max(0.0),
        hi: up(product(a.hi, b.hi)),
    };
    let mut left = n;
    while left > 0 {
        if left & 1 == 1 {
            power = times(power, base);
        }
        left >>= 1;
        if left > 0 {
            base = times(base, base);
        }
    }
    if x < 0.0 && n % 2 == 1 { -power } else { power }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::super::rounding::quotient;
    use super::*;
    use crate::dd::Dd;
    use proptest::prelude::*;

    fn interval(lo: f64, hi: f64) -> Interval {
        Interval::new(lo, hi).expect("a test interval in order")
    }

    /// An interval and a point in it.
    fn with_point(lo: f64, hi: f64) -> impl Strategy<Value = (Interval, f64)> {
        (lo..hi, lo..hi, 0.0..=1.0).prop_map(|(a, b, share): (f64, f64, f64)| {
            let (a, b) = (a.min(b), a.max(b));
            (interval(a, b), (a + share * (b - a)).clamp(a, b))
        })
    }

    // True values computed with mpmath at 40 digits, rounded to f64: the bounds must enclose them and be near.
    #[test]
    fn points_enclose_the_true_value_tightly() {
        type Function = fn(Interval) -> Option<Interval>;
        let table: [(Function, f64, f64); 12] = [
            (|x| Some(x.exp()), 1.0, std::f64::consts::E),
            (|x| Some(x.exp()), -700.25, 7.678_723_813_110_872e-305),
            (Interval::ln, 0.1, -2.302_585_092_994_045_5),
            (|x| Some(x.sin()), 3.0, 0.141_120_008_059_867_2),
            (|x| Some(x.sin()), 1e8, 0.931_639_027_109_726),
            (
                |x| Some(x.cos()),
                std::f64::consts::FRAC_PI_2,
                6.123_233_995_736_766e-17,
            ),
            (Interval::tan, 1.5, 14.101_419_947_171_719),
            (Interval::asin, 0.99, 1.429_256_853_470_469_3),
            (Interval::acos, 0.99, 0.141_539_473_324_427_3),
            (|x| Some(x.atan()), -1e6, -1.570_795_326_794_896_6),
            (|x| x.powi(7), 1.1, 1.948_717_100_000_001_2),
            (|x| x.powi(-3), -0.3, -37.037_037_037_037_04),
        ];
        for (f, x, value) in table {
            let got = f(interval(x, x)).expect("in the domain");
            assert!(got.contains(value), "{x}: {got:?} {value}");
            // because: two units outward on either side, one more for the function's own rounding
            assert!(
                got.width() <= 8.0 * f64::EPSILON * value.abs(),
                "{x}: {got:?}"
            );
        }
    }

    #[test]
    fn domain_faults_are_values() {
        assert!(interval(-1e-300, 1.0).sqrt().is_none());
        assert!(interval(0.0, 1.0).ln().is_none());
        assert!(interval(1.0, 2.0).tan().is_none()); // pi/2
        assert!(
            interval(0.0, 1.000_000_1).asin().is_none() && interval(-1.5, 0.0).acos().is_none()
        );
        assert!(interval(-1.0, 1.0).powi(-2).is_none());
        assert!(Interval::ENTIRE.tan().is_none());
    }

    #[test]
    fn extremes_inside_are_found() {
        assert_eq!(interval(0.0, 7.0).sin(), interval(-1.0, 1.0));
        assert_eq!(interval(-0.5, 0.25).cos().hi(), 1.0);
        assert_eq!(interval(3.0, 3.5).cos().lo(), -1.0);
        assert_eq!(interval(4.0, 5.0).sin().lo(), -1.0);
        assert!(interval(1.0, 1.5).sin().hi() < 0.997_5);
        assert_eq!(Interval::ENTIRE.sin(), interval(-1.0, 1.0));
        assert_eq!(Interval::ENTIRE.exp(), interval(0.0, f64::INFINITY));
        assert_eq!(interval(-2.0, 1.0).powi(2), Some(interval(0.0, 4.0)));
        assert_eq!(interval(-2.0, 1.0).powi(3), Some(interval(-8.0, 1.0)));
        assert_eq!(interval(-2.0, 1.0).powi(0), Some(interval(1.0, 1.0)));
        assert_eq!(interval(-4.0, -2.0).powi(-2), Some(interval(0.0625, 0.25)));
    }

    proptest! {
        #[test]
        fn functions_contain_their_points((x, at) in with_point(-30.0, 30.0)) {
            prop_assert!(x.exp().contains(float::exp(at)));
            prop_assert!(x.sin().contains(float::sin(at)));
            prop_assert!(x.cos().contains(float::cos(at)));
            prop_assert!(x.atan().contains(float::atan(at)));
            prop_assert!(x.square().contains(at * at));
            prop_assert!(x.tan().is_none_or(|t| t.contains(float::tan(at))));
        }

        #[test]
        fn narrow_waves_contain_their_points(start in -1e6..1e6_f64, width in 0.0..2.0, share in 0.0..=1.0_f64) {
            let x = interval(start, start + width);
            let at = f64::clamp(start + share * width, x.lo(), x.hi());
            prop_assert!(x.sin().contains(float::sin(at)) && x.cos().contains(float::cos(at)));
            prop_assert!(x.tan().is_none_or(|t| t.contains(float::tan(at))));
            // No wider than the angle and rounding.
            prop_assert!(x.sin().width() <= width * 1.000_001 + 1e-15);
        }

        #[test]
        fn functions_of_half_lines((x, at) in with_point(0.0, 1e6)) {
            prop_assert!(x.sqrt().is_some_and(|r| r.contains(at.sqrt())));
            prop_assert!(x.lo() == 0.0 || x.ln().is_some_and(|l| l.contains(float::ln(at))));
        }

        #[test]
        fn functions_of_the_unit_interval((x, at) in with_point(-1.0, 1.0)) {
            prop_assert!(x.asin().is_some_and(|y| y.contains(float::asin(at))));
            prop_assert!(x.acos().is_some_and(|y| y.contains(float::acos(at))));
        }

        // Whole numbers: the powers are exact, so the bounds must be the very numbers.
        #[test]
        fn powers_of_whole_numbers(a in -20_i32..20, n in 0_i32..12) {
            let exact = (0..n).fold(1.0, |p, _| p * f64::from(a));
            prop_assert_eq!(interval(f64::from(a), f64::from(a)).powi(n), Some(interval(exact, exact)));
        }

        #[test]
        fn powers_contain_their_points((x, at) in with_point(-3.0, 3.0), n in -9_i32..30) {
            // because: `float::powi` is off by at most 30 roundings
            let slack = 30.0 * f64::EPSILON * float::powi(at, n).abs();
            if let Some(p) = x.powi(n) {
                let y = float::powi(at, n);
                prop_assert!(p.lo() <= y + slack && p.hi() >= y - slack);
            }
        }
    }

    #[test]
    fn roots_and_quotients_are_tight() {
        let third = (interval(1.0, 1.0) / interval(3.0, 3.0)).expect("3 is not 0");
        assert_eq!(third.width(), third.hi() - third.lo());
        assert_eq!(third.hi(), third.lo().next_up());
        assert_eq!(down(quotient(1.0, -3.0)), -third.hi());
        let root = interval(2.0, 2.0).sqrt().expect("not negative");
        assert_eq!(root.hi(), root.lo().next_up());
        assert_eq!(up(Dd::new(1.0)), 1.0);
    }
}
