//! Lengths as somebody types them who has said once which unit is meant.

use crate::args::LengthUnit;
use kerfwise::prelude::{Length, LengthUnits as _, Quantity};
use kerfwise::source::{Dimension, Error, ErrorKind};

/// The unit that is meant where none is typed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    pub(super) unit: LengthUnit,
}

/// A length and how it is written in the plan.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Size {
    pub(super) length: Length,
    pub(super) text: String,
}

impl Scale {
    pub(super) fn name(self) -> &'static str {
        match self.unit {
            LengthUnit::In => "in",
            LengthUnit::Mm => "mm",
        }
    }

    /// The one of two texts that suits the unit.
    pub(super) fn pick<'a>(self, inches: &'a str, millimetres: &'a str) -> &'a str {
        match self.unit {
            LengthUnit::In => inches,
            LengthUnit::Mm => millimetres,
        }
    }

    /// The number of a length in this unit.
    pub(super) fn number(self, length: Length) -> f64 {
        match self.unit {
            LengthUnit::In => length.to_inches(),
            LengthUnit::Mm => length.to_mm(),
        }
    }

    /// A length that was computed, to a tenth of a thou or to 0.001 mm.
    pub(super) fn round(self, length: Length) -> Size {
        let steps = match self.unit {
            LengthUnit::In => 1e4,
            LengthUnit::Mm => 1e3,
        };
        let number = (self.number(length) * steps).round() / steps;
        let length = match self.unit {
            LengthUnit::In => number.inch(),
            LengthUnit::Mm => number.mm(),
        };
        Size {
            length,
            text: format!("{number} {}", self.name()),
        }
    }

    /// A length with its unit, or a number that takes this one, between two bounds in inches.
    pub(super) fn read(self, words: &str, (least, most): (f64, f64)) -> Result<Size, String> {
        let quantity: Quantity = words
            .parse()
            .map_err(|error: Error| self.told(words, &error))?;
        let is_bare = quantity.dimension() == Dimension::NUMBER;
        let text = if is_bare {
            format!("{words} {}", self.name())
        } else {
            words.to_owned()
        };
        let length: Length = text
            .parse()
            .map_err(|error: Error| self.told(words, &error))?;
        let inches = length.to_inches();
        if (least..=most).contains(&inches) {
            return Ok(Size { length, text });
        }
        if inches < 0.0 && least >= 0.0 {
            return Err(format!("it has no minus sign (got {text})"));
        }
        let other = if is_bare {
            self.other_units(words, (least, most))
        } else {
            String::new()
        };
        let bounds = self.bounds((least, most));
        Err(format!("it must be {bounds} (got {text}){other}"))
    }

    /// Two bounds in inches, in words.
    pub(super) fn bounds(self, (least, most): (f64, f64)) -> String {
        let shown = |inches: f64| {
            let number = self.number(inches.inch());
            (number * 1e4).round() / 1e4
        };
        format!("from {} to {} {}", shown(least), shown(most), self.name())
    }

    /// Other units in which a number would be within the bounds.
    fn other_units(self, words: &str, (least, most): (f64, f64)) -> String {
        let fits = |text: &String| {
            let length = text.parse::<Length>();
            length.is_ok_and(|length| (least..=most).contains(&length.to_inches()))
        };
        let others = ["in", "mm", "thou"].into_iter();
        let texts: Vec<String> = others
            .filter(|unit| *unit != self.name())
            .map(|unit| format!("{words} {unit}"))
            .filter(fits)
            .map(|text| format!("\"{text}\""))
            .collect();
        if texts.is_empty() {
            return String::new();
        }
        let texts = texts.join(" or ");
        format!("; if it is in another unit, type it: {texts}")
    }

    /// What is wrong with a length, and what one looks like.
    fn told(self, words: &str, error: &Error) -> String {
        if is_decimal_comma(words) {
            return format!("the decimal sign is a point (got \"{words}\")");
        }
        let what = match error.kind() {
            ErrorKind::Text { message, .. } => message.clone(),
            other => other.to_string(),
        };
        let example = self.pick("0.375 or 3/8 or 9.5 mm", "9.5 or 3/8 in");
        format!("type a length such as {example}: {what}")
    }

    /// Several lengths on one line, separated by spaces, semicolons or commas. A unit is that of the number before it; where
    /// only the last number has one, it is that of all that have none of their own.
    pub(super) fn read_all(self, words: &str, bounds: (f64, f64)) -> Result<Vec<Size>, String> {
        let is_unit = |part: &str| {
            let one = || Quantity::in_unit(1.0, part);
            part.parse::<Quantity>().is_err()
                && one().is_ok_and(|q| q.dimension() == Dimension::LENGTH)
        };
        let mut parts: Vec<(&str, Option<&str>)> = Vec::new();
        for part in parts_of(words) {
            match parts.last_mut() {
                Some((_, unit @ None)) if is_unit(part) => *unit = Some(part),
                _ => parts.push((part, None)),
            }
        }
        let units = parts.iter().filter(|(_, unit)| unit.is_some()).count();
        let of_all = parts
            .last()
            .and_then(|(_, unit)| *unit)
            .filter(|_| units == 1);
        let read = |(part, unit): &(&str, Option<&str>)| {
            let quantity = part.parse::<Quantity>();
            let is_bare = quantity.is_ok_and(|q| q.dimension() == Dimension::NUMBER);
            match unit.or(of_all.filter(|_| is_bare)) {
                Some(unit) => self.read(&format!("{part} {unit}"), bounds),
                None => self.read(part, bounds),
            }
        };
        parts.iter().map(read).collect()
    }
}

/// What stands between spaces, semicolons and commas.
fn parts_of(words: &str) -> impl Iterator<Item = &str> {
    let parts = words.split(|c: char| c.is_whitespace() || c == ';');
    let parts = parts.flat_map(|part| {
        let commas = part.trim_matches(',');
        // 0,1265 is a decimal comma; 0.1265,0.1260 are two readings.
        if commas.contains('.') {
            commas.split(',').collect::<Vec<_>>()
        } else {
            vec![commas]
        }
    });
    parts.filter(|part| !part.is_empty())
}

fn is_decimal_comma(words: &str) -> bool {
    let with_point = words.replacen(',', ".", 1);
    with_point != words && with_point.parse::<Quantity>().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCHES: Scale = Scale {
        unit: LengthUnit::In,
    };
    const MILLIMETRES: Scale = Scale {
        unit: LengthUnit::Mm,
    };
    /// A tenth of a millimetre to a foot.
    const BOUNDS: (f64, f64) = (0.004, 12.0);

    #[test]
    fn a_bare_number_takes_the_unit_and_another_keeps_its_own() {
        for (words, text) in [
            ("3/8", "3/8 in"),
            ("0.375", "0.375 in"),
            ("9.5 mm", "9.5 mm"),
            ("3/8\"", "3/8\""),
        ] {
            let size = INCHES.read(words, BOUNDS).unwrap();
            assert_eq!(size.text, text);
            assert_eq!(text.parse::<Length>().unwrap(), size.length);
        }
        assert_eq!(MILLIMETRES.read("9.5", BOUNDS).unwrap().text, "9.5 mm");
    }

    #[test]
    fn a_bad_length_says_what_to_type() {
        for (words, part) in [
            ("0,375", "the decimal sign is a point"),
            ("wide", "wide"),
            ("9.5 kg", "not a unit"),
            ("-0.375", "it has no minus sign (got -0.375 in)"),
            ("95", "from 0.004 to 12 in (got 95 in)"),
            ("95", "type it: \"95 mm\" or \"95 thou\""),
            ("376", "type it: \"376 thou\""),
            ("2 deg", "length"),
        ] {
            let message = INCHES.read(words, BOUNDS).unwrap_err();
            assert!(message.contains(part), "{words}: {message}");
        }
        let message = MILLIMETRES.read("950000", BOUNDS).unwrap_err();
        assert!(!message.contains("another unit"), "{message}");
    }

    #[test]
    fn readings_on_one_line() {
        let texts = |words: &str| -> Vec<String> {
            let sizes = INCHES.read_all(words, BOUNDS).unwrap();
            sizes.into_iter().map(|size| size.text).collect()
        };
        assert_eq!(texts("0.1265 0.1260"), ["0.1265 in", "0.1260 in"]);
        assert_eq!(texts("0.1265, 0.1260"), ["0.1265 in", "0.1260 in"]);
        assert_eq!(
            texts("0.1265,0.1260;0.125"),
            ["0.1265 in", "0.1260 in", "0.125 in"]
        );
        assert_eq!(texts("3.2 3.25 mm"), ["3.2 mm", "3.25 mm"]);
        assert_eq!(texts("126 126.5 thou"), ["126 thou", "126.5 thou"]);
        assert_eq!(texts("9.55 mm 9.54 mm"), ["9.55 mm", "9.54 mm"]);
        assert_eq!(texts("376 thou, 375 thou"), ["376 thou", "375 thou"]);
        assert_eq!(texts("3/8\" 3/8 in 0.376"), ["3/8\"", "3/8 in", "0.376 in"]);
        assert_eq!(texts("3/8\" 9.5 mm"), ["3/8\"", "9.5 mm"]);
        assert_eq!(texts(" "), Vec::<String>::new());
        assert!(INCHES.read_all("mm 9.5", BOUNDS).is_err());
        assert!(INCHES.read_all("0,1265 0,1260", BOUNDS).is_err());
        assert!(INCHES.read_all("0.1265 about", BOUNDS).is_err());
    }

    #[test]
    fn what_was_computed_is_rounded() {
        assert_eq!(INCHES.round(0.5624961.inch()).text, "0.5625 in");
        assert_eq!(MILLIMETRES.round(14.28751.mm()).text, "14.288 mm");
    }
}
