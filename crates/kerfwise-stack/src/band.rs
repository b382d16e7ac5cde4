use crate::{Error, ErrorKind};
use kerfwise_source::{Dimension, Quantity};
use std::fmt;

/// What an outcome may be: a lower limit, an upper limit, or both. The limits belong to the band.
///
/// ```
/// use kerfwise_source::LengthUnits;
/// use kerfwise_stack::Band;
///
/// let fit = Band::within(0.005.inch())?;
/// assert_eq!(fit.lower().unwrap().raw(), -0.005);
/// assert_eq!(fit.upper().unwrap().raw(), 0.005);
/// assert_eq!(fit.to_string(), "from -0.005 in to 0.005 in");
/// # Ok::<(), kerfwise_stack::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    limits: Limits,
}

/// A band has at least one limit; this shape leaves no room for none.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Limits {
    AtLeast(Quantity),
    AtMost(Quantity),
    Between(Quantity, Quantity),
}

impl Band {
    /// Between two limits of one dimension.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Band`] when a limit is not finite, when the two differ in dimension, or when
    /// the lower one lies above the upper one.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Band;
    ///
    /// let error = Band::between(0.005.inch(), (-0.005).inch()).unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     "band: lower limit 0.005 in lies above upper limit -0.005 in; swap them",
    /// );
    /// ```
    pub fn between(lower: impl Into<Quantity>, upper: impl Into<Quantity>) -> Result<Self, Error> {
        let (lower, upper) = (lower.into(), upper.into());
        finite("lower limit", lower)?;
        finite("upper limit", upper)?;
        if lower.dimension() != upper.dimension() {
            return Err(fault(format!(
                "lower limit {lower} is of dimension {}, upper limit {upper} of dimension {}; give both in one kind of unit",
                lower.dimension(),
                upper.dimension(),
            )));
        }
        if lower.raw() > upper.raw() {
            return Err(fault(format!(
                "lower limit {lower} lies above upper limit {upper}; swap them"
            )));
        }
        Ok(Self {
            limits: Limits::Between(lower, upper),
        })
    }

    /// Zero plus or minus a half-width.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Band`] when the half-width is negative or not finite.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Band;
    ///
    /// assert_eq!(Band::within(0.005.inch())?, Band::between((-0.005).inch(), 0.005.inch())?);
    /// # Ok::<(), kerfwise_stack::Error>(())
    /// ```
    pub fn within(half_width: impl Into<Quantity>) -> Result<Self, Error> {
        let half_width = half_width.into();
        finite("half-width", half_width)?;
        if half_width.raw() < 0.0 {
            return Err(fault(format!(
                "half-width must be at least 0 (got {half_width})"
            )));
        }
        let lower = Quantity::new(0.0 - half_width.raw(), half_width.dimension());
        Ok(Self {
            limits: Limits::Between(lower, half_width),
        })
    }

    /// At least this.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Band`] when the limit is not finite.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Band;
    ///
    /// let wall = Band::at_least(0.25.inch())?;
    /// assert_eq!((wall.lower().unwrap().raw(), wall.upper()), (0.25, None));
    /// # Ok::<(), kerfwise_stack::Error>(())
    /// ```
    pub fn at_least(lower: impl Into<Quantity>) -> Result<Self, Error> {
        let lower = lower.into();
        finite("lower limit", lower)?;
        Ok(Self {
            limits: Limits::AtLeast(lower),
        })
    }

    /// At most this.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Band`] when the limit is not finite.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Band;
    ///
    /// let step = Band::at_most(2.thou())?;
    /// assert_eq!((step.lower(), step.upper().unwrap().raw()), (None, 0.002));
    /// # Ok::<(), kerfwise_stack::Error>(())
    /// ```
    pub fn at_most(upper: impl Into<Quantity>) -> Result<Self, Error> {
        let upper = upper.into();
        finite("upper limit", upper)?;
        Ok(Self {
            limits: Limits::AtMost(upper),
        })
    }

    /// The lower limit; `None` when any outcome is high enough.
    pub fn lower(&self) -> Option<Quantity> {
        match self.limits {
            Limits::AtLeast(lower) | Limits::Between(lower, _) => Some(lower),
            Limits::AtMost(_) => None,
        }
    }

    /// The upper limit; `None` when any outcome is low enough.
    pub fn upper(&self) -> Option<Quantity> {
        match self.limits {
            Limits::AtMost(upper) | Limits::Between(_, upper) => Some(upper),
            Limits::AtLeast(_) => None,
        }
    }

    /// The dimension of the limits.
    pub fn dimension(&self) -> Dimension {
        match self.limits {
            Limits::AtLeast(limit) | Limits::AtMost(limit) | Limits::Between(limit, _) => {
                limit.dimension()
            }
        }
    }

    /// Lower and upper limit in raw units, infinite where there is none.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    /// use kerfwise_stack::Band;
    ///
    /// assert_eq!(Band::at_most(0.005.inch())?.raw(), (f64::NEG_INFINITY, 0.005));
    /// # Ok::<(), kerfwise_stack::Error>(())
    /// ```
    pub fn raw(&self) -> (f64, f64) {
        (
            self.lower().map_or(f64::NEG_INFINITY, Quantity::raw),
            self.upper().map_or(f64::INFINITY, Quantity::raw),
        )
    }
}

/// "from -0.005 in to 0.005 in", "at least 0.25 in", "at most 0.002 in".
impl fmt::Display for Band {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.limits {
            Limits::AtLeast(lower) => write!(f, "at least {lower}"),
            Limits::AtMost(upper) => write!(f, "at most {upper}"),
            Limits::Between(lower, upper) => write!(f, "from {lower} to {upper}"),
        }
    }
}

fn finite(what: &str, limit: Quantity) -> Result<(), Error> {
    if limit.raw().is_finite() {
        return Ok(());
    }
    let way_out = if what == "half-width" {
        ""
    } else {
        "; for a band with one limit use at_least or at_most"
    };
    Err(fault(format!(
        "{what} must be finite (got {limit}){way_out}"
    )))
}

#[cold]
fn fault(message: String) -> Error {
    ErrorKind::Band(format!("band: {message}")).into()
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_source::{AngleUnits, LengthUnits};

    fn message(band: Result<Band, Error>) -> String {
        band.unwrap_err().to_string()
    }

    #[test]
    fn faults_name_the_limit_and_the_way_out() {
        assert_eq!(
            message(Band::between(f64::NAN.inch(), 0.005.inch())),
            "band: lower limit must be finite (got NaN in); for a band with one limit use at_least or at_most",
        );
        assert_eq!(
            message(Band::at_most(f64::INFINITY)),
            "band: upper limit must be finite (got inf); for a band with one limit use at_least or at_most",
        );
        assert_eq!(
            message(Band::within((-0.005).inch())),
            "band: half-width must be at least 0 (got -0.005 in)",
        );
        assert_eq!(
            message(Band::between(0.005.inch(), 0.01.radians())),
            "band: lower limit 0.005 in is of dimension length, upper limit 0.01 rad of dimension angle; give both in one kind of unit",
        );
    }

    #[test]
    fn a_band_of_no_width_is_a_band() {
        let band = Band::within(0.inch()).unwrap();
        assert_eq!(band.raw(), (0.0, 0.0));
        assert_eq!(band.to_string(), "from 0 in to 0 in");
    }
}
