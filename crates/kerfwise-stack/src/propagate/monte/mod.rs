use crate::{Bounded, Chance, CoverageInterval, Decline, Stack};
use kerfwise_source::Quantity;
use std::ops::ControlFlow;

/// Options of Monte Carlo.
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarlo {
    trials: u64,
    adaptive_digits: Option<u32>,
    seed: u64,
    level: f64,
    threads: Option<usize>,
}
impl Default for MonteCarlo {
    fn default() -> Self {
        Self::new()
    }
}
impl From<u64> for MonteCarlo {
    fn from(trials: u64) -> Self {
        Self::new().trials(trials)
    }
}
impl MonteCarlo {
    /// 200,000 trials, seed 1, 95 % intervals, all threads.
    pub fn new() -> Self {
        Self {
            trials: 200_000,
            adaptive_digits: None,
            seed: 1,
            level: 0.95,
            threads: None,
        }
    }
    /// A fixed number of trials.
    #[must_use]
    pub fn trials(mut self, trials: u64) -> Self {
        self.trials = trials;
        self
    }
    /// The adaptive procedure (JCGM 101, 7.9.4): until estimate, standard uncertainty and ends are stable to this many digits of u; `trials` is then the most.
    #[must_use]
    pub fn adaptive(mut self, significant_digits: u32) -> Self {
        self.adaptive_digits = Some(significant_digits);
        self
    }
    /// The seed.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }
    /// The level of the coverage intervals.
    #[must_use]
    pub fn level(mut self, level: f64) -> Self {
        self.level = level;
        self
    }
    /// How many threads (with the feature `parallel`); never changes a number.
    #[must_use]
    pub fn threads(mut self, threads: usize) -> Self {
        self.threads = Some(threads);
        self
    }
}
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
    /// The chance that all outcomes with a band lie in it at once; the error is a standard error.
    pub joint: Option<Bounded<f64>>,
}
/// One outcome's answer. Errors of [`Bounded`] values are standard errors.
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarloOutcome {
    /// The outcome's name.
    pub name: String,
    /// Mean of the trials.
    pub mean: Bounded<Quantity>,
    /// Standard deviation of the trials.
    pub standard_deviation: Bounded<Quantity>,
    /// Chance of the band.
    pub chance: Option<Chance>,
    /// Standard errors of the three chances.
    pub chance_error: Option<Chance>,
    /// Probabilistically symmetric interval.
    pub symmetric: CoverageInterval,
    /// Shortest interval.
    pub shortest: CoverageInterval,
    /// Standard error of the ends of the symmetric interval (lower, upper), raw unit.
    pub symmetric_error: (f64, f64),
    /// Trials in which the outcome was not defined (square root of a negative number, ...): counted, never hidden.
    pub undefined: u64,
}
pub(crate) fn run(
    _stack: &Stack,
    _options: &MonteCarlo,
    _progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<MonteCarloAnswer, Decline> {
    todo!()
}
