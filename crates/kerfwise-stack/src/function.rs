use kerfwise_source::Dimension;
use std::fmt;
use std::sync::Arc;

/// Which way a function goes when one of its arguments grows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Monotone {
    /// Never down.
    Increasing,
    /// Never up.
    Decreasing,
    /// Not known, or both.
    Unknown,
}

/// What is declared about a Rust function that stands in an expression: its dimensions, which way
/// it goes in each argument, and whether it is smooth. The library cannot check these facts, and
/// the worst case relies on them.
///
/// ```
/// use kerfwise_source::Dimension;
/// use kerfwise_stack::{Facts, Monotone};
///
/// // Deflection of a fence: grows with the force (a pure number here), in inches.
/// let facts = Facts::giving(Dimension::LENGTH)
///     .argument(Dimension::NUMBER, Monotone::Increasing)
///     .smooth();
/// assert_eq!(facts.arguments(), &[(Dimension::NUMBER, Monotone::Increasing)]);
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Facts {
    dimension: Dimension,
    arguments: Vec<(Dimension, Monotone)>,
    is_smooth: bool,
}

impl Facts {
    /// A function whose value has this dimension. Without [`smooth`](Self::smooth) it may have kinks.
    #[must_use]
    pub fn giving(dimension: Dimension) -> Self {
        Self {
            dimension,
            arguments: Vec::new(),
            is_smooth: false,
        }
    }

    /// The next argument: its dimension, and which way the function goes in it.
    #[must_use]
    pub fn argument(mut self, dimension: Dimension, monotone: Monotone) -> Self {
        self.arguments.push((dimension, monotone));
        self
    }

    /// It has continuous derivatives wherever it is defined.
    #[must_use]
    pub fn smooth(mut self) -> Self {
        self.is_smooth = true;
        self
    }

    /// The dimension of the value.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }

    /// The declared arguments, in order.
    #[must_use]
    pub fn arguments(&self) -> &[(Dimension, Monotone)] {
        &self.arguments
    }

    /// Whether it was declared smooth.
    #[must_use]
    pub fn is_smooth(&self) -> bool {
        self.is_smooth
    }
}

/// What computes an opaque node: arguments and value are plain numbers in raw units.
pub type OpaqueFunction = Arc<dyn Fn(&[f64]) -> f64 + Send + Sync>;

/// A Rust function as a node.
pub(crate) struct Function {
    pub(crate) name: String,
    pub(crate) facts: Facts,
    pub(crate) compute: OpaqueFunction,
}

impl Function {
    /// The value; NaN where it is not defined, never infinite.
    pub(crate) fn value(&self, arguments: &[f64]) -> f64 {
        if arguments.iter().any(|x| x.is_nan()) {
            return f64::NAN;
        }
        let value = (self.compute)(arguments);
        if value.is_finite() { value } else { f64::NAN }
    }
}

impl fmt::Debug for Function {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Function")
            .field("name", &self.name)
            .field("facts", &self.facts)
            .finish_non_exhaustive()
    }
}
