//! What Monte Carlo answers.

use super::tally::Tally;
use crate::stack::OutcomeData;
use crate::{Bounded, Chance, CoverageInterval, Stack};
use kerfwise_source::{Distribution, Quantity};

/// How far a run is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Trials done.
    pub done: u64,
    /// Trials to do (the most, when adaptive).
    pub of: u64,
}

/// The answer for all outcomes.
#[derive(Debug, Clone, PartialEq)]
#[must_use]
pub struct MonteCarloAnswer {
    /// Trials run.
    pub trials: u64,
    /// The seed.
    pub seed: u64,
    /// Whether the callback ended the run early.
    pub is_cancelled: bool,
    /// With the adaptive procedure: whether it became stable before the most trials.
    pub is_stable: Option<bool>,
    /// Each outcome, in order.
    pub outcomes: Vec<MonteCarloOutcome>,
    /// The chance that all outcomes with a band lie in it at once, out of all trials (one in which any of them is not
    /// defined does not count as lying in it); the error is a standard error. `None` without a band.
    pub joint: Option<Bounded<f64>>,
}

/// One outcome's answer. Errors of [`Bounded`] values are standard errors.
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarloOutcome {
    /// The outcome's name.
    pub name: String,
    /// Mean of the trials. Where the outcome has none, or none that trials could find, the median with an infinite
    /// error; a note says why.
    pub mean: Bounded<Quantity>,
    /// Standard deviation of the trials; its standard error is by their fourth moment. Where there is none, a sixth of
    /// the range with an infinite error; a note says why.
    pub standard_deviation: Bounded<Quantity>,
    /// Chance of the band, out of the defined trials; limits belong to the band. `None` without a band.
    pub chance: Option<Chance>,
    /// Standard errors of the three chances: binomial, with two trials of each kind added, so that chances of 0 and
    /// of 1 have one too (√2/n: twice that is about the 95 % bound 3/n).
    pub chance_error: Option<Chance>,
    /// Probabilistically symmetric interval (JCGM 101:2008, 7.7.2), to within 0.1 % of the ends' distances from the
    /// median.
    pub symmetric: CoverageInterval,
    /// Shortest interval (JCGM 101:2008, 7.7.2). Its ends scatter more than those of the symmetric one.
    pub shortest: CoverageInterval,
    /// Standard error of the ends of the symmetric interval (lower, upper), raw unit.
    pub symmetric_error: (f64, f64),
    /// The least defined trial.
    pub least: Quantity,
    /// The greatest defined trial.
    pub greatest: Quantity,
    /// Trials in which the outcome was not defined (square root of a negative number, division by zero, ...):
    /// counted here and left out of everything else.
    pub undefined: u64,
    /// What to bear in mind: moments that do not exist, trials that were not defined, too few trials.
    pub notes: Vec<String>,
}

/// Reads the answer for one outcome off its tally, or says why there is none.
pub(super) fn outcome(
    stack: &Stack,
    index: usize,
    level: f64,
    tally: &Tally,
) -> Result<MonteCarloOutcome, String> {
    let data = &stack.outcomes[index];
    if tally.defined < 2 {
        let of = tally.defined + tally.undefined;
        return Err(format!(
            "outcome \"{}\" was defined in only {} of {of} trials",
            data.name, tally.defined
        ));
    }
    let quantity = |raw: f64| Quantity::new(raw, data.dimension);
    let quantiles = tally.quantiles();
    let (low, high) = quantiles.symmetric_ranks(level);
    let interval = |(lower, upper): (f64, f64)| CoverageInterval {
        lower: quantity(lower),
        upper: quantity(upper),
        level,
    };
    let mut notes = notes(stack, index, level, tally);
    let mut lost = missing_moments(stack, index).1;
    let unknown = Bounded {
        value: 0.0,
        error: f64::INFINITY,
    };
    let (mut mean, mut standard_deviation) = match tally.moments(&quantiles) {
        Some(moments) => (moments.mean, moments.standard_deviation),
        None => {
            notes.push("mean and standard deviation are beyond what numbers can hold".to_owned());
            lost = Lost::Both;
            (unknown, unknown)
        }
    };
    // Of an affine outcome the sources tell.
    if lost == Lost::None
        && stack.problem.affine[index].is_err()
        && let Some(note) = carried_by_one(tally)
    {
        notes.push(note);
        lost = Lost::Both;
    }
    if lost == Lost::Both {
        mean.value = quantiles.ranked(0.5 * (tally.defined as f64 + 1.0));
    }
    if lost != Lost::None {
        mean.error = f64::INFINITY;
        standard_deviation = Bounded {
            value: tally.greatest / 6.0 - tally.least / 6.0,
            ..unknown
        };
    }
    let chance = data.band.is_some().then(|| tally.chance());
    let bounded = |x: Bounded<f64>| Bounded {
        value: quantity(x.value),
        error: x.error,
    };
    Ok(MonteCarloOutcome {
        name: data.name.clone(),
        mean: bounded(mean),
        standard_deviation: bounded(standard_deviation),
        chance: chance.map(|(chance, _)| chance),
        chance_error: chance.map(|(_, error)| error),
        symmetric: interval((quantiles.ranked(low as f64), quantiles.ranked(high as f64))),
        shortest: interval(quantiles.shortest(level)),
        symmetric_error: (
            quantiles.standard_error(low),
            quantiles.standard_error(high),
        ),
        least: quantity(tally.least),
        greatest: quantity(tally.greatest),
        undefined: tally.undefined,
        notes,
    })
}

fn notes(stack: &Stack, index: usize, level: f64, tally: &Tally) -> Vec<String> {
    let mut notes = missing_moments(stack, index).0;
    if tally.undefined > 0 {
        let of = tally.defined + tally.undefined;
        notes.push(format!(
            "{} of {of} trials are not defined and left out: the numbers hold for the others",
            tally.undefined
        ));
    }
    if (tally.defined as f64) * (1.0 - level) < 2.0 {
        notes.push(format!(
            "{} trials are too few for an interval of {} %: its ends are the extremes seen",
            tally.defined,
            100.0 * level
        ));
    }
    notes
}

/// Moments that an outcome does not have.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Lost {
    None,
    /// The standard deviation, and with it the standard error of the mean.
    Spread,
    Both,
}

/// Trials below which a great part of one is no sign.
const ENOUGH: u64 = 1_000;
/// The part of a sum of squares that one trial of very many has only where there may be no variance: of a normal outcome
/// and 1,000 trials it is a hundredth, of a Student t of four degrees of freedom less than a twentieth; of Cauchy's law,
/// whatever their number, about a half.
const CARRIED: f64 = 0.2;

/// Where one trial makes up much of the variance.
fn carried_by_one(tally: &Tally) -> Option<String> {
    let part = tally.part_of_one()?;
    (tally.defined >= ENOUGH && part > CARRIED).then(|| {
        format!(
            "one trial of {} makes up {:.0} % of their variance: there may be neither mean nor standard deviation, \
             or trials do not find them",
            tally.defined,
            100.0 * part
        )
    })
}

/// Sources whose heavy tails leave the outcome without a mean, a standard deviation, or a standard error of that; and what
/// it lacks for certain.
fn missing_moments(stack: &Stack, index: usize) -> (Vec<String>, Lost) {
    let problem = &stack.problem;
    let is_affine = problem.affine[index].is_ok();
    let has = if is_affine {
        "the outcome has"
    } else {
        "the outcome may have"
    };
    let mut lost = Lost::None;
    let mut of_source = |input: usize| {
        let variable = &problem.variables[input];
        let error = variable.source.error();
        let (what, so) = if error.mean().is_none() {
            lost = lost.max(Lost::Both);
            ("no mean", "none either, nor a standard deviation")
        } else if error.variance().is_none() {
            lost = lost.max(Lost::Spread);
            ("no variance", "no standard deviation")
        } else if matches!(error, Distribution::StudentT(t) if t.degrees_of_freedom() <= 4.0) {
            (
                "no fourth moment",
                "none either: the standard error of the standard deviation is too small",
            )
        } else {
            return None;
        };
        Some(format!(
            "source \"{}\" ({}) has {what}, and {has} {so}",
            variable.name,
            error.name()
        ))
    };
    let inputs = problem.tape.inputs_of(index).into_iter();
    let notes = inputs.filter_map(&mut of_source).collect();
    (notes, if is_affine { lost } else { Lost::None })
}

/// Names of outcomes with their bands in raw units.
pub(super) fn raw_band(data: &OutcomeData) -> Option<(f64, f64)> {
    data.band.map(|band| band.raw())
}
