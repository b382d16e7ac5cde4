//! Where to set the first cut when its piece is measured and can be cut again.

use super::advice::Advice;
use super::evidence::Seen;
use super::lattice::Lattice;
use super::options::TestCutOptions;
use super::prior::{Parts, TestCut, length, positive};
use crate::affine::{self, Term};
use crate::costs::cost_is_sound;
use crate::curve::{Curve, width_of};
use crate::{Costs, Error};
use kerfwise_source::{Dimension, Event, Length, LengthUnits};
use kerfwise_stack::{Chance, Exact, Expr, Stack};

/// What a first cut is like.
#[derive(Debug, Clone)]
pub struct FirstCutOptions {
    costs: Costs,
    recut: f64,
    others: u32,
    reach: Length,
    cut: Event,
    test: TestCutOptions,
}

impl FirstCutOptions {
    /// The piece is all there is, cutting it again costs nothing, and what the event "cut" redraws is drawn anew by that;
    /// offsets up to 0.010 in either way.
    #[must_use]
    pub fn new(costs: Costs) -> Self {
        Self {
            costs,
            recut: 0.0,
            others: 0,
            reach: 10.thou(),
            cut: Event::cut(),
            test: TestCutOptions::new(),
        }
    }

    /// What it costs to move the jig and cut the piece again, in the unit of the costs.
    #[must_use]
    pub fn recut(mut self, cost: f64) -> Self {
        self.recut = cost;
        self
    }

    /// Joints that are cut after it, with the jig as it then stands.
    #[must_use]
    pub fn others(mut self, joints: u32) -> Self {
        self.others = joints;
        self
    }

    /// How far to look on either side.
    #[must_use]
    pub fn reach(mut self, reach: Length) -> Self {
        self.reach = reach;
        self
    }

    /// The event that cutting a piece again is.
    #[must_use]
    pub fn cut_by(mut self, event: Event) -> Self {
        self.cut = event;
        self
    }

    /// Dial, gauge and events of the test cut that the piece is.
    #[must_use]
    pub fn test_cut(mut self, options: TestCutOptions) -> Self {
        self.test = options;
        self
    }
}

/// What to do for some readings of the first piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FirstCutLine {
    /// The least reading of this line, as the gauge shows it, when the first cut was made at the best offset.
    pub from: Length,
    /// The greatest.
    pub to: Length,
    /// Whether to move the jig, for the others and for this piece if it is cut again.
    pub advice: Advice,
    /// Whether to cut this piece again.
    pub recut: bool,
}

/// The first setting of a jig, for a piece that is measured, and cut again if it is too fat.
///
/// A fat piece can be cut again after a move, a thin one cannot: so the first cut is best aimed fat, by an amount that
/// balances the pieces it loses against the ones it must cut twice.
///
/// ```text
/// first cut      y = a + C + W,   W = what a second cut draws anew, C = what stays
/// reading        r = y + (gauge), in its steps
/// second cut     y₂ = min(y, a + x + C + W′)
/// cost(a) = Σ_r P(r) min over actions of { E[cost of the piece | r] (+ recut) + others · E[cost of a joint | r] }
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct FirstCut {
    /// By how much the fit deviation of the first cut is to be raised over that of the stack: whole dial steps.
    pub offset: Length,
    /// What the piece and the others cost on average then.
    pub cost: f64,
    /// About how far off the costs may be.
    pub error: f64,
    /// The cost without an offset.
    pub without: f64,
    /// How the first piece fits straight from the saw at that offset.
    pub first: Chance,
    /// The chance that it is to be cut again.
    pub recut: f64,
    /// Cost against offset, ascending.
    pub curve: Vec<(Length, f64)>,
    /// What to do for each reading, ascending; readings beyond come once in five hundred pieces.
    pub lines: Vec<FirstCutLine>,
}

/// A reading is taken in steps of at least this part of its standard deviation.
const COARSEST: f64 = 0.125;
/// Moves that are looked at on either side of the best for the others.
const MOVES: i64 = 8;
/// Rarer readings are left out.
const RARE: f64 = 1e-9;
/// Readings rarer than this, on either side, get no line.
const UNLIKELY: f64 = 1e-3;
/// The most offsets, a stop for dials that are finer than any.
const MOST_OFFSETS: f64 = 400.0;

impl FirstCut {
    /// The best offset over the setting that the stack stands for.
    ///
    /// # Errors
    ///
    /// As [`TestCut::measured`]; when a cost is not from 0 to 1e12 or both of a joint are 0; when the reach is not above 0 or holds more than 400 dial steps;
    /// when the gauge has no step.
    ///
    /// ```
    /// use kerfwise_decide::{Costs, FirstCut, FirstCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(2.thou()).build()?;
    /// let cut = Source::new("cut", 0.inch()).normal(1.thou()).event(Event::cut()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&cut);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// // A thin piece is lost, a fat one takes two minutes at the saw.
    /// let options = FirstCutOptions::new(Costs { tight: 10.0, loose: 30.0 }).recut(2.0);
    /// let first = FirstCut::best(&stack, "fit", &fit, &options)?;
    /// assert!(first.offset > 1.thou() && first.cost < 0.5 * first.without);
    /// assert!(first.lines.last().unwrap().recut && !first.lines[0].recut);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn best(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        options: &FirstCutOptions,
    ) -> Result<Self, Error> {
        options.check()?;
        let cut = TestCut::measured(stack, outcome, shown, &options.test)?;
        let piece = Piece::of(stack, outcome, shown, options)?;
        let plan = Plan::of(&cut, &piece, options)?;
        // On a lattice of half the step the error of rounding to it is a quarter (Richardson's extrapolation).
        let coarse = plan.costs(1);
        let fine = plan.costs(2);
        let value = |i: usize| (4.0 * fine[i].cost - coarse[i].cost) / 3.0;
        let curve: Vec<(Length, f64)> = (0..fine.len())
            .map(|i| (length(plan.offset(i)), value(i)))
            .collect();
        let best = (0..fine.len())
            .min_by(|a, b| value(*a).total_cmp(&value(*b)))
            .unwrap_or(0);
        let at = &fine[best];
        let zero = plan.zero();
        let off = |i: usize| (value(i) - fine[i].cost).abs();
        let lost = options.costs.dearer() * f64::from(options.others + 1) * plan.lost;
        Ok(Self {
            offset: length(plan.offset(best)),
            cost: value(best),
            error: off(best).max(off(zero)) + lost,
            without: value(zero),
            first: cut.prior_at(plan.offset(best)),
            recut: at.recut,
            curve,
            lines: plan.lines(at, cut.shown_location + plan.offset(best)),
        })
    }
}

impl FirstCutOptions {
    fn check(&self) -> Result<(), Error> {
        self.costs.check_that_they_choose()?;
        cost_is_sound("cutting a piece again", self.recut)?;
        positive("reach", self.reach)?;
        positive(
            "resolution of the gauge that reads a first cut",
            self.test.resolution,
        )?;
        Ok(())
    }
}

/// The first piece, taken apart by what a second cut draws anew.
struct Piece {
    /// C: what stays when it is cut again.
    stays: Option<Exact>,
    /// W: what does not.
    redrawn: Option<Exact>,
    /// What the gauge adds, if anything.
    gauge: Option<Curve>,
    gauge_width: f64,
    /// What the fit adds to the piece, if anything: the mortise.
    rest: Option<Curve>,
}

/// The chance that what is added stays below x, for a cell of the lattice about what it is added to. Where nothing is added that is
/// the part of the cell that does: a jump would count for all of a cell or nothing of it.
fn at_most(added: Option<&Curve>, x: f64, cell: f64) -> f64 {
    match added {
        Some(curve) => curve.at(x).clamp(0.0, 1.0),
        None => (x / cell + 0.5).clamp(0.0, 1.0),
    }
}

impl Piece {
    fn of(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        options: &FirstCutOptions,
    ) -> Result<Self, Error> {
        let (fit, seen) = affine::beside(stack, affine::named(stack, outcome)?, Some(shown))?;
        let parts = Parts::of(&fit, &seen, &options.test)?;
        let matrix = stack.correlations();
        let (mut stays, mut redrawn) = (parts.kept.clone(), parts.moved.clone());
        let mut rest = parts.fit_only.clone();
        for term in &parts.fit_piece {
            if !affine::in_both(term, &seen)? {
                rest.push(term.clone());
            } else if term.source.event().is_redrawn_by(&options.cut) {
                redrawn.push(term.clone());
            } else {
                stays.push(term.clone());
            }
        }
        let mut gauge = parts.gauge.clone();
        let own = |term: &&Term| !fit.terms.iter().any(|t| t.is_same(term));
        gauge.extend(parts.shown_piece.iter().filter(own).cloned());
        affine::parts_are_independent(&[&stays, &redrawn, &rest, &gauge], matrix)?;
        let law = |terms: &[Term]| affine::law(terms, Dimension::LENGTH, matrix);
        let (gauge, rest) = (law(&gauge)?, law(&rest)?);
        let curve = |law: &Option<Exact>| {
            let law = law.as_ref();
            law.map(|law| Curve::cdf(Some(law), Dimension::LENGTH))
        };
        Ok(Self {
            stays: law(&stays)?,
            redrawn: law(&redrawn)?,
            gauge_width: gauge.as_ref().map_or(0.0, width_of),
            gauge: curve(&gauge),
            rest: curve(&rest),
        })
    }
}

/// What a reading leads to, for the others.
struct Reading {
    /// Counted from what is expected without an offset.
    at: f64,
    chance: f64,
    /// Costs of one of the others, left, by offset.
    left: Vec<f64>,
    /// First target (offset plus move, in units), and costs of one of the others there.
    first_target: i64,
    moved: Vec<f64>,
}

/// Everything that does not depend on the lattice.
struct Plan<'a> {
    piece: &'a Piece,
    limits: (f64, f64),
    costs: Costs,
    recut: f64,
    others: f64,
    /// Offsets and moves are whole numbers of these: a dial step, or several where the dial is very fine.
    unit: f64,
    /// Offsets run from minus this to this.
    most: i64,
    /// The step of the readings that are told apart, and of the gauge.
    step: f64,
    shown_step: f64,
    readings: Vec<Reading>,
    /// The chance of readings that were left out.
    lost: f64,
}

/// What an offset costs, and what is done there for each reading.
struct AtOffset {
    cost: f64,
    recut: f64,
    /// Move in units (none: leave), and whether the piece is cut again.
    actions: Vec<(Option<i64>, bool)>,
}

impl<'a> Plan<'a> {
    fn of(cut: &TestCut, piece: &'a Piece, options: &FirstCutOptions) -> Result<Self, Error> {
        let width = cut.laws.shown.as_ref().map_or(0.0, width_of);
        // Ten to a standard deviation are as many as count.
        let unit = cut.step * (0.1 * width / cut.step).floor().max(1.0);
        let most = (options.reach.to_inches() / unit).floor();
        if !(1.0..=MOST_OFFSETS).contains(&most) {
            return Err(Error::question(format!(
                "reach must hold 1 to {MOST_OFFSETS} dial steps (got {} in steps of {})",
                options.reach, options.test.dial_step
            )));
        }
        let mut plan = Self {
            piece,
            limits: cut.limits(),
            costs: options.costs,
            recut: options.recut,
            others: f64::from(options.others),
            unit,
            most: most as i64,
            step: cut.resolution.max(COARSEST * width),
            shown_step: cut.resolution,
            readings: Vec::new(),
            lost: 1.0,
        };
        let rules = &cut.rules[0];
        let reach = (8.0 * width / plan.step).ceil() as i64;
        let middle = cut.laws.shown.as_ref().map_or(0.0, crate::curve::middle_of);
        let nearest = (middle / plan.step).round() as i64;
        for n in nearest - reach..=nearest + reach {
            let at = n as f64 * plan.step;
            let seen = Seen::Between(at - 0.5 * plan.step, at + 0.5 * plan.step);
            // What is too rare to be believed is left out.
            let Ok(beliefs) = cut.believe(&[seen], rules) else {
                continue;
            };
            let chance = kerfwise_numeric::float::exp(beliefs.ln_evidence);
            if chance < RARE {
                continue;
            }
            let cost = |chance: Chance| plan.costs.expected(&chance);
            let left = plan
                .offsets()
                .map(|a| cost(cut.chance(&beliefs.both, &cut.curves.left, a)))
                .collect();
            let (best, _) = cut.best_target(&beliefs, &plan.costs);
            let first_target = (best / unit).round() as i64 - MOVES;
            let moved = (0..=2 * MOVES)
                .map(|i| {
                    let target = (first_target + i) as f64 * unit;
                    cost(cut.chance(&beliefs.kept, &cut.curves.fresh, target))
                })
                .collect();
            plan.lost -= chance;
            plan.readings.push(Reading {
                at,
                chance,
                left,
                first_target,
                moved,
            });
        }
        plan.lost = plan.lost.max(0.0);
        Ok(plan)
    }

    fn offsets(&self) -> impl Iterator<Item = f64> {
        let unit = self.unit;
        (-self.most..=self.most).map(move |n| n as f64 * unit)
    }

    fn offset(&self, index: usize) -> f64 {
        (index as i64 - self.most) as f64 * self.unit
    }

    /// The index of no offset.
    fn zero(&self) -> usize {
        self.most as usize
    }

    /// Cost of each offset, on a lattice whose step is the least number of times smaller than a unit that tells the parts
    /// apart, and `finer` times smaller than that.
    fn costs(&self, finer: usize) -> Vec<AtOffset> {
        let width = |law: &Option<Exact>| law.as_ref().map_or(f64::INFINITY, width_of);
        let noise =
            (self.piece.gauge_width * self.piece.gauge_width + self.step * self.step / 12.0).sqrt();
        let narrowest = width(&self.piece.redrawn).min(2.0 * noise);
        let per_unit = ((1.5 * self.unit / narrowest).ceil().max(1.0) as usize) * finer;
        let step = self.unit / per_unit as f64;
        let first = FirstPiece {
            stays: Lattice::of(self.piece.stays.as_ref(), step),
            redrawn: Lattice::of(self.piece.redrawn.as_ref(), step),
        };
        let mut all: Vec<AtOffset> = self
            .offsets()
            .map(|_| AtOffset {
                cost: 0.0,
                recut: 0.0,
                actions: Vec::new(),
            })
            .collect();
        let cost_at = |y: f64| {
            let rest = self.piece.rest.as_ref();
            let below = at_most(rest, self.limits.0 - y, step);
            let above = 1.0 - at_most(rest, self.limits.1 - y, step);
            self.costs.loose * below + self.costs.tight * above
        };
        let table = first.table(step, self.most * per_unit as i64, 4 * MOVES, &cost_at);
        for reading in &self.readings {
            self.add(reading, &first, &table, per_unit, &mut all);
        }
        all
    }

    /// Adds what one reading contributes at every offset.
    fn add(
        &self,
        reading: &Reading,
        first: &FirstPiece,
        table: &Table,
        per_unit: usize,
        all: &mut [AtOffset],
    ) {
        let step = self.unit / per_unit as f64;
        let likelihood = |y: f64| {
            let gauge = self.piece.gauge.as_ref();
            let off = reading.at - y;
            let up_to = |x: f64| at_most(gauge, x, step);
            (up_to(off + 0.5 * self.step) - up_to(off - 0.5 * self.step)).max(0.0)
        };
        let seen = first.seen(step, &likelihood);
        let kept = first.thickness(&seen, None);
        let in_cells = |units: i64| units * per_unit as i64;
        // Moves come again at other offsets: each is worked out once.
        let last_target = reading.first_target + 2 * MOVES;
        let (low, high) = (reading.first_target - self.most, last_target + self.most);
        let again: Vec<(i64, Vec<f64>)> = (low..=high)
            .map(|x| first.thickness(&seen, Some(in_cells(x))))
            .collect();
        for (index, total) in all.iter_mut().enumerate() {
            let offset = index as i64 - self.most;
            let keep = table.expect(&kept, in_cells(offset));
            let mut best = keep + self.others * reading.left[index];
            let mut action = (None, false);
            for (i, moved) in reading.moved.iter().enumerate() {
                let x = reading.first_target + i as i64 - offset;
                let recut = self.recut + table.expect(&again[(x - low) as usize], in_cells(offset));
                let is_again = recut < keep;
                let cost = recut.min(keep) + self.others * moved;
                // To leave where they are equal.
                if cost < best - 1e-12 {
                    best = cost;
                    action = (Some(x), is_again);
                }
            }
            total.cost += reading.chance * best;
            total.recut += if action.1 { reading.chance } else { 0.0 };
            total.actions.push(action);
        }
    }

    /// Neighbouring readings with the same action in one line; `middle` is what the gauge shows if nothing is off.
    fn lines(&self, at: &AtOffset, middle: f64) -> Vec<FirstCutLine> {
        let mut lines: Vec<FirstCutLine> = Vec::new();
        let mut below = 0.0;
        for (reading, (moved, recut)) in self.readings.iter().zip(&at.actions) {
            below += reading.chance;
            if below < UNLIKELY || below - reading.chance > 1.0 - UNLIKELY {
                continue;
            }
            // The marks of the gauge within half a step of this reading, counted: the last one before the next begins. A mark
            // on the border, but for rounding, belongs to the reading above.
            let mark = |y: f64| (y / self.shown_step - 1e-6).ceil();
            let first = mark(reading.at - 0.5 * self.step + middle);
            let last = mark(reading.at + 0.5 * self.step + middle) - 1.0;
            if last < first {
                continue;
            }
            let (from, to) = (
                length(first * self.shown_step),
                length(last * self.shown_step),
            );
            let advice = match moved {
                None => Advice::Leave,
                Some(x) => Advice::MoveBy(length(*x as f64 * self.unit)),
            };
            match lines.last_mut() {
                Some(before) if before.advice == advice && before.recut == *recut => {
                    before.to = to;
                }
                _ => lines.push(FirstCutLine {
                    from,
                    to,
                    advice,
                    recut: *recut,
                }),
            }
        }
        lines
    }
}

/// The first piece on a lattice.
struct FirstPiece {
    stays: Lattice,
    redrawn: Lattice,
}

/// What is known of the first piece after a reading: for each C, its weight, and of W the chance of at least each cell.
struct Known {
    rows: Vec<(i64, f64, Vec<f64>)>,
}

/// Costs by thickness, on the lattice.
struct Table {
    first: i64,
    costs: Vec<f64>,
}

impl Table {
    /// The expected cost of a thickness with these chances, all moved by an offset.
    fn expect(&self, (first, chances): &(i64, Vec<f64>), offset: i64) -> f64 {
        let last = self.costs.len() as i64 - 1;
        let start = first + offset - self.first;
        if start >= 0 && start + chances.len() as i64 - 1 <= last {
            let costs = &self.costs[start as usize..];
            return chances.iter().zip(costs).map(|(p, cost)| p * cost).sum();
        }
        // Beyond the table costs do not change any more.
        let at = |i: usize| self.costs[(start + i as i64).clamp(0, last) as usize];
        chances.iter().enumerate().map(|(i, p)| p * at(i)).sum()
    }
}

impl FirstPiece {
    /// Costs of every thickness that may come up.
    fn table(&self, step: f64, most: i64, beyond: i64, cost: &dyn Fn(f64) -> f64) -> Table {
        let first = self.stays.first + 2 * self.redrawn.first - 2 * most - beyond;
        let last = self.stays.last() + self.redrawn.last() + most + beyond;
        Table {
            first,
            costs: (first..=last).map(|n| cost(n as f64 * step)).collect(),
        }
    }

    fn seen(&self, step: f64, likelihood: &dyn Fn(f64) -> f64) -> Known {
        let (low, high) = (
            self.stays.first + self.redrawn.first,
            self.stays.last() + self.redrawn.last(),
        );
        let likely: Vec<f64> = (low..=high).map(|n| likelihood(n as f64 * step)).collect();
        let mut rows = Vec::new();
        let mut evidence = 0.0;
        for (i, weight) in self.stays.chances.iter().enumerate() {
            // The chance of this C, and of at least each W, with the reading.
            let mut sums = vec![0.0; self.redrawn.chances.len() + 1];
            for (j, chance) in self.redrawn.chances.iter().enumerate().rev() {
                sums[j] = sums[j + 1] + weight * chance * likely[i + j];
            }
            evidence += sums[0];
            rows.push((self.stays.first + i as i64, sums[0], sums));
        }
        if evidence > 0.0 {
            for (_, weight, sums) in &mut rows {
                *weight /= evidence;
                sums.iter_mut().for_each(|sum| *sum /= evidence);
            }
        }
        rows.retain(|(_, weight, _)| *weight > 1e-12);
        Known { rows }
    }

    /// Chances of the thickness, from its first cell on: as it is, or cut again after a move by so many cells.
    fn thickness(&self, known: &Known, moved: Option<i64>) -> (i64, Vec<f64>) {
        let w = &self.redrawn;
        let low = w.first + moved.map_or(0, |x| x.min(0));
        let (Some(first), Some(last)) = (known.rows.first(), known.rows.last()) else {
            return (0, vec![1.0]);
        };
        let start = first.0 + low;
        let count = (last.0 + w.last() - start + 1) as usize;
        // The chance of at least each cell: both cuts must leave that much.
        let mut at_least = vec![0.0; count + 1];
        // At or below the first cell all are at least that; beyond the last none.
        let fresh: Vec<f64> = match moved {
            None => Vec::new(),
            Some(x) => (low..=w.last()).map(|v| w.at_least(v - x)).collect(),
        };
        for (c, weight, sums) in &known.rows {
            let below = (c + low - start) as usize;
            let cells = &mut at_least[below..=below + (w.last() - low) as usize];
            let lead = (w.first - low) as usize;
            if fresh.is_empty() {
                for (cell, sum) in cells.iter_mut().zip(sums) {
                    *cell += sum;
                }
            } else {
                for (cell, again) in cells[..lead].iter_mut().zip(&fresh) {
                    *cell += weight * again;
                }
                let rest = cells[lead..].iter_mut().zip(&fresh[lead..]).zip(sums);
                for ((cell, again), sum) in rest {
                    *cell += sum * again;
                }
            }
            // Below its own cells this C has all of its weight.
            for cell in &mut at_least[..below] {
                *cell += weight;
            }
        }
        (start, at_least.windows(2).map(|p| p[0] - p[1]).collect())
    }
}

#[cfg(test)]
#[path = "first_cut_tests.rs"]
mod tests;
