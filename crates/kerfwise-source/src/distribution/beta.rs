/// Beta law stretched over an interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    pub(super) lower: f64,
    pub(super) upper: f64,
    pub(super) a: f64,
    pub(super) b: f64,
}

impl Beta {
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

    /// Shape at the lower end.
    #[inline]
    #[must_use]
    pub fn a(&self) -> f64 {
        self.a
    }

    /// Shape at the upper end.
    #[inline]
    #[must_use]
    pub fn b(&self) -> f64 {
        self.b
    }

}
