//! Aligned tables for a terminal.

use comfy_table::{Cell, CellAlignment, ContentArrangement, Table, presets};

/// How a column stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Align {
    Left,
    Right,
}

/// A table without lines, indented by two, with its header.
pub(crate) fn table(
    width: u16,
    header: &[(&str, Align)],
    rows: impl IntoIterator<Item = Vec<String>>,
) -> String {
    let mut table = Table::new();
    table
        .load_style(presets::NOTHING)
        .set_content_arrangement(ContentArrangement::Dynamic)
        .set_width(width.saturating_sub(1).max(40));
    let align = |a: Align| match a {
        Align::Left => CellAlignment::Left,
        Align::Right => CellAlignment::Right,
    };
    table.set_header(
        header
            .iter()
            .map(|(title, a)| Cell::new(title).set_alignment(align(*a))),
    );
    for row in rows {
        let cells = row.into_iter().zip(header);
        table.add_row(cells.map(|(text, (_, a))| Cell::new(text).set_alignment(align(*a))));
    }
    let mut text = String::new();
    for line in table.lines() {
        text.push(' ');
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
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
}
