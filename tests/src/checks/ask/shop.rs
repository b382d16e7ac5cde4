//! Whole joints: a tenon cut by shifting the jig, with all that can be said of it, its kinds of mortise, and wood that moves.

use super::joint::{Made, Parts, built, text, within};
use kerfwise_joint::wood::{Air, Coefficient, EdgeClearance, Moisture, Movement, Species};
use kerfwise_joint::{
    Clearance, FaceStep, Kerf, LockDown, MoistureBetweenCuts, Mortise, ShiftedTenon, Travel, Wedges,
};
use kerfwise_source::{AngleUnits, LengthUnits, MoistureContent};
use kerfwise_stack::{Band, Expr, Stack};

impl Parts<'_> {
    fn saw(&self) -> Result<Kerf, String> {
        Ok(Kerf::from_source(&self.source("kerf")?))
    }

    /// Half an inch on the dial, and everything that may be off.
    pub(super) fn shifted(&self) -> Made {
        let travel = Travel::of(0.5.inch())
            .map_err(text)?
            .with(&self.source("indicator")?);
        let step = FaceStep {
            first_cheek: self.source("far_cheek")?,
            wall: self.source("wall")?,
            band: within(8.0)?,
            back: Some((
                self.source("rail_stock")?,
                self.source("leg_stock")?,
                within(10.0)?,
            )),
        };
        let moisture = MoistureBetweenCuts {
            first_cheek: self.source("cheek")?,
            coefficient: self.source("coefficient")?,
            change: self.source("gain")?,
        };
        let lock_down = LockDown::ReadBefore {
            shift: self.source("lock")?,
        };
        ShiftedTenon::new(
            travel,
            self.saw()?,
            Mortise::geometric(&self.source("mortise")?),
        )
        .clearance(&Clearance::total(&self.source("glue")?))
        .lock_down(lock_down)
        .seating(self.cuts("seating")?)
        .runner_play(self.cuts("play")?)
        .kerf_change(self.cuts("change")?)
        .moisture(moisture)
        .face_step(step)
        .fit_band(within(6.0)?)
        .stack()
        .map_err(text)
    }

    /// A plunger within 4 degrees, a mortise routed in one pass, the room of one glue line.
    pub(super) fn plunger(&self) -> Made {
        let travel = Travel::of(0.5.inch()).and_then(|travel| travel.plunger_within(4.degrees()));
        let mortise = Mortise::routed_in_one_pass(&self.source("bit")?, &self.source("run_out")?);
        ShiftedTenon::new(travel.map_err(text)?, self.saw()?, mortise)
            .clearance(&Clearance::per_glue_line(&self.source("glue")?))
            .stack()
            .map_err(text)
    }

    /// The plunger's angle as a source; the mortise felt with wedges of 1 in 16.
    pub(super) fn at_an_angle(&self) -> Made {
        let travel = Travel::of(0.5.inch())
            .map_err(text)?
            .at_angle(&self.source("angle")?);
        let wedges = Wedges {
            closed: self.source("closed")?,
            slide: self.source("slide")?,
            one_in: 16.0,
        };
        let mortise = Mortise::by_wedges(&wedges)
            .map_err(text)?
            .with(&self.source("feel")?);
        ShiftedTenon::new(travel, self.saw()?, mortise)
            .stack()
            .map_err(text)
    }

    /// Tongue and groove of one cutter, by a spacer.
    pub(super) fn tongue_and_groove(&self) -> Made {
        let travel = Travel::by_spacer(&self.source("spacer")?).map_err(text)?;
        let groove = Mortise::sawn_in_one_pass(&self.saw()?);
        ShiftedTenon::new(travel, self.saw()?, groove)
            .clearance(&Clearance::total(&self.source("glue")?))
            .stack()
            .map_err(text)
    }

    /// A bridle: the slot is sawn at two settings of the same blade.
    pub(super) fn bridle(&self) -> Made {
        let travel = Travel::by_spacer(&self.source("spacer")?).map_err(text)?;
        let seating = self.cuts("slot_seat")?;
        let slot = Mortise::sawn_at_two_settings(
            &self.source("slot_travel")?,
            &self.saw()?,
            Some(&seating),
        );
        ShiftedTenon::new(travel, self.saw()?, slot)
            .clearance(&Clearance::total(&self.source("glue")?))
            .stack()
            .map_err(text)
    }

    /// Chopped walls, and walls that bow.
    pub(super) fn by_chisel(&self) -> Made {
        let chopped = Mortise::chopped(&self.source("pins")?, &self.cuts("wall")?);
        let bowed = chopped
            .clone()
            .bowed(&self.source("bow_1")?, &self.source("bow_2")?);
        let builder = Stack::builder()
            .outcome_without_band("chopped", chopped.expr())
            .outcome_without_band("bowed", bowed.expr());
        built(builder)
    }

    /// White ash of 3 in that goes from "shop" to "home"; the room beside a tenon's edges.
    pub(super) fn ash(&self) -> Made {
        let ash = Species::named("white ash").map_err(text)?;
        let board = ash.factor("board").build().map_err(text)?;
        let movement = Movement {
            size: self.expr("size")?,
            from: Moisture::from_source(&self.source("shop")?).with(&self.source("meter")?),
            to: Moisture::from_source(&self.source("home")?),
        };
        let (tangential, radial) = (
            Coefficient::tangential(ash, &board),
            Coefficient::radial(ash, &board),
        );
        let askew = Coefficient::at_ring_angle(ash, &self.source("rings")?, &board);
        let change = |coefficient: &Coefficient| movement.linear(coefficient).map_err(text);
        let clearance = EdgeClearance {
            mortise_length: self.expr("mortise_length")?,
            tenon_width: self.expr("size")?,
            movement: change(&tangential)?,
            band: Band::at_least(0.inch()).map_err(text)?,
        };
        let shrinkage = self.expr("shrinkage")?;
        let by_shrinkage = movement.from_shrinkage(shrinkage).map_err(text)?;
        let builder = Stack::builder()
            .outcome_without_band("tangential", &change(&tangential)?)
            .outcome_without_band("radial", &change(&radial)?)
            .outcome_without_band("askew", &change(&askew)?)
            .outcome_without_band("by_shrinkage", &by_shrinkage)
            .outcome_without_band("clearance", &clearance.expr());
        built(builder)
    }

    /// Equilibrium in air of uncertain temperature and humidity.
    pub(super) fn air(&self) -> Made {
        let air = Air {
            temperature: self.expr("celsius")?,
            humidity: self.expr("humidity")?,
        };
        let moisture = air.equilibrium().map_err(text)?;
        let one = Expr::constant(MoistureContent::from_percent(1.0));
        built(Stack::builder().outcome_without_band("moisture", &(moisture.expr() / one)))
    }
}
