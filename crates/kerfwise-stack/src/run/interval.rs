use crate::tape::Tape;
use kerfwise_numeric::interval::Interval;
/// Outward-rounded range of one output over a box of inputs; `Err` says where it is not defined.
pub(crate) fn interval(
    _tape: &Tape,
    _output: usize,
    _inputs: &[Interval],
    _scratch: &mut Vec<Interval>,
) -> Result<Interval, String> {
    todo!()
}
/// Ranges of the value and of each first derivative over a box; a derivative is `None` where there is a kink or no bound.
pub(crate) fn gradient(
    _tape: &Tape,
    _output: usize,
    _inputs: &[Interval],
) -> Result<(Interval, Vec<Option<Interval>>), String> {
    todo!()
}
