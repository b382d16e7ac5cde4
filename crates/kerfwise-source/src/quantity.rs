use crate::{Dimension, Error};
/// A number with its dimension. The number is held in the raw unit of the dimension.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Quantity {
    raw: f64,
    dimension: Dimension,
}
impl Quantity {
    /// From a number in the raw unit.
    pub const fn new(raw: f64, dimension: Dimension) -> Self {
        Self { raw, dimension }
    }
    /// The number in the raw unit: inch, radian, percent moisture content, or products of these.
    pub const fn raw(self) -> f64 {
        self.raw
    }
    /// The dimension.
    pub const fn dimension(self) -> Dimension {
        self.dimension
    }
    /// As a length, or `None` if it is none.
    pub fn length(self) -> Option<Length> {
        todo!()
    }
    /// As an angle, or `None`.
    pub fn angle(self) -> Option<Angle> {
        todo!()
    }
    /// As a pure number, or `None`.
    pub fn number(self) -> Option<f64> {
        todo!()
    }
}
impl std::fmt::Display for Quantity {
    fn fmt(&self, _f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        todo!()
    }
}
impl std::str::FromStr for Quantity {
    type Err = Error;
    fn from_str(_s: &str) -> Result<Self, Error> {
        todo!()
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
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Length(f64);
impl Length {
    /// From inches.
    pub const fn from_inches(x: f64) -> Self {
        Self(x)
    }
    /// From millimetres.
    pub fn from_mm(x: f64) -> Self {
        Self(x / 25.4)
    }
    /// From thousandths of an inch.
    pub fn from_thou(x: f64) -> Self {
        Self(x / 1000.0)
    }
    /// In inches.
    pub const fn to_inches(self) -> f64 {
        self.0
    }
    /// In millimetres.
    pub fn to_mm(self) -> f64 {
        self.0 * 25.4
    }
    /// In thousandths of an inch.
    pub fn to_thou(self) -> f64 {
        self.0 * 1000.0
    }
}
/// An angle (held in radians).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct Angle(f64);
impl Angle {
    /// From radians.
    pub const fn from_radians(x: f64) -> Self {
        Self(x)
    }
    /// From degrees.
    pub fn from_degrees(x: f64) -> Self {
        Self(x * (std::f64::consts::PI / 180.0))
    }
    /// In radians.
    pub const fn to_radians(self) -> f64 {
        self.0
    }
    /// In degrees.
    pub fn to_degrees(self) -> f64 {
        self.0 * (180.0 / std::f64::consts::PI)
    }
}
/// A moisture content in percent of the ovendry mass.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
pub struct MoistureContent(f64);
impl MoistureContent {
    /// From percent.
    pub const fn from_percent(x: f64) -> Self {
        Self(x)
    }
    /// In percent.
    pub const fn to_percent(self) -> f64 {
        self.0
    }
}
/// Lengths as literals: `0.4.thou()`, `9.5.mm()`, `0.375.inch()`.
pub trait LengthUnits {
    /// In inches.
    fn inch(self) -> Length;
    /// Millimetres.
    fn mm(self) -> Length;
    /// Thousandths of an inch.
    fn thou(self) -> Length;
}
impl LengthUnits for f64 {
    fn inch(self) -> Length {
        Length::from_inches(self)
    }
    fn mm(self) -> Length {
        Length::from_mm(self)
    }
    fn thou(self) -> Length {
        Length::from_thou(self)
    }
}
/// Angles as literals: `0.25.degrees()`.
pub trait AngleUnits {
    /// Degrees.
    fn degrees(self) -> Angle;
    /// Radians.
    fn radians(self) -> Angle;
}
impl AngleUnits for f64 {
    fn degrees(self) -> Angle {
        Angle::from_degrees(self)
    }
    fn radians(self) -> Angle {
        Angle::from_radians(self)
    }
}
