use kerfwise_source::Length;
use kerfwise_stack::{Expr, StackBuilder};

/// The angle between a cut and the face of the work that stands against the jig.
///
/// Positive when the cut runs away from that face: along the length, towards the tip of the tenon; along the
/// width, towards one edge. With blade and jig face leaning the same way it is jig minus blade.
#[derive(Debug, Clone)]
pub struct CutAngle {
    /// Along the length of the tenon: jig face and blade out of square to the table.
    pub lean: Expr,
    /// Along the width of the tenon: jig face not parallel to the way of the jig. Positive when the cut runs away
    /// from the face towards the edge that leads in the first cut.
    pub yaw: Expr,
}

/// The size of the cheeks of a tenon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CheekSize {
    /// From the shoulder to the tip.
    pub length: Length,
    /// From edge to edge.
    pub width: Length,
}

/// How far the two cheeks of a tenon are out of parallel.
///
/// A taper is thickness at the tip minus thickness at the shoulder, and thickness at one edge (that which leads in
/// the first cut) minus that at the other. The thickness of the tenon is then meant in the middle of its cheeks, and it is felt at the
/// fattest of its four corners:
///
/// ```text
/// fattest = thickness + |taper along the length| / 2 + |taper along the width| / 2
/// ```
///
/// That is a largest value, so the fit is not affine. A thickness is measured square to the rail's face; square to
/// the cheeks it is less by a part in 10,000 at half a degree.
///
/// ```
/// use kerfwise_joint::{CheekSize, CutAngle, Mortise, Slant, TenonFit, TurnedTenon};
/// use kerfwise_source::{AngleUnits, LengthUnits, Source};
/// use kerfwise_stack::Expr;
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (distance, stock, mortise) = (length("distance", 0.5625)?, length("stock", 0.75)?, length("mortise", 0.375)?);
/// let jig = Source::new("jig", 0.1.degrees()).rectangular(0.1.degrees()).build()?;
/// let angle = CutAngle { lean: Expr::source(&jig), yaw: Expr::constant(0.degrees()) };
/// // 1-1/4 in long, 3 in wide, both cuts with the same jig.
/// let slant = Slant::turned_over(CheekSize { length: 1.25.inch(), width: 3.inch() }, [&angle, &angle]);
/// let tenon = TurnedTenon::new(&distance, &stock).tenon().with_slant(slant);
/// let stack = TenonFit::new(tenon, Mortise::at_feel(&mortise)).stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit = 2 * distance - stock + (abs(1.25 in * (tan(jig) + tan(jig))) / 2 \
///      + abs(3 in * (tan(0 rad) - tan(0 rad))) / 2) - mortise\n"
/// ));
/// // 2 · 1.25 · tan 0.1° = 0.0044 in of taper, half of which is felt.
/// let taper = stack.outcome(Slant::TAPER_LENGTH).unwrap().evaluate(&[])?;
/// assert_eq!(format!("{taper:.4}"), "0.0044 in");
/// assert_eq!(format!("{:.4}", stack.outcome("fit").unwrap().evaluate(&[])?), "0.0022 in");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Slant {
    taper_length: Expr,
    taper_width: Expr,
    lean: Expr,
    twist: Expr,
}

impl Slant {
    /// The name of the outcome: thickness at the tip minus thickness at the shoulder.
    pub const TAPER_LENGTH: &'static str = "taper_length";
    /// The name of the outcome: thickness at the edge that leads in the first cut minus that at the other.
    pub const TAPER_WIDTH: &'static str = "taper_width";
    /// The name of the outcome: angle by which the whole tenon leans out of the rail's faces.
    pub const LEAN: &'static str = "lean";
    /// The name of the outcome: angle by which the whole tenon is twisted about its length.
    pub const TWIST: &'static str = "twist";

    /// Both cheeks cut off one face ([`ShiftedTenon`](crate::ShiftedTenon)): `cuts` are the far cheek and the
    /// near one.
    ///
    /// ```text
    /// taper_length = length · (tan lean of the far − tan lean of the near)
    /// taper_width  = width · (tan yaw of the far − tan yaw of the near)
    /// lean, twist  = means of the two leans, of the two yaws
    /// ```
    ///
    /// With the same angles at both cuts there is no taper; the tenon leans and is twisted. Source: geometry.
    ///
    /// ```
    /// use kerfwise_joint::{CheekSize, CutAngle, Slant};
    /// use kerfwise_source::{AngleUnits, LengthUnits, Source};
    /// use kerfwise_stack::Expr;
    ///
    /// let jig = Source::new("jig", 0.1.degrees()).rectangular(0.1.degrees()).build()?;
    /// let angle = CutAngle { lean: Expr::source(&jig), yaw: Expr::constant(0.degrees()) };
    /// let size = CheekSize { length: 1.25.inch(), width: 3.inch() };
    /// let slant = Slant::off_one_face(size, [&angle, &angle]);
    /// assert_eq!(slant.taper_length().to_string(), "1.25 in * (tan(jig) - tan(jig))");
    /// assert_eq!(slant.lean().to_string(), "(jig + jig) / 2");
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn off_one_face(size: CheekSize, cuts: [&CutAngle; 2]) -> Self {
        let [far, near] = cuts;
        Self {
            taper_length: Expr::constant(size.length) * (far.lean.tan() - near.lean.tan()),
            lean: (&far.lean + &near.lean) / 2.0,
            taper_width: taper_width(size, cuts),
            twist: twist(cuts),
        }
    }

    /// The work turned over between the cuts ([`TurnedTenon`](crate::TurnedTenon)), about its length, so that the
    /// tip is down both times: `cuts` are the first and the second.
    ///
    /// ```text
    /// taper_length = length · (tan lean of the first + tan lean of the second)
    /// taper_width  = width · (tan yaw of the first − tan yaw of the second)
    /// lean         = (lean of the first − lean of the second) / 2
    /// twist        = (yaw of the first + yaw of the second) / 2
    /// ```
    ///
    /// With the same angles at both cuts, that of the lean makes a double taper and no lean. That of the yaw
    /// makes no taper: turning brings the edge that led to the back, and the cheeks come out parallel, but
    /// twisted. Source: geometry.
    #[must_use]
    pub fn turned_over(size: CheekSize, cuts: [&CutAngle; 2]) -> Self {
        let [first, second] = cuts;
        Self {
            taper_length: Expr::constant(size.length) * (first.lean.tan() + second.lean.tan()),
            lean: (&first.lean - &second.lean) / 2.0,
            taper_width: taper_width(size, cuts),
            twist: twist(cuts),
        }
    }

    /// Thickness at the tip minus thickness at the shoulder.
    #[must_use]
    pub fn taper_length(&self) -> &Expr {
        &self.taper_length
    }

    /// Thickness at the edge that leads in the first cut minus thickness at the other.
    #[must_use]
    pub fn taper_width(&self) -> &Expr {
        &self.taper_width
    }

    /// The angle by which the whole tenon leans out of the rail's faces: positive away from the reference face
    /// towards the tip.
    #[must_use]
    pub fn lean(&self) -> &Expr {
        &self.lean
    }

    /// The angle by which the whole tenon is twisted about its length.
    #[must_use]
    pub fn twist(&self) -> &Expr {
        &self.twist
    }

    /// How much thicker than in the middle the tenon is at its fattest corner.
    #[must_use]
    pub fn fattest(&self) -> Expr {
        self.taper_length.abs() / 2.0 + self.taper_width.abs() / 2.0
    }

    pub(crate) fn outcomes(&self, stack: StackBuilder) -> StackBuilder {
        stack
            .outcome_without_band(Self::TAPER_LENGTH, &self.taper_length)
            .outcome_without_band(Self::TAPER_WIDTH, &self.taper_width)
            .outcome_without_band(Self::LEAN, &self.lean)
            .outcome_without_band(Self::TWIST, &self.twist)
    }
}

// What the yaws make is the same for both methods.

fn taper_width(size: CheekSize, [first, second]: [&CutAngle; 2]) -> Expr {
    Expr::constant(size.width) * (first.yaw.tan() - second.yaw.tan())
}

fn twist([first, second]: [&CutAngle; 2]) -> Expr {
    (&first.yaw + &second.yaw) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length, value};
    use crate::{Mortise, Tenon, TenonFit};
    use kerfwise_numeric::float;
    use kerfwise_source::{AngleUnits, LengthUnits, Source};

    const SIZE: CheekSize = CheekSize {
        length: Length::from_inches(1.25),
        width: Length::from_inches(3.0),
    };

    fn angle(name: &str, degrees: f64) -> Expr {
        let source = Source::new(name, degrees.degrees()).rectangular(0.01.degrees());
        Expr::source(&source.build().unwrap())
    }

    fn cut(name: &str, lean: f64, yaw: f64) -> CutAngle {
        CutAngle {
            lean: angle(&format!("{name}.lean"), lean),
            yaw: angle(&format!("{name}.yaw"), yaw),
        }
    }

    /// Tapers of 1-1/4 in, computed independently to two digits: 0.05° 0.0011, 0.1° 0.0022, 0.25° 0.0055, 0.5° 0.011.
    #[test]
    fn one_setting_makes_no_taper_off_one_face_and_a_double_one_turned_over() {
        for (degrees, single) in [(0.05, 0.0011), (0.1, 0.0022), (0.25, 0.0055), (0.5, 0.0109)] {
            let both = cut("jig", degrees, degrees);
            let one_face = Slant::off_one_face(SIZE, [&both, &both]);
            assert_eq!(value(one_face.taper_length()).to_bits(), 0);
            assert_eq!(value(&one_face.fattest()).to_bits(), 0);
            assert!((value(one_face.lean()) - degrees.degrees().to_radians()).abs() < 1e-15);
            let turned = Slant::turned_over(SIZE, [&both, &both]);
            // Half of the last digit, twice.
            assert!((value(turned.taper_length()) - 2.0 * single).abs() < 1.01e-4);
            assert_eq!(value(turned.taper_width()).to_bits(), 0);
            assert_eq!(value(turned.lean()).to_bits(), 0);
            assert!((value(turned.twist()) - degrees.degrees().to_radians()).abs() < 1e-15);
        }
    }

    #[test]
    fn sensitivities_are_those_of_the_pencil() {
        let (first, second) = (cut("first", 0.3, 0.2), cut("second", -0.1, 0.05));
        let slope = |degrees: f64| {
            let cosine = float::cos(degrees.degrees().to_radians());
            1.0 / (cosine * cosine)
        };
        let turned = Slant::turned_over(SIZE, [&first, &second]);
        let one_face = Slant::off_one_face(SIZE, [&first, &second]);
        for (expr, name, by_hand) in [
            (turned.taper_length(), "first.lean", 1.25 * slope(0.3)),
            (turned.taper_length(), "second.lean", 1.25 * slope(0.1)),
            (one_face.taper_length(), "first.lean", 1.25 * slope(0.3)),
            (one_face.taper_length(), "second.lean", -1.25 * slope(0.1)),
            (turned.taper_width(), "first.yaw", 3.0 * slope(0.2)),
            (one_face.taper_width(), "second.yaw", -3.0 * slope(0.05)),
            (turned.lean(), "second.lean", -0.5),
            (one_face.lean(), "second.lean", 0.5),
        ] {
            // Rounding of a few operations.
            assert!((derivative(expr, name) - by_hand).abs() < 1e-13, "{name}");
        }
    }

    #[test]
    fn the_fattest_corner_is_felt() {
        let slant = Slant::turned_over(SIZE, [&cut("first", -0.3, 0.2), &cut("second", 0.1, 0.05)]);
        let tenon = Tenon::of_thickness(length("tenon", 0.375.inch())).with_slant(slant.clone());
        let fit = TenonFit::new(tenon, Mortise::at_feel(&length("mortise", 0.375.inch())));
        let half = |expr: &Expr| value(expr).abs() / 2.0;
        let by_hand = half(slant.taper_length()) + half(slant.taper_width());
        assert!((value(&fit.fit().unwrap()) - by_hand).abs() < 1e-15 && by_hand > 0.004);
        let stack = fit.stack().unwrap();
        assert!(!stack.outcome("fit").unwrap().is_affine());
        assert!(stack.outcome(Slant::TWIST).is_some());
    }
}
