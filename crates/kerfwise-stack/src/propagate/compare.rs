//! All propagations next to each other, and in words why they differ.

use crate::problem::Variable;
use crate::propagate::{
    exact::{self, Exact, semi},
    monte::{self, MonteCarlo, MonteCarloAnswer, MonteCarloOutcome},
    number::{decimals, fixed, shortest},
    quasi::{self, QuasiMonteCarlo, QuasiMonteCarloAnswer},
    rss::{self, RootSumOfSquares, RootSumOfSquaresAnswer},
    worst::{self, WorstCase, WorstCaseAnswer},
};
use crate::{Band, Chance, CoverageInterval, Decline, Outcome, Progress, Propagation, Stack};
use kerfwise_source::{Distribution, Quantity};
use std::ops::ControlFlow;

/// Chances that differ by less are the same to a maker: a twentieth of a percent.
const SMALL_CHANCE: f64 = 0.0005;
/// Beyond so many standard errors chance is no excuse: once in 16,000 times.
const LOUD: f64 = 4.0;
/// Beyond so many it is worth saying: of the six numbers compared the worst lies so far off in at most 1.6 % of runs.
const UNUSUAL: f64 = 3.0;
/// Parts of the standard deviation, or of a width, that are not worth a sentence.
const SMALL_PART: f64 = 0.01;

/// All propagations of a stack.
#[derive(Debug, Clone)]
pub struct SideBySide {
    /// Each outcome, in order.
    pub outcomes: Vec<OutcomeSideBySide>,
    /// Monte Carlo of all outcomes together.
    pub monte_carlo: Result<MonteCarloAnswer, Decline>,
}

/// All propagations of one outcome.
#[derive(Debug, Clone)]
pub struct OutcomeSideBySide {
    /// The outcome's name.
    pub name: String,
    /// Worst case, within the limits of the sources.
    pub worst_case: Result<WorstCaseAnswer, Decline>,
    /// Root sum of squares, at the level of the Monte Carlo options.
    pub root_sum_of_squares: Result<RootSumOfSquaresAnswer, Decline>,
    /// Exact.
    pub exact: Result<Exact, Decline>,
    /// Semi-exact; asked where the outcome is not affine.
    pub semi_exact: Option<Result<Exact, Decline>>,
    /// Quasi-Monte Carlo; asked where neither of the two answers and there is a band.
    pub quasi_monte_carlo: Option<Result<QuasiMonteCarloAnswer, Decline>>,
    /// Why they differ, in sentences without a full stop; only what applies.
    pub differences: Vec<String>,
}

impl OutcomeSideBySide {
    /// The whole distribution, exact or semi-exact.
    pub fn distribution(&self) -> Option<&Exact> {
        let semi_exact = || self.semi_exact.as_ref().and_then(|way| way.as_ref().ok());
        self.exact.as_ref().ok().or_else(semi_exact)
    }

    fn of(outcome: Outcome<'_>, options: &MonteCarlo) -> Self {
        let exact = exact::run(outcome);
        let semi_exact = (!outcome.is_affine()).then(|| semi::run(outcome));
        let is_known = exact.is_ok() || semi_exact.as_ref().is_some_and(Result::is_ok);
        let points = QuasiMonteCarlo::new().seed(options.seed_of_trials());
        let is_asked = !is_known && outcome.band().is_some();
        let level = options.coverage_level();
        Self {
            name: outcome.name().to_owned(),
            worst_case: worst::run(outcome, &WorstCase::new()),
            root_sum_of_squares: rss::run(outcome, &RootSumOfSquares::new().level(level)),
            exact,
            semi_exact,
            quasi_monte_carlo: is_asked.then(|| quasi::run(outcome, &points)),
            differences: Vec::new(),
        }
    }
}

/// Runs all propagations and compares them.
pub(crate) fn run(
    stack: &Stack,
    options: &MonteCarlo,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> SideBySide {
    let monte_carlo = monte::run(stack, options, progress);
    let level = options.coverage_level();
    let outcomes = stack
        .outcomes()
        .map(|outcome| {
            let mut sides = OutcomeSideBySide::of(outcome, options);
            sides.differences = Comparison::new(outcome, level, &sides, &monte_carlo).sentences();
            sides
        })
        .collect();
    SideBySide {
        outcomes,
        monte_carlo,
    }
}

/// Trials of one outcome, and how many there were.
#[derive(Clone, Copy)]
struct Trials<'a> {
    count: u64,
    of: &'a MonteCarloOutcome,
}

/// What sets an outcome apart from the shape that root sum of squares takes it to have.
#[derive(Clone, Copy, PartialEq)]
enum Tails {
    None,
    Long,
}

struct Comparison<'a> {
    outcome: Outcome<'a>,
    level: f64,
    declines: Vec<&'a Decline>,
    worst: Option<&'a WorstCaseAnswer>,
    rss: Option<&'a RootSumOfSquaresAnswer>,
    /// Exact or semi-exact.
    exact: Option<&'a Exact>,
    points: Option<&'a QuasiMonteCarloAnswer>,
    trials: Option<Trials<'a>>,
}

impl<'a> Comparison<'a> {
    fn new(
        outcome: Outcome<'a>,
        level: f64,
        sides: &'a OutcomeSideBySide,
        monte_carlo: &'a Result<MonteCarloAnswer, Decline>,
    ) -> Self {
        let declines = [
            sides.worst_case.as_ref().err(),
            sides.root_sum_of_squares.as_ref().err(),
            sides.exact.as_ref().err(),
            sides.semi_exact.as_ref().and_then(|way| way.as_ref().err()),
            sides
                .quasi_monte_carlo
                .as_ref()
                .and_then(|way| way.as_ref().err()),
            monte_carlo.as_ref().err(),
        ];
        let trials = monte_carlo.as_ref().ok().and_then(|answer| {
            let of = answer.outcomes.get(outcome.index)?;
            Some(Trials {
                count: answer.trials,
                of,
            })
        });
        Self {
            outcome,
            level,
            declines: declines.into_iter().flatten().collect(),
            worst: sides.worst_case.as_ref().ok(),
            rss: sides.root_sum_of_squares.as_ref().ok(),
            exact: sides.distribution(),
            points: sides
                .quasi_monte_carlo
                .as_ref()
                .and_then(|way| way.as_ref().ok()),
            trials,
        }
    }

    fn sentences(&self) -> Vec<String> {
        let mut sentences = Vec::new();
        let agreement = self.monte_carlo_against_the_better();
        let is_wrong = agreement.as_ref().is_some_and(|(_, is_wrong)| *is_wrong);
        let agreement = agreement.map(|(sentence, _)| sentence);
        // What is wrong comes first, what is right last.
        sentences.extend(agreement.clone().filter(|_| is_wrong));
        sentences.extend(self.declines.iter().map(ToString::to_string));
        sentences.extend(self.worst_case_against_trials());
        sentences.extend(self.worst_case_against_chance());
        sentences.extend(self.few_readings());
        sentences.extend(self.assumed_shape());
        sentences.extend(self.assumed_width());
        sentences.extend(self.curvature());
        if let Some(rss) = self.rss {
            sentences.extend(prefixed(
                "root sum of squares should be doubted",
                &rss.doubts,
            ));
        }
        if let Some(trials) = self.trials {
            sentences.extend(prefixed("Monte Carlo", &trials.of.notes));
        }
        sentences.extend(agreement.filter(|_| !is_wrong));
        sentences
    }

    /// The variables that the outcome depends on.
    fn variables(&self) -> impl Iterator<Item = &'a Variable> {
        let problem = &self.outcome.stack.problem;
        let inputs = problem.tape.inputs_of(self.outcome.index);
        inputs.into_iter().map(|input| &problem.variables[input])
    }

    fn has_student_sources(&self) -> bool {
        self.variables()
            .any(|variable| matches!(variable.source.error(), Distribution::StudentT(_)))
    }

    /// The chance that is to be trusted, its name, and the error of its part inside.
    fn reference_chance(&self) -> Option<(&'static str, Chance, f64)> {
        let band = self.outcome.band()?;
        let of_trials = || {
            let (chance, error) = self.trials?.of.chance.zip(self.trials?.of.chance_error)?;
            Some(("chance by Monte Carlo", chance, error.inside))
        };
        if let Some(exact) = self.exact {
            let chance = exact.chance(&band);
            let name = match exact.propagation() {
                Propagation::SemiExact => "semi-exact chance",
                _ => "exact chance",
            };
            return Some((name, chance.value, chance.error));
        }
        self.points.map_or_else(of_trials, |points| {
            let error = points.chance_error.inside;
            Some(("chance by quasi-Monte Carlo", points.chance, error))
        })
    }

    /// The interval that is to be trusted, its name, and the error of its width.
    fn reference_interval(&self) -> Option<(&'static str, CoverageInterval, f64)> {
        let of_trials = || {
            let of = self.trials?.of;
            let error = of.symmetric_error.0 + of.symmetric_error.1;
            Some(("that of Monte Carlo", of.symmetric, error))
        };
        self.exact.map_or_else(of_trials, |exact| {
            let name = match exact.propagation() {
                Propagation::SemiExact => "the semi-exact one",
                _ => "the exact one",
            };
            Some((name, exact.symmetric_interval(self.level), 0.0))
        })
    }

    fn worst_case_against_trials(&self) -> Vec<String> {
        let (Some(worst), Some(trials)) = (self.worst, self.trials) else {
            return Vec::new();
        };
        let mut sentences = Vec::new();
        let (lower, upper) = (worst.lower.bound, worst.upper.bound);
        let (least, greatest) = (trials.of.least, trials.of.greatest);
        let width = upper.raw() - lower.raw();
        let show = |quantity| shown(quantity, 0.1 * width);
        let slack = SMALL_PART * width;
        let seen = format!("{} to {}", show(least), show(greatest));
        let range = format!("worst case goes from {} to {}", show(lower), show(upper));
        let count = grouped(trials.count);
        let is_beyond = |end: f64, seen: f64| end - seen > slack;
        if is_beyond(greatest.raw(), upper.raw()) || is_beyond(lower.raw(), least.raw()) {
            sentences.push(format!(
                "{range}, yet {count} trials went from {seen}: errors go beyond the limits stated for them"
            ));
        } else if is_beyond(upper.raw(), greatest.raw()) || is_beyond(least.raw(), lower.raw()) {
            sentences.push(format!(
                "{range}: all errors at their limits at once, which {count} trials never saw (they went from {seen})"
            ));
        }
        if !worst.is_tight {
            sentences.push(format!(
                "worst case is known only roughly: it reaches at least from {} to {}",
                show(worst.lower.attained),
                show(worst.upper.attained)
            ));
        }
        sentences
    }

    fn worst_case_against_chance(&self) -> Option<String> {
        let (name, Chance { inside, .. }, _) = self.reference_chance()?;
        match self.worst?.fits(&self.outcome.band()?) {
            Some(true) => Some("even the worst case lies in the band".to_owned()),
            Some(false) => Some("not even the best luck lies in the band".to_owned()),
            None if inside > 0.99 => Some(format!(
                "worst case says that the band can be missed; how seldom, only a chance tells: the {name} to lie in it \
                 is {}",
                percent(inside)
            )),
            None => None,
        }
    }

    /// Root sum of squares carries how little is known of a spread as degrees of freedom; the others take the
    /// distribution as it was given.
    fn few_readings(&self) -> Vec<String> {
        if self.rss.is_none() {
            return Vec::new();
        }
        let sentence = |variable: &Variable| {
            let source = &variable.source;
            let degrees = source.degrees_of_freedom();
            let Distribution::StudentT(error) = source.error() else {
                return degrees.is_finite().then(|| {
                    format!(
                        "the spread of source \"{}\" is known with {} degrees of freedom: root sum of squares counts \
                         them, the others take the {} error as it stands",
                        variable.name,
                        shortest(degrees, 3),
                        source.error().name()
                    )
                });
            };
            let quantity = |raw| Quantity::new(raw, source.dimension());
            let scale = shown(quantity(error.scale()), error.scale());
            let spread = source.error().standard_deviation().map_or_else(
                || "which has no standard deviation".to_owned(),
                |sd| format!("whose standard deviation is {}", shown(quantity(sd), sd)),
            );
            Some(format!(
                "source \"{}\" is a Student t: root sum of squares counts its scale {scale} with {} degrees of freedom, \
                 the others its whole distribution, {spread}",
                variable.name,
                shortest(error.degrees_of_freedom(), 3)
            ))
        };
        self.variables().filter_map(sentence).collect()
    }

    fn assumed_shape(&self) -> Option<String> {
        let rss = self.rss?;
        let assumed: Chance = rss.chance?;
        let (name, reference, error) = self.reference_chance()?;
        let difference = reference.inside - assumed.inside;
        if difference.abs() < SMALL_CHANCE || difference.abs() < LOUD * error {
            return None;
        }
        let shape = match rss.degrees_of_freedom {
            Some(degrees) if degrees.is_finite() => "Student t",
            _ => "normal",
        };
        Some(format!(
            "root sum of squares assumes a {shape} outcome and finds a chance of {}; the {name} is {}, {} points {}{}",
            percent(assumed.inside),
            percent(reference.inside),
            shortest(100.0 * difference.abs(), 2),
            if difference > 0.0 { "higher" } else { "lower" },
            self.because(rss, self.tails_behind(rss, assumed, reference))
        ))
    }

    fn assumed_width(&self) -> Option<String> {
        let rss = self.rss?;
        let (name, interval, error) = self.reference_interval()?;
        let width = interval.upper.raw() - interval.lower.raw();
        let assumed = 2.0 * rss.expanded_uncertainty.raw();
        let difference = assumed - width;
        // Where the slopes see no spread at all, the doubts say so.
        if width <= 0.0
            || assumed <= 0.0
            || difference.abs() < 2.0 * SMALL_PART * width
            || difference.abs() < LOUD * error
        {
            return None;
        }
        Some(format!(
            "the {} % interval of root sum of squares is {} % {} than {name} ({} against {} wide){}",
            shortest(100.0 * self.level, 4),
            shortest(100.0 * difference.abs() / width, 2),
            if difference > 0.0 {
                "wider"
            } else {
                "narrower"
            },
            shown(rss.standard_uncertainty.same_unit(assumed), 0.1 * width),
            shown(rss.standard_uncertainty.same_unit(width), 0.1 * width),
            self.because(
                rss,
                Some(if difference > 0.0 {
                    Tails::None
                } else {
                    Tails::Long
                })
            )
        ))
    }

    /// ": "kerf" (rectangular, 85 % of the variance) has no tails": what explains the difference, of up to three sources;
    /// curvature first, where it shows.
    fn because(&self, rss: &RootSumOfSquaresAnswer, tails: Option<Tails>) -> String {
        const CURVED: &str = "the stack is not a plain sum of its errors";
        let is_curved = !self.outcome.is_affine();
        let mut causes: Vec<String> = Vec::new();
        if is_curved && (self.trials.is_none() || !self.curvature().is_empty()) {
            causes.push(CURVED.to_owned());
        }
        let shapes = rss.budget.iter().filter_map(|line| self.shape(line, tails));
        causes.extend(shapes.take(3));
        if causes.is_empty() && is_curved {
            causes.push(CURVED.to_owned());
        }
        if causes.is_empty() {
            String::new()
        } else {
            format!(": {}", causes.join(", "))
        }
    }

    /// What about a source leads to such tails, if anything.
    fn shape(&self, line: &rss::BudgetLine, tails: Option<Tails>) -> Option<String> {
        let variable = self
            .variables()
            .find(|variable| variable.name == line.name)?;
        let law = variable.source.error();
        let (lower, upper) = law.support();
        let is_bounded = lower.is_finite() && upper.is_finite();
        let is_wide_in_rss = tails == Some(Tails::None);
        let (what, least_share) = match law {
            Distribution::Point(_) => return None,
            Distribution::StudentT(_) if tails == Some(Tails::Long) => ("has long tails", 0.01),
            Distribution::StudentT(_) => return None,
            _ if is_wide_in_rss && line.degrees_of_freedom.is_finite() => {
                ("is counted with its degrees of freedom", 0.1)
            }
            Distribution::Normal(_) => return None,
            law if law.centre_of_symmetry().is_none() => ("is lopsided", 0.1),
            _ if is_bounded && is_wide_in_rss => ("has no tails", 0.1),
            _ => return None,
        };
        let share = shortest(100.0 * line.share, 2);
        (line.share >= least_share).then(|| {
            format!(
                "\"{}\" ({}, {share} % of the variance) {what}",
                line.name,
                law.name()
            )
        })
    }

    /// Which tails lead to a chance that differs like this, seen at the limit where it differs most. Far out the outcome
    /// lies less often beyond a limit than a normal one when it has no tails; nearer more often, since what is missing in
    /// the tails sits on the shoulders. The tails of a normal law and of one of the same spread cross at 1.77 standard
    /// deviations for a triangle, at 1.50 for a rectangle, at 1.36 for an arcsine. Between those none is named, but for more
    /// beyond a limit nearer than 1.5: a rectangle and a triangle do that, an arcsine does not.
    fn tails_behind(
        &self,
        rss: &RootSumOfSquaresAnswer,
        assumed: Chance,
        reference: Chance,
    ) -> Option<Tails> {
        let (lower, upper) = self.outcome.band()?.raw();
        let (y, u) = (rss.estimate.raw(), rss.standard_uncertainty.raw());
        let below = reference.below - assumed.below;
        let above = reference.above - assumed.above;
        let (more_beyond, limit) = if below.abs() > above.abs() {
            (below, (y - lower) / u)
        } else {
            (above, (upper - y) / u)
        };
        let is_more = more_beyond > 0.0;
        let nearer_than = if is_more { 1.5 } else { 1.35 };
        if limit > 1.8 {
            Some(if is_more { Tails::Long } else { Tails::None })
        } else if (0.0..nearer_than).contains(&limit) {
            Some(if is_more { Tails::None } else { Tails::Long })
        } else {
            None
        }
    }

    /// What only a stack that is not affine does: it shifts the mean, and spreads otherwise than its slopes say.
    fn curvature(&self) -> Vec<String> {
        let (Some(rss), Some(trials)) = (self.rss, self.trials) else {
            return Vec::new();
        };
        if self.outcome.is_affine() {
            return Vec::new();
        }
        let (mean, sd) = (trials.of.mean, trials.of.standard_deviation);
        let show = |quantity| shown(quantity, sd.value.raw());
        let matters = |difference: f64, error: f64| {
            difference.abs() > LOUD * error && difference.abs() > SMALL_PART * sd.value.raw()
        };
        let mut sentences = Vec::new();
        let shift = mean.value.raw() - rss.estimate.raw();
        if matters(shift, mean.error) {
            sentences.push(format!(
                "the stack is not a plain sum: errors do not cancel, and the mean of the trials, {}, is {} {} the \
                 outcome at the estimates, {}, where root sum of squares stays",
                show(mean.value),
                show(mean.value.same_unit(shift.abs())),
                if shift > 0.0 { "above" } else { "below" },
                show(rss.estimate)
            ));
        }
        // A Student t is counted by its scale, which is another matter; where the slopes see nothing, the doubts say so.
        let excess = sd.value.raw() - rss.standard_uncertainty.raw();
        if matters(excess, sd.error) && !self.has_student_sources() {
            sentences.push(format!(
                "the slopes at the estimates do not tell all: root sum of squares finds a standard uncertainty of {}, \
                 the trials have a standard deviation of {}",
                show(rss.standard_uncertainty),
                show(sd.value)
            ));
        }
        sentences
    }

    /// The sentence, and whether the two disagree.
    fn monte_carlo_against_the_better(&self) -> Option<(String, bool)> {
        let trials = self.trials?;
        let (name, scores) = match (self.exact, self.points) {
            (Some(exact), _) => (exact.propagation(), self.scores(exact, trials)),
            (None, Some(points)) => (
                Propagation::QuasiMonteCarlo,
                scores_of_points(points, trials),
            ),
            (None, None) => return None,
        };
        let (what, score) = scores
            .into_iter()
            .reduce(|most, other| if other.1 > most.1 { other } else { most })?;
        let score_text = shortest(score, 2);
        let is_wrong = score > LOUD;
        let sentence = if is_wrong {
            format!(
                "{} AND MONTE CARLO DISAGREE: the {what} differs by {score_text} standard errors of the trials, \
                 which chance does not explain; trust neither",
                name.to_string().to_uppercase()
            )
        } else if score > UNUSUAL {
            format!(
                "Monte Carlo lies {score_text} standard errors from {name} in the {what}, which fewer than one \
                 run in fifty does; run another seed to see whether it was chance"
            )
        } else {
            format!(
                "Monte Carlo agrees with {name}: of all that can be compared the {what} differs most, by {score_text} \
                 standard errors"
            )
        };
        Some((sentence, is_wrong))
    }

    /// How many standard errors each number is off.
    fn scores(&self, exact: &Exact, trials: Trials<'_>) -> Vec<(&'static str, f64)> {
        let of = trials.of;
        let mut scores = Vec::new();
        let mut compare = |what, difference: f64, error: f64| {
            if error > 0.0 {
                scores.push((what, difference.abs() / error));
            }
        };
        // Without a variance the mean has no standard error.
        if let (Some(mean), Some(_)) = (exact.mean(), exact.standard_deviation()) {
            compare("mean", of.mean.value.raw() - mean.raw(), of.mean.error);
        }
        if let Some(band) = self.band() {
            let chance = exact.chance(&band);
            let bound = chance.error;
            let bound = Chance {
                below: bound,
                inside: bound,
                above: bound,
            };
            for (what, difference, error) in off(of, &chance.value, &bound) {
                compare(what, difference, error);
            }
        }
        let ends = exact.symmetric_interval(self.level);
        for (what, got, end, error) in [
            (
                "lower end",
                of.symmetric.lower,
                ends.lower,
                of.symmetric_error.0,
            ),
            (
                "upper end",
                of.symmetric.upper,
                ends.upper,
                of.symmetric_error.1,
            ),
        ] {
            // An end that sits on an atom does not scatter.
            if exact.pdf(end).is_some() {
                compare(what, got.raw() - end.raw(), error);
            }
        }
        scores
    }

    fn band(&self) -> Option<Band> {
        self.outcome.band()
    }
}

/// How many standard errors the chances of the trials are off those of the points.
fn scores_of_points(
    points: &QuasiMonteCarloAnswer,
    trials: Trials<'_>,
) -> Vec<(&'static str, f64)> {
    off(trials.of, &points.chance, &points.chance_error)
        .map(|(what, difference, error)| (what, difference.abs() / error))
        .collect()
}

/// How far the chances of trials are off others, and their errors together.
fn off(
    trials: &MonteCarloOutcome,
    other: &Chance,
    error: &Chance,
) -> impl Iterator<Item = (&'static str, f64, f64)> {
    let pair = trials.chance.zip(trials.chance_error);
    let all = pair.map(|(chance, own)| {
        [
            (
                "chance below the band",
                chance.below - other.below,
                own.below + error.below,
            ),
            (
                "chance of the band",
                chance.inside - other.inside,
                own.inside + error.inside,
            ),
            (
                "chance above the band",
                chance.above - other.above,
                own.above + error.above,
            ),
        ]
    });
    all.into_iter().flatten()
}

/// Another number in the unit of this one.
trait SameUnit {
    fn same_unit(&self, raw: f64) -> Quantity;
}

impl SameUnit for Quantity {
    fn same_unit(&self, raw: f64) -> Quantity {
        Self::new(raw, self.dimension())
    }
}

fn prefixed<'a>(prefix: &'a str, sentences: &'a [String]) -> impl Iterator<Item = String> + 'a {
    sentences
        .iter()
        .map(move |sentence| format!("{prefix}: {sentence}"))
}

/// A quantity to two significant digits of something of the size of its uncertainty.
fn shown(quantity: Quantity, size: f64) -> String {
    let number = if size > 0.0 {
        fixed(quantity.raw(), decimals(size, 2))
    } else {
        shortest(quantity.raw(), 9)
    };
    let unit = quantity.dimension().raw_unit();
    format!("{number} {unit}").trim_end().to_owned()
}

/// A chance in percent, with two significant digits of what is missing to 0 or to 100.
fn percent(chance: f64) -> String {
    let smaller = 100.0 * chance.min(1.0 - chance);
    format!("{:.*} %", decimals(smaller, 2).clamp(1, 10), 100.0 * chance)
}

/// 200,000.
fn grouped(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

#[cfg(test)]
mod tests;
