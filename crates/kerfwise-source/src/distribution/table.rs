//! Quantiles that are dear to compute, as polynomials for the sampler.

use kerfwise_numeric::float;
use std::f64::consts::PI;
use std::fmt;
use std::sync::{Arc, OnceLock};

/// Chebyshev polynomials of one tail's quantile, made at the first draw and shared by all clones.
///
/// A quantile is smooth in p but for p = 0. Over a cell from c to 1.5c or from 1.5c to 2c its polynomial therefore
/// gains a digit with every term (the ellipse of convergence ends at 0: Trefethen 2013, theorem 8.2), and twelve terms
/// leave about 1e-11 of the value. Smaller p than the cells hold are rare, and are computed.
///
/// A law with a table is the same law: all tables compare equal.
#[derive(Clone, Default)]
pub(super) struct Table(Arc<OnceLock<Vec<Cell>>>);

const TERMS: usize = 12;
/// Exponent and leading digit of 2^-12, where the cells begin; two cells for each power of two up to 1/2.
const FIRST: u64 = ((1023 - 12) << 52) >> CELL_BITS;
const CELLS: u64 = 22;
const CELL_BITS: u32 = 51;

struct Cell {
    centre: f64,
    per_half_width: f64,
    coefficients: [f64; TERMS],
}

impl Table {
    /// About `exact(p)` for p above 0 and up to 1/2.
    #[inline]
    pub(super) fn at(&self, p: f64, exact: impl Fn(f64) -> f64) -> f64 {
        let place = p.to_bits() >> CELL_BITS;
        if place < FIRST {
            return exact(p);
        }
        let cells = self.0.get_or_init(|| {
            (FIRST..FIRST + CELLS)
                .map(|place| Cell::new(place, &exact))
                .collect()
        });
        // 1/2 itself is the end of the last cell.
        let cell = &cells[((place - FIRST) as usize).min(cells.len() - 1)];
        cell.at(p)
    }
}

impl Cell {
    fn new(place: u64, exact: impl Fn(f64) -> f64) -> Self {
        let (low, high) = (
            f64::from_bits(place << CELL_BITS),
            f64::from_bits((place + 1) << CELL_BITS),
        );
        let (centre, half) = (0.5 * (low + high), 0.5 * (high - low));
        let mut coefficients = [0.0; TERMS];
        for node in 0..TERMS {
            let angle = PI * (node as f64 + 0.5) / TERMS as f64;
            let value = exact(centre + half * float::cos(angle));
            for (k, coefficient) in coefficients.iter_mut().enumerate() {
                *coefficient += 2.0 / TERMS as f64 * value * float::cos(k as f64 * angle);
            }
        }
        coefficients[0] *= 0.5;
        Self {
            centre,
            per_half_width: 1.0 / half,
            coefficients,
        }
    }

    /// The sum of the polynomials after Clenshaw.
    #[inline]
    fn at(&self, p: f64) -> f64 {
        let s = (p - self.centre) * self.per_half_width;
        let (mut one, mut two) = (0.0, 0.0);
        for coefficient in self.coefficients[1..].iter().rev() {
            (one, two) = (2.0 * s * one - two + coefficient, one);
        }
        s * one - two + self.coefficients[0]
    }
}

impl PartialEq for Table {
    fn eq(&self, _other: &Self) -> bool {
        true
    }
}

impl fmt::Debug for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Table")
    }
}

#[cfg(test)]
mod tests {
    use super::Table;
    use kerfwise_numeric::special;

    #[test]
    fn polynomials_follow_a_known_quantile() {
        let (table, exact) = (Table::default(), |p: f64| special::normal_quantile(p));
        for k in 1..=2000 {
            let p = 0.5 * f64::from(k) / 2000.0;
            // Twelve terms at a gain of 9.9 each, times a constant of about ten.
            assert!((table.at(p, exact) - exact(p)).abs() < 1e-11, "{p}");
        }
        for p in [1e-300, (1.0 / 4096.0_f64).next_down()] {
            assert_eq!(table.at(p, exact), exact(p));
        }
    }
}
