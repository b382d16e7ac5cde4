//! What an exact answer of the reference stack costs.

use criterion::Criterion;
use kerfwise_benches::{CosineError, reference};
use std::hint::black_box;

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let stack = reference(CosineError::Linear);
    let outcome = stack.outcome("fit").expect("its only outcome");
    let band = outcome.band().expect("it has one");
    let mut group = criterion.benchmark_group("stack/exact");
    group.bench_function("chance/reference", |bencher| {
        bencher.iter(|| {
            black_box(outcome)
                .exact()
                .map(|exact| exact.chance(black_box(&band)))
        });
    });
    group.bench_function("chance_and_interval/reference", |bencher| {
        bencher.iter(|| {
            let exact = black_box(outcome).exact();
            exact.map(|exact| {
                (
                    exact.chance(black_box(&band)),
                    exact.symmetric_interval(0.95),
                )
            })
        });
    });
    group.finish();
    criterion.final_summary();
}
