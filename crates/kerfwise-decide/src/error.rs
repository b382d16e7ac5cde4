use kerfwise_stack::Decline;
use std::fmt;

/// Why there is no advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Error(Box<ErrorKind>);

/// What is wrong.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ErrorKind {
    /// A number of the question that makes no sense; says which, and the bound.
    #[error("{0}")]
    Question(String),
    /// What was observed cannot be, or hardly: far from anything that the stack expects, or contradicting itself.
    #[error("{0}")]
    Observation(String),
    /// The stack is refused.
    #[error("{0}")]
    Stack(kerfwise_stack::Error),
    /// The stack has no exact answer of the kind that is needed.
    #[error("{0}")]
    Declined(Decline),
    /// The question has no exact answer, though one by sampling; says why.
    #[error("{0}")]
    Sampled(String),
}

impl Error {
    /// What is wrong.
    #[must_use]
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }

    #[cold]
    pub(crate) fn question(message: impl Into<String>) -> Self {
        ErrorKind::Question(message.into()).into()
    }

    #[cold]
    pub(crate) fn sampled(message: impl Into<String>) -> Self {
        ErrorKind::Sampled(message.into()).into()
    }

    #[cold]
    pub(crate) fn observation(message: impl Into<String>) -> Self {
        ErrorKind::Observation(message.into()).into()
    }
}

impl From<ErrorKind> for Error {
    fn from(kind: ErrorKind) -> Self {
        Self(Box::new(kind))
    }
}

impl From<Decline> for Error {
    fn from(decline: Decline) -> Self {
        ErrorKind::Declined(decline).into()
    }
}

impl From<kerfwise_stack::Error> for Error {
    fn from(error: kerfwise_stack::Error) -> Self {
        ErrorKind::Stack(error).into()
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {}
