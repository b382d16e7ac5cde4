use crate::Error;
use kerfwise_source::{Length, Source};
use kerfwise_stack::Expr;

/// How far the rim of a blade goes from side to side in one turn (total indicator reading).
///
/// A plate of its own wobble on a flange of another makes one wobble: both are tilts, and tilts of the same
/// turning thing add like arrows, at the angle in which they were put together.
#[derive(Debug, Clone)]
pub struct RunOut(Expr);

/// A flange that does not run true, which carries a blade of larger radius.
#[derive(Debug, Clone)]
pub struct Flange {
    /// Run-out (TIR) of the flange at its own radius.
    pub run_out: Source,
    /// Radius at which the flange's run-out was read.
    pub radius: Length,
    /// Radius of the blade at its rim.
    pub blade_radius: Length,
    /// The angle between the high spots of flange and plate. Unknown after every change of blade:
    /// rectangular, ±180°.
    pub phase: Source,
}

impl RunOut {
    /// The run-out (TIR) of the plate at its rim, on a flange that runs true; or of both together as read at
    /// the rim on the saw.
    #[must_use]
    pub fn of_plate(plate: &Source) -> Self {
        Self(Expr::source(plate))
    }

    /// The plate's own run-out on a flange with run-out of its own.
    ///
    /// ```text
    /// at the rim = √(plate² + flange² + 2 · plate · flange · cos phase)
    /// flange     = flange's run-out · blade radius / radius
    /// ```
    ///
    /// The stack is not affine. Source: geometry, for small tilts.
    ///
    /// # Errors
    ///
    /// When a radius is not above 0.
    ///
    /// ```
    /// use kerfwise_joint::{Flange, RunOut};
    /// use kerfwise_source::{AngleUnits, LengthUnits, Source};
    /// use kerfwise_stack::Stack;
    ///
    /// let plate = Source::new("plate", 3.thou()).build()?;
    /// let flange = Flange {
    ///     run_out: Source::new("flange", 1.thou()).build()?,
    ///     radius: 1.25.inch(),
    ///     blade_radius: 5.inch(),
    ///     phase: Source::new("phase", 90.degrees()).rectangular(180.degrees()).build()?,
    /// };
    /// let rim = RunOut::of_plate(&plate).on_flange(&flange)?;
    /// let stack = Stack::builder().outcome_without_band("rim", rim.expr()).build()?;
    /// // 1 thou at the flange is 4 at the rim; across 3 of the plate's own that makes 5.
    /// let rim = stack.outcome("rim").unwrap().evaluate(&[])?;
    /// assert_eq!(format!("{rim:.4}"), "0.0050 in");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn on_flange(&self, flange: &Flange) -> Result<Self, Error> {
        let larger = flange.blade_radius / flange.radius;
        if !(flange.radius.to_inches() > 0.0 && larger > 0.0 && larger.is_finite()) {
            return Err(Error::recipe(format!(
                "flange: both radii must be above 0 (got {} for the flange and {} for the blade)",
                flange.radius, flange.blade_radius
            )));
        }
        let carried = Expr::source(&flange.run_out) * larger;
        let crossed = 2.0 * &self.0 * &carried * Expr::source(&flange.phase).cos();
        Ok(Self((self.0.square() + carried.square() + crossed).sqrt()))
    }

    /// The run-out at the rim, as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length, value};
    use kerfwise_numeric::float;
    use kerfwise_source::{AngleUnits, LengthUnits};

    #[test]
    fn run_outs_add_like_arrows() {
        let at = |degrees: f64| {
            let phase = Source::new("phase", degrees.degrees()).rectangular(1.degrees());
            let flange = Flange {
                run_out: length("flange", 1.thou()),
                radius: 1.25.inch(),
                blade_radius: 5.inch(),
                phase: phase.build().unwrap(),
            };
            RunOut::of_plate(&length("plate", 3.thou()))
                .on_flange(&flange)
                .unwrap()
        };
        // 3 + 4 in line, 4 − 3 opposed: rounding, enlarged by the root.
        assert!((value(at(0.0).expr()) - 0.007).abs() < 1e-15);
        assert!((value(at(180.0).expr()) - 0.001).abs() < 1e-15);
        let sixty = at(60.0);
        // √(9 + 16 + 12) = √37; d/dplate = (3 + 4/2)/√37, d/dflange = 4 (4 + 3/2)/√37, d/dphase = −12 sin 60°/√37.
        let root = 37.0_f64.sqrt();
        let sine = float::sin(60.degrees().to_radians());
        for (name, by_hand) in [
            ("plate", 5.0 / root),
            ("flange", 22.0 / root),
            ("phase", -0.012 * sine / root),
        ] {
            assert!(
                (derivative(sixty.expr(), name) - by_hand).abs() < 1e-13,
                "{name}"
            );
        }
    }

    #[test]
    fn a_flange_without_radius_is_refused() {
        let flange = Flange {
            run_out: length("flange", 1.thou()),
            radius: 0.inch(),
            blade_radius: 5.inch(),
            phase: Source::new("phase", 0.degrees()).build().unwrap(),
        };
        let error = RunOut::of_plate(&length("plate", 3.thou()))
            .on_flange(&flange)
            .unwrap_err();
        assert!(
            error
                .to_string()
                .contains("both radii must be above 0 (got 0 in"),
            "{error}"
        );
    }
}
