use crate::{Band, Decline, Outcome};
use kerfwise_source::Quantity;

/// Options of the worst case.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCase {
    unbounded_at_sd: Option<f64>,
    tolerance: f64,
    boxes: usize,
}
impl Default for WorstCase {
    fn default() -> Self {
        Self::new()
    }
}
impl WorstCase {
    /// Sources without limits make it decline; relative tolerance 1e-6 of the width.
    pub fn new() -> Self {
        Self {
            unbounded_at_sd: None,
            tolerance: 1e-6,
            boxes: 100_000,
        }
    }
    /// Takes unbounded sources at this many standard deviations; the answer says so.
    #[must_use]
    pub fn unbounded_at_sd(mut self, k: f64) -> Self {
        self.unbounded_at_sd = Some(k);
        self
    }
    /// Stops when outer bound and attained extreme agree to this part of the width of the range.
    #[must_use]
    pub fn tolerance(mut self, relative: f64) -> Self {
        self.tolerance = relative;
        self
    }
    /// The most boxes that branch and bound may split.
    #[must_use]
    pub fn boxes(mut self, most: usize) -> Self {
        self.boxes = most;
        self
    }
}
/// One end of the range.
#[derive(Debug, Clone, PartialEq)]
pub struct Extreme {
    /// Guaranteed: the outcome never goes beyond this.
    pub bound: Quantity,
    /// Reached, at the values below.
    pub attained: Quantity,
    /// The corner or inner point that attains it: source (or source#instance) and value.
    pub at: Vec<(String, Quantity)>,
}
/// The range of an outcome over the limits of its sources.
#[derive(Debug, Clone, PartialEq)]
pub struct WorstCaseAnswer {
    /// The lower end.
    pub lower: Extreme,
    /// The upper end.
    pub upper: Extreme,
    /// Whether outer and attained agree to the tolerance.
    pub is_tight: bool,
    /// What was assumed: limits at so many standard deviations, and the like.
    pub assumptions: Vec<String>,
}
impl WorstCaseAnswer {
    /// `Some(true)` when it always lies in the band, `Some(false)` when never, `None` when it depends.
    pub fn fits(&self, _band: &Band) -> Option<bool> {
        todo!()
    }
}
pub(crate) fn run(_outcome: Outcome<'_>, _options: &WorstCase) -> Result<WorstCaseAnswer, Decline> {
    todo!()
}
