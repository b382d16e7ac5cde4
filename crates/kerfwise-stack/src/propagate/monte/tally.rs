//! What a run keeps of its trials: counts and sums, first of a block, then of all blocks in their order.

use super::histogram::{Cells, Frame, Quantiles, two_places};
use crate::run::block::{BLOCK, Column};
use crate::{Bounded, Chance};
use kerfwise_numeric::columns::choose;
use kerfwise_numeric::sum::CompensatedSum;
use multiversion::multiversion;

/// What one block says about one outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct BlockSums {
    defined: u32,
    undefined: u32,
    below: u32,
    above: u32,
    /// Sums of the standardised values and of their squares.
    powers: [f64; 2],
    least: f64,
    greatest: f64,
}

impl BlockSums {
    /// How many lie in the band.
    pub(super) fn inside(&self) -> u64 {
        u64::from(self.defined - self.below - self.above)
    }
}

/// Scratch space for reading output columns.
#[derive(Debug)]
pub(super) struct Reading {
    /// Values, the undefined ones left out.
    defined: Box<Column>,
    places: Box<Places>,
    lanes: Box<Lanes>,
}

impl Reading {
    pub(super) fn new() -> Self {
        Self {
            defined: Box::new([0.0; BLOCK]),
            places: Box::new([0; BLOCK / 2]),
            lanes: Box::new(Lanes::new()),
        }
    }

    /// Reads the first `rows` of an output column and counts them in the cells.
    pub(super) fn read(
        &mut self,
        column: &Column,
        rows: usize,
        frame: &Frame,
        band: Option<(f64, f64)>,
        cells: &mut Cells<u32>,
    ) -> BlockSums {
        // No value is beyond an infinite limit.
        let band = band.unwrap_or((f64::NEG_INFINITY, f64::INFINITY));
        let first = cells.first();
        let all = survey(
            column,
            frame.to_standard(),
            band,
            first,
            &mut self.places,
            &mut self.lanes,
        );
        if rows == BLOCK && all.is_finite() {
            // Most often the survey has found their cells.
            if cells.cover(frame, all.least, all.greatest) && cells.first() == first {
                cells.count(&*self.places);
            } else {
                cells.count_each(frame, column);
            }
            return all.of_block(rows, rows);
        }
        let mut count = 0;
        let defined = column[..rows].iter().filter(|value| value.is_finite());
        for (slot, value) in self.defined.iter_mut().zip(defined) {
            *slot = *value;
            count += 1;
        }
        let defined = &self.defined[..count];
        let all = Survey::of_few(defined, frame, band);
        if count > 0 {
            cells.cover(frame, all.least, all.greatest);
            cells.count_each(frame, defined);
        }
        all.of_block(count, rows)
    }
}

/// Where the values of a block are counted: two places in each word.
type Places = [u64; BLOCK / 2];

/// Sums and extremes of some values.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Survey {
    powers: [f64; 2],
    least: f64,
    greatest: f64,
    below: u64,
    above: u64,
}

/// Values that are worked on side by side: the order of additions is fixed, and the compiler can use wide registers.
const LANES: usize = 128;
const ROWS: usize = BLOCK / LANES;

/// The surveys of all lanes; kept from block to block, since to clear them would take a tenth of the time.
#[derive(Debug)]
struct Lanes {
    powers: [[f64; LANES]; 2],
    least: [f64; LANES],
    greatest: [f64; LANES],
    below: [u64; LANES],
    above: [u64; LANES],
}

impl Lanes {
    const fn new() -> Self {
        Self {
            powers: [[0.0; LANES]; 2],
            least: [0.0; LANES],
            greatest: [0.0; LANES],
            below: [0; LANES],
            above: [0; LANES],
        }
    }
}

impl Survey {
    const NONE: Self = Self {
        powers: [0.0; 2],
        least: f64::INFINITY,
        greatest: f64::NEG_INFINITY,
        below: 0,
        above: 0,
    };

    /// Takes in a value y, which is x when standardised.
    #[inline(always)]
    fn add(&mut self, y: f64, x: f64, (lower, upper): (f64, f64)) {
        self.powers[0] += x;
        self.powers[1] += x * x;
        // Simpler than `f64::min`, whose care for NaN costs.
        self.least = choose(y < self.least, y, self.least);
        self.greatest = choose(y > self.greatest, y, self.greatest);
        self.below += u64::from(y < lower);
        self.above += u64::from(y > upper);
    }

    /// Whether all values are finite; perhaps not, where their squares are not.
    fn is_finite(&self) -> bool {
        self.powers[1].is_finite()
    }

    /// Of any number of values, one after another.
    fn of_few(values: &[f64], frame: &Frame, band: (f64, f64)) -> Self {
        let (centre, inverse) = frame.to_standard();
        let mut all = Self::NONE;
        for y in values {
            all.add(*y, (*y - centre) * inverse, band);
        }
        all
    }

    /// With so many defined values in so many rows.
    fn of_block(self, count: usize, rows: usize) -> BlockSums {
        BlockSums {
            defined: count as u32,
            undefined: (rows - count) as u32,
            below: self.below as u32,
            above: self.above as u32,
            powers: self.powers,
            least: self.least,
            greatest: self.greatest,
        }
    }
}

/// Of a whole column: each lane by itself, then the lanes by halves. Also the cells of the values, counted from `first`,
/// as long as none lies far out.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn survey(
    column: &Column,
    (centre, inverse): (f64, f64),
    band: (f64, f64),
    first: i32,
    places: &mut Places,
    lanes: &mut Lanes,
) -> Survey {
    let Lanes {
        powers,
        least,
        greatest,
        below,
        above,
    } = lanes;
    for lane in 0..LANES {
        let mut of_lane = Survey::NONE;
        for pair in 0..ROWS / 2 {
            let [low, high] = [0, 1].map(|half| {
                let y = column[(2 * pair + half) * LANES + lane];
                let x = (y - centre) * inverse;
                of_lane.add(y, x, band);
                x
            });
            places[pair * LANES + lane] = two_places(low, high, first);
        }
        for (power, sum) in powers.iter_mut().zip(of_lane.powers) {
            power[lane] = sum;
        }
        (least[lane], greatest[lane]) = (of_lane.least, of_lane.greatest);
        (below[lane], above[lane]) = (of_lane.below, of_lane.above);
    }
    Survey {
        powers: powers
            .each_ref()
            .map(|lanes| by_halves(lanes, |a, b| a + b)),
        least: by_halves(least, |a, b| choose(b < a, b, a)),
        greatest: by_halves(greatest, |a, b| choose(b > a, b, a)),
        below: by_halves(below, |a, b| a + b),
        above: by_halves(above, |a, b| a + b),
    }
}

/// All lanes as one: the second half is joined to the first, until one is left.
#[inline(always)]
fn by_halves<T: Copy>(lanes: &[T; LANES], join: impl Fn(T, T) -> T) -> T {
    // Of fixed lengths: from a loop over a length that shrinks the compiler makes masked stores, each of which takes some
    // twenty cycles.
    let lanes: [T; 64] = halve(lanes, &join);
    let lanes: [T; 32] = halve(&lanes, &join);
    let lanes: [T; 16] = halve(&lanes, &join);
    let lanes: [T; 8] = halve(&lanes, &join);
    let lanes: [T; 4] = halve(&lanes, &join);
    let lanes: [T; 2] = halve(&lanes, &join);
    join(lanes[0], lanes[1])
}

#[inline(always)]
fn halve<T: Copy, const H: usize>(lanes: &[T], join: &impl Fn(T, T) -> T) -> [T; H] {
    std::array::from_fn(|lane| join(lanes[lane], lanes[lane + H]))
}

/// How many are true.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub(super) fn count_true(fits: &[bool]) -> u64 {
    fits.iter().map(|fits| u64::from(*fits)).sum()
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
    powers: [CompensatedSum; 2],
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
            powers: [CompensatedSum::new(); 2],
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
    /// 12.5 and 10.6), m₄ being the fourth central moment of the trials, to within the width of a cell: no distribution is
    /// assumed.
    pub(super) fn moments(&self, quantiles: &Quantiles) -> Option<Moments> {
        let n = self.defined as f64;
        let [p1, p2] = self.powers.map(|sum| sum.value());
        // Otherwise ∞ − ∞ could pass for a variance of 0 below.
        if n < 2.0 || !p1.is_finite() || !p2.is_finite() {
            return None;
        }
        let mean = p1 / n;
        let variance = ((p2 - p1 * mean) / (n - 1.0)).max(0.0);
        let fourth = quantiles.fourth_power(&self.frame, mean) / n;
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

    /// The part of Σ(y − ȳ)² that the trial farthest from the mean has.
    pub(super) fn part_of_one(&self) -> Option<f64> {
        let n = self.defined as f64;
        let [p1, p2] = self.powers.map(|sum| sum.value());
        let mean = p1 / n;
        let total = p2 - p1 * mean;
        let (centre, inverse) = self.frame.to_standard();
        let far = |end: f64| {
            let x = (end - centre) * inverse - mean;
            x * x
        };
        let part = far(self.least).max(far(self.greatest)) / total;
        (total > 0.0 && part.is_finite()).then_some(part)
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
        let (mut reading, mut cells) = (Reading::new(), Cells::new());
        let mut all = Vec::new();
        for block in blocks {
            let mut fits = vec![true; block.len()];
            if let Some(band) = band {
                keep_fitting(&mut fits, block, band);
            }
            let mut column = [0.0; BLOCK];
            column[..block.len()].copy_from_slice(block);
            tally.add(&reading.read(&column, block.len(), &tally.frame, band, &mut cells));
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
        let moments = tally
            .moments(&tally.quantiles())
            .expect("eight small numbers");
        let variance: f64 = 32.0 / 7.0;
        close(moments.mean.value, 5.0);
        close(moments.mean.error, (variance / 8.0).sqrt());
        close(moments.standard_deviation.value, variance.sqrt());
        let of_variance = (356.0 / 8.0 - variance * variance * 5.0 / 7.0) / 8.0;
        let error = of_variance.sqrt() / (2.0 * variance.sqrt());
        // Distances are known to within their cell, a thousandth of them, so fourth powers to within four thousandths.
        assert!((moments.standard_deviation.error / error - 1.0).abs() < 4e-3);
    }

    #[test]
    fn a_whole_block_is_the_sum_of_its_values() {
        let mut column = [0.0; BLOCK];
        kerfwise_numeric::stream::Stream::new(1, 2, 3).fill_open01(&mut column);
        let frame = Frame::of(column.to_vec());
        let band = (0.1, 0.7);
        let mut lanes = Lanes::new();
        let mut places = [0; BLOCK / 2];
        let few = Survey::of_few(&column, &frame, band);
        let (mut by_places, mut one_by_one): (Cells<u32>, Cells<u32>) =
            (Cells::new(), Cells::new());
        assert!(by_places.cover(&frame, few.least, few.greatest));
        let first = by_places.first();
        let mut survey = |column: &Column| {
            let standard = frame.to_standard();
            survey(column, standard, band, first, &mut places, &mut lanes)
        };
        let whole = survey(&column);
        assert_eq!((whole.below, whole.above), (few.below, few.above));
        assert_eq!(
            [whole.least, whole.greatest].map(f64::to_bits),
            [few.least, few.greatest].map(f64::to_bits)
        );
        for (one, other) in whole.powers.iter().zip(few.powers) {
            // A thousand roundings of sums up to a thousand.
            assert!((one - other).abs() < 1e-10, "{one} and {other}");
        }
        let mut broken = column;
        broken[77] = f64::INFINITY;
        assert!(!survey(&broken).is_finite());
        survey(&column);
        by_places.count(&places);
        one_by_one.cover(&frame, few.least, few.greatest);
        one_by_one.count_each(&frame, &column);
        assert_eq!(by_places, one_by_one);
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
        assert_eq!(tally.moments(&tally.quantiles()), None);
        assert!((tally.quantiles().ranked(4.0) - 2.0).abs() < 0.01);
    }
}
