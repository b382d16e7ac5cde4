//! Blocks shared out among threads.
//!
//! Which thread runs which block is left to chance, so a worker may only keep what does not depend on it:
//! integer counts, and results labelled with their block, which the caller puts in order.

use std::ops::Range;

/// Workers, each with its own scratch space, and the threads they run on.
pub(super) struct Crew<W> {
    workers: Vec<W>,
    #[cfg(feature = "parallel")]
    pool: Option<rayon::ThreadPool>,
}

/// More would only cost memory.
#[cfg(feature = "parallel")]
const MOST_THREADS: usize = 256;

impl<W: Send> Crew<W> {
    /// A worker per thread: as many as asked for (all that the machine has, if nothing was), but no more than blocks.
    ///
    /// Where no threads can be started, the caller's own does all the work.
    #[cfg(feature = "parallel")]
    pub(super) fn new(threads: Option<usize>, blocks: u64, make: impl FnMut() -> W) -> Self {
        let most = usize::try_from(blocks).unwrap_or(MOST_THREADS);
        let threads = threads
            .or_else(|| std::thread::available_parallelism().ok().map(Into::into))
            .unwrap_or(1)
            .clamp(1, most.clamp(1, MOST_THREADS));
        let pool = (threads > 1)
            .then(|| {
                rayon::ThreadPoolBuilder::new()
                    .num_threads(threads)
                    .build()
                    .ok()
            })
            .flatten();
        let count = if pool.is_some() { threads } else { 1 };
        let workers = std::iter::repeat_with(make).take(count).collect();
        Self { workers, pool }
    }

    /// One worker on the caller's thread.
    #[cfg(not(feature = "parallel"))]
    pub(super) fn new(_threads: Option<usize>, _blocks: u64, mut make: impl FnMut() -> W) -> Self {
        Self {
            workers: vec![make()],
        }
    }

    /// Does the work for each block; returns when all are done.
    pub(super) fn run(&mut self, blocks: Range<u64>, work: impl Fn(&mut W, u64) + Sync) {
        #[cfg(feature = "parallel")]
        if let Some(pool) = &self.pool {
            let next = std::sync::atomic::AtomicU64::new(blocks.start);
            let (next, work, end) = (&next, &work, blocks.end);
            pool.scope(|scope| {
                for worker in &mut self.workers {
                    scope.spawn(move |_| {
                        loop {
                            let block = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                            if block >= end {
                                break;
                            }
                            work(worker, block);
                        }
                    });
                }
            });
            return;
        }
        if let Some(worker) = self.workers.first_mut() {
            for block in blocks {
                work(worker, block);
            }
        }
    }

    /// The workers, to collect what they have.
    pub(super) fn workers(&mut self) -> impl Iterator<Item = &mut W> {
        self.workers.iter_mut()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_block_is_worked_on_once() {
        for threads in [1, 2, 5] {
            let mut crew = Crew::new(Some(threads), 1000, Vec::new);
            crew.run(3..700, |seen, block| seen.push(block));
            crew.run(700..703, |seen, block| seen.push(block));
            let mut all: Vec<u64> = crew.workers().flat_map(|seen| seen.drain(..)).collect();
            all.sort_unstable();
            assert_eq!(all, (3..703).collect::<Vec<_>>(), "{threads} threads");
        }
    }
}
