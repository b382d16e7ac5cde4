use crate::builder::StackBuilder;
use crate::graph::article;
use crate::problem::Problem;
use crate::propagate::{batch, compare, exact, monte, quasi, rss, worst};
use crate::run::point;
use crate::text::nearest;
use crate::{Band, Decline, Error, ErrorKind, Expr, Propagation};
use kerfwise_source::{CorrelationMatrix, Dimension, Quantity, Source};
use std::fmt;

/// One or more named outcomes over shared sources, checked and compiled.
#[derive(Debug, Clone)]
pub struct Stack {
    pub(crate) outcomes: Vec<OutcomeData>,
    pub(crate) problem: Problem,
}

#[derive(Debug, Clone)]
pub(crate) struct OutcomeData {
    pub(crate) name: String,
    pub(crate) expr: Expr,
    pub(crate) band: Option<Band>,
    pub(crate) dimension: Dimension,
}

impl Stack {
    /// Starts a stack.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Expr::from(Source::new("kerf", 0.125.inch()).build()?);
    /// let stack = Stack::builder()
    ///     .outcome("two cuts", &(2.0 * &kerf), Band::at_most(0.3.inch())?)
    ///     .build()?;
    /// assert_eq!(stack.outcomes().count(), 1);
    /// assert!(stack.to_string().starts_with("two cuts = 2 * kerf\n    at most 0.3 in\n"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn builder() -> StackBuilder {
        StackBuilder::default()
    }

    /// The outcomes, in the order given.
    pub fn outcomes(&self) -> impl Iterator<Item = Outcome<'_>> {
        (0..self.outcomes.len()).map(|index| Outcome { stack: self, index })
    }

    /// An outcome by name.
    pub fn outcome(&self, name: &str) -> Option<Outcome<'_>> {
        self.outcomes().find(|o| o.name() == name)
    }

    /// The sources, by name. A source with several instances is there once.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("tenon", &(Expr::from(&travel) - &kerf))
    ///     .build()?;
    /// let names: Vec<&str> = stack.sources().into_iter().map(Source::name).collect();
    /// assert_eq!(names, ["kerf", "travel"]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn sources(&self) -> Vec<&Source> {
        let mut sources: Vec<&Source> = self.problem.variables.iter().map(|v| &v.source).collect();
        sources.sort_by(|a, b| a.name().cmp(b.name()));
        sources.dedup_by(|a, b| a.is_same(b));
        sources
    }

    /// The same stack with another source in the place of one: the same thing about another estimate, for instance
    /// ([`Source::at_estimate`]). Correlations stay. Where no outcome takes `old` nothing changes, and that is no error.
    ///
    /// # Errors
    ///
    /// When the new source has another dimension, or the name of another source of the stack.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let distance = Source::new("distance", 0.5.inch()).build()?;
    /// let tenon = 2.0 * Expr::source(&distance) - 0.625.inch();
    /// let stack = Stack::builder().outcome_without_band("tenon", &tenon).build()?;
    /// let further = stack.with_source(&distance, &distance.at_estimate(0.51.inch())?)?;
    /// assert_eq!(further.outcome("tenon").unwrap().evaluate(&[])?.raw(), 2.0 * 0.51 - 0.625);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn with_source(&self, old: &Source, new: &Source) -> Result<Self, Error> {
        let mut builder = Self::builder();
        for outcome in self.outcomes() {
            let expr = outcome.expr().with_source(old, new);
            builder = match outcome.band() {
                Some(band) => builder.outcome(outcome.name(), &expr, band),
                None => builder.outcome_without_band(outcome.name(), &expr),
            };
        }
        if let Some(matrix) = self.correlations() {
            let sources = self.sources();
            let now = |k: usize| {
                if sources[k].is_same(old) {
                    new
                } else {
                    sources[k]
                }
            };
            for i in 0..sources.len() {
                for j in i + 1..sources.len() {
                    let coefficient = matrix.between(sources[i].name(), sources[j].name());
                    if coefficient != 0.0 {
                        builder = builder.correlated(now(i), now(j), coefficient);
                    }
                }
            }
        }
        builder.build()
    }

    /// The correlations between sources, if any were given.
    #[must_use]
    pub fn correlations(&self) -> Option<&CorrelationMatrix> {
        self.problem.correlation.as_ref()
    }

    /// Monte Carlo of all outcomes together, with their joint chance (JCGM 101).
    ///
    /// # Errors
    ///
    /// Declines when correlated sources are not all normal.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.inch()).rectangular(2.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome("kerf", &Expr::from(kerf), Band::within(1.thou())?)
    ///     .build()?;
    /// let answer = stack.monte_carlo(20_000)?;
    /// let inside = answer.outcomes[0].chance.unwrap().inside;
    /// assert!((inside - 0.5).abs() < 0.015); // half of the width; four standard errors are 0.014
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn monte_carlo(
        &self,
        options: impl Into<monte::MonteCarlo>,
    ) -> Result<monte::MonteCarloAnswer, Decline> {
        monte::run(self, &options.into(), &mut |_| {
            std::ops::ControlFlow::Continue(())
        })
    }

    /// The same with a progress callback, which may end the run early; what is known so far is returned.
    ///
    /// # Errors
    ///
    /// As [`monte_carlo`](Self::monte_carlo).
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.inch()).rectangular(2.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("kerf", &Expr::from(kerf))
    ///     .build()?;
    /// let answer = stack.monte_carlo_with(1_000_000, &mut |_| std::ops::ControlFlow::Break(()))?;
    /// assert!(answer.is_cancelled && answer.trials < 1_000_000);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn monte_carlo_with(
        &self,
        options: impl Into<monte::MonteCarlo>,
        progress: &mut dyn FnMut(monte::Progress) -> std::ops::ControlFlow<()>,
    ) -> Result<monte::MonteCarloAnswer, Decline> {
        monte::run(self, &options.into(), progress)
    }

    /// All propagations next to each other, with what explains their differences.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("two cuts", &(2.0 * Expr::from(kerf)))
    ///     .build()?;
    /// let answers = stack.side_by_side(10_000);
    /// assert!(answers.outcomes[0].worst_case.is_ok() && answers.outcomes[0].exact.is_ok());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn side_by_side(&self, options: impl Into<monte::MonteCarlo>) -> compare::SideBySide {
        self.side_by_side_with(options, &mut |_| std::ops::ControlFlow::Continue(()))
    }

    /// The same with a progress callback for the Monte Carlo run, which may end it early; what is known so far is
    /// compared.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("kerf", &Expr::from(kerf))
    ///     .build()?;
    /// let answers = stack.side_by_side_with(1_000_000, &mut |_| std::ops::ControlFlow::Break(()));
    /// assert!(answers.monte_carlo?.is_cancelled && answers.outcomes[0].exact.is_ok());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn side_by_side_with(
        &self,
        options: impl Into<monte::MonteCarlo>,
        progress: &mut dyn FnMut(monte::Progress) -> std::ops::ControlFlow<()>,
    ) -> compare::SideBySide {
        compare::run(self, &options.into(), progress)
    }
}

/// Each outcome with its algebra and band, then the sources (estimate, distribution of the error, event) and their
/// correlations.
impl fmt::Display for Stack {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for outcome in &self.outcomes {
            writeln!(f, "{} = {}", outcome.name, outcome.expr)?;
            if let Some(band) = outcome.band {
                writeln!(f, "    {band}")?;
            }
        }
        self.write_sources(f)?;
        self.write_correlations(f)
    }
}

impl Stack {
    fn write_sources(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let row = |source: &Source| {
            [
                source.name().to_owned(),
                source.estimate().to_string(),
                source.error().name().to_owned(),
                source.event().name().to_owned(),
            ]
        };
        let rows: Vec<[String; 4]> = self.sources().into_iter().map(row).collect();
        if rows.is_empty() {
            return Ok(());
        }
        let width = |k: usize| {
            let widths = rows.iter().map(|row: &[String; 4]| row[k].chars().count());
            widths.max().unwrap_or(0)
        };
        let [name, estimate, error] = [0, 1, 2].map(width);
        writeln!(f, "sources")?;
        for [a, b, c, event] in &rows {
            writeln!(f, "    {a:name$}  {b:estimate$}  {c:error$}  {event}")?;
        }
        Ok(())
    }

    fn write_correlations(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(matrix) = &self.problem.correlation else {
            return Ok(());
        };
        writeln!(f, "correlations")?;
        for (k, a) in matrix.names().iter().enumerate() {
            for b in &matrix.names()[k + 1..] {
                let coefficient = matrix.between(a, b);
                if coefficient != 0.0 {
                    writeln!(f, "    {a}, {b}: {coefficient}")?;
                }
            }
        }
        Ok(())
    }
}

/// One term of an affine outcome: a coefficient times (estimate + error) of a source.
#[derive(Debug, Clone)]
pub struct AffineTerm {
    /// The source.
    pub source: Source,
    /// Which draw of it: 0 unless the expression redraws an event.
    pub instance: u32,
    /// The coefficient, in the outcome's dimension per the source's.
    pub coefficient: Quantity,
}

/// One outcome of a stack.
#[derive(Debug, Clone, Copy)]
pub struct Outcome<'a> {
    pub(crate) stack: &'a Stack,
    pub(crate) index: usize,
}

impl<'a> Outcome<'a> {
    fn data(&self) -> &'a OutcomeData {
        &self.stack.outcomes[self.index]
    }

    /// The name.
    pub fn name(&self) -> &'a str {
        &self.data().name
    }

    /// The expression.
    pub fn expr(&self) -> &'a Expr {
        &self.data().expr
    }

    /// The band, if any.
    pub fn band(&self) -> Option<Band> {
        self.data().band
    }

    /// The dimension.
    pub fn dimension(&self) -> Dimension {
        self.data().dimension
    }

    /// Whether the outcome is a constant plus a sum of sources times constants, which is what the exact propagation
    /// needs. Sources without spread count as constants.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let kerf = Expr::from(Source::new("kerf", 0.125.inch()).normal(0.4.thou()).build()?);
    /// let stack = Stack::builder()
    ///     .outcome_without_band("twice", &(2.0 * &kerf))
    ///     .outcome_without_band("size", &kerf.abs())
    ///     .build()?;
    /// let (twice, size) = (stack.outcome("twice").unwrap(), stack.outcome("size").unwrap());
    /// assert!(twice.is_affine() && twice.is_smooth());
    /// assert!(!size.is_affine() && !size.is_smooth());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn is_affine(&self) -> bool {
        self.stack.problem.affine[self.index].is_ok()
    }

    /// The terms of an affine outcome, by name. Sources without spread are not among them.
    ///
    /// # Errors
    ///
    /// Declines when the outcome is not affine, and names the sources in which it is not.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(0.4.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("tenon", &(Expr::from(&travel) - 2.0 * Expr::from(&kerf)))
    ///     .build()?;
    /// let terms = stack.outcome("tenon").unwrap().affine_terms()?;
    /// assert_eq!(terms.len(), 1); // the travel is known exactly
    /// assert!(terms[0].source.is_same(&kerf) && terms[0].coefficient.raw() == -2.0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn affine_terms(&self) -> Result<Vec<AffineTerm>, Decline> {
        let problem = &self.stack.problem;
        let affine = problem.affine[self.index].as_ref().map_err(|bent| {
            let names: Vec<&str> = bent
                .iter()
                .map(|&i| problem.variables[i].name.as_str())
                .collect();
            let reason = format!("not affine in: {}", names.join(", "));
            Decline::new(Propagation::Exact, vec![reason])
        })?;
        let term = |&(input, coefficient): &(usize, f64)| {
            let variable = &problem.variables[input];
            let per = self.dimension().per(variable.source.dimension());
            AffineTerm {
                source: variable.source.clone(),
                instance: variable.instance,
                // A dimension too high to be written cannot have come out of a checked graph.
                coefficient: Quantity::new(coefficient, per.unwrap_or(Dimension::NUMBER)),
            }
        };
        Ok(affine.terms.iter().map(term).collect())
    }

    /// The draws in which it is not affine, each a source and which draw of it, by name: none of an affine outcome. All
    /// others only add a constant times their error.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let lean = Source::new("lean", 0.inch()).normal(1.thou()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(0.4.thou()).build()?;
    /// let felt = Expr::source(&lean).abs() - Expr::source(&kerf);
    /// let stack = Stack::builder().outcome_without_band("felt", &felt).build()?;
    /// let bent = stack.outcome("felt").unwrap().not_affine_in();
    /// assert!(bent.len() == 1 && bent[0].0.is_same(&lean));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn not_affine_in(&self) -> Vec<(&'a Source, u32)> {
        let problem = &self.stack.problem;
        let bent = problem.affine[self.index].as_ref().err();
        let draw = |&input: &usize| {
            let variable = &problem.variables[input];
            (&variable.source, variable.instance)
        };
        bent.into_iter().flatten().map(draw).collect()
    }

    /// Whether there is nothing in it that can have a kink: min, max, abs, or a function not declared smooth.
    #[must_use]
    pub fn is_smooth(&self) -> bool {
        self.stack.problem.tape.is_smooth(self.index)
    }

    /// The name of the first Rust function in it, of which no more is known than its declared facts.
    #[must_use]
    pub fn opaque_function(&self) -> Option<&'a str> {
        self.stack.problem.tape.opaque_function(self.index)
    }

    /// The draws that the outcome is made of: each source, and which draw of it (0 for the first), by name.
    ///
    /// ```
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let seat = Source::new("seat", 0.inch()).event(Event::cut()).build()?;
    /// let both = Expr::source(&seat).abs() + Expr::source(&seat).redraw(&Event::cut(), 2).abs();
    /// let stack = Stack::builder().outcome_without_band("both", &both).build()?;
    /// let draws = stack.outcome("both").unwrap().draws();
    /// assert_eq!(draws.iter().map(|(_, n)| *n).collect::<Vec<_>>(), [0, 2]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn draws(&self) -> Vec<(&'a Source, u32)> {
        let problem = &self.stack.problem;
        let inputs = problem.tape.inputs_of(self.index);
        inputs
            .iter()
            .map(|&input| {
                let variable = &problem.variables[input];
                (&variable.source, variable.instance)
            })
            .collect()
    }

    /// The value of the outcome when its sources have these values, by name (`"seat"`, or `"seat#2"` for a second
    /// draw); those not named stand at their estimates.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Values`] with all faults: a name that is not a source of this outcome or comes twice, a value of
    /// another dimension or not finite, or an outcome that is not defined there.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("tenon", &(Expr::from(&travel) - &kerf))
    ///     .build()?;
    /// let tenon = stack.outcome("tenon").unwrap();
    /// assert_eq!(tenon.evaluate(&[])?, 0.375.inch().into());
    /// assert_eq!(tenon.evaluate(&[("kerf", 0.25.inch().into())])?, 0.25.inch().into());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn evaluate(&self, values: &[(&str, Quantity)]) -> Result<Quantity, Error> {
        let problem = &self.stack.problem;
        let mut faults = Vec::new();
        let inputs = self.inputs(values, &mut faults);
        if faults.is_empty() {
            let value = point::point(&problem.tape, &inputs, &mut Vec::new())[self.index];
            if value.is_finite() {
                return Ok(Quantity::new(value, self.dimension()));
            }
            faults.push("it is not defined at these values".to_owned());
        }
        let name = self.name();
        let faults = faults
            .into_iter()
            .map(|fault| format!("outcome {name:?}: {fault}"));
        Err(ErrorKind::Values(faults.collect()).into())
    }

    /// The estimates, where a value is named that value.
    fn inputs(&self, values: &[(&str, Quantity)], faults: &mut Vec<String>) -> Vec<f64> {
        let problem = &self.stack.problem;
        let known = problem.tape.inputs_of(self.index);
        let names = || {
            known
                .iter()
                .map(|&input| problem.variables[input].name.as_str())
        };
        let estimates = problem.variables.iter().map(|v| v.source.estimate().raw());
        let mut inputs: Vec<f64> = estimates.collect();
        let mut is_named = vec![false; inputs.len()];
        for &(name, value) in values {
            // Variables are sorted by name.
            let place =
                known.binary_search_by(|&input| problem.variables[input].name.as_str().cmp(name));
            let Ok(place) = place else {
                let near = nearest(name, names());
                let hint = near.map_or(String::new(), |near| format!(": did you mean \"{near}\"?"));
                faults.push(format!("unknown source {name:?}{hint}"));
                continue;
            };
            let input = known[place];
            let wanted = problem.variables[input].source.dimension();
            if is_named[input] {
                faults.push(format!("source \"{name}\" has two values"));
            } else if value.dimension() != wanted {
                let found = article(value.dimension());
                faults.push(format!(
                    "source \"{name}\" needs {} (got {value}, {found})",
                    article(wanted)
                ));
            } else if !value.raw().is_finite() {
                faults.push(format!(
                    "the value of \"{name}\" must be finite (got {value})"
                ));
            }
            is_named[input] = true;
            inputs[input] = value.raw();
        }
        inputs
    }

    /// Guaranteed extremes over the limits of the sources.
    ///
    /// # Errors
    ///
    /// Declines when a source has no limits, or when the outcome is not defined all over the box of limits.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack, WorstCase};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).rectangular(1.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("two cuts", &(2.0 * Expr::from(kerf)))
    ///     .build()?;
    /// let worst = stack.outcome("two cuts").unwrap().worst_case(WorstCase::new())?;
    /// assert_eq!(format!("{:.3}", worst.lower.bound), "0.248 in"); // 2 · (125 - 1) thou
    /// assert_eq!(format!("{:.3}", worst.upper.bound), "0.252 in");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn worst_case(&self, options: worst::WorstCase) -> Result<worst::WorstCaseAnswer, Decline> {
        worst::run(*self, &options)
    }

    /// Law of propagation of uncertainty (JCGM 100, 5).
    ///
    /// # Errors
    ///
    /// Declines when a source has no standard uncertainty, and as the options say.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Expr, RootSumOfSquares, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).normal(3.thou()).build()?;
    /// let kerf = Source::new("kerf", 0.125.inch()).normal(4.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("tenon", &(Expr::from(travel) - kerf))
    ///     .build()?;
    /// let tenon = stack.outcome("tenon").unwrap();
    /// let answer = tenon.root_sum_of_squares(RootSumOfSquares::new())?;
    /// assert_eq!(format!("{:.4}", answer.standard_uncertainty), "0.0050 in"); // 3² + 4² = 5²
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn root_sum_of_squares(
        &self,
        options: rss::RootSumOfSquares,
    ) -> Result<rss::RootSumOfSquaresAnswer, Decline> {
        rss::run(*self, &options)
    }

    /// The whole distribution of an affine outcome, without sampling.
    ///
    /// # Errors
    ///
    /// Declines when the outcome is not affine or a distribution has no route.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let travel = Source::new("travel", 0.5.inch()).rectangular(1.thou()).build()?;
    /// let kerf = Source::new("kerf", 0.5.inch()).rectangular(1.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome_without_band("gap", &(Expr::from(travel) - kerf))
    ///     .build()?;
    /// let gap = stack.outcome("gap").unwrap().exact()?;
    /// // Two equal rectangles make a triangle of twice the width: three quarters of it lie within half of its reach.
    /// let chance = gap.chance(&Band::within(1.thou())?);
    /// assert!((chance.value.inside - 0.75).abs() <= chance.error);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn exact(&self) -> Result<exact::Exact, Decline> {
        exact::run(*self)
    }

    /// The whole distribution of an outcome that is affine once one or two of its sources are held fixed, as a tilt or a
    /// factor: exact sums at the nodes of a quadrature over them. For an affine outcome, the exact answer.
    ///
    /// # Errors
    ///
    /// Declines when no two sources make the rest affine, when one of them is correlated with others, when a function
    /// that is not declared smooth stands in the outcome, and when the quadrature is not good to 1e-6.
    ///
    /// ```
    /// use kerfwise_source::{Distribution, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Propagation, Stack};
    ///
    /// let play = Source::new("play", 0.inch()).rectangular(1.thou()).build()?;
    /// // The end of a long rail moves once or twice as far.
    /// let lever = Distribution::discrete(&[(1.0, 0.5), (2.0, 0.5)])?;
    /// let lever = Source::new("lever", 0.0).error(lever).build()?;
    /// let band = Band::within(1.thou())?;
    /// let stack = Stack::builder().outcome("end", &(Expr::from(play) * lever), band).build()?;
    /// let end = stack.outcome("end").unwrap().semi_exact()?;
    /// assert_eq!((end.propagation(), end.held()), (Propagation::SemiExact, &["lever".to_owned()][..]));
    /// // All of the first half lies within the band, and half of the second.
    /// let chance = end.chance(&band);
    /// assert!((chance.value.inside - 0.75).abs() <= chance.error);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn semi_exact(&self) -> Result<exact::Exact, Decline> {
        exact::semi::run(*self)
    }

    /// The chance of the band for an outcome that need not be affine, with what is only added integrated out
    /// and all else at scrambled Sobol points: far fewer points than trials for the same standard error.
    ///
    /// # Errors
    ///
    /// Declines without a band, when nothing smooth is only added to the rest, when sources are correlated, and when
    /// the outcome is not defined everywhere.
    ///
    /// ```
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, QuasiMonteCarlo, Stack};
    ///
    /// let saw = Source::new("saw", 0.inch()).normal(1.thou()).build()?;
    /// let tilt = Source::new("tilt", 0.0).rectangular(0.1).build()?;
    /// let fit = Expr::from(saw) + Expr::constant(0.5.inch()) * (Expr::constant(1.0) - Expr::from(tilt).square());
    /// let band = Band::between(0.495.inch(), 0.502.inch())?;
    /// let stack = Stack::builder().outcome("fit", &fit, band).build()?;
    /// let answer = stack.outcome("fit").unwrap().quasi_monte_carlo(QuasiMonteCarlo::new())?;
    /// assert_eq!(answer.integrated, ["saw"]);
    /// assert!(answer.chance_error.inside < 1e-6); // of 32,768 trials it would be 7e-4
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn quasi_monte_carlo(
        &self,
        options: quasi::QuasiMonteCarlo,
    ) -> Result<quasi::QuasiMonteCarloAnswer, Decline> {
        quasi::run(*self, &options)
    }

    /// The chance that n pieces all land in the band, with shared errors shared.
    ///
    /// # Errors
    ///
    /// Declines as [`exact`](Self::exact), or when there is no band.
    ///
    /// ```
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Batch, Expr, Stack};
    ///
    /// let seat = Source::new("seat", 0.inch())
    ///     .rectangular(2.thou())
    ///     .event(Event::piece())
    ///     .build()?;
    /// let stack = Stack::builder()
    ///     .outcome("fit", &Expr::from(seat), Band::within(1.thou())?)
    ///     .build()?;
    /// let two = stack.outcome("fit").unwrap().batch(Batch::of(2))?;
    /// // Half of the width fits; nothing is shared, so of two pieces both fit in a quarter of all cases.
    /// assert!((two.all.value - 0.25).abs() <= two.all.error);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn batch(&self, options: batch::Batch) -> Result<batch::BatchAnswer, Decline> {
        batch::run(*self, &options)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing;
    use kerfwise_source::{AngleUnits, Event, LengthUnits};

    #[test]
    fn stacks_go_between_threads() {
        fn is_send_and_sync<T: Send + Sync>() {}
        is_send_and_sync::<Stack>();
        is_send_and_sync::<Expr>();
    }

    fn tenon() -> Stack {
        let travel = Source::new("travel", 0.5.inch())
            .rectangular(1.thou())
            .build()
            .unwrap();
        let seat = Source::new("seat", 0.inch())
            .triangular(2.thou())
            .event(Event::cut())
            .build()
            .unwrap();
        let kerf = Source::new("kerf", 0.125.inch())
            .event(Event::blade())
            .build()
            .unwrap();
        let first = Expr::from(&travel) - &kerf - &seat;
        let thickness = &first + Expr::from(&seat).redraw(&Event::cut(), 2);
        let band = Band::between(0.37.inch(), 0.38.inch()).unwrap();
        Stack::builder()
            .outcome("tenon", &thickness, band)
            .outcome_without_band("kerf twice", &(2.0 * Expr::from(&kerf)))
            .build()
            .unwrap()
    }

    #[test]
    fn a_stack_prints_its_algebra_and_its_sources() {
        assert_eq!(
            tenon().to_string(),
            "tenon = travel - kerf - seat + seat#2\n    \
                 from 0.37 in to 0.38 in\n\
             kerf twice = 2 * kerf\n\
             sources\n    \
                 kerf    0.125 in  point        blade\n    \
                 seat    0 in      triangular   cut\n    \
                 travel  0.5 in    rectangular  batch\n"
        );
    }

    #[test]
    fn correlations_are_printed() {
        let source = |name: &str| {
            Source::new(name, 1.inch())
                .normal(1.thou())
                .build()
                .unwrap()
        };
        let (a, b, c) = (source("a"), source("b"), source("c"));
        let stack = Stack::builder()
            .outcome_without_band("sum", &(Expr::from(&a) + &b + &c))
            .correlated(&b, &a, 0.5)
            .correlated(&b, &c, -0.25)
            .build()
            .unwrap();
        let text = stack.to_string();
        let (_, correlations) = text.split_once("correlations\n").unwrap();
        let mut lines: Vec<&str> = correlations.lines().map(str::trim).collect();
        lines.sort_unstable();
        assert_eq!(lines.len(), 2);
        assert!(
            lines
                .iter()
                .all(|l| l.ends_with(": 0.5") || l.ends_with(": -0.25")),
            "{text}"
        );
    }

    #[test]
    fn an_outcome_is_evaluated_at_estimates_and_named_values() {
        let stack = tenon();
        let tenon = stack.outcome("tenon").unwrap();
        assert_eq!(tenon.evaluate(&[]).unwrap(), 0.375.inch().into());
        let values = [("seat", 0.25.inch().into()), ("seat#2", 1.inch().into())];
        assert_eq!(tenon.evaluate(&values).unwrap(), 1.125.inch().into());
        assert_eq!(tenon.name(), "tenon");
        assert!(stack.outcome("fit").is_none());
    }

    #[test]
    fn all_faults_of_values_come_together() {
        let stack = tenon();
        let values = [
            ("kerf", 1.degrees().into()),
            ("travell", 1.inch().into()),
            ("seat", f64::NAN.inch().into()),
            ("kerf", 0.125.inch().into()),
        ];
        let error = stack
            .outcome("tenon")
            .unwrap()
            .evaluate(&values)
            .unwrap_err();
        assert_eq!(
            error.kind(),
            &ErrorKind::Values(vec![
                r#"outcome "tenon": source "kerf" needs a length (got 0.017453292519943295 rad, an angle)"#.into(),
                r#"outcome "tenon": unknown source "travell": did you mean "travel"?"#.into(),
                r#"outcome "tenon": the value of "seat" must be finite (got NaN in)"#.into(),
                r#"outcome "tenon": source "kerf" has two values"#.into(),
            ])
        );
        // A source of another outcome is none of this one.
        let other = stack.outcome("kerf twice").unwrap();
        assert_eq!(
            other
                .evaluate(&[("travel", 1.inch().into())])
                .unwrap_err()
                .to_string(),
            r#"outcome "kerf twice": unknown source "travel""#
        );
        let gap = Expr::from(&testing::length("gap"));
        let ratio = Stack::builder()
            .outcome_without_band("ratio", &(1.inch() / gap))
            .build()
            .unwrap();
        let at_zero = ratio
            .outcome("ratio")
            .unwrap()
            .evaluate(&[("gap", 0.inch().into())]);
        assert_eq!(
            at_zero.unwrap_err().to_string(),
            r#"outcome "ratio": it is not defined at these values"#
        );
    }
}
