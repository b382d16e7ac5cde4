//! A histogram of fixed cells that covers every finite number: quantiles in constant memory.
//!
//! A value y is taken as x = (y − centre)/scale, and cells are cut on 1 + |x|: 1,024 equal ones between each power
//! of two and the next, so they are a thousandth of the scale wide about the centre and a thousandth of the distance
//! from it further out (beyond 65,000 scales, a sixty-fourth). A cell's number is read off the bits of 1 + |x|.
//! Counts are integers: merging is exact, in any order.

use std::ops::AddAssign;

/// Bits of 1 + |x| that number the cells within an octave: near, and far out.
const FINE_BITS: u32 = 10;
const COARSE_BITS: u32 = 6;
/// Octaves with fine cells.
const FINE_OCTAVES: i32 = 16;
const FIRST_COARSE: i32 = FINE_OCTAVES << FINE_BITS;
/// 1 + |x| where they end.
const FIRST_COARSE_DISTANCE: f64 = (1_u64 << FINE_OCTAVES) as f64;
const ONE: u64 = 1.0_f64.to_bits();
const MANTISSA_BITS: u32 = f64::MANTISSA_DIGITS - 1;

/// Where values lie and how they spread, roughly: what cells and sums are centred on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Frame {
    centre: f64,
    /// A power of two, so that scaling is exact.
    scale: f64,
}

impl Frame {
    /// From some of the values: their median, and the standard deviation that a normal sample of their interquartile
    /// range would have.
    pub(super) fn of(mut pilot: Vec<f64>) -> Self {
        let count = pilot.len();
        let mut at = |rank: usize| {
            let is_there = rank < count;
            is_there.then(|| *pilot.select_nth_unstable_by(rank, f64::total_cmp).1)
        };
        let [low, centre, high] = [1, 2, 3].map(|part| at(count * part / 4).unwrap_or(0.0));
        let [first, last] = [0, count.saturating_sub(1)].map(|rank| at(rank).unwrap_or(0.0));
        let end_to_end = last - first;
        let spread = [
            (high - low) / 1.349,
            // Most of them are equal.
            end_to_end / 16.0,
            // All of them are.
            centre.abs() * f64::EPSILON,
        ];
        let spread = spread.into_iter().find(|spread| *spread > 0.0);
        Self {
            centre,
            scale: power_of_two_below(spread.unwrap_or(1.0)),
        }
    }

    /// What to take off a value, and by what to multiply the rest, for it to be standardised.
    pub(super) fn to_standard(self) -> (f64, f64) {
        (self.centre, 1.0 / self.scale)
    }

    pub(super) fn centre(&self) -> f64 {
        self.centre
    }

    pub(super) fn scale(&self) -> f64 {
        self.scale
    }

    /// The lower edge of a cell, which is the upper edge of the one before.
    fn edge(&self, place: i32) -> f64 {
        let x = if place < 0 {
            // The cell −1 − p mirrors the cell p: its lower edge is minus the upper edge of that.
            -distance(-place)
        } else {
            distance(place)
        };
        self.centre + x * self.scale
    }
}

/// The greatest power of two not above x, kept where it and its inverse are normal numbers.
fn power_of_two_below(x: f64) -> f64 {
    let bounded = x.clamp(f64::MIN_POSITIVE, 1.0 / f64::MIN_POSITIVE);
    f64::from_bits(bounded.to_bits() & !((1 << MANTISSA_BITS) - 1))
}

/// |x| at the start of a cell of the positive side.
fn distance(place: i32) -> f64 {
    let bits = if place < FIRST_COARSE {
        u64::from(place.unsigned_abs()) << (MANTISSA_BITS - FINE_BITS)
    } else {
        let coarse = place - FIRST_COARSE + (FINE_OCTAVES << COARSE_BITS);
        u64::from(coarse.unsigned_abs()) << (MANTISSA_BITS - COARSE_BITS)
    };
    f64::from_bits(ONE + bits) - 1.0
}

/// The cells of two values nearer than the coarse cells, counted from the first that counts are kept of: one in the lower
/// half of a word and one in the upper, which takes the fewest instructions for many at once.
#[inline(always)]
pub(super) fn two_places(low: f64, high: f64, first: i32) -> u64 {
    const LOWER: u64 = u32::MAX as u64;
    let shifted = |x: f64, shift: u32| {
        let bits = ((x.abs() + 1.0).to_bits() - ONE) >> shift;
        // All ones where x is below 0: the complement.
        bits ^ 0_u64.wrapping_sub(u64::from(x < 0.0))
    };
    let first = u64::from(first.cast_unsigned());
    let low = shifted(low, MANTISSA_BITS - FINE_BITS).wrapping_sub(first);
    let high = shifted(high, MANTISSA_BITS - FINE_BITS - 32).wrapping_sub(first << 32);
    (low & LOWER) | (high & !LOWER)
}

/// The cell of x: ascending with x.
#[inline(always)]
fn place(x: f64) -> i32 {
    // Overflow on the way here has made x infinite; such values share the last cell.
    let bits = (x.abs() + 1.0).min(f64::MAX).to_bits() - ONE;
    let fine = (bits >> (MANTISSA_BITS - FINE_BITS)) as i32;
    let coarse = (bits >> (MANTISSA_BITS - COARSE_BITS)) as i32 - (FINE_OCTAVES << COARSE_BITS)
        + FIRST_COARSE;
    let place = if fine < FIRST_COARSE { fine } else { coarse };
    if x < 0.0 { !place } else { place }
}

/// Counts of the cells between the least and the greatest that were ever met.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cells<C> {
    first: i32,
    counts: Vec<C>,
}

impl<C: Copy + Default + AddAssign + From<u8>> Cells<C> {
    pub(super) const fn new() -> Self {
        Self {
            first: 0,
            counts: Vec::new(),
        }
    }

    /// The cell that places are counted from.
    pub(super) fn first(&self) -> i32 {
        self.first
    }

    /// Makes room for values from the least to the greatest; whether all of them are nearer than the coarse cells.
    pub(super) fn cover(&mut self, frame: &Frame, least: f64, greatest: f64) -> bool {
        let (centre, inverse) = frame.to_standard();
        let (low, high) = ((least - centre) * inverse, (greatest - centre) * inverse);
        self.cover_cells(place(low), place(high));
        high.max(-low) + 1.0 < FIRST_COARSE_DISTANCE
    }

    /// Counts values that are covered.
    pub(super) fn count_each(&mut self, frame: &Frame, values: &[f64]) {
        let (centre, inverse) = frame.to_standard();
        for y in values {
            let place = (place((*y - centre) * inverse) - self.first) as usize;
            self.counts[place] += C::from(1);
        }
    }

    /// Counts the values in two places for each word.
    pub(super) fn count(&mut self, places: &[u64]) {
        // A slice of its own: the length then stays in a register, however the counts change.
        let counts = self.counts.as_mut_slice();
        // The compiler unrolls the inner loop, but would not one over all.
        for four in places.as_chunks::<4>().0 {
            for two in four {
                counts[*two as u32 as usize] += C::from(1);
                counts[(*two >> 32) as usize] += C::from(1);
            }
        }
    }

    /// Makes room for these cells, and for the rest of their octaves.
    fn cover_cells(&mut self, low: i32, high: i32) {
        const OCTAVE: i32 = 1 << FINE_BITS;
        let low = low.div_euclid(OCTAVE) * OCTAVE;
        let end = (high.div_euclid(OCTAVE) + 1) * OCTAVE;
        if self.counts.is_empty() {
            self.first = low;
        }
        if low < self.first {
            let missing = (self.first - low) as usize;
            self.counts
                .splice(0..0, std::iter::repeat_n(C::default(), missing));
            self.first = low;
        }
        let length = (end - self.first) as usize;
        if length > self.counts.len() {
            self.counts.resize(length, C::default());
        }
    }
}

impl Cells<u64> {
    /// Adds the counts of another and sets those to zero.
    pub(super) fn absorb<C>(&mut self, other: &mut Cells<C>)
    where
        C: Copy + Default + Into<u64>,
    {
        if other.counts.is_empty() {
            return;
        }
        self.cover_cells(other.first, other.first + other.counts.len() as i32 - 1);
        let offset = (other.first - self.first) as usize;
        for (sum, count) in self.counts[offset..].iter_mut().zip(&mut other.counts) {
            *sum += (*count).into();
            *count = C::default();
        }
    }

    /// The distribution of what was counted, between the least and the greatest value seen.
    pub(super) fn quantiles(&self, frame: &Frame, least: f64, greatest: f64) -> Quantiles {
        let mut steps = Vec::new();
        let mut before = 0;
        for (place, count) in (self.first..).zip(&self.counts) {
            if *count > 0 {
                let lower = frame.edge(place).clamp(least, greatest);
                steps.push(Step {
                    before,
                    after: before + count,
                    lower,
                    upper: frame.edge(place + 1).clamp(lower, greatest),
                });
                before += count;
            }
        }
        Quantiles { steps }
    }
}

/// A cell that is not empty, and how many values lie before and not after it.
#[derive(Debug, Clone, PartialEq)]
struct Step {
    before: u64,
    after: u64,
    lower: f64,
    upper: f64,
}

impl Step {
    /// The value at a fractional count within the cell, as if its values lay evenly.
    fn at(&self, count: f64) -> f64 {
        let part = (count - self.before as f64) / (self.after - self.before) as f64;
        self.lower + part.clamp(0.0, 1.0) * (self.upper - self.lower)
    }

    /// The value that comes at this place when all are sorted, in the middle of its share of the cell.
    fn ranked(&self, rank: u64) -> f64 {
        self.at(rank as f64 - 0.5)
    }
}

/// Order statistics, to within the width of a cell: 0.1 % of the distance from the median, or 0.2 % of the standard
/// deviation where that is more. Of a smooth distribution to some 1e-6 standard deviations.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Quantiles {
    steps: Vec<Step>,
}

impl Quantiles {
    fn count(&self) -> u64 {
        self.steps.last().map_or(0, |step| step.after)
    }

    /// The value that comes at this place (from 1, may lie between two) when all are sorted.
    pub(super) fn ranked(&self, rank: f64) -> f64 {
        let rank = rank.clamp(1.0, (self.count() as f64).max(1.0));
        let count = rank - 0.5;
        let index = self
            .steps
            .partition_point(|step| (step.after as f64) < count);
        self.steps.get(index).map_or(0.0, |step| step.at(count))
    }

    /// Ranks (from 1) of the ends of the probabilistically symmetric interval (JCGM 101:2008, 7.7.2).
    ///
    /// With too few values for the level they are the first and the last.
    pub(super) fn symmetric_ranks(&self, level: f64) -> (u64, u64) {
        let (r, covered) = symmetric_ranks(self.count(), level);
        (r, r + covered)
    }

    /// Standard error of a ranked value, free of any assumption about the distribution: the rank of a quantile is
    /// binomial, so half the distance between the values one standard deviation of the rank either side.
    pub(super) fn standard_error(&self, rank: u64) -> f64 {
        let (rank, count) = (rank as f64, self.count() as f64);
        let p = ((rank - 0.5) / count).clamp(0.0, 1.0);
        // Near an end the rank can hardly move: at least by one.
        let step = (count * p * (1.0 - p)).sqrt().max(1.0);
        let (below, above) = (self.ranked(rank - step), self.ranked(rank + step));
        let middle = self.ranked(rank);
        // Past an end there are no values; the other side tells.
        match (rank - step < 1.0, rank + step > count) {
            (false, false) => 0.5 * (above - below),
            (true, false) => above - middle,
            (false, true) => middle - below,
            (true, true) => above - below,
        }
    }

    /// Σ (x − about)⁴ of the standardised values, as if each lay in the middle of its cell.
    pub(super) fn fourth_power(&self, frame: &Frame, about: f64) -> f64 {
        let (centre, inverse) = frame.to_standard();
        let of_step = |step: &Step| {
            let middle = 0.5 * step.lower + 0.5 * step.upper;
            let distance = (middle - centre) * inverse - about;
            let square = distance * distance;
            (step.after - step.before) as f64 * (square * square)
        };
        self.steps.iter().map(of_step).sum()
    }

    /// The shortest interval that covers this part of the values: the least y_(r+q) − y_(r) (JCGM 101:2008, 7.7.2).
    pub(super) fn shortest(&self, level: f64) -> (f64, f64) {
        let (_, covered) = symmetric_ranks(self.count(), level);
        let mut best = (self.ranked(1.0), self.ranked(self.count() as f64));
        let mut consider = |lower: f64, upper: f64| {
            if upper - lower < best.1 - best.0 {
                best = (lower, upper);
            }
        };
        // While both ends stay in their cells the width is a straight line over the ranks, so where it is least one
        // end is the first or the last of its cell.
        let mut upper = Cursor::new(&self.steps);
        let mut lower = Cursor::new(&self.steps);
        for step in &self.steps {
            for rank in [step.before + 1, step.after] {
                if rank + covered <= self.count() {
                    consider(step.ranked(rank), upper.ranked(rank + covered));
                }
                if rank > covered {
                    consider(lower.ranked(rank - covered), step.ranked(rank));
                }
            }
        }
        best
    }
}

/// Walks through the cells for ranks that ascend.
struct Cursor<'a> {
    steps: &'a [Step],
}

impl<'a> Cursor<'a> {
    fn new(steps: &'a [Step]) -> Self {
        Self { steps }
    }

    fn ranked(&mut self, rank: u64) -> f64 {
        while let [first, rest @ ..] = self.steps {
            if first.after >= rank || rest.is_empty() {
                return first.ranked(rank);
            }
            self.steps = rest;
        }
        0.0
    }
}

/// r and q of JCGM 101:2008, 7.7.2, with r kept at 1 or more and r + q at M or less.
fn symmetric_ranks(count: u64, level: f64) -> (u64, u64) {
    let covered = (level * count as f64 + 0.5).floor() as u64;
    let covered = covered.min(count.saturating_sub(1));
    ((count - covered).div_ceil(2).max(1), covered)
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_numeric::stream::Stream;
    use proptest::prelude::*;

    fn count<C: Copy + Default + AddAssign + From<u8>>(
        cells: &mut Cells<C>,
        frame: &Frame,
        values: &[f64],
    ) {
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        cells.cover(frame, least, greatest);
        cells.count_each(frame, values);
    }

    fn quantiles_of(values: &[f64]) -> (Frame, Quantiles) {
        let frame = Frame::of(values.iter().copied().take(1024).collect());
        let mut cells: Cells<u64> = Cells::new();
        for block in values.chunks(1024) {
            count(&mut cells, &frame, block);
        }
        let least = values.iter().copied().fold(f64::INFINITY, f64::min);
        let greatest = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (frame, cells.quantiles(&frame, least, greatest))
    }

    #[test]
    fn ranks_are_those_of_the_clause() {
        // JCGM 101:2008, 7.7.2: (M, p) -> q, r, r + q, worked out by hand from its rules.
        let rows = [
            (10_000, 0.95, 9500, 250, 9750),
            (10_000, 0.99, 9900, 50, 9950),
            (100_000, 0.95, 95_000, 2500, 97_500),
            (1_000_000, 0.95, 950_000, 25_000, 975_000),
            (1001, 0.95, 951, 25, 976),
            (999, 0.9, 899, 50, 949),
            // Too few for the level: the extremes.
            (2, 0.95, 1, 1, 2),
            (3, 0.999, 2, 1, 3),
        ];
        for (count, level, q, r, end) in rows {
            assert_eq!(symmetric_ranks(count, level), (r, q), "{count} at {level}");
            assert_eq!(r + q, end);
        }
    }

    #[test]
    fn a_small_sample_has_the_intervals_of_the_clause() {
        // The rules of JCGM 101:2008, 7.7.2, worked out by hand for 20 invented numbers.
        let values = [
            0.31, -1.2, 0.05, 2.4, 0.62, -0.44, 0.18, 0.95, -0.07, 1.31, 0.44, -0.81, 0.27, 0.71,
            -0.2, 3.9, 0.12, 0.53, 1.02, 0.38,
        ];
        let (frame, quantiles) = quantiles_of(&values);
        let (low, high) = quantiles.symmetric_ranks(0.8);
        let symmetric = (quantiles.ranked(low as f64), quantiles.ranked(high as f64));
        // Single values are known to within their cell, below 3 thousandths of the scale so near the centre.
        let cell = 3e-3 * frame.scale();
        for (got, wanted) in [symmetric, quantiles.shortest(0.8)]
            .iter()
            .zip([(-0.81, 1.31); 2])
        {
            assert!((got.0 - wanted.0).abs() < cell, "{got:?}");
            assert!((got.1 - wanted.1).abs() < cell, "{got:?}");
        }
    }

    #[test]
    fn order_statistics_of_a_smooth_sample_are_nearly_exact() {
        let mut values = vec![0.0; 200_000];
        Stream::new(5, 6, 0).fill_open01(&mut values);
        for value in &mut values {
            // Logistic: smooth, tails of its own.
            *value = kerfwise_numeric::float::ln(*value / (1.0 - *value));
        }
        let (_, quantiles) = quantiles_of(&values);
        values.sort_by(f64::total_cmp);
        // Cells here are 2e-3 to 1e-2 wide. Where each holds a dozen values or more, which do not lie evenly, a twentieth
        // of a cell is what this sample needs; far out there are fewer than one to a cell, whose place is not known.
        for (rank, tolerance) in [
            (20_u32, 0.01),
            (5000, 5e-4),
            (100_000, 5e-4),
            (195_000, 5e-4),
            (199_980, 0.01),
        ] {
            let exact = values[rank as usize - 1];
            let got = quantiles.ranked(f64::from(rank));
            assert!(
                (got - exact).abs() < tolerance,
                "{rank}: {got}, not {exact}"
            );
        }
    }

    #[test]
    fn the_shortest_interval_of_an_exponential_sample_starts_at_its_origin() {
        let mut values = vec![0.0; 500_000];
        Stream::new(7, 8, 0).fill_open01(&mut values);
        for value in &mut values {
            *value = -kerfwise_numeric::float::ln(*value);
        }
        let (_, quantiles) = quantiles_of(&values);
        let (lower, upper) = quantiles.shortest(0.9);
        // -ln 0.1 = 2.302585; its standard error is sqrt(0.9 0.1 / n) / 0.1 = 0.0042, four of them.
        assert!(lower < 1e-3, "{lower}");
        assert!((upper - std::f64::consts::LN_10).abs() < 0.017, "{upper}");
    }

    #[test]
    fn equal_values_stay_what_they_are() {
        for value in [0.0, -0.375, 1e300, 5e-324] {
            let (_, quantiles) = quantiles_of(&[value; 40]);
            assert!((quantiles.ranked(3.0) - value).abs() <= 0.0);
            assert!((quantiles.shortest(0.9).1 - value).abs() <= 0.0);
            assert!(quantiles.standard_error(20).abs() <= 0.0);
        }
    }

    #[test]
    fn an_empty_histogram_answers_without_a_number_out_of_thin_air() {
        let quantiles = Cells::new().quantiles(&Frame::of(Vec::new()), 0.0, 0.0);
        assert!(quantiles.ranked(1.0).abs() <= 0.0);
        assert_eq!(quantiles.count(), 0);
    }

    proptest! {
        #[test]
        fn a_value_lies_between_the_edges_of_its_cell(
            centre in -1e3_f64..1e3, scale in 1e-6_f64..1e6, size in -30.0_f64..250.0, sign in prop::bool::ANY,
        ) {
            let frame = Frame { centre, scale: power_of_two_below(scale) };
            let size = kerfwise_numeric::float::powf(10.0, size);
            let y = centre + frame.scale * if sign { size } else { -size };
            let x = (y - centre) / frame.scale;
            let place = place(x);
            let near = if x.abs() < 65_000.0 { x } else { 0.5 };
            let two = two_places(near, -near, -7);
            prop_assert_eq!([two as i32 - 7, (two >> 32) as i32 - 7], [near, -near].map(super::place));
            let (lower, upper) = (frame.edge(place), frame.edge(place + 1));
            // An edge is rounded once more on its way back, next to the centre or to itself.
            let rounding = f64::EPSILON * (centre.abs() + y.abs());
            prop_assert!(lower - rounding <= y && y <= upper + rounding, "{y} in {lower} .. {upper}");
            // A 64th of 1 + |x|, whose octave may be twice as wide.
            prop_assert!(upper - lower <= (x.abs() + 1.0) * frame.scale / 64.0 + rounding);
        }

        #[test]
        fn cells_ascend(a in prop::num::f64::NORMAL, b in prop::num::f64::NORMAL) {
            let (low, high) = if a < b { (a, b) } else { (b, a) };
            prop_assert!(place(low) <= place(high));
        }

        #[test]
        fn merging_is_counting_together(
            a in prop::collection::vec(-1e4_f64..1e4, 1..50), b in prop::collection::vec(-1e9_f64..1e9, 1..50),
        ) {
            let frame = Frame { centre: 0.0, scale: 1.0 };
            let mut together: Cells<u64> = Cells::new();
            count(&mut together, &frame, &a);
            count(&mut together, &frame, &b);
            let (mut first, mut second): (Cells<u32>, Cells<u32>) = (Cells::new(), Cells::new());
            count(&mut first, &frame, &a);
            count(&mut second, &frame, &b);
            let mut merged = Cells::new();
            merged.absorb(&mut second);
            merged.absorb(&mut first);
            prop_assert_eq!(merged.quantiles(&frame, -1e9, 1e9), together.quantiles(&frame, -1e9, 1e9));
            prop_assert!(first.counts.iter().all(|count| *count == 0));
        }
    }
}
