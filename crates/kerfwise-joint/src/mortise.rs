use crate::{Cuts, Error, Kerf};
use kerfwise_source::{Length, Source};
use kerfwise_stack::Expr;

/// The width that a tenon must fill.
#[derive(Debug, Clone)]
pub struct Mortise {
    width: Expr,
    wanted: Wanted,
}

/// Where the wanted clearance is.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Wanted {
    /// Inside the reading, which was taken at the wanted feel.
    InTheReading,
    /// To be stated beside a geometric width.
    Apart,
}

/// Opposed tapered wedges, slid together in the mortise until they feel as the tenon should.
#[derive(Debug, Clone)]
pub struct Wedges {
    /// Thickness of both together when their ends are level.
    pub closed: Source,
    /// How far one is slid over the other from there.
    pub slide: Source,
    /// Slope of each wedge: 16 for 1 in 16.
    pub one_in: f64,
}

/// A hollow chisel that stands askew in its spindle, and is pushed in again and again along the mortise.
#[derive(Debug, Clone)]
pub struct HollowChisel {
    /// Side of the square chisel.
    pub chisel: Source,
    /// Its twist out of line with the mortise.
    pub twist: Source,
    /// From one push to the next, along the mortise.
    pub spacing: Length,
}

impl Mortise {
    fn geometric_width(width: Expr) -> Self {
        Self {
            width,
            wanted: Wanted::Apart,
        }
    }

    /// Measured **at the wanted feel**: opposed wedges are slid together until they feel as the tenon
    /// should, then their width is read. The wanted clearance is inside the reading.
    #[must_use]
    pub fn at_feel(width: &Source) -> Self {
        Self {
            width: Expr::source(width),
            wanted: Wanted::InTheReading,
        }
    }

    /// Measured at the wanted feel, by how far opposed wedges slide.
    ///
    /// ```text
    /// width = closed + slide / one_in
    /// ```
    ///
    /// The wanted clearance is inside the reading. A slide read to ±1/32 in makes ±0.002 in of width at 1 in 16.
    /// Walls that a tight gauge bows apart read too wide; take that off with a source of negative estimate
    /// ([`with`](Self::with)). Source: geometry.
    ///
    /// # Errors
    ///
    /// When the slope is not steeper than 1 in 1 and flatter than 1 in 1000.
    ///
    /// ```
    /// use kerfwise_joint::{Mortise, Wedges};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let closed = Source::new("closed", 0.25.inch()).build()?;
    /// let slide = Source::new("slide", 2.inch()).rectangular((1.0 / 32.0).inch()).build()?;
    /// let mortise = Mortise::by_wedges(&Wedges { closed, slide, one_in: 16.0 })?;
    /// // 0.25 + 2/16 = 0.375 in.
    /// assert_eq!(mortise.expr().to_string(), "closed + slide / 16");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn by_wedges(wedges: &Wedges) -> Result<Self, Error> {
        let one_in = wedges.one_in;
        if !(1.0..=1000.0).contains(&one_in) {
            return Err(Error::recipe(format!(
                "wedges: the slope must lie from 1 in 1 to 1 in 1000 (got 1 in {one_in})"
            )));
        }
        Ok(Self {
            width: Expr::source(&wedges.closed) + Expr::source(&wedges.slide) / one_in,
            wanted: Wanted::InTheReading,
        })
    }

    /// The **geometric** width, from wall to wall; the wanted [`Clearance`](crate::Clearance) is stated beside it.
    #[must_use]
    pub fn geometric(width: &Source) -> Self {
        Self::geometric_width(Expr::source(width))
    }

    /// Routed in one pass: `bit + run_out`.
    ///
    /// `run_out` is the total run-out (TIR) of the bit in its collet, which the slot is wider by: the bit's axis
    /// circles at half of it. Add with [`with`](Self::with) what one pass differs from the next by. Source:
    /// geometry; common practice, no source.
    ///
    /// ```
    /// use kerfwise_joint::Mortise;
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let bit = Source::new("bit", 0.372.inch()).rectangular(1.thou()).build()?;
    /// let run_out = Source::new("run_out", 2.thou()).rectangular(1.thou()).build()?;
    /// assert_eq!(Mortise::routed_in_one_pass(&bit, &run_out).expr().to_string(), "bit + run_out");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn routed_in_one_pass(bit: &Source, run_out: &Source) -> Self {
        Self::geometric_width(Expr::source(bit) + run_out)
    }

    /// Routed at two settings of the fence, one for each wall.
    ///
    /// ```text
    /// width = bit + run_out + shift + passes.first + passes.second
    /// ```
    ///
    /// `shift` is how far the fence is moved between the walls; the errors of the passes are positive when the
    /// wall is cut further out. Source: geometry; common practice, no source.
    ///
    /// ```
    /// use kerfwise_joint::{Cuts, Mortise};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let bit = Source::new("bit", 0.25.inch()).rectangular(1.thou()).build()?;
    /// let run_out = Source::new("run_out", 2.thou()).build()?;
    /// let shift = Source::new("shift", 0.123.inch()).rectangular(2.thou()).build()?;
    /// let passes = Cuts::alike("pass", |s| s.normal(1.thou()))?;
    /// let mortise = Mortise::routed_in_two_settings(&bit, &run_out, &shift, &passes);
    /// // 0.25 + 0.002 + 0.123 = 0.375 in.
    /// assert_eq!(mortise.expr().to_string(), "bit + run_out + shift + pass.first + pass.second");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn routed_in_two_settings(
        bit: &Source,
        run_out: &Source,
        shift: &Source,
        passes: &Cuts,
    ) -> Self {
        Self::geometric_width(Expr::source(bit) + run_out + shift + &passes.first + &passes.second)
    }

    /// Pushed out with a hollow chisel that stands askew.
    ///
    /// ```text
    /// width = chisel · (cos twist + |sin twist|) − 2 · spacing · |sin twist| · cos twist
    /// ```
    ///
    /// A square that is twisted leaves walls like a saw's teeth. Their hollows are `chisel · (cos + |sin|)` apart,
    /// wider than the chisel; their ridges, which the tenon feels, stand out from the hollows by
    /// `spacing · sin · cos` on each side. Pushed close together (spacing under half of the chisel) the mortise
    /// is wider than the chisel, spaced out it is narrower. The stack is not affine. Source: geometry.
    ///
    /// The spacing must be less than the chisel, or wood is left standing between the pushes.
    ///
    /// # Errors
    ///
    /// When the spacing is not from 0 up to the estimate of the chisel.
    ///
    /// ```
    /// use kerfwise_joint::{HollowChisel, Mortise};
    /// use kerfwise_source::{AngleUnits, LengthUnits, Source};
    ///
    /// let chisel = Source::new("chisel", 0.375.inch()).build()?;
    /// let twist = Source::new("twist", 0.degrees()).rectangular(0.5.degrees()).build()?;
    /// let mortise = Mortise::hollow_chisel(&HollowChisel { chisel, twist, spacing: 0.25.inch() })?;
    /// assert_eq!(
    ///     mortise.expr().to_string(),
    ///     "chisel * (cos(twist) + abs(sin(twist))) - 0.5 in * (abs(sin(twist)) * cos(twist))",
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn hollow_chisel(push: &HollowChisel) -> Result<Self, Error> {
        let HollowChisel {
            chisel,
            twist,
            spacing,
        } = push;
        let side = chisel.estimate().raw();
        if !(0.0..=side).contains(&spacing.to_inches()) {
            return Err(Error::recipe(format!(
                "hollow chisel: the spacing must lie from 0 to the chisel's side of {} (got {spacing}); \
                 wider apart, wood is left standing between the pushes",
                chisel.estimate()
            )));
        }
        let twist = Expr::source(twist);
        let (sine, cosine) = (twist.sin().abs(), twist.cos());
        let hollows = chisel * (&cosine + &sine);
        Ok(Self::geometric_width(
            hollows - Expr::constant(*spacing * 2.0) * (sine * cosine),
        ))
    }

    /// Chopped by hand to two gauged lines: `pins + walls.first + walls.second`.
    ///
    /// `pins` is the distance of the gauge's pins; the errors of the walls are independent, and positive when the
    /// wall is cut beyond the line. Where the tenon is gauged with the same pins, use one source for both. Source
    /// of the arithmetic: common practice, no source.
    ///
    /// ```
    /// use kerfwise_joint::{Cuts, Mortise};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let pins = Source::new("pins", 0.375.inch()).build()?;
    /// let walls = Cuts::alike("wall", |s| s.normal(4.thou()))?;
    /// assert_eq!(Mortise::chopped(&pins, &walls).expr().to_string(), "pins + wall.first + wall.second");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn chopped(pins: &Source, walls: &Cuts) -> Self {
        Self::geometric_width(Expr::source(pins) + &walls.first + &walls.second)
    }

    /// A groove sawn in one pass: `kerf`.
    ///
    /// With a tongue cut by the same cutter ([`ShiftedTenon`](crate::ShiftedTenon)), what the kerf is off by counts twice in the
    /// fit: the tongue is thinner and the groove wider. Source: geometry.
    ///
    /// ```
    /// use kerfwise_joint::{Clearance, Kerf, Mortise, ShiftedTenon, Travel};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let cutter = Kerf::from_source(&Source::new("cutter", 0.25.inch()).rectangular(1.thou()).build()?);
    /// let slack = Clearance::total(&Source::new("slack", 0.inch()).build()?);
    /// let groove = Mortise::sawn_in_one_pass(&cutter);
    /// let stack = ShiftedTenon::new(Travel::of(0.5.inch())?, cutter, groove).clearance(&slack).stack()?;
    /// assert!(stack.to_string().starts_with("fit = travel - cutter - cutter + slack\n"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn sawn_in_one_pass(kerf: &Kerf) -> Self {
        Self::geometric_width(kerf.expr().clone())
    }

    /// A slot sawn at two settings, the slot of a bridle joint: its waste is inside.
    ///
    /// ```text
    /// width = travel + kerf + seating.second − seating.first
    /// ```
    ///
    /// `travel` is how far the jig is moved between the cuts; a seating is positive when the work stands off the jig. With
    /// a tongue cut by the same blade, what the kerf is off by counts twice in the fit. Source: geometry.
    ///
    /// ```
    /// use kerfwise_joint::{Cuts, Kerf, Mortise};
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let kerf = Kerf::from_source(&Source::new("kerf", 0.125.inch()).build()?);
    /// let travel = Source::new("slot_travel", 0.125.inch()).build()?;
    /// let seating = Cuts::alike("slot_seat", |s| s.normal(1.thou()))?;
    /// let slot = Mortise::sawn_at_two_settings(&travel, &kerf, Some(&seating));
    /// assert_eq!(slot.expr().to_string(), "slot_travel + kerf + slot_seat.second - slot_seat.first");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn sawn_at_two_settings(travel: &Source, kerf: &Kerf, seating: Option<&Cuts>) -> Self {
        let width = Expr::source(travel) + kerf.expr();
        Self::geometric_width(match seating {
            Some(Cuts { first, second }) => width + second - first,
            None => width,
        })
    }

    /// Walls that lean: the tenon feels the narrowest place between the mouth and its own tip.
    ///
    /// ```text
    /// width at the narrowest = width at the mouth − max(0, reach · (tan first + tan second))
    /// ```
    ///
    /// `reach` is how far the tenon goes in; an angle is positive when its wall leans inwards with depth. The
    /// stack is not affine. Source: geometry.
    ///
    /// ```
    /// use kerfwise_joint::Mortise;
    /// use kerfwise_source::{AngleUnits, LengthUnits, Source};
    ///
    /// let width = Source::new("width", 0.375.inch()).build()?;
    /// let angle = |name| Source::new(name, 0.degrees()).normal(0.5.degrees()).build();
    /// let mortise = Mortise::geometric(&width).leaning(1.25.inch(), &angle("near")?, &angle("far")?);
    /// assert_eq!(
    ///     mortise.expr().to_string(),
    ///     "width - max(0 in, 1.25 in * (tan(near) + tan(far)))",
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn leaning(mut self, reach: Length, first: &Source, second: &Source) -> Self {
        let slope = Expr::source(first).tan() + Expr::source(second).tan();
        let closing = Expr::constant(reach) * slope;
        self.width = self.width - Expr::constant(Length::default()).max(&closing);
        self
    }

    /// Walls that bow along the length of the mortise: a stiff tenon as long as the mortise is felt where they come
    /// closest.
    ///
    /// ```text
    /// width between the bows = width at the ends − max(0, bow first) − max(0, bow second)
    /// ```
    ///
    /// A bow is how far the middle of a wall stands inwards from the line between its ends; below zero the wall is
    /// hollow, and the tenon lies on its ends. A cheek does not bend, so that a hollow wall makes no room for a
    /// bow across from it. For a width that was taken at the ends; wedges in the middle have felt the bow already. The
    /// stack is not affine. Source: geometry.
    ///
    /// ```
    /// use kerfwise_joint::Mortise;
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let width = Source::new("width", 0.375.inch()).build()?;
    /// let bow = |name, thou: f64| Source::new(name, thou.thou()).normal(1.thou()).build();
    /// let mortise = Mortise::geometric(&width).bowed(&bow("near", 2.0)?, &bow("far", -3.0)?);
    /// assert_eq!(mortise.expr().to_string(), "width - max(0 in, near) - max(0 in, far)");
    /// let narrowest = mortise.expr().evaluate(&|s| s.estimate().raw());
    /// assert_eq!(format!("{narrowest:.4}"), "0.3730");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn bowed(mut self, first: &Source, second: &Source) -> Self {
        let none = Expr::constant(Length::default());
        for bow in [first, second] {
            self.width = self.width - none.max(&Expr::source(bow));
        }
        self
    }

    /// Adds a further error of the width: the feel of the wedges, the caliper's own error, the spread
    /// from mortise to mortise, walls that a tight gauge bows apart.
    #[must_use]
    pub fn with(mut self, error: &Source) -> Self {
        self.width = self.width + Expr::source(error);
        self
    }

    /// The width as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.width
    }

    pub(crate) fn wanted(&self) -> Wanted {
        self.wanted
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length, value};
    use kerfwise_numeric::float;
    use kerfwise_source::{Angle, AngleUnits, LengthUnits};

    fn angle(name: &str, estimate: Angle) -> Source {
        let source = Source::new(name, estimate).rectangular(0.01.degrees());
        source.build().unwrap()
    }

    fn punched(twist: Angle, spacing: f64) -> Mortise {
        let push = HollowChisel {
            chisel: length("chisel", 0.375.inch()),
            twist: angle("twist", twist),
            spacing: spacing.inch(),
        };
        Mortise::hollow_chisel(&push).unwrap()
    }

    /// Growth of the hollows, w (cos + sin − 1): geometry, computed independently to four digits.
    #[test]
    fn a_twisted_chisel_pushed_close_together_cuts_wide() {
        for (degrees, growth) in [(0.25, 0.0016), (0.5, 0.0033), (1.0, 0.0065)] {
            let width = value(punched(degrees.degrees(), 0.0).expr());
            // Half of the last digit.
            assert!((width - 0.375 - growth).abs() < 0.00005);
        }
        // Either way of twisting is the same; half a chisel apart, ridges and hollows cancel (to second order).
        let either = |x: f64| value(punched(x.degrees(), 0.25).expr());
        assert!((either(0.5) - either(-0.5)).abs() < 1e-15);
        // What is left is w (1 − cos φ)(sin φ − 1) ≈ −w φ²/2 = 1.4e-5 in at half a degree.
        assert!((value(punched(0.5.degrees(), 0.1875).expr()) - 0.375).abs() < 2e-5);
        assert!(either(0.5) < 0.375);
    }

    #[test]
    fn sensitivities_of_a_twisted_chisel_are_those_of_the_pencil() {
        let mortise = punched(1.degrees(), 0.25);
        let (sine, cosine) = float::sin_cos(1.degrees().to_radians());
        // d/dφ: w (cos − sin) − 2 s cos 2φ.
        let slope = 0.375 * (cosine - sine) - 0.5 * (cosine * cosine - sine * sine);
        assert!((derivative(mortise.expr(), "twist") - slope).abs() < 1e-14);
        assert!((derivative(mortise.expr(), "chisel") - (cosine + sine)).abs() < 1e-14);
    }

    #[test]
    fn leaning_walls_narrow_a_mortise_and_never_widen_it() {
        let leaning = |a: f64, b: f64| {
            let (a, b) = (angle("a", a.degrees()), angle("b", b.degrees()));
            Mortise::geometric(&length("width", 0.375.inch())).leaning(1.25.inch(), &a, &b)
        };
        assert!((value(leaning(-1.0, 0.5).expr()) - 0.375).abs() < 1e-15);
        // 1.25 · tan 0.5° = 0.0109 in.
        assert!((value(leaning(1.0, -0.5).expr()) - (0.375 - 0.01091)).abs() < 5e-6);
        // d/da: −1.25 / cos² a.
        let cosine = float::cos(1.0.degrees().to_radians());
        let by_hand = -1.25 / (cosine * cosine);
        assert!((derivative(leaning(1.0, -0.5).expr(), "a") - by_hand).abs() < 1e-13);
    }

    #[test]
    fn every_error_of_a_routed_or_chopped_mortise_counts_once() {
        let passes = Cuts::alike("pass", |s| s.normal(1.thou())).unwrap();
        let (bit, run_out) = (length("bit", 0.25.inch()), length("run_out", 2.thou()));
        let shift = length("shift", 0.123.inch());
        let routed = Mortise::routed_in_two_settings(&bit, &run_out, &shift, &passes);
        let chopped = Mortise::chopped(&length("pins", 0.375.inch()), &passes);
        for (mortise, names) in [
            (
                routed,
                &["bit", "run_out", "shift", "pass.first", "pass.second"][..],
            ),
            (chopped, &["pins", "pass.first", "pass.second"][..]),
        ] {
            for name in names {
                assert!((derivative(mortise.expr(), name) - 1.0).abs() < 1e-15);
            }
        }
        let wedges = Wedges {
            closed: length("closed", 0.25.inch()),
            slide: length("slide", 2.inch()),
            one_in: 16.0,
        };
        let mortise = Mortise::by_wedges(&wedges).unwrap();
        assert!((derivative(mortise.expr(), "slide") - 1.0 / 16.0).abs() < 1e-15);
    }

    /// Bridle, tongue and groove: tongue and slot by one blade.
    #[test]
    fn a_kerf_in_tongue_and_slot_counts_twice() {
        use crate::{Clearance, ShiftedTenon, Travel};
        let kerf = Kerf::from_source(&length("kerf", 0.125.inch()));
        let seats = |name: &str| Cuts::alike(name, |s| s.normal(1.thou())).unwrap();
        let slot_travel = length("slot_travel", 0.125.inch());
        let slot = Mortise::sawn_at_two_settings(&slot_travel, &kerf, Some(&seats("slot")));
        let none = Clearance::total(&length("clearance", 0.inch()));
        let fit = |mortise: Mortise| {
            let joint = ShiftedTenon::new(Travel::of(0.375.inch()).unwrap(), kerf.clone(), mortise);
            joint
                .seating(seats("tongue"))
                .clearance(&none)
                .fit()
                .unwrap()
        };
        for (name, by_hand) in [
            ("travel", 1.0),
            ("kerf", -2.0),
            ("slot_travel", -1.0),
            ("slot.first", 1.0),
            ("slot.second", -1.0),
            ("tongue.second", 1.0),
        ] {
            assert!(
                (derivative(&fit(slot.clone()), name) - by_hand).abs() < 1e-15,
                "{name}"
            );
        }
        let groove = fit(Mortise::sawn_in_one_pass(&kerf));
        assert!((derivative(&groove, "kerf") + 2.0).abs() < 1e-15);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let push = |spacing| HollowChisel {
            chisel: length("chisel", 0.375.inch()),
            twist: angle("twist", 0.degrees()),
            spacing,
        };
        let message = Mortise::hollow_chisel(&push(0.5.inch()))
            .unwrap_err()
            .to_string();
        assert!(
            message.contains("from 0 to the chisel's side of 0.375 in (got 0.5 in)"),
            "{message}"
        );
        assert!(Mortise::hollow_chisel(&push(f64::NAN.inch())).is_err());
        for one_in in [0.0, 0.5, 1e4, f64::NAN] {
            let (closed, slide) = (length("closed", 0.25.inch()), length("slide", 2.inch()));
            assert!(
                Mortise::by_wedges(&Wedges {
                    closed,
                    slide,
                    one_in
                })
                .is_err()
            );
        }
    }
}
