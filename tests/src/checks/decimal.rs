/// A number as a document prints it: its value, and half a unit of its last digit.
#[derive(Debug, Clone, PartialEq)]
pub struct Decimal {
    /// The text.
    pub text: String,
    /// The number.
    pub value: f64,
    /// Half a unit of the last digit.
    pub half_unit: f64,
}

impl Decimal {
    /// Reads `1.96`, `-0.30`, `0.749e-2`, `50000838`.
    ///
    /// # Errors
    /// When it is no finite number.
    pub fn read(text: &str) -> Result<Self, String> {
        let value: f64 = text
            .parse()
            .ok()
            .filter(|x: &f64| x.is_finite())
            .ok_or_else(|| format!("{text:?} is no decimal number"))?;
        let (digits, exponent) = text.split_once(['e', 'E']).unwrap_or((text, "0"));
        let exponent: i32 = exponent
            .parse()
            .map_err(|_| format!("{text:?} has an odd exponent"))?;
        let decimals = digits.split_once('.').map_or(0, |(_, after)| after.len());
        let last = exponent - i32::try_from(decimals).unwrap_or(0);
        Ok(Self {
            text: text.to_owned(),
            value,
            half_unit: 0.5 * power_of_ten(last),
        })
    }

    /// Half a unit of the n-th significant digit of its value.
    pub fn half_unit_of(&self, significant: i32) -> f64 {
        0.5 * power_of_ten(leading(self.value) - significant + 1)
    }
}

/// The decimal exponent of the first digit; 0 for 0.
pub(super) fn leading(x: f64) -> i32 {
    format!("{:e}", x.abs())
        .split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0)
}

/// 10^n, correctly rounded.
pub(super) fn power_of_ten(n: i32) -> f64 {
    format!("1e{n}").parse().unwrap_or(f64::NAN)
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;

    #[test]
    fn the_last_digit_sets_the_tolerance() {
        let half = |text: &str| Decimal::read(text).unwrap().half_unit;
        assert_eq!(half("1.96"), 0.005);
        assert_eq!(half("2.00"), 0.005);
        assert_eq!(half("50000838"), 0.5);
        assert_eq!(half("0.58e-6"), 0.005e-6);
        assert_eq!(half("-0.30"), 0.005);
        assert!(Decimal::read("about 2").is_err());
        assert!(Decimal::read("NaN").is_err());
    }

    #[test]
    fn significant_digits_are_counted_from_the_first() {
        let half = |text: &str, n| Decimal::read(text).unwrap().half_unit_of(n);
        assert_eq!(half("123.4", 3), 0.5);
        assert_eq!(half("0.00999", 2), 0.00005);
        assert_eq!(half("-5e-300", 1), 0.5e-300);
    }
}
