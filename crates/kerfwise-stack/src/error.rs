use std::fmt;

/// What is wrong with an expression, a band or a stack.
///
/// One word wide; the message is its `Display`, the rest is found through [`Error::kind`].
#[derive(Debug, Clone, PartialEq)]
pub struct Error(Box<ErrorKind>);

/// The kinds of error.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ErrorKind {
    /// All faults of a stack, found together.
    #[error("{}", .0.join("; "))]
    Stack(Vec<String>),
    /// The text of an expression.
    #[error("{:?}, column {}: {message}", shown(text, *position), position + 1)]
    Text {
        /// The text.
        text: String,
        /// Where in the text, in characters, from 0.
        position: usize,
        /// What is wrong and how to mend it.
        message: String,
    },
    /// A band.
    #[error("{0}")]
    Band(String),
    /// The values that an outcome was to be evaluated at; all faults together.
    #[error("{}", .0.join("; "))]
    Values(Vec<String>),
}

impl Error {
    /// The kind, to match on.
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }

    /// Where in the text that was read, in characters from 0; `None` when no text was involved.
    ///
    /// ```
    /// use kerfwise_stack::Expr;
    /// let error = Expr::parse("travel - kerf", &[]).unwrap_err();
    /// assert_eq!(error.position(), Some(0));
    /// ```
    pub fn position(&self) -> Option<usize> {
        match self.kind() {
            ErrorKind::Text { position, .. } => Some(*position),
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

/// A text of any length may come in; a message stays readable: what stands around the place, which need not be near the
/// start.
fn shown(text: &str, position: usize) -> String {
    const LONGEST: usize = 60;
    const BEFORE: usize = 40;
    let length = text.chars().count();
    if length <= LONGEST {
        return text.to_owned();
    }
    let start = position.saturating_sub(BEFORE).min(length - LONGEST);
    let part: String = text.chars().skip(start).take(LONGEST).collect();
    let before = if start > 0 { "…" } else { "" };
    let after = if start + LONGEST < length { "…" } else { "" };
    format!("{before}{part}{after}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_a_long_text_the_place_is_shown() {
        let message = |position| {
            let text = format!("{}here{}", "µ".repeat(100), "x".repeat(100));
            let message = "is wrong".to_owned();
            Error::from(ErrorKind::Text {
                text,
                position,
                message,
            })
            .to_string()
        };
        let (many, few) = ("µ".repeat(40), "x".repeat(16));
        assert_eq!(
            message(100),
            format!("\"…{many}here{few}…\", column 101: is wrong")
        );
        assert_eq!(
            message(0),
            format!("\"{}…\", column 1: is wrong", "µ".repeat(60))
        );
        assert_eq!(
            message(204),
            format!("\"…{}\", column 205: is wrong", "x".repeat(60))
        );
    }

    #[test]
    fn an_error_is_one_word_wide() {
        assert_eq!(size_of::<Error>(), size_of::<usize>());
    }
}
