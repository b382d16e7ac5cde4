//! The Kolmogorov distribution, for tests of samplers.

use crate::float;
use std::f64::consts::PI;

/// Chance that the largest distance between the empirical distribution of `n` readings and their own continuous law is above `d`.
///
/// ```text
/// Q(x) = 2 (e^(-2 x^2) - e^(-8 x^2) + e^(-18 x^2) - ...),   x = d (sqrt(n) + 0.12 + 0.11/sqrt(n))
/// ```
/// Kolmogorov's limit with the correction of Stephens (1970), good to about two digits of the chance for n >= 4 and better for
/// larger n: enough to judge a sampler. 1 for d <= 0 or n = 0, 0 for d >= 1, NaN for d NaN.
///
/// ```
/// use kerfwise_numeric::special::kolmogorov_sf;
/// // The limit's 5 % point is 1.358.
/// assert!((kolmogorov_sf(1.358 / 1e4, 100_000_000) - 0.05).abs() < 1e-4);
/// ```
#[must_use]
pub fn kolmogorov_sf(d: f64, n: usize) -> f64 {
    if d.is_nan() {
        return d;
    }
    if d <= 0.0 || n == 0 {
        return 1.0;
    }
    if d >= 1.0 {
        return 0.0;
    }
    let root = (n as f64).sqrt();
    let x = d * (root + 0.12 + 0.11 / root);
    let mut total = 0.0;
    if x > 1.0 {
        for k in (1..=4).rev() {
            let k = f64::from(k);
            total = float::exp(-2.0 * k * k * x * x) - total;
        }
        2.0 * total
    } else {
        // The other theta series converges fast where this one is slow.
        for k in [1.0, 3.0, 5.0, 7.0] {
            total += float::exp(-k * k * PI * PI / (8.0 * x * x));
        }
        1.0 - (2.0 * PI).sqrt() / x * total
    }
}
