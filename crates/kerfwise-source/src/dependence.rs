use crate::source::NAME_RULE;
use crate::{Error, ErrorKind, Source};
use nalgebra::{DMatrix, SymmetricEigen};
use std::collections::BTreeSet;

/// Correlations that are consistent up to rounding may have an eigenvalue this far below 0.
const EIGENVALUE_TOLERANCE: f64 = 1e-10;

/// The matrix is dense, and to name the culprits it is checked many times over; this keeps that
/// within seconds.
const MOST_NAMES: usize = 200;

/// A correlation matrix over named sources, checked for being positive semidefinite.
///
/// It says how errors go together where no shared source explains it; a shared cause is better
/// written as a shared source. Exactly singular matrices (a coefficient of 1 or −1) are accepted.
///
/// ```
/// use kerfwise_source::CorrelationMatrix;
///
/// let matrix = CorrelationMatrix::from_pairs(&[("mortise", "tenon", 0.5)])?;
/// assert_eq!(matrix.between("tenon", "mortise"), 0.5);
/// assert_eq!(matrix.between("tenon", "kerf"), 0.0);
///
/// let error = CorrelationMatrix::from_pairs(&[("a", "b", 0.9), ("b", "c", 0.9), ("a", "c", -0.9)]);
/// assert_eq!(
///     error.unwrap_err().to_string(),
///     r#"the correlations among "a", "b" and "c" contradict each other (smallest eigenvalue -0.8): weaken one of them"#
/// );
/// # Ok::<(), kerfwise_source::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct CorrelationMatrix {
    names: Vec<String>,
    entries: Vec<f64>,
}

impl CorrelationMatrix {
    /// From pairs (name, name, coefficient); unnamed pairs are uncorrelated.
    ///
    /// Names stand in the order of their first appearance. A pair may be given twice with the same
    /// coefficient.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Correlation`] with all faults: names that no source can have, coefficients that
    /// are not between −1 and 1, a name with itself (other than 1), a pair given twice with
    /// different coefficients. Where there are none of these, with the smallest groups of names
    /// found whose coefficients contradict each other: no errors could go together like that,
    /// because the matrix has an eigenvalue below −10⁻¹⁰.
    pub fn from_pairs(pairs: &[(&str, &str, f64)]) -> Result<Self, Error> {
        let names = distinct_names(pairs);
        let mut faults: Vec<String> = names
            .iter()
            .filter(|name| !Source::is_name(name))
            .map(|name| format!("{name:?} cannot be the name of a source: {NAME_RULE}"))
            .collect();
        if names.len() > MOST_NAMES {
            let count = names.len();
            faults.push(format!(
                "at most {MOST_NAMES} names can be correlated (got {count})"
            ));
            return Err(ErrorKind::Correlation { faults }.into());
        }
        let matrix = Self::filled(names, pairs, &mut faults);
        if faults.is_empty() {
            faults = matrix.contradictions();
        }
        if faults.is_empty() {
            Ok(matrix)
        } else {
            Err(ErrorKind::Correlation { faults }.into())
        }
    }

    /// The names, in the order of rows.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The coefficient between two names; 0 if either is not in the matrix, 1 on the diagonal
    /// (also of a name that is not in the matrix).
    #[must_use]
    pub fn between(&self, a: &str, b: &str) -> f64 {
        if a == b {
            return 1.0;
        }
        match (self.index(a), self.index(b)) {
            (Some(i), Some(j)) => self.at(i, j),
            _ => 0.0,
        }
    }

    /// Groups of names that are linked to each other, in the order of rows.
    ///
    /// ```
    /// use kerfwise_source::CorrelationMatrix;
    ///
    /// let matrix = CorrelationMatrix::from_pairs(&[
    ///     ("a", "b", 0.5),
    ///     ("c", "d", 0.5),
    ///     ("b", "e", -0.1),
    /// ])?;
    /// assert_eq!(matrix.groups(), [vec!["a", "b", "e"], vec!["c", "d"]]);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn groups(&self) -> Vec<Vec<String>> {
        self.linked()
            .iter()
            .map(|group| group.iter().map(|i| self.names[*i].clone()).collect())
            .collect()
    }

    /// A square root L of the correlations among these names, L·Lᵀ = R, for drawing jointly normal
    /// errors: `factor[i][j]` is the weight of the standard normal variable of `names[j]` in the
    /// error of `names[i]`.
    ///
    /// By Cholesky's method with the largest pivot first, which also takes singular matrices: a
    /// name whose error follows from the others has a column of zeros. Equal pivots are taken in
    /// the order of the names' letters, so another order of `names` permutes the factor and changes
    /// no bit of it. L is not triangular in the order of `names`. L·Lᵀ is R to some 10⁻¹⁰.
    /// A name that is not in the matrix, or linked to none of the others, has 1 on the diagonal.
    ///
    /// ```
    /// use kerfwise_source::CorrelationMatrix;
    ///
    /// let matrix = CorrelationMatrix::from_pairs(&[("a", "b", 0.6)])?;
    /// assert_eq!(matrix.factor(&["a", "b", "kerf"]), [
    ///     [1.0, 0.0, 0.0],
    ///     [0.6, 0.8, 0.0],
    ///     [0.0, 0.0, 1.0],
    /// ]);
    /// # Ok::<(), kerfwise_source::Error>(())
    /// ```
    #[must_use]
    pub fn factor(&self, names: &[&str]) -> Vec<Vec<f64>> {
        let n = names.len();
        // What is left of R after the columns found so far; both triangles, for plain indexing.
        let mut left: Vec<Vec<f64>> = names
            .iter()
            .map(|a| names.iter().map(|b| self.between(a, b)).collect())
            .collect();
        let mut factor = vec![vec![0.0; n]; n];
        let mut open: Vec<usize> = (0..n).collect();
        open.sort_by_key(|i| names[*i]);
        while let Some(place) = largest(&open, |i| left[i][i]) {
            let pivot = open.remove(place);
            let variance = left[pivot][pivot];
            // The rest is rounding, or was below 0 within the tolerance: nothing of its own is left.
            if variance <= EIGENVALUE_TOLERANCE {
                break;
            }
            let deviation = variance.sqrt();
            factor[pivot][pivot] = deviation;
            for &i in &open {
                factor[i][pivot] = left[i][pivot] / deviation;
            }
            for &i in &open {
                for &j in &open {
                    left[i][j] -= factor[i][pivot] * factor[j][pivot];
                }
            }
        }
        factor
    }

    fn filled(names: Vec<String>, pairs: &[(&str, &str, f64)], faults: &mut Vec<String>) -> Self {
        let n = names.len();
        let mut matrix = Self {
            entries: vec![0.0; n * n],
            names,
        };
        let mut is_given = vec![false; n * n];
        for i in 0..n {
            matrix.entries[i * n + i] = 1.0;
            is_given[i * n + i] = true;
        }
        for &(a, b, r) in pairs {
            if !(-1.0..=1.0).contains(&r) {
                faults.push(format!(
                    "the correlation of {a:?} and {b:?} must be from -1 to 1 (got {r})"
                ));
                continue;
            }
            let (Some(i), Some(j)) = (matrix.index(a), matrix.index(b)) else {
                continue;
            };
            let before = matrix.at(i, j);
            if is_given[i * n + j] && (before - r).abs() > 0.0 {
                faults.push(if i == j {
                    format!("the correlation of {a:?} with itself is 1 (got {r}): leave it out")
                } else {
                    format!(
                        "the correlation of {a:?} and {b:?} is given twice, as {before} and {r}: keep one"
                    )
                });
                continue;
            }
            for at in [i * n + j, j * n + i] {
                matrix.entries[at] = r;
                is_given[at] = true;
            }
        }
        matrix
    }

    fn index(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|known| known == name)
    }

    fn at(&self, i: usize, j: usize) -> f64 {
        self.entries[i * self.names.len() + j]
    }

    /// Connected components, as indices in ascending order.
    fn linked(&self) -> Vec<Vec<usize>> {
        let mut open: Vec<usize> = (0..self.names.len()).collect();
        let mut groups = Vec::new();
        while !open.is_empty() {
            let mut group = vec![open.remove(0)];
            let mut next = 0;
            while next < group.len() {
                let from = group[next];
                let (found, rest) = open.iter().partition(|to| self.at(from, **to).abs() > 0.0);
                open = rest;
                group.extend::<Vec<usize>>(found);
                next += 1;
            }
            group.sort_unstable();
            groups.push(group);
        }
        groups
    }

    /// One message for each group of linked names that contradict each other.
    fn contradictions(&self) -> Vec<String> {
        self.linked()
            .into_iter()
            .filter_map(|group| self.contradiction(group))
            .collect()
    }

    fn contradiction(&self, group: Vec<usize>) -> Option<String> {
        let Some((smallest, direction)) = self.smallest_eigenvalue(&group) else {
            return Some(format!(
                "the correlations among {} could not be checked, because their eigenvalues did not converge",
                self.list(&group)
            ));
        };
        if smallest >= -EIGENVALUE_TOLERANCE {
            return None;
        }
        let culprits = self
            .contradicting_triple(&group)
            .unwrap_or_else(|| self.shrunk(&group, &direction));
        let smallest = self
            .smallest_eigenvalue(&culprits)
            .map_or(smallest, |(value, _)| value);
        // Two digits show how badly they contradict.
        let smallest: f64 = format!("{smallest:.1e}").parse().unwrap_or(smallest);
        Some(format!(
            "the correlations among {} contradict each other (smallest eigenvalue {smallest}): weaken one of them",
            self.list(&culprits)
        ))
    }

    /// The first three names whose coefficients cannot be together. Pairs never contradict.
    fn contradicting_triple(&self, group: &[usize]) -> Option<Vec<usize>> {
        for (place_k, &k) in group.iter().enumerate() {
            for (place_j, &j) in group[..place_k].iter().enumerate() {
                for &i in &group[..place_j] {
                    let (a, b, c) = (self.at(i, j), self.at(j, k), self.at(i, k));
                    // As no pair contradicts, at most one of three eigenvalues is below 0, exactly
                    // where the determinant is. Rounding alone leaves it above -1e-14.
                    let determinant = 1.0 + 2.0 * a * b * c - a * a - b * b - c * c;
                    if determinant < -1e-14 && self.is_contradicting(&[i, j, k]) {
                        return Some(vec![i, j, k]);
                    }
                }
            }
        }
        None
    }

    /// The names most involved in the direction of the smallest eigenvalue, twice as many each time
    /// until they contradict, then one after the other left out as long as the rest still does.
    fn shrunk(&self, group: &[usize], direction: &[f64]) -> Vec<usize> {
        let mut by_part: Vec<usize> = (0..group.len()).collect();
        by_part.sort_by(|a, b| direction[*b].abs().total_cmp(&direction[*a].abs()));
        let by_part: Vec<usize> = by_part.into_iter().map(|place| group[place]).collect();
        let mut kept = std::iter::successors(Some(4), |size| Some(2 * size))
            .map(|size| &by_part[..group.len().min(size)])
            .find(|most| most.len() == group.len() || self.is_contradicting(most))
            .unwrap_or(group)
            .to_vec();
        for &name in kept.clone().iter().rev() {
            let without: Vec<usize> = kept.iter().copied().filter(|i| *i != name).collect();
            if self.is_contradicting(&without) {
                kept = without;
            }
        }
        kept.sort_unstable();
        kept
    }

    fn is_contradicting(&self, group: &[usize]) -> bool {
        self.smallest_eigenvalue(group)
            .is_some_and(|(value, _)| value < -EIGENVALUE_TOLERANCE)
    }

    /// The smallest eigenvalue among these names with its direction; `None` if the method, which is
    /// capped, did not converge.
    fn smallest_eigenvalue(&self, group: &[usize]) -> Option<(f64, Vec<f64>)> {
        let n = group.len();
        if n == 0 {
            return None;
        }
        let matrix = DMatrix::from_fn(n, n, |i, j| self.at(group[i], group[j]));
        let eigen = SymmetricEigen::try_new(matrix, f64::EPSILON, 100 * n.max(10))?;
        let (place, value) = eigen
            .eigenvalues
            .iter()
            .copied()
            .enumerate()
            .min_by(|(_, a), (_, b)| a.total_cmp(b))?;
        Some((
            value,
            eigen.eigenvectors.column(place).iter().copied().collect(),
        ))
    }

    /// "a", "b" and "c"; of very many the first ones.
    fn list(&self, group: &[usize]) -> String {
        const SHOWN: usize = 12;
        let quoted: Vec<String> = group
            .iter()
            .take(SHOWN)
            .map(|i| format!("{:?}", self.names[*i]))
            .collect();
        if group.len() > SHOWN {
            let more = group.len() - SHOWN;
            return format!("{} and {more} more", quoted.join(", "));
        }
        match quoted.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => quoted.concat(),
        }
    }
}

fn distinct_names(pairs: &[(&str, &str, f64)]) -> Vec<String> {
    let mut seen = BTreeSet::new();
    pairs
        .iter()
        .flat_map(|(a, b, _)| [*a, *b])
        .filter(|name| seen.insert(*name))
        .map(str::to_owned)
        .collect()
}

/// The place of the largest value, the first of equal ones.
fn largest(open: &[usize], value: impl Fn(usize) -> f64) -> Option<usize> {
    let mut best = None;
    for (place, &i) in open.iter().enumerate() {
        if best.is_none_or(|(_, most)| value(i) > most) {
            best = Some((place, value(i)));
        }
    }
    best.map(|(place, _)| place)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn message(pairs: &[(&str, &str, f64)]) -> String {
        CorrelationMatrix::from_pairs(pairs)
            .unwrap_err()
            .to_string()
    }

    #[test]
    fn coefficients_are_found_in_either_order() {
        let matrix =
            CorrelationMatrix::from_pairs(&[("a", "b", 0.5), ("b", "c", -0.25), ("b", "a", 0.5)])
                .unwrap();
        assert_eq!(matrix.names(), ["a", "b", "c"]);
        let rows = [
            ("b", "a", 0.5),
            ("c", "b", -0.25),
            ("a", "c", 0.0),
            ("a", "a", 1.0),
            ("a", "other", 0.0),
        ];
        for (a, b, r) in rows {
            assert!(
                (matrix.between(a, b) - r).abs() < f64::MIN_POSITIVE,
                "{a} {b}"
            );
        }
    }

    #[test]
    fn all_faults_are_named_at_once() {
        assert_eq!(
            message(&[
                ("a", "b", 1.5),
                ("a", "c", f64::NAN),
                ("c", "c", 0.5),
                ("b", "c", 0.1),
                ("c", "b", 0.2),
                ("two words", "a", 0.0),
            ]),
            "\"two words\" cannot be the name of a source: a name is letters (a to z), digits, _ and ., \
             starting with a letter, without spaces or -; \
             the correlation of \"a\" and \"b\" must be from -1 to 1 (got 1.5); \
             the correlation of \"a\" and \"c\" must be from -1 to 1 (got NaN); \
             the correlation of \"c\" with itself is 1 (got 0.5): leave it out; \
             the correlation of \"c\" and \"b\" is given twice, as 0.1 and 0.2: keep one"
        );
    }

    #[test]
    fn too_many_names_are_refused() {
        let names: Vec<String> = (0..=MOST_NAMES).map(|i| format!("n{i}")).collect();
        let pairs: Vec<(&str, &str, f64)> = names
            .windows(2)
            .map(|pair| (pair[0].as_str(), pair[1].as_str(), 0.0))
            .collect();
        assert_eq!(
            message(&pairs),
            "at most 200 names can be correlated (got 201)"
        );
    }

    #[test]
    fn a_contradicting_triple_is_named_without_the_bystanders() {
        // Eigenvalues of three ones with 0.9, 0.9, -0.9 are 1.9, 1.9 and -0.8, by hand.
        assert_eq!(
            message(&[
                ("x", "a", 0.3),
                ("a", "b", 0.9),
                ("b", "c", 0.9),
                ("a", "c", -0.9),
                ("c", "y", 0.1),
            ]),
            "the correlations among \"a\", \"b\" and \"c\" contradict each other \
             (smallest eigenvalue -0.8): weaken one of them"
        );
    }

    #[test]
    fn four_that_contradict_although_no_three_do_are_named() {
        // All six -0.4: three of them leave 1 - 2·0.4 = 0.2, four leave 1 - 3·0.4 = -0.2.
        let names = ["a", "b", "c", "d"];
        let mut pairs = vec![("d", "e", 0.1), ("e", "f", 0.1)];
        for (i, a) in names.iter().enumerate() {
            pairs.extend(names[..i].iter().map(|b| (*a, *b, -0.4)));
        }
        assert_eq!(
            message(&pairs),
            "the correlations among \"d\", \"b\", \"a\" and \"c\" contradict each other \
             (smallest eigenvalue -0.2): weaken one of them"
        );
    }

    #[test]
    fn every_group_that_contradicts_is_reported() {
        let triple = |a, b, c| [(a, b, 1.0), (b, c, 1.0), (a, c, -1.0)];
        let pairs = [triple("a", "b", "c"), triple("d", "e", "f")].concat();
        let message = message(&pairs);
        assert_eq!(
            message.matches("contradict each other").count(),
            2,
            "{message}"
        );
    }

    #[test]
    fn exactly_singular_matrices_are_accepted() {
        let pairs = [("a", "b", 1.0), ("b", "c", -1.0), ("a", "c", -1.0)];
        let matrix = CorrelationMatrix::from_pairs(&pairs).unwrap();
        assert_eq!(
            matrix.factor(&["c", "b", "a"]),
            [[0.0, 0.0, -1.0], [0.0, 0.0, 1.0], [0.0, 0.0, 1.0]]
        );
    }

    #[test]
    fn a_large_matrix_is_checked_within_its_cap() {
        // A chain of 200 with 0.5 between neighbours has its smallest eigenvalue above 0.
        let names: Vec<String> = (0..MOST_NAMES).map(|i| format!("n{i}")).collect();
        let mut pairs: Vec<(&str, &str, f64)> = names
            .windows(2)
            .map(|pair| (pair[0].as_str(), pair[1].as_str(), 0.5))
            .collect();
        assert!(CorrelationMatrix::from_pairs(&pairs).is_ok());
        // With 0.51 the whole chain has one below 0, 1 - 1.02·cos(π/201), but short pieces do not.
        for pair in &mut pairs {
            pair.2 = 0.51;
        }
        let message = message(&pairs);
        assert!(message.contains("contradict each other"), "{message}");
    }

    /// Correlations that are consistent by construction: those of up to six mixtures of `rank`
    /// independent variables, often singular.
    fn consistent() -> impl Strategy<Value = Vec<Vec<f64>>> {
        (1_usize..=4, 2_usize..=6).prop_flat_map(|(rank, count)| {
            let mixture = prop::collection::vec(0.1_f64..1.0, rank).prop_flat_map(move |sizes| {
                prop::collection::vec(prop::bool::ANY, rank).prop_map(move |signs| {
                    let signed = |(size, sign): (&f64, &bool)| if *sign { *size } else { -size };
                    sizes.iter().zip(&signs).map(signed).collect::<Vec<f64>>()
                })
            });
            prop::collection::vec(mixture, count)
        })
    }

    fn dot(a: &[f64], b: &[f64]) -> f64 {
        a.iter().zip(b).map(|(x, y)| x * y).sum()
    }

    fn from_mixtures(mixtures: &[Vec<f64>]) -> CorrelationMatrix {
        const NAMES: [&str; 6] = ["a", "b", "c", "d", "e", "f"];
        let mut pairs = Vec::new();
        for (i, x) in mixtures.iter().enumerate() {
            for (j, y) in mixtures[..i].iter().enumerate() {
                let r = dot(x, y) / (dot(x, x) * dot(y, y)).sqrt();
                pairs.push((NAMES[j], NAMES[i], r.clamp(-1.0, 1.0)));
            }
        }
        CorrelationMatrix::from_pairs(&pairs).unwrap()
    }

    proptest! {
        #[test]
        fn consistent_correlations_are_accepted_and_factored(mixtures in consistent()) {
            let matrix = from_mixtures(&mixtures);
            let names: Vec<&str> = matrix.names().iter().map(String::as_str).collect();
            let factor = matrix.factor(&names);
            for (a, row) in names.iter().zip(&factor) {
                for (b, other) in names.iter().zip(&factor) {
                    // Because pivots up to 1e-10 are left away, and a little more is lost of those beside it.
                    prop_assert!((dot(row, other) - matrix.between(a, b)).abs() < 1e-9);
                }
            }
        }

        #[test]
        fn another_order_of_the_names_permutes_the_factor_bit_for_bit(
            mixtures in consistent(),
            turn in 0_usize..6,
        ) {
            let matrix = from_mixtures(&mixtures);
            let names: Vec<&str> = matrix.names().iter().map(String::as_str).collect();
            let mut turned = names.clone();
            turned.rotate_left(turn % names.len());
            turned.swap(0, 1);
            let (one, other) = (matrix.factor(&names), matrix.factor(&turned));
            let place = |name: &str| names.iter().position(|known| *known == name).unwrap();
            for (i, a) in turned.iter().enumerate() {
                for (j, b) in turned.iter().enumerate() {
                    prop_assert_eq!(other[i][j].to_bits(), one[place(a)][place(b)].to_bits());
                }
            }
        }

        #[test]
        fn any_coefficients_are_accepted_or_refused_with_a_reason(
            r in prop::array::uniform6(-1.0_f64..=1.0),
        ) {
            let pairs = [
                ("a", "b", r[0]), ("a", "c", r[1]), ("a", "d", r[2]),
                ("b", "c", r[3]), ("b", "d", r[4]), ("c", "d", r[5]),
            ];
            if let Err(error) = CorrelationMatrix::from_pairs(&pairs) {
                prop_assert!(error.to_string().contains("smallest eigenvalue -"), "{}", error);
            }
        }
    }
}
