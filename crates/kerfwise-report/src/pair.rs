use crate::table::{Align, table, wrap};
use crate::{Style, cautions, input, number};
use kerfwise_decide::{Pair, Pairing};
use serde::{Deserialize, Serialize};

/// Which measured tenon goes into which mortise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PairReport {
    /// "kerfwise/pair/1".
    pub schema: String,
    /// The wanted clearance, mortise less tenon, in inches.
    pub wanted_in: f64,
    /// The clearances with which a pair fits, in inches.
    pub between_in: (f64, f64),
    /// Pairs that fit, in the order of the tenons.
    pub fits: Vec<PairRow>,
    /// Root mean square of their deviations from the wanted clearance, in inches.
    pub rms_deviation_in: f64,
    /// How many would fit if both were taken in the order of their lists.
    pub fits_as_listed: usize,
    /// Pairs made of what is left, to be reworked.
    pub rework: Vec<PairRow>,
    /// Tenons without a mortise: numbers in the list, from 1.
    pub spare_tenons: Vec<usize>,
    /// Mortises without a tenon.
    pub spare_mortises: Vec<usize>,
    /// What is odd about the lists, such as that they look swapped.
    #[serde(default)]
    pub note: Option<String>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// A tenon and a mortise: numbers in the lists, from 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct PairRow {
    /// The tenon.
    pub tenon: usize,
    /// The mortise.
    pub mortise: usize,
    /// Mortise less tenon, in inches.
    pub clearance_in: f64,
}

impl PairReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/pair/1";

    /// From the best matching; clearances in inches.
    #[must_use]
    pub fn new(
        wanted_in: f64,
        between_in: (f64, f64),
        fits_as_listed: usize,
        pairing: &Pairing,
    ) -> Self {
        let rows = |pairs: &[Pair]| pairs.iter().map(PairRow::from).collect();
        let numbers = |places: &[usize]| places.iter().map(|place| place + 1).collect();
        Self {
            schema: Self::SCHEMA.into(),
            wanted_in,
            between_in,
            fits: rows(&pairing.fits),
            rms_deviation_in: pairing.rms_deviation.to_inches(),
            fits_as_listed,
            rework: rows(&pairing.rework),
            spare_tenons: numbers(&pairing.spare_tenons),
            spare_mortises: numbers(&pairing.spare_mortises),
            note: None,
            cautions: cautions::all(),
        }
    }

    /// With a word on what is odd about the lists.
    #[must_use]
    pub fn noted(mut self, note: Option<String>) -> Self {
        self.note = note;
        self
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, the pairs, what is to be reworked, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = String::new();
        if let Some(note) = &self.note {
            text.push_str(&wrap(note, "", style.width));
            text.push('\n');
        }
        text.push_str(&wrap(&self.answer(style), "", style.width));
        text.push('\n');
        text.push_str(&self.table(style));
        for paragraph in self.left() {
            text.push('\n');
            text.push_str(&wrap(&paragraph, "", style.width));
        }
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    fn answer(&self, style: &Style) -> String {
        let pairs = self.fits.len() + self.rework.len();
        let length = |x: f64| number::deviation(x, style.unit);
        // 5 thou to either side of a wanted 2 reach below nought.
        let binds = if self.between_in.0 < 0.0 {
            " At the tight end that binds: a clearance below 0 needs the wood to give; --least asks for more."
        } else {
            ""
        };
        format!(
            "{} of {pairs} pairs fit, {} off the wanted clearance of {} (root mean square); taken as they are listed, {} \
             would. A pair fits with a clearance from {} to {}.{binds}",
            self.fits.len(),
            length(self.rms_deviation_in),
            length(self.wanted_in),
            self.fits_as_listed,
            length(self.between_in.0),
            length(self.between_in.1),
        )
    }

    fn table(&self, style: &Style) -> String {
        let header = [
            ("tenon", Align::Right),
            ("mortise", Align::Right),
            ("clearance", Align::Right),
            ("", Align::Left),
        ];
        let fits = self.fits.iter().map(|row| (row, String::new()));
        let rework = self.rework.iter().map(|row| {
            let off = row.clearance_in - self.wanted_in;
            let by = number::deviation(off.abs(), style.unit);
            let what = if off < 0.0 { "plane off" } else { "shim by" };
            (row, format!("{what} {by}"))
        });
        let rows = fits.chain(rework).map(|(row, what)| {
            vec![
                row.tenon.to_string(),
                row.mortise.to_string(),
                number::deviation(row.clearance_in, style.unit),
                what,
            ]
        });
        table(style.width, &header, rows)
    }

    fn left(&self) -> Vec<String> {
        let mut paragraphs = Vec::new();
        if !self.rework.is_empty() {
            paragraphs.push(
                "The pairs to be reworked are those that need the least in all to come to the wanted clearance; plane or shim \
                 the tenon, and try it before it is glued."
                    .to_owned(),
            );
        }
        let list = |numbers: &[usize]| {
            let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
            words.join(", ")
        };
        if !self.spare_tenons.is_empty() {
            paragraphs.push(format!("Left over, tenons: {}.", list(&self.spare_tenons)));
        }
        if !self.spare_mortises.is_empty() {
            paragraphs.push(format!(
                "Without a tenon, mortises: {}.",
                list(&self.spare_mortises)
            ));
        }
        paragraphs
    }
}

impl From<&Pair> for PairRow {
    fn from(pair: &Pair) -> Self {
        Self {
            tenon: pair.tenon + 1,
            mortise: pair.mortise + 1,
            clearance_in: pair.clearance.to_inches(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report() -> PairReport {
        let row = |tenon, mortise, clearance_in| PairRow {
            tenon,
            mortise,
            clearance_in,
        };
        PairReport {
            schema: PairReport::SCHEMA.into(),
            wanted_in: 0.003,
            between_in: (0.001, 0.005),
            fits: vec![row(1, 2, 0.0025), row(2, 1, 0.0035)],
            rms_deviation_in: 0.0005,
            fits_as_listed: 0,
            rework: vec![row(3, 4, 0.0005), row(4, 3, 0.008)],
            spare_tenons: vec![5],
            spare_mortises: Vec::new(),
            note: None,
            cautions: cautions::all(),
        }
    }

    #[test]
    fn says_which_goes_where_and_what_to_do_with_the_rest() {
        let text = report().to_text(&Style::default());
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.starts_with("2 of 4 pairs fit"), "{words}");
        assert!(words.contains("as they are listed, 0 would"), "{words}");
        assert!(words.contains("1 2 2.5 thou 2 1 3.5 thou"), "{words}");
        // 0.5 is 2.5 too tight for 3; 8 is 5 too loose.
        assert!(words.contains("3 4 0.5 thou plane off 2.5 thou"), "{words}");
        assert!(words.contains("4 3 8.0 thou shim by 5.0 thou"), "{words}");
        assert!(words.contains("Left over, tenons: 5."), "{words}");
        assert!(words.contains("test cut on scrap"), "{words}");
    }

    #[test]
    fn a_tight_end_below_nought_is_told_and_so_is_what_is_odd() {
        let text = |report: &PairReport| {
            let text = report.to_text(&Style::default());
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        assert!(!text(&report()).contains("binds"));
        let mut tight = report().noted(Some("Are the files swapped?".into()));
        tight.between_in = (-0.003, 0.007);
        let text = text(&tight);
        assert!(text.starts_with("Are the files swapped?"), "{text}");
        assert!(
            text.contains("a clearance below 0 needs the wood to give"),
            "{text}"
        );
    }

    #[test]
    fn reads_back_what_it_writes() {
        let read: PairReport = serde_json::from_str(&report().to_json()).unwrap();
        assert_eq!(read, report());
    }
}
