use crate::problem::Problem;
use crate::propagate::{batch, compare, exact, monte, rss, worst};
use crate::{Band, Decline, Error, Expr};
use kerfwise_source::{Dimension, Source};

/// One or more named outcomes over shared sources, checked and compiled.
#[derive(Debug, Clone)]
pub struct Stack {
    pub(crate) outcomes: Vec<OutcomeData>,
    pub(crate) problem: Problem,
}

#[derive(Debug, Clone)]
pub(crate) struct OutcomeData {
    pub(crate) name: String,
    pub(crate) expr: Expr,
    pub(crate) band: Option<Band>,
    pub(crate) dimension: Dimension,
}

/// A stack in the making.
#[derive(Debug, Clone, Default)]
pub struct StackBuilder {}

#[allow(unused_variables, reason = "skeleton")]
impl StackBuilder {
    /// An outcome with the band that it should lie in.
    pub fn outcome(self, name: &str, expr: &Expr, band: Band) -> Self {
        todo!()
    }
    /// An outcome without a band.
    pub fn outcome_without_band(self, name: &str, expr: &Expr) -> Self {
        todo!()
    }
    /// Correlation coefficient of two sources.
    pub fn correlated(self, a: &Source, b: &Source, coefficient: f64) -> Self {
        todo!()
    }
    /// Checks everything, reports all faults together, compiles.
    pub fn build(self) -> Result<Stack, Error> {
        todo!()
    }
}

impl Stack {
    /// Starts a stack.
    pub fn builder() -> StackBuilder {
        StackBuilder::default()
    }
    /// The outcomes, in the order given.
    pub fn outcomes(&self) -> impl Iterator<Item = Outcome<'_>> {
        (0..self.outcomes.len()).map(|index| Outcome { stack: self, index })
    }
    /// An outcome by name.
    pub fn outcome(&self, name: &str) -> Option<Outcome<'_>> {
        self.outcomes().find(|o| o.name() == name)
    }
    /// The sources, by name.
    pub fn sources(&self) -> Vec<&Source> {
        todo!()
    }
    /// Monte Carlo of all outcomes together, with their joint chance.
    ///
    /// # Errors
    /// Declines when correlated sources are not all normal.
    pub fn monte_carlo(
        &self,
        options: impl Into<monte::MonteCarlo>,
    ) -> Result<monte::MonteCarloAnswer, Decline> {
        monte::run(self, &options.into(), &mut |_| {
            std::ops::ControlFlow::Continue(())
        })
    }
    /// The same with a progress callback, which may end the run early; what is known so far is returned.
    ///
    /// # Errors
    /// As [`monte_carlo`](Self::monte_carlo).
    pub fn monte_carlo_with(
        &self,
        options: impl Into<monte::MonteCarlo>,
        progress: &mut dyn FnMut(monte::Progress) -> std::ops::ControlFlow<()>,
    ) -> Result<monte::MonteCarloAnswer, Decline> {
        monte::run(self, &options.into(), progress)
    }
    /// All propagations next to each other, with what explains their differences.
    pub fn side_by_side(&self, options: impl Into<monte::MonteCarlo>) -> compare::SideBySide {
        compare::run(self, &options.into())
    }
}

/// One outcome of a stack.
#[derive(Debug, Clone, Copy)]
pub struct Outcome<'a> {
    pub(crate) stack: &'a Stack,
    pub(crate) index: usize,
}

impl<'a> Outcome<'a> {
    fn data(&self) -> &'a OutcomeData {
        &self.stack.outcomes[self.index]
    }
    /// The name.
    pub fn name(&self) -> &'a str {
        &self.data().name
    }
    /// The expression.
    pub fn expr(&self) -> &'a Expr {
        &self.data().expr
    }
    /// The band, if any.
    pub fn band(&self) -> Option<Band> {
        self.data().band
    }
    /// The dimension.
    pub fn dimension(&self) -> Dimension {
        self.data().dimension
    }
    /// Guaranteed extremes.
    ///
    /// # Errors
    /// Declines when a source has no limits, or when the outcome is not defined all over the box of limits.
    pub fn worst_case(&self, options: worst::WorstCase) -> Result<worst::WorstCaseAnswer, Decline> {
        worst::run(*self, &options)
    }
    /// Law of propagation of uncertainty.
    ///
    /// # Errors
    /// Declines when a source has no standard uncertainty, and as the options say.
    pub fn root_sum_of_squares(
        &self,
        options: rss::RootSumOfSquares,
    ) -> Result<rss::RootSumOfSquaresAnswer, Decline> {
        rss::run(*self, &options)
    }
    /// The whole distribution of an affine outcome.
    ///
    /// # Errors
    /// Declines when the outcome is not affine or a distribution has no route.
    pub fn exact(&self) -> Result<exact::Exact, Decline> {
        exact::run(*self)
    }
    /// The chance that n pieces all land in the band, with shared errors shared.
    ///
    /// # Errors
    /// Declines as [`exact`](Self::exact), or when there is no band.
    pub fn batch(&self, options: batch::Batch) -> Result<batch::BatchAnswer, Decline> {
        batch::run(*self, &options)
    }
}
