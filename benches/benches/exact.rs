//! What exact answers cost: the reference stack, stacks that are hard for inversion, very many sources, small tails, and a
//! tilt that is held at the nodes of a quadrature.

use criterion::{BenchmarkGroup, Criterion, measurement::WallTime};
use kerfwise_benches::{
    CosineError, MILD_CHANCE, REFERENCE_CHANCE, STRONG_CHANCE, hard, many, reference,
};
use kerfwise_source::{Distribution, LengthUnits as _, Quantity, Source};
use kerfwise_stack::{Batch, Expr, Stack};
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

/// A chance of 1e-12 or less of a stack that is solved already: the sums of `docs/methods.md`, in thou.
fn small_tails(group: &mut BenchmarkGroup<'_, WallTime>) {
    let thou = |x: f64| x * 1e-3;
    let normal = |sd: f64| Distribution::normal(0.0, thou(sd));
    let rect = |a: f64| Distribution::rectangular(-thou(a), thou(a));
    let cases = [
        (
            "normal and rectangles",
            vec![normal(1.0), rect(1.0), rect(0.75)],
            8.5,
        ),
        (
            "arcsine",
            vec![
                Distribution::arcsine(-thou(1.0), thou(1.0)),
                rect(0.5),
                normal(0.2),
            ],
            2.8,
        ),
        (
            "exponential",
            vec![
                Distribution::exponential(0.0, thou(0.25)),
                rect(0.5),
                normal(0.5),
            ],
            7.5,
        ),
    ];
    for (name, laws, place) in cases {
        let mut sum = Expr::constant(0.inch());
        for (i, law) in laws.into_iter().enumerate() {
            let law = law.expect("it is valid");
            let source = Source::new(&format!("s{i}"), 0.inch()).error(law);
            sum = sum + Expr::source(&source.build().expect("it is valid"));
        }
        let stack = Stack::builder().outcome_without_band("sum", &sum);
        let stack = stack.build().expect("it is affine");
        let exact = stack
            .outcome("sum")
            .and_then(|sum| sum.exact().ok())
            .expect("it is affine");
        let place: Quantity = place.thou().into();
        let found = exact.sf(place);
        assert!(
            found.value < 1e-11 && found.error < 1e-8 * found.value,
            "{name}: {found:?}"
        );
        group.bench_function(format!("small tail/{name}"), |bencher| {
            bencher.iter(|| exact.sf(black_box(place)));
        });
    }
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
    small_tails(&mut group);
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
