use crate::{Bounded, Chance, Decline, Outcome};
use kerfwise_source::{Event, Quantity};

/// Options of the batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    pieces: u32,
    event: Event,
}
impl Batch {
    /// So many pieces, drawn anew by the event "piece".
    pub fn of(pieces: u32) -> Self {
        Self {
            pieces,
            event: Event::piece(),
        }
    }
    /// The event that makes a new piece.
    #[must_use]
    pub fn redrawn_by(mut self, event: Event) -> Self {
        self.event = event;
        self
    }
}
/// What a batch with shared errors does.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchAnswer {
    /// How many pieces.
    pub pieces: u32,
    /// The chance of one piece.
    pub one: Bounded<Chance>,
    /// The chance that all pieces lie in the band.
    pub all: Bounded<f64>,
    /// The chance that none does.
    pub none: Bounded<f64>,
    /// What it would be if nothing were shared: the chance of one to the power n (wrong, shown for teaching).
    pub if_independent: f64,
    /// Standard deviation of what the pieces share; `None` where there is none.
    pub shared_standard_deviation: Option<Quantity>,
    /// Standard deviation from piece to piece; `None` where there is none.
    pub piece_standard_deviation: Option<Quantity>,
}
pub(crate) fn run(_outcome: Outcome<'_>, _options: &Batch) -> Result<BatchAnswer, Decline> {
    todo!()
}
