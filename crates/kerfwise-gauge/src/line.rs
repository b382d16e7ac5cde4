//! The straight line through points by least squares.

use crate::wide::Wide;
use kerfwise_numeric::sum::sum;

/// Slope and what is left over, for at least three points of which two differ in x.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    pub(crate) slope: f64,
    pub(crate) standard_error: f64,
    pub(crate) degrees_of_freedom: f64,
}

impl Line {
    /// Deviations from the two means first, then the residuals themselves: no difference of large sums.
    pub(crate) fn through(x: &[f64], y: &[f64]) -> Option<Self> {
        let n = x.len().min(y.len());
        let (x, y) = (deviations(x.get(..n)?), deviations(y.get(..n)?));
        let xx = sum(x.iter().map(|x| x * x));
        if n < 3 || xx <= 0.0 {
            return None;
        }
        let slope = sum(x.iter().zip(&y).map(|(x, y)| x * y)) / xx;
        let residual = |(x, y): (&f64, &f64)| {
            let r = y - slope * x;
            r * r
        };
        let residuals = sum(x.iter().zip(&y).map(residual));
        let degrees_of_freedom = n as f64 - 2.0;
        let standard_error = (residuals / degrees_of_freedom / xx).sqrt();
        (slope.is_finite() && standard_error.is_finite()).then_some(Self {
            slope,
            standard_error,
            degrees_of_freedom,
        })
    }
}

/// What each value differs from the mean of all, each rounded once.
pub(crate) fn deviations(values: &[f64]) -> Vec<f64> {
    let Some(&first) = values.first() else {
        return Vec::new();
    };
    let total = values.iter().fold(Wide::default(), |total, &value| {
        total + Wide::difference(value, first)
    });
    let shift = total.over(values.len() as f64);
    values
        .iter()
        .map(|&value| (Wide::difference(value, first) - shift).value())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::published::set;

    // NIST Statistical Reference Datasets, linear regression, Norris: certified slope 1.00211681802045 and its
    // standard deviation 0.429796848199937E-03.
    #[test]
    fn nist_norris() {
        let (y, x): (Vec<f64>, Vec<f64>) = set("norris").iter().map(|row| (row[0], row[1])).unzip();
        let line = Line::through(&x, &y).unwrap();
        // Because the readings have five digits and the sums are compensated: some roundings of 1e-16.
        assert!((line.slope / 1.002_116_818_020_45 - 1.0).abs() < 1e-14);
        assert!((line.standard_error / 0.429_796_848_199_937e-3 - 1.0).abs() < 3e-14);
        assert!((line.degrees_of_freedom - 34.0).abs() < 1e-15);
    }

    #[test]
    fn no_line_through_two_points_or_one_x() {
        assert!(Line::through(&[1.0, 2.0], &[1.0, 2.0]).is_none());
        assert!(Line::through(&[1.0, 1.0, 1.0], &[1.0, 2.0, 3.0]).is_none());
    }
}
