use crate::{Distribution, Error};
/// Type A evaluation (JCGM 100, 4.2) of independent readings of one quantity, numbers in one raw unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TypeA {
    /// How many.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Experimental standard deviation s of one reading.
    pub standard_deviation: f64,
}
#[allow(unused_variables, reason = "skeleton")]
impl TypeA {
    /// From at least two finite readings.
    pub fn from_readings(readings: &[f64]) -> Result<Self, Error> {
        todo!()
    }
    /// s/√n.
    pub fn standard_uncertainty(&self) -> f64 {
        todo!()
    }
    /// n − 1.
    pub fn degrees_of_freedom(&self) -> f64 {
        todo!()
    }
    /// Error of the mean: Student t, scale s/√n, n − 1 degrees of freedom (JCGM 101, 6.4.9).
    pub fn error_of_mean(&self) -> Distribution {
        todo!()
    }
    /// Deviation of one further piece from its process mean: normal with standard deviation s.
    pub fn spread(&self) -> Distribution {
        todo!()
    }
    /// Deviation of one further piece from the mean of these: Student t, scale s√(1+1/n).
    pub fn error_of_next(&self) -> Distribution {
        todo!()
    }
}
