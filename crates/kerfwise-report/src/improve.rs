use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, wrap};
use crate::{Style, ThreeChances, cautions, number};
use kerfwise_decide::{Cheapest, Offer, SobolIndex, SobolIndices, SourceWorth};
use kerfwise_stack::{Bounded, Chance};
use serde::{Deserialize, Serialize};

/// What each error costs in chance, and what would give a wanted chance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ImproveReport {
    /// "kerfwise/improve/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// The outcome.
    pub outcome: String,
    /// Pieces of the batch, if the plan tells.
    pub pieces: Option<u32>,
    /// The chance as it is.
    pub now: ThreeChances,
    /// Each source, the one first whose removal buys most.
    pub rows: Vec<ImproveRow>,
    /// What was asked for a wanted chance.
    pub aim: Option<AimReport>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// What one source costs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ImproveRow {
    /// The source; sources `NAME.first` and `NAME.second` are one error, `NAME`.
    pub name: String,
    /// The chance to fit if its errors were half as large.
    pub halved: f64,
    /// The chance to fit if it were known exactly.
    pub removed: f64,
    /// How many times as large its errors may be for the wanted chance; `null` where none was asked for, or where it does
    /// not matter how large it is (`is_free`), or where not even its removal is enough.
    pub may_be: Option<f64>,
    /// Whether it does not matter for the wanted chance how large it is.
    pub is_free: bool,
    /// How many times as large it may be where the wanted chance is shared out to all errors; `null` where that was not
    /// asked for.
    pub share: Option<f64>,
    /// Shares in the variance, where the outcome is not affine; absent else.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub indices: Option<IndexRow>,
}

/// Sobol indices of an error (of one that comes with both cuts: the sums of both).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct IndexRow {
    /// The share of the variance that goes when it alone becomes known.
    pub first: f64,
    /// Standard error of that.
    pub first_error: f64,
    /// The share that stays when all others become known.
    pub total: f64,
    /// Standard error of that.
    pub total_error: f64,
}

impl IndexRow {
    /// Of the draws of an error.
    #[must_use]
    pub fn of(worth: &SourceWorth, indices: &SobolIndices) -> Self {
        let is_of = |index: &&SobolIndex| worth.sources.iter().any(|s| s.is_same(&index.source));
        let sum = |part: fn(&SobolIndex) -> f64| -> f64 {
            indices.sources.iter().filter(is_of).map(part).sum()
        };
        Self {
            first: sum(|i| i.first),
            first_error: sum(|i| i.first_error * i.first_error).sqrt(),
            total: sum(|i| i.total),
            total_error: sum(|i| i.total_error * i.total_error).sqrt(),
        }
    }
}

/// What gives a wanted chance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct AimReport {
    /// The wanted chance.
    pub wanted: f64,
    /// How many times as large all errors together may be; `null` where not even none at all is enough.
    pub all_may_be: Option<f64>,
    /// The offers that were considered.
    pub offers: Vec<OfferReport>,
    /// The chance with the cheapest offers that give the wanted one; `null` where there are no offers, or not enough.
    pub cheapest: Option<f64>,
}

/// An offer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OfferReport {
    /// The source that it makes better.
    pub source: String,
    /// What becomes of its errors.
    pub factor: f64,
    /// What it costs.
    pub price: f64,
    /// Whether it is among the cheapest that give the wanted chance.
    pub is_taken: bool,
}

impl AimReport {
    /// From answers for a wanted chance.
    #[must_use]
    pub fn new(
        wanted: f64,
        all_may_be: Option<f64>,
        offers: &[Offer],
        cheapest: Option<&Cheapest>,
    ) -> Self {
        let is_taken = |i: usize| cheapest.is_some_and(|c| c.offers.contains(&i));
        let offers = offers.iter().enumerate().map(|(i, offer)| OfferReport {
            source: offer.source.clone(),
            factor: offer.factor,
            price: offer.price,
            is_taken: is_taken(i),
        });
        Self {
            wanted,
            all_may_be: all_may_be.filter(|f| f.is_finite()),
            offers: offers.collect(),
            cheapest: cheapest.map(|c| c.chance.value.inside),
        }
    }
}

impl ImproveRow {
    /// From what a source costs, and its largest factor if one was asked for.
    #[must_use]
    pub fn new(worth: &SourceWorth, largest: Option<f64>, share: Option<f64>) -> Self {
        Self {
            name: worth.name.clone(),
            halved: worth.halved.value.inside,
            removed: worth.removed.value.inside,
            may_be: largest.filter(|f| f.is_finite()),
            is_free: largest.is_some_and(f64::is_infinite),
            share: share.filter(|f| f.is_finite()),
            indices: None,
        }
    }
}

impl ImproveReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/improve/1";

    /// From answers.
    #[must_use]
    pub fn new(
        subject: &Subject,
        outcome: &str,
        pieces: Option<u32>,
        now: Bounded<Chance>,
        rows: Vec<ImproveRow>,
        aim: Option<AimReport>,
        inputs: Vec<Input>,
    ) -> Self {
        Self {
            schema: Self::SCHEMA.into(),
            subject: subject.clone(),
            outcome: outcome.to_owned(),
            pieces,
            now: ThreeChances {
                below: now.value.below,
                inside: now.value.inside,
                above: now.value.above,
                error: Some(now.error),
            },
            rows,
            aim,
            inputs,
            cautions: cautions::all(),
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, the table, the aim, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        text.push('\n');
        text.push_str(&wrap(&self.answer(), "", style.width));
        text.push('\n');
        text.push_str(&self.rows().to_text(style.width));
        if self.is_sampled() {
            let words = format!(
                "The outcome is not affine, so all is by sampling: chances are good to {:.2} in a hundred (standard error), shares \
                 of the variance (Sobol indices) to what is said.",
                100.0 * self.now.error.unwrap_or(0.0)
            );
            text.push_str(&wrap(&words, "  ", style.width));
        }
        if self.rows.iter().any(|row| row.share.is_some()) {
            let words = "shared out: how large each error may be when all are brought together to the wanted chance, each with \
                         its part of the spread (equal, or by the weights that were given).";
            text.push_str(&wrap(words, "  ", style.width));
        }
        for paragraph in self.aim.iter().flat_map(AimReport::in_words) {
            text.push('\n');
            text.push_str(&wrap(&paragraph, "", style.width));
        }
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions_in_short(&self.cautions, style));
        text
    }

    fn is_sampled(&self) -> bool {
        self.rows.iter().any(|row| row.indices.is_some())
    }

    pub(crate) fn answer(&self) -> String {
        let now = self.now.inside;
        let mut words = format!(
            "As it is, {} lies inside its band with a chance of {}.",
            self.outcome,
            number::percent(now)
        );
        let Some(most) = self.rows.first().filter(|row| row.removed > now) else {
            words.push_str(" No single error, taken away, would make that better.");
            return words;
        };
        words.push_str(&format!(
            " The error to work on is {}: half as large, it would be {}; known exactly, {}{}.",
            most.name,
            number::percent(most.halved),
            number::percent(most.removed),
            self.pieces.map_or_else(String::new, |n| format!(
                " ({:.1} more joints in the batch of {n})",
                f64::from(n) * (most.removed - now)
            )),
        ));
        words
    }

    pub(crate) fn rows(&self) -> Grid {
        let may_be = self.aim.as_ref().map_or_else(String::new, |aim| {
            format!("may be, for {}", number::percent(aim.wanted))
        });
        let is_shared = self.rows.iter().any(|row| row.share.is_some());
        let header = [
            ("source", Align::Left),
            ("half as large", Align::Right),
            ("known exactly", Align::Right),
            (may_be.as_str(), Align::Right),
            ("shared out", Align::Right),
            ("share alone", Align::Right),
            ("with others", Align::Right),
            ("", Align::Left),
        ];
        // Columns that nobody asked for are not there.
        let is_sampled = self.is_sampled();
        let is_there = [
            true, true, true, true, is_shared, is_sampled, is_sampled, true,
        ];
        let header = there(header.to_vec(), &is_there);
        let gain = |row: &ImproveRow| (row.removed - self.now.inside).max(0.0);
        let most = self.rows.iter().map(gain).fold(0.0, f64::max);
        let rows = self.rows.iter().map(|row| {
            let bar = if most > 0.0 { gain(row) / most } else { 0.0 };
            let cells = vec![
                row.name.clone(),
                number::percent(row.halved),
                number::percent(row.removed),
                match (&self.aim, row.is_free, row.may_be) {
                    (None, _, _) => String::new(),
                    (Some(_), true, _) => "any".to_owned(),
                    (Some(_), _, Some(factor)) => format!("× {factor:.2}"),
                    (Some(_), _, None) => "not enough".to_owned(),
                },
                row.share
                    .map_or_else(String::new, |factor| format!("× {factor:.2}")),
                share_of(row.indices.map(|i| (i.first, i.first_error))),
                share_of(row.indices.map(|i| (i.total, i.total_error))),
                "█".repeat((bar * 20.0).round() as usize),
            ];
            there(cells, &is_there)
        });
        Grid::new(&header, rows)
    }
}

/// The cells of the columns that are there.
fn there<T>(cells: Vec<T>, is_there: &[bool]) -> Vec<T> {
    let pairs = cells.into_iter().zip(is_there);
    pairs.filter(|(_, is)| **is).map(|(cell, _)| cell).collect()
}

/// A share with its standard error, in a hundred.
fn share_of(share: Option<(f64, f64)>) -> String {
    share.map_or_else(String::new, |(share, error)| {
        format!("{:.1} ± {:.1} %", 100.0 * share, 100.0 * error)
    })
}

impl AimReport {
    fn in_words(&self) -> Vec<String> {
        let wanted = number::percent(self.wanted);
        let mut paragraphs = vec![match self.all_may_be {
            Some(factor) if factor < 1.0 => format!(
                "For {wanted} all errors together would have to be {factor:.2} of what they are."
            ),
            Some(factor) => format!(
                "{wanted} is reached; all errors together might be {factor:.2} times as large."
            ),
            None => format!(
                "{wanted} cannot be reached by smaller errors: the outcome lies outside of its band in the middle. Set it \
                 right first (`kerfwise setting`)."
            ),
        }];
        if self.offers.is_empty() {
            return paragraphs;
        }
        let taken: Vec<&OfferReport> = self.offers.iter().filter(|o| o.is_taken).collect();
        paragraphs.push(match (self.cheapest, taken.as_slice()) {
            (None, _) => format!("All these offers together do not give {wanted}."),
            (Some(_), []) => format!("No offer is needed for {wanted}."),
            (Some(chance), taken) => {
                let names: Vec<String> = taken
                    .iter()
                    .map(|o| format!("{} × {} for {}", o.source, o.factor, o.price))
                    .collect();
                let price: f64 = taken.iter().map(|o| o.price).sum();
                format!(
                    "The cheapest way to {wanted}: {}; together {price}, and it comes to {}.",
                    names.join(", "),
                    number::percent(chance)
                )
            }
        });
        paragraphs
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(aim: Option<AimReport>) -> ImproveReport {
        let row = |name: &str, halved, removed, may_be| ImproveRow {
            name: name.into(),
            halved,
            removed,
            may_be,
            is_free: false,
            share: None,
            indices: None,
        };
        let now = Bounded {
            value: Chance {
                below: 0.05,
                inside: 0.9,
                above: 0.05,
            },
            error: 1e-14,
        };
        ImproveReport::new(
            &Subject::titled("a test"),
            "fit",
            Some(20),
            now,
            vec![
                row("lock", 0.94, 0.95, Some(0.5)),
                row("kerf", 0.905, 0.91, None),
            ],
            aim,
            Vec::new(),
        )
    }

    fn words(report: &ImproveReport) -> String {
        let text = report.to_text(&Style::default());
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    fn aim(cheapest: Option<f64>, is_taken: bool) -> AimReport {
        AimReport {
            wanted: 0.94,
            all_may_be: Some(0.8),
            offers: vec![OfferReport {
                source: "lock".into(),
                factor: 0.5,
                price: 12.0,
                is_taken,
            }],
            cheapest,
        }
    }

    #[test]
    fn names_the_error_to_work_on() {
        let text = words(&report(None));
        // Five in a hundred of 20.
        assert!(
            text.contains("work on is lock: half as large, it would be 94.00 %; known exactly, 95.00 % (1.0 more joints"),
            "{text}"
        );
        assert!(text.contains("kerf 90.50 % 91.00 %"), "{text}");
        assert!(text.contains("test cut on scrap"), "{text}");
    }

    #[test]
    fn says_what_gives_the_wanted_chance() {
        let text = words(&report(Some(aim(Some(0.941), true))));
        assert!(text.contains("0.80 of what they are"), "{text}");
        assert!(text.contains("lock 94.00 % 95.00 % × 0.50"), "{text}");
        assert!(text.contains("not enough"), "{text}");
        assert!(
            text.contains("lock × 0.5 for 12; together 12, and it comes to 94.10 %"),
            "{text}"
        );
        assert!(words(&report(Some(aim(None, false)))).contains("do not give"));
        assert!(words(&report(Some(aim(Some(0.95), false)))).contains("No offer is needed"));
    }

    #[test]
    fn reads_back_what_it_writes() {
        let written = report(Some(aim(Some(0.941), true)));
        let read: ImproveReport = serde_json::from_str(&written.to_json()).unwrap();
        assert_eq!(read, written);
    }
}
