/// Arcsine (U-shaped) law on an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arcsine {
    pub(super) lower: f64,
    pub(super) upper: f64,
}

impl Arcsine {
    /// Lower end.
    #[inline]
    #[must_use]
    pub fn lower(&self) -> f64 {
        self.lower
    }

    /// Upper end.
    #[inline]
    #[must_use]
    pub fn upper(&self) -> f64 {
        self.upper
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
