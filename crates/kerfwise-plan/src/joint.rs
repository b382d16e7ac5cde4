//! `[joint]`: a tenon cut by the shifted method.

use crate::document::{Entry, Value};
use crate::fault::Sink;
use crate::near::suggestion;
use crate::pool::Pool;
use crate::read::{Section, angle, count, length, list, pair, text};
use kerfwise_joint::{
    Clearance, Cuts, Error, ErrorKind, FaceStep, Kerf, Leaves, LockDown, MoistureBetweenCuts,
    Mortise, ShiftedTenon, Travel,
};
use kerfwise_source::{Angle, Dimension, Length, LengthUnits, Source};
use kerfwise_stack::Band;
use std::ops::Range;

/// All of a joint except for the travel that its dial is set to.
#[derive(Debug, Clone)]
pub(crate) struct Recipe {
    errors: Vec<Source>,
    plunger: Plunger,
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

/// The angle of the dial's plunger.
#[derive(Debug, Clone)]
enum Plunger {
    Straight,
    Within(Angle),
    At(Source),
}

/// Names that a joint gives to sources of its own.
pub(crate) const OWN_NAMES: [&str; 3] = ["travel", "cosine", "leaves"];

impl Recipe {
    /// The joint with its dial set to a travel.
    pub(crate) fn at(&self, dialled: Length) -> Result<ShiftedTenon, Error> {
        let mut travel = Travel::of(dialled)?;
        for error in &self.errors {
            travel = travel.with(error);
        }
        travel = match &self.plunger {
            Plunger::Straight => travel,
            Plunger::Within(limit) => travel.plunger_within(*limit)?,
            Plunger::At(angle) => travel.at_angle(angle),
        };
        let mut joint = ShiftedTenon::new(travel, self.kerf.clone(), self.mortise.clone());
        // One line per part: each setter takes its own type.
        if let Some(clearance) = &self.clearance {
            joint = joint.clearance(&Clearance::total(clearance));
        }
        if let Some(lock_down) = &self.lock_down {
            joint = joint.lock_down(lock_down.clone());
        }
        if let Some(seating) = &self.seating {
            joint = joint.seating(seating.clone());
        }
        if let Some(play) = &self.runner_play {
            joint = joint.runner_play(play.clone());
        }
        if let Some(change) = &self.kerf_change {
            joint = joint.kerf_change(change.clone());
        }
        if let Some(moisture) = &self.moisture {
            joint = joint.moisture(moisture.clone());
        }
        if let Some(band) = self.band {
            joint = joint.fit_band(band);
        }
        if let Some(step) = &self.face_step {
            joint = joint.face_step(step.clone());
        }
        Ok(joint)
    }

    /// The nominal travel, rounded to the steps of the dial.
    ///
    /// The error of a slanting plunger grows with the travel, so the travel is found by going round
    /// a few times; each round leaves a thousandth of the error before it, or less.
    pub(crate) fn nominal_travel(&self, step: Option<Length>) -> Result<Length, Error> {
        const ROUNDS: usize = 8;
        let mut travel = 1.inch();
        for _ in 0..ROUNDS {
            travel = self.at(travel)?.nominal_travel()?;
        }
        if let Some(step) = step {
            travel = in_steps(travel, step);
        }
        // Refuses a travel that is not above 0.
        self.at(travel).map(|joint| joint.dialled())
    }
}

/// A whole number of steps. Where whole steps make an inch, dividing keeps 0.5005 in from becoming
/// 0.5005000000000001 in.
fn in_steps(travel: Length, step: Length) -> Length {
    let steps = (travel / step).round();
    let per_inch = 1.inch() / step;
    let whole = per_inch.round();
    if (per_inch - whole).abs() < 1e-9 * whole {
        1.inch() * (steps / whole)
    } else {
        step * steps
    }
}

/// What `[joint]` says.
pub(crate) struct JointSection {
    /// `None` when it is faulty.
    pub(crate) recipe: Option<Recipe>,
    pub(crate) travel: Option<Length>,
    pub(crate) dial_step: Option<Length>,
    pub(crate) places: Places,
}

/// Where the parts stand whose faults only building the joint finds.
pub(crate) struct Places {
    travel: Range<usize>,
    clearance: Range<usize>,
    mortise: Range<usize>,
}

impl Places {
    /// Tells what building the joint found.
    pub(crate) fn tell(&self, error: &Error, sink: &mut Sink) {
        self.tell_with("", error, sink);
    }

    /// Tells why there is no nominal travel.
    pub(crate) fn tell_nominal(&self, error: &Error, sink: &mut Sink) {
        self.tell_with("nominal ", error, sink);
    }

    fn tell_with(&self, which: &str, error: &Error, sink: &mut Sink) {
        match error.kind() {
            ErrorKind::ClearanceTwice { .. } => sink.at(&self.clearance, error.to_string()),
            ErrorKind::ClearanceMissing => sink.at(&self.mortise, error.to_string()),
            _ => sink.at(&self.travel, format!("{which}{error}")),
        };
    }
}

pub(crate) fn read(entry: &Entry, pool: &mut Pool, sink: &mut Sink) -> Option<JointSection> {
    let section = Section::of("[joint]", entry, sink)?;
    let mut reader = Reader {
        section,
        pool,
        sink,
    };
    reader.method();
    let travel_value = reader.section.value("travel");
    let travel = travel_value.and_then(|value| reader.positive(value, "travel"));
    let step_value = reader.section.value("dial_step");
    let dial_step = step_value.and_then(|value| reader.positive(value, "dial_step"));
    let place = |value: Option<&Value>| value.map_or(entry.key_span.clone(), |v| v.span.clone());
    let places = Places {
        travel: place(travel_value),
        clearance: place(reader.section.value("clearance")),
        mortise: place(reader.section.value("mortise")),
    };
    let numbers_are_good =
        travel_value.is_some() == travel.is_some() && step_value.is_some() == dial_step.is_some();
    let recipe = reader.recipe().filter(|_| numbers_are_good);
    reader.own_names();
    reader.section.close(reader.sink);
    Some(JointSection {
        recipe,
        travel,
        dial_step,
        places,
    })
}

struct Reader<'a, 'b> {
    section: Section<'a>,
    pool: &'b mut Pool,
    sink: &'b mut Sink,
}

// What may be missing is doubly optional below: `None` is a fault, `Some(None)` is "not there".
impl<'a> Reader<'a, '_> {
    fn method(&mut self) {
        let Some(value) = self.section.need("method") else {
            return;
        };
        match text(value, "method", self.sink) {
            Some("shifted") | None => {}
            Some(other) => {
                let help = suggestion(other, ["shifted"], "it may be");
                self.sink
                    .at(&value.span, format!("there is no method {other:?}"))
                    .help(help);
            }
        }
    }

    fn recipe(&mut self) -> Option<Recipe> {
        // All parts are read before the first `?`, so that all their faults are told.
        let errors = self.sources("travel_errors");
        let plunger = self.plunger();
        let kerf = self.kerf();
        let mortise = self.mortise();
        let clearance = self.optional_source("clearance", Dimension::LENGTH);
        let lock_down = self.lock_down();
        let seating = self.cuts("seating");
        let runner_play = self.cuts("runner_play");
        let kerf_change = self.cuts("kerf_change");
        let moisture = self.moisture();
        let band = match self.section.value("fit_band") {
            Some(value) => band(value, "fit_band", self.sink).map(Some),
            None => Some(None),
        };
        let face_step = self.face_step();
        Some(Recipe {
            errors: errors?,
            plunger: plunger?,
            kerf: kerf?,
            mortise: mortise?,
            clearance: clearance?,
            lock_down: lock_down?,
            seating: seating?,
            runner_play: runner_play?,
            kerf_change: kerf_change?,
            moisture: moisture?,
            band: band?,
            face_step: face_step?,
        })
    }

    fn positive(&mut self, value: &Value, what: &str) -> Option<Length> {
        let length = length(value, what, self.sink)?;
        if length.to_inches() > 0.0 {
            return Some(length);
        }
        let got = self.sink.shown(&value.span);
        self.sink
            .at(&value.span, format!("{what} must be above 0 (got {got})"));
        None
    }

    fn plunger(&mut self) -> Option<Plunger> {
        let keys = ["plunger_within", "plunger_angle"];
        let Some(entry) = self.section.at_most_one_of(&keys, self.sink) else {
            return Some(Plunger::Straight);
        };
        if entry.key == "plunger_angle" {
            let angle = self.source(&entry.value, "plunger_angle", Dimension::ANGLE)?;
            return Some(Plunger::At(angle));
        }
        let limit = angle(&entry.value, "plunger_within", self.sink)?;
        // Any travel would do: only the angle can be refused here.
        match Travel::of(1.inch()).and_then(|travel| travel.plunger_within(limit)) {
            Ok(_) => Some(Plunger::Within(limit)),
            Err(error) => {
                self.sink.at(&entry.value.span, error.to_string());
                None
            }
        }
    }

    fn kerf(&mut self) -> Option<Kerf> {
        let mut part = self.needed_part(
            "kerf",
            "such as kerf = { test_cut = \"kerf\", gauge = \"caliper\" }",
        )?;
        let keys = ["source", "test_cut", "pin"];
        let help = "one source, a test cut that was measured, or a pin and leaves in a saw cut";
        let kerf = match part.section.one_of(&keys, help, part.sink) {
            None => None,
            Some(entry) if entry.key == "source" => {
                let kerf = part.source(&entry.value, "kerf.source");
                kerf.map(|kerf| Kerf::from_source(&kerf))
            }
            Some(entry) if entry.key == "test_cut" => {
                let readings = part.source(&entry.value, "kerf.test_cut");
                let gauge = part.need("gauge");
                readings
                    .zip(gauge)
                    .map(|(r, g)| Kerf::from_test_cut(&r, &g))
            }
            Some(entry) => part.pin_and_leaves(entry),
        };
        part.section.close(part.sink);
        kerf
    }

    fn mortise(&mut self) -> Option<Mortise> {
        let mut part =
            self.needed_part("mortise", "such as mortise = { at_feel = \"mortise\" }")?;
        let keys = ["at_feel", "width"];
        let help = "at_feel when the reading holds the wanted clearance, width from wall to wall";
        let entry = part.section.one_of(&keys, help, part.sink);
        let mortise = entry.and_then(|entry| {
            let what = format!("mortise.{}", entry.key);
            let source = part.source(&entry.value, &what)?;
            Some(match entry.key.as_str() {
                "at_feel" => Mortise::at_feel(&source),
                _ => Mortise::geometric(&source),
            })
        });
        let errors = part.sources("errors", "mortise.errors");
        part.section.close(part.sink);
        let errors = errors?;
        Some(errors.iter().fold(mortise?, Mortise::with))
    }

    fn lock_down(&mut self) -> Option<Option<LockDown>> {
        let Some(mut part) = self.part("lock_down") else {
            return Some(None);
        };
        let shift = part.optional("shift");
        let residual = part.optional("residual");
        let when = part.section.need("read");
        let when = when.and_then(|value| Some((text(value, "lock_down.read", part.sink)?, value)));
        let lock_down = match when {
            Some(("before locking", value)) => part
                .wanted(shift, "shift", value)
                .map(|shift| LockDown::ReadBefore { shift }),
            Some(("after locking", value)) => part
                .wanted(residual, "residual", value)
                .map(|residual| LockDown::ReadAfter { residual }),
            Some((other, value)) => {
                let known = ["before locking", "after locking"];
                let help = suggestion(other, known, "it may be");
                let message = format!("lock_down.read may not be {other:?}");
                part.sink.at(&value.span, message).help(help);
                None
            }
            None => None,
        };
        part.section.close(part.sink);
        lock_down.map(Some)
    }

    fn moisture(&mut self) -> Option<Option<MoistureBetweenCuts>> {
        let Some(mut part) = self.part("moisture") else {
            return Some(None);
        };
        let per_percent = Dimension::NUMBER.per(Dimension::MOISTURE)?;
        let first_cheek = part.need("first_cheek");
        let coefficient = part.need_of("coefficient", per_percent);
        let change = part.need_of("change", Dimension::MOISTURE);
        part.section.close(part.sink);
        Some(Some(MoistureBetweenCuts {
            first_cheek: first_cheek?,
            coefficient: coefficient?,
            change: change?,
        }))
    }

    fn face_step(&mut self) -> Option<Option<FaceStep>> {
        let Some(mut part) = self.part("face_step") else {
            return Some(None);
        };
        let first_cheek = part.need("first_cheek");
        let wall = part.need("wall");
        let front = part.section.need("band");
        let front = front.and_then(|value| band(value, "face_step.band", part.sink));
        let back = part.back();
        part.section.close(part.sink);
        Some(Some(FaceStep {
            first_cheek: first_cheek?,
            wall: wall?,
            band: front?,
            back: back?,
        }))
    }

    fn cuts(&mut self, key: &'static str) -> Option<Option<Cuts>> {
        match self.section.value(key) {
            None => Some(None),
            Some(value) => self
                .pool
                .cuts(value, key, Dimension::LENGTH, self.sink)
                .map(Some),
        }
    }

    fn optional_source(
        &mut self,
        key: &'static str,
        dimension: Dimension,
    ) -> Option<Option<Source>> {
        match self.section.value(key) {
            None => Some(None),
            Some(value) => self.source(value, key, dimension).map(Some),
        }
    }

    fn source(&mut self, value: &Value, role: &str, dimension: Dimension) -> Option<Source> {
        self.pool.one(value, role, dimension, self.sink)
    }

    /// A list of lengths; nothing when the key is not there.
    fn sources(&mut self, key: &'static str) -> Option<Vec<Source>> {
        sources(self.section.value(key), key, self.pool, self.sink)
    }

    fn needed_part(&mut self, key: &'static str, help: &str) -> Option<Part<'a, '_>> {
        if self.section.get(key).is_none() {
            let message = format!("[joint] needs {key}");
            self.section.misses(&[key], message, Some(help));
            return None;
        }
        self.part(key)
    }

    fn part(&mut self, key: &'static str) -> Option<Part<'a, '_>> {
        let entry = self.section.get(key)?;
        let section = Section::of(key, entry, self.sink)?;
        Some(Part {
            section,
            pool: self.pool,
            sink: self.sink,
        })
    }

    /// A joint makes a few sources itself, whose names are then taken.
    fn own_names(&mut self) {
        for name in OWN_NAMES {
            if let Some(place) = self.pool.place(name) {
                let message =
                    format!("{name:?} is the name of a source that the joint makes itself");
                self.sink.at(place, message).help("give it another name");
            }
        }
    }
}

/// A table inside of `[joint]`.
struct Part<'a, 'b> {
    section: Section<'a>,
    pool: &'b mut Pool,
    sink: &'b mut Sink,
}

impl Part<'_, '_> {
    fn what(&self, key: &str) -> String {
        format!("{}.{key}", self.section.name)
    }

    /// A length.
    fn source(&mut self, value: &Value, role: &str) -> Option<Source> {
        self.pool.one(value, role, Dimension::LENGTH, self.sink)
    }

    /// A length that must be there.
    fn need(&mut self, key: &'static str) -> Option<Source> {
        self.need_of(key, Dimension::LENGTH)
    }

    fn need_of(&mut self, key: &'static str, dimension: Dimension) -> Option<Source> {
        let value = self.section.need(key)?;
        let role = self.what(key);
        self.pool.one(value, &role, dimension, self.sink)
    }

    /// A length that may be there.
    fn optional(&mut self, key: &'static str) -> Option<Option<Source>> {
        match self.section.value(key) {
            None => Some(None),
            Some(value) => {
                let role = self.what(key);
                self.source(value, &role).map(Some)
            }
        }
    }

    fn sources(&mut self, key: &'static str, role: &str) -> Option<Vec<Source>> {
        sources(self.section.value(key), role, self.pool, self.sink)
    }

    /// The source that `lock_down.read` asks for.
    fn wanted(
        &mut self,
        source: Option<Option<Source>>,
        key: &str,
        read: &Value,
    ) -> Option<Source> {
        let source = source?;
        if source.is_none() {
            let when = self.sink.shown(&read.span);
            let message = format!("lock_down needs {key} when the dial is read {when}");
            self.sink.at(&self.section.span, message);
        }
        source
    }

    fn pin_and_leaves(&mut self, pin: &Entry) -> Option<Kerf> {
        let pin_source = self.source(&pin.value, "kerf.pin");
        let leaf_error = self.need("leaf_error");
        let film = self.optional("film");
        let number = self.section.need("leaves");
        let number = number.and_then(|value| count(value, "kerf.leaves", 1000, self.sink));
        let goes = self.length("goes");
        let does_not_go = self.length("does_not_go");
        let leaves = Leaves {
            count: number?,
            goes: goes?,
            does_not_go: does_not_go?,
        };
        let kerf = Kerf::from_pin_and_leaves(&pin_source?, leaves, &leaf_error?, film?.as_ref());
        match kerf {
            Ok(kerf) => Some(kerf),
            Err(error) => {
                self.sink.at(&self.section.span, error.to_string());
                None
            }
        }
    }

    fn length(&mut self, key: &'static str) -> Option<Length> {
        let value = self.section.need(key)?;
        let what = self.what(key);
        length(value, &what, self.sink)
    }

    /// The back step: thickness of rail and leg with a band, all or none of them.
    fn back(&mut self) -> Option<Option<(Source, Source, Band)>> {
        let keys = ["rail", "leg", "back_band"];
        if keys
            .map(|key| self.section.get(key))
            .iter()
            .all(Option::is_none)
        {
            return Some(None);
        }
        let rail = self.need("rail");
        let leg = self.need("leg");
        let value = self.section.need("back_band");
        let band = value.and_then(|value| band(value, "face_step.back_band", self.sink));
        Some(Some((rail?, leg?, band?)))
    }
}

fn sources(
    value: Option<&Value>,
    role: &str,
    pool: &mut Pool,
    sink: &mut Sink,
) -> Option<Vec<Source>> {
    let Some(value) = value else {
        return Some(Vec::new());
    };
    let values = list(value, role, sink)?;
    let all: Vec<Option<Source>> = values
        .iter()
        .map(|value| pool.one(value, role, Dimension::LENGTH, sink))
        .collect();
    all.into_iter().collect()
}

/// Two lengths, the lower one first.
fn band(value: &Value, what: &str, sink: &mut Sink) -> Option<Band> {
    let (lower, upper) = pair(value, what, sink)?;
    let lower = length(lower, what, sink);
    let upper = length(upper, what, sink);
    match Band::between(lower?, upper?) {
        Ok(band) => Some(band),
        Err(error) => {
            let error = error.to_string();
            let error = error.trim_start_matches("band: ");
            sink.at(&value.span, format!("{what}: {error}"));
            None
        }
    }
}
