//! `[joint]`: a tenon in a mortise, by one of several methods.

mod blade;
mod fitted;
mod kerf;
mod later;
mod mortise;
mod slant;

use self::later::Later;
use crate::document::{Entry, Value};
use crate::fault::Sink;
use crate::near::suggestion;
use crate::pool::Pool;
use crate::read::{Section, angle, length, list, pair, text};
use kerfwise_joint::{
    Adjustment, BladeHeight, Clearance, Cuts, Error, ErrorKind, FaceStep, Kerf, LockDown,
    LooseTenon, MoistureBetweenCuts, Mortise, ShiftedTenon, Slant, TenonFit, Travel,
};
use kerfwise_source::{Angle, Dimension, Length, LengthUnits, Source};
use kerfwise_stack::{Band, Stack};
use std::ops::Range;

/// A joint by one of the methods.
#[derive(Debug, Clone)]
pub(crate) enum Method {
    /// With a dial, which is still to be set.
    Shifted(Box<Recipe>),
    /// Without a dial: all is said.
    Fitted(Box<TenonFit>, Option<BladeHeight>),
    /// Two fits that share a tenon.
    Loose(Box<LooseTenon>),
}

/// A joint and its outcomes, where its dial is set or it has none.
type Made = (Option<ShiftedTenon>, Vec<Stack>);

impl Method {
    /// The names of the outcomes that a joint has of its own; of a faulty one those that most joints may have.
    pub(crate) fn own_outcomes(method: Option<&Self>) -> Vec<String> {
        // Any travel would do: the names are the same.
        match method.map(|method| method.made(Some(1.inch()))) {
            Some(Ok((_, stacks))) => {
                let outcomes = stacks.iter().flat_map(Stack::outcomes);
                outcomes.map(|outcome| outcome.name().to_owned()).collect()
            }
            _ => [TenonFit::FIT, TenonFit::FACE_STEP, TenonFit::BACK_STEP]
                .map(str::to_owned)
                .to_vec(),
        }
    }

    /// What is set, where there is no dial.
    pub(crate) fn adjustment(&self) -> Option<Adjustment> {
        match self {
            Self::Shifted(_) => None,
            Self::Fitted(joint, _) => joint.adjustment().cloned(),
            Self::Loose(joint) => Some(joint.adjustment()),
        }
    }

    /// The outcomes; those of a joint with a dial once it is set to a travel.
    pub(crate) fn made(&self, travel: Option<Length>) -> Result<Made, Error> {
        let (joint, stack, blade) = match (self, travel) {
            (Self::Shifted(recipe), Some(travel)) => {
                let joint = recipe.at(travel)?;
                let stack = joint.stack()?;
                let stack = match &recipe.later[..] {
                    [] => stack,
                    later => Later::watch(later, joint.joint()).stack()?,
                };
                (Some(joint), stack, &recipe.blade)
            }
            (Self::Shifted(_), None) => return Ok((None, Vec::new())),
            (Self::Fitted(joint, blade), _) => (None, joint.stack()?, blade),
            (Self::Loose(joint), _) => (None, joint.stack()?, &None),
        };
        let blade = blade.as_ref().map(BladeHeight::stack).transpose()?;
        Ok((joint, std::iter::once(stack).chain(blade).collect()))
    }
}

/// All of a joint except for the travel that its dial is set to.
#[derive(Debug, Clone)]
pub(crate) struct Recipe {
    errors: Vec<Source>,
    plunger: Plunger,
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
    blade: Option<BladeHeight>,
    later: Vec<Later>,
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
            joint = joint.clearance(clearance);
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
        if let Some(slant) = &self.slant {
            joint = joint.slant(slant.clone());
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

/// The method, the travel that is stated, and the step in which it is set.
type Set = (Option<Method>, Option<Length>, Option<Length>);

/// What `[joint]` says.
pub(crate) struct JointSection {
    /// `None` when it is faulty.
    pub(crate) method: Option<Method>,
    pub(crate) travel: Option<Length>,
    pub(crate) step: Option<Length>,
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
            _ => {
                let words = error.to_string();
                // One of them says itself that it is about the nominal travel.
                let which = if words.contains("nominal") { "" } else { which };
                sink.at(&self.travel, format!("{which}{words}"))
            }
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
    let mut places = Places {
        travel: entry.key_span.clone(),
        clearance: entry.key_span.clone(),
        mortise: entry.key_span.clone(),
    };
    let (method, travel, step) = match reader.method() {
        "turned" => reader.without_dial(Reader::turned),
        "stacked cutter" => reader.without_dial(Reader::stacked_cutter),
        "by hand" => reader.without_dial(Reader::by_hand),
        "loose" => reader.without_dial(Reader::loose),
        _ => {
            let set = reader.shifted(&mut places);
            reader.own_names();
            set
        }
    };
    let place = |key: &str, place: &mut Range<usize>| {
        if let Some(value) = reader.section.peek(key) {
            *place = value.span.clone();
        }
    };
    place("clearance", &mut places.clearance);
    place("clearance_per_glue_line", &mut places.clearance);
    place("mortise", &mut places.mortise);
    reader.section.close(reader.sink);
    Some(JointSection {
        method,
        travel,
        step,
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
    /// The method; the shifted one where there is none or a wrong one, whose keys are then read.
    fn method(&mut self) -> &'static str {
        const METHODS: [&str; 5] = ["shifted", "turned", "stacked cutter", "by hand", "loose"];
        let value = self.section.need("method");
        let Some((value, name)) = value.and_then(|v| Some((v, text(v, "method", self.sink)?)))
        else {
            return METHODS[0];
        };
        if let Some(method) = METHODS.into_iter().find(|method| *method == name) {
            return method;
        }
        let help = suggestion(name, METHODS, "it may be");
        self.sink
            .at(&value.span, format!("there is no method {name:?}"))
            .help(help);
        METHODS[0]
    }

    /// The joint, and the step in which it is set.
    fn without_dial(&mut self, read: fn(&mut Self) -> Option<Method>) -> Set {
        let method = read(self);
        let value = self.section.value("step");
        let step = value.and_then(|value| self.positive(value, "step"));
        let is_good = value.is_some() == step.is_some();
        (method.filter(|_| is_good), None, step)
    }

    /// The joint, and what the plan says about its dial.
    fn shifted(&mut self, places: &mut Places) -> Set {
        let travel_value = self.section.value("travel");
        let travel = travel_value.and_then(|value| self.positive(value, "travel"));
        let step_value = self.section.value("dial_step");
        let dial_step = step_value.and_then(|value| self.positive(value, "dial_step"));
        if let Some(value) = travel_value {
            places.travel = value.span.clone();
        }
        let numbers_are_good = travel_value.is_some() == travel.is_some()
            && step_value.is_some() == dial_step.is_some();
        let recipe = self.recipe().filter(|_| numbers_are_good);
        let method = recipe.map(|recipe| Method::Shifted(Box::new(recipe)));
        (method, travel, dial_step)
    }

    fn recipe(&mut self) -> Option<Recipe> {
        // All parts are read before the first `?`, so that all their faults are told.
        let errors = self.sources("travel_errors");
        let plunger = self.plunger();
        let kerf = self.kerf();
        let mortise = self.mortise("mortise");
        let clearance = self.clearance();
        let lock_down = self.lock_down();
        let seating = self.cuts("seating");
        let runner_play = self.cuts("runner_play");
        let kerf_change = self.cuts("kerf_change");
        let moisture = self.moisture();
        let band = self.fit_band();
        let face_step = self.face_step();
        let angles = self.angles();
        let blade = self.blade_height();
        let later = self.later();
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
            slant: angles?.map(|angles| angles.off_one_face()),
            blade: blade?,
            later: later?,
        })
    }

    fn fit_band(&mut self) -> Option<Option<Band>> {
        match self.section.value("fit_band") {
            Some(value) => band(value, "fit_band", self.sink).map(Some),
            None => Some(None),
        }
    }

    /// The wanted clearance: in total, or of one glue line.
    fn clearance(&mut self) -> Option<Option<Clearance>> {
        let keys = ["clearance", "clearance_per_glue_line"];
        let Some(entry) = self.section.at_most_one_of(&keys, self.sink) else {
            return Some(None);
        };
        let source = self.source(&entry.value, &entry.key, Dimension::LENGTH)?;
        Some(Some(if entry.key == keys[0] {
            Clearance::total(&source)
        } else {
            Clearance::per_glue_line(&source)
        }))
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
