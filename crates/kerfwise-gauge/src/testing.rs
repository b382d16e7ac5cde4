//! Helpers of tests.

use kerfwise_numeric::special::normal_quantile;
use kerfwise_numeric::stream::Stream;

#[track_caller]
pub(crate) fn assert_near(value: f64, expected: f64, relative: f64) {
    assert!(
        ((value - expected) / expected).abs() <= relative,
        "{value:e} instead of {expected:e}"
    );
}

/// Fails where an interval covers less often than its stated rate allows: four binomial standard errors.
#[track_caller]
pub(crate) fn assert_covers(hits: u32, of: u32, rate: f64, what: &str) {
    let found = f64::from(hits) / f64::from(of);
    let error = (rate * (1.0 - rate) / f64::from(of)).sqrt();
    assert!(
        found > rate - 4.0 * error,
        "covers {found}, not {rate}: {what}"
    );
}

/// Standard normal and rectangular numbers at a fixed seed.
pub(crate) struct Normals {
    stream: Stream,
    ready: Vec<f64>,
}

impl Normals {
    pub(crate) fn new(seed: u64) -> Self {
        Self {
            stream: Stream::new(seed, 0, 0),
            ready: Vec::new(),
        }
    }

    /// Above 0 and below 1.
    pub(crate) fn uniform(&mut self) -> f64 {
        if self.ready.is_empty() {
            self.ready.resize(1024, 0.0);
            self.stream.fill_open01(&mut self.ready);
        }
        self.ready.pop().unwrap()
    }

    pub(crate) fn draw(&mut self) -> f64 {
        normal_quantile(self.uniform())
    }

    pub(crate) fn column(&mut self, n: usize) -> Vec<f64> {
        (0..n).map(|_| self.draw()).collect()
    }
}
