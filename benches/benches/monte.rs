//! What a Monte Carlo trial of the reference stack costs, between the floor (its random words alone) and a peer (a
//! plain loop over rand and `rand_distr`). One thread; all in one run, so that ratios mean something.

use criterion::{BenchmarkGroup, Criterion, Throughput, measurement::WallTime};
use kerfwise_benches::{CosineError, reference, single};
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_stack::MonteCarlo;
use rand::SeedableRng;
use rand_distr::{Distribution, Normal, StudentT, Triangular, Uniform};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::hint::black_box;

const TRIALS: u64 = 1 << 18;
const SOURCES: [&str; 10] = [
    "mortise",
    "caliper",
    "calibration",
    "feel",
    "kerf",
    "run_out",
    "saw",
    "indicator",
    "cosine",
    "drift",
];

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    let mut group = criterion.benchmark_group("stack/monte_carlo");
    group.throughput(Throughput::Elements(TRIALS));
    ours(&mut group);
    floor(&mut group);
    peer(&mut group);
    group.finish();
    criterion.final_summary();
}

fn ours(group: &mut BenchmarkGroup<'_, WallTime>) {
    let options = MonteCarlo::new().trials(TRIALS).threads(1);
    for (name, cosine) in [
        ("reference/linear", CosineError::Linear),
        ("reference/strong", CosineError::Strong),
    ] {
        let stack = reference(cosine);
        group.bench_function(name, |bencher| {
            bencher.iter(|| stack.monte_carlo(black_box(options.clone())));
        });
    }
    // Hardly any sampling: what counting costs.
    let stack = single();
    group.bench_function("one_rectangle", |bencher| {
        bencher.iter(|| stack.monte_carlo(black_box(options.clone())));
    });
    let stack = reference(CosineError::Linear);
    group.bench_function("batch_of_24/linear", |bencher| {
        let options = options.clone().trials(TRIALS / 24);
        let event = kerfwise_source::Event::piece();
        bencher.iter(|| stack.simulate_batch(24, &event, black_box(options.clone())));
    });
}

/// One word for each source and trial, streams re-keyed for each block.
fn floor(group: &mut BenchmarkGroup<'_, WallTime>) {
    let keys = SOURCES.map(name_key);
    group.bench_function("floor/random_words", |bencher| {
        let mut words = vec![0; 1024];
        bencher.iter(|| {
            for block in 0..TRIALS / 1024 {
                for key in keys {
                    Stream::new(1, key, block).fill_words(black_box(&mut words));
                }
            }
        });
    });
    group.bench_function("floor/uniforms", |bencher| {
        let mut numbers = vec![0.0; 1024];
        bencher.iter(|| {
            for block in 0..TRIALS / 1024 {
                for key in keys {
                    Stream::new(1, key, block).fill_open01(black_box(&mut numbers));
                }
            }
        });
    });
}

/// What one would write in an afternoon: draw, add, count; all values kept and sorted for the quantiles.
fn peer(group: &mut BenchmarkGroup<'_, WallTime>) {
    let normal = |sd| Normal::new(0.0, sd).expect("a valid distribution");
    let uniform =
        |half_width: f64| Uniform::new(-half_width, half_width).expect("a valid distribution");
    let mortise = StudentT::new(4.0).expect("a valid distribution");
    let feel = Triangular::new(-1e-3, 1e-3, 0.0).expect("a valid distribution");
    let (half, cosine, turn) = (uniform(5e-4), uniform(3.227e-4), uniform(0.5));
    let (calibration, kerf, saw, drift) = (normal(5e-4), normal(4e-4), normal(1e-3), normal(3e-4));
    group.bench_function("peer/rand_distr_loop", |bencher| {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(1);
        bencher.iter(|| {
            let rng = &mut rng;
            let mut values = Vec::with_capacity(TRIALS as usize);
            let (mut sum, mut squares, mut inside) = (0.0, 0.0, 0_u64);
            for _ in 0..TRIALS {
                let run_out =
                    1.2e-3 * kerfwise_numeric::float::sin(std::f64::consts::TAU * turn.sample(rng));
                let value: f64 = 4e-4 * mortise.sample(rng)
                    + half.sample(rng)
                    + calibration.sample(rng)
                    + feel.sample(rng)
                    + kerf.sample(rng)
                    + run_out
                    + saw.sample(rng)
                    + half.sample(rng)
                    + (2.0833e-4 + cosine.sample(rng))
                    - (3e-4 + drift.sample(rng));
                sum += value;
                squares += value * value;
                inside += u64::from(value.abs() <= 5e-3);
                values.push(value);
            }
            let rank = |p: f64| (p * TRIALS as f64) as usize;
            let low = *values.select_nth_unstable_by(rank(0.025), f64::total_cmp).1;
            let high = *values.select_nth_unstable_by(rank(0.975), f64::total_cmp).1;
            black_box((sum, squares, inside, low, high))
        });
    });
}
