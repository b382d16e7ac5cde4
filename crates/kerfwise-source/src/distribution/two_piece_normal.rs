/// Two half normals joined at the mode.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoPieceNormal {
    pub(super) mode: f64,
    pub(super) sd_below: f64,
    pub(super) sd_above: f64,
}

impl TwoPieceNormal {
    /// Where they join.
    #[inline]
    #[must_use]
    pub fn mode(&self) -> f64 {
        self.mode
    }

    /// Standard deviation of the normal whose lower half is used.
    #[inline]
    #[must_use]
    pub fn sd_below(&self) -> f64 {
        self.sd_below
    }

    /// Standard deviation of the normal whose upper half is used.
    #[inline]
    #[must_use]
    pub fn sd_above(&self) -> f64 {
        self.sd_above
    }

}
