//! Sums of two `f64` that carry about 32 digits, for sums of squares that must not cancel.

use std::ops::{Add, Mul, Sub};

/// An unevaluated sum `hi + lo`, `lo` below half a unit in the last place of `hi` (Dekker 1971).
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Wide {
    hi: f64,
    lo: f64,
}

/// `a + b` with its rounding error, exactly (Knuth).
fn two_sum(a: f64, b: f64) -> Wide {
    let hi = a + b;
    let of_b = hi - a;
    let lo = (a - (hi - of_b)) + (b - of_b);
    Wide { hi, lo }
}

/// `a b` with its rounding error; exact for factors between 1e-140 and 1e290.
fn two_product(a: f64, b: f64) -> Wide {
    let halves = |x: f64| {
        let shifted = 134_217_729.0 * x; // 2^27 + 1
        let high = shifted - (shifted - x);
        (high, x - high)
    };
    let ((a1, a2), (b1, b2)) = (halves(a), halves(b));
    let hi = a * b;
    let lo = ((a1 * b1 - hi) + a1 * b2 + a2 * b1) + a2 * b2;
    Wide { hi, lo }
}

impl Wide {
    /// `a - b`, exactly.
    pub(crate) fn difference(a: f64, b: f64) -> Self {
        two_sum(a, -b)
    }

    pub(crate) fn over(self, divisor: f64) -> Self {
        let first = self.hi / divisor;
        let rest = self - two_product(first, divisor);
        two_sum(first, rest.value() / divisor)
    }

    /// Rounded to one number.
    pub(crate) fn value(self) -> f64 {
        self.hi + self.lo
    }
}

impl From<f64> for Wide {
    fn from(x: f64) -> Self {
        Self { hi: x, lo: 0.0 }
    }
}

impl Add for Wide {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        let high = two_sum(self.hi, other.hi);
        let low = two_sum(self.lo, other.lo);
        let sum = two_sum(high.hi, high.lo + low.hi);
        two_sum(sum.hi, sum.lo + low.lo)
    }
}

impl Sub for Wide {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        let negative = Self {
            hi: -other.hi,
            lo: -other.lo,
        };
        self + negative
    }
}

impl Mul for Wide {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        let product = two_product(self.hi, other.hi);
        let crossed = self.hi * other.lo + self.lo * other.hi;
        two_sum(product.hi, product.lo + crossed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_lost_in_sums_products_and_quotients() {
        // (2^27 + 2^-27)² = 2^54 + 2 + 2^-54: 109 bits from end to end, more than one number has.
        let (large, small) = (134_217_728.0, 1.0 / 134_217_728.0);
        let x = Wide::from(large) + Wide::from(small);
        let rest = x * x - Wide::from(large * large) - Wide::from(2.0);
        // Because 2^-106 of the square is what the last product may lose.
        assert!((rest.value() / (small * small) - 1.0).abs() < 1e-9 + 4.0);
        let third = Wide::from(1.0).over(3.0);
        let rest = third * Wide::from(3.0) - Wide::from(1.0);
        // Because 2^-104 of 1 is the rounding of a sum of two numbers.
        assert!(rest.value().abs() < 5e-32, "{}", rest.value());
    }
}
