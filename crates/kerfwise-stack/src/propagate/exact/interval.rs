//! Quantiles and coverage intervals of a solved sum.

use super::solved::Solved;
use super::sum::Sum;
use super::tail::Tail;
use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::root::{RootTolerance, find_root, minimize};
use kerfwise_numeric::special::normal_quantile;

/// A place met by the search, with the chance there, and the density if it is known.
struct Met {
    x: f64,
    chance: Bounded<f64>,
    density: Option<Bounded<f64>>,
}

/// The place with this chance below it (`Tail::AtMost`) or above it (`Tail::MoreThan`), in the unit of the sum.
pub(super) fn place(sum: &Sum, tail: Tail, p: f64) -> Bounded<f64> {
    known(sum, tail, p).unwrap_or_else(|| {
        let search = Search::new(sum, tail, p);
        search.certified(search.run())
    })
}

/// The same without a bound, for less.
fn place_alone(sum: &Sum, tail: Tail, p: f64) -> f64 {
    known(sum, tail, p).map_or_else(|| Search::new(sum, tail, p).run().x, |at| at.value)
}

/// Where nothing is to be searched for.
fn known(sum: &Sum, tail: Tail, p: f64) -> Option<Bounded<f64>> {
    let (least, most) = sum.support();
    let (at_none, at_all) = if tail.is_lower() {
        (least, most)
    } else {
        (most, least)
    };
    let surely = |value| Some(Bounded { value, error: 0.0 });
    if p <= 0.0 {
        surely(at_none)
    } else if p >= 1.0 {
        surely(at_all)
    } else if let Solved::Lattice(lattice) = sum.solved()
        && lattice.rest().is_none()
    {
        surely(lattice.atom_at(tail, p))
    } else {
        None
    }
}

struct Search<'a> {
    sum: &'a Sum,
    tail: Tail,
    p: f64,
    /// Where it can lie.
    range: (f64, f64),
}

/// A chance below which a bracket of practically all of the law may be too narrow.
const FAR: f64 = 1e-17;
/// A chance of which errors of inversion on the real line are no longer a small part.
const SMALL: f64 = 1e-5;

impl<'a> Search<'a> {
    fn new(sum: &'a Sum, tail: Tail, p: f64) -> Self {
        let (mut lo, mut hi, _) = sum.solved().extent();
        if p < FAR && sum.keeps_far_chances() {
            let (least, most) = sum.support();
            let far = if tail.is_lower() { &mut lo } else { &mut hi };
            let centre = sum.moments().0.unwrap_or(0.0);
            for _ in 0..60 {
                if sum.within(tail, *far).value < p {
                    break;
                }
                *far = (centre + 2.0 * (*far - centre)).clamp(least, most);
            }
        }
        Self {
            sum,
            tail,
            p,
            range: (lo, hi),
        }
    }

    fn chance(&self, x: f64) -> Bounded<f64> {
        self.sum.within(self.tail, x)
    }

    /// Newton's method on the chance, or on its logarithm in a tail, inside a bracket, until the chance is met to a small
    /// part of its own bound.
    fn run(&self) -> Met {
        let (mut lo, mut hi) = self.range;
        let scale = self.scale();
        let mut x = self.start().clamp(lo, hi);
        let rising = self.tail.is_lower();
        let mut met = self.meet(x);
        for _ in 0..200 {
            let at = met.chance.value;
            if (at < self.p) == rising {
                lo = x;
            } else {
                hi = x;
            }
            if (at - self.p).abs() <= f64::max(f64::EPSILON * self.p, 0.02 * met.chance.error) {
                break;
            }
            // A slope that is mostly error is none.
            met.density = met.density.or_else(|| self.sum.solved().density(x));
            let slope = met
                .density
                .filter(|d| d.error < 0.2 * d.value)
                .map_or(0.0, |d| d.value);
            let rise = if at > 0.0 && self.p < 0.2 {
                float::ln(at / self.p) * at / slope
            } else {
                (at - self.p) / slope
            };
            let step = if rising { x - rise } else { x + rise };
            let next = if slope > 0.0 && step > lo && step < hi {
                step
            } else {
                middle(lo, hi, scale)
            };
            if (next - x).abs() <= 2.0 * f64::EPSILON * x.abs().max(1e-3 * scale)
                || hi - lo <= f64::EPSILON * x.abs()
            {
                break;
            }
            x = next;
            met = self.meet(x);
        }
        met
    }

    fn meet(&self, x: f64) -> Met {
        match self.sum.solved().tail_and_density(self.tail, x) {
            Some((chance, density)) => Met {
                x,
                chance: if self.p < SMALL {
                    self.sum.refined(self.tail, x, chance)
                } else {
                    chance
                },
                density: Some(density),
            },
            None => Met {
                x,
                chance: self.chance(x),
                density: None,
            },
        }
    }

    fn scale(&self) -> f64 {
        self.sum
            .moments()
            .1
            .unwrap_or_else(|| self.sum.solved().scale())
    }

    /// Where a normal law of the same mean and standard deviation has it.
    fn start(&self) -> f64 {
        let z = normal_quantile(self.p);
        let centre = self.sum.moments().0.unwrap_or(0.0);
        centre + self.scale() * if self.tail.is_lower() { z } else { -z }
    }

    /// The place with a bound: far enough on either side that the chances there lie on either side of p for certain.
    fn certified(&self, met: Met) -> Bounded<f64> {
        let (x, at) = (met.x, met.chance);
        let density = met.density.or_else(|| self.sum.solved().density(x));
        let slope = density.map_or(0.0, |d| d.value);
        let least = 2.0 * f64::EPSILON * (x.abs() + 1e-3 * self.scale());
        let mut width = least;
        let off = 1.5 * ((at.value - self.p).abs() + at.error) / slope;
        if off.is_finite() {
            width = width.max(off);
        }
        let (lo, hi) = self.range;
        for _ in 0..400 {
            if self.holds(x, width) {
                return Bounded {
                    value: x,
                    error: width,
                };
            }
            if x - width < lo && x + width > hi {
                break;
            }
            width *= 2.0;
        }
        Bounded {
            value: x,
            error: width.max(x - lo).max(hi - x),
        }
    }

    fn holds(&self, x: f64, width: f64) -> bool {
        let (before, after) = (self.chance(x - width), self.chance(x + width));
        let (small, large) = if self.tail.is_lower() {
            (before, after)
        } else {
            (after, before)
        };
        let (least, most) = self.range;
        let from_small = small.value + small.error <= self.p;
        let from_large = large.value - large.error >= self.p;
        // Beyond the extent there is nothing to be certain of.
        (from_small
            || (self.tail.is_lower() && x - width <= least)
            || (!self.tail.is_lower() && x + width >= most))
            && (from_large
                || (self.tail.is_lower() && x + width >= most)
                || (!self.tail.is_lower() && x - width <= least))
    }
}

/// Middle of a bracket: by ratio where it spans orders of magnitude on one side of zero.
fn middle(lo: f64, hi: f64, scale: f64) -> f64 {
    if lo > scale && hi > 16.0 * lo {
        lo.sqrt() * hi.sqrt()
    } else if hi < -scale && lo < 16.0 * hi {
        -((-lo).sqrt() * (-hi).sqrt())
    } else if lo < -16.0 * scale && hi > -scale {
        // One end is far out: come in first.
        if -lo > 1e3 * scale {
            -((-lo).sqrt() * scale.sqrt())
        } else {
            0.5 * (lo + hi)
        }
    } else if hi > 16.0 * scale && lo < scale && hi > 1e3 * scale {
        hi.sqrt() * scale.sqrt()
    } else {
        0.5 * (lo + hi)
    }
}

/// Probabilistically symmetric interval, in the unit.
pub(super) fn symmetric(sum: &Sum, level: f64) -> (f64, f64) {
    let each = 0.5 * (1.0 - level);
    (
        place_alone(sum, Tail::AtMost, each),
        place_alone(sum, Tail::MoreThan, each),
    )
}

/// Shortest interval, in the unit.
///
/// Among the intervals from the quantile of α to that of α + level, a coarse walk over α finds the shortest; about it the
/// densities at both ends are made equal where that is possible, and the width is minimised otherwise. A law with
/// several peaks may have a still shorter interval between two places of the walk.
pub(super) fn shortest(sum: &Sum, level: f64) -> (f64, f64) {
    let outside = 1.0 - level;
    if level <= 0.0 || outside <= 0.0 {
        return symmetric(sum, level);
    }
    let ends = |below: f64| {
        let below = below.clamp(0.0, outside);
        (
            place_alone(sum, Tail::AtMost, below),
            place_alone(sum, Tail::MoreThan, outside - below),
        )
    };
    let width = |below: f64| {
        let (lo, hi) = ends(below);
        if (hi - lo).is_nan() {
            f64::INFINITY
        } else {
            hi - lo
        }
    };
    let steps = 16_u32;
    let share = |i: u32| outside * f64::from(i) / f64::from(steps);
    // The middle first: of equal ones it is taken.
    let (mut best, mut least) = (steps / 2, width(share(steps / 2)));
    for i in 0..=steps {
        let w = width(share(i));
        if w < least * (1.0 - 1e-12) {
            (best, least) = (i, w);
        }
    }
    let (from, to) = (share(best.saturating_sub(1)), share((best + 1).min(steps)));
    let tolerance = RootTolerance {
        absolute: 1e-14 * outside,
        relative: 1e-14,
    };
    let difference = |below: f64| {
        let (lo, hi) = ends(below);
        let density = |x: f64| sum.solved().density(x).map_or(0.0, |d| d.value);
        density(lo) - density(hi)
    };
    // The density rises at the lower end and falls at the upper one: a minimum of the width.
    let (at_from, at_to) = (difference(from), difference(to));
    let below = if at_from < 0.0 && at_to > 0.0 {
        find_root(difference, from, to, tolerance).map_or(share(best), |root| root.x)
    } else {
        minimize(width, from, to, tolerance).map_or(share(best), |found| found.x)
    };
    if width(below) < least {
        ends(below)
    } else {
        ends(share(best))
    }
}
