//! Double-double numbers: sums of two `f64` that carry about 32 digits.
//!
//! An exponential turns the absolute error of its exponent into a relative error of its value: at e^-700 an exponent
//! rounded to one `f64` costs 1e-13. Exponents of far tails, and Legendre nodes, are therefore formed here.
//! Algorithms: Dekker (1971) for products, Knuth for sums; all operations are exact `f64` arithmetic, no fused multiply.

use crate::float;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// An unevaluated sum `hi + lo` with `|lo|` at most half a unit in the last place of `hi`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Dd {
    pub(crate) hi: f64,
    pub(crate) lo: f64,
}

/// Sum of `a` and `b` with its rounding error, exactly.
#[inline]
pub(crate) const fn two_sum(a: f64, b: f64) -> Dd {
    let hi = a + b;
    let b_part = hi - a;
    Dd {
        hi,
        lo: (a - (hi - b_part)) + (b - b_part),
    }
}

/// As [`two_sum`], where `|a| >= |b|` is known.
#[inline]
const fn quick_two_sum(a: f64, b: f64) -> Dd {
    let hi = a + b;
    Dd {
        hi,
        lo: b - (hi - a),
    }
}

/// Product of `a` and `b` with its rounding error; exact while neither the product's parts underflow nor a factor
/// is above 1e300.
#[inline]
pub(crate) const fn two_prod(a: f64, b: f64) -> Dd {
    const SPLITTER: f64 = 134_217_729.0; // 2^27 + 1
    let (ta, tb) = (SPLITTER * a, SPLITTER * b);
    let (a_hi, b_hi) = (ta - (ta - a), tb - (tb - b));
    let (a_lo, b_lo) = (a - a_hi, b - b_hi);
    let hi = a * b;
    Dd {
        hi,
        lo: ((a_hi * b_hi - hi) + a_hi * b_lo + a_lo * b_hi) + a_lo * b_lo,
    }
}

impl Dd {
    pub(crate) const ONE: Self = Self::new(1.0);

    #[inline]
    pub(crate) const fn new(x: f64) -> Self {
        Self { hi: x, lo: 0.0 }
    }

    #[inline]
    const fn plus(self, other: Self) -> Self {
        let high = two_sum(self.hi, other.hi);
        let low = two_sum(self.lo, other.lo);
        let sum = quick_two_sum(high.hi, high.lo + low.hi);
        quick_two_sum(sum.hi, sum.lo + low.lo)
    }

    #[inline]
    const fn times(self, other: Self) -> Self {
        let product = two_prod(self.hi, other.hi);
        quick_two_sum(
            product.hi,
            product.lo + (self.hi * other.lo + self.lo * other.hi),
        )
    }

    #[inline]
    const fn over(self, other: Self) -> Self {
        let first = self.hi / other.hi;
        let rest = self.plus(other.times(Self::new(-first)));
        let second = rest.hi / other.hi;
        let rest = rest.plus(other.times(Self::new(-second)));
        let third = rest.hi / other.hi;
        quick_two_sum(first, second).plus(Self::new(third))
    }

    /// Times a power of two, which is exact.
    #[inline]
    const fn scaled(self, power_of_two: f64) -> Self {
        Self {
            hi: self.hi * power_of_two,
            lo: self.lo * power_of_two,
        }
    }

    /// Square root of a number that is not negative.
    #[inline]
    pub(crate) fn sqrt(self) -> Self {
        if self.hi <= 0.0 {
            return Self::new(0.0);
        }
        let root = self.hi.sqrt();
        let rest = self - two_prod(root, root);
        quick_two_sum(root, rest.hi / (2.0 * root))
    }

    /// Natural logarithm of a number above 0, to about 1e-31 of the larger of itself and the number's distance
    /// from 1.
    pub(crate) fn ln(self) -> Self {
        if self.hi <= 0.0 || !self.hi.is_finite() {
            return Self::new(float::ln(self.hi));
        }
        // Outside 1e-290..1e290 the exponent below, its inverse or an exact product is no normal number.
        if !(1e-290..=1e290).contains(&self.hi) {
            let away = if self.hi < 1.0 { 128 } else { -128 };
            return self.scaled(power_of_two(away)).ln() - LN_2 * f64::from(away);
        }
        // The number is 2^k times m with m near 1, and m is near j/64 whose logarithm the compiler has tabulated.
        let mut k = ((self.hi.to_bits() >> 52) as i32) - 1023;
        let mut m = self.scaled(power_of_two(-k));
        if m.hi > std::f64::consts::SQRT_2 {
            m = m.scaled(0.5);
            k += 1;
        }
        let j = (m.hi * 64.0 + 0.5) as usize;
        let near = Self::new(j as f64 / 64.0);
        let fine = atanh_twice((m - near) / (m + near));
        LN_2 * f64::from(k) + (LN_64THS[j - FIRST_64TH] + fine)
    }

    /// Natural logarithm of 1 + self, for self > -1, to about 1e-31 of itself.
    pub(crate) fn ln_1p(self) -> Self {
        if self.hi.abs() < 1.0 / 64.0 {
            atanh_twice(self / (self + 2.0))
        } else {
            (self + 1.0).ln()
        }
    }

    /// e to this power, rounded once more than [`float::exp`].
    #[inline]
    pub(crate) fn exp(self) -> f64 {
        let e = float::exp(self.hi);
        if e.is_finite() { e + e * self.lo } else { e }
    }
}

/// 2^k for a k of a normal number.
#[inline]
const fn power_of_two(k: i32) -> f64 {
    f64::from_bits(((k + 1023) as u64) << 52)
}

/// 2 artanh(s) = ln((1+s)/(1-s)) for |s| < 1/100.
#[inline]
fn atanh_twice(s: Dd) -> Dd {
    let square = s * s;
    let x = square.hi;
    // Terms from s^9 on are below 1e-17 of the sum, so they need one f64 only.
    let far = 1.0 / 9.0 + x * (1.0 / 11.0 + x * (1.0 / 13.0 + x * (1.0 / 15.0 + x * (1.0 / 17.0))));
    let series = FIFTH + square * (SEVENTH + x * far);
    let series = square * (THIRD + square * series);
    (s + s * series).scaled(2.0)
}

const THIRD: Dd = Dd::ONE.over(Dd::new(3.0));
const FIFTH: Dd = Dd::ONE.over(Dd::new(5.0));
const SEVENTH: Dd = Dd::ONE.over(Dd::new(7.0));

/// Logarithm of a ratio of small whole numbers within 1/2..=2, by the artanh series; only the compiler runs this.
const fn ln_ratio(numerator: u32, denominator: u32) -> Dd {
    let (n, d) = (numerator as f64, denominator as f64);
    let s = Dd::new(n - d).over(Dd::new(n + d));
    let square = s.times(s);
    let mut power = s;
    let mut total = s;
    let mut k = 3.0;
    // The largest s is 1/3: 36 terms reach 1e-35.
    while k < 75.0 {
        power = power.times(square);
        total = total.plus(power.over(Dd::new(k)));
        k += 2.0;
    }
    total.scaled(2.0)
}

const LN_2: Dd = ln_ratio(2, 1);
const FIRST_64TH: usize = 45;
/// ln(j/64) for j = 45..=91, which covers sqrt(1/2)..sqrt(2).
const LN_64THS: [Dd; 47] = {
    let mut table = [Dd::new(0.0); 47];
    let mut i = 0;
    while i < 47 {
        table[i] = ln_ratio((FIRST_64TH + i) as u32, 64);
        i += 1;
    }
    table
};

impl From<f64> for Dd {
    #[inline]
    fn from(x: f64) -> Self {
        Self::new(x)
    }
}

impl Neg for Dd {
    type Output = Self;
    #[inline]
    fn neg(self) -> Self {
        Self {
            hi: -self.hi,
            lo: -self.lo,
        }
    }
}

impl<T: Into<Self>> Add<T> for Dd {
    type Output = Self;
    #[inline]
    fn add(self, other: T) -> Self {
        self.plus(other.into())
    }
}

impl<T: Into<Self>> Sub<T> for Dd {
    type Output = Self;
    #[inline]
    fn sub(self, other: T) -> Self {
        self.plus(-other.into())
    }
}

impl<T: Into<Self>> Mul<T> for Dd {
    type Output = Self;
    #[inline]
    fn mul(self, other: T) -> Self {
        self.times(other.into())
    }
}

impl<T: Into<Self>> Div<T> for Dd {
    type Output = Self;
    #[inline]
    fn div(self, other: T) -> Self {
        self.over(other.into())
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    // Computed with mpmath at 50 digits: x, ln x as a sum of two f64.
    #[expect(clippy::approx_constant, reason = "the very numbers to compare with")]
    const LOGARITHMS: [(f64, f64, f64); 6] = [
        (2.0, 0.693_147_180_559_945_3, 2.319_046_813_846_299_6e-17),
        (0.1, -2.302_585_092_994_045_5, -1.715_024_362_805_798_5e-16),
        (
            1.000_000_1,
            9.999_999_505_838_704e-8,
            1.524_970_952_844_148_9e-24,
        ),
        (
            0.999,
            -0.001_000_500_333_583_534_4,
            -2.564_477_700_367_779_8e-20,
        ),
        (1.0e-250, -575.646_273_248_511_4, -7.441_568_995_976_443e-16),
        (7.25e100, 232.239_510_768_271_15, 6.285_803_779_840_972e-15),
    ];
    // x, ln(1+x).
    const LOGARITHMS_1P: [(f64, f64, f64); 4] = [
        (1.0e-20, 1.0e-20, -5.0e-41),
        (-0.01, -0.010_050_335_853_501_442, 5.217_955_755_566_742e-19),
        (0.02, 0.019_802_627_296_179_712, 1.004_741_232_433_178_3e-18),
        (3.5, 1.504_077_396_776_274_2, -9.359_411_037_597_794e-17),
    ];

    fn assert_near(got: Dd, hi: f64, lo: f64, what: f64) {
        let off = (got.hi - hi) + (got.lo - lo);
        // because: the claim of the two functions
        assert!(
            off.abs() <= 1e-30 * hi.abs().max(0.01 * what.abs()),
            "{what}: off by {off:e}"
        );
    }

    #[test]
    fn logarithms_have_thirty_digits() {
        for (x, hi, lo) in LOGARITHMS {
            assert_near(Dd::new(x).ln(), hi, lo, x.min(1.0));
        }
        for (x, hi, lo) in LOGARITHMS_1P {
            assert_near(Dd::new(x).ln_1p(), hi, lo, x);
        }
        assert_eq!(Dd::ONE.ln(), Dd::new(0.0));
    }

    #[test]
    fn logarithms_at_the_ends_of_the_range() {
        for x in [5e-324, 1e-300, 1e300, f64::MAX] {
            // because: `float::ln` is within one unit
            assert!((Dd::new(x).ln().hi - float::ln(x)).abs() <= 2.3e-13);
        }
        assert_eq!(Dd::new(0.0).ln().hi, f64::NEG_INFINITY);
        assert_eq!(Dd::new(f64::INFINITY).ln().hi, f64::INFINITY);
        assert!(Dd::new(-1.0).ln().hi.is_nan() && Dd::new(f64::NAN).ln().hi.is_nan());
    }

    #[test]
    fn a_far_exponential_keeps_its_digits() {
        // ln of a product near e^-700, from the parts: exact to one rounding, where one f64 would give 1e-13.
        let exponent = Dd::new(3.0).ln() * -637.0;
        let mut product = 1.0;
        for _ in 0..637 {
            product /= 3.0;
        }
        // because: 637 roundings of the product
        assert!((exponent.exp() / product - 1.0).abs() < 637.0 * 1.2e-16);
    }

    proptest! {
        // Whole numbers of 53 bits: i128 holds sums and products exactly.
        #[test]
        fn sums_and_products_are_exact(a in -(1_i64 << 53)..1 << 53, b in -(1_i64 << 53)..1 << 53) {
            let exactly = |d: Dd| d.hi as i128 + d.lo as i128;
            prop_assert_eq!(exactly(two_sum(a as f64, b as f64)), i128::from(a) + i128::from(b));
            prop_assert_eq!(exactly(two_prod(a as f64, b as f64)), i128::from(a) * i128::from(b));
        }

        #[test]
        fn quotients_and_roots_come_back(a in 1e-3..1e3, b in 1e-3..1e3, c in -1e-17..1e-17) {
            let x = two_sum(a, a * c);
            let y = two_sum(b, -b * c);
            let off = x / y * y - x;
            prop_assert!(off.hi.abs() <= 1e-30 * a);
            let off = x.sqrt() * x.sqrt() - x;
            prop_assert!(off.hi.abs() <= 1e-30 * a);
            let off = (x * y).ln() - x.ln() - y.ln();
            prop_assert!(off.hi.abs() <= 1e-29);
        }
    }
}
