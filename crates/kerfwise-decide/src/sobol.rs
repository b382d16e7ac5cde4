//! Which sources matter where an outcome is not affine: shares of its variance, alone and with what they do together.

use crate::Error;
use crate::sampled::{BLOCK, Sampled};
use kerfwise_source::{Quantity, Source};
use kerfwise_stack::Stack;

/// How Sobol indices are estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SobolOptions {
    points: u32,
    seed: u64,
}

impl SobolOptions {
    /// 16 scrambles of 1,024 points, seed 1.
    #[must_use]
    pub fn new() -> Self {
        Self {
            points: 1024,
            seed: 1,
        }
    }

    /// Points of each scramble: rounded up to a power of two from 1,024 to 1,048,576. The outcome is evaluated 16 times as
    /// often, and that once for each source and twice more.
    #[must_use]
    pub fn points(mut self, points: u32) -> Self {
        self.points = points.clamp(1024, 1 << 20).next_power_of_two();
        self
    }

    pub(crate) fn count(&self) -> u32 {
        self.points
    }

    pub(crate) fn chosen_seed(&self) -> u64 {
        self.seed
    }

    /// The seed: same seed, same answer.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }
}

impl Default for SobolOptions {
    fn default() -> Self {
        Self::new()
    }
}

/// Shares of one source in the variance of an outcome.
#[derive(Debug, Clone)]
pub struct SobolIndex {
    /// The source.
    pub source: Source,
    /// Which draw of it, 0 for the first.
    pub instance: u32,
    /// First-order index: the share of the variance that goes, on average, when this source alone becomes known.
    pub first: f64,
    /// Standard error of the first-order index.
    pub first_error: f64,
    /// Total index: the share that stays, on average, when all others become known.
    pub total: f64,
    /// Standard error of the total index.
    pub total_error: f64,
}

/// Sobol indices of an outcome.
#[derive(Debug, Clone)]
pub struct SobolIndices {
    /// Each source, the one with the largest total index first.
    pub sources: Vec<SobolIndex>,
    /// Standard deviation of the outcome.
    pub standard_deviation: Quantity,
    /// Points in all.
    pub points: u64,
}

/// Independent scrambles; their scatter is the standard error.
const SCRAMBLES: u64 = 16;

impl SobolIndices {
    /// Of one outcome, whose sources are independent.
    ///
    /// With points A and B of all sources, and A with source i from B (Aᵢ):
    ///
    /// ```text
    /// V = Var f,   Sᵢ = E[f(B) (f(Aᵢ) − f(A))] / V,   Tᵢ = E[(f(A) − f(Aᵢ))²] / (2V)
    /// ```
    /// (Saltelli et al., Computer Physics Communications 181 (2010) 259, table 2; the second after Jansen 1999), at scrambled
    /// Sobol points, 16 scrambles each by itself; the standard errors are from their scatter. Dimensions beyond the 32nd
    /// (more than 16 sources) are drawn at random.
    ///
    /// # Errors
    ///
    /// When there is no such outcome; when sources are correlated; when the outcome does not vary, or is not defined at a
    /// point.
    ///
    /// ```
    /// use kerfwise_decide::{SobolIndices, SobolOptions};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// // Affine: shares of the variance, 9/25 and 16/25.
    /// let a = Source::new("a", 0.inch()).normal(3.thou()).build()?;
    /// let b = Source::new("b", 0.inch()).normal(4.thou()).build()?;
    /// let sum = Expr::source(&a) + Expr::source(&b);
    /// let stack = Stack::builder().outcome_without_band("fit", &sum).build()?;
    /// let indices = SobolIndices::of(&stack, "fit", &SobolOptions::new())?;
    /// assert_eq!(indices.sources[0].source.name(), "b");
    /// assert!((indices.sources[0].first - 0.64).abs() < 0.01);
    /// assert!((indices.sources[1].total - 0.36).abs() < 0.01);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(stack: &Stack, outcome: &str, options: &SobolOptions) -> Result<Self, Error> {
        let inputs = Sampled::of(stack, outcome)?;
        let runs: Vec<Run> = (0..SCRAMBLES)
            .map(|scramble| run(&inputs, options, scramble))
            .collect::<Result<_, Error>>()?;
        let n = runs.len() as f64;
        let variance = runs.iter().map(|run| run.variance).sum::<f64>() / n;
        if variance.is_nan() || variance <= 0.0 {
            return Err(Error::question(format!(
                "outcome \"{outcome}\" does not vary, so nothing has a share in it"
            )));
        }
        // The variance of all scrambles divides each, so that the ratio has no bias of its own.
        let index = |value: &dyn Fn(&Run) -> f64| {
            let share = runs.iter().map(value).sum::<f64>() / n / variance;
            // Of a ratio: what its two parts have in common does not scatter.
            let off = |run: &Run| value(run) - share * run.variance;
            let squares: f64 = runs.iter().map(|run| square(off(run))).sum();
            (share, (squares / (n * (n - 1.0))).sqrt() / variance)
        };
        let mut sources: Vec<SobolIndex> = inputs
            .moving
            .iter()
            .enumerate()
            .map(|(i, input)| {
                let (first, first_error) = index(&|run| run.first[i]);
                let (total, total_error) = index(&|run| run.total[i]);
                SobolIndex {
                    source: input.source.clone(),
                    instance: input.instance,
                    first,
                    first_error,
                    total,
                    total_error,
                }
            })
            .collect();
        sources.sort_by(|a, b| b.total.total_cmp(&a.total));
        Ok(Self {
            sources,
            standard_deviation: Quantity::new(variance.sqrt(), inputs.outcome.dimension()),
            points: SCRAMBLES * u64::from(options.points),
        })
    }
}

fn square(x: f64) -> f64 {
    x * x
}

/// Sums of one scramble, not yet divided by the variance.
struct Run {
    variance: f64,
    first: Vec<f64>,
    total: Vec<f64>,
}

fn run(inputs: &Sampled<'_>, options: &SobolOptions, scramble: u64) -> Result<Run, Error> {
    let count = inputs.moving.len();
    let mut sums = Run {
        variance: 0.0,
        first: vec![0.0; count],
        total: vec![0.0; count],
    };
    let (mut sum, mut squares) = (0.0, 0.0);
    // Together they are one point of twice as many dimensions.
    let mut a = inputs.points(options.seed, scramble, 0);
    let mut b = inputs.points(options.seed, scramble, count);
    for block in 0..options.points / BLOCK as u32 {
        a.fill(block);
        b.fill(block);
        for point in 0..BLOCK {
            let (mut at, other) = (a.errors(point), b.errors(point));
            let (here, there) = (inputs.value(&at)?, inputs.value(&other)?);
            sum += here + there;
            squares += here * here + there * there;
            for i in 0..count {
                let kept = std::mem::replace(&mut at[i], other[i]);
                let moved = inputs.value(&at)?;
                at[i] = kept;
                sums.first[i] += there * (moved - here);
                sums.total[i] += 0.5 * square(here - moved);
            }
        }
    }
    let n = f64::from(options.points);
    sums.variance = squares / (2.0 * n) - square(sum / (2.0 * n));
    for total in sums.first.iter_mut().chain(&mut sums.total) {
        *total /= n;
    }
    Ok(sums)
}

#[cfg(test)]
mod tests;
