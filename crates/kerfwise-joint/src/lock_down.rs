use kerfwise_source::Source;

/// What locking the jig does to the travel: it is pulled aside by a few thou.
///
/// The dial shows the shift if it is read after locking. Read before, the whole shift goes into the
/// tenon.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub enum LockDown {
    /// The dial is read before the jig is locked: the shift counts in full.
    ReadBefore {
        /// How far locking pulls the jig.
        shift: Source,
    },
    /// The dial is read after the jig is locked: only what the dial does not see counts.
    ReadAfter {
        /// What is left: spring in jig and stand, the jig settling under the work.
        residual: Source,
    },
}

impl LockDown {
    pub(crate) fn source(&self) -> &Source {
        match self {
            Self::ReadBefore { shift } => shift,
            Self::ReadAfter { residual } => residual,
        }
    }
}
