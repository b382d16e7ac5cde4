/// Triangular law, not necessarily symmetric.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Triangular {
    pub(super) lower: f64,
    pub(super) peak: f64,
    pub(super) upper: f64,
}

impl Triangular {
    /// Lower end.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Where the density is greatest.
    #[inline]
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.peak
    }

    /// Upper end.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

}
