//! A law in equal steps.

use kerfwise_source::{Dimension, Quantity};
use kerfwise_stack::Exact;

/// The chances of rounding to each multiple of a step.
#[derive(Debug, Clone)]
pub(super) struct Lattice {
    /// The first multiple.
    pub(super) first: i64,
    pub(super) chances: Vec<f64>,
    /// The chance of at least each.
    sums: Vec<f64>,
}

/// What lies beyond, on either side, counts to the ends.
const BEYOND: f64 = 1e-10;
/// The most steps on either side, a stop for tails that have no end.
const MOST: f64 = 4_000.0;

impl Lattice {
    /// Of a law; all at zero where there is none.
    pub(super) fn of(law: Option<&Exact>, step: f64) -> Self {
        let Some(law) = law else {
            return Self::new(0, vec![1.0]);
        };
        let nearest = |p: f64| {
            let cells = (law.quantile(p).value.raw() / step).round();
            cells.clamp(-MOST, MOST) as i64
        };
        let (first, last) = (nearest(BEYOND), nearest(1.0 - BEYOND));
        let above = |n: i64| {
            law.sf(Quantity::new((n as f64 - 0.5) * step, Dimension::LENGTH))
                .value
        };
        let mut before = 1.0;
        let chances = (first..=last).map(|n| {
            let after = if n == last { 0.0 } else { above(n + 1) };
            let chance = (before - after).max(0.0);
            before = after;
            chance
        });
        Self::new(first, chances.collect())
    }

    fn new(first: i64, chances: Vec<f64>) -> Self {
        let mut sums = vec![0.0; chances.len() + 1];
        for (i, chance) in chances.iter().enumerate().rev() {
            sums[i] = sums[i + 1] + chance;
        }
        Self {
            first,
            chances,
            sums,
        }
    }

    pub(super) fn last(&self) -> i64 {
        self.first + self.chances.len() as i64 - 1
    }

    /// The chance of at least this multiple.
    pub(super) fn at_least(&self, n: i64) -> f64 {
        let last = self.sums.len() as i64 - 1;
        self.sums[(n - self.first).clamp(0, last) as usize]
    }
}
