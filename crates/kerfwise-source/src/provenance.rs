/// Where a number came from.
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
