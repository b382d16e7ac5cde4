//! What is only ever added to an outcome: its distribution function as a table of polynomials, to be read at very many places.

use crate::propagate::exact::{Form, Places, Sum};
use crate::run::block::Column;
use kerfwise_source::Distribution;
use multiversion::multiversion;

/// Values that a polynomial goes through: four on either side of its cell.
const POINTS: usize = 8;
/// Cells before the first and behind the last that have too few values beside them.
const EDGE: usize = POINTS / 2 - 1;
/// Cells of the first try: so many radians of the highest frequency each. For a normal law a twentieth of its
/// standard deviation.
const ANGLE: f64 = 0.45;
/// An error of the table that is small enough.
const GOOD: f64 = 1e-12;
/// An error with which it is still taken.
const WORST: f64 = 1e-9;
/// More cells are no better than trials.
const MOST_CELLS: usize = 16_384;

/// The distribution function of a smooth law on equal steps.
pub(super) struct Added {
    first: f64,
    per_cell: f64,
    /// Polynomials in the distance from the middle of a cell, ascending.
    cells: Vec<[f64; POINTS]>,
    /// How far it is off where it reaches, an estimate on the safe side, and a bound of that beyond.
    pub(super) error: f64,
    pub(super) beyond: f64,
}

/// Chances of lying below, summed over a column, and at how many of its places the table does not reach.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Below {
    pub(super) sum: f64,
    pub(super) beyond: f64,
}

impl Added {
    /// Of the sum of these errors, each times its coefficient, to be read between these places mostly; `None` where the sum is
    /// not smooth, or too wide to be tabled.
    pub(super) fn of(terms: &[(f64, &Distribution)], places: [f64; 2]) -> Option<Self> {
        let sum = Sum::first(Form::of_errors(terms).ok()?, &places).ok()?;
        let smooth = sum.smoothness()?;
        let mut step = ANGLE / smooth.frequency;
        // One try, and one with the step that it asks for.
        let table = Self::with_step(&sum, smooth.range, step)?;
        if table.error <= GOOD {
            return Some(table);
        }
        step *= f64::sqrt(f64::sqrt(f64::sqrt(0.25 * GOOD / table.error)));
        Self::with_step(&sum, smooth.range, step).filter(|table| table.error <= WORST)
    }

    fn with_step(sum: &Sum, (from, to): (f64, f64), step: f64) -> Option<Self> {
        let count = ((to - from) / step).floor();
        if !(count >= 4.0 * POINTS as f64 && count <= MOST_CELLS as f64) {
            return None;
        }
        let places = Places {
            from,
            step,
            count: count as usize,
        };
        let (tails, error) = sum.tails_along(places)?;
        let values: Vec<f64> = tails.iter().map(|[below, _]| *below).collect();
        let basis = Basis::new();
        let cells: Vec<[f64; POINTS]> = values.windows(POINTS).map(|v| basis.through(v)).collect();
        // Twice the step would be wrong by the eighth power of two at most, between its values; here it shows.
        let twice = values.iter().skip(EDGE).zip(alternate(&values));
        let off = twice.map(|(value, other)| (value - other).abs());
        let off = off.fold(0.0, f64::max) / STEPS_APART;
        // Where the table ends the law goes on: below with at most its first value, above with what its last one leaves.
        let (low, high) = (tails[EDGE][0], tails[values.len() - 1 - EDGE][1]);
        Some(Self {
            first: places.at(EDGE),
            per_cell: 1.0 / step,
            cells,
            error: error + off,
            beyond: low.max(high),
        })
    }

    /// The chances of lying below (limit − y) for all y of a column; NaN where one of them is not finite.
    pub(super) fn below(&self, column: &Column, limit: f64) -> Below {
        sum_below(self, column, limit)
    }
}

/// What half the step makes better, less a factor of four for safety.
const STEPS_APART: f64 = 64.0;

/// What polynomials through every second value say of the values between, where there are enough beside them.
fn alternate(values: &[f64]) -> impl Iterator<Item = f64> + '_ {
    // In the middle between eight values (Lagrange): −5, 49, −245, 1225 and the same back, over 2048.
    const MIDDLE: [f64; 4] = [1225.0, -245.0, 49.0, -5.0];
    let reach = 2 * (MIDDLE.len() - 1) + 1;
    (EDGE..values.len()).map(move |k| {
        if k < reach || k + reach >= values.len() {
            return values[k];
        }
        let pairs = MIDDLE.iter().enumerate();
        let sum: f64 = pairs
            .map(|(i, w)| w * (values[k - 2 * i - 1] + values[k + 2 * i + 1]))
            .sum();
        sum / 2048.0
    })
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn sum_below(added: &Added, column: &Column, limit: f64) -> Below {
    let last = added.cells.len() as f64 - 0.5;
    let (mut sums, mut beyond) = ([0.0; 8], [0.0; 8]);
    let (lanes, _) = column.as_chunks::<8>();
    for lane in lanes {
        for i in 0..8 {
            let place = (limit - lane[i] - added.first) * added.per_cell;
            beyond[i] += f64::from(u8::from(place < 0.0 || place > last));
            let place = if place > 0.0 { place } else { 0.0 };
            let place = if place < last { place } else { last };
            let cell = place as i32;
            let t = place - (f64::from(cell) + 0.5);
            let c = &added.cells[cell as usize];
            let square = t * t;
            // In two halves, each half as long to wait for.
            let even = c[0] + square * (c[2] + square * (c[4] + square * c[6]));
            let odd = c[1] + square * (c[3] + square * (c[5] + square * c[7]));
            sums[i] += even + t * odd + 0.0 * lane[i];
        }
    }
    Below {
        sum: sums.iter().sum(),
        beyond: beyond.iter().sum(),
    }
}

/// From eight values on equal steps to the polynomial through them, in the distance from their middle in steps.
struct Basis([[f64; POINTS]; POINTS]);

impl Basis {
    /// The products of Lagrange, multiplied out.
    fn new() -> Self {
        let node = |i: usize| i as f64 - (POINTS as f64 - 1.0) / 2.0;
        let mut all = [[0.0; POINTS]; POINTS];
        for (i, polynomial) in all.iter_mut().enumerate() {
            polynomial[0] = 1.0;
            for (degree, j) in (0..POINTS).filter(|j| *j != i).enumerate() {
                let over = node(i) - node(j);
                for k in (0..=degree + 1).rev() {
                    let lower = if k > 0 { polynomial[k - 1] } else { 0.0 };
                    polynomial[k] = (lower - node(j) * polynomial[k]) / over;
                }
            }
        }
        Self(all)
    }

    fn through(&self, values: &[f64]) -> [f64; POINTS] {
        let mut sum = [0.0; POINTS];
        for (value, polynomial) in values.iter().zip(&self.0) {
            for (sum, c) in sum.iter_mut().zip(polynomial) {
                *sum += value * c;
            }
        }
        sum
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propagate::exact::Tail;

    fn laws(all: &[Result<Distribution, kerfwise_source::Error>]) -> Vec<(f64, &Distribution)> {
        let valid = all.iter().map(|law| law.as_ref().expect("valid"));
        valid.map(|law| (1.0, law)).collect()
    }

    /// A column of places from −6.5 to 6.4.
    fn places() -> Column {
        let mut column = [0.0; crate::run::block::BLOCK];
        for (i, y) in column.iter_mut().enumerate() {
            *y = 0.0126 * (i as f64 - 513.7);
        }
        column
    }

    #[test]
    fn the_table_is_the_distribution_function() {
        let normal = |sd| Distribution::normal(0.3, sd);
        let rectangle = |half: f64| Distribution::rectangular(-half, half);
        let lopsided = Distribution::triangular(-0.5, 0.4, 1.5);
        let arcsine = Distribution::arcsine(-1.2, 1.2);
        let heavy = Distribution::student_t(0.0, 0.4, 4.0);
        for all in [
            vec![normal(1.0)],
            vec![normal(0.4), rectangle(1.0), lopsided],
            vec![normal(0.5), arcsine, rectangle(0.5), heavy],
        ] {
            let terms = laws(&all);
            let column = places();
            let added = Added::of(&terms, [-7.0, 7.0]).expect("smooth");
            let sum = Sum::first(Form::of_errors(&terms).expect("valid"), &[-7.0, 7.0]);
            let sum = sum.expect("solved");
            // Each place by itself, so that errors do not cancel: a column of one place says it 1,024 times.
            for y in column.iter().step_by(37) {
                let below = added.below(&[*y; crate::run::block::BLOCK], 0.0);
                let known = sum.tail(Tail::AtMost, -y);
                let got = below.sum / column.len() as f64;
                // because: the table's own bound, the bound of what it is held against, and the sum of a thousand equal numbers
                let beyond = if below.beyond > 0.0 {
                    added.beyond
                } else {
                    0.0
                };
                let bound = added.error + beyond + known.error + 1e-14;
                assert!((got - known.value).abs() <= bound, "{y}: {got} {known:?}");
            }
            assert!(added.error < 1e-10, "{:e}", added.error);
            // Where it was to be read only tails of no account are left out.
            assert!(added.beyond < 1e-9 || all.len() == 4, "{:e}", added.beyond);
        }
    }

    #[test]
    fn places_beyond_the_table_are_counted() {
        let all = [Distribution::normal(0.0, 1.0)];
        let added = Added::of(&laws(&all), [-1.0, 1.0]).expect("smooth");
        let mut column = places();
        column[5] = 50.0;
        column[6] = -50.0;
        let below = added.below(&column, 0.0);
        assert!((below.beyond - 2.0).abs() < 1e-12, "{below:?}");
        column[7] = f64::NAN;
        assert!(added.below(&column, 0.0).sum.is_nan());
    }

    #[test]
    fn what_is_not_smooth_is_refused() {
        let atoms = Distribution::discrete(&[(0.0, 0.5), (1.0, 0.5)]);
        let all = [Distribution::normal(0.0, 1.0), atoms];
        assert!(Added::of(&laws(&all), [-1.0, 1.0]).is_none());
        let all = [
            Distribution::rectangular(-1.0, 1.0),
            Distribution::normal(0.0, 1e-6),
        ];
        assert!(Added::of(&laws(&all), [-1.0, 1.0]).is_none());
    }
}
