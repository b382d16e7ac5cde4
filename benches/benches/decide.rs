//! What decisions cost on the demo plan: the setting of the dial, a test cut, a batch; and pairing, beside a general
//! assignment solver.

use criterion::Criterion;
use criterion::measurement::{Measurement, ValueFormatter, WallTime};
use kerfwise_decide::{
    BatchForecast, BatchOptions, Pairing, PairingOptions, Setting, SettingOptions, TestCut,
    TestCutOptions,
};
use kerfwise_joint::ShiftedTenon;
use kerfwise_numeric::stream::Stream;
use kerfwise_source::{Length, LengthUnits};
use std::hint::black_box;
use std::time::Duration;

/// So many widths within ±3 thou of a middle; invented.
fn widths(count: usize, middle: Length, key: u64) -> Vec<Length> {
    let mut numbers = vec![0.0; count];
    Stream::new(1, key, 0).fill_open01(&mut numbers);
    let width = |u: &f64| middle + (6.0 * (u - 0.5)).thou();
    numbers.iter().map(width).collect()
}

/// The processor's time of this thread: what else runs on the machine counts little.
struct ThreadTime;

impl Measurement for ThreadTime {
    type Intermediate = Duration;
    type Value = Duration;

    fn start(&self) -> Duration {
        let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
        Duration::new(time.tv_sec as u64, time.tv_nsec as u32)
    }

    fn end(&self, start: Duration) -> Duration {
        self.start().saturating_sub(start)
    }

    fn add(&self, a: &Duration, b: &Duration) -> Duration {
        *a + *b
    }

    fn zero(&self) -> Duration {
        Duration::ZERO
    }

    fn to_f64(&self, time: &Duration) -> f64 {
        time.as_nanos() as f64
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        WallTime.formatter()
    }
}

fn main() {
    let mut criterion = Criterion::default()
        .with_measurement(ThreadTime)
        .configure_from_args();
    let plan = kerfwise_plan::demo().expect("the demo plan is right");
    let fit = ShiftedTenon::FIT;
    let mut group = criterion.benchmark_group("decide");
    let nominal = plan.joint().expect("it has a joint").nominal_travel();
    let options = SettingOptions::around(nominal.expect("it has a travel"));
    group.bench_function("setting/41 dial steps", |bencher| {
        bencher.iter(|| {
            let at = |travel| plan.with_setting(travel).map(|p| p.stack().clone());
            Setting::best(black_box(&options), fit, at).expect("there is a best one")
        });
    });
    group.bench_function("batch/24", |bencher| {
        let options = BatchOptions::of(24);
        bencher.iter(|| {
            BatchForecast::of(black_box(plan.stack()), fit, &options).expect("it is affine")
        });
    });
    let gauge = plan.tenon_gauge(None).expect("it has a tenon");
    let options = TestCutOptions::new();
    let prepare = || TestCut::measured(plan.stack(), fit, gauge.shown(), &options);
    let cut = prepare().expect("it is affine");
    group.bench_function("test cut/prepare", |bencher| {
        bencher.iter(|| black_box(prepare()).expect("it is affine"));
    });
    group.bench_function("test cut/update", |bencher| {
        let readings = [0.3762.inch(), 0.3769.inch()];
        bencher.iter(|| cut.after_readings(black_box(&readings)).expect("plausible"));
    });
    let pairing = PairingOptions::wanted(3.thou()).between(1.thou(), 5.thou());
    for pieces in [200, 2_000] {
        let (tenons, mortises) = (widths(pieces, 372.thou(), 1), widths(pieces, 375.thou(), 2));
        let best = || Pairing::best(black_box(&tenons), &mortises, &pairing);
        if pieces == 200 {
            let ours = best().expect("all are lengths");
            let (fits, squares) = assignment(&tenons, &mortises);
            assert_eq!(ours.fits.len(), fits, "both find the most that fit");
            let rms = ours.rms_deviation.to_inches();
            // Sums of 200 squares, rounded otherwise.
            assert!((rms * rms * fits as f64 - squares).abs() < 1e-12 * squares);
            group.bench_function("pairing/200 by 200, general assignment", |bencher| {
                bencher.iter(|| assignment(black_box(&tenons), &mortises));
            });
        }
        group.bench_function(format!("pairing/{pieces} by {pieces}"), |bencher| {
            bencher.iter(|| best().expect("all are lengths"));
        });
    }
    group.finish();
    criterion.final_summary();
}

/// The peer: the least cost of a perfect matching by shortest augmenting paths with potentials (Kuhn 1955, in the O(n³)
/// form; from memory), which knows nothing of lines and orders. A pair without fit costs more than all that fit together.
/// Returns how many fit, and the sum of their squares in square inches.
fn assignment(tenons: &[Length], mortises: &[Length]) -> (usize, f64) {
    const NO_FIT: f64 = 1.0;
    let n = tenons.len();
    let cost = |i: usize, j: usize| {
        let off = mortises[j].to_inches() - tenons[i].to_inches() - 0.003;
        if off.abs() <= 0.002 {
            off * off
        } else {
            NO_FIT
        }
    };
    let table: Vec<f64> = (0..n * n).map(|at| cost(at / n, at % n)).collect();
    let (mut u, mut v) = (vec![0.0; n + 1], vec![0.0; n + 1]);
    let mut row_of = vec![0_usize; n + 1];
    for i in 1..=n {
        row_of[0] = i;
        let mut j0 = 0;
        let mut least = vec![f64::INFINITY; n + 1];
        let mut seen = vec![false; n + 1];
        let mut way = vec![0_usize; n + 1];
        while row_of[j0] != 0 {
            seen[j0] = true;
            let (i0, mut delta, mut j1) = (row_of[j0], f64::INFINITY, 0);
            for j in 1..=n {
                if seen[j] {
                    continue;
                }
                let reduced = table[(i0 - 1) * n + j - 1] - u[i0] - v[j];
                if reduced < least[j] {
                    (least[j], way[j]) = (reduced, j0);
                }
                if least[j] < delta {
                    (delta, j1) = (least[j], j);
                }
            }
            for j in 0..=n {
                if seen[j] {
                    u[row_of[j]] += delta;
                    v[j] -= delta;
                } else {
                    least[j] -= delta;
                }
            }
            j0 = j1;
        }
        while j0 != 0 {
            row_of[j0] = row_of[way[j0]];
            j0 = way[j0];
        }
    }
    let paired = (1..=n).map(|j| cost(row_of[j] - 1, j - 1));
    let fits: Vec<f64> = paired.filter(|cost| *cost < NO_FIT).collect();
    (fits.len(), fits.iter().sum())
}
