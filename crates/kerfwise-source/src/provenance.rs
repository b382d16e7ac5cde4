use std::fmt;

/// Where a number came from.
///
/// ```
/// use kerfwise_source::Provenance;
///
/// let kerf = Provenance::Stated { document: "maker's sheet of the blade".to_owned() };
/// assert_eq!(kerf.to_string(), "stated (maker's sheet of the blade)");
/// assert_eq!(Provenance::default().to_string(), "assumed (not said)");
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Provenance {
    /// Measured: which readings.
    Measured {
        /// Which readings: a file, a log, a date.
        readings: String,
    },
    /// A limit that somebody states: which document.
    Stated {
        /// Which document.
        document: String,
    },
    /// Assumed: why it was thought right.
    Assumed {
        /// Why.
        because: String,
    },
}

/// Assumed, because nobody said where it came from.
impl Default for Provenance {
    fn default() -> Self {
        Self::Assumed {
            because: "not said".to_owned(),
        }
    }
}

impl fmt::Display for Provenance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (word, text) = match self {
            Self::Measured { readings } => ("measured", readings),
            Self::Stated { document } => ("stated", document),
            Self::Assumed { because } => ("assumed", because),
        };
        write!(f, "{word} ({text})")
    }
}
