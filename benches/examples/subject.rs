//! Our side of `benches/peers/run`: runs what a line on standard input names, once, and prints what it took.
//!
//! A line is `work seed trials`; the answer is the processor time of this thread in seconds, then what the work found.

use kerfwise_benches::{CosineError, reference, single};
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_stack::{Batch, MonteCarlo, QuasiMonteCarlo, Stack};
use std::error::Error;
use std::hint::black_box;
use std::io::{BufRead, Write};

/// Draws of a trial of the reference stack: one for each source.
const DRAWS: [&str; 10] = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j"];
/// The four normals are one.
const MERGED_DRAWS: usize = 7;

fn main() -> Result<(), Box<dyn Error>> {
    let stacks = Stacks {
        linear: reference(CosineError::Linear),
        mild: reference(CosineError::Mild),
        strong: reference(CosineError::Strong),
        single: single(),
    };
    let mut answers = std::io::stdout();
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        let mut words = line.split_whitespace();
        let work = words.next().unwrap_or_default();
        let seed = words.next().unwrap_or("1").parse()?;
        let trials = words.next().unwrap_or("1").parse()?;
        let before = cpu_seconds();
        let found = stacks.run(work, seed, trials)?;
        writeln!(answers, "{:e} {found:?}", cpu_seconds() - before)?;
    }
    Ok(())
}

struct Stacks {
    linear: Stack,
    mild: Stack,
    strong: Stack,
    single: Stack,
}

impl Stacks {
    /// The chance that was found, where there is one.
    fn run(&self, work: &str, seed: u64, trials: u64) -> Result<f64, Box<dyn Error>> {
        let options = MonteCarlo::new().trials(trials).seed(seed).threads(1);
        let simulated = |stack: &Stack, merge| -> Result<f64, Box<dyn Error>> {
            let answer = stack.monte_carlo(black_box(options.clone()).merge_normals(merge))?;
            Ok(answer.joint.map_or(0.0, |chance| chance.value))
        };
        match work {
            "trials" => simulated(&self.linear, false),
            "merged" => simulated(&self.linear, true),
            "strong" => simulated(&self.strong, true),
            "single" => simulated(&self.single, true),
            "points" => repeat(trials, || self.points(seed)),
            "words" => Ok(words(&DRAWS, seed, trials)),
            "merged_words" => Ok(words(&DRAWS[..MERGED_DRAWS], seed, trials)),
            "single_draw" => Ok(rectangular(seed, trials)?),
            "chance" => repeat(trials, || self.chance()),
            "report" => repeat(trials, || self.report()),
            "semi_mild" => repeat(trials, || held(&self.mild)),
            "semi_strong" => repeat(trials, || held(&self.strong)),
            "batch" => repeat(trials, || self.batch()),
            _ => Err(format!("no work is named \"{work}\"").into()),
        }
    }

    fn chance(&self) -> Result<f64, Box<dyn Error>> {
        let outcome = black_box(&self.linear).outcome("fit").ok_or("no outcome")?;
        let band = outcome.band().ok_or("no band")?;
        Ok(outcome.exact()?.chance(&band).value.inside)
    }

    /// Chance, mean, standard deviation and 95 % interval.
    fn report(&self) -> Result<f64, Box<dyn Error>> {
        let outcome = black_box(&self.linear).outcome("fit").ok_or("no outcome")?;
        let band = outcome.band().ok_or("no band")?;
        let exact = outcome.exact()?;
        black_box((
            exact.mean(),
            exact.standard_deviation(),
            exact.symmetric_interval(0.95),
        ));
        Ok(exact.chance(&band).value.inside)
    }

    /// The stack that is not affine, at even points.
    fn points(&self, seed: u64) -> Result<f64, Box<dyn Error>> {
        let outcome = black_box(&self.strong).outcome("fit").ok_or("no outcome")?;
        let answer = outcome.quasi_monte_carlo(QuasiMonteCarlo::new().seed(seed))?;
        Ok(answer.chance.inside)
    }

    fn batch(&self) -> Result<f64, Box<dyn Error>> {
        let outcome = black_box(&self.linear).outcome("fit").ok_or("no outcome")?;
        Ok(outcome.batch(Batch::of(24))?.all.value)
    }
}

/// The chance with the tilt held at the nodes of a quadrature.
fn held(stack: &Stack) -> Result<f64, Box<dyn Error>> {
    let outcome = black_box(stack).outcome("fit").ok_or("no outcome")?;
    let band = outcome.band().ok_or("no band")?;
    Ok(outcome.semi_exact()?.chance(&band).value.inside)
}

fn repeat(
    times: u64,
    work: impl Fn() -> Result<f64, Box<dyn Error>>,
) -> Result<f64, Box<dyn Error>> {
    let mut found = 0.0;
    for _ in 0..times {
        found = black_box(work()?);
    }
    Ok(found)
}

/// The floor: the random words of all draws, and nothing else.
fn words(draws: &[&str], seed: u64, trials: u64) -> f64 {
    let mut words = vec![0; 1024];
    let keys: Vec<u64> = draws.iter().map(|name| name_key(name)).collect();
    for block in 0..trials.div_ceil(1024) {
        for &key in &keys {
            Stream::new(seed, key, block).fill_words(black_box(&mut words));
        }
    }
    0.0
}

/// Sampling alone, of the stack with one rectangular source.
fn rectangular(seed: u64, trials: u64) -> Result<f64, Box<dyn Error>> {
    let law = kerfwise_source::Distribution::rectangular(-6e-3, 6e-3)?;
    let (mut column, key) = (vec![0.0; 1024], name_key("seat"));
    for block in 0..trials.div_ceil(1024) {
        law.fill(&mut Stream::new(seed, key, block), black_box(&mut column));
    }
    Ok(0.0)
}

/// Processor time of this thread: the wall clock would count what else the machine does.
#[cfg(unix)]
fn cpu_seconds() -> f64 {
    let time = rustix::time::clock_gettime(rustix::time::ClockId::ThreadCPUTime);
    time.tv_sec as f64 + 1e-9 * time.tv_nsec as f64
}

/// Time of day, where there is no clock for a thread.
#[cfg(not(unix))]
fn cpu_seconds() -> f64 {
    std::time::SystemTime::now()
        .duration_since(std::time::UNIX_EPOCH)
        .map_or(0.0, |time| time.as_secs_f64())
}
