//! The run itself: blocks, in parts whose results are added in order.

use super::MonteCarlo;
use super::adaptive::Stability;
use super::answer::{self, MonteCarloAnswer, Progress, raw_band};
use super::crew::Crew;
use super::draw::{Draws, Mixing};
use super::histogram::{Cells, Frame};
use super::tally::{BlockSums, Reading, Tally, count_true, keep_fitting, proportion};
use crate::run::block::{BLOCK, BlockScratch};
use crate::{Bounded, Decline, Propagation, Stack};
use std::ops::{ControlFlow, Range};

/// Blocks between two calls of the progress callback: a few milliseconds.
pub(super) const STRIDE: u64 = 128;
/// Blocks that may be looked at to find where an outcome lies.
const PILOT_BLOCKS: u64 = 64;
/// Values that say well enough where it lies.
const PILOT_VALUES: usize = 256;

/// What all workers read.
struct Plan<'a> {
    stack: &'a Stack,
    draws: Draws<'a>,
    frames: Vec<Frame>,
    bands: Vec<Option<(f64, f64)>>,
    seed: u64,
    trials: u64,
}

/// What each worker has for itself.
struct Worker {
    scratch: BlockScratch,
    mixing: Mixing,
    reading: Reading,
    fits: Vec<bool>,
    cells: Vec<Cells<u32>>,
    done: Vec<BlockResult>,
}

/// A block's sums for each outcome, and how many of its trials lie in all bands.
struct BlockResult {
    block: u64,
    outcomes: Vec<BlockSums>,
    fitting: u64,
}

/// What is known of all outcomes after some blocks.
struct Part {
    tallies: Vec<Tally>,
    fitting: u64,
}

/// Runs the trials.
pub(crate) fn run(
    stack: &Stack,
    options: &MonteCarlo,
    progress: &mut dyn FnMut(Progress) -> ControlFlow<()>,
) -> Result<MonteCarloAnswer, Decline> {
    options.check()?;
    let plan = Plan::new(stack, options)?;
    let blocks = blocks_of(options.trials);
    let mut crew = Crew::new(options.threads, blocks.min(STRIDE), || Worker::new(&plan));
    let mut stability = options
        .adaptive_digits
        .map(|digits| Stability::new(digits, options.level, stack.outcomes.len()));
    let stretch = stability
        .as_ref()
        .map_or(blocks, |_| Stability::blocks(options.level));
    let mut total = Part::new(&plan);
    let (mut done, mut is_cancelled, mut is_stable) = (0, false, false);
    while done < blocks && !is_cancelled && !is_stable {
        let end = done.saturating_add(stretch).min(blocks);
        let mut part = Part::new(&plan);
        while done < end && !is_cancelled {
            let next = done.saturating_add(STRIDE).min(end);
            part.run(&plan, &mut crew, done..next);
            done = next;
            let state = Progress {
                done: plan.trials_in(done),
                of: options.trials,
            };
            is_cancelled = progress(state).is_break() && done < blocks;
        }
        // A cut or cancelled last part counts for the answer, but says nothing about stability.
        let is_whole = plan.trials_in(done) % (stretch.saturating_mul(BLOCK as u64)) == 0;
        if let Some(stability) = stability.as_mut().filter(|_| is_whole) {
            stability.add(&part.tallies);
        }
        total.merge(part);
        is_stable = stability
            .as_ref()
            .is_some_and(|rule| is_whole && rule.is_reached(&total.tallies));
    }
    total.answer(
        &plan,
        options,
        plan.trials_in(done),
        is_cancelled && !is_stable,
        stability.map(|_| is_stable),
    )
}

/// Blocks that hold so many trials; the last may be short.
pub(super) fn blocks_of(trials: u64) -> u64 {
    trials.div_ceil(BLOCK as u64)
}

/// Rows of a block that are trials.
pub(super) fn rows_of(block: u64, trials: u64) -> usize {
    let left = trials.saturating_sub(block.saturating_mul(BLOCK as u64));
    usize::try_from(left).unwrap_or(BLOCK).min(BLOCK)
}

impl<'a> Plan<'a> {
    fn new(stack: &'a Stack, options: &MonteCarlo) -> Result<Self, Decline> {
        let mut plan = Self {
            stack,
            draws: Draws::new(&stack.problem, options.merge_normals, |_| true)?,
            frames: Vec::new(),
            bands: stack.outcomes.iter().map(raw_band).collect(),
            seed: options.seed,
            trials: options.trials,
        };
        plan.frames = plan.pilot();
        Ok(plan)
    }

    /// Looks at the first blocks; they are run again as trials.
    fn pilot(&self) -> Vec<Frame> {
        let mut values = vec![Vec::new(); self.stack.outcomes.len()];
        let mut scratch = BlockScratch::new(&self.stack.problem.tape);
        let mut mixing = self.draws.mixing();
        self.draws.settle(&mut scratch);
        for block in 0..blocks_of(self.trials).min(PILOT_BLOCKS) {
            self.fill_and_run(block, &mut mixing, &mut scratch);
            for (index, values) in values.iter_mut().enumerate() {
                let column = &scratch.output(index)[..rows_of(block, self.trials)];
                values.extend(column.iter().copied().filter(|value| value.is_finite()));
            }
            if values.iter().all(|values| values.len() >= PILOT_VALUES) {
                break;
            }
        }
        values.into_iter().map(Frame::of).collect()
    }

    fn fill_and_run(&self, block: u64, mixing: &mut Mixing, scratch: &mut BlockScratch) {
        self.draws.fill(self.seed, block, None, mixing, scratch);
        scratch.run(&self.stack.problem.tape);
    }

    fn trials_in(&self, blocks: u64) -> u64 {
        blocks.saturating_mul(BLOCK as u64).min(self.trials)
    }
}

impl Worker {
    fn new(plan: &Plan<'_>) -> Self {
        let mut scratch = BlockScratch::new(&plan.stack.problem.tape);
        plan.draws.settle(&mut scratch);
        Self {
            scratch,
            mixing: plan.draws.mixing(),
            reading: Reading::new(),
            fits: vec![true; BLOCK],
            cells: vec![Cells::new(); plan.frames.len()],
            done: Vec::new(),
        }
    }

    fn run(&mut self, plan: &Plan<'_>, block: u64) {
        plan.fill_and_run(block, &mut self.mixing, &mut self.scratch);
        let rows = rows_of(block, plan.trials);
        let mut outcomes = Vec::with_capacity(plan.frames.len());
        for (index, cells) in self.cells.iter_mut().enumerate() {
            outcomes.push(self.reading.read(
                self.scratch.output(index),
                rows,
                &plan.frames[index],
                plan.bands[index],
                cells,
            ));
        }
        let fitting = self.fitting(plan, rows, &outcomes);
        self.done.push(BlockResult {
            block,
            outcomes,
            fitting,
        });
    }

    /// Trials that lie in all bands.
    fn fitting(&mut self, plan: &Plan<'_>, rows: usize, outcomes: &[BlockSums]) -> u64 {
        let banded = || {
            plan.bands
                .iter()
                .enumerate()
                .filter(|(_, band)| band.is_some())
        };
        if let (Some((only, _)), 1) = (banded().next(), banded().count()) {
            return outcomes[only].inside();
        }
        let fits = &mut self.fits[..rows];
        fits.fill(true);
        for (index, band) in plan.bands.iter().enumerate() {
            if let Some(band) = band {
                keep_fitting(fits, &self.scratch.output(index)[..rows], *band);
            }
        }
        count_true(fits)
    }
}

impl Part {
    fn new(plan: &Plan<'_>) -> Self {
        Self {
            tallies: plan.frames.iter().copied().map(Tally::new).collect(),
            fitting: 0,
        }
    }

    /// Runs these blocks and adds their results in their order.
    fn run(&mut self, plan: &Plan<'_>, crew: &mut Crew<Worker>, blocks: Range<u64>) {
        crew.run(blocks, |worker, block| worker.run(plan, block));
        let mut results: Vec<BlockResult> = crew
            .workers()
            .flat_map(|worker| worker.done.drain(..))
            .collect();
        results.sort_unstable_by_key(|result| result.block);
        for result in results {
            for (tally, sums) in self.tallies.iter_mut().zip(&result.outcomes) {
                tally.add(sums);
            }
            self.fitting += result.fitting;
        }
        for worker in crew.workers() {
            for (tally, cells) in self.tallies.iter_mut().zip(&mut worker.cells) {
                tally.cells.absorb(cells);
            }
        }
    }

    fn merge(&mut self, later: Self) {
        for (tally, later) in self.tallies.iter_mut().zip(later.tallies) {
            tally.merge(later);
        }
        self.fitting += later.fitting;
    }

    fn answer(
        self,
        plan: &Plan<'_>,
        options: &MonteCarlo,
        trials: u64,
        is_cancelled: bool,
        is_stable: Option<bool>,
    ) -> Result<MonteCarloAnswer, Decline> {
        let (mut outcomes, mut reasons) = (Vec::new(), Vec::new());
        for (index, tally) in self.tallies.iter().enumerate() {
            match answer::outcome(plan.stack, index, options.level, tally) {
                Ok(outcome) => outcomes.push(outcome),
                Err(reason) => reasons.push(reason),
            }
        }
        if !reasons.is_empty() {
            return Err(Decline::new(Propagation::MonteCarlo, reasons));
        }
        let has_band = plan.bands.iter().any(Option::is_some);
        let joint: Option<Bounded<f64>> = has_band.then(|| proportion(self.fitting, trials));
        Ok(MonteCarloAnswer {
            trials,
            seed: options.seed,
            is_cancelled,
            is_stable,
            outcomes,
            joint,
        })
    }
}
