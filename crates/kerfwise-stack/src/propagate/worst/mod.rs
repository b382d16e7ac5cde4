//! Worst case: the range of an outcome over the limits of its sources.

mod limits;
mod objective;
mod search;
#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;

use crate::{Band, Decline, Outcome, Propagation};
use kerfwise_source::{Distribution, Quantity};
use limits::Limits;
use objective::{End, Objective, Undefined};
use search::Search;

/// Options of the worst case.
///
/// ```
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Expr, Stack, WorstCase};
///
/// let kerf = Source::new("kerf", 0.125.inch()).normal(0.4.thou()).build()?;
/// let stack = Stack::builder().outcome_without_band("kerf", &Expr::source(&kerf)).build()?;
/// let outcome = stack.outcome("kerf").unwrap();
///
/// // A normal error has no end, so somebody must say where to stop.
/// assert!(outcome.worst_case(WorstCase::new()).is_err());
/// let range = outcome.worst_case(WorstCase::new().unbounded_at_sd(3.0))?;
/// assert!((range.upper.attained.raw() - 0.1262).abs() < 1e-15);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCase {
    unbounded_at_sd: Option<f64>,
    tolerance: f64,
    boxes: Option<usize>,
}

impl Default for WorstCase {
    fn default() -> Self {
        Self::new()
    }
}

impl WorstCase {
    /// Sources without limits make it decline; relative tolerance 1e-6 of the width; at most 100,000 boxes, fewer for
    /// expressions of more than a hundred operations, so that it takes no more than some seconds.
    #[must_use]
    pub fn new() -> Self {
        Self {
            unbounded_at_sd: None,
            tolerance: 1e-6,
            boxes: None,
        }
    }

    /// Takes sources without limits at this many standard deviations either side of their mean; the answer says so.
    /// Limits that a source states, or that its distribution has, stay as they are.
    #[must_use]
    pub fn unbounded_at_sd(mut self, k: f64) -> Self {
        self.unbounded_at_sd = Some(k);
        self
    }

    /// Stops when outer bound and attained extreme agree to this part of the width of the range.
    #[must_use]
    pub fn tolerance(mut self, relative: f64) -> Self {
        self.tolerance = relative;
        self
    }

    /// The most boxes that branch and bound may split for each end of the range. With very many sources that are
    /// neither affine nor monotone fewer are split, so that memory stays below some 300 MB.
    #[must_use]
    pub fn boxes(mut self, most: usize) -> Self {
        self.boxes = Some(most);
        self
    }

    /// For an outcome of so many operations.
    fn most_boxes(&self, operations: usize) -> usize {
        const BOXES: usize = 100_000;
        const WORK: usize = 100 * BOXES;
        self.boxes
            .unwrap_or_else(|| BOXES.min(WORK / operations.max(1)))
    }

    fn faults(&self) -> Vec<String> {
        let mut faults = Vec::new();
        if let Some(k) = self.unbounded_at_sd
            && !(k >= 0.0 && k.is_finite())
        {
            faults.push(format!(
                "the number of standard deviations for sources without limits must be 0 or more and finite (got {k})"
            ));
        }
        if !(self.tolerance >= 0.0 && self.tolerance.is_finite()) {
            faults.push(format!(
                "the tolerance must be 0 or more and finite (got {})",
                self.tolerance
            ));
        }
        faults
    }
}

/// One end of the range.
#[derive(Debug, Clone, PartialEq)]
pub struct Extreme {
    /// Guaranteed: the outcome never goes beyond this.
    pub bound: Quantity,
    /// Reached, at the values below.
    pub attained: Quantity,
    /// The corner or inner point that attains it: source (or source#instance) and value.
    pub at: Vec<(String, Quantity)>,
}

/// The range of an outcome over the limits of its sources.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCaseAnswer {
    /// The lower end.
    pub lower: Extreme,
    /// The upper end.
    pub upper: Extreme,
    /// Whether outer and attained agree to the tolerance.
    pub is_tight: bool,
    /// What was assumed: limits at so many standard deviations, and the like.
    pub assumptions: Vec<String>,
}

impl WorstCaseAnswer {
    /// `Some(true)` when it always lies in the band, `Some(false)` when never, `None` when it depends (or when the
    /// bounds are not tight enough to tell, or the band is of another dimension).
    ///
    /// Limits such as 0.005 in have no exact binary form, so going over a limit by less than 1e-9 of the range (or of
    /// the limit) counts as rounding, not as leaving the band.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack, WorstCase};
    ///
    /// let a = Source::new("a", 0.5.inch()).rectangular(2.thou()).build()?;
    /// let b = Source::new("b", 0.5.inch()).rectangular(3.thou()).build()?;
    /// let gap = Expr::source(&a) - Expr::source(&b);
    /// let stack = Stack::builder().outcome_without_band("gap", &gap).build()?;
    /// let range = stack.outcome("gap").unwrap().worst_case(WorstCase::new())?;
    /// assert_eq!(range.fits(&Band::within(5.thou())?), Some(true));
    /// assert_eq!(range.fits(&Band::within(4.thou())?), None);
    /// assert_eq!(range.fits(&Band::at_least(6.thou())?), Some(false));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn fits(&self, band: &Band) -> Option<bool> {
        if band.dimension() != self.lower.bound.dimension() {
            return None;
        }
        let (lowest, highest) = (self.lower.bound.raw(), self.upper.bound.raw());
        let (from, to) = band.raw();
        let slack = |limit: f64| {
            if limit.is_finite() {
                1e-9 * limit.abs().max(highest - lowest)
            } else {
                0.0
            }
        };
        if lowest >= from - slack(from) && highest <= to + slack(to) {
            Some(true)
        } else if lowest > to + slack(to) || highest < from - slack(from) {
            Some(false)
        } else {
            None
        }
    }
}

/// One road for all stacks. Interval derivatives over the whole box of limits fix every source in which the outcome is
/// monotone at the matching end, which answers affine and monotone stacks at once and exactly; branch and bound takes
/// the rest.
pub(crate) fn run(outcome: Outcome<'_>, options: &WorstCase) -> Result<WorstCaseAnswer, Decline> {
    let decline = |reasons| Decline::new(Propagation::WorstCase, reasons);
    let faults = options.faults();
    if !faults.is_empty() {
        return Err(decline(faults));
    }
    let mut limits = limits::of(outcome, options.unbounded_at_sd).map_err(decline)?;
    let undefined = |found: Undefined| decline(vec![say_where(outcome, &limits.used, &found)]);

    let start = |end| Search::start(Objective::new(outcome, &limits, end));
    let mut lower = start(End::Lower).map_err(undefined)?;
    let mut upper = start(End::Upper).map_err(undefined)?;
    let width = (upper.attained() - lower.attained()).min(f64::MAX);
    let boxes = options.most_boxes(outcome.stack.problem.tape.steps_of(outcome.index).count());
    let mut is_tight = true;
    for search in [&mut lower, &mut upper] {
        is_tight &= search
            .refine(options.tolerance * width, boxes)
            .map_err(undefined)?;
    }
    note_inner_points(outcome, &mut limits, &[lower.at(), upper.at()]);
    Ok(WorstCaseAnswer {
        lower: extreme(outcome, &limits.used, &lower),
        upper: extreme(outcome, &limits.used, &upper),
        is_tight,
        assumptions: limits.assumptions,
    })
}

fn extreme(outcome: Outcome<'_>, used: &[usize], search: &Search<'_>) -> Extreme {
    Extreme {
        bound: Quantity::new(search.bound(), outcome.dimension()),
        attained: Quantity::new(search.attained(), outcome.dimension()),
        at: places(outcome, used, &search.at()),
    }
}

/// Names and values of the sources that the outcome depends on.
fn places(outcome: Outcome<'_>, used: &[usize], at: &[f64]) -> Vec<(String, Quantity)> {
    used.iter()
        .map(|&i| {
            let variable = &outcome.stack.problem.variables[i];
            let value = Quantity::new(at[i], variable.source.dimension());
            (variable.name.clone(), value)
        })
        .collect()
}

fn say_where(outcome: Outcome<'_>, used: &[usize], found: &Undefined) -> String {
    let reason = &found.reason;
    let Some(at) = &found.at else {
        return format!("no bound was found for all values within the limits: {reason}");
    };
    let place: Vec<String> = places(outcome, used, at)
        .iter()
        .map(|(name, value)| format!("{name} = {value}"))
        .collect();
    format!("not defined at {}: {reason}", place.join(", "))
}

/// A source with separate values was searched as a continuous one, which only matters when the point that attains an
/// extreme lies between its ends.
fn note_inner_points(outcome: Outcome<'_>, limits: &mut Limits, points: &[Vec<f64>]) {
    for &i in &limits.used {
        let variable = &outcome.stack.problem.variables[i];
        let has_separate_values = matches!(
            variable.source.error(),
            Distribution::Discrete(_) | Distribution::Empirical(_)
        );
        let side = limits.inputs[i];
        let is_inside = |at: &Vec<f64>| side.lo() < at[i] && at[i] < side.hi();
        if has_separate_values && points.iter().any(is_inside) {
            limits.assumptions.push(format!(
                "source \"{}\" was taken to reach every value between its least and its greatest",
                variable.name
            ));
        }
    }
}
