//! What each way to make a tenon has to be asked, and what the plan says of it.

use super::Interview;
use super::draft::Entry;
use super::evidence::{Evidence, Role};
use super::size::Size;
use kerfwise::prelude::{Length, LengthUnits as _, Quantity};

/// Name and meaning, in the order of the list that is shown.
pub(super) const METHODS: [(&str, &str); 5] = [
    (
        "shifted",
        "on end in a sliding jig, the jig moved over between the two cheeks",
    ),
    (
        "turned",
        "on end in a jig at one setting, the work turned over",
    ),
    (
        "stacked cutter",
        "flat on the table over a cutter, the work turned over",
    ),
    ("by hand", "sawn to gauged lines"),
    ("loose", "a slip in two mortises"),
];

const MORTISE: Role = Role {
    name: "mortise",
    thing: "mortise",
    what: "the mortise's width",
    words: &["mortise", "feel"],
    bounds: (1.0 / 16.0, 4.0),
    nominal: ("3/8 in", "10 mm"),
};
const KERF: Role = Role {
    name: "kerf",
    thing: "kerf",
    what: "the kerf, from test cuts",
    words: &["kerf", "slot"],
    bounds: (0.02, 0.5),
    nominal: ("1/8 in", "3.2 mm"),
};
const STOCK: Role = Role {
    name: "stock",
    thing: "stock",
    what: "the rail's thickness",
    words: &["stock", "rail", "thick"],
    bounds: (1.0 / 8.0, 6.0),
    nominal: ("3/4 in", "20 mm"),
};
const SLIP: Role = Role {
    name: "slip",
    thing: "slip",
    what: "the slip's thickness",
    words: &["slip", "tenon"],
    bounds: (1.0 / 16.0, 4.0),
    nominal: ("3/8 in", "10 mm"),
};
const RAIL_MORTISE: Role = Role {
    name: "rail_mortise",
    what: "the width of the rail's mortise",
    words: &["rail"],
    ..MORTISE
};
const LEG_MORTISE: Role = Role {
    name: "leg_mortise",
    what: "the width of the leg's mortise",
    words: &["leg"],
    ..MORTISE
};

/// Something that nobody has measured, as a rule.
struct Guess {
    name: &'static str,
    question: &'static str,
    usual: (&'static str, &'static str),
    law: Law,
    event: &'static str,
    because: &'static str,
}

#[derive(Clone, Copy)]
enum Law {
    Normal,
    Triangular,
    Rectangular,
}

const SEATING: Guess = Guess {
    name: "seating",
    question: "How alike does the work seat each time it is clamped: two in three within",
    usual: ("0.001 in", "0.025 mm"),
    law: Law::Normal,
    event: "cut",
    because: "common practice, no source: how the work seats from one clamping to the next",
};
const KERF_CHANGE: Guess = Guess {
    name: "kerf_change",
    question: "How alike is the kerf from cut to cut (feed rate, heat): two in three within",
    usual: ("0.0008 in", "0.02 mm"),
    law: Law::Normal,
    event: "cut",
    because: "common practice, no source: feed rate, heat, dulling",
};
const RUNNER: Guess = Guess {
    name: "runner_play",
    question: "How far can the jig's runner play sideways, to either side",
    usual: ("0.0015 in", "0.04 mm"),
    law: Law::Triangular,
    event: "cut",
    because: "common practice, no source: runner held to one side of the slot by a spring",
};
const LOCKED: Guess = Guess {
    name: "lock_residual",
    question: "What of the jig's move does the dial not see: two in three within",
    usual: ("0.0007 in", "0.018 mm"),
    law: Law::Normal,
    event: "jig move",
    because: "common practice, no source: what the dial does not see once the jig is locked",
};
const LOCKING: Guess = Guess {
    name: "lock_shift",
    question: "How far does locking shift the jig after the dial was read: two in three within",
    usual: ("0.0025 in", "0.06 mm"),
    law: Law::Normal,
    event: "jig move",
    because: "common practice, no source: 0.001 to 0.005 in when the dial is read before locking",
};
const FEEL: Guess = Guess {
    name: "feel",
    question: "How alike is your feel for a good fit from day to day: two in three within",
    usual: ("0.0007 in", "0.018 mm"),
    law: Law::Normal,
    event: "batch",
    because: "common practice, no source: one person's idea of a good fit, from day to day",
};
const SETTING: Guess = Guess {
    name: "reading",
    question: "How closely can you set it, to either side",
    usual: ("0.001 in", "0.025 mm"),
    law: Law::Rectangular,
    event: "tenon set-up",
    because: "common practice, no source: a scale and a steady hand",
};
const LINE: Guess = Guess {
    name: "line",
    question: "How closely do you saw to the line: two in three within",
    usual: ("0.006 in", "0.15 mm"),
    law: Law::Normal,
    event: "cut",
    because: "common practice, no source: a practised hand",
};
const WALL: Guess = Guess {
    name: "wall",
    question: "How closely do you chop to the line: two in three within",
    usual: ("0.004 in", "0.1 mm"),
    law: Law::Normal,
    event: "piece",
    because: "common practice, no source: a practised hand",
};
/// The error of one caliper; all readings taken with it share it.
const CALIPER: Guess = Guess {
    name: "caliper",
    question: "How far off may the caliper be, to either side",
    usual: ("0.0008 in", "0.02 mm"),
    law: Law::Rectangular,
    event: "gauge",
    because: "not checked; DIN 862 allows a digital caliper up to 100 mm 20 um",
};

/// What mortises differ by where nobody measured it.
const MORTISE_SPREAD: (&str, &str) = ("0.001 in", "0.025 mm");
const SPREAD_BECAUSE: &str = "common practice, no source: one mortise to the next at one set-up";
/// How far a width may be from what it is called where nobody measured it.
const UNMEASURED: (&str, &str) = ("0.002 in", "0.05 mm");
const UNMEASURED_BECAUSE: &str = "common practice, no source: within a few thou of its name";
/// Above this an error is a mistake of typing.
const MOST_ERROR: f64 = 0.25;

/// The mortise as the plan has it.
struct Mortise {
    /// What stands after `mortise =`, but for the errors.
    key: &'static str,
    errors: Vec<&'static str>,
    is_measured: bool,
    is_at_feel: bool,
    /// The tenon that would fit as wanted.
    tenon: Length,
}

impl Mortise {
    fn lines(&self) -> Vec<String> {
        let errors: Vec<String> = self
            .errors
            .iter()
            .map(|name| format!("\"{name}\""))
            .collect();
        let errors = errors.join(", ");
        let mut lines = vec![format!(
            "mortise = {{ {} = \"mortise\", errors = [{errors}] }}",
            self.key
        )];
        if !self.is_at_feel {
            lines.push("clearance = \"clearance\"".to_owned());
        }
        lines
    }
}

impl Interview<'_> {
    /// Asks what the method needs and writes it down.
    pub(super) fn method(&mut self, method: usize) -> Result<(), String> {
        self.draft.joint_with(
            METHODS[method].1,
            format!("method = \"{}\"", METHODS[method].0),
        );
        match method {
            0 => self.shifted(),
            1 => self.turned(),
            2 => self.stacked(),
            3 => self.by_hand(),
            _ => self.loose(),
        }
    }

    fn shifted(&mut self) -> Result<(), String> {
        let mut mortise = self.mortise()?;
        let kerf = self.evidence(&KERF)?;
        let (sd, because) = (
            self.scale.pick("0.004 in", "0.1 mm"),
            "common practice, no source: a saw cuts wider than the label of its blade",
        );
        self.draft
            .source(kerf.mean("kerf", sd, because).event("blade"));
        let is_shared = mortise.is_measured
            && kerf.is_measured()
            && self
                .dialog
                .yes("One and the same caliper for kerf and mortise?", true)?;
        self.calipers(&mut mortise, kerf.is_measured(), is_shared)?;
        let mark = self.size(
            "Smallest mark of the dial",
            self.scale.pick("0.001 in", "0.01 mm"),
            (1e-5, MOST_ERROR),
        )?;
        let (lock_down, locked) = self.lock_down()?;
        self.guesses_begin();
        let residual = self.guess(locked)?;
        let cuts = [&SEATING, &RUNNER, &KERF_CHANGE];
        let cuts = self.guess_all(&cuts)?;
        self.feel(&mut mortise)?;
        self.dial(&mark);
        if residual {
            self.draft.joint(lock_down);
        }
        self.draft.joint(if kerf.is_measured() {
            "kerf = { test_cut = \"kerf\", gauge = \"kerf_caliper\" }".replace(
                "kerf_caliper",
                if is_shared { "caliper" } else { "kerf_caliper" },
            )
        } else {
            "kerf = { source = \"kerf\" }".to_owned()
        });
        self.lines(cuts);
        self.lines(mortise.lines());
        Ok(())
    }

    /// The line of the plan, and the error that counts.
    fn lock_down(&mut self) -> Result<(&'static str, &'static Guess), String> {
        let is_after = self
            .dialog
            .yes("Is the dial read after the jig is locked?", true)?;
        Ok(if is_after {
            (
                "lock_down = { read = \"after locking\", residual = \"lock_residual\" }",
                &LOCKED,
            )
        } else {
            (
                "lock_down = { read = \"before locking\", shift = \"lock_shift\" }",
                &LOCKING,
            )
        })
    }

    /// The dial: its steps, its limit of error, the reading between its marks, its plunger.
    fn dial(&mut self, mark: &Size) {
        let half = self.half(mark);
        self.draft.joint(format!("dial_step = \"{}\"", mark.text));
        self.draft
            .joint("travel_errors = [\"dial_limit\", \"dial_reading\"]");
        self.draft.joint_with(
            "The plunger slants by no more than this.",
            "plunger_within = \"2 deg\"",
        );
        self.draft.source(self.dial_limit(mark));
        self.draft.source(
            Entry::new("dial_reading")
                .rectangular(&half)
                .event("jig move")
                .assumed(&format!("read to half a mark of {}", mark.text)),
        );
    }

    /// What a dial with such marks may be off by over its travel.
    fn dial_limit(&self, mark: &Size) -> Entry {
        let entry = Entry::new("dial_limit");
        let fine = self.scale.pick("0.0006 in", "0.015 mm");
        // A dial of coarser marks is made to one of them.
        let (limit, because) = if mark.length.to_mm() > 0.015 {
            let because = "not checked; within one mark, as ASME B89.1.10M-2001 has it for marks of 0.001 in over \
                           2-1/2 turns (from memory)";
            (mark.text.as_str(), because)
        } else {
            let because = "not checked; JIS B 7503:2011 allows a dial indicator of 0.01 mm 15 um";
            (fine, because)
        };
        entry.rectangular(limit).event("gauge").assumed(because)
    }

    fn half(&self, mark: &Size) -> String {
        let half = self.scale.number(mark.length) / 2.0;
        format!("{} {}", (half * 1e6).round() / 1e6, self.scale.name())
    }

    fn turned(&mut self) -> Result<(), String> {
        let mut mortise = self.mortise()?;
        let stock = self.stock()?;
        self.calipers(&mut mortise, false, false)?;
        let distance = (stock + mortise.tenon) / 2.0;
        let default = self.scale.round(distance).text;
        let question = "Distance from the jig's face to the tenon's side of the cut";
        let distance = self.size(question, &default, STOCK.bounds)?;
        self.draft.source(
            Entry::new("distance")
                .remark("The setting: half of stock and tenon together.")
                .estimate(&distance.text)
                .event("tenon set-up")
                .assumed("the setting itself; what it is off by is called reading"),
        );
        self.guesses_begin();
        let set = self.guess(&SETTING)?;
        let cuts = self.guess_all(&[&SEATING, &RUNNER, &KERF_CHANGE])?;
        self.feel(&mut mortise)?;
        self.draft.joint("distance = \"distance\"");
        if set {
            self.draft.joint("distance_errors = [\"reading\"]");
        }
        self.draft.joint("stock = \"stock\"");
        self.lines(cuts);
        self.lines(mortise.lines());
        Ok(())
    }

    fn stacked(&mut self) -> Result<(), String> {
        let mut mortise = self.mortise()?;
        let stock = self.stock()?;
        self.calipers(&mut mortise, false, false)?;
        let height = (stock - mortise.tenon) / 2.0;
        let default = self.scale.round(height).text;
        let height = self.size("Height of the cutter above the table", &default, (0.0, 4.0))?;
        self.draft.source(
            Entry::new("height")
                .remark("The setting: half of what stock is thicker than tenon.")
                .estimate(&height.text)
                .event("tenon set-up")
                .assumed("the setting itself; what it is off by is called reading"),
        );
        self.guesses_begin();
        let set = self.guess(&SETTING)?;
        let seating = self.guess_all(&[&SEATING])?;
        self.feel(&mut mortise)?;
        self.draft.joint("height = \"height\"");
        if set {
            self.draft.joint("height_errors = [\"reading\"]");
        }
        self.draft.joint("stock = \"stock\"");
        self.lines(seating);
        self.lines(mortise.lines());
        Ok(())
    }

    fn by_hand(&mut self) -> Result<(), String> {
        let scale = self.scale;
        let pins = self.size(
            "Distance of the gauge's two pins",
            scale.pick("3/8 in", "10 mm"),
            MORTISE.bounds,
        )?;
        let is_same = self
            .dialog
            .yes("Are the mortises marked with the same pins?", true)?;
        let mortise = if is_same {
            self.clearance()?;
            None
        } else {
            let mut mortise = self.mortise()?;
            self.calipers(&mut mortise, false, false)?;
            Some(mortise)
        };
        self.draft.source(
            Entry::new("pins")
                .estimate(&pins.text)
                .rectangular(scale.pick("5 thou", "0.1 mm"))
                .assumed("common practice, no source: pins set to a chisel by eye"),
        );
        self.guesses_begin();
        let is_off = self.guess(&LINE)?;
        self.draft.joint("pins = \"pins\"");
        if is_off {
            self.draft.joint("lines = \"line\"");
        }
        match mortise {
            Some(mut mortise) => {
                self.feel(&mut mortise)?;
                self.lines(mortise.lines());
            }
            None => {
                let walls = if self.guess(&WALL)? {
                    ", walls = \"wall\""
                } else {
                    ""
                };
                self.draft.joint_with(
                    "The same pins mark both: what they are off by cancels.",
                    format!("mortise = {{ pins = \"pins\"{walls} }}"),
                );
                self.draft.joint("clearance = \"clearance\"");
            }
        }
        Ok(())
    }

    fn loose(&mut self) -> Result<(), String> {
        for (role, event) in [
            (&SLIP, "tenon set-up"),
            (&RAIL_MORTISE, "piece"),
            (&LEG_MORTISE, "piece"),
        ] {
            let known = self.evidence(role)?;
            self.whole(role, &known, event);
        }
        self.clearance()?;
        self.draft.joint("slip = \"slip\"");
        self.draft.joint("rail = { width = \"rail_mortise\" }");
        self.draft.joint("leg = { width = \"leg_mortise\" }");
        self.draft.joint("clearance = \"clearance\"");
        Ok(())
    }

    /// A width whose mean and spread are one source.
    fn whole(&mut self, role: &Role, known: &Evidence, event: &str) {
        let mean = match known {
            Evidence::One(size) | Evidence::Nominal(size) => size.clone(),
            Evidence::Column(_) => self.scale.round(known.length()),
        };
        let sd = self.scale.pick(UNMEASURED.0, UNMEASURED.1);
        let entry = known.whole(role.name, &mean, sd, UNMEASURED_BECAUSE);
        self.draft.source(entry.event(event));
    }

    fn stock(&mut self) -> Result<Length, String> {
        let known = self.evidence(&STOCK)?;
        self.whole(&STOCK, &known, "piece");
        Ok(known.length())
    }

    fn mortise(&mut self) -> Result<Mortise, String> {
        const HOW: [(&str, &str); 3] = [
            (
                "at the feel",
                "with wedges or a slip that go in as the tenon should, then gauged",
            ),
            ("walls", "from wall to wall with a caliper"),
            ("not at all", "only its name is known, such as 3/8 in"),
        ];
        let how = self
            .dialog
            .choose("How were the mortises measured?", &HOW, 0)?;
        let known = if how == 2 {
            let default = self.scale.pick(MORTISE.nominal.0, MORTISE.nominal.1);
            Evidence::Nominal(self.size("Width of the mortise", default, MORTISE.bounds)?)
        } else {
            self.evidence(&MORTISE)?
        };
        let (mean_sd, sd) = (
            self.scale.pick(UNMEASURED.0, UNMEASURED.1),
            self.scale.pick(MORTISE_SPREAD.0, MORTISE_SPREAD.1),
        );
        let mean = known.mean("mortise", mean_sd, UNMEASURED_BECAUSE);
        self.draft.source(mean.event("mortise set-up"));
        let spread = known.spread("mortise_spread", sd, SPREAD_BECAUSE);
        let remark = "How one mortise differs from the next.";
        self.draft.source(spread.remark(remark).event("piece"));
        let is_at_feel = how == 0;
        let clearance = if is_at_feel {
            0.0.inch()
        } else {
            self.clearance()?
        };
        Ok(Mortise {
            key: if is_at_feel { "at_feel" } else { "width" },
            errors: vec!["mortise_spread"],
            is_measured: known.is_measured(),
            is_at_feel,
            tenon: known.length() - clearance,
        })
    }

    fn clearance(&mut self) -> Result<Length, String> {
        let question = "How much wider than the tenon should the mortise be, in all";
        let default = self.scale.pick("0.002 in", "0.05 mm");
        let clearance = self.size(question, default, (-0.01, 0.1))?;
        self.draft.source(
            Entry::new("clearance")
                .remark("Mortise less tenon, not for each glue line.")
                .estimate(&clearance.text)
                .assumed("what is wanted"),
        );
        Ok(clearance.length)
    }

    /// The calipers that the mortise and the kerf were read by.
    fn calipers(
        &mut self,
        mortise: &mut Mortise,
        kerf: bool,
        is_shared: bool,
    ) -> Result<(), String> {
        let mut needed = Vec::new();
        if is_shared {
            mortise.errors.push("caliper");
            needed.push("caliper");
        } else {
            if mortise.is_measured {
                mortise.errors.push("mortise_caliper");
                needed.push("mortise_caliper");
            }
            if kerf {
                needed.push("kerf_caliper");
            }
        }
        if needed.is_empty() {
            return Ok(());
        }
        let size = self.ask_guess(&CALIPER, (1e-5, MOST_ERROR))?;
        for name in needed {
            let entry = Self::guessed(&CALIPER, name, &size);
            self.draft.source(match is_shared {
                true => entry.remark("One caliper read mortise and kerf: what it is off by is one error, and counts in both."),
                false => entry,
            });
        }
        Ok(())
    }

    fn feel(&mut self, mortise: &mut Mortise) -> Result<(), String> {
        if mortise.is_at_feel && self.guess(&FEEL)? {
            mortise.errors.push("feel");
        }
        Ok(())
    }

    fn guesses_begin(&mut self) {
        self.dialog.say(
            "Now what is hardly ever measured. Enter takes what careful shops say of themselves; 0 leaves it out.",
        );
    }

    /// Each that is not left out, as a line of the joint.
    fn guess_all(&mut self, guesses: &[&Guess]) -> Result<Vec<String>, String> {
        let mut lines = Vec::new();
        for guess in guesses {
            if self.guess(guess)? {
                lines.push(format!("{0} = \"{0}\"", guess.name));
            }
        }
        Ok(lines)
    }

    fn lines(&mut self, lines: Vec<String>) {
        for line in lines {
            self.draft.joint(line);
        }
    }

    /// Whether it counts.
    fn guess(&mut self, guess: &Guess) -> Result<bool, String> {
        let size = self.ask_guess(guess, (0.0, MOST_ERROR))?;
        let counts = size.0.length > 0.0.inch();
        if counts {
            self.draft.source(Self::guessed(guess, guess.name, &size));
        }
        Ok(counts)
    }

    /// The size of an error, and how it was found when it is not the usual one.
    fn ask_guess(
        &mut self,
        guess: &Guess,
        bounds: (f64, f64),
    ) -> Result<(Size, Option<String>), String> {
        let usual = self.scale.pick(guess.usual.0, guess.usual.1);
        let size = self.size(guess.question, usual, bounds)?;
        let is_own = size.text != usual && size.length > 0.0.inch();
        let how = if is_own {
            Some(self.how_found()?)
        } else {
            None
        };
        Ok((size, how))
    }

    /// A number here is the answer to the next question.
    fn how_found(&mut self) -> Result<String, String> {
        self.dialog
            .ask("  How was that found?", "a guess", |words| {
                if words.parse::<Quantity>().is_ok() {
                    return Err(format!(
                        "say in words how the number before was found; Enter for a guess (got \"{words}\")"
                    ));
                }
                Ok(words.to_owned())
            })
    }

    fn guessed(guess: &Guess, name: &str, (size, how): &(Size, Option<String>)) -> Entry {
        let entry = Entry::new(name);
        let entry = match guess.law {
            Law::Normal => entry.normal(&size.text),
            Law::Triangular => entry.triangular(&size.text),
            Law::Rectangular => entry.rectangular(&size.text),
        }
        .event(guess.event);
        match how.as_deref() {
            None => entry.assumed(guess.because),
            Some("a guess") => entry.assumed("a guess"),
            Some(words) => entry.measured(words),
        }
    }
}
