use crate::Error;
use kerfwise_source::{Dimension, Quantity};

/// What an outcome may be: a lower limit, an upper limit, or both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    lower: Option<Quantity>,
    upper: Option<Quantity>,
}

impl Band {
    /// Between two limits of one dimension.
    pub fn between(lower: impl Into<Quantity>, upper: impl Into<Quantity>) -> Result<Self, Error> {
        let _ = (lower.into(), upper.into());
        todo!()
    }
    /// Zero plus or minus a half-width.
    pub fn within(half_width: impl Into<Quantity>) -> Result<Self, Error> {
        let _ = half_width.into();
        todo!()
    }
    /// At least this.
    pub fn at_least(lower: impl Into<Quantity>) -> Result<Self, Error> {
        let _ = lower.into();
        todo!()
    }
    /// At most this.
    pub fn at_most(upper: impl Into<Quantity>) -> Result<Self, Error> {
        let _ = upper.into();
        todo!()
    }
    /// The lower limit.
    pub fn lower(&self) -> Option<Quantity> {
        self.lower
    }
    /// The upper limit.
    pub fn upper(&self) -> Option<Quantity> {
        self.upper
    }
    /// The dimension of the limits.
    pub fn dimension(&self) -> Dimension {
        todo!()
    }
    /// Lower and upper limit in raw units, infinite where there is none.
    pub fn raw(&self) -> (f64, f64) {
        todo!()
    }
}
