/// Lognormal law above (or, reflected, below) an origin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lognormal {
    pub(super) origin: f64,
    pub(super) log_mean: f64,
    pub(super) log_sd: f64,
    pub(super) reflected: bool,
}

impl Lognormal {
    /// Where the law begins.
    #[inline]
    #[must_use]
    pub fn origin(&self) -> f64 {
        self.origin
    }

    /// Mean of the logarithm of the distance from the origin.
    #[inline]
    #[must_use]
    pub fn log_mean(&self) -> f64 {
        self.log_mean
    }

    /// Standard deviation of that logarithm, above 0.
    #[inline]
    #[must_use]
    pub fn log_sd(&self) -> f64 {
        self.log_sd
    }

    /// Whether the law lies below the origin, as the mirror image of the usual one.
    #[inline]
    #[must_use]
    pub fn is_reflected(&self) -> bool {
        self.reflected
    }
}
