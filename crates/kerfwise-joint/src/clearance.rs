use kerfwise_source::{Quantity, Source};
use kerfwise_stack::Expr;

/// The wanted room between tenon and mortise.
///
/// A tenon in the middle of its mortise has two glue lines, one at each cheek. Whoever states a
/// clearance says which is meant, the total or that of one glue line: they differ by a factor of 2.
///
/// ```
/// use kerfwise_joint::Clearance;
/// use kerfwise_source::{LengthUnits, Source};
///
/// let glue = Source::new("glue", 2.thou()).build()?;
/// assert_eq!(Clearance::total(&glue).expr().to_string(), "glue");
/// assert_eq!(Clearance::per_glue_line(&glue).expr().to_string(), "2 * glue");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Clearance {
    total: Expr,
    stated: Quantity,
}

impl Clearance {
    /// The total clearance: mortise width minus tenon thickness.
    #[must_use]
    pub fn total(clearance: &Source) -> Self {
        Self {
            total: Expr::source(clearance),
            stated: clearance.estimate(),
        }
    }

    /// The clearance of one glue line, of which a joint has two.
    #[must_use]
    pub fn per_glue_line(clearance: &Source) -> Self {
        Self {
            total: 2.0 * Expr::source(clearance),
            stated: clearance.estimate(),
        }
    }

    /// The total clearance as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.total
    }

    /// The number as it was stated.
    pub(crate) fn stated(&self) -> Quantity {
        self.stated
    }
}
