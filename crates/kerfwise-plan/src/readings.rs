use crate::Faults;
use kerfwise_source::Dimension;

/// One column of a CSV file: readings of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Readings {
    column: String,
    dimension: Dimension,
    raw: Vec<f64>,
}

impl Readings {
    /// The name of the column, with its unit.
    #[must_use]
    pub fn column(&self) -> &str {
        &self.column
    }
    /// What was read.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.dimension
    }
    /// The readings in the raw unit of the dimension, in the order of the file.
    #[must_use]
    pub fn raw(&self) -> &[f64] {
        &self.raw
    }
}

/// Reads one column of a CSV text; `name` is how faults call the file.
///
/// # Errors
///
/// All that is wrong with the file, together.
pub fn read_readings(name: &str, text: &str, column: &str) -> Result<Readings, Faults> {
    let _ = (name, text, column);
    todo!()
}
