use crate::expr::{Leaf, Order};
use crate::graph::{self, Graph, article};
use crate::problem::{Problem, Variable};
use crate::run::affine;
use crate::stack::OutcomeData;
use crate::tape::Tape;
use crate::{Band, Error, ErrorKind, Expr, Stack};
use kerfwise_source::{CorrelationMatrix, Source};
use std::collections::HashMap;

/// A stack in the making: takes anything, and reports all faults together in [`build`](Self::build).
#[derive(Debug, Clone, Default)]
#[must_use]
pub struct StackBuilder {
    outcomes: Vec<(String, Expr, Option<Band>)>,
    correlations: Vec<(Source, Source, f64)>,
}

impl StackBuilder {
    /// An outcome with the band that it should lie in.
    pub fn outcome(mut self, name: &str, expr: &Expr, band: Band) -> Self {
        self.outcomes
            .push((name.to_owned(), expr.clone(), Some(band)));
        self
    }

    /// An outcome without a band.
    pub fn outcome_without_band(mut self, name: &str, expr: &Expr) -> Self {
        self.outcomes.push((name.to_owned(), expr.clone(), None));
        self
    }

    /// Correlation coefficient of the errors of two sources. Instances of redrawn sources are correlated within one
    /// instance only.
    pub fn correlated(mut self, a: &Source, b: &Source, coefficient: f64) -> Self {
        self.correlations.push((a.clone(), b.clone(), coefficient));
        self
    }

    /// Checks everything, reports all faults together, compiles.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Stack`] with all faults: no outcome, or two of one name; two sources of one name; dimensions that do
    /// not fit; constants that are not finite or not defined; a band of another dimension than its outcome; a source
    /// redrawn twice; correlations that are no correlation matrix, or of sources in no outcome.
    ///
    /// ```
    /// use kerfwise_source::{AngleUnits, LengthUnits, Source};
    /// use kerfwise_stack::{Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.125.inch()).build()?;
    /// let theta = Source::new("theta", 0.25.degrees()).build()?;
    /// let error = Stack::builder()
    ///     .outcome_without_band("cut", &(Expr::from(&kerf) + &theta))
    ///     .build()
    ///     .unwrap_err();
    /// assert_eq!(
    ///     error.to_string(),
    ///     r#"outcome "cut": cannot add angle to length: "theta" is an angle, "kerf" is a length"#,
    /// );
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    pub fn build(self) -> Result<Stack, Error> {
        let mut faults = Vec::new();
        self.check_names(&mut faults);
        let variables = self.variables(&mut faults);
        let graph = self.graph(&variables, &mut faults);
        let outcomes = self.checked_outcomes(&graph, &mut faults);
        let correlation = self.correlation(&variables, &mut faults);
        if !faults.is_empty() {
            return Err(ErrorKind::Stack(shortened(faults)).into());
        }
        let tape = Tape::compile(&graph, variables.len());
        let affine = (0..tape.outputs())
            .map(|output| affine::affine(&tape, output))
            .collect();
        Ok(Stack {
            outcomes,
            problem: Problem {
                variables,
                tape,
                affine,
                correlation,
            },
        })
    }

    fn check_names(&self, faults: &mut Vec<String>) {
        if self.outcomes.is_empty() {
            faults.push("a stack needs at least one outcome".to_owned());
        }
        let mut seen: HashMap<&str, usize> = HashMap::new();
        for (name, ..) in &self.outcomes {
            let times = seen.entry(name).or_insert(0);
            *times += 1;
            if *times == 2 {
                faults.push(format!("two outcomes are named {name:?}; rename one"));
            }
            if name.trim().is_empty() {
                faults.push("an outcome needs a name".to_owned());
            }
        }
    }

    /// One per source and instance, by name.
    fn variables(&self, faults: &mut Vec<String>) -> Vec<Variable> {
        let order = Order::of(self.outcomes.iter().map(|(_, expr, _)| expr));
        let mut by_name: HashMap<&str, &Source> = HashMap::new();
        let mut variables: Vec<Variable> = Vec::new();
        let mut is_reported: HashMap<&str, ()> = HashMap::new();
        for leaf in order.leaves() {
            let name = leaf.source.name();
            let known = by_name.entry(name).or_insert(&leaf.source);
            if !known.is_same(&leaf.source) && is_reported.insert(name, ()).is_none() {
                faults.push(format!(
                    "two different sources are named \"{name}\"; rename one, or use the same handle"
                ));
            }
            if leaf.is_redrawn_twice {
                faults.push(format!("source \"{name}\" is redrawn twice; give every draw its own number in a single redraw"));
            }
            variables.push(Variable {
                source: leaf.source.clone(),
                instance: leaf.instance,
                name: leaf.name(),
            });
        }
        variables.sort_by(|a, b| a.name.cmp(&b.name));
        variables.dedup_by(|a, b| a.name == b.name);
        variables
    }

    fn graph(&self, variables: &[Variable], faults: &mut Vec<String>) -> Graph {
        let outcomes: Vec<(&str, &Expr)> = self
            .outcomes
            .iter()
            .map(|(name, expr, _)| (name.as_str(), expr))
            .collect();
        let places: HashMap<&str, usize> = variables
            .iter()
            .enumerate()
            .map(|(place, variable)| (variable.name.as_str(), place))
            .collect();
        let input_of = |leaf: &Leaf| places[leaf.name().as_str()];
        graph::build(&outcomes, &input_of, faults)
    }

    fn checked_outcomes(&self, graph: &Graph, faults: &mut Vec<String>) -> Vec<OutcomeData> {
        let mut outcomes = Vec::new();
        for ((name, expr, band), &output) in self.outcomes.iter().zip(&graph.outputs) {
            // Without a dimension there is a fault already.
            let Some(dimension) = graph.nodes[output as usize].dimension else {
                continue;
            };
            if let Some(band) = band
                && band.dimension() != dimension
            {
                faults.push(format!(
                    "outcome {name:?} is {}, its band ({band}) is {}",
                    article(dimension),
                    article(band.dimension())
                ));
            }
            outcomes.push(OutcomeData {
                name: name.clone(),
                expr: expr.clone(),
                band: *band,
                dimension,
            });
        }
        outcomes
    }

    fn correlation(
        &self,
        variables: &[Variable],
        faults: &mut Vec<String>,
    ) -> Option<CorrelationMatrix> {
        if self.correlations.is_empty() {
            return None;
        }
        let is_known = |source: &Source| variables.iter().any(|v| v.source.is_same(source));
        let is_redrawn = |source: &Source| {
            let draws = variables.iter().filter(|v| v.source.is_same(source));
            draws.into_iter().any(|v| v.instance != 0)
        };
        let mut unknown: Vec<&str> = Vec::new();
        for (a, b, _) in &self.correlations {
            for source in [a, b] {
                if !is_known(source) && !unknown.contains(&source.name()) {
                    unknown.push(source.name());
                }
            }
            if a.event() != b.event() && (is_redrawn(a) || is_redrawn(b)) {
                faults.push(format!(
                    "correlated sources \"{}\" and \"{}\" are redrawn by different events (\"{}\" and \"{}\"); give them one event, or a shared source",
                    a.name(),
                    b.name(),
                    a.event().name(),
                    b.event().name()
                ));
            }
        }
        faults.extend(
            unknown.iter().map(|name| {
                format!("a correlation names source \"{name}\", which is in no outcome")
            }),
        );
        let pairs: Vec<(&str, &str, f64)> = self
            .correlations
            .iter()
            .map(|(a, b, coefficient)| (a.name(), b.name(), *coefficient))
            .collect();
        match CorrelationMatrix::from_pairs(&pairs) {
            Ok(matrix) => Some(matrix),
            Err(error) => {
                faults.push(error.to_string());
                None
            }
        }
    }
}

/// A plan with one slip used everywhere has thousands of faults; nobody reads more than some.
fn shortened(mut faults: Vec<String>) -> Vec<String> {
    const MOST: usize = 50;
    if faults.len() > MOST {
        let more = faults.len() - MOST;
        faults.truncate(MOST);
        faults.push(format!("and {more} more"));
    }
    faults
}
