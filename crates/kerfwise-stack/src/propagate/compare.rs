use crate::propagate::{
    exact::Exact,
    monte::{MonteCarlo, MonteCarloAnswer},
    rss::RootSumOfSquaresAnswer,
    worst::WorstCaseAnswer,
};
use crate::{Decline, Stack};

/// All propagations of a stack.
#[derive(Debug, Clone)]
pub struct SideBySide {
    /// Each outcome, in order.
    pub outcomes: Vec<OutcomeSideBySide>,
    /// Monte Carlo of all outcomes together.
    pub monte_carlo: Result<MonteCarloAnswer, Decline>,
}
/// All propagations of one outcome.
#[derive(Debug, Clone)]
pub struct OutcomeSideBySide {
    /// The outcome's name.
    pub name: String,
    /// Worst case.
    pub worst_case: Result<WorstCaseAnswer, Decline>,
    /// Root sum of squares.
    pub root_sum_of_squares: Result<RootSumOfSquaresAnswer, Decline>,
    /// Exact.
    pub exact: Result<Exact, Decline>,
    /// Why they differ, in sentences.
    pub differences: Vec<String>,
}
pub(crate) fn run(_stack: &Stack, _options: &MonteCarlo) -> SideBySide {
    todo!()
}
