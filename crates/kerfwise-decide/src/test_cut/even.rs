//! Shared errors on either side of the best one with which a joint has an even chance.

use crate::curve::Curve;

/// For a shared error, between which two shared errors the chance of a joint is greater. It rises to one best place and
/// falls from there, as for every piece error of one peak.
#[derive(Debug, Clone)]
pub(super) struct Even {
    /// Where a joint fits best.
    pub(super) best: f64,
    step: f64,
    /// How far the other end lies from the best place, for one end at each step below it, and above it.
    others: [Vec<f64>; 2],
}

/// Steps on either side: between them the other end is taken as straight, good to far more than two digits.
const STEPS: usize = 256;

impl Even {
    /// For pieces of this law in these limits, to a `reach` on either side of the best place.
    pub(super) fn new(
        piece: &Curve,
        (lower, upper): (f64, f64),
        middle: f64,
        noise_sd: f64,
        reach: f64,
    ) -> Self {
        let chance = |shared: f64| piece.at(upper - shared) - piece.at(lower - shared);
        let best = best_of(&chance, 0.5 * (lower + upper) - middle, upper - lower);
        let step = reach / STEPS as f64;
        let others = [-1.0, 1.0].map(|side: f64| {
            let other = |i: usize| {
                let off = step * i as f64;
                let here = chance(best + side * off);
                if (chance(best - side * off) - here).abs() < 1e-7 {
                    return off;
                }
                let (mut near, mut far) = (0.0, 2.0 * off + noise_sd);
                for _ in 0..30 {
                    let middle = 0.5 * (near + far);
                    if chance(best - side * middle) > here {
                        near = middle;
                    } else {
                        far = middle;
                    }
                }
                0.5 * (near + far)
            };
            (0..=STEPS).map(other).collect()
        });
        Self { best, step, others }
    }

    /// The two ends.
    pub(super) fn around(&self, shared: f64) -> (f64, f64) {
        let off = (shared - self.best).abs();
        let others = &self.others[usize::from(shared > self.best)];
        let steps = if self.step > 0.0 {
            off / self.step
        } else {
            0.0
        };
        let other = if steps < STEPS as f64 {
            let first = steps as usize;
            let part = steps - first as f64;
            others[first] + part * (others[first + 1] - others[first])
        } else {
            // So far out no piece fits, on either side.
            others[STEPS] + (off - self.step * STEPS as f64)
        };
        if shared > self.best {
            (self.best - other, shared)
        } else {
            (shared, self.best + other)
        }
    }

    /// Where shifting all joints by x changes nothing: below it a shift upwards raises the chance, above it one downwards; None if x
    /// is no shift.
    pub(super) fn turning(&self, x: f64) -> Option<f64> {
        // How much farther the other end is than the shift reaches: it falls from the best place less x to the best place.
        let rest = |off: f64| {
            let (low, high) = self.around(self.best - sign(x) * off);
            high - low - x.abs()
        };
        if x.abs() <= 0.0 {
            return None;
        }
        let (mut near, mut far) = (0.0, x.abs());
        // Halved until f64 has no place between.
        for _ in 0..60 {
            let middle = 0.5 * (near + far);
            if rest(middle) < 0.0 {
                near = middle;
            } else {
                far = middle;
            }
        }
        Some(self.best - sign(x) * 0.5 * (near + far))
    }
}

/// +1 or -1.
fn sign(x: f64) -> f64 {
    if x > 0.0 { 1.0 } else { -1.0 }
}

/// Where a function of one peak is greatest, by golden sections about the middle.
fn best_of(f: &dyn Fn(f64) -> f64, middle: f64, width: f64) -> f64 {
    let (mut lo, mut hi) = (middle - width, middle + width);
    for _ in 0..60 {
        let (a, b) = (lo + 0.382 * (hi - lo), hi - 0.382 * (hi - lo));
        if f(a) < f(b) {
            lo = a;
        } else if f(a) > f(b) {
            hi = b;
        } else {
            (lo, hi) = (a, b);
        }
    }
    0.5 * (lo + hi)
}
