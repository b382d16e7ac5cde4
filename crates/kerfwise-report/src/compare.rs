use crate::budget::BudgetOutcome;
use crate::budget::by_error;
use crate::input::{self, Input, Subject};
use crate::table::{Align, table, wrap};
use crate::{BudgetReport, ChanceReport, OutcomeChances, Style, ThreeChances, cautions, number};
use serde::{Deserialize, Serialize};

/// Plans side by side: the same joint by several methods, or with other stock and gauges.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct CompareReport {
    /// "kerfwise/compare/1".
    pub schema: String,
    /// What a joint out of its band costs.
    pub minutes: Minutes,
    /// Each plan.
    pub plans: Vec<ComparedPlan>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// Hands-on minutes for a joint out of its band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Minutes {
    /// To plane a tight one to fit.
    pub tight: f64,
    /// To shim a loose one.
    pub loose: f64,
}

impl Default for Minutes {
    /// 5 minutes to plane (2 to 8), 14 to shim (8 to 20): planning guesses, common practice, no source.
    fn default() -> Self {
        Self {
            tight: 5.0,
            loose: 14.0,
        }
    }
}

/// One plan of a comparison.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ComparedPlan {
    /// What it is about.
    pub subject: Subject,
    /// Each outcome that has a band.
    pub outcomes: Vec<ComparedOutcome>,
    /// The chance that all outcomes lie in their bands at once, with its standard error; only with
    /// more than one outcome.
    pub all_outcomes: Option<(f64, f64)>,
    /// Expected hands-on minutes for one joint: of the outcomes called `fit`, `fit_rail` and `fit_leg`, where there are any.
    pub minutes: Option<f64>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
}

/// One outcome of a plan of a comparison. Numbers are in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ComparedOutcome {
    /// The outcome's name.
    pub name: String,
    /// Raw unit of the outcome: "in" for a length.
    pub unit: String,
    /// How the chances were found: "exact", "semi-exact", "quasi-Monte Carlo" or "Monte Carlo".
    pub by: String,
    /// Its chances.
    pub chance: ThreeChances,
    /// Combined standard uncertainty, where root sum of squares answered.
    pub standard_uncertainty: Option<f64>,
    /// The source with the largest share of the variance, and that share.
    pub largest: Option<(String, f64)>,
}

impl ComparedOutcome {
    /// None without a band, or where nothing answered.
    fn new(chances: &OutcomeChances, budget: Option<&BudgetOutcome>) -> Option<Self> {
        // An assumed shape is not compared with what was propagated.
        let best = chances.best_by();
        let (by, chance) = best.filter(|(by, _)| *by != "root sum of squares")?;
        let total = budget.and_then(|budget| budget.budget.answer());
        let largest = total.and_then(|total| by_error(&total.rows).into_iter().next());
        Some(Self {
            name: chances.name.clone(),
            unit: chances.unit.clone(),
            by: by.to_owned(),
            chance,
            standard_uncertainty: total.map(|total| total.standard_uncertainty),
            largest,
        })
    }

    fn is_fit(&self) -> bool {
        ["fit", "fit_rail", "fit_leg"].contains(&self.name.as_str())
    }
}

impl CompareReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/compare/1";

    /// From the chances and the budget of each plan.
    #[must_use]
    pub fn new(plans: &[(ChanceReport, BudgetReport)], minutes: Minutes) -> Self {
        let plans = plans.iter().map(|(chance, budget)| {
            let outcomes: Vec<ComparedOutcome> = chance
                .outcomes
                .iter()
                .filter_map(|o| {
                    let budget = budget.outcomes.iter().find(|b| b.name == o.name);
                    ComparedOutcome::new(o, budget)
                })
                .collect();
            let fits = outcomes.iter().filter(|o| o.is_fit());
            let cost =
                fits.map(|o| o.chance.above * minutes.tight + o.chance.below * minutes.loose);
            ComparedPlan {
                subject: chance.subject.clone(),
                minutes: cost.reduce(|a, b| a + b),
                outcomes,
                all_outcomes: chance.all_outcomes,
                inputs: chance.inputs.clone(),
            }
        });
        Self {
            schema: Self::SCHEMA.into(),
            minutes,
            plans: plans.collect(),
            cautions: cautions::all(),
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: a sentence, the table, what the minutes are, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = String::new();
        for (number, plan) in self.plans.iter().enumerate() {
            let title = format!("{}. {}", number + 1, plan.subject.title);
            let title = match &plan.subject.plan {
                Some(name) => format!("{title} ({name})"),
                None => title,
            };
            text.push_str(&wrap(&title, "", style.width));
        }
        text.push('\n');
        text.push_str(&self.best(style));
        text.push('\n');
        text.push_str(&self.rows(style));
        let minutes = format!(
            "Minutes are for one joint: {} to plane a tight one, {} to shim a loose one (assumed, no source).",
            self.minutes.tight, self.minutes.loose
        );
        text.push('\n');
        text.push_str(&wrap(&minutes, "", style.width));
        text.push_str(&input::assumed(&self.inputs(), style));
        text.push_str(&input::cautions_in_short(&self.cautions, style));
        text
    }

    /// The sources of all plans; of those that are alike in what is told of them, one.
    fn inputs(&self) -> Vec<Input> {
        let is_told_alike = |a: &Input, b: &Input| {
            (&a.name, &a.unit, &a.from, a.origin) == (&b.name, &b.unit, &b.from, b.origin)
                && a.standard_uncertainty == b.standard_uncertainty
        };
        let mut all: Vec<Input> = Vec::new();
        for input in self.plans.iter().flat_map(|plan| &plan.inputs) {
            if !all.iter().any(|known| is_told_alike(known, input)) {
                all.push(input.clone());
            }
        }
        all
    }

    fn best(&self, style: &Style) -> String {
        let costs = self.plans.iter().enumerate();
        let costs = costs.filter_map(|(number, plan)| plan.minutes.map(|m| (number + 1, m)));
        let least = costs.reduce(|a, b| if b.1 < a.1 { b } else { a });
        let sentence = match least {
            Some((number, minutes)) => format!(
                "Plan {number} asks for the least work after the saw: {minutes:.1} minutes for a joint. \
                 Whether that is worth its set-up is for you to say."
            ),
            None => "None of the plans has a fit, so there is no work to be compared.".to_owned(),
        };
        wrap(&sentence, "", style.width)
    }

    fn rows(&self, style: &Style) -> String {
        let header = [
            ("plan", Align::Right),
            ("outcome", Align::Left),
            ("below", Align::Right),
            ("in band", Align::Right),
            ("above", Align::Right),
            ("u", Align::Right),
            ("largest source", Align::Left),
            ("minutes", Align::Right),
        ];
        let mut rows = Vec::new();
        for (number, plan) in self.plans.iter().enumerate() {
            for (index, outcome) in plan.outcomes.iter().enumerate() {
                let of_plan = |text: String| if index == 0 { text } else { String::new() };
                let u =
                    outcome
                        .standard_uncertainty
                        .map_or("none".into(), |u| match &*outcome.unit {
                            "in" => number::spread(u, style.unit),
                            unit => format!("{} {unit}", number::two_digits(u))
                                .trim_end()
                                .to_owned(),
                        });
                let largest = outcome.largest.as_ref();
                rows.push(vec![
                    of_plan((number + 1).to_string()),
                    outcome.name.clone(),
                    number::percent(outcome.chance.below),
                    number::percent(outcome.chance.inside),
                    number::percent(outcome.chance.above),
                    u,
                    largest.map_or(String::new(), |(name, share)| {
                        format!("{name}, {:.0}\u{a0}%", 100.0 * share)
                    }),
                    of_plan(plan.minutes.map_or(String::new(), |m| format!("{m:.1}"))),
                ]);
            }
            if let Some((all, error)) = plan.all_outcomes {
                rows.push(vec![
                    String::new(),
                    "all at once".into(),
                    String::new(),
                    number::percent(all),
                    String::new(),
                    String::new(),
                    format!("Monte Carlo, ±\u{a0}{:.2}\u{a0}%", 100.0 * error),
                    String::new(),
                ]);
            }
        }
        table(style.width, &header, rows)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_source::{LengthUnits, Source};
    use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};

    fn plan(title: &str, off: f64, names: &[&str]) -> (ChanceReport, BudgetReport) {
        let source = |name: &str, half: f64| {
            let source = Source::new(name, 0.inch()).rectangular(half.thou());
            source.assumed("test").build().unwrap()
        };
        let sum = Expr::source(&source("tenon", 6.0)) + &source("mortise", 2.0) + off.thou();
        let stack = names.iter().fold(Stack::builder(), |stack, name| {
            stack.outcome(name, &sum, Band::within(4.thou()).unwrap())
        });
        let stack = stack.build().unwrap();
        let subject = Subject::titled(title);
        let ways = stack.side_by_side(MonteCarlo::new().trials(1000));
        let chance = ChanceReport::new(&subject, &stack, &ways, &[]);
        (chance, BudgetReport::new(&subject, &stack))
    }

    #[test]
    fn plans_stand_side_by_side_with_what_they_cost() {
        let plans = [
            plan("one", 0.0, &["fit"]),
            plan("other", 2.0, &["fit_rail", "fit_leg"]),
        ];
        let report = CompareReport::new(&plans, Minutes::default());
        // A flat top of 8 thou between slopes of 4 each way: beyond 4 on either side lies 1/2 · 4 · 4 / (4 · 12) = 1/6.
        let fit = &report.plans[0].outcomes[0];
        assert_eq!(
            (fit.by.as_str(), fit.largest.as_ref().unwrap().0.as_str()),
            ("exact", "tenon")
        );
        assert!((fit.chance.above - 1.0 / 6.0).abs() < 1e-12);
        assert!((report.plans[0].minutes.unwrap() - 19.0 / 6.0).abs() < 1e-12);
        // Shifted by 2: above 1/3, below 1/2 · 2 · 2 / 48 = 1/24; twice 5/3 + 14/24.
        assert!((report.plans[1].minutes.unwrap() - 2.0 * (5.0 / 3.0 + 14.0 / 24.0)).abs() < 1e-12);
        let text = report.to_text(&Style::default());
        assert!(text.contains("1. one\n2. other\n"), "{text}");
        assert!(text.contains("Plan 1 asks for the least work"), "{text}");
        assert!(
            text.contains("tenon, 90\u{a0}%") && text.contains("all at once"),
            "{text}"
        );
        // Both plans have the same two sources, told once.
        assert_eq!(text.matches("mortise").count(), 1, "{text}");
        let read: CompareReport = serde_json::from_str(&report.to_json()).unwrap();
        assert_eq!(read, report);
    }

    #[test]
    fn without_a_fit_there_is_no_work_to_compare() {
        let report = CompareReport::new(&[plan("gap", 0.0, &["gap"])], Minutes::default());
        assert_eq!(report.plans[0].minutes, None);
        assert!(
            report
                .to_text(&Style::default())
                .contains("None of the plans has a fit")
        );
    }
}
