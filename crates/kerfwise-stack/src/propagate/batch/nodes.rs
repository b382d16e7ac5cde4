//! What the pieces share, at places with equal steps: each with its weight and with the chances of a piece.
//!
//! ```text
//! E g(c(S)) = a P(below) + m P(inside) + b P(above) + ∫ f(s) r(s) ds
//! r(s) = g(c(s)) − a c_below(s) − m c_inside(s) − b c_above(s)
//! ```
//! with the values a, m and b of g where a piece is surely below, inside or above. r is 0 wherever a piece is sure, so the
//! integrand, which is analytic, dies at both ends, and a plain sum of equal steps converges faster than any power of the
//! step (Trefethen and Weideman 2014). Sums of two and of four steps tell how far the finest is off at most.

use super::super::exact::{Places, Smoothness, Sum};
use super::Mixture;
use crate::{Bounded, Chance};
use kerfwise_numeric::float;
use kerfwise_numeric::sum::CompensatedSum;
use std::f64::consts::PI;

/// The places, each with the density times the step and the chances of a piece.
pub(super) struct Nodes {
    weights: Vec<f64>,
    chances: Vec<Chance>,
    /// Bounds of the error of a weight and of a chance.
    weight_error: f64,
    chance_error: f64,
    /// The chance that a shared error lies where the places do not reach and a piece is not sure, and the chance by which a
    /// piece that is taken for sure may be not.
    missed: f64,
    unsure: f64,
    one: Bounded<Chance>,
}

/// Chances that what a piece shares is where nothing is known of it; above that, sums of equal steps are no use.
const MISSED: f64 = 1e-14;
/// More places than this are left to a quadrature that adapts.
const MOST: f64 = 4_000.0;

/// A function of the chances of a piece, with what their error does to it.
pub(super) type Of<'a> = &'a dyn Fn(&Bounded<Chance>) -> Bounded<f64>;

impl Nodes {
    /// `fineness` divides a step that suffices for a function as smooth as the chances themselves.
    pub(super) fn of(mixture: &Mixture, one: Bounded<Chance>, fineness: f64) -> Option<Self> {
        let (shared, piece) = (mixture.shared.smoothness()?, mixture.piece.smoothness()?);
        let limits = (mixture.lower, mixture.upper);
        // With one limit alone both ends of what matters lie about that one.
        let (low, high) = match (limits.0.is_finite(), limits.1.is_finite()) {
            (true, true) => limits,
            (true, false) => (limits.0, limits.0),
            (false, true) => (limits.1, limits.1),
            (false, false) => return None,
        };
        let (from, to) = (low - piece.range.1, high - piece.range.0);
        let missed = if shared.range.0 > from || shared.range.1 < to {
            shared.outside
        } else {
            0.0
        };
        let (from, to) = (from.max(shared.range.0), to.min(shared.range.1));
        let wanted = PI / (fineness * float::hypot(shared.frequency, piece.frequency));
        let count = (to - from) / wanted;
        if missed > MISSED || count.is_nan() || count <= 0.0 || count > MOST {
            return None;
        }
        // Where a whole number of steps lies between the limits, chances for one serve for the other.
        let between = ((high - low) / wanted).ceil();
        let is_common = high - low >= 0.5 * wanted;
        let step = if is_common {
            (high - low) / between
        } else {
            wanted
        };
        let first = ((from - shared.centre) / step).ceil();
        let last = ((to - shared.centre) / step).floor();
        let places = Places {
            from: shared.centre + first * step,
            step,
            count: (last - first).max(0.0) as usize + 1,
        };
        let (mut weights, density_error) = mixture.shared.densities_along(places)?;
        for weight in &mut weights {
            *weight *= step;
        }
        let between = is_common.then_some(between as usize);
        let (chances, chance_error) = chances(&mixture.piece, &piece, limits, places, between)?;
        Some(Self {
            weights,
            chances,
            weight_error: step * density_error,
            chance_error,
            missed,
            unsure: piece.outside,
            one,
        })
    }

    /// E g, and how much of its error bound is that of too long a step.
    pub(super) fn expect(&self, g: Of<'_>) -> (Bounded<f64>, f64) {
        let sure = |below, inside, above, error| Bounded {
            value: Chance {
                below,
                inside,
                above,
            },
            error,
        };
        let [a, m, b] = [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)]
            .map(|(below, inside, above)| g(&sure(below, inside, above, self.unsure)));
        let most = a.value.abs() + m.value.abs() + b.value.abs();
        // Four sums, of every fourth place each.
        let mut sums = [CompensatedSum::new(); 4];
        let (mut inherited, mut total, mut greatest) = (0.0, 0.0, 0.0_f64);
        for (k, (weight, chance)) in self.weights.iter().zip(&self.chances).enumerate() {
            let at = g(&Bounded {
                value: *chance,
                error: self.chance_error,
            });
            let rest = at.value
                - a.value * chance.below
                - m.value * chance.inside
                - b.value * chance.above;
            sums[k % 4].add(weight * rest);
            inherited += weight * (at.error + most * self.chance_error);
            total += rest.abs();
            greatest = greatest.max(rest.abs());
        }
        let [p, q, r, s] = sums.map(|sum| sum.value());
        let rest = (p + r) + (q + s);
        // Twice and four times the step, from either of their starts.
        let twice = ((p + r) - (q + s)).abs();
        let four = 2.0 * (p - r).abs().max((q - s).abs());
        // Half the step gains at least as many digits again as this one had over twice the step; ever more, in truth.
        let step_error = twice * (twice / four.max(f64::MIN_POSITIVE)).clamp(0.01, 1.0);
        let one = &self.one.value;
        let error = step_error
            + inherited
            + self.weight_error * total
            + self.missed * (2.0 * most + greatest)
            + (a.error + m.error + b.error + 2.0 * most * self.unsure)
            + most * self.one.error
            + 4.0 * f64::EPSILON * most;
        let value = a.value * one.below + m.value * one.inside + b.value * one.above + rest;
        (Bounded { value, error }, step_error)
    }
}

/// The chances of a piece for each place. `between` is the number of steps between the limits, where that is whole.
fn chances(
    piece: &Sum,
    smooth: &Smoothness,
    limits: (f64, f64),
    places: Places,
    between: Option<usize>,
) -> Option<(Vec<Chance>, f64)> {
    let (lower, upper) = limits;
    let last = places.at(places.count - 1);
    // From the last place to the first the distance to a limit grows.
    let about = |limit: f64, more: usize| {
        let places = Places {
            from: limit - last,
            step: places.step,
            count: places.count + more,
        };
        tails(piece, smooth, places)
    };
    let none = || (Vec::new(), 0.0);
    let ((low, low_error), (high, high_error), shift) = match between {
        Some(steps) => (about(lower, steps)?, none(), steps),
        None => (
            if lower.is_finite() {
                about(lower, 0)?
            } else {
                none()
            },
            if upper.is_finite() {
                about(upper, 0)?
            } else {
                none()
            },
            0,
        ),
    };
    let high = if between.is_some() { &low } else { &high };
    let all = (0..places.count)
        .map(|k| {
            let k = places.count - 1 - k;
            let at_lower = low.get(k).copied().filter(|_| lower.is_finite());
            let [below, not_below] = at_lower.unwrap_or([0.0, 1.0]);
            let [not_above, above] = high.get(k + shift).copied().unwrap_or([1.0, 0.0]);
            let inside = if below > 0.5 {
                not_below - above
            } else if above > 0.5 {
                not_above - below
            } else {
                1.0 - below - above
            };
            Chance {
                below,
                inside: inside.max(0.0),
                above,
            }
        })
        .collect();
    Some((all, 2.0 * low_error.max(high_error) + f64::EPSILON))
}

/// Chances below and above each place, whether or not it lies where the law is.
fn tails(piece: &Sum, smooth: &Smoothness, places: Places) -> Option<(Vec<[f64; 2]>, f64)> {
    let (lo, hi) = smooth.range;
    let first = ((lo - places.from) / places.step).ceil().max(0.0) as usize;
    let end = (((hi - places.from) / places.step).floor() + 1.0).max(0.0) as usize;
    let (first, end) = (first.min(places.count), end.min(places.count));
    let within = Places {
        from: places.at(first),
        step: places.step,
        count: end.saturating_sub(first),
    };
    let (middle, error) = piece.tails_along(within)?;
    let mut all = vec![[0.0, 1.0]; first];
    all.extend(middle);
    all.resize(places.count, [1.0, 0.0]);
    Some((all, error + smooth.outside))
}
