//! What a plan is made of, put together for one travel.

use crate::joint::Method;
use crate::outcome::{Correlation, Outcome};
use kerfwise_joint::ShiftedTenon;
use kerfwise_source::{CorrelationMatrix, Length, Source};
use kerfwise_stack::{Expr, Stack};

/// All that does not depend on the travel.
#[derive(Debug, Clone)]
pub(crate) struct Parts {
    pub(crate) method: Option<Method>,
    pub(crate) sources: Vec<Source>,
    pub(crate) outcomes: Vec<Outcome>,
    pub(crate) correlations: Vec<Correlation>,
}

/// What is wrong when they are put together.
#[derive(Debug)]
pub(crate) enum Problem {
    Joint(kerfwise_joint::Error),
    /// Number of the outcome.
    Outcome(usize, kerfwise_stack::Error),
    /// Number of the correlation, and the name that is not there.
    Unknown(usize, String),
    Correlations(kerfwise_source::Error),
    Whole(kerfwise_stack::Error),
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Joint(error) => error.fmt(f),
            Self::Outcome(_, error) | Self::Whole(error) => error.fmt(f),
            Self::Unknown(_, name) => write!(f, "there is no source {name:?}"),
            Self::Correlations(error) => error.fmt(f),
        }
    }
}

impl Parts {
    /// The joint and the stack of all outcomes, those of the joint first.
    pub(crate) fn put_together(
        &self,
        travel: Option<Length>,
    ) -> Result<(Option<ShiftedTenon>, Stack), Vec<Problem>> {
        let made = self
            .method
            .as_ref()
            .map(|method| method.made(travel))
            .transpose();
        let (joint, mut of_joint) = made.map_err(joint_problem)?.unwrap_or_default();
        // The search for the best setting comes here some forty times: what is whole already is not built again.
        if self.outcomes.is_empty()
            && self.correlations.is_empty()
            && of_joint.len() == 1
            && let Some(stack) = of_joint.pop()
        {
            return Ok((joint, stack));
        }
        let sources = self.all_sources(&of_joint);
        let mut problems = Vec::new();
        let mut builder = Stack::builder();
        for outcome in of_joint.iter().flat_map(Stack::outcomes) {
            builder = match outcome.band() {
                Some(band) => builder.outcome(outcome.name(), outcome.expr(), band),
                None => builder.outcome_without_band(outcome.name(), outcome.expr()),
            };
        }
        for (index, outcome) in self.outcomes.iter().enumerate() {
            match expression(outcome, &sources) {
                Ok(expr) => {
                    builder = match outcome.band {
                        Some(band) => builder.outcome(&outcome.name, &expr, band),
                        None => builder.outcome_without_band(&outcome.name, &expr),
                    };
                }
                Err(error) => problems.push(Problem::Outcome(index, error)),
            }
        }
        for (index, correlation) in self.correlations.iter().enumerate() {
            let (a, b) = &correlation.between;
            let find = |name: &String| sources.iter().find(|source| source.name() == name);
            match (find(a), find(b)) {
                (Some(a), Some(b)) => builder = builder.correlated(a, b, correlation.coefficient),
                (None, _) => problems.push(Problem::Unknown(index, a.clone())),
                (_, None) => problems.push(Problem::Unknown(index, b.clone())),
            }
        }
        if let Err(error) = self.check_correlations() {
            problems.push(Problem::Correlations(error));
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        match builder.build() {
            Ok(stack) => Ok((joint, stack)),
            Err(error) => Err(vec![Problem::Whole(error)]),
        }
    }

    /// Those of the plan, and those that the joint makes itself.
    fn all_sources(&self, of_joint: &[Stack]) -> Vec<Source> {
        let mut all = self.sources.clone();
        for source in of_joint.iter().flat_map(Stack::sources) {
            if !all.iter().any(|known| known.is_same(source)) {
                all.push(source.clone());
            }
        }
        all
    }

    fn check_correlations(&self) -> Result<(), kerfwise_source::Error> {
        let pairs: Vec<(&str, &str, f64)> = self
            .correlations
            .iter()
            .map(|c| (c.between.0.as_str(), c.between.1.as_str(), c.coefficient))
            .collect();
        CorrelationMatrix::from_pairs(&pairs).map(|_| ())
    }
}

/// Reads an expression, and checks it in a stack of its own so that its faults can be told apart.
fn expression(outcome: &Outcome, sources: &[Source]) -> Result<Expr, kerfwise_stack::Error> {
    let expr = Expr::parse(&outcome.expression, sources)?;
    let alone = match outcome.band {
        Some(band) => Stack::builder().outcome(&outcome.name, &expr, band),
        None => Stack::builder().outcome_without_band(&outcome.name, &expr),
    };
    alone.build().map(|_| expr)
}

fn joint_problem(error: kerfwise_joint::Error) -> Vec<Problem> {
    vec![Problem::Joint(error)]
}
