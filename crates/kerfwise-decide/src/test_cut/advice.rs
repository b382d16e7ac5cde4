use super::evidence::{Beliefs, Seen, focus};
use super::options::Feel;
use super::prior::{Rules, TestCut, length};
use crate::curve::{Curve, middle_of, width_of};
use crate::rule::Rule;
use crate::{Costs, Error};
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_source::{Dimension, Length};
use kerfwise_stack::{Bounded, Chance, Exact};
use std::borrow::Cow;

/// What to do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Advice {
    /// Leave the jig as it is.
    Leave,
    /// Move the jig so that the fit deviation rises by this: a whole number of dial steps, negative for thinner tenons.
    /// Zero means: loosen, set the same number again and lock.
    MoveBy(Length),
}

impl Advice {
    /// The better of leaving and of moving by x (raw); to leave where they are equal.
    pub(super) fn better(left: f64, moved: f64, x: f64) -> Self {
        if left >= moved {
            Self::Leave
        } else {
            Self::MoveBy(length(x))
        }
    }
}

/// Where the joints of the batch lie in the middle, as far as is known: a fit deviation, positive when tight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offset {
    /// Mean of what is believed.
    pub mean: Length,
    /// Standard deviation of what is believed.
    pub sd: Length,
    /// From here to there with a probability of 95 %, the same outside on either side.
    pub interval_95: (Length, Length),
}

/// What test pieces say.
#[derive(Debug, Clone, PartialEq)]
pub struct TestCutAnswer {
    /// How many test pieces.
    pub pieces: usize,
    /// The better of leaving and the best move.
    pub advice: Advice,
    /// The chance of a joint before any test piece.
    pub untested: Chance,
    /// The chance of a joint now, if the jig is left as it is.
    pub leave: Bounded<Chance>,
    /// The best move.
    pub best_move: Length,
    /// The chance of a joint after the best move, its fresh errors counted.
    pub moved: Bounded<Chance>,
    /// The probability that the best move raises the chance of the joints: not every move that is right on average does.
    pub raises: f64,
    /// Where the joints lie in the middle, before the test.
    pub before: Offset,
    /// Where they lie now, if the jig is left.
    pub after: Offset,
    /// Logarithm of the chance of what was seen (of its density, for exact readings).
    pub ln_evidence: f64,
    /// Chance of a joint against the move.
    pub moves: Vec<(Length, Chance)>,
}

/// What one more test piece is worth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextPiece {
    /// The chance of a joint now, with the better of leaving and moving.
    pub now: f64,
    /// The chance to be expected when one more test piece is cut and the advice then followed. Never below `now`.
    pub then: f64,
}

/// What one more test piece is worth in joints that do not fit, in the unit of the costs for one joint.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct NextCost {
    /// The expected cost of a joint now, with the cheaper of leaving and moving.
    pub now: f64,
    /// The cost to be expected when one more test piece is cut and then the cheaper is done. Never above `now`.
    pub then: f64,
}

/// What was seen, what is believed of it, and what the next piece may show.
struct Ahead {
    seen: Vec<Seen>,
    rules: Rules,
    beliefs: Beliefs,
    next: Vec<Seen>,
}

/// The most moves that are looked at one by one.
const MOST_MOVES: i64 = 200;

impl TestCut {
    /// Advice from readings of test pieces, all cut at one setting of the jig.
    ///
    /// # Errors
    ///
    /// When there are no readings or more than 1,000, when one is not finite or so far off that it is a mistake, or when
    /// they contradict each other.
    pub fn after_readings(&self, readings: &[Length]) -> Result<TestCutAnswer, Error> {
        self.answer(&self.readings(readings)?)
    }

    /// Advice from the feel of test pieces.
    ///
    /// # Errors
    ///
    /// As [`after_readings`](Self::after_readings).
    pub fn after_feeling(&self, feels: &[Feel]) -> Result<TestCutAnswer, Error> {
        self.answer(&self.feels(feels)?)
    }

    /// What one more test piece would be worth after these readings (none: the first test piece).
    ///
    /// The expectation, over what the next piece may show, of the chance with the better of leaving and moving after it
    /// (expected value of sample information, Raiffa and Schlaifer 1961). The next reading is taken in steps of at least an
    /// eighth of its standard deviation, so the worth is a lower bound, and a close one.
    ///
    /// # Errors
    ///
    /// As [`after_readings`](Self::after_readings), but for an empty list.
    pub fn next_reading(&self, readings: &[Length]) -> Result<NextPiece, Error> {
        self.next_chance(&self.after_next_reading(readings)?)
    }

    /// The same in costs: what one more test piece would save each joint of the batch. Times the joints of the batch, less
    /// what cutting the piece costs, that is whether it is worth cutting. The worth is a lower bound here too.
    ///
    /// # Errors
    ///
    /// As [`next_reading`](Self::next_reading); or when a cost is not from 0 to 1e12, or both are 0.
    ///
    /// ```
    /// use kerfwise_decide::{Costs, TestCut, TestCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(1.5.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// let fine = TestCutOptions::new().resolution(0.1.thou()).dial_step(0.1.thou());
    /// let cut = TestCut::measured(&stack, "fit", &fit, &fine)?;
    /// let worth = cut.next_reading_cost(&[2.thou()], &Costs { tight: 10.0, loose: 10.0 })?;
    /// // Known to 1.4 thou after one piece, to 1.0 thou after two: 1.4 minutes a joint come down to 1.0.
    /// assert_eq!(format!("{:.1} {:.1}", worth.now, worth.then), "1.4 1.0");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn next_reading_cost(&self, readings: &[Length], costs: &Costs) -> Result<NextCost, Error> {
        costs.check_that_they_choose()?;
        self.next_cost(&self.after_next_reading(readings)?, costs)
    }

    fn after_next_reading(&self, readings: &[Length]) -> Result<Ahead, Error> {
        let seen = if readings.is_empty() {
            Vec::new()
        } else {
            self.readings(readings)?
        };
        let [rules, _] = self.rules_for(focus(&seen, 8.0 * self.noise_sd))?;
        let beliefs = self.believe(&seen, &rules)?;
        let (mean, sd) = (
            beliefs.both.mean + self.gauge.mean,
            sum_of_squares(&[beliefs.both.sd, self.gauge.sd, self.noise_sd]),
        );
        let step = self.resolution.max(0.125 * sd);
        let nearest = (mean / step).round();
        let reach = (8.0 * sd / step).ceil() as i32;
        let next: Vec<Seen> = (-reach..=reach)
            .map(|n| {
                let at = (nearest + f64::from(n)) * step;
                Seen::Between(at - 0.5 * step, at + 0.5 * step)
            })
            .collect();
        Ok(Ahead {
            seen,
            rules,
            beliefs,
            next,
        })
    }

    /// What one more test piece would be worth after these feels.
    ///
    /// # Errors
    ///
    /// As [`after_feeling`](Self::after_feeling), but for an empty list.
    pub fn next_feel(&self, feels: &[Feel]) -> Result<NextPiece, Error> {
        self.next_chance(&self.after_next_feel(feels)?)
    }

    /// The same in costs, as [`next_reading_cost`](Self::next_reading_cost).
    ///
    /// # Errors
    ///
    /// As [`next_feel`](Self::next_feel); or when a cost is not from 0 to 1e12, or both are 0.
    pub fn next_feel_cost(&self, feels: &[Feel], costs: &Costs) -> Result<NextCost, Error> {
        costs.check_that_they_choose()?;
        self.next_cost(&self.after_next_feel(feels)?, costs)
    }

    fn after_next_feel(&self, feels: &[Feel]) -> Result<Ahead, Error> {
        let seen = if feels.is_empty() {
            Vec::new()
        } else {
            self.feels(feels)?
        };
        let (lower, upper) = self.limits();
        let next = [
            Seen::Between(f64::NEG_INFINITY, lower),
            Seen::Between(lower, upper),
            Seen::Between(upper, f64::INFINITY),
        ];
        let [rules, _] = self.rules_for(None)?;
        let beliefs = self.believe(&seen, &rules)?;
        Ok(Ahead {
            seen,
            rules,
            beliefs,
            next: next.into(),
        })
    }

    fn next_chance(&self, ahead: &Ahead) -> Result<NextPiece, Error> {
        let (now, then) = self.next(ahead, &|beliefs| self.best(beliefs).2)?;
        Ok(NextPiece {
            now,
            then: then.max(now),
        })
    }

    fn next_cost(&self, ahead: &Ahead, costs: &Costs) -> Result<NextCost, Error> {
        let (now, then) = self.next(ahead, &|beliefs| self.cheapest(beliefs, costs).0)?;
        Ok(NextCost {
            now,
            then: then.min(now),
        })
    }

    /// What beliefs are worth now, and what they will be worth on average with the next piece.
    fn next(&self, ahead: &Ahead, worth: &dyn Fn(&Beliefs) -> f64) -> Result<(f64, f64), Error> {
        let now = worth(&ahead.beliefs);
        let (mut then, mut rest) = (0.0, 1.0);
        for one in &ahead.next {
            let mut more = ahead.seen.clone();
            more.push(*one);
            // What is too rare to be believed leaves the advice as it is.
            let Ok(after) = self.believe(&more, &ahead.rules) else {
                continue;
            };
            let chance =
                kerfwise_numeric::float::exp(after.ln_evidence - ahead.beliefs.ln_evidence);
            if chance > 1e-9 {
                then += chance * worth(&after);
                rest -= chance;
            }
        }
        then += rest.max(0.0) * now;
        Ok((now, then))
    }

    /// The move, its chance, and the better chance.
    fn best(&self, beliefs: &Beliefs) -> (f64, f64, f64) {
        let (x, moved) = self.best_move(beliefs);
        let left = self.if_left(&beliefs.both).inside;
        (x, moved, moved.max(left))
    }

    fn answer(&self, seen: &[Seen]) -> Result<TestCutAnswer, Error> {
        let rules = self.rules_for(focus(seen, 8.0 * self.noise_sd))?;
        let [beliefs, check] = self.believe_both(seen, &rules)?;
        let [fine, _] = &rules;
        let (x, _) = self.best_move(&beliefs);
        let leave = bounded(
            self.if_left(&beliefs.both),
            self.if_left(&check.both),
            fine.both.error + self.curves.left.error + beliefs.error(),
        );
        let moved = bounded(
            self.if_moved(&beliefs.kept, x),
            self.if_moved(&check.kept, x),
            fine.kept.error + self.curves.fresh.error + beliefs.error(),
        );
        let advice = Advice::better(leave.value.inside, moved.value.inside, x);
        let untested = self.if_left(&fine.both);
        Ok(TestCutAnswer {
            pieces: seen.len(),
            advice,
            untested,
            leave,
            best_move: length(x),
            moved,
            raises: self.raises(&beliefs, fine, x),
            before: self.offset(&self.believe(&[], fine)?),
            after: self.offset(&beliefs),
            ln_evidence: beliefs.ln_evidence,
            moves: self.moves(&beliefs.kept, x),
        })
    }

    /// The chance of a joint when K + J is believed to be this.
    pub(super) fn if_left(&self, both: &Rule) -> Chance {
        self.chance(both, &self.curves.left, 0.0)
    }

    /// The chance of a joint after a move by x, when K is believed to be this.
    fn if_moved(&self, kept: &Rule, x: f64) -> Chance {
        self.chance(kept, &self.curves.fresh, x)
    }

    pub(super) fn chance(&self, shared: &Rule, rest: &Curve, x: f64) -> Chance {
        let (lower, upper) = self.limits();
        let (mut below, mut above) = (0.0, 0.0);
        for (place, weight) in shared.places.iter().zip(&shared.weights) {
            if *weight < 1e-18 {
                continue;
            }
            let s = place + x;
            below += weight * rest.at(lower - s);
            above += weight * (1.0 - rest.at(upper - s));
        }
        let below = below.clamp(0.0, 1.0);
        let above = above.clamp(0.0, 1.0 - below);
        Chance {
            below,
            inside: 1.0 - below - above,
            above,
        }
    }

    /// How a first joint fits, before anything is known, when all are raised by so much.
    pub(super) fn prior_at(&self, offset: f64) -> Chance {
        self.chance(&self.rules[0].both, &self.curves.left, offset)
    }

    /// The best whole number of dial steps and its chance. Of equal ones the smaller move.
    pub(super) fn best_move(&self, beliefs: &Beliefs) -> (f64, f64) {
        self.best_step(beliefs, &|chance| chance.inside)
    }

    /// The move that costs least, and the cost with its sign turned, for costs of which one is above 0.
    pub(super) fn best_target(&self, beliefs: &Beliefs, costs: &Costs) -> (f64, f64) {
        self.best_step(beliefs, &|chance| -costs.expected(chance))
    }

    fn best_step(&self, beliefs: &Beliefs, worth: &dyn Fn(&Chance) -> f64) -> (f64, f64) {
        let (first, last, stride) = self.steps(&beliefs.kept);
        let value = |n: i64| worth(&self.if_moved(&beliefs.kept, n as f64 * self.step));
        let mut best = (first, f64::NEG_INFINITY);
        let look = |from: i64, to: i64, stride: i64, best: &mut (i64, f64)| {
            let mut n = from;
            while n <= to {
                let chance = value(n);
                let is_better =
                    chance > best.1 + EQUAL || (chance > best.1 - EQUAL && n.abs() < best.0.abs());
                if is_better {
                    *best = (n, chance);
                }
                n += stride;
            }
        };
        look(first, last, stride, &mut best);
        if stride > 1 {
            let at = best.0;
            look(at - stride, at + stride, 1, &mut best);
        }
        (best.0 as f64 * self.step, best.1)
    }

    /// First and last step worth looking at, and how many steps to go at once in the first round.
    fn steps(&self, kept: &Rule) -> (i64, i64, i64) {
        let (lower, upper) = self.limits();
        let middle = 0.5 * (lower + upper) - kept.mean - self.curves.fresh_middle;
        let span = 4.0 * (kept.sd + self.curves.fresh_width) + 4.0 * self.step;
        // A dial whose steps cannot be counted in whole numbers is no dial.
        let count = |x: f64| (x / self.step).clamp(-1e15, 1e15) as i64;
        let (first, last) = (count(middle - span), count(middle + span));
        // Along the dial the chance is smooth over the width of what a joint has of its own.
        let smooth =
            (0.4 * self.curves.fresh_width / self.step).clamp(1.0, MOST_MOVES as f64) as i64;
        (first, last, smooth.max(1 + (last - first) / MOST_MOVES))
    }

    /// Chance against move, eight steps of interest on either side of the best.
    fn moves(&self, kept: &Rule, best: f64) -> Vec<(Length, Chance)> {
        let n = (best / self.step).round() as i64;
        let stride = (0.25 * self.curves.fresh_width / self.step)
            .round()
            .max(1.0) as i64;
        (-6..=6)
            .map(|i| {
                let x = (n + i * stride) as f64 * self.step;
                (length(x), self.if_moved(kept, x))
            })
            .collect()
    }

    /// The distribution of where the joints lie in the middle.
    fn offset(&self, beliefs: &Beliefs) -> Offset {
        let both = &beliefs.both;
        let (extra_mean, extra_sd) = self
            .laws
            .fit_only
            .as_ref()
            .map_or((0.0, 0.0), |law| (middle_of(law), width_of(law)));
        let cdf = |w: f64| match self.laws.fit_only {
            None => self.both_below(beliefs, w),
            Some(_) => both.expect(|c| self.curves.fit_only.at(w - c)),
        };
        let mean = both.mean + extra_mean;
        let sd = sum_of_squares(&[both.sd, extra_sd]);
        let quantile = |p: f64| {
            if sd <= 0.0 {
                return mean;
            }
            let mut reach = 4.0 * sd;
            while reach < 1e6 * sd && (cdf(mean - reach) > p || cdf(mean + reach) < p) {
                reach *= 2.0;
            }
            let tolerance = RootTolerance {
                absolute: 1e-14 * sd,
                relative: 0.0,
            };
            find_root(|w| cdf(w) - p, mean - reach, mean + reach, tolerance)
                .map_or(mean, |root| root.x)
        };
        let shift = self.fit_location + self.curves.piece_middle;
        Offset {
            mean: length(mean + shift),
            sd: length(sd),
            interval_95: (
                length(quantile(0.025) + shift),
                length(quantile(0.975) + shift),
            ),
        }
    }

    /// The probability that K + J is at most c.
    fn both_below(&self, beliefs: &Beliefs, c: f64) -> f64 {
        let density = |c: f64| {
            let prior = self.laws.both.as_ref().and_then(|law| law.pdf(length(c)));
            let likely = beliefs
                .likelihood
                .as_ref()
                .map_or(1.0, |l| l.at(c).max(0.0));
            prior.map_or(0.0, |d| d.value) * likely / beliefs.evidence
        };
        beliefs.both.cdf(c, &density)
    }

    /// The probability that a joint's chance after the move is greater than before it: over what is believed of K, J and E,
    /// and over the fresh J′.
    fn raises(&self, beliefs: &Beliefs, rules: &Rules, x: f64) -> f64 {
        let Some(moved) = &self.laws.moved else {
            return self.raises_by_shift(beliefs, x);
        };
        let [old, extra] = &self.few;
        let mut total = 0.0;
        let mut weight = 0.0;
        let kept = self.resolved(rules, width_of(moved), x);
        for (k, p) in kept.places.iter().zip(&kept.weights) {
            for (j, q) in old {
                let likely = match &beliefs.likelihood {
                    Some(likelihood) => likelihood.at(k + j).max(0.0),
                    None => 1.0,
                };
                let share = p * q * likely / beliefs.evidence;
                // What is far out counts for nothing in a number of two digits.
                if share < 1e-7 {
                    continue;
                }
                weight += share;
                for (e, r) in extra {
                    let (low, high) = self.even.around(k + j + e);
                    let start = k + e + x;
                    let chance =
                        self.curves.moved.at(high - start) - self.curves.moved.at(low - start);
                    total += share * r * chance;
                }
            }
        }
        if weight > 0.0 {
            (total / weight).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }

    /// The same where a move redraws nothing: it shifts all joints by x, and is right for all that lie on one side.
    fn raises_by_shift(&self, beliefs: &Beliefs, x: f64) -> f64 {
        let Some(turning) = self.even.turning(x) else {
            return 0.0;
        };
        let [_, extra] = &self.few;
        let is_narrow = |law: &Exact| width_of(law) < beliefs.both.sd;
        let below = if self.laws.fit_only.as_ref().is_none_or(is_narrow) {
            let below = |(e, r): &(f64, f64)| r * self.both_below(beliefs, turning - e);
            extra.iter().map(below).sum()
        } else {
            let fit_only = &self.curves.fit_only;
            beliefs.both.expect(|c| fit_only.at(turning - c))
        };
        let chance = if x > 0.0 { below } else { 1.0 - below };
        chance.clamp(0.0, 1.0)
    }

    /// K in panels that follow a step as wide as J, about the places where the move begins to be right.
    fn resolved<'a>(&self, rules: &'a Rules, width: f64, x: f64) -> Cow<'a, Rule> {
        let kept = &rules.kept;
        let Some(law) = &self.laws.kept else {
            return Cow::Borrowed(kept);
        };
        let turning = self.even.turning(x).unwrap_or(self.even.best);
        // A panel of the rules is at most two of these wide and follows a step of half of one.
        if width > 0.5 * self.noise_sd.min(kept.sd) {
            return Cow::Borrowed(kept);
        }
        let [_, extra] = &self.few;
        let widest = |from: f64, to: f64| {
            let away = |(e, _): &(f64, f64)| (from - turning + e).max(turning - e - to);
            let nearest = extra.iter().map(away).fold(f64::INFINITY, f64::min);
            (0.5 * width).max(0.25 * nearest)
        };
        let finer = kept.halved(law, Dimension::LENGTH, &widest);
        finer.map_or(Cow::Borrowed(kept), Cow::Owned)
    }
}

/// Chances that differ by no more than this are equal: more than rounding, less than counts.
const EQUAL: f64 = 1e-12;

fn sum_of_squares(numbers: &[f64]) -> f64 {
    numbers.iter().map(|x| x * x).sum::<f64>().sqrt()
}

/// A chance from narrow panels, off by at most what wide panels make of it, and what is known besides.
fn bounded(fine: Chance, coarse: Chance, known: f64) -> Bounded<Chance> {
    let off = (fine.below - coarse.below)
        .abs()
        .max((fine.inside - coarse.inside).abs())
        .max((fine.above - coarse.above).abs());
    Bounded {
        value: fine,
        // A few hundred terms, each good to a few units in the last place.
        error: off + 2.0 * known + 1e-14,
    }
}
