//! The same question where the outcome is not affine: chances over even points.

use super::{SourceWorth, families};
use crate::Error;
use crate::sampled::{BLOCK, Sampled};
use crate::sobol::SobolOptions;
use kerfwise_stack::{Band, Bounded, Chance, Stack};

/// What each error costs, by sampling: for outcomes that are not affine. Errors of [`Bounded`] values are standard errors.
#[derive(Debug, Clone)]
pub struct SampledImprove {
    /// The chance as it is.
    pub now: Bounded<Chance>,
    /// What each error costs, the one first whose removal buys most.
    pub sources: Vec<SourceWorth>,
    /// Points in all.
    pub points: u64,
}

/// Independent scrambles; their scatter is the standard error.
const SCRAMBLES: u64 = 16;
/// No standard error is less: one point of all would move a chance by about as much.
const LEAST: f64 = 1e-5;

impl SampledImprove {
    /// For one outcome of a stack, affine or not.
    ///
    /// All chances are taken at the same scrambled Sobol points, with the errors of a source halved or gone, so their
    /// differences are better known than each by itself.
    ///
    /// # Errors
    ///
    /// When there is no such outcome, or it has no band, or is not defined at a point; when sources are correlated.
    ///
    /// ```
    /// use kerfwise_decide::{SampledImprove, SobolOptions};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// // A lean only ever takes away: the cut is too small where it is more than 1.645 thou, in 10 of 100 cases.
    /// let lean = Source::new("lean", 0.inch()).normal(1.thou()).build()?;
    /// let cut = Expr::constant(0.inch()) - Expr::source(&lean).abs();
    /// let stack = Stack::builder().outcome("cut", &cut, Band::within(1.644_854.thou())?).build()?;
    /// let improve = SampledImprove::of(&stack, "cut", &SobolOptions::new())?;
    /// assert!((improve.now.value.below - 0.1).abs() < 0.002);
    /// // Half as much: beyond 3.29 standard deviations, one in a thousand.
    /// assert!((improve.sources[0].halved.value.below - 0.001).abs() < 0.0005);
    /// assert_eq!(improve.sources[0].removed.value.inside, 1.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(stack: &Stack, outcome: &str, options: &SobolOptions) -> Result<Self, Error> {
        let inputs = Sampled::of(stack, outcome)?;
        let band = inputs.outcome.band().ok_or_else(|| {
            Error::question(format!("outcome \"{outcome}\" has no band to fit in"))
        })?;
        let families = families(inputs.moving.iter().map(|input| &input.source));
        // As it is, then each family halved and gone.
        let mut factors = vec![vec![1.0; inputs.moving.len()]];
        for family in &families {
            for by in [0.5, 0.0] {
                let factor = |name: &str| if family.is_called(name) { by } else { 1.0 };
                let all = inputs.moving.iter().map(|m| factor(m.source.name()));
                factors.push(all.collect());
            }
        }
        let runs: Vec<Vec<Chance>> = (0..SCRAMBLES)
            .map(|scramble| run(&inputs, &band, &factors, options, scramble))
            .collect::<Result<_, Error>>()?;
        let bounded = |which: usize| {
            let n = runs.len() as f64;
            let of = |part: fn(&Chance) -> f64| {
                let mean = runs.iter().map(|run| part(&run[which])).sum::<f64>() / n;
                let off = |run: &Vec<Chance>| part(&run[which]) - mean;
                let squares: f64 = runs.iter().map(|run| off(run) * off(run)).sum();
                (mean, (squares / (n * (n - 1.0))).sqrt())
            };
            let (below, above) = (of(|c| c.below), of(|c| c.above));
            let (inside, error) = of(|c| c.inside);
            Bounded {
                value: Chance {
                    below: below.0,
                    inside,
                    above: above.0,
                },
                error: error.max(below.1).max(above.1).max(LEAST),
            }
        };
        let worths = families.iter().enumerate().map(|(i, family)| SourceWorth {
            name: family.name.clone(),
            sources: family.sources.clone(),
            halved: bounded(2 * i + 1),
            removed: bounded(2 * i + 2),
        });
        let mut sources: Vec<SourceWorth> = worths.collect();
        super::by_worth(&mut sources);
        Ok(Self {
            now: bounded(0),
            sources,
            points: SCRAMBLES * u64::from(options.count()),
        })
    }
}

/// Chances of one scramble, for each list of factors.
fn run(
    inputs: &Sampled<'_>,
    band: &Band,
    factors: &[Vec<f64>],
    options: &SobolOptions,
    scramble: u64,
) -> Result<Vec<Chance>, Error> {
    let (lower, upper) = band.raw();
    let (lower, upper) = (lower - inputs.middle, upper - inputs.middle);
    let mut counts = vec![(0_u64, 0_u64); factors.len()];
    let mut points = inputs.points(options.chosen_seed(), scramble, 0);
    for block in 0..options.count() / BLOCK as u32 {
        points.fill(block);
        for point in 0..BLOCK {
            let errors = points.errors(point);
            for (count, factors) in counts.iter_mut().zip(factors) {
                let scaled: Vec<f64> = errors.iter().zip(factors).map(|(e, f)| e * f).collect();
                let value = inputs.value(&scaled)?;
                count.0 += u64::from(value < lower);
                count.1 += u64::from(value > upper);
            }
        }
    }
    let n = f64::from(options.count());
    let chance = |(below, above): &(u64, u64)| {
        let (below, above) = (*below as f64 / n, *above as f64 / n);
        Chance {
            below,
            inside: 1.0 - below - above,
            above,
        }
    };
    Ok(counts.iter().map(chance).collect())
}
