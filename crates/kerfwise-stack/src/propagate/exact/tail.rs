//! Which chance is asked for, and small arithmetic on numbers with bounds.

use crate::Bounded;

/// A chance on one side of a place. Where there are no atoms, the two lower ones are equal, and so are the two upper ones.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tail {
    /// P(Y ≤ y).
    AtMost,
    /// P(Y < y).
    LessThan,
    /// P(Y ≥ y).
    AtLeast,
    /// P(Y > y).
    MoreThan,
}

impl Tail {
    /// Whether the chance lies below the place.
    pub(crate) fn is_lower(self) -> bool {
        matches!(self, Self::AtMost | Self::LessThan)
    }

    /// The chance of a place that lies `-inf` (the first number) or `+inf` (the second).
    pub(crate) fn at_ends(self) -> (f64, f64) {
        if self.is_lower() {
            (0.0, 1.0)
        } else {
            (1.0, 0.0)
        }
    }
}

/// A number known but for rounding.
pub(super) fn rounded(value: f64, relative: f64) -> Bounded<f64> {
    Bounded {
        value,
        error: value.abs() * relative,
    }
}

/// A number known exactly.
pub(super) const fn sure(value: f64) -> Bounded<f64> {
    Bounded { value, error: 0.0 }
}

/// A chance kept between 0 and 1; the bound never grows by that.
pub(super) fn chance(value: f64, error: f64) -> Bounded<f64> {
    // NaN cannot come from finite laws; if it did, nothing would be known, and that is what is said.
    if value.is_nan() || error.is_nan() {
        return Bounded {
            value: 0.5,
            error: 0.5,
        };
    }
    Bounded {
        value: value.clamp(0.0, 1.0),
        error: error.min(1.0),
    }
}
