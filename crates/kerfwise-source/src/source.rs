use crate::{Dimension, Distribution, Error, Event, Provenance, Quantity};
use std::sync::Arc;
/// The bounds that the worst case uses for a source.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Limits {
    /// The quantity lies between these (both in the dimension of the source).
    Between(Quantity, Quantity),
    /// This many standard deviations of the error either side of the mean.
    StandardDeviations(f64),
}
/// A named input quantity that is not known exactly: value = estimate + error.
///
/// A cheap handle. Two sources with the same numbers are two sources.
#[derive(Debug, Clone)]
pub struct Source(Arc<Inner>);
#[derive(Debug)]
struct Inner {
    name: String,
    estimate: Quantity,
    error: Distribution,
    limits: Option<Limits>,
    event: Event,
    degrees_of_freedom: f64,
    provenance: Provenance,
}
impl Source {
    /// Starts a source; without more it is known exactly (a point error of zero).
    #[allow(
        clippy::new_ret_no_self,
        reason = "the builder is what a caller wants here"
    )]
    pub fn new(_name: &str, _estimate: impl Into<Quantity>) -> SourceBuilder {
        todo!()
    }
    /// The name, unique in a stack.
    pub fn name(&self) -> &str {
        &self.0.name
    }
    /// The estimate that the errors are counted from.
    pub fn estimate(&self) -> Quantity {
        self.0.estimate
    }
    /// The dimension.
    pub fn dimension(&self) -> Dimension {
        self.0.estimate.dimension()
    }
    /// The distribution of the error, in the raw unit of the dimension.
    pub fn error(&self) -> &Distribution {
        &self.0.error
    }
    /// Estimate plus mean error; `None` when the error has no mean.
    pub fn mean(&self) -> Option<Quantity> {
        todo!()
    }
    /// The standard uncertainty (JCGM 100): the standard deviation of the error, except for a
    /// Student t, where it is the scale, which goes with the degrees of freedom. `None` when there is none.
    pub fn standard_uncertainty(&self) -> Option<Quantity> {
        todo!()
    }
    /// Degrees of freedom of the standard uncertainty; infinite unless told or a Student t.
    pub fn degrees_of_freedom(&self) -> f64 {
        self.0.degrees_of_freedom
    }
    /// Stated limits, if any.
    pub fn limits(&self) -> Option<Limits> {
        self.0.limits
    }
    /// Lower and upper bound of the value in raw units: stated limits, else the support where it is bounded; `None` else.
    pub fn bounds(&self) -> Option<(f64, f64)> {
        todo!()
    }
    /// The event that redraws it.
    pub fn event(&self) -> &Event {
        &self.0.event
    }
    /// Where the number came from.
    pub fn provenance(&self) -> &Provenance {
        &self.0.provenance
    }
    /// Whether two handles are of one source.
    pub fn is_same(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}
/// A source in the making; all faults are reported together by [`SourceBuilder::build`].
#[derive(Debug, Clone)]
pub struct SourceBuilder {}
#[allow(unused_variables, reason = "skeleton")]
impl SourceBuilder {
    /// Normal error of mean zero and this standard deviation.
    pub fn normal(self, sd: impl Into<Quantity>) -> Self {
        todo!()
    }
    /// Rectangular error of this half-width about zero.
    pub fn rectangular(self, half_width: impl Into<Quantity>) -> Self {
        todo!()
    }
    /// Triangular error of this half-width about zero.
    pub fn triangular(self, half_width: impl Into<Quantity>) -> Self {
        todo!()
    }
    /// Symmetric trapezoidal error; `top_ratio` = length of the top over length of the base.
    pub fn trapezoidal(self, half_width: impl Into<Quantity>, top_ratio: f64) -> Self {
        todo!()
    }
    /// Arcsine (U-shaped) error of this half-width about zero.
    pub fn arcsine(self, half_width: impl Into<Quantity>) -> Self {
        todo!()
    }
    /// Student t error with this scale and degrees of freedom.
    pub fn student_t(self, scale: impl Into<Quantity>, degrees_of_freedom: f64) -> Self {
        todo!()
    }
    /// Any distribution of the error, in the raw unit of the estimate's dimension.
    pub fn error(self, error: Distribution) -> Self {
        todo!()
    }
    /// Limits of the value for the worst case.
    pub fn limits(self, lower: impl Into<Quantity>, upper: impl Into<Quantity>) -> Self {
        todo!()
    }
    /// Limits this many standard deviations either side.
    pub fn limits_at_sd(self, k: f64) -> Self {
        todo!()
    }
    /// The event that redraws it (default: batch).
    pub fn event(self, event: Event) -> Self {
        todo!()
    }
    /// Degrees of freedom of a stated standard uncertainty.
    pub fn degrees_of_freedom(self, dof: f64) -> Self {
        todo!()
    }
    /// Measured: which readings.
    pub fn measured(self, readings: &str) -> Self {
        todo!()
    }
    /// A stated limit: which document.
    pub fn stated(self, document: &str) -> Self {
        todo!()
    }
    /// Assumed: why.
    pub fn assumed(self, because: &str) -> Self {
        todo!()
    }
    /// Checks everything.
    pub fn build(self) -> Result<Source, Error> {
        todo!()
    }
}
