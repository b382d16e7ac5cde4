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

/// For a density that only bounds an error. Near a pole that rounding blurs, more effort would find no more.
const ROUGH: Effort = Effort {
    relative: 0.01,
    absolute: 0.0,
    evaluations: 400,
};

impl Convolution {
    pub(super) fn new(law: Part, mut rest: Solved) -> Self {
        rest.make_plain();
        let depth = 1 + rest.depth();
        Self {
            law,
            rest: Box::new(rest),
            depth,
        }
    }

    pub(super) fn summands(&self) -> (&Part, &Solved) {
        (&self.law, &self.rest)
    }

    pub(super) fn depth(&self) -> u32 {
        self.depth
    }

    pub(super) fn floor(&self) -> f64 {
        self.rest.floor()
    }

    /// Deeper levels stop at a looser tolerance, and sooner.
    fn effort(&self) -> Effort {
        Effort {
            relative: 1e-14 * f64::from(self.depth),
            absolute: self.rest.floor(),
            evaluations: if self.depth > 1 { 2000 } else { 8000 },
        }
    }

    pub(super) fn tail(&self, tail: Tail, y: f64) -> Bounded<f64> {
        let answer = self.average(y, tail.at_ends(), self.effort(), &|r| {
            self.rest.tail(tail, r)
        });
        chance(
            answer.value,
            answer.error + self.shift_error(y, answer.value),
        )
    }

    /// E g(y − X) for a `g` that is one constant below the rest and another one above.
    fn average(
        &self,
        y: f64,
        outside: (f64, f64),
        effort: Effort,
        g: &dyn Fn(f64) -> Bounded<f64>,
    ) -> Bounded<f64> {
        let (lo, hi, slack) = self.rest.extent();
        let mut kinks = self.rest.kinks();
        kinks.extend(self.rest.marks());
        let law = Measure::new(&self.law);
        if law.is_walked_by_place() && self.rest.scale() <= self.law.scale {
            let target = Target {
                g,
                inside: (lo, hi),
                outside,
                slack,
                kinks,
            };
            return law.expect_near(y, &target, effort);
        }
        for kink in &mut kinks {
            kink.at = y - kink.at;
        }
        let target = Target {
            g: &|x| g(y - x),
            inside: (y - hi, y - lo),
            outside: (outside.1, outside.0),
            slack,
            kinks,
        };
        law.expect(&target, effort)
    }

    /// What the rounding of places (y − x, a few units in the last place of y) does to a chance: about density times that.
    fn shift_error(&self, y: f64, value: f64) -> f64 {
        let met = 2.0 * f64::EPSILON * (y.abs() + self.law.scale);
        let most = met * self.peak();
        if most <= 2e-15 * value {
            return most;
        }
        // Only far out, or between poles, is the density itself worth its cost.
        let here = self
            .density_by(y, ROUGH)
            .map_or(f64::INFINITY, |d| d.value + d.error);
        (met * here).min(most).min(met.sqrt())
    }

    pub(super) fn density(&self, y: f64) -> Option<Bounded<f64>> {
        self.density_by(y, self.effort())
    }

    fn density_by(&self, y: f64, effort: Effort) -> Option<Bounded<f64>> {
        // The rest has no atoms, so it has a density all over.
        let mut answer = self.average(y, (0.0, 0.0), effort, &|r| {
            self.rest.density(r).unwrap_or(Bounded {
                value: 0.0,
                error: f64::INFINITY,
            })
        });
        if !self.rest.peak().is_finite() {
            // Poles are met to the rounding of places, whose square root the density feels.
            answer.error += 1e-8 * answer.value.abs();
        }
        answer.value = answer.value.max(0.0);
        Some(answer)
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
            marks.extend(self.law.marks().iter().map(|x| Kink::corner(x + middle)));
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
