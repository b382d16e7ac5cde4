//! A plan while it is being put together, and as it is written.

use std::fmt::Write as _;

/// Limits of what is normal for the worst case, in standard deviations.
const LIMITS_AT_SD: &str = "3";

/// A plan in the making.
#[derive(Debug, Default)]
pub(super) struct Draft {
    pub(super) title: String,
    pub(super) pieces: u32,
    /// Keys of `[joint]`, with a remark above them where there is one.
    pub(super) joint: Vec<(String, Option<&'static str>)>,
    pub(super) sources: Vec<Entry>,
    /// Files of readings to be written beside the plan: name and text.
    pub(super) files: Vec<(String, String)>,
}

/// A source as the plan has it.
#[derive(Debug)]
pub(super) struct Entry {
    pub(super) name: String,
    remark: Option<String>,
    lines: Vec<(&'static str, String)>,
    /// Whether it has an error; without one it is known exactly.
    pub(super) is_off: bool,
    /// Whether it counts as guessed rather than measured or stated.
    pub(super) is_assumed: bool,
}

impl Entry {
    pub(super) fn new(name: &str) -> Self {
        Self {
            name: name.to_owned(),
            remark: None,
            lines: Vec::new(),
            is_off: false,
            is_assumed: false,
        }
    }

    pub(super) fn remark(mut self, words: &str) -> Self {
        self.remark = Some(words.to_owned());
        self
    }

    /// A key whose value is text.
    fn text(mut self, key: &'static str, words: &str) -> Self {
        self.lines.push((key, toml_text(words)));
        self
    }

    pub(super) fn estimate(self, size: &str) -> Self {
        self.text("estimate", size)
    }

    pub(super) fn normal(self, sd: &str) -> Self {
        self.law("normal", sd).limits()
    }

    pub(super) fn rectangular(self, half_width: &str) -> Self {
        self.law("rectangular", half_width)
    }

    pub(super) fn triangular(self, half_width: &str) -> Self {
        self.law("triangular", half_width)
    }

    fn law(mut self, law: &'static str, size: &str) -> Self {
        self.is_off = true;
        self.text(law, size)
    }

    /// A column of readings; of fewer than four the mean has no standard deviation to count limits by.
    pub(super) fn readings(self, file: &str, column: &str, usage: &str, count: usize) -> Self {
        let read = self
            .law("readings", file)
            .text("column", column)
            .text("use", usage);
        if count > 3 || usage == "spread" {
            read.limits()
        } else {
            read
        }
    }

    fn limits(mut self) -> Self {
        self.lines.push(("limits_at_sd", LIMITS_AT_SD.to_owned()));
        self
    }

    pub(super) fn event(self, event: &str) -> Self {
        self.text("event", event)
    }

    pub(super) fn assumed(self, because: &str) -> Self {
        let mut entry = self.text("assumed", because);
        entry.is_assumed = true;
        entry
    }

    pub(super) fn measured(self, how: &str) -> Self {
        self.text("measured", how)
    }
}

impl Draft {
    /// A line of `[joint]`: `key = value`.
    pub(super) fn joint(&mut self, line: impl Into<String>) {
        self.joint.push((line.into(), None));
    }

    /// The same with a remark above it.
    pub(super) fn joint_with(&mut self, remark: &'static str, line: impl Into<String>) {
        self.joint.push((line.into(), Some(remark)));
    }

    pub(super) fn source(&mut self, entry: Entry) {
        self.sources.push(entry);
    }

    /// The plan file.
    pub(super) fn to_toml(&self) -> String {
        let mut text = String::from(
            "# Started by `kerfwise new`. A number is written with its unit: in, thou (0.001 in), mm, deg.\n\
             # What is marked as assumed was not measured: put readings in its place where it counts\n\
             # (`kerfwise budget` tells). All keys: docs/plan-file.md.\n\n\
             version = 1\n",
        );
        let _never = writeln!(text, "title = {}\n", toml_text(&self.title));
        let _never = writeln!(
            text,
            "# How many joints are cut at one setting.\n[batch]\npieces = {}\n\n[joint]",
            self.pieces
        );
        for (line, remark) in &self.joint {
            if let Some(remark) = remark {
                // Some are the words of a list.
                let mut letters = remark.chars();
                let first = letters.next().into_iter().flat_map(char::to_uppercase);
                let first: String = first.collect();
                let _never = writeln!(text, "# {first}{}", letters.as_str());
            }
            let _never = writeln!(text, "{line}");
        }
        for entry in &self.sources {
            text.push('\n');
            if let Some(remark) = &entry.remark {
                let _never = writeln!(text, "# {remark}");
            }
            let _never = writeln!(text, "[source.{}]", entry.name);
            for (key, value) in &entry.lines {
                let _never = writeln!(text, "{key} = {value}");
            }
        }
        text
    }
}

/// A string of a plan file.
pub(crate) fn toml_text(words: &str) -> String {
    let mut text = String::from("\"");
    for c in words.chars() {
        match c {
            '"' | '\\' => text.extend(['\\', c]),
            c if c.is_control() => {
                let _never = write!(text, "\\u{:04X}", u32::from(c));
            }
            c => text.push(c),
        }
    }
    text.push('"');
    text
}
