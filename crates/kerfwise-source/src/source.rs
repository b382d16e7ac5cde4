use crate::builder::SourceBuilder;
use crate::{Dimension, Distribution, Error, Event, Provenance, Quantity};
use std::fmt;
use std::sync::Arc;

/// The bounds that the worst case uses for a source.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Limits {
    /// The quantity lies between these (both in the dimension of the source).
    Between(Quantity, Quantity),
    /// This many standard deviations of the error either side of the mean.
    StandardDeviations(f64),
}

/// Where the bounds of a source come from, so that a worst case can say what it stands on.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum BoundsBasis {
    /// Limits that were stated for the value.
    StatedLimits,
    /// This many standard deviations either side of the mean.
    StandardDeviations(f64),
    /// The distribution of the error ends there.
    Support,
}

/// "stated limits", "3 standard deviations either side of the mean", "ends of the distribution".
impl fmt::Display for BoundsBasis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::StatedLimits => f.write_str("stated limits"),
            Self::StandardDeviations(k) => {
                write!(f, "{k} standard deviations either side of the mean")
            }
            Self::Support => f.write_str("ends of the distribution"),
        }
    }
}

/// A named input quantity that is not known exactly: value = estimate + error.
///
/// A cheap handle, known by itself and not by its numbers: two sources with the same numbers are
/// two sources (see [`Source::is_same`]), and so there is no `==`.
///
/// ```
/// use kerfwise_source::{Event, LengthUnits, Source};
///
/// let kerf = Source::new("kerf", 0.125.inch())
///     .rectangular(3.thou())
///     .event(Event::blade())
///     .stated("maker's sheet of the blade")
///     .build()?;
/// let u = kerf.standard_uncertainty().unwrap().length().unwrap();
/// assert!((u.to_thou() - 3.0 / 3.0_f64.sqrt()).abs() < 1e-12);
/// assert_eq!(kerf.bounds(), Some((0.122, 0.128)));
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct Source(Arc<Inner>);

#[derive(Debug)]
pub(crate) struct Inner {
    pub(crate) name: String,
    pub(crate) estimate: Quantity,
    pub(crate) error: Distribution,
    pub(crate) limits: Option<Limits>,
    pub(crate) bounds: Option<(f64, f64, BoundsBasis)>,
    pub(crate) event: Event,
    pub(crate) degrees_of_freedom: f64,
    pub(crate) provenance: Provenance,
}

/// What to say about a text that [`Source::is_name`] refuses.
pub(crate) const NAME_RULE: &str =
    "a name is letters (a to z), digits, _ and ., starting with a letter, without spaces or -";

impl From<Inner> for Source {
    fn from(inner: Inner) -> Self {
        Self(Arc::new(inner))
    }
}

impl Source {
    /// Starts a source; without more it is known exactly (a point error of zero).
    ///
    /// A name is made of the letters a to z and A to Z, digits, `_` and `.`, and starts with a
    /// letter, so that `a - b` in the algebra can be nothing but a difference.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).build()?;
    /// assert_eq!(travel.standard_uncertainty().unwrap().raw(), 0.0);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[expect(
        clippy::new_ret_no_self,
        reason = "the builder is what a caller wants here"
    )]
    pub fn new(name: &str, estimate: impl Into<Quantity>) -> SourceBuilder {
        SourceBuilder::new(name, estimate.into())
    }

    /// Whether a text can be the name of a source.
    ///
    /// ```
    /// use kerfwise_source::Source;
    /// assert!(Source::is_name("tenon.thickness"));
    /// assert!(!Source::is_name("tenon-thickness"));
    /// assert!(!Source::is_name("2nd_cut"));
    /// ```
    #[must_use]
    pub fn is_name(text: &str) -> bool {
        text.starts_with(|c: char| c.is_ascii_alphabetic())
            && text
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '.'))
    }

    /// The name, unique in a stack.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.0.name
    }

    /// The estimate that the errors are counted from.
    #[must_use]
    pub fn estimate(&self) -> Quantity {
        self.0.estimate
    }

    /// The dimension.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        self.0.estimate.dimension()
    }

    /// The distribution of the error, in the raw unit of the dimension.
    #[must_use]
    pub fn error(&self) -> &Distribution {
        &self.0.error
    }

    /// Estimate plus mean error; `None` when the error has no mean.
    ///
    /// ```
    /// use kerfwise_source::{Distribution, LengthUnits, Source};
    ///
    /// // Dust can only hold the piece away from the fence: 1 thou on average.
    /// let seat = Source::new("seat", 0.inch())
    ///     .error(Distribution::exponential(0.0, 0.001)?)
    ///     .build()?;
    /// assert_eq!(seat.mean().unwrap().raw(), 0.001);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn mean(&self) -> Option<Quantity> {
        let mean = self.0.error.mean()?;
        Some(Quantity::new(
            self.0.estimate.raw() + mean,
            self.dimension(),
        ))
    }

    /// The standard uncertainty (JCGM 100): the standard deviation of the error, except for a
    /// Student t, where it is the scale, which goes with the degrees of freedom. `None` when there
    /// is none.
    ///
    /// The standard deviation of a Student t, scale · √(ν/(ν − 2)), is what JCGM 101:2008, 6.4.9.3
    /// takes; JCGM 100:2008 takes s/√n with n − 1 degrees of freedom (4.2.3, G.3).
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let mortise = Source::new("mortise", 0.375.inch()).student_t(2.thou(), 4.0).build()?;
    /// assert_eq!(mortise.standard_uncertainty().unwrap(), 2.thou().into());
    /// assert_eq!(mortise.degrees_of_freedom(), 4.0);
    /// assert!(mortise.error().standard_deviation().unwrap() > 0.0028); // 2 thou · √2
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn standard_uncertainty(&self) -> Option<Quantity> {
        let raw = match &self.0.error {
            Distribution::StudentT(t) => Some(t.scale()),
            other => other.standard_deviation(),
        };
        raw.map(|raw| Quantity::new(raw, self.dimension()))
    }

    /// Degrees of freedom of the standard uncertainty; infinite unless told or a Student t.
    #[must_use]
    pub fn degrees_of_freedom(&self) -> f64 {
        self.0.degrees_of_freedom
    }

    /// Stated limits, if any.
    #[must_use]
    pub fn limits(&self) -> Option<Limits> {
        self.0.limits
    }

    /// Lower and upper bound of the value, in raw units, for the worst case.
    ///
    /// The first of these that there is: stated limits, even where they are narrower or wider than
    /// the distribution; mean ± k standard deviations, where that was asked for; the ends of the
    /// distribution, shifted by the estimate. `None` when the distribution goes on for ever and
    /// nothing was stated. Always finite, lower before upper.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(1.thou());
    /// assert_eq!(kerf.clone().build()?.bounds(), None);
    /// assert_eq!(kerf.limits_at_sd(3.0).build()?.bounds(), Some((0.122, 0.128)));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn bounds(&self) -> Option<(f64, f64)> {
        self.0.bounds.map(|(lower, upper, _)| (lower, upper))
    }

    /// Where [`Source::bounds`] come from; `None` when there are none.
    ///
    /// ```
    /// use kerfwise_source::{BoundsBasis, LengthUnits, Source};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).rectangular(3.thou()).build()?;
    /// assert_eq!(kerf.bounds_basis(), Some(BoundsBasis::Support));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn bounds_basis(&self) -> Option<BoundsBasis> {
        self.0.bounds.map(|(_, _, basis)| basis)
    }

    /// The event that redraws it.
    #[must_use]
    pub fn event(&self) -> &Event {
        &self.0.event
    }

    /// Where the number came from.
    #[must_use]
    pub fn provenance(&self) -> &Provenance {
        &self.0.provenance
    }

    /// A source of the same name and the same error about another estimate: the dial was set anew. Limits of the value move
    /// along. It is another source ([`is_same`](Self::is_same)).
    ///
    /// # Errors
    ///
    /// When the estimate is of another dimension, or not a finite number.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    ///
    /// let distance = Source::new("distance", 0.5.inch()).rectangular(1.thou()).build()?;
    /// let further = distance.at_estimate(0.75.inch())?;
    /// assert_eq!(further.bounds(), Some((0.749, 0.751)));
    /// assert!(distance.at_estimate(2.0).is_err());
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn at_estimate(&self, estimate: impl Into<Quantity>) -> Result<Self, Error> {
        SourceBuilder::again(&self.0, estimate.into()).build()
    }

    /// Whether two handles are of one source.
    ///
    /// ```
    /// use kerfwise_source::Source;
    ///
    /// let builder = Source::new("ratio", 2.0);
    /// let (a, b) = (builder.clone().build()?, builder.build()?);
    /// assert!(a.is_same(&a.clone()));
    /// assert!(!a.is_same(&b));
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn is_same(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}
