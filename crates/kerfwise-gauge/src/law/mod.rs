//! The laws of inference on the special functions of `kerfwise-numeric`: tails are passed as such, and every quantile
//! ends within a fixed number of steps.

mod noncentral;

pub(crate) use noncentral::{noncentral_t_quantile, noncentrality};

use kerfwise_numeric::float;
use kerfwise_numeric::special::{
    beta_inc, beta_quantile, gamma_p, gamma_q, ln_gamma, normal_quantile,
};

/// Lower and upper chi-squared quantile with chance `tail` beyond each.
pub(crate) fn chi_squared_quantiles(tail: f64, nu: f64) -> (f64, f64) {
    let lower = chi_squared_quantile(Tail::Lower(tail), nu);
    let upper = chi_squared_quantile(Tail::Upper(tail), nu);
    (lower, upper)
}

/// A chance on one side; the other side is 1 minus it, and may have lost its digits.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Tail {
    Lower(f64),
    Upper(f64),
}

/// Chi-squared quantile for `nu` above 0, by Newton's method on the logarithm of the tail over the logarithm of x.
///
/// That logarithm is concave, so that after one step all others lie on the same side and come nearer.
pub(crate) fn chi_squared_quantile(tail: Tail, nu: f64) -> f64 {
    let a = 0.5 * nu;
    let (p, is_lower) = match tail {
        Tail::Lower(p) => (p, true),
        Tail::Upper(q) => (q, false),
    };
    if p <= 0.0 || p >= 1.0 {
        return if (p <= 0.0) == is_lower {
            0.0
        } else {
            f64::INFINITY
        };
    }
    let ln_p = float::ln(p);
    let mut half = start(p, is_lower, nu); // half of the quantile, which is a gamma(a) quantity
    let mut good = a;
    for _ in 0..100 {
        let chance = if is_lower {
            gamma_p(a, half)
        } else {
            gamma_q(a, half)
        };
        // So far out that the tail underflows: back half-way to where there was something.
        if chance <= 0.0 {
            half = 0.5 * (half + good);
            continue;
        }
        good = half;
        let density = float::exp(a * float::ln(half) - half - ln_gamma(a));
        let slope = if is_lower { density } else { -density } / chance;
        let step = ((ln_p - float::ln(chance)) / slope).clamp(-50.0, 50.0);
        if !step.is_finite() {
            break;
        }
        half = (half * float::exp(step)).max(f64::MIN_POSITIVE);
        if step.abs() < 4.0 * f64::EPSILON {
            break;
        }
    }
    2.0 * half
}

/// Half of a first guess: Wilson and Hilferty (1931), or the leading term of the lower tail where that is nearer.
fn start(p: f64, is_lower: bool, nu: f64) -> f64 {
    let a = 0.5 * nu;
    let z = if is_lower {
        normal_quantile(p)
    } else {
        -normal_quantile(p)
    };
    let v = 2.0 / (9.0 * nu);
    let cube_root = 1.0 - v + z * v.sqrt();
    if cube_root > 0.3 {
        return a * cube_root * cube_root * cube_root;
    }
    let lower = if is_lower { p } else { 1.0 - p };
    let leading = (float::ln(lower) + float::ln(a) + ln_gamma(a)) / a;
    float::exp(leading.min(float::ln(a))).max(f64::MIN_POSITIVE)
}

/// Chance that an F(nu1, nu2) quantity is above `f`.
pub(crate) fn f_upper(f: f64, nu1: f64, nu2: f64) -> f64 {
    if f <= 0.0 {
        return 1.0;
    }
    if f.is_infinite() {
        return 0.0;
    }
    // Of the two arguments, x and 1 - x, the smaller keeps its digits.
    let (above, below) = (nu1 * f, nu2);
    if above > below {
        beta_inc(below / (above + below), 0.5 * nu2, 0.5 * nu1).0
    } else {
        beta_inc(above / (above + below), 0.5 * nu1, 0.5 * nu2).1
    }
}

/// The value above which an F(nu1, nu2) quantity lies with chance `q`; either may be infinite.
pub(crate) fn f_quantile_upper(q: f64, nu1: f64, nu2: f64) -> f64 {
    match (nu1.is_infinite(), nu2.is_infinite()) {
        (true, true) => return 1.0,
        (false, true) => return chi_squared_quantile(Tail::Upper(q), nu1) / nu1,
        (true, false) => return nu2 / chi_squared_quantile(Tail::Lower(q), nu2),
        (false, false) => {}
    }
    let y = beta_quantile(q, 0.5 * nu2, 0.5 * nu1);
    let odds = if y < 0.9 {
        (1.0 - y) / y
    } else {
        let x = beta_quantile(1.0 - q, 0.5 * nu1, 0.5 * nu2);
        x / (1.0 - x)
    };
    odds * nu2 / nu1
}

#[cfg(test)]
mod tests;
