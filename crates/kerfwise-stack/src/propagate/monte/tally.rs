//! What a run keeps of its trials: counts and sums, first of a block, then of all blocks in their order.

use super::histogram::{Cells, Frame, Quantiles};
use crate::{Bounded, Chance};
use kerfwise_numeric::sum::CompensatedSum;
use multiversion::multiversion;

/// What one block says about one outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BlockSums {
    defined: u32,
    undefined: u32,
    below: u32,
    above: u32,
    /// Sums of the first four powers of the standardised values.
    powers: [f64; 4],
    least: f64,
    greatest: f64,
}

/// Scratch space for reading output columns.
#[derive(Debug, Default)]
pub(super) struct Reading {
    defined: Vec<f64>,
    standardised: Vec<f64>,
    places: Vec<i32>,
}

impl Reading {
    /// Reads an output column (its used rows) and counts it in the cells.
    ///
    /// `fits` is cleared where the value does not lie in the band; a value that is not defined does not.
    pub(super) fn read(
        &mut self,
        column: &[f64],
        frame: &Frame,
        band: Option<(f64, f64)>,
        cells: &mut Cells<u32>,
        fits: &mut [bool],
    ) -> BlockSums {
        let count = finite(column);
        let defined = if count == column.len() {
            column
        } else {
            self.defined.clear();
            self.defined
                .extend(column.iter().copied().filter(|value| value.is_finite()));
            &self.defined
        };
        frame.standardise(defined, &mut self.standardised);
        cells.count(&self.standardised, &mut self.places);
        let (below, above) = band.map_or((0, 0), |(lower, upper)| {
            keep_fitting(fits, column, (lower, upper));
            beyond(defined, (lower, upper))
        });
        let (least, greatest) = extremes(defined);
        BlockSums {
            defined: count as u32,
            undefined: (column.len() - count) as u32,
            below,
            above,
            powers: power_sums(&self.standardised),
            least,
            greatest,
        }
    }
}

/// Numbers that are worked on side by side: the order is fixed, and the compiler can use wide registers.
const LANES: usize = 8;

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn power_sums(values: &[f64]) -> [f64; 4] {
    let mut sums = [[0.0; LANES]; 4];
    let mut add = |lane: usize, x: f64| {
        let square = x * x;
        sums[0][lane] += x;
        sums[1][lane] += square;
        sums[2][lane] += square * x;
        sums[3][lane] += square * square;
    };
    let (whole, rest) = values.as_chunks::<LANES>();
    for chunk in whole {
        for (lane, x) in chunk.iter().enumerate() {
            add(lane, *x);
        }
    }
    for (lane, x) in rest.iter().enumerate() {
        add(lane, *x);
    }
    sums.map(|lanes| lanes.iter().fold(0.0, |sum, lane| sum + lane))
}

/// How many values are finite.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn finite(values: &[f64]) -> usize {
    values.iter().map(|y| u64::from(y.is_finite())).sum::<u64>() as usize
}

/// How many values are below the lower limit, and above the upper one.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn beyond(values: &[f64], (lower, upper): (f64, f64)) -> (u32, u32) {
    let (mut below, mut above) = (0_u64, 0_u64);
    for y in values {
        below += u64::from(*y < lower);
        above += u64::from(*y > upper);
    }
    (below as u32, above as u32)
}

/// The least and the greatest value; (∞, −∞) of none.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn extremes(values: &[f64]) -> (f64, f64) {
    let mut least = [f64::INFINITY; LANES];
    let mut greatest = [f64::NEG_INFINITY; LANES];
    let mut take = |lane: usize, y: f64| {
        // Simpler than `f64::min`, whose care for NaN costs: there is none here.
        least[lane] = if y < least[lane] { y } else { least[lane] };
        greatest[lane] = if y > greatest[lane] {
            y
        } else {
            greatest[lane]
        };
    };
    let (whole, rest) = values.as_chunks::<LANES>();
    for chunk in whole {
        for (lane, y) in chunk.iter().enumerate() {
            take(lane, *y);
        }
    }
    for (lane, y) in rest.iter().enumerate() {
        take(lane, *y);
    }
    (
        least.into_iter().fold(f64::INFINITY, f64::min),
        greatest.into_iter().fold(f64::NEG_INFINITY, f64::max),
    )
}

/// Clears `fits` where a value does not lie between the limits, both included, or is not finite.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn keep_fitting(fits: &mut [bool], column: &[f64], (lower, upper): (f64, f64)) {
    for (fits, value) in fits.iter_mut().zip(column) {
        // Without branches.
        *fits &= (lower <= *value) & (*value <= upper) & value.is_finite();
    }
}

/// What many blocks say about one outcome.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Tally {
    pub(super) frame: Frame,
    pub(super) defined: u64,
    pub(super) undefined: u64,
    below: u64,
    above: u64,
    powers: [CompensatedSum; 4],
    pub(super) least: f64,
    pub(super) greatest: f64,
    pub(super) cells: Cells<u64>,
}

/// Mean and standard deviation, each with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Moments {
    pub(super) mean: Bounded<f64>,
    pub(super) standard_deviation: Bounded<f64>,
}

impl Tally {
    pub(super) fn new(frame: Frame) -> Self {
        Self {
            frame,
            defined: 0,
            undefined: 0,
            below: 0,
            above: 0,
            powers: [CompensatedSum::new(); 4],
            least: f64::INFINITY,
            greatest: f64::NEG_INFINITY,
            cells: Cells::new(),
        }
    }

    /// Adds a block; blocks come in their order.
    pub(super) fn add(&mut self, block: &BlockSums) {
        self.defined += u64::from(block.defined);
        self.undefined += u64::from(block.undefined);
        self.below += u64::from(block.below);
        self.above += u64::from(block.above);
        for (sum, power) in self.powers.iter_mut().zip(block.powers) {
            sum.add(power);
        }
        self.least = self.least.min(block.least);
        self.greatest = self.greatest.max(block.greatest);
    }

    /// Adds what came after.
    pub(super) fn merge(&mut self, mut later: Self) {
        self.defined += later.defined;
        self.undefined += later.undefined;
        self.below += later.below;
        self.above += later.above;
        for (sum, power) in self.powers.iter_mut().zip(&later.powers) {
            sum.merge(power);
        }
        self.least = self.least.min(later.least);
        self.greatest = self.greatest.max(later.greatest);
        self.cells.absorb(&mut later.cells);
    }

    pub(super) fn quantiles(&self) -> Quantiles {
        self.cells.quantiles(&self.frame, self.least, self.greatest)
    }

    /// `None` where the sums overflow, or there are not two values.
    ///
    /// ```text
    /// s² = Σ(y − ȳ)²/(n − 1),   se(ȳ) = s/√n,   se(s) = √((m₄ − s⁴(n − 3)/(n − 1))/n)/(2s)
    /// ```
    ///
    /// The last from the variance of a sample variance (Kendall & Stuart, The Advanced Theory of Statistics, vol. 1,
    /// 12.5 and 10.6), m₄ being the fourth central moment of the trials: no distribution is assumed.
    pub(super) fn moments(&self) -> Option<Moments> {
        let n = self.defined as f64;
        let [p1, p2, p3, p4] = self.powers.map(|sum| sum.value());
        // Otherwise ∞ − ∞ could pass for a variance of 0 below.
        if n < 2.0 || ![p1, p2, p3, p4].iter().all(|power| power.is_finite()) {
            return None;
        }
        let mean = p1 / n;
        let variance = ((p2 - p1 * mean) / (n - 1.0)).max(0.0);
        let fourth = (p4 - 4.0 * mean * p3 + 6.0 * mean * mean * p2) / n
            - 3.0 * (mean * mean) * (mean * mean);
        if !fourth.is_finite() {
            return None;
        }
        let spread_of_variance = (fourth - variance * variance * (n - 3.0) / (n - 1.0)) / n;
        let sd = variance.sqrt();
        let scale = self.frame.scale();
        let error_of_sd = if sd > 0.0 {
            spread_of_variance.max(0.0).sqrt() / (2.0 * sd)
        } else {
            0.0
        };
        let mean = Bounded {
            value: self.frame.centre() + mean * scale,
            error: sd * scale / n.sqrt(),
        };
        let standard_deviation = Bounded {
            value: sd * scale,
            error: error_of_sd * scale,
        };
        let numbers = [
            mean.value,
            mean.error,
            standard_deviation.value,
            standard_deviation.error,
        ];
        numbers.iter().all(|x| x.is_finite()).then_some(Moments {
            mean,
            standard_deviation,
        })
    }

    /// Chances over the defined trials, and their standard errors.
    pub(super) fn chance(&self) -> (Chance, Chance) {
        let of = |count: u64| proportion(count, self.defined);
        let inside = self.defined - self.below - self.above;
        let [below, inside, above] = [self.below, inside, self.above].map(of);
        let value = Chance {
            below: below.value,
            inside: inside.value,
            above: above.value,
        };
        let error = Chance {
            below: below.error,
            inside: inside.error,
            above: above.error,
        };
        (value, error)
    }
}

/// A chance from counts, with a standard error that is never zero.
///
/// ```text
/// k/n,   √(p(1 − p)/(n + 4)) with p = (k + 2)/(n + 4)
/// ```
///
/// The binomial standard error with two successes and two failures added (Agresti & Coull, The American Statistician
/// 52 (1998) 119). Where all trials or none succeed it is √2/n, so that twice it is about 3/n, the 95 % bound.
pub(super) fn proportion(count: u64, of: u64) -> Bounded<f64> {
    let (k, n) = (count as f64, of as f64);
    let p = (k + 2.0) / (n + 4.0);
    Bounded {
        value: k / n,
        error: (p * (1.0 - p) / (n + 4.0)).sqrt(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tally(blocks: &[&[f64]], band: Option<(f64, f64)>) -> (Tally, Vec<bool>) {
        let pilot = blocks[0].iter().copied().filter(|y| y.is_finite());
        let mut tally = Tally::new(Frame::of(pilot.collect()));
        let (mut reading, mut cells) = (Reading::default(), Cells::new());
        let mut all = Vec::new();
        for block in blocks {
            let mut fits = vec![true; block.len()];
            tally.add(&reading.read(block, &tally.frame, band, &mut cells, &mut fits));
            all.extend(fits);
        }
        tally.cells.absorb(&mut cells);
        (tally, all)
    }

    fn close(got: f64, wanted: f64) {
        // A few roundings of numbers about 1.
        assert!((got - wanted).abs() < 1e-14, "{got}, not {wanted}");
    }

    #[test]
    fn moments_are_those_of_the_schoolbook() {
        // Worked out by hand: 2, 4, 4, 4, 5, 5, 7, 9 have mean 5, Σ(y−ȳ)² = 32, Σ(y−ȳ)⁴ = 81 + 3 + 0 + 16 + 256 = 356.
        let (tally, _) = tally(&[&[2.0, 4.0, 4.0], &[4.0, 5.0, 5.0, 7.0, 9.0]], None);
        let moments = tally.moments().expect("eight small numbers");
        let variance: f64 = 32.0 / 7.0;
        close(moments.mean.value, 5.0);
        close(moments.mean.error, (variance / 8.0).sqrt());
        close(moments.standard_deviation.value, variance.sqrt());
        let of_variance = (356.0 / 8.0 - variance * variance * 5.0 / 7.0) / 8.0;
        close(
            moments.standard_deviation.error,
            of_variance.sqrt() / (2.0 * variance.sqrt()),
        );
    }

    #[test]
    fn limits_are_inside_and_undefined_trials_are_neither() {
        let column = [
            -1.0,
            -0.999,
            0.0,
            f64::NAN,
            1.0,
            1.001,
            f64::INFINITY,
            -2.0,
            -3.0,
            0.5,
        ];
        let (tally, fits) = tally(&[&column], Some((-1.0, 1.0)));
        assert_eq!((tally.defined, tally.undefined), (8, 2));
        assert_eq!((tally.below, tally.above), (2, 1));
        let (chance, _) = tally.chance();
        close(chance.below, 0.25);
        close(chance.inside, 0.625);
        close(chance.above, 0.125);
        let wanted = [
            true, true, true, false, true, false, false, false, false, true,
        ];
        assert_eq!(fits, wanted);
    }

    #[test]
    fn no_disagreement_is_not_certainty() {
        for n in [10, 1000, 1_000_000_u64] {
            let none = proportion(0, n);
            let all = proportion(n, n);
            let bound = 3.0 / n as f64;
            assert!(
                none.error > 0.3 * bound && none.error < 0.5 * bound,
                "{none:?}"
            );
            assert!((none.error - all.error).abs() < 1e-9 * bound);
        }
        // Far from the ends it is the binomial one, here √(0.3·0.7/10000).
        assert!((proportion(3000, 10_000).error / 0.21_f64.sqrt() / 0.01 - 1.0).abs() < 1e-3);
    }

    #[test]
    fn sums_that_overflow_are_owned_up_to() {
        let (tally, _) = tally(&[&[0.0, 1.0, 2.0, 3.0, 4.0, 1e300, -1e300]], None);
        assert_eq!(tally.moments(), None);
        assert!((tally.quantiles().ranked(4.0) - 2.0).abs() < 0.01);
    }
}
