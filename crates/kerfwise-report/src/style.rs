/// The unit of lengths in text. JSON always holds inches.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Unit {
    /// Inches, with deviations in thou.
    #[default]
    Inch,
    /// Millimetres.
    Millimetre,
}

/// How text looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Unit of lengths.
    pub unit: Unit,
    /// Columns of the terminal; text is wrapped to it.
    pub width: u16,
}

impl Default for Style {
    /// Inches, 100 columns.
    fn default() -> Self {
        Self {
            unit: Unit::Inch,
            width: 100,
        }
    }
}
