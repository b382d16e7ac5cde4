use crate::float;

/// Natural logarithm of |Gamma(x)|.
#[must_use]
pub fn ln_gamma(x: f64) -> f64 {
    float::ln_gamma(x)
}

/// Regularised lower incomplete gamma function.
#[must_use]
pub fn gamma_p(a: f64, x: f64) -> f64 {
    both(a, x).0
}

/// Regularised upper incomplete gamma function.
#[must_use]
pub fn gamma_q(a: f64, x: f64) -> f64 {
    both(a, x).1
}

fn both(a: f64, x: f64) -> (f64, f64) {
    if x <= 0.0 {
        return (0.0, 1.0);
    }
    let front = float::exp(a * float::ln(x) - x - ln_gamma(a));
    if x < a + 1.0 {
        let (mut term, mut total) = (1.0 / a, 1.0 / a);
        let mut n = a;
        for _ in 0..10_000 {
            n += 1.0;
            term *= x / n;
            total += term;
            if term < 1e-17 * total {
                break;
            }
        }
        let p = front * total;
        (p, 1.0 - p)
    } else {
        let mut b = x + 1.0 - a;
        let mut c = 1e300;
        let mut d = 1.0 / b;
        let mut h = d;
        for i in 1..10_000 {
            let i = f64::from(i);
            let an = -i * (i - a);
            b += 2.0;
            d = 1.0 / (an * d + b);
            c = b + an / c;
            h *= d * c;
            if (d * c - 1.0).abs() < 1e-16 {
                break;
            }
        }
        let q = front * h;
        (1.0 - q, q)
    }
}
