use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, wrap};
use crate::{Adjusted, Style, Unit, cautions, number};
use kerfwise_decide::Setting;
use serde::{Deserialize, Serialize};

/// What to set, and how far off is still fine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SettingReport {
    /// "kerfwise/setting/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// What is set.
    #[serde(default)]
    pub what: Adjusted,
    /// The best setting, in inches.
    pub best_in: f64,
    /// The setting that the plan states, in inches; absent where it leaves it open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_in: Option<f64>,
    /// The smallest step that it can be set by, in inches.
    pub step_in: f64,
    /// The setting by plain arithmetic (every source at its mean), in inches.
    pub nominal_in: f64,
    /// The chance at the best setting; for a slip that both of its mortises take it.
    pub chance: crate::ThreeChances,
    /// How the chances were found: "exact" or "Monte Carlo".
    pub by: String,
    /// From here to there the loss of chance is at most `loss`, in inches.
    pub fine_in: (f64, f64),
    /// The loss of chance that is called fine.
    pub loss: f64,
    /// What joints cost that do not fit, where the least cost was asked for.
    pub cost: Option<SettingCost>,
    /// Chance against setting.
    pub curve: Vec<SettingRow>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// One setting of the curve.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SettingRow {
    /// The setting, in inches.
    pub setting_in: f64,
    /// Too loose.
    pub below: f64,
    /// Fits.
    pub inside: f64,
    /// Too tight.
    pub above: f64,
    /// What a joint costs on average, in minutes; absent where no costs were given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
}

/// Costs in minutes of work.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SettingCost {
    /// Of a joint that is too tight.
    pub tight: f64,
    /// Of a joint that is too loose.
    pub loose: f64,
    /// Of a joint on average, at the best setting.
    pub best: f64,
    /// What more than that is called fine.
    pub fine: f64,
    /// The setting with the greatest chance, in inches.
    pub likeliest_in: f64,
    /// Of a joint on average, there.
    pub at_likeliest: f64,
}

impl SettingCost {
    /// From a setting that was found by its cost.
    #[must_use]
    pub fn of(setting: &Setting) -> Option<Self> {
        let costs = setting.costs?;
        let likeliest = setting.likeliest();
        Some(Self {
            tight: costs.tight,
            loose: costs.loose,
            best: costs.expected(&setting.chance),
            fine: setting.loss * costs.tight.max(costs.loose),
            likeliest_in: likeliest.setting.to_inches(),
            at_likeliest: costs.expected(&likeliest.chance),
        })
    }
}

impl SettingReport {
    /// The name of this form.
    pub const SCHEMA: &'static str = "kerfwise/setting/1";

    /// All cautions, for whoever fills in the report.
    #[must_use]
    pub fn cautions() -> Vec<String> {
        cautions::all()
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        crate::chance::json(self)
    }

    /// As text: the sentence, the curve, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        text.push('\n');
        text.push_str(&self.answer(style));
        text.push('\n');
        text.push_str(&self.rows(style.unit).to_text(style.width));
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions(&self.cautions, style));
        text
    }

    /// The sentence that tells what to set.
    pub(crate) fn answer(&self, style: &Style) -> String {
        wrap(&self.sentence(style), "", style.width)
    }

    pub(crate) fn sentence(&self, style: &Style) -> String {
        let dial = |x| number::dial(x, style.unit);
        if let Some(cost) = &self.cost {
            return self.priced(cost, style);
        }
        format!(
            "{}: about {} joints fit ({} {}, {} too loose, {} too tight). {}{} With every error at its \
             mean the arithmetic alone says {}.",
            self.what.order(&dial(self.best_in)),
            number::in_a_hundred(self.chance.inside),
            self.by,
            number::percent(self.chance.inside),
            number::percent(self.chance.below),
            number::percent(self.chance.above),
            self.both_mortises(),
            self.how_far_off(style),
            dial(self.nominal_in),
        )
    }

    /// The same without what a table of ways tells.
    pub(crate) fn in_brief(&self, band: &str, largest: Option<&str>, style: &Style) -> String {
        let largest = largest.map_or(String::new(), |error| {
            format!("; the largest error is {error}")
        });
        format!(
            "{}: about {} joints fit, {band} of the fit wanted{largest}. {}{}",
            self.what.order(&number::dial(self.best_in, style.unit)),
            number::in_a_hundred(self.chance.inside),
            self.both_mortises(),
            self.how_far_off(style)
        )
    }

    /// What a fit is, of a slip.
    fn both_mortises(&self) -> &'static str {
        if self.what == Adjusted::Slip {
            "A joint fits when the mortises of rail and leg both take the slip. "
        } else {
            ""
        }
    }

    /// The setting of the plan, or else the best.
    pub(crate) fn set(&self) -> f64 {
        self.set_in.unwrap_or(self.best_in)
    }

    /// How far off is still fine.
    pub(crate) fn how_far_off(&self, style: &Style) -> String {
        let dial = |x| number::dial(x, style.unit);
        let (from, to) = self.fine_in;
        if to - from < self.step_in / 4.0 {
            return format!(
                "Any other mark costs more than {:.0} joint in 100.",
                self.loss * 100.0
            );
        }
        format!(
            "Anything from {} to {} costs at most {:.0} joint in 100.",
            dial(from),
            dial(to),
            self.loss * 100.0
        )
    }

    fn priced(&self, cost: &SettingCost, style: &Style) -> String {
        let dial = |x| number::dial(x, style.unit);
        let mut words = format!(
            "{}: rework takes {} minutes a joint on average, the least there is, with {} minutes for a tight \
             joint and {} for a loose one ({} {} fit, {} too loose, {} too tight). {}Anything from {} to {} costs at most \
             {} minutes a joint more.",
            self.what.order(&dial(self.best_in)),
            minutes(cost.best),
            cost.tight,
            cost.loose,
            self.by,
            number::percent(self.chance.inside),
            number::percent(self.chance.below),
            number::percent(self.chance.above),
            self.both_mortises(),
            dial(self.fine_in.0),
            dial(self.fine_in.1),
            minutes(cost.fine),
        );
        if (cost.likeliest_in - self.best_in).abs() > self.step_in / 4.0 {
            words.push_str(&format!(
                " Most joints fit at {}, but there it takes {} minutes.",
                dial(cost.likeliest_in),
                minutes(cost.at_likeliest)
            ));
        }
        words
    }

    /// The curve within reach of the best, at most 17 rows.
    pub(crate) fn rows(&self, unit: Unit) -> Grid {
        let minutes_head = if self.cost.is_some() { "minutes" } else { "" };
        let header = [
            (self.what.name(), Align::Right),
            ("too loose", Align::Right),
            ("fits", Align::Right),
            ("too tight", Align::Right),
            (minutes_head, Align::Right),
            ("", Align::Left),
        ];
        let is_best = |r: &SettingRow| (r.setting_in - self.best_in).abs() < self.step_in / 4.0;
        let at = self.curve.iter().position(is_best).unwrap_or(0);
        let around = at.saturating_sub(8)..(at + 9).min(self.curve.len());
        let rows = self.curve[around].iter().map(|r| {
            let is_fine = r.setting_in >= self.fine_in.0 - self.step_in / 4.0
                && r.setting_in <= self.fine_in.1 + self.step_in / 4.0;
            let mark = if is_best(r) {
                " best"
            } else if is_fine {
                " fine"
            } else {
                ""
            };
            vec![
                number::dial(r.setting_in, unit),
                number::percent(r.below),
                number::percent(r.inside),
                number::percent(r.above),
                r.cost.map_or_else(String::new, minutes),
                format!("{}{mark}", "█".repeat((r.inside * 30.0).round() as usize)),
            ]
        });
        Grid::new(&header, rows)
    }
}

/// Minutes of a joint, to the second or so.
pub(crate) fn minutes(minutes: f64) -> String {
    format!("{minutes:.2}")
}
