use super::stack_of;
use crate::{Error, ErrorKind};
use kerfwise_source::Length;
use kerfwise_stack::{Band, Expr, Stack};

/// A joint with two dowels: the fit in each hole, whether both dowels find theirs, the step, the depth.
///
/// ```text
/// fit_rail    = dowel − hole in the rail
/// fit_leg     = dowel − hole in the leg
/// spacing_off = |spacing in the rail − spacing in the leg| + fit_rail + fit_leg
/// face_step   = centre in the rail − centre in the leg
/// end_room    = depth in the rail + depth in the leg − dowel length
/// ```
///
/// The fits are positive when tight. The spacing is off by less than what the holes are too wide by when `spacing_off`
/// is below 0: each dowel may stand aside by half of its clearance in either part, and there are two. With tight dowels it is
/// what the wood has to give. Centres are measured from the reference faces; the step is positive when the rail
/// stands proud. Source of the arithmetic: geometry; common practice, no source.
///
/// ```
/// use kerfwise_joint::joints::Dowels;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let length = |name, x: f64| {
///     Ok::<_, kerfwise_source::Error>(Expr::source(&Source::new(name, x.inch()).rectangular(1.thou()).build()?))
/// };
/// let joint = Dowels {
///     dowel: length("dowel", 0.375)?,
///     hole_rail: length("hole_rail", 0.377)?,
///     hole_leg: length("hole_leg", 0.377)?,
///     spacing_rail: length("spacing_rail", 1.502)?,
///     spacing_leg: length("spacing_leg", 1.5)?,
///     centre_rail: length("centre_rail", 0.375)?,
///     centre_leg: length("centre_leg", 0.375)?,
///     depth_rail: length("depth_rail", 1.0625)?,
///     depth_leg: length("depth_leg", 1.0625)?,
///     length: length("length", 2.0)?,
///     fit_band: Band::within(3.thou())?,
///     step_band: Band::within(4.thou())?,
/// };
/// let stack = joint.stack()?;
/// let at_estimate = |name| stack.outcome(name).unwrap().evaluate(&[]).map(|x| format!("{x:.4}"));
/// assert_eq!(
///     stack.outcome(Dowels::SPACING).unwrap().expr().to_string(),
///     "abs(spacing_rail - spacing_leg) + (dowel - hole_rail) + (dowel - hole_leg)",
/// );
/// // Two thou off, and 2 + 2 thou of clearance: they go in with 2 to spare.
/// assert_eq!(at_estimate(Dowels::SPACING)?, "-0.0020 in");
/// assert_eq!(at_estimate(Dowels::END)?, "0.1250 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Dowels {
    /// Diameter of the dowels.
    pub dowel: Expr,
    /// Diameter of the holes in the rail: bit and run-out.
    pub hole_rail: Expr,
    /// Diameter of the holes in the leg.
    pub hole_leg: Expr,
    /// From one hole to the other in the rail.
    pub spacing_rail: Expr,
    /// From one hole to the other in the leg.
    pub spacing_leg: Expr,
    /// From the rail's reference face to the middle of its holes.
    pub centre_rail: Expr,
    /// From the leg's reference face to the middle of its holes.
    pub centre_leg: Expr,
    /// Depth of a hole in the rail.
    pub depth_rail: Expr,
    /// Depth of a hole in the leg.
    pub depth_leg: Expr,
    /// Length of a dowel.
    pub length: Expr,
    /// What either fit may be.
    pub fit_band: Band,
    /// What the step may be.
    pub step_band: Band,
}

impl Dowels {
    /// The name of the fit in the rail.
    pub const FIT_RAIL: &'static str = "fit_rail";
    /// The name of the fit in the leg.
    pub const FIT_LEG: &'static str = "fit_leg";
    /// The name of the outcome that tells whether both dowels find their holes: below 0 they do.
    pub const SPACING: &'static str = "spacing_off";
    /// The name of the step between the reference faces.
    pub const FACE_STEP: &'static str = "face_step";
    /// The name of the room at the ends of a dowel, both together; below 0 it holds the joint open.
    pub const END: &'static str = "end_room";

    /// The stack with these five outcomes. The band of `spacing_off` is at most 0, that of `end_room` at least 0.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let nought = Length::default();
        let at_most = Band::at_most(nought).map_err(ErrorKind::Stack)?;
        let at_least = Band::at_least(nought).map_err(ErrorKind::Stack)?;
        let fit_rail = &self.dowel - &self.hole_rail;
        let fit_leg = &self.dowel - &self.hole_leg;
        let spacing = (&self.spacing_rail - &self.spacing_leg).abs() + &fit_rail + &fit_leg;
        let step = &self.centre_rail - &self.centre_leg;
        let end = &self.depth_rail + &self.depth_leg - &self.length;
        stack_of(&[
            (Self::FIT_RAIL, fit_rail, self.fit_band),
            (Self::FIT_LEG, fit_leg, self.fit_band),
            (Self::SPACING, spacing, at_most),
            (Self::FACE_STEP, step, self.step_band),
            (Self::END, end, at_least),
        ])
    }
}
