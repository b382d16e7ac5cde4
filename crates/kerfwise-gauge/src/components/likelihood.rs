//! Restricted maximum likelihood of variance components, for cells of repeated readings under crossed or nested factors.

use kerfwise_numeric::float;

/// Cells with their means, and what varies within them.
#[derive(Debug, Clone)]
pub(crate) struct Cells {
    /// Per factor, the level of each cell, counted from 0.
    pub(crate) factors: Vec<Vec<usize>>,
    /// Whether the cells have a variance of their own.
    pub(crate) has_cell_effect: bool,
    pub(crate) means: Vec<f64>,
    pub(crate) counts: Vec<f64>,
    /// Sum of squares within the cells, and its degrees of freedom.
    pub(crate) squares: f64,
    pub(crate) freedom: f64,
}

/// Restricted log-likelihood at variances, with what a step needs.
struct Point {
    value: f64,
    score: Vec<f64>,
    information: Matrix,
}

/// A variance below this share of the whole is 0; of the readings within a cell it is the least.
const LEAST_SHARE: f64 = 1e-12;

/// Variances of the factors in order, of the cell effect if there is one, and of a reading within its cell.
///
/// Fisher scoring (the expected information), each step halved until the likelihood grows; a variance whose slope at 0 points
/// below 0 stays there. From the third-of-everything start it took fewer than 40 steps in every simulation; 200 are the limit.
/// `None` when there is no spread at all.
pub(crate) fn fit(cells: &Cells) -> Option<Vec<f64>> {
    let n = cells.means.len() as f64;
    let mean = cells.means.iter().sum::<f64>() / n;
    let spread: f64 = cells.means.iter().map(|x| (x - mean) * (x - mean)).sum();
    let whole = spread / (n - 1.0).max(1.0) + cells.squares / cells.freedom.max(1.0);
    if whole <= 0.0 || !whole.is_finite() {
        return None;
    }
    let least = whole * LEAST_SHARE;
    let count = cells.factors.len() + usize::from(cells.has_cell_effect) + 1;
    let mut theta = vec![whole / count as f64; count];
    let mut here = at(cells, &theta)?;
    for _ in 0..200 {
        let Some(step) = step(&theta, &here, least) else {
            break;
        };
        let mut scale = 1.0;
        // At the top the likelihood is flat to within its rounding, and only the slope still shows the way.
        let noise = 1e-13 * here.value.abs().max(n);
        let moved = loop {
            let next: Vec<f64> = theta
                .iter()
                .zip(&step)
                .enumerate()
                .map(|(i, (t, s))| {
                    let floor = if i + 1 == count { least } else { 0.0 };
                    let to = t + scale * s;
                    if to < floor.max(least) { floor } else { to }
                })
                .collect();
            match at(cells, &next) {
                Some(there) if there.value >= here.value - noise => break Some((next, there)),
                _ if scale < 1e-8 => break None,
                _ => scale *= 0.5,
            }
        };
        let Some((next, there)) = moved else { break };
        let change = theta.iter().zip(&next).map(|(a, b)| (a - b).abs());
        let change = change.fold(0.0, f64::max);
        (theta, here) = (next, there);
        if change < whole * 1e-12 {
            break;
        }
    }
    Some(theta)
}

/// The step of the variances that are free to move; `None` where nothing is.
fn step(theta: &[f64], here: &Point, least: f64) -> Option<Vec<f64>> {
    let free: Vec<usize> = (0..theta.len())
        .filter(|&i| theta[i] > least || here.score[i] > 0.0)
        .collect();
    let information = Matrix::from(free.len(), |i, j| here.information.get(free[i], free[j]));
    let score: Vec<f64> = free.iter().map(|&i| here.score[i]).collect();
    let solved = information.cholesky()?.solve(&score);
    let mut step = vec![0.0; theta.len()];
    for (i, s) in free.into_iter().zip(solved) {
        step[i] = s;
    }
    Some(step)
}

/// The likelihood of the cell means, after Patterson and Thompson (1971), times that of the squares within cells.
fn at(cells: &Cells, theta: &[f64]) -> Option<Point> {
    let n = cells.means.len();
    let (within, cell) = (theta[theta.len() - 1], cells.cell_variance(theta));
    let covariance = Matrix::from(n, |i, j| {
        let mut v = if i == j {
            cell + within / cells.counts[i]
        } else {
            0.0
        };
        for (levels, variance) in cells.factors.iter().zip(theta) {
            if levels[i] == levels[j] {
                v += variance;
            }
        }
        v
    });
    let root = covariance.cholesky()?;
    let inverse = root.inverse();
    let ones: Vec<f64> = (0..n).map(|i| inverse.row(i).iter().sum()).collect();
    let total: f64 = ones.iter().sum();
    let projection = Matrix::from(n, |i, j| inverse.get(i, j) - ones[i] * ones[j] / total);
    let projected: Vec<f64> = (0..n)
        .map(|i| dot(projection.row(i), &cells.means))
        .collect();
    let mut value =
        -0.5 * (root.ln_determinant() + float::ln(total) + dot(&projected, &cells.means));
    let (mut score, mut information) = cells.slopes(&projection, &projected);
    if cells.freedom > 0.0 {
        let last = score.len() - 1;
        let share = cells.squares / within;
        value -= 0.5 * (cells.freedom * float::ln(within) + share);
        score[last] += 0.5 * (share - cells.freedom) / within;
        let more = 0.5 * cells.freedom / (within * within);
        information.add(last, last, more);
    }
    Some(Point {
        value,
        score,
        information,
    })
}

impl Cells {
    fn cell_variance(&self, theta: &[f64]) -> f64 {
        if self.has_cell_effect {
            theta[self.factors.len()]
        } else {
            0.0
        }
    }

    /// Score ½ (y'P Vₖ P y − tr P Vₖ) and expected information ½ tr(P Vₖ P Vₗ), where each Vₖ is Z D Z' with a diagonal D.
    fn slopes(&self, projection: &Matrix, projected: &[f64]) -> (Vec<f64>, Matrix) {
        let n = self.means.len();
        let single: Vec<usize> = (0..n).collect();
        let even = vec![1.0; n];
        let inverse: Vec<f64> = self.counts.iter().map(|count| 1.0 / count).collect();
        let mut parts: Vec<(&[usize], &[f64])> = Vec::new();
        for levels in &self.factors {
            parts.push((levels, &even));
        }
        if self.has_cell_effect {
            parts.push((&single, &even));
        }
        parts.push((&single, &inverse));
        let score = parts
            .iter()
            .map(|(levels, weights)| {
                let size = levels.iter().max().map_or(0, |most| most + 1);
                let mut sums = vec![0.0; size];
                let mut weight = vec![1.0; size];
                for (i, &level) in levels.iter().enumerate() {
                    sums[level] += projected[i];
                    weight[level] = weights[i];
                }
                let quadratic: f64 = sums.iter().zip(&weight).map(|(s, w)| s * s * w).sum();
                let trace: f64 = (0..n)
                    .map(|i| {
                        let row = projection.row(i);
                        let same = (0..n).filter(|&j| levels[i] == levels[j]);
                        weights[i] * same.map(|j| row[j]).sum::<f64>()
                    })
                    .sum();
                0.5 * (quadratic - trace)
            })
            .collect();
        let information = Matrix::from(parts.len(), |k, l| {
            0.5 * trace_of_product(projection, parts[k], parts[l])
        });
        (score, information)
    }
}

/// tr(P Vₖ P Vₗ) = Σ over pairs of levels of the squared sum of P over the pair, weighted.
fn trace_of_product(
    p: &Matrix,
    (rows, row_weights): (&[usize], &[f64]),
    (columns, column_weights): (&[usize], &[f64]),
) -> f64 {
    let size = |levels: &[usize]| levels.iter().max().map_or(0, |most| most + 1);
    let (height, width) = (size(rows), size(columns));
    let mut sums = vec![0.0; height * width];
    let mut weights = vec![0.0; height * width];
    for (i, &row) in rows.iter().enumerate() {
        for (j, &column) in columns.iter().enumerate() {
            sums[row * width + column] += p.get(i, j);
            weights[row * width + column] = row_weights[i] * column_weights[j];
        }
    }
    sums.iter().zip(&weights).map(|(s, w)| s * s * w).sum()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// A small square matrix.
struct Matrix {
    size: usize,
    cells: Vec<f64>,
}

impl Matrix {
    fn from(size: usize, f: impl Fn(usize, usize) -> f64) -> Self {
        let cells = (0..size * size).map(|at| f(at / size, at % size)).collect();
        Self { size, cells }
    }

    fn get(&self, i: usize, j: usize) -> f64 {
        self.cells[i * self.size + j]
    }

    fn add(&mut self, i: usize, j: usize, more: f64) {
        self.cells[i * self.size + j] += more;
    }

    fn row(&self, i: usize) -> &[f64] {
        &self.cells[i * self.size..(i + 1) * self.size]
    }

    /// The lower root L of a symmetric matrix L L'; `None` unless it is positive definite.
    fn cholesky(&self) -> Option<Root> {
        let n = self.size;
        let mut l = Self::from(n, |_, _| 0.0);
        for i in 0..n {
            for j in 0..=i {
                let rest = self.get(i, j) - dot(&l.row(i)[..j], &l.row(j)[..j]);
                l.cells[i * n + j] = if i == j {
                    if rest <= 0.0 || !rest.is_finite() {
                        return None;
                    }
                    rest.sqrt()
                } else {
                    rest / l.get(j, j)
                };
            }
        }
        Some(Root(l))
    }
}

/// Lower triangular.
struct Root(Matrix);

impl Root {
    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let n = self.0.size;
        let mut x = right.to_vec();
        for i in 0..n {
            x[i] = (x[i] - dot(&self.0.row(i)[..i], &x[..i])) / self.0.get(i, i);
        }
        for i in (0..n).rev() {
            let below: f64 = (i + 1..n).map(|j| self.0.get(j, i) * x[j]).sum();
            x[i] = (x[i] - below) / self.0.get(i, i);
        }
        x
    }

    fn inverse(&self) -> Matrix {
        let n = self.0.size;
        let mut cells = Vec::with_capacity(n * n);
        for i in 0..n {
            let mut unit = vec![0.0; n];
            unit[i] = 1.0;
            cells.extend(self.solve(&unit));
        }
        Matrix { size: n, cells }
    }

    fn ln_determinant(&self) -> f64 {
        let ln = |i| float::ln(self.0.get(i, i));
        2.0 * (0..self.0.size).map(ln).sum::<f64>()
    }
}
