//! Sums with heavy tails: inverted near the middle, convolved far out, where inversion would need ever finer panels.

use super::convolution::Convolution;
use super::part::{Part, Shape};
use super::quadrature::Kink;
use super::reach::Reach;
use super::route::{self, Ask};
use super::tail::{Tail, chance};
use super::transform::Transform;
use crate::Bounded;
use std::sync::OnceLock;

/// Panels near, convolution far.
#[derive(Debug, Clone)]
pub(super) struct Spliced {
    near: Transform,
    parts: Vec<Part>,
    /// Made when first asked for: few are ever asked for anything so far out.
    far: OnceLock<Option<Box<Convolution>>>,
}

/// More heavy laws than this are not convolved with each other.
const MOST_HEAVY: usize = 2;

impl Spliced {
    pub(super) fn new(near: Transform, parts: Vec<Part>) -> Self {
        Self {
            near,
            parts,
            far: OnceLock::new(),
        }
    }

    pub(super) fn near(&self) -> &Transform {
        &self.near
    }

    /// The law with the heaviest tail, averaged over the rest.
    fn far(&self) -> Option<&Convolution> {
        self.far
            .get_or_init(|| {
                let heavy = self.parts.iter().filter(|p| p.is_heavy()).count();
                let heaviest = (0..self.parts.len())
                    .filter(|&i| matches!(self.parts[i].shape, Shape::Student(..)))
                    .min_by(|&i, &j| freedom(&self.parts[i]).total_cmp(&freedom(&self.parts[j])))?;
                if heavy > MOST_HEAVY {
                    return None;
                }
                let mut rest = self.parts.clone();
                let law = rest.remove(heaviest);
                let rest = route::solve(rest, Ask::anywhere()).ok()?;
                Some(Box::new(Convolution::new(law, rest)))
            })
            .as_deref()
    }

    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        if self.near.serves(x) {
            return self.near.tail(tail, x);
        }
        if let Some(far) = self.far() {
            return far.tail(tail, x);
        }
        // Three and more heavy tails: what is known is that some summand must be far out.
        let distance = x - self.near.centre();
        let side = if distance > 0.0 { 1.0 } else { -1.0 };
        let beyond = self.union_bound(side, distance.abs());
        if tail.is_lower() == (side < 0.0) {
            chance(0.5 * beyond, 0.5 * beyond)
        } else {
            chance(1.0 - 0.5 * beyond, 0.5 * beyond)
        }
    }

    /// The sum can be beyond a distance only if a summand is beyond its share of it.
    fn union_bound(&self, side: f64, distance: f64) -> f64 {
        let light = Reach::of(self.parts.iter().filter(|p| !p.is_heavy()));
        let near = light.distance(side, 41.0);
        let heavy = || self.parts.iter().filter(|p| p.is_heavy());
        let scale: f64 = heavy().map(|p| p.scale).sum();
        let left = (distance - near).max(0.0);
        let mut total = 2e-18 + light.trimmed();
        for part in heavy() {
            let share = left * part.scale / scale;
            total += if side > 0.0 {
                part.law.sf(part.centre + share)
            } else {
                part.law.cdf(part.centre - share)
            };
        }
        total.min(1.0)
    }

    pub(super) fn density(&self, x: f64) -> Option<Bounded<f64>> {
        if self.near.serves(x) {
            return Some(self.near.density(x));
        }
        match self.far() {
            Some(far) => far.density(x),
            None => Some(Bounded {
                value: 0.0,
                error: self.near.peak(),
            }),
        }
    }

    pub(super) fn extent(&self) -> (f64, f64, f64) {
        self.parts.iter().map(Part::extent).fold((0.0, 0.0, 0.0), |a, b| {
            (a.0 + b.0, a.1 + b.1, a.2 + b.2)
        })
    }

    pub(super) fn marks(&self) -> Vec<Kink> {
        let mut marks = self.near.marks();
        let centre = self.near.centre();
        for part in self.parts.iter().filter(|p| p.is_heavy()) {
            marks.extend(part.marks().into_iter().map(|x| Kink::corner(centre + x)));
        }
        // The seam between the two ways.
        let (lo, hi) = self.near.valid();
        marks.extend([lo, hi].map(Kink::corner));
        marks
    }
}

fn freedom(part: &Part) -> f64 {
    match &part.shape {
        Shape::Student(_, nu, _) => *nu,
        _ => f64::INFINITY,
    }
}
