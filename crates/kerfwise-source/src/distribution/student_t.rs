/// Scaled and shifted Student t law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StudentT {
    pub(super) location: f64,
    pub(super) scale: f64,
    pub(super) degrees_of_freedom: f64,
}

impl StudentT {
    /// Centre of symmetry.
    #[inline]
    #[must_use]
    pub fn location(&self) -> f64 {
        self.location
    }

    /// Scale (not the standard deviation), above 0.
    #[inline]
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.scale
    }

    /// Degrees of freedom, at least 0.001.
    #[inline]
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.degrees_of_freedom
    }

}
