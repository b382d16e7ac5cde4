use crate::Style;
use crate::evidence::{Column, Estimated, SpreadRow, p_value};
use crate::table::wrap;
use serde::{Deserialize, Serialize};

/// Whether a gauge is good enough: parts by people by repeats. Numbers are in the unit of `column`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct StudyReport {
    /// "kerfwise/gauge/1".
    pub schema: String,
    /// The readings.
    pub column: Column,
    /// How sure the intervals are.
    pub confidence: f64,
    /// The parts.
    pub parts: Vec<String>,
    /// The people.
    pub people: Vec<String>,
    /// How the variances were estimated: "analysis of variance" or "restricted likelihood".
    pub estimator: String,
    /// p-value of people differing more on some parts than on others; `null` where nothing was read twice.
    pub interaction_p_value: Option<f64>,
    /// Whether that was counted as repeatability.
    pub pooled: bool,
    /// Standard deviations: repeatability, reproducibility, gauge, part, total.
    pub spreads: Vec<SpreadRow>,
    /// How many classes of parts the gauge tells apart; `null` for a gauge without spread.
    pub distinct_classes: Option<f64>,
    /// The width of the band that pieces must lie in, if one is known.
    pub band: Option<f64>,
    /// Six standard deviations of the gauge over that width.
    pub share_of_band: Option<Estimated>,
    /// How many people, measuring these parts as often, would know the gauge to within twice itself; `null` where none would.
    #[serde(default)]
    pub people_for_twice: Option<u64>,
    /// Every reading; none in a report of before there was this field.
    #[serde(default)]
    pub cells: Vec<GaugeCell>,
}

/// What one person read on one part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GaugeCell {
    /// The part.
    pub part: String,
    /// The person.
    pub person: String,
    /// The readings, in their order.
    pub readings: Vec<f64>,
}

/// Below this share of the band a gauge is good, above the other it is not: common practice, no source.
const GOOD: f64 = 0.1;
const POOR: f64 = 0.3;

impl StudyReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/gauge/1";

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the verdict, the spreads, what to do about them.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.column.heading(style);
        let counts = format!(
            "{} parts, {} people; by {}.",
            self.parts.len(),
            self.people.len(),
            self.estimator
        );
        text.push_str(&wrap(&counts, "", style.width));
        let mut say = |words: &str| {
            text.push('\n');
            text.push_str(&wrap(words, "", style.width));
        };
        if self.hides_its_spread() {
            say(
                "No reading differs from its repeat, nor one person's from another's: the step in which the gauge reads hides what \
                 gauge and hand do, so that this study can judge neither. Use a finer gauge, or count the step as an error: half \
                 of it either way.",
            );
        } else {
            if let Some(words) = self.verdict(style) {
                say(&words);
            }
            say(&self.classes());
        }
        text.push('\n');
        text.push_str(
            &self
                .column
                .spread_table("spread", &self.spreads, self.confidence, style),
        );
        if !self.hides_its_spread() {
            text.push('\n');
            text.push_str(&wrap(&self.way_out(), "", style.width));
        }
        text
    }

    fn hides_its_spread(&self) -> bool {
        self.sd("repeatability") == 0.0 && self.sd("reproducibility") == 0.0
    }

    fn sd(&self, name: &str) -> f64 {
        let row = self.spreads.iter().find(|row| row.name == name);
        row.map_or(0.0, |row| row.sd)
    }

    pub(crate) fn verdict(&self, style: &Style) -> Option<String> {
        let (band, share) = (self.band?, self.share_of_band?);
        let value = share.value?;
        let whole = |x: f64| format!("{:.0} %", 100.0 * x);
        // Beyond three times itself nothing is known.
        if share.interval.1.is_none_or(|upper| upper > 3.0 * value) {
            return Some(format!(
                "Whether the gauge is good enough for a band of {}, {} people and {} parts do not know: it uses up {} of it, or \
                 anything from {} to {}.{}",
                self.column.spread(band, style),
                self.people.len(),
                self.parts.len(),
                whole(value),
                share.interval.0.map_or_else(|| "nothing".to_owned(), whole),
                share.interval.1.map_or_else(|| "no end".to_owned(), whole),
                self.who_would_know()
            ));
        }
        let words = if value < GOOD {
            "it is good for this band"
        } else if value < POOR {
            "it will do for this band, but tells pieces near a limit apart badly"
        } else {
            "it is too coarse for this band"
        };
        let holds = |bound: f64| {
            let (lower, upper) = share.interval;
            lower.is_some_and(|x| x < bound) && upper.is_none_or(|x| x > bound)
        };
        let doubt = if holds(GOOD) || holds(POOR) {
            format!(
                " The study is too small to be sure of that.{}",
                self.who_would_know()
            )
        } else {
            String::new()
        };
        Some(format!(
            "The gauge uses up {} of a band of {}: {words} (common practice: under 10 % is good, over 30 % is not).{doubt}",
            share.words(whole),
            self.column.spread(band, style)
        ))
    }

    fn who_would_know(&self) -> String {
        let alone = "If one person does all the measuring, only the repeatability counts.";
        match self.people_for_twice {
            Some(people) if people > self.people.len() as u64 => {
                format!(
                    " {people} people, measuring these parts as often, would know it to within twice itself. {alone}"
                )
            }
            _ => format!(" More parts and more readings would tell. {alone}"),
        }
    }

    pub(crate) fn classes(&self) -> String {
        match self.distinct_classes {
            Some(classes) if classes < 1.0 => "It cannot tell these parts apart at all.".to_owned(),
            Some(classes) => format!(
                "It tells {:.0} classes of these parts apart (5 are wanted).",
                classes.floor()
            ),
            None => "It showed no spread of its own: its steps may be too coarse to show any."
                .to_owned(),
        }
    }

    fn way_out(&self) -> String {
        let larger = if self.sd("reproducibility") > self.sd("repeatability") {
            "Most of the gauge's spread lies between people: agree on how hard to close it and where to hold it."
        } else {
            "Most of the gauge's spread is one hand reading again: steady the piece, take the mean of several readings, or a \
             finer gauge."
        };
        match self.interaction_p_value {
            Some(p) if !self.pooled && p < 0.05 => format!(
                "{larger} People differ more on some parts than on others ({}): look at those parts.",
                p_value(p)
            ),
            _ => larger.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(name: &str, sd: f64) -> SpreadRow {
        SpreadRow {
            name: name.to_owned(),
            sd,
            interval: (0.5 * sd, 2.0 * sd),
            degrees_of_freedom: 7.0,
        }
    }

    fn report(share: f64) -> StudyReport {
        StudyReport {
            schema: StudyReport::SCHEMA.into(),
            column: Column::new("g.csv", "thickness (in)", "in", 12),
            confidence: 0.95,
            parts: vec!["a".into(), "b".into(), "c".into()],
            people: vec!["Ann".into(), "Bo".into()],
            estimator: "analysis of variance".into(),
            interaction_p_value: Some(0.02),
            pooled: false,
            spreads: vec![row("repeatability", 0.0001), row("reproducibility", 0.0002)],
            distinct_classes: Some(3.7),
            band: Some(0.01),
            share_of_band: Some(Estimated::new(share, (0.5 * share, 2.0 * share))),
            people_for_twice: Some(8),
            cells: Vec::new(),
        }
    }

    #[test]
    fn the_verdict_follows_the_share_of_the_band() {
        for (share, words) in [
            (0.06, "is good for this band"),
            (0.2, "will do"),
            (0.7, "too coarse"),
        ] {
            let text = report(share).to_text(&Style::default());
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(text.contains(words), "no \"{words}\" in {text}");
            assert_eq!(text.contains("too small to be sure"), share < 0.6, "{text}");
            assert!(text.contains("tells 3 classes") && text.contains("between people"));
        }
    }

    #[test]
    fn a_study_that_knows_nothing_says_so_and_how_many_would() {
        let mut small = report(0.14);
        small.share_of_band = Some(Estimated::new(0.14, (0.09, 4.06)));
        let text = small.to_text(&Style::default());
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for part in [
            "2 people and 3 parts do not know",
            "from 9 % to 406 %",
            "8 people, measuring these parts",
        ] {
            assert!(text.contains(part), "no \"{part}\" in {text}");
        }
        assert!(!text.contains("will do"), "{text}");
    }

    #[test]
    fn a_gauge_whose_step_hides_everything_is_not_called_good() {
        let mut all_alike = report(0.0);
        all_alike.spreads = vec![row("repeatability", 0.0), row("reproducibility", 0.0)];
        let text = all_alike.to_text(&Style::default());
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(text.contains("the step in which the gauge reads"), "{text}");
        assert!(
            !text.contains("good for this band") && !text.contains("Most of"),
            "{text}"
        );
    }

    #[test]
    fn reads_back_what_it_writes() {
        let mut written = report(0.2);
        written.distinct_classes = None;
        let read: StudyReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
