use crate::adjustment::set_in;
use crate::{Adjustment, Cuts, Tenon};
use kerfwise_source::Source;
use kerfwise_stack::Expr;

/// A tenon cut at one setting of the jig, the rail turned over between the cuts.
///
/// The rail stands on end in the jig, its reference face against it; the far cheek is cut at a distance
/// from the jig. Then the other face is set against the jig, and the other cheek is cut at the same
/// distance.
///
/// ```text
/// tenon  = 2 · distance − stock − (errors of the first cut) − (errors of the second)
/// middle = (stock − (errors of the first cut) + (errors of the second)) / 2
/// ```
///
/// `distance` is from the jig's face to the tenon's side of the cut: an error of the setting counts twice.
/// Stock thickness counts once, against the tenon; kerf not at all, since the waste is on the outside both
/// times. The tenon always comes out in the middle of the stock. Errors of a cut are positive when the cheek
/// comes nearer to the jig: work that stands off it, play of the runner the same way, half of a kerf that is
/// wider than usual. Source of the arithmetic: geometry; common practice, no source.
///
/// ```
/// use kerfwise_joint::{Cuts, Mortise, TenonFit, TurnedTenon};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (distance, stock, mortise) = (length("distance", 0.5625)?, length("stock", 0.75)?, length("mortise", 0.375)?);
/// let seating = Cuts::alike("seating", |s| s.rectangular(1.thou()))?;
/// let tenon = TurnedTenon::new(&distance, &stock).seating(seating).tenon();
/// let stack = TenonFit::new(tenon, Mortise::at_feel(&mortise)).stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit = 2 * distance - stock - seating.first - seating.second - mortise\n"
/// ));
/// let fit = stack.outcome("fit").unwrap();
/// // 2 · 0.5625 − 0.75 − 0.375 = 0; and 2 + 1 + 1 + 1 + 1 thou at the worst.
/// assert_eq!(fit.evaluate(&[])?, 0.inch().into());
/// let worst = fit.worst_case(Default::default())?;
/// assert!((worst.upper.bound.raw() - 0.006).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
#[must_use]
pub struct TurnedTenon {
    distance: Expr,
    stock: Expr,
    errors: PerCut,
}

/// What comes anew with each cut.
#[derive(Debug, Clone, Default)]
struct PerCut {
    seating: Option<Cuts>,
    runner_play: Option<Cuts>,
    kerf_change: Option<Cuts>,
}

impl PerCut {
    /// base − first − second, for each kind of error.
    fn both_taken_off(&self, mut base: Expr) -> Expr {
        for cuts in [&self.seating, &self.runner_play].into_iter().flatten() {
            base = base - &cuts.first - &cuts.second;
        }
        match &self.kerf_change {
            Some(change) => base - change.half_of_both(),
            None => base,
        }
    }

    /// (base − first + second) / 2, for each kind of error.
    fn half_the_difference(&self, mut base: Expr) -> Expr {
        for cuts in [&self.seating, &self.runner_play].into_iter().flatten() {
            base = base + &cuts.second - &cuts.first;
        }
        if let Some(change) = &self.kerf_change {
            let difference = Expr::source(&change.second) - &change.first;
            base = base + difference / 2.0;
        }
        base / 2.0
    }
}

impl TurnedTenon {
    /// From the distance of the cut from the jig's face, and the thickness of the stock.
    ///
    /// Add what the distance may be off by to it: `&distance + &reading`. The one source that has an estimate is what is
    /// [set](Adjustment::Distance). The nominal distance is half of
    /// stock and tenon together.
    pub fn new(distance: impl Into<Expr>, stock: &Source) -> Self {
        Self {
            distance: distance.into(),
            stock: Expr::source(stock),
            errors: PerCut::default(),
        }
    }

    /// How the work seats at each cut; positive when it stands off the jig.
    pub fn seating(mut self, seating: Cuts) -> Self {
        self.errors.seating = Some(seating);
        self
    }

    /// Side play of the jig's runner at each cut; positive when it brings the cheek nearer to the jig.
    pub fn runner_play(mut self, play: Cuts) -> Self {
        self.errors.runner_play = Some(play);
        self
    }

    /// Change of the effective kerf from cut to cut; half of it lies on the tenon's side.
    pub fn kerf_change(mut self, change: Cuts) -> Self {
        self.errors.kerf_change = Some(change);
        self
    }

    /// The tenon.
    #[must_use]
    pub fn tenon(&self) -> Tenon {
        let thickness = 2.0 * &self.distance - &self.stock;
        Tenon::of_thickness(self.errors.both_taken_off(thickness))
            .with_middle(self.errors.half_the_difference(self.stock.clone()))
            .with_adjustment(set_in(&self.distance).map(Adjustment::Distance))
    }
}

/// A tenon cut with a stacked cutter, the rail flat on the table, turned over between the cuts.
///
/// ```text
/// tenon  = stock − 2 · height + (errors of the first cut) + (errors of the second)
/// middle = (stock − (errors of the first cut) + (errors of the second)) / 2
/// ```
///
/// `height` is that of the cutter above the table; its error counts twice, stock thickness once. The
/// reference face lies down at the first cut. Errors of a cut are positive when the work stands off the table,
/// so that the cut is too shallow and the tenon too thick. Kerf does not enter. Source of the arithmetic:
/// geometry; common practice, no source.
///
/// ```
/// use kerfwise_joint::{Cuts, Mortise, StackedCutterTenon, TenonFit};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (height, stock, mortise) = (length("height", 0.1875)?, length("stock", 0.75)?, length("mortise", 0.375)?);
/// let seating = Cuts::alike("seating", |s| s.rectangular(1.thou()))?;
/// let tenon = StackedCutterTenon::new(&height, &stock).seating(seating).tenon();
/// let stack = TenonFit::new(tenon, Mortise::at_feel(&mortise)).stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit = stock - 2 * height + seating.first + seating.second - mortise\n"
/// ));
/// // 0.75 − 2 · 0.1875 − 0.375 = 0.
/// assert_eq!(stack.outcome("fit").unwrap().evaluate(&[])?, 0.inch().into());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
#[must_use]
pub struct StackedCutterTenon {
    height: Expr,
    stock: Expr,
    seating: Option<Cuts>,
}

impl StackedCutterTenon {
    /// From the height of the cutter above the table and the thickness of the stock. The nominal height is
    /// half of what stock and tenon differ by. The one source in it that has an estimate is what is
    /// [set](Adjustment::Height).
    pub fn new(height: impl Into<Expr>, stock: &Source) -> Self {
        Self {
            height: height.into(),
            stock: Expr::source(stock),
            seating: None,
        }
    }

    /// How the work lies at each cut; positive when it stands off the table.
    pub fn seating(mut self, seating: Cuts) -> Self {
        self.seating = Some(seating);
        self
    }

    /// The tenon.
    #[must_use]
    pub fn tenon(&self) -> Tenon {
        let mut thickness = &self.stock - 2.0 * &self.height;
        let mut twice_middle = self.stock.clone();
        if let Some(Cuts { first, second }) = &self.seating {
            thickness = thickness + first + second;
            twice_middle = twice_middle + second - first;
        }
        Tenon::of_thickness(thickness)
            .with_middle(twice_middle / 2.0)
            .with_adjustment(set_in(&self.height).map(Adjustment::Height))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length, value};
    use kerfwise_source::LengthUnits;

    fn cuts(name: &str) -> Cuts {
        Cuts::alike(name, |s| s.rectangular(1.thou())).unwrap()
    }

    #[test]
    fn setting_twice_stock_once_kerf_not_at_all() {
        let tenon = TurnedTenon::new(
            length("distance", 0.5625.inch()),
            &length("stock", 0.75.inch()),
        )
        .seating(cuts("seating"))
        .runner_play(cuts("play"))
        .kerf_change(cuts("change"))
        .tenon();
        assert_eq!(
            tenon.thickness().to_string(),
            "2 * distance - stock - seating.first - seating.second - play.first - play.second \
             - (change.first + change.second) / 2"
        );
        for (name, by_hand) in [
            ("distance", 2.0),
            ("stock", -1.0),
            ("seating.first", -1.0),
            ("seating.second", -1.0),
            ("play.first", -1.0),
            ("play.second", -1.0),
            ("change.first", -0.5),
            ("change.second", -0.5),
        ] {
            // Exact: the coefficients are small powers of 2.
            assert!(
                (derivative(tenon.thickness(), name) - by_hand).abs() < 1e-15,
                "{name}"
            );
        }
        // The setting does not move the tenon: it stays in the middle of the stock.
        let middle = tenon.middle().unwrap();
        assert!(middle.sources().iter().all(|s| s.name() != "distance"));
        for (name, by_hand) in [
            ("stock", 0.5),
            ("seating.first", -0.5),
            ("seating.second", 0.5),
            ("change.first", -0.25),
            ("change.second", 0.25),
        ] {
            assert!((derivative(middle, name) - by_hand).abs() < 1e-15, "{name}");
        }
        assert!((value(tenon.thickness()) - 0.375).abs() < 1e-15);
        assert!((value(middle) - 0.375).abs() < 1e-15);
    }

    #[test]
    fn the_height_of_a_stacked_cutter_counts_twice() {
        let tenon = StackedCutterTenon::new(
            length("height", 0.1875.inch()),
            &length("stock", 0.75.inch()),
        )
        .seating(cuts("seating"))
        .tenon();
        for (name, by_hand) in [
            ("height", -2.0),
            ("stock", 1.0),
            ("seating.first", 1.0),
            ("seating.second", 1.0),
        ] {
            assert!(
                (derivative(tenon.thickness(), name) - by_hand).abs() < 1e-15,
                "{name}"
            );
        }
        let middle = tenon.middle().unwrap();
        for (name, by_hand) in [
            ("stock", 0.5),
            ("seating.first", -0.5),
            ("seating.second", 0.5),
        ] {
            assert!((derivative(middle, name) - by_hand).abs() < 1e-15, "{name}");
        }
    }
}
