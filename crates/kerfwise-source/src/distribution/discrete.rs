/// Values with probabilities.
#[derive(Debug, Clone, PartialEq)]
pub struct Discrete {
    pub(super) values: Vec<f64>,
    pub(super) probabilities: Vec<f64>,
}

impl Discrete {
    /// The values, ascending and all different.
    #[inline]
    #[must_use]
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The probability of each value, in the order of the values.
    #[inline]
    #[must_use]
    pub fn probabilities(&self) -> &[f64] {
        &self.probabilities
    }
}
