use std::fmt;
use std::ops::Range;

/// One thing that is wrong with a plan or with a file of readings, and where.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Fault {
    /// The file, as it was named.
    pub file: String,
    /// The line, from 1; 0 when it is about the file as a whole.
    pub line: usize,
    /// The column in characters, from 1; 0 when it is about the file as a whole.
    pub column: usize,
    /// Where in the file, in bytes.
    pub span: Range<usize>,
    /// What is wrong: lower case, no full stop.
    pub message: String,
    /// How to mend it.
    pub help: Option<String>,
}

/// All that is wrong with a plan, found in one pass; at least one fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    faults: Vec<Fault>,
}

impl Faults {
    /// The faults, in the order of the file.
    #[must_use]
    pub fn faults(&self) -> &[Fault] {
        &self.faults
    }

    /// The faults with the faulty lines under them, for a terminal.
    #[cfg(feature = "render")]
    #[must_use]
    pub fn render(&self, color: bool) -> String {
        let _ = color;
        todo!()
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, _f: &mut fmt::Formatter<'_>) -> fmt::Result {
        todo!()
    }
}

impl std::error::Error for Faults {}
