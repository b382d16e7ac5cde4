/// Rectangular law whose limits are known only to ±d.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvilinearTrapezoid {
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) d: f64,
}

impl CurvilinearTrapezoid {
    /// Estimate of the lower limit; the support begins `d` below.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Estimate of the upper limit; the support ends `d` above.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// How far either limit may be off, above 0 and at most half of upper - lower.
    #[inline]
    #[must_use]
    pub fn d(&self) -> f64 {
        self.d
    }

}
