use kerfwise_source::{Event, Length, LengthUnits, Source};

/// How a test tenon goes into its mortise.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Feel {
    /// It does not go in, or binds: above the band.
    Tight,
    /// It goes as it should: inside the band.
    Fits,
    /// It rattles: below the band.
    Loose,
}

/// What a test cut is like.
#[derive(Debug, Clone)]
pub struct TestCutOptions {
    pub(crate) piece: Event,
    pub(crate) moved: Event,
    pub(crate) dial_step: Length,
    pub(crate) resolution: Length,
    pub(crate) same: Vec<Source>,
}

impl TestCutOptions {
    /// A dial in steps of 0.0005 in, a gauge that shows steps of 0.0005 in, pieces drawn anew by the event "piece", a move
    /// that redraws the event "jig move".
    #[must_use]
    pub fn new() -> Self {
        Self {
            piece: Event::piece(),
            moved: Event::jig_move(),
            dial_step: 0.5.thou(),
            resolution: 0.5.thou(),
            same: Vec::new(),
        }
    }

    /// The smallest step by which the jig can be moved.
    #[must_use]
    pub fn dial_step(mut self, step: Length) -> Self {
        self.dial_step = step;
        self
    }

    /// The step in which the gauge shows: a reading tells that the true indication lies within half a step of it. With
    /// zero, readings count as exact.
    #[must_use]
    pub fn resolution(mut self, step: Length) -> Self {
        self.resolution = step;
        self
    }

    /// The event that makes a new piece.
    #[must_use]
    pub fn redrawn_by(mut self, event: Event) -> Self {
        self.piece = event;
        self
    }

    /// The event that a move of the jig is.
    #[must_use]
    pub fn moved_by(mut self, event: Event) -> Self {
        self.moved = event;
        self
    }

    /// A source that is the same for all test pieces although each joint of the batch has its own: the spread of mortises,
    /// when all test pieces are tried in one mortise.
    #[must_use]
    pub fn same_for_all_tests(mut self, source: &Source) -> Self {
        self.same.push(source.clone());
        self
    }
}

impl Default for TestCutOptions {
    fn default() -> Self {
        Self::new()
    }
}
