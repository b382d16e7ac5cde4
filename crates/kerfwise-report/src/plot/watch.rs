use super::axis::Axis;
use super::picture::{Anchor, Picture, SMALL};
use crate::{ChartReport, Style, Unit, WatchPoint, WatchReport};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 424.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 440.0;
/// The readings, and below them the chart that tells a lasting change.
const UPPER: (f64, f64) = (46.0, 210.0);
const LOWER: (f64, f64) = (258.0, 374.0);
/// The last so many readings: more would be a black band.
const MOST: usize = 200;

impl WatchReport {
    /// The run with its limits, what signalled, and the chart that tells a lasting change, as SVG.
    #[must_use]
    pub fn to_svg(&self, style: &Style) -> String {
        self.picture(style).finish()
    }

    pub(super) fn picture(&self, style: &Style) -> Picture {
        let title = format!("Run chart of {}", self.column.name);
        let mut picture = Picture::new(WIDTH, HEIGHT, &title, &self.advice_in_words(style));
        let from = self.points.len().saturating_sub(MOST);
        let shown = &self.points[from..];
        let (Some(first), Some(last)) = (shown.first(), shown.last()) else {
            return picture;
        };
        let x = Axis::new(
            first.reading as f64,
            last.reading as f64,
            LEFT + 8.0,
            RIGHT - 8.0,
        );
        self.run(&mut picture, shown, &x, style);
        self.lasting(&mut picture, shown, &x);
        let (point, last) = (self.point(), LOWER.1);
        let which = match from {
            0 => format!("number of the {point}"),
            _ => format!("number of the {point} (the last {MOST})"),
        };
        picture.line((LEFT, last), (RIGHT, last), 1.0);
        for (value, label) in x.ticks(7.0) {
            // Readings are counted in whole numbers.
            if !label.contains('.') {
                let at = x.at(value);
                picture.line((at, last), (at, last + 5.0), 1.0);
                picture.text((at, last + 19.0), Anchor::Middle, SMALL, &label);
            }
        }
        let middle = f64::midpoint(LEFT, RIGHT);
        picture.text((middle, last + 40.0), Anchor::Middle, SMALL, &which);
        picture
    }

    fn run(&self, picture: &mut Picture, shown: &[WatchPoint], x: &Axis, style: &Style) {
        let (scale, unit) = match (self.column.unit.as_str(), style.unit) {
            ("in", Unit::Millimetre) => (25.4, "mm"),
            (unit, _) => (1.0, unit),
        };
        let of = if self.group_size > 1 {
            "means of groups"
        } else {
            "readings"
        };
        let head = format!("{of}, {unit}; ringed: what signals");
        picture.text(
            (12.0, 20.0),
            Anchor::Start,
            SMALL,
            head.trim_end_matches([',', ' ']),
        );
        let (low, high) = self.limits;
        let values = shown.iter().map(|p| p.value).chain([low, high]);
        let least = values.clone().fold(f64::INFINITY, f64::min);
        let most = values.fold(f64::NEG_INFINITY, f64::max);
        let margin = 0.06 * (most - least);
        let (top, bottom) = UPPER;
        let y = Axis::new(
            (least - margin) * scale,
            (most + margin) * scale,
            bottom,
            top,
        );
        y.draw_left(picture, LEFT, 7.0, str::to_owned);
        let at = |p: &WatchPoint| (x.at(p.reading as f64), y.at(p.value * scale));
        for (value, name) in [(low, "limit"), (high, "limit"), (self.process.mean, "mean")] {
            let height = y.at(value * scale);
            if name == "mean" {
                picture.pale_line((LEFT, height), (RIGHT, height));
            } else {
                picture.dashes((LEFT, height), (RIGHT, height));
            }
            let at = (RIGHT + 6.0, height + 4.5);
            picture.text_if_free(at, Anchor::Start, SMALL, name);
        }
        let points: Vec<_> = shown.iter().map(at).collect();
        picture.thin_curve(&points);
        picture.dots(&points, if points.len() > 60 { 3.5 } else { 6.0 });
        for point in shown {
            if self.signals.iter().any(|s| s.reading == point.reading) {
                picture.ring(at(point));
            }
        }
        let first = shown.first().map_or(0, |p| p.reading);
        if let Some(change) = self.change.filter(|c| c.began >= first) {
            let at = x.at(change.began as f64) - 4.0;
            picture.dashes((at, top - 8.0), (at, bottom));
            picture.dashes((at, LOWER.0), (at, LOWER.1));
            let label = format!("changed, likely from {} on", change.began);
            let middle = at.clamp(LEFT + 80.0, RIGHT - 20.0);
            picture.text((middle, top - 10.0), Anchor::Middle, SMALL, &label);
        }
    }

    fn lasting(&self, picture: &mut Picture, shown: &[WatchPoint], x: &Axis) {
        let (top, bottom) = LOWER;
        let at = |y: &Axis, p: &WatchPoint, value: f64| (x.at(p.reading as f64), y.at(value));
        match self.chart {
            ChartReport::Cusum { decision, .. } => {
                let head = "cumulative sums, in standard deviations: up, risen; down, fallen";
                picture.text((12.0, top - 16.0), Anchor::Start, SMALL, head);
                let sums = shown.iter().filter_map(|p| p.sums);
                let (most, least) = sums.fold((decision, decision), |(most, least), (up, down)| {
                    (most.max(up), least.max(down))
                });
                let y = Axis::new(-1.1 * least, 1.1 * most, bottom, top);
                y.draw_left(picture, LEFT, 4.0, str::to_owned);
                picture.pale_line((LEFT, y.at(0.0)), (RIGHT, y.at(0.0)));
                for limit in [-decision, decision] {
                    let height = y.at(limit);
                    picture.dashes((LEFT, height), (RIGHT, height));
                    let at = (RIGHT + 6.0, height + 4.5);
                    picture.text_if_free(at, Anchor::Start, SMALL, "limit");
                }
                let sums = shown.iter().filter_map(|p| Some((p, p.sums?)));
                let up: Vec<_> = sums.clone().map(|(p, (up, _))| at(&y, p, up)).collect();
                let down: Vec<_> = sums.map(|(p, (_, down))| at(&y, p, -down)).collect();
                picture.curve(&up);
                picture.curve(&down);
            }
            ChartReport::Ewma { .. } => self.averages(picture, shown, x),
        }
    }

    fn averages(&self, picture: &mut Picture, shown: &[WatchPoint], x: &Axis) {
        let (top, bottom) = LOWER;
        let head = "moving average, in standard deviations from the mean";
        picture.text((12.0, top - 16.0), Anchor::Start, SMALL, head);
        let sd = (self.limits.1 - self.limits.0) / 6.0;
        let z = |value: f64| {
            if sd > 0.0 {
                (value - self.process.mean) / sd
            } else {
                0.0
            }
        };
        let averages = shown.iter().filter_map(|p| Some((p, p.average?)));
        let farthest = |m: f64, (_, (average, low, high)): (&WatchPoint, (f64, f64, f64))| {
            m.max(z(average).abs()).max(z(low).abs()).max(z(high).abs())
        };
        let most = averages.clone().fold(0.0, farthest);
        let y = Axis::new(-1.1 * most, 1.1 * most, bottom, top);
        y.draw_left(picture, LEFT, 4.0, str::to_owned);
        picture.pale_line((LEFT, y.at(0.0)), (RIGHT, y.at(0.0)));
        let at = |p: &WatchPoint, value: f64| (x.at(p.reading as f64), y.at(z(value)));
        let line: Vec<_> = averages
            .clone()
            .map(|(p, (mean, _, _))| at(p, mean))
            .collect();
        let low: Vec<_> = averages
            .clone()
            .map(|(p, (_, low, _))| at(p, low))
            .collect();
        let high: Vec<_> = averages.map(|(p, (_, _, high))| at(p, high)).collect();
        picture.curve(&line);
        for limit in [low, high] {
            picture.dashed_curve(&limit);
            if let Some((_, height)) = limit.last() {
                let at = (RIGHT + 6.0, height + 4.5);
                picture.text_if_free(at, Anchor::Start, SMALL, "limit");
            }
        }
    }
}
