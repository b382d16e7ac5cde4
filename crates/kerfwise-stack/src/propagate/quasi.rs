//! Quasi-Monte Carlo: the chance of a band from few, even points.
//!
//! Sources that are only ever added to the rest are integrated out: given the rest, the chance is a difference of two
//! values of the distribution function of their sum, which the exact propagation knows, a smooth function of the other
//! sources. Its mean over them is taken at scrambled Sobol points, several scrambles each by itself; from their scatter
//! comes the standard error (Owen 1997, Ann. Stat. 25, 1541).

mod added;

use crate::run::affine::affine;
use crate::run::block::{BLOCK, BlockScratch};
use crate::{Chance, Decline, Outcome, Propagation};
use added::Added;
use kerfwise_numeric::columns;
use kerfwise_numeric::sobol::{self, Sobol};
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_source::Distribution;

/// No standard error is less.
const LEAST_ERROR: f64 = 1e-12;

/// Options of quasi-Monte Carlo.
///
/// ```
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, QuasiMonteCarlo, Stack};
///
/// // A normal error alone is integrated out whole: the chance of ±1 standard deviation is 0.682689.
/// let saw = Source::new("saw", 0.inch()).normal(1.thou()).build()?;
/// let stack = Stack::builder().outcome("cut", &Expr::from(saw), Band::within(1.thou())?).build()?;
/// let answer = stack.outcome("cut").unwrap().quasi_monte_carlo(QuasiMonteCarlo::new().points(1024))?;
/// assert!((answer.chance.inside - 0.682_689_492).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct QuasiMonteCarlo {
    points: u32,
    seed: u64,
}

impl Default for QuasiMonteCarlo {
    fn default() -> Self {
        Self::new()
    }
}

impl QuasiMonteCarlo {
    /// Independent scrambles.
    pub const SCRAMBLES: u32 = 8;
    const MOST_POINTS: u32 = 1 << 24;

    /// 8 scrambles of 4,096 points, seed 1.
    #[must_use]
    pub fn new() -> Self {
        Self {
            points: 4096,
            seed: 1,
        }
    }

    /// Points of each scramble: rounded up to a power of two from 1,024 to 16,777,216.
    #[must_use]
    pub fn points(mut self, points: u32) -> Self {
        let points = points.clamp(BLOCK as u32, Self::MOST_POINTS);
        self.points = points.next_power_of_two();
        self
    }

    /// The seed: same seed, same answer.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }
}

/// The chance of a band by quasi-Monte Carlo.
#[derive(Debug, Clone, PartialEq)]
#[must_use]
pub struct QuasiMonteCarloAnswer {
    /// Chance of the band.
    pub chance: Chance,
    /// Standard errors of the three chances, from the scatter of the scrambles, and the error of what is integrated out;
    /// never 0.
    pub chance_error: Chance,
    /// Points in all.
    pub points: u64,
    /// Names of the sources that were integrated out.
    pub integrated: Vec<String>,
}

/// Asks for the chance of an outcome's band.
pub(crate) fn run(
    outcome: Outcome<'_>,
    options: &QuasiMonteCarlo,
) -> Result<QuasiMonteCarloAnswer, Decline> {
    let declined = |why: String| Decline::new(Propagation::QuasiMonteCarlo, vec![why]);
    let inputs = Inputs::of(outcome).map_err(declined)?;
    let (points, added) = inputs
        .integrated(options)
        .ok_or_else(|| declined("nothing smooth is only added to the rest".to_owned()))?;
    let mut scratch = points.scratch();
    let means: Option<Vec<Mean>> = (0..QuasiMonteCarlo::SCRAMBLES)
        .map(|scramble| points.mean(&added, options, scramble, &mut scratch))
        .collect();
    let means = means.ok_or_else(|| {
        declined(format!(
            "outcome \"{}\" is not defined at some points: use Monte Carlo, which counts them",
            outcome.name()
        ))
    })?;
    let unreached: f64 = means.iter().map(|mean| mean.unreached).sum::<f64>() / means.len() as f64;
    let of = |value: fn(&Mean) -> f64| {
        let (mean, error) = mean_and_error(means.iter().map(value));
        // Two limits.
        (mean, error + 2.0 * added.error + unreached * added.beyond)
    };
    let (below, below_error) = of(|mean| mean.below);
    let (above, above_error) = of(|mean| mean.above);
    let (outside, outside_error) = of(|mean| mean.below + mean.above);
    Ok(QuasiMonteCarloAnswer {
        chance: Chance {
            below,
            inside: 1.0 - outside,
            above,
        },
        chance_error: Chance {
            below: below_error,
            inside: outside_error,
            above: above_error,
        },
        points: u64::from(options.points) * u64::from(QuasiMonteCarlo::SCRAMBLES),
        integrated: points.integrated,
    })
}

/// Mean of the scrambles and its standard error.
fn mean_and_error(values: impl ExactSizeIterator<Item = f64> + Clone) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let squares: f64 = values.map(|x| (x - mean) * (x - mean)).sum();
    let error = (squares / (n * (n - 1.0))).sqrt();
    (mean, error.max(LEAST_ERROR))
}

/// The inputs of an outcome, by what becomes of them.
struct Inputs<'a> {
    outcome: Outcome<'a>,
    band: (f64, f64),
    /// Those whose value is known, and those that do not count.
    settled: Vec<(usize, f64)>,
    /// Those in which the outcome is not affine.
    bent: Vec<usize>,
    /// Those that are only added, with their coefficients.
    plain: Vec<(usize, f64)>,
}

impl<'a> Inputs<'a> {
    fn of(outcome: Outcome<'a>) -> Result<Self, String> {
        let problem = &outcome.stack.problem;
        let Some(band) = outcome.band().map(|band| band.raw()) else {
            return Err(format!("outcome \"{}\" has no band", outcome.name()));
        };
        if let Some(group) = problem.correlated_groups().first() {
            let names: Vec<String> = group
                .iter()
                .map(|input| format!("\"{}\"", problem.variables[*input].name))
                .collect();
            return Err(format!("sources {} are correlated", names.join(" and ")));
        }
        let bent: Vec<usize> = problem.affine[outcome.index]
            .as_ref()
            .err()
            .cloned()
            .unwrap_or_default();
        let plain = plain_terms(outcome, &bent)?;
        let is_settled =
            |input: &usize| !bent.contains(input) && !plain.iter().any(|(plain, _)| plain == input);
        let value = |input: usize| {
            let variable = &problem.variables[input];
            let estimate = variable.source.estimate().raw();
            (input, variable.known_value().unwrap_or(estimate))
        };
        let inputs = 0..problem.variables.len();
        let settled = inputs.filter(is_settled).map(value).collect();
        Ok(Self {
            outcome,
            band,
            settled,
            bent,
            plain,
        })
    }

    fn error(&self, input: usize) -> &'a Distribution {
        self.outcome.stack.problem.variables[input].source.error()
    }

    /// The law of all that is only added, where it is smooth, or else of its normals; and the points of the rest.
    fn integrated(&self, options: &QuasiMonteCarlo) -> Option<(Points<'a>, Added)> {
        let is_normal = |error: &Distribution| matches!(error, Distribution::Normal(_));
        self.without(options, &|_| true)
            .or_else(|| self.without(options, &is_normal))
    }

    /// The same, of those laws that are only added and chosen.
    fn without(
        &self,
        options: &QuasiMonteCarlo,
        is_chosen: &dyn Fn(&Distribution) -> bool,
    ) -> Option<(Points<'a>, Added)> {
        let (chosen, left): (Vec<_>, Vec<_>) = self
            .plain
            .iter()
            .partition(|(input, _)| is_chosen(self.error(*input)));
        let variables = &self.outcome.stack.problem.variables;
        let estimate = |input: usize| variables[input].source.estimate().raw();
        let points = Points {
            outcome: self.outcome,
            band: self.band,
            integrated: chosen
                .iter()
                .map(|(input, _)| variables[*input].name.clone())
                .collect(),
            settled: self
                .settled
                .iter()
                .copied()
                .chain(chosen.iter().map(|&(input, _)| (input, estimate(input))))
                .collect(),
            moving: self
                .bent
                .iter()
                .copied()
                .chain(left.iter().map(|(input, _)| *input))
                .map(|input| Moving {
                    input,
                    estimate: estimate(input),
                    error: self.error(input),
                    key: name_key(&variables[input].name),
                })
                .collect(),
        };
        let terms: Vec<_> = chosen
            .iter()
            .map(|&(input, slope)| (slope, self.error(input)))
            .collect();
        let added = Added::of(&terms, points.places(options))?;
        Some((points, added))
    }
}

struct Moving<'a> {
    input: usize,
    estimate: f64,
    error: &'a Distribution,
    key: u64,
}

/// Means over the points of one scramble.
struct Mean {
    below: f64,
    above: f64,
    /// The share of the limits that lie where the law of what is added is not tabled.
    unreached: f64,
}

/// The points of all sources but those that are integrated out.
struct Points<'a> {
    outcome: Outcome<'a>,
    band: (f64, f64),
    integrated: Vec<String>,
    /// Inputs that do not move: estimates of what is integrated out, the value of what is exact.
    settled: Vec<(usize, f64)>,
    /// Inputs at points, those that are not affine first: the first dimensions of the points are the most even.
    moving: Vec<Moving<'a>>,
}

impl Points<'_> {
    fn scratch(&self) -> BlockScratch {
        let mut scratch = BlockScratch::new(&self.outcome.stack.problem.tape);
        for (input, value) in &self.settled {
            scratch.hold(*input, *value);
        }
        scratch
    }

    /// The points of one scramble, dimension by dimension; `None` where no direction numbers are left.
    fn scrambled(&self, options: &QuasiMonteCarlo, scramble: u32) -> Vec<Option<Sobol>> {
        (0..self.moving.len())
            .map(|dimension| Sobol::new(dimension, options.seed, u64::from(scramble)))
            .collect()
    }

    /// The outcome at a block of points, without what is integrated out.
    fn fill(
        &self,
        points: &[Option<Sobol>],
        seed: u64,
        number: (u32, u64),
        scratch: &mut BlockScratch,
    ) {
        debug_assert_eq!(BLOCK, sobol::BLOCK);
        let (block, stream) = number;
        for (moving, points) in self.moving.iter().zip(points) {
            let column = scratch.input(moving.input);
            match points {
                Some(points) => points.fill(block, column),
                // Dimensions that no direction numbers are left for: random.
                None => Stream::new(seed, moving.key, stream).fill_open01(column),
            }
            moving.error.draws(column);
            if moving.estimate != 0.0 {
                columns::shift(column, moving.estimate);
            }
        }
        scratch.run(&self.outcome.stack.problem.tape);
    }

    /// From where to where the law of what is added will mostly be read: seen at a first block, and a quarter more on either
    /// side.
    fn places(&self, options: &QuasiMonteCarlo) -> [f64; 2] {
        let mut scratch = self.scratch();
        self.fill(
            &self.scrambled(options, 0),
            options.seed,
            (0, 0),
            &mut scratch,
        );
        let column = scratch.output(self.outcome.index);
        let (least, most) = column
            .iter()
            .filter(|y| y.is_finite())
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), y| {
                (lo.min(*y), hi.max(*y))
            });
        let more = 0.25 * (most - least);
        let (lower, upper) = self.band;
        // A band has one limit at least.
        let first = if lower.is_finite() { lower } else { upper };
        let last = if upper.is_finite() { upper } else { lower };
        [first - most - more, last - least + more]
    }

    /// The mean chances below and above the band under one scramble; `None` where the outcome is not defined.
    fn mean(
        &self,
        added: &Added,
        options: &QuasiMonteCarlo,
        scramble: u32,
        scratch: &mut BlockScratch,
    ) -> Option<Mean> {
        let points = self.scrambled(options, scramble);
        let blocks = options.points / BLOCK as u32;
        let (lower, upper) = self.band;
        let mut sums = Mean {
            below: 0.0,
            above: 0.0,
            unreached: 0.0,
        };
        for block in 0..blocks {
            let stream = u64::from(scramble) * u64::from(blocks) + u64::from(block);
            self.fill(&points, options.seed, (block, stream), scratch);
            let column = scratch.output(self.outcome.index);
            if lower.is_finite() {
                let at = added.below(column, lower);
                sums.below += at.sum;
                sums.unreached += at.beyond;
            }
            if upper.is_finite() {
                let at = added.below(column, upper);
                sums.above += BLOCK as f64 - at.sum;
                sums.unreached += at.beyond;
            }
        }
        let is_defined = sums.below.is_finite() && sums.above.is_finite();
        let each = 1.0 / f64::from(options.points);
        is_defined.then_some(Mean {
            below: sums.below * each,
            above: sums.above * each,
            unreached: sums.unreached * each,
        })
    }
}

/// The inputs that are only added, with their coefficients: the outcome is affine in them once those that are bent are held.
fn plain_terms(outcome: Outcome<'_>, bent: &[usize]) -> Result<Vec<(usize, f64)>, String> {
    let problem = &outcome.stack.problem;
    let mut known: Vec<Option<f64>> = problem
        .variables
        .iter()
        .map(|variable| variable.known_value())
        .collect();
    for &input in bent {
        known[input] = Some(problem.variables[input].source.estimate().raw());
    }
    let held = affine(&problem.tape, outcome.index, &known).map_err(|_| {
        format!(
            "outcome \"{}\" is not defined at the estimates of its sources",
            outcome.name()
        )
    })?;
    Ok(held.terms)
}

#[cfg(test)]
mod tests {
    use crate::{Band, Expr, MonteCarlo, QuasiMonteCarlo, Stack};
    use kerfwise_source::{Distribution, Source};

    fn source(name: &str, error: Distribution) -> Expr {
        Expr::source(&Source::new(name, 0.0).error(error).build().expect("valid"))
    }

    fn normal(name: &str, sd: f64) -> Expr {
        source(name, Distribution::normal(0.0, sd).expect("valid"))
    }

    fn rectangular(name: &str, half_width: f64) -> Expr {
        source(
            name,
            Distribution::rectangular(-half_width, half_width).expect("valid"),
        )
    }

    fn stack(expr: &Expr) -> Stack {
        Stack::builder()
            .outcome("y", expr, Band::within(1.0).expect("valid"))
            .build()
            .expect("a valid stack")
    }

    /// a − 2 b + x·x·exp(t) + |t|, a and b normal.
    fn bent() -> Stack {
        let (x, t) = (rectangular("x", 0.7), rectangular("t", 0.4));
        let sum = normal("a", 0.3) - Expr::constant(2.0) * normal("b", 0.1);
        stack(&(sum + x.clone() * x * t.clone().exp() + t.abs()))
    }

    #[test]
    fn an_affine_outcome_has_its_exact_chance() {
        let t = source("t", Distribution::student_t(0.0, 0.2, 4.0).expect("valid"));
        // Atoms are not smooth, so that only the normal is integrated out.
        let atoms = Distribution::discrete(&[(-0.1, 0.5), (0.1, 0.5)]).expect("valid");
        let sum = normal("a", 0.4) - rectangular("x", 0.5) + t + source("atoms", atoms);
        let stack = stack(&sum);
        let outcome = stack.outcome("y").expect("its only one");
        let exact = outcome.exact().expect("an affine outcome");
        let exact = exact.chance(&Band::within(1.0).expect("valid")).value;
        let mut beyond_two = 0;
        for seed in 0..50 {
            let answer = outcome
                .quasi_monte_carlo(QuasiMonteCarlo::new().seed(seed).points(1024))
                .expect("a normal to integrate out");
            let off = (answer.chance.inside - exact.inside).abs() / answer.chance_error.inside;
            beyond_two += u32::from(off > 2.365);
            // Student's t with 7 degrees of freedom is beyond 12 once in 150,000 times.
            assert!(off < 12.0, "{off} standard errors with seed {seed}");
            // A sixth of what as many random trials would have, 2.9e-3: the points must be worth having.
            assert!(answer.chance_error.inside < 5e-4, "{answer:?}");
        }
        // t with 7 degrees of freedom is beyond 2.365 in 5 % of cases; of 50 more than 8 are, once in 1,200 times.
        assert!(beyond_two <= 8, "{beyond_two} of 50");
    }

    #[test]
    fn a_bent_outcome_agrees_with_trials_at_far_less_cost() {
        let stack = bent();
        let outcome = stack.outcome("y").expect("its only one");
        let quasi = outcome
            .quasi_monte_carlo(QuasiMonteCarlo::new())
            .expect("normals to integrate out");
        assert_eq!(quasi.integrated, ["a", "b"]);
        let trials = stack
            .monte_carlo(MonteCarlo::new().trials(2_000_000))
            .expect("nothing to decline");
        let chance = trials.outcomes[0].chance.expect("a band");
        let error = trials.outcomes[0].chance_error.expect("a band");
        // Four standard errors of the trials.
        assert!((quasi.chance.inside - chance.inside).abs() < 4.0 * error.inside);
        assert!((quasi.chance.above - chance.above).abs() < 4.0 * error.above);
        assert!(quasi.chance_error.inside < 0.02 * error.inside, "{quasi:?}");
        let sum = quasi.chance.below + quasi.chance.inside + quasi.chance.above;
        // Three roundings of numbers up to 1.
        assert!((sum - 1.0).abs() < 1e-15);
    }

    #[test]
    fn all_that_is_only_added_is_integrated_out() {
        let t = source("t", Distribution::student_t(0.0, 0.2, 4.0).expect("valid"));
        let (x, y) = (rectangular("x", 0.7), rectangular("y", 0.4));
        let stack =
            stack(&(normal("a", 0.3) + t + rectangular("r", 0.3) + x.clone() * x * y.exp()));
        let outcome = stack.outcome("y").expect("its only one");
        let held = outcome.semi_exact().expect("affine but for two");
        let held = held.chance(&Band::within(1.0).expect("valid"));
        let mut beyond_two = 0;
        for seed in 0..50 {
            let answer = outcome
                .quasi_monte_carlo(QuasiMonteCarlo::new().seed(seed).points(1024))
                .expect("much to integrate out");
            assert_eq!(answer.integrated, ["a", "r", "t"]);
            let off = (answer.chance.inside - held.value.inside).abs() - held.error;
            beyond_two += u32::from(off > 2.365 * answer.chance_error.inside);
            // 8,192 trials would know it to 2.3e-3, a hundred times worse.
            assert!(answer.chance_error.inside < 2.3e-5, "{answer:?}");
        }
        // As above.
        assert!(beyond_two <= 8, "{beyond_two} of 50");
    }

    /// Atoms of which nearly all is at 0 are no reason to decline.
    #[test]
    fn seldom_atoms_move_too() {
        let atoms = Distribution::discrete(&[(0.0, 0.95), (3.0, 0.05)]).expect("valid");
        let x = rectangular("x", 0.2);
        let stack = stack(&(normal("a", 0.3) + source("seldom", atoms) + x.clone() * x));
        let outcome = stack.outcome("y").expect("its only one");
        let answer = outcome
            .quasi_monte_carlo(QuasiMonteCarlo::new())
            .expect("a normal to integrate out");
        assert_eq!(answer.integrated, ["a"]);
        let held = outcome.semi_exact().expect("affine but for x");
        let held = held.chance(&Band::within(1.0).expect("valid"));
        let off = (answer.chance.inside - held.value.inside).abs();
        // Student's t with 7 degrees of freedom is beyond 12 once in 150,000 times.
        assert!(
            off < 12.0 * answer.chance_error.inside + held.error,
            "{off:e} {answer:?}"
        );
    }

    #[test]
    fn recorded_bits_stay() {
        let stack = bent();
        let outcome = stack.outcome("y").expect("its only one");
        let answer = outcome
            .quasi_monte_carlo(QuasiMonteCarlo::new().points(1024).seed(5))
            .expect("normals to integrate out");
        assert_eq!(answer.chance.inside.to_bits(), RECORDED);
    }

    // Recorded from this version: the same on every machine.
    const RECORDED: u64 = 4_606_602_074_712_844_521;

    #[test]
    fn it_says_why_it_declines() {
        let said = |stack: &Stack| {
            let outcome = stack.outcome("y").expect("its only one");
            let declined = outcome.quasi_monte_carlo(QuasiMonteCarlo::new());
            declined.expect_err("not to be answered").to_string()
        };
        let none = stack(&(rectangular("x", 0.5) * normal("a", 0.1)));
        assert!(said(&none).ends_with("nothing smooth is only added to the rest"));
        let undefined = stack(&(normal("a", 0.1) + rectangular("x", 0.5).sqrt()));
        assert!(said(&undefined).contains("is not defined at some points"));
        let without = Stack::builder()
            .outcome_without_band("y", &normal("a", 0.1))
            .build()
            .expect("a valid stack");
        assert!(said(&without).ends_with("outcome \"y\" has no band"));
    }
}
