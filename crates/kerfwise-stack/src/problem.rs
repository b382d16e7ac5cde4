use crate::run::affine::Affine;
use crate::tape::Tape;
use kerfwise_source::{CorrelationMatrix, Source};

/// One independent input of the flat problem: a source and the instance of its event.
#[derive(Debug, Clone)]
pub(crate) struct Variable {
    /// The source.
    pub(crate) source: Source,
    /// The instance (0 unless an expression redraws an event).
    pub(crate) instance: u32,
    /// Unique name: the source's, with "#instance" behind it where that is not 0. Keys the random stream.
    pub(crate) name: String,
}

/// A stack flattened: what every propagation reads. Variables are sorted by name, so the order in a plan does not matter.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    /// The inputs.
    pub(crate) variables: Vec<Variable>,
    /// One output per outcome, in order. Its inputs are the VALUES (estimate + error) of the variables.
    pub(crate) tape: Tape,
    /// Per outcome: affine in its inputs, or the inputs in which it is not.
    pub(crate) affine: Vec<Result<Affine, Vec<usize>>>,
    /// Correlations by source name (instances of one source are independent; a pair is correlated within one instance).
    pub(crate) correlation: Option<CorrelationMatrix>,
}

impl Problem {
    /// Correlation coefficient of two variables.
    pub(crate) fn correlation(&self, _i: usize, _j: usize) -> f64 {
        todo!()
    }
    /// Linked groups of variables (indices), each at least two.
    pub(crate) fn correlated_groups(&self) -> Vec<Vec<usize>> {
        todo!()
    }
}
