//! Why an answer of the law of propagation should be doubted.

use super::Working;
use kerfwise_source::Distribution;

/// Below so many degrees of freedom the standard uncertainty of a source is known to a third or worse
/// (JCGM 100, table E.1: 36 % for five readings).
const FEW_DEGREES_OF_FREEDOM: f64 = 5.0;

pub(super) fn of(working: &Working<'_>) -> Vec<String> {
    let mut doubts = Vec::new();
    if let Some(operation) = working.kink {
        doubts.push(format!(
            "the outcome has a kink at the estimates ({operation}): one slope does not tell both sides, use Monte Carlo"
        ));
    }
    doubts.extend(curvature(working));
    doubts.extend(domination(working));
    doubts
}

/// Second-order terms of more than a twentieth of the variance.
fn curvature(working: &Working<'_>) -> Option<String> {
    let second = working.variance.second_total()?;
    let first = working.variance.first_total();
    if second.abs() <= 0.05 * first {
        return None;
    }
    let way_out = if working.options.second_order {
        "use Monte Carlo"
    } else {
        "ask for them, or use Monte Carlo"
    };
    Some(if first > 0.0 {
        format!(
            "the second-order terms are {:.0} % of the first-order variance: {way_out}",
            100.0 * second / first
        )
    } else {
        format!("the first order sees no spread at the estimates, the second order does: {way_out}")
    })
}

/// One source with more than half of the variance gives the outcome its own shape.
fn domination(working: &Working<'_>) -> Option<String> {
    let k = (0..working.inputs.len()).find(|&k| working.variance.share(k) > 0.5)?;
    let input = &working.inputs[k];
    let percent = 100.0 * working.variance.share(k);
    match input.source.error() {
        Distribution::Normal(_) | Distribution::StudentT(_) => {
            (input.degrees_of_freedom < FEW_DEGREES_OF_FREEDOM).then(|| {
                format!(
                    "source \"{}\" makes {percent:.0} % of the variance and has few degrees of freedom ({}): \
                     take more readings",
                    input.name, input.degrees_of_freedom
                )
            })
        }
        other => Some(format!(
            "source \"{}\" ({}) makes {percent:.0} % of the variance, so the outcome is not normal: \
             use the exact propagation or Monte Carlo",
            input.name,
            other.name()
        )),
    }
}
