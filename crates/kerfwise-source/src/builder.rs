use crate::print::for_people;
use crate::source::{BoundsBasis, Inner, Limits, NAME_RULE, Source};
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
            builder.fault(SourcePart::Name, NAME_RULE);
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

    /// What made this source, about another estimate; its limits move along.
    pub(crate) fn again(source: &Inner, estimate: Quantity) -> Self {
        let mut builder = Self::new(&source.name, estimate);
        let before = source.estimate;
        if estimate.dimension() != before.dimension() {
            let message = format!(
                "the estimate must be of the dimension that it had, {} (got {}, {})",
                before.dimension(),
                for_people(estimate),
                estimate.dimension(),
            );
            builder.fault(SourcePart::Estimate, message);
        }
        let moved = |limit: Quantity| {
            let off = limit.raw() - before.raw();
            Quantity::new(estimate.raw() + off, estimate.dimension())
        };
        Self {
            error: Some(source.error.clone()),
            has_error: true,
            limits: source.limits.map(|limits| match limits {
                Limits::Between(lower, upper) => Limits::Between(moved(lower), moved(upper)),
                at_sd @ Limits::StandardDeviations(_) => at_sd,
            }),
            event: source.event.clone(),
            degrees_of_freedom: Some(source.degrees_of_freedom),
            provenance: source.provenance.clone(),
            ..builder
        }
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
        let known = self.faults.len();
        let builder = self.spread("scale", scale.into(), |scale| {
            Distribution::student_t(0.0, scale, degrees_of_freedom)
        });
        // The law has already found fault with them.
        if builder.faults.len() > known {
            return builder;
        }
        builder.or_degrees_of_freedom(degrees_of_freedom)
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
        if let Some(mean) = error.mean()
            && !(estimate + mean).is_finite()
        {
            self.fault(
                SourcePart::Error,
                format!(
                    "the estimate plus the mean error must be a finite number (got {estimate:e} and {mean:e})"
                ),
            );
            return None;
        }
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{AngleUnits, BoundsBasis, Length, LengthUnits};
    use proptest::prelude::*;

    fn kerf() -> SourceBuilder {
        Source::new("kerf", 0.125.inch())
    }

    fn message(builder: SourceBuilder) -> String {
        builder.build().unwrap_err().to_string()
    }

    #[test]
    fn without_more_a_source_is_known_exactly() {
        let kerf = kerf().build().unwrap();
        assert_eq!(kerf.error(), &Distribution::point(0.0).unwrap());
        assert_eq!(kerf.event(), &Event::batch());
        assert_eq!(kerf.provenance().to_string(), "assumed (not said)");
        assert_eq!(kerf.bounds(), Some((0.125, 0.125)));
        assert!(kerf.degrees_of_freedom().is_infinite());
        assert_eq!(kerf.limits(), None);
    }

    #[test]
    fn each_spread_makes_its_law_in_inches() {
        let a = 2.thou();
        let rows = [
            (kerf().normal(a), Distribution::normal(0.0, 0.002)),
            (
                kerf().rectangular(a),
                Distribution::rectangular(-0.002, 0.002),
            ),
            (
                kerf().triangular(a),
                Distribution::triangular(-0.002, 0.0, 0.002),
            ),
            (
                kerf().trapezoidal(a, 0.5),
                Distribution::trapezoidal(-0.002, 0.002, 0.5),
            ),
            (kerf().arcsine(a), Distribution::arcsine(-0.002, 0.002)),
            (
                kerf().student_t(a, 4.0),
                Distribution::student_t(0.0, 0.002, 4.0),
            ),
            (kerf().rectangular(0.inch()), Distribution::point(0.0)),
        ];
        for (builder, law) in rows {
            assert_eq!(builder.build().unwrap().error(), &law.unwrap());
        }
    }

    #[test]
    fn a_student_t_brings_its_degrees_of_freedom() {
        let t = Distribution::student_t(0.0, 0.002, 4.0).unwrap();
        for builder in [
            kerf().student_t(2.thou(), 4.0),
            kerf().error(t),
            kerf().student_t(2.thou(), 4.0).degrees_of_freedom(4.0),
        ] {
            let source = builder.build().unwrap();
            assert_eq!(source.degrees_of_freedom().to_bits(), 4.0_f64.to_bits());
            assert_eq!(source.standard_uncertainty(), Some(2.thou().into()));
        }
        assert_eq!(
            message(kerf().student_t(2.thou(), 4.0).degrees_of_freedom(9.0)),
            "source \"kerf\": degrees of freedom are given twice, as 4 and 9: keep one"
        );
    }

    #[test]
    fn bounds_are_the_first_of_limits_deviations_and_support() {
        let rows = [
            (
                kerf().rectangular(5.thou()),
                0.120,
                0.130,
                BoundsBasis::Support,
            ),
            (
                kerf().normal(1.thou()).limits_at_sd(2.0),
                0.123,
                0.127,
                BoundsBasis::StandardDeviations(2.0),
            ),
            (
                kerf()
                    .rectangular(5.thou())
                    .limits(0.124.inch(), 0.126.inch()),
                0.124,
                0.126,
                BoundsBasis::StatedLimits,
            ),
        ];
        for (builder, lower, upper, basis) in rows {
            let source = builder.build().unwrap();
            let (low, high) = source.bounds().unwrap();
            // Because a sum of two inches is rounded once, or twice.
            assert!((low - lower).abs() < 1e-16 && (high - upper).abs() < 1e-16);
            assert_eq!(source.bounds_basis(), Some(basis));
        }
        let endless = kerf().normal(1.thou()).build().unwrap();
        assert_eq!((endless.bounds(), endless.bounds_basis()), (None, None));
    }

    #[test]
    fn a_name_must_be_readable_by_the_algebra() {
        for name in ["kerf", "tenon.thickness", "seat_2", "a", "Z9"] {
            assert!(Source::new(name, 1.0).build().is_ok(), "{name}");
        }
        assert_eq!(
            message(Source::new("", 1.0)),
            "source \"\": a name must not be empty"
        );
        for name in ["a-b", "2nd", " a", "a b", "é", "a+", ".a", "_a"] {
            assert_eq!(
                message(Source::new(name, 1.0)),
                format!(
                    "source {name:?}: a name is letters (a to z), digits, _ and ., starting with a letter, without spaces or -"
                )
            );
        }
    }

    #[test]
    fn every_fault_names_the_value_and_the_bound() {
        let rows = [
            (
                kerf().normal((-0.4).thou()),
                "standard deviation must be 0 or above (got -0.4 thou)",
            ),
            (
                kerf().rectangular((-0.1).inch()),
                "half-width must be 0 or above (got -0.1 in)",
            ),
            (
                kerf().arcsine(f64::INFINITY.inch()),
                "half-width must be a finite number (got inf in)",
            ),
            (
                kerf().normal(0.001),
                "standard deviation must have the dimension of the estimate, length (got 0.001, pure number)",
            ),
            (
                kerf().triangular(0.25.radians()),
                "half-width must have the dimension of the estimate, length (got 0.25 rad, angle)",
            ),
            (
                Source::new("kerf", Length::from_inches(f64::NAN)),
                "estimate must be a finite number (got NaN in)",
            ),
            (
                kerf().normal(1.thou()).rectangular(1.thou()),
                "two errors are given: keep one, or make a second source of the other",
            ),
            (
                kerf().limits(0.10.inch(), 0.12.inch()),
                "limits 0.1 in .. 0.12 in do not contain the estimate 0.125 in",
            ),
            (
                kerf().limits(0.13.inch(), 0.12.inch()),
                "limits 0.13 in .. 0.12 in are upside down: swap them",
            ),
            (
                kerf().limits(0.12.inch(), f64::INFINITY.inch()),
                "limits must be finite numbers (got 0.12 in .. inf in)",
            ),
            (
                kerf().limits(0.12.inch(), 1.0),
                "upper limit must have the dimension of the estimate, length (got 1, pure number)",
            ),
            (
                kerf().normal(1.thou()).limits_at_sd(0.0),
                "limits need a number of standard deviations above 0 (got 0)",
            ),
            (
                kerf().student_t(1.thou(), 2.0).limits_at_sd(3.0),
                "limits at 3 standard deviations need a standard deviation, and this Student t error has none: give limits",
            ),
            (
                kerf().limits(0.1.inch(), 0.2.inch()).limits_at_sd(3.0),
                "limits are given twice: keep one",
            ),
            (
                kerf().degrees_of_freedom(0.0),
                "degrees of freedom must be above 0 (got 0)",
            ),
            (
                kerf().event(Event::nested("shift", &Event::new(""))),
                "the name of an event must not be empty",
            ),
            (
                Source::new("kerf", 1.7e308).error(Distribution::exponential(0.0, 1e308).unwrap()),
                "the estimate plus the mean error must be a finite number (got 1.7e308 and 1e308)",
            ),
            (
                Source::new("kerf", 1.7e308).rectangular(0.8e308),
                "bounds must be finite numbers (got 8.999999999999999e307 .. inf)",
            ),
        ];
        for (builder, expected) in rows {
            assert_eq!(message(builder), format!("source \"kerf\": {expected}"));
        }
    }

    #[test]
    fn a_law_that_refuses_its_own_parameters_is_heard() {
        let message = message(kerf().trapezoidal(1.thou(), 1.5));
        assert!(
            message.starts_with("source \"kerf\": ") && message.contains("1.5"),
            "{message}"
        );
    }

    #[test]
    fn all_faults_come_together_and_say_their_part() {
        let error = Source::new("saw kerf", 0.125.inch())
            .normal((-1).thou())
            .limits(0.13.inch(), 0.12.inch())
            .degrees_of_freedom(f64::NAN)
            .build()
            .unwrap_err();
        let ErrorKind::Source { name, faults } = error.kind() else {
            panic!("{error:?} is not of a source");
        };
        assert_eq!(name, "saw kerf");
        let parts: Vec<SourcePart> = faults.iter().map(|fault| fault.part).collect();
        assert_eq!(
            parts,
            [
                SourcePart::Name,
                SourcePart::Error,
                SourcePart::Limits,
                SourcePart::DegreesOfFreedom
            ]
        );
    }

    proptest! {
        #[test]
        fn bounds_are_finite_and_hold_the_estimate(
            estimate in -1e3_f64..1e3,
            half_width in 0.0_f64..1.0,
            k in 0.1_f64..10.0,
        ) {
            let source = || Source::new("x", estimate.inch());
            for builder in [
                source().rectangular(half_width.inch()),
                source().normal(half_width.inch()).limits_at_sd(k),
            ] {
                let (lower, upper) = builder.build().unwrap().bounds().unwrap();
                prop_assert!(lower <= estimate && estimate <= upper);
                prop_assert!(lower.is_finite() && upper.is_finite());
            }
        }

        #[test]
        fn any_numbers_are_built_or_refused(
            estimate in prop::num::f64::ANY,
            width in prop::num::f64::ANY,
            top in prop::num::f64::ANY,
            dof in prop::num::f64::ANY,
        ) {
            let source = || Source::new("x", estimate);
            for builder in [
                source().trapezoidal(width, top),
                source().student_t(width, dof),
                source().normal(width).limits_at_sd(dof),
                source().limits(width, top),
            ] {
                if let Ok(source) = builder.build() {
                    prop_assert!(source.bounds().is_none_or(|(low, high)| low <= high));
                }
            }
        }
    }
}
