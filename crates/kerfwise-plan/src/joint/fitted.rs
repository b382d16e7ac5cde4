//! The methods without a dial: turned over, with a stacked cutter, by hand, loose.

use super::later::Later;
use super::{Method, Reader, band};
use kerfwise_joint::{
    BackStep, BladeHeight, Clearance, Cuts, HandTenon, LooseTenon, Mortise, StackedCutterTenon,
    Tenon, TenonFit, TurnedTenon, Walls,
};
use kerfwise_source::{Dimension, Source};
use kerfwise_stack::{Band, Expr};

/// The step at the reference faces (wall of the mortise, band) and that at the back.
type Steps = (Option<(Source, Band)>, Option<BackStep>);

/// What is around the tenon: the mortise, and what is wanted.
struct Around {
    mortise: Mortise,
    clearance: Option<Clearance>,
    band: Option<Band>,
    face: Option<(Source, Band)>,
    back: Option<BackStep>,
    later: Vec<Later>,
}

impl Around {
    fn with(self, tenon: Tenon, blade: Option<BladeHeight>) -> Method {
        let mut joint = TenonFit::new(tenon, self.mortise);
        if let Some(clearance) = &self.clearance {
            joint = joint.clearance(clearance);
        }
        if let Some(band) = self.band {
            joint = joint.fit_band(band);
        }
        if let Some((wall, band)) = &self.face {
            joint = joint.face_step(wall, *band);
        }
        if let Some(back) = self.back {
            joint = joint.back_step(back);
        }
        let joint = Later::watch(&self.later, joint);
        Method::Fitted(Box::new(joint), blade)
    }
}

// As in the parent: `None` is a fault, `Some(None)` is "not there"; and all parts are read before the first `?`.
impl Reader<'_, '_> {
    pub(super) fn turned(&mut self) -> Option<Method> {
        let distance = self.sum("distance", "distance_errors");
        let stock = self.needed_width("stock");
        let seating = self.cuts("seating");
        let play = self.cuts("runner_play");
        let change = self.cuts("kerf_change");
        let angles = self.angles();
        let blade = self.blade_height();
        let around = self.around();
        let mut method = TurnedTenon::new(distance?, &stock?);
        if let Some(seating) = seating? {
            method = method.seating(seating);
        }
        if let Some(play) = play? {
            method = method.runner_play(play);
        }
        if let Some(change) = change? {
            method = method.kerf_change(change);
        }
        let mut tenon = method.tenon();
        if let Some(angles) = angles? {
            tenon = tenon.with_slant(angles.turned_over());
        }
        Some(around?.with(tenon, blade?))
    }

    pub(super) fn stacked_cutter(&mut self) -> Option<Method> {
        let height = self.sum("height", "height_errors");
        let stock = self.needed_width("stock");
        let seating = self.cuts("seating");
        let around = self.around();
        let mut method = StackedCutterTenon::new(height?, &stock?);
        if let Some(seating) = seating? {
            method = method.seating(seating);
        }
        Some(around?.with(method.tenon(), None))
    }

    pub(super) fn by_hand(&mut self) -> Option<Method> {
        let pins = self.needed("pins");
        let lines = self.needed_cuts("lines");
        let offset = match self.section.value("offset") {
            None => Some(None),
            Some(value) => self.source(value, "offset", Dimension::LENGTH).map(Some),
        };
        let around = self.around();
        let mut method = HandTenon::new(&pins?, lines?);
        if let Some(offset) = offset? {
            method = method.offset(&offset);
        }
        Some(around?.with(method.tenon(), None))
    }

    pub(super) fn loose(&mut self) -> Option<Method> {
        let slip = self.needed_width("slip");
        let rail = self.mortise("rail");
        let leg = self.mortise("leg");
        let clearance = self.clearance();
        let fits = self.fit_band();
        let walls = self.walls();
        let mut joint = LooseTenon::new(&slip?, rail?, leg?);
        if let Some(clearance) = clearance? {
            joint = joint.clearance(&clearance);
        }
        if let Some(band) = fits? {
            joint = joint.fit_band(band);
        }
        if let Some(walls) = walls? {
            joint = joint.face_step(walls);
        }
        Some(Method::Loose(Box::new(joint)))
    }

    fn around(&mut self) -> Option<Around> {
        let mortise = self.mortise("mortise");
        let clearance = self.clearance();
        let fits = self.fit_band();
        let face = self.face_of_fitted();
        let later = self.later();
        let (face, back) = face?;
        Some(Around {
            mortise: mortise?,
            clearance: clearance?,
            band: fits?,
            face,
            back,
            later: later?,
        })
    }

    fn face_of_fitted(&mut self) -> Option<Steps> {
        let Some(mut part) = self.part("face_step") else {
            return Some((None, None));
        };
        let wall = part.need("wall");
        let front = part.section.need("band");
        let front = front.and_then(|value| band(value, "face_step.band", part.sink));
        let back = part.back();
        part.section.close(part.sink);
        let back = back?.map(|(rail, leg, band)| BackStep { rail, leg, band });
        Some((Some((wall?, front?)), back))
    }

    fn walls(&mut self) -> Option<Option<Walls>> {
        let Some(mut part) = self.part("face_step") else {
            return Some(None);
        };
        let rail = part.need("rail_wall");
        let leg = part.need("leg_wall");
        let step = part.section.need("band");
        let step = step.and_then(|value| band(value, "face_step.band", part.sink));
        part.section.close(part.sink);
        Some(Some(Walls {
            rail: rail?,
            leg: leg?,
            band: step?,
        }))
    }

    /// A length that must be there.
    fn needed(&mut self, key: &'static str) -> Option<Source> {
        let value = self.section.need(key)?;
        self.source(value, key, Dimension::LENGTH)
    }

    /// A width or thickness that must be there.
    fn needed_width(&mut self, key: &'static str) -> Option<Source> {
        let value = self.section.need(key)?;
        self.pool.width(value, key, self.sink)
    }

    fn needed_cuts(&mut self, key: &'static str) -> Option<Cuts> {
        let value = self.section.need(key)?;
        self.pool.cuts(value, key, Dimension::LENGTH, self.sink)
    }

    /// A length that must be there, and what it may be off by besides.
    fn sum(&mut self, key: &'static str, errors: &'static str) -> Option<Expr> {
        let source = self.needed(key);
        let errors = self.sources(errors);
        let start = Expr::source(&source?);
        Some(errors?.iter().fold(start, |sum, error| sum + error))
    }
}
