//! A shop that exists in the computer only: set-ups are drawn, test pieces cut and read, the jig left or moved, and the
//! batch cut. What the advice believes and what is true are given apart.

use kerfwise_decide::{Advice, TestCut, TestCutOptions};
use kerfwise_numeric::stream::Stream;
use kerfwise_source::{Distribution, Event, Length, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};
use std::collections::BTreeMap;

/// A source as it counts in the fit and in what the gauge shows.
struct Part {
    name: &'static str,
    believed: Distribution,
    is: Distribution,
    event: Event,
    in_fit: f64,
    in_shown: f64,
}

/// What is believed of a shop, and how it is.
pub(crate) struct Shop {
    parts: Vec<Part>,
    tests: usize,
    resolution: f64,
    step: f64,
    pieces: usize,
}

/// What the batches of one way of working came to.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Way {
    /// Share of all joints that fit.
    pub(crate) fits: f64,
    /// Standard error of that share.
    pub(crate) error: f64,
}

/// All ways of working in the same shops, with the same pieces.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Tally {
    pub(crate) never: Way,
    pub(crate) always: Way,
    pub(crate) advised: Way,
    /// What the advice forecast, on average.
    pub(crate) forecast: f64,
    /// Standard error of fits less forecast.
    pub(crate) forecast_error: f64,
    /// Share of the shops in which the advice was to move.
    pub(crate) moves: f64,
    /// Share of the moves that raised the chance, and what was forecast of it.
    pub(crate) raised: (f64, f64),
    pub(crate) raised_error: f64,
}

const THOU: f64 = 1e-3;

fn normal(sd: f64) -> Distribution {
    Distribution::normal(0.0, sd * THOU).unwrap()
}

fn rectangular(half: f64) -> Distribution {
    Distribution::rectangular(-half * THOU, half * THOU).unwrap()
}

fn student(scale: f64, dof: f64) -> Distribution {
    Distribution::student_t(0.0, scale * THOU, dof).unwrap()
}

fn triangular(half: f64) -> Distribution {
    Distribution::triangular(-half * THOU, 0.0, half * THOU).unwrap()
}

impl Shop {
    /// The plant stands of `datasets/plant-stands` (invented), with this lock-down error (standard deviation in thou), this
    /// many test pieces and this many joints in a batch. The test piece is read with a caliper of its own.
    pub(crate) fn new(lock: f64, tests: usize, pieces: usize) -> Self {
        let part = |name, law: Distribution, event, in_fit, in_shown| Part {
            name,
            is: law.clone(),
            believed: law,
            event,
            in_fit,
            in_shown,
        };
        let parts = vec![
            part("kerf", student(0.18, 7.0), Event::blade(), -1.0, -1.0),
            part("caliper", rectangular(0.787), Event::gauge(), -1.0, -1.0),
            part("dial_limit", rectangular(0.591), Event::gauge(), 1.0, 1.0),
            part(
                "dial_reading",
                rectangular(0.25),
                Event::jig_move(),
                1.0,
                1.0,
            ),
            part("lock", normal(lock), Event::jig_move(), 1.0, 1.0),
            part(
                "mortise",
                student(0.29, 9.0),
                Event::mortise_set_up(),
                -1.0,
                0.0,
            ),
            part("feel", normal(0.7), Event::batch(), -1.0, 0.0),
            part(
                "wedge_caliper",
                rectangular(0.787),
                Event::gauge(),
                -1.0,
                0.0,
            ),
            part("gauge", rectangular(0.787), Event::gauge(), 0.0, -1.0),
            part("seating_1", normal(1.0), Event::cut(), -1.0, -1.0),
            part("seating_2", normal(1.0), Event::cut(), 1.0, 1.0),
            part("play_1", triangular(1.5), Event::cut(), -1.0, -1.0),
            part("play_2", triangular(1.5), Event::cut(), 1.0, 1.0),
            part("kerf_1", normal(0.8), Event::cut(), -0.5, -0.5),
            part("kerf_2", normal(0.8), Event::cut(), -0.5, -0.5),
            part("moisture", normal(0.36), Event::piece(), 1.0, 1.0),
            part(
                "mortise_spread",
                student(0.91, 9.0),
                Event::piece(),
                -1.0,
                0.0,
            ),
        ];
        Self {
            parts,
            tests,
            resolution: 0.5 * THOU,
            step: 0.5 * THOU,
            pieces,
        }
    }

    /// The source is really so, whatever is believed.
    pub(crate) fn really(mut self, name: &str, law: Distribution) -> Self {
        for part in &mut self.parts {
            if part.name == name {
                part.is = law.clone();
            }
        }
        self
    }

    /// The lock-down error is really so large.
    pub(crate) fn really_locks(self, sd: f64) -> Self {
        self.really("lock", normal(sd))
    }

    /// The kerf is really wider by so many thou than was measured.
    pub(crate) fn really_saws(self, wider: f64) -> Self {
        self.really(
            "kerf",
            Distribution::student_t(wider * THOU, 0.18 * THOU, 7.0).unwrap(),
        )
    }

    /// The test cut as the maker believes it.
    pub(crate) fn believed(&self) -> TestCut {
        let (mut fit, mut shown) = (Expr::constant(0.0.inch()), Expr::constant(0.0.inch()));
        for part in &self.parts {
            let source = Source::new(part.name, 0.0.inch())
                .error(part.believed.clone())
                .event(part.event.clone())
                .build()
                .unwrap();
            fit = fit + part.in_fit * Expr::source(&source);
            shown = shown + part.in_shown * Expr::source(&source);
        }
        let band = Band::within(5.0.thou()).unwrap();
        let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
        let options = TestCutOptions::new()
            .resolution(self.resolution.inch())
            .dial_step(self.step.inch());
        TestCut::measured(&stack, "fit", &shown, &options).unwrap()
    }

    /// Draws what `which` picks: its part of the fit and of what is shown.
    fn draw(&self, stream: &mut Stream, which: &dyn Fn(&Event) -> bool) -> (f64, f64) {
        let (mut fit, mut shown) = (0.0, 0.0);
        let mut u = [0.0];
        for part in self.parts.iter().filter(|p| which(&p.event)) {
            stream.fill_open01(&mut u);
            let error = part.is.quantile(u[0]);
            fit += part.in_fit * error;
            shown += part.in_shown * error;
        }
        (fit, shown)
    }

    /// Cuts so many batches in so many shops.
    pub(crate) fn run(&self, shops: u64, seed: u64) -> Tally {
        let believed = self.believed();
        // Readings come in steps, so the same few come again and again; their order does not matter.
        let mut known: BTreeMap<Vec<i64>, (f64, f64, bool, f64)> = BTreeMap::new();
        let is_piece = |e: &Event| e.is_redrawn_by(&Event::piece());
        let is_move = |e: &Event| e.is_redrawn_by(&Event::jig_move());
        let is_kept = |e: &Event| !is_piece(e) && !is_move(e);
        let mut sums = Sums::default();
        for shop in 0..shops {
            let mut stream = Stream::new(seed, 1, shop);
            let kept = self.draw(&mut stream, &is_kept);
            let moved = self.draw(&mut stream, &is_move);
            let fresh = self.draw(&mut stream, &is_move);
            let mut steps: Vec<i64> = (0..self.tests)
                .map(|_| {
                    let piece = self.draw(&mut stream, &is_piece);
                    ((kept.1 + moved.1 + piece.1) / self.resolution).round() as i64
                })
                .collect();
            let last = steps[self.tests - 1] as f64 * self.resolution;
            steps.sort_unstable();
            let (forecast, x, moves, raises) = *known
                .entry(steps)
                .or_insert_with_key(|steps| advice(&believed, steps, self.resolution));
            let by_last = -(last / self.step).round() * self.step;
            let mut fits = [0.0; 3];
            for _ in 0..self.pieces {
                let piece = kept.0 + self.draw(&mut stream, &is_piece).0;
                let ways = [
                    piece + moved.0,
                    piece + fresh.0 + by_last,
                    if moves {
                        piece + fresh.0 + x
                    } else {
                        piece + moved.0
                    },
                ];
                for (fits, fit) in fits.iter_mut().zip(ways) {
                    *fits += f64::from(u8::from(fit.abs() <= 5.0 * THOU)) / self.pieces as f64;
                }
            }
            sums.add(fits, forecast);
            if moves {
                // Nearer to the middle is a better chance: everything about a piece is symmetric here.
                let is_nearer = (kept.0 + fresh.0 + x).abs() < (kept.0 + moved.0).abs();
                sums.moved(is_nearer, raises);
            }
        }
        sums.tally()
    }
}

/// Forecast, move, whether to move, and the chance that moving raises the fit.
fn advice(cut: &TestCut, steps: &[i64], resolution: f64) -> (f64, f64, bool, f64) {
    let readings: Vec<Length> = steps
        .iter()
        .map(|n| (*n as f64 * resolution).inch())
        .collect();
    // What is too strange for the plan leaves the jig where it is.
    let Ok(answer) = cut.after_readings(&readings) else {
        return (0.0, 0.0, false, 0.0);
    };
    match answer.advice {
        Advice::Leave => (answer.leave.value.inside, 0.0, false, 0.0),
        Advice::MoveBy(x) => (
            answer.moved.value.inside,
            x.to_inches(),
            true,
            answer.raises,
        ),
    }
}

#[derive(Default)]
struct Sums {
    shops: f64,
    fits: [f64; 3],
    squares: [f64; 3],
    forecast: f64,
    off: f64,
    off_squares: f64,
    moves: f64,
    raised: f64,
    raises: f64,
}

impl Sums {
    fn add(&mut self, fits: [f64; 3], forecast: f64) {
        self.shops += 1.0;
        for (i, share) in fits.into_iter().enumerate() {
            self.fits[i] += share;
            self.squares[i] += share * share;
        }
        let off = fits[2] - forecast;
        self.forecast += forecast;
        self.off += off;
        self.off_squares += off * off;
    }

    fn moved(&mut self, raised: bool, raises: f64) {
        self.moves += 1.0;
        self.raised += f64::from(u8::from(raised));
        self.raises += raises;
    }

    fn tally(&self) -> Tally {
        let n = self.shops;
        let error = |sum: f64, squares: f64| ((squares / n - (sum / n) * (sum / n)) / n).sqrt();
        let way = |i: usize| Way {
            fits: self.fits[i] / n,
            error: error(self.fits[i], self.squares[i]),
        };
        let share = self.raised / self.moves.max(1.0);
        Tally {
            never: way(0),
            always: way(1),
            advised: way(2),
            forecast: self.forecast / n,
            forecast_error: error(self.off, self.off_squares),
            moves: self.moves / n,
            raised: (share, self.raises / self.moves.max(1.0)),
            raised_error: (share * (1.0 - share) / self.moves.max(1.0)).sqrt(),
        }
    }
}
