use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_numeric::special::{ln_gamma, normal_cdf};

/// Below e to the power of minus this, relative to its top, a density adds nothing that could be seen.
const DEPTH: f64 = 42.0;

/// Which side of t.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Side {
    Below,
    Above,
}

/// Chance that a noncentral t quantity with `nu` above 0 degrees of freedom is on one side of `t`.
///
/// ```text
/// P(T ≤ t) = E[Φ(t u − δ)]        u = √(χ²(ν)/ν) = eᵛ        density of v ∝ exp(ν v − ν e²ᵛ/2)
/// ```
/// The density is smooth in v for every ν. Gauss rules on panels that are short where Φ turns over; to 1e-14 of the whole, and
/// ν digits of 1e-16.
pub(crate) fn noncentral_t(side: Side, t: f64, nu: f64, delta: f64) -> f64 {
    let half = 0.5 * nu;
    let top = std::f64::consts::LN_2 + half * float::ln(half) - ln_gamma(half) - half;
    // Few degrees of freedom make the density fall twice exponentially to the right, which wants more nodes.
    let rule = gauss_legendre(if nu < 4.0 { 32 } else { 16 });
    let sign = if side == Side::Below { 1.0 } else { -1.0 };
    let mut total = 0.0;
    for (a, b) in panels(nu, t, delta) {
        let (middle, reach) = (0.5 * (a + b), 0.5 * (b - a));
        for (x, weight) in rule.nodes().iter().zip(rule.weights()) {
            let v = middle + reach * x;
            let u = float::exp(v);
            // e²ᵛ − 1 without cancellation is not needed: the exponent is good to ν digits of 1e-16 anyway.
            let share = weight * reach * float::exp(top + nu * (v - 0.5 * (u * u - 1.0)));
            total += share * normal_cdf(sign * (t * u - delta));
        }
    }
    total
}

/// Panels from end to end of the density, about a standard deviation each; shorter ones where the integrand turns over.
fn panels(nu: f64, t: f64, delta: f64) -> Vec<(f64, f64)> {
    let (lo, hi) = (end(nu, -1.0), end(nu, 1.0));
    let usual = 2.5 / (2.0 * nu).sqrt();
    let mut edges = vec![lo, hi];
    let turn = float::ln(delta / t); // NaN where t and δ differ in sign: no turn
    let width = 8.0 / delta.abs();
    if turn.is_finite() {
        edges.extend([turn - width, turn + width].map(|edge| edge.clamp(lo, hi)));
    }
    edges.sort_by(f64::total_cmp);
    let mut panels = Vec::new();
    for pair in edges.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let turns = turn.is_finite() && (0.5 * (a + b) - turn).abs() < width;
        let length = if turns {
            usual.min(3.0 / delta.abs())
        } else {
            usual
        };
        let count = ((b - a) / length).ceil().min(400.0);
        let step = (b - a) / count;
        let mut from = a;
        for i in 1..=count as u32 {
            let to = a + step * f64::from(i);
            panels.push((from, to));
            from = to;
        }
    }
    panels
}

/// How far the density reaches on one side: where its logarithm has fallen by more than the depth, and not by twice that.
fn end(nu: f64, side: f64) -> f64 {
    let fall = |v: f64| nu * (0.5 * float::exp_m1(2.0 * v) - v);
    // As far as a parabola would fall; the true fall is faster to the right and slower to the left.
    let mut far = (DEPTH / nu).sqrt();
    while side > 0.0 && fall(0.8 * far) > DEPTH {
        far *= 0.8;
    }
    while side < 0.0 && fall(-far) < DEPTH {
        far *= 1.2;
    }
    side * far
}

/// The noncentrality at which a noncentral t quantity is at most `t` with chance `below`; `None` where there is none, as for
/// chances of 0 or 1.
pub(crate) fn noncentrality(t: f64, nu: f64, below: f64) -> Option<f64> {
    // The chance falls as the noncentrality grows.
    falling_root(t, nu, below, |delta| excess(t, nu, delta, below))
}

/// The `t` below which a noncentral t quantity lies with chance `below`; `None` as above.
pub(crate) fn noncentral_t_quantile(below: f64, nu: f64, delta: f64) -> Option<f64> {
    falling_root(delta, nu, below, |t| -excess(t, nu, delta, below))
}

/// The chance below t less the wanted one, from the side that has its digits.
fn excess(t: f64, nu: f64, delta: f64, below: f64) -> f64 {
    if below < 0.5 {
        noncentral_t(Side::Below, t, nu, delta) - below
    } else {
        (1.0 - below) - noncentral_t(Side::Above, t, nu, delta)
    }
}

/// The root of a falling function, looked for ever farther from a middle; the standard deviation of a noncentral t quantity is
/// about √(1 + t²/2ν).
fn falling_root(middle: f64, nu: f64, below: f64, f: impl Fn(f64) -> f64) -> Option<f64> {
    if !(below > 0.0 && below < 1.0) {
        return None;
    }
    let first = (1.0 + 0.5 * middle * middle / nu).sqrt();
    let fine = RootTolerance {
        absolute: 1e-13,
        relative: 1e-13,
    };
    // Which side of the middle: there the function has the sign of that side.
    let side = if f(middle) > 0.0 { 1.0 } else { -1.0 };
    let (mut near, mut step) = (middle, first);
    // Farther than any t that a chance of 1e-15 with one degree of freedom would need.
    while step < 1e18 * first {
        let far = middle + side * step;
        if side * f(far) <= 0.0 {
            let (lo, hi) = if side > 0.0 { (near, far) } else { (far, near) };
            return find_root(f, lo, hi, fine).ok().map(|root| root.x);
        }
        near = far;
        step *= 2.0;
    }
    None
}
