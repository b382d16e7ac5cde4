use crate::mortise::Wanted;
use crate::{Adjustment, Clearance, Error, ErrorKind, Mortise, Slant};
use kerfwise_source::{LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack, StackBuilder};

/// A tenon, however it was cut: its thickness, and where its middle lies.
///
/// Each cutting method gives one ([`TurnedTenon`](crate::TurnedTenon), ...); [`TenonFit`] puts it into a mortise.
#[derive(Debug, Clone)]
pub struct Tenon {
    pub(crate) thickness: Expr,
    pub(crate) middle: Option<Expr>,
    pub(crate) slant: Option<Slant>,
    pub(crate) adjustment: Option<Adjustment>,
}

impl Tenon {
    /// A tenon by its thickness.
    #[must_use]
    pub fn of_thickness(thickness: impl Into<Expr>) -> Self {
        Self {
            thickness: thickness.into(),
            middle: None,
            slant: None,
            adjustment: None,
        }
    }

    /// Where the middle of the tenon lies, from the reference face of the rail.
    #[must_use]
    pub fn with_middle(mut self, middle: impl Into<Expr>) -> Self {
        self.middle = Some(middle.into());
        self
    }

    /// How far the cheeks are out of parallel: the tenon is then felt at its fattest spot.
    #[must_use]
    pub fn with_slant(mut self, slant: Slant) -> Self {
        self.slant = Some(slant);
        self
    }

    pub(crate) fn with_adjustment(mut self, adjustment: Option<Adjustment>) -> Self {
        self.adjustment = adjustment;
        self
    }

    /// What is set to make it, where the way of cutting tells.
    #[must_use]
    pub fn adjustment(&self) -> Option<&Adjustment> {
        self.adjustment.as_ref()
    }

    /// Thickness, as an expression; with a slant, that in the middle of the cheeks.
    #[must_use]
    pub fn thickness(&self) -> &Expr {
        &self.thickness
    }

    /// Middle of the tenon from the reference face of the rail, where it is known.
    #[must_use]
    pub fn middle(&self) -> Option<&Expr> {
        self.middle.as_ref()
    }
}

/// What tenon and mortise do after the fit was set, as changes in size.
///
/// See [`wood`](crate::wood): from cutting to assembly, or from assembly to the driest day in service.
#[derive(Debug, Clone)]
pub struct Moves {
    /// What the tenon gains in thickness.
    pub tenon: Expr,
    /// What the mortise gains in width.
    pub mortise: Expr,
}

/// The step at the back of a joint, where the reference faces are in front.
#[derive(Debug, Clone)]
pub struct BackStep {
    /// Thickness of the rail.
    pub rail: Source,
    /// Thickness of the leg.
    pub leg: Source,
    /// What the step may be.
    pub band: Band,
}

/// A tenon in a mortise.
///
/// ```text
/// fit       = tenon − (mortise − clearance)
/// face step = middle of the tenon − wall − mortise / 2
/// back step = rail − leg − face step
/// ```
///
/// The fit is positive when tight. The face step is positive when the rail stands proud of the leg; `wall`
/// is the distance from the leg's reference face to the near wall of the mortise, and the tenon is taken to
/// stand in the middle of its mortise. Source of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::{Clearance, Mortise, Tenon, TenonFit};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
/// let (tenon, mortise, glue) = (length("tenon", 0.372)?, length("mortise", 0.375)?, length("glue", 0.0015)?);
/// let joint = TenonFit::new(Tenon::of_thickness(&tenon), Mortise::geometric(&mortise))
///     .clearance(&Clearance::per_glue_line(&glue));
/// let stack = joint.stack()?;
/// assert!(stack.to_string().starts_with("fit = tenon - mortise + 2 * glue\n"));
/// // 0.372 − (0.375 − 2 · 0.0015) = 0.
/// assert!(stack.outcome("fit").unwrap().evaluate(&[])?.raw().abs() < 1e-15);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct TenonFit {
    tenon: Tenon,
    mortise: Mortise,
    clearance: Option<Clearance>,
    band: Option<Band>,
    face: Option<(Expr, Band)>,
    back: Option<BackStep>,
    later: Vec<(String, Moves, Band)>,
}

impl TenonFit {
    /// The name of the outcome that tells how the tenon fits.
    pub const FIT: &'static str = "fit";
    /// The name of the step at the reference faces.
    pub const FACE_STEP: &'static str = "face_step";
    /// The name of the step at the back.
    pub const BACK_STEP: &'static str = "back_step";

    /// A tenon in a mortise.
    #[must_use]
    pub fn new(tenon: Tenon, mortise: Mortise) -> Self {
        Self {
            tenon,
            mortise,
            clearance: None,
            band: None,
            face: None,
            back: None,
            later: Vec::new(),
        }
    }

    /// The tenon.
    #[must_use]
    pub fn tenon(&self) -> &Tenon {
        &self.tenon
    }

    /// The mortise.
    #[must_use]
    pub fn mortise(&self) -> &Mortise {
        &self.mortise
    }

    /// What is set so that it fits, where the way of cutting tells.
    #[must_use]
    pub fn adjustment(&self) -> Option<&Adjustment> {
        self.tenon.adjustment()
    }

    /// The wanted clearance, for a mortise given by its geometric width.
    #[must_use]
    pub fn clearance(mut self, clearance: &Clearance) -> Self {
        self.clearance = Some(clearance.clone());
        self
    }

    /// The band of the fit; without it ±0.005 in, the trade's band (common practice, no source).
    #[must_use]
    pub fn fit_band(mut self, band: Band) -> Self {
        self.band = Some(band);
        self
    }

    /// Watches the step between the reference faces; `wall` is the distance from the leg's reference face to
    /// the near wall of the mortise.
    #[must_use]
    pub fn face_step(mut self, wall: impl Into<Expr>, band: Band) -> Self {
        self.face = Some((wall.into(), band));
        self
    }

    /// Watches the step at the back as well, which needs the step at the front.
    #[must_use]
    pub fn back_step(mut self, back: BackStep) -> Self {
        self.back = Some(back);
        self
    }

    /// Watches the fit at a later time as a further outcome: `fit + moves.tenon − moves.mortise`.
    ///
    /// ```
    /// use kerfwise_joint::{Mortise, Moves, Tenon, TenonFit};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr};
    ///
    /// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(1.thou()).build();
    /// let (tenon, mortise, swelling) = (length("tenon", 0.375)?, length("mortise", 0.375)?, length("swelling", 0.002)?);
    /// let moves = Moves { tenon: Expr::source(&swelling), mortise: Expr::constant(0.inch()) };
    /// let stack = TenonFit::new(Tenon::of_thickness(&tenon), Mortise::at_feel(&mortise))
    ///     .later("fit_in_summer", moves, Band::at_most(5.thou())?)
    ///     .stack()?;
    /// let summer = stack.outcome("fit_in_summer").unwrap();
    /// assert_eq!(summer.expr().to_string(), "tenon - mortise + (swelling - 0 in)");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn later(mut self, name: &str, moves: Moves, band: Band) -> Self {
        self.later.push((name.to_owned(), moves, band));
        self
    }

    /// The fit deviation, as an expression: positive is tight. A tenon with a slant is felt at its fattest spot.
    ///
    /// # Errors
    ///
    /// When a clearance is given for a mortise measured at the wanted feel, or is missing for a geometric width.
    pub fn fit(&self) -> Result<Expr, Error> {
        let felt = match &self.tenon.slant {
            None => self.tenon.thickness.clone(),
            Some(slant) => &self.tenon.thickness + slant.fattest(),
        };
        let fit = felt - self.mortise.expr();
        match (self.mortise.wanted(), &self.clearance) {
            (Wanted::InTheReading, None) => Ok(fit),
            (Wanted::Apart, Some(clearance)) => Ok(fit + clearance.expr()),
            (Wanted::InTheReading, Some(clearance)) => Err(ErrorKind::ClearanceTwice {
                clearance: clearance.stated().to_string(),
            }
            .into()),
            (Wanted::Apart, None) => Err(ErrorKind::ClearanceMissing.into()),
        }
    }

    /// The stack: outcome `fit`; `face_step`, `back_step` and the later fits where asked for; `taper_length`,
    /// `taper_width`, `lean` and `twist` where the tenon has a slant.
    ///
    /// # Errors
    ///
    /// As [`fit`](Self::fit); when a face step is asked for and the cutting method does not say where the
    /// tenon lies, or a back step without a face step; or when the stack is refused: two sources of one name, a
    /// band of the wrong dimension, ... All faults of the stack are reported together.
    pub fn stack(&self) -> Result<Stack, Error> {
        let fit = self.fit()?;
        let band = match self.band {
            Some(band) => band,
            None => Band::within(5.0.thou()).map_err(ErrorKind::Stack)?,
        };
        let mut stack = Stack::builder().outcome(Self::FIT, &fit, band);
        stack = self.steps(stack)?;
        for (name, moves, band) in &self.later {
            stack = stack.outcome(name, &(&fit + (&moves.tenon - &moves.mortise)), *band);
        }
        if let Some(slant) = &self.tenon.slant {
            stack = slant.outcomes(stack);
        }
        Ok(stack.build().map_err(ErrorKind::Stack)?)
    }

    fn steps(&self, mut stack: StackBuilder) -> Result<StackBuilder, Error> {
        let Some((wall, band)) = &self.face else {
            return match &self.back {
                None => Ok(stack),
                Some(_) => Err(Error::recipe(
                    "back_step: the step at the back follows from that at the front; ask for the face step too",
                )),
            };
        };
        let Some(middle) = &self.tenon.middle else {
            return Err(Error::recipe(
                "face_step: it is not said where the tenon lies; give the cutting method its distance \
                 from the reference face",
            ));
        };
        let face = middle - wall - self.mortise.expr() / 2.0;
        stack = stack.outcome(Self::FACE_STEP, &face, *band);
        if let Some(BackStep { rail, leg, band }) = &self.back {
            let back = Expr::source(rail) - Expr::source(leg) - face;
            stack = stack.outcome(Self::BACK_STEP, &back, *band);
        }
        Ok(stack)
    }
}
