use super::picture::{Anchor, Fill, Picture, SMALL, fitted};
use crate::budget::plain;
use crate::{CompareReport, ComparedOutcome, ComparedPlan, ThreeChances, number};

const WIDTH: f64 = 520.0;
const NAMES: f64 = 110.0;
pub(super) const BARS: (f64, f64) = (122.0, 412.0);
const ROW: f64 = 26.0;
const TITLE: f64 = 30.0;
/// More plans than this are a table.
const MOST: usize = 12;

impl CompareReport {
    /// How each plan's outcomes come out of 100, side by side, as SVG.
    #[must_use]
    pub fn to_svg(&self) -> String {
        self.picture().finish()
    }

    pub(super) fn picture(&self) -> Picture {
        let shown = &self.plans[..self.plans.len().min(MOST)];
        let lines: usize = shown.iter().map(|plan| plan.outcomes.len()).sum();
        let height = 66.0 + TITLE * shown.len() as f64 + ROW * lines as f64;
        let words: Vec<String> = shown.iter().map(ComparedPlan::in_words).collect();
        let title = "The same joint by several plans";
        let mut picture = Picture::new(WIDTH, height, title, &words.join(" "));
        let (left, right) = BARS;
        for (at, anchor, word) in [
            (left, Anchor::Start, "below, loose"),
            (f64::midpoint(left, right), Anchor::Middle, "in band"),
            (right, Anchor::End, "above, tight"),
        ] {
            picture.text((at, 20.0), anchor, SMALL, word);
        }
        let mut y = 28.0;
        for (number, plan) in shown.iter().enumerate() {
            let name = format!("{}. {}", number + 1, plan.subject.title);
            let name = fitted(&name, SMALL, WIDTH - 140.0);
            picture.text((12.0, y + 20.0), Anchor::Start, SMALL, &name);
            if let Some(minutes) = plan.minutes {
                let label = format!("{minutes:.1} min a joint");
                picture.text((WIDTH - 8.0, y + 20.0), Anchor::End, SMALL, &label);
            }
            y += TITLE;
            for outcome in &plan.outcomes {
                let name = fitted(&plain(&outcome.name), SMALL, NAMES - 4.0);
                picture.text((NAMES, y + 15.0), Anchor::End, SMALL, &name);
                three(&mut picture, BARS, y, &outcome.chance);
                let label = number::percent(outcome.chance.inside);
                picture.text((right + 8.0, y + 15.0), Anchor::Start, SMALL, &label);
                y += ROW;
            }
        }
        let left_out = self.plans.len() - shown.len();
        let foot = if left_out > 0 {
            format!("of 100 joints; {left_out} more plans are in the table")
        } else {
            "of 100 joints, in the middle how many come out right".to_owned()
        };
        picture.text((12.0, y + 22.0), Anchor::Start, SMALL, &foot);
        picture
    }
}

/// The three chances as one bar, 18 high.
pub(super) fn three(
    picture: &mut Picture,
    (left, right): (f64, f64),
    y: f64,
    chance: &ThreeChances,
) {
    let at = |p: f64| left + (right - left) * p.clamp(0.0, 1.0);
    let (loose, tight) = (at(chance.below), at(1.0 - chance.above));
    let (top, bottom) = (y + 2.0, y + 20.0);
    picture.bar((left, top), (loose, bottom), Fill::Rising);
    picture.bar((loose, top), (tight.max(loose), bottom), Fill::Light);
    picture.bar((tight.max(loose), top), (right, bottom), Fill::Falling);
}

impl ComparedPlan {
    fn in_words(&self) -> String {
        let outcomes: Vec<String> = self
            .outcomes
            .iter()
            .map(ComparedOutcome::in_words)
            .collect();
        format!("{}: {}.", self.subject.title, outcomes.join(", "))
    }
}

impl ComparedOutcome {
    fn in_words(&self) -> String {
        let inside = number::percent(self.chance.inside);
        format!("{} in its band {inside}", plain(&self.name))
    }
}
