/// Normal (Gaussian) law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Normal {
    pub(super) mean: f64,
    pub(super) sd: f64,
}

impl Normal {
    /// Mean.
    #[inline]
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.mean
    }

    /// Standard deviation, above 0.
    #[inline]
    #[must_use]
    pub fn sd(&self) -> f64 {
        self.sd
    }

}
