//! Numbers as people read them.

use crate::Unit;

/// A minus sign that is as wide as a plus sign.
fn signed(text: String) -> String {
    text.replace('-', "−")
}

/// A chance in percent with two decimals; what would be lost in them is told as a limit, since more digits of so rare a
/// thing are only in the way. JSON has them all.
///
/// 0.9312 is "93.12 %"; 0.00002 is "<0.01 %"; 0.999995 is ">99.99 %"; 0 is "0 %".
pub(crate) fn percent(p: f64) -> String {
    match p {
        p if !p.is_finite() => "?".into(),
        p if p <= 0.0 => "0 %".into(),
        p if p >= 1.0 => "100 %".into(),
        p if p < 1e-4 => "<0.01 %".into(),
        p if p > 1.0 - 1e-4 => ">99.99 %".into(),
        p => format!("{:.2} %", p * 100.0),
    }
}

/// "About 87 joints in 100", rounded so that nothing uncertain becomes certain.
pub(crate) fn in_a_hundred(p: f64) -> String {
    if p >= 0.9995 {
        format!("{} in 10,000", count(((p * 1e4).floor() as u64).min(9_999)))
    } else if !(0.005..0.995).contains(&p) {
        format!("{} in {}", (p * 1e3).round() as u64, "1,000")
    } else {
        format!("{} in 100", (p * 100.0).round() as u64)
    }
}

/// A deviation or a spread: thou with one decimal, or millimetres with three; more digits when small.
pub(crate) fn deviation(inches: f64, unit: Unit) -> String {
    signed(plain_deviation(inches, unit))
}

fn plain_deviation(inches: f64, unit: Unit) -> String {
    let (value, name, decimals) = match unit {
        Unit::Inch => (inches * 1000.0, "thou", 1),
        Unit::Millimetre => (inches * 25.4, "mm", 3),
    };
    format!("{} {name}", with_decimals(value, decimals))
}

/// A standard uncertainty or a contribution: two significant digits.
pub(crate) fn spread(inches: f64, unit: Unit) -> String {
    let (value, name) = match unit {
        Unit::Inch => (inches * 1000.0, "thou"),
        Unit::Millimetre => (inches * 25.4, "mm"),
    };
    signed(format!("{} {name}", two_digits(value)))
}

/// What raw numbers are multiplied by where deviations and spreads are shown, and the name of that unit.
pub(crate) fn scale(raw_unit: &str, unit: Unit) -> (f64, &str) {
    match (raw_unit, unit) {
        ("in", Unit::Inch) => (1000.0, "thou"),
        ("in", Unit::Millimetre) => (25.4, "mm"),
        _ => (1.0, raw_unit),
    }
}

/// The decimals of an uncertainty that is told with two significant digits (JCGM 100:2008, 7.2.6).
fn decimals_beside(u: f64) -> usize {
    let shown = two_digits(u);
    // A spread so small or so large that it has an exponent says nothing of decimals.
    match shown.split_once('.') {
        _ if shown.contains('e') => 4,
        Some((_, decimals)) => decimals.len(),
        None => 0,
    }
}

/// A value with the decimals of its uncertainty, without a unit; both in the raw unit. Without an uncertainty above 0 as if
/// there were none.
pub(crate) fn bare_beside(value: f64, u: f64, raw_unit: &str, unit: Unit) -> String {
    let (factor, _) = scale(raw_unit, unit);
    let (value, u) = (value * factor, u * factor);
    signed(if u > 0.0 && u.is_finite() && value.is_finite() {
        with_decimals(value, decimals_beside(u))
    } else {
        four_digits(value)
    })
}

/// The same with its unit.
pub(crate) fn beside_uncertainty(value: f64, u: f64, raw_unit: &str, unit: Unit) -> String {
    with_unit(bare_beside(value, u, raw_unit, unit), raw_unit, unit)
}

/// A spread with two significant digits, without a unit.
pub(crate) fn bare_spread(u: f64, raw_unit: &str, unit: Unit) -> String {
    signed(two_digits(u * scale(raw_unit, unit).0))
}

/// "−4.9 … 4.5", with the decimals that go with a standard uncertainty; what is guaranteed is rounded outwards.
pub(crate) fn bare_interval(
    (lower, upper): (f64, f64),
    u: f64,
    is_guaranteed: bool,
    raw_unit: &str,
    unit: Unit,
) -> String {
    let factor = scale(raw_unit, unit).0;
    let (low, high) = (lower * factor, upper * factor);
    let decimals = if u > 0.0 && u.is_finite() {
        decimals_beside(u * factor)
    } else {
        decimals_of((high - low) / 4.0, 2)
    };
    // Steps of the last decimal, of which a bound may lack one after rounding.
    let step: f64 = format!("1e-{decimals}").parse().unwrap_or(0.0);
    let outwards = |x: f64, way: f64| {
        let text = with_decimals(x, decimals);
        let is_short = text
            .parse::<f64>()
            .is_ok_and(|shown| way * (x - shown) > step * 1e-9);
        if is_guaranteed && is_short {
            with_decimals(x + way * step, decimals)
        } else {
            text
        }
    };
    signed(format!("{} … {}", outwards(low, -1.0), outwards(high, 1.0)))
}

/// "0.35 to 0.63 thou": a unit that both ends have is told once.
pub(crate) fn to(lower: &str, upper: &str) -> String {
    let (low, high) = (lower.split_once(' '), upper.split_once(' '));
    let lower = match (low, high) {
        (Some((number, name)), Some((_, same))) if name == same => number,
        _ => lower,
    };
    format!("{lower} to {upper}")
}

/// An estimate with the decimals of its standard uncertainty: inches or millimetres, the rest as it is.
pub(crate) fn estimate(value: f64, u: f64, raw_unit: &str, unit: Unit) -> String {
    let (factor, name) = match (raw_unit, unit) {
        ("in", Unit::Millimetre) => (25.4, "mm"),
        _ => (1.0, raw_unit),
    };
    if !(u > 0.0 && u.is_finite() && value.is_finite()) {
        return raw(value, raw_unit, unit);
    }
    let number = with_decimals(factor * value, decimals_of(factor * u, 2));
    signed(format!("{number} {name}").trim_end().to_owned())
}

/// A limit that somebody chose, so that it has no more digits than were chosen.
pub(crate) fn limit(value: f64, raw_unit: &str, unit: Unit) -> String {
    let number = four_digits(value * scale(raw_unit, unit).0);
    with_unit(signed(number), raw_unit, unit)
}

/// A sensitivity coefficient with its sign: three decimals, more digits where it is small.
pub(crate) fn coefficient(value: f64) -> String {
    let size = if value == 0.0 || value.abs() >= 0.1 {
        format!("{:.3}", value.abs())
    } else {
        significant(value.abs(), 3)
    };
    signed(format!("{}{size}", if value < 0.0 { '-' } else { '+' }))
}

fn with_unit(number: String, raw_unit: &str, unit: Unit) -> String {
    let name = scale(raw_unit, unit).1;
    format!("{number} {name}").trim_end().to_owned()
}

/// A length: inches with five decimals at the most, or millimetres with three.
pub(crate) fn length(inches: f64, unit: Unit) -> String {
    let text = match unit {
        Unit::Inch => format!("{} in", trimmed(inches, 5, 3)),
        Unit::Millimetre => format!("{} mm", trimmed(inches * 25.4, 3, 2)),
    };
    signed(text)
}

/// A setting of the dial: four decimals of an inch, or hundredths of a millimetre.
pub(crate) fn dial(inches: f64, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{} in", trimmed(inches, 5, 4)),
        Unit::Millimetre => format!("{} mm", trimmed(inches * 25.4, 4, 2)),
    }
}

/// A thickness as a caliper is read: tenths of a thou, or hundredths of a millimetre.
pub(crate) fn thickness(inches: f64, unit: Unit) -> String {
    match unit {
        Unit::Inch => format!("{inches:.4} in"),
        Unit::Millimetre => format!("{:.2} mm", inches * 25.4),
    }
}

/// A raw number with its raw unit: lengths in the wanted unit, the rest as it is.
pub(crate) fn raw(value: f64, raw_unit: &str, unit: Unit) -> String {
    if raw_unit == "in" {
        return length(value, unit);
    }
    let number = if value == 0.0 {
        "0".into()
    } else {
        four_digits(value)
    };
    signed(if raw_unit.is_empty() {
        number
    } else {
        format!("{number} {raw_unit}")
    })
}

/// As [`raw`], with more digits where an interval of this width would be lost in the usual ones.
pub(crate) fn raw_within(value: f64, width: f64, raw_unit: &str, unit: Unit) -> String {
    let (usual, factor, name) = match (raw_unit, unit) {
        ("in", Unit::Inch) => (5, 1.0, "in"),
        ("in", Unit::Millimetre) => (3, 25.4, "mm"),
        _ => (decimals_of(value, 4), 1.0, raw_unit),
    };
    let decimals = decimals_of(factor * width, 2);
    if decimals <= usual {
        return raw(value, raw_unit, unit);
    }
    let number = with_decimals(factor * value, decimals);
    signed(format!("{number} {name}").trim_end().to_owned())
}

/// A spread in the digits of an interval of this width.
pub(crate) fn spread_within(value: f64, width: f64, raw_unit: &str, unit: Unit) -> String {
    let factor = scale(raw_unit, unit).0;
    let number = with_decimals(factor * value, decimals_of(factor * width, 2));
    with_unit(signed(number), raw_unit, unit)
}

/// Decimals that show so many significant digits of a value; 12 at the most.
fn decimals_of(value: f64, digits: i32) -> usize {
    let scientific = format!("{value:.0e}");
    let exponent = scientific.split_once('e').and_then(|(_, e)| e.parse().ok());
    let exponent: i32 = exponent.unwrap_or(0);
    (digits - 1 - exponent).clamp(0, 12) as usize
}

/// Two significant digits.
pub(crate) fn two_digits(value: f64) -> String {
    significant(value, 2)
}

fn four_digits(value: f64) -> String {
    let text = significant(value, 4);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 {
        return "0".into();
    }
    if !value.is_finite() {
        return "?".into();
    }
    // Let the formatter find the exponent after rounding: 9.96 with two digits is 1.0e1.
    let scientific = format!("{value:.*e}", digits - 1);
    let exponent: i32 = scientific
        .split('e')
        .nth(1)
        .and_then(|e| e.parse().ok())
        .unwrap_or(0);
    if !(-6..=7).contains(&exponent) {
        return scientific;
    }
    let decimals = (digits as i32 - 1 - exponent).max(0) as usize;
    format!("{value:.decimals$}")
}

fn with_decimals(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    // Rounding a tiny negative number must not print "-0.0".
    if text
        .trim_start_matches('-')
        .chars()
        .all(|c| matches!(c, '0' | '.'))
    {
        text.trim_start_matches('-').to_owned()
    } else {
        text
    }
}

/// At most `most` decimals, without trailing zeros beyond `least` decimals.
fn trimmed(value: f64, most: usize, least: usize) -> String {
    let mut text = with_decimals(value, most);
    let point = text.find('.').unwrap_or(text.len());
    while text.ends_with('0') && text.len() > point + 1 + least {
        text.pop();
    }
    text
}

/// Degrees of freedom: whole where they are, one decimal else, "∞" when unlimited.
pub(crate) fn degrees_of_freedom(dof: f64) -> String {
    if dof.is_infinite() || dof > 1e5 {
        "∞".into()
    } else if (dof - dof.round()).abs() < 1e-9 {
        format!("{dof:.0}")
    } else {
        format!("{dof:.1}")
    }
}

/// A whole number with thousands apart.
pub(crate) fn count(n: u64) -> String {
    let digits = n.to_string();
    let mut text = String::new();
    for (i, c) in digits.chars().enumerate() {
        if i > 0 && (digits.len() - i).is_multiple_of(3) {
            text.push(',');
        }
        text.push(c);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_keep_what_matters() {
        assert_eq!(percent(0.9312), "93.12 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.00002), "<0.01 %");
        assert_eq!(percent(0.999_995), ">99.99 %");
        assert_eq!(percent(0.000_16), "0.02 %");
        assert_eq!(percent(f64::NAN), "?");
        assert_eq!(in_a_hundred(0.874), "87 in 100");
        assert_eq!(in_a_hundred(0.999), "999 in 1,000");
        assert_eq!(in_a_hundred(0.999_999_9), "9,999 in 10,000");
    }

    #[test]
    fn lengths_are_rounded_to_what_a_maker_reads() {
        assert_eq!(deviation(-0.01234, Unit::Inch), "−12.3 thou");
        assert_eq!(deviation(-0.000_001, Unit::Inch), "0.0 thou");
        assert_eq!(deviation(0.005, Unit::Millimetre), "0.127 mm");
        assert_eq!(spread(0.000_436, Unit::Inch), "0.44 thou");
        assert_eq!(spread(0.000_996, Unit::Inch), "1.0 thou");
        assert_eq!(length(0.375, Unit::Inch), "0.375 in");
        assert_eq!(dial(0.5, Unit::Inch), "0.5000 in");
        assert_eq!(dial(0.4985, Unit::Millimetre), "12.6619 mm");
        assert_eq!(raw(0.00169, "%MC⁻¹", Unit::Inch), "0.00169 %MC⁻¹");
    }

    #[test]
    fn narrow_intervals_get_more_digits() {
        let value = |x, width| raw_within(x, width, "in", Unit::Inch);
        assert_eq!(value(0.374_498_1, 0.001), "0.3745 in");
        assert_eq!(value(0.374_498_1, 4e-6), "0.3744981 in");
        assert_eq!(
            raw_within(0.3745, 4e-6, "in", Unit::Millimetre),
            "9.51230 mm"
        );
        assert_eq!(raw_within(7.25, 0.001, "%MC", Unit::Inch), "7.2500 %MC");
        assert_eq!(raw_within(-7.25, 0.5, "", Unit::Inch), "−7.25");
        let spread = |x| spread_within(x, 3e-6, "in", Unit::Inch);
        assert_eq!(spread(0.000_998_6), "0.9986 thou");
    }

    #[test]
    fn a_value_has_the_decimals_of_its_uncertainty() {
        let shown = |value, u| beside_uncertainty(value, u, "in", Unit::Inch);
        assert_eq!(shown(-0.000_228, 0.0047), "−0.2 thou");
        assert_eq!(shown(0.123_456, 0.012), "123 thou");
        assert_eq!(shown(0.123_456, 0.000_02), "123.456 thou");
        assert_eq!(shown(0.5, 0.0), "500 thou");
        assert_eq!(
            beside_uncertainty(1.0, 0.01, "in", Unit::Millimetre),
            "25.40 mm"
        );
        assert_eq!(beside_uncertainty(7.25, 0.3, "%MC", Unit::Inch), "7.25 %MC");
    }

    #[test]
    fn an_interval_has_the_decimals_of_the_uncertainty_and_a_bound_is_never_rounded_inwards() {
        let shown = |ends, u, is_bound| bare_interval(ends, u, is_bound, "in", Unit::Inch);
        assert_eq!(shown((-0.00487, 0.00446), 0.0024, false), "−4.9 … 4.5");
        assert_eq!(shown((-0.00487, 0.00446), 0.000_24, false), "−4.87 … 4.46");
        assert_eq!(shown((-0.02391, 0.02341), 0.0024, true), "−24.0 … 23.5");
        assert_eq!(shown((-0.024, 0.0235), 0.0024, true), "−24.0 … 23.5");
        assert_eq!(shown((-0.0239, 0.0234), 0.0, true), "−24 … 24");
        let mm = bare_interval((-0.01, 0.01), 0.0024, false, "in", Unit::Millimetre);
        assert_eq!(mm, "−0.254 … 0.254");
        assert_eq!(to("0.35 thou", "0.63 thou"), "0.35 to 0.63 thou");
        assert_eq!(to("none", "0.63 thou"), "none to 0.63 thou");
    }

    #[test]
    fn estimates_and_limits_have_the_digits_that_they_are_worth() {
        assert_eq!(estimate(0.126_12, 0.000_18, "in", Unit::Inch), "0.12612 in");
        assert_eq!(estimate(0.718_75, 0.001, "in", Unit::Inch), "0.7188 in");
        assert_eq!(estimate(-0.0, 0.3, "%MC", Unit::Inch), "0.00 %MC");
        assert_eq!(estimate(0.375, 0.0, "in", Unit::Inch), "0.375 in");
        assert_eq!(coefficient(-0.5), "−0.500");
        assert_eq!(coefficient(0.001_19), "+0.00119");
        assert_eq!(limit(0.005, "in", Unit::Inch), "5 thou");
        assert_eq!(limit(-0.0025, "in", Unit::Inch), "−2.5 thou");
        assert_eq!(limit(0.005, "in", Unit::Millimetre), "0.127 mm");
    }

    #[test]
    fn counts_and_degrees_of_freedom() {
        assert_eq!(count(200_000), "200,000");
        assert_eq!(count(7), "7");
        assert_eq!(degrees_of_freedom(f64::INFINITY), "∞");
        assert_eq!(degrees_of_freedom(9.0), "9");
        assert_eq!(degrees_of_freedom(16.73), "16.7");
    }
}
