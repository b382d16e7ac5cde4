use crate::run::affine::Affine;
use crate::tape::Tape;
use kerfwise_source::{CorrelationMatrix, Distribution, Source};

/// One independent input of the flat problem: a source and the instance of its event.
#[derive(Debug, Clone)]
pub(crate) struct Variable {
    /// The source.
    pub(crate) source: Source,
    /// The instance (0 unless an expression redraws an event).
    pub(crate) instance: u32,
    /// Unique name: the source's, with "#instance" behind it where that is not 0. Keys the random stream.
    pub(crate) name: String,
}

impl Variable {
    /// The value of a variable that has no spread.
    pub(crate) fn known_value(&self) -> Option<f64> {
        match self.source.error() {
            Distribution::Point(point) => Some(self.source.estimate().raw() + point.value()),
            _ => None,
        }
    }
}

/// A stack flattened: what every propagation reads. Variables are sorted by name, so the order in a plan does not matter.
#[derive(Debug, Clone)]
pub(crate) struct Problem {
    /// The inputs.
    pub(crate) variables: Vec<Variable>,
    /// One output per outcome, in order. Its inputs are the VALUES (estimate + error) of the variables.
    pub(crate) tape: Tape,
    /// Per outcome: affine in its inputs, or the inputs in which it is not.
    pub(crate) affine: Vec<Result<Affine, Vec<usize>>>,
    /// Correlations by source name (instances of one source are independent; a pair is correlated within one instance).
    pub(crate) correlation: Option<CorrelationMatrix>,
}

impl Problem {
    /// Correlation coefficient of two variables.
    pub(crate) fn correlation(&self, i: usize, j: usize) -> f64 {
        if i == j {
            return 1.0;
        }
        let (a, b) = (&self.variables[i], &self.variables[j]);
        match &self.correlation {
            Some(matrix) if a.instance == b.instance => {
                matrix.between(a.source.name(), b.source.name())
            }
            _ => 0.0,
        }
    }

    /// Linked groups of variables (indices, ascending), each at least two.
    pub(crate) fn correlated_groups(&self) -> Vec<Vec<usize>> {
        let Some(matrix) = &self.correlation else {
            return Vec::new();
        };
        let mut named: Vec<usize> = (0..self.variables.len())
            .filter(|&i| {
                let name = self.variables[i].source.name();
                matrix.names().iter().any(|known| known == name)
            })
            .collect();
        let mut groups = Vec::new();
        while !named.is_empty() {
            let mut group = vec![named.remove(0)];
            let mut next = 0;
            while next < group.len() {
                let i = group[next];
                let (linked, others) = named
                    .into_iter()
                    .partition(|&j| self.correlation(i, j) != 0.0);
                let linked: Vec<usize> = linked;
                group.extend(linked);
                named = others;
                next += 1;
            }
            group.sort_unstable();
            if group.len() > 1 {
                groups.push(group);
            }
        }
        groups
    }
}
