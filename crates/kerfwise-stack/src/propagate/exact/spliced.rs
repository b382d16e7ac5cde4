//! Sums with heavy tails: inverted near the middle, convolved far out, where inversion would need ever finer panels.

use super::far::Far;
use super::part::{Part, Shape};
use super::quadrature::Kink;
use super::reach::Reach;
use super::route::{self, Ask};
use super::tail::{Tail, chance};
use super::transform::{Plan, Transform};
use crate::Bounded;
use std::sync::OnceLock;

/// Panels near, convolution far.
#[derive(Debug, Clone)]
pub(super) struct Spliced {
    near: Transform,
    parts: Vec<Part>,
    /// Made when first asked for: few are ever asked for anything so far out.
    far: OnceLock<Option<Box<Far>>>,
}

impl Spliced {
    pub(super) fn new(near: Transform, parts: Vec<Part>) -> Self {
        Self {
            near,
            parts,
            far: OnceLock::new(),
        }
    }

    pub(super) fn make_plain(&mut self) {
        self.near.make_plain();
    }

    pub(super) fn near(&self) -> &Transform {
        &self.near
    }

    /// A single heavy law, averaged over the rest: all terms are positive, so far tails keep their digits.
    fn far(&self) -> Option<&Far> {
        self.far
            .get_or_init(|| {
                let is_student = |p: &Part| matches!(p.shape, Shape::Student(..));
                let heavy = self.parts.iter().filter(|p| p.is_heavy()).count();
                let student = self.parts.iter().position(is_student)?;
                if heavy > 1 {
                    return None;
                }
                let mut rest = self.parts.clone();
                let law = rest.remove(student);
                let rest = route::solve(rest, Ask::anywhere()).ok()?;
                if rest.depth() > 0 {
                    return None;
                }
                Some(Box::new(Far::new(law, rest)))
            })
            .as_deref()
    }

    /// Inversion for one distance, several laws being heavy.
    fn by_half_periods(&self, distance: f64) -> Option<Transform> {
        let plan = Plan::half_periods(&self.parts, distance.abs())?;
        Some(Transform::new(&self.parts, plan))
    }

    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        if self.near.serves(x) {
            return self.near.tail(tail, x);
        }
        if let Some(far) = self.far() {
            return far.tail(tail, x);
        }
        let distance = x - self.near.centre();
        let side = if distance > 0.0 { 1.0 } else { -1.0 };
        // What is known at least: some summand must be far out.
        let most = self.union_bound(side, distance.abs());
        let mut beyond = chance(0.5 * most, 0.5 * most);
        if let Some(transform) = self.by_half_periods(distance) {
            let sum = transform.far_tail(side);
            if sum.error < beyond.error {
                beyond = chance(sum.value.min(most), sum.error);
            }
        }
        if tail.is_lower() == (side < 0.0) {
            beyond
        } else {
            chance(1.0 - beyond.value, beyond.error + f64::EPSILON)
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
        if let Some(far) = self.far() {
            return far.density(x);
        }
        let distance = x - self.near.centre();
        let side = if distance > 0.0 { 1.0 } else { -1.0 };
        Some(self.by_half_periods(distance).map_or(
            Bounded {
                value: 0.0,
                error: self.near.peak(),
            },
            |transform| transform.far_density(side),
        ))
    }

    pub(super) fn extent(&self) -> (f64, f64, f64) {
        self.parts
            .iter()
            .map(Part::extent)
            .fold((0.0, 0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1, a.2 + b.2))
    }

    pub(super) fn marks(&self) -> Vec<Kink> {
        let mut marks = self.near.marks();
        let centre = self.near.centre();
        for part in self.parts.iter().filter(|p| p.is_heavy()) {
            marks.extend(part.marks().iter().map(|x| Kink::corner(centre + x)));
        }
        // The seam between the two ways.
        let (lo, hi) = self.near.valid();
        marks.extend([lo, hi].map(Kink::corner));
        marks
    }
}
