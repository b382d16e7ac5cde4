//! The characteristic function of Student's t at many places at once: the routes of [`StudentCf::at`], without branches.

use super::StudentCf;
use super::bessel::{Bends, large_k01, small_k01};
use super::gamma::LEAST;
use super::student_cf::Route;
use crate::columns::{choose, exp, exps, ln};
use crate::float;
use multiversion::multiversion;

/// Places that go through all steps together.
const CHUNK: usize = 32;

impl StudentCf {
    /// Every t of a column becomes the value there, at a fraction of the cost of [`at`](Self::at) for each.
    ///
    /// Relative accuracy: 4e-15, and 4e-16 times the logarithm of the value. NaN stays.
    ///
    /// ```
    /// use kerfwise_numeric::special::StudentCf;
    /// let phi = StudentCf::new(4.0);
    /// let mut column = [0.0, 0.3, -2.0];
    /// phi.fill(&mut column);
    /// for (got, t) in column.into_iter().zip([0.0, 0.3, -2.0]) {
    ///     assert!((got - phi.at(t)).abs() < 1e-15);
    /// }
    /// ```
    pub fn fill(&self, column: &mut [f64]) {
        match self.route {
            Route::Normal => {
                for t in column.iter_mut() {
                    *t = -0.5 * (*t * *t);
                }
                exps(column);
            }
            Route::Steps { root, odd } => by_steps(self.nu, root.hi, odd, column),
            Route::Peak { front } if self.nu > 0.0 => self.by_peak_all(front, column),
            Route::Peak { .. } => column.fill(f64::NAN),
        }
    }

    /// The integral about its peak, with steps so fine that few different ones serve all places: what each
    /// step takes is made once.
    fn by_peak_all(&self, front: f64, column: &mut [f64]) {
        let nu = self.nu.max(LEAST);
        let a = 0.5 * nu;
        let mut rules: Vec<Rule> = Vec::new();
        for t in column {
            let square = *t * *t * nu;
            // What is that small, or has died, or is no number, is left to the single value.
            if !(1e-18..1e8).contains(&square) || square > 1e7 * a.max(1.0) {
                *t = self.at(*t);
                continue;
            }
            let root = (square + a * a).sqrt();
            let excess = square / (root + a);
            let finer = (0..60)
                .find(|j| 7.0 * float::powi(2.0, *j) >= root + 7.0)
                .unwrap_or(60);
            let at = rules.iter().position(|rule| rule.finer == finer);
            let at = at.unwrap_or_else(|| {
                rules.push(Rule::new(a, finer));
                rules.len() - 1
            });
            let exponent = float::ln_1p(excess / nu) * a - excess;
            *t = float::exp(exponent) * front * rules[at].integral(excess);
        }
    }
}

/// Nodes of the trapezoidal rule of one step, eight on either side at a time.
struct Rule {
    order: f64,
    finer: i32,
    step: f64,
    /// cosh u − 1 of eight nodes, and the order times e^u − 1 − u and e^−u − 1 + u.
    nodes: Vec<[[f64; 8]; 3]>,
}

impl Rule {
    /// The step is at most that of a single value, 0.66/√(root + 7), and at least that over √2.
    fn new(order: f64, finer: i32) -> Self {
        let step = 0.66 / (7.0 * float::powi(2.0, finer)).sqrt();
        Self {
            order,
            finer,
            step,
            nodes: Vec::new(),
        }
    }

    fn integral(&mut self, excess: f64) -> f64 {
        let mut total = 1.0;
        let mut i = 0;
        loop {
            if i == self.nodes.len() {
                self.more();
            }
            let last = add_nodes(&self.nodes[i], excess, &mut total);
            if last <= 1e-18 * total {
                return self.step * total;
            }
            i += 1;
        }
    }

    fn more(&mut self) {
        let [mut cosh, mut forward, mut backward] = [[0.0; 8]; 3];
        for j in 0..8 {
            let k = 8 * self.nodes.len() + j + 1;
            let bends = Bends::at(k as f64 * self.step);
            cosh[j] = bends.cosh;
            forward[j] = self.order * bends.forward;
            backward[j] = self.order * bends.backward;
        }
        self.nodes.push([cosh, forward, backward]);
    }
}

/// Adds sixteen terms; the larger of the last two.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn add_nodes(nodes: &[[f64; 8]; 3], excess: f64, total: &mut f64) -> f64 {
    let (mut right, mut left) = ([0.0; 8], [0.0; 8]);
    for j in 0..8 {
        let common = -excess * nodes[0][j];
        right[j] = exp(common - nodes[1][j]);
        left[j] = exp(common - nodes[2][j]);
    }
    for j in 0..8 {
        *total += right[j] + left[j];
    }
    right[7].max(left[7])
}

/// Upward recurrence of the order, as for a single value.
#[multiversion(targets("x86_64+avx512f+avx512bw+avx512cd+avx512dq+avx512vl", "x86_64+avx2"))]
fn by_steps(nu: f64, root: f64, odd: bool, column: &mut [f64]) {
    for chunk in column.chunks_mut(CHUNK) {
        let n = chunk.len();
        let (mut z, mut before, mut now, mut fall) =
            ([0.0; CHUNK], [1.0; CHUNK], [1.0; CHUNK], [0.0; CHUNK]);
        for i in 0..n {
            z[i] = root * chunk[i].abs();
        }
        for i in 0..CHUNK {
            fall[i] = exp(-z[i]);
        }
        let mut a = 2.0;
        if odd {
            for i in 0..CHUNK {
                now[i] = 1.0 + z[i];
            }
            a = 1.5;
        } else {
            for i in 0..CHUNK {
                let square = z[i] * z[i];
                // Below 2 they come without the factor e^z.
                let near = small_k01(z[i], ln(0.5 * choose(z[i] < 1e-150, 1e-150, z[i])));
                let far = large_k01(choose(z[i] < 2.0, 2.0, z[i]));
                let is_near = z[i] < 2.0;
                let (k0, first) = (
                    choose(is_near, near.0, far.0),
                    choose(is_near, near.1, z[i] * far.1),
                );
                fall[i] = choose(is_near, 1.0, fall[i]);
                before[i] = first;
                now[i] = first + 0.5 * square * k0;
            }
        }
        if nu <= 2.0 {
            now = before;
        }
        while 2.0 * a < nu {
            let by = 1.0 / (4.0 * a * (a - 1.0));
            for i in 0..CHUNK {
                let next = now[i] + z[i] * z[i] * by * before[i];
                before[i] = now[i];
                now[i] = next;
            }
            a += 1.0;
        }
        for i in 0..n {
            let value = now[i] * fall[i];
            // The polynomial may be infinite where nothing is left.
            chunk[i] = choose(
                z[i] > 700.0,
                0.0,
                choose(chunk[i].is_nan(), chunk[i], value),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn a_column_is_its_values(
            nu in prop_oneof![(1_u32..70).prop_map(f64::from), 0.05..300.0_f64, Just(f64::INFINITY), Just(4.0)],
            places in prop::collection::vec(prop_oneof![0.0..12.0_f64, 1e-9..0.1_f64], 1..80),
        ) {
            let phi = StudentCf::new(nu);
            let mut column = places.clone();
            phi.fill(&mut column);
            for (got, t) in column.iter().zip(&places) {
                let want = phi.at(*t);
                // because: 4e-15 of the single value, and what the column promises
                let allowed = 8e-15 - 4e-16 * float::ln(want.max(1e-300));
                prop_assert!((got - want).abs() <= allowed * want, "{nu} {t}: {got:e} {want:e}");
            }
        }
    }

    #[test]
    fn ends_of_a_column() {
        for nu in [0.3, 1.0, 2.0, 2.5, 4.0, 60.0, 61.0, 1e6] {
            let phi = StudentCf::new(nu);
            let mut column = [
                0.0,
                -0.0,
                5e-324,
                1e-12,
                1e5,
                1e300,
                f64::INFINITY,
                f64::NAN,
            ];
            let wanted = column.map(|t| phi.at(t));
            phi.fill(&mut column);
            // because: near zero all but a rounding is left, far out nothing
            for (got, want) in column[..7].iter().zip(wanted) {
                assert!(
                    (got - want).abs() <= 2.0 * f64::EPSILON,
                    "{nu} {got} {want}"
                );
            }
            assert!(column[7].is_nan());
        }
        let mut column = [1.0];
        StudentCf::new(-1.0).fill(&mut column);
        assert!(column[0].is_nan());
    }
}
