use crate::Style;
use crate::evidence::{Column, Estimated, SpreadRow, p_value, sure, two_decimals};
use crate::input::{self, Input};
use crate::table::wrap;
use serde::{Deserialize, Serialize};

/// What a log of set-ups teaches. Numbers are in the unit of `column`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LearnReport {
    /// "kerfwise/learn/1".
    pub schema: String,
    /// The readings.
    pub column: Column,
    /// What was read.
    #[serde(default)]
    pub of: LogKind,
    /// How sure the intervals are.
    pub confidence: f64,
    /// How many set-ups.
    pub set_ups: u64,
    /// How many pieces.
    pub pieces: u64,
    /// How the variances were estimated: "analysis of variance" or "restricted likelihood".
    pub estimator: String,
    /// Mean of the set-ups.
    pub mean: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Where the true mean lies.
    pub mean_interval: (f64, f64),
    /// Standard deviations: set-up, piece, and reading again if pieces were read again.
    pub spreads: Vec<SpreadRow>,
    /// How many set-ups would know their standard deviation to within half of itself; `null` where that cannot be told.
    pub set_ups_for_half: Option<u64>,
    /// Achieved less predicted, if a prediction was given.
    pub bias: Option<BiasReport>,
    /// Which of a plan's sources the log tells apart, if a plan was given.
    pub groups: Option<GroupsReport>,
    /// The sources that the log becomes, all measured.
    pub sources: Vec<Input>,
    /// The same as text for a plan file.
    pub plan_text: String,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// What a log of set-ups holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum LogKind {
    /// Thickness of tenons.
    #[default]
    Tenon,
    /// Width of mortises.
    Mortise,
    /// Fit deviations: positive is tight.
    Fit,
}

impl LogKind {
    /// What is read in words; what more and what less of it is called.
    fn words(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Tenon => ("Tenons", "thicker", "thinner"),
            Self::Mortise => ("Mortises", "wider", "narrower"),
            Self::Fit => ("Joints", "tighter", "looser"),
        }
    }

    /// What takes away as much as came out too large, or too small.
    fn remedy(self, is_too_large: bool, by: &str) -> String {
        // Thickness is travel less kerf: a dial that is set further leaves a thicker tenon.
        let dial = |further: bool| {
            let how = if further { "further" } else { "less far" };
            format!(
                "set the dial {by} {how} (where the jig is moved over; half of that where the work is turned over)"
            )
        };
        match self {
            Self::Tenon | Self::Fit => dial(!is_too_large),
            Self::Mortise if is_too_large => {
                format!("make the mortises {by} narrower, or the tenons as much thicker")
            }
            Self::Mortise => format!("make the mortises {by} wider, or the tenons as much thinner"),
        }
    }
}

/// Is the arithmetic of the setting right for this saw?
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BiasReport {
    /// What every set-up was to give.
    pub predicted: f64,
    /// Mean of achieved less predicted.
    pub mean: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Where the true bias lies.
    pub interval: (f64, f64),
    /// How often set-ups without a bias would be off as far.
    pub p_value: f64,
    /// Whether the interval leaves out 0.
    pub is_steady: bool,
    /// Spread of the set-ups over the one predicted, if one was.
    pub spread_ratio: Option<Estimated>,
}

/// Which sources of a plan a log tells apart.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct GroupsReport {
    /// The plan file.
    pub plan: String,
    /// One spread for all of these: redrawn with the set-up.
    pub set_up: Vec<String>,
    /// One spread for all of these: redrawn with the piece.
    pub piece: Vec<String>,
    /// The same all over the log.
    pub unseen: Vec<String>,
    /// Which measurement would tell more.
    pub advice: Vec<String>,
}

impl LearnReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/learn/1";

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the spreads, what the log does not tell, the bias, the sources for a plan, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.column.heading(style);
        let counts = format!(
            "{} set-ups, {} pieces; by {}.",
            self.set_ups, self.pieces, self.estimator
        );
        text.push_str(&wrap(&counts, "", style.width));
        let say = |text: &mut String, words: &str| {
            text.push('\n');
            text.push_str(&wrap(words, "", style.width));
        };
        say(&mut text, &self.sentence(style));
        text.push('\n');
        text.push_str(
            &self
                .column
                .spread_table("from one", &self.spreads, self.confidence, style),
        );
        say(&mut text, &self.more_set_ups());
        if let Some(bias) = &self.bias {
            say(&mut text, &self.bias_in_words(bias, style));
        }
        match &self.groups {
            Some(groups) => text.push_str(&groups.words(style)),
            None => say(
                &mut text,
                "A log tells groups of sources apart, not sources: all that is redrawn with the set-up is one spread, all that is \
                 redrawn with the piece another. With --plan it says which sources those are, and which measurement would tell \
                 more.",
            ),
        }
        text.push_str("\nFor a plan file (docs/plan-file.md):\n\n");
        for line in self.plan_text.lines() {
            text.push_str(format!("  {line}").trim_end());
            text.push('\n');
        }
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    fn sentence(&self, style: &Style) -> String {
        format!(
            "The mean of the set-ups is {}; the true one lies within {} ({} sure).",
            self.column.mean(self.mean, self.mean_interval, style),
            self.column.values(self.mean_interval, style),
            sure(self.confidence)
        )
    }

    fn more_set_ups(&self) -> String {
        match self.set_ups_for_half {
            Some(wanted) if wanted > self.set_ups => format!(
                "{} more set-ups ({wanted} in all) would know the spread between set-ups to within half of itself; more pieces in \
                 each hardly help.",
                wanted - self.set_ups
            ),
            Some(_) => "The spread between set-ups is known to within half of itself.".to_owned(),
            None => {
                "No spread between set-ups shows beside that of the pieces, so there is no telling how many more would sharpen it."
                    .to_owned()
            }
        }
    }

    fn bias_in_words(&self, bias: &BiasReport, style: &Style) -> String {
        let column = &self.column;
        let (what, more, less) = self.of.words();
        let is_too_large = bias.mean > 0.0;
        let by = column.spread(bias.mean.abs(), style);
        let off = format!(
            "{what} come out {by} {} than the predicted {} on average (achieved less predicted {} to {}, {})",
            if is_too_large { more } else { less },
            column.value(bias.predicted, style),
            column.spread(bias.interval.0, style),
            column.spread(bias.interval.1, style),
            p_value(bias.p_value)
        );
        let verdict = if bias.is_steady {
            format!(
                "a steady error. Find what the plan leaves out, or {}",
                self.of.remedy(is_too_large, &by)
            )
        } else {
            "no steady error shows, so leave the setting alone".to_owned()
        };
        let mut words = format!("{off}: {verdict}.");
        if let Some(ratio) = &bias.spread_ratio {
            words.push_str(&format!(
                " Their spread is {} times the predicted one.",
                ratio.words(two_decimals)
            ));
        }
        words
    }
}

impl GroupsReport {
    fn words(&self, style: &Style) -> String {
        let list = |names: &[String]| {
            if names.is_empty() {
                "none".to_owned()
            } else {
                names.join(", ")
            }
        };
        let mut text = String::from("\n");
        let title = format!("Which sources of {} are in which spread:", self.plan);
        text.push_str(&wrap(&title, "", style.width));
        let rows = [
            ("set-up", &self.set_up),
            ("piece", &self.piece),
            ("in neither (they only move the mean)", &self.unseen),
        ];
        for (name, names) in rows {
            let line = format!("{name}: {}", list(names));
            text.push_str(&wrap(&line, "  - ", style.width));
        }
        text.push_str("\nWhat would tell more:\n");
        for advice in &self.advice {
            text.push_str(&wrap(advice, "  - ", style.width));
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> LearnReport {
        LearnReport {
            schema: LearnReport::SCHEMA.into(),
            column: Column::new("log.csv", "tenon (in)", "in", 12),
            of: LogKind::Tenon,
            confidence: 0.95,
            set_ups: 3,
            pieces: 6,
            estimator: "analysis of variance".into(),
            mean: 0.3751,
            standard_error: 0.0006,
            mean_interval: (0.3725, 0.3777),
            spreads: vec![SpreadRow {
                name: "set-up to the next".into(),
                sd: 0.001,
                interval: (0.0005, 0.006),
                degrees_of_freedom: 2.0,
            }],
            set_ups_for_half: Some(18),
            bias: Some(BiasReport {
                predicted: 0.375,
                mean: 0.003,
                standard_error: 0.0006,
                interval: (0.0004, 0.0056),
                p_value: 0.04,
                is_steady: true,
                spread_ratio: Some(Estimated::new(1.2, (0.6, 7.0))),
            }),
            groups: Some(GroupsReport {
                plan: "plan.toml".into(),
                set_up: vec!["travel".into()],
                piece: vec![],
                unseen: vec!["kerf".into()],
                advice: vec!["a log over several of \"blade\" would show \"kerf\"".into()],
            }),
            sources: vec![],
            plan_text: "[source.tenon.mean]\n".into(),
            cautions: crate::cautions::all(),
        }
    }

    #[test]
    fn what_is_known_and_what_is_not_is_told() {
        let text = report().to_text(&Style::default());
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "15 more set-ups (18 in all)",
            "Tenons come out 3.0 thou thicker than the predicted 0.375 in",
            "a steady error",
            "1.20 (0.60 to 7.00) times the predicted",
            "set-up: travel - piece: none",
            "would show \"kerf\"",
            "[source.tenon.mean]",
            "test cut on scrap",
        ] {
            assert!(text.contains(words), "no \"{words}\" in {text}");
        }
    }

    // A thin tenon wants the dial further, since thickness is travel less kerf; a loose joint wants a thicker tenon.
    #[test]
    fn each_kind_of_log_says_which_way_to_set() {
        for (of, mean, words) in [
            (
                LogKind::Tenon,
                -0.0099,
                ["9.9 thou thinner than", "set the dial 9.9 thou further"],
            ),
            (
                LogKind::Tenon,
                0.003,
                ["3.0 thou thicker than", "set the dial 3.0 thou less far"],
            ),
            (
                LogKind::Mortise,
                -0.003,
                ["3.0 thou narrower than", "tenons as much thinner"],
            ),
            (
                LogKind::Mortise,
                0.003,
                ["3.0 thou wider than", "tenons as much thicker"],
            ),
            (
                LogKind::Fit,
                -0.003,
                ["3.0 thou looser than", "set the dial 3.0 thou further"],
            ),
            (
                LogKind::Fit,
                0.003,
                ["3.0 thou tighter than", "set the dial 3.0 thou less far"],
            ),
        ] {
            let mut learnt = report();
            learnt.of = of;
            learnt.bias.as_mut().unwrap().mean = mean;
            let text = learnt.to_text(&Style::default());
            let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
            for part in words {
                assert!(text.contains(part), "no \"{part}\" in {text}");
            }
        }
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report();
        let read: LearnReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
