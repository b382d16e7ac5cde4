//! Linear equations.

/// Solves A x = b by elimination with partial pivoting; `rows` hold A and, last, b. `None` for a singular A.
pub(super) fn solve(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = rows.len();
    for column in 0..n {
        let size = |row: &usize| rows[*row][column].abs();
        let pivot = (column..n).max_by(|a, b| size(a).total_cmp(&size(b)))?;
        rows.swap(column, pivot);
        let (above, below) = rows.split_at_mut(column + 1);
        let lead = above[column].as_slice();
        if lead[column].abs() <= 0.0 || !lead[column].is_finite() {
            return None;
        }
        for row in below {
            let factor = row[column] / lead[column];
            for (cell, of_lead) in row[column..].iter_mut().zip(&lead[column..]) {
                *cell -= factor * of_lead;
            }
        }
    }
    let mut x = vec![0.0; n];
    for i in (0..n).rev() {
        let known: f64 = (i + 1..n).map(|j| rows[i][j] * x[j]).sum();
        x[i] = (rows[i][n] - known) / rows[i][i];
    }
    Some(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_equations_that_need_a_pivot() {
        // 2 y = 4, x + y = 3.
        let x = solve(vec![vec![0.0, 2.0, 4.0], vec![1.0, 1.0, 3.0]]).unwrap();
        assert_eq!(x, [1.0, 2.0]);
        assert_eq!(solve(vec![vec![1.0, 1.0, 1.0], vec![1.0, 1.0, 2.0]]), None);
    }
}
