/// What is wrong with a joint.
#[derive(Debug, Clone, PartialEq)]
pub struct Error(Box<ErrorKind>);

/// The kinds of error.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ErrorKind {
    /// A clearance was given for a mortise that was measured at the wanted feel.
    #[error(
        "the mortise is measured at the wanted feel, so the clearance is already in the reading; \
         take away the clearance of {clearance}, or give the mortise's geometric width"
    )]
    ClearanceTwice {
        /// The clearance, as printed.
        clearance: String,
    },
    /// A geometric mortise width without a wanted clearance.
    #[error(
        "the mortise is given as a geometric width, so the wanted total clearance must be stated \
         (0 in is allowed); or measure the mortise at the wanted feel"
    )]
    ClearanceMissing,
    /// No row of the table of species has the name.
    #[error("{}", no_species(wanted, near))]
    NoSpecies {
        /// What was asked for.
        wanted: String,
        /// The rows that come near.
        near: Vec<&'static str>,
    },
    /// Several rows of the table of species have the words.
    #[error(
        "wood {wanted:?} may be any of {}; write out the one that you mean",
        quoted(rows)
    )]
    ManySpecies {
        /// What was asked for.
        wanted: String,
        /// The rows that have the words.
        rows: Vec<&'static str>,
    },
    /// A formula is not valid at these numbers.
    #[error("{0}")]
    OutOfRange(String),
    /// A number of a recipe is outside its domain.
    #[error("{0}")]
    Recipe(String),
    /// A source that a recipe makes is refused.
    #[error(transparent)]
    Source(kerfwise_source::Error),
    /// The stack is refused.
    #[error(transparent)]
    Stack(kerfwise_stack::Error),
}

fn no_species(wanted: &str, near: &[&str]) -> String {
    if near.is_empty() {
        format!("there is no wood {wanted:?} in the table; give the coefficient as a source")
    } else {
        format!(
            "there is no wood {wanted:?} in the table; near are {}; or give the coefficient as a source",
            quoted(near)
        )
    }
}

fn quoted(names: &[&str]) -> String {
    let names: Vec<String> = names.iter().map(|name| format!("{name:?}")).collect();
    names.join(", ")
}

impl Error {
    /// The kind, to match on.
    #[must_use]
    pub fn kind(&self) -> &ErrorKind {
        &self.0
    }

    #[cold]
    pub(crate) fn recipe(message: impl Into<String>) -> Self {
        ErrorKind::Recipe(message.into()).into()
    }

    #[cold]
    pub(crate) fn source(error: kerfwise_source::Error) -> Self {
        ErrorKind::Source(error).into()
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
