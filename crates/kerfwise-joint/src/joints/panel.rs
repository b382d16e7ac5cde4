use super::stack_of;
use crate::{Error, ErrorKind};
use kerfwise_source::Length;
use kerfwise_stack::{Band, Expr, Stack};

/// A solid panel in the grooves of a frame, free to move.
///
/// ```text
/// slide = groove width − panel edge                                  (total clearance at the faces)
/// room  = opening + 2 · groove depth − panel width − swelling        (both edges together)
/// hold  = panel width + shrinking − opening − groove depth           (the least that stays in a groove)
/// ```
///
/// `swelling` is what the panel's width gains until the dampest day, `shrinking` what it gains until the driest: below
/// 0 ([`wood::Movement`](crate::wood::Movement)). Without room the panel bursts the frame. Pushed all the way into one groove, the
/// panel still has to be held by the other. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::joints::PanelInGroove;
/// use kerfwise_joint::wood::{Coefficient, Moisture, Movement, Species};
/// use kerfwise_source::{LengthUnits, MoistureContent, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let cherry = Species::named("black cherry")?;
/// let board = cherry.factor("board").build()?;
/// let percent = |x| Moisture::known(MoistureContent::from_percent(x));
/// let moves = |to| {
///     let panel = Movement { size: 12.inch().into(), from: percent(8.0), to: percent(to) };
///     panel.linear(&Coefficient::tangential(cherry, &board))
/// };
/// let length = |name, x: f64| {
///     Ok::<_, kerfwise_source::Error>(Expr::source(&Source::new(name, x.inch()).rectangular(5.thou()).build()?))
/// };
/// let joint = PanelInGroove {
///     groove_width: length("groove", 0.255)?,
///     panel_edge: length("edge", 0.245)?,
///     opening: length("opening", 11.5)?,
///     groove_depth: length("depth", 0.375)?,
///     panel_width: length("panel", 12.0)?,
///     swelling: moves(12.0)?,
///     shrinking: moves(6.0)?,
///     slide_band: Band::between(0.inch(), 0.02.inch())?,
///     least_hold: 0.0625.inch(),
/// };
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with("slide = groove - edge\n"));
/// let at_estimate = |name| stack.outcome(name).unwrap().evaluate(&[]).map(|x| format!("{x:.3}"));
/// // Swells by 12 · 0.00248 · 4 = 0.119: 11.5 + 0.75 − 12 − 0.119; shrinks by 0.060: 12 − 0.060 − 11.5 − 0.375.
/// assert_eq!(at_estimate(PanelInGroove::ROOM)?, "0.131 in");
/// assert_eq!(at_estimate(PanelInGroove::HOLD)?, "0.065 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct PanelInGroove {
    /// Width of the groove.
    pub groove_width: Expr,
    /// Thickness of the panel's edge.
    pub panel_edge: Expr,
    /// Width of the opening, from stile to stile.
    pub opening: Expr,
    /// Depth of either groove.
    pub groove_depth: Expr,
    /// Width of the panel as it is cut.
    pub panel_width: Expr,
    /// What the panel's width gains until the dampest day.
    pub swelling: Expr,
    /// What the panel's width gains until the driest day: below 0.
    pub shrinking: Expr,
    /// What the total clearance at the faces may be.
    pub slide_band: Band,
    /// The least that has to stay in a groove.
    pub least_hold: Length,
}

impl PanelInGroove {
    /// The name of the total clearance at the faces.
    pub const SLIDE: &'static str = "slide";
    /// The name of the room at the edges.
    pub const ROOM: &'static str = "room";
    /// The name of what stays in the groove that is least filled.
    pub const HOLD: &'static str = "hold";

    /// The stack with these three outcomes. The band of `room` is at least 0.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let at_least = |x| Band::at_least(x).map_err(ErrorKind::Stack);
        let slide = &self.groove_width - &self.panel_edge;
        let room = &self.opening + 2.0 * &self.groove_depth - &self.panel_width - &self.swelling;
        let hold = &self.panel_width + &self.shrinking - &self.opening - &self.groove_depth;
        stack_of(&[
            (Self::SLIDE, slide, self.slide_band),
            (Self::ROOM, room, at_least(Length::default())?),
            (Self::HOLD, hold, at_least(self.least_hold)?),
        ])
    }
}
