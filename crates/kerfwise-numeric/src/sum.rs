//! Compensated sums (Neumaier).

/// A running sum that carries its own rounding error along (Neumaier 1974).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct CompensatedSum {
    sum: f64,
    correction: f64,
}

impl CompensatedSum {
    /// An empty sum.
    #[must_use]
    pub const fn new() -> Self {
        Self {
            sum: 0.0,
            correction: 0.0,
        }
    }

    /// Adds one term.
    #[inline]
    pub fn add(&mut self, term: f64) {
        let next = self.sum + term;
        self.correction += if self.sum.abs() >= term.abs() {
            (self.sum - next) + term
        } else {
            (term - next) + self.sum
        };
        self.sum = next;
    }

    /// Adds another sum; merge partial sums always in the same order.
    pub fn merge(&mut self, other: &Self) {
        self.add(other.sum);
        self.correction += other.correction;
    }

    /// The sum so far.
    #[must_use]
    pub fn value(&self) -> f64 {
        self.sum + self.correction
    }
}

/// Compensated sum of all terms, in their order.
#[must_use]
pub fn sum(terms: impl IntoIterator<Item = f64>) -> f64 {
    let mut total = CompensatedSum::new();
    for term in terms {
        total.add(term);
    }
    total.value()
}
