use crate::Error;
use kerfwise_source::{Event, Length, Source, SourceBuilder};
use kerfwise_stack::Expr;

/// An error that comes anew with each of the two cuts: every piece is clamped twice.
#[derive(Debug, Clone)]
pub struct Cuts {
    /// At the first cut.
    pub first: Source,
    /// At the second cut.
    pub second: Source,
}

impl Cuts {
    /// Half of the two together: of a kerf that changes, what lies on the tenon's side.
    pub(crate) fn half_of_both(&self) -> Expr {
        (Expr::source(&self.first) + &self.second) / 2.0
    }

    /// The same kind of error at both cuts, drawn independently: `NAME.first` and `NAME.second`, both
    /// redrawn by the event "cut".
    ///
    /// # Errors
    ///
    /// When the source is refused.
    ///
    /// ```
    /// use kerfwise_joint::Cuts;
    /// use kerfwise_source::LengthUnits;
    ///
    /// let seating = Cuts::alike("seating", |s| s.normal(1.0.thou()).assumed("common practice, no source"))?;
    /// assert_eq!(seating.second.name(), "seating.second");
    /// # Ok::<(), kerfwise_joint::Error>(())
    /// ```
    pub fn alike(
        name: &str,
        describe: impl Fn(SourceBuilder) -> SourceBuilder,
    ) -> Result<Self, Error> {
        let make = |which: &str| {
            let builder =
                Source::new(&format!("{name}.{which}"), Length::default()).event(Event::cut());
            describe(builder).build().map_err(Error::source)
        };
        Ok(Self {
            first: make("first")?,
            second: make("second")?,
        })
    }
}
