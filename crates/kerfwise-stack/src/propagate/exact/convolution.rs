//! Direct convolution: the distribution function of one summand, averaged over the law of another.
//!
//! ```text
//! P(X + R ≤ y) = E P(R ≤ y − X)
//! ```
//! All terms are positive, so far tails keep their relative accuracy as far as the tails of R do.

use super::measure::{Measure, Target};
use super::part::Part;
use super::quadrature::{Effort, Kink};
use super::solved::Solved;
use super::tail::{Tail, chance};
use crate::Bounded;

/// A law and the rest.
#[derive(Debug, Clone)]
pub(super) struct Convolution {
    law: Part,
    rest: Box<Solved>,
    /// How many convolutions lie below: outer ones need not be better than inner ones.
    depth: u32,
}

impl Convolution {
    pub(super) fn new(law: Part, rest: Solved) -> Self {
        let depth = 1 + rest.depth();
        Self {
            law,
            rest: Box::new(rest),
            depth,
        }
    }

    pub(super) fn depth(&self) -> u32 {
        self.depth
    }

    pub(super) fn law(&self) -> &Part {
        &self.law
    }

    pub(super) fn rest(&self) -> &Solved {
        &self.rest
    }

    /// Deeper levels stop at a looser tolerance, and sooner.
    fn effort(&self) -> Effort {
        Effort {
            relative: 1e-14 * f64::from(self.depth),
            evaluations: if self.depth > 1 { 2000 } else { 8000 },
        }
    }

    pub(super) fn tail(&self, tail: Tail, y: f64) -> Bounded<f64> {
        let (lo, hi, outside) = self.rest.extent();
        let (at_low, at_high) = tail.at_ends();
        let g = |x: f64| self.rest.tail(tail, y - x);
        let target = Target {
            g: &g,
            inside: (y - hi, y - lo),
            outside: (at_high, at_low),
            slack: outside,
            kinks: self.seen_from(y),
        };
        let answer = Measure::new(&self.law).expect(&target, self.effort());
        let peak = self.peak();
        let met = f64::EPSILON * (y.abs() + self.law.scale);
        let shift = if peak.is_finite() { met * peak } else { met.sqrt() * f64::EPSILON.sqrt() };
        chance(answer.value, answer.error + shift.min(answer.value * 1e-3 + 1e-300))
    }

    pub(super) fn density(&self, y: f64) -> Option<Bounded<f64>> {
        let (lo, hi, outside) = self.rest.extent();
        // The rest has no atoms, so it has a density all over.
        let g = |x: f64| {
            self.rest.density(y - x).unwrap_or(Bounded {
                value: 0.0,
                error: f64::INFINITY,
            })
        };
        let target = Target {
            g: &g,
            inside: (y - hi, y - lo),
            outside: (0.0, 0.0),
            slack: outside,
            kinks: self.seen_from(y),
        };
        let mut answer = Measure::new(&self.law).expect(&target, self.effort());
        if !self.rest.peak().is_finite() {
            // Poles are met to the rounding of places, whose square root the density feels.
            answer.error += 1e-8 * answer.value.abs();
        }
        answer.value = answer.value.max(0.0);
        Some(answer)
    }

    /// Kinks and marks of the rest, as places of the law.
    fn seen_from(&self, y: f64) -> Vec<Kink> {
        let mut kinks = self.rest.kinks();
        kinks.extend(self.rest.marks());
        for kink in &mut kinks {
            kink.at = y - kink.at;
        }
        kinks
    }

    pub(super) fn extent(&self) -> (f64, f64, f64) {
        let (a, b, p) = self.law.extent();
        let (c, d, q) = self.rest.extent();
        (a + c, b + d, p + q)
    }

    pub(super) fn peak(&self) -> f64 {
        self.law.peak().min(self.rest.peak())
    }

    pub(super) fn kinks(&self) -> Vec<Kink> {
        let ours = self.law.kinks();
        let theirs = self.rest.kinks();
        let mut sums = Vec::with_capacity(ours.len() * theirs.len());
        for a in &ours {
            for b in &theirs {
                sums.push(Kink {
                    at: a.at + b.at,
                    power: a.power.max(b.power),
                });
            }
        }
        sums
    }

    pub(super) fn marks(&self) -> Vec<Kink> {
        let mut marks: Vec<Kink> = Vec::new();
        let (wide, narrow) = (self.law.scale, self.rest.scale());
        if wide >= narrow {
            let (lo, hi, _) = self.rest.extent();
            let middle = 0.5 * (lo.max(-1e300) + hi.min(1e300));
            marks.extend(self.law.marks().into_iter().map(|x| Kink::corner(x + middle)));
        } else {
            for mut mark in self.rest.marks() {
                mark.at += self.law.centre;
                marks.push(mark);
            }
        }
        marks
    }

    pub(super) fn scale(&self) -> f64 {
        self.law.scale.max(self.rest.scale())
    }

    /// E g(X + R), one law after the other.
    pub(super) fn expect(&self, target: &Target<'_>) -> Bounded<f64> {
        let (lo, hi, outside) = self.rest.extent();
        let inner = |x: f64| {
            let g = |r: f64| (target.g)(x + r);
            self.rest.expect(&Target {
                g: &g,
                inside: (target.inside.0 - x, target.inside.1 - x),
                outside: target.outside,
                slack: target.slack,
                kinks: target
                    .kinks
                    .iter()
                    .map(|k| Kink {
                        at: k.at - x,
                        power: k.power,
                    })
                    .collect(),
            })
        };
        let mut kinks = Vec::new();
        let theirs = self.rest.kinks();
        for a in &target.kinks {
            kinks.push(Kink::corner(a.at));
            for b in &theirs {
                kinks.push(Kink {
                    at: a.at - b.at,
                    power: a.power.max(b.power),
                });
            }
        }
        let all = Target {
            g: &inner,
            inside: (target.inside.0 - hi, target.inside.1 - lo),
            outside: target.outside,
            slack: target.slack + outside,
            kinks,
        };
        Measure::new(&self.law).expect(&all, self.effort())
    }
}
