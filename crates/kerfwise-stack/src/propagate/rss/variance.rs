//! The combined variance and who brings which part of it.

use super::inputs::{CorrelatedPair, Input};
use crate::run::taylor::pair;
use crate::tape::Tape;
use kerfwise_numeric::sum::sum;

/// The second-order term of an ordered pair of inputs.
pub(super) struct SecondOrderTerm {
    /// Places in the list of inputs.
    i: usize,
    j: usize,
    /// `f_ij·u_i·u_j`.
    curvature: f64,
    /// `f_i·u_i`.
    slope: f64,
    /// `f_ijj·u_i·u_j²`.
    change_of_curvature: f64,
}

/// Terms for all ordered pairs of the inputs `curved`; between others they are zero.
pub(super) fn second_order_terms(
    tape: &Tape,
    output: usize,
    at: &[f64],
    inputs: &[Input<'_>],
    curved: &[usize],
) -> Vec<SecondOrderTerm> {
    let mut terms = Vec::with_capacity(curved.len() * curved.len());
    for &i in curved {
        for &j in curved {
            let (a, b) = (&inputs[i], &inputs[j]);
            let (f_i, f_ij, f_ijj) = pair(tape, output, at, a.index, b.index);
            let (u_i, u_j) = (a.standard_uncertainty, b.standard_uncertainty);
            terms.push(SecondOrderTerm {
                i,
                j,
                curvature: f_ij * u_i * u_j,
                slope: f_i * u_i,
                change_of_curvature: f_ijj * u_i * u_j * u_j,
            });
        }
    }
    terms
}

/// Why there is no variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoVariance {
    /// Second or third derivatives at the estimates are not finite.
    NotFinite,
    /// The second-order terms make it negative.
    Negative,
}

/// A variance in parts that belong to the inputs. Everything is divided by a power of two before it is squared, so that
/// nothing overflows and no digit is lost.
pub(super) struct Variance {
    scale: f64,
    /// First-order part of each input over the scale squared: (c u)² and half of each covariance term.
    first: Vec<f64>,
    first_total: f64,
    /// Second-order part of each input, half of each pair's; `None` when it is not known.
    second: Option<Vec<f64>>,
    second_total: Option<f64>,
    /// Whether the second-order part counts.
    is_second_order: bool,
    total: f64,
    /// (c u / scale)⁴ and the like are taken from these.
    pub(super) scaled: Vec<f64>,
}

impl Variance {
    pub(super) fn new(
        contributions: &[f64],
        correlated: &[CorrelatedPair],
        second: Option<Vec<SecondOrderTerm>>,
        is_second_order: bool,
    ) -> Result<Self, NoVariance> {
        let greatest = contributions.iter().fold(0.0, |m: f64, c| m.max(c.abs()));
        let (greatest, second) = with_second_order(greatest, second);
        if is_second_order && second.is_none() {
            return Err(NoVariance::NotFinite);
        }
        let scale = power_of_two_below(greatest);
        let scaled: Vec<f64> = contributions.iter().map(|c| c / scale).collect();
        let first = first_order_parts(&scaled, correlated);
        let first_total = first_order_total(&first, &scaled);
        let second = second.map(|terms| second_order_parts(&terms, scale, contributions.len()));
        let second_total = second.as_ref().map(|parts| sum(parts.iter().copied()));
        let total = match second_total {
            Some(second) if is_second_order => first_total + second,
            _ => first_total,
        };
        if total < 0.0 {
            return Err(NoVariance::Negative);
        }
        Ok(Self {
            scale,
            first,
            first_total,
            second,
            second_total,
            is_second_order,
            total,
            scaled,
        })
    }

    /// First-order variance over the scale squared.
    pub(super) fn first_total(&self) -> f64 {
        self.first_total
    }

    /// Second-order variance over the scale squared, if known.
    pub(super) fn second_total(&self) -> Option<f64> {
        self.second_total
    }

    pub(super) fn is_zero(&self) -> bool {
        self.total <= 0.0
    }

    pub(super) fn standard_uncertainty(&self) -> f64 {
        self.scale * self.total.sqrt()
    }

    /// Second-order variance, in the raw unit squared.
    pub(super) fn second_order(&self) -> f64 {
        self.second_total.unwrap_or(0.0) * self.scale * self.scale
    }

    /// The part of the variance that an input brings.
    pub(super) fn share(&self, k: usize) -> f64 {
        if self.is_zero() {
            return 0.0;
        }
        let second = match (&self.second, self.is_second_order) {
            (Some(parts), true) => parts[k],
            _ => 0.0,
        };
        // All the first-order parts are rounding when their total is.
        let first = if self.first_total > 0.0 {
            self.first[k]
        } else {
            0.0
        };
        (first + second) / self.total
    }
}

/// The greatest number that is squared; terms that are not finite are no terms.
fn with_second_order(
    greatest: f64,
    terms: Option<Vec<SecondOrderTerm>>,
) -> (f64, Option<Vec<SecondOrderTerm>>) {
    let Some(terms) = terms else {
        return (greatest, None);
    };
    let mut with = greatest;
    for term in &terms {
        for x in [term.curvature, term.slope, term.change_of_curvature] {
            if !x.is_finite() {
                return (greatest, None);
            }
            with = with.max(x.abs());
        }
    }
    (with, Some(terms))
}

fn first_order_parts(scaled: &[f64], correlated: &[CorrelatedPair]) -> Vec<f64> {
    let mut parts: Vec<f64> = scaled.iter().map(|c| c * c).collect();
    for pair in correlated {
        let half = pair.coefficient * scaled[pair.a] * scaled[pair.b];
        parts[pair.a] += half;
        parts[pair.b] += half;
    }
    parts
}

/// A correlation matrix is positive semidefinite, so below zero there is only rounding.
fn first_order_total(parts: &[f64], scaled: &[f64]) -> f64 {
    let total = sum(parts.iter().copied());
    let size = sum(scaled.iter().map(|c| c * c));
    // Perfect correlations cancel to nothing but the rounding of their terms.
    let rounding = 4.0 * f64::EPSILON * scaled.len() as f64 * size;
    if total > rounding { total } else { 0.0 }
}

fn second_order_parts(terms: &[SecondOrderTerm], scale: f64, inputs: usize) -> Vec<f64> {
    let mut parts = vec![0.0; inputs];
    for term in terms {
        let curvature = term.curvature / scale;
        let mixed = (term.slope / scale) * (term.change_of_curvature / scale);
        let half = 0.5 * (0.5 * curvature * curvature + mixed);
        parts[term.i] += half;
        parts[term.j] += half;
    }
    parts
}

/// The greatest power of two that is not above `x`; the least normal one for zero and for denormals.
fn power_of_two_below(x: f64) -> f64 {
    let exponent_only = f64::from_bits(x.to_bits() & f64::INFINITY.to_bits());
    exponent_only.max(f64::MIN_POSITIVE)
}
