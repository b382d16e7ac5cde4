//! Values of options, as makers write them.

use kerfwise::prelude::{Length, Quantity};

/// A chance or a share: 0.95, 95% or "95 %"; which ones make sense, each command says.
pub(super) fn chance(text: &str) -> Result<f64, String> {
    let wrong = || format!("a chance is written 0.95 or 95% (got \"{text}\")");
    let bare = text.trim();
    let (number, is_percent) = match bare.strip_suffix('%') {
        Some(number) => (number.trim_end(), true),
        None => (bare, false),
    };
    let number: f64 = number.parse().map_err(|_| wrong())?;
    let chance = if is_percent { number / 100.0 } else { number };
    if (0.0..=1.0).contains(&chance) {
        return Ok(chance);
    }
    if !is_percent && (1.0..=100.0).contains(&number) {
        let share = (1e6 * number).round() / 1e8;
        return Err(format!(
            "a chance is at most 1: write {share} or {number}% (got {number})"
        ));
    }
    Err(wrong())
}

/// Minutes: 5, 5min or "5 min".
pub(super) fn minutes(text: &str) -> Result<f64, String> {
    let bare = text.trim();
    let number = ["minutes", "minute", "min"]
        .iter()
        .find_map(|unit| bare.strip_suffix(unit))
        .unwrap_or(bare);
    match number.trim_end().parse::<f64>() {
        Ok(minutes) if (0.0..=1e6).contains(&minutes) => Ok(minutes),
        _ => Err("minutes are a number from 0 to 1000000, such as 5 or 5min".into()),
    }
}

/// Pieces of a batch.
pub(super) fn pieces(text: &str) -> Result<u32, String> {
    count(text, 1, "pieces of a batch")
}

/// Joints that are cut after a first one.
pub(super) fn others(text: &str) -> Result<u32, String> {
    count(text, 0, "joints that follow")
}

fn count(text: &str, least: u32, what: &str) -> Result<u32, String> {
    const MOST: u32 = 10_000;
    match text.trim().parse::<u32>() {
        Ok(count) if (least..=MOST).contains(&count) => Ok(count),
        _ => Err(format!(
            "{what} are a whole number from {least} to {MOST}, such as 24"
        )),
    }
}

/// The step in which a gauge shows.
pub(super) fn step(text: &str) -> Result<Length, String> {
    if text.trim_start().starts_with(['-', '\u{2212}']) {
        return Err("resolution is a step, which has no minus sign".to_owned());
    }
    text.parse::<Length>().map_err(|error| error.to_string())
}

/// What a gauge shows of a width.
pub(super) fn width(text: &str) -> Result<Length, String> {
    if text.trim_start().starts_with(['-', '\u{2212}']) {
        return Err("a width has no minus sign".to_owned());
    }
    text.parse::<Length>().map_err(|error| error.to_string())
}

/// A spread, which has no sign either.
pub(super) fn spread(text: &str) -> Result<Quantity, String> {
    if text.trim_start().starts_with(['-', '\u{2212}']) {
        return Err("a spread has no minus sign".to_owned());
    }
    text.parse::<Quantity>().map_err(|error| error.to_string())
}

/// So many readings to start from.
pub(super) fn first(text: &str) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(count) if count >= 2 => Ok(count),
        _ => Err("readings to start from must be a whole number of at least 2, such as 20".into()),
    }
}

#[cfg(test)]
#[expect(
    clippy::float_cmp,
    reason = "what is written in decimals is the nearest number to them"
)]
mod tests {
    use super::*;

    #[test]
    fn chances_and_minutes_are_read_as_they_are_written() {
        for text in ["0.98", "98%", "98 %", " 98 % "] {
            assert_eq!(chance(text).unwrap(), 0.98, "{text}");
        }
        let said = chance("95").unwrap_err();
        assert!(said.contains("write 0.95 or 95%"), "{said}");
        for text in ["many", "150%", "-0.1", "nan", ""] {
            let said = chance(text).unwrap_err();
            assert!(said.contains("0.95 or 95%"), "{text}: {said}");
        }
        for text in ["5", "5min", "5 min", "5 minutes"] {
            assert_eq!(minutes(text).unwrap(), 5.0, "{text}");
        }
        assert!(minutes("5 h").is_err() && minutes("-5").is_err() && minutes("nan").is_err());
    }

    #[test]
    fn pieces_are_counted() {
        assert_eq!((pieces("24"), others("0")), (Ok(24), Ok(0)));
        for text in [
            "0",
            "-3",
            "10000000",
            "99999999999999999999",
            "2.5",
            "many",
            "",
        ] {
            let said = pieces(text).unwrap_err();
            assert!(said.contains("from 1 to 10000"), "{text}: {said}");
        }
        assert!(step("-1mm").unwrap_err().contains("no minus sign") && step("1mm").is_ok());
    }

    #[test]
    fn a_width_has_no_minus_sign() {
        assert!(width("-0.3775in").unwrap_err().contains("no minus sign"));
        assert!(width("0.3775in").is_ok() && width("snug").is_err());
        assert!(spread("-1thou").is_err() && spread("1thou").is_ok());
    }
}
