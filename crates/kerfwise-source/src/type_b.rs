use crate::{Distribution, Error};
/// Type B evaluation (JCGM 100, 4.3): distributions of an error from what a document states. Numbers in one raw unit.
#[derive(Debug, Clone, Copy)]
pub struct TypeB;
#[allow(unused_variables, reason = "skeleton")]
impl TypeB {
    /// Limits ±a with nothing more known: rectangular (4.3.7).
    pub fn limits(half_width: f64) -> Result<Distribution, Error> {
        todo!()
    }
    /// The display shows steps of this size: rectangular of half a step either side (F.2.2.1).
    pub fn resolution(step: f64) -> Result<Distribution, Error> {
        todo!()
    }
    /// A certificate states expanded uncertainty U and coverage factor k: normal with U/k (4.3.3).
    pub fn certificate(expanded: f64, coverage_factor: f64) -> Result<Distribution, Error> {
        todo!()
    }
    /// A certificate states U at a level of confidence p, and maybe degrees of freedom: U over the normal or t factor.
    pub fn certificate_at(
        expanded: f64,
        level: f64,
        degrees_of_freedom: Option<f64>,
    ) -> Result<Distribution, Error> {
        todo!()
    }
}
