use crate::input::{self, Input, Subject};
use crate::table::{Align, table, wrap};
use crate::{Style, ThreeChances, Unit, cautions, number};
use kerfwise_decide::{Advice, NextCost, NextPiece, Offset, SampledAnswer, TestCutAnswer};
use kerfwise_source::Length;
use kerfwise_stack::Chance;
use serde::{Deserialize, Serialize};

/// What test pieces say, and whether to move the jig.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TestCutReport {
    /// "kerfwise/testcut/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// The test pieces.
    pub tests: TestPieces,
    /// Pieces of the batch, if the plan tells.
    pub pieces: Option<u32>,
    /// Whether to move the jig.
    pub move_the_jig: bool,
    /// The best move, in inches; positive makes thicker tenons. Zero: set the same number anew.
    pub best_move_in: f64,
    /// The chance of a joint before any test.
    pub untested: ThreeChances,
    /// The chance of a joint if the jig is left.
    pub leave: ThreeChances,
    /// The chance of a joint after the best move.
    pub moved: ThreeChances,
    /// The probability that the best move raises the chance of the joints.
    pub raises: f64,
    /// Where joints come out in the middle, before the test.
    pub before: OffsetReport,
    /// Where they come out now, if the jig is left.
    pub after: OffsetReport,
    /// What one more test piece would bring the chance to, on average; `now` is the chance without it.
    pub next_piece: NextPieceReport,
    /// The same in minutes of the batch; absent where no costs were given, or it was found by trials.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_piece_minutes: Option<NextMinutesReport>,
    /// Chance against move.
    pub moves: Vec<MoveRow>,
    /// The fit band, in inches; `null` in a report of before there was this field.
    #[serde(default)]
    pub band_in: Option<(Option<f64>, Option<f64>)>,
    /// The reading farthest out and the chance of one at least so far out on that side, before any test piece; `null` where
    /// nothing was measured, or the fit is not affine.
    #[serde(default)]
    pub rarest: Option<RarestReading>,
    /// How it was found where the fit is not affine: errors of chances are then standard errors. `null` where it is exact,
    /// and then they are bounds.
    #[serde(default)]
    pub trials: Option<TrialsReport>,
    /// Every source with its provenance, those of the gauge among them.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// A reading far out.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RarestReading {
    /// In inches.
    pub reading_in: f64,
    /// The chance of one at least so far out.
    pub chance_beyond: f64,
}

/// Weighted trials.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct TrialsReport {
    /// How many were made.
    pub trials: u64,
    /// As many trials of equal weight would know as much.
    pub effective: f64,
    /// Standard error of the probability that the best move raises the chance of the joints.
    pub raises_error: f64,
}

/// What was cut to see.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum TestPieces {
    /// Readings, in inches.
    Measured {
        /// What the gauge showed.
        readings_in: Vec<f64>,
        /// The step in which it shows.
        resolution_in: f64,
    },
    /// "tight", "fits" or "loose".
    Felt {
        /// Each piece.
        feels: Vec<String>,
        /// Whether all were tried in one mortise.
        in_one_mortise: bool,
    },
}

impl TestPieces {
    /// How many.
    #[must_use]
    pub fn count(&self) -> usize {
        match self {
            Self::Measured { readings_in, .. } => readings_in.len(),
            Self::Felt { feels, .. } => feels.len(),
        }
    }
}

/// A fit deviation that is not known exactly: positive is tight.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OffsetReport {
    /// Mean, in inches.
    pub mean_in: f64,
    /// Standard deviation, in inches.
    pub sd_in: f64,
    /// 95 % of what is believed, in inches.
    pub interval_95_in: (f64, f64),
}

/// What one more test piece is worth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextPieceReport {
    /// The chance now.
    pub now: f64,
    /// The chance to be expected with one more test piece.
    pub then: f64,
}

/// What one more test piece is worth, in minutes of the batch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextMinutesReport {
    /// Joints of the batch.
    pub joints: u32,
    /// Rework of the batch to be expected now.
    pub now: f64,
    /// Rework to be expected with one more test piece.
    pub then: f64,
    /// What the piece costs, cutting and trying it.
    pub per_piece: f64,
}

impl NextMinutesReport {
    fn sentence(&self) -> String {
        let (gain, cost) = (self.now - self.then, self.per_piece);
        let verdict = if gain > cost {
            "so it is worth cutting"
        } else {
            "so it is not worth cutting"
        };
        let joints = match self.joints {
            1 => "one joint".to_owned(),
            n => format!("{n} joints"),
        };
        format!(
            "In minutes: rework of {joints} comes to {:.1} now and to {:.1} with one more test piece, on average; that saves \
             {gain:.1} and costs {cost}, {verdict}.",
            self.now, self.then,
        )
    }
}

/// One move.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MoveRow {
    /// The move, in inches.
    pub move_in: f64,
    /// Too loose.
    pub below: f64,
    /// Fits.
    pub inside: f64,
    /// Too tight.
    pub above: f64,
}

impl TestCutReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/testcut/1";

    /// From an answer.
    #[must_use]
    pub fn new(
        subject: &Subject,
        tests: TestPieces,
        pieces: Option<u32>,
        answer: &TestCutAnswer,
        next: NextPiece,
        inputs: Vec<Input>,
    ) -> Self {
        let three = |chance: Chance, error: f64| ThreeChances {
            below: chance.below,
            inside: chance.inside,
            above: chance.above,
            error: Some(error),
        };
        Self {
            schema: Self::SCHEMA.into(),
            subject: subject.clone(),
            tests,
            pieces,
            move_the_jig: matches!(answer.advice, Advice::MoveBy(_)),
            best_move_in: answer.best_move.to_inches(),
            untested: three(answer.untested, answer.leave.error),
            leave: three(answer.leave.value, answer.leave.error),
            moved: three(answer.moved.value, answer.moved.error),
            raises: answer.raises,
            before: answer.before.into(),
            after: answer.after.into(),
            next_piece: next.into(),
            next_piece_minutes: None,
            moves: answer
                .moves
                .iter()
                .map(|(by, chance)| MoveRow {
                    move_in: by.to_inches(),
                    below: chance.below,
                    inside: chance.inside,
                    above: chance.above,
                })
                .collect(),
            band_in: None,
            rarest: None,
            trials: None,
            inputs,
            cautions: cautions::all(),
        }
    }

    /// With the reading farthest out (in inches), and the chance of one at least so far out.
    #[must_use]
    pub fn rarest(mut self, rarest: Option<(f64, f64)>) -> Self {
        self.rarest = rarest.map(|(reading_in, chance_beyond)| RarestReading {
            reading_in,
            chance_beyond,
        });
        self
    }

    /// A reading beyond the lines of the table of first readings.
    fn strange(&self, style: &Style) -> Option<String> {
        let rarest = self.rarest.filter(|r| r.chance_beyond < 1e-3)?;
        // Counted on both sides, as the table does; two digits of it.
        let sets = 0.5 / rarest.chance_beyond.max(1e-9);
        let mut unit = 1.0;
        while sets >= 100.0 * unit {
            unit *= 10.0;
        }
        let once_in = number::count(((sets / unit).round() * unit) as u64);
        Some(format!(
            "A first reading as far out as {} comes once in {once_in} set-ups: measure that piece again before you go by this.",
            number::thickness(rarest.reading_in, style.unit)
        ))
    }

    /// From an answer by weighted trials.
    #[must_use]
    pub fn sampled(
        subject: &Subject,
        tests: TestPieces,
        pieces: Option<u32>,
        found: &SampledAnswer,
        inputs: Vec<Input>,
    ) -> Self {
        let trials = TrialsReport {
            trials: found.trials,
            effective: found.effective,
            raises_error: found.raises_error,
        };
        Self {
            trials: Some(trials),
            ..Self::new(subject, tests, pieces, &found.answer, found.next, inputs)
        }
    }

    /// With what one more test piece is worth in minutes, of so many joints and at so much for the piece.
    #[must_use]
    pub fn minutes(mut self, cost: NextCost, joints: u32, per_piece: f64) -> Self {
        let of_batch = |minutes: f64| minutes * f64::from(joints);
        self.next_piece_minutes = Some(NextMinutesReport {
            joints,
            now: of_batch(cost.now),
            then: of_batch(cost.then),
            per_piece,
        });
        self
    }

    /// With the limits of the fit band.
    #[must_use]
    pub fn band(mut self, lower: Option<Length>, upper: Option<Length>) -> Self {
        self.band_in = Some((lower.map(Length::to_inches), upper.map(Length::to_inches)));
        self
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the advice, why, chance against move, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        let mut paragraphs = vec![self.advice(style)];
        paragraphs.extend(self.strange(style));
        paragraphs.extend([self.why(style), self.worth()]);
        paragraphs.extend(self.by_trials());
        for paragraph in paragraphs {
            text.push('\n');
            text.push_str(&wrap(&paragraph, "", style.width));
        }
        text.push('\n');
        text.push_str(&self.rows(style));
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    pub(crate) fn advice(&self, style: &Style) -> String {
        let chances = |c: &ThreeChances| {
            format!(
                "{} fit, {} too loose, {} too tight",
                number::percent(c.inside),
                number::percent(c.below),
                number::percent(c.above)
            )
        };
        let left = number::in_a_hundred(self.leave.inside);
        let moved = number::in_a_hundred(self.moved.inside);
        if !self.move_the_jig {
            let best = if self.best_move_in == 0.0 {
                "Setting the same number anew".to_owned()
            } else {
                format!("The best move, {},", self.by(style))
            };
            return format!(
                "Leave the jig as it is: about {left} joints will fit ({}). {best} would make it {}: a move brings fresh \
                 errors of its own, and here they cost more than it mends.",
                chances(&self.leave),
                number::percent(self.moved.inside),
            );
        }
        let what = if self.best_move_in == 0.0 {
            "Loosen the jig, set the same number anew and lock it".to_owned()
        } else {
            format!("Move the jig by {}", self.by(style))
        };
        let dial = match self.subject.travel_in {
            Some(travel) if self.best_move_in != 0.0 => format!(
                " (dial {} instead of {})",
                number::dial(travel + self.best_move_in, style.unit),
                number::dial(travel, style.unit)
            ),
            _ => String::new(),
        };
        format!(
            "{what}{dial}: then about {moved} joints will fit ({}). Left as it is, {left} would ({}).{}",
            chances(&self.moved),
            number::percent(self.leave.inside),
            self.gain(),
        )
    }

    /// What the move brings in joints, where that can be counted.
    fn gain(&self) -> String {
        let gain = self.moved.inside - self.leave.inside;
        match self.pieces {
            Some(n) if gain * f64::from(n) < 0.25 => {
                format!(
                    " That is less than a quarter of a joint in the batch of {n}: hardly worth touching the jig."
                )
            }
            Some(n) => format!(
                " That is {} more joints in the batch of {n}.",
                tenths(gain * f64::from(n))
            ),
            None => String::new(),
        }
    }

    fn by(&self, style: &Style) -> String {
        signed_move(self.best_move_in, style.unit)
    }

    fn why(&self, style: &Style) -> String {
        let count = match &self.tests {
            TestPieces::Measured { readings_in, .. } => readings_in.len(),
            TestPieces::Felt { feels, .. } => feels.len(),
        };
        let pieces = if count == 1 {
            "One test piece says".to_owned()
        } else {
            format!("{count} test pieces say")
        };
        let middle = |o: &OffsetReport| {
            if o.mean_in.abs() < 0.000_05 {
                return "right".to_owned();
            }
            let word = if o.mean_in > 0.0 { "tight" } else { "loose" };
            format!("{} {word}", number::deviation(o.mean_in.abs(), style.unit))
        };
        let range = |o: &OffsetReport| {
            let (low, high) = o.interval_95_in;
            let end = |x| number::deviation(x, style.unit);
            number::to(&end(low), &end(high))
        };
        format!(
            "{pieces} that joints now come out {} in the middle (95 %: {}); before the test it was {} ({}). All joints of the \
             batch share that, and a move draws part of it anew: in about {:.0} of 100 such shops the best move would better \
             the joints' chance, in the others it would spoil it.",
            middle(&self.after),
            range(&self.after),
            middle(&self.before),
            range(&self.before),
            100.0 * self.raises,
        )
    }

    fn worth(&self) -> String {
        let gain = self.next_piece.then - self.next_piece.now;
        if self.trials.is_some() && gain < self.trials_error() {
            return "What one more test piece would bring is less than these trials can tell."
                .into();
        }
        let joints = match self.pieces {
            Some(n) => format!(
                ", {} joints in the batch of {n}",
                tenths(gain * f64::from(n))
            ),
            None => String::new(),
        };
        let verdict = if gain < 0.002 {
            "One more test piece would hardly tell more"
        } else {
            "One more test piece would help"
        };
        let minutes = self
            .next_piece_minutes
            .map_or_else(String::new, |minutes| format!(" {}", minutes.sentence()));
        format!(
            "{verdict}: with it, the chance of a joint would come to {} on average, instead of {}{joints}.{minutes}",
            number::percent(self.next_piece.then),
            number::percent(self.next_piece.now),
        )
    }

    /// How it was found, where that is not exact.
    fn by_trials(&self) -> Option<String> {
        let trials = self.trials?;
        Some(format!(
            "The fit of this plan is no plain sum of its errors, so {} set-ups were tried at random and weighed by how well \
             they agree with the test pieces; they know as much as {:.0} of equal weight. The chances above are good to {:.2} \
             in 100 joints (standard error).",
            trials.trials,
            trials.effective,
            100.0 * self.trials_error(),
        ))
    }

    /// The larger standard error of the two chances.
    fn trials_error(&self) -> f64 {
        let [leave, moved] = [&self.leave, &self.moved].map(|c| c.error.unwrap_or(0.0));
        leave.max(moved)
    }

    fn rows(&self, style: &Style) -> String {
        let header = [
            ("move", Align::Right),
            ("dial", Align::Right),
            ("too loose", Align::Right),
            ("fits", Align::Right),
            ("too tight", Align::Right),
            ("", Align::Left),
        ];
        let bar = |p: f64, mark: &str| format!("{}{mark}", "█".repeat((p * 30.0).round() as usize));
        let dial = |by: f64| {
            self.subject
                .travel_in
                .map_or_else(String::new, |t| number::dial(t + by, style.unit))
        };
        let mark = |is: bool| if is { " best" } else { "" };
        let left = vec![
            "leave".to_owned(),
            dial(0.0),
            number::percent(self.leave.below),
            number::percent(self.leave.inside),
            number::percent(self.leave.above),
            bar(self.leave.inside, mark(!self.move_the_jig)),
        ];
        let rows = self.moves.iter().map(|row| {
            let is_best = self.move_the_jig && (row.move_in - self.best_move_in).abs() < 1e-9;
            vec![
                signed_move(row.move_in, style.unit),
                dial(row.move_in),
                number::percent(row.below),
                number::percent(row.inside),
                number::percent(row.above),
                bar(row.inside, mark(is_best)),
            ]
        });
        table(style.width, &header, std::iter::once(left).chain(rows))
    }
}

impl From<NextPiece> for NextPieceReport {
    fn from(next: NextPiece) -> Self {
        Self {
            now: next.now,
            then: next.then,
        }
    }
}

impl From<Offset> for OffsetReport {
    fn from(offset: Offset) -> Self {
        let (low, high) = offset.interval_95;
        Self {
            mean_in: offset.mean.to_inches(),
            sd_in: offset.sd.to_inches(),
            interval_95_in: (low.to_inches(), high.to_inches()),
        }
    }
}

/// A move with its sign.
pub(crate) fn signed_move(by: f64, unit: Unit) -> String {
    let sign = if by > 0.0 { "+" } else { "" };
    format!("{sign}{}", number::deviation(by, unit))
}

fn tenths(x: f64) -> String {
    if x < 0.05 {
        "less than 0.1".to_owned()
    } else {
        format!("{x:.1}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn three(inside: f64) -> ThreeChances {
        ThreeChances {
            below: 0.0,
            inside,
            above: 1.0 - inside,
            error: Some(1e-12),
        }
    }

    fn report(move_in: f64, leave: f64, moved: f64) -> TestCutReport {
        let offset = OffsetReport {
            mean_in: 0.002,
            sd_in: 0.001,
            interval_95_in: (0.0, 0.004),
        };
        let row = |move_in: f64| MoveRow {
            move_in,
            below: 0.0,
            inside: moved,
            above: 1.0 - moved,
        };
        TestCutReport {
            schema: TestCutReport::SCHEMA.into(),
            subject: Subject {
                travel_in: Some(0.5),
                ..Subject::titled("a test")
            },
            tests: TestPieces::Felt {
                feels: vec!["tight".into()],
                in_one_mortise: false,
            },
            pieces: Some(24),
            move_the_jig: moved > leave,
            best_move_in: move_in,
            untested: three(0.9),
            leave: three(leave),
            moved: three(moved),
            raises: 0.61,
            before: offset,
            after: offset,
            next_piece: NextPieceReport {
                now: 0.95,
                then: 0.951,
            },
            next_piece_minutes: None,
            moves: vec![row(move_in)],
            band_in: None,
            rarest: None,
            trials: None,
            inputs: Vec::new(),
            cautions: cautions::all(),
        }
    }

    fn text(report: &TestCutReport) -> String {
        let text = report.to_text(&Style::default());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_reading_far_out_is_to_be_measured_again() {
        let far = |chance| report(-0.0015, 0.8, 0.95).rarest(Some((0.385, chance)));
        let said = text(&far(0.000_123));
        assert!(
            said.contains(
                "as far out as 0.3850 in comes once in 4,100 set-ups: measure that piece again"
            ),
            "{said}"
        );
        assert!(!text(&far(0.002)).contains("measure that piece again"));
        assert!(!text(&report(-0.0015, 0.8, 0.95)).contains("measure that piece again"));
    }

    #[test]
    fn a_move_names_the_dial_and_what_it_gains() {
        let text = text(&report(-0.0015, 0.8, 0.95));
        assert!(
            text.contains("Move the jig by −1.5 thou (dial 0.4985 in instead of 0.5000 in)"),
            "{text}"
        );
        // 0.15 of 24.
        assert!(
            text.contains("3.6 more joints in the batch of 24"),
            "{text}"
        );
        assert!(text.contains("61 of 100 such shops"), "{text}");
        assert!(
            text.contains("test cut on scrap"),
            "it leads to the saw, so it cautions"
        );
    }

    #[test]
    fn a_small_gain_is_called_small_and_leaving_says_why() {
        assert!(text(&report(-0.0005, 0.95, 0.951)).contains("hardly worth touching the jig"));
        let left = text(&report(-0.0005, 0.95, 0.94));
        assert!(left.starts_with("a test Leave the jig as it is"), "{left}");
        assert!(left.contains("would make it 94.00 %"), "{left}");
        assert!(text(&report(0.0, 0.90, 0.951)).contains("set the same number anew"));
    }

    #[test]
    fn weighted_trials_are_named_as_such() {
        let mut sampled = report(-0.001, 0.7, 0.9);
        assert!(!text(&sampled).contains("at random"));
        sampled.trials = Some(TrialsReport {
            trials: 16_384,
            effective: 5_120.4,
            raises_error: 0.006,
        });
        sampled.moved.error = Some(0.0012);
        let text = text(&sampled);
        assert!(
            text.contains("16384 set-ups were tried at random"),
            "{text}"
        );
        assert!(text.contains("as much as 5120 of equal weight"), "{text}");
        assert!(text.contains("good to 0.12 in 100 joints"), "{text}");
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report(0.001, 0.7, 0.9);
        let read: TestCutReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
