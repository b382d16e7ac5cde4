use super::stack_of;
use crate::Error;
use kerfwise_source::Source;
use kerfwise_stack::{Band, Expr, Stack};

/// A half-lap: two parts that cross, each with half of its thickness cut away.
///
/// ```text
/// top_step    = upper cut + lower cut − upper stock
/// bottom_step = lower stock − upper cut − lower cut
/// ```
///
/// The upper part is cut from below, the lower part from above. Both steps are positive when the lower part stands
/// proud of the upper one. Cut both at one height of the blade and use one source for both depths: it counts twice.
/// How the parts fill each other's notch in width is a [`TenonFit`](crate::TenonFit), the width of the one part being the
/// tenon. Source of the arithmetic: geometry.
///
/// ```
/// use kerfwise_joint::joints::HalfLap;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let height = Expr::source(&length("height", 0.375)?);
/// let joint = HalfLap {
///     upper_stock: length("upper", 0.75)?,
///     lower_stock: length("lower", 0.75)?,
///     upper_cut: height.clone(),
///     lower_cut: height,
///     band: Band::within(4.thou())?,
/// };
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with("top_step = height + height - upper\n"));
/// // 0.375 + 0.375 − 0.75 = 0; the height counts twice, the stock once: 3 thou at the worst.
/// let step = stack.outcome(HalfLap::TOP).unwrap();
/// assert_eq!(step.evaluate(&[])?, 0.inch().into());
/// assert!((step.worst_case(Default::default())?.upper.bound.raw() - 0.003).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct HalfLap {
    /// Thickness of the upper part.
    pub upper_stock: Source,
    /// Thickness of the lower part.
    pub lower_stock: Source,
    /// Depth of the cut in the upper part.
    pub upper_cut: Expr,
    /// Depth of the cut in the lower part.
    pub lower_cut: Expr,
    /// What either step may be.
    pub band: Band,
}

impl HalfLap {
    /// The name of the outcome on top.
    pub const TOP: &'static str = "top_step";
    /// The name of the outcome below.
    pub const BOTTOM: &'static str = "bottom_step";

    /// The stack: outcomes `top_step` and `bottom_step`.
    ///
    /// # Errors
    ///
    /// When the stack is refused: two sources of one name, a band of the wrong dimension, ...
    pub fn stack(&self) -> Result<Stack, Error> {
        let cut = &self.upper_cut + &self.lower_cut;
        let top = &cut - &self.upper_stock;
        let bottom = &self.lower_stock - cut;
        stack_of(&[
            (Self::TOP, top, self.band),
            (Self::BOTTOM, bottom, self.band),
        ])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_source::LengthUnits;

    #[test]
    fn one_height_counts_twice() {
        let height = Expr::source(&length("height", 0.375.inch()));
        let joint = HalfLap {
            upper_stock: length("upper", 0.75.inch()),
            lower_stock: length("lower", 0.76.inch()),
            upper_cut: height.clone(),
            lower_cut: height,
            band: Band::within(4.thou()).unwrap(),
        };
        let stack = joint.stack().unwrap();
        for (outcome, source, by_hand) in [
            (HalfLap::TOP, "height", 2.0),
            (HalfLap::TOP, "upper", -1.0),
            (HalfLap::BOTTOM, "height", -2.0),
            (HalfLap::BOTTOM, "lower", 1.0),
        ] {
            let expr = stack.outcome(outcome).unwrap().expr();
            assert!(
                (derivative(expr, source) - by_hand).abs() < 1e-15,
                "{outcome} {source}"
            );
        }
        // A lower part 10 thou thicker stands 10 thou proud below: 0.76 − 0.75.
        let below = stack
            .outcome(HalfLap::BOTTOM)
            .unwrap()
            .evaluate(&[])
            .unwrap();
        assert!((below.raw() - 0.01).abs() < 1e-15);
    }
}
