//! Gauss–Legendre rules.

use crate::dd::Dd;
use crate::float::cos;
use std::f64::consts::PI;
use std::sync::OnceLock;

/// A Gauss–Legendre rule: n nodes on [-1, 1] that integrate polynomials up to degree 2n - 1 exactly.
///
/// Nodes are the zeros of the Legendre polynomial `P_n`, weights `2 / ((1 - x^2) P_n'(x)^2)` (DLMF 3.5.21), found by Newton's
/// method in double-double arithmetic, so that both are right to the last bit or nearly so.
#[derive(Debug, Clone, PartialEq)]
pub struct GaussLegendre {
    nodes: Vec<f64>,
    weights: Vec<f64>,
}

impl GaussLegendre {
    /// The rule of `n` nodes; `None` unless n is within 1..=256.
    ///
    /// ```
    /// use kerfwise_numeric::quadrature::GaussLegendre;
    /// let rule = GaussLegendre::new(2).expect("2 is within 1..=256");
    /// assert_eq!(rule.nodes(), [-(1.0_f64 / 3.0).sqrt(), (1.0_f64 / 3.0).sqrt()]);
    /// assert_eq!(rule.weights(), [1.0, 1.0]);
    /// ```
    #[must_use]
    pub fn new(n: usize) -> Option<Self> {
        if !(1..=256).contains(&n) {
            return None;
        }
        let mut nodes = vec![0.0; n];
        let mut weights = vec![0.0; n];
        for i in 0..n.div_ceil(2) {
            let (x, weight) = if 2 * i + 1 == n {
                (0.0, node(n, 0.0).1)
            } else {
                node(n, first_guess(n, i))
            };
            (nodes[i], nodes[n - 1 - i]) = (-x, x);
            (weights[i], weights[n - 1 - i]) = (weight, weight);
        }
        Some(Self { nodes, weights })
    }

    /// The nodes on [-1, 1], ascending, symmetric about 0.
    #[must_use]
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }

    /// The weights, in the order of the nodes; they add to 2.
    #[must_use]
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Integral of `f` from `a` to `b`, the terms added in the order of the nodes.
    ///
    /// ```
    /// use kerfwise_numeric::quadrature::gauss_legendre;
    /// let area = gauss_legendre(8).integrate(0.0, 3.0, |x| x * x); // 3^3/3
    /// assert!((area - 9.0).abs() < 1e-14);
    /// ```
    pub fn integrate(&self, a: f64, b: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
        let (middle, half) = (0.5 * a + 0.5 * b, 0.5 * (b - a));
        let mut total = 0.0;
        for (x, weight) in self.nodes.iter().zip(&self.weights) {
            total += weight * f(middle + half * x);
        }
        half * total
    }
}

/// Near the i-th largest zero of `P_n` (DLMF 18.16.12 to first order).
fn first_guess(n: usize, i: usize) -> f64 {
    cos(PI * (i as f64 + 0.75) / (n as f64 + 0.5))
}

/// The zero of `P_n` near x, and its weight.
fn node(n: usize, mut x: f64) -> (f64, f64) {
    // Newton in f64 brings all zeros to 1e-15 within five steps; the last step and the weight need more digits, because
    // near the ends 1 - x^2 is small.
    for _ in 0..6 {
        let (mut p, mut before) = (1.0, 0.0);
        for k in 0..n {
            let k = k as f64;
            (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
        }
        x -= p * (x * x - 1.0) / (n as f64 * (x * p - before));
    }
    let rough = Dd::new(x);
    let (p, slope) = legendre(n, rough);
    let x = rough - p / slope;
    let (_, slope) = legendre(n, x);
    let weight = Dd::new(2.0) / ((Dd::ONE - x * x) * slope * slope);
    (x.hi, weight.hi)
}

/// `P_n` and its slope at x, by the three-term recurrence (DLMF 18.9.1 and 18.9.17).
fn legendre(n: usize, x: Dd) -> (Dd, Dd) {
    let (mut p, mut before) = (Dd::ONE, Dd::new(0.0));
    for k in 0..n {
        let k = k as f64;
        (p, before) = ((x * p * (2.0 * k + 1.0) - before * k) / (k + 1.0), p);
    }
    let slope = (x * p - before) * n as f64 / (x * x - 1.0);
    (p, slope)
}

/// The common rules of 8, 16, 24, 32 and 64 nodes, each made at its first use; another n gets the next larger of these, at most 64.
///
/// ```
/// use kerfwise_numeric::quadrature::gauss_legendre;
/// assert_eq!(gauss_legendre(20).nodes().len(), 24);
/// ```
#[must_use]
pub fn gauss_legendre(n: usize) -> &'static GaussLegendre {
    static RULES: [OnceLock<GaussLegendre>; 5] = [const { OnceLock::new() }; 5];
    const SIZES: [usize; 5] = [8, 16, 24, 32, 64];
    let index = SIZES
        .iter()
        .position(|&size| size >= n)
        .unwrap_or(SIZES.len() - 1);
    RULES[index]
        .get_or_init(|| GaussLegendre::new(SIZES[index]).expect("common sizes are within 1..=256"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::float;
    use proptest::prelude::*;

    // Abramowitz and Stegun (1964), table 25.4, n = 8 (to 15 places), and n = 64, largest node.
    #[test]
    fn published_nodes_and_weights() {
        let rule = gauss_legendre(8);
        let nodes = [
            0.183_434_642_495_650,
            0.525_532_409_916_329,
            0.796_666_477_413_627,
            0.960_289_856_497_536,
        ];
        let weights = [
            0.362_683_783_378_362,
            0.313_706_645_877_887,
            0.222_381_034_453_374,
            0.101_228_536_290_376,
        ];
        for i in 0..4 {
            // because: the table rounds to 15 places
            assert!(
                (rule.nodes()[4 + i] - nodes[i]).abs() <= 5.1e-16
                    && (rule.weights()[4 + i] - weights[i]).abs() <= 5.1e-16
            );
        }
    }

    // Computed with mpmath at 60 digits: (n, node of this index, weight).
    #[test]
    fn high_precision_nodes_and_weights() {
        for (n, i, node, weight) in REFERENCE {
            let rule = GaussLegendre::new(n).expect("n is within 1..=256");
            // because: both are rounded once from double-double
            assert!(
                (rule.nodes()[i] - node).abs() <= f64::EPSILON * node.abs(),
                "node {i} of {n}"
            );
            assert!(
                (rule.weights()[i] - weight).abs() <= f64::EPSILON * weight,
                "weight {i} of {n}"
            );
        }
    }

    #[test]
    fn sizes_out_of_range_are_refused() {
        assert!(GaussLegendre::new(0).is_none() && GaussLegendre::new(257).is_none());
        assert_eq!(gauss_legendre(17).nodes().len(), 24);
        assert_eq!(gauss_legendre(1000).nodes().len(), 64);
    }

    #[test]
    fn every_size_is_ascending_and_adds_to_two() {
        for n in 1..=256 {
            let rule = GaussLegendre::new(n).expect("n is within 1..=256");
            assert!(rule.nodes().is_sorted() && rule.nodes()[0] > -1.0);
            let total = crate::sum::sum(rule.weights().iter().copied());
            // because: n weights of mean 2/n, each rounded by half a unit in its last place
            assert!((total - 2.0).abs() < 4e-16, "{n}: {total}");
        }
    }

    proptest! {
        #[test]
        fn exact_for_polynomials(n in 1_usize..40, share in 0.0..1.0) {
            let degree = (share * (2 * n) as f64) as i32; // at most 2n - 1
            let rule = GaussLegendre::new(n).expect("n is within 1..=256");
            let got = rule.integrate(0.0, 1.0, |x| float::powi(x, degree));
            // because: n rounded terms, all positive, and powi's error of up to degree roundings
            prop_assert!((got * f64::from(degree + 1) - 1.0).abs() < 1e-15 * (4.0 + f64::from(degree)));
        }
    }

    const REFERENCE: [(usize, usize, f64, f64); 19] = [
        (2, 1, 0.577_350_269_189_625_7, 1.0),
        (3, 2, 0.774_596_669_241_483_4, 0.555_555_555_555_555_6),
        (3, 1, 0.0, 0.888_888_888_888_888_8),
        (16, 15, 0.989_400_934_991_649_9, 0.027_152_459_411_754_096),
        (16, 8, 0.095_012_509_837_637_44, 0.189_450_610_455_068_5),
        (24, 21, 0.938_274_552_002_732_8, 0.044_277_438_817_419_81),
        (32, 31, 0.997_263_861_849_481_6, 0.007_018_610_009_470_096),
        (32, 25, 0.794_483_795_967_942_4, 0.058_684_093_478_535_544),
        (32, 16, 0.048_307_665_687_738_32, 0.096_540_088_514_727_8),
        (64, 63, 0.999_305_041_735_772_2, 0.001_783_280_721_696_433),
        (64, 62, 0.996_340_116_771_955_3, 0.004_147_033_260_562_468),
        (64, 44, 0.571_895_646_202_634, 0.039_953_741_132_720_34),
        (64, 32, 0.024_350_292_663_424_433, 0.048_690_957_009_139_724),
        (
            101,
            100,
            0.999_719_339_529_770_3,
            0.000_720_231_706_401_863_6,
        ),
        (101, 51, 0.030_946_334_564_898_204, 0.030_936_451_688_597_42),
        (
            256,
            255,
            0.999_956_050_018_992_2,
            0.000_112_789_017_822_272_18,
        ),
        (
            256,
            254,
            0.999_768_437_409_263_1,
            0.000_262_534_944_296_445_9,
        ),
        (
            256,
            156,
            0.342_019_493_522_371_65,
            0.011_509_262_477_039_497,
        ),
        (
            256,
            128,
            0.006_123_912_375_189_529,
            0.012_247_671_640_289_755,
        ),
    ];
}
