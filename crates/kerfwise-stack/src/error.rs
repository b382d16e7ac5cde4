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
    #[error("{:?}, column {}: {message}", shown(text), position + 1)]
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

/// A text of any length may come in; a message stays readable.
fn shown(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut shown: String = text.chars().take(LONGEST).collect();
    if shown.len() < text.len() {
        shown.push('…');
    }
    shown
}
