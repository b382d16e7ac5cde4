//! Monte Carlo (JCGM 101:2008): many trials, each with every error drawn anew.
//!
//! Trials run in blocks of 1,024 through the tape. A block's draws depend on the seed, the names of the sources and
//! the number of the block, and its sums are added in the order of blocks by one thread; so the answer is the same,
//! bit for bit, on any number of threads. Nothing is kept of a trial but counts and sums: about 100 KiB for each
//! outcome and thread (up to 1 MiB for one whose values span hundreds of powers of ten), whatever the number of trials.

mod adaptive;
mod answer;
pub(crate) mod batch;
mod crew;
mod draw;
mod histogram;
mod merge;
mod run;
mod tally;

#[cfg(test)]
mod promises;
#[cfg(test)]
mod supplement;

pub use answer::{MonteCarloAnswer, MonteCarloOutcome, Progress};
pub(crate) use run::run;

use crate::{Decline, Propagation};

/// Options of Monte Carlo.
///
/// ```
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};
///
/// // Two errors, each anywhere within ±2 thou: half of all pairs add up to within ±1.17 thou.
/// let a = Source::new("first_line", 0.inch()).rectangular(2.thou()).build()?;
/// let b = Source::new("second_line", 0.inch()).rectangular(2.thou()).build()?;
/// let sum = Expr::source(&a) + Expr::source(&b);
/// let stack = Stack::builder().outcome("width", &sum, Band::within(2.thou())?).build()?;
///
/// let answer = stack.monte_carlo(MonteCarlo::new().trials(50_000).seed(7))?;
/// let chance = answer.outcomes[0].chance.expect("it has a band");
/// // The area within ±2 of a triangle on ±4 is 3/4; the standard error is √(0.75·0.25/50000) = 0.002.
/// assert!((chance.inside - 0.75).abs() < 0.008);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct MonteCarlo {
    trials: u64,
    adaptive_digits: Option<u32>,
    seed: u64,
    level: f64,
    threads: Option<usize>,
    merge_normals: bool,
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
    #[must_use]
    pub fn new() -> Self {
        Self {
            trials: 200_000,
            adaptive_digits: None,
            seed: 1,
            level: 0.95,
            threads: None,
            merge_normals: true,
        }
    }

    /// A fixed number of trials, at least 2.
    #[must_use]
    pub fn trials(mut self, trials: u64) -> Self {
        self.trials = trials;
        self
    }

    /// The adaptive procedure (JCGM 101:2008, 7.9.4): until the estimate, the standard uncertainty and the ends of the
    /// symmetric interval of every outcome are stable to this many significant digits of its standard uncertainty,
    /// 1 to 6; [`trials`](Self::trials) is then the most.
    ///
    /// It works in blocks of max(10,000, 100/(1 − level)) trials, rounded up to a multiple of 1,024.
    #[must_use]
    pub fn adaptive(mut self, significant_digits: u32) -> Self {
        self.adaptive_digits = Some(significant_digits);
        self
    }

    /// The seed: same seed, same answer.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }

    /// The level of the coverage intervals, above 0 and below 1.
    #[must_use]
    pub fn level(mut self, level: f64) -> Self {
        self.level = level;
        self
    }

    /// How many threads (with the feature `parallel`; 0 counts as 1); never changes a number.
    #[must_use]
    pub fn threads(mut self, threads: usize) -> Self {
        self.threads = Some(threads);
        self
    }

    /// Whether normals that are only ever added, always in the same proportion, are drawn as one normal with the
    /// variance that they have together (the default).
    ///
    /// The distribution of every outcome, and of all together, is the same; the trials are others, in less time. The
    /// draws of all other sources stay as they were. The merged draw has a stream of its own, so that making one of its
    /// normals wider only stretches it. Correlated normals are drawn as they are, and in a batch the normals of a piece
    /// are not merged with those of the set-up.
    ///
    /// ```
    /// use kerfwise_source::Source;
    /// use kerfwise_stack::{Expr, MonteCarlo, Stack};
    ///
    /// let [a, b] = ["saw", "fence"].map(|name| Source::new(name, 0.0).normal(1.0).build());
    /// let sum = Expr::source(&a?) + Expr::source(&b?);
    /// let stack = Stack::builder().outcome_without_band("sum", &sum).build()?;
    /// for merge in [true, false] {
    ///     let answer = stack.monte_carlo(MonteCarlo::new().merge_normals(merge))?;
    ///     let sd = answer.outcomes[0].standard_deviation;
    ///     assert!((sd.value.raw() - 2.0_f64.sqrt()).abs() < 4.0 * sd.error);
    /// }
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn merge_normals(mut self, merge: bool) -> Self {
        self.merge_normals = merge;
        self
    }

    /// The level of the coverage intervals.
    pub(crate) fn coverage_level(&self) -> f64 {
        self.level
    }

    /// The seed.
    pub(crate) fn seed_of_trials(&self) -> u64 {
        self.seed
    }

    /// Declines options that no run can follow.
    fn check(&self) -> Result<(), Decline> {
        let mut reasons = Vec::new();
        if self.trials == 0 {
            reasons.push("trials must be at least 1 (got 0)".to_owned());
        } else if self.trials == 1 {
            reasons
                .push("one trial has no standard deviation: trials must be at least 2".to_owned());
        }
        if !(self.level > 0.0 && self.level < 1.0) {
            reasons.push(format!(
                "level must be above 0 and below 1 (got {})",
                self.level
            ));
        }
        if let Some(digits) = self
            .adaptive_digits
            .filter(|digits| !(1..=6).contains(digits))
        {
            reasons.push(format!(
                "significant digits of the adaptive procedure must be 1 to 6 (got {digits})"
            ));
        }
        if reasons.is_empty() {
            Ok(())
        } else {
            Err(Decline::new(Propagation::MonteCarlo, reasons))
        }
    }
}
