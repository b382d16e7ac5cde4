use super::stack_of;
use crate::Error;
use kerfwise_source::Source;
use kerfwise_stack::{Band, Expr, Stack};

/// A box joint of many fingers, cut notch by notch over a pin.
///
/// Each notch is set over the pin to place the next, so what a step is off by stays in all that follow. The two parts
/// are slid along each other until the tightest place on the left and the tightest on the right share what there is:
///
/// ```text
/// left(k)  = k · pitch₁ − (k − 1) · pitch₂ + Σ first steps 1..k − Σ second steps 1..k−1 − notch
/// right(k) = k · pitch₂ − k · pitch₁ + Σ second steps 1..k − Σ first steps 1..k − notch
/// fit      = max left(k) + max right(k)
/// ```
///
/// for each finger k of the second part that goes into a notch of the first. The fit is positive when tight: it is
/// what the worst pair of flanks has to be squeezed by, total. A finger is pitch minus notch, so the notch counts
/// twice. Cut on one jig (`pitch` the same for both), a wrong pitch counts once, however many the fingers; cut on two,
/// their difference adds up, finger by finger. Errors of the steps add up like a drunkard's walk. Since the fit is a
/// largest value, the stack is not affine. Source of the arithmetic: geometry.
///
/// ```
/// use kerfwise_joint::joints::BoxJoint;
/// use kerfwise_source::{Event, LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).event(Event::cut()).build();
/// let pitch = Expr::source(&length("pitch", 0.5)?);
/// let joint = BoxJoint {
///     fingers: 2,
///     pitch: [pitch.clone(), pitch],
///     notch: (&length("notch", 0.2505)?).into(),
///     step: length("step", 0.0)?,
///     band: Band::at_most(2.thou())?,
/// };
/// let stack = joint.stack()?;
/// let fit = stack.outcome(BoxJoint::FIT).unwrap();
/// assert_eq!(
///     fit.expr().to_string(),
///     "max(pitch + step#1 - notch, 2 * pitch - pitch + (step#1 + step#2) - step#3 - notch) \
///      + max(pitch - pitch + (step#3 - step#1) - notch, 2 * pitch - 2 * pitch + (step#3 + step#4 - (step#1 + step#2)) - notch)",
/// );
/// // Without errors of the steps: pitch − 2 · notch = 0.5 − 0.501.
/// assert_eq!(format!("{:.4}", fit.evaluate(&[])?), "-0.0010 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct BoxJoint {
    /// How many fingers of the second part go into notches of the first, 1 to 64.
    pub fingers: u32,
    /// From the pin to the cutter, notch to notch: of the jig of the first part, and of that of the second. The
    /// same expression twice for one jig.
    pub pitch: [Expr; 2],
    /// Width of a notch.
    pub notch: Expr,
    /// What a step is off by: how the notch sits on the pin. Drawn anew for each.
    pub step: Source,
    /// What the fit may be: up to how much squeeze the joint goes together.
    pub band: Band,
}

impl BoxJoint {
    /// The name of the outcome.
    pub const FIT: &'static str = "fit";

    /// The fit of the whole joint, as an expression: positive is tight.
    ///
    /// # Errors
    ///
    /// When there are no fingers, or more than 64.
    pub fn fit(&self) -> Result<Expr, Error> {
        let fingers = self.fingers;
        if !(1..=64).contains(&fingers) {
            return Err(Error::recipe(format!(
                "box joint: the number of fingers must lie from 1 to 64 (got {fingers})"
            )));
        }
        let [pitch_1, pitch_2] = &self.pitch;
        let times = |k: u32, pitch: &Expr| match k {
            1 => pitch.clone(),
            _ => f64::from(k) * pitch,
        };
        let step = |k: u32| Expr::source(&self.step).redraw(self.step.event(), k);
        // Draws 1 to n are those of the first part, n + 1 to 2n those of the second.
        let mut first = step(1);
        let mut second = step(fingers + 1);
        let mut left = times(1, pitch_1) + &first - &self.notch;
        let mut right = pitch_2 - pitch_1 + (&second - &first) - &self.notch;
        for k in 2..=fingers {
            first = first + step(k);
            let ahead = times(k, pitch_1) - times(k - 1, pitch_2);
            left = left.max(&(ahead + &first - &second - &self.notch));
            second = second + step(fingers + k);
            let ahead = times(k, pitch_2) - times(k, pitch_1);
            right = right.max(&(ahead + (&second - &first) - &self.notch));
        }
        Ok(left + right)
    }

    /// The stack: outcome `fit`.
    ///
    /// # Errors
    ///
    /// As [`fit`](Self::fit), or when the stack is refused.
    pub fn stack(&self) -> Result<Stack, Error> {
        stack_of(&[(Self::FIT, self.fit()?, self.band)])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length, value};
    use kerfwise_source::{Event, LengthUnits};

    fn joint(fingers: u32, pitch: [Expr; 2], step_sd: f64) -> BoxJoint {
        let step = Source::new("step", 0.inch()).normal(step_sd.thou());
        BoxJoint {
            fingers,
            pitch,
            notch: Expr::source(&length("notch", 0.2505.inch())),
            step: step.event(Event::cut()).build().unwrap(),
            band: Band::at_most(2.thou()).unwrap(),
        }
    }

    #[test]
    fn one_jig_forgives_a_wrong_pitch_and_two_do_not() {
        let pitch = Expr::source(&length("pitch", 0.5.inch()));
        // A single finger is smooth: its sensitivities are pitch once, notch twice.
        let one = joint(1, [pitch.clone(), pitch.clone()], 1.0).fit().unwrap();
        assert!((derivative(&one, "pitch") - 1.0).abs() < 1e-15);
        assert!((derivative(&one, "notch") + 2.0).abs() < 1e-15);
        // Ten fingers on one jig whose pitch is 1 thou too long: 0.501 − 0.501 = 0.
        let long = Expr::source(&length("long", 0.501.inch()));
        let ten = joint(10, [long.clone(), long.clone()], 1.0).fit().unwrap();
        assert!(value(&ten).abs() < 1e-14);
        // The first part on the long jig, the second on the true one: left is widest at the last finger,
        // 10 · 0.501 − 9 · 0.5, right at the first, 0.5 − 0.501: 0.51 − 0.001 − 0.501 = 8 thou tight.
        let two = joint(10, [long, pitch], 1.0).fit().unwrap();
        assert!((value(&two) - 0.008).abs() < 1e-14);
    }

    #[test]
    fn more_fingers_go_together_less_often() {
        let pitch = Expr::source(&Source::new("pitch", 0.5.inch()).build().unwrap());
        let chance = |fingers| {
            let stack = joint(fingers, [pitch.clone(), pitch.clone()], 0.6)
                .stack()
                .unwrap();
            let answer = stack.monte_carlo(20_000).unwrap();
            answer.joint.unwrap().value
        };
        let [one, five, fifteen] = [1, 5, 15].map(chance);
        // Far more than the standard error of 20,000 trials, 0.0035.
        assert!(
            one > five + 0.05 && five > fifteen + 0.05,
            "{one} {five} {fifteen}"
        );
    }

    #[test]
    fn the_number_of_fingers_is_bounded() {
        let pitch = Expr::source(&length("pitch", 0.5.inch()));
        for fingers in [0, 65, u32::MAX] {
            let error = joint(fingers, [pitch.clone(), pitch.clone()], 1.0)
                .stack()
                .unwrap_err();
            assert!(error.to_string().contains("from 1 to 64"), "{error}");
        }
        assert!(joint(64, [pitch.clone(), pitch], 1.0).stack().is_ok());
    }
}
