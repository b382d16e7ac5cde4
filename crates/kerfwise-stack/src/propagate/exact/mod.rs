use crate::{Band, Bounded, Chance, CoverageInterval, Decline, Outcome};
use kerfwise_source::Quantity;

/// The whole distribution of an affine outcome, each number with an error bound.
#[derive(Debug, Clone)]
pub struct Exact {}
#[allow(unused_variables, reason = "skeleton")]
impl Exact {
    /// The route taken, by name.
    pub fn route(&self) -> &'static str {
        todo!()
    }
    /// Mean; `None` where there is none.
    pub fn mean(&self) -> Option<Quantity> {
        todo!()
    }
    /// Standard deviation; `None` where there is none.
    pub fn standard_deviation(&self) -> Option<Quantity> {
        todo!()
    }
    /// P(Y ≤ y).
    pub fn cdf(&self, y: impl Into<Quantity>) -> Bounded<f64> {
        let _: Quantity = y.into();
        todo!()
    }
    /// P(Y > y), not as 1 − cdf.
    pub fn sf(&self, y: impl Into<Quantity>) -> Bounded<f64> {
        let _: Quantity = y.into();
        todo!()
    }
    /// Density per raw unit; `None` where the outcome has atoms.
    pub fn pdf(&self, y: impl Into<Quantity>) -> Option<Bounded<f64>> {
        let _: Quantity = y.into();
        todo!()
    }
    /// Quantile; the error is in the raw unit.
    pub fn quantile(&self, p: f64) -> Bounded<Quantity> {
        todo!()
    }
    /// Chance of a band; the error bounds each of the three numbers.
    pub fn chance(&self, band: &Band) -> Bounded<Chance> {
        todo!()
    }
    /// Probabilistically symmetric coverage interval.
    pub fn symmetric_interval(&self, level: f64) -> CoverageInterval {
        todo!()
    }
    /// Shortest coverage interval.
    pub fn shortest_interval(&self, level: f64) -> CoverageInterval {
        todo!()
    }
}
pub(crate) fn run(_outcome: Outcome<'_>) -> Result<Exact, Decline> {
    todo!()
}
