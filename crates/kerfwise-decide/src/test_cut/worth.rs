//! How many test pieces are worth cutting, before the first is cut.

use super::evidence::{Beliefs, Seen};
use super::options::TestCutOptions;
use super::prior::TestCut;
use crate::costs::cost_is_sound;
use crate::{Costs, Error};
use kerfwise_numeric::float;
use kerfwise_numeric::special::ln_gamma;
use kerfwise_stack::{Expr, Stack};

/// What a plan of test pieces is for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestPlanOptions {
    costs: Costs,
    joints: u32,
    per_piece: f64,
    most: u32,
}

impl TestPlanOptions {
    /// For one joint that costs so much when it does not fit, and test pieces that cost nothing; at most 6 of them.
    #[must_use]
    pub fn new(costs: Costs) -> Self {
        Self {
            costs,
            joints: 1,
            per_piece: 0.0,
            most: 6,
        }
    }

    /// Joints of the batch.
    #[must_use]
    pub fn joints(mut self, joints: u32) -> Self {
        self.joints = joints;
        self
    }

    /// What a test piece costs, cutting and reading it, in the unit of the costs.
    #[must_use]
    pub fn per_piece(mut self, cost: f64) -> Self {
        self.per_piece = cost;
        self
    }

    /// The most test pieces to think of, up to 12.
    #[must_use]
    pub fn at_most(mut self, pieces: u32) -> Self {
        self.most = pieces;
        self
    }

    fn check(&self) -> Result<(), Error> {
        self.costs.check_that_they_choose()?;
        cost_is_sound("a test piece", self.per_piece)?;
        if self.joints == 0 {
            return Err(Error::question(
                "a batch must have at least 1 joint (got 0)",
            ));
        }
        if self.most > MOST_PIECES {
            return Err(Error::question(format!(
                "at most {MOST_PIECES} test pieces can be planned (got {})",
                self.most
            )));
        }
        Ok(())
    }
}

/// How many test pieces are worth cutting, all at one setting before the jig is moved.
#[derive(Debug, Clone, PartialEq)]
pub struct TestPlan {
    /// The number with the least cost in all; the smaller of equal ones.
    pub best: u32,
    /// No test piece, one, and so on.
    pub rows: Vec<TestPlanRow>,
}

/// What so many test pieces come to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TestPlanRow {
    /// Test pieces.
    pub pieces: u32,
    /// The chance of a joint to be expected with them, when afterwards the jig is left or moved as costs least.
    pub inside: f64,
    /// What the batch is then expected to cost in joints that do not fit.
    pub rework: f64,
    /// The same with the test pieces.
    pub total: f64,
}

/// The most test pieces of a plan.
const MOST_PIECES: u32 = 12;
/// What is seen is taken in steps of at least this part of its standard deviation.
const COARSEST: f64 = 0.125;
/// What is rarer leaves the jig as it is.
const RARE: f64 = 1e-9;

impl TestPlan {
    /// For test pieces that are read with a gauge; see [`TestCut::measured`].
    ///
    /// Of several readings only their mean is used: of normal errors it tells all, of others it may tell a little less than
    /// the readings, so what is said of the worth of several is a lower bound. Costs count as in
    /// [`Costs::expected`]: of all that the pieces may show, the mean of the least cost after it (expected value of
    /// sample information, Raiffa and Schlaifer 1961).
    ///
    /// # Errors
    ///
    /// As [`TestCut::measured`]; when a cost is not from 0 to 1e12 or both of a joint are 0, there is no joint, or more than 12
    /// test pieces are asked for.
    ///
    /// ```
    /// use kerfwise_decide::{Costs, TestCutOptions, TestPlan, TestPlanOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// let options = TestPlanOptions::new(Costs { tight: 5.0, loose: 20.0 }).joints(24).per_piece(4.0);
    /// let plan = TestPlan::measured(&stack, "fit", &fit, &TestCutOptions::new(), &options)?;
    /// // The first piece tells nearly all of this set-up, and one more is still worth four minutes; a third hardly tells more.
    /// assert!(plan.rows[1].rework < 0.2 * plan.rows[0].rework);
    /// assert!((1..=2).contains(&plan.best));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn measured(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        test: &TestCutOptions,
        options: &TestPlanOptions,
    ) -> Result<Self, Error> {
        options.check()?;
        let one = TestCut::measured(stack, outcome, shown, test)?;
        let mut rows = vec![one.planned(&[], options, 0)?];
        for pieces in 1..=options.most {
            let n = f64::from(pieces);
            let draws = (1..=pieces).map(|i| shown.redraw(&test.piece, i));
            let Some(sum) = draws.reduce(|a, b| a + b) else {
                continue;
            };
            // Each reading is rounded by itself; of their mean that is as much noise as a step √n times smaller.
            let test = test.clone().resolution(test.resolution / n.sqrt());
            let mean = TestCut::measured(stack, outcome, &(sum / n), &test)?;
            rows.push(mean.planned(&mean.means(), options, pieces)?);
        }
        Ok(Self::of(rows))
    }

    /// For test pieces that are felt; see [`TestCut::felt`].
    ///
    /// # Errors
    ///
    /// As [`measured`](Self::measured).
    pub fn felt(
        stack: &Stack,
        outcome: &str,
        test: &TestCutOptions,
        options: &TestPlanOptions,
    ) -> Result<Self, Error> {
        options.check()?;
        let cut = TestCut::felt(stack, outcome, test)?;
        let rows = (0..=options.most).map(|n| cut.planned(&cut.feelings(n), options, n));
        Ok(Self::of(rows.collect::<Result<_, Error>>()?))
    }

    fn of(rows: Vec<TestPlanRow>) -> Self {
        let least = rows.iter().map(|r| r.total).fold(f64::INFINITY, f64::min);
        // What differs by rounding alone is equal.
        let is_least = |row: &&TestPlanRow| row.total <= least * (1.0 + 1e-9);
        Self {
            best: rows.iter().find(is_least).map_or(0, |row| row.pieces),
            rows,
        }
    }
}

/// What may be seen, and in how many orders it may come.
type Sight = (f64, Vec<Seen>);

impl TestCut {
    /// All means of readings that may be seen.
    fn means(&self) -> Vec<Sight> {
        let width = self.laws.shown.as_ref().map_or(0.0, crate::curve::width_of);
        let middle = self
            .laws
            .shown
            .as_ref()
            .map_or(0.0, crate::curve::middle_of);
        let step = self.resolution.max(COARSEST * width);
        let nearest = (middle / step).round();
        let reach = (8.0 * width / step).ceil() as i32;
        let between = |n: i32| {
            let at = (nearest + f64::from(n)) * step;
            Seen::Between(at - 0.5 * step, at + 0.5 * step)
        };
        (-reach..=reach).map(|n| (0.0, vec![between(n)])).collect()
    }

    /// All numbers of tight, fitting and loose pieces; the order does not matter.
    fn feelings(&self, pieces: u32) -> Vec<Sight> {
        let (lower, upper) = self.limits();
        let ln_factorial = |n: u32| ln_gamma(f64::from(n) + 1.0);
        let mut all = Vec::new();
        for tight in 0..=pieces {
            for loose in 0..=pieces - tight {
                let fits = pieces - tight - loose;
                let mut seen = vec![Seen::Between(upper, f64::INFINITY); tight as usize];
                seen.extend(vec![Seen::Between(lower, upper); fits as usize]);
                seen.extend(vec![
                    Seen::Between(f64::NEG_INFINITY, lower);
                    loose as usize
                ]);
                let orders = ln_factorial(pieces)
                    - ln_factorial(tight)
                    - ln_factorial(fits)
                    - ln_factorial(loose);
                all.push((orders, seen));
            }
        }
        all
    }

    /// The mean, over what may be seen, of what then costs least.
    fn planned(
        &self,
        sights: &[Sight],
        options: &TestPlanOptions,
        pieces: u32,
    ) -> Result<TestPlanRow, Error> {
        let rules = &self.rules[0];
        let untested = self.cheapest(&self.believe(&[], rules)?, &options.costs);
        let (mut cost, mut inside, mut rest) = (0.0, 0.0, 1.0);
        for (ln_orders, seen) in sights {
            if seen.is_empty() {
                continue;
            }
            // What is too rare to be believed leaves the advice as it is.
            let Ok(beliefs) = self.believe(seen, rules) else {
                continue;
            };
            let chance = float::exp(beliefs.ln_evidence + ln_orders);
            if chance > RARE {
                let after = self.cheapest(&beliefs, &options.costs);
                cost += chance * after.0;
                inside += chance * after.1;
                rest -= chance;
            }
        }
        let rest = rest.max(0.0);
        let rework = f64::from(options.joints) * (cost + rest * untested.0);
        Ok(TestPlanRow {
            pieces,
            inside: inside + rest * untested.1,
            rework,
            total: rework + f64::from(pieces) * options.per_piece,
        })
    }

    /// Cost of a joint and its chance, with the cheaper of leaving and moving.
    pub(super) fn cheapest(&self, beliefs: &Beliefs, costs: &Costs) -> (f64, f64) {
        let left = self.if_left(&beliefs.both);
        let (target, _) = self.best_target(beliefs, costs);
        let moved = self.chance(&beliefs.kept, &self.curves.fresh, target);
        let of = |chance: &kerfwise_stack::Chance| (costs.expected(chance), chance.inside);
        let (left, moved) = (of(&left), of(&moved));
        if left.0 <= moved.0 { left } else { moved }
    }
}
