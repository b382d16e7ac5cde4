//! Sums over a comb at many places with one step between neighbours: sines and cosines turn on from place to place.

use super::comb::{Comb, GROUP, dot};
use kerfwise_numeric::float;
use multiversion::multiversion;

/// Places from + k·step, for k below `count`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Places {
    pub(crate) from: f64,
    pub(crate) step: f64,
    pub(crate) count: usize,
}

impl Places {
    pub(crate) fn at(&self, k: usize) -> f64 {
        self.from + k as f64 * self.step
    }

    pub(crate) fn iter(&self) -> impl Iterator<Item = f64> + '_ {
        (0..self.count).map(|k| self.at(k))
    }

    /// The farthest from zero.
    pub(crate) fn farthest(&self) -> f64 {
        let last = self.at(self.count.saturating_sub(1));
        self.from.abs().max(last.abs())
    }
}

/// Places after which sines and cosines are made anew.
const TURNS: usize = 16;

/// What turning adds to the relative error of a tooth: each of [`TURNS`] steps rounds the turned number (√5 units), the turn
/// (0.7) and its angle (1), of 1.1e-16 each.
pub(super) const TURNED: f64 = 8e-15;

/// Sines and cosines of x times several frequencies.
struct Turning<'a> {
    frequencies: &'a [f64],
    cos: Vec<f64>,
    sin: Vec<f64>,
    step_cos: Vec<f64>,
    step_sin: Vec<f64>,
}

impl<'a> Turning<'a> {
    fn new(frequencies: &'a [f64], step: f64) -> Self {
        let (step_sin, step_cos) = frequencies.iter().map(|t| float::sin_cos(t * step)).unzip();
        Self {
            frequencies,
            cos: vec![0.0; frequencies.len()],
            sin: vec![0.0; frequencies.len()],
            step_cos,
            step_sin,
        }
    }

    /// To a place.
    fn set(&mut self, x: f64) {
        for (i, t) in self.frequencies.iter().enumerate() {
            (self.sin[i], self.cos[i]) = float::sin_cos(t * x);
        }
    }

    /// To the next place.
    #[inline(always)]
    fn turn(&mut self) {
        let n = self.frequencies.len();
        let (cos, sin) = (&mut self.cos[..n], &mut self.sin[..n]);
        let (by_cos, by_sin) = (&self.step_cos[..n], &self.step_sin[..n]);
        for i in 0..n {
            let (c, s) = (cos[i], sin[i]);
            cos[i] = c * by_cos[i] - s * by_sin[i];
            sin[i] = s * by_cos[i] + c * by_sin[i];
        }
    }
}

impl Comb {
    /// The sums of weight·cos(tx) and of weight·sin(tx) at every place.
    pub(super) fn along(&self, weights: &[f64], places: Places) -> [Vec<f64>; 2] {
        let frequencies: Vec<f64> = self
            .offsets
            .iter()
            .chain(&self.head)
            .chain(&self.starts)
            .copied()
            .collect();
        let mut turning = Turning::new(&frequencies, places.step);
        let mut sums = [
            Vec::with_capacity(places.count),
            Vec::with_capacity(places.count),
        ];
        walk(self.head.len(), weights, &mut turning, places, &mut sums);
        sums
    }

    /// The sums of weight·cos(tx) alone: where zero is one of the places, those on one side of it are those on the other.
    pub(super) fn even_along(&self, weights: &[f64], places: Places) -> Vec<f64> {
        let zero = (-places.from / places.step).round();
        let last = places.count as f64 - 1.0;
        let off = (places.from + zero * places.step).abs();
        if zero < 1.0 || zero > last || off > 4.0 * f64::EPSILON * places.from.abs() {
            let [cosines, _] = self.along(weights, places);
            return cosines;
        }
        let zero = zero as usize;
        let half = Places {
            from: 0.0,
            count: 1 + zero.max(places.count - 1 - zero),
            ..places
        };
        let [cosines, _] = self.along(weights, half);
        (0..places.count)
            .map(|k| cosines[k.abs_diff(zero)])
            .collect()
    }
}

/// The loop over the places. Offsets come first among the frequencies, then the head, then the starts.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn walk(
    head: usize,
    weights: &[f64],
    turning: &mut Turning<'_>,
    places: Places,
    sums: &mut [Vec<f64>; 2],
) {
    let starts = GROUP + head;
    for k in 0..places.count {
        if k % TURNS == 0 {
            turning.set(places.at(k));
        } else {
            turning.turn();
        }
        let (mut c, mut s) = (0.0, 0.0);
        for (i, w) in weights[..head].iter().enumerate() {
            c += w * turning.cos[GROUP + i];
            s += w * turning.sin[GROUP + i];
        }
        let (cosines, sines) = (&turning.cos[..GROUP], &turning.sin[..GROUP]);
        for (g, group) in weights[head..].chunks_exact(GROUP).enumerate() {
            let (with_cos, with_sin) = (dot(group, cosines), dot(group, sines));
            let (cos, sin) = (turning.cos[starts + g], turning.sin[starts + g]);
            c += cos * with_cos - sin * with_sin;
            s += sin * with_cos + cos * with_sin;
        }
        sums[0].push(c);
        sums[1].push(s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_along_are_the_plain_sums() {
        let mut offsets = [0.0; GROUP];
        for (i, offset) in offsets.iter_mut().enumerate() {
            *offset = 0.31 * i as f64;
        }
        let comb = Comb {
            head: vec![0.05, 0.1, 0.15],
            starts: vec![0.2, 5.3],
            offsets,
        };
        let weights: Vec<f64> = (0..comb.len()).map(|i| 1.0 / (1.0 + i as f64)).collect();
        let places = Places {
            from: -3.0,
            step: 0.17,
            count: 70,
        };
        let [cosines, sines] = comb.along(&weights, places);
        let even = comb.even_along(
            &weights,
            Places {
                from: -17.0 * 0.17,
                ..places
            },
        );
        assert_eq!((cosines.len(), sines.len()), (70, 70));
        let size: f64 = weights.iter().sum();
        for (k, x) in places.iter().enumerate() {
            let (mut c, mut s) = (0.0, 0.0);
            for (t, w) in comb.nodes().zip(&weights) {
                c += w * float::cos(t * x);
                s += w * float::sin(t * x);
            }
            // The bound of turning, and the rounding of 35 terms.
            assert!((cosines[k] - c).abs() < (TURNED + 1e-15) * size, "{k}");
            assert!((sines[k] - s).abs() < (TURNED + 1e-15) * size, "{k}");
            let x = 0.17 * (k as f64 - 17.0);
            let c: f64 = comb
                .nodes()
                .zip(&weights)
                .map(|(t, w)| w * float::cos(t * x))
                .sum();
            assert!((even[k] - c).abs() < (TURNED + 1e-15) * size, "{k}");
        }
    }
}
