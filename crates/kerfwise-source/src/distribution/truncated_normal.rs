/// Normal law cut to an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruncatedNormal {
    pub(super) parent_mean: f64,
    pub(super) parent_sd: f64,
    pub(super) lower: f64,
    pub(super) upper: f64,
}

impl TruncatedNormal {
    /// Mean of the normal before the cut.
    #[inline]
    #[must_use]
    pub fn parent_mean(&self) -> f64 {
        self.parent_mean
    }

    /// Standard deviation of the normal before the cut, above 0.
    #[inline]
    #[must_use]
    pub fn parent_sd(&self) -> f64 {
        self.parent_sd
    }

    /// Lower end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end, maybe infinite.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

}
