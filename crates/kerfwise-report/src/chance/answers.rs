//! From what the propagations answer to what the report says.

use super::{
    BatchChances, ExactChances, MonteCarloChances, QuasiMonteCarloChances, RangeReport,
    SumOfSquaresChances, ThreeChances,
};
use kerfwise_stack::{
    Band, BatchAnswer, Exact, MonteCarloOutcome, QuasiMonteCarloAnswer, RootSumOfSquaresAnswer,
    WorstCaseAnswer,
};

impl From<&WorstCaseAnswer> for RangeReport {
    fn from(answer: &WorstCaseAnswer) -> Self {
        Self {
            lower: answer.lower.bound.raw(),
            upper: answer.upper.bound.raw(),
            lower_attained: answer.lower.attained.raw(),
            upper_attained: answer.upper.attained.raw(),
            always_inside: None,
            assumptions: answer.assumptions.clone(),
        }
    }
}

impl From<&RootSumOfSquaresAnswer> for SumOfSquaresChances {
    fn from(answer: &RootSumOfSquaresAnswer) -> Self {
        Self {
            estimate: answer.estimate.raw(),
            standard_uncertainty: answer.standard_uncertainty.raw(),
            expanded_uncertainty: answer.expanded_uncertainty.raw(),
            coverage_factor: answer.coverage_factor,
            chance: answer.chance.map(|c| ThreeChances::new(c, None)),
            assumptions: answer.assumptions.clone(),
            doubts: answer.doubts.clone(),
        }
    }
}

impl ExactChances {
    pub(super) fn new(exact: &Exact, band: Option<&Band>) -> Self {
        let interval = exact.symmetric_interval(0.95);
        Self {
            route: exact.route().to_owned(),
            mean: exact.mean().map(|m| m.raw()),
            standard_deviation: exact.standard_deviation().map(|s| s.raw()),
            chance: band.map(|b| {
                let bounded = exact.chance(b);
                ThreeChances::new(bounded.value, Some(bounded.error))
            }),
            interval_95: (interval.lower.raw(), interval.upper.raw()),
            held: exact.held().to_vec(),
        }
    }
}

impl From<&QuasiMonteCarloAnswer> for QuasiMonteCarloChances {
    fn from(answer: &QuasiMonteCarloAnswer) -> Self {
        let error = answer.chance_error;
        let error = error.below.max(error.inside).max(error.above);
        Self {
            chance: ThreeChances::new(answer.chance, Some(error)),
            points: answer.points,
            integrated: answer.integrated.clone(),
        }
    }
}

impl From<&MonteCarloOutcome> for MonteCarloChances {
    fn from(one: &MonteCarloOutcome) -> Self {
        let error = one.chance_error.map(|e| e.below.max(e.inside).max(e.above));
        let known = |x: kerfwise_stack::Bounded<kerfwise_source::Quantity>| {
            (x.error < f64::INFINITY).then(|| x.value.raw())
        };
        Self {
            mean: known(one.mean),
            standard_deviation: known(one.standard_deviation),
            chance: one.chance.map(|c| ThreeChances::new(c, error)),
            interval: (one.symmetric.lower.raw(), one.symmetric.upper.raw()),
            undefined: one.undefined,
        }
    }
}

impl From<&BatchAnswer> for BatchChances {
    fn from(answer: &BatchAnswer) -> Self {
        Self {
            pieces: answer.pieces,
            all: answer.all.value,
            all_error: answer.all.error,
            if_independent: answer.if_independent,
            expected: f64::from(answer.pieces) * answer.one.value.inside,
            shared_standard_deviation: answer.shared_standard_deviation.map(|s| s.raw()),
            piece_standard_deviation: answer.piece_standard_deviation.map(|s| s.raw()),
        }
    }
}
