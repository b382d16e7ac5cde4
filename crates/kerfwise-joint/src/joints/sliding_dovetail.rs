use super::stack_of;
use crate::{Error, ErrorKind};
use kerfwise_source::{Length, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// A sliding dovetail: a tail that is pushed along its socket.
///
/// ```text
/// fit      = tail − (bottom − 2 · depth · tan slope) + |taper| / 2
/// end_room = depth − tail length
/// ```
///
/// Tail and socket are compared where the shoulder closes: the tail at its root, the socket at its mouth, which is the
/// width at its bottom less the slope of both flanks. The fit is positive when tight. A socket that is too shallow by e is
/// too wide at the mouth by 2 · e · tan slope: half of e at 14°. The tail is cut with the same bit, so the flanks are
/// parallel. `taper` is how much wider the tail is at one end than at the other, less the same of the socket: `tail` and
/// `bottom` are meant halfway along, and the tightest place is felt. Source of the arithmetic: geometry.
///
/// ```
/// use kerfwise_joint::joints::SlidingDovetail;
/// use kerfwise_source::{AngleUnits, LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let slope = Source::new("slope", 14.degrees()).build()?;
/// let joint = SlidingDovetail {
///     tail: Expr::source(&length("tail", 0.375)?),
///     tail_length: Expr::source(&length("tail_length", 0.365)?),
///     bottom: Expr::source(&length("bottom", 0.562)?),
///     depth: Expr::source(&length("depth", 0.375)?),
///     slope,
///     taper: Expr::constant(0.inch()),
///     band: Band::within(4.thou())?,
/// };
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit = tail - (bottom - 2 * depth * tan(slope)) + abs(0 in) / 2\n"
/// ));
/// // 0.375 − (0.562 − 2 · 0.375 · 0.24933) = 0.375 − 0.375.
/// let fit = stack.outcome(SlidingDovetail::FIT).unwrap().evaluate(&[])?;
/// assert!(fit.raw().abs() < 5e-5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct SlidingDovetail {
    /// Width of the tail at its root.
    pub tail: Expr,
    /// Length of the tail from its root.
    pub tail_length: Expr,
    /// Width of the socket at its bottom: the bit, and how far its fence was moved.
    pub bottom: Expr,
    /// Depth of the socket.
    pub depth: Expr,
    /// Slope of a flank, from square to the face.
    pub slope: Source,
    /// How much more the tail tapers along its run than the socket.
    pub taper: Expr,
    /// What the fit may be.
    pub band: Band,
}

impl SlidingDovetail {
    /// The name of the fit.
    pub const FIT: &'static str = "fit";
    /// The name of the room between the end of the tail and the bottom of the socket.
    pub const END: &'static str = "end_room";

    /// The stack: outcomes `fit` and `end_room`, which must be at least 0.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let nought = Length::default();
        let at_least = Band::at_least(nought).map_err(ErrorKind::Stack)?;
        let mouth = &self.bottom - 2.0 * &self.depth * Expr::source(&self.slope).tan();
        let fit = &self.tail - mouth + self.taper.abs() / 2.0;
        stack_of(&[
            (Self::FIT, fit, self.band),
            (Self::END, &self.depth - &self.tail_length, at_least),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_numeric::float;
    use kerfwise_source::{AngleUnits, LengthUnits};

    #[test]
    fn depth_counts_by_the_slope_of_both_flanks() {
        let slope = Source::new("slope", 14.degrees()).rectangular(0.1.degrees());
        let joint = SlidingDovetail {
            tail: Expr::source(&length("tail", 0.375.inch())),
            tail_length: Expr::source(&length("tail_length", 0.365.inch())),
            bottom: Expr::source(&length("bottom", 0.562.inch())),
            depth: Expr::source(&length("depth", 0.375.inch())),
            slope: slope.build().unwrap(),
            taper: Expr::source(&length("taper", 2.thou())),
            band: Band::within(4.thou()).unwrap(),
        };
        let stack = joint.stack().unwrap();
        let fit = stack.outcome(SlidingDovetail::FIT).unwrap();
        let (sine, cosine) = float::sin_cos(14.degrees().to_radians());
        for (source, by_hand) in [
            ("tail", 1.0),
            ("bottom", -1.0),
            // 0.4987: "14°: 0.5 e".
            ("depth", 2.0 * sine / cosine),
            ("slope", 0.75 / (cosine * cosine)),
            ("taper", 0.5),
        ] {
            assert!(
                (derivative(fit.expr(), source) - by_hand).abs() < 1e-13,
                "{source}"
            );
        }
    }
}
