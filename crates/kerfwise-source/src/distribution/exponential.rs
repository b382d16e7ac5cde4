/// Exponential law above (or below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exponential {
    pub(super) origin: f64,
    pub(super) mean_excess: f64,
}

impl Exponential {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of X - origin; negative when the law lies below the origin.
    #[inline]
    #[must_use]
    pub fn mean_excess(&self) -> f64 {
        self.mean_excess
    }

}
