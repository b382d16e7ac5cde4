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

fn normal(sd: f64) -> Distribution {
    Distribution::normal(0.0, sd).unwrap()
}
fn rect(a: f64) -> Distribution {
    Distribution::rectangular(-a, a).unwrap()
}
fn tri(a: f64) -> Distribution {
    Distribution::triangular(-a, 0.0, a).unwrap()
}
fn arcsine(a: f64) -> Distribution {
    Distribution::arcsine(-a, a).unwrap()
}
fn exponential(mean: f64) -> Distribution {
    Distribution::exponential(0.0, mean).unwrap()
}
