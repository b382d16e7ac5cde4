use crate::input;
use crate::{BudgetReport, ChanceReport, SettingReport, Style};
use serde::{Deserialize, Serialize};

/// The main job in one piece: what to dial, how likely it fits, which error eats the band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct JobReport {
    /// "kerfwise/job/1".
    pub schema: String,
    /// What the dial is to show, where the plan has a dial.
    pub setting: Option<SettingReport>,
    /// All propagations at the dial setting of the plan, or else at the best one.
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

    /// As text: what to dial first, then the chances, then the budget, then what was assumed, then
    /// cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.chance.subject.heading(style);
        if let Some(setting) = &self.setting {
            text.push('\n');
            text.push_str(&setting.answer(style));
        }
        text.push_str(&self.chance.answer(style));
        for outcome in &self.budget.outcomes {
            text.push('\n');
            text.push_str(&outcome.to_text(false, style));
        }
        text.push_str(&input::assumed(&self.chance.inputs, style));
        text.push_str(&input::cautions(&self.chance.cautions, style));
        text
    }
}
