//! The flat program of a stack: one output per outcome, one input per variable.

/// A flat program in single-assignment form.
#[derive(Debug, Clone)]
pub(crate) struct Tape {}

impl Tape {
    /// How many inputs.
    pub(crate) fn inputs(&self) -> usize {
        todo!()
    }
    /// How many outputs.
    pub(crate) fn outputs(&self) -> usize {
        todo!()
    }
    /// The inputs that an output depends on, ascending.
    pub(crate) fn inputs_of(&self, _output: usize) -> Vec<usize> {
        todo!()
    }
}
