//! What exact answers cost: the reference stack, stacks that are hard for inversion, very many sources, and a tilt that is
//! held at the nodes of a quadrature.

use criterion::{BenchmarkGroup, Criterion, measurement::WallTime};
use kerfwise_benches::{
    CosineError, MILD_CHANCE, REFERENCE_CHANCE, STRONG_CHANCE, hard, many, reference,
};
use kerfwise_stack::{Batch, Stack};
use std::hint::black_box;

/// Makes the exact answer of the stack's only outcome, and takes the chance of its band.
fn chance(group: &mut BenchmarkGroup<'_, WallTime>, name: &str, stack: &Stack) {
    let outcome = stack.outcome("fit").expect("its only outcome");
    let band = outcome.band().expect("it has one");
    group.bench_function(name, |bencher| {
        bencher.iter(|| {
            black_box(outcome)
                .exact()
                .map(|exact| exact.chance(black_box(&band)))
        });
    });
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let stack = reference(CosineError::Linear);
    let outcome = stack.outcome("fit").expect("its only outcome");
    let band = outcome.band().expect("it has one");
    let exact = outcome.exact().expect("it is affine").chance(&band);
    assert!(
        (exact.value.inside - REFERENCE_CHANCE).abs() <= exact.error,
        "{exact:?}"
    );
    let mut group = criterion.benchmark_group("stack/exact");
    chance(&mut group, "chance/reference", &stack);
    group.bench_function("report/reference", |bencher| {
        bencher.iter(|| {
            let exact = black_box(outcome).exact();
            exact.map(|exact| {
                (
                    exact.chance(black_box(&band)),
                    exact.mean(),
                    exact.standard_deviation(),
                    exact.symmetric_interval(0.95),
                )
            })
        });
    });
    for (name, stack) in hard() {
        chance(&mut group, &format!("chance/{name}"), &stack);
    }
    chance(&mut group, "chance/10,000 sources", &many(10_000));
    for (name, tilt, known) in [
        ("mild", CosineError::Mild, MILD_CHANCE),
        ("strong", CosineError::Strong, STRONG_CHANCE),
    ] {
        let stack = reference(tilt);
        let outcome = stack.outcome("fit").expect("its only outcome");
        let semi_exact = outcome.semi_exact().expect("affine but for the tilt");
        let answer = semi_exact.chance(&band);
        assert!(
            (answer.value.inside - known).abs() <= answer.error,
            "{answer:?}"
        );
        group.bench_function(format!("semi-exact/{name}"), |bencher| {
            bencher.iter(|| {
                let exact = black_box(outcome).semi_exact();
                exact.map(|exact| exact.chance(black_box(&band)))
            });
        });
    }
    group.bench_function("batch of 24/reference", |bencher| {
        bencher.iter(|| black_box(outcome).batch(Batch::of(24)));
    });
    group.finish();
    criterion.final_summary();
}
