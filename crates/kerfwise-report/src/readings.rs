use crate::evidence::{Column, Estimated, p_value, sure, two_decimals};
use crate::table::{Align, table, wrap};
use crate::{Style, Unit, number};
use serde::{Deserialize, Serialize};

/// What a column of readings shows. Numbers are in the unit of `column`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ReadingsReport {
    /// "kerfwise/readings/1".
    pub schema: String,
    /// The readings.
    pub column: Column,
    /// How sure the intervals are.
    pub confidence: f64,
    /// Mean.
    pub mean: f64,
    /// Standard error of the mean.
    pub standard_error: f64,
    /// Where the true mean lies.
    pub mean_interval: (f64, f64),
    /// Standard deviation of one reading.
    pub sd: f64,
    /// Where the true standard deviation lies.
    pub sd_interval: (f64, f64),
    /// Smallest reading.
    pub smallest: f64,
    /// Largest reading.
    pub largest: f64,
    /// What needs all readings at once; `null` where they were too many to be kept.
    pub closer: Option<CloserLook>,
    /// Between which limits a share of all pieces lies; `null` where no limits can be told.
    pub tolerance: Option<ToleranceReport>,
    /// How the readings lie between wanted limits, if such were given.
    pub limits: Option<LimitsReport>,
}

/// Order, shape and strangers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CloserLook {
    /// Middle reading.
    pub median: f64,
    /// A standard deviation that strangers do not spoil.
    pub robust_spread: f64,
    /// How many different readings.
    pub distinct: u64,
    /// Change from one reading to the next; `null` for fewer than three.
    pub drift: Option<DriftReport>,
    /// Correlation of neighbours; `null` where all are equal.
    pub autocorrelation: Option<f64>,
    /// p-value of Anderson and Darling; `null` for fewer than eight.
    pub normal_p_value: Option<f64>,
    /// Readings far from the rest; all of them count.
    pub outliers: Vec<OutlierReport>,
    /// Readings that look mistyped; all of them count.
    #[serde(default)]
    pub slips: Vec<SlipReport>,
}

/// A reading that would be like the others with the decimal point elsewhere, or in the other unit of length.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SlipReport {
    /// Which reading, counted from 1.
    pub reading: u64,
    /// What it says.
    pub value: f64,
    /// How many times the others it is: a power of ten, or 25.4 or its inverse, an inch in millimetres.
    pub times: f64,
    /// What it is likely to have been.
    pub instead: f64,
}

/// A steady change over the order of reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DriftReport {
    /// Per reading.
    pub slope: f64,
    /// Where the true slope lies.
    pub interval: (f64, f64),
    /// How often steady readings would drift as far.
    pub p_value: f64,
}

/// A reading far from the rest.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OutlierReport {
    /// Which reading, counted from 1.
    pub reading: u64,
    /// What it says.
    pub value: f64,
    /// Standard deviations from the mean.
    pub deviate: f64,
    /// What a clean column exceeds with a chance of 5 %.
    pub critical: f64,
}

/// Limits that hold a share of all pieces, if they are normal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ToleranceReport {
    /// The share.
    pub share: f64,
    /// Lower limit.
    pub lower: f64,
    /// Upper limit.
    pub upper: f64,
}

/// How readings lie between wanted limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LimitsReport {
    /// Lower limit.
    pub lower: Option<f64>,
    /// Upper limit.
    pub upper: Option<f64>,
    /// Pp: width over six standard deviations; `null` with one limit.
    pub pp: Option<Estimated>,
    /// Ppk: distance of the mean from the nearer limit over three standard deviations.
    pub ppk: Estimated,
    /// Fraction of all pieces outside, if they are normal.
    pub outside: Estimated,
    /// Fraction outside as counted, with the exact interval, whatever the shape; `null` where too many were read to be kept.
    pub counted_outside: Option<Estimated>,
}

impl ReadingsReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/readings/1";

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the mean and the spread in a sentence, what to look at, the limits.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.column.heading(style);
        let mut say = |words: &str| {
            text.push('\n');
            text.push_str(&wrap(words, "", style.width));
        };
        if self.sd > 0.0 {
            say(&self.sentence(style));
            if let Some(closer) = &self.closer {
                say("What they show beyond that:");
                for line in self.lines(closer, style) {
                    text.push_str(&wrap(&line, "  - ", style.width));
                }
            }
            if let Some(tolerance) = &self.tolerance {
                text.push('\n');
                let words = self.tolerance_in_words(tolerance, style);
                text.push_str(&wrap(&words, "", style.width));
            }
        } else {
            say(&format!(
                "All of them say {}: whatever scatters is smaller than the step in which the gauge reads. Use a finer gauge, or \
                 count the step as an error: half of it either way.",
                self.column.value(self.mean, style)
            ));
        }
        if let Some(limits) = &self.limits {
            text.push('\n');
            text.push_str(&self.rows(limits, style));
            if self.sd > 0.0 {
                text.push_str(&wrap(
                    "Above 1.33 is common practice for a process that can be left alone; below 1 some pieces are outside.",
                    "",
                    style.width,
                ));
            }
        }
        text
    }

    fn sentence(&self, style: &Style) -> String {
        let column = &self.column;
        format!(
            "The mean is {}; the true one lies within {} ({} sure). One reading scatters by a standard deviation of {} ({}). \
             Smallest {}, largest {}.",
            column.mean(self.mean, self.mean_interval, style),
            column.values(self.mean_interval, style),
            sure(self.confidence),
            column.spread(self.sd, style),
            column.spreads(self.sd_interval, style),
            column.value(self.smallest, style),
            column.value(self.largest, style),
        )
    }

    fn lines(&self, closer: &CloserLook, style: &Style) -> Vec<String> {
        let column = &self.column;
        let mut lines = vec![format!(
            "Middle reading {}, and a spread of {} that strangers cannot spoil; {} different readings.",
            column.value(closer.median, style),
            column.spread(closer.robust_spread, style),
            closer.distinct
        )];
        if closer.outliers.is_empty() && closer.slips.is_empty() {
            lines.push("No reading is far from the rest.".to_owned());
        }
        for slip in &closer.slips {
            lines.push(self.slip_in_words(slip, style));
        }
        let is_slip = |reading| closer.slips.iter().any(|slip| slip.reading == reading);
        for outlier in closer
            .outliers
            .iter()
            .filter(|outlier| !is_slip(outlier.reading))
        {
            lines.push(format!(
                "Reading {}, {}, is {} standard deviations from the mean; {} would be chance. It still counts above. Take it out \
                 only if you know what went wrong when it was read.",
                outlier.reading,
                column.value(outlier.value, style),
                two_decimals(outlier.deviate),
                two_decimals(outlier.critical)
            ));
        }
        if let Some(drift) = closer.drift {
            let words = if drift.p_value < 0.05 {
                "They drift: find out what warms up or wears, or measure in another order"
            } else {
                "No drift that shows"
            };
            lines.push(format!(
                "{words}: {} from one to the next ({}; {}).",
                column.spread(drift.slope, style),
                column.spreads(drift.interval, style),
                p_value(drift.p_value)
            ));
        }
        if let Some(r) = closer.autocorrelation {
            let bound = 2.0 / (column.count as f64).sqrt();
            let words = if r.abs() > bound {
                "are alike or opposed more than chance makes them, so the intervals are too narrow"
            } else {
                "look independent"
            };
            lines.push(format!(
                "Neighbours {words}: correlation {}, of independent ones within ±{}.",
                two_decimals(r),
                two_decimals(bound)
            ));
        }
        if let Some(p) = closer.normal_p_value {
            let words = if p < 0.05 {
                "They do not look normal; a gauge with coarse steps alone can do that"
            } else {
                "They may well be normal"
            };
            lines.push(format!("{words} (Anderson and Darling, {}).", p_value(p)));
        }
        lines
    }

    fn slip_in_words(&self, slip: &SlipReport, style: &Style) -> String {
        let column = &self.column;
        let (value, instead) = (
            column.value(slip.value, style),
            column.value(slip.instead, style),
        );
        // An inch in millimetres is the only factor that is no power of ten.
        let is_other_unit = ((slip.times - 25.4).abs() < 1e-9
            || (slip.times * 25.4 - 1.0).abs() < 1e-9)
            && column.unit == "in";
        let what = if is_other_unit {
            // As the file has it: inches, or millimetres whose raw value is in inches.
            let (typed, unit) = match column.written_in() {
                Unit::Inch => (slip.value, "mm"),
                Unit::Millimetre => (25.4 * slip.value, "in"),
            };
            let typed = (1e6 * typed).round() / 1e6;
            format!("was it {typed} {unit}, which is {instead}?")
        } else {
            format!("was it {instead}?")
        };
        let times = match slip.times {
            x if x > 999.0 => "a thousand times the others".to_owned(),
            x if x > 99.0 => "a hundred times the others".to_owned(),
            x if x > 25.0 => "25.4 times the others".to_owned(),
            x if x > 1.0 => "ten times the others".to_owned(),
            x if x > 0.09 => "a tenth of the others".to_owned(),
            x if x > 0.03 => "the others over 25.4".to_owned(),
            x if x > 0.009 => "a hundredth of the others".to_owned(),
            _ => "a thousandth of the others".to_owned(),
        };
        format!(
            "Reading {}, {value}, is {times}: {what} Mend it in the file, or take it out. While it counts, mean, spread and their \
             intervals are worth nothing.",
            slip.reading
        )
    }

    fn tolerance_in_words(&self, tolerance: &ToleranceReport, style: &Style) -> String {
        let closer = self.closer.as_ref();
        let slip = closer.and_then(|closer| closer.slips.first());
        let outlier = closer.and_then(|closer| closer.outliers.first());
        if let Some(slip) = slip {
            return format!(
                "Between which limits pieces to come will lie is not told while reading {} counts: limits with it would be worth \
                 nothing.",
                slip.reading
            );
        }
        let doubt = outlier.map_or_else(String::new, |outlier| {
            format!(
                " While reading {} counts, these limits are worth little: they take it for one of many like it.",
                outlier.reading
            )
        });
        format!(
            "If pieces are normal, at least {} of all that are made like these lie within {} ({} sure).{doubt}",
            sure(tolerance.share),
            self.column
                .values((tolerance.lower, tolerance.upper), style),
            sure(self.confidence)
        )
    }

    fn rows(&self, limits: &LimitsReport, style: &Style) -> String {
        let limit = |x: Option<f64>| x.map(|x| self.column.value(x, style));
        let wanted = match (limit(limits.lower), limit(limits.upper)) {
            (Some(lower), Some(upper)) => format!("from {lower} to {upper}"),
            (Some(lower), None) => format!("from {lower} on"),
            (None, Some(upper)) => format!("up to {upper}"),
            (None, None) => String::new(),
        };
        let mut rows = Vec::new();
        let mut row = |name: &str, words: String| rows.push(vec![name.to_owned(), words]);
        // Readings without spread tell nothing of indices and shapes.
        let has_spread = self.sd > 0.0;
        if let Some(pp) = limits.pp.filter(|_| has_spread) {
            row("Pp, band over 6 s", pp.words(two_decimals));
        }
        if has_spread {
            row("Ppk, nearer limit over 3 s", limits.ppk.words(two_decimals));
            row("outside, if normal", limits.outside.words(number::percent));
        }
        if let Some(counted) = limits.counted_outside {
            row("outside, as counted", counted.words(number::percent));
        }
        let title = format!("wanted {wanted}");
        table(
            style.width,
            &[(title.as_str(), Align::Left), ("", Align::Left)],
            rows,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> ReadingsReport {
        ReadingsReport {
            schema: ReadingsReport::SCHEMA.into(),
            column: Column::new("r.csv", "kerf (in)", "in", 9),
            confidence: 0.95,
            mean: 0.126,
            standard_error: 0.0002,
            mean_interval: (0.1255, 0.1265),
            sd: 0.0006,
            sd_interval: (0.0004, 0.0011),
            smallest: 0.125,
            largest: 0.129,
            closer: Some(CloserLook {
                median: 0.126,
                robust_spread: 0.0005,
                distinct: 5,
                drift: Some(DriftReport {
                    slope: 0.0002,
                    interval: (0.0001, 0.0003),
                    p_value: 0.003,
                }),
                autocorrelation: Some(0.1),
                normal_p_value: Some(0.01),
                outliers: vec![OutlierReport {
                    reading: 9,
                    value: 0.129,
                    deviate: 2.6,
                    critical: 2.2,
                }],
                slips: Vec::new(),
            }),
            tolerance: None,
            limits: Some(LimitsReport {
                lower: Some(0.124),
                upper: None,
                pp: None,
                ppk: Estimated::new(f64::INFINITY, (1.0, f64::INFINITY)),
                outside: Estimated::new(0.01, (0.0, 0.05)),
                counted_outside: Some(Estimated::new(0.0, (0.0, 0.34))),
            }),
        }
    }

    #[test]
    fn readings_that_are_all_alike_tell_no_spread() {
        let mut alike = report();
        (alike.sd, alike.sd_interval) = (0.0, (0.0, 0.0));
        let text = alike.to_text(&Style::default());
        assert!(text.contains("All of them say 0.126 in"), "{text}");
        assert!(text.contains("outside, as counted"), "{text}");
        assert!(
            !text.contains("Ppk") && !text.contains("true one"),
            "{text}"
        );
    }

    #[test]
    fn strangers_drift_and_shape_are_told() {
        let text = report().to_text(&Style::default());
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "r.csv, kerf (in): 9 readings",
            "Reading 9, 0.129 in, is 2.60 standard deviations",
            "They drift",
            "p = 0.0030",
            "do not look normal",
            "look independent",
            "wanted from 0.124 in on",
            "∞ (1.00 to ∞)",
        ] {
            assert!(text.contains(words), "no \"{words}\" in {text}");
        }
    }

    #[test]
    fn a_slip_is_asked_about_and_its_limits_are_not_told() {
        let words = |report: &ReadingsReport| {
            let text = report.to_text(&Style::default());
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let mut slipped = report();
        slipped.tolerance = Some(ToleranceReport {
            share: 0.95,
            lower: -2.2,
            upper: 2.9,
        });
        assert!(words(&slipped).contains("While reading 9 counts, these limits are worth little"));
        for (value, times, part) in [
            (
                1.27,
                10.0,
                "Reading 9, 1.270 in, is ten times the others: was it 0.127 in?",
            ),
            (
                3.18,
                25.4,
                "is 25.4 times the others: was it 3.18 mm, which is 0.1252 in?",
            ),
            (0.0126, 0.1, "is a tenth of the others: was it 0.126 in?"),
        ] {
            slipped.closer.as_mut().unwrap().slips = vec![SlipReport {
                reading: 9,
                value,
                times,
                instead: value / times,
            }];
            let text = words(&slipped);
            assert!(text.contains(part), "no \"{part}\" in {text}");
            assert!(text.contains("not told while reading 9 counts"), "{text}");
            assert!(
                !text.contains("standard deviations from the mean"),
                "{text}"
            );
        }
        let mut metric = slipped;
        metric.column = Column::new("r.csv", "kerf (mm)", "in", 9);
        metric.closer.as_mut().unwrap().slips[0] = SlipReport {
            reading: 9,
            value: 0.125 / 25.4,
            times: 1.0 / 25.4,
            instead: 0.125,
        };
        let text = words(&metric);
        assert!(text.contains("was it 0.125 in, which is"), "{text}");
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report();
        let read: ReadingsReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
