use crate::{Error, ErrorKind};
use kerfwise_source::Source;
use kerfwise_stack::Expr;

/// The rail gains or loses moisture between its first and its second cut.
///
/// The first cheek moves with the wood between it and the reference face; the second is cut where the
/// jig stands. The tenon therefore changes by
///
/// ```text
/// distance · coefficient · change
/// ```
///
/// with the distance from the reference face to the **first** cheek counted positive when the first
/// cheek is the far one (the usual order: the jig then moves the work towards the blade), negative
/// when it is the near one. Formula: Wood Handbook (FPL-GTR-190), chapter 13, eq. 13-2, for moisture
/// contents from 6 to 14 %.
#[derive(Debug, Clone)]
pub struct MoistureBetweenCuts {
    /// Signed distance from the reference face to the cheek that is cut first.
    pub first_cheek: Source,
    /// Dimensional change per percent of moisture content, in the direction of the thickness.
    pub coefficient: Source,
    /// Change of moisture content from first to second cut; a gain is positive.
    pub change: Source,
}

impl MoistureBetweenCuts {
    /// A change larger than from one end of the formula's range to the other is refused.
    pub(crate) fn check(&self) -> Result<(), Error> {
        const LARGEST: f64 = 14.0 - 6.0;
        let change = self.change.estimate();
        if change.raw().abs() <= LARGEST {
            return Ok(());
        }
        Err(ErrorKind::OutOfRange(format!(
            "moisture: the change between the cuts must lie from -{LARGEST} to {LARGEST} %MC, since its formula \
             holds from 6 to 14 %MC (got {change})"
        ))
        .into())
    }

    pub(crate) fn expr(&self) -> Expr {
        Expr::source(&self.first_cheek)
            * Expr::source(&self.coefficient)
            * Expr::source(&self.change)
    }
}
