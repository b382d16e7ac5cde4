use crate::print::for_people;
use crate::source::{BoundsBasis, Inner, Limits, Source};
use crate::{Distribution, Error, ErrorKind, Event, Provenance, Quantity, SourceFault, SourcePart};

/// A source in the making; all faults are reported together by [`SourceBuilder::build`].
///
/// ```
/// use kerfwise_source::{AngleUnits, LengthUnits, Source};
///
/// let error = Source::new("kerf", 0.125.inch())
///     .normal((-0.4).thou())
///     .limits(0.10.inch(), 0.12.inch())
///     .build()
///     .unwrap_err();
/// assert_eq!(
///     error.to_string(),
///     "source \"kerf\": standard deviation must be 0 or above (got -0.4 thou); \
///      limits 0.1 in .. 0.12 in do not contain the estimate 0.125 in"
/// );
/// ```
#[derive(Debug, Clone)]
#[must_use]
pub struct SourceBuilder {
    name: String,
    estimate: Quantity,
    error: Option<Distribution>,
    has_error: bool,
    limits: Option<Limits>,
    event: Event,
    degrees_of_freedom: Option<f64>,
    provenance: Provenance,
    faults: Vec<SourceFault>,
}

impl SourceBuilder {
    pub(crate) fn new(name: &str, estimate: Quantity) -> Self {
        let mut builder = Self {
            name: name.to_owned(),
            estimate,
            error: None,
            has_error: false,
            limits: None,
            event: Event::batch(),
            degrees_of_freedom: None,
            provenance: Provenance::default(),
            faults: Vec::new(),
        };
        if name.is_empty() {
            builder.fault(SourcePart::Name, "a name must not be empty");
        } else if !Source::is_name(name) {
            let rule = "a name is letters (a to z), digits, _ and ., starting with a letter, without spaces or -";
            builder.fault(SourcePart::Name, rule);
        }
        if !estimate.raw().is_finite() {
            let got = for_people(estimate);
            builder.fault(
                SourcePart::Estimate,
                format!("estimate must be a finite number (got {got})"),
            );
        }
        builder
    }

    /// Normal error of mean zero and this standard deviation.
    pub fn normal(self, sd: impl Into<Quantity>) -> Self {
        self.spread("standard deviation", sd.into(), |sd| {
            Distribution::normal(0.0, sd)
        })
    }

    /// Rectangular error of this half-width about zero.
    pub fn rectangular(self, half_width: impl Into<Quantity>) -> Self {
        self.spread("half-width", half_width.into(), |a| {
            Distribution::rectangular(-a, a)
        })
    }

    /// Triangular error of this half-width about zero.
    pub fn triangular(self, half_width: impl Into<Quantity>) -> Self {
        self.spread("half-width", half_width.into(), |a| {
            Distribution::triangular(-a, 0.0, a)
        })
    }

    /// Symmetric trapezoidal error of this half-width about zero; `top_ratio` = length of the top
    /// over length of the base, from 0 (triangular) to 1 (rectangular).
    pub fn trapezoidal(self, half_width: impl Into<Quantity>, top_ratio: f64) -> Self {
        self.spread("half-width", half_width.into(), |a| {
            Distribution::trapezoidal(-a, a, top_ratio)
        })
    }

    /// Arcsine (U-shaped) error of this half-width about zero.
    pub fn arcsine(self, half_width: impl Into<Quantity>) -> Self {
        self.spread("half-width", half_width.into(), |a| {
            Distribution::arcsine(-a, a)
        })
    }

    /// Student t error about zero with this scale and degrees of freedom, which become the degrees
    /// of freedom of the source.
    pub fn student_t(self, scale: impl Into<Quantity>, degrees_of_freedom: f64) -> Self {
        self.spread("scale", scale.into(), |scale| {
            Distribution::student_t(0.0, scale, degrees_of_freedom)
        })
        .or_degrees_of_freedom(degrees_of_freedom)
    }

    /// Any distribution of the error, in the raw unit of the estimate's dimension (inches for a
    /// length). The degrees of freedom of a Student t become those of the source.
    pub fn error(mut self, error: Distribution) -> Self {
        self.note_error();
        let degrees_of_freedom = match &error {
            Distribution::StudentT(t) => Some(t.degrees_of_freedom()),
            _ => None,
        };
        self.error = Some(error);
        match degrees_of_freedom {
            Some(dof) => self.or_degrees_of_freedom(dof),
            None => self,
        }
    }

    /// Limits of the value for the worst case. They win over the ends of the distribution, also
    /// where they are narrower: whoever states them is believed.
    pub fn limits(mut self, lower: impl Into<Quantity>, upper: impl Into<Quantity>) -> Self {
        self.note_limits();
        let (lower, upper) = (lower.into(), upper.into());
        if let Some(message) = self.limits_fault(lower, upper) {
            self.fault(SourcePart::Limits, message);
        }
        self.limits = Some(Limits::Between(lower, upper));
        self
    }

    /// Limits this many standard deviations of the error either side of the mean.
    pub fn limits_at_sd(mut self, k: f64) -> Self {
        self.note_limits();
        if !(k > 0.0 && k.is_finite()) {
            self.fault(
                SourcePart::Limits,
                format!("limits need a number of standard deviations above 0 (got {k})"),
            );
        }
        self.limits = Some(Limits::StandardDeviations(k));
        self
    }

    /// The event that redraws it (default: batch).
    pub fn event(mut self, event: Event) -> Self {
        if event.outwards().any(|event| event.name().is_empty()) {
            self.fault(SourcePart::Event, "the name of an event must not be empty");
        }
        self.event = event;
        self
    }

    /// Degrees of freedom of a stated standard uncertainty.
    pub fn degrees_of_freedom(self, dof: f64) -> Self {
        self.or_degrees_of_freedom(dof)
    }

    /// Measured: which readings.
    pub fn measured(mut self, readings: &str) -> Self {
        self.provenance = Provenance::Measured {
            readings: readings.to_owned(),
        };
        self
    }

    /// A stated limit: which document.
    pub fn stated(mut self, document: &str) -> Self {
        self.provenance = Provenance::Stated {
            document: document.to_owned(),
        };
        self
    }

    /// Assumed: why.
    pub fn assumed(mut self, because: &str) -> Self {
        self.provenance = Provenance::Assumed {
            because: because.to_owned(),
        };
        self
    }

    /// Checks everything.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Source`] with all faults: a name that the algebra cannot read, numbers that are
    /// not finite, a spread below 0 or of another dimension than the estimate, two errors or two
    /// sets of limits, limits that are upside down or do not contain the estimate, a number of
    /// standard deviations or degrees of freedom that is not above 0.
    pub fn build(mut self) -> Result<Source, Error> {
        let error = match self.error.take() {
            Some(error) => error,
            None => Distribution::point(0.0)?,
        };
        // Where numbers are already known to be wrong, bounds made of them would only repeat it.
        let bounds = if self.faults.is_empty() {
            self.bounds(&error)
        } else {
            None
        };
        if !self.faults.is_empty() {
            return Err(ErrorKind::Source {
                name: self.name,
                faults: self.faults,
            }
            .into());
        }
        Ok(Source::from(Inner {
            name: self.name,
            estimate: self.estimate,
            error,
            limits: self.limits,
            bounds,
            event: self.event,
            degrees_of_freedom: self.degrees_of_freedom.unwrap_or(f64::INFINITY),
            provenance: self.provenance,
        }))
    }

    #[cold]
    fn fault(&mut self, part: SourcePart, message: impl Into<String>) {
        self.faults.push(SourceFault {
            part,
            message: message.into(),
        });
    }

    /// An error law of one width, which is checked here so that the message can speak in units.
    fn spread(
        mut self,
        what: &str,
        width: Quantity,
        law: impl Fn(f64) -> Result<Distribution, Error>,
    ) -> Self {
        self.note_error();
        let got = for_people(width);
        if width.dimension() != self.estimate.dimension() {
            self.other_dimension(SourcePart::Error, what, width);
        } else if !width.raw().is_finite() {
            self.fault(
                SourcePart::Error,
                format!("{what} must be a finite number (got {got})"),
            );
        } else if width.raw() < 0.0 {
            self.fault(
                SourcePart::Error,
                format!("{what} must be 0 or above (got {got})"),
            );
        } else {
            // A width of -0 would put the lower end above the upper one in print.
            match law(width.raw().abs()) {
                Ok(error) => self.error = Some(error),
                Err(error) => self.fault(SourcePart::Error, error.to_string()),
            }
        }
        self
    }

    fn other_dimension(&mut self, part: SourcePart, what: &str, given: Quantity) {
        let message = format!(
            "{what} must have the dimension of the estimate, {} (got {}, {})",
            self.estimate.dimension(),
            for_people(given),
            given.dimension(),
        );
        self.fault(part, message);
    }

    fn note_error(&mut self) {
        if self.has_error {
            self.fault(
                SourcePart::Error,
                "two errors are given: keep one, or make a second source of the other",
            );
        }
        self.has_error = true;
    }

    fn note_limits(&mut self) {
        if self.limits.is_some() {
            self.fault(SourcePart::Limits, "limits are given twice: keep one");
        }
    }

    fn or_degrees_of_freedom(mut self, dof: f64) -> Self {
        match self.degrees_of_freedom {
            _ if dof.is_nan() || dof <= 0.0 => self.fault(
                SourcePart::DegreesOfFreedom,
                format!("degrees of freedom must be above 0 (got {dof})"),
            ),
            Some(before) if before.total_cmp(&dof).is_ne() => self.fault(
                SourcePart::DegreesOfFreedom,
                format!("degrees of freedom are given twice, as {before} and {dof}: keep one"),
            ),
            _ => self.degrees_of_freedom = Some(dof),
        }
        self
    }

    fn limits_fault(&mut self, lower: Quantity, upper: Quantity) -> Option<String> {
        let mut is_of_another_dimension = false;
        for (what, end) in [("lower limit", lower), ("upper limit", upper)] {
            if end.dimension() != self.estimate.dimension() {
                is_of_another_dimension = true;
                self.other_dimension(SourcePart::Limits, what, end);
            }
        }
        let (low, high) = (for_people(lower), for_people(upper));
        let estimate = self.estimate.raw();
        if is_of_another_dimension {
            None
        } else if !lower.raw().is_finite() || !upper.raw().is_finite() {
            Some(format!(
                "limits must be finite numbers (got {low} .. {high})"
            ))
        } else if lower.raw() > upper.raw() {
            Some(format!("limits {low} .. {high} are upside down: swap them"))
        } else if estimate.is_finite() && !(lower.raw()..=upper.raw()).contains(&estimate) {
            let estimate = for_people(self.estimate);
            Some(format!(
                "limits {low} .. {high} do not contain the estimate {estimate}"
            ))
        } else {
            None
        }
    }

    fn bounds(&mut self, error: &Distribution) -> Option<(f64, f64, BoundsBasis)> {
        let estimate = self.estimate.raw();
        let (lower, upper, basis) = match self.limits {
            Some(Limits::Between(lower, upper)) => {
                (lower.raw(), upper.raw(), BoundsBasis::StatedLimits)
            }
            Some(Limits::StandardDeviations(k)) => {
                let (Some(mean), Some(sd)) = (error.mean(), error.standard_deviation()) else {
                    self.fault(
                        SourcePart::Limits,
                        format!(
                            "limits at {k} standard deviations need a standard deviation, and this {} error has none: give limits",
                            error.name()
                        ),
                    );
                    return None;
                };
                let middle = estimate + mean;
                let basis = BoundsBasis::StandardDeviations(k);
                (middle - k * sd, middle + k * sd, basis)
            }
            None => {
                let (lower, upper) = error.support();
                if lower.is_infinite() || upper.is_infinite() {
                    return None;
                }
                (estimate + lower, estimate + upper, BoundsBasis::Support)
            }
        };
        if lower.is_finite() && upper.is_finite() {
            Some((lower, upper, basis))
        } else {
            self.fault(
                SourcePart::Limits,
                format!("bounds must be finite numbers (got {lower:e} .. {upper:e})"),
            );
            None
        }
    }
}
