use crate::float;

/// Chance that the Kolmogorov distance of n readings from their own law is above d.
#[must_use]
pub fn kolmogorov_sf(d: f64, n: usize) -> f64 {
    let root = (n as f64).sqrt();
    let x = d * (root + 0.12 + 0.11 / root);
    if x < 0.2 {
        return 1.0;
    }
    let mut total = 0.0;
    for k in 1..100 {
        let k = f64::from(k);
        let sign = if k % 2.0 == 1.0 { 1.0 } else { -1.0 };
        total += sign * float::exp(-2.0 * k * k * x * x);
    }
    (2.0 * total).clamp(0.0, 1.0)
}
