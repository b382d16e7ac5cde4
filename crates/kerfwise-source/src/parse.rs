//! Quantities as a shop writes them: "3/8 in", "1-1/2 in", "9.5 mm", "2 thou", "0.25°", "0.00274 /%MC".

use crate::dimension::SUPERSCRIPTS;
use crate::units::{Unit, find_unit, not_a_unit, usual_units};
use crate::{Angle, Dimension, Error, ErrorKind, Length, MoistureContent, Quantity};
use std::str::FromStr;

/// A number, and maybe a unit or a product of units: "2.5", "3/8 in", "8 %MC", "0.00274 /%MC", "2 in^2".
///
/// Numbers are decimals ("0.375", "1e-3"), fractions of whole numbers ("3/8") or mixed ("1-1/2", "1 1/2");
/// units are in, thou, mm, um, cm, m, ft, deg, arcmin, arcsec, rad, mrad and %MC, joined by "·", "*", "/" or "per".
/// The decimal sign is a point. What [`Display`](std::fmt::Display) prints reads back to the same bits.
///
/// # Errors
///
/// [`ErrorKind::Text`], with the place in the text, when it is anything else or not finite.
///
/// ```
/// use kerfwise_source::{Length, Quantity};
///
/// assert_eq!("1-1/2 in".parse::<Quantity>()?, Length::from_inches(1.5).into());
/// assert_eq!("0.00274 per %MC".parse::<Quantity>()?.raw(), 0.00274);
/// assert_eq!(
///     "0.375 inn".parse::<Quantity>().unwrap_err().to_string(),
///     r#""0.375 inn", column 7: "inn" is not a unit; did you mean "in"? units are in, thou, mm, um, cm, m, ft, deg, arcmin, arcsec, rad, mrad, %MC"#,
/// );
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
impl FromStr for Quantity {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let mut reader = Reader { text, at: 0 };
        reader.skip_spaces();
        let number = reader.number()?;
        reader.units(number)
    }
}

/// As [`Quantity`], and a length: "3/8 in", "9.5 mm", "2 thou". A unit is needed.
///
/// # Errors
///
/// [`ErrorKind::Text`] when it is no quantity, [`ErrorKind::Unit`] when it is not a length.
///
/// ```
/// use kerfwise_source::Length;
///
/// assert_eq!("3/8\"".parse::<Length>()?.to_inches(), 0.375);
/// let error = "0.375".parse::<Length>().unwrap_err();
/// assert_eq!(error.to_string(), r#""0.375" needs a unit: in, thou, mm"#);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
impl FromStr for Length {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        typed(text, Dimension::LENGTH).map(Self::from_inches)
    }
}

/// As [`Quantity`], and an angle: "0.25 deg", "15 arcmin", "0.004 rad". A unit is needed.
///
/// # Errors
///
/// [`ErrorKind::Text`] when it is no quantity, [`ErrorKind::Unit`] when it is not an angle.
///
/// ```
/// use kerfwise_source::{Angle, AngleUnits};
/// assert_eq!("0.25°".parse::<Angle>()?, 0.25.degrees());
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
impl FromStr for Angle {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        typed(text, Dimension::ANGLE).map(Self::from_radians)
    }
}

/// As [`Quantity`], and a moisture content: "8 %MC". The unit is needed.
///
/// # Errors
///
/// [`ErrorKind::Text`] when it is no quantity, [`ErrorKind::Unit`] when it is not a moisture content.
///
/// ```
/// use kerfwise_source::MoistureContent;
/// assert_eq!("8 %MC".parse::<MoistureContent>()?.to_percent(), 8.0);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
impl FromStr for MoistureContent {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        typed(text, Dimension::MOISTURE).map(Self::from_percent)
    }
}

impl Quantity {
    /// A number of a unit that is given as text, such as the unit in the head of a column.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Text`] when the unit is none of ours, or the result is not finite.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Quantity};
    /// assert_eq!(Quantity::in_unit(9.5, "mm")?, 9.5.mm().into());
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn in_unit(number: f64, unit: &str) -> Result<Self, Error> {
        let mut reader = Reader { text: unit, at: 0 };
        reader.units(number)
    }
}

fn typed(text: &str, wanted: Dimension) -> Result<f64, Error> {
    let quantity: Quantity = text.parse()?;
    let found = quantity.dimension();
    if found == wanted {
        return Ok(quantity.raw());
    }
    let units = usual_units(wanted);
    let message = if found == Dimension::NUMBER {
        format!("needs a unit: {units}")
    } else {
        format!("has the dimension {found}, but {wanted} is wanted: {units}")
    };
    Err(ErrorKind::Unit {
        text: text.to_owned(),
        message,
    }
    .into())
}

/// The largest whole number up to which all whole numbers are exact in `f64`.
const LARGEST_WHOLE: u64 = 1 << 53;

struct Reader<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Reader<'a> {
    fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn take_if(&mut self, wanted: impl Fn(char) -> bool) -> bool {
        match self.peek() {
            Some(c) if wanted(c) => {
                self.at += c.len_utf8();
                true
            }
            _ => false,
        }
    }

    fn take_while(&mut self, wanted: impl Fn(char) -> bool) -> &'a str {
        let start = self.at;
        while self.take_if(&wanted) {}
        &self.text[start..self.at]
    }

    fn skip_spaces(&mut self) {
        self.take_while(char::is_whitespace);
    }

    #[cold]
    fn fault(&self, at: usize, message: String) -> Error {
        ErrorKind::Text {
            text: self.text.to_owned(),
            offset: at,
            message,
        }
        .into()
    }

    /// The next word, for messages.
    fn found(&self) -> String {
        let word: String = self
            .rest()
            .chars()
            .take_while(|c| !c.is_whitespace())
            .take(20)
            .collect();
        if word.is_empty() {
            "the end".to_owned()
        } else {
            format!("{word:?}")
        }
    }

    /// [sign] (decimal | whole/whole | whole-whole/whole | whole whole/whole)
    fn number(&mut self) -> Result<f64, Error> {
        let start = self.at;
        // The typographic minus is what word processors make of a hyphen.
        let is_negative = self.take_if(|c| matches!(c, '-' | '\u{2212}'));
        if !is_negative {
            self.take_if(|c| c == '+');
        }
        self.skip_spaces();
        let first = self.at;
        let is_whole = self.skip_decimal();
        if self.at == first {
            let message = format!("expected a number, found {}", self.found());
            return Err(self.fault(first, message));
        }
        let size = if is_whole {
            self.fraction(first)?
        } else {
            self.decimal(first)?
        };
        self.refuse_second_number()?;
        if size.is_finite() {
            Ok(if is_negative { -size } else { size })
        } else {
            Err(self.fault(start, "the number is too large".to_owned()))
        }
    }

    /// Passes over digits, a point, digits, an exponent; tells whether it was only digits.
    /// Stays where it is when there is no digit.
    fn skip_decimal(&mut self) -> bool {
        let start = self.at;
        let digits = |c: char| c.is_ascii_digit();
        let before = self.take_while(digits).len();
        let has_point = self.take_if(|c| c == '.');
        let after = if has_point {
            self.take_while(digits).len()
        } else {
            0
        };
        if before + after == 0 {
            self.at = start;
            return false;
        }
        let end = self.at;
        let has_exponent = self.take_if(|c| matches!(c, 'e' | 'E')) && {
            self.take_if(|c| matches!(c, '-' | '+'));
            !self.take_while(digits).is_empty()
        };
        if !has_exponent {
            self.at = end;
        }
        !has_point && !has_exponent
    }

    fn decimal(&self, start: usize) -> Result<f64, Error> {
        // What was passed over is a number to `f64` as well, so the error cannot happen.
        self.text[start..self.at]
            .parse()
            .map_err(|_| self.fault(start, "expected a number".to_owned()))
    }

    /// After a whole number: the rest of a fraction or of a mixed number, if there is one.
    fn fraction(&mut self, start: usize) -> Result<f64, Error> {
        let after_first = self.at;
        if let Some(denominator) = self.over()? {
            let numerator = self.whole(start, after_first)?;
            return Ok(numerator as f64 / denominator as f64);
        }
        let is_joined =
            self.take_if(|c| c == '-') || !self.take_while(char::is_whitespace).is_empty();
        let second = self.at;
        if is_joined && !self.take_while(|c| c.is_ascii_digit()).is_empty() {
            let after_second = self.at;
            if let Some(denominator) = self.over()? {
                let whole = self.whole(start, after_first)?;
                let numerator = self.whole(second, after_second)?;
                return self.mixed(start, whole, numerator, denominator);
            }
        }
        self.at = after_first;
        self.decimal(start)
    }

    /// Exact up to the division, so that the result is the nearest number to the fraction.
    fn mixed(&self, at: usize, whole: u64, numerator: u64, denominator: u64) -> Result<f64, Error> {
        if numerator >= denominator {
            let message = format!(
                "in a mixed number the fraction is below 1 (got {numerator}/{denominator})"
            );
            return Err(self.fault(at, message));
        }
        whole
            .checked_mul(denominator)
            .and_then(|product| product.checked_add(numerator))
            .filter(|sum| *sum <= LARGEST_WHOLE)
            .map(|sum| sum as f64 / denominator as f64)
            .ok_or_else(|| self.fault(at, too_many_digits()))
    }

    /// "/8", with or without spaces; stays where it is when there is none ("3 /%MC").
    fn over(&mut self) -> Result<Option<u64>, Error> {
        let start = self.at;
        self.skip_spaces();
        if self.take_if(|c| c == '/') {
            self.skip_spaces();
            let denominator = self.at;
            if !self.take_while(|c| c.is_ascii_digit()).is_empty() {
                return match self.whole(denominator, self.at)? {
                    0 => Err(self.fault(denominator, "a fraction cannot be over 0".to_owned())),
                    value => Ok(Some(value)),
                };
            }
        }
        self.at = start;
        Ok(None)
    }

    fn whole(&self, start: usize, end: usize) -> Result<u64, Error> {
        self.text[start..end]
            .parse()
            .ok()
            .filter(|value| *value <= LARGEST_WHOLE)
            .ok_or_else(|| self.fault(start, too_many_digits()))
    }

    /// Digits that go on where the number ended: a comma, a second point, a fraction of decimals.
    fn refuse_second_number(&self) -> Result<(), Error> {
        let trimmed = self.rest().trim_start();
        let at = self.text.len() - trimmed.len();
        let mut ahead = trimmed.chars();
        let (first, second) = (ahead.next(), ahead.find(|c| !c.is_whitespace()));
        let is_digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
        let message = match first {
            Some(',') if is_digit(second) => {
                "the decimal sign is a point, and there is no sign between thousands: write 9.5, not 9,5"
            }
            Some('/') if is_digit(second) => {
                "a fraction is one whole number over another: write 3/8 or 0.375"
            }
            Some('.') => "a number has one decimal point",
            Some('-' | '\u{2212}') if is_digit(second) => {
                "one quantity at a time: a mixed number is written 1-1/2"
            }
            _ if is_digit(first) => "two numbers: a mixed number is written 1-1/2",
            _ => return Ok(()),
        };
        Err(self.fault(at, message.to_owned()))
    }

    /// [unit] {("·" | "*" | "/" | "per") unit}, where the first may also stand below a "/".
    fn units(&mut self, number: f64) -> Result<Quantity, Error> {
        let mut raw = number;
        let mut dimension = Dimension::NUMBER;
        let mut is_first = true;
        loop {
            self.skip_spaces();
            if self.rest().is_empty() {
                break;
            }
            let start = self.at;
            let is_below = self.take_if(|c| c == '/') || self.take_word("per");
            let is_joined = is_below || is_first || self.take_if(|c| matches!(c, '·' | '*'));
            if !is_joined {
                let message = format!("expected the end, \"/\" or \"·\", found {}", self.found());
                return Err(self.fault(start, message));
            }
            is_first = false;
            self.skip_spaces();
            let unit = self.unit()?;
            let power = self.power()?;
            let power = if is_below { -power } else { power };
            dimension = unit
                .dimension
                .powi(power)
                .and_then(|factor| dimension.times(factor))
                .ok_or_else(|| {
                    self.fault(start, "the power of the unit is too large".to_owned())
                })?;
            let (times, over) = if power < 0 {
                (unit.over, unit.times)
            } else {
                (unit.times, unit.over)
            };
            for _ in 0..power.unsigned_abs() {
                raw = raw * times / over;
            }
        }
        if raw.is_finite() {
            Ok(Quantity::new(raw, dimension))
        } else {
            Err(self.fault(0, format!("the number must be finite (got {raw})")))
        }
    }

    fn take_word(&mut self, word: &str) -> bool {
        let is_there = self
            .rest()
            .strip_prefix(word)
            .is_some_and(|after| !after.starts_with(char::is_alphabetic));
        if is_there {
            self.at += word.len();
        }
        is_there
    }

    fn unit(&mut self) -> Result<&'static Unit, Error> {
        let start = self.at;
        let is_letter = |c: char| c.is_alphabetic() || matches!(c, '\u{b5}' | '_');
        let name = if self.take_if(|c| c == '%') {
            // "8 % MC" is read as well.
            let after = self.at;
            self.skip_spaces();
            if self.take_while(is_letter).is_empty() {
                self.at = after;
            }
            let text = &self.text[start..self.at];
            text.chars().filter(|c| !c.is_whitespace()).collect()
        } else {
            if self.take_while(is_letter).is_empty() {
                self.take_if(|_| true);
            }
            self.text[start..self.at].to_owned()
        };
        if let Some(unit) = find_unit(&name) {
            return Ok(unit);
        }
        let message = if name.is_empty() || name.starts_with(|c: char| c.is_ascii_digit()) {
            self.at = start;
            format!("expected a unit, found {}", self.found())
        } else {
            not_a_unit(&name)
        };
        Err(self.fault(start, message))
    }

    /// "^2", "^-1", "²"; 1 when there is none.
    fn power(&mut self) -> Result<i32, Error> {
        let start = self.at;
        let digits = if self.take_if(|c| c == '^') {
            let number = self.at;
            self.take_if(|c| c == '-');
            self.take_while(|c| c.is_ascii_digit());
            self.text[number..self.at].to_owned()
        } else {
            let raised = self.take_while(|c| SUPERSCRIPTS.contains(&c));
            let digit = |c| SUPERSCRIPTS.iter().position(|s| *s == c);
            raised
                .chars()
                .filter_map(digit)
                .map(|d| d.to_string())
                .collect()
        };
        if self.at == start {
            return Ok(1);
        }
        match digits.parse::<i8>() {
            Ok(power) => Ok(power.into()),
            Err(_) => {
                let message = "a power is a small whole number: write in^2".to_owned();
                Err(self.fault(start, message))
            }
        }
    }
}

fn too_many_digits() -> String {
    format!("a fraction is of whole numbers up to {LARGEST_WHOLE}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::LengthUnits;
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn inches(text: &str) -> f64 {
        text.parse::<Length>()
            .unwrap_or_else(|error| panic!("{error}"))
            .to_inches()
    }

    fn message<T: FromStr<Err = Error>>(text: &str) -> String {
        match text.parse::<T>() {
            Ok(_) => panic!("{text:?} was read"),
            Err(error) => error.to_string(),
        }
    }

    #[test]
    fn reads_lengths_as_a_shop_writes_them() {
        // Each to the last bit: the right-hand sides are the nearest numbers, as the text means.
        let rows = [
            ("3/8 in", 0.375),
            ("3/8\"", 0.375),
            ("3 / 8 ″", 0.375),
            ("1-1/2 in", 1.5),
            ("1 1/2 in", 1.5),
            ("-1 1/2in", -1.5),
            ("\u{2212}3/8 in", -0.375),
            ("+2 in", 2.0),
            ("  0.3745   inches ", 0.3745),
            (".5in", 0.5),
            ("5.in", 5.0),
            ("1e-3 in", 0.001),
            ("1E+2in", 100.0),
            ("2 thou", 0.002),
            ("9.5 mm", 9.5 / 25.4),
            ("9.5mm", 9.5 / 25.4),
            ("12 um", 12.0 / 25_400.0),
            ("12 \u{b5}m", 12.0 / 25_400.0),
            ("12 \u{3bc}m", 12.0 / 25_400.0),
            ("2.54 cm", 1.0),
            ("0.0254 m", 1.0),
            ("1 ft", 12.0),
            ("1/3 in", 1.0 / 3.0),
            ("2-1/3 in", 7.0 / 3.0),
        ];
        for (text, expected) in rows {
            assert_eq!(inches(text).to_bits(), f64::to_bits(expected), "{text}");
        }
    }

    #[test]
    fn reads_angles_moisture_and_coefficients() {
        let rows = [
            ("2.5", 2.5, ""),
            ("-1/4", -0.25, ""),
            ("0.25 deg", 0.25 * (PI / 180.0), "rad"),
            ("0.25°", 0.25 * (PI / 180.0), "rad"),
            ("15 arcmin", 15.0 * (PI / 180.0) / 60.0, "rad"),
            ("3600 arcsec", 3600.0 * (PI / 180.0) / 3600.0, "rad"),
            ("0.004 rad", 0.004, "rad"),
            ("4 mrad", 0.004, "rad"),
            ("8 %MC", 8.0, "%MC"),
            ("8 % MC", 8.0, "%MC"),
            ("8%MC", 8.0, "%MC"),
            ("0.00274 /%MC", 0.00274, "/%MC"),
            ("0.00274/%MC", 0.00274, "/%MC"),
            ("0.00274 per %MC", 0.00274, "/%MC"),
            ("3/8 in/%MC", 0.375, "in/%MC"),
            ("3 /in", 3.0, "/in"),
            ("1 thou per deg", 0.001 / (PI / 180.0), "in/rad"),
            ("2 in^2", 2.0, "in²"),
            ("2 in²·rad", 2.0, "in²·rad"),
            ("2 in*in", 2.0, "in²"),
            ("2 in^-2", 2.0, "/in²"),
            ("25.4 mm^2", 25.4 / 25.4 / 25.4, "in²"),
        ];
        for (text, raw, unit) in rows {
            let quantity: Quantity = text.parse().unwrap_or_else(|error| panic!("{error}"));
            assert_eq!(quantity.raw().to_bits(), f64::to_bits(raw), "{text}");
            assert_eq!(quantity.dimension().raw_unit(), unit, "{text}");
        }
        assert_eq!("90 deg".parse::<Angle>(), Ok(Angle::from_degrees(90.0)));
        let shop = MoistureContent::from_percent(8.0);
        assert_eq!("8 %MC".parse::<MoistureContent>(), Ok(shop));
    }

    #[test]
    fn text_and_literals_are_the_same_bits() {
        for x in [0.1, 0.4, 1.7, 9.5, 123.456] {
            assert_eq!(format!("{x} thou").parse(), Ok(x.thou()));
            assert_eq!(format!("{x} mm").parse(), Ok(x.mm()));
            assert_eq!(Quantity::in_unit(x, "thou"), Ok(x.thou().into()));
            assert_eq!(
                format!("{x} deg").parse(),
                Ok(Angle::from_degrees(x)),
                "{x}"
            );
        }
    }

    const UNITS_ARE: &str =
        "units are in, thou, mm, um, cm, m, ft, deg, arcmin, arcsec, rad, mrad, %MC";

    #[test]
    fn unknown_units_are_named_with_what_is_near() {
        let rows = [
            ("0.4 inn", 5, r#""inn" is not a unit; did you mean "in"? "#),
            ("0.4 MM", 5, r#""MM" is not a unit; did you mean "mm"? "#),
            ("0.4 huot", 5, r#""huot" is not a unit; "#),
            (
                "0.4 htou",
                5,
                r#""htou" is not a unit; did you mean "thou"? "#,
            ),
            (
                "0.4 em",
                5,
                r#""em" is not a unit; did you mean "mm" or "um" or "cm"? "#,
            ),
            ("1 in/yd", 6, r#""yd" is not a unit; "#),
            ("½ in", 1, ""),
        ];
        for (text, column, expected) in rows {
            let message = message::<Quantity>(text);
            let wanted = if expected.is_empty() {
                format!("{text:?}, column {column}: expected a number, found \"½\"")
            } else {
                format!("{text:?}, column {column}: {expected}{UNITS_ARE}")
            };
            assert_eq!(message, wanted);
        }
    }

    #[test]
    fn every_other_fault_says_where_and_how_to_mend_it() {
        let comma = "the decimal sign is a point, and there is no sign between thousands: write 9.5, not 9,5";
        let large = "the number is too large";
        let rows = [
            ("", 1, "expected a number, found the end"),
            ("in", 1, r#"expected a number, found "in""#),
            ("NaN in", 1, r#"expected a number, found "NaN""#),
            ("inf", 1, r#"expected a number, found "inf""#),
            ("-", 2, "expected a number, found the end"),
            ("--1 in", 2, r#"expected a number, found "-1""#),
            (". in", 1, r#"expected a number, found ".""#),
            ("9,5 mm", 2, comma),
            ("1,000.5 mm", 2, comma),
            ("1e999 in", 1, large),
            ("1e308 m", 1, "the number must be finite (got inf)"),
            ("1 2 in", 3, "two numbers: a mixed number is written 1-1/2"),
            (
                "1-2 in",
                2,
                "one quantity at a time: a mixed number is written 1-1/2",
            ),
            (
                "1 - 1/2 in",
                3,
                "one quantity at a time: a mixed number is written 1-1/2",
            ),
            ("1.2.3 in", 4, "a number has one decimal point"),
            (
                "0.5/2 in",
                4,
                "a fraction is one whole number over another: write 3/8 or 0.375",
            ),
            (
                "1/2/3",
                4,
                "a fraction is one whole number over another: write 3/8 or 0.375",
            ),
            ("3/0 in", 3, "a fraction cannot be over 0"),
            (
                "1-8/8 in",
                1,
                "in a mixed number the fraction is below 1 (got 8/8)",
            ),
            (
                "3/99999999999999999999 in",
                3,
                "a fraction is of whole numbers up to 9007199254740992",
            ),
            (
                "9007199254740992-1/2 in",
                1,
                "a fraction is of whole numbers up to 9007199254740992",
            ),
            ("1 in 2", 6, r#"expected the end, "/" or "·", found "2""#),
            ("1 in/", 6, "expected a unit, found the end"),
            ("1 in^", 5, "a power is a small whole number: write in^2"),
            ("1 in^999", 5, "a power is a small whole number: write in^2"),
            ("1 in^127·in", 9, "the power of the unit is too large"),
            (
                "5 %",
                3,
                "\"%\" is not a unit; write %MC for moisture content, or a plain number (0.05 for 5 %)",
            ),
            (
                "5 '",
                3,
                r#""'" is not a unit; write ft for feet, arcmin for minutes of arc"#,
            ),
            (
                "5 mils",
                3,
                r#""mils" is not a unit; write thou for 0.001 in"#,
            ),
        ];
        for (text, column, expected) in rows {
            let message = message::<Quantity>(text);
            assert_eq!(message, format!("{text:?}, column {column}: {expected}"));
        }
    }

    #[test]
    fn a_typed_text_needs_its_own_dimension() {
        assert_eq!(
            message::<Length>("0.375"),
            r#""0.375" needs a unit: in, thou, mm"#
        );
        assert_eq!(
            message::<Length>("2 deg"),
            r#""2 deg" has the dimension angle, but length is wanted: in, thou, mm"#
        );
        assert_eq!(
            message::<Angle>("2"),
            r#""2" needs a unit: deg, arcmin, rad"#
        );
        assert_eq!(message::<MoistureContent>("8"), r#""8" needs a unit: %MC"#);
    }

    #[test]
    fn a_number_from_outside_must_be_finite_too() {
        let error = Quantity::in_unit(f64::NAN, "in").unwrap_err();
        assert_eq!(
            error.to_string(),
            r#""in", column 1: the number must be finite (got NaN)"#
        );
    }

    fn dimension() -> impl Strategy<Value = Dimension> {
        (-5_i32..=5, -5_i32..=5, -5_i32..=5).prop_map(|(l, a, m)| {
            let power = |of: Dimension, n| of.powi(n).unwrap();
            power(Dimension::LENGTH, l)
                .times(power(Dimension::ANGLE, a))
                .and_then(|x| x.times(power(Dimension::MOISTURE, m)))
                .unwrap()
        })
    }

    /// Any finite number, all sizes alike.
    fn finite() -> impl Strategy<Value = f64> {
        use prop::num::f64::{NEGATIVE, NORMAL, POSITIVE, SUBNORMAL, ZERO};
        POSITIVE | NEGATIVE | NORMAL | SUBNORMAL | ZERO
    }

    proptest! {
        #[test]
        fn what_is_printed_reads_back_to_the_same_bits(raw in finite(), dimension in dimension()) {
            let quantity = Quantity::new(raw, dimension);
            let back: Quantity = quantity.to_string().parse().unwrap();
            prop_assert_eq!(back.raw().to_bits(), raw.to_bits());
            prop_assert_eq!(back.dimension(), dimension);
            let length = Length::from_inches(raw);
            prop_assert_eq!(length.to_string().parse::<Length>(), Ok(length));
            let angle = Angle::from_radians(raw);
            prop_assert_eq!(angle.to_string().parse::<Angle>(), Ok(angle));
        }

        #[test]
        fn fractions_are_the_nearest_numbers(whole in 0_u32..1000, n in 0_u32..64, more in 1_u32..64) {
            let d = n + more;
            let expected = f64::from(whole * d + n) / f64::from(d);
            for text in [format!("{whole}-{n}/{d} in"), format!("-{whole} {n}/{d}\"")] {
                prop_assert_eq!(inches(&text).abs().to_bits(), expected.to_bits());
            }
            let improper = format!("{}/{d} in", whole * d + n);
            prop_assert_eq!(inches(&improper).to_bits(), expected.to_bits());
        }

        #[test]
        fn any_text_is_read_to_a_finite_number_or_refused_at_a_place_within_it(text in any::<String>()) {
            read_or_refuse(&text);
        }

        #[test]
        fn nearly_right_text_as_well(
            text in "[-+0-9eE./ ,%\u{2212}]{0,8} ?(in|\"|µ|thou|%MC|°|/|per |\\^|²|·|mm){0,4}[ -~]?",
        ) {
            read_or_refuse(&text);
        }
    }

    fn read_or_refuse(text: &str) {
        match text.parse::<Quantity>() {
            Ok(quantity) => assert!(quantity.raw().is_finite(), "{text:?}"),
            Err(error) => {
                let place = error.position().unwrap_or(usize::MAX);
                assert!(text.is_char_boundary(place), "{text:?}: {error}");
            }
        }
    }
}
