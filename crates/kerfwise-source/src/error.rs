use std::fmt;

/// What is wrong with a source, a distribution, a correlation or a text.
///
/// One word wide; the message is its `Display`, the rest is found through [`Error::kind`].
#[derive(Debug, Clone, PartialEq)]
pub struct Error(Box<ErrorKind>);

/// The kinds of error.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ErrorKind {
    /// A parameter is outside of its domain.
    #[error("{what}")]
    Parameter {
        /// The whole message.
        what: String,
    },
    /// A text is not a quantity.
    #[error("{:?}, column {}: {message}", shown(text), column(text, *offset))]
    Text {
        /// The text.
        text: String,
        /// Where in the text, in bytes from its start.
        offset: usize,
        /// What is wrong there, and the way out.
        message: String,
    },
    /// A text is a quantity, but not of the wanted dimension.
    #[error("{:?} {message}", shown(text))]
    Unit {
        /// The text.
        text: String,
        /// What is wanted.
        message: String,
    },
    /// A source has faults; all of them are here.
    #[error("source {name:?}: {}", join(faults))]
    Source {
        /// The name of the source.
        name: String,
        /// What is wrong, at least one.
        faults: Vec<SourceFault>,
    },
    /// Correlations have faults; all of them are here.
    #[error("{}", join(faults))]
    Correlation {
        /// What is wrong, at least one.
        faults: Vec<String>,
    },
    /// Readings cannot be evaluated.
    #[error("{what}")]
    Readings {
        /// The whole message.
        what: String,
    },
}

/// One thing that is wrong with a source.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct SourceFault {
    /// Which part of the source it is about, so that a file reader can point at it.
    pub part: SourcePart,
    /// What is wrong and the way out, without the name of the source.
    pub message: String,
}

impl fmt::Display for SourceFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

/// The part of a source that a fault is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum SourcePart {
    /// Its name.
    Name,
    /// Its estimate.
    Estimate,
    /// The distribution of its error.
    Error,
    /// Its limits.
    Limits,
    /// Its event.
    Event,
    /// Its degrees of freedom.
    DegreesOfFreedom,
}

impl Error {
    /// The kind, to match on.
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }

    /// Where in the text that was read, in bytes from its start; `None` when no text was involved.
    ///
    /// ```
    /// use kerfwise_source::Length;
    ///
    /// let error = "0.375 inn".parse::<Length>().unwrap_err();
    /// assert_eq!(error.position(), Some(6));
    /// ```
    pub fn position(&self) -> Option<usize> {
        match self.kind() {
            ErrorKind::Text { offset, .. } => Some(*offset),
            _ => None,
        }
    }
}

impl From<ErrorKind> for Error {
    #[cold]
    fn from(kind: ErrorKind) -> Self {
        Self(Box::new(kind))
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {}

/// Columns count characters from 1, as an editor does.
fn column(text: &str, offset: usize) -> usize {
    text.char_indices()
        .take_while(|(at, _)| *at < offset)
        .count()
        + 1
}

/// A text of any length may come in; a message stays readable.
fn shown(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut shown: String = text.chars().take(LONGEST).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}

fn join(faults: &[impl ToString]) -> String {
    let texts: Vec<String> = faults.iter().map(ToString::to_string).collect();
    texts.join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_text_is_shown_shortened_and_its_column_counts_characters() {
        let text = "µ".repeat(100);
        let error = Error::from(ErrorKind::Text {
            offset: 20,
            message: "here".to_owned(),
            text,
        });
        let shown = "µ".repeat(60);
        assert_eq!(error.to_string(), format!("\"{shown}…\", column 11: here"));
        assert_eq!(error.position(), Some(20));
    }

    #[test]
    fn an_error_is_one_word_wide() {
        assert_eq!(size_of::<Error>(), size_of::<usize>());
    }
}
