use crate::tape::Tape;
/// constant + Σ coefficient · input.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Affine {
    /// The constant.
    pub(crate) constant: f64,
    /// (input, coefficient), inputs ascending, no zero coefficients.
    pub(crate) terms: Vec<(usize, f64)>,
}
/// The affine form of an output, or the inputs in which it is not affine.
pub(crate) fn affine(_tape: &Tape, _output: usize) -> Result<Affine, Vec<usize>> {
    todo!()
}
