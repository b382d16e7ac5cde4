use crate::adjustment::set_in;
use crate::{Adjustment, Cuts, Tenon};
use kerfwise_source::Source;
use kerfwise_stack::Expr;

/// A tenon sawn by hand to the two lines of a mortise gauge.
///
/// ```text
/// tenon  = pins + lines.first + lines.second
/// middle = offset + (pins + lines.second − lines.first) / 2
/// ```
///
/// `pins` is the distance of the gauge's pins, `offset` that from the reference face to the near pin. The errors
/// of the two lines are independent, and positive when wood is left outside the line; `first` is the line
/// near the reference face. Stock thickness does not enter. Where the pins were set to the chisel or to
/// the mortise itself, use one source for both ([`Mortise::chopped`](crate::Mortise::chopped)): what it is
/// off by then cancels. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::{Clearance, Cuts, HandTenon, Mortise, TenonFit};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let pins = Source::new("pins", 0.375.inch()).rectangular(5.thou()).build()?;
/// let slip = Source::new("slip", 2.thou()).build()?;
/// let lines = Cuts::alike("line", |s| s.normal(6.thou()))?;
/// let walls = Cuts::alike("wall", |s| s.normal(4.thou()))?;
/// let tenon = HandTenon::new(&pins, lines).tenon();
/// let stack = TenonFit::new(tenon, Mortise::chopped(&pins, &walls))
///     .clearance(&Clearance::total(&slip))
///     .stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit = pins + line.first + line.second - (pins + wall.first + wall.second) + slip\n"
/// ));
/// // Both are made to one gauge: its error cancels, and √(6² + 6² + 4² + 4²) = 10.2 thou are left.
/// let fit = stack.outcome("fit").unwrap().root_sum_of_squares(Default::default())?;
/// assert_eq!(format!("{:.4}", fit.standard_uncertainty), "0.0102 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
#[must_use]
pub struct HandTenon {
    pins: Expr,
    lines: Cuts,
    offset: Option<Expr>,
}

impl HandTenon {
    /// From the distance of the pins and the errors of sawing to each line.
    pub fn new(pins: &Source, lines: Cuts) -> Self {
        Self {
            pins: Expr::source(pins),
            lines,
            offset: None,
        }
    }

    /// The distance from the reference face to the near pin, for the step between the faces.
    pub fn offset(mut self, offset: &Source) -> Self {
        self.offset = Some(Expr::source(offset));
        self
    }

    /// The tenon.
    #[must_use]
    pub fn tenon(&self) -> Tenon {
        let Cuts { first, second } = &self.lines;
        let tenon = Tenon::of_thickness(&self.pins + first + second)
            .with_adjustment(set_in(&self.pins).map(Adjustment::Pins));
        match &self.offset {
            Some(offset) => tenon.with_middle(offset + (&self.pins + second - first) / 2.0),
            None => tenon,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_source::LengthUnits;

    #[test]
    fn each_line_counts_once() {
        let lines = Cuts::alike("line", |s| s.normal(6.thou())).unwrap();
        let tenon = HandTenon::new(&length("pins", 0.375.inch()), lines)
            .offset(&length("offset", 0.1875.inch()))
            .tenon();
        let by_hand = [
            ("pins", 1.0, 0.5),
            ("line.first", 1.0, -0.5),
            ("line.second", 1.0, 0.5),
        ];
        for (name, thickness, middle) in by_hand {
            // Exact: the coefficients are powers of 2.
            assert!(
                (derivative(tenon.thickness(), name) - thickness).abs() < 1e-15,
                "{name}"
            );
            assert!(
                (derivative(tenon.middle().unwrap(), name) - middle).abs() < 1e-15,
                "{name}"
            );
        }
        assert!((derivative(tenon.middle().unwrap(), "offset") - 1.0).abs() < 1e-15);
    }
}
