use kerfwise_source::{Event, MoistureContent, Source, SourceBuilder};
use kerfwise_stack::Expr;

/// The moisture content of a part at one moment, with what is uncertain in it.
#[derive(Debug, Clone)]
pub struct Moisture(pub(super) Expr);

impl Moisture {
    /// A moisture content that is taken as known.
    #[must_use]
    pub fn known(moisture: MoistureContent) -> Self {
        Self(Expr::constant(moisture))
    }

    /// A moisture content that one source describes: a reading, or a guess.
    #[must_use]
    pub fn from_source(moisture: &Source) -> Self {
        Self(Expr::source(moisture))
    }

    /// Adds an error: the meter's, which is the same source in all readings with the meter and therefore
    /// cancels in a change; what one reading differs from the next by; how wood differs from the formula of
    /// its equilibrium.
    ///
    /// ```
    /// use kerfwise_joint::wood::Moisture;
    /// use kerfwise_source::{MoistureContent, Source};
    ///
    /// let meter = Moisture::pin_meter("meter").build()?;
    /// let reading = Source::new("reading", MoistureContent::from_percent(9.5)).build()?;
    /// let stock = Moisture::from_source(&reading).with(&meter);
    /// assert_eq!(stock.expr().to_string(), "reading + meter");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn with(mut self, error: &Source) -> Self {
        self.0 = self.0 + Expr::source(error);
        self
    }

    /// The error of a pin meter set to the right species, from 6 to 12 % moisture content: normal, 1 %, one
    /// for all readings with it (makers and users claim ±1 to ±2 %; common practice, no source).
    ///
    /// The source has no limits; for the worst case give it some.
    pub fn pin_meter(name: &str) -> SourceBuilder {
        Source::new(name, MoistureContent::from_percent(0.0))
            .normal(MoistureContent::from_percent(1.0))
            .event(Event::gauge())
            .assumed("common practice, no source: makers and users claim 1 to 2 % moisture content")
    }

    /// The moisture content as an expression.
    #[must_use]
    pub fn expr(&self) -> &Expr {
        &self.0
    }

    /// What it is when every source stands at its estimate, in percent.
    pub(super) fn estimate(&self) -> f64 {
        self.0.evaluate(&|source| source.estimate().raw())
    }
}
