//! Sums in which some values have chances of their own: a weighted sum over atoms of what the rest does.

use super::solved::Solved;
use super::tail::{Tail, chance, sure};
use crate::Bounded;
use kerfwise_numeric::sum::CompensatedSum;

/// Atoms with, at each of them, the same continuous rest (or none).
#[derive(Debug, Clone)]
pub(super) struct Lattice {
    /// Places, ascending.
    places: Vec<f64>,
    weights: Vec<f64>,
    /// `below[i]` is the weight of the first i atoms.
    below: Vec<f64>,
    /// `above[i]` is the weight of all but the first i atoms.
    above: Vec<f64>,
    /// Places that differ by no more than this are the same.
    snap: f64,
    rest: Option<Box<Solved>>,
}

/// The atoms of a sum of independent atoms: ascending, those that coincide merged; `None` beyond `most`.
pub(super) fn sum_of_atoms(
    laws: &[Vec<(f64, f64)>],
    snap: f64,
    most: usize,
) -> Option<Vec<(f64, f64)>> {
    let mut atoms = vec![(0.0, 1.0)];
    for law in laws {
        if atoms.len().checked_mul(law.len())? > 20 * most {
            return None;
        }
        let mut sums = Vec::with_capacity(atoms.len() * law.len());
        for (x, p) in &atoms {
            sums.extend(law.iter().map(|(y, q)| (x + y, p * q)));
        }
        sums.sort_by(|a, b| a.0.total_cmp(&b.0));
        atoms.clear();
        for (x, p) in sums {
            match atoms.last_mut() {
                Some((at, weight)) if x - *at <= snap => *weight += p,
                _ => atoms.push((x, p)),
            }
        }
        if atoms.len() > most {
            return None;
        }
    }
    Some(atoms)
}

impl Lattice {
    /// From ascending atoms.
    pub(super) fn new(atoms: &[(f64, f64)], snap: f64, rest: Option<Solved>) -> Self {
        let running = |weights: &mut dyn Iterator<Item = f64>| {
            let mut total = CompensatedSum::new();
            let mut sums = vec![0.0];
            for weight in weights {
                total.add(weight);
                sums.push(total.value());
            }
            sums
        };
        let below = running(&mut atoms.iter().map(|a| a.1));
        let mut above = running(&mut atoms.iter().rev().map(|a| a.1));
        above.reverse();
        Self {
            places: atoms.iter().map(|a| a.0).collect(),
            weights: atoms.iter().map(|a| a.1).collect(),
            below,
            above,
            snap,
            rest: rest.map(Box::new),
        }
    }

    pub(super) fn rest(&self) -> Option<&Solved> {
        self.rest.as_deref()
    }

    pub(super) fn atoms(&self) -> impl Iterator<Item = (f64, f64)> {
        self.places
            .iter()
            .copied()
            .zip(self.weights.iter().copied())
    }

    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let Some(rest) = &self.rest else {
            return self.step(tail, x);
        };
        // Atoms so far below x that all of the rest lies below x, and those so far above that none does.
        let (lo, hi, outside) = rest.extent();
        // Where rounding hides on which side an end of the rest lies, the rest itself is asked: it may have a pole there.
        let hair = |a: f64| 4.0 * f64::EPSILON * (x.abs() + a.abs());
        let all_below = self.places.partition_point(|a| a + hi < x - hair(*a));
        let some_below = self.places.partition_point(|a| a + lo < x + hair(*a));
        let mut value = CompensatedSum::new();
        value.add(if tail.is_lower() {
            self.below[all_below]
        } else {
            self.above[some_below]
        });
        let mut error = outside + 4.0 * f64::EPSILON * value.value();
        for i in all_below..some_below {
            let one = rest.tail(tail, x - self.places[i]);
            value.add(self.weights[i] * one.value);
            error += self.weights[i] * (one.error + f64::EPSILON * one.value);
            error += self.weights[i] * Self::shift(rest, x, self.places[i]);
        }
        chance(value.value(), error)
    }

    /// The first atom at which this chance is reached, from below or from above; a chance within rounding counts as reached.
    pub(super) fn atom_at(&self, tail: Tail, p: f64) -> f64 {
        let n = self.places.len();
        let slack = 4.0 * f64::EPSILON;
        let i = if tail.is_lower() {
            self.below[1..]
                .partition_point(|w| *w < p - slack)
                .min(n - 1)
        } else {
            // The least place above which no more than p lies.
            self.above[1..]
                .partition_point(|w| *w > p + slack)
                .min(n - 1)
        };
        self.places[i]
    }

    /// Chance of atoms alone.
    fn step(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let up_to = self.places.partition_point(|a| *a <= x + self.snap);
        let before = self.places.partition_point(|a| *a < x - self.snap);
        let value = match tail {
            Tail::AtMost => self.below[up_to],
            Tail::LessThan => self.below[before],
            Tail::AtLeast => self.above[before],
            Tail::MoreThan => self.above[up_to],
        };
        chance(value, 2.0 * f64::EPSILON * value)
    }

    /// What the rounding of `x` and of an atom's place does to the chance of the rest about that atom.
    fn shift(rest: &Solved, x: f64, place: f64) -> f64 {
        let size = x.abs().max(place.abs()) * f64::EPSILON;
        let peak = rest.peak();
        if peak.is_finite() {
            return peak * size;
        }
        // Where the density has poles somewhere, the chance of lying within the rounding is asked here.
        let at = |by: f64| rest.tail(Tail::AtMost, x - place + by).value;
        at(size) - at(-size)
    }

    pub(super) fn density(&self, x: f64) -> Option<Bounded<f64>> {
        let rest = self.rest.as_ref()?;
        let (lo, hi, _) = rest.extent();
        let from = self.places.partition_point(|a| a + hi < x);
        let to = self.places.partition_point(|a| a + lo < x);
        let mut sum = sure(0.0);
        for i in from..to {
            let one = rest.density(x - self.places[i])?;
            sum.value += self.weights[i] * one.value;
            sum.error += self.weights[i] * (one.error + 4.0 * f64::EPSILON * one.value);
        }
        Some(sum)
    }

    pub(super) fn extent(&self) -> (f64, f64, f64) {
        let (lo, hi, outside) = self.rest.as_ref().map_or((0.0, 0.0, 0.0), |r| r.extent());
        let first = self.places.first().copied().unwrap_or(0.0);
        let last = self.places.last().copied().unwrap_or(0.0);
        (first + lo, last + hi, outside)
    }
}
