use crate::table::wrap;
use crate::{BudgetReport, ChanceReport, SettingReport, Style, input, number};
use serde::{Deserialize, Serialize};

/// The main job in one piece: what to dial, how likely it fits, which error eats the band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
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

    /// As text: what to dial, the first outcome with its chances and its budget, the others in a
    /// sentence each, what was assumed, cautions. The whole is in the reports of the parts.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.chance.subject.heading(style);
        if let Some(setting) = &self.setting {
            text.push('\n');
            text.push_str(&setting.answer(style));
        }
        text.push_str(&self.dial_of_the_plan(style));
        if let Some(tenon) = &self.chance.subject.tenon {
            text.push_str(&wrap(&tenon.sentence(style), "", style.width));
        }
        text.push_str(&self.chance.brief(style));
        for (index, outcome) in self.budget.outcomes.iter().enumerate() {
            text.push('\n');
            text.push_str(&if index == 0 {
                outcome.brief(style)
            } else {
                outcome.in_a_sentence(style)
            });
        }
        let more = "More: `kerfwise chance` says why the ways differ, `kerfwise budget` lists every \
                    source, `kerfwise setting` lists the settings of the dial.";
        text.push('\n');
        text.push_str(&wrap(more, "", style.width));
        text.push_str(&input::assumed(&self.chance.inputs, style));
        text.push_str(&input::cautions(&self.chance.cautions, style));
        text
    }

    /// What the chances are for, where that is not the best setting.
    fn dial_of_the_plan(&self, style: &Style) -> String {
        let best = self.setting.as_ref().map(|s| (s.best_in, s.step_in));
        match (self.chance.subject.travel_in, best) {
            (Some(travel), Some((best, step))) if (travel - best).abs() > step / 4.0 => {
                let dial = number::dial(travel, style.unit);
                let line = format!("What follows is for the dial at {dial}, as the plan says.");
                format!("\n{}", wrap(&line, "", style.width))
            }
            _ => String::new(),
        }
    }
}
