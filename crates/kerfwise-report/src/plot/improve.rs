use super::bars::{MOST, NAMES, ROW, WIDTH};
use super::picture::{Anchor, Fill, Picture, SMALL, fitted};
use crate::ImproveReport;

const BARS: f64 = 145.0;

impl ImproveReport {
    /// What fixing each error would buy, the most first, as SVG.
    #[must_use]
    pub fn to_svg(&self) -> String {
        self.picture().finish()
    }

    pub(super) fn picture(&self) -> Picture {
        let shown = &self.rows[..self.rows.len().min(MOST)];
        let left = self.rows.len() - shown.len();
        let lines = shown.len() + usize::from(left > 0);
        let height = 66.0 + ROW * lines.max(1) as f64;
        let title = format!("What fixing each error of the {} buys", self.outcome);
        let mut picture = Picture::new(WIDTH, height, &title, &self.answer());
        let head = "of 100 joints, so many more fit if a source is known exactly (light),";
        picture.text((12.0, 20.0), Anchor::Start, SMALL, head);
        let head = "or if its errors are half as large (dark)";
        picture.text((12.0, 38.0), Anchor::Start, SMALL, head);
        let gain = |chance: f64| 100.0 * (chance - self.now.inside);
        let gains = shown.iter().flat_map(|r| [gain(r.removed), gain(r.halved)]);
        let most = gains.fold(0.0, f64::max);
        let start = NAMES + 12.0;
        let end = |gain: f64| {
            start
                + BARS
                    * if most > 0.0 {
                        gain.max(0.0) / most
                    } else {
                        0.0
                    }
        };
        let mut y = 54.0;
        for row in shown {
            let (halved, removed) = (gain(row.halved), gain(row.removed));
            let name = fitted(&row.name, SMALL, NAMES - 4.0);
            picture.text((NAMES, y + 16.0), Anchor::End, SMALL, &name);
            picture.bar((start, y + 2.0), (end(removed), y + 21.0), Fill::Light);
            picture.bar((start, y + 7.0), (end(halved), y + 16.0), Fill::Dark);
            let at = (end(removed.max(halved)) + 6.0, y + 16.0);
            let label = format!("{} (half {})", signed(removed, most), signed(halved, most));
            picture.text(at, Anchor::Start, SMALL, &label);
            y += ROW;
        }
        if left > 0 {
            let line = format!("{left} more buy less");
            picture.text((NAMES, y + 16.0), Anchor::End, SMALL, &line);
        }
        picture.line((start, 52.0), (start, y + 2.0), 1.0);
        picture
    }
}

/// With its sign, and with the decimals that the largest needs.
fn signed(gain: f64, most: f64) -> String {
    let decimals = if most < 0.1 { 4 } else { 2 };
    let text = format!("{gain:+.decimals$}").replace('-', "−");
    if text.chars().all(|c| "+−0.".contains(c)) {
        "0".to_owned()
    } else {
        text
    }
}
