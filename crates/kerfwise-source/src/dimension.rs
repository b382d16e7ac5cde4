use std::fmt;

/// The kind of a number: whole exponents of length, angle and moisture content.
///
/// Raw units, in which plain `f64` are kept inside: inch, radian, percent moisture content.
/// A moisture content is a dimension of its own, so that a shrinkage coefficient
/// ("per percent moisture content") cannot be used as a plain ratio by mistake.
///
/// ```
/// use kerfwise_source::Dimension;
///
/// let area = Dimension::LENGTH.times(Dimension::LENGTH).unwrap();
/// assert_eq!(area, Dimension::LENGTH.powi(2).unwrap());
/// assert_eq!(area.to_string(), "length²");
/// assert_eq!(area.per(Dimension::LENGTH), Some(Dimension::LENGTH));
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Dimension {
    length: i8,
    angle: i8,
    moisture: i8,
}

impl Dimension {
    /// A pure number.
    pub const NUMBER: Self = Self::of(0, 0, 0);
    /// A length.
    pub const LENGTH: Self = Self::of(1, 0, 0);
    /// An angle.
    pub const ANGLE: Self = Self::of(0, 1, 0);
    /// A moisture content (percent of the ovendry mass).
    pub const MOISTURE: Self = Self::of(0, 0, 1);

    const fn of(length: i8, angle: i8, moisture: i8) -> Self {
        Self {
            length,
            angle,
            moisture,
        }
    }

    /// The dimension of a product; `None` when an exponent leaves the range −127 to 127.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// assert_eq!(Dimension::LENGTH.times(Dimension::NUMBER), Some(Dimension::LENGTH));
    /// ```
    #[must_use]
    pub fn times(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_add)
    }

    /// The dimension of a ratio; `None` when an exponent leaves the range −127 to 127.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// assert_eq!(Dimension::ANGLE.per(Dimension::ANGLE), Some(Dimension::NUMBER));
    /// ```
    #[must_use]
    pub fn per(self, other: Self) -> Option<Self> {
        self.zip(other, i8::checked_sub)
    }

    /// The dimension of the n-th power; `None` when an exponent leaves the range −127 to 127.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// assert_eq!(Dimension::LENGTH.powi(0), Some(Dimension::NUMBER));
    /// assert_eq!(Dimension::LENGTH.powi(128), None);
    /// assert_eq!(Dimension::LENGTH.powi(-128), None);
    /// ```
    #[must_use]
    pub fn powi(self, n: i32) -> Option<Self> {
        self.each(|exponent| {
            i32::from(exponent)
                .checked_mul(n)
                .and_then(|product| i8::try_from(product).ok())
        })
    }

    /// The dimension of the square root; `None` when an exponent is odd.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// assert_eq!(Dimension::LENGTH.powi(2).unwrap().sqrt(), Some(Dimension::LENGTH));
    /// assert_eq!(Dimension::LENGTH.sqrt(), None);
    /// ```
    #[must_use]
    pub fn sqrt(self) -> Option<Self> {
        self.each(|exponent| (exponent % 2 == 0).then_some(exponent / 2))
    }

    /// The raw unit, as printed: "in", "rad", "%MC", "in²", "in/%MC", "/%MC"; "" for a pure number.
    ///
    /// ```
    /// use kerfwise_source::Dimension;
    /// assert_eq!(Dimension::NUMBER.per(Dimension::MOISTURE).unwrap().raw_unit(), "/%MC");
    /// ```
    #[must_use]
    pub fn raw_unit(self) -> String {
        let exponents = [
            ("in", self.length),
            ("rad", self.angle),
            ("%MC", self.moisture),
        ];
        let mut text = product(&exponents, |n| n > 0, "·");
        let below = product(&exponents, |n| n < 0, "/");
        if !below.is_empty() {
            text.push('/');
            text.push_str(&below);
        }
        text
    }

    fn zip(self, other: Self, f: impl Fn(i8, i8) -> Option<i8>) -> Option<Self> {
        let f = |a, b| f(a, b).filter(has_opposite);
        Some(Self::of(
            f(self.length, other.length)?,
            f(self.angle, other.angle)?,
            f(self.moisture, other.moisture)?,
        ))
    }

    fn each(self, f: impl Fn(i8) -> Option<i8>) -> Option<Self> {
        let f = |n| f(n).filter(has_opposite);
        Some(Self::of(f(self.length)?, f(self.angle)?, f(self.moisture)?))
    }
}

/// Whether an exponent can stand on the other side of the stroke, as "/in¹²⁷" does: −128 cannot.
fn has_opposite(exponent: &i8) -> bool {
    exponent.checked_neg().is_some()
}

/// "length", "pure number", "length²·angle", "length per moisture content".
impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let exponents = [
            ("length", self.length),
            ("angle", self.angle),
            ("moisture content", self.moisture),
        ];
        let above = product(&exponents, |n| n > 0, "·");
        let below = product(&exponents, |n| n < 0, "·");
        f.write_str(if above.is_empty() {
            "pure number"
        } else {
            &above
        })?;
        if below.is_empty() {
            Ok(())
        } else {
            write!(f, " per {below}")
        }
    }
}

/// The words whose exponent is wanted, each with its power, in their order.
fn product(words: &[(&str, i8)], wanted: impl Fn(i8) -> bool, between: &str) -> String {
    let factors: Vec<String> = words
        .iter()
        .filter(|(_, exponent)| wanted(*exponent))
        .map(|(word, exponent)| format!("{word}{}", superscript(exponent.unsigned_abs())))
        .collect();
    factors.join(between)
}

/// The digits that stand for powers, in the order 0 to 9.
pub(crate) const SUPERSCRIPTS: [char; 10] = ['⁰', '¹', '²', '³', '⁴', '⁵', '⁶', '⁷', '⁸', '⁹'];

fn superscript(power: u8) -> String {
    if power == 1 {
        return String::new();
    }
    power
        .to_string()
        .bytes()
        .map(|digit| SUPERSCRIPTS[usize::from(digit - b'0')])
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn prints_in_words_and_in_raw_units() {
        let rows = [
            (Dimension::of(0, 0, 0), "pure number", ""),
            (Dimension::of(1, 0, 0), "length", "in"),
            (Dimension::of(0, 1, 0), "angle", "rad"),
            (Dimension::of(0, 0, 1), "moisture content", "%MC"),
            (Dimension::of(2, 1, 0), "length²·angle", "in²·rad"),
            (
                Dimension::of(1, 0, -1),
                "length per moisture content",
                "in/%MC",
            ),
            (
                Dimension::of(0, 0, -1),
                "pure number per moisture content",
                "/%MC",
            ),
            (
                Dimension::of(1, -12, -1),
                "length per angle¹²·moisture content",
                "in/rad¹²/%MC",
            ),
        ];
        for (dimension, words, unit) in rows {
            assert_eq!(dimension.to_string(), words);
            assert_eq!(dimension.raw_unit(), unit);
        }
    }

    #[test]
    fn an_exponent_out_of_range_is_none() {
        let top = Dimension::of(127, 0, 0);
        assert_eq!(top.times(Dimension::LENGTH), None);
        assert_eq!(Dimension::of(-128, 0, 0).per(Dimension::LENGTH), None);
        assert_eq!(top.powi(i32::MAX), None);
        assert_eq!(Dimension::of(-128, 0, 0).powi(-1), None);
    }

    fn small() -> impl Strategy<Value = Dimension> {
        (-20_i8..=20, -20_i8..=20, -20_i8..=20).prop_map(|(l, a, m)| Dimension::of(l, a, m))
    }

    proptest! {
        #[test]
        fn products_and_ratios_form_a_group(a in small(), b in small(), c in small()) {
            let times = |x: Dimension, y| x.times(y).unwrap();
            prop_assert_eq!(times(a, b), times(b, a));
            prop_assert_eq!(times(times(a, b), c), times(a, times(b, c)));
            prop_assert_eq!(times(a, Dimension::NUMBER), a);
            prop_assert_eq!(a.per(a), Some(Dimension::NUMBER));
            prop_assert_eq!(times(a, b).per(b), Some(a));
        }

        #[test]
        fn powers_add_and_roots_undo_squares(a in small(), m in -3_i32..=3, n in -3_i32..=3) {
            let power = |n| a.powi(n).unwrap();
            prop_assert_eq!(power(m).times(power(n)), a.powi(m + n));
            prop_assert_eq!(power(2).sqrt(), Some(a));
            prop_assert_eq!(power(1), a);
        }

        #[test]
        fn different_dimensions_print_differently(a in small(), b in small()) {
            prop_assert_eq!(a == b, a.to_string() == b.to_string());
            prop_assert_eq!(a == b, a.raw_unit() == b.raw_unit());
        }
    }
}
