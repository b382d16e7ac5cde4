//! Check values.

mod hard;
mod laws;
mod mixed;
mod random;
mod small;
mod sweep;

use super::form::{Form, Term};
use super::*;

/// constant + Σ coefficient·X, with places of interest.
fn sum_for(constant: f64, terms: &[(f64, Distribution)], places: &[f64]) -> Sum {
    let terms: Vec<Term<'_>> = terms
        .iter()
        .map(|(coefficient, law)| Term {
            coefficient: *coefficient,
            estimate: 0.0,
            error: law,
            is_second: false,
        })
        .collect();
    let form = Form::new(constant, &terms, &[]).unwrap();
    Sum::of(&form, 0, form.location(), places).unwrap()
}

/// Σ X.
fn sum_of(laws: &[Distribution]) -> Sum {
    let terms: Vec<(f64, Distribution)> = laws.iter().map(|law| (1.0, law.clone())).collect();
    sum_for(0.0, &terms, &[])
}
