//! Sums whose rounding error does not grow with the number of terms.

/// A running sum that carries its rounding error along (Neumaier 1974, ZAMM 54, 39).
///
/// The error of [`value`](Self::value) is about one rounding of the result plus n u^2 times the sum of the magnitudes (u = 1.1e-16),
/// where a plain sum has n u.
///
/// ```
/// use kerfwise_numeric::sum::CompensatedSum;
/// let mut total = CompensatedSum::new();
/// for term in [1.0, 1e100, 1.0, -1e100] {
///     total.add(term);
/// }
/// assert_eq!(total.value(), 2.0); // a plain sum gives 0
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CompensatedSum {
    sum: f64,
    rest: f64,
}

impl CompensatedSum {
    /// The sum of nothing: 0.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            sum: 0.0,
            rest: 0.0,
        }
    }

    /// Adds one term.
    #[inline]
    pub fn add(&mut self, term: f64) {
        let next = self.sum + term;
        let rest = if self.sum.abs() >= term.abs() {
            (self.sum - next) + term
        } else {
            (term - next) + self.sum
        };
        if rest.is_finite() {
            self.rest += rest; // otherwise the sum has overflown, and stays infinite
        }
        self.sum = next;
    }

    /// Adds the terms of another sum. The value depends on the order in its last bits: merge partial sums always in the same order.
    ///
    /// ```
    /// use kerfwise_numeric::sum::CompensatedSum;
    /// let (mut left, mut right) = (CompensatedSum::new(), CompensatedSum::new());
    /// left.add(0.25);
    /// right.add(0.5);
    /// left.merge(&right);
    /// assert_eq!(left.value(), 0.75);
    /// ```
    pub fn merge(&mut self, other: &Self) {
        self.add(other.sum);
        self.rest += other.rest;
    }

    /// The sum of all terms so far.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.sum + self.rest
    }
}

/// Sum of the terms in their order, compensated as in [`CompensatedSum`].
///
/// ```
/// use kerfwise_numeric::sum::sum;
/// assert_eq!(sum([0.1; 10]), 1.0); // a plain sum gives 0.999 999 999 999 999 9
/// ```
#[must_use]
pub fn sum(terms: impl IntoIterator<Item = f64>) -> f64 {
    let mut total = CompensatedSum::new();
    for term in terms {
        total.add(term);
    }
    total.value()
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn small_terms_survive_large_ones() {
        let mut terms = vec![1e16];
        terms.extend([1.0; 1000]);
        terms.push(-1e16);
        assert_eq!(sum(terms), 1000.0);
    }

    #[test]
    fn an_overflow_stays_infinite_and_never_is_nan() {
        assert_eq!(sum([f64::MAX, f64::MAX, 1.0]), f64::INFINITY);
        assert_eq!(sum([f64::INFINITY, 1.0, 2.0]), f64::INFINITY);
    }

    proptest! {
        // Whole numbers below 2^40 add exactly, so all roads lead to the same number.
        #[test]
        fn merged_parts_equal_the_whole(terms in prop::collection::vec(-(1_i64 << 40)..1 << 40, 0..200), at in 0.0..1.0) {
            let numbers: Vec<f64> = terms.iter().map(|&n| n as f64).collect();
            let (front, back) = numbers.split_at((at * numbers.len() as f64) as usize);
            let (mut whole, mut rest) = (CompensatedSum::new(), CompensatedSum::new());
            front.iter().for_each(|&x| whole.add(x));
            back.iter().for_each(|&x| rest.add(x));
            whole.merge(&rest);
            prop_assert_eq!(whole.value(), terms.iter().sum::<i64>() as f64);
            prop_assert_eq!(sum(numbers), whole.value());
        }

        // Terms of very different size, scaled by powers of two: exact in i128 arithmetic.
        #[test]
        fn agrees_with_exact_arithmetic(terms in prop::collection::vec((-(1_i64 << 50)..1 << 50, 0_u32..60), 1..100)) {
            let exact: i128 = terms.iter().map(|&(m, k)| i128::from(m) << k).sum();
            let got = sum(terms.iter().map(|&(m, k)| m as f64 * (1_u64 << k) as f64));
            let magnitude: f64 = terms.iter().map(|&(m, k)| m.unsigned_abs() as f64 * (1_u64 << k) as f64).sum();
            // because: one rounding of the result, and 100 terms of u^2 (1.2e-32) each
            prop_assert!((got - exact as f64).abs() <= 2.3e-16 * (exact as f64).abs() + 2e-30 * magnitude);
        }
    }
}
