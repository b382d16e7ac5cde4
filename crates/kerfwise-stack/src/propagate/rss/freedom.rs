//! Effective degrees of freedom, and the shape that the outcome is taken to have.

use super::Working;
use kerfwise_numeric::special::{normal_quantile_upper, student_t_quantile_upper};
use std::fmt;

/// The shape of the standardised outcome.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Shape {
    Normal,
    /// Student t with these degrees of freedom.
    StudentT(f64),
}

impl Shape {
    /// Half-width of the central interval of this probability, in standard uncertainties.
    pub(super) fn coverage_factor(self, level: f64) -> f64 {
        let upper_tail = 0.5 * (1.0 - level);
        match self {
            Self::Normal => normal_quantile_upper(upper_tail),
            Self::StudentT(dof) => student_t_quantile_upper(upper_tail, dof),
        }
    }
}

impl fmt::Display for Shape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Normal => f.write_str("the outcome is taken as normal"),
            Self::StudentT(dof) => write!(
                f,
                "the outcome is taken as Student t with {} effective degrees of freedom (Welch–Satterthwaite)",
                rounded(*dof)
            ),
        }
    }
}

fn rounded(dof: f64) -> String {
    if dof < 1000.0 {
        let text = format!("{dof:.1}");
        text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
    } else {
        format!("{dof:.0}")
    }
}

pub(super) fn shape(working: &Working<'_>) -> Shape {
    match effective(working) {
        Some(dof) if dof.is_finite() => {
            let whole = dof.floor();
            let is_cut = working.options.truncated && whole >= 1.0;
            Shape::StudentT(if is_cut { whole } else { dof })
        }
        _ => Shape::Normal,
    }
}

/// Welch–Satterthwaite (JCGM 100, G.4.1, eq. G.2b), u being the first-order part:
///
/// ```text
/// ν_eff = u⁴ / Σ (c_i u_i)⁴ / ν_i
/// ```
///
/// The formula is for independently estimated `u_i`. Several draws of one source have one estimate of their spread in
/// common, so they are one term: (Σ `c_i²` u²)² / ν. Correlated inputs of infinite degrees of freedom do not disturb it:
/// together they are one known component.
pub(super) fn effective(working: &Working<'_>) -> Option<f64> {
    let scaled = &working.variance.scaled;
    let brings_something = |k: usize| scaled[k].abs() > 0.0;
    let mut below = 0.0;
    let mut start = 0;
    // Inputs stand by name, so the draws of one source stand together.
    for draws in working.inputs.chunk_by(|a, b| a.source.is_same(b.source)) {
        let places = start..start + draws.len();
        start = places.end;
        let degrees_of_freedom = draws[0].degrees_of_freedom;
        if degrees_of_freedom.is_infinite() {
            continue;
        }
        let is_linked = |k: usize| {
            working
                .correlated
                .iter()
                .any(|pair| pair.has(k) && brings_something(pair.a) && brings_something(pair.b))
        };
        if places.clone().any(is_linked) {
            return None;
        }
        let square: f64 = scaled[places].iter().map(|c| c * c).sum();
        below += square * square / degrees_of_freedom;
    }
    let total = working.variance.first_total();
    Some(if below > 0.0 {
        total * total / below
    } else {
        f64::INFINITY
    })
}
