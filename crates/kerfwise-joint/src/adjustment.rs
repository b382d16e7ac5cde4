use crate::{Error, LooseTenon, TenonFit};
use kerfwise_source::{Length, LengthUnits, Quantity, Source};
use kerfwise_stack::{Expr, Stack};

/// What is set for a way of cutting, so that the fit comes out right: a source, whose estimate is the setting.
///
/// How often each counts in the tenon is in the table of `docs/joints.md`: the travel, the pins and the slip once, the
/// distance twice, the height twice the other way.
///
/// ```
/// use kerfwise_joint::{Adjustment, Mortise, TenonFit, TurnedTenon};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (distance, stock, mortise) = (length("distance", 0.5)?, length("stock", 0.75)?, length("mortise", 0.375)?);
/// let joint = TenonFit::new(TurnedTenon::new(&distance, &stock).tenon(), Mortise::at_feel(&mortise));
/// let set = joint.adjustment().unwrap();
/// assert!(matches!(set, Adjustment::Distance(_)));
/// // Half of stock and tenon together: (0.75 + 0.375) / 2.
/// assert_eq!(set.nominal(&joint.stack()?)?, 0.5625.inch());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub enum Adjustment {
    /// How far the jig is moved over between the two cuts, as a dial shows it ([`ShiftedTenon`](crate::ShiftedTenon)).
    Travel(Source),
    /// How thick the spacer is that does the same ([`Travel::by_spacer`](crate::Travel::by_spacer)).
    Spacer(Source),
    /// From the face of the jig to the tenon's side of the cut ([`TurnedTenon`](crate::TurnedTenon)).
    Distance(Source),
    /// From the table to the stacked cutter ([`StackedCutterTenon`](crate::StackedCutterTenon)).
    Height(Source),
    /// From pin to pin of the mortise gauge ([`HandTenon`](crate::HandTenon)).
    Pins(Source),
    /// How thick the loose tenon is planed ([`LooseTenon`]).
    Slip(Source),
}

impl Adjustment {
    /// What is set.
    #[must_use]
    pub fn source(&self) -> &Source {
        match self {
            Self::Travel(source)
            | Self::Spacer(source)
            | Self::Distance(source)
            | Self::Height(source)
            | Self::Pins(source)
            | Self::Slip(source) => source,
        }
    }

    /// The same, set to this: another source of the same name.
    ///
    /// # Errors
    ///
    /// When the setting is not a finite length above 0.
    pub fn at(&self, setting: Length) -> Result<Self, Error> {
        let source = self.source();
        if !(setting.to_inches() > 0.0 && setting.to_inches().is_finite()) {
            return Err(Error::recipe(format!(
                "\"{}\" must be set above 0 (got {setting})",
                source.name()
            )));
        }
        let moved = source.at_estimate(setting).map_err(Error::source)?;
        Ok(match self {
            Self::Travel(_) => Self::Travel(moved),
            Self::Spacer(_) => Self::Spacer(moved),
            Self::Distance(_) => Self::Distance(moved),
            Self::Height(_) => Self::Height(moved),
            Self::Pins(_) => Self::Pins(moved),
            Self::Slip(_) => Self::Slip(moved),
        })
    }

    /// The outcomes that it is set for: the fit, or both fits of a loose tenon.
    #[must_use]
    pub fn fits(&self) -> &'static [&'static str] {
        match self {
            Self::Slip(_) => &[LooseTenon::FIT_RAIL, LooseTenon::FIT_LEG],
            _ => &[TenonFit::FIT],
        }
    }

    /// The step in which it is usually set: half a thou on a dial or with a caliper, a thou with a plane or the pins of a gauge
    /// (common practice, no source).
    #[must_use]
    pub fn usual_step(&self) -> Length {
        match self {
            Self::Pins(_) | Self::Slip(_) => 1.0.thou(),
            _ => 0.5.thou(),
        }
    }

    /// The setting at which the fits deviate by nothing on average when every source has its mean value: the plain
    /// arithmetic. An error about the setting that is not nothing on average is not counted to it, but made up for.
    ///
    /// # Errors
    ///
    /// When `stack` has not the fits, one of its sources has no mean, or the fits do not depend on the setting: pins that mark
    /// the mortise as well move both alike.
    pub fn nominal(&self, stack: &Stack) -> Result<Length, Error> {
        let set = self.source();
        let at = |expr: &Expr, off: f64| {
            expr.evaluate(&|source: &Source| {
                let mean = source.mean().map_or(f64::NAN, Quantity::raw);
                mean + if source.is_same(set) { off } else { 0.0 }
            })
        };
        let (mut off, mut slope) = (0.0, 0.0);
        for name in self.fits() {
            let fit = stack
                .outcome(name)
                .ok_or_else(|| Error::recipe(format!("the stack has no outcome \"{name}\"")))?;
            // A power of two apart, so that a whole slope comes out whole.
            let (here, there) = (at(fit.expr(), 0.0), at(fit.expr(), 0.125));
            off += here;
            slope += (there - here) / 0.125;
        }
        // Where they count a whole number of times (all but a setting at an angle) what is left is rounding.
        if (slope - slope.round()).abs() < 1e-9 {
            slope = slope.round();
        }
        let nominal = set.estimate().raw() - off / slope;
        if off.is_nan() {
            return Err(Error::recipe(
                "the plain arithmetic of the setting needs sources that have a mean; one of them has none",
            ));
        }
        if slope == 0.0 {
            return Err(Error::recipe(format!(
                "the fit does not depend on where \"{}\" is set, since it makes the mortise too: set it to the chisel or the \
                 bit",
                set.name()
            )));
        }
        Ok(nominal.inch())
    }
}

/// The source in a sum whose errors were added to it: the only one with an estimate of its own.
pub(crate) fn set_in(sum: &Expr) -> Option<Source> {
    let mut with_estimate = sum
        .sources()
        .into_iter()
        .filter(|source| source.estimate().raw() != 0.0);
    let only = with_estimate.next()?;
    with_estimate.next().is_none().then_some(only)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::length;
    use crate::{
        Clearance, Cuts, HandTenon, Kerf, Mortise, ShiftedTenon, StackedCutterTenon, Tenon, Travel,
        TurnedTenon,
    };

    fn nominal(tenon: Tenon) -> Length {
        let mortise = Mortise::geometric(&length("mortise", 0.376.inch()));
        let clearance = Clearance::total(&length("clearance", 0.002.inch()));
        let joint = TenonFit::new(tenon, mortise).clearance(&clearance);
        let stack = joint.stack().unwrap();
        joint.adjustment().unwrap().nominal(&stack).unwrap()
    }

    /// A tenon of 0.376 − 0.002 = 0.374 in, out of stock of 0.75 in: with a pencil, by the algebra of docs/joints.md.
    #[test]
    fn the_plain_arithmetic_of_each_way() {
        let stock = length("stock", 0.75.inch());
        let start = |name| length(name, 0.3.inch());
        let lines = Cuts::alike("line", |s| s.normal(6.thou())).unwrap();
        let reading = length("reading", 0.inch());
        let turned = TurnedTenon::new(Expr::from(&start("distance")) + &reading, &stock);
        for (tenon, by_hand) in [
            (turned.tenon(), (0.75 + 0.374) / 2.0),
            (
                StackedCutterTenon::new(start("height"), &stock).tenon(),
                (0.75 - 0.374) / 2.0,
            ),
            (HandTenon::new(&start("pins"), lines).tenon(), 0.374),
        ] {
            // Rounding of a few sums.
            assert!(
                (nominal(tenon).to_inches() - by_hand).abs() < 1e-15,
                "{by_hand}"
            );
        }
    }

    #[test]
    fn both_mortises_of_a_loose_tenon_are_met_half_way() {
        let (rail, leg) = (length("rail", 0.375.inch()), length("leg", 0.377.inch()));
        let slip = length("slip", 0.37.inch());
        let joint = LooseTenon::new(&slip, Mortise::at_feel(&rail), Mortise::at_feel(&leg));
        let set = joint.adjustment();
        let nominal = set.nominal(&joint.stack().unwrap()).unwrap();
        // Half of 0.375 + 0.377; rounding of a few sums.
        assert!((nominal.to_inches() - 0.376).abs() < 1e-15);
    }

    #[test]
    fn a_spacer_is_told_from_a_dial() {
        let (kerf, mortise) = (
            length("kerf", 0.125.inch()),
            length("mortise", 0.375.inch()),
        );
        let with = |travel| {
            ShiftedTenon::new(travel, Kerf::from_source(&kerf), Mortise::at_feel(&mortise))
        };
        let spacer = with(Travel::by_spacer(&length("spacer", 0.49.inch())).unwrap());
        let set = spacer.adjustment();
        assert!(matches!(&set, Adjustment::Spacer(s) if s.name() == "spacer"));
        let nominal = set.nominal(&spacer.stack().unwrap()).unwrap();
        // 0.375 + 0.125; rounding of a few sums.
        assert!((nominal.to_inches() - 0.5).abs() < 1e-15);
        let dial = with(Travel::of(0.5.inch()).unwrap());
        assert!(matches!(dial.adjustment(), Adjustment::Travel(_)));
    }

    #[test]
    fn pins_that_mark_both_are_set_to_the_chisel() {
        let pins = length("pins", 0.375.inch());
        let cuts = |name| Cuts::alike(name, |s| s.normal(6.thou())).unwrap();
        let mortise = Mortise::chopped(&pins, &cuts("wall"));
        let joint = TenonFit::new(HandTenon::new(&pins, cuts("line")).tenon(), mortise)
            .clearance(&Clearance::total(&length("slip", 0.002.inch())));
        let set = joint.adjustment().unwrap();
        let told = set.nominal(&joint.stack().unwrap()).unwrap_err();
        assert!(told.to_string().contains("set it to the chisel"), "{told}");
    }

    #[test]
    fn two_lengths_in_the_distance_leave_open_which_is_set() {
        let (stop, block) = (length("stop", 0.5.inch()), length("block", 0.0625.inch()));
        let turned = TurnedTenon::new(Expr::from(&stop) + &block, &length("stock", 0.75.inch()));
        assert!(turned.tenon().adjustment().is_none());
    }
}
