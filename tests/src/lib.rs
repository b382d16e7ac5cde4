//! Helpers that the outside checks share.

pub mod checks;

use kerfwise_source::{Dimension, Distribution, Event, Quantity, Source};
use kerfwise_stack::{Band, Expr, Stack};
use proptest::prelude::*;

/// A distribution in plain numbers with the given scale, of any kind that the library has.
pub fn any_distribution(scale: f64) -> BoxedStrategy<Distribution> {
    let simple = prop_oneof![
        Just(Distribution::normal(0.0, scale)),
        Just(Distribution::rectangular(-scale, scale)),
        (-0.9..0.9).prop_map(move |p| Distribution::triangular(-scale, p * scale, scale)),
        (0.0..1.0).prop_map(move |r| Distribution::trapezoidal(-scale, scale, r)),
        (0.01..0.9).prop_map(move |d| Distribution::curvilinear_trapezoid(
            -scale,
            scale,
            d * scale
        )),
        Just(Distribution::arcsine(-scale, scale)),
        (2.5..30.0).prop_map(move |nu| Distribution::student_t(0.0, scale, nu)),
        Just(Distribution::exponential(0.0, scale)),
        Just(Distribution::exponential(0.0, -scale)),
        (0.1..0.6).prop_map(move |s| Distribution::lognormal(
            -scale,
            kerfwise_numeric::float::ln(scale),
            s
        )),
        ((0.6..5.0), (0.6..5.0)).prop_map(move |(a, b)| Distribution::beta(-scale, scale, a, b)),
        ((-2.0..0.0), (0.2..2.0)).prop_map(move |(l, u)| Distribution::truncated_normal(
            0.0,
            scale,
            l * scale,
            u * scale
        )),
        (0.3..2.0).prop_map(move |r| Distribution::two_piece_normal(0.0, scale, r * scale)),
        (0.05..0.5).prop_map(move |p| Distribution::discrete(&[(0.0, 1.0 - p), (scale, p)])),
        proptest::collection::vec(-1.0..1.0_f64, 3..8).prop_map(move |v| Distribution::empirical(
            &v.iter().map(|x| x * scale).collect::<Vec<_>>()
        )),
        (0.01..0.1).prop_map(move |p| {
            let chip = Distribution::rectangular(scale, 4.0 * scale)?;
            Distribution::mixture(vec![
                (1.0 - p, Distribution::normal(0.0, scale)?),
                (p, chip),
            ])
        }),
    ];
    simple
        .prop_map(|d| d.expect("the generator makes valid distributions"))
        .boxed()
}

/// One random source of an affine stack: sensitivity, scale as a power of ten, whether it is redrawn
/// with every piece, and its distribution.
#[derive(Debug, Clone)]
pub struct Term {
    /// Sensitivity coefficient.
    pub coefficient: f64,
    /// Distribution of the error.
    pub distribution: Distribution,
    /// Redrawn with every piece, or shared by the batch.
    pub is_piece: bool,
}

/// Random affine stacks: 1 to `most` sources, spreads up to 10⁴ apart.
pub fn any_terms(most: usize) -> BoxedStrategy<Vec<Term>> {
    let term = (
        -4.0..0.0_f64,
        prop_oneof![-2.0..-0.3_f64, 0.3..2.0_f64],
        any::<bool>(),
    )
        .prop_flat_map(|(decade, coefficient, is_piece)| {
            let scale = kerfwise_numeric::float::exp(decade * std::f64::consts::LN_10);
            any_distribution(scale).prop_map(move |distribution| Term {
                coefficient,
                distribution,
                is_piece,
            })
        });
    proptest::collection::vec(term, 1..=most).boxed()
}

/// The sources of some terms, named `x000`, `x001`, ... in plain numbers.
pub fn sources(terms: &[Term]) -> Vec<Source> {
    terms
        .iter()
        .enumerate()
        .map(|(i, term)| {
            let event = if term.is_piece {
                Event::piece()
            } else {
                Event::batch()
            };
            Source::new(&format!("x{i:03}"), Quantity::new(0.0, Dimension::NUMBER))
                .error(term.distribution.clone())
                .event(event)
                .build()
                .expect("the generator makes valid sources")
        })
        .collect()
}

/// Σ coefficient · source.
pub fn sum(terms: &[Term], sources: &[Source]) -> Expr {
    let mut sum: Option<Expr> = None;
    for (term, source) in terms.iter().zip(sources) {
        let next = term.coefficient * Expr::source(source);
        sum = Some(match sum {
            Some(so_far) => so_far + next,
            None => next,
        });
    }
    sum.unwrap_or_else(|| Expr::constant(0.0))
}

/// A stack of one outcome, "y", with a band.
pub fn stack(terms: &[Term], lower: f64, upper: f64) -> Stack {
    let sources = sources(terms);
    let band = Band::between(lower, upper).expect("the limits are in order");
    Stack::builder()
        .outcome("y", &sum(terms, &sources), band)
        .build()
        .expect("the generator makes valid stacks")
}
