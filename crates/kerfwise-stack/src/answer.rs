use kerfwise_source::Quantity;

/// A number with its numerical error: a bound, or a standard error where the docs say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounded<T> {
    /// The number.
    pub value: T,
    /// How far the true value may be from it (raw unit of the value).
    pub error: f64,
}

/// Three numbers that add to one: below the band, inside it, above it.
///
/// For a fit deviation (tenon minus what the mortise wants) below is too loose, above too tight.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Chance {
    /// Below the lower limit.
    pub below: f64,
    /// From the lower limit to the upper limit, both included.
    pub inside: f64,
    /// Above the upper limit.
    pub above: f64,
}

/// An interval with the probability that it holds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CoverageInterval {
    /// Lower end.
    pub lower: Quantity,
    /// Upper end.
    pub upper: Quantity,
    /// Coverage probability.
    pub level: f64,
}
