//! The units that text may carry, and what to say about a word that is none of them.

use crate::Dimension;
use std::f64::consts::PI;

/// raw = number · times / over: two factors, because 1/25.4 is no binary number.
pub(crate) struct Unit {
    names: &'static [&'static str],
    pub(crate) dimension: Dimension,
    pub(crate) times: f64,
    pub(crate) over: f64,
}

const fn unit(names: &'static [&'static str], dimension: Dimension, times: f64, over: f64) -> Unit {
    Unit {
        names,
        dimension,
        times,
        over,
    }
}

static UNITS: [Unit; 13] = [
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

pub(crate) fn find_unit(name: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.names.contains(&name))
}

/// The units in which people give a quantity of this dimension.
pub(crate) fn usual_units(dimension: Dimension) -> String {
    match dimension {
        Dimension::LENGTH => "in, thou, mm".to_owned(),
        Dimension::ANGLE => "deg, arcmin, rad".to_owned(),
        other => other.raw_unit(),
    }
}

/// The message about a word that is not a unit: what it might have meant, and what there is.
pub(crate) fn not_a_unit(name: &str) -> String {
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

/// The name that differs only in capitals, else at most three that are one slip of the finger away.
fn near_names(name: &str) -> Vec<&'static str> {
    let mut names = UNITS.iter().flat_map(|unit| unit.names).copied();
    if let Some(same) = names.find(|known| known.eq_ignore_ascii_case(name)) {
        return vec![same];
    }
    // A single sign is one slip away from every other one.
    let is_near = |known: &&str| known.chars().count() > 1 && is_one_slip_away(name, known);
    UNITS
        .iter()
        .filter_map(|unit| unit.names.iter().copied().find(is_near))
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
