use crate::mortise::Clearance;
use crate::{
    Cuts, Error, ErrorKind, FaceStep, Kerf, LockDown, MoistureBetweenCuts, Mortise, Travel,
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
    clearance: Option<Source>,
    lock_down: Option<LockDown>,
    seating: Option<Cuts>,
    runner_play: Option<Cuts>,
    kerf_change: Option<Cuts>,
    moisture: Option<MoistureBetweenCuts>,
    band: Option<Band>,
    face_step: Option<FaceStep>,
}

impl ShiftedTenon {
    /// The name of the outcome that tells how the tenon fits.
    pub const FIT: &'static str = "fit";
    /// The name of the step at the reference faces.
    pub const FACE_STEP: &'static str = "face_step";
    /// The name of the step at the back.
    pub const BACK_STEP: &'static str = "back_step";

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
        }
    }

    /// The wanted total clearance, for a mortise given by its geometric width.
    #[must_use]
    pub fn clearance(mut self, clearance: &Source) -> Self {
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

    /// What the dial is set to show.
    #[must_use]
    pub fn dialled(&self) -> Length {
        self.travel.dialled()
    }

    /// Thickness of the tenon, as an expression.
    #[must_use]
    pub fn tenon(&self) -> Expr {
        let mut tenon = self.travel.expr();
        if let Some(lock_down) = &self.lock_down {
            tenon = tenon + Expr::source(lock_down.source());
        }
        tenon = tenon - self.kerf.expr();
        for cuts in [&self.seating, &self.runner_play].into_iter().flatten() {
            tenon = tenon + Expr::source(&cuts.second) - Expr::source(&cuts.first);
        }
        if let Some(change) = &self.kerf_change {
            let both = Expr::source(&change.first) + Expr::source(&change.second);
            tenon = tenon - both / 2.0;
        }
        if let Some(moisture) = &self.moisture {
            tenon = tenon + moisture.expr();
        }
        tenon
    }

    /// The fit deviation, as an expression: positive is tight.
    ///
    /// # Errors
    ///
    /// When a clearance is given for a mortise measured at the wanted feel, or is missing for a
    /// geometric width.
    pub fn fit(&self) -> Result<Expr, Error> {
        let fit = self.tenon() - self.mortise.expr();
        match (&self.mortise.clearance, &self.clearance) {
            (Clearance::InTheReading, None) => Ok(fit),
            (Clearance::Apart, Some(clearance)) => Ok(fit + Expr::source(clearance)),
            (Clearance::InTheReading, Some(clearance)) => Err(ErrorKind::ClearanceTwice {
                clearance: clearance.estimate().to_string(),
            }
            .into()),
            (Clearance::Apart, None) => Err(ErrorKind::ClearanceMissing.into()),
        }
    }

    /// The stack: outcome `fit`, and `face_step` and `back_step` where asked for.
    ///
    /// # Errors
    ///
    /// As [`fit`](Self::fit), or when the stack is refused: two sources of one name, a band of the
    /// wrong dimension, ... All faults are reported together.
    pub fn stack(&self) -> Result<Stack, Error> {
        let refused = |e| Error::from(ErrorKind::Stack(e));
        let band = match self.band {
            Some(band) => band,
            None => Band::within(5.0.thou()).map_err(refused)?,
        };
        let mut stack = Stack::builder().outcome(Self::FIT, &self.fit()?, band);
        if let Some(step) = &self.face_step {
            let mut cheek = Expr::source(&step.cheek);
            if let Some(seating) = &self.seating {
                cheek = cheek + Expr::source(&seating.second);
            }
            let face = cheek + self.tenon() / 2.0
                - Expr::source(&step.wall)
                - self.mortise.expr().clone() / 2.0;
            stack = stack.outcome(Self::FACE_STEP, &face, step.band);
            if let Some((rail, leg, band)) = &step.back {
                let back = Expr::source(rail) - Expr::source(leg) - face;
                stack = stack.outcome(Self::BACK_STEP, &back, *band);
            }
        }
        stack.build().map_err(refused)
    }

    /// The travel at which the fit deviation is zero when every source has its mean value: the plain
    /// arithmetic of the setting.
    ///
    /// # Errors
    ///
    /// As [`stack`](Self::stack); or when a source has no mean.
    pub fn nominal_travel(&self) -> Result<Length, Error> {
        let fit = self.fit()?;
        let mean = |s: &Source| s.mean().map_or(f64::NAN, Quantity::raw);
        let off = fit.evaluate(&mean);
        let travel = self.travel.dialled().to_inches() - off;
        if travel.is_finite() {
            Ok(travel.inch())
        } else {
            Err(Error::recipe(
                "the nominal travel needs sources that have a mean; one of them has none",
            ))
        }
    }
}
