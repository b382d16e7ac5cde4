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

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;

    // x and Q(x) of the limit, computed with mpmath at 40 digits.
    const LIMIT: [(f64, f64); 8] = [
        (0.3, 0.999_990_694_198_665_5),
        (0.5, 0.963_945_243_664_875_1),
        (0.9, 0.392_730_707_940_654_34),
        (0.999, 0.271_073_164_115_063_94),
        (1.001, 0.268_929_266_298_627),
        (1.358, 0.050_026_797_334_446_99),
        (2.0, 0.000_670_925_255_779_695_3),
        (3.0, 3.045_995_948_942_526e-8),
    ];

    #[test]
    fn limit_for_large_samples() {
        let n = 1_usize << 52;
        let root = (n as f64).sqrt();
        for (x, want) in LIMIT {
            let d = x / (root + 0.12 + 0.11 / root);
            // because: the exponent 2 x^2 is at most 18, and x itself is rounded three times
            assert_close(kolmogorov_sf(d, n), want, 1e-14, x);
        }
    }

    // Stephens (1970), modified D at 15, 10, 5, 2.5 and 1 %: 1.138, 1.224, 1.358, 1.480, 1.628, for every n.
    #[test]
    fn published_percentage_points() {
        for (x, want) in [
            (1.138, 0.15),
            (1.224, 0.10),
            (1.358, 0.05),
            (1.480, 0.025),
            (1.628, 0.01),
        ] {
            for n in [10_usize, 100, 10_000] {
                let root = (n as f64).sqrt();
                // because: points of four digits, times the slope 4 x of ln Q
                assert_close(
                    kolmogorov_sf(x / (root + 0.12 + 0.11 / root), n),
                    want,
                    4e-3,
                    x,
                );
            }
        }
    }

    #[test]
    fn ends() {
        assert_eq!(
            (
                kolmogorov_sf(0.0, 10),
                kolmogorov_sf(-1.0, 10),
                kolmogorov_sf(0.5, 0)
            ),
            (1.0, 1.0, 1.0)
        );
        assert_eq!(
            (kolmogorov_sf(1.0, 10), kolmogorov_sf(1e-9, 10)),
            (0.0, 1.0)
        );
        assert!(kolmogorov_sf(f64::NAN, 10).is_nan());
    }
}
