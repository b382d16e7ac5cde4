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
        let order = Order::of(self.outcomes.iter().map(|(_, expr, _)| expr));
        let variables = variables(&order, &mut faults);
        let graph = self.graph(&order, &variables, &mut faults);
        let outcomes = self.checked_outcomes(&graph, &mut faults);
        let correlation = self.correlation(&variables, &mut faults);
        if !faults.is_empty() {
            return Err(ErrorKind::Stack(shortened(faults)).into());
        }
        let tape = Tape::compile(&graph, variables.len());
        let known: Vec<Option<f64>> = variables.iter().map(Variable::known_value).collect();
        let affine = (0..tape.outputs())
            .map(|output| affine::affine(&tape, output, &known))
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

    fn graph(&self, order: &Order<'_>, variables: &[Variable], faults: &mut Vec<String>) -> Graph {
        let outcomes: Vec<(&str, &Expr)> = self
            .outcomes
            .iter()
            .map(|(name, expr, _)| (name.as_str(), expr))
            .collect();
        let input_of = |leaf: &Leaf| {
            let name = leaf.name();
            // Every leaf has a variable, and these are sorted by name.
            variables.partition_point(|variable| variable.name < name)
        };
        graph::build(&outcomes, order, &input_of, faults)
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

/// One per source and instance, by name.
fn variables(order: &Order<'_>, faults: &mut Vec<String>) -> Vec<Variable> {
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

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::*;
    use crate::{Facts, Monotone, testing};
    use kerfwise_source::{AngleUnits, Dimension, Event, LengthUnits};
    use std::slice::from_ref;
    use std::sync::Arc;

    fn faults(builder: StackBuilder) -> Vec<String> {
        match builder.build().unwrap_err().kind() {
            ErrorKind::Stack(faults) => faults.clone(),
            other => panic!("{other:?}"),
        }
    }

    fn faults_of(expr: &Expr) -> Vec<String> {
        faults(Stack::builder().outcome_without_band("out", expr))
    }

    fn angle(name: &str) -> Expr {
        Expr::from(Source::new(name, 1.degrees()).build().unwrap())
    }

    fn length(name: &str) -> Expr {
        Expr::from(testing::length(name))
    }

    #[test]
    fn all_faults_come_together() {
        let (kerf, theta) = (length("kerf"), angle("theta"));
        let band = Band::within(1.degrees()).unwrap();
        let builder = Stack::builder()
            .outcome("step", &(&kerf + &kerf), band)
            .outcome_without_band("step", &(&theta - &kerf))
            .outcome_without_band("fit", &(kerf.sqrt() + length("kerf")));
        assert_eq!(
            faults(builder),
            [
                r#"two outcomes are named "step"; rename one"#,
                r#"two different sources are named "kerf"; rename one, or use the same handle"#,
                r#"outcome "step": cannot subtract length from angle: "kerf" is a length, "theta" is an angle"#,
                r#"outcome "fit": sqrt needs even powers of length, angle and moisture content: "kerf" is a length"#,
                r#"outcome "step" is a length, its band (from -0.017453292519943295 rad to 0.017453292519943295 rad) is an angle"#,
            ]
        );
        assert_eq!(
            Stack::builder().build().unwrap_err().to_string(),
            "a stack needs at least one outcome"
        );
        assert_eq!(
            faults(Stack::builder().outcome_without_band(" ", &kerf)),
            ["an outcome needs a name"]
        );
    }

    #[test]
    fn dimension_faults_name_both_sides() {
        let (kerf, theta) = (length("kerf"), angle("theta"));
        let number = Expr::from(Source::new("ratio", 2.0).build().unwrap());
        for (expr, message) in [
            (
                &kerf + &theta,
                r#"cannot add angle to length: "theta" is an angle, "kerf" is a length"#,
            ),
            (
                &kerf - 2.0,
                r#"cannot subtract pure number from length: "2" is a pure number, "kerf" is a length; a bare number has no unit: write "2 in""#,
            ),
            (
                1.0 + &theta,
                r#"cannot add angle to pure number: "theta" is an angle, "1" is a pure number; a bare number has no unit: write "1 rad""#,
            ),
            (
                kerf.min(&(&kerf * &theta)),
                r#"cannot take the min of length and length·angle: "kerf" is a length, "kerf * theta" is a length·angle"#,
            ),
            (
                kerf.square() + 2.0,
                r#"cannot add pure number to length²: "2" is a pure number, "square(kerf)" is a length²; a bare number has no unit: write "[2 in²]""#,
            ),
            (kerf.sin(), r#"sin needs an angle: "kerf" is a length"#),
            (
                Expr::constant(0.5).cos(),
                r#"cos needs an angle: "0.5" is a pure number; a bare number has no unit: write "0.5 rad""#,
            ),
            (kerf.exp(), r#"exp needs a pure number: "kerf" is a length"#),
            (
                theta.atan(),
                r#"atan needs a pure number: "theta" is an angle"#,
            ),
            (
                kerf.powi(64).powi(2),
                r#"in "(kerf^64)^2" the power of a unit is too large"#,
            ),
            (
                number.powi(i32::MIN),
                r#"in "ratio^-2147483648" the exponent must lie from -64 to 64"#,
            ),
            (number / 0.0, r#""ratio / 0" is not defined"#),
            (Expr::constant(1.0) / 0.0, r#""1 / 0" is not defined"#),
            (
                Expr::constant(f64::NAN) + 1.0,
                "a constant must be finite (got NaN)",
            ),
            (
                Expr::constant(1e300).square() + 1.0,
                r#""square(1e300)" is too large"#,
            ),
        ] {
            assert_eq!(faults_of(&expr), [format!("outcome \"out\": {message}")]);
        }
    }

    #[test]
    fn a_fault_is_reported_once_and_long_lists_and_texts_are_cut_short() {
        let (kerf, theta) = (length("kerf"), angle("theta"));
        let wrong = &kerf + &theta;
        assert_eq!(
            faults_of(&(&wrong * &wrong + (&kerf + &theta).square())).len(),
            1
        );
        let mut many = kerf.clone();
        for k in 1..=80 {
            many = many.max(&(f64::from(k) * &kerf + &theta));
        }
        let many = faults_of(&many);
        assert_eq!((many.len(), many[50].as_str()), (51, "and 30 more"));
        let long = (0..100).fold(kerf.clone(), |sum, _| sum - &kerf);
        let message = &faults_of(&(long + &theta))[0];
        assert!(message.contains("kerf - kerf -") && message.contains('…') && message.len() < 200);
    }

    #[test]
    fn opaque_functions_are_checked_against_their_facts() {
        let (kerf, theta) = (length("kerf"), angle("theta"));
        let facts =
            || Facts::giving(Dimension::LENGTH).argument(Dimension::LENGTH, Monotone::Unknown);
        let call = |name: &str, args: &[Expr]| {
            let expr = Expr::function(name, args, facts(), Arc::new(|x| x[0]));
            Stack::builder()
                .outcome_without_band("out", &(expr + &kerf))
                .build()
        };
        let message = |name: &str, args: &[Expr]| call(name, args).unwrap_err().to_string();
        assert!(call("bow", from_ref(&kerf)).is_ok());
        assert_eq!(
            message("bow", from_ref(&theta)),
            r#"outcome "out": argument 1 of function "bow" needs a length: "theta" is an angle"#
        );
        assert_eq!(
            message("bow", &[kerf.clone(), kerf.clone()]),
            r#"outcome "out": function "bow" has 2 arguments but facts about 1 were declared"#
        );
        assert!(message("sag 2", from_ref(&kerf)).contains("a name is made of the letters"));
    }

    #[test]
    fn a_source_is_redrawn_once() {
        let seat = Source::new("seat", 0.inch())
            .event(Event::cut())
            .build()
            .unwrap();
        let seat = Expr::from(&seat);
        let twice = seat.redraw(&Event::piece(), 1).redraw(&Event::cut(), 2);
        assert_eq!(
            faults_of(&twice),
            [
                r#"source "seat" is redrawn twice; give every draw its own number in a single redraw"#
            ]
        );
    }

    #[test]
    fn variables_are_sorted_by_name_and_draws_are_independent() {
        let source = |name: &str| {
            Source::new(name, 1.inch())
                .normal(1.thou())
                .event(Event::piece())
                .build()
                .unwrap()
        };
        let (b, a) = (source("b"), source("a"));
        let pair = Expr::from(&b) - &a;
        let stack = Stack::builder()
            .outcome_without_band("both", &(pair.redraw(&Event::piece(), 2) + &pair))
            .correlated(&b, &a, 0.5)
            .build()
            .unwrap();
        let names: Vec<&str> = stack
            .problem
            .variables
            .iter()
            .map(|v| v.name.as_str())
            .collect();
        assert_eq!(names, ["a", "a#2", "b", "b#2"]);
        let sources: Vec<&str> = stack.sources().into_iter().map(Source::name).collect();
        assert_eq!(sources, ["a", "b"]);
        let problem = &stack.problem;
        assert_eq!(problem.correlation(0, 0), 1.0);
        assert_eq!(problem.correlation(0, 2), 0.5);
        assert_eq!(problem.correlation(3, 1), 0.5);
        assert_eq!(problem.correlation(0, 1), 0.0);
        assert_eq!(problem.correlation(0, 3), 0.0);
        assert_eq!(problem.correlated_groups(), [vec![0, 2], vec![1, 3]]);
    }

    #[test]
    fn correlation_faults_are_reported_with_the_others() {
        let source = |name: &str, event| {
            Source::new(name, 1.inch())
                .normal(1.thou())
                .event(event)
                .build()
                .unwrap()
        };
        let (a, b) = (source("a", Event::piece()), source("b", Event::blade()));
        let stray = source("stray", Event::blade());
        let sum = Expr::from(&a) + &b;
        let build = |expr: &Expr, x: &Source, y: &Source, r: f64| {
            Stack::builder()
                .outcome_without_band("out", expr)
                .correlated(x, y, r)
        };
        assert_eq!(
            faults(build(&sum, &a, &stray, 0.5)),
            [r#"a correlation names source "stray", which is in no outcome"#]
        );
        // The message is that of the matrix.
        assert!(faults(build(&sum, &a, &b, 1.5))[0].contains("1.5"));
        assert!(build(&sum, &a, &b, 0.5).build().is_ok());
        assert_eq!(
            faults(build(&(sum.redraw(&Event::piece(), 2) + &sum), &a, &b, 0.5)),
            [
                r#"correlated sources "a" and "b" are redrawn by different events ("piece" and "blade"); give them one event, or a shared source"#
            ]
        );
    }
}
