use kerfwise_source::Source;
use kerfwise_stack::Expr;

/// The width that a tenon must fill.
#[derive(Debug, Clone)]
pub struct Mortise {
    pub(crate) width: Expr,
    pub(crate) clearance: Clearance,
}

/// Where the wanted clearance is.
#[derive(Debug, Clone)]
pub(crate) enum Clearance {
    /// Inside the reading, which was taken at the wanted feel.
    InTheReading,
    /// To be stated beside a geometric width.
    Apart,
}

impl Mortise {
    /// Measured **at the wanted feel**: opposed wedges are slid together until they feel as the tenon
    /// should, then their width is read. The wanted clearance is inside the reading.
    #[must_use]
    pub fn at_feel(width: &Source) -> Self {
        Self {
            width: Expr::source(width),
            clearance: Clearance::InTheReading,
        }
    }

    /// The **geometric** width, from wall to wall; the wanted total clearance is stated beside it with
    /// [`ShiftedTenon::clearance`](crate::ShiftedTenon::clearance).
    #[must_use]
    pub fn geometric(width: &Source) -> Self {
        Self {
            width: Expr::source(width),
            clearance: Clearance::Apart,
        }
    }

    /// Adds a further error of the width: the feel of the wedges, the caliper's own error, the spread
    /// from mortise to mortise.
    #[must_use]
    pub fn with(mut self, error: &Source) -> Self {
        self.width = self.width + Expr::source(error);
        self
    }

    /// The width as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.width
    }
}
