//! Whole columns of numbers at once, by the widest instructions that the processor has.
//!
//! Plain loops without branches, compiled for SSE2, AVX2 and AVX-512 and chosen at run time. They use + − × ÷, comparisons and
//! bits, never a fused multiply-add, so all of them give the same bits.

#[cfg(target_arch = "x86_64")]
mod avx2;
mod elementary;

pub use elementary::{bessel_j0s, exps, times_sinc};
pub(crate) use elementary::{exp, ln};

use crate::float;
use multiversion::multiversion;
use multiversion::target::match_target;
use std::f64::consts::PI;
use std::sync::OnceLock;

/// Binary digits after the first one that number the cells of a factor of two.
const CELL_BITS: u32 = 7;
/// Cells for each factor of two.
const PER_OCTAVE: usize = 1 << CELL_BITS;
/// The table begins at 2^-16: of 32,768 uniform numbers one lies beyond, on either side.
const OCTAVES: usize = 15;
const SMALLEST: f64 = 1.0 / 65_536.0;
/// A cell for what lies below the smallest; then the octaves up to 1/2.
const TAIL: usize = 2048;
/// Numbers of one tail.
const FLAT: usize = 4 * TAIL;
/// Number of the cell before the first.
const FIRST: u64 = (SMALLEST.to_bits() >> (52 - CELL_BITS)) - 1;
/// Bits that tell how far into its cell a number lies.
const PART: u64 = (1 << (52 - CELL_BITS)) - 1;
const ONE: u64 = 1.0_f64.to_bits();
/// Numbers that go through all steps together, so that they stay in the nearest cache.
const CHUNK: usize = 128;

/// A cubic polynomial, lowest power first; NaN where no polynomial follows the quantile.
type Cell = [f64; 4];

/// One of two numbers, by their bits: a branch would keep a loop over a column from being vectorised.
///
/// ```
/// use kerfwise_numeric::columns::choose;
/// assert_eq!((choose(true, 1.0, 2.0), choose(false, 1.0, 2.0)), (1.0, 2.0));
/// ```
#[inline(always)]
#[must_use]
pub fn choose(is_first: bool, first: f64, second: f64) -> f64 {
    let mask = 0_u64.wrapping_sub(u64::from(is_first));
    f64::from_bits((first.to_bits() & mask) | (second.to_bits() & !mask))
}

/// x becomes factor·x + shift.
///
/// ```
/// let mut column = [0.0, 1.0, 2.0];
/// kerfwise_numeric::columns::scale_and_shift(&mut column, 2.0, 0.5);
/// assert_eq!(column, [0.5, 2.5, 4.5]);
/// ```
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn scale_and_shift(column: &mut [f64], factor: f64, shift: f64) {
    for x in column {
        *x = factor * *x + shift;
    }
}

/// x becomes factor·x + shift, or the greatest number of its sign where that overflows.
///
/// ```
/// let mut column = [-1e308, 0.5, f64::INFINITY];
/// kerfwise_numeric::columns::scale_and_shift_finite(&mut column, 4.0, 1.0);
/// assert_eq!(column, [f64::MIN, 3.0, f64::MAX]);
/// ```
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn scale_and_shift_finite(column: &mut [f64], factor: f64, shift: f64) {
    for x in column {
        *x = clamped(factor * *x + shift, f64::MIN, f64::MAX);
    }
}

/// x becomes x + shift.
///
/// ```
/// let mut column = [0.0, 1.0, 2.0];
/// kerfwise_numeric::columns::shift(&mut column, 0.5);
/// assert_eq!(column, [0.5, 1.5, 2.5]);
/// ```
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn shift(column: &mut [f64], shift: f64) {
    for x in column {
        *x += shift;
    }
}

/// x below `least` becomes that, x above `greatest` becomes this; NaN stays.
///
/// ```
/// let mut column = [-3.0, 0.5, 3.0];
/// kerfwise_numeric::columns::clamp(&mut column, -1.0, 1.0);
/// assert_eq!(column, [-1.0, 0.5, 1.0]);
/// ```
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
pub fn clamp(column: &mut [f64], least: f64, greatest: f64) {
    for x in column {
        *x = clamped(*x, least, greatest);
    }
}

/// Two choices rather than `f64::clamp`, which checks that the ends are in order.
#[inline(always)]
fn clamped(x: f64, least: f64, greatest: f64) -> f64 {
    let y = if x < least { least } else { x };
    if y > greatest { greatest } else { y }
}

/// Uniform numbers become standard normal ones: z with Φ(z) = u, to within 1e-11.
///
/// The table of [`QuantileTable`], made at the first call of the program.
///
/// ```
/// let mut column = [0.5 + 0.5 * f64::EPSILON, 0.975];
/// kerfwise_numeric::columns::normal_quantiles(&mut column);
/// assert!(column[0].abs() < 1e-11);
/// assert!((column[1] - 1.959_963_984_540_054).abs() < 1e-11);
/// ```
pub fn normal_quantiles(column: &mut [f64]) {
    static TABLE: OnceLock<QuantileTable> = OnceLock::new();
    let exact = crate::special::normal_quantile;
    TABLE
        .get_or_init(|| QuantileTable::symmetric(exact))
        .map(column, exact);
}

/// z becomes Φ(z), the chance that a standard normal number is below it, to within 1e-12; NaN stays.
///
/// ```
/// let mut column = [-1.959_963_984_540_054, 0.0, f64::INFINITY];
/// kerfwise_numeric::columns::normal_cdfs(&mut column);
/// for (got, wanted) in column.into_iter().zip([0.025, 0.5, 1.0]) {
///     assert!((got - wanted).abs() < 1e-12);
/// }
/// ```
pub fn normal_cdfs(column: &mut [f64]) {
    static CELLS: OnceLock<Vec<Cell>> = OnceLock::new();
    wide_cdfs(CELLS.get_or_init(cdf_cells), column);
}

/// The table of Φ goes to 8 on either side, where 6e-16 are left.
const CDF_END: f64 = 8.0;
const CDF_PER_UNIT: f64 = 256.0;
const CDF_CELLS: usize = 4096;

/// Φ about the middle of each cell: Taylor's polynomial; the next term is at most 1e-12.
fn cdf_cells() -> Vec<Cell> {
    let mut cells = vec![[0.0; 4]; CDF_CELLS];
    for (i, cell) in cells.iter_mut().enumerate() {
        let z = (i as f64 + 0.5) / CDF_PER_UNIT - CDF_END;
        let density = crate::special::normal_pdf(z);
        *cell = [
            crate::special::normal_cdf(z),
            density,
            -0.5 * density * z,
            density * (z * z - 1.0) / 6.0,
        ];
    }
    cells
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_cdfs(cells: &[Cell], column: &mut [f64]) {
    for z in column {
        let above = if *z < -CDF_END { -CDF_END } else { *z };
        let inside = if above > CDF_END { CDF_END } else { above };
        let place = (inside + CDF_END) * CDF_PER_UNIT;
        let i = (place as u32 as usize).min(CDF_CELLS - 1);
        let [a, b, c, d] = cells[i];
        let h = (place - (i as f64 + 0.5)) / CDF_PER_UNIT;
        *z = ((d * h + c) * h + b) * h + a;
    }
}

/// The quantile of a law in cubic pieces: what turns uniform numbers into draws.
///
/// A quantile is smooth in the chance p of the nearer tail but for p = 0, so pieces get shorter towards there: 128 between each
/// power of two and the next, from 2^-16 to 1/2. The piece is read off the bits of p. A piece follows the quantile to within
/// 4e-11 of its distance from the median, or of that of the quartiles if this is more; what no piece follows so well is computed
/// by the quantile itself: the two tails of 2^-16 (nothing is cut off), pieces with a kink, all of a law of very odd shape.
///
/// ```
/// use kerfwise_numeric::columns::QuantileTable;
/// // Logistic: ln(p/(1 - p)).
/// let quantile = |p: f64| kerfwise_numeric::float::ln(p / (1.0 - p));
/// let table = QuantileTable::symmetric(quantile);
/// let mut draws = [0.25, 0.75, 1e-9];
/// table.map(&mut draws, quantile);
/// assert!((draws[0] + 3.0_f64.ln()).abs() < 1e-10);
/// assert_eq!(draws[1], -draws[0]);
/// assert_eq!(draws[2], quantile(1e-9));
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct QuantileTable {
    /// One tail, or two.
    cells: Vec<Cell>,
}

impl QuantileTable {
    /// Of a law that is symmetric about 0, from its quantile for p up to 1/2.
    #[must_use]
    pub fn symmetric(quantile: impl Fn(f64) -> f64) -> Self {
        let median = quantile(0.5);
        let spread = 2.0 * (quantile(0.25) - median).abs();
        let mut cells = Vec::with_capacity(TAIL);
        Tail::new(&quantile, median, spread).append_to(&mut cells);
        Self { cells }
    }

    /// Of any law, from its quantile for p up to 1/2 and from the upper quantile (of the chance above) for q up to 1/2.
    #[must_use]
    pub fn two_sided(lower: impl Fn(f64) -> f64, upper: impl Fn(f64) -> f64) -> Self {
        let median = lower(0.5);
        let spread = upper(0.25) - lower(0.25);
        let mut cells = Vec::with_capacity(2 * TAIL);
        Tail::new(&lower, median, spread).append_to(&mut cells);
        Tail::new(&upper, median, spread).append_to(&mut cells);
        Self { cells }
    }

    /// Uniform numbers, above 0 and below 1, become draws; `quantile` is that of the law, for all of them.
    pub fn map(&self, column: &mut [f64], quantile: impl Fn(f64) -> f64) {
        let (chunks, rest) = column.as_chunks_mut();
        let mut bench = Bench::new();
        for chunk in chunks {
            self.map_chunk(chunk, &mut bench, &quantile);
        }
        if !rest.is_empty() {
            let mut padded = [0.25; CHUNK];
            padded[..rest.len()].copy_from_slice(rest);
            self.map_chunk(&mut padded, &mut bench, &quantile);
            rest.copy_from_slice(&padded[..rest.len()]);
        }
    }

    fn map_chunk(
        &self,
        chunk: &mut [f64; CHUNK],
        bench: &mut Bench,
        quantile: &impl Fn(f64) -> f64,
    ) {
        let cells = self.cells.as_flattened();
        let is_whole = if let Some(cells) = cells.first_chunk::<{ 2 * FLAT }>() {
            wide_two_sided(cells, chunk, bench)
        } else if let Some(cells) = cells.first_chunk::<FLAT>() {
            wide_symmetric(cells, chunk, bench)
        } else {
            bench.numbers = std::mem::replace(chunk, [f64::NAN; CHUNK]);
            false
        };
        if is_whole {
            return;
        }
        for (draw, u) in chunk.iter_mut().zip(bench.numbers) {
            if draw.is_nan() {
                *draw = quantile(u);
            }
        }
    }
}

/// What a chunk is worked on with; kept from one to the next.
#[derive(Debug, Clone, PartialEq)]
struct Bench {
    /// The uniform numbers.
    numbers: [f64; CHUNK],
    places: [u64; CHUNK],
}

impl Bench {
    fn new() -> Self {
        Self {
            numbers: [0.0; CHUNK],
            places: [0; CHUNK],
        }
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_symmetric(cells: &[f64; FLAT], chunk: &mut [f64; CHUNK], bench: &mut Bench) -> bool {
    find_places::<true>(chunk, bench);
    let Bench { numbers, places } = bench;
    match_target! {
        "x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl" => avx2::draw_each::<{ FLAT }, true>(cells, places, numbers, chunk),
        "x86_64+avx2" => avx2::draw_each::<{ FLAT }, true>(cells, places, numbers, chunk),
        _ => draw_each::<{ FLAT }, true>(cells, places, numbers, chunk),
    }
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn wide_two_sided(cells: &[f64; 2 * FLAT], chunk: &mut [f64; CHUNK], bench: &mut Bench) -> bool {
    find_places::<false>(chunk, bench);
    let Bench { numbers, places } = bench;
    match_target! {
        "x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl" => avx2::draw_each::<{ 2 * FLAT }, false>(cells, places, numbers, chunk),
        "x86_64+avx2" => avx2::draw_each::<{ 2 * FLAT }, false>(cells, places, numbers, chunk),
        _ => draw_each::<{ 2 * FLAT }, false>(cells, places, numbers, chunk),
    }
}

/// Of each number the place of its cell; how far it lies into that takes its place in the chunk.
#[inline(always)]
fn find_places<const MIRRORED: bool>(chunk: &mut [f64; CHUNK], bench: &mut Bench) {
    for (i, u) in chunk.iter_mut().enumerate() {
        bench.numbers[i] = *u;
        let is_upper = *u > 0.5;
        let near = choose(is_upper, 1.0 - *u, *u);
        let p = choose(near < SMALLEST, SMALLEST.next_down(), near).to_bits();
        let of_tail = if is_upper && !MIRRORED { FLAT } else { 0 };
        // Four numbers to a cell.
        bench.places[i] = ((p >> (50 - CELL_BITS)) & (FLAT as u64 - 4)) + of_tail as u64;
        *u = f64::from_bits((p & PART) | ONE) - 1.0;
    }
}

/// Draws, NaN where there is no polynomial; whether there was none such.
#[inline(always)]
fn draw_each<const N: usize, const MIRRORED: bool>(
    cells: &[f64; N],
    places: &[u64; CHUNK],
    numbers: &[f64; CHUNK],
    chunk: &mut [f64; CHUNK],
) -> bool {
    let mut missing = 0;
    for ((part, place), u) in chunk.iter_mut().zip(places).zip(numbers) {
        // The mask is no change; it spares the check.
        let i = *place as usize & (N - 4);
        let [a, b, c, d] = [cells[i], cells[i + 1], cells[i + 2], cells[i + 3]];
        let s = *part;
        let draw = ((d * s + c) * s + b) * s + a;
        missing |= u64::from(draw.is_nan());
        // The upper half mirrors the lower one: by its sign bit, which needs no choice.
        let sign = u64::from(MIRRORED && *u > 0.5) << 63;
        *part = f64::from_bits(draw.to_bits() ^ sign);
    }
    missing == 0
}

/// Terms of the polynomials from which the pieces are made.
const TERMS: usize = 14;
/// Quantiles that are computed to follow one tail, after which nothing is halved any more: twice what a smooth one needs.
const MOST_EVALUATIONS: usize = 1000;

/// Makes the pieces of one tail.
struct Tail<'a> {
    quantile: &'a dyn Fn(f64) -> f64,
    median: f64,
    spread: f64,
    evaluations: usize,
    /// cos(π k (n + ½)/14).
    cosines: [[f64; TERMS]; TERMS],
    /// Places of the four values that make a piece, in shares of its cell.
    nodes: [f64; 4],
    /// The piece that has the value 1 at one of them and 0 at the others.
    cubics: [Cell; 4],
    cells: Vec<Cell>,
}

impl<'a> Tail<'a> {
    fn new(quantile: &'a dyn Fn(f64) -> f64, median: f64, spread: f64) -> Self {
        let cosine = |k: usize, n: usize| {
            // Reduced by whole turns first, which is exact.
            let quarter_steps = (k * (2 * n + 1)) % (4 * TERMS);
            float::cos(PI * quarter_steps as f64 / (2 * TERMS) as f64)
        };
        let nodes: [f64; 4] =
            std::array::from_fn(|k| 0.5 - 0.5 * float::cos(PI * (k as f64 + 0.5) / 4.0));
        let one_at = |node: usize| std::array::from_fn(|k| if k == node { 1.0 } else { 0.0 });
        let mut tail = Self {
            nodes,
            cubics: [0, 1, 2, 3].map(|node| cubic(nodes, one_at(node))),
            quantile,
            median,
            spread,
            evaluations: 0,
            cosines: std::array::from_fn(|k| std::array::from_fn(|n| cosine(k, n))),
            cells: vec![[f64::NAN; 4]; TAIL],
        };
        // Half an octave at a time: there fourteen terms leave about 1e-13 (the ellipse of convergence ends at 0:
        // Trefethen 2013, theorem 8.2). From the middle outwards, where most draws fall.
        for half in (0..2 * OCTAVES).rev() {
            let first = 1 + half * PER_OCTAVE / 2;
            tail.follow(first, PER_OCTAVE / 2);
        }
        tail
    }

    /// In the order in which the bits of p number the cells, modulo their count; and as polynomials in how far p lies into
    /// its cell as a part of the octave's start, rather than of the cell (by powers of two, so nothing is rounded).
    fn append_to(mut self, cells: &mut Vec<Cell>) {
        self.cells.rotate_right(FIRST as usize % TAIL);
        let unit = PER_OCTAVE as f64;
        let scaled = |[a, b, c, d]: Cell| [a, unit * b, unit * unit * c, unit * unit * unit * d];
        cells.extend(self.cells.into_iter().map(scaled));
    }

    /// How far off a piece may be at this value.
    fn tolerance(&self, value: f64) -> f64 {
        4e-11 * (value - self.median).abs().max(self.spread)
    }

    /// Makes these cells from one polynomial, or from two of half the length where that does not follow.
    fn follow(&mut self, first: usize, count: usize) {
        let (low, high) = (edge(first), edge(first + count));
        let Some(polynomial) = self.fit(low, high) else {
            if count > 1 && self.evaluations < MOST_EVALUATIONS {
                self.follow(first + count / 2, count / 2);
                self.follow(first, count / 2);
            }
            return;
        };
        // Places in shares of a cell: four nodes in each, and all ends, which tell how good the pieces are.
        let place = |cell: usize, share: f64| 2.0 * (cell as f64 + share) / count as f64 - 1.0;
        let at_nodes = self
            .nodes
            .map(|node| (0..count).map(move |cell| place(cell, node)));
        let at_ends = (0..=count).map(|cell| place(cell, 0.0));
        let places: Vec<f64> = at_nodes.into_iter().flatten().chain(at_ends).collect();
        let values = chebyshev(&polynomial, &places);
        let (at_nodes, at_ends) = values.split_at(4 * count);
        for cell in 0..count {
            let mut piece = [0.0; 4];
            for (node, cubic) in self.cubics.iter().enumerate() {
                let value = at_nodes[node * count + cell];
                for (coefficient, share) in piece.iter_mut().zip(cubic) {
                    *coefficient += value * share;
                }
            }
            let [a, b, c, d] = piece;
            let follows = |got: f64, value: f64| (got - value).abs() <= self.tolerance(value);
            if follows(a, at_ends[cell]) && follows(((d + c) + b) + a, at_ends[cell + 1]) {
                self.cells[first + cell] = piece;
            }
        }
    }

    /// Chebyshev coefficients over this stretch, if the last ones say that they suffice.
    fn fit(&mut self, low: f64, high: f64) -> Option<[f64; TERMS]> {
        let (centre, half) = (0.5 * (low + high), 0.5 * (high - low));
        let values: [f64; TERMS] =
            std::array::from_fn(|n| (self.quantile)(centre + half * self.cosines[1][n]));
        self.evaluations += TERMS;
        let mut coefficients = [0.0; TERMS];
        for (coefficient, cosines) in coefficients.iter_mut().zip(&self.cosines) {
            for (value, cosine) in values.iter().zip(cosines) {
                *coefficient += 2.0 / TERMS as f64 * value * cosine;
            }
        }
        coefficients[0] *= 0.5;
        let last = coefficients[TERMS - 3..]
            .iter()
            .fold(0.0, |last: f64, coefficient| last.max(coefficient.abs()));
        let least = self
            .tolerance(values[0])
            .min(self.tolerance(values[TERMS - 1]));
        // A kink next to an end hides from the nodes, not from the ends.
        let ends = chebyshev(&coefficients, &[-1.0, 1.0]);
        let off = [low, high].into_iter().zip(ends).map(|(p, end)| {
            self.evaluations += 1;
            (end - (self.quantile)(p)).abs()
        });
        let worst = off.fold(last, f64::max);
        // A tenth of the tolerance; what is not a number fails.
        (last.is_finite() && worst <= 0.1 * least).then_some(coefficients)
    }
}

/// Where a cell begins.
fn edge(cell: usize) -> f64 {
    f64::from_bits((FIRST + cell as u64) << (52 - CELL_BITS))
}

/// A sum of Chebyshev polynomials at places from -1 to 1, after Clenshaw, all places at once.
fn chebyshev(coefficients: &[f64; TERMS], places: &[f64]) -> Vec<f64> {
    let mut one = vec![0.0; places.len()];
    let mut two = vec![0.0; places.len()];
    clenshaw(coefficients, places, &mut one, &mut two);
    one
}

#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn clenshaw(coefficients: &[f64; TERMS], places: &[f64], one: &mut [f64], two: &mut [f64]) {
    for coefficient in coefficients[1..].iter().rev() {
        for ((one, two), s) in one.iter_mut().zip(&mut *two).zip(places) {
            (*one, *two) = (2.0 * s * *one - *two + coefficient, *one);
        }
    }
    for ((one, two), s) in one.iter_mut().zip(two).zip(places) {
        *one = s * *one - *two + coefficients[0];
    }
}

/// The cubic polynomial through four points, by divided differences.
fn cubic(places: [f64; 4], mut values: [f64; 4]) -> Cell {
    for order in 1..4 {
        for k in (order..4).rev() {
            values[k] = (values[k] - values[k - 1]) / (places[k] - places[k - order]);
        }
    }
    let mut powers = [0.0; 4];
    for k in (0..4).rev() {
        for j in (1..4).rev() {
            powers[j] = powers[j - 1] - places[k] * powers[j];
        }
        powers[0] = values[k] - places[k] * powers[0];
    }
    powers
}

#[cfg(test)]
#[expect(
    clippy::float_cmp,
    reason = "bits are compared, and what is mirrored is exact"
)]
mod tests {
    use super::*;
    use crate::special;
    use crate::stream::Stream;

    fn uniform(seed: u64, count: usize) -> Vec<f64> {
        let mut column = vec![0.0; count];
        Stream::new(seed, 1, 2).fill_open01(&mut column);
        column
    }

    /// Whether this cell of the first tail, counted from the one below the smallest, has no polynomial.
    fn is_missing(table: &QuantileTable, cell: usize) -> bool {
        table.cells[(FIRST as usize + cell) % TAIL][0].is_nan()
    }

    /// Where uniform numbers can lie that matter: the edges of octaves and cells, the ends, the middle.
    fn edges() -> Vec<f64> {
        let mut edges = vec![0.5 - 0.5 * f64::EPSILON, 0.5 * f64::EPSILON];
        let mut p = 0.25;
        while p > 1e-6 {
            edges.extend([p, f64::next_down(p), 1.5 * p, p * (1.0 + 3.0 / 128.0)]);
            p *= 0.5;
        }
        let upper: Vec<f64> = edges.iter().map(|p| 1.0 - p).collect();
        edges.extend(upper);
        edges
    }

    #[test]
    fn chances_are_those_of_the_function() {
        let mut column: Vec<f64> = (-9000..=9000).map(|i| f64::from(i) * 1e-3 + 1e-5).collect();
        let z = column.clone();
        normal_cdfs(&mut column);
        for (got, z) in column.iter().zip(z) {
            // The term left out: (1/512)^4/24 times at most 1.4.
            assert!((got - special::normal_cdf(z)).abs() < 1e-12, "{z}: {got}");
        }
        let mut missing = [f64::NAN];
        normal_cdfs(&mut missing);
        assert!(missing[0].is_nan());
    }

    #[test]
    fn all_instruction_sets_give_the_same_bits() {
        let table = QuantileTable::symmetric(special::normal_quantile);
        let one = table.cells.as_flattened().first_chunk();
        let one = one.expect("one tail");
        let both = QuantileTable::two_sided(special::normal_quantile, |q| {
            special::normal_quantile_upper(q)
        });
        let two = both.cells.as_flattened().first_chunk();
        let two = two.expect("two tails");
        let mut numbers = uniform(3, 100 * CHUNK);
        numbers.extend(edges());
        let bits = |chunk: [f64; CHUNK]| chunk.map(f64::to_bits);
        for chunk in numbers.as_chunks().0 {
            // What is compiled for any processor, against what is chosen for this one.
            let (mut plain, mut wide) = (Bench::new(), Bench::new());
            let (mut draws, mut wide_draws) = (*chunk, *chunk);
            find_places::<true>(&mut draws, &mut plain);
            let is_whole = draw_each::<FLAT, true>(one, &plain.places, chunk, &mut draws);
            assert_eq!(is_whole, wide_symmetric(one, &mut wide_draws, &mut wide));
            assert_eq!(bits(draws), bits(wide_draws));
            assert_eq!((&plain, plain.numbers), (&wide, *chunk));

            (draws, wide_draws) = (*chunk, *chunk);
            find_places::<false>(&mut draws, &mut plain);
            let is_whole = draw_each::<{ 2 * FLAT }, false>(two, &plain.places, chunk, &mut draws);
            assert_eq!(is_whole, wide_two_sided(two, &mut wide_draws, &mut wide));
            assert_eq!(bits(draws), bits(wide_draws));
            assert_eq!((&plain, plain.numbers), (&wide, *chunk));
        }
    }

    #[test]
    fn normal_draws_follow_the_quantile() {
        let mut numbers = uniform(1, 200_000);
        numbers.extend(edges());
        let mut draws = numbers.clone();
        normal_quantiles(&mut draws);
        for (z, u) in draws.iter().zip(&numbers) {
            let exact = special::normal_quantile(*u);
            // What is promised; the quartiles are 1.35 apart.
            let bound = 4e-11 * exact.abs().max(1.35);
            assert!((z - exact).abs() <= bound, "{z} for {u}, not {exact}");
            let tail = u.min(1.0 - u) < SMALLEST;
            // In the tails one rounding, that of 1 - u, may differ.
            assert!(!tail || (z - exact).abs() <= 1e-15 * exact.abs(), "{u}");
        }
        // Of those that a stream gives, 1 - u is exact.
        let mut mirrored: Vec<f64> = numbers[..200_000].iter().map(|u| 1.0 - u).collect();
        normal_quantiles(&mut mirrored);
        for ((z, m), u) in draws.iter().zip(&mirrored).zip(&numbers) {
            assert!(*z == -m || u.min(1.0 - u) < SMALLEST, "{z} and {m} for {u}");
        }
    }

    #[test]
    fn every_smooth_tail_is_followed_nearly_everywhere() {
        // Cauchy, logistic, exponential, a bounded one that starts like p², one that ends with infinite slope.
        let tails: [fn(f64) -> f64; 5] = [
            |p| -1.0 / float::tan(PI * p),
            |p| float::ln(p / (1.0 - p)),
            |p| -float::ln(p),
            |p| 1.0 - float::cos(PI * p),
            |p| p.sqrt(),
        ];
        for (index, quantile) in tails.into_iter().enumerate() {
            let table = QuantileTable::symmetric(quantile);
            let missing = (1..=OCTAVES * PER_OCTAVE).filter(|&cell| is_missing(&table, cell));
            assert_eq!(missing.count(), 0, "tail {index}");
            let spread = 2.0 * (quantile(0.25) - quantile(0.5)).abs();
            for mut p in uniform(2, 50_000) {
                p *= 0.5;
                let mut draw = [p];
                table.map(&mut draw, |_| f64::NAN);
                let exact = quantile(p);
                let bound = 5e-11 * (exact - quantile(0.5)).abs().max(spread);
                let is_tail = p < SMALLEST && draw[0].is_nan();
                assert!(
                    is_tail || (draw[0] - exact).abs() <= bound,
                    "tail {index} at {p}"
                );
            }
        }
    }

    #[test]
    fn a_kink_costs_one_piece() {
        // Two slopes that meet at p = 0.3, and next to an end of a stretch, where nodes do not see it.
        for kink in [0.3, 0.375 + 1e-6, 0.25 - 3e-7] {
            let quantile = |p: f64| if p < kink { p } else { kink + 3.0 * (p - kink) };
            let table = QuantileTable::symmetric(quantile);
            let missing: Vec<usize> = (1..=OCTAVES * PER_OCTAVE)
                .filter(|&cell| is_missing(&table, cell))
                .collect();
            let at = missing.first().copied().expect("a kink has no polynomial");
            assert_eq!(missing.len(), 1, "{kink}");
            assert!(edge(at) <= kink && kink <= edge(at + 1), "{kink}");
            for p in uniform(4, 20_000) {
                let mut draw = [0.5 * p];
                table.map(&mut draw, quantile);
                // Spread 0.65 or so; the promise.
                assert!((draw[0] - quantile(0.5 * p)).abs() < 4e-11, "{p}");
            }
        }
    }

    #[test]
    fn what_no_polynomial_follows_is_computed() {
        // A staircase, of which hardly a piece is flat.
        let stairs = |p: f64| (4000.0 * p).floor();
        let table = QuantileTable::two_sided(stairs, |q| stairs(1.0 - q));
        let numbers = uniform(5, 3000);
        let mut draws = numbers.clone();
        table.map(&mut draws, stairs);
        for (draw, u) in draws.iter().zip(&numbers) {
            // The promise, for the few pieces between two steps: half of the steps lie between the quartiles.
            assert!(
                (draw - stairs(*u)).abs() <= 4e-11 * 2000.0,
                "{draw} for {u}"
            );
        }
    }

    #[test]
    fn columns_of_any_length_hold_the_same_draws() {
        let numbers = uniform(6, 1000);
        let mut whole = numbers.clone();
        normal_quantiles(&mut whole);
        for length in [1, 7, 127, 128, 129, 300] {
            let mut parts = numbers.clone();
            for part in parts.chunks_mut(length) {
                normal_quantiles(part);
            }
            assert_eq!(parts, whole, "{length}");
        }
    }
}
