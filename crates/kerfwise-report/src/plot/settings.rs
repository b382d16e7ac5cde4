use super::axis::Axis;
use super::picture::{Anchor, Fill, LARGE, Picture, SMALL};
use crate::{SettingReport, SettingRow, Style, Unit, number};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 250.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 496.0;
const TOP: f64 = 56.0;
const BOTTOM: f64 = 200.0;

impl SettingReport {
    /// The chance against what is set, with the best setting and what is still fine, as SVG.
    #[must_use]
    pub fn to_svg(&self, style: &Style) -> String {
        self.picture(style).finish()
    }

    pub(super) fn picture(&self, style: &Style) -> Picture {
        let (scale, unit) = match style.unit {
            Unit::Inch => (1.0, "in"),
            Unit::Millimetre => (25.4, "mm"),
        };
        let title = format!(
            "Chance of a fit against the setting: {}",
            self.what.in_full()
        );
        let mut picture = Picture::new(WIDTH, HEIGHT, &title, &self.sentence(style));
        let (Some(first), Some(last)) = (self.curve.first(), self.curve.last()) else {
            return picture;
        };
        let x = Axis::new(
            first.setting_in * scale,
            last.setting_in * scale,
            LEFT,
            RIGHT,
        );
        let y = Axis::new(0.0, 100.0, BOTTOM, TOP);
        let on_page = |r: &SettingRow| (x.at(r.setting_in * scale), y.at(r.inside * 100.0));
        let (low, high) = (x.at(self.fine_in.0 * scale), x.at(self.fine_in.1 * scale));
        picture.area(
            &[(low, TOP), (high, TOP), (high, BOTTOM), (low, BOTTOM)],
            Fill::Light,
        );
        y.draw_left(&mut picture, LEFT, 5.0, |number| format!("{number} %"));
        let curve: Vec<_> = self.curve.iter().map(on_page).collect();
        picture.curve(&curve);
        let best = (x.at(self.best_in * scale), y.at(self.chance.inside * 100.0));
        picture.dot(best);
        let label = format!(
            "{} {}: {} fit",
            self.what.name(),
            number::dial(self.best_in, style.unit),
            number::percent(self.chance.inside)
        );
        let middle = best.0.clamp(LEFT + 130.0, RIGHT - 130.0);
        picture.text((middle, 22.0), Anchor::Middle, LARGE, &label);
        let fine = match &self.cost {
            Some(cost) => format!(
                "shaded: costs at most {:.2} minutes a joint more",
                cost.fine
            ),
            None => format!(
                "shaded: costs at most {:.0} joint in 100",
                self.loss * 100.0
            ),
        };
        picture.text((middle, 42.0), Anchor::Middle, SMALL, &fine);
        x.draw_below(
            &mut picture,
            BOTTOM,
            &format!(
                "{}, {unit}; upwards the chance of a fit",
                self.what.in_full()
            ),
        );
        picture
    }
}
