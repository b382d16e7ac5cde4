//! Expectations over the law of a part, as sums over fixed nodes.

use crate::Error;
use crate::curve::Reach;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_source::{Dimension, Quantity};
use kerfwise_stack::Exact;

/// Nodes of one panel.
const NODES: usize = 16;
/// A panel is halved at most so often; then it is walked by shares of its chance.
const DEEPEST: u32 = 40;
/// A panel or a node of no more chance than this is left out.
const NOTHING: f64 = 1e-18;
/// The most panels, a stop for laws that are stranger than any shop.
const MOST_PANELS: usize = 4_000;

/// A law as places and weights: E g(X) ≈ Σ weight · g(place).
///
/// Panels of Gauss–Legendre nodes over the density. A panel is halved until its weights add to the chance that the exact
/// distribution function gives it, and until it is no wider than `widest`, over which the functions that are averaged
/// must be smooth. Where the density has a pole, nodes are taken at equal steps of chance instead.
#[derive(Debug, Clone)]
pub(crate) struct Rule {
    pub(crate) places: Vec<f64>,
    pub(crate) weights: Vec<f64>,
    /// Panels, for integrals that end inside of one: ends, and the first node.
    panels: Vec<(f64, f64, usize)>,
    /// How far the weights may be off in all.
    pub(crate) error: f64,
    pub(crate) mean: f64,
    pub(crate) sd: f64,
}

impl Rule {
    /// Nothing uncertain.
    pub(crate) fn point() -> Self {
        Self {
            places: vec![0.0],
            weights: vec![1.0],
            panels: Vec::new(),
            error: 0.0,
            mean: 0.0,
            sd: 0.0,
        }
    }

    /// The law of a part, in panels at most `widest(from, to)` wide.
    pub(crate) fn of(
        law: Option<&Exact>,
        dimension: Dimension,
        widest: &dyn Fn(f64, f64) -> f64,
    ) -> Result<Self, Error> {
        let Some(law) = law else {
            return Ok(Self::point());
        };
        let reach = Reach::of(law, dimension);
        Self::over(&Functions::exact(law, dimension)?, &reach, &[], widest)
    }

    /// The same in as few panels as its density and `widest` allow.
    pub(crate) fn sparse(
        law: Option<&Exact>,
        dimension: Dimension,
        widest: f64,
    ) -> Result<Self, Error> {
        let Some(law) = law else {
            return Ok(Self::point());
        };
        let mut reach = Reach::of(law, dimension);
        let last = reach.places.len() - 1;
        reach.places = vec![reach.places[0], reach.places[last]];
        Self::over(&Functions::exact(law, dimension)?, &reach, &[], &|_, _| {
            widest
        })
    }

    /// The same over a reach that is known, with ends of panels at these places, where what is averaged may jump.
    pub(crate) fn over(
        law: &Functions<'_>,
        reach: &Reach,
        breaks: &[f64],
        widest: &dyn Fn(f64, f64) -> f64,
    ) -> Result<Self, Error> {
        let mut maker = Maker {
            law,
            widest,
            rule: Self {
                places: Vec::new(),
                weights: Vec::new(),
                panels: Vec::new(),
                error: reach.outside,
                mean: 0.0,
                sd: 0.0,
            },
        };
        let (lo, hi) = (reach.places[0], reach.places[reach.places.len() - 1]);
        let mut places = reach.places.clone();
        places.extend(breaks.iter().filter(|y| **y > lo && **y < hi));
        places.sort_by(f64::total_cmp);
        let at = |y: f64| (law.cdf)(y);
        let mut from: Option<(f64, f64)> = None;
        for place in places {
            let to = (place, at(place));
            if let Some(from) = from {
                maker.panel(from, to, 0);
            }
            from = Some(to);
        }
        let mut rule = maker.rule;
        rule.mean = rule.expect(|y| y);
        let mean = rule.mean;
        rule.sd = rule.expect(|y| (y - mean) * (y - mean)).max(0.0).sqrt();
        Ok(rule)
    }

    /// The same law in the same panels, halved until each is no wider than `widest(from, to)`.
    pub(crate) fn halved(
        &self,
        law: &Exact,
        dimension: Dimension,
        widest: &dyn Fn(f64, f64) -> f64,
    ) -> Result<Self, Error> {
        let mut places: Vec<f64> = self.panels.iter().map(|(from, _, _)| *from).collect();
        places.extend(self.panels.last().map(|(_, to, _)| *to));
        if places.is_empty() {
            return Ok(self.clone());
        }
        let outside = Reach::of(law, dimension).outside;
        let reach = Reach { places, outside };
        Self::over(&Functions::exact(law, dimension)?, &reach, &[], widest)
    }

    /// Σ weight · g(place).
    pub(crate) fn expect(&self, mut g: impl FnMut(f64) -> f64) -> f64 {
        let pairs = self.places.iter().zip(&self.weights);
        let heavy = pairs.filter(|(_, w)| **w > NOTHING);
        heavy.map(|(y, w)| w * g(*y)).sum()
    }

    /// The same law with each weight multiplied by g and all divided by their sum, and that sum: Bayes' rule.
    pub(crate) fn reweighed(&self, mut g: impl FnMut(f64) -> f64) -> (Self, f64) {
        let mut next = self.clone();
        let mut total = 0.0;
        for (weight, place) in next.weights.iter_mut().zip(&self.places) {
            if *weight > 0.0 {
                *weight *= g(*place);
            }
            total += *weight;
        }
        if total > 0.0 {
            for weight in &mut next.weights {
                *weight /= total;
            }
        }
        next.mean = next.expect(|y| y);
        let mean = next.mean;
        next.sd = next.expect(|y| (y - mean) * (y - mean)).max(0.0).sqrt();
        (next, total)
    }

    /// The chance of at most y; `density` is that of the law whose weights these are.
    pub(crate) fn cdf(&self, y: f64, density: &dyn Fn(f64) -> f64) -> f64 {
        if self.panels.is_empty() {
            return self.expect(|place| if place <= y { 1.0 } else { 0.0 });
        }
        let mut total = 0.0;
        for &(from, to, first) in &self.panels {
            if y >= to {
                total += self.weights[first..first + NODES].iter().sum::<f64>();
            } else if y > from {
                return total + gauss_legendre(NODES).integrate(from, y, density);
            } else {
                return total;
            }
        }
        total
    }
}

/// The functions of a law, in raw units.
pub(crate) struct Functions<'a> {
    pub(crate) cdf: Box<dyn Fn(f64) -> f64 + 'a>,
    /// Density and its error.
    pub(crate) pdf: Box<dyn Fn(f64) -> (f64, f64) + 'a>,
    pub(crate) quantile: Box<dyn Fn(f64) -> f64 + 'a>,
    /// How far the two may differ over a panel by rounding alone.
    pub(crate) rounding: f64,
}

impl<'a> Functions<'a> {
    /// Those of the exact propagation.
    pub(crate) fn exact(law: &'a Exact, dimension: Dimension) -> Result<Self, Error> {
        let quantity = move |y: f64| Quantity::new(y, dimension);
        if law.pdf(quantity(0.0)).is_none() {
            return Err(Error::question(
                "what all pieces share comes in steps (a distribution with atoms, nothing continuous beside it); give it \
                 a continuous source, a normal error for instance",
            ));
        }
        Ok(Self {
            cdf: Box::new(move |y| law.cdf(quantity(y)).value),
            pdf: Box::new(move |y| {
                law.pdf(quantity(y))
                    .map_or((0.0, 0.0), |d| (d.value, d.error))
            }),
            quantile: Box::new(move |p| law.quantile(p).value.raw()),
            // Distribution function and density round to a few units in the last place of one.
            rounding: 4e-15,
        })
    }
}

struct Maker<'a> {
    law: &'a Functions<'a>,
    widest: &'a dyn Fn(f64, f64) -> f64,
    rule: Rule,
}

impl Maker<'_> {
    /// Nodes from one place to another, each with the chance of at most it.
    fn panel(&mut self, from: (f64, f64), to: (f64, f64), depth: u32) {
        let mass = to.1 - from.1;
        if mass <= NOTHING || to.0 <= from.0 {
            self.rule.error += mass.max(0.0);
            return;
        }
        let width = to.0 - from.0;
        let is_narrow = width <= (self.widest)(from.0, to.0);
        let is_last = depth >= DEEPEST || self.rule.panels.len() >= MOST_PANELS;
        if is_narrow || is_last {
            if let Some(error) = self.by_density(from.0, to.0, mass) {
                self.rule.error += error;
                return;
            }
            if is_last {
                self.by_share(from, to);
                return;
            }
        }
        let middle = 0.5 * (from.0 + to.0);
        let half = (self.law.cdf)(middle);
        self.panel(from, (middle, half), depth + 1);
        self.panel((middle, half), to, depth + 1);
    }

    /// Adds nodes weighted by density if they add to the mass; how far they are off.
    fn by_density(&mut self, from: f64, to: f64, mass: f64) -> Option<f64> {
        let rule = gauss_legendre(NODES);
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let (mut places, mut weights) = ([0.0; NODES], [0.0; NODES]);
        let (mut sum, mut doubt) = (0.0, 0.0);
        for i in 0..NODES {
            places[i] = middle + half * rule.nodes()[i];
            let (density, error) = (self.law.pdf)(places[i]);
            weights[i] = half * rule.weights()[i] * density.max(0.0);
            sum += weights[i];
            doubt += half * rule.weights()[i] * error;
        }
        let off = (sum - mass).abs();
        if off.is_nan() || off > self.law.rounding + 2.0 * doubt {
            return None;
        }
        self.push(&places, &weights, (from, to));
        Some(off)
    }

    /// Nodes at steps of chance.
    fn by_share(&mut self, from: (f64, f64), to: (f64, f64)) {
        let rule = gauss_legendre(NODES);
        let (middle, half) = (0.5 * (from.1 + to.1), 0.5 * (to.1 - from.1));
        let (mut places, mut weights) = ([0.0; NODES], [0.0; NODES]);
        for i in 0..NODES {
            let share = middle + half * rule.nodes()[i];
            places[i] = (self.law.quantile)(share);
            weights[i] = half * rule.weights()[i];
        }
        self.push(&places, &weights, (from.0, to.0));
    }

    fn push(&mut self, places: &[f64], weights: &[f64], (from, to): (f64, f64)) {
        let first = self.rule.places.len();
        self.rule.places.extend_from_slice(places);
        let heavy = weights.iter().map(|w| if *w > NOTHING { *w } else { 0.0 });
        self.rule.weights.extend(heavy);
        self.rule.panels.push((from, to, first));
    }
}
