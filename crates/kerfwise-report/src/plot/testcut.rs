use super::axis::Axis;
use super::compare::three;
use super::picture::{Anchor, Fill, Picture, SMALL};
use crate::testcut::signed_move;
use crate::{OffsetReport, Style, TestCutReport, Unit, number};

const WIDTH: f64 = 520.0;
const NAMES: f64 = 132.0;
const LEFT: f64 = 144.0;
const RIGHT: f64 = 388.0;
const ROW: f64 = 28.0;

impl TestCutReport {
    /// Where joints come out before the test and after it, and the chances of leaving the jig and moving it, as SVG.
    #[must_use]
    pub fn to_svg(&self, style: &Style) -> String {
        self.picture(style).finish()
    }

    pub(super) fn picture(&self, style: &Style) -> Picture {
        let title = "Before the test cut and after it";
        let mut picture = Picture::new(WIDTH, 266.0, title, &self.advice(style));
        self.where_they_come_out(&mut picture, style);
        self.chances(&mut picture, style);
        picture
    }

    fn where_they_come_out(&self, picture: &mut Picture, style: &Style) {
        let (scale, unit) = match style.unit {
            Unit::Inch => (1000.0, "thou"),
            Unit::Millimetre => (25.4, "mm"),
        };
        let heads = [
            "where joints come out in the middle, and how sure that is (95 %);".to_owned(),
            format!("fit deviation, {unit}, loose to the left; shaded: the band"),
        ];
        for (head, y) in heads.iter().zip([20.0, 38.0]) {
            picture.text((12.0, y), Anchor::Start, SMALL, head);
        }
        let rows = [
            ("before the test", &self.before),
            ("now, jig left", &self.after),
        ];
        let (lower, upper) = self.band_in.unwrap_or((None, None));
        let limits = [lower, upper].into_iter().flatten();
        let ends = rows
            .iter()
            .flat_map(|(_, o)| [o.interval_95_in.0, o.interval_95_in.1]);
        let all: Vec<f64> = limits.chain(ends).collect();
        let low = all.iter().copied().fold(f64::INFINITY, f64::min);
        let high = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let margin = 0.06 * (high - low);
        let x = Axis::new((low - margin) * scale, (high + margin) * scale, LEFT, RIGHT);
        let (top, bottom) = (50.0, 54.0 + 2.0 * ROW);
        if self.band_in.is_some() {
            let left = lower.map_or(LEFT, |l| x.at(l * scale));
            let right = upper.map_or(RIGHT, |u| x.at(u * scale));
            let corners = [(left, top), (right, top), (right, bottom), (left, bottom)];
            picture.area(&corners, Fill::Light);
        }
        let zero = x.at(0.0);
        picture.dashes((zero, top), (zero, bottom));
        let mut y = top;
        for (name, offset) in rows {
            let middle = y + ROW / 2.0 + 2.0;
            picture.text((NAMES, middle + 4.5), Anchor::End, SMALL, name);
            let (from, to) = offset.interval_95_in;
            let (from, to) = (x.at(from * scale), x.at(to * scale));
            picture.line((from, middle), (to, middle), 1.8);
            for end in [from, to] {
                picture.line((end, middle - 5.0), (end, middle + 5.0), 1.4);
            }
            picture.dot((x.at(offset.mean_in * scale), middle));
            let label = offset.in_short(style.unit);
            picture.text((RIGHT + 10.0, middle + 4.5), Anchor::Start, SMALL, &label);
            y += ROW;
        }
        picture.line((LEFT, bottom), (RIGHT, bottom), 1.0);
        for (value, label) in x.ticks(5.0) {
            let at = x.at(value);
            picture.line((at, bottom), (at, bottom + 5.0), 1.0);
            picture.text((at, bottom + 19.0), Anchor::Middle, SMALL, &label);
        }
    }

    fn chances(&self, picture: &mut Picture, style: &Style) {
        let mut y = 162.0;
        let head = "of 100 joints: too loose (left), fit (middle), too tight (right)";
        picture.text((12.0, y), Anchor::Start, SMALL, head);
        y += 14.0;
        let moved = if self.best_move_in == 0.0 {
            "set anew".to_owned()
        } else {
            format!("move {}", signed_move(self.best_move_in, style.unit))
        };
        let advised = if self.move_the_jig { 2 } else { 1 };
        let rows = [
            ("before the test", &self.untested),
            ("leave the jig", &self.leave),
            (moved.as_str(), &self.moved),
        ];
        for (index, (name, chance)) in rows.into_iter().enumerate() {
            picture.text((NAMES, y + 15.5), Anchor::End, SMALL, name);
            three(picture, (LEFT, RIGHT), y, chance);
            let mark = if index == advised { " do this" } else { "" };
            let label = format!("{}{mark}", number::percent(chance.inside));
            picture.text((RIGHT + 10.0, y + 15.5), Anchor::Start, SMALL, &label);
            y += ROW;
        }
    }
}

impl OffsetReport {
    /// "1.2 thou tight".
    fn in_short(&self, unit: Unit) -> String {
        let word = if self.mean_in > 0.0 { "tight" } else { "loose" };
        format!("{} {word}", number::deviation(self.mean_in.abs(), unit))
    }
}
