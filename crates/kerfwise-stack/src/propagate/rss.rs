use crate::{Chance, CoverageInterval, Decline, Outcome};
use kerfwise_source::Quantity;

/// Options of the law of propagation.
#[derive(Debug, Clone, PartialEq)]
pub struct RootSumOfSquares {
    level: f64,
    second_order: bool,
}
impl Default for RootSumOfSquares {
    fn default() -> Self {
        Self::new()
    }
}
impl RootSumOfSquares {
    /// First order, 95 % level of confidence.
    pub fn new() -> Self {
        Self {
            level: 0.95,
            second_order: false,
        }
    }
    /// The level of confidence of the expanded uncertainty.
    #[must_use]
    pub fn level(mut self, level: f64) -> Self {
        self.level = level;
        self
    }
    /// Adds the second-order terms (JCGM 100, 5.1.2 note).
    #[must_use]
    pub fn second_order(mut self) -> Self {
        self.second_order = true;
        self
    }
}
/// A line of the uncertainty budget.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetLine {
    /// Source (or source#instance).
    pub name: String,
    /// Estimate (estimate plus mean error).
    pub estimate: Quantity,
    /// Standard uncertainty u.
    pub standard_uncertainty: Quantity,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Sensitivity coefficient c.
    pub sensitivity: Quantity,
    /// c·u, with the sign of c.
    pub contribution: Quantity,
    /// Share of the variance; with correlations the covariance terms are split evenly between their two sources. Shares add to 1.
    pub share: f64,
}
/// The law of propagation's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct RootSumOfSquaresAnswer {
    /// The outcome at the estimates.
    pub estimate: Quantity,
    /// Combined standard uncertainty.
    pub standard_uncertainty: Quantity,
    /// Effective degrees of freedom (Welch–Satterthwaite, JCGM 100, G.4.1); `None` with correlated inputs of finite degrees of freedom.
    pub degrees_of_freedom: Option<f64>,
    /// Coverage factor from the t distribution.
    pub coverage_factor: f64,
    /// Expanded uncertainty.
    pub expanded_uncertainty: Quantity,
    /// Estimate ± expanded uncertainty.
    pub interval: CoverageInterval,
    /// Chance of the band under the assumption of a normal (or t) outcome; `None` without a band.
    pub chance: Option<Chance>,
    /// The budget, largest share first.
    pub budget: Vec<BudgetLine>,
    /// The part of the variance from second-order terms, if asked for.
    pub second_order_variance: Option<f64>,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// Why this answer should be doubted: kinks, large second-order terms, one dominating non-normal source.
    pub doubts: Vec<String>,
}
pub(crate) fn run(
    _outcome: Outcome<'_>,
    _options: &RootSumOfSquares,
) -> Result<RootSumOfSquaresAnswer, Decline> {
    todo!()
}
