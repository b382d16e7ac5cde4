/// Each reading equally likely.
#[derive(Debug, Clone, PartialEq)]
pub struct Empirical {
    pub(super) readings: Vec<f64>,
}

impl Empirical {
    /// The readings, ascending.
    #[inline]
    #[must_use]
    pub fn readings(&self) -> &[f64] {
        &self.readings
    }
}
