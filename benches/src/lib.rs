//! Stacks that the benches share.

use kerfwise_source::{
    Dimension, Distribution, Event, LengthUnits, Quantity, Source, SourceBuilder,
};
use kerfwise_stack::{Band, Expr, Stack};

/// The chance of [`reference()`], computed independently at 30 digits with mpmath.
pub const REFERENCE_CHANCE: f64 = 0.996_731_519_724_920_1;

/// The chance of [`reference()`] with a mild and with a strong tilt, computed independently at 25 digits with mpmath.
pub const MILD_CHANCE: f64 = 0.996_732_201_490_722_8;
/// See [`MILD_CHANCE`].
pub const STRONG_CHANCE: f64 = 0.912_705_616_906_454_9;

/// The chance that 24 pieces of [`reference()`] all fit, by quadrature to 14 digits.
pub const REFERENCE_CHANCE_OF_24: f64 = 0.944_602_452_108_67;

/// Which form the error of a tilted indicator takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CosineError {
    /// An error of its own, so that the stack is affine.
    Linear,
    /// (½ in + indicator)·(1 − cos θ), θ within ±0.05 rad.
    Mild,
    /// The same with θ within ±0.15 rad.
    Strong,
}

/// A shifted tenon with ten error sources and a band of ±5 thou; five are drawn for each piece. Numbers are invented,
/// and round.
///
/// # Panics
/// Never: the numbers are fixed and valid.
#[must_use]
pub fn reference(cosine: CosineError) -> Stack {
    let indicator = source(zero("indicator").rectangular(0.5.thou()));
    let widths = source(zero("mortise").student_t(0.4.thou(), 4.0))
        + source(piece("caliper").rectangular(0.5.thou()))
        + source(zero("calibration").normal(0.5.thou()))
        + source(piece("feel").triangular(1.thou()));
    let saw = source(piece("kerf").normal(0.4.thou()))
        + source(piece("run_out").arcsine(1.2.thou()))
        + source(piece("saw").normal(1.thou()));
    let drift = Distribution::normal(3e-4, 3e-4).expect("a valid distribution");
    let tilt = match cosine {
        CosineError::Linear => {
            let (mean, half_width) = (2.0833e-4, 3.227e-4);
            let error = Distribution::rectangular(mean - half_width, mean + half_width);
            source(zero("cosine").error(error.expect("a valid distribution")))
        }
        CosineError::Mild => tilted(&indicator, 0.05),
        CosineError::Strong => tilted(&indicator, 0.15),
    };
    let fit = widths + saw + indicator + tilt - source(zero("drift").error(drift));
    let band = Band::within(5.thou()).expect("a valid band");
    Stack::builder()
        .outcome("fit", &fit, band)
        .build()
        .expect("a valid stack")
}

/// One rectangular error of ±6 thou in a band of ±5 thou: five sixths fit.
///
/// # Panics
/// Never: the numbers are fixed and valid.
#[must_use]
pub fn single() -> Stack {
    let band = Band::within(5.thou()).expect("a valid band");
    Stack::builder()
        .outcome("fit", &source(zero("seat").rectangular(6.thou())), band)
        .build()
        .expect("a valid stack")
}

/// Stacks on which a plain inversion of the characteristic function is slow or inaccurate, by name.
///
/// # Panics
/// Never: the numbers are fixed and valid.
#[must_use]
pub fn hard() -> Vec<(&'static str, Stack)> {
    let rect = |a: f64| Distribution::rectangular(-a, a);
    let tri = |a: f64| Distribution::triangular(-a, 0.0, a);
    let arcsine = |a: f64| Distribution::arcsine(-a, a);
    let normal = |sd: f64| Distribution::normal(0.0, sd);
    let t = |scale: f64, nu: f64| Distribution::student_t(0.0, scale, nu);
    let widths = |n: i32| (0..n).map(move |i| rect(1.0 / f64::from(1 << i.min(10))));
    let all = vec![
        (
            "arcsine and a normal of 1/100",
            vec![arcsine(1.0), normal(0.01)],
        ),
        (
            "rectangle and a normal of 1/100",
            vec![rect(1.0), normal(0.01)],
        ),
        ("two rectangles", vec![rect(1.0), rect(0.6)]),
        (
            "rectangle, 1/100 of it, triangle",
            vec![rect(1.0), rect(0.01), tri(0.01)],
        ),
        ("arcsine and rectangle", vec![arcsine(1.0), rect(0.5)]),
        ("two arcsines", vec![arcsine(1.0), arcsine(0.6)]),
        ("two equal arcsines", vec![arcsine(1.0), arcsine(1.0)]),
        (
            "3 rectangles, triangle, arcsine",
            vec![rect(1.0), rect(0.7), rect(0.4), tri(0.5), arcsine(0.6)],
        ),
        ("12 rectangles to 1/1000", widths(12).collect()),
        (
            "t1, t3, rectangle, normal",
            vec![t(0.1, 1.0), t(0.2, 3.0), rect(0.5), normal(0.2)],
        ),
        (
            "t2, rectangle, normal",
            vec![t(0.2, 2.0), rect(0.5), normal(0.2)],
        ),
        (
            "t2.5, rectangle, normal",
            vec![t(0.2, 2.5), rect(0.5), normal(0.2)],
        ),
        ("t1 and a normal of 1/40", vec![t(1.0, 1.0), normal(0.025)]),
    ];
    all.into_iter()
        .map(|(name, laws)| {
            let laws = laws
                .into_iter()
                .map(|law| law.expect("a valid distribution"));
            (name, sum(laws, 0.9))
        })
        .collect()
}

/// A sum of very many sources: normal, rectangular, triangular and arcsine in turn, their spreads up to a hundred apart.
///
/// # Panics
/// Never: the numbers are fixed and valid.
#[must_use]
pub fn many(sources: u32) -> Stack {
    let laws = (0..sources).map(|i| {
        let size = 1e-3 * f64::from(1 + i * 7919 % 100);
        let law = match i % 4 {
            0 => Distribution::normal(0.0, size),
            1 => Distribution::rectangular(-size, size),
            2 => Distribution::triangular(-size, 0.0, size),
            _ => Distribution::arcsine(-size, size),
        };
        law.expect("a valid distribution")
    });
    sum(laws, 4.0)
}

/// A sum of pure numbers within a band of this half-width.
fn sum(laws: impl Iterator<Item = Distribution>, half_width: f64) -> Stack {
    let number = |x| Quantity::new(x, Dimension::NUMBER);
    let mut total = Expr::constant(0.0);
    for (i, law) in laws.enumerate() {
        total = total + source(Source::new(&format!("x{i:05}"), number(0.0)).error(law));
    }
    let band = Band::between(-half_width, half_width).expect("a valid band");
    Stack::builder()
        .outcome("fit", &total, band)
        .build()
        .expect("a valid stack")
}

fn tilted(indicator: &Expr, half_width: f64) -> Expr {
    let angle = kerfwise_source::Angle::from_radians;
    let theta = source(Source::new("theta", angle(0.0)).rectangular(angle(half_width)));
    let travel = Expr::constant(Quantity::from(0.5.inch())) + indicator.clone();
    travel * (Expr::constant(1.0) - theta.cos())
}

fn zero(name: &str) -> SourceBuilder {
    Source::new(name, 0.inch())
}

fn piece(name: &str) -> SourceBuilder {
    zero(name).event(Event::piece())
}

fn source(builder: SourceBuilder) -> Expr {
    Expr::source(&builder.build().expect("a valid source"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reference_stack_is_the_one_with_the_known_chance() {
        let stack = reference(CosineError::Linear);
        let outcome = stack.outcome("fit").expect("its only outcome");
        let exact = outcome.exact().expect("an affine stack");
        let chance = exact.chance(&outcome.band().expect("it has one"));
        // What performance.md aims at.
        assert!((chance.value.inside - REFERENCE_CHANCE).abs() < 1e-12);
    }

    #[test]
    fn a_batch_of_it_has_the_known_chance() {
        let stack = reference(CosineError::Linear);
        let batches = stack
            .simulate_batch(24, &Event::piece(), 50_000)
            .expect("a band");
        let off = batches.all.value - REFERENCE_CHANCE_OF_24;
        assert!(off.abs() < 4.0 * batches.all.error, "{batches:?}");
    }
}
