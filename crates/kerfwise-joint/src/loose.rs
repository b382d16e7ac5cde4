use crate::{Adjustment, Clearance, Error, ErrorKind, Mortise, Tenon, TenonFit};
use kerfwise_source::{LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// A loose tenon: a planed slip of wood that fills a mortise in each of two parts.
///
/// ```text
/// fit_rail = tenon − (mortise in the rail − clearance)
/// fit_leg  = tenon − (mortise in the leg − clearance)
/// ```
///
/// Both are positive when tight. They share the tenon: when it is fat, both are tight. So the chance that
/// both fit is larger than the product of the two; Monte Carlo of the stack gives each and both. Source
/// of the arithmetic: common practice, no source.
///
/// ```
/// use kerfwise_joint::{LooseTenon, Mortise};
/// use kerfwise_source::{LengthUnits, Source};
///
/// let length = |name, x: f64| Source::new(name, x.inch()).rectangular(2.thou()).build();
/// let (slip, rail, leg) = (length("slip", 0.375)?, length("rail", 0.375)?, length("leg", 0.375)?);
/// let stack = LooseTenon::new(&slip, Mortise::at_feel(&rail), Mortise::at_feel(&leg)).stack()?;
/// assert!(stack.to_string().starts_with(
///     "fit_rail = slip - rail\n    from -0.005 in to 0.005 in\nfit_leg = slip - leg\n"
/// ));
/// // 2 + 2 thou at the worst: both fit, always.
/// assert_eq!(stack.monte_carlo(10_000)?.joint.unwrap().value, 1.0);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct LooseTenon {
    tenon: Source,
    rail: Mortise,
    leg: Mortise,
    clearance: Option<Clearance>,
    band: Option<Band>,
    flush: Option<Walls>,
}

/// Where the two mortises of a loose tenon lie, for the step between the faces.
///
/// ```text
/// face_step = (wall in the rail + its mortise / 2) − (wall in the leg + its mortise / 2)
/// ```
///
/// A wall is the distance from the reference face to the near wall of the mortise; the tenon is taken to stand
/// in the middle of both. The step is positive when the rail stands proud of the leg: its face is then
/// further from the tenon.
#[derive(Debug, Clone)]
pub struct Walls {
    /// Reference face of the rail to the near wall of its mortise.
    pub rail: Source,
    /// Reference face of the leg to the near wall of its mortise.
    pub leg: Source,
    /// What the step may be.
    pub band: Band,
}

impl LooseTenon {
    /// The name of the fit in the rail.
    pub const FIT_RAIL: &'static str = "fit_rail";
    /// The name of the fit in the leg.
    pub const FIT_LEG: &'static str = "fit_leg";
    /// The name of the step between the reference faces.
    pub const FACE_STEP: &'static str = "face_step";

    /// From the thickness of the planed slip and the two mortises.
    #[must_use]
    pub fn new(tenon: &Source, rail: Mortise, leg: Mortise) -> Self {
        Self {
            tenon: tenon.clone(),
            rail,
            leg,
            clearance: None,
            band: None,
            flush: None,
        }
    }

    /// The wanted clearance in each mortise that is given by its geometric width.
    #[must_use]
    pub fn clearance(mut self, clearance: &Clearance) -> Self {
        self.clearance = Some(clearance.clone());
        self
    }

    /// The band of both fits; without it ±0.005 in, the trade's band (common practice, no source).
    #[must_use]
    pub fn fit_band(mut self, band: Band) -> Self {
        self.band = Some(band);
        self
    }

    /// Watches the step between the reference faces as well.
    #[must_use]
    pub fn face_step(mut self, walls: Walls) -> Self {
        self.flush = Some(walls);
        self
    }

    /// What is planed: how thick the slip is.
    #[must_use]
    pub fn adjustment(&self) -> Adjustment {
        Adjustment::Slip(self.tenon.clone())
    }

    /// The mortises of rail and leg.
    #[must_use]
    pub fn mortises(&self) -> [&Mortise; 2] {
        [&self.rail, &self.leg]
    }

    /// The stack: outcomes `fit_rail` and `fit_leg`, and `face_step` where asked for.
    ///
    /// # Errors
    ///
    /// As [`TenonFit::stack`], for either mortise.
    pub fn stack(&self) -> Result<Stack, Error> {
        let band = match self.band {
            Some(band) => band,
            None => Band::within(5.0.thou()).map_err(ErrorKind::Stack)?,
        };
        let fit = |mortise: &Mortise| {
            let mut joint = TenonFit::new(Tenon::of_thickness(&self.tenon), mortise.clone());
            if let Some(clearance) = &self.clearance {
                joint = joint.clearance(clearance);
            }
            joint.fit()
        };
        let mut stack = Stack::builder()
            .outcome(Self::FIT_RAIL, &fit(&self.rail)?, band)
            .outcome(Self::FIT_LEG, &fit(&self.leg)?, band);
        if let Some(Walls { rail, leg, band }) = &self.flush {
            let rail = Expr::source(rail) + self.rail.expr() / 2.0;
            let leg = Expr::source(leg) + self.leg.expr() / 2.0;
            stack = stack.outcome(Self::FACE_STEP, &(rail - leg), *band);
        }
        Ok(stack.build().map_err(ErrorKind::Stack)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{derivative, length};
    use kerfwise_source::Event;
    use kerfwise_stack::Batch;

    fn normal(name: &str, sd: f64, event: Event) -> Source {
        let source = Source::new(name, 0.375.inch())
            .normal(sd.thou())
            .event(event);
        source.build().unwrap()
    }

    /// With mortises alike, two fits that share a tenon are a batch of two pieces that share a set-up: the
    /// chance of both is known exactly by another road.
    #[test]
    fn both_fits_together_are_likelier_than_their_product() {
        let slip = normal("slip", 3.0, Event::tenon_set_up());
        let (rail, leg) = (
            normal("rail", 2.0, Event::piece()),
            normal("leg", 2.0, Event::piece()),
        );
        let stack = LooseTenon::new(&slip, Mortise::at_feel(&rail), Mortise::at_feel(&leg))
            .stack()
            .unwrap();
        let fit = stack.outcome(LooseTenon::FIT_RAIL).unwrap();
        let both = fit.batch(Batch::of(2)).unwrap().all.value;
        let each = fit
            .exact()
            .unwrap()
            .chance(&fit.band().unwrap())
            .value
            .inside;
        let answer = stack.monte_carlo(200_000).unwrap();
        let joint = answer.joint.unwrap();
        // Five standard errors of 200,000 trials: √(0.7 · 0.3 / 200,000) · 5 = 0.005.
        assert!((joint.value - both).abs() < 0.005, "{} {both}", joint.value);
        assert!(both > each * each + 0.02, "{both} {each}");
    }

    #[test]
    fn sensitivities_are_those_of_the_pencil() {
        let slip = length("slip", 0.375.inch());
        let (rail, leg) = (length("rail", 0.375.inch()), length("leg", 0.376.inch()));
        let walls = Walls {
            rail: length("rail_wall", 0.1875.inch()),
            leg: length("leg_wall", 0.1865.inch()),
            band: Band::within(4.thou()).unwrap(),
        };
        let slack = Source::new("slack", 1.thou())
            .rectangular(0.5.thou())
            .build()
            .unwrap();
        let stack = LooseTenon::new(&slip, Mortise::geometric(&rail), Mortise::geometric(&leg))
            .clearance(&Clearance::per_glue_line(&slack))
            .face_step(walls)
            .stack()
            .unwrap();
        let sensitivity = |outcome: &str, source: &str| {
            derivative(stack.outcome(outcome).unwrap().expr(), source)
        };
        // Exact: the coefficients are powers of 2.
        for (outcome, source, by_hand) in [
            ("fit_rail", "slip", 1.0),
            ("fit_rail", "rail", -1.0),
            ("fit_rail", "slack", 2.0),
            ("fit_leg", "slip", 1.0),
            ("fit_leg", "leg", -1.0),
            ("face_step", "rail_wall", 1.0),
            ("face_step", "rail", 0.5),
            ("face_step", "leg", -0.5),
        ] {
            assert!(
                (sensitivity(outcome, source) - by_hand).abs() < 1e-15,
                "{outcome} {source}"
            );
        }
        // 0.1875 + 0.1875 − (0.1865 + 0.188) = 0.0005 in proud.
        let step = stack.outcome("face_step").unwrap().evaluate(&[]).unwrap();
        assert!((step.raw() - 0.0005).abs() < 1e-15);
    }
}
