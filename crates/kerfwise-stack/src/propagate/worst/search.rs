//! Branch and bound for one end of the range.
//!
//! Best first: the region with the highest bound is bisected where the outcome varies most, until no region's bound is
//! above what has been reached by more than the tolerance. Bounds come from interval evaluation and from the mean-value
//! form, whichever is lower; sources in which the outcome is monotone over a region are moved to their better end
//! first. The order of work depends on the numbers only.

use super::objective::{Objective, Undefined, climb_monotone, is_point};
use kerfwise_numeric::interval::Interval;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Regions on which interval evaluation fails are split at most this often: if it still fails then, it will.
const UNDEFINED_SPLITS: usize = 4096;
/// Sides kept in memory at most (16 bytes each).
const SIDES_KEPT: usize = 1 << 24;
/// Evaluations per free input that the first climb may take, and operations that all of them may take together.
const CLIMB_EVALUATIONS: usize = 200;
const CLIMB_OPERATIONS: usize = 100_000_000;

/// A part of the box of limits.
#[derive(Debug)]
struct Region {
    /// The objective never goes above this here.
    bound: f64,
    /// When it was made: of equal bounds the older goes first.
    order: usize,
    sides: Vec<Interval>,
    /// The side to bisect; `None` when none can be.
    cut: Option<usize>,
    /// Why there is no bound.
    undefined: Option<String>,
}

impl Ord for Region {
    fn cmp(&self, other: &Self) -> Ordering {
        let by_bound = self.bound.total_cmp(&other.bound);
        by_bound.then(other.order.cmp(&self.order))
    }
}

impl PartialOrd for Region {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Region {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Region {}

/// The search for the maximum of an objective.
pub(super) struct Search<'a> {
    objective: Objective<'a>,
    regions: BinaryHeap<Region>,
    /// The highest bound among regions that need no more work.
    settled: f64,
    /// The best that was reached, where, and how well the tape's rounding lets it be known there.
    best: f64,
    at: Vec<f64>,
    rounding: f64,
    regions_made: usize,
}

impl<'a> Search<'a> {
    /// Fixes what is monotone, climbs from the middle, and bounds the whole box.
    pub(super) fn start(mut objective: Objective<'a>) -> Result<Self, Undefined> {
        objective.fix_monotone();
        let sides = objective.sides.clone();
        let mut search = Self {
            at: Vec::new(),
            objective,
            regions: BinaryHeap::new(),
            settled: f64::NEG_INFINITY,
            best: f64::NEG_INFINITY,
            rounding: 0.0,
            regions_made: 0,
        };
        search.offer(&midpoint(&sides))?;
        search.climb()?;
        let whole = search.examine(sides)?;
        search.regions.push(whole);
        Ok(search)
    }

    /// The outcome that was reached.
    pub(super) fn attained(&self) -> f64 {
        self.objective.end.turn(self.best)
    }

    /// All inputs where it was reached.
    pub(super) fn at(&self) -> Vec<f64> {
        self.at.clone()
    }

    /// The outcome never goes beyond this.
    pub(super) fn bound(&self) -> f64 {
        let open = self.regions.peek().map_or(f64::NEG_INFINITY, |r| r.bound);
        self.objective
            .end
            .turn(self.best.max(self.settled).max(open))
    }

    /// Splits regions until bound and best agree to the tolerance (plus what rounding leaves open); whether they do.
    pub(super) fn refine(&mut self, tolerance: f64, boxes: usize) -> Result<bool, Undefined> {
        let most = boxes.min(SIDES_KEPT / self.objective.sides.len().max(1));
        let (mut splits, mut undefined_splits) = (0, 0);
        while let Some(region) = self.regions.peek() {
            if self.is_settled(region.bound, tolerance) {
                break;
            }
            if let Some(reason) = &region.undefined
                && (region.cut.is_none() || undefined_splits == UNDEFINED_SPLITS || splits == most)
            {
                return Err(Undefined {
                    reason: reason.clone(),
                    at: None,
                });
            }
            if splits == most {
                break;
            }
            undefined_splits += usize::from(region.undefined.is_some());
            splits += 1;
            self.split_first(tolerance)?;
        }
        if self.bound().is_infinite() {
            return Err(Undefined {
                reason: format!("no finite bound was found with {splits} boxes"),
                at: None,
            });
        }
        Ok(self.is_settled(self.objective.end.turn(self.bound()), tolerance))
    }

    fn is_settled(&self, bound: f64, tolerance: f64) -> bool {
        bound <= self.best + tolerance + 2.0 * self.rounding
    }

    fn split_first(&mut self, tolerance: f64) -> Result<(), Undefined> {
        let Some(region) = self.regions.pop() else {
            return Ok(());
        };
        let Some(cut) = region.cut else {
            self.settled = self.settled.max(region.bound);
            return Ok(());
        };
        let (low, high) = region.sides[cut].split();
        for half in [low, high] {
            let mut sides = region.sides.clone();
            sides[cut] = half;
            let mut part = self.examine(sides)?;
            // A bound of the whole holds for its parts.
            part.bound = part.bound.min(region.bound);
            if self.is_settled(part.bound, tolerance) {
                self.settled = self.settled.max(part.bound);
            } else {
                self.regions.push(part);
            }
        }
        Ok(())
    }

    /// Bounds a region, tries two points in it, and finds the side to cut.
    fn examine(&mut self, mut sides: Vec<Interval>) -> Result<Region, Undefined> {
        let order = self.regions_made;
        self.regions_made += 1;
        let mut bound = f64::INFINITY;
        // Each round but the last fixes a side, so it ends.
        let (range, slopes) = loop {
            match self.objective.slopes(&sides) {
                Ok((range, slopes)) => {
                    bound = bound.min(range.hi());
                    if !climb_monotone(&mut sides, &slopes) {
                        break (range, slopes);
                    }
                }
                Err(reason) => {
                    if let Err(Undefined { at, .. }) = self.offer(&midpoint(&sides)) {
                        return Err(Undefined { reason, at });
                    }
                    return Ok(Region {
                        bound,
                        order,
                        cut: self.widest(&sides, |_, part_of_whole| part_of_whole),
                        sides,
                        undefined: bound.is_infinite().then_some(reason),
                    });
                }
            }
        };
        let centre = best_centre(&sides, &slopes);
        bound = bound.min(self.mean_value_bound(&sides, &slopes, &centre));
        self.offer(&centre)?;
        self.offer(&rising_corner(&sides, &slopes))?;
        let contribution = |k: usize, part_of_whole: f64| match slopes[k] {
            Some(slope) => size(slope) * sides[k].width(),
            None => range.width() * part_of_whole,
        };
        Ok(Region {
            bound,
            order,
            cut: self.widest(&sides, contribution),
            sides,
            undefined: None,
        })
    }

    /// Mean-value theorem along the sides with a bounded slope: f(x) = f(c) + slope·(x − c), c being any point; the other
    /// sides are kept whole.
    fn mean_value_bound(
        &mut self,
        sides: &[Interval],
        slopes: &[Option<Interval>],
        centre: &[f64],
    ) -> f64 {
        let mut core = sides.to_vec();
        let mut change = Interval::point(0.0).unwrap_or(Interval::ENTIRE);
        for (k, slope) in slopes.iter().enumerate() {
            let (Some(slope), Some(c)) = (slope, Interval::point(centre[k])) else {
                continue;
            };
            if size(*slope).is_finite() && !is_point(sides[k]) {
                core[k] = c;
                change = change + *slope * (sides[k] - c);
            }
        }
        match self.objective.enclosure(&core) {
            Ok(value) => (value + change).hi(),
            Err(_) => f64::INFINITY,
        }
    }

    /// The side with the greatest score among those that can be cut; the first of equals. The score is given the side's
    /// width as a part of the whole box's.
    fn widest(&self, sides: &[Interval], score: impl Fn(usize, f64) -> f64) -> Option<usize> {
        let mut found = None;
        // Where no side contributes anything, the relatively widest is as good as any.
        let mut highest = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (k, side) in sides.iter().enumerate() {
            let middle = side.midpoint();
            if !(side.lo() < middle && middle < side.hi()) {
                continue;
            }
            let part_of_whole = side.width() / self.objective.sides[k].width();
            let candidate = (score(k, part_of_whole), part_of_whole);
            if candidate > highest {
                highest = candidate;
                found = Some(k);
            }
        }
        found
    }

    /// Takes a point that is better than the best so far.
    fn offer(&mut self, x: &[f64]) -> Result<bool, Undefined> {
        let value = self.objective.value(x)?;
        if value <= self.best {
            return Ok(false);
        }
        self.best = value;
        self.at = self.objective.all_inputs(x);
        let here: Option<Vec<Interval>> = x.iter().map(|&v| Interval::point(v)).collect();
        self.rounding = here
            .and_then(|sides| self.objective.enclosure(&sides).ok())
            .map_or(0.0, Interval::width);
        Ok(true)
    }

    /// A first good point by coordinate steps that halve when none of them helps: an early high point lets most regions
    /// be dropped unseen. Needs no derivatives, so kinks do not stop it.
    fn climb(&mut self) -> Result<(), Undefined> {
        let sides = self.objective.sides.clone();
        let mut x = midpoint(&sides);
        let mut part = 0.5;
        let affordable = CLIMB_OPERATIONS / self.objective.operations().max(1);
        let mut evaluations_left = (CLIMB_EVALUATIONS * sides.len()).min(affordable);
        while part > 1e-12 {
            let mut has_risen = false;
            for k in 0..sides.len() {
                for direction in [-1.0, 1.0] {
                    if evaluations_left == 0 {
                        return Ok(());
                    }
                    evaluations_left -= 1;
                    let step = direction * part * sides[k].width();
                    let from = x[k];
                    x[k] = (from + step).clamp(sides[k].lo(), sides[k].hi());
                    if self.offer(&x)? {
                        has_risen = true;
                    } else {
                        x[k] = from;
                    }
                }
            }
            if !has_risen {
                part *= 0.5;
            }
        }
        Ok(())
    }
}

fn midpoint(sides: &[Interval]) -> Vec<f64> {
    sides.iter().map(|side| side.midpoint()).collect()
}

/// Greatest absolute value.
fn size(x: Interval) -> f64 {
    x.lo().abs().max(x.hi().abs())
}

/// The centre that makes the mean-value form's upper bound least (Baumann, "Optimal centered forms", BIT 28, 1988): on
/// each side the point from which climbing at the steepest slope to either end gains the same.
fn best_centre(sides: &[Interval], slopes: &[Option<Interval>]) -> Vec<f64> {
    sides
        .iter()
        .zip(slopes)
        .map(|(side, slope)| match slope {
            Some(slope) if size(*slope).is_finite() && slope.lo() < 0.0 && slope.hi() > 0.0 => {
                let share = slope.hi() / (slope.hi() - slope.lo());
                let c = (1.0 - share) * side.lo() + share * side.hi();
                c.clamp(side.lo(), side.hi())
            }
            _ => side.midpoint(),
        })
        .collect()
}

/// The corner to which the slopes' middles point.
fn rising_corner(sides: &[Interval], slopes: &[Option<Interval>]) -> Vec<f64> {
    sides
        .iter()
        .zip(slopes)
        .map(|(side, slope)| match slope {
            Some(slope) if slope.lo() + slope.hi() < 0.0 => side.lo(),
            _ => side.hi(),
        })
        .collect()
}
