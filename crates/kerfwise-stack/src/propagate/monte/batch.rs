//! Whole batches by Monte Carlo: what is shared is drawn once, what each piece has for itself n times.

use super::MonteCarlo;
use super::answer::{Progress, raw_band};
use super::crew::Crew;
use super::draw::{Draws, Mixing};
use super::run::{STRIDE, blocks_of, rows_of};
use super::tally::{keep_fitting, proportion};
use crate::run::block::{BLOCK, BlockScratch};
use crate::{Bounded, Decline, Propagation, Stack};
use kerfwise_source::Event;
use std::ops::ControlFlow;

/// The most pieces of a batch that is simulated.
const MOST_PIECES: u32 = 100_000;

/// Simulated batches of pieces with shared errors. Errors of [`Bounded`] values are standard errors.
///
/// A piece fits when all outcomes with a band lie in it; one whose outcome is not defined does not.
#[derive(Debug, Clone, PartialEq)]
#[must_use]
pub struct BatchSimulation {
    /// Pieces in a batch.
    pub pieces: u32,
    /// Batches simulated.
    pub batches: u64,
    /// The seed.
    pub seed: u64,
    /// Whether the callback ended the run early.
    pub is_cancelled: bool,
    /// Batches in which exactly k pieces fit, k = 0 to n.
    pub counts: Vec<u64>,
    /// The chance of one piece.
    pub one: Bounded<f64>,
    /// The chance that all pieces fit.
    pub all: Bounded<f64>,
    /// The chance that none does.
    pub none: Bounded<f64>,
    /// Pieces, of all batches, with an outcome that was not defined.
    pub undefined: u64,
}

impl Stack {
    /// Simulates whole batches: sources that `event` redraws are drawn for each piece, the others once per batch.
    ///
    /// The trials of the options are the batches; the adaptive procedure and the level are not used. Draws are others
    /// than those of [`monte_carlo`](Self::monte_carlo), keyed by name and piece.
    ///
    /// ```
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// // The set-up alone decides: half of all batches fit, and then all their pieces.
    /// let set_up = Source::new("set_up", 0.inch()).rectangular(2.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome("fit", &Expr::source(&set_up), Band::within(1.thou())?)
    ///     .build()?;
    /// let batches = stack.simulate_batch(24, &Event::piece(), 10_000)?;
    /// assert!((batches.all.value - 0.5).abs() < 4.0 * 0.005);
    /// assert_eq!(batches.counts[0] + batches.counts[24], 10_000);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// Declines when no outcome has a band, when there are no pieces or more than 100,000, as
    /// [`monte_carlo`](Self::monte_carlo), and when a source of the piece is correlated with a shared one.
    pub fn simulate_batch(
        &self,
        pieces: u32,
        event: &Event,
        options: impl Into<MonteCarlo>,
    ) -> Result<BatchSimulation, Decline> {
        self.simulate_batch_with(pieces, event, options, &mut |_| ControlFlow::Continue(()))
    }

    /// The same with a progress callback, which may end the run early; what is known so far is returned.
    ///
    /// # Errors
    /// As [`simulate_batch`](Self::simulate_batch).
    pub fn simulate_batch_with(
        &self,
        pieces: u32,
        event: &Event,
        options: impl Into<MonteCarlo>,
        progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
    ) -> Result<BatchSimulation, Decline> {
        let options = options.into();
        options.check()?;
        let plan = Plan::new(self, pieces, event, &options)?;
        plan.run(&options, progress)
    }
}

struct Plan<'a> {
    stack: &'a Stack,
    shared: Draws<'a>,
    own: Draws<'a>,
    bands: Vec<Option<(f64, f64)>>,
    pieces: u32,
}

struct Worker {
    scratch: BlockScratch,
    mixing: (Mixing, Mixing),
    fits: Vec<bool>,
    fitting: Vec<u32>,
    counts: Vec<u64>,
    undefined: u64,
}

impl<'a> Plan<'a> {
    fn new(
        stack: &'a Stack,
        pieces: u32,
        event: &Event,
        options: &MonteCarlo,
    ) -> Result<Self, Decline> {
        options.check()?;
        let problem = &stack.problem;
        let bands: Vec<_> = stack.outcomes.iter().map(raw_band).collect();
        let is_own = |input: usize| problem.variables[input].source.event().is_redrawn_by(event);
        let mut reasons = Vec::new();
        if bands.iter().all(Option::is_none) {
            reasons.push("no outcome has a band that pieces could fit in".to_owned());
        }
        if !(1..=MOST_PIECES).contains(&pieces) {
            reasons.push(format!("pieces must be 1 to {MOST_PIECES} (got {pieces})"));
        }
        for group in problem.correlated_groups() {
            let (own, shared): (Vec<usize>, Vec<usize>) =
                group.iter().partition(|input| is_own(**input));
            if let (Some(own), Some(shared)) = (own.first(), shared.first()) {
                let name = |input: &usize| &problem.variables[*input].name;
                reasons.push(format!(
                    "\"{}\" is drawn for each piece and \"{}\" once for all, yet they are correlated: write what they \
                     share as a source of its own",
                    name(own),
                    name(shared)
                ));
            }
        }
        if !reasons.is_empty() {
            return Err(Decline::new(Propagation::MonteCarlo, reasons));
        }
        Ok(Self {
            stack,
            shared: Draws::new(problem, options.merge_normals, |input| !is_own(input))?,
            own: Draws::new(problem, options.merge_normals, is_own)?,
            bands,
            pieces,
        })
    }

    fn run(
        &self,
        options: &MonteCarlo,
        progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
    ) -> Result<BatchSimulation, Decline> {
        let (blocks, of) = (blocks_of(options.trials), options.trials);
        // Blocks are as many times longer as there are pieces.
        let stride = (STRIDE / u64::from(self.pieces)).max(8);
        let mut crew = Crew::new(options.threads, blocks.min(stride), || Worker::new(self));
        let (mut done, mut is_cancelled) = (0, false);
        while done < blocks && !is_cancelled {
            let next = done.saturating_add(stride).min(blocks);
            crew.run(done..next, |worker, block| worker.run(self, options, block));
            done = next;
            let batches = done.saturating_mul(BLOCK as u64).min(of);
            is_cancelled = progress(Progress { done: batches, of }).is_break() && done < blocks;
        }
        let mut counts = vec![0; self.pieces as usize + 1];
        let mut undefined = 0;
        for worker in crew.workers() {
            for (sum, count) in counts.iter_mut().zip(&worker.counts) {
                *sum += count;
            }
            undefined += worker.undefined;
        }
        Ok(self.answer(options, counts, undefined, is_cancelled))
    }

    fn answer(
        &self,
        options: &MonteCarlo,
        counts: Vec<u64>,
        undefined: u64,
        is_cancelled: bool,
    ) -> BatchSimulation {
        let batches: u64 = counts.iter().sum();
        let none = proportion(counts[0], batches);
        let all = proportion(counts[self.pieces as usize], batches);
        BatchSimulation {
            pieces: self.pieces,
            batches,
            seed: options.seed,
            is_cancelled,
            one: one(&counts, batches),
            all,
            none,
            counts,
            undefined,
        }
    }
}

/// The mean part of a batch that fits; batches are independent, their pieces are not. Where all batches agree there is
/// no spread to tell, and the standard error is that of as many single pieces as batches.
fn one(counts: &[u64], batches: u64) -> Bounded<f64> {
    let (n, pieces) = (batches as f64, (counts.len() - 1) as f64);
    let parts = || {
        (0_u32..)
            .zip(counts)
            .map(|(k, count)| (f64::from(k) / pieces, *count as f64))
    };
    let mean = parts().map(|(part, count)| part * count).sum::<f64>() / n;
    let squares: f64 = parts()
        .map(|(part, count)| (part - mean) * (part - mean) * count)
        .sum();
    let error = if squares > 0.0 {
        (squares / (n - 1.0) / n).sqrt()
    } else {
        proportion((mean * n).round() as u64, batches).error
    };
    Bounded { value: mean, error }
}

impl Worker {
    fn new(plan: &Plan<'_>) -> Self {
        let mut scratch = BlockScratch::new(&plan.stack.problem.tape);
        plan.shared.settle(&mut scratch);
        plan.own.settle(&mut scratch);
        Self {
            scratch,
            mixing: (plan.shared.mixing(), plan.own.mixing()),
            fits: vec![true; BLOCK],
            fitting: vec![0; BLOCK],
            counts: vec![0; plan.pieces as usize + 1],
            undefined: 0,
        }
    }

    fn run(&mut self, plan: &Plan<'_>, options: &MonteCarlo, block: u64) {
        let rows = rows_of(block, options.trials);
        let (fits, fitting) = (&mut self.fits[..rows], &mut self.fitting[..rows]);
        fitting.fill(0);
        plan.shared.fill(
            options.seed,
            block,
            None,
            &mut self.mixing.0,
            &mut self.scratch,
        );
        for piece in 0..plan.pieces {
            plan.own.fill(
                options.seed,
                block,
                Some(piece),
                &mut self.mixing.1,
                &mut self.scratch,
            );
            self.scratch.run(&plan.stack.problem.tape);
            fits.fill(true);
            for (index, band) in plan.bands.iter().enumerate() {
                if let Some(band) = band {
                    keep_fitting(fits, &self.scratch.output(index)[..rows], *band);
                }
            }
            for (fitting, fits) in fitting.iter_mut().zip(&*fits) {
                *fitting += u32::from(*fits);
            }
            self.undefined += undefined_rows(plan, &self.scratch, rows);
        }
        for fitting in fitting {
            self.counts[*fitting as usize] += 1;
        }
    }
}

/// Rows with an outcome, of those with a band, that is not defined.
fn undefined_rows(plan: &Plan<'_>, scratch: &BlockScratch, rows: usize) -> u64 {
    let columns = || (0..plan.bands.len()).filter(|index| plan.bands[*index].is_some());
    let has_none = columns().all(|index| {
        scratch.output(index)[..rows]
            .iter()
            .all(|value| value.is_finite())
    });
    if has_none {
        return 0;
    }
    let is_undefined =
        |row: &usize| columns().any(|index| !scratch.output(index)[*row].is_finite());
    (0..rows).filter(is_undefined).count() as u64
}
