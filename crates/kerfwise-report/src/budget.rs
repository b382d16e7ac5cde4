use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, wrap};
use crate::{Style, Way, cautions, number};
use kerfwise_stack::{Outcome, RootSumOfSquares, RootSumOfSquaresAnswer, Stack};
use serde::{Deserialize, Serialize};

/// A share of the variance that the short form of a budget leaves out.
const SMALL: f64 = 0.02;
/// So many errors are told in the short form.
const MOST: usize = 5;

/// Which error eats the band: GUM's uncertainty budget for each outcome.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BudgetReport {
    /// "kerfwise/budget/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// Each outcome.
    pub outcomes: Vec<BudgetOutcome>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// The budget of one outcome. Numbers are in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BudgetOutcome {
    /// The outcome's name.
    pub name: String,
    /// The algebra.
    pub algebra: String,
    /// Raw unit of the outcome: "in" for a length.
    pub unit: String,
    /// The budget, or why there is none.
    pub budget: Way<BudgetTotal>,
}

/// A budget with its total.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BudgetTotal {
    /// The outcome at the estimates.
    pub estimate: f64,
    /// Combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Effective degrees of freedom; none when unlimited or not defined.
    pub degrees_of_freedom: Option<f64>,
    /// Coverage factor.
    pub coverage_factor: f64,
    /// Level of confidence of the coverage factor.
    pub level: f64,
    /// Expanded uncertainty.
    pub expanded_uncertainty: f64,
    /// Largest share first.
    pub rows: Vec<BudgetRow>,
    /// Why this should be doubted.
    pub doubts: Vec<String>,
}

impl BudgetTotal {
    /// The lines that have an uncertainty.
    pub(crate) fn uncertain(&self) -> impl Iterator<Item = &BudgetRow> {
        self.rows.iter().filter(|r| r.standard_uncertainty > 0.0)
    }
}

/// A line of the budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BudgetRow {
    /// The source.
    pub name: String,
    /// Estimate, in the raw unit of the source.
    pub estimate: f64,
    /// Standard uncertainty, in the raw unit of the source.
    pub standard_uncertainty: f64,
    /// Raw unit of the source.
    pub unit: String,
    /// Degrees of freedom; none when unlimited.
    pub degrees_of_freedom: Option<f64>,
    /// Sensitivity coefficient, outcome per source.
    pub sensitivity: f64,
    /// Sensitivity times standard uncertainty, in the unit of the outcome.
    pub contribution: f64,
    /// Share of the variance, from 0 to 1.
    pub share: f64,
}

impl BudgetReport {
    /// The budgets of all outcomes, first order, 95 %.
    #[must_use]
    pub fn new(subject: &Subject, stack: &Stack) -> Self {
        Self {
            schema: "kerfwise/budget/1".into(),
            subject: subject.clone(),
            outcomes: stack.outcomes().map(BudgetOutcome::new).collect(),
            inputs: Input::all(stack),
            cautions: cautions::all(),
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, the tables, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        for outcome in &self.outcomes {
            text.push('\n');
            text.push_str(&outcome.to_text(style));
        }
        text.push_str(&input::all_assumed(&self.inputs, style));
        text.push_str(&input::cautions_in_short(&self.cautions, style));
        text
    }
}

impl BudgetOutcome {
    fn new(outcome: Outcome<'_>) -> Self {
        Self {
            name: outcome.name().to_owned(),
            algebra: outcome.expr().to_string(),
            unit: outcome.dimension().raw_unit(),
            budget: Way::from(
                outcome
                    .root_sum_of_squares(RootSumOfSquares::new())
                    .as_ref(),
            ),
        }
    }

    /// The largest errors, both cuts as one: at most [`MOST`] that make more than [`SMALL`] of the variance each.
    pub(crate) fn brief(&self, style: &Style) -> String {
        let total = match &self.budget {
            Way::Answer(total) => total,
            Way::Declined(reasons) => return self.declined(reasons, style),
        };
        let errors = by_error(&total.rows);
        let uncertain: Vec<_> = errors.iter().filter(|(_, share)| *share > 0.0).collect();
        let large = uncertain.iter().take_while(|(_, share)| *share >= SMALL);
        let (large, small) = uncertain.split_at(large.count().min(MOST));
        if large.is_empty() {
            return String::new();
        }
        let header = [
            ("source", Align::Left),
            ("adds", Align::Right),
            ("share", Align::Right),
            ("", Align::Left),
        ];
        let rows = large.iter().map(|(name, share)| {
            let adds = total.standard_uncertainty * share.sqrt();
            vec![
                name.clone(),
                self.show(adds, style),
                format!("{:.0} %", share * 100.0),
                "█".repeat(((share * 40.0).round() as usize).min(40)),
            ]
        });
        let mut text = Grid::new(&header, rows).to_text(style.width);
        if !small.is_empty() {
            let rest: f64 = small.iter().map(|(_, share)| share).sum();
            let line = format!("{} smaller: {:.0} % together.", small.len(), rest * 100.0);
            text.push_str(&wrap(&line, "  ", style.width));
        }
        text
    }

    /// "seating (both cuts), 35 % of the variance".
    pub(crate) fn largest(&self) -> Option<String> {
        let (name, share) = by_error(&self.budget.answer()?.rows).into_iter().next()?;
        (share > 0.0).then(|| format!("{name}, {:.0} % of the variance", share * 100.0))
    }

    fn declined(&self, reasons: &[String], style: &Style) -> String {
        wrap(&self.why_none(reasons), "", style.width)
    }

    pub(crate) fn why_none(&self, reasons: &[String]) -> String {
        format!("No budget for \"{}\": {}.", self.name, reasons.join("; "))
    }

    fn to_text(&self, style: &Style) -> String {
        let total = match &self.budget {
            Way::Answer(total) => total,
            Way::Declined(reasons) => return self.declined(reasons, style),
        };
        let mut text = wrap(&self.sentence(total), "", style.width);
        text.push_str(&self.rows(total.uncertain(), style).to_text(style.width));
        text.push_str(&wrap(&self.closing(total, style), "  ", style.width));
        for doubt in &total.doubts {
            text.push_str(&wrap(doubt, "  Doubt: ", style.width));
        }
        let algebra = format!("Formula: {} = {}", self.name, self.algebra);
        text.push_str(&wrap(&algebra, "  ", style.width));
        text
    }

    /// The result with its expanded uncertainty.
    pub(crate) fn closing(&self, total: &BudgetTotal, style: &Style) -> String {
        let show = |x: f64| self.show(x, style);
        let dof = total
            .degrees_of_freedom
            .map_or("∞".into(), number::degrees_of_freedom);
        format!(
            "Together {} = {} ± {} ({:.0} %, k = {:.2}, {dof} degrees of freedom, u = {}).",
            self.name,
            number::beside_uncertainty(
                total.estimate,
                total.expanded_uncertainty,
                &self.unit,
                style.unit
            ),
            show(total.expanded_uncertainty),
            total.level * 100.0,
            total.coverage_factor,
            show(total.standard_uncertainty),
        )
    }

    pub(crate) fn show(&self, x: f64, style: &Style) -> String {
        if self.unit == "in" {
            number::spread(x, style.unit)
        } else {
            number::raw(x, &self.unit, style.unit)
        }
    }

    pub(crate) fn sentence(&self, total: &BudgetTotal) -> String {
        match by_error(&total.rows).as_slice() {
            [first, second, ..] if first.1 > 0.0 => format!(
                "Of what is uncertain in the {}, {} makes {:.0} % and {} makes {:.0} % (shares of the \
                 variance).",
                plain(&self.name),
                first.0,
                first.1 * 100.0,
                second.0,
                second.1 * 100.0
            ),
            [only] if only.1 > 0.0 => {
                format!(
                    "All that is uncertain in the {} is {}.",
                    plain(&self.name),
                    only.0
                )
            }
            _ => format!("Nothing is uncertain in the {}.", plain(&self.name)),
        }
    }

    pub(crate) fn rows<'a>(
        &self,
        rows: impl IntoIterator<Item = &'a BudgetRow>,
        style: &Style,
    ) -> Grid {
        let header = [
            ("source", Align::Left),
            ("estimate", Align::Right),
            ("u", Align::Right),
            ("dof", Align::Right),
            ("sensitivity", Align::Right),
            ("adds", Align::Right),
            ("share", Align::Right),
            ("", Align::Left),
        ];
        let rows = rows.into_iter().map(|r| {
            let (_, name) = number::scale(&r.unit, style.unit);
            let u = number::bare_spread(r.standard_uncertainty, &r.unit, style.unit);
            vec![
                r.name.clone(),
                number::estimate(r.estimate, r.standard_uncertainty, &r.unit, style.unit),
                format!("{u} {name}").trim_end().to_owned(),
                r.degrees_of_freedom
                    .map_or("∞".into(), number::degrees_of_freedom),
                number::coefficient(r.sensitivity),
                number::bare_spread(r.contribution.abs(), &self.unit, style.unit),
                format!("{:.1} %", r.share * 100.0),
                "█".repeat(((r.share.max(0.0) * 20.0).round() as usize).min(20)),
            ]
        });
        let (_, name) = number::scale(&self.unit, style.unit);
        Grid::new(&header, rows).in_unit(&["adds"], name)
    }
}

impl From<&RootSumOfSquaresAnswer> for BudgetTotal {
    fn from(answer: &RootSumOfSquaresAnswer) -> Self {
        let finite = |dof: f64| dof.is_finite().then_some(dof);
        Self {
            estimate: answer.estimate.raw(),
            standard_uncertainty: answer.standard_uncertainty.raw(),
            degrees_of_freedom: answer.degrees_of_freedom.and_then(finite),
            coverage_factor: answer.coverage_factor,
            level: answer.interval.level,
            expanded_uncertainty: answer.expanded_uncertainty.raw(),
            rows: answer
                .budget
                .iter()
                .map(|line| BudgetRow {
                    name: line.name.clone(),
                    estimate: line.estimate.raw(),
                    standard_uncertainty: line.standard_uncertainty.raw(),
                    unit: line.estimate.dimension().raw_unit(),
                    degrees_of_freedom: finite(line.degrees_of_freedom),
                    sensitivity: line.sensitivity.raw(),
                    contribution: line.contribution.raw(),
                    share: line.share,
                })
                .collect(),
            doubts: answer.doubts.clone(),
        }
    }
}

/// "`face_step`" as a person says it.
pub(crate) fn plain(name: &str) -> String {
    name.replace('_', " ")
}

/// The error that a source of one of two cuts is a draw of: "seating" for "seating.first".
pub(crate) fn of_a_cut(name: &str) -> Option<&str> {
    let cuts = [".first", ".second"];
    cuts.iter().find_map(|cut| name.strip_suffix(cut))
}

/// "seating (both cuts)".
pub(crate) fn both_cuts(base: &str) -> String {
    format!("{base} (both cuts)")
}

/// Shares of errors, the largest first: what both cuts are off by is one error, drawn twice.
pub(crate) fn by_error(rows: &[BudgetRow]) -> Vec<(String, f64)> {
    let mut errors: Vec<(String, f64)> = Vec::new();
    for row in rows {
        let name = match of_a_cut(&row.name) {
            Some(base) => both_cuts(base),
            None => row.name.clone(),
        };
        match errors.iter_mut().find(|(other, _)| *other == name) {
            Some((_, share)) => *share += row.share,
            None => errors.push((name, row.share)),
        }
    }
    errors.sort_by(|a, b| b.1.total_cmp(&a.1));
    errors
}
