/// The kind of a number: exponents of length, angle and moisture content.
///
/// Raw units, in which plain `f64` are kept inside: inch, radian, percent moisture content.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord)]
pub struct Dimension {
    length: i8,
    angle: i8,
    moisture: i8,
}

impl Dimension {
    /// A pure number.
    pub const NUMBER: Self = Self {
        length: 0,
        angle: 0,
        moisture: 0,
    };
    /// A length.
    pub const LENGTH: Self = Self {
        length: 1,
        angle: 0,
        moisture: 0,
    };
    /// An angle.
    pub const ANGLE: Self = Self {
        length: 0,
        angle: 1,
        moisture: 0,
    };
    /// A moisture content (percent of the ovendry mass).
    pub const MOISTURE: Self = Self {
        length: 0,
        angle: 0,
        moisture: 1,
    };

    /// The dimension of a product; `None` when an exponent leaves the range of `i8`.
    pub fn times(self, _other: Self) -> Option<Self> {
        todo!()
    }
    /// The dimension of a ratio.
    pub fn per(self, _other: Self) -> Option<Self> {
        todo!()
    }
    /// The dimension of the n-th power.
    pub fn powi(self, _n: i32) -> Option<Self> {
        todo!()
    }
    /// The dimension of the square root; `None` when an exponent is odd.
    pub fn sqrt(self) -> Option<Self> {
        todo!()
    }
    /// The raw unit, as printed: "in", "rad", "%MC", "in²", "" for a pure number.
    pub fn raw_unit(self) -> String {
        todo!()
    }
}

impl std::fmt::Display for Dimension {
    fn fmt(&self, _f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        todo!()
    }
}
