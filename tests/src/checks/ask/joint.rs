//! Joints that no plan file has words for, put together from the sources of a case.

use kerfwise_joint::joints::{
    BoxJoint, Dowels, Drawer, Frame, HalfLap, PanelInGroove, SlidingDovetail, StopCut,
};
use kerfwise_joint::{
    BackStep, BladeHeight, CheekSize, CutAngle, Cuts, Flange, HandTenon, Haunch, Heel,
    HollowChisel, Kerf, LooseTenon, Mortise, RunOut, Slant, StackedCutterTenon, Tenon, TenonFit,
    TurnedTenon, Walls,
};
use kerfwise_plan::Plan;
use kerfwise_source::{LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack, StackBuilder};

pub(super) type Made = Result<Stack, String>;

/// A joint by its name; its sources are those of the plan, named by the part they play.
pub(super) fn stack(name: &str, plan: &Plan) -> Made {
    let parts = Parts {
        sources: plan.stack().sources(),
    };
    match name {
        "box joint of three fingers" => parts.box_joint(3),
        "half-lap" => parts.half_lap(),
        "dowels" => parts.dowels(),
        "panel in groove" => parts.panel(),
        "sliding dovetail" => parts.sliding_dovetail(),
        "drawer" => parts.drawer(),
        "frame of 8 by 10 in" => parts.frame(false),
        "slant off one face" => parts.slant(Slant::off_one_face),
        "slant turned over" => parts.slant(Slant::turned_over),
        "turned tenon" => parts.turned(),
        "stacked cutter" => parts.stacked_cutter(),
        "by hand" => parts.by_hand(),
        "loose tenon" => parts.loose(),
        "blade height" => parts.blade_height(),
        "haunch" => parts.haunch(),
        "kerf from teeth and run-out" => parts.kerf(),
        "two settings of the router" => parts.two_settings(),
        "hollow chisel" => parts.hollow_chisel(),
        "shifted tenon" => parts.shifted(),
        "shifted tenon, plunger within limits" => parts.plunger(),
        "shifted tenon, plunger at an angle" => parts.at_an_angle(),
        "tongue and groove" => parts.tongue_and_groove(),
        "bridle" => parts.bridle(),
        "mortise by chisel" => parts.by_chisel(),
        "white ash" => parts.ash(),
        "air" => parts.air(),
        "frame of 8 by 10 in, moving" => parts.frame(true),
        _ => Err(format!("no joint {name}")),
    }
}

/// Sources by the part that they play.
pub(super) struct Parts<'a> {
    sources: Vec<&'a Source>,
}

pub(super) fn text(error: impl std::fmt::Display) -> String {
    error.to_string()
}

pub(super) fn within(thou: f64) -> Result<Band, String> {
    Band::within(thou.thou()).map_err(text)
}

pub(super) fn built(builder: StackBuilder) -> Made {
    builder.build().map_err(text)
}

impl Parts<'_> {
    pub(super) fn source(&self, name: &str) -> Result<Source, String> {
        let found = self.sources.iter().find(|source| source.name() == name);
        found
            .map(|source| (*source).clone())
            .ok_or_else(|| format!("the joint wants a source {name}"))
    }

    pub(super) fn expr(&self, name: &str) -> Result<Expr, String> {
        Ok(Expr::source(&self.source(name)?))
    }

    pub(super) fn cuts(&self, of: &str) -> Result<Cuts, String> {
        Ok(Cuts {
            first: self.source(&format!("{of}_1"))?,
            second: self.source(&format!("{of}_2"))?,
        })
    }

    fn box_joint(&self, fingers: u32) -> Made {
        let joint = BoxJoint {
            fingers,
            pitch: [self.expr("pitch_1")?, self.expr("pitch_2")?],
            notch: self.expr("notch")?,
            step: self.source("step")?,
            band: within(5.0)?,
        };
        joint.stack().map_err(text)
    }

    fn half_lap(&self) -> Made {
        let joint = HalfLap {
            upper_stock: self.source("upper_stock")?,
            lower_stock: self.source("lower_stock")?,
            upper_cut: self.expr("upper_cut")?,
            lower_cut: self.expr("lower_cut")?,
            band: within(5.0)?,
        };
        joint.stack().map_err(text)
    }

    fn dowels(&self) -> Made {
        let joint = Dowels {
            dowel: self.expr("dowel")?,
            hole_rail: self.expr("hole_rail")?,
            hole_leg: self.expr("hole_leg")?,
            spacing_rail: self.expr("spacing_rail")?,
            spacing_leg: self.expr("spacing_leg")?,
            centre_rail: self.expr("centre_rail")?,
            centre_leg: self.expr("centre_leg")?,
            depth_rail: self.expr("depth_rail")?,
            depth_leg: self.expr("depth_leg")?,
            length: self.expr("dowel_length")?,
            fit_band: within(5.0)?,
            step_band: within(8.0)?,
        };
        joint.stack().map_err(text)
    }

    fn panel(&self) -> Made {
        let joint = PanelInGroove {
            groove_width: self.expr("groove_width")?,
            panel_edge: self.expr("panel_edge")?,
            opening: self.expr("opening")?,
            groove_depth: self.expr("groove_depth")?,
            panel_width: self.expr("panel_width")?,
            swelling: self.expr("swelling")?,
            shrinking: self.expr("shrinking")?,
            slide_band: Band::between(2.0.thou(), 15.0.thou()).map_err(text)?,
            least_hold: 0.125.inch(),
        };
        joint.stack().map_err(text)
    }

    fn sliding_dovetail(&self) -> Made {
        let joint = SlidingDovetail {
            tail: self.expr("tail")?,
            tail_length: self.expr("tail_length")?,
            bottom: self.expr("bottom")?,
            depth: self.expr("depth")?,
            slope: self.source("slope")?,
            taper: self.expr("taper")?,
            band: within(5.0)?,
        };
        joint.stack().map_err(text)
    }

    fn drawer(&self) -> Made {
        let joint = Drawer {
            opening_width: self.expr("opening_width")?,
            drawer_width: self.expr("drawer_width")?,
            opening_height: self.expr("opening_height")?,
            side_height: self.expr("side_height")?,
            swelling: self.expr("swelling")?,
            side_band: Band::between(30.0.thou(), 60.0.thou()).map_err(text)?,
            top_band: Band::at_least(30.0.thou()).map_err(text)?,
        };
        joint.stack().map_err(text)
    }

    fn frame(&self, is_moving: bool) -> Made {
        let cut = |of: &str| -> Result<StopCut, String> {
            Ok(StopCut {
                stop: self.source(&format!("{of}_stop"))?,
                part: self.source(&format!("{of}_part"))?,
            })
        };
        let joint = Frame {
            rails: cut("rail")?,
            stiles: cut("stile")?,
            height: self.expr("height")?,
            movement: is_moving.then(|| self.expr("movement")).transpose()?,
            corner: self.source("corner")?,
            wanted_width: 8.0.inch(),
            width_band: within(10.0)?,
            taper_band: within(5.0)?,
            diagonal_band: within(30.0)?,
        };
        joint.stack().map_err(text)
    }

    /// A cheek of 1 by 2 inches; what its slant adds to the thickness is an outcome too.
    fn slant(&self, of: fn(CheekSize, [&CutAngle; 2]) -> Slant) -> Made {
        let angle = |k: &str| -> Result<CutAngle, String> {
            Ok(CutAngle {
                lean: self.expr(&format!("lean_{k}"))?,
                yaw: self.expr(&format!("yaw_{k}"))?,
            })
        };
        let size = CheekSize {
            length: 1.0.inch(),
            width: 2.0.inch(),
        };
        let slant = of(size, [&angle("1")?, &angle("2")?]);
        let builder = Stack::builder()
            .outcome_without_band("taper_length", slant.taper_length())
            .outcome_without_band("taper_width", slant.taper_width())
            .outcome_without_band("lean", slant.lean())
            .outcome_without_band("twist", slant.twist())
            .outcome_without_band("fattest", &slant.fattest());
        built(builder)
    }

    fn fit_of(&self, tenon: Tenon) -> Made {
        let mortise = Mortise::at_feel(&self.source("mortise")?);
        let mut joint = TenonFit::new(tenon, mortise)
            .fit_band(within(4.0)?)
            .face_step(self.expr("wall")?, within(6.0)?);
        if let (Ok(rail), Ok(leg)) = (self.source("rail_stock"), self.source("leg_stock")) {
            let band = within(6.0)?;
            joint = joint.back_step(BackStep { rail, leg, band });
        }
        joint.stack().map_err(text)
    }

    fn turned(&self) -> Made {
        let tenon = TurnedTenon::new(self.expr("distance")?, &self.source("stock")?)
            .seating(self.cuts("seating")?)
            .runner_play(self.cuts("play")?)
            .kerf_change(self.cuts("change")?);
        self.fit_of(tenon.tenon())
    }

    fn stacked_cutter(&self) -> Made {
        let tenon = StackedCutterTenon::new(self.expr("cutter_height")?, &self.source("stock")?)
            .seating(self.cuts("seating")?);
        self.fit_of(tenon.tenon())
    }

    fn by_hand(&self) -> Made {
        let tenon = HandTenon::new(&self.source("pins")?, self.cuts("line")?)
            .offset(&self.source("offset")?);
        self.fit_of(tenon.tenon())
    }

    fn loose(&self) -> Made {
        let mortise = |name: &str| Ok::<_, String>(Mortise::at_feel(&self.source(name)?));
        let (rail, leg) = (mortise("mortise_rail")?, mortise("mortise_leg")?);
        let walls = Walls {
            rail: self.source("wall_rail")?,
            leg: self.source("wall_leg")?,
            band: within(6.0)?,
        };
        let joint = LooseTenon::new(&self.source("tenon")?, rail, leg)
            .fit_band(within(3.0)?)
            .face_step(walls);
        joint.stack().map_err(text)
    }

    fn blade_height(&self) -> Made {
        let room = Band::between(10.0.thou(), 60.0.thou()).map_err(text)?;
        let joint = BladeHeight::new(self.expr("height")?, self.expr("shoulder")?)
            .tips(&self.source("tips")?)
            .support(self.cuts("support")?)
            .mortise_depth(&self.source("mortise_depth")?, room);
        joint.stack().map_err(text)
    }

    fn haunch(&self) -> Made {
        let joint = Haunch {
            groove_depth: self.source("groove_depth")?,
            length: self.source("haunch_length")?,
            groove_width: self.source("groove_width")?,
            thickness: self.source("thickness")?,
            end_band: Band::at_least(0.0.inch()).map_err(text)?,
            side_band: within(4.0)?,
        };
        joint.stack().map_err(text)
    }

    /// A flange of 1 in carries a blade of 5 in; the heel is measured over 10 in, 6 in are engaged.
    fn kerf(&self) -> Made {
        let flange = Flange {
            run_out: self.source("flange")?,
            radius: 1.0.inch(),
            blade_radius: 5.0.inch(),
            phase: self.source("phase")?,
        };
        let run_out = RunOut::of_plate(&self.source("plate")?)
            .on_flange(&flange)
            .map_err(text)?;
        let heel = Heel {
            heel: self.source("heel")?,
            over: 10.0.inch(),
            engaged: 6.0.inch(),
        };
        let kerf = Kerf::from_teeth(&self.source("tooth")?, &run_out)
            .heel(&heel)
            .map_err(text)?;
        let builder = Stack::builder()
            .outcome_without_band("run_out", run_out.expr())
            .outcome_without_band("kerf", kerf.expr());
        built(builder)
    }

    fn two_settings(&self) -> Made {
        let [bit, run_out, shift] = ["bit", "bit_run_out", "shift"].map(|name| self.source(name));
        let mortise =
            Mortise::routed_in_two_settings(&bit?, &run_out?, &shift?, &self.cuts("pass")?);
        let leaning = mortise.clone().leaning(
            1.0.inch(),
            &self.source("wall_lean_1")?,
            &self.source("wall_lean_2")?,
        );
        let builder = Stack::builder()
            .outcome_without_band("width", mortise.expr())
            .outcome_without_band("leaning", leaning.expr());
        built(builder)
    }

    fn hollow_chisel(&self) -> Made {
        let push = HollowChisel {
            chisel: self.source("chisel")?,
            twist: self.source("chisel_twist")?,
            spacing: 0.25.inch(),
        };
        let mortise = Mortise::hollow_chisel(&push).map_err(text)?;
        built(Stack::builder().outcome_without_band("width", mortise.expr()))
    }
}
