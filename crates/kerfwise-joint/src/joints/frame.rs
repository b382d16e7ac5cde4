use super::stack_of;
use crate::Error;
use kerfwise_source::{Length, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// Parts that are cut at one setting of a stop.
///
/// What the stop is off by is in all of them; what comes anew with each part is not.
///
/// ```
/// use kerfwise_joint::joints::StopCut;
/// use kerfwise_source::{Event, LengthUnits, Source};
///
/// let rails = StopCut {
///     stop: Source::new("stop", 14.inch()).rectangular(10.thou()).build()?,
///     part: Source::new("rail", 0.inch()).normal(3.thou()).event(Event::piece()).build()?,
/// };
/// let differ = rails.length(1) - rails.length(2);
/// assert_eq!(differ.to_string(), "stop + rail#1 - (stop + rail#2)");
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct StopCut {
    /// The length that the stop is set to, with what the setting is off by.
    pub stop: Source,
    /// What a part differs from that by.
    pub part: Source,
}

impl StopCut {
    /// Length of one of the parts, by number: 1, 2, ...
    #[must_use]
    pub fn length(&self, number: u32) -> Expr {
        let part = Expr::source(&self.part).redraw(self.part.event(), number);
        Expr::source(&self.stop) + part
    }
}

/// A frame of two stiles and two rails.
///
/// ```text
/// width    = left stile + top rail + right stile + 2 · movement
/// taper    = top rail − bottom rail
/// diagonal = √(width² + height² + 2 · width · height · sin rack) − √(width² + height² − 2 · width · height · sin rack)
/// rack     = (lower left − lower right + upper right − upper left) / 4
/// ```
///
/// Rails are counted between their shoulders. `movement` is what the width of one stile gains with moisture
/// ([`wood::Movement`](crate::wood::Movement)), if that is to be counted; the rails' length lies along the grain. `taper` is width at the top minus width at the bottom: rails cut at one stop
/// differ by what comes with each part, and not by what the stop is off by. `diagonal` is the diagonal from lower left to upper
/// right, less the other: 0 when the frame is square. It follows from the mean width, the mean height and the angle between
/// them; that identity holds for every four-sided figure. The angles are what the shoulders at the corners are out of square,
/// positive when the corner is less than a right angle, and a frame that is pulled together settles at their mean.
/// Source of the arithmetic: geometry; that it settles at the mean is assumed.
///
/// ```
/// use kerfwise_joint::joints::{Frame, StopCut};
/// use kerfwise_source::{AngleUnits, Event, LengthUnits, Source};
/// use kerfwise_stack::Band;
///
/// let set = |name, x: f64| Source::new(name, x.inch()).normal(10.thou()).build();
/// let part = |name| Source::new(name, 0.inch()).normal(3.thou()).event(Event::piece()).build();
/// let corner = Source::new("corner", 0.degrees()).normal(0.1.degrees()).event(Event::end()).build()?;
/// let frame = Frame {
///     rails: StopCut { stop: set("rail_stop", 14.0)?, part: part("rail")? },
///     stiles: StopCut { stop: set("stile_stop", 2.0)?, part: part("stile")? },
///     height: 24.inch().into(),
///     movement: None,
///     corner,
///     width_band: Band::within((1.0 / 32.0).inch())?,
///     taper_band: Band::within((1.0 / 64.0).inch())?,
///     diagonal_band: Band::within((1.0 / 16.0).inch())?,
///     wanted_width: 18.inch(),
/// };
/// let stack = frame.stack()?;
/// assert!(stack.to_string().starts_with(
///     "width_off = stile_stop + stile#1 + (rail_stop + rail#1) + (stile_stop + stile#2) - 18 in\n"
/// ));
/// // Width: the stiles' stop twice, the rails' once, three parts: √(20² + 10² + 3 · 3²) = 23 thou.
/// let u = |name| {
///     let answer = stack.outcome(name).unwrap().root_sum_of_squares(Default::default());
///     answer.map(|answer| format!("{:.4}", answer.standard_uncertainty))
/// };
/// assert_eq!(u(Frame::WIDTH)?, "0.0230 in");
/// // Taper: the stop has cancelled; √2 · 3 = 4.2 thou.
/// assert_eq!(u(Frame::TAPER)?, "0.0042 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Frame {
    /// The rails, between their shoulders.
    pub rails: StopCut,
    /// The widths of the stiles.
    pub stiles: StopCut,
    /// Height of the frame.
    pub height: Expr,
    /// What the width of one stile gains with moisture.
    pub movement: Option<Expr>,
    /// What a corner is out of square by. Drawn anew for each.
    pub corner: Source,
    /// The width that is wanted.
    pub wanted_width: Length,
    /// What the width may be off by.
    pub width_band: Band,
    /// What the taper may be.
    pub taper_band: Band,
    /// What the diagonals may differ by.
    pub diagonal_band: Band,
}

impl Frame {
    /// The name of the outcome: width at the top, less the wanted one.
    pub const WIDTH: &'static str = "width_off";
    /// The name of the outcome: width at the top, less that at the bottom.
    pub const TAPER: &'static str = "taper";
    /// The name of the outcome: one diagonal less the other.
    pub const DIAGONAL: &'static str = "diagonal";

    /// The stack: outcomes `width_off`, `taper` and `diagonal`.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let [top, bottom] = [1, 2].map(|k| self.rails.length(k));
        let stile = |k| match &self.movement {
            Some(movement) => self.stiles.length(k) + movement,
            None => self.stiles.length(k),
        };
        let [left, right] = [1, 2].map(stile);
        let width = &left + &top + &right;
        let mean_width = left + (&top + &bottom) / 2.0 + right;
        let wanted = Expr::constant(self.wanted_width);
        stack_of(&[
            (Self::WIDTH, width - wanted, self.width_band),
            (Self::TAPER, top - bottom, self.taper_band),
            (
                Self::DIAGONAL,
                self.diagonal(&mean_width),
                self.diagonal_band,
            ),
        ])
    }

    fn diagonal(&self, width: &Expr) -> Expr {
        let corner = |k| Expr::source(&self.corner).redraw(self.corner.event(), k);
        let [lower_left, lower_right, upper_right, upper_left] = [1, 2, 3, 4].map(corner);
        let rack = (lower_left - lower_right + upper_right - upper_left) / 4.0;
        let squares = width.square() + self.height.square();
        let crossed = 2.0 * width * &self.height * rack.sin();
        (&squares + &crossed).sqrt() - (squares - crossed).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_source::{AngleUnits, Event, LengthUnits};

    fn frame() -> Frame {
        let part = |name: &str| {
            let source = Source::new(name, 0.inch())
                .normal(3.thou())
                .event(Event::piece());
            source.build().unwrap()
        };
        let corner = Source::new("corner", 0.degrees()).normal(0.1.degrees());
        Frame {
            rails: StopCut {
                stop: length("rail_stop", 14.inch()),
                part: part("rail"),
            },
            stiles: StopCut {
                stop: length("stile_stop", 2.inch()),
                part: part("stile"),
            },
            height: Expr::source(&length("height", 24.inch())),
            movement: Some(Expr::source(&length("movement", 0.inch()))),
            corner: corner.event(Event::end()).build().unwrap(),
            wanted_width: 18.inch(),
            width_band: Band::within(0.03.inch()).unwrap(),
            taper_band: Band::within(0.02.inch()).unwrap(),
            diagonal_band: Band::within(0.06.inch()).unwrap(),
        }
    }

    #[test]
    fn what_the_stop_is_off_by_is_in_the_width_and_not_in_the_taper() {
        let stack = frame().stack().unwrap();
        // √(18² + 24²) = 30: d(diagonal)/d(rack) = 2 · 18 · 24 / 30 = 28.8 in per radian, a quarter of it per corner.
        for (outcome, source, by_hand) in [
            (Frame::WIDTH, "rail_stop", 1.0),
            (Frame::WIDTH, "stile_stop", 2.0),
            (Frame::WIDTH, "rail#1", 1.0),
            (Frame::WIDTH, "movement", 2.0),
            (Frame::TAPER, "rail_stop", 0.0),
            (Frame::TAPER, "rail#1", 1.0),
            (Frame::TAPER, "rail#2", -1.0),
            (Frame::DIAGONAL, "corner#1", 7.2),
            (Frame::DIAGONAL, "corner#2", -7.2),
            (Frame::DIAGONAL, "corner#3", 7.2),
            (Frame::DIAGONAL, "corner#4", -7.2),
            (Frame::DIAGONAL, "height", 0.0),
        ] {
            let d = derivative(stack.outcome(outcome).unwrap().expr(), source);
            // Rounding of roots of about 900.
            assert!((d - by_hand).abs() < 1e-11, "{outcome} {source}: {d}");
        }
    }
}
