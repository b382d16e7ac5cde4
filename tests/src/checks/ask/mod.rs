//! Asks Kerfwise for the value of a row.

mod ahead;
mod arithmetic;
mod charts;
mod choice;
mod decision;
mod evidence;
mod forecast;
mod function;
mod joint;
mod monte;
mod propagation;
mod setting;
mod shares;
mod shop;
mod source;
mod wood;

use super::plan;
use super::table::{By, Case, Row};
use kerfwise_decide::{FirstCut, SobolIndices};
use kerfwise_plan::Plan;
use kerfwise_source::Source;
use kerfwise_stack::{Bounded, MonteCarloAnswer, Outcome, Stack};

/// A number of ours, with the bound that the library states for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Answer {
    pub(super) value: f64,
    pub(super) bound: Option<f64>,
}

impl From<f64> for Answer {
    fn from(value: f64) -> Self {
        Self { value, bound: None }
    }
}

impl From<Bounded<f64>> for Answer {
    fn from(of: Bounded<f64>) -> Self {
        Self {
            value: of.value,
            bound: Some(of.error),
        }
    }
}

type Got = Result<Answer, String>;

/// Answers the rows of one case. Monte Carlo runs are kept, since several rows read one run.
#[derive(Debug)]
pub struct Asker<'a> {
    case: &'a Case,
    plan: Option<Result<Plan, String>>,
    runs: Vec<(monte::Run, MonteCarloAnswer)>,
    shares: Option<(u64, SobolIndices)>,
    first_cut: Option<(Vec<f64>, FirstCut)>,
}

impl<'a> Asker<'a> {
    /// For the rows of this case.
    #[must_use]
    pub fn new(case: &'a Case) -> Self {
        Self {
            case,
            plan: None,
            runs: Vec::new(),
            shares: None,
            first_cut: None,
        }
    }

    pub(super) fn answer(&mut self, row: &Row) -> Got {
        match row.by {
            By::Function => function::answer(row),
            By::Arithmetic => arithmetic::answer(row),
            By::Evidence if row.ask.starts_with("percentile") => {
                let plan = self.plan()?;
                evidence::percentiles(row, source_of(plan, row)?.error())
            }
            By::Evidence if row.ask.starts_with("groups: ") => {
                let case = self.case;
                evidence::groups(row, case, self.plan()?)
            }
            By::Evidence => evidence::answer(row, self.case),
            By::Wood => wood::answer(row),
            By::MonteCarlo if !row.ask.starts_with("declines: ") => self.monte_carlo(row),
            By::Distribution | By::Source => {
                let plan = self.plan()?;
                source::answer(row, source_of(plan, row)?)
            }
            By::Judge => decision::judge(row, self.plan()?),
            By::TestCut if row.ask.starts_with("felt: ") => decision::felt(row, self.plan()?),
            By::TestCut if row.ask.starts_with("sampled: ") => decision::sampled(row, self.plan()?),
            By::TestCut if row.ask.starts_with("first cut: ") => self.first_cut(row),
            By::TestCut => decision::test_cut(row, self.plan()?),
            By::Worth => choice::worth(row, self.plan()?),
            By::Sensitivity => self.sensitivity(row),
            By::Pairing => choice::pairing(row),
            By::Setting => setting::answer(row, self.plan()?),
            By::Forecast => forecast::answer(row, self.plan()?),
            _ => {
                let joint = self.joint()?;
                let plan = self.plan()?;
                propagation::answer(row, plan, joint.as_ref().unwrap_or(plan.stack()))
            }
        }
    }

    /// The joint made of the plan's sources, if the case names one.
    fn joint(&mut self) -> Result<Option<Stack>, String> {
        let joinery = self.case.joinery.as_deref();
        let plan = self.plan()?;
        joinery.map(|name| joint::stack(name, plan)).transpose()
    }

    fn plan(&mut self) -> Result<&Plan, String> {
        let case = self.case;
        let made = self.plan.get_or_insert_with(|| plan::plan(case));
        made.as_ref().map_err(Clone::clone)
    }
}

/// The outcome that the row names, or the first.
fn outcome_of<'p>(stack: &'p Stack, name: Option<&str>) -> Result<Outcome<'p>, String> {
    match name {
        Some(name) => stack
            .outcome(name)
            .ok_or_else(|| format!("no outcome {name}")),
        None => stack
            .outcomes()
            .next()
            .ok_or_else(|| "no outcome".to_owned()),
    }
}

/// The source that the row names, or the first by name.
fn source_of<'p>(plan: &'p Plan, row: &Row) -> Result<&'p Source, String> {
    let sources = plan.stack().sources();
    let found = match row.of.as_deref() {
        Some(name) => sources.into_iter().find(|source| source.name() == name),
        None => sources.into_iter().next(),
    };
    found.ok_or_else(|| format!("no source {:?}", row.of))
}

/// The one argument of a row.
fn at(row: &Row) -> Result<f64, String> {
    match row.at.all() {
        [x] => Ok(*x),
        other => Err(format!("one argument is wanted, not {other:?}")),
    }
}

fn level(row: &Row) -> f64 {
    row.level.unwrap_or(0.95)
}

fn unknown(row: &Row) -> String {
    format!("{} is not asked for {:?}", row.by.words(), row.ask)
}
