use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, table, wrap};
use crate::testcut::{NextPieceReport, signed_move};
use crate::{Style, Unit, cautions, number};
use kerfwise_decide::{Advice, NextPiece, ReadingAdvice, TestPlan, TestPlanRow};
use serde::{Deserialize, Serialize};

/// What to do after the first test piece, for whatever it reads; and what cutting it is worth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TestCutAheadReport {
    /// "kerfwise/testcut-ahead/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// Pieces of the batch, if the plan tells.
    pub pieces: Option<u32>,
    /// The step in which the gauge shows, in inches.
    pub resolution_in: f64,
    /// What a first test piece that is measured brings the chance of a joint to, on average.
    pub if_measured: NextPieceReport,
    /// The same if it is only felt.
    pub if_felt: NextPieceReport,
    /// Ascending, without gaps.
    pub lines: Vec<AheadRow>,
    /// How many test pieces are worth cutting; absent where no costs were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub plan: Option<TestPlanReport>,
    /// Every source with its provenance, those of the gauge among them.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// What to do for readings from here to there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AheadRow {
    /// The least reading, in inches.
    pub from_in: f64,
    /// The greatest reading, in inches.
    pub to_in: f64,
    /// The move, in inches; `null` to leave the jig as it is.
    pub move_in: Option<f64>,
    /// The chance of a joint then, the least of this line.
    pub inside: f64,
}

/// How many test pieces are worth cutting, in minutes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TestPlanReport {
    /// Joints of the batch.
    pub joints: u32,
    /// For a test piece.
    pub per_piece: f64,
    /// The number of pieces to measure with the least minutes in all.
    pub best_measured: u32,
    /// The number of pieces to feel, with the least minutes in all.
    pub best_felt: u32,
    /// No piece, one, and so on.
    pub measured: Vec<TestPlanLine>,
    /// The same for pieces that are only felt.
    pub felt: Vec<TestPlanLine>,
}

/// So many test pieces.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TestPlanLine {
    /// Test pieces.
    pub pieces: u32,
    /// The chance of a joint to be expected.
    pub inside: f64,
    /// Minutes of rework to be expected in the whole batch.
    pub rework: f64,
    /// The same with the test pieces.
    pub total: f64,
}

impl From<&TestPlanRow> for TestPlanLine {
    fn from(row: &TestPlanRow) -> Self {
        Self {
            pieces: row.pieces,
            inside: row.inside,
            rework: row.rework,
            total: row.total,
        }
    }
}

impl TestPlanReport {
    /// From plans for pieces that are measured, and that are felt.
    #[must_use]
    pub fn new(joints: u32, per_piece: f64, [measured, felt]: [&TestPlan; 2]) -> Self {
        let lines = |plan: &TestPlan| plan.rows.iter().map(TestPlanLine::from).collect();
        Self {
            joints,
            per_piece,
            best_measured: measured.best,
            best_felt: felt.best,
            measured: lines(measured),
            felt: lines(felt),
        }
    }

    fn to_text(&self, style: &Style) -> String {
        let header = [
            ("test pieces", Align::Right),
            ("measured: fits", Align::Right),
            ("rework", Align::Right),
            ("in all", Align::Right),
            ("felt: fits", Align::Right),
            ("rework", Align::Right),
            ("in all", Align::Right),
            ("", Align::Left),
        ];
        let mark = |line: &TestPlanLine| {
            let is_best = [self.best_measured, self.best_felt].map(|best| best == line.pieces);
            match is_best {
                [true, true] => "best",
                [true, false] => "best, if measured",
                [false, true] => "best, if felt",
                [false, false] => "",
            }
        };
        let minutes = |x: f64| format!("{x:.1} min");
        let rows = self
            .measured
            .iter()
            .zip(&self.felt)
            .map(|(by_gauge, by_feel)| {
                vec![
                    by_gauge.pieces.to_string(),
                    number::percent(by_gauge.inside),
                    minutes(by_gauge.rework),
                    minutes(by_gauge.total),
                    number::percent(by_feel.inside),
                    minutes(by_feel.rework),
                    minutes(by_feel.total),
                    mark(by_gauge).to_owned(),
                ]
            });
        let words = format!(
            "How many test pieces are worth cutting before the jig is moved, at {} minutes each, for {} joints:",
            self.per_piece, self.joints
        );
        wrap(&words, "", style.width) + &table(style.width, &header, rows)
    }
}

impl TestCutAheadReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/testcut-ahead/1";

    /// From a card and the worth of a first piece.
    #[must_use]
    pub fn new(
        subject: &Subject,
        pieces: Option<u32>,
        resolution_in: f64,
        [measured, felt]: [NextPiece; 2],
        lines: &[ReadingAdvice],
        inputs: Vec<Input>,
    ) -> Self {
        Self {
            schema: Self::SCHEMA.into(),
            subject: subject.clone(),
            pieces,
            resolution_in,
            if_measured: measured.into(),
            if_felt: felt.into(),
            lines: lines.iter().map(AheadRow::from).collect(),
            plan: None,
            inputs,
            cautions: cautions::all(),
        }
    }

    /// The same, with how many pieces are worth cutting.
    #[must_use]
    pub fn with_plan(mut self, plan: TestPlanReport) -> Self {
        self.plan = Some(plan);
        self
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: what a test piece is worth, the card, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        text.push('\n');
        text.push_str(&wrap(&self.worth(), "", style.width));
        if let Some(plan) = &self.plan {
            text.push('\n');
            text.push_str(&plan.to_text(style));
        }
        text.push('\n');
        text.push_str(&wrap(
            "What to do for each reading of the first test piece:",
            "",
            style.width,
        ));
        text.push_str(&self.rows(style.unit).to_text(style.width));
        for note in self.notes() {
            text.push_str(&wrap(note, "  ", style.width));
        }
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    /// What stands below the table.
    pub(crate) fn notes(&self) -> Vec<&'static str> {
        let anew = self.lines.iter().any(|line| line.move_in == Some(0.0));
        let anew = anew.then_some(
            "set anew: loosen the jig, set the same number and lock it, for a fresh lock-down error.",
        );
        let outside = "A piece outside of these lines comes once in 500 set-ups: measure it again. For more pieces, or a piece that is \
                       felt, ask `kerfwise testcut` with what was seen.";
        anew.into_iter().chain([outside]).collect()
    }

    pub(crate) fn worth(&self) -> String {
        let joints = |worth: &NextPieceReport| match self.pieces {
            Some(n) => format!(
                ", {:.1} more joints in the batch of {n}",
                f64::from(n) * (worth.then - worth.now)
            ),
            None => String::new(),
        };
        format!(
            "Without a test piece a joint fits with {}. With one that is measured, and this card followed, it comes to {} on \
             average{}; with one that is only felt, to {}{}.",
            number::percent(self.if_measured.now),
            number::percent(self.if_measured.then),
            joints(&self.if_measured),
            number::percent(self.if_felt.then),
            joints(&self.if_felt),
        )
    }

    pub(crate) fn rows(&self, unit: Unit) -> Grid {
        let header = [
            ("measures from", Align::Right),
            ("to", Align::Right),
            ("move the jig by", Align::Right),
            ("dial", Align::Right),
            ("then fits, at least", Align::Right),
        ];
        let dial = |by: f64| {
            self.subject
                .travel_in
                .map_or_else(String::new, |t| number::dial(t + by, unit))
        };
        let rows = self.lines.iter().map(|line| {
            vec![
                reading(line.from_in, unit),
                reading(line.to_in, unit),
                line.what_to_do(unit),
                dial(line.move_in.unwrap_or(0.0)),
                number::percent(line.inside),
            ]
        });
        Grid::new(&header, rows)
    }
}

/// Readings in one form, so that a column of them is easily read.
pub(crate) fn reading(inches: f64, unit: Unit) -> String {
    number::dial(inches, unit)
}

impl AheadRow {
    pub(crate) fn what_to_do(&self, unit: Unit) -> String {
        match self.move_in {
            None => "leave it".to_owned(),
            Some(0.0) => "set anew".to_owned(),
            Some(by) => signed_move(by, unit),
        }
    }
}

impl From<&ReadingAdvice> for AheadRow {
    fn from(line: &ReadingAdvice) -> Self {
        Self {
            from_in: line.from.to_inches(),
            to_in: line.to.to_inches(),
            move_in: match line.advice {
                Advice::Leave => None,
                Advice::MoveBy(by) => Some(by.to_inches()),
            },
            inside: line.inside,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> TestCutAheadReport {
        let row = |from_in, to_in, move_in, inside| AheadRow {
            from_in,
            to_in,
            move_in,
            inside,
        };
        let worth = |then| NextPieceReport { now: 0.9, then };
        TestCutAheadReport {
            schema: TestCutAheadReport::SCHEMA.into(),
            subject: Subject {
                travel_in: Some(0.5),
                ..Subject::titled("a test")
            },
            pieces: Some(20),
            resolution_in: 0.0005,
            if_measured: worth(0.95),
            if_felt: worth(0.92),
            lines: vec![
                row(0.371, 0.373, Some(0.001), 0.94),
                row(0.3735, 0.3765, None, 0.95),
                row(0.377, 0.378, Some(-0.001), 0.9321),
            ],
            plan: None,
            inputs: Vec::new(),
            cautions: cautions::all(),
        }
    }

    #[test]
    fn says_what_a_piece_is_worth_and_what_to_do_for_each_reading() {
        let text = report().to_text(&Style::default());
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        // Five in a hundred of 20 joints.
        assert!(
            words.contains("comes to 95.00 % on average, 1.0 more joints in the batch of 20"),
            "{words}"
        );
        assert!(
            words.contains("0.3735 in 0.3765 in leave it 0.5000 in 95.00 %"),
            "{words}"
        );
        assert!(
            words.contains("0.3770 in 0.3780 in −1.0 thou 0.4990 in 93.21 %"),
            "{words}"
        );
        assert!(words.contains("test cut on scrap"), "{words}");
    }

    #[test]
    fn reads_back_what_it_writes() {
        let read: TestCutAheadReport = serde_json::from_str(&report().to_json()).unwrap();
        assert_eq!(read, report());
    }
}
