//! Stacks that the benches share.

use kerfwise_source::{Distribution, Event, LengthUnits, Quantity, Source, SourceBuilder};
use kerfwise_stack::{Band, Expr, Stack};

/// The chance of [`reference()`], computed independently at 30 digits with mpmath.
pub const REFERENCE_CHANCE: f64 = 0.996_731_519_724_920_1;

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
