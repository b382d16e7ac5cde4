/// The ways in which a stack is propagated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Propagation {
    /// Guaranteed extremes.
    WorstCase,
    /// Law of propagation of uncertainty (JCGM 100).
    RootSumOfSquares,
    /// The whole distribution without sampling.
    Exact,
    /// The whole distribution, with quadrature over one or two sources that the outcome is not affine in.
    SemiExact,
    /// JCGM 101.
    MonteCarlo,
    /// Monte Carlo with even points, what is only added integrated out.
    QuasiMonteCarlo,
}

impl std::fmt::Display for Propagation {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::WorstCase => "worst case",
            Self::RootSumOfSquares => "root sum of squares",
            Self::Exact => "exact",
            Self::SemiExact => "semi-exact",
            Self::MonteCarlo => "Monte Carlo",
            Self::QuasiMonteCarlo => "quasi-Monte Carlo",
        })
    }
}

/// A propagation cannot answer for this stack, with all its reasons. Not a fault of the input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decline {
    propagation: Propagation,
    reasons: Vec<String>,
}

impl Decline {
    pub(crate) fn new(propagation: Propagation, reasons: Vec<String>) -> Self {
        Self {
            propagation,
            reasons,
        }
    }
    /// Which propagation declines.
    pub fn propagation(&self) -> Propagation {
        self.propagation
    }
    /// Why, each reason a sentence without a full stop.
    pub fn reasons(&self) -> &[String] {
        &self.reasons
    }
}

impl std::fmt::Display for Decline {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{} declines: {}",
            self.propagation,
            self.reasons.join("; ")
        )
    }
}

impl std::error::Error for Decline {}
