use crate::Error;
/// A correlation matrix over named sources, checked for being positive semidefinite.
#[derive(Debug, Clone, PartialEq)]
pub struct CorrelationMatrix {
    names: Vec<String>,
    entries: Vec<f64>,
}
#[allow(unused_variables, reason = "skeleton")]
impl CorrelationMatrix {
    /// From pairs (name, name, coefficient); unnamed pairs are uncorrelated.
    pub fn from_pairs(pairs: &[(&str, &str, f64)]) -> Result<Self, Error> {
        todo!()
    }
    /// The names, in the order of rows.
    pub fn names(&self) -> &[String] {
        &self.names
    }
    /// The coefficient between two names; 0 if either is not in the matrix, 1 on the diagonal.
    pub fn between(&self, a: &str, b: &str) -> f64 {
        todo!()
    }
    /// Groups of names that are linked to each other.
    pub fn groups(&self) -> Vec<Vec<String>> {
        todo!()
    }
}
