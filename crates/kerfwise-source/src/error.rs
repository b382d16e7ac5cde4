/// What is wrong with a source, a distribution or a text.
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
}
impl Error {
    /// The kind, to match on.
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }
}
impl From<ErrorKind> for Error {
    #[cold]
    fn from(k: ErrorKind) -> Self {
        Self(Box::new(k))
    }
}
impl std::fmt::Display for Error {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}
impl std::error::Error for Error {}
