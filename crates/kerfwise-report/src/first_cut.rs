use crate::ahead::reading;
use crate::input::{self, Input, Subject};
use crate::setting::minutes;
use crate::table::{Align, table, wrap};
use crate::testcut::signed_move;
use crate::{Style, ThreeChances, cautions, number};
use kerfwise_decide::{Advice, Costs, FirstCut, FirstCutLine};
use serde::{Deserialize, Serialize};

/// Where to set the first cut, whose piece is measured and can be cut again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FirstCutReport {
    /// "kerfwise/first-cut/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// What the dial is to show for the first cut, in inches.
    pub dial_in: f64,
    /// By how much that is more than for the rest of the batch, in inches.
    pub offset_in: f64,
    /// Joints that are cut after it.
    pub others: u32,
    /// Minutes for a tight joint, for a loose one, and to cut a piece again.
    pub minutes: FirstCutMinutes,
    /// Minutes to be expected for the whole batch, with the offset and without.
    pub expected: f64,
    /// The same without an offset.
    pub without: f64,
    /// About how far off both may be.
    pub error: f64,
    /// How the first piece fits straight from the saw.
    pub first: ThreeChances,
    /// The chance that it is to be cut again.
    pub recut: f64,
    /// What to do for each reading of the first piece.
    pub lines: Vec<FirstCutRow>,
    /// Expected minutes against offset.
    pub curve: Vec<FirstCutPoint>,
    /// Every source with its provenance, those of the gauge among them.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// Minutes of work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FirstCutMinutes {
    /// To plane a tight joint.
    pub tight: f64,
    /// To shim a loose one, or to make it anew.
    pub loose: f64,
    /// To move the jig and cut a piece again.
    pub recut: f64,
}

/// What to do for readings from here to there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FirstCutRow {
    /// The least reading, in inches.
    pub from_in: f64,
    /// The greatest reading, in inches.
    pub to_in: f64,
    /// The move, in inches; `null` to leave the jig as it is.
    pub move_in: Option<f64>,
    /// Whether to cut the first piece again.
    pub recut: bool,
}

/// Expected minutes for one offset.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct FirstCutPoint {
    /// The offset, in inches.
    pub offset_in: f64,
    /// Expected minutes for the whole batch.
    pub minutes: f64,
}

impl From<&FirstCutLine> for FirstCutRow {
    fn from(line: &FirstCutLine) -> Self {
        Self {
            from_in: line.from.to_inches(),
            to_in: line.to.to_inches(),
            move_in: match line.advice {
                Advice::Leave => None,
                Advice::MoveBy(x) => Some(x.to_inches()),
            },
            recut: line.recut,
        }
    }
}

impl FirstCutReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/first-cut/1";

    /// From an answer; `dial_in` is the best setting for a cut that is not looked at.
    #[must_use]
    pub fn new(
        subject: &Subject,
        dial_in: f64,
        others: u32,
        (costs, recut): (Costs, f64),
        found: &FirstCut,
        inputs: Vec<Input>,
    ) -> Self {
        let offset_in = found.offset.to_inches();
        Self {
            schema: Self::SCHEMA.into(),
            subject: subject.clone(),
            dial_in: dial_in + offset_in,
            offset_in,
            others,
            minutes: FirstCutMinutes {
                tight: costs.tight,
                loose: costs.loose,
                recut,
            },
            expected: found.cost,
            without: found.without,
            error: found.error,
            first: ThreeChances {
                below: found.first.below,
                inside: found.first.inside,
                above: found.first.above,
                error: None,
            },
            recut: found.recut,
            lines: found.lines.iter().map(FirstCutRow::from).collect(),
            curve: found
                .curve
                .iter()
                .map(|(offset, minutes)| FirstCutPoint {
                    offset_in: offset.to_inches(),
                    minutes: *minutes,
                })
                .collect(),
            inputs,
            cautions: cautions::all(),
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: what to dial, what to do for each reading, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        text.push('\n');
        text.push_str(&wrap(&self.answer(style), "", style.width));
        text.push('\n');
        text.push_str(&wrap(
            "Measure that piece before it leaves the jig, then:",
            "",
            style.width,
        ));
        text.push_str(&self.rows(style));
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    fn answer(&self, style: &Style) -> String {
        let joints = match self.others {
            0 => "of that joint".to_owned(),
            n => format!("of all {} joints", n + 1),
        };
        let (aim, instead) = if self.offset_in == 0.0 {
            let aim = "the same as for a cut that is not looked at: at these costs no offset pays";
            (aim.to_owned(), String::new())
        } else {
            let aim = format!(
                "{} from the best setting of a cut that is not looked at: a fat piece can be cut again, a thin one cannot",
                signed_move(self.offset_in, style.unit)
            );
            let without = format!(", instead of {} without the offset", minutes(self.without));
            (aim, without)
        };
        format!(
            "Dial {} for the first cut, {aim}. It then fits straight away with {}, is too fat with {} and too thin \
             with {}; {} of such pieces are cut again. Mending and recutting {joints} takes {} minutes on average ({} a \
             tight one, {} a loose one, {} to cut again){instead}.",
            number::dial(self.dial_in, style.unit),
            number::percent(self.first.inside),
            number::percent(self.first.above),
            number::percent(self.first.below),
            number::percent(self.recut),
            minutes(self.expected),
            self.minutes.tight,
            self.minutes.loose,
            self.minutes.recut,
        )
    }

    fn rows(&self, style: &Style) -> String {
        let header = [
            ("measures from", Align::Right),
            ("to", Align::Right),
            ("move the jig by", Align::Right),
            ("dial", Align::Right),
            ("that piece", Align::Left),
        ];
        let rows = self.lines.iter().map(|line| {
            vec![
                reading(line.from_in, style.unit),
                reading(line.to_in, style.unit),
                match line.move_in {
                    None => "leave it".to_owned(),
                    Some(0.0) => "set anew".to_owned(),
                    Some(x) => signed_move(x, style.unit),
                },
                number::dial(self.dial_in + line.move_in.unwrap_or(0.0), style.unit),
                if line.recut {
                    "cut it again"
                } else {
                    "keep it"
                }
                .to_owned(),
            ]
        });
        table(style.width, &header, rows)
    }
}
