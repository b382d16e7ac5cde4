//! Scrambled Sobol points: uniform numbers that fill their cube more evenly than random ones.
//!
//! Direction numbers of the first 32 dimensions after Joe and Kuo (SIAM J. Sci. Comput. 30 (2008) 2635, table new-joe-kuo-6).
//! They are scrambled by random lower triangular matrices and a random shift, all in binary digits (Matoušek, J. Complexity 14
//! (1998) 527): each point is uniform by itself, and means over scrambles have no bias.

use crate::stream::{Stream, open01};

/// Dimensions for which there are direction numbers.
pub const DIMENSIONS: usize = 32;

/// Points that are made together.
pub const BLOCK: usize = 1024;
const BLOCK_BITS: usize = 10;
/// Binary digits of the number of a point.
const DIGITS: usize = 32;

/// Primitive polynomials by their bits, and the first direction numbers; the first dimension has neither.
const TABLE: [(u32, &[u32]); DIMENSIONS - 1] = [
    (3, &[1]),
    (7, &[1, 3]),
    (11, &[1, 3, 1]),
    (13, &[1, 1, 1]),
    (19, &[1, 1, 3, 3]),
    (25, &[1, 3, 5, 13]),
    (37, &[1, 1, 5, 5, 17]),
    (41, &[1, 1, 5, 5, 5]),
    (47, &[1, 1, 7, 11, 19]),
    (55, &[1, 1, 5, 1, 1]),
    (59, &[1, 1, 1, 3, 11]),
    (61, &[1, 3, 5, 5, 31]),
    (67, &[1, 3, 3, 9, 7, 49]),
    (91, &[1, 1, 1, 15, 21, 21]),
    (97, &[1, 3, 1, 13, 27, 49]),
    (103, &[1, 1, 1, 15, 7, 5]),
    (109, &[1, 3, 1, 15, 13, 25]),
    (115, &[1, 1, 5, 5, 19, 61]),
    (131, &[1, 3, 7, 11, 23, 15, 103]),
    (137, &[1, 3, 7, 13, 13, 15, 69]),
    (143, &[1, 1, 3, 13, 7, 35, 63]),
    (145, &[1, 3, 5, 9, 1, 25, 53]),
    (157, &[1, 3, 1, 13, 9, 35, 107]),
    (167, &[1, 3, 1, 5, 27, 61, 31]),
    (171, &[1, 1, 5, 11, 19, 41, 61]),
    (185, &[1, 3, 5, 3, 3, 13, 69]),
    (191, &[1, 1, 7, 13, 1, 19, 1]),
    (193, &[1, 3, 7, 5, 13, 19, 59]),
    (203, &[1, 1, 3, 9, 25, 29, 41]),
    (211, &[1, 3, 5, 13, 23, 1, 55]),
    (213, &[1, 3, 7, 3, 13, 59, 17]),
];

/// One dimension of the points under one scramble.
///
/// ```
/// use kerfwise_numeric::sobol::Sobol;
///
/// let mut column = [0.0; 1024];
/// Sobol::new(3, 1, 0).expect("one of 32 dimensions").fill(0, &mut column);
/// // One point in each 1024th part; of random numbers a third of the parts would be empty.
/// let mut parts: Vec<u32> = column.iter().map(|u| (1024.0 * u) as u32).collect();
/// parts.sort_unstable();
/// assert_eq!(parts, (0..1024).collect::<Vec<u32>>());
/// ```
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sobol {
    /// Scrambled direction numbers.
    directions: [u64; DIGITS],
    /// The points of the first block.
    pattern: Box<[u64; BLOCK]>,
}

impl Sobol {
    /// A dimension, counted from 0, under this scramble of this seed; `None` from the 33rd dimension on.
    #[must_use]
    pub fn new(dimension: usize, seed: u64, scramble: u64) -> Option<Self> {
        let plain = directions(dimension)?;
        let mut stream = Stream::new(seed, dimension as u64, scramble);
        let mut words = [0; DIGITS + 1];
        stream.fill_words(&mut words);
        let (shift, columns) = words.split_last().map(|(last, rest)| (*last, rest))?;
        let directions = plain.map(|direction| scrambled(direction, columns));
        let mut pattern = Box::new([shift; BLOCK]);
        for (bit, direction) in directions.iter().take(BLOCK_BITS).enumerate() {
            let (done, rest) = pattern.split_at_mut(1 << bit);
            for (next, word) in rest.iter_mut().zip(done) {
                *next = *word ^ direction;
            }
        }
        Some(Self {
            directions,
            pattern,
        })
    }

    /// Points 1024·block to 1024·block + 1023 of 2³², as numbers above 0 and below 1.
    pub fn fill(&self, block: u32, column: &mut [f64; BLOCK]) {
        let later = &self.directions[BLOCK_BITS..];
        let of_block = (0..later.len())
            .filter(|bit| block >> bit & 1 == 1)
            .fold(0, |sum, bit| sum ^ later[bit]);
        for (u, word) in column.iter_mut().zip(&*self.pattern) {
            *u = open01(word ^ of_block);
        }
    }
}

/// A direction number times the matrix whose columns these words make.
fn scrambled(direction: u32, columns: &[u64]) -> u64 {
    let (mut rest, mut sum) = (direction, 0);
    while rest != 0 {
        let digit = rest.leading_zeros() as usize;
        sum ^= column(columns[digit], digit);
        rest ^= 1 << (DIGITS - 1 - digit);
    }
    sum
}

/// A column of a random lower triangular matrix: its own digit, then random ones.
fn column(word: u64, digit: usize) -> u64 {
    let own = 1 << (63 - digit);
    own | (word & (own - 1))
}

/// Direction numbers of a dimension, the first binary digit on top (Joe and Kuo, equation 2).
fn directions(dimension: usize) -> Option<[u32; DIGITS]> {
    let mut directions = [0; DIGITS];
    if dimension == 0 {
        for (k, direction) in directions.iter_mut().enumerate() {
            *direction = 1 << (DIGITS - 1 - k);
        }
        return Some(directions);
    }
    let (polynomial, first) = TABLE.get(dimension - 1)?;
    let degree = first.len();
    for k in 0..DIGITS {
        directions[k] = if k < degree {
            first[k] << (DIGITS - 1 - k)
        } else {
            let before = directions[k - degree];
            (1..degree)
                .filter(|i| polynomial >> (degree - i) & 1 == 1)
                .fold(before ^ (before >> degree), |sum, i| {
                    sum ^ directions[k - i]
                })
        };
    }
    Some(directions)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn direction_numbers_are_those_of_the_publication() {
        // From scipy 1.17.1, `stats.qmc.Sobol(6, scramble=False, bits=32)`: its points 1, 3, 20 and 45, which come in the
        // order of Gray's code.
        let point = |dimension, n: u32| {
            let directions = directions(dimension).expect("in the table");
            let word = (0..DIGITS)
                .filter(|bit| n >> bit & 1 == 1)
                .fold(0, |sum, bit| sum ^ directions[bit]);
            f64::from(word) / 4_294_967_296.0
        };
        for (n, row) in POINTS {
            let got: [f64; 6] = std::array::from_fn(|dimension| point(dimension, n));
            assert_eq!(got.map(f64::to_bits), row.map(f64::to_bits), "point {n}");
        }
        assert_eq!(directions(DIMENSIONS), None);
    }

    const POINTS: [(u32, [f64; 6]); 4] = [
        (1, [0.5, 0.5, 0.5, 0.5, 0.5, 0.5]),
        (2, [0.25, 0.75, 0.75, 0.75, 0.25, 0.25]),
        (30, [0.46875, 0.09375, 0.84375, 0.28125, 0.15625, 0.84375]),
        (
            59,
            [0.859375, 0.953125, 0.390625, 0.609375, 0.328125, 0.109375],
        ),
    ];

    #[test]
    fn every_dimension_has_one_point_in_each_part_of_every_block() {
        for dimension in 0..DIMENSIONS {
            let sobol = Sobol::new(dimension, 7, 3).expect("in the table");
            for block in [0, 1, 6] {
                let mut column = [0.0; BLOCK];
                sobol.fill(block, &mut column);
                let mut parts = [0_u32; BLOCK];
                for u in column {
                    parts[(u * BLOCK as f64) as usize] += 1;
                }
                assert_eq!(parts, [1; BLOCK], "dimension {dimension}, block {block}");
            }
        }
    }

    #[test]
    fn scrambled_points_of_pairs_are_as_even_as_unscrambled_ones() {
        // The first two dimensions are a (0, 2) sequence: one point in each of the 1,024 boxes of any shape of that area
        // (Sobol 1967), also when scrambled.
        let [x, y] = [0, 1].map(|dimension| {
            let mut column = [0.0; BLOCK];
            Sobol::new(dimension, 1, 5)
                .expect("in the table")
                .fill(3, &mut column);
            column
        });
        for bits in 0..=BLOCK_BITS {
            let (wide, high) = (1_usize << bits, BLOCK >> bits);
            let mut boxes = [0_u32; BLOCK];
            for (x, y) in x.iter().zip(&y) {
                let place = (x * wide as f64) as usize * high + (y * high as f64) as usize;
                boxes[place] += 1;
            }
            assert_eq!(boxes, [1; BLOCK], "{wide} by {high}");
        }
    }

    #[test]
    fn scrambles_have_no_bias() {
        // The mean of u² over a block is 1/3; each scramble is off by far less than random numbers would be (1e-2).
        let mut sum = 0.0;
        for scramble in 0..200 {
            let mut column = [0.0; BLOCK];
            Sobol::new(2, 9, scramble)
                .expect("in the table")
                .fill(0, &mut column);
            let mean = column.iter().map(|u| u * u).sum::<f64>() / BLOCK as f64;
            // One point in each part, anywhere in it: at most 1/1024 off.
            assert!((mean - 1.0 / 3.0).abs() < 1.0 / BLOCK as f64);
            sum += mean;
        }
        // Standard deviation of one: (1/1024)·√(1/12·4/3/1024) = 1.02e-5; five standard errors of 200.
        assert!((sum / 200.0 - 1.0 / 3.0).abs() < 5.0 * 1.02e-5 / 200.0_f64.sqrt());
    }
}
