//! Quantities as a shop writes them: "3/8 in", "1-1/2 in", "9.5 mm", "2 thou", "0.25°", "0.00274 /%MC".

use crate::dimension::SUPERSCRIPTS;
use crate::print::usual_units;
use crate::{Angle, Dimension, Error, ErrorKind, Length, MoistureContent, Quantity};
use std::f64::consts::PI;
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

/// raw = number · times / over: two factors, because 1/25.4 is no binary number.
struct Unit {
    names: &'static [&'static str],
    dimension: Dimension,
    times: f64,
    over: f64,
}

const fn unit(names: &'static [&'static str], dimension: Dimension, times: f64, over: f64) -> Unit {
    Unit {
        names,
        dimension,
        times,
        over,
    }
}

const UNITS: [Unit; 13] = [
    unit(
        &["in", "inch", "inches", "\"", "″", "”"],
        Dimension::LENGTH,
        1.0,
        1.0,
    ),
    unit(&["thou"], Dimension::LENGTH, 1.0, 1000.0),
    unit(&["mm"], Dimension::LENGTH, 1.0, 25.4),
    // Both signs for micro are on keyboards: U+00B5 and the Greek letter U+03BC.
    unit(
        &["um", "\u{b5}m", "\u{3bc}m"],
        Dimension::LENGTH,
        1.0,
        25_400.0,
    ),
    unit(&["cm"], Dimension::LENGTH, 1.0, 2.54),
    unit(&["m"], Dimension::LENGTH, 1000.0, 25.4),
    unit(&["ft", "foot", "feet"], Dimension::LENGTH, 12.0, 1.0),
    unit(
        &["deg", "degree", "degrees", "°"],
        Dimension::ANGLE,
        PI / 180.0,
        1.0,
    ),
    unit(&["arcmin"], Dimension::ANGLE, PI / 180.0, 60.0),
    unit(&["arcsec"], Dimension::ANGLE, PI / 180.0, 3600.0),
    unit(&["rad"], Dimension::ANGLE, 1.0, 1.0),
    unit(&["mrad"], Dimension::ANGLE, 1.0, 1000.0),
    unit(&["%MC"], Dimension::MOISTURE, 1.0, 1.0),
];

/// What people write for a unit that is not one of ours, and the way out.
const OTHER_WORDS: [(&[&str], &str); 5] = [
    (
        &["%"],
        "write %MC for moisture content, or a plain number (0.05 for 5 %)",
    ),
    (
        &["'", "′", "’"],
        "write ft for feet, arcmin for minutes of arc",
    ),
    (&["mil", "mils", "tho", "th"], "write thou for 0.001 in"),
    (
        &["millimetre", "millimetres", "millimeter", "millimeters"],
        "write mm",
    ),
    (
        &[
            "micron",
            "microns",
            "micrometre",
            "micrometer",
            "u",
            "\u{b5}",
            "\u{3bc}",
        ],
        "write um for 0.001 mm",
    ),
];

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
            Some('.') => "a second decimal point",
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
        if let Some(unit) = UNITS.iter().find(|unit| unit.names.contains(&&*name)) {
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

fn not_a_unit(name: &str) -> String {
    let name: String = name.chars().take(20).collect();
    if let Some((_, way_out)) = OTHER_WORDS
        .iter()
        .find(|(words, _)| words.contains(&&*name))
    {
        return format!("{name:?} is not a unit; {way_out}");
    }
    let all: Vec<&str> = UNITS.iter().map(|unit| unit.names[0]).collect();
    let all = all.join(", ");
    let near: Vec<String> = near_names(&name)
        .iter()
        .map(|near| format!("{near:?}"))
        .collect();
    if near.is_empty() {
        format!("{name:?} is not a unit; units are {all}")
    } else {
        let near = near.join(" or ");
        format!("{name:?} is not a unit; did you mean {near}? units are {all}")
    }
}

/// The unit that differs only in capitals, else at most three that are one slip of the finger away.
fn near_names(name: &str) -> Vec<&'static str> {
    let names = || UNITS.iter().flat_map(|unit| unit.names).copied();
    if let Some(same) = names().find(|known| known.eq_ignore_ascii_case(name)) {
        return vec![same];
    }
    // A single sign is one slip away from every other one.
    names()
        .filter(|known| known.chars().count() > 1 && is_one_slip_away(name, known))
        .take(3)
        .collect()
}

/// One character added, left out, replaced, or two neighbours swapped.
fn is_one_slip_away(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let same_head = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let (a, b) = (&a[same_head..], &b[same_head..]);
    let is_tail = |a: &[char], skip_a: usize, b: &[char], skip_b: usize| {
        a.len() >= skip_a && b.len() >= skip_b && a[skip_a..] == b[skip_b..]
    };
    let is_swap = || a.len() > 1 && b.len() > 1 && a[0] == b[1] && a[1] == b[0];
    is_tail(a, 1, b, 0)
        || is_tail(a, 0, b, 1)
        || is_tail(a, 1, b, 1)
        || (is_swap() && is_tail(a, 2, b, 2))
}
