/// Symmetric trapezoidal law.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trapezoidal {
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) top_ratio: f64,
}

impl Trapezoidal {
    /// Lower end of the base.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end of the base.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
    }

    /// Length of the top over length of the base, between 0 and 1.
    #[inline]
    #[must_use]
    pub fn top_ratio(&self) -> f64 {
        self.top_ratio
    }

    /// Middle of the interval.
    #[inline]
    #[must_use]
    pub fn midpoint(&self) -> f64 {
        0.5 * self.lower + 0.5 * self.upper
    }

    /// Half of the interval's width.
    #[inline]
    #[must_use]
    pub fn half_width(&self) -> f64 {
        0.5 * (self.upper - self.lower)
    }
}
