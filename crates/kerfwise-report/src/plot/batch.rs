use super::axis::Axis;
use super::picture::{Anchor, Fill, LARGE, Picture, SMALL};
use crate::{BatchReport, number};

const WIDTH: f64 = 520.0;
const HEIGHT: f64 = 280.0;
const LEFT: f64 = 62.0;
const RIGHT: f64 = 500.0;
const TOP: f64 = 84.0;
const BOTTOM: f64 = 230.0;
/// More bars than this are no picture: counts are put together.
const MOST: usize = 40;
/// Up to so many bars each has its number above it.
const FEW: usize = 7;
/// What lies outside of the picture on each side.
const TAIL: f64 = 0.0005;

/// Joints that do not fit, from `first` on, in columns of so many counts.
struct Columns {
    first: usize,
    counts: usize,
    chances: Vec<f64>,
    if_independent: Vec<f64>,
}

impl Columns {
    fn new(report: &BatchReport) -> Self {
        // By how many do not fit, so the order turns.
        let turned = |fits: &[f64]| fits.iter().rev().copied().collect::<Vec<f64>>();
        let (shared, alone) = (turned(&report.fits), turned(&report.if_independent));
        let ends = [ends(&shared), ends(&alone)];
        let first = ends[0].0.min(ends[1].0);
        let last = ends[0].1.max(ends[1].1).min(shared.len().max(1) - 1);
        let counts = (last - first + 1).div_ceil(MOST);
        let columns = |chances: &[f64]| {
            let part = chances.get(first..=last).unwrap_or(&[]);
            part.chunks(counts).map(|c| c.iter().sum()).collect()
        };
        Self {
            first,
            counts,
            chances: columns(&shared),
            if_independent: columns(&alone),
        }
    }
}

/// Between which counts all but [`TAIL`] on each side lies.
fn ends(chances: &[f64]) -> (usize, usize) {
    let mut so_far = 0.0;
    let (mut first, mut last) = (None, 0);
    for (count, chance) in chances.iter().enumerate() {
        if 1.0 - so_far > TAIL {
            last = count;
        }
        so_far += chance;
        if first.is_none() && so_far > TAIL {
            first = Some(count);
        }
    }
    (first.unwrap_or(0), last)
}

impl BatchReport {
    /// How often so many joints of the batch do not fit, and what it would be if nothing were shared, as SVG.
    #[must_use]
    pub fn to_svg(&self) -> String {
        self.picture().finish()
    }

    pub(super) fn picture(&self) -> Picture {
        let title = format!("How many of {} joints do not fit", self.pieces);
        let mut picture = Picture::new(WIDTH, HEIGHT, &title, &self.answer());
        let all = self.fits.last().copied().unwrap_or(1.0);
        let (n, all) = (self.pieces, number::percent(all));
        let head = format!("all {n} fit in {all} of such batches");
        picture.text((12.0, 22.0), Anchor::Start, LARGE, &head);
        let alone = self.if_independent.last().copied().unwrap_or(1.0);
        let alone = number::percent(alone);
        let heads = [
            format!("{:.1} fit on average", self.expected),
            format!("dashed: if nothing were shared, a mistake ({alone})"),
        ];
        for (head, y) in heads.iter().zip([42.0, 60.0]) {
            picture.text((12.0, y), Anchor::Start, SMALL, head);
        }
        let columns = Columns::new(self);
        self.draw(&mut picture, &columns);
        picture
    }

    fn draw(&self, picture: &mut Picture, columns: &Columns) {
        let many = columns.chances.len();
        let both = columns.chances.iter().chain(&columns.if_independent);
        let most = both.fold(0.0, |most: f64, p| most.max(*p));
        let y = Axis::new(0.0, 100.0 * most.max(1e-9), BOTTOM, TOP);
        y.draw_left(picture, LEFT, 4.0, |label| format!("{label} %"));
        let wide = (RIGHT - LEFT) / many.max(1) as f64;
        let edge = |column: usize| LEFT + wide * column as f64;
        for (column, chance) in columns.chances.iter().enumerate() {
            let gap = if many > FEW { 0.5 } else { 6.0 };
            let top = y.at(100.0 * chance);
            let (left, right) = (edge(column) + gap, edge(column + 1) - gap);
            picture.bar((left, top), (right, BOTTOM), Fill::Light);
        }
        let mut steps = vec![(LEFT, BOTTOM)];
        for (column, chance) in columns.if_independent.iter().enumerate() {
            let height = y.at(100.0 * chance);
            steps.extend([(edge(column), height), (edge(column + 1), height)]);
        }
        steps.push((RIGHT, BOTTOM));
        picture.dashed_curve(&steps);
        picture.line((LEFT, BOTTOM), (RIGHT, BOTTOM), 1.0);
        for (column, chance) in columns.chances.iter().enumerate() {
            let middle = edge(column) + wide / 2.0;
            if many <= FEW {
                let alone = columns.if_independent.get(column).copied();
                let top = y.at(100.0 * chance.max(alone.unwrap_or(0.0)));
                let label = number::percent(*chance);
                picture.text((middle, top - 6.0), Anchor::Middle, SMALL, &label);
            }
            let every = many.div_ceil(12);
            if column.is_multiple_of(every) {
                let count = columns.first + column * columns.counts;
                picture.line((middle, BOTTOM), (middle, BOTTOM + 5.0), 1.0);
                let label = number::count(count as u64);
                picture.text_if_free((middle, BOTTOM + 19.0), Anchor::Middle, SMALL, &label);
            }
        }
        let title = if columns.counts == 1 {
            "joints that do not fit; upwards how often".to_owned()
        } else {
            let counts = columns.counts;
            format!("joints that do not fit, {counts} to a bar; upwards how often")
        };
        let middle = f64::midpoint(LEFT, RIGHT);
        picture.text((middle, BOTTOM + 40.0), Anchor::Middle, SMALL, &title);
    }
}
