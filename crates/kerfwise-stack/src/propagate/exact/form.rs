//! The affine form of an outcome as independent parts: what every route starts from.

use super::part::Part;
use crate::Outcome;
use crate::problem::Problem;
use kerfwise_source::{Distribution, Event, Source};

/// A term of the form.
#[derive(Debug, Clone, Copy)]
pub(super) struct Term<'a> {
    pub(super) coefficient: f64,
    /// Estimate that the error is counted from.
    pub(super) estimate: f64,
    pub(super) error: &'a Distribution,
    /// Whether it belongs to the second of the two sums that the form is split into.
    pub(super) is_second: bool,
}

impl<'a> Term<'a> {
    /// A source in the first sum.
    pub(super) fn of(source: &'a Source, coefficient: f64) -> Self {
        Self {
            coefficient,
            estimate: source.estimate().raw(),
            error: source.error(),
            is_second: false,
        }
    }
}

/// Sources that a matrix links.
#[derive(Debug, Clone)]
pub(super) struct Group {
    /// Indices of terms.
    pub(super) members: Vec<usize>,
    /// Their correlation coefficients, row by row.
    pub(super) coefficients: Vec<f64>,
}

/// constant + Σ coefficient·(estimate + error), split in two sums of independent parts in a common unit.
#[derive(Debug, Clone)]
pub(crate) struct Form {
    /// Where both sums together are counted from, as an unevaluated sum of two numbers.
    pub(super) location: (f64, f64),
    /// A power of two of about the width of the widest part; the parts are counted in it.
    pub(super) unit: f64,
    /// Parts of the two sums.
    pub(super) parts: [Vec<Part>; 2],
    /// What places may be off by rounding, in the unit: atoms closer than this coincide.
    pub(super) snap: f64,
}

/// A running sum of two numbers' worth of digits.
#[derive(Debug, Clone, Copy, Default)]
struct Location {
    high: f64,
    low: f64,
    size: f64,
}

impl Location {
    fn add(&mut self, x: f64) {
        let sum = self.high + x;
        let part = sum - self.high;
        let off = (self.high - (sum - part)) + (x - part);
        self.high = sum;
        self.low += off;
        self.size += x.abs();
    }

    /// Adds a product with its rounding error (Dekker 1971).
    fn add_product(&mut self, a: f64, b: f64) {
        let product = a * b;
        self.add(product);
        // Halves by Veltkamp's constant; numbers too large to be split have no use for their last bits.
        let split = |x: f64| {
            let scaled = 134_217_729.0 * x;
            let high = scaled - (scaled - x);
            (high, x - high)
        };
        let ((a_high, a_low), (b_high, b_low)) = (split(a), split(b));
        let off = ((a_high * b_high - product) + a_high * b_low + a_low * b_high) + a_low * b_low;
        if off.is_finite() {
            self.low += off;
        }
    }

    fn value(self) -> (f64, f64) {
        let high = self.high + self.low;
        (high, (self.high - high) + self.low)
    }
}

impl Form {
    /// From terms and the groups among them that are jointly normal.
    pub(super) fn new(
        constant: f64,
        terms: &[Term<'_>],
        groups: &[Group],
    ) -> Result<Self, Vec<String>> {
        Self::counted_in(unit(terms), constant, terms, groups)
    }

    /// The same in a given unit, a power of two.
    pub(super) fn counted_in(
        unit: f64,
        constant: f64,
        terms: &[Term<'_>],
        groups: &[Group],
    ) -> Result<Self, Vec<String>> {
        let mut location = Location::default();
        location.add(constant);
        let mut parts = [Vec::new(), Vec::new()];
        let mut reasons = Vec::new();
        for (i, term) in terms.iter().enumerate() {
            let factor = term.coefficient / unit;
            match Part::new(term.error, factor) {
                Ok((reference, part)) => {
                    location.add_product(term.coefficient, term.estimate);
                    location.add_product(term.coefficient, reference);
                    if !groups.iter().any(|g| g.members.contains(&i)) {
                        parts[usize::from(term.is_second)].extend(part);
                    }
                }
                Err(error) => reasons.push(error),
            }
        }
        for group in groups {
            let sd = standard_deviation(group, terms) / unit;
            if sd > 0.0 {
                let is_second = terms[group.members[0]].is_second;
                match Part::normal(sd) {
                    Ok(part) => parts[usize::from(is_second)].push(part),
                    Err(error) => reasons.push(error),
                }
            }
        }
        let (high, low) = location.value();
        if !high.is_finite() || !unit.is_finite() {
            reasons.push("the sum is too large for floating point".to_owned());
        }
        if !reasons.is_empty() {
            return Err(reasons);
        }
        Ok(Self {
            location: (high, low),
            unit,
            parts,
            snap: 8.0 * f64::EPSILON * (location.size / unit + widths(&parts_of(terms), unit)),
        })
    }

    /// The sum of these errors, each times its coefficient, all independent.
    pub(crate) fn of_errors(errors: &[(f64, &Distribution)]) -> Result<Self, Vec<String>> {
        let term = |&(coefficient, error): &(f64, _)| Term {
            coefficient,
            estimate: 0.0,
            error,
            is_second: false,
        };
        let terms: Vec<Term<'_>> = errors.iter().map(term).collect();
        Self::new(0.0, &terms, &[])
    }

    pub(crate) fn location(&self) -> (f64, f64) {
        self.location
    }

    /// Whether the second sum is more than nothing.
    pub(crate) fn has_second(&self) -> bool {
        !self.parts[1].is_empty()
    }

    /// The form of an outcome. Terms for which `is_second` says so make the second sum.
    pub(crate) fn of(
        outcome: Outcome<'_>,
        is_second: &dyn Fn(&Event) -> bool,
    ) -> Result<Self, Vec<String>> {
        let problem = &outcome.stack.problem;
        let affine = match &problem.affine[outcome.index] {
            Ok(affine) => affine,
            Err(bent) => {
                let names: Vec<&str> = bent
                    .iter()
                    .map(|&i| problem.variables[i].name.as_str())
                    .collect();
                return Err(vec![format!("not affine in: {}", names.join(", "))]);
            }
        };
        let terms: Vec<Term<'_>> = affine
            .terms
            .iter()
            .map(|&(input, coefficient)| {
                let source = &problem.variables[input].source;
                Term {
                    is_second: is_second(source.event()),
                    ..Term::of(source, coefficient)
                }
            })
            .collect();
        let inputs: Vec<usize> = affine.terms.iter().map(|term| term.0).collect();
        let groups = groups(problem, &inputs, &terms)?;
        Self::new(affine.constant, &terms, &groups)
    }
}

/// The groups of terms, of these inputs, that a matrix links; reasons where they are not jointly normal.
pub(super) fn groups(
    problem: &Problem,
    inputs: &[usize],
    terms: &[Term<'_>],
) -> Result<Vec<Group>, Vec<String>> {
    let (mut groups, mut reasons) = (Vec::new(), Vec::new());
    for linked in problem.correlated_groups() {
        let members: Vec<usize> = (0..terms.len())
            .filter(|&i| linked.contains(&inputs[i]))
            .filter(|&i| !matches!(terms[i].error, Distribution::Point(_)))
            .collect();
        if members.len() < 2 {
            continue;
        }
        let name = |i: &usize| format!("\"{}\"", problem.variables[inputs[*i]].name);
        let names = |members: &[usize]| members.iter().map(name).collect::<Vec<_>>().join(", ");
        let bent: Vec<usize> = members
            .iter()
            .copied()
            .filter(|&i| !matches!(terms[i].error, Distribution::Normal(_)))
            .collect();
        if !bent.is_empty() {
            reasons.push(format!(
                "correlated sources {} must all be normal ({} not): a matrix is not a distribution; write a shared cause as a shared source",
                names(&members),
                names(&bent) + if bent.len() > 1 { " are" } else { " is" },
            ));
            continue;
        }
        if members
            .iter()
            .any(|&i| terms[i].is_second != terms[members[0]].is_second)
        {
            reasons.push(format!(
                "correlated sources {} must all be shared by the pieces or all be drawn anew with each",
                names(&members)
            ));
            continue;
        }
        let mut coefficients = Vec::with_capacity(members.len() * members.len());
        for &i in &members {
            for &j in &members {
                coefficients.push(problem.correlation(inputs[i], inputs[j]));
            }
        }
        groups.push(Group {
            members,
            coefficients,
        });
    }
    if reasons.is_empty() {
        Ok(groups)
    } else {
        Err(reasons)
    }
}

fn parts_of<'a>(terms: &'a [Term<'a>]) -> Vec<(f64, &'a Distribution)> {
    terms.iter().map(|t| (t.coefficient, t.error)).collect()
}

/// How far the places of atoms may be spread, in the unit.
fn widths(terms: &[(f64, &Distribution)], unit: f64) -> f64 {
    terms
        .iter()
        .filter(|(_, law)| {
            matches!(
                law,
                Distribution::Discrete(_) | Distribution::Empirical(_) | Distribution::Mixture(_)
            )
        })
        .map(|(coefficient, law)| {
            let (lo, hi) = law.support();
            let width = (coefficient * (lo.abs().max(hi.abs())) / unit).abs();
            if width.is_finite() { width } else { 0.0 }
        })
        .sum()
}

/// A power of two of about the width of the widest term.
pub(super) fn unit(terms: &[Term<'_>]) -> f64 {
    let widest = terms
        .iter()
        .map(|term| {
            let spread = term
                .error
                .standard_deviation()
                .unwrap_or_else(|| 0.5 * (term.error.quantile(0.75) - term.error.quantile(0.25)));
            (term.coefficient * spread).abs()
        })
        .fold(0.0, f64::max);
    if widest.is_nan() || widest <= 0.0 {
        return 1.0;
    }
    if !widest.is_finite() {
        return f64::INFINITY;
    }
    // The exponent alone; the smallest numbers are left as they are.
    f64::from_bits(widest.max(1e-290).to_bits() & (0x7ff << 52))
}

/// √(cᵀRc) of a jointly normal group, its products kept exactly: coefficients that nearly cancel are what is asked for.
pub(super) fn standard_deviation(group: &Group, terms: &[Term<'_>]) -> f64 {
    let sizes: Vec<f64> = group
        .members
        .iter()
        .map(|&i| terms[i].coefficient * terms[i].error.standard_deviation().unwrap_or(0.0))
        .collect();
    let largest = sizes.iter().fold(0.0_f64, |a, b| a.max(b.abs()));
    if largest.is_nan() || largest <= 0.0 {
        return 0.0;
    }
    let mut variance = Location::default();
    for (i, a) in sizes.iter().enumerate() {
        for (j, b) in sizes.iter().enumerate() {
            let r = group.coefficients[i * sizes.len() + j];
            variance.add_product(r * (a / largest), b / largest);
        }
    }
    largest * variance.value().0.max(0.0).sqrt()
}
