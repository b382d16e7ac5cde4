//! Faults with the faulty lines under them.

use crate::{Fault, Faults};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::ops::Range;

impl Faults {
    /// The faults with the faulty lines under them, for a terminal; `color` adds colours.
    ///
    /// ```
    /// use kerfwise_plan::Plan;
    ///
    /// let no_files = |_: &str| Err(std::io::ErrorKind::NotFound.into());
    /// let faults = Plan::parse("plan.toml", "version = 3\n", &no_files).unwrap_err();
    /// let expected = "\
    /// error: version 3 is not one that this program reads
    ///  --> plan.toml:1:11
    ///   |
    /// 1 | version = 3
    ///   |           ^
    ///   |
    ///   = help: it reads version 1
    /// ";
    /// assert_eq!(faults.render(false), expected);
    /// ```
    #[must_use]
    pub fn render(&self, color: bool) -> String {
        let renderer = if color {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let shown = self.faults().iter().map(|fault| {
            let text = self.texts.iter().find(|(name, _)| *name == fault.file);
            let mut text = renderer.render(&[group(fault, text.map(|(_, text)| text.as_str()))]);
            text.push('\n');
            text
        });
        let mut text = shown.collect::<Vec<_>>().join("\n");
        if let Some(more) = self.more_line() {
            text.push_str(&format!("\n{more}\n"));
        }
        text
    }
}

fn group<'a>(fault: &'a Fault, text: Option<&'a str>) -> Group<'a> {
    let has_place = fault.line > 0 && text.is_some();
    let title = if has_place {
        fault.message.clone()
    } else if fault.line > 0 {
        // Of a file that was not kept.
        format!("{}:{}: {}", fault.file, fault.line, fault.message)
    } else {
        format!("{}: {}", fault.file, fault.message)
    };
    let mut group = Group::with_title(Level::ERROR.primary_title(title));
    if let (true, Some(text)) = (has_place, text) {
        let primary = AnnotationKind::Primary.span(on_boundaries(text, &fault.span));
        let mut snippet = Snippet::source(text).path(&fault.file).annotation(primary);
        if let Some((span, label)) = &fault.also {
            let context = AnnotationKind::Context.span(on_boundaries(text, span));
            snippet = snippet.annotation(context.label(label));
        }
        group = group.element(snippet);
    }
    match &fault.help {
        Some(help) => group.element(Level::HELP.message(help)),
        None => group,
    }
}

/// Inside the text, between characters, and on one line: a long place is shown by its first line.
fn on_boundaries(text: &str, span: &Range<usize>) -> Range<usize> {
    let down = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = down(span.start);
    let end = down(span.end.max(start));
    match text[start..end].find('\n') {
        Some(line) => start..start + line,
        None => start..end,
    }
}
