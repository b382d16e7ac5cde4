//! All propagations next to each other, and in words why they differ.

use crate::problem::Variable;
use crate::propagate::{
    exact::{self, Exact},
    monte::{self, MonteCarlo, MonteCarloAnswer, MonteCarloOutcome, decimal_exponent},
    rss::{self, RootSumOfSquares, RootSumOfSquaresAnswer},
    worst::{self, WorstCase, WorstCaseAnswer},
};
use crate::{Band, Chance, CoverageInterval, Decline, Outcome, Stack};
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
    /// Why they differ, in sentences without a full stop; only what applies.
    pub differences: Vec<String>,
}

/// Runs all propagations and compares them.
pub(crate) fn run(stack: &Stack, options: &MonteCarlo) -> SideBySide {
    let monte_carlo = monte::run(stack, options, &mut |_| ControlFlow::Continue(()));
    let level = options.coverage_level();
    let outcomes = stack
        .outcomes()
        .map(|outcome| {
            let mut sides = OutcomeSideBySide {
                name: outcome.name().to_owned(),
                worst_case: worst::run(outcome, &WorstCase::new()),
                root_sum_of_squares: rss::run(outcome, &RootSumOfSquares::new().level(level)),
                exact: exact::run(outcome),
                differences: Vec::new(),
            };
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

/// What sets an outcome apart from a normal one.
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
    exact: Option<&'a Exact>,
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
            exact: sides.exact.as_ref().ok(),
            trials,
        }
    }

    fn sentences(&self) -> Vec<String> {
        let mut sentences = Vec::new();
        let agreement = self.monte_carlo_against_exact();
        let is_wrong = agreement.as_ref().is_some_and(|(_, is_wrong)| *is_wrong);
        let agreement = agreement.map(|(sentence, _)| sentence);
        // What is wrong comes first, what is right last.
        sentences.extend(agreement.clone().filter(|_| is_wrong));
        sentences.extend(self.declines.iter().map(ToString::to_string));
        sentences.extend(self.worst_case_against_trials());
        sentences.extend(self.worst_case_against_chance());
        sentences.extend(self.student_sources());
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

    /// The chance that is to be trusted, its name, and its error.
    fn reference_chance(&self) -> Option<(&'static str, f64, f64)> {
        let band = self.outcome.band()?;
        let of_trials = || {
            let (chance, error) = self.trials?.of.chance.zip(self.trials?.of.chance_error)?;
            Some(("chance by Monte Carlo", chance.inside, error.inside))
        };
        self.exact.map_or_else(of_trials, |exact| {
            let chance = exact.chance(&band);
            Some(("exact chance", chance.value.inside, chance.error))
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
            Some(("the exact one", exact.symmetric_interval(self.level), 0.0))
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
        let (name, inside, _) = self.reference_chance()?;
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

    fn student_sources(&self) -> Vec<String> {
        let sentence = |variable: &Variable| {
            let Distribution::StudentT(error) = variable.source.error() else {
                return None;
            };
            let quantity = |raw| Quantity::new(raw, variable.source.dimension());
            let scale = shown(quantity(error.scale()), error.scale());
            let spread = variable.source.error().standard_deviation().map_or_else(
                || "which has no standard deviation".to_owned(),
                |sd| format!("whose standard deviation is {}", shown(quantity(sd), sd)),
            );
            Some(format!(
                "source \"{}\" is a Student t: root sum of squares counts its scale {scale} with {} degrees of freedom, \
                 the others its whole distribution, {spread}",
                variable.name,
                rounded(error.degrees_of_freedom(), 3)
            ))
        };
        if self.rss.is_none() {
            return Vec::new();
        }
        self.variables().filter_map(sentence).collect()
    }

    fn assumed_shape(&self) -> Option<String> {
        let rss = self.rss?;
        let assumed: Chance = rss.chance?;
        let (name, inside, error) = self.reference_chance()?;
        let difference = inside - assumed.inside;
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
            percent(inside),
            rounded(100.0 * difference.abs(), 2),
            if difference > 0.0 { "higher" } else { "lower" },
            self.because(rss, self.tails_behind(rss, difference))
        ))
    }

    fn assumed_width(&self) -> Option<String> {
        let rss = self.rss?;
        let (name, interval, error) = self.reference_interval()?;
        let width = interval.upper.raw() - interval.lower.raw();
        let assumed = 2.0 * rss.expanded_uncertainty.raw();
        let difference = assumed - width;
        if width <= 0.0
            || difference.abs() < 2.0 * SMALL_PART * width
            || difference.abs() < LOUD * error
        {
            return None;
        }
        Some(format!(
            "the {} % interval of root sum of squares is {} % {} than {name} ({} against {} wide){}",
            rounded(100.0 * self.level, 4),
            rounded(100.0 * difference.abs() / width, 2),
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

    /// ": "kerf" (rectangular, 85 % of the variance) has no tails": what explains the difference, of up to three sources.
    fn because(&self, rss: &RootSumOfSquaresAnswer, tails: Option<Tails>) -> String {
        if self.outcome.stack.problem.affine[self.outcome.index].is_err() {
            return ": the stack is not a plain sum of its errors".to_owned();
        }
        let of_line = |line: &rss::BudgetLine| {
            let variable = self
                .variables()
                .find(|variable| variable.name == line.name)?;
            let law = variable.source.error();
            let (lower, upper) = law.support();
            let is_bounded = lower.is_finite() && upper.is_finite();
            let (what, least_share) = match law {
                Distribution::Normal(_) | Distribution::Point(_) => return None,
                Distribution::StudentT(_) if tails == Some(Tails::Long) => ("has long tails", 0.01),
                Distribution::StudentT(_) => return None,
                law if law.centre_of_symmetry().is_none() => ("is lopsided", 0.1),
                _ if is_bounded && tails == Some(Tails::None) => ("has no tails", 0.1),
                _ => return None,
            };
            let share = rounded(100.0 * line.share, 2);
            (line.share >= least_share).then(|| {
                format!(
                    "\"{}\" ({}, {share} % of the variance) {what}",
                    line.name,
                    law.name()
                )
            })
        };
        let shapes: Vec<String> = rss.budget.iter().filter_map(of_line).take(3).collect();
        if shapes.is_empty() {
            String::new()
        } else {
            format!(": {}", shapes.join(", "))
        }
    }

    /// Which tails lead to a chance that differs like this. Far out the outcome lies less often beyond a limit than a
    /// normal one when it has no tails; but nearer than about 1.7 standard deviations more often, since what is missing
    /// in the tails sits on the shoulders.
    fn tails_behind(&self, rss: &RootSumOfSquaresAnswer, difference: f64) -> Option<Tails> {
        let (lower, upper) = self.outcome.band()?.raw();
        let (y, u) = (rss.estimate.raw(), rss.standard_uncertainty.raw());
        let nearer = (y - lower).min(upper - y) / u;
        let is_higher = difference > 0.0;
        if nearer > 2.0 {
            Some(if is_higher { Tails::None } else { Tails::Long })
        } else if nearer < 1.6 {
            Some(if is_higher { Tails::Long } else { Tails::None })
        } else {
            None
        }
    }

    /// What only a stack that is not affine does: it shifts the mean, and spreads otherwise than its slopes say.
    fn curvature(&self) -> Vec<String> {
        let (Some(rss), Some(trials)) = (self.rss, self.trials) else {
            return Vec::new();
        };
        if self.outcome.stack.problem.affine[self.outcome.index].is_ok() {
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
        // A Student t is counted by its scale, which is another matter.
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
    fn monte_carlo_against_exact(&self) -> Option<(String, bool)> {
        let (exact, trials) = (self.exact?, self.trials?);
        let scores = self.scores(exact, trials);
        let (what, score) = scores
            .into_iter()
            .reduce(|most, other| if other.1 > most.1 { other } else { most })?;
        let score_text = rounded(score, 2);
        let is_wrong = score > LOUD;
        let sentence = if is_wrong {
            format!(
                "EXACT AND MONTE CARLO DISAGREE: the {what} differs by {score_text} standard errors of the trials, \
                 which chance does not explain; trust neither"
            )
        } else if score > UNUSUAL {
            format!(
                "Monte Carlo lies {score_text} standard errors from exact in the {what}, which fewer than one \
                 run in fifty does; run another seed to see whether it was chance"
            )
        } else {
            format!(
                "Monte Carlo agrees with exact: of all that can be compared the {what} differs most, by {score_text} \
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
        if let (Some(band), Some((chance, error))) = (self.band(), of.chance.zip(of.chance_error)) {
            let true_chance = exact.chance(&band);
            let bound = true_chance.error;
            let true_chance = true_chance.value;
            compare(
                "chance below the band",
                chance.below - true_chance.below,
                error.below + bound,
            );
            compare(
                "chance of the band",
                chance.inside - true_chance.inside,
                error.inside + bound,
            );
            compare(
                "chance above the band",
                chance.above - true_chance.above,
                error.above + bound,
            );
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
    format!("{quantity:.*}", decimals(size, 2))
}

/// A plain number to so many significant digits, without needless zeros.
fn rounded(x: f64, digits: u32) -> String {
    let text = format!("{x:.*}", decimals(x, digits));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// A chance in percent, with two significant digits of what is missing to 0 or to 100.
fn percent(chance: f64) -> String {
    let smaller = 100.0 * chance.min(1.0 - chance);
    format!("{:.*} %", decimals(smaller, 2).clamp(1, 10), 100.0 * chance)
}

fn decimals(size: f64, digits: u32) -> usize {
    if size.abs() > 0.0 && size.is_finite() {
        let least = decimal_exponent(size.abs(), digits) - digits.cast_signed() + 1;
        usize::try_from(-least).unwrap_or(0).min(20)
    } else {
        0
    }
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
mod tests {
    use super::*;
    use crate::{Expr, Stack};
    use kerfwise_source::{LengthUnits, Source, SourceBuilder};

    fn built(source: SourceBuilder) -> Expr {
        Expr::source(&source.build().expect("a valid source"))
    }

    fn compared(expr: &Expr, half_width_in_thou: f64) -> (OutcomeSideBySide, String) {
        let band = Band::within(half_width_in_thou.thou()).expect("a valid band");
        let stack = Stack::builder()
            .outcome("fit", expr, band)
            .build()
            .expect("a valid stack");
        let mut sides = run(&stack, &MonteCarlo::new());
        let outcome = sides.outcomes.swap_remove(0);
        let text = outcome.differences.join("\n");
        (outcome, text)
    }

    #[test]
    fn numbers_are_shown_as_people_write_them() {
        assert_eq!(shown(0.01234.inch().into(), 0.0017), "0.0123 in");
        assert_eq!(shown(0.01234.inch().into(), 12.0), "0 in");
        assert_eq!(rounded(0.4213, 2), "0.42");
        assert_eq!(rounded(4.0, 3), "4");
        assert_eq!(rounded(120.0, 2), "120");
        assert_eq!(percent(0.996_73), "99.67 %");
        assert_eq!(percent(0.5), "50.0 %");
        assert_eq!(percent(1.0), "100.0 %");
        assert_eq!(grouped(200_000), "200,000");
        assert_eq!(grouped(1_234), "1,234");
        assert_eq!(grouped(7), "7");
    }

    #[test]
    fn many_bounded_errors_never_meet_at_their_limits() {
        let names = ["a", "b", "c", "d", "e", "f", "g", "h"];
        let sum = names.map(|name| built(Source::new(name, 0.inch()).rectangular(1.thou())));
        let sum = sum
            .into_iter()
            .reduce(|sum, term| sum + term)
            .expect("eight terms");
        let (sides, text) = compared(&sum, 5.0);
        // ±8 thou by hand; the exact chance of ±5 by trials of the sum: about 0.2 % are outside.
        assert!(
            text.contains("worst case goes from -0.0080 in to 0.0080 in: all errors at their limits at once, which 200,000 trials never saw"),
            "{text}"
        );
        assert!(
            text.contains("worst case says that the band can be missed"),
            "{text}"
        );
        assert!(text.contains("Monte Carlo agrees with exact"), "{text}");
        assert!(
            !text.contains("declines") && !text.contains("DISAGREE"),
            "{text}"
        );
        assert!(sides.exact.is_ok());
    }

    #[test]
    fn a_rectangle_is_not_normal() {
        // One rectangle of ±6 thou, band ±5: 5/6 exactly; as a normal of sd 6/√3 thou, Φ(±5√3/6) = 85.11 %.
        let (_, text) = compared(
            &built(Source::new("seat", 0.inch()).rectangular(6.thou())),
            5.0,
        );
        assert!(
            text.contains(
                "root sum of squares assumes a normal outcome and finds a chance of 85.1 %; the exact chance is \
                 83.3 %, 1.8 points lower: \"seat\" (rectangular, 100 % of the variance) has no tails"
            ),
            "{text}"
        );
        assert!(
            text.contains(
                "the 95 % interval of root sum of squares is 19 % wider than the exact one"
            ),
            "{text}"
        );
        assert!(
            text.contains("root sum of squares should be doubted"),
            "{text}"
        );
    }

    #[test]
    fn a_disagreement_is_said_loudly_and_first() {
        let seat = built(Source::new("seat", 0.inch()).rectangular(6.thou()));
        let band = Band::within(5.thou()).expect("a valid band");
        let stack = Stack::builder()
            .outcome("fit", &seat, band)
            .build()
            .expect("a valid stack");
        let outcome = stack.outcome("fit").expect("its only outcome");
        let mut sides = run(&stack, &MonteCarlo::new());
        // No fault is at hand, so one is made: 5/6 with a standard error of 0.00083, moved by ten of them.
        if let Ok(answer) = &mut sides.monte_carlo {
            let chance = answer.outcomes[0].chance.as_mut().expect("it has a band");
            chance.inside = 5.0 / 6.0 + 0.0083;
        }
        let sentences =
            Comparison::new(outcome, 0.95, &sides.outcomes[0], &sides.monte_carlo).sentences();
        assert_eq!(
            sentences[0],
            "EXACT AND MONTE CARLO DISAGREE: the chance of the band differs by 10 standard errors of the trials, which \
             chance does not explain; trust neither"
        );
    }

    #[test]
    fn few_readings_are_counted_in_two_ways() {
        let t = built(
            Source::new("mortise", 0.inch())
                .student_t(1.thou(), 4.0)
                .limits_at_sd(3.0),
        );
        let (_, text) = compared(&t, 5.0);
        // √(4/2) = 1.414 thou.
        assert!(
            text.contains(
                "source \"mortise\" is a Student t: root sum of squares counts its scale 0.0010 in with 4 degrees of \
                 freedom, the others its whole distribution, whose standard deviation is 0.0014 in"
            ),
            "{text}"
        );
        assert!(
            text.contains("Monte Carlo: source \"mortise\" (Student t) has no fourth moment"),
            "{text}"
        );
    }

    #[test]
    fn the_reason_given_is_one_that_explains() {
        // Rectangles narrow the outcome, but it is wider than root sum of squares finds: for the Student t, that is.
        let mortise = built(Source::new("mortise", 0.inch()).student_t(1.thou(), 3.0));
        let seat = built(Source::new("seat", 0.inch()).rectangular(2.thou()));
        let (_, text) = compared(&(mortise + seat), 9.0);
        let width = text
            .lines()
            .find(|line| line.contains("interval of root sum of squares"));
        let chance = text
            .lines()
            .find(|line| line.contains("assumes a Student t outcome"));
        for line in [width, chance] {
            let line = line.unwrap_or_else(|| panic!("{text}"));
            assert!(
                line.contains("\"mortise\" (Student t, 43 % of the variance) has long tails"),
                "{line}"
            );
            assert!(!line.contains("seat"), "{line}");
        }
    }

    #[test]
    fn a_kink_is_explained() {
        // |x| for x in N(0, 3 thou): mean 3·√(2/π) = 2.4 thou above the outcome at the estimate.
        let (_, text) = compared(
            &built(Source::new("x", 0.inch()).normal(3.thou())).abs(),
            5.0,
        );
        assert!(text.contains("exact declines"), "{text}");
        assert!(text.contains("worst case declines"), "{text}");
        assert!(text.contains("the stack is not a plain sum"), "{text}");
        assert!(
            text.contains("is 0.0024 in above the outcome at the estimates, 0.0000 in"),
            "{text}"
        );
        assert!(text.contains("kink"), "{text}");
    }

    #[test]
    fn limits_that_errors_go_beyond_are_told() {
        let (_, text) = compared(
            &built(
                Source::new("x", 0.inch())
                    .normal(1.thou())
                    .limits_at_sd(2.0),
            ),
            9.0,
        );
        assert!(
            text.contains("errors go beyond the limits stated for them"),
            "{text}"
        );
        assert!(
            text.contains("even the worst case lies in the band"),
            "{text}"
        );
        assert!(
            !text.contains("root sum of squares"),
            "a normal outcome is what it assumes: {text}"
        );
    }
}
