//! How quantities are written: without loss for reading again, and as fractions for people.

use crate::{Angle, Length, MoistureContent, Quantity};
use std::fmt;

/// The shortest decimal that reads back to the same number, with the raw unit: "0.375 in", "0.00274 /%MC".
///
/// A precision rounds instead: `{:.3}` gives "0.374 in".
impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_number(self.raw(), f)?;
        let unit = self.dimension().raw_unit();
        if unit.is_empty() {
            Ok(())
        } else {
            write!(f, " {unit}")
        }
    }
}

/// In inches, as the shortest decimal that reads back to the same length: "0.3745 in".
///
/// A precision rounds instead: `{:.3}` gives "0.374 in".
impl fmt::Display for Length {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Quantity::from(*self).fmt(f)
    }
}

/// In radians, as the shortest decimal that reads back to the same angle: "0.005 rad".
impl fmt::Display for Angle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Quantity::from(*self).fmt(f)
    }
}

/// "8 %MC".
impl fmt::Display for MoistureContent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        Quantity::from(*self).fmt(f)
    }
}

impl Length {
    /// As a maker reads it off a rule: the nearest whole fraction of an inch, and what is left in
    /// thousandths, rounded to a tenth of one: "3/8 in", "1-1/2 in", "23/64 in + 2 thou".
    ///
    /// The denominator is that of the finest mark of the rule, commonly 64; 0 is taken as 1.
    /// Lengths too large to be on any rule are given as decimals.
    ///
    /// ```
    /// use kerfwise_source::LengthUnits;
    ///
    /// assert_eq!(0.375.inch().display_fraction(64), "3/8 in");
    /// assert_eq!(1.5.inch().display_fraction(64), "1-1/2 in");
    /// assert_eq!(0.361375.inch().display_fraction(64), "23/64 in + 2 thou");
    /// assert_eq!(2.thou().display_fraction(64), "2 thou");
    /// ```
    #[must_use]
    pub fn display_fraction(self, denominator: u32) -> String {
        let denominator = f64::from(denominator.max(1));
        let marks = (self.to_inches().abs() * denominator).round();
        if !marks.is_finite() || marks > 1e9 {
            return self.to_string();
        }
        let rest = self.abs() - Self::from_inches(marks / denominator);
        let tenths = (rest.to_thou() * 10.0).round();
        let on_the_rule = (marks > 0.0).then(|| fraction_of_an_inch(marks, denominator));
        let left_over = (tenths.abs() > 0.0).then(|| format!("{} thou", tenths.abs() / 10.0));
        let (text, is_a_sum) = match (on_the_rule, left_over) {
            (Some(fraction), Some(thou)) => {
                let sign = if tenths < 0.0 { '-' } else { '+' };
                (format!("{fraction} {sign} {thou}"), true)
            }
            (Some(fraction), None) => (fraction, false),
            (None, Some(thou)) => (thou, false),
            (None, None) => return "0 in".to_owned(),
        };
        match (self.to_inches() < 0.0, is_a_sum) {
            (false, _) => text,
            (true, false) => format!("-{text}"),
            (true, true) => format!("-({text})"),
        }
    }
}

/// Whole numbers below 2^53 in, so their remainders are exact.
fn fraction_of_an_inch(marks: f64, denominator: f64) -> String {
    let whole = (marks / denominator).trunc();
    let above = marks % denominator;
    let shared = greatest_common_divisor(above, denominator);
    let (above, below) = (above / shared, denominator / shared);
    match (whole > 0.0, above > 0.0) {
        (true, true) => format!("{whole}-{above}/{below} in"),
        (true, false) => format!("{whole} in"),
        (false, _) => format!("{above}/{below} in"),
    }
}

fn greatest_common_divisor(mut a: f64, mut b: f64) -> f64 {
    while b > 0.0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Plain digits where people would write them, an exponent where there would be a row of zeros.
/// Both forms of `f64` are the shortest that read back to the same number.
fn write_number(x: f64, f: &mut fmt::Formatter<'_>) -> fmt::Result {
    let size = x.abs();
    match f.precision() {
        Some(digits) => write!(f, "{x:.digits$}"),
        None if size > 0.0 && size.is_finite() && !(1e-5..1e16).contains(&size) => {
            write!(f, "{x:e}")
        }
        None => write!(f, "{x}"),
    }
}

/// A quantity in an error message: small lengths in thou, nine digits, so that what was given as
/// "-0.4 thou" is shown as that and not as "-0.00039999999999999996 in".
pub(crate) fn for_people(quantity: Quantity) -> String {
    match quantity.length() {
        Some(x) if x.abs() < Length::from_inches(0.05) && x.abs() > Length::default() => {
            format!("{} thou", nine_digits(x.to_thou()))
        }
        _ => Quantity::new(nine_digits(quantity.raw()), quantity.dimension()).to_string(),
    }
}

fn nine_digits(x: f64) -> f64 {
    format!("{x:.8e}").parse().unwrap_or(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{AngleUnits, LengthUnits};

    #[test]
    fn prints_the_shortest_decimal_with_the_raw_unit() {
        assert_eq!(0.3745.inch().to_string(), "0.3745 in");
        assert_eq!(0.005.radians().to_string(), "0.005 rad");
        assert_eq!(MoistureContent::from_percent(8.0).to_string(), "8 %MC");
        assert_eq!(Quantity::from(2.5).to_string(), "2.5");
        assert_eq!(Quantity::from(-1e-9).to_string(), "-1e-9");
        assert_eq!(Quantity::from(3e20).to_string(), "3e20");
        assert_eq!(Quantity::from(0.0).to_string(), "0");
        assert_eq!(format!("{:.2}", 0.3745.inch()), "0.37 in");
    }

    #[test]
    fn prints_fractions_of_an_inch() {
        let rows = [
            (0.0, 64, "0 in"),
            (0.375, 64, "3/8 in"),
            (-0.375, 64, "-3/8 in"),
            (2.0, 64, "2 in"),
            (1.5, 16, "1-1/2 in"),
            (0.377, 64, "3/8 in + 2 thou"),
            (-0.377, 64, "-(3/8 in + 2 thou)"),
            (0.373, 64, "3/8 in - 2 thou"),
            (-0.002, 64, "-2 thou"),
            (0.00004, 64, "0 in"),
            (0.3754, 64, "3/8 in + 0.4 thou"),
            (0.999_99, 64, "1 in"),
            (2.6, 0, "3 in - 400 thou"),
            (1.5, 3, "1-2/3 in - 166.7 thou"),
        ];
        for (inches, denominator, text) in rows {
            assert_eq!(
                Length::from_inches(inches).display_fraction(denominator),
                text
            );
        }
        assert_eq!(Length::from_inches(1e300).display_fraction(64), "1e300 in");
        assert_eq!(Length::from_inches(f64::NAN).display_fraction(64), "NaN in");
    }

    #[test]
    fn messages_show_small_lengths_in_thou() {
        assert_eq!(for_people(Length::from_thou(-0.4).into()), "-0.4 thou");
        assert_eq!(for_people(Length::from_inches(0.1 + 0.2).into()), "0.3 in");
        assert_eq!(for_people(Length::from_inches(f64::NAN).into()), "NaN in");
        assert_eq!(for_people(Length::default().into()), "0 in");
        assert_eq!(for_people(0.5.into()), "0.5");
    }
}
