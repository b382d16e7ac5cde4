use crate::tape::Tape;
/// Trials in a block.
pub(crate) const BLOCK: usize = 1024;
/// Scratch of a block run, reused between blocks.
#[derive(Debug)]
pub(crate) struct BlockScratch {}
impl BlockScratch {
    pub(crate) fn new(_tape: &Tape) -> Self {
        todo!()
    }
    /// Column of an input, to be filled before [`run`](Self::run).
    pub(crate) fn input(&mut self, _index: usize) -> &mut [f64; BLOCK] {
        todo!()
    }
    /// Runs the tape over the columns.
    pub(crate) fn run(&mut self, _tape: &Tape) {
        todo!()
    }
    /// Column of an output after a run (NaN where the stack is not defined).
    pub(crate) fn output(&self, _index: usize) -> &[f64; BLOCK] {
        todo!()
    }
}
