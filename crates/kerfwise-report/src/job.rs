use crate::table::wrap;
use crate::{BudgetReport, ChanceReport, SettingReport, Style, input, number};
use serde::{Deserialize, Serialize};

/// The main job in one piece: what to dial, how likely it fits, which error eats the band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct JobReport {
    /// "kerfwise/job/1".
    pub schema: String,
    /// What to set, where the plan tells what is set for its joint.
    pub setting: Option<SettingReport>,
    /// All propagations at the setting of the plan, or else at the best one.
    pub chance: ChanceReport,
    /// The error budget at the same setting.
    pub budget: BudgetReport,
}

impl JobReport {
    /// From its three parts.
    #[must_use]
    pub fn new(setting: Option<SettingReport>, chance: ChanceReport, budget: BudgetReport) -> Self {
        Self {
            schema: "kerfwise/job/1".into(),
            setting,
            chance,
            budget,
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text, short enough to be read at the saw: what to dial and the largest error, the first outcome in all ways, the
    /// errors that count, what was assumed, cautions. The whole is in the reports of the parts.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.chance.subject.heading(style);
        text.push('\n');
        text.push_str(&self.answer(style));
        if let Some(first) = self.chance.outcomes.first() {
            text.push('\n');
            text.push_str(&first.brief(style));
        }
        if let Some(first) = self.budget.outcomes.first() {
            text.push('\n');
            text.push_str(&first.brief(style));
        }
        text.push_str(&input::assumed_in_a_sentence(&self.chance.inputs, style));
        let settings = match &self.setting {
            Some(_) => ", `kerfwise setting` (each mark)",
            None => "",
        };
        let more =
            format!("More: `kerfwise chance` (why the ways differ), `kerfwise budget`{settings}.");
        text.push_str(&wrap(&more, "", style.width));
        text.push_str(&input::cautions(&self.chance.cautions, style));
        text
    }

    /// The sentences at the top.
    fn answer(&self, style: &Style) -> String {
        let mut text = String::new();
        let largest = |index: usize| self.budget.outcomes.get(index)?.largest();
        let dialled = self.setting_of_the_plan(style);
        let is_at_best = self.setting.is_some() && dialled.is_empty();
        if let Some(setting) = &self.setting {
            let largest = largest(0).filter(|_| is_at_best);
            let first = self.chance.outcomes.first();
            let band = first.map_or_else(String::new, |fit| fit.band(style.unit));
            let words = setting.in_brief(&band, largest.as_deref(), style);
            text.push_str(&wrap(&words, "", style.width));
        }
        text.push_str(&dialled);
        if let Some(tenon) = &self.chance.subject.tenon {
            text.push_str(&wrap(&tenon.sentence(style), "", style.width));
        }
        let mut others = Vec::new();
        for (index, outcome) in self.chance.outcomes.iter().enumerate() {
            let mut words = Vec::new();
            // What to dial has said how many joints fit.
            if index > 0 || !is_at_best {
                words.push(outcome.sentence(style.unit));
            }
            if index > 0 {
                others.append(&mut words);
                continue;
            }
            if let Some(largest) = largest(index).filter(|_| !is_at_best) {
                words.push(format!("The largest error is {largest}."));
            }
            words.extend(outcome.batch_in_a_sentence());
            if !words.is_empty() {
                text.push_str(&wrap(&words.join(" "), "", style.width));
            }
        }
        others.extend(self.chance.all_in_a_sentence());
        if !others.is_empty() {
            text.push_str(&wrap(&others.join(" "), "", style.width));
        }
        text
    }

    /// What the chances are for, where that is not the best setting.
    fn setting_of_the_plan(&self, style: &Style) -> String {
        match &self.setting {
            Some(s) if (s.set() - s.best_in).abs() > s.step_in / 4.0 => {
                let set = number::dial(s.set(), style.unit);
                let name = s.what.name();
                let line = format!("What follows is for the {name} at {set}, as the plan says.");
                wrap(&line, "", style.width)
            }
            _ => String::new(),
        }
    }
}
