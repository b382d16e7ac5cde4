use crate::input::{self, Input, Subject};
use crate::table::{Align, table, wrap};
use crate::{Style, ThreeChances, number};
use serde::{Deserialize, Serialize};

/// What measured pieces are worth, and where to draw the line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct JudgeReport {
    /// "kerfwise/judge/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// The outcome that must lie in its band.
    pub outcome: String,
    /// How the chances were found: "exact" or "Monte Carlo", whose errors are standard errors.
    #[serde(default = "exact")]
    pub by: String,
    /// Each measured piece.
    pub pieces: Vec<JudgedPiece>,
    /// The step in which the gauge shows, in inches.
    pub resolution_in: f64,
    /// The wanted chance to conform.
    pub wanted: f64,
    /// Which readings give it; `null` where none does.
    pub accept: Option<AcceptReport>,
    /// The reading that promises most, in inches, and its chance.
    pub best: JudgedPiece,
    /// The gauge.
    pub gauge: GaugeReport,
    /// Every source with its provenance, those of the gauge among them.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// One measured piece.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct JudgedPiece {
    /// What the gauge showed, in inches.
    pub reading_in: f64,
    /// The chances that the outcome lies below, inside and above its band.
    pub chance: ThreeChances,
}

/// Readings that are accepted, and what that risks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AcceptReport {
    /// The least reading that is accepted, in inches, a whole number of steps; `null` for no limit.
    pub lower_in: Option<f64>,
    /// The greatest.
    pub upper_in: Option<f64>,
    /// The chance that a piece is accepted.
    pub accepted: f64,
    /// Consumer's risk: accepted and does not conform.
    pub consumer: f64,
    /// Producer's risk: rejected and conforms.
    pub producer: f64,
    /// A bound of the error of each; by Monte Carlo its standard error.
    pub error: f64,
}

/// Whether the gauge suits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GaugeReport {
    /// Standard uncertainty of a reading, its step counted, in inches.
    pub uncertainty_in: f64,
    /// Band / (4 u); `null` for a band of one limit.
    pub capability: Option<f64>,
    /// The coarsest step that makes it 4, in inches; `null` where none does.
    pub step_for_four_in: Option<f64>,
    /// The source of the plan that is the gauge's error, if it is one: it measured other things too and is off alike in all
    /// of them, so that no reading is less sure for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub error_of_plan: Option<String>,
}

impl JudgeReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/judge/1";

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, where to draw the line, the gauge, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        let mut paragraphs = Vec::new();
        if let [piece] = self.pieces[..] {
            paragraphs.push(self.sentence(&piece, style));
        }
        paragraphs.push(self.line(style));
        paragraphs.push(self.gauge_in_words(style));
        paragraphs.extend(self.by_trials());
        for paragraph in paragraphs {
            text.push('\n');
            text.push_str(&wrap(&paragraph, "", style.width));
        }
        if self.pieces.len() > 1 {
            text.push('\n');
            text.push_str(&self.rows(style));
        }
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    fn sentence(&self, piece: &JudgedPiece, style: &Style) -> String {
        let [loose, tight] = self.sides();
        format!(
            "A piece that reads {} is good with a chance of about {} ({} inside the band, {} {loose}, {} {tight}){}.",
            number::length(piece.reading_in, style.unit),
            number::in_a_hundred(piece.chance.inside),
            number::percent(piece.chance.inside),
            number::percent(piece.chance.below),
            number::percent(piece.chance.above),
            if self.is_accepted(piece.reading_in) {
                ": keep it"
            } else {
                ": try it before it is glued, or rework it"
            }
        )
    }

    /// What the numbers are worth, where they are not exact.
    fn by_trials(&self) -> Option<String> {
        if self.by == exact() {
            return None;
        }
        let of_pieces = self
            .pieces
            .iter()
            .chain([&self.best])
            .filter_map(|p| p.chance.error);
        let of_risks = self.accept.map(|accept| accept.error);
        let error = of_pieces.chain(of_risks).fold(0.0, f64::max);
        Some(format!(
            "This plan is not affine, so the chances are found by {}; their standard error is at most {}.",
            self.by,
            number::percent(error)
        ))
    }

    /// What lies below and above the band is called.
    fn sides(&self) -> [&'static str; 2] {
        if self.outcome.starts_with("fit") {
            ["too loose", "too tight"]
        } else {
            ["below it", "above it"]
        }
    }

    fn is_accepted(&self, reading: f64) -> bool {
        // A hair more than rounding: readings are whole steps.
        let slack = 1e-9;
        self.accept.is_some_and(|a| {
            a.lower_in.is_none_or(|l| reading >= l - slack)
                && a.upper_in.is_none_or(|u| reading <= u + slack)
        })
    }

    fn line(&self, style: &Style) -> String {
        let wanted = percent_of(self.wanted);
        let Some(accept) = &self.accept else {
            return format!(
                "No reading promises {wanted}: the best, {}, comes to {}. What the reading does not see (the mortise, above all) \
                 is in the way; measure that as well, or lower the aim.",
                number::length(self.best.reading_in, style.unit),
                number::percent(self.best.chance.inside),
            );
        };
        let length = |x: f64| number::length(x, style.unit);
        let from_to = match (accept.lower_in, accept.upper_in) {
            (Some(l), Some(u)) => format!("from {} to {}", length(l), length(u)),
            (Some(l), None) => format!("from {}", length(l)),
            (None, Some(u)) => format!("up to {}", length(u)),
            (None, None) => "whatever they are".to_owned(),
        };
        format!(
            "To be {wanted} sure of each piece, accept readings {from_to}. Of all pieces of this plan {} are accepted; {} are \
             accepted and not good (consumer's risk), {} are rejected although they are good (producer's risk).",
            number::percent(accept.accepted),
            number::percent(accept.consumer),
            number::percent(accept.producer),
        )
    }

    fn gauge_in_words(&self, style: &Style) -> String {
        let u = number::spread(self.gauge.uncertainty_in, style.unit);
        let alike = self.gauge.error_of_plan.as_ref().map_or_else(String::new, |name| {
            format!(
                " What {name} is off by is not in that: it is off alike in all that it measured, so it does not touch the fit \
                 that a reading tells."
            )
        });
        let Some(capability) = self.gauge.capability else {
            return format!("A reading has a standard uncertainty of {u}.{alike}");
        };
        let verdict = match (capability >= 4.0, self.gauge.step_for_four_in) {
            (true, _) => "suits this band (4 or more is wanted)".to_owned(),
            (false, Some(step)) => format!(
                "is coarse for this band (4 or more is wanted); a step of at most {} would do",
                number::deviation(step, style.unit)
            ),
            (false, None) => {
                "is too uncertain for this band (4 or more is wanted), and a finer step would not help".to_owned()
            }
        };
        format!(
            "A reading has a standard uncertainty of {u}; the band is {capability:.1} times four of that: the gauge {verdict}.{alike}"
        )
    }

    fn rows(&self, style: &Style) -> String {
        let [loose, tight] = self.sides();
        let header = [
            ("reading", Align::Right),
            (loose, Align::Right),
            ("good", Align::Right),
            (tight, Align::Right),
            ("", Align::Left),
        ];
        let rows = self.pieces.iter().map(|piece| {
            vec![
                number::length(piece.reading_in, style.unit),
                number::percent(piece.chance.below),
                number::percent(piece.chance.inside),
                number::percent(piece.chance.above),
                if self.is_accepted(piece.reading_in) {
                    "keep"
                } else {
                    "try or rework"
                }
                .to_owned(),
            ]
        });
        table(style.width, &header, rows)
    }
}

fn exact() -> String {
    "exact".into()
}

fn percent_of(p: f64) -> String {
    let rounded = (1e6 * p).round() / 1e4;
    // What is not certain is not rounded to it.
    if rounded >= 100.0 && p < 1.0 {
        return format!("{} %", (1e12 * p).floor() / 1e10);
    }
    format!("{rounded} %")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cautions;

    fn piece(reading_in: f64, inside: f64) -> JudgedPiece {
        JudgedPiece {
            reading_in,
            chance: ThreeChances {
                below: 0.0,
                inside,
                above: 1.0 - inside,
                error: Some(1e-12),
            },
        }
    }

    fn report(pieces: Vec<JudgedPiece>, capability: f64) -> JudgeReport {
        JudgeReport {
            schema: JudgeReport::SCHEMA.into(),
            subject: Subject::titled("a test"),
            by: exact(),
            outcome: "fit".into(),
            pieces,
            resolution_in: 0.0005,
            wanted: 0.95,
            accept: Some(AcceptReport {
                lower_in: Some(0.372),
                upper_in: Some(0.377),
                accepted: 0.9,
                consumer: 0.01,
                producer: 0.06,
                error: 1e-12,
            }),
            best: piece(0.3745, 0.98),
            gauge: GaugeReport {
                uncertainty_in: 0.0005,
                capability: Some(capability),
                step_for_four_in: (capability < 4.0).then_some(0.001),
                error_of_plan: None,
            },
            inputs: Vec::new(),
            cautions: cautions::all(),
        }
    }

    fn text(report: &JudgeReport) -> String {
        let text = report.to_text(&Style::default());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn one_piece_in_a_sentence_several_in_a_table() {
        let one = text(&report(vec![piece(0.377, 0.951)], 5.0));
        assert!(
            one.contains("A piece that reads 0.377 in is good with a chance of about 95 in 100"),
            "{one}"
        );
        assert!(
            one.contains(": keep it") && one.contains("from 0.372 in to 0.377 in"),
            "{one}"
        );
        assert!(
            one.contains("suits this band") && one.contains("test cut on scrap"),
            "{one}"
        );
        let two = text(&report(vec![piece(0.3775, 0.93), piece(0.375, 0.98)], 3.0));
        assert!(
            two.contains("0.3775 in 0 % 93.00 % 7.00 % try or rework"),
            "{two}"
        );
        assert!(two.contains("a step of at most 1.0 thou would do"), "{two}");
    }

    #[test]
    fn no_reading_good_enough_says_what_is_in_the_way() {
        let mut none = report(vec![piece(0.375, 0.9)], 5.0);
        none.accept = None;
        assert!(
            text(&none).contains("No reading promises 95 %"),
            "{}",
            text(&none)
        );
        none.wanted = 0.999_999_999;
        let said = text(&none);
        assert!(said.contains("No reading promises 99.9999999 %"), "{said}");
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report(vec![piece(0.377, 0.951)], 3.0);
        let read: JudgeReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
