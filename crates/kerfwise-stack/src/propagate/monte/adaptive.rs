//! When the adaptive procedure may stop (JCGM 101:2008, 7.9.4).

use super::tally::Tally;
use crate::run::block::BLOCK;

/// Results of one outcome over the M-blocks so far: estimate, standard uncertainty and both ends.
type Results = [Series; 4];

/// The stop rule.
#[derive(Debug, Clone)]
pub(super) struct Stability {
    digits: u32,
    level: f64,
    outcomes: Vec<Results>,
    /// Whether each outcome had numbers to give in every M-block.
    is_complete: bool,
}

impl Stability {
    pub(super) fn new(digits: u32, level: f64, outcomes: usize) -> Self {
        Self {
            digits,
            level,
            outcomes: vec![Results::default(); outcomes],
            is_complete: true,
        }
    }

    /// M, in blocks of the run: at least max(100/(1 − p), 10⁴) trials, rounded up to whole blocks.
    pub(super) fn blocks(level: f64) -> u64 {
        trials(level).div_ceil(BLOCK as u64)
    }

    /// Takes in the results of one whole M-block.
    pub(super) fn add(&mut self, part: &[Tally]) {
        for (results, tally) in self.outcomes.iter_mut().zip(part) {
            let quantiles = tally.quantiles();
            let Some(moments) = tally.moments(&quantiles) else {
                self.is_complete = false;
                continue;
            };
            let (low, high) = quantiles.symmetric_ranks(self.level);
            let values = [
                moments.mean.value,
                moments.standard_deviation.value,
                quantiles.ranked(low as f64),
                quantiles.ranked(high as f64),
            ];
            for (series, value) in results.iter_mut().zip(values) {
                series.add(value);
            }
        }
    }

    /// Whether twice the standard deviation of each averaged result is within the numerical tolerance of the standard
    /// uncertainty that all trials so far give.
    pub(super) fn is_reached(&self, total: &[Tally]) -> bool {
        self.is_complete
            && self.outcomes.iter().zip(total).all(|(results, tally)| {
                let u = tally
                    .moments(&tally.quantiles())
                    .map(|moments| moments.standard_deviation.value);
                u.is_some_and(|u| {
                    let tolerance = numerical_tolerance(u, self.digits);
                    results.iter().all(|series| {
                        series
                            .standard_error()
                            .is_some_and(|error| 2.0 * error <= tolerance)
                    })
                })
            })
    }
}

/// M of 7.9.4 b: max(J, 10⁴) with J the least integer not below 100/(1 − p).
fn trials(level: f64) -> u64 {
    let exact = 100.0 / (1.0 - level);
    // 1 − p is rounded, which may lift a whole number a little; it is meant whole.
    let whole = exact.round();
    let j = if (exact - whole).abs() < 1e-9 * exact {
        whole
    } else {
        exact.ceil()
    };
    (j as u64).max(10_000)
}

/// δ = ½·10ˡ, where u = c·10ˡ with an integer c of so many digits (7.9.2); 0 where u is 0.
pub(super) fn numerical_tolerance(u: f64, digits: u32) -> f64 {
    if u > 0.0 && u.is_finite() {
        let exponent = decimal_exponent(u, digits) - digits as i32;
        format!("5e{exponent}").parse().unwrap_or(0.0)
    } else {
        0.0
    }
}

/// The exponent of a number above 0 when it is written with so many significant digits: −3 for 0.0054, −2 for 0.00996
/// with two.
pub(crate) fn decimal_exponent(x: f64, digits: u32) -> i32 {
    let text = format!("{x:.*e}", digits.saturating_sub(1) as usize);
    text.split_once('e')
        .and_then(|(_, exponent)| exponent.parse().ok())
        .unwrap_or(0)
}

/// A running mean of block results (Welford, Technometrics 4 (1962) 419).
#[derive(Debug, Clone, Copy, Default)]
struct Series {
    count: f64,
    mean: f64,
    squares: f64,
}

impl Series {
    fn add(&mut self, value: f64) {
        self.count += 1.0;
        let step = value - self.mean;
        self.mean += step / self.count;
        self.squares += step * (value - self.mean);
    }

    /// Standard deviation of the mean of the results: s of 7.9.4 g. `None` before the second.
    fn standard_error(&self) -> Option<f64> {
        (self.count >= 2.0).then(|| (self.squares / (self.count * (self.count - 1.0))).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numerical_tolerances_are_those_of_the_clause() {
        // JCGM 101:2008, 7.9.2 examples; 9.2.2.7, 9.2.4.5, 9.3.2.6, 9.5.3.2.
        let rows = [
            (0.00035, 2, 0.000_005),
            (0.00035, 1, 0.000_05),
            (2.0, 1, 0.5),
            (2.0, 2, 0.05),
            (10.1, 2, 0.5),
            (10.1, 1, 5.0),
            (0.0754, 1, 0.005),
            (32.0, 2, 0.5),
            // 9.96 rounds to 10, which has l = 0 with two digits.
            (9.96, 2, 0.5),
            (0.0, 2, 0.0),
        ];
        for (u, digits, tolerance) in rows {
            let got = numerical_tolerance(u, digits);
            assert!(
                (got - tolerance).abs() <= 1e-15 * tolerance,
                "{u} with {digits}: {got}"
            );
        }
    }

    #[test]
    fn blocks_are_as_long_as_the_clause_says() {
        // JCGM 101:2008, 7.9.4 b.
        let rows = [
            (0.9, 10_000),
            (0.95, 10_000),
            (0.99, 10_000),
            (0.999, 100_000),
            (0.9999, 1_000_000),
            (0.99999, 10_000_000),
        ];
        for (level, m) in rows {
            assert_eq!(trials(level), m, "{level}");
        }
        assert_eq!(Stability::blocks(0.95), 10);
    }

    #[test]
    fn block_results_spread_as_the_clause_says() {
        // JCGM 101:2008, 7.9.4 g, worked out with exact fractions for three invented block results.
        let mut series = Series::default();
        assert_eq!(series.standard_error(), None);
        for value in [0.9021, 0.9030, 0.9018] {
            series.add(value);
        }
        let s = series.standard_error().expect("three results");
        // Rounding of numbers about 1.
        assert!((s - 0.000_360_555_127_546_395_2).abs() < 1e-15, "{s}");
    }
}
