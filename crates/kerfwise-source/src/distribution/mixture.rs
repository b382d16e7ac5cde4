use super::Distribution;

/// A mixture of laws.
#[derive(Debug, Clone, PartialEq)]
pub struct Mixture {
    pub(super) parts: Vec<(f64, Distribution)>,
}

impl Mixture {
    /// Weights and what they weigh; none of the parts is itself a mixture, and the weights add to 1.
    #[inline]
    #[must_use]
    pub fn parts(&self) -> &[(f64, Distribution)] {
        &self.parts
    }
}
