use crate::{Error, ErrorKind};
use kerfwise_stack::{Band, Expr, Stack};

/// The room beside the narrow edges of a tenon, in a mortise that lies along the grain.
///
/// ```text
/// edge clearance = mortise length − tenon width − movement
/// ```
///
/// Both edges together. The width of the tenon moves across the grain of the rail; the mortise lies
/// along the grain of the leg and does not move. `movement` is what the tenon's width gains
/// ([`Movement`](super::Movement)) from the day it is cut to the dampest day of its life; below zero
/// clearance the tenon splits the leg. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::wood::{Coefficient, EdgeClearance, Moisture, Movement, Species};
/// use kerfwise_source::{LengthUnits, MoistureContent, Source};
/// use kerfwise_stack::Band;
///
/// let oak = Species::named("red oak group")?;
/// let board = oak.factor("board").build()?;
/// let summer = Source::new("summer", MoistureContent::from_percent(12.0)).build()?;
/// let width = Source::new("width", 3.inch()).build()?;
/// let length = Source::new("length", (3.0 + 1.0 / 16.0).inch()).build()?;
/// let movement = Movement {
///     size: 3.inch().into(),
///     from: Moisture::known(MoistureContent::from_percent(8.0)),
///     to: Moisture::from_source(&summer),
/// };
/// let joint = EdgeClearance {
///     mortise_length: (&length).into(),
///     tenon_width: (&width).into(),
///     movement: movement.linear(&Coefficient::tangential(oak, &board))?,
///     band: Band::at_least(0.inch())?,
/// };
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with(
///     "edge_clearance = length - width - 3 in * (board * [0.00369 /%MC]) * (summer - 8 %MC)\n"
/// ));
/// // 1/16 in less 3 · 0.00369 · 4 = 0.0443 in.
/// let clearance = stack.outcome(EdgeClearance::CLEARANCE).unwrap().evaluate(&[])?;
/// assert_eq!(format!("{clearance:.4}"), "0.0182 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct EdgeClearance {
    /// Length of the mortise, along the grain of the leg.
    pub mortise_length: Expr,
    /// Width of the tenon as it is cut, across the grain of the rail.
    pub tenon_width: Expr,
    /// What the tenon's width gains afterwards.
    pub movement: Expr,
    /// What the clearance may be, both edges together.
    pub band: Band,
}

impl EdgeClearance {
    /// The name of the outcome.
    pub const CLEARANCE: &'static str = "edge_clearance";

    /// The clearance of both edges together, as an expression.
    #[must_use]
    pub fn expr(&self) -> Expr {
        &self.mortise_length - &self.tenon_width - &self.movement
    }

    /// The stack: outcome `edge_clearance`.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        Stack::builder()
            .outcome(Self::CLEARANCE, &self.expr(), self.band)
            .build()
            .map_err(|error| ErrorKind::Stack(error).into())
    }
}
