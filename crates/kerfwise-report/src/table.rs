//! Aligned tables for a terminal.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

/// What bars are made of in a terminal.
const BAR: char = '█';

/// The length of the bar that a cell begins with.
fn bar(cell: &str) -> usize {
    cell.chars().take_while(|&c| c == BAR).count()
}

/// How a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    Left,
    Right,
}

/// What stands in columns: drawn in a terminal without lines, or handed to a page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Grid {
    head: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Grid {
    pub(crate) fn new(
        header: &[(&str, Align)],
        rows: impl IntoIterator<Item = Vec<String>>,
    ) -> Self {
        let head = header.iter().map(|(title, a)| ((*title).to_owned(), *a));
        Self {
            head: head.collect(),
            rows: rows.into_iter().collect(),
        }
    }

    /// With a unit beside the heads of these columns, whose cells then need none.
    pub(crate) fn in_unit(mut self, columns: &[&str], unit: &str) -> Self {
        for (title, _) in &mut self.head {
            if !unit.is_empty() && columns.contains(&title.as_str()) {
                *title = format!("{title} ({unit})");
            }
        }
        self
    }

    /// Indented by two, with its header. Where the width is short, heads take two lines and bars shrink or go, before a
    /// cell is broken.
    pub(crate) fn to_text(&self, width: u16) -> String {
        let width = width.max(40);
        self.without_empty_columns()
            .fitted(usize::from(width))
            .drawn(width)
    }

    fn without_empty_columns(&self) -> Self {
        let is_kept = |at: &usize| {
            let mut cells = self.rows.iter().filter_map(|row| row.get(*at));
            !self.head[*at].0.is_empty() || cells.any(|cell| !cell.is_empty())
        };
        let kept: Vec<usize> = (0..self.head.len()).filter(is_kept).collect();
        let cells =
            |row: &Vec<String>| kept.iter().filter_map(|&at| row.get(at).cloned()).collect();
        Self {
            head: kept.iter().map(|&at| self.head[at].clone()).collect(),
            rows: self.rows.iter().map(cells).collect(),
        }
    }

    fn fitted(&self, width: usize) -> Self {
        let mut grid = self.clone();
        // Half of the bars before heads take two lines, and the rest after.
        grid.shrink_bars(2, width);
        if grid.natural_width() > width {
            grid.break_heads();
        }
        grid.shrink_bars(usize::MAX, width);
        grid.without_empty_columns()
    }

    /// Makes the longest bar shorter, down to a part of itself, until the width is enough; the others in proportion.
    fn shrink_bars(&mut self, part: usize, width: usize) {
        let whole = self.rows.clone();
        let longest = whole.iter().flatten().map(|cell| bar(cell)).max();
        let longest = longest.unwrap_or(0);
        let (mut room, least) = (longest, longest / part);
        while self.natural_width() > width && room > least {
            // Bars of less than four letters tell nothing.
            room = if room > 4 { room - 1 } else { 0 };
            for (cell, whole) in self.rows.iter_mut().flatten().zip(whole.iter().flatten()) {
                if bar(whole) > 0 {
                    let length = (bar(whole) * room + longest / 2) / longest;
                    let words = whole.trim_start_matches(BAR);
                    *cell = format!("{}{words}", BAR.to_string().repeat(length));
                }
            }
        }
    }

    /// Columns with their padding.
    fn natural_width(&self) -> usize {
        let lines = |text: &str| text.lines().map(|l| l.chars().count()).max();
        let of_column = |at: usize| {
            let cells = self.rows.iter().filter_map(|row| row.get(at));
            let cells = cells.filter_map(|cell| lines(cell)).max();
            let head = self.head.get(at).and_then(|(title, _)| lines(title));
            cells.max(head).unwrap_or(0) + 2
        };
        (0..self.head.len()).map(of_column).sum()
    }

    /// Heads that are wider than what stands below them are broken between words.
    fn break_heads(&mut self) {
        for at in 0..self.head.len() {
            let cells = self.rows.iter().filter_map(|row| row.get(at));
            let widest = cells.map(|cell| cell.chars().count()).max().unwrap_or(0);
            let (title, _) = &mut self.head[at];
            let words = held_together(title);
            let longest = words.iter().map(|word| word.chars().count()).max();
            let widest = widest.max(longest.unwrap_or(0));
            let (mut broken, mut used) = (String::new(), 0);
            for word in &words {
                let length = word.chars().count();
                if used > 0 && used + 1 + length > widest {
                    broken.push('\n');
                    used = 0;
                } else if used > 0 {
                    broken.push(' ');
                    used += 1;
                }
                broken.push_str(word);
                used += length;
            }
            *title = broken;
        }
    }

    fn drawn(&self, width: u16) -> String {
        let mut table = Table::new();
        // The last column's padding is cut off, which makes up for the blank before the first.
        let is_narrow = self.natural_width() <= usize::from(width);
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(if is_narrow {
                ContentArrangement::Disabled
            } else {
                ContentArrangement::Dynamic
            })
            .set_width(width.saturating_sub(1));
        let cell = |text: &str, align: Align| {
            Cell::new(text).set_alignment(match align {
                Align::Left => CellAlignment::Left,
                Align::Right => CellAlignment::Right,
            })
        };
        table.set_header(self.head.iter().map(|(title, a)| cell(title, *a)));
        for row in &self.rows {
            table.add_row(
                row.iter()
                    .zip(&self.head)
                    .map(|(text, (_, a))| cell(text, *a)),
            );
        }
        let mut text = String::new();
        for line in table.lines() {
            text.push(' ');
            text.push_str(line.trim_end());
            text.push('\n');
        }
        text
    }

    /// For a page, without the bars that a terminal draws with letters: a page has pictures.
    #[cfg(feature = "html")]
    pub(crate) fn to_page(&self, caption: &str) -> PageTable {
        let plain = |text: &String| text.replace(BAR, "").trim().to_owned();
        let is_kept = |column: &usize| {
            let mut cells = self.rows.iter().filter_map(|row| row.get(*column));
            cells.any(|text| !plain(text).is_empty())
        };
        let kept: Vec<usize> = (0..self.head.len()).filter(is_kept).collect();
        let cells = |row: &Vec<String>| {
            let of = |column: &usize| Some((row.get(*column)?, self.head.get(*column)?.1));
            let cell = |(text, align)| PageCell {
                text: plain(text),
                is_number: align == Align::Right,
            };
            kept.iter().filter_map(of).map(cell).collect()
        };
        let titles: Vec<String> = self.head.iter().map(|(title, _)| title.clone()).collect();
        PageTable {
            caption: caption.to_owned(),
            head: cells(&titles),
            rows: self.rows.iter().map(cells).collect(),
        }
    }
}

/// A table as a page shows it.
#[cfg(feature = "html")]
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub(crate) struct PageTable {
    caption: String,
    head: Vec<PageCell>,
    rows: Vec<Vec<PageCell>>,
}

#[cfg(feature = "html")]
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
struct PageCell {
    text: String,
    is_number: bool,
}

/// A table for a terminal.
pub(crate) fn table(
    width: u16,
    header: &[(&str, Align)],
    rows: impl IntoIterator<Item = Vec<String>>,
) -> String {
    Grid::new(header, rows).to_text(width)
}

/// The words of a text, a number and its unit as one; a no-break space holds its words together as well.
fn held_together(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split([' ', '\n']).filter(|word| !word.is_empty()) {
        let bare = word.trim_end_matches(['.', ',', ';', ':', ')']);
        let is_unit = matches!(bare, "%" | "in" | "mm" | "thou");
        match words.last_mut() {
            Some(number) if is_unit && number.ends_with(|c: char| c.is_ascii_digit()) => {
                number.push(' ');
                number.push_str(word);
            }
            _ => words.push(word.to_owned()),
        }
    }
    words
}

/// The same text, where a page cannot part a number from its unit at the end of a line.
#[cfg(feature = "html")]
pub(crate) fn unbroken(text: &str) -> String {
    let words = held_together(text);
    let words: Vec<String> = words
        .iter()
        .map(|word| word.replace(' ', "\u{a0}"))
        .collect();
    words.join(" ")
}

/// Wraps a paragraph, with `first` before its first line and as much blank before the others.
pub(crate) fn wrap(paragraph: &str, first: &str, width: u16) -> String {
    let room = usize::from(width).max(40);
    let blank = " ".repeat(first.chars().count());
    let mut text = String::new();
    let mut line = first.to_owned();
    let mut is_empty = true;
    for word in &held_together(paragraph) {
        if !is_empty && line.chars().count() + 1 + word.chars().count() > room {
            text.push_str(line.trim_end());
            text.push('\n');
            line = blank.clone();
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    text.push_str(line.trim_end());
    text.push('\n');
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_at_the_width_and_hangs() {
        let text = wrap(&"word ".repeat(20), "- ", 44);
        assert!(text.lines().all(|l| l.chars().count() <= 44), "{text}");
        assert!(text.lines().nth(1).unwrap().starts_with("  word"));
        assert_eq!(text.split_whitespace().count(), 21);
    }

    #[test]
    fn a_number_is_not_parted_from_its_unit() {
        for width in 40..60 {
            let text = wrap(
                "about 96.25 % lie within ±5 thou (0.127 mm), so dial 0.5005 in: fine",
                "",
                width,
            );
            for line in text.lines() {
                let first = line.split(' ').next().unwrap();
                assert!(!["%", "thou", "mm),", "in:"].contains(&first), "{text}");
            }
        }
    }

    #[test]
    fn columns_align() {
        let text = table(
            80,
            &[("name", Align::Left), ("thou", Align::Right)],
            [
                vec!["kerf".into(), "0.4".into()],
                vec!["a".into(), "12.3".into()],
            ],
        );
        let ends: Vec<usize> = text.lines().map(|l| l.chars().count()).collect();
        assert!(ends.iter().all(|e| *e == ends[0]), "{text}");
    }

    #[test]
    fn where_the_width_is_short_heads_break_and_bars_shrink_before_cells_do() {
        let header = [
            ("name", Align::Left),
            ("so many or fewer", Align::Right),
            ("", Align::Left),
        ];
        let row = |name: &str, bar: usize, word: &str| {
            vec![
                name.to_owned(),
                "12.34 %".to_owned(),
                format!("{}{word}", "█".repeat(bar)),
            ]
        };
        let grid = Grid::new(
            &header,
            [row("runner_play.second", 30, " best"), row("kerf", 15, "")],
        );
        let wide = grid.to_text(100);
        assert!(wide.contains(&format!("{} best", "█".repeat(30))), "{wide}");
        for width in [44, 50, 60, 70] {
            let text = grid.to_text(width);
            assert!(
                text.lines()
                    .all(|l| l.chars().count() <= usize::from(width)),
                "{text}"
            );
            assert!(
                text.contains("runner_play.second") && text.contains(" best"),
                "{text}"
            );
            // Two lines of cells, and one to three of heads.
            assert!((3..=5).contains(&text.lines().count()), "{text}");
            let bars: Vec<usize> = text
                .lines()
                .map(|l| l.matches(BAR).count())
                .filter(|&n| n > 0)
                .collect();
            // The half of the longer one, within half a letter.
            assert!(
                bars.is_empty() || bars[0].abs_diff(2 * bars[1]) <= 1,
                "{text}"
            );
        }
    }

    #[test]
    fn a_unit_stands_beside_the_heads_that_ask_for_it() {
        let header = [("way", Align::Left), ("u", Align::Right)];
        let grid = |unit| {
            Grid::new(&header, [vec!["exact".to_owned(), "2.4".to_owned()]])
                .in_unit(&["u"], unit)
                .to_text(80)
        };
        assert!(grid("thou").contains("u (thou)"));
        assert!(!grid("").contains('('), "a pure number has none");
    }

    #[cfg(feature = "html")]
    #[test]
    fn a_page_has_no_bars_of_letters() {
        let row = |mark: &str| vec!["kerf".to_owned(), mark.to_owned()];
        let header = [("name", Align::Left), ("", Align::Left)];
        let bars = Grid::new(&header, [row("██"), row("█")]).to_page("x");
        assert_eq!(bars.head.len(), 1);
        let marks = Grid::new(&header, [row("██ best"), row("█")]).to_page("x");
        assert_eq!(marks.rows[0][1].text, "best");
        assert_eq!(marks.rows[1][1].text, "");
    }
}
