use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, wrap};
use crate::{Style, TestPieces, ThreeChances, cautions, number};
use kerfwise_decide::BatchForecast;
use serde::{Deserialize, Serialize};

/// What the last column of the table is.
pub(crate) const IF_NOTHING_WERE_SHARED: &str = "if nothing were shared: what one joint's chance alone would say, which is wrong \
                                                 for joints of one set-up.";

/// How many joints of a batch fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BatchReport {
    /// "kerfwise/batch/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// The outcome; several that must all fit stand with "and" between them.
    pub outcome: String,
    /// Pieces in the batch; where some were seen, those that are left.
    pub pieces: u32,
    /// The pieces that were measured or felt so far; absent before the first.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seen: Option<TestPieces>,
    /// The chance of one piece had the jig been set anew, after the first was seen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_anew: Option<f64>,
    /// The chance of one piece.
    pub one: ThreeChances,
    /// The chance that exactly k fit, k from 0 to the number of pieces.
    pub fits: Vec<f64>,
    /// A bound of the error of each.
    pub error: f64,
    /// The same if nothing were shared, which is wrong.
    pub if_independent: Vec<f64>,
    /// How many fit on average.
    pub expected: f64,
    /// Standard deviation of that number.
    pub sd: f64,
    /// The wanted chance of enough pieces.
    pub assurance: f64,
    /// Spares for it; `null` where `most_spares` are not enough.
    pub spares: Option<u32>,
    /// The chance with that many spares, or with the most.
    pub spares_chance: f64,
    /// The most spares that were thought of.
    pub most_spares: u32,
    /// Minutes of rework to be expected.
    pub rework_minutes: Option<f64>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// Joints so much less likely to fit than those of a new set-up are reason to look at the jig.
const WORTH_A_LOOK: f64 = 0.02;

/// The outcome that needs no name.
const FIT: &str = "fit";
/// Between outcomes that must all fit.
const AND: &str = " and ";
/// Exact forecasts are good to far less, simulated ones never are.
const SIMULATED: f64 = 1e-6;

impl BatchReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/batch/1";

    /// From a forecast for these outcomes, which must all fit.
    #[must_use]
    pub fn new(
        subject: &Subject,
        outcomes: &[&str],
        batch: &BatchForecast,
        inputs: Vec<Input>,
    ) -> Self {
        let chance = batch.one.value;
        Self {
            schema: Self::SCHEMA.into(),
            subject: subject.clone(),
            outcome: outcomes.join(AND),
            pieces: batch.pieces,
            seen: None,
            set_anew: None,
            one: ThreeChances {
                below: chance.below,
                inside: chance.inside,
                above: chance.above,
                error: Some(batch.one.error),
            },
            fits: batch.fits.clone(),
            error: batch.error,
            if_independent: batch.if_independent.clone(),
            expected: batch.expected,
            sd: batch.sd,
            assurance: batch.spares.assurance,
            spares: batch.spares.needed,
            spares_chance: batch.spares.chance,
            most_spares: batch.spares.most,
            rework_minutes: batch.rework_minutes,
            inputs,
            cautions: cautions::all(),
        }
    }

    /// The same, of what is left after these pieces; `set_anew` is the chance of a joint had the jig been set anew.
    #[must_use]
    pub fn after(mut self, seen: TestPieces, set_anew: Option<f64>) -> Self {
        self.seen = Some(seen);
        self.set_anew = set_anew;
        self
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, spares, the table, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        for paragraph in [self.answer(), self.spares_in_words()] {
            text.push('\n');
            text.push_str(&wrap(&paragraph, "", style.width));
        }
        text.push('\n');
        text.push_str(&self.rows().to_text(style.width));
        text.push_str(&wrap(IF_NOTHING_WERE_SHARED, "  ", style.width));
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    fn all(&self) -> f64 {
        self.fits.last().copied().unwrap_or(1.0)
    }

    pub(crate) fn answer(&self) -> String {
        let n = self.pieces;
        let alone = self.if_independent.last().copied().unwrap_or(1.0);
        let so_far = match self.seen.as_ref().map(TestPieces::count) {
            None => String::new(),
            Some(1) => "After 1 piece, with the jig left as it is: ".to_owned(),
            Some(m) => format!("After {m} pieces, with the jig left as it is: "),
        };
        let (of, batches) = match self.seen {
            None => ("Of", "batches"),
            Some(_) => ("of", "cases"),
        };
        let left = if self.seen.is_some() {
            " that are left"
        } else {
            ""
        };
        let mut words = format!(
            "{so_far}{of} {n} joints{left} {:.1} are expected to fit, and all fit in {} of such {batches}. One joint's chance of {} to the power \
             {n} would say {}: joints of one set-up share its errors, so they fit together and fail together.",
            self.expected,
            number::percent(self.all()),
            number::percent(self.one.inside),
            number::percent(alone),
        );
        if let Some(minutes) = self.rework_minutes {
            words.push_str(&format!(" Expect {minutes:.0} minutes of rework."));
        }
        if self.outcome != FIT {
            let (s, their) = if self.outcome.contains(AND) {
                ("", "their bands")
            } else {
                ("s", "its band")
            };
            words.push_str(&format!(
                " A joint fits when {} lie{s} in {their}.",
                self.outcome
            ));
        }
        if self.error > SIMULATED {
            words.push_str(&format!(
                " Batches were simulated: each chance is ± {} or better.",
                number::percent(self.error)
            ));
        }
        words
    }

    pub(crate) fn spares_in_words(&self) -> String {
        let (n, wanted) = (self.pieces, percent_short(self.assurance));
        if let Some(anew) = self
            .set_anew
            .filter(|anew| *anew > self.one.inside + WORTH_A_LOOK)
        {
            return format!(
                "Cut no spares yet: this set-up looks off. A jig set anew would give each joint {}; `kerfwise testcut` with these \
                 pieces says by how much to move it.",
                number::percent(anew)
            );
        }
        match self.spares {
            Some(0) => format!(
                "No spares are needed for {n} joints that fit with {wanted} ({}).",
                number::percent(self.spares_chance)
            ),
            Some(s) => format!(
                "Cut {s} {} in the same set-up to have {n} joints that fit with {wanted} ({}).",
                if s == 1 { "spare" } else { "spares" },
                number::percent(self.spares_chance)
            ),
            None => format!(
                "Spares do not give {n} joints that fit with {wanted}: even {} of them come to {}. Where the set-up is off, its \
                 spares are off with it; cut a test piece first (`kerfwise testcut`).",
                self.most_spares,
                number::percent(self.spares_chance)
            ),
        }
    }

    /// Failures from none upwards, as far as they matter, at most 12 rows.
    pub(crate) fn rows(&self) -> Grid {
        let header = [
            ("do not fit", Align::Right),
            ("chance", Align::Right),
            ("so many or fewer", Align::Right),
            ("if nothing were shared", Align::Right),
            ("", Align::Left),
        ];
        let n = self.fits.len() - 1;
        let mut so_far = 0.0;
        let mut rows = Vec::new();
        for failures in 0..=n {
            let p = self.fits[n - failures];
            so_far += p;
            let is_rest = failures == 11 && failures < n;
            let rest = (1.0 - so_far + p).max(0.0);
            let alone: f64 = if is_rest {
                self.if_independent[..=n - failures].iter().sum()
            } else {
                self.if_independent[n - failures]
            };
            let shown = if is_rest { rest } else { p };
            rows.push(vec![
                if is_rest {
                    format!("{failures} or more")
                } else {
                    failures.to_string()
                },
                number::percent(shown),
                number::percent(if is_rest { 1.0 } else { so_far.min(1.0) }),
                number::percent(alone),
                "█".repeat((shown * 40.0).round() as usize),
            ]);
            if is_rest || (1.0 - so_far < 1e-4 && failures >= 2) {
                break;
            }
        }
        Grid::new(&header, rows)
    }
}

/// "95 % assurance".
fn percent_short(p: f64) -> String {
    let percent = 100.0 * p;
    if (percent - percent.round()).abs() < 1e-9 {
        format!("{percent:.0} % assurance")
    } else {
        format!("{percent} % assurance")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(spares: Option<u32>) -> BatchReport {
        BatchReport {
            schema: BatchReport::SCHEMA.into(),
            subject: Subject::titled("a test"),
            outcome: "fit".into(),
            pieces: 2,
            seen: None,
            set_anew: None,
            one: ThreeChances {
                below: 0.0,
                inside: 0.75,
                above: 0.25,
                error: Some(1e-15),
            },
            fits: vec![0.2, 0.1, 0.7],
            error: 1e-13,
            if_independent: vec![0.0625, 0.375, 0.5625],
            expected: 1.5,
            sd: 0.8,
            assurance: 0.95,
            spares,
            spares_chance: 0.96,
            most_spares: 10,
            rework_minutes: Some(12.4),
            inputs: Vec::new(),
            cautions: cautions::all(),
        }
    }

    fn text(report: &BatchReport) -> String {
        let text = report.to_text(&Style::default());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn says_how_many_fit_and_what_is_wrong_with_a_power() {
        let text = text(&report(Some(1)));
        assert!(
            text.contains("Of 2 joints 1.5 are expected to fit, and all fit in 70.00 %"),
            "{text}"
        );
        assert!(text.contains("would say 56.25 %"), "{text}");
        assert!(text.contains("Cut 1 spare in the same set-up"), "{text}");
        assert!(text.contains("Expect 12 minutes of rework"), "{text}");
        assert!(text.contains("test cut on scrap"), "{text}");
        // None, one and both fail; the last row has come to all.
        assert!(text.contains("0 70.00 % 70.00 % 56.25 %"), "{text}");
        assert!(
            text.contains("2 20.00 % 100 % 6.25 %") || text.contains("2 20.00 % 100.00 % 6.25 %"),
            "{text}"
        );
    }

    #[test]
    fn tells_of_what_is_left() {
        let seen = TestPieces::Measured {
            readings_in: vec![0.375, 0.376],
            resolution_in: 0.0005,
        };
        let of = |anew: f64| text(&report(Some(1)).after(seen.clone(), Some(anew)));
        let one = report(None).one.inside;
        let well = of(one);
        assert!(
            well.contains("After 2 pieces, with the jig left as it is: of 2 joints that are left 1.5 are expected to fit"),
            "{well}"
        );
        assert!(well.contains("Cut 1 spare"), "{well}");
        // A set-up that is clearly worse than a new one is not to be met with spares.
        let off = of(one + 0.03);
        assert!(
            off.contains("Cut no spares yet") && !off.contains("Cut 1 spare"),
            "{off}"
        );
    }

    #[test]
    fn spares_that_do_not_help_lead_to_a_test_cut() {
        assert!(text(&report(None)).contains("kerfwise testcut"));
        assert!(text(&report(Some(0))).contains("No spares are needed"));
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report(None);
        let read: BatchReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
