//! A page of SVG that knows where its words stand.
//!
//! Small on purpose: straight lines, areas, and text in boxes. Everything is told apart by shade and
//! pattern, so that a print in black and white says the same as the screen.

use std::fmt::Write as _;

/// Text size of labels, in user units (a plot is 520 wide).
pub(crate) const SMALL: f64 = 13.0;
/// Text size of what is to be read first.
pub(crate) const LARGE: f64 = 16.0;

/// What an area is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Fill {
    /// Inside the band, a bar.
    Light,
    /// Below the band: strokes that rise.
    Rising,
    /// Above the band: strokes that fall.
    Falling,
    /// What stands out.
    Dark,
}

/// Which end of a text stands at its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Anchor {
    Start,
    Middle,
    End,
}

/// The rectangle that a text takes, at the most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct TextBox {
    pub(crate) left: f64,
    pub(crate) top: f64,
    pub(crate) right: f64,
    pub(crate) bottom: f64,
}

impl TextBox {
    pub(crate) fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

/// A picture while it is drawn.
#[derive(Debug)]
pub(crate) struct Picture {
    width: f64,
    height: f64,
    title: String,
    description: String,
    /// Tells its patterns from those of another picture on the same page.
    id: String,
    body: String,
    texts: Vec<TextBox>,
}

impl Picture {
    /// `description` is what a person who cannot see the picture is told.
    pub(crate) fn new(width: f64, height: f64, title: &str, description: &str) -> Self {
        Self {
            width,
            height,
            title: title.to_owned(),
            description: description.to_owned(),
            id: slug(title),
            body: String::new(),
            texts: Vec::new(),
        }
    }

    pub(crate) fn line(&mut self, from: (f64, f64), to: (f64, f64), width: f64) {
        self.stroke(
            from,
            to,
            &format!("stroke=\"#222\" stroke-width=\"{width}\""),
        );
    }

    /// A line that only leads the eye.
    pub(crate) fn pale_line(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.stroke(from, to, "stroke=\"#888\"");
    }

    /// Level lines from one x to another at a height, in one stroke.
    pub(crate) fn pale_ticks(&mut self, ticks: impl IntoIterator<Item = (f64, f64, f64)>) {
        let mut path = String::new();
        for (from, to, y) in ticks {
            let _ = write!(path, "M{from:.1} {y:.1}H{to:.1}");
        }
        let _ = writeln!(
            self.body,
            "<path d=\"{path}\" stroke=\"#888\" stroke-width=\"1.6\"/>"
        );
    }

    pub(crate) fn dashes(&mut self, from: (f64, f64), to: (f64, f64)) {
        self.stroke(from, to, "stroke=\"#222\" stroke-dasharray=\"5 4\"");
    }

    fn stroke(&mut self, from: (f64, f64), to: (f64, f64), look: &str) {
        let ((x1, y1), (x2, y2)) = (from, to);
        let _ = writeln!(
            self.body,
            "<line x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\" {look}/>"
        );
    }

    /// A filled area without an outline.
    pub(crate) fn area(&mut self, points: &[(f64, f64)], fill: Fill) {
        let _ = writeln!(
            self.body,
            "<polygon points=\"{}\" fill=\"{}\"/>",
            list(points),
            fill.paint(&self.id)
        );
    }

    /// A rectangle with an outline, so that it shows in any print; nothing where it has no width.
    pub(crate) fn bar(&mut self, (left, top): (f64, f64), (right, bottom): (f64, f64), fill: Fill) {
        let (width, height) = (right - left, bottom - top);
        if width <= 0.0 || height <= 0.0 {
            return;
        }
        let _ = writeln!(
            self.body,
            "<rect x=\"{left:.1}\" y=\"{top:.1}\" width=\"{width:.1}\" height=\"{height:.1}\" fill=\"{}\" \
             stroke=\"#222\" stroke-width=\"0.8\"/>",
            fill.paint(&self.id)
        );
    }

    pub(crate) fn curve(&mut self, points: &[(f64, f64)]) {
        self.polyline(points, "stroke-width=\"1.8\"");
    }

    pub(crate) fn thin_curve(&mut self, points: &[(f64, f64)]) {
        self.polyline(points, "stroke-width=\"0.9\"");
    }

    pub(crate) fn dashed_curve(&mut self, points: &[(f64, f64)]) {
        self.polyline(points, "stroke-width=\"1.4\" stroke-dasharray=\"5 3\"");
    }

    fn polyline(&mut self, points: &[(f64, f64)], look: &str) {
        let _ = writeln!(
            self.body,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#222\" {look}/>",
            list(points)
        );
    }

    pub(crate) fn dot(&mut self, at: (f64, f64)) {
        self.dots(&[at], 9.0);
    }

    /// Round dots, so wide, in one stroke.
    pub(crate) fn dots(&mut self, points: &[(f64, f64)], width: f64) {
        let mut path = String::new();
        for (x, y) in points {
            let _ = write!(path, "M{x:.1} {y:.1}h0");
        }
        let _ = writeln!(
            self.body,
            "<path d=\"{path}\" stroke=\"#222\" stroke-width=\"{width}\" stroke-linecap=\"round\"/>"
        );
    }

    pub(crate) fn ring(&mut self, at: (f64, f64)) {
        let _ = writeln!(
            self.body,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"7\" fill=\"none\" stroke=\"#222\" stroke-width=\"1.4\"/>",
            at.0, at.1
        );
    }

    /// A text whose baseline is at `at`.
    pub(crate) fn text(&mut self, at: (f64, f64), anchor: Anchor, size: f64, text: &str) {
        self.texts.push(text_box(at, anchor, size, text));
        let name = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let _ = writeln!(
            self.body,
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"{name}\" font-size=\"{size}\">{}</text>",
            at.0,
            at.1,
            escaped(text)
        );
    }

    /// A text at the first of these heights where it meets no other text.
    pub(crate) fn text_where_free(
        &mut self,
        x: f64,
        heights: &[f64],
        anchor: Anchor,
        size: f64,
        text: &str,
    ) {
        let is_free = |y: &&f64| {
            let wanted = text_box((x, **y), anchor, size, text);
            !self.texts.iter().any(|other| other.overlaps(&wanted))
        };
        let y = heights.iter().find(is_free).or(heights.last());
        if let Some(y) = y {
            self.text((x, *y), anchor, size, text);
        }
    }

    /// A text that is left out where it would meet another.
    pub(crate) fn text_if_free(&mut self, at: (f64, f64), anchor: Anchor, size: f64, text: &str) {
        let wanted = text_box(at, anchor, size, text);
        if !self.texts.iter().any(|other| other.overlaps(&wanted)) {
            self.text(at, anchor, size, text);
        }
    }

    /// Where the lowest text ends.
    pub(crate) fn lowest(&self) -> f64 {
        self.texts
            .iter()
            .fold(0.0, |low, text| low.max(text.bottom))
    }

    /// The boxes of all texts, for the tests.
    #[cfg(test)]
    pub(crate) fn texts(&self) -> &[TextBox] {
        &self.texts
    }

    #[cfg(test)]
    pub(crate) fn size(&self) -> (f64, f64) {
        (self.width, self.height)
    }

    /// The document.
    pub(crate) fn finish(&self) -> String {
        let Self {
            width,
            height,
            title,
            description,
            id,
            body,
            ..
        } = self;
        let (title, description) = (escaped(title), escaped(description));
        let mut patterns = String::new();
        for (fill, path) in [
            (Fill::Rising, "M0 8L8 0M-2 2L2 -2M6 10L10 6"),
            (Fill::Falling, "M0 0L8 8M-2 6L2 10M6 -2L10 2"),
        ] {
            if body.contains(&fill.paint(id)) {
                patterns.push_str(&pattern(fill.name(), id, path));
            }
        }
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" role=\"img\" \
             aria-labelledby=\"title-{id}\" aria-describedby=\"words-{id}\" \
             font-family=\"Helvetica, Arial, 'DejaVu Sans', sans-serif\">\n\
             <title id=\"title-{id}\">{title}</title>\n<desc id=\"words-{id}\">{description}</desc>\n\
             {patterns}<rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n{body}</svg>\n",
        )
    }
}

impl Fill {
    fn paint(self, id: &str) -> String {
        match self {
            Self::Light => "#cfe3ee".to_owned(),
            Self::Dark => "#4a6a7c".to_owned(),
            Self::Rising | Self::Falling => format!("url(#{}-{id})", self.name()),
        }
    }

    fn name(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Rising => "rising",
            Self::Falling => "falling",
            Self::Dark => "dark",
        }
    }
}

fn pattern(name: &str, id: &str, path: &str) -> String {
    format!(
        "<defs><pattern id=\"{name}-{id}\" width=\"8\" height=\"8\" patternUnits=\"userSpaceOnUse\">\
         <path d=\"{path}\" stroke=\"#222\" stroke-width=\"1.4\"/></pattern></defs>\n"
    )
}

/// A title as the name of something in a page: letters and digits in small, the rest hyphens.
fn slug(title: &str) -> String {
    let letter = |c: char| match c.to_ascii_lowercase() {
        c if c.is_ascii_alphanumeric() => c,
        _ => '-',
    };
    title.chars().map(letter).collect()
}

fn list(points: &[(f64, f64)]) -> String {
    let mut text = String::new();
    for (x, y) in points {
        let _ = write!(text, "{x:.1},{y:.1} ");
    }
    text.truncate(text.trim_end().len());
    text
}

/// What a text takes in the widest of the fonts that are asked for (`DejaVu` Sans, by its own metrics,
/// rounded up to classes of letters).
pub(crate) fn text_box(at: (f64, f64), anchor: Anchor, size: f64, text: &str) -> TextBox {
    let width = size * text.chars().map(em).sum::<f64>();
    let left = match anchor {
        Anchor::Start => at.0,
        Anchor::Middle => at.0 - width / 2.0,
        Anchor::End => at.0 - width,
    };
    TextBox {
        left,
        top: at.1 - 0.8 * size,
        right: left + width,
        bottom: at.1 + 0.25 * size,
    }
}

/// The text, or as much of its beginning as there is room for, with a sign that it was cut.
pub(crate) fn fitted(text: &str, size: f64, room: f64) -> String {
    let width = |text: &str| size * text.chars().map(em).sum::<f64>();
    if width(text) <= room {
        return text.to_owned();
    }
    let mut short = text.to_owned();
    while !short.is_empty() && width(&short) + size * em('…') > room {
        short.pop();
    }
    format!("{}…", short.trim_end())
}

fn em(c: char) -> f64 {
    match c {
        ' ' | '.' | ',' | ':' | ';' | '\'' | '|' | 'i' | 'j' | 'l' => 0.33,
        'f' | 'r' | 't' | '(' | ')' | '-' | '/' => 0.42,
        'm' | 'w' | 'M' | 'W' | '%' | '…' => 1.0,
        '+' | '−' | '±' | '→' | '←' | '≈' => 0.84,
        c if c.is_uppercase() => 0.78,
        _ => 0.65,
    }
}

/// Text as it may stand between tags and in quotation marks.
pub(crate) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            // XML has no place for these.
            c if c.is_control() => safe.push(' '),
            c => safe.push(c),
        }
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_with_any_letters_stay_text() {
        let mut picture = Picture::new(100.0, 50.0, "a < b", "\"x\" & y");
        picture.text((1.0, 20.0), Anchor::Start, SMALL, "</text><script>\u{0}");
        let svg = picture.finish();
        assert!(!svg.contains("<script>") && svg.contains("&lt;/text&gt;&lt;script&gt; "));
        assert!(svg.contains(">a &lt; b</title>") && svg.contains("&quot;x&quot; &amp; y"));
    }

    #[test]
    fn a_text_without_room_is_cut_with_a_sign() {
        assert_eq!(fitted("kerf", SMALL, 60.0), "kerf");
        let cut = fitted(&"x".repeat(40), SMALL, 60.0);
        // 13 · 0.65 for each letter and 13 for the sign: five letters.
        assert_eq!(cut, "xxxxx…");
        assert_eq!(fitted("kerf", SMALL, 1.0), "…");
    }

    #[test]
    fn a_text_moves_to_where_it_is_free() {
        let mut picture = Picture::new(100.0, 80.0, "", "");
        picture.text((50.0, 20.0), Anchor::Middle, SMALL, "one");
        picture.text_where_free(52.0, &[20.0, 40.0], Anchor::Middle, SMALL, "two");
        let [one, two] = picture.texts() else {
            panic!("two texts");
        };
        assert!(!one.overlaps(two) && two.top > one.bottom);
    }
}
