/// What is wrong with an expression, a band or a stack.
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
    #[error("{message} (at character {position})")]
    Text {
        /// Character position, from 0.
        position: usize,
        /// What is wrong and how to mend it.
        message: String,
    },
    /// A band.
    #[error("{0}")]
    Band(String),
}

impl Error {
    /// The kind, to match on.
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }
}

impl From<ErrorKind> for Error {
    #[cold]
    fn from(kind: ErrorKind) -> Self {
        Self(Box::new(kind))
    }
}

impl std::fmt::Display for Error {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {}
