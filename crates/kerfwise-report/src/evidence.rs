//! What the reports on readings have in common.

use crate::table::{Align, table, wrap};
use crate::{Style, Unit, number};
use serde::{Deserialize, Serialize};

/// The column of readings that a report is about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Column {
    /// The file.
    pub file: String,
    /// The name of the column, with its unit.
    pub name: String,
    /// The raw unit in which the report holds its numbers: "in", "rad", "%MC", "" for a pure number.
    pub unit: String,
    /// How many readings.
    pub count: u64,
    /// Version of the program.
    pub version: String,
}

impl Column {
    /// A column, with this version of the program.
    #[must_use]
    pub fn new(file: &str, name: &str, unit: &str, count: u64) -> Self {
        Self {
            file: file.to_owned(),
            name: name.to_owned(),
            unit: unit.to_owned(),
            count,
            version: env!("CARGO_PKG_VERSION").to_owned(),
        }
    }

    /// The unit of length that the file was written in, inches where it holds no lengths.
    #[must_use]
    pub fn written_in(&self) -> Unit {
        let unit = self
            .name
            .rsplit_once('(')
            .map_or("", |(_, unit)| unit.trim_end_matches(')').trim());
        if self.unit == "in" && unit.ends_with('m') {
            Unit::Millimetre
        } else {
            Unit::Inch
        }
    }

    pub(crate) fn heading(&self, style: &Style) -> String {
        let words = format!(
            "{}, {}: {} readings",
            self.file,
            self.name,
            number::count(self.count)
        );
        wrap(&words, "", style.width)
    }

    /// A reading.
    pub(crate) fn value(&self, x: f64, style: &Style) -> String {
        number::raw(x, &self.unit, style.unit)
    }

    /// A spread, a step or a change, without a plus sign.
    pub(crate) fn spread(&self, x: f64, style: &Style) -> String {
        if self.unit == "in" {
            return number::spread(x, style.unit);
        }
        format!("{} {}", number::two_digits(x), self.unit)
            .trim_end()
            .replace('-', "−")
    }

    /// Spreads below each other, `first` above their names.
    pub(crate) fn spread_table(
        &self,
        first: &str,
        spreads: &[SpreadRow],
        confidence: f64,
        style: &Style,
    ) -> String {
        let header = [
            (first, Align::Left),
            ("standard deviation", Align::Right),
            (&*sure(confidence), Align::Left),
            ("degrees of freedom", Align::Right),
        ];
        let rows = spreads.iter().map(|row| {
            vec![
                row.name.clone(),
                self.spread(row.sd, style),
                self.spreads(row.interval, style),
                number::degrees_of_freedom(row.degrees_of_freedom),
            ]
        });
        table(style.width, &header, rows)
    }

    /// Both ends of an interval of a spread, in digits that tell them apart.
    pub(crate) fn spreads(&self, (lower, upper): (f64, f64), style: &Style) -> String {
        let end = |x: f64| {
            // A width of a tenth of the end or less is lost in the end's own two digits.
            if upper - lower < 0.1 * upper {
                number::spread_within(x, upper - lower, &self.unit, style.unit)
            } else {
                self.spread(x, style)
            }
        };
        number::to(&end(lower), &end(upper))
    }

    /// Both ends of an interval, in digits that tell them apart.
    pub(crate) fn values(&self, (lower, upper): (f64, f64), style: &Style) -> String {
        let end = |x| number::raw_within(x, upper - lower, &self.unit, style.unit);
        number::to(&end(lower), &end(upper))
    }

    /// A mean of many readings, in digits that its interval makes worth while.
    pub(crate) fn mean(&self, x: f64, (lower, upper): (f64, f64), style: &Style) -> String {
        number::raw_within(x, upper - lower, &self.unit, style.unit)
    }
}

/// A number with its confidence interval; `null` where it is unlimited.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Estimated {
    /// The estimate.
    pub value: Option<f64>,
    /// Where the true value lies.
    pub interval: (Option<f64>, Option<f64>),
}

impl Estimated {
    /// An estimate and both ends; what is infinite becomes `None`.
    #[must_use]
    pub fn new(value: f64, (lower, upper): (f64, f64)) -> Self {
        let finite = |x: f64| x.is_finite().then_some(x);
        Self {
            value: finite(value),
            interval: (finite(lower), finite(upper)),
        }
    }

    /// All three through a format.
    pub(crate) fn words(&self, format: impl Fn(f64) -> String) -> String {
        let word = |x: Option<f64>| x.map_or_else(|| "∞".to_owned(), &format);
        format!(
            "{} ({} to {})",
            word(self.value),
            word(self.interval.0),
            word(self.interval.1)
        )
    }
}

/// A standard deviation with its confidence interval.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SpreadRow {
    /// Of what.
    pub name: String,
    /// Standard deviation.
    pub sd: f64,
    /// Where the true one lies.
    pub interval: (f64, f64),
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
}

/// "95 %".
pub(crate) fn sure(confidence: f64) -> String {
    format!("{} %", (1e6 * confidence).round() / 1e4)
}

pub(crate) fn two_decimals(x: f64) -> String {
    format!("{x:.2}").replace('-', "−")
}

/// A p-value as it is read: not more digits than it is worth.
pub(crate) fn p_value(p: f64) -> String {
    if p < 1e-4 {
        "p < 0.0001".to_owned()
    } else if p < 0.1 {
        format!("p = {p:.4}")
    } else {
        format!("p = {p:.2}")
    }
}
