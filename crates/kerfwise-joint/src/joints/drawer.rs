use super::stack_of;
use crate::Error;
use kerfwise_stack::{Band, Expr, Stack};

/// A drawer in its opening.
///
/// ```text
/// side_gap = opening width − drawer width                         (both sides together)
/// top_gap  = opening height − side height − swelling
/// ```
///
/// `swelling` is what the height of the sides gains until the dampest day ([`wood::Movement`](crate::wood::Movement)): a side of
/// 4 in moves as much as the whole gap. Common slack is 1/32 to 1/16 in at each side (common practice, no source), so twice
/// that in `side_gap`.
///
/// ```
/// use kerfwise_joint::joints::Drawer;
/// use kerfwise_joint::wood::{Coefficient, Moisture, Movement, Species};
/// use kerfwise_source::{LengthUnits, MoistureContent, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let maple = Species::named("hard maple")?;
/// let board = maple.factor("board").build()?;
/// let percent = |x| Moisture::known(MoistureContent::from_percent(x));
/// let side = Movement { size: 4.inch().into(), from: percent(8.0), to: percent(12.0) };
/// let length = |name, x: f64| {
///     Ok::<_, kerfwise_source::Error>(Expr::source(&Source::new(name, x.inch()).rectangular(5.thou()).build()?))
/// };
/// let joint = Drawer {
///     opening_width: length("opening", 12.0)?,
///     drawer_width: length("drawer", 11.90625)?,
///     opening_height: length("height", 4.0625)?,
///     side_height: length("side", 4.0)?,
///     swelling: side.linear(&Coefficient::tangential(maple, &board))?,
///     side_band: Band::between((1.0 / 16.0).inch(), 0.125.inch())?,
///     top_band: Band::at_least(0.inch())?,
/// };
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with("side_gap = opening - drawer\n"));
/// let at_estimate = |name| stack.outcome(name).unwrap().evaluate(&[]).map(|x| format!("{x:.4}"));
/// // 12 − 11-29/32 = 3/32; 1/16 − 4 · 0.00353 · 4 = 0.0625 − 0.0565.
/// assert_eq!(at_estimate(Drawer::SIDE)?, "0.0938 in");
/// assert_eq!(at_estimate(Drawer::TOP)?, "0.0060 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Drawer {
    /// Width of the opening.
    pub opening_width: Expr,
    /// Width of the drawer over its sides.
    pub drawer_width: Expr,
    /// Height of the opening.
    pub opening_height: Expr,
    /// Height of the sides as they are cut.
    pub side_height: Expr,
    /// What the height of the sides gains until the dampest day.
    pub swelling: Expr,
    /// What the gap may be, both sides together.
    pub side_band: Band,
    /// What the gap above the sides may be.
    pub top_band: Band,
}

impl Drawer {
    /// The name of the gap of both sides together.
    pub const SIDE: &'static str = "side_gap";
    /// The name of the gap above the sides.
    pub const TOP: &'static str = "top_gap";

    /// The stack: outcomes `side_gap` and `top_gap`.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let side = &self.opening_width - &self.drawer_width;
        let top = &self.opening_height - &self.side_height - &self.swelling;
        stack_of(&[
            (Self::SIDE, side, self.side_band),
            (Self::TOP, top, self.top_band),
        ])
    }
}
