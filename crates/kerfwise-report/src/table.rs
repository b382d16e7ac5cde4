//! Aligned tables for a terminal.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

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

    /// Indented by two, with its header.
    pub(crate) fn to_text(&self, width: u16) -> String {
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(width.saturating_sub(1).max(40));
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
        let plain = |text: &String| text.replace('█', "").trim().to_owned();
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

/// Wraps a paragraph, with `first` before its first line and as much blank before the others.
pub(crate) fn wrap(paragraph: &str, first: &str, width: u16) -> String {
    let room = usize::from(width).max(40);
    let blank = " ".repeat(first.chars().count());
    let mut text = String::new();
    let mut line = first.to_owned();
    let mut is_empty = true;
    // A no-break space holds its words together.
    for word in paragraph.split([' ', '\n']).filter(|w| !w.is_empty()) {
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
