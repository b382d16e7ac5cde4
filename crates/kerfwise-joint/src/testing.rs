//! Helpers of the unit tests.

use kerfwise_source::{Length, LengthUnits, Source};
use kerfwise_stack::{Expr, RootSumOfSquares, Stack};

/// What an expression is when every source stands at its estimate, in raw units.
pub(crate) fn value(expr: &Expr) -> f64 {
    expr.evaluate(&|source| source.estimate().raw())
}

/// The derivative of an expression with respect to one of its sources, at the estimates: the
/// sensitivity coefficient that the error budget gives.
pub(crate) fn derivative(expr: &Expr, source: &str) -> f64 {
    let stack = Stack::builder().outcome_without_band("y", expr).build();
    let stack = stack.expect("the expression is well formed");
    let outcome = stack.outcome("y").expect("named above");
    let rss = outcome.root_sum_of_squares(RootSumOfSquares::new());
    let rss = rss.expect("every source has a spread");
    let line = rss.budget.iter().find(|line| line.name == source);
    line.expect("the source is in the expression")
        .sensitivity
        .raw()
}

/// A length that may be off by half a thousandth.
pub(crate) fn length(name: &str, estimate: Length) -> Source {
    let source = Source::new(name, estimate).rectangular(0.5.thou());
    source.build().expect("a good name and length")
}
