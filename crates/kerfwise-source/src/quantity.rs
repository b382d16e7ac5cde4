//! Numbers with units. Text is read in `parse`, written in `print`.

use crate::Dimension;
use std::f64::consts::PI;
use std::ops::{Add, Div, Mul, Neg, Sub};

/// A number with its dimension. The number is held in the raw unit of the dimension.
///
/// ```
/// use kerfwise_source::{Dimension, LengthUnits, Quantity};
///
/// let mortise = Quantity::from(0.375.inch());
/// assert_eq!(mortise.raw(), 0.375);
/// assert_eq!(mortise.dimension(), Dimension::LENGTH);
/// assert_eq!("3/8 in".parse::<Quantity>()?, mortise);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    raw: f64,
    dimension: Dimension,
}

impl Quantity {
    /// From a number in the raw unit.
    #[must_use]
    pub const fn new(raw: f64, dimension: Dimension) -> Self {
        Self { raw, dimension }
    }

    /// The number in the raw unit: inch, radian, percent moisture content, or products of these.
    #[must_use]
    pub const fn raw(self) -> f64 {
        self.raw
    }

    /// The dimension.
    #[must_use]
    pub const fn dimension(self) -> Dimension {
        self.dimension
    }

    /// As a length, or `None` if it is none.
    #[must_use]
    pub fn length(self) -> Option<Length> {
        (self.dimension == Dimension::LENGTH).then_some(Length(self.raw))
    }

    /// As an angle, or `None` if it is none.
    #[must_use]
    pub fn angle(self) -> Option<Angle> {
        (self.dimension == Dimension::ANGLE).then_some(Angle(self.raw))
    }

    /// As a moisture content, or `None` if it is none.
    #[must_use]
    pub fn moisture_content(self) -> Option<MoistureContent> {
        (self.dimension == Dimension::MOISTURE).then_some(MoistureContent(self.raw))
    }

    /// As a pure number, or `None` if it is none.
    #[must_use]
    pub fn number(self) -> Option<f64> {
        (self.dimension == Dimension::NUMBER).then_some(self.raw)
    }
}

impl From<f64> for Quantity {
    fn from(x: f64) -> Self {
        Self::new(x, Dimension::NUMBER)
    }
}

impl From<Length> for Quantity {
    fn from(x: Length) -> Self {
        Self::new(x.to_inches(), Dimension::LENGTH)
    }
}

impl From<Angle> for Quantity {
    fn from(x: Angle) -> Self {
        Self::new(x.to_radians(), Dimension::ANGLE)
    }
}

impl From<MoistureContent> for Quantity {
    fn from(x: MoistureContent) -> Self {
        Self::new(x.to_percent(), Dimension::MOISTURE)
    }
}

/// A length (held in inches).
///
/// ```
/// use kerfwise_source::{Length, LengthUnits};
///
/// let mortise: Length = "3/8 in".parse()?;
/// let tenon = mortise - 2.thou();
/// assert_eq!(tenon.to_inches(), 0.373);
/// assert_eq!(tenon.display_fraction(64), "3/8 in - 2 thou");
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length(f64);

impl Length {
    /// From inches.
    #[must_use]
    pub const fn from_inches(x: f64) -> Self {
        Self(x)
    }

    /// From millimetres (an inch is exactly 25.4 mm).
    ///
    /// ```
    /// assert_eq!(kerfwise_source::Length::from_mm(25.4).to_inches(), 1.0);
    /// ```
    #[must_use]
    pub fn from_mm(x: f64) -> Self {
        Self(x / 25.4)
    }

    /// From thousandths of an inch.
    ///
    /// ```
    /// assert_eq!(kerfwise_source::Length::from_thou(2.0).to_inches(), 0.002);
    /// ```
    #[must_use]
    pub fn from_thou(x: f64) -> Self {
        Self(x / 1000.0)
    }

    /// In inches.
    #[must_use]
    pub const fn to_inches(self) -> f64 {
        self.0
    }

    /// In millimetres; of a length made by [`Length::from_mm`] the same number to within one unit in the last place.
    ///
    /// ```
    /// assert_eq!(kerfwise_source::Length::from_inches(0.5).to_mm(), 12.7);
    /// ```
    #[must_use]
    pub fn to_mm(self) -> f64 {
        self.0 * 25.4
    }

    /// In thousandths of an inch.
    ///
    /// ```
    /// assert_eq!(kerfwise_source::Length::from_inches(0.375).to_thou(), 375.0);
    /// ```
    #[must_use]
    pub fn to_thou(self) -> f64 {
        self.0 * 1000.0
    }
}

/// An angle (held in radians).
///
/// ```
/// use kerfwise_source::{Angle, AngleUnits};
///
/// let tilt: Angle = "15 arcmin".parse()?;
/// assert!((tilt.to_degrees() - 0.25).abs() < 1e-15);
/// assert_eq!("0.25 deg".parse::<Angle>()?, 0.25.degrees());
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);

impl Angle {
    /// From radians.
    #[must_use]
    pub const fn from_radians(x: f64) -> Self {
        Self(x)
    }

    /// From degrees.
    ///
    /// ```
    /// use std::f64::consts::PI;
    /// assert_eq!(kerfwise_source::Angle::from_degrees(180.0).to_radians(), PI);
    /// ```
    #[must_use]
    pub fn from_degrees(x: f64) -> Self {
        Self(x * (PI / 180.0))
    }

    /// In radians.
    #[must_use]
    pub const fn to_radians(self) -> f64 {
        self.0
    }

    /// In degrees.
    ///
    /// ```
    /// use std::f64::consts::PI;
    /// assert_eq!(kerfwise_source::Angle::from_radians(PI).to_degrees(), 180.0);
    /// ```
    #[must_use]
    pub fn to_degrees(self) -> f64 {
        self.0 * (180.0 / PI)
    }
}

/// A moisture content, or a difference of two, in percent of the ovendry mass.
///
/// ```
/// use kerfwise_source::MoistureContent;
///
/// let shop: MoistureContent = "8 %MC".parse()?;
/// let house = MoistureContent::from_percent(6.5);
/// assert_eq!((shop - house).to_percent(), 1.5);
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct MoistureContent(f64);

impl MoistureContent {
    /// From percent.
    #[must_use]
    pub const fn from_percent(x: f64) -> Self {
        Self(x)
    }

    /// In percent.
    #[must_use]
    pub const fn to_percent(self) -> f64 {
        self.0
    }
}

/// What the three have in common: they add among themselves, are scaled by plain numbers,
/// and their ratio is a plain number.
macro_rules! arithmetic {
    ($($name:ident),+) => {$(
        impl $name {
            /// Without its sign.
            #[must_use]
            pub const fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Mul<$name> for f64 {
            type Output = $name;
            fn mul(self, of: $name) -> $name {
                of * self
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
    )+};
}
arithmetic!(Length, Angle, MoistureContent);

/// Lengths as literals: `0.4.thou()`, `9.5.mm()`, `0.375.inch()`, `2.thou()`.
///
/// ```
/// use kerfwise_source::LengthUnits;
/// assert_eq!(2.thou() + 0.5.thou(), 0.0025.inch());
/// ```
pub trait LengthUnits {
    /// In inches.
    fn inch(self) -> Length;
    /// In millimetres.
    fn mm(self) -> Length;
    /// In thousandths of an inch.
    fn thou(self) -> Length;
}

/// Angles as literals: `0.25.degrees()`, `90.degrees()`.
///
/// ```
/// use kerfwise_source::{Angle, AngleUnits};
/// assert_eq!(90.degrees(), Angle::from_degrees(90.0));
/// ```
pub trait AngleUnits {
    /// In degrees.
    fn degrees(self) -> Angle;
    /// In radians.
    fn radians(self) -> Angle;
}

macro_rules! unit_literals {
    ($($number:ty),+) => {$(
        impl LengthUnits for $number {
            fn inch(self) -> Length {
                Length::from_inches(self.into())
            }
            fn mm(self) -> Length {
                Length::from_mm(self.into())
            }
            fn thou(self) -> Length {
                Length::from_thou(self.into())
            }
        }
        impl AngleUnits for $number {
            fn degrees(self) -> Angle {
                Angle::from_degrees(self.into())
            }
            fn radians(self) -> Angle {
                Angle::from_radians(self.into())
            }
        }
    )+};
}
unit_literals!(f64, i32);

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_quantity_is_only_what_its_dimension_says() {
        let length = Quantity::from(0.375.inch());
        assert_eq!(length.length(), Some(0.375.inch()));
        assert_eq!(length.angle(), None);
        assert_eq!(length.number(), None);
        assert_eq!(length.moisture_content(), None);
        assert_eq!(Quantity::from(2.5).number(), Some(2.5));
        assert_eq!(Quantity::from(1.radians()).angle(), Some(1.0.radians()));
        let shop = MoistureContent::from_percent(8.0);
        assert_eq!(Quantity::from(shop).moisture_content(), Some(shop));
    }

    #[test]
    fn lengths_add_and_scale() {
        let kerf = 0.125.inch();
        assert_eq!(kerf + kerf - 0.25.inch(), 0.inch());
        assert_eq!(2.0 * kerf, 0.25.inch());
        assert_eq!(kerf * 2.0 / 4.0, 0.0625.inch());
        assert_eq!(-kerf, Length::from_inches(-0.125));
        assert_eq!((-kerf).abs(), kerf);
        let ratio = 1.inch() / kerf;
        assert!((ratio - 8.0).abs() < f64::MIN_POSITIVE);
    }

    proptest! {
        // x/25.4 is off by at most half a unit, which the product carries to less than one unit;
        // rounding then lands on x or on a neighbour.
        #[test]
        fn millimetres_return_to_within_one_unit_in_the_last_place(x in -1e6_f64..1e6) {
            let back = Length::from_mm(x).to_mm();
            prop_assert!(x.next_down() <= back && back <= x.next_up(), "{x} came back as {back}");
        }
    }
}
