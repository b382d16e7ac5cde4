//! Numbers as people write them.

/// Beyond these sizes digits are counted by an exponent.
const PLAIN: std::ops::Range<f64> = 1e-9..1e9;

/// Decimals that show so many significant digits of a number of this size; 0 when it has none (0, infinite).
pub(super) fn decimals(size: f64, digits: usize) -> usize {
    const MOST: i64 = 17;
    if !(size.abs() > 0.0 && size.is_finite()) {
        return 0;
    }
    // The exponent after rounding: 0.0996 has two digits as 0.10, so its exponent is -1.
    let text = format!("{:.*e}", digits.saturating_sub(1), size.abs());
    let exponent: i64 = text
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0);
    let wanted = digits as i64 - 1 - exponent;
    usize::try_from(wanted.clamp(0, MOST)).unwrap_or(0)
}

/// With so many decimals, and no minus before a zero.
pub(super) fn fixed(x: f64, decimals: usize) -> String {
    let text = if x.abs() < PLAIN.end {
        format!("{x:.decimals$}")
    } else {
        format!("{x:.5e}")
    };
    match text.strip_prefix('-') {
        Some(zero) if zero.chars().all(|c| c == '0' || c == '.') => zero.to_owned(),
        _ => text,
    }
}

/// With so many significant digits.
pub(super) fn significant(x: f64, digits: usize) -> String {
    if x.abs() <= 0.0 {
        "0".to_owned()
    } else if PLAIN.contains(&x.abs()) {
        fixed(x, decimals(x, digits))
    } else {
        format!("{x:.*e}", digits.saturating_sub(1))
    }
}

/// With up to so many significant digits, without zeros at the end.
pub(super) fn shortest(x: f64, digits: usize) -> String {
    let text = significant(x, digits);
    if text.contains('.') && !text.contains('e') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_as_by_hand() {
        assert_eq!(significant(0.0996, 2), "0.10");
        assert_eq!(significant(1234.0, 2), "1234");
        assert_eq!(significant(-1.2e-11, 2), "-1.2e-11");
        assert_eq!(significant(0.0, 3), "0");
        assert_eq!(shortest(0.5, 6), "0.5");
        assert_eq!(shortest(-1.0, 6), "-1");
        assert_eq!(shortest(0.4213, 2), "0.42");
        assert_eq!(shortest(4.0, 3), "4");
        assert_eq!(shortest(120.0, 2), "120");
        assert_eq!(shortest(1e300, 3), "1.00e300");
        assert_eq!(fixed(-0.0004, 2), "0.00");
        assert_eq!(fixed(1e300, 3), "1.00000e300");
        assert_eq!(
            (
                decimals(0.0, 2),
                decimals(f64::INFINITY, 2),
                decimals(0.0017, 2)
            ),
            (0, 0, 4)
        );
    }
}
