//! A heavy law and the rest, far out: the convolution at nodes of the rest that are made once.
//!
//! Far from its middle a heavy law is smooth over all of the rest, so one rule serves all places there. Two orders are summed
//! at every place, and where they differ the convolution that adapts answers instead.

use super::convolution::Convolution;
use super::measure::Measure;
use super::part::Part;
use super::quadrature::between;
use super::solved::Solved;
use super::tail::{Tail, chance};
use crate::Bounded;
use kerfwise_numeric::quadrature::gauss_legendre;
use std::sync::OnceLock;

/// Panels are no wider than this part of the rest.
const PANEL: f64 = 1.0 / 2.0;
/// Orders of the two rules.
const ORDERS: [usize; 2] = [24, 16];
/// A difference of the two that is small enough, of the value.
const GOOD: f64 = 1e-13;

/// A law with the rest, and the rest at nodes.
#[derive(Debug, Clone)]
pub(super) struct Far {
    adapting: Convolution,
    /// `None` where the rest has poles.
    rules: OnceLock<Option<[Vec<Node>; 2]>>,
}

/// A place of the rest with its weight, and what is known of the rest there.
#[derive(Debug, Clone, Copy)]
struct Node {
    at: f64,
    weight: f64,
    /// Chances of at most this and of more, and the density.
    known: [Bounded<f64>; 3],
}

impl Far {
    pub(super) fn new(law: Part, rest: Solved) -> Self {
        Self {
            adapting: Convolution::new(law, rest),
            rules: OnceLock::new(),
        }
    }

    pub(super) fn tail(&self, tail: Tail, y: f64) -> Bounded<f64> {
        let (law, rest) = self.adapting.summands();
        let (lo, hi, outside) = rest.extent();
        // Beyond the nodes the rest is surely on one side.
        let (which, beyond) = if tail.is_lower() {
            (0, law.law.cdf(y - hi))
        } else {
            (1, law.law.sf(y - lo))
        };
        match self.sum(which, y) {
            Some(sum) => {
                let value = sum.value + beyond;
                // As the convolution that adapts: a few units in the last place of what is summed.
                chance(value, sum.error + 4e-15 * value + outside)
            }
            None => self.adapting.tail(tail, y),
        }
    }

    pub(super) fn density(&self, y: f64) -> Option<Bounded<f64>> {
        let sum = self.sum(2, y);
        sum.or_else(|| self.adapting.density(y))
    }

    /// ∫ f(y − r) known(r) dr; `None` where two orders differ.
    fn sum(&self, which: usize, y: f64) -> Option<Bounded<f64>> {
        let (law, rest) = self.adapting.summands();
        let rules = self.rules.get_or_init(|| rules(rest)).as_ref()?;
        let law = Measure::new(law);
        let [fine, coarse] = [0, 1].map(|k| {
            let (mut value, mut error) = (0.0, 0.0);
            for node in &rules[k] {
                let share = node.weight * law.density(y - node.at);
                value += share * node.known[which].value;
                error += share * node.known[which].error;
            }
            (value, error)
        });
        let off = (fine.0 - coarse.0).abs();
        let is_good = off <= GOOD * fine.0;
        is_good.then_some(Bounded {
            value: fine.0,
            error: off + fine.1 + 4e-15 * fine.0,
        })
    }
}

fn rules(rest: &Solved) -> Option<[Vec<Node>; 2]> {
    let (lo, hi, _) = rest.extent();
    let mut kinks = rest.kinks();
    if kinks.iter().any(|kink| kink.power > 1) {
        return None;
    }
    kinks.extend(rest.marks());
    let places = between(kinks, lo, hi);
    let widest = PANEL * (hi - lo);
    let known = |r: f64| {
        let density = rest.density(r)?;
        let [at_most, more] = [Tail::AtMost, Tail::MoreThan].map(|tail| rest.tail(tail, r));
        Some([at_most, more, density])
    };
    let mut rules = [Vec::new(), Vec::new()];
    for pair in places.windows(2) {
        let (from, length) = (pair[0].at, pair[1].at - pair[0].at);
        let panels = (length / widest).ceil();
        if !(panels >= 1.0 && panels.is_finite()) {
            return None;
        }
        let half = 0.5 * length / panels;
        for panel in 0..panels as u32 {
            let middle = from + half * (2.0 * f64::from(panel) + 1.0);
            for (rule, order) in rules.iter_mut().zip(ORDERS) {
                let rule_of = gauss_legendre(order);
                for (node, weight) in rule_of.nodes().iter().zip(rule_of.weights()) {
                    let at = middle + half * node;
                    rule.push(Node {
                        at,
                        weight: half * weight,
                        known: known(at)?,
                    });
                }
            }
        }
    }
    Some(rules)
}

#[cfg(test)]
mod tests {
    use super::super::route::{self, Ask};
    use super::*;
    use kerfwise_source::{Distribution, Error};

    fn part(law: Result<Distribution, Error>) -> Part {
        let (_, part) = Part::new(&law.expect("valid"), 1.0).expect("finite");
        part.expect("not a point")
    }

    fn far(laws: Vec<Result<Distribution, Error>>) -> Far {
        let rest = route::solve(laws.into_iter().map(part).collect(), Ask::anywhere());
        let student = part(Distribution::student_t(0.0, 0.15, 3.0));
        Far::new(student, rest.expect("solved"))
    }

    #[test]
    fn nodes_made_once_say_what_the_convolution_that_adapts_says() {
        let normal = || Distribution::normal(0.0, 1.0);
        let rectangle = || Distribution::rectangular(-0.8, 0.8);
        for laws in [vec![normal()], vec![normal(), rectangle()]] {
            let far = far(laws);
            for y in [-400.0, -31.0, 13.0, 40.0, 3000.0] {
                let (got, want) = (far.density(y).unwrap(), far.adapting.density(y).unwrap());
                assert!(
                    (got.value - want.value).abs() <= got.error + want.error,
                    "{y}"
                );
                assert!(got.error < 1e-11 * got.value, "{y}: {got:?}");
                for tail in [Tail::AtMost, Tail::MoreThan] {
                    let (got, want) = (far.tail(tail, y), far.adapting.tail(tail, y));
                    assert!(
                        (got.value - want.value).abs() <= got.error + want.error,
                        "{y}"
                    );
                }
                // The nodes answer; they are no help if they do not.
                assert!(far.sum(2, y).is_some(), "{y}");
            }
        }
    }

    /// Near the middle of the heavy law, of which the rule knows nothing, and beside poles the convolution adapts.
    #[test]
    fn where_the_nodes_do_not_serve_they_do_not_answer() {
        assert!(
            far(vec![Distribution::normal(0.0, 1.0)])
                .sum(2, 0.3)
                .is_none()
        );
        let poles = far(vec![Distribution::arcsine(-1.0, 1.0)]);
        assert!(poles.sum(2, 40.0).is_none());
        assert!(poles.density(40.0).unwrap().error < 1e-6);
    }
}
