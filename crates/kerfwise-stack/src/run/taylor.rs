use crate::tape::Tape;
/// Derivatives of one output at a point.
#[derive(Debug, Clone)]
pub(crate) struct Derivatives {
    /// The value.
    pub(crate) value: f64,
    /// First derivatives by input.
    pub(crate) gradient: Vec<f64>,
    /// An operation is at a kink there (abs, min, max): name of the operation.
    pub(crate) kink: Option<&'static str>,
}
/// Value and gradient.
pub(crate) fn gradient(_tape: &Tape, _output: usize, _inputs: &[f64]) -> Derivatives {
    todo!()
}
/// Along one pair of inputs i, j (maybe equal): (f_i, f_ij, f_ijj), by truncated Taylor arithmetic.
pub(crate) fn pair(
    _tape: &Tape,
    _output: usize,
    _inputs: &[f64],
    _i: usize,
    _j: usize,
) -> (f64, f64, f64) {
    todo!()
}
