use std::fmt;

/// What is wrong with readings, groups of readings or a parameter.
///
/// One word wide; the message is its `Display`, the rest is found through [`Error::kind`].
///
/// ```
/// use kerfwise_gauge::{ErrorKind, Summary};
///
/// let error = Summary::new(&[0.3751, f64::NAN]).unwrap_err();
/// assert_eq!(error.to_string(), "reading 2 must be a finite number (got NaN)");
/// assert!(matches!(error.kind(), ErrorKind::Readings { .. }));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Error(Box<ErrorKind>);

/// The kinds of error.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ErrorKind {
    /// Readings cannot be evaluated: too few, not finite, too large.
    #[error("{what}")]
    Readings {
        /// The whole message.
        what: String,
    },
    /// A parameter is outside of its domain.
    #[error("{what}")]
    Parameter {
        /// The whole message.
        what: String,
    },
    /// What was found makes no source.
    #[error("{0}")]
    Source(kerfwise_source::Error),
}

impl Error {
    /// The kind, to match on.
    #[must_use]
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }

    #[cold]
    pub(crate) fn readings(what: impl Into<String>) -> Self {
        let what = what.into();
        Self(Box::new(ErrorKind::Readings { what }))
    }

    #[cold]
    pub(crate) fn source(error: kerfwise_source::Error) -> Self {
        Self(Box::new(ErrorKind::Source(error)))
    }

    #[cold]
    pub(crate) fn parameter(what: impl Into<String>) -> Self {
        let what = what.into();
        Self(Box::new(ErrorKind::Parameter { what }))
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {}
