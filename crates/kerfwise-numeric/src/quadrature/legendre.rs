use crate::float::cos;
use std::f64::consts::PI;
use std::sync::OnceLock;

/// Gauss–Legendre rule of n nodes on [-1, 1].
#[derive(Debug, Clone, PartialEq)]
pub struct GaussLegendre {
    nodes: Vec<f64>,
    weights: Vec<f64>,
}

impl GaussLegendre {
    /// Rule with `n` nodes; `None` unless 1 <= n <= 256.
    #[must_use]
    pub fn new(n: usize) -> Option<Self> {
        if !(1..=256).contains(&n) {
            return None;
        }
        let mut nodes = vec![0.0; n];
        let mut weights = vec![0.0; n];
        for i in 0..n.div_ceil(2) {
            let mut x = cos(PI * (i as f64 + 0.75) / (n as f64 + 0.5));
            let mut slope = 1.0;
            for _ in 0..10 {
                let (mut p, mut before) = (1.0, 0.0);
                for k in 0..n {
                    let k = k as f64;
                    (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
                }
                slope = n as f64 * (x * p - before) / (x * x - 1.0);
                x -= p / slope;
            }
            nodes[i] = -x;
            nodes[n - 1 - i] = x;
            let weight = 2.0 / ((1.0 - x * x) * slope * slope);
            weights[i] = weight;
            weights[n - 1 - i] = weight;
        }
        Some(Self { nodes, weights })
    }

    /// Nodes on [-1, 1], ascending.
    #[must_use]
    pub fn nodes(&self) -> &[f64] {
        &self.nodes
    }

    /// Weights, in the order of the nodes; they add to 2.
    #[must_use]
    pub fn weights(&self) -> &[f64] {
        &self.weights
    }

    /// Integral of `f` from `a` to `b`.
    pub fn integrate(&self, a: f64, b: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
        let (middle, half) = (0.5 * (a + b), 0.5 * (b - a));
        let mut total = 0.0;
        for (x, w) in self.nodes.iter().zip(&self.weights) {
            total += w * f(middle + half * x);
        }
        half * total
    }
}

/// Common rules, made once: n = 8, 16, 24, 32 or 64; any other n gets the next of these above (at most 64).
#[must_use]
pub fn gauss_legendre(n: usize) -> &'static GaussLegendre {
    static RULES: [OnceLock<GaussLegendre>; 5] = [const { OnceLock::new() }; 5];
    const SIZES: [usize; 5] = [8, 16, 24, 32, 64];
    let index = SIZES.iter().position(|&size| size >= n).unwrap_or(4);
    RULES[index]
        .get_or_init(|| GaussLegendre::new(SIZES[index]).expect("common sizes are within 1..=256"))
}
