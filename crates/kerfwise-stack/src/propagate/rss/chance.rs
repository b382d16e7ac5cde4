//! Chance of the band, if the outcome has the assumed shape.

use super::freedom::Shape;
use crate::{Band, Chance};
use kerfwise_numeric::quadrature::GaussLegendre;
use kerfwise_numeric::special::{
    normal_cdf, normal_interval, normal_sf, student_t_cdf, student_t_pdf, student_t_sf,
};

/// All three numbers keep their relative accuracy when they are small.
pub(super) fn of_band(band: Band, value: f64, u: f64, shape: Shape) -> Chance {
    let (from, to) = band.raw();
    if u <= 0.0 {
        return certain(value, from, to);
    }
    // A limit that is there stays finite in units of u, so that it keeps its side.
    let in_u = |limit: f64| {
        if limit.is_finite() {
            ((limit - value) / u).clamp(-f64::MAX, f64::MAX)
        } else {
            limit
        }
    };
    let (a, b) = (in_u(from), in_u(to));
    match shape {
        Shape::Normal => Chance {
            below: normal_cdf(a),
            inside: normal_interval(a, b),
            above: normal_sf(b),
        },
        Shape::StudentT(dof) => Chance {
            below: student_t_cdf(a, dof),
            inside: student_t_interval(a, b, dof),
            above: student_t_sf(b, dof),
        },
    }
}

fn certain(value: f64, from: f64, to: f64) -> Chance {
    let chance = |is_so: bool| if is_so { 1.0 } else { 0.0 };
    Chance {
        below: chance(value < from),
        inside: chance(from <= value && value <= to),
        above: chance(value > to),
    }
}

/// P(a ≤ T ≤ b): from the tails where they differ, from the density where the interval is so narrow that they would
/// cancel.
fn student_t_interval(a: f64, b: f64, dof: f64) -> f64 {
    if b <= a {
        return 0.0;
    }
    if b - a < 0.25 * smooth_length(a, b, dof)
        && let Some(rule) = GaussLegendre::new(12)
    {
        return rule.integrate(a, b, |t| student_t_pdf(t, dof));
    }
    if a >= 0.0 {
        student_t_sf(a, dof) - student_t_sf(b, dof)
    } else if b <= 0.0 {
        student_t_cdf(b, dof) - student_t_cdf(a, dof)
    } else {
        // Both halves are positive: 1 − F(a) − (1 − F(b)) loses only what is lost in 1/2 − tail.
        (0.5 - student_t_cdf(a, dof)) + (0.5 - student_t_sf(b, dof))
    }
}

/// A length over which the density between a and b is close to an exponential: what it takes for the logarithm of the
/// density, whose slope is (ν + 1) t / (ν + t²), to fall by one; not more than the distance from its nearest
/// singularity, which is ±i√ν.
fn smooth_length(a: f64, b: f64, dof: f64) -> f64 {
    let nearest = a.max(-b).max(0.0);
    let to_singularity = nearest.max(dof.sqrt().min(1.0));
    if nearest > 0.0 {
        to_singularity.min((dof / nearest + nearest) / (dof + 1.0))
    } else {
        to_singularity
    }
}
