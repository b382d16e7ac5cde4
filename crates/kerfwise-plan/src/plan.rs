use crate::{Fault, Faults};
use kerfwise_joint::ShiftedTenon;
use kerfwise_source::Length;
use kerfwise_stack::Stack;
use std::path::Path;

/// A plan that was read and checked: a stack, and mostly the joint that it comes from.
#[derive(Debug, Clone)]
pub struct Plan {
    name: String,
    text: String,
    title: String,
    note: Option<String>,
    pieces: Option<u32>,
    dial_step: Option<Length>,
    travel_was_given: bool,
    joint: Option<ShiftedTenon>,
    stack: Stack,
    readings: Vec<ReadingsUsed>,
    warnings: Vec<Fault>,
    hash: u64,
}

/// A file of readings that a plan leans on.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ReadingsUsed {
    /// The path, as the plan writes it.
    pub path: String,
    /// The column.
    pub column: String,
    /// How many readings it holds.
    pub count: usize,
}

#[allow(unused_variables, reason = "skeleton")]
impl Plan {
    /// Reads a plan file, and the readings beside it.
    ///
    /// # Errors
    ///
    /// All that is wrong with the files, together.
    pub fn from_path(path: &Path) -> Result<Self, Faults> {
        todo!()
    }
    /// The same from text; `read` gives the text of a file of readings by its path as written in the plan.
    ///
    /// # Errors
    ///
    /// All that is wrong with the texts, together.
    pub fn parse(
        name: &str,
        text: &str,
        read: &dyn Fn(&str) -> std::io::Result<String>,
    ) -> Result<Self, Faults> {
        todo!()
    }
    /// The same plan with the dial set to another travel.
    ///
    /// # Errors
    ///
    /// When the plan has no joint, or the travel is not above 0.
    pub fn with_travel(&self, travel: Length) -> Result<Self, Faults> {
        todo!()
    }
    /// The file, as it was named.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }
    /// The text of the plan.
    #[must_use]
    pub fn source_text(&self) -> &str {
        &self.text
    }
    /// The version of the format that it is written in.
    #[must_use]
    pub fn version(&self) -> u32 {
        1
    }
    /// The title.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.title
    }
    /// A remark of the author.
    #[must_use]
    pub fn note(&self) -> Option<&str> {
        self.note.as_deref()
    }
    /// How many joints are to be cut.
    #[must_use]
    pub fn pieces(&self) -> Option<u32> {
        self.pieces
    }
    /// The smallest step that the dial can be set by.
    #[must_use]
    pub fn dial_step(&self) -> Option<Length> {
        self.dial_step
    }
    /// Whether the plan states the travel; else it is the nominal one, rounded to the dial's step.
    #[must_use]
    pub fn travel_was_given(&self) -> bool {
        self.travel_was_given
    }
    /// The joint, if the plan describes one.
    #[must_use]
    pub fn joint(&self) -> Option<&ShiftedTenon> {
        self.joint.as_ref()
    }
    /// All outcomes: those of the joint, then those in the general form.
    #[must_use]
    pub fn stack(&self) -> &Stack {
        &self.stack
    }
    /// The files of readings that it leans on.
    #[must_use]
    pub fn readings(&self) -> &[ReadingsUsed] {
        &self.readings
    }
    /// What is odd but not wrong: sources that nothing uses.
    #[must_use]
    pub fn warnings(&self) -> &[Fault] {
        &self.warnings
    }
    /// A number that changes with the text of the plan or of its readings (FNV-1a, 64 bits).
    #[must_use]
    pub fn hash(&self) -> u64 {
        self.hash
    }
}
