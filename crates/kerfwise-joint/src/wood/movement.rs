use super::{Moisture, Species};
use crate::{Error, ErrorKind};
use kerfwise_source::{MoistureContent, Source};
use kerfwise_stack::Expr;

/// By how much of its size a part changes per percent of moisture content.
///
/// The direction is that in which the size is measured. Across the board's thickness it is radial for a
/// flatsawn board and tangential for a quartersawn one; across its width the other way round.
///
/// `factor` below is the source of [`Species::factor`]: how much this board moves, with the table as 1.
#[derive(Debug, Clone)]
pub struct Coefficient(Expr);

impl Coefficient {
    /// A coefficient that one source describes, in `/%MC`.
    #[must_use]
    pub fn from_source(coefficient: &Source) -> Self {
        Self(Expr::source(coefficient))
    }

    /// Along the radius of the tree, across the rings: `factor * C_R`.
    #[must_use]
    pub fn radial(species: &Species, factor: &Source) -> Self {
        Self(factor * Expr::constant(species.radial()))
    }

    /// Along the rings: `factor * C_T`.
    #[must_use]
    pub fn tangential(species: &Species, factor: &Source) -> Self {
        Self(factor * Expr::constant(species.tangential()))
    }

    /// Between the two, at an angle to the radius: 0° is radial, 90° is tangential.
    ///
    /// ```text
    /// factor · (C_R · cos²(angle) + C_T · sin²(angle))
    /// ```
    ///
    /// Rotation of a small strain, shear left out (from memory, no source at hand). The angle is a source:
    /// it can be read off the end of the board to some 5 or 10 degrees.
    ///
    /// ```
    /// use kerfwise_joint::wood::{Coefficient, Species};
    /// use kerfwise_source::{AngleUnits, Source};
    ///
    /// let ash = Species::named("white ash")?;
    /// let board = ash.factor("board").build()?;
    /// let rings = Source::new("rings", 45.degrees()).rectangular(10.degrees()).build()?;
    /// assert_eq!(
    ///     Coefficient::at_ring_angle(ash, &rings, &board).expr().to_string(),
    ///     "board * ([0.00169 /%MC] * square(cos(rings)) + [0.00274 /%MC] * square(sin(rings)))",
    /// );
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn at_ring_angle(species: &Species, angle: &Source, factor: &Source) -> Self {
        let angle = Expr::source(angle);
        let radial = Expr::constant(species.radial()) * angle.cos().square();
        let tangential = Expr::constant(species.tangential()) * angle.sin().square();
        Self(factor * (radial + tangential))
    }

    /// The coefficient as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.0
    }
}

/// A part that goes from one moisture content to another.
///
/// The change is positive when the part grows. The size is that at the first moisture content; for the
/// movement of a fit the nominal size will do: what a tenon is off by moves by a hundredth of itself.
#[derive(Debug, Clone)]
pub struct Movement {
    /// Size of the part, in the direction of the coefficient.
    pub size: Expr,
    /// Moisture content at which it has the size.
    pub from: Moisture,
    /// Moisture content to which it goes.
    pub to: Moisture,
}

impl Movement {
    /// The change in size, by the linear formula.
    ///
    /// ```text
    /// change = size · coefficient · (to − from)
    /// ```
    ///
    /// Wood Handbook (FPL-GTR-190), chapter 13, eq. 13-2, for moisture contents from 6 to 14 %.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::OutOfRange`] when the estimate of a moisture content lies outside 6 to 14 %. What it may be
    /// off by is not looked at: one percent beyond, the formula is off by some 2 % of the change.
    ///
    /// ```
    /// use kerfwise_joint::wood::{Coefficient, Moisture, Movement, Species};
    /// use kerfwise_source::{LengthUnits, MoistureContent, Source};
    /// use kerfwise_stack::Stack;
    ///
    /// let reading = |name, x| Source::new(name, MoistureContent::from_percent(x)).build();
    /// let meter = Moisture::pin_meter("meter").build()?;
    /// let shop = Moisture::from_source(&reading("shop", 11.0)?).with(&meter);
    /// let home = Moisture::from_source(&reading("home", 8.0)?).with(&meter);
    /// let oak = Species::named("red oak group")?;
    /// let board = oak.factor("board").build()?;
    /// let tenon = Movement { size: 0.375.inch().into(), from: shop, to: home };
    /// let change = tenon.linear(&Coefficient::tangential(oak, &board))?;
    /// let stack = Stack::builder().outcome_without_band("change", &change).build()?;
    /// assert!(stack.to_string().starts_with(
    ///     "change = 0.375 in * (board * [0.00369 /%MC]) * (home + meter - (shop + meter))\n"
    /// ));
    /// // 0.375 · 0.00369 · (8 − 11): thinner by 4 thou. What the meter is off by has cancelled.
    /// let change = stack.outcome("change").unwrap();
    /// assert_eq!(format!("{:.4}", change.evaluate(&[])?), "-0.0042 in");
    /// assert_eq!(change.evaluate(&[("meter", MoistureContent::from_percent(2.0).into())])?, change.evaluate(&[])?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn linear(&self, coefficient: &Coefficient) -> Result<Expr, Error> {
        self.check(
            "the linear formula holds from 6 to 14 %MC",
            6.0,
            14.0,
            "take the shrinkage formula there",
        )?;
        Ok(&self.size * coefficient.expr() * (self.to.expr() - self.from.expr()))
    }

    /// The change in size, by the formula for larger changes, from the shrinkage in percent (a pure number).
    ///
    /// ```text
    /// change = size · (to − from) / (30 · 100 / shrinkage − 30 + from)
    /// ```
    ///
    /// Wood Handbook (FPL-GTR-190), chapter 13, eq. 13-3 (the formula from memory, its limits read; it gives
    /// the handbook's example to 0.4 %), for moisture contents up to 30 %, where wood is taken to begin to
    /// shrink. Woods that begin at 22 % ([`Species::zero_shrinkage_at`]) shrink faster below than it says.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::OutOfRange`] when the estimate of a moisture content lies outside 0 to 30 %, or that of
    /// the shrinkage outside 0 to 25 %.
    pub fn from_shrinkage(&self, shrinkage: impl Into<Expr>) -> Result<Expr, Error> {
        const FORMULA: &str = "the shrinkage formula holds from 0 to 30 %MC";
        self.check(FORMULA, 0.0, 30.0, "above 30 %MC wood does not move")?;
        let shrinkage = shrinkage.into();
        let percent = shrinkage.evaluate(&|source| source.estimate().raw());
        if !(percent > 0.0 && percent <= 25.0) {
            return Err(ErrorKind::OutOfRange(format!(
                "shrinkage must lie above 0 and up to 25 % (got {percent}); it is a plain number of percent"
            ))
            .into());
        }
        let unit = Expr::constant(MoistureContent::from_percent(1.0));
        let below = (3000.0 / shrinkage - 30.0) * unit + self.from.expr();
        Ok(&self.size * ((self.to.expr() - self.from.expr()) / below))
    }

    fn check(&self, formula: &str, lowest: f64, highest: f64, way_out: &str) -> Result<(), Error> {
        for (moment, moisture) in [("first", &self.from), ("last", &self.to)] {
            let percent = moisture.estimate();
            if !(lowest..=highest).contains(&percent) {
                return Err(ErrorKind::OutOfRange(format!(
                    "{moment} moisture content: {formula} (got {percent} %MC); {way_out}"
                ))
                .into());
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, value};
    use kerfwise_source::{AngleUnits, LengthUnits, Quantity};

    fn percent(x: f64) -> Moisture {
        Moisture::known(MoistureContent::from_percent(x))
    }

    fn of(size: f64, from: f64, to: f64) -> Movement {
        Movement {
            size: size.inch().into(),
            from: percent(from),
            to: percent(to),
        }
    }

    /// Wood Handbook, chapter 13: the example of white fir, results read in the document.
    #[test]
    fn the_worked_example_of_the_handbook() {
        let fir = Species::named("white fir").unwrap();
        let board = fir.factor("board").build().unwrap();
        let tangential = Coefficient::tangential(fir, &board);
        let inches = value(&of(9.15, 8.0, 11.0).linear(&tangential).unwrap());
        assert_eq!(format!("{inches:.3} {:.3}", 9.15 + inches), "0.067 9.217");
        let metric = Movement {
            size: 232.mm().into(),
            ..of(0.0, 8.0, 11.0)
        };
        let mm = value(&metric.linear(&tangential).unwrap()) * 25.4;
        assert_eq!(format!("{mm:.3} {:.1}", 232.0 + mm), "1.705 233.7");
        // By eq. 13-3 with 7 %: 232 · 3 / (3000/7 − 30 + 8) = 1.712 mm, worked out with a pencil.
        let mm = value(&metric.from_shrinkage(7.0).unwrap()) * 25.4;
        assert_eq!(format!("{mm:.3}"), "1.712");
    }

    /// Hard maple, tangential: computed independently from both formulas.
    #[test]
    fn the_two_formulas_agree_within_their_common_range() {
        let maple = Species::named("hard maple").unwrap();
        let board = maple.factor("board").build().unwrap();
        let c = Coefficient::tangential(maple, &board);
        let (_, shrinkage) = maple.shrinkage().unwrap();
        for (from, to, linear, other) in [(6.0, 14.0, 2.82, 2.87), (8.0, 12.0, 1.41, 1.42)] {
            let movement = of(100.0, from, to);
            let percent = (
                value(&movement.linear(&c).unwrap()),
                value(&movement.from_shrinkage(shrinkage).unwrap()),
            );
            // Half of the last digit.
            assert!((percent.0 - linear).abs() <= 0.005 && (percent.1 - other).abs() <= 0.005);
        }
    }

    /// The table of `docs/wood-movement.md`, to its printed digits.
    #[test]
    fn a_tenon_of_three_eighths_moves_as_the_document_says() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/wood-movement.md");
        let text = std::fs::read_to_string(path).unwrap();
        let is_row = |line: &&str| line.contains("radial | ") || line.contains("tangential | ");
        let rows: Vec<&str> = text.lines().filter(is_row).collect();
        assert_eq!(rows.len(), 9);
        for row in rows {
            let cells: Vec<&str> = row.split('|').map(str::trim).collect();
            let (wood, direction) = cells[1].split_once(", ").unwrap();
            let name = if wood == "red oak" {
                "red oak group"
            } else {
                wood
            };
            let species = Species::named(name).unwrap();
            let c = match direction {
                "radial" => species.radial(),
                _ => species.tangential(),
            };
            for (percent, printed) in [(1.0, cells[2]), (2.0, cells[3]), (4.0, cells[4])] {
                assert_eq!(
                    format!("{:.1}", 375.0 * c.raw() * percent),
                    printed,
                    "{row}"
                );
            }
        }
    }

    #[test]
    fn moisture_outside_the_range_of_a_formula_is_refused() {
        let fir = Species::named("white fir").unwrap();
        let board = fir.factor("board").build().unwrap();
        let c = Coefficient::radial(fir, &board);
        assert!(of(1.0, 6.0, 14.0).linear(&c).is_ok());
        assert_eq!(
            of(1.0, 5.9, 14.0).linear(&c).unwrap_err().to_string(),
            "first moisture content: the linear formula holds from 6 to 14 %MC (got 5.9 %MC); \
             take the shrinkage formula there"
        );
        assert!(of(1.0, 6.0, 14.1).linear(&c).is_err());
        assert!(of(1.0, 6.0, f64::NAN).linear(&c).is_err());
        assert!(of(1.0, 0.0, 30.0).from_shrinkage(7.0).is_ok());
        assert!(of(1.0, 0.0, 30.5).from_shrinkage(7.0).is_err());
        for shrinkage in [0.0, -1.0, 26.0, f64::NAN] {
            assert!(of(1.0, 8.0, 11.0).from_shrinkage(shrinkage).is_err());
        }
    }

    #[test]
    fn sensitivities_are_those_of_the_pencil() {
        let source = |name: &str, estimate: Quantity| Source::new(name, estimate).build().unwrap();
        let moisture = |name: &str, x| source(name, MoistureContent::from_percent(x).into());
        let (before, after) = (moisture("before", 12.0), moisture("after", 7.0));
        let ash = Species::named("white ash").unwrap();
        let board = ash.factor("board").build().unwrap();
        let rings = source("rings", 30.degrees().into());
        let movement = Movement {
            size: 3.inch().into(),
            from: Moisture::from_source(&before),
            to: Moisture::from_source(&after),
        };
        let change = movement
            .linear(&Coefficient::at_ring_angle(ash, &rings, &board))
            .unwrap();
        // cos² 30° = 3/4, sin² 30° = 1/4; d/dθ (C_R cos² + C_T sin²) = (C_T − C_R) sin 2θ, sin 60° = √3/2.
        let c = 0.00169 * 0.75 + 0.00274 * 0.25;
        let slope = (0.00274 - 0.00169) * 0.75_f64.sqrt();
        for (name, by_hand) in [
            ("before", -3.0 * c),
            ("after", 3.0 * c),
            ("board", 3.0 * c * -5.0),
            ("rings", 3.0 * slope * -5.0),
        ] {
            let d = derivative(&change, name);
            // Rounding of a few operations.
            assert!((d - by_hand).abs() < 1e-14, "{name}: {d} {by_hand}");
        }
        // Quartersawn and flatsawn are the ends.
        for (degrees, end) in [(0.0, ash.radial()), (90.0, ash.tangential())] {
            let rings = source("rings", degrees.degrees().into());
            let c = Coefficient::at_ring_angle(ash, &rings, &board);
            assert!((value(c.expr()) - end.raw()).abs() < 1e-17);
        }
        // By shrinkage: 3 (7 − 12) / (3000/6 − 30 + 12) = −15/482; slopes 3/482 and −3/482 + 15/482².
        let change = movement.from_shrinkage(6.0).unwrap();
        assert!((value(&change) + 15.0 / 482.0).abs() < 1e-15);
        assert!((derivative(&change, "after") - 3.0 / 482.0).abs() < 1e-15);
        let before = -3.0 / 482.0 + 15.0 / (482.0 * 482.0);
        assert!((derivative(&change, "before") - before).abs() < 1e-15);
    }
}
