use super::axis::Axis;
use super::picture::{Anchor, Picture, SMALL, fitted};
use crate::{GaugeCell, StudyReport, Style, Unit};

const WIDTH: f64 = 520.0;
const LEFT: f64 = 78.0;
const RIGHT: f64 = 500.0;
const TOP: f64 = 52.0;
/// One strip for each person, and the space below it.
const STRIP: f64 = 92.0;
const SPACE: f64 = 28.0;
/// More people than this are a table.
const MOST: usize = 8;

impl StudyReport {
    /// Every reading by part, one strip for each person, as SVG; none where the report has no readings.
    #[must_use]
    pub fn to_svg(&self, style: &Style) -> Option<String> {
        self.picture(style).map(|picture| picture.finish())
    }

    pub(super) fn picture(&self, style: &Style) -> Option<Picture> {
        let (scale, unit) = match (self.column.unit.as_str(), style.unit) {
            ("in", Unit::Millimetre) => (25.4, "mm"),
            (unit, _) => (1.0, unit),
        };
        let all = self.cells.iter().flat_map(|cell| &cell.readings);
        let least = all.clone().copied().fold(f64::INFINITY, f64::min);
        let most = all.copied().fold(f64::NEG_INFINITY, f64::max);
        if least > most {
            return None;
        }
        let people = &self.people[..self.people.len().min(MOST)];
        let height = TOP + (STRIP + SPACE) * people.len() as f64 + 34.0;
        let title = format!("Gauge study of {}, by part and person", self.column.name);
        let verdict = self.verdict(style).unwrap_or_default();
        let words = format!("{verdict} {}", self.classes());
        let mut picture = Picture::new(WIDTH, height, &title, words.trim());
        let head = format!("each dot a reading, {unit}; the line: the part's mean over all people");
        picture.text(
            (12.0, 20.0),
            Anchor::Start,
            SMALL,
            &head.replace(", ;", ";"),
        );
        let parts = self.by_mean();
        let margin = 0.08 * (most - least);
        let ends = ((least - margin) * scale, (most + margin) * scale);
        let mut top = TOP;
        for person in people {
            let y = Axis::new(ends.0, ends.1, top + STRIP, top);
            y.draw_left(&mut picture, LEFT, 3.0, str::to_owned);
            picture.text(
                (LEFT + 6.0, top - 6.0),
                Anchor::Start,
                SMALL,
                &fitted(person, SMALL, RIGHT - LEFT - 12.0),
            );
            self.strip(&mut picture, person, &parts, &y, scale);
            picture.line((LEFT, top + STRIP), (RIGHT, top + STRIP), 1.0);
            top += STRIP + SPACE;
        }
        name_the_parts(&mut picture, &parts, top - SPACE);
        let more = self.people.len() - people.len();
        let foot = match more {
            0 => "parts, by their mean".to_owned(),
            _ => format!("parts, by their mean; {more} more people are not shown"),
        };
        let middle = f64::midpoint(LEFT, RIGHT);
        picture.text((middle, top - SPACE + 40.0), Anchor::Middle, SMALL, &foot);
        Some(picture)
    }

    /// Each part with its mean over all people, ascending.
    fn by_mean(&self) -> Vec<(&str, f64)> {
        let mean = |part: &String| {
            let cells = self.cells.iter().filter(|cell| cell.part == *part);
            let readings: Vec<f64> = cells.flat_map(|c| c.readings.iter().copied()).collect();
            let mean = readings.iter().sum::<f64>() / readings.len().max(1) as f64;
            (!readings.is_empty()).then_some(mean)
        };
        let known = |part| Some((String::as_str(part), mean(part)?));
        let mut parts: Vec<(&str, f64)> = self.parts.iter().filter_map(known).collect();
        parts.sort_by(|a, b| a.1.total_cmp(&b.1));
        parts
    }

    fn strip(
        &self,
        picture: &mut Picture,
        person: &str,
        parts: &[(&str, f64)],
        y: &Axis,
        scale: f64,
    ) {
        let wide = width_of(parts);
        let means: Vec<_> = parts.iter().map(|(_, mean)| y.at(mean * scale)).collect();
        let reach = (0.42 * wide).min(16.0);
        let ticks = means.iter().enumerate().map(|(column, height)| {
            let middle = LEFT + wide * (column as f64 + 0.5);
            (middle - reach, middle + reach, *height)
        });
        picture.pale_ticks(ticks);
        let of = |cell: &&GaugeCell| cell.person == person;
        let mut dots = Vec::new();
        for cell in self.cells.iter().filter(of) {
            let Some(column) = parts.iter().position(|(part, _)| *part == cell.part) else {
                continue;
            };
            let many = cell.readings.len() as f64;
            for (index, reading) in cell.readings.iter().enumerate() {
                // Beside each other, so that equal readings show.
                let aside = (index as f64 + 0.5) / many - 0.5;
                let x = LEFT + wide * (column as f64 + 0.5 + 0.4 * aside);
                dots.push((x, y.at(reading * scale)));
            }
        }
        picture.dots(&dots, 5.0);
    }
}

fn width_of(parts: &[(&str, f64)]) -> f64 {
    (RIGHT - LEFT) / parts.len().max(1) as f64
}

/// Names below the lowest strip, as many as there is room for.
fn name_the_parts(picture: &mut Picture, parts: &[(&str, f64)], y: f64) {
    const ROOM: f64 = 96.0;
    let wide = width_of(parts);
    for (column, (part, _)) in parts.iter().enumerate() {
        let middle = LEFT + wide * (column as f64 + 0.5);
        picture.line((middle, y), (middle, y + 5.0), 1.0);
        let middle = middle.clamp(LEFT, WIDTH - ROOM / 2.0);
        let name = fitted(part, SMALL, ROOM);
        picture.text_if_free((middle, y + 19.0), Anchor::Middle, SMALL, &name);
    }
}
