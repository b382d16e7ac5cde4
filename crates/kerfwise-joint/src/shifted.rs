use crate::{
    Adjustment, BackStep, Clearance, Cuts, Error, FaceStep, Kerf, LockDown, MoistureBetweenCuts,
    Mortise, Slant, Tenon, TenonFit, Travel,
};
use kerfwise_source::{Length, LengthUnits, Quantity, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// A tenon cut off one reference face: first cheek, jig moved over, second cheek.
///
/// ```text
/// tenon = travel − kerf + (errors that come with each cut)
/// fit   = tenon − (mortise − clearance)
/// ```
///
/// Kerf counts once. Stock thickness does not enter the fit, since both cheeks are cut off the same
/// face; it shows at the back of the joint ([`FaceStep`]). Source of the arithmetic: common practice,
/// no source.
///
/// ```
/// use kerfwise_joint::{Cuts, Kerf, Mortise, ShiftedTenon, Travel};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let kerf = Source::new("kerf", 0.125.inch()).normal(0.4.thou()).build()?;
/// let mortise = Source::new("mortise", 0.375.inch()).normal(0.3.thou()).build()?;
/// let seating = Cuts::alike("seating", |s| s.normal(0.6.thou()))?;
/// let stack = ShiftedTenon::new(Travel::of(0.5.inch())?, Kerf::from_source(&kerf), Mortise::at_feel(&mortise))
///     .seating(seating)
///     .stack()?;
/// assert_eq!(
///     stack.outcome("fit").unwrap().expr().to_string(),
///     "travel - kerf + seating.second - seating.first - mortise",
/// );
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct ShiftedTenon {
    travel: Travel,
    kerf: Kerf,
    mortise: Mortise,
    clearance: Option<Clearance>,
    lock_down: Option<LockDown>,
    seating: Option<Cuts>,
    runner_play: Option<Cuts>,
    kerf_change: Option<Cuts>,
    moisture: Option<MoistureBetweenCuts>,
    band: Option<Band>,
    face_step: Option<FaceStep>,
    slant: Option<Slant>,
}

impl ShiftedTenon {
    /// The name of the outcome that tells how the tenon fits.
    pub const FIT: &'static str = TenonFit::FIT;
    /// The name of the step at the reference faces.
    pub const FACE_STEP: &'static str = TenonFit::FACE_STEP;
    /// The name of the step at the back.
    pub const BACK_STEP: &'static str = TenonFit::BACK_STEP;

    /// From the three numbers of the setting.
    #[must_use]
    pub fn new(travel: Travel, kerf: Kerf, mortise: Mortise) -> Self {
        Self {
            travel,
            kerf,
            mortise,
            clearance: None,
            lock_down: None,
            seating: None,
            runner_play: None,
            kerf_change: None,
            moisture: None,
            band: None,
            face_step: None,
            slant: None,
        }
    }

    /// The wanted clearance, for a mortise given by its geometric width.
    #[must_use]
    pub fn clearance(mut self, clearance: &Clearance) -> Self {
        self.clearance = Some(clearance.clone());
        self
    }

    /// What locking the jig does.
    #[must_use]
    pub fn lock_down(mut self, lock_down: LockDown) -> Self {
        self.lock_down = Some(lock_down);
        self
    }

    /// How the work seats at each of its two clampings; positive when the work stands off the jig.
    #[must_use]
    pub fn seating(mut self, seating: Cuts) -> Self {
        self.seating = Some(seating);
        self
    }

    /// Side play of the jig's runner in its slot, at each cut.
    #[must_use]
    pub fn runner_play(mut self, play: Cuts) -> Self {
        self.runner_play = Some(play);
        self
    }

    /// Change of the effective kerf from cut to cut; half of it lies on the tenon's side of each cut.
    #[must_use]
    pub fn kerf_change(mut self, change: Cuts) -> Self {
        self.kerf_change = Some(change);
        self
    }

    /// Moisture gained or lost between the two cuts.
    #[must_use]
    pub fn moisture(mut self, moisture: MoistureBetweenCuts) -> Self {
        self.moisture = Some(moisture);
        self
    }

    /// The band of the fit; without it ±0.005 in, the trade's band (common practice, no source).
    #[must_use]
    pub fn fit_band(mut self, band: Band) -> Self {
        self.band = Some(band);
        self
    }

    /// Watches the step between the faces as well.
    #[must_use]
    pub fn face_step(mut self, step: FaceStep) -> Self {
        self.face_step = Some(step);
        self
    }

    /// Angles of the cuts: the tenon is felt at its fattest spot. See [`Slant::off_one_face`].
    #[must_use]
    pub fn slant(mut self, slant: Slant) -> Self {
        self.slant = Some(slant);
        self
    }

    /// What the dial is set to show.
    #[must_use]
    pub fn dialled(&self) -> Length {
        self.travel.dialled()
    }

    /// What is set: the travel of the jig, or the spacer.
    #[must_use]
    pub fn adjustment(&self) -> Adjustment {
        self.travel.adjustment().clone()
    }

    /// The tenon that is cut: its thickness, and its middle where the face step tells where the first
    /// cheek lies.
    #[must_use]
    pub fn tenon(&self) -> Tenon {
        let thickness = self.thickness();
        let middle = self.face_step.as_ref();
        let middle = middle.map(|step| self.first_cheek(step) - &thickness / 2.0);
        Tenon {
            thickness,
            middle,
            slant: self.slant.clone(),
            adjustment: Some(self.adjustment()),
        }
    }

    fn thickness(&self) -> Expr {
        let mut tenon = self.travel.expr();
        if let Some(lock_down) = &self.lock_down {
            tenon = tenon + Expr::source(lock_down.source());
        }
        tenon = tenon - self.kerf.expr();
        for cuts in [&self.seating, &self.runner_play].into_iter().flatten() {
            tenon = tenon + Expr::source(&cuts.second) - Expr::source(&cuts.first);
        }
        if let Some(change) = &self.kerf_change {
            tenon = tenon - change.half_of_both();
        }
        if let Some(moisture) = &self.moisture {
            tenon = tenon + moisture.expr();
        }
        tenon
    }

    /// The mortise that it is cut for.
    #[must_use]
    pub fn mortise(&self) -> &Mortise {
        &self.mortise
    }

    /// The joint: this tenon in its mortise. What this method has no setter for can be added to it, such as the fit at
    /// a later time ([`TenonFit::later`]).
    #[must_use]
    pub fn joint(&self) -> TenonFit {
        let mut joint = TenonFit::new(self.tenon(), self.mortise.clone());
        if let Some(clearance) = &self.clearance {
            joint = joint.clearance(clearance);
        }
        if let Some(band) = self.band {
            joint = joint.fit_band(band);
        }
        if let Some(FaceStep {
            wall, band, back, ..
        }) = &self.face_step
        {
            joint = joint.face_step(wall, *band);
            if let Some((rail, leg, band)) = back.clone() {
                joint = joint.back_step(BackStep { rail, leg, band });
            }
        }
        joint
    }

    /// The fit deviation, as an expression: positive is tight. A tenon with a slant is felt at its fattest spot.
    ///
    /// # Errors
    ///
    /// As [`TenonFit::fit`]; or [`ErrorKind::OutOfRange`](crate::ErrorKind::OutOfRange) when the change of moisture
    /// between the cuts is larger than its formula allows.
    pub fn fit(&self) -> Result<Expr, Error> {
        self.check()?;
        self.joint().fit()
    }

    /// The stack: outcome `fit`; `face_step`, `back_step` and taper where asked for.
    ///
    /// # Errors
    ///
    /// As [`TenonFit::stack`] and [`fit`](Self::fit).
    pub fn stack(&self) -> Result<Stack, Error> {
        self.check()?;
        self.joint().stack()
    }

    fn check(&self) -> Result<(), Error> {
        self.moisture
            .as_ref()
            .map_or(Ok(()), MoistureBetweenCuts::check)
    }

    /// Where the cheek that is cut first lies when the second is cut.
    fn first_cheek(&self, step: &FaceStep) -> Expr {
        let mut cheek = Expr::source(&step.first_cheek);
        for cuts in [&self.seating, &self.runner_play].into_iter().flatten() {
            cheek = cheek - Expr::source(&cuts.first);
        }
        if let Some(change) = &self.kerf_change {
            cheek = cheek - Expr::source(&change.first) / 2.0;
        }
        if let Some(moisture) = &self.moisture {
            cheek = cheek + moisture.expr();
        }
        cheek
    }

    /// The travel at which the fit deviation is zero when every source has its mean value: the plain
    /// arithmetic of the setting.
    ///
    /// # Errors
    ///
    /// As [`stack`](Self::stack); or when a source has no mean.
    pub fn nominal_travel(&self) -> Result<Length, Error> {
        let travel = self.travel.dialled().to_inches() - at_means(&self.fit()?);
        finite(travel, "the plain arithmetic of the setting")
    }
}

fn at_means(expr: &Expr) -> f64 {
    expr.evaluate(&|s: &Source| s.mean().map_or(f64::NAN, Quantity::raw))
}

fn finite(inches: f64, what: &str) -> Result<Length, Error> {
    if inches.is_finite() {
        return Ok(inches.inch());
    }
    Err(Error::recipe(format!(
        "{what} needs sources that have a mean; one of them has none"
    )))
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_stack::{RootSumOfSquares, WorstCase};

    fn source(name: &str, estimate: f64, half_width: f64) -> Source {
        Source::new(name, estimate.inch())
            .rectangular(half_width.thou())
            .build()
            .unwrap()
    }

    fn plain() -> ShiftedTenon {
        let travel = Travel::of(0.5.inch()).unwrap();
        let kerf = Kerf::from_source(&source("kerf", 0.125, 1.0));
        ShiftedTenon::new(
            travel,
            kerf,
            Mortise::at_feel(&source("mortise", 0.375, 2.0)),
        )
    }

    #[test]
    fn clearance_is_stated_once() {
        let clearance = source("clearance", 0.003, 0.0);
        let clearance = Clearance::total(&clearance);
        let twice = plain().clearance(&clearance).stack().unwrap_err();
        assert!(
            twice.to_string().contains("already in the reading"),
            "{twice}"
        );
        let mut geometric = plain();
        geometric.mortise = Mortise::geometric(&source("mortise", 0.375, 2.0));
        let missing = geometric.stack().unwrap_err();
        assert!(
            missing.to_string().contains("clearance must be stated"),
            "{missing}"
        );
        let travel = geometric.clearance(&clearance).nominal_travel().unwrap();
        // 0.375 − 0.003 + 0.125 in.
        assert!((travel.to_thou() - 497.0).abs() < 1e-9);
    }

    #[test]
    fn locking_counts_in_full_only_before_the_dial_is_read() {
        let widest = |lock_down| {
            let stack = plain().lock_down(lock_down).stack().unwrap();
            let worst = stack
                .outcome("fit")
                .unwrap()
                .worst_case(WorstCase::new())
                .unwrap();
            worst.upper.bound.raw() * 1000.0
        };
        let before = widest(LockDown::ReadBefore {
            shift: source("shift", 0.0, 4.0),
        });
        let after = widest(LockDown::ReadAfter {
            residual: source("residual", 0.0, 0.5),
        });
        assert!(
            (before - 7.0).abs() < 1e-9 && (after - 3.5).abs() < 1e-9,
            "{before} {after}"
        );
    }

    /// What stands off the jig at both cuts by the same amount moves the tenon and leaves its
    /// thickness: worked out with a pencil from the two blade positions.
    #[test]
    fn standing_off_the_jig_moves_the_tenon_by_the_mean_of_both_cuts() {
        let seating = Cuts::alike("seating", |s| s.rectangular(1.0.thou())).unwrap();
        let step = FaceStep {
            first_cheek: source("first_cheek", 0.71875, 0.0),
            wall: source("wall", 0.34375, 0.0),
            band: Band::within(6.0.thou()).unwrap(),
            back: Some((
                source("rail", 0.75, 0.0),
                source("leg", 1.5, 0.0),
                Band::within(1.0.inch()).unwrap(),
            )),
        };
        let stack = plain().seating(seating).face_step(step).stack().unwrap();
        let sensitivity = |outcome: &str, source: &str| {
            let rss = stack
                .outcome(outcome)
                .unwrap()
                .root_sum_of_squares(RootSumOfSquares::new())
                .unwrap();
            rss.budget
                .iter()
                .find(|line| line.name == source)
                .unwrap()
                .sensitivity
                .raw()
        };
        assert!((sensitivity("fit", "seating.first") + 1.0).abs() < 1e-12);
        assert!((sensitivity("fit", "seating.second") - 1.0).abs() < 1e-12);
        assert!((sensitivity("face_step", "seating.first") + 0.5).abs() < 1e-12);
        assert!((sensitivity("face_step", "seating.second") + 0.5).abs() < 1e-12);
        assert!((sensitivity("back_step", "seating.second") - 0.5).abs() < 1e-12);
        // The drawing puts both middles at 0.53125 in, so the faces are flush.
        let flush = stack
            .outcome("face_step")
            .unwrap()
            .root_sum_of_squares(RootSumOfSquares::new())
            .unwrap();
        assert!(flush.estimate.raw().abs() < 1e-12);
    }

    /// JCGM 100, 5.1.3: sensitivities are derivatives; here with those of the pencil.
    #[test]
    fn kerf_once_stock_not_at_all() {
        use crate::testing::derivative;
        use kerfwise_source::{Dimension, MoistureContent, Quantity};
        let cuts = |name| Cuts::alike(name, |s| s.rectangular(1.0.thou())).unwrap();
        let of = |name, quantity: Quantity| Source::new(name, quantity).build().unwrap();
        let per_percent = Dimension::NUMBER.per(Dimension::MOISTURE).unwrap();
        let moisture = |percent| MoistureBetweenCuts {
            first_cheek: of("cheek", 0.75.inch().into()),
            coefficient: of("ash", Quantity::new(0.00169, per_percent)),
            change: of("gain", MoistureContent::from_percent(percent).into()),
        };
        let joint = plain()
            .lock_down(LockDown::ReadAfter {
                residual: source("residual", 0.0, 0.5),
            })
            .seating(cuts("seat"))
            .runner_play(cuts("play"))
            .kerf_change(cuts("change"));
        let fit = joint.clone().moisture(moisture(2.0)).fit().unwrap();
        for (name, by_hand) in [
            ("travel", 1.0),
            ("residual", 1.0),
            ("kerf", -1.0),
            ("mortise", -1.0),
            ("seat.first", -1.0),
            ("seat.second", 1.0),
            ("play.first", -1.0),
            ("play.second", 1.0),
            ("change.first", -0.5),
            ("change.second", -0.5),
            ("cheek", 0.00169 * 2.0),
            ("ash", 0.75 * 2.0),
            ("gain", 0.75 * 0.00169),
        ] {
            // Rounding of one product.
            assert!((derivative(&fit, name) - by_hand).abs() < 1e-15, "{name}");
        }
        let dry = joint.moisture(moisture(-8.5)).stack().unwrap_err();
        assert!(dry.to_string().contains("from -8 to 8 %MC"), "{dry}");
    }

    #[test]
    fn a_change_of_kerf_counts_half_at_each_cut() {
        let change = Cuts::alike("change", |s| s.rectangular(1.0.thou())).unwrap();
        let stack = plain().kerf_change(change).stack().unwrap();
        let worst = stack
            .outcome("fit")
            .unwrap()
            .worst_case(WorstCase::new())
            .unwrap();
        // 1 + 2 from kerf and mortise, ½ + ½ from the two cuts.
        assert!((worst.upper.bound.raw() * 1000.0 - 4.0).abs() < 1e-9);
    }

    #[test]
    fn leaves_of_one_set_share_their_error() {
        let pin = source("pin", 0.1, 0.0);
        let leaf = source("leaf_error", 0.0, 0.3);
        let leaves = crate::Leaves {
            count: 3,
            goes: 24.0.thou(),
            does_not_go: 26.0.thou(),
        };
        let kerf = Kerf::from_pin_and_leaves(&pin, leaves, &leaf, None).unwrap();
        let joint = ShiftedTenon::new(
            Travel::of(0.5.inch()).unwrap(),
            kerf,
            Mortise::at_feel(&source("mortise", 0.375, 0.0)),
        );
        let worst = joint
            .stack()
            .unwrap()
            .outcome("fit")
            .unwrap()
            .worst_case(WorstCase::new())
            .unwrap();
        // Half the gap between the stacks, and three times the error of a leaf.
        assert!(
            (worst.upper.bound.raw() * 1000.0 - 1.9).abs() < 1e-9,
            "{:?}",
            worst.upper
        );
    }
}
