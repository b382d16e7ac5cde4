//! Why an answer of the law of propagation should be doubted.

use super::inputs::against_second_order;
use super::{Working, contribution};
use crate::run::taylor::{Kink, kinks};
use kerfwise_numeric::sum::sum;
use kerfwise_source::Distribution;

/// Below so many degrees of freedom the standard uncertainty of a source is known to a third or worse
/// (JCGM 100, table E.1: 36 % for five readings).
const FEW_DEGREES_OF_FREEDOM: f64 = 5.0;

/// Kinks farther off than this many standard uncertainties are met once in 370 times (normal distribution).
const NEAR: f64 = 3.0;
/// So many kinks are looked at; each costs one pass over the program.
const MOST_KINKS: usize = 64;

pub(super) fn of(working: &Working<'_>) -> Vec<String> {
    let mut doubts = Vec::new();
    doubts.extend(kink(working));
    doubts.extend(unknown_kink(working));
    doubts.extend(curvature(working));
    doubts.extend(domination(working));
    doubts
}

/// The nearest kink, in standard uncertainties (first order, without correlations) of what is zero there.
fn kink(working: &Working<'_>) -> Option<String> {
    let tape = &working.outcome.stack.problem.tape;
    let distance = |kink: &Kink| {
        let parts = working.inputs.iter().map(|input| {
            let c = kink.gradient[input.index];
            contribution(input, c) * contribution(input, c)
        });
        let spread = sum(parts).sqrt();
        (spread > 0.0).then(|| kink.difference.abs() / spread)
    };
    let (operation, distance) = kinks(tape, working.outcome.index, &working.at, MOST_KINKS)
        .iter()
        .filter_map(|kink| Some((kink.operation, distance(kink)?)))
        .filter(|(_, distance)| *distance < NEAR)
        .min_by(|(_, a), (_, b)| a.total_cmp(b))?;
    // What would be shown as 0.0 is at the estimates.
    let place = if distance < 0.05 {
        "at the estimates".to_owned()
    } else {
        format!("{distance:.1} standard uncertainties from the estimates")
    };
    Some(format!(
        "the outcome has a kink {place} ({operation}): one slope does not tell both sides, use Monte Carlo"
    ))
}

fn unknown_kink(working: &Working<'_>) -> Option<String> {
    let tape = &working.outcome.stack.problem.tape;
    let name = tape.rough_function(working.outcome.index)?;
    Some(format!(
        "function \"{name}\" is not declared smooth: if it has a kink near the estimates, one slope does not tell both \
         sides, use Monte Carlo"
    ))
}

/// Second-order terms of more than a twentieth of the variance.
fn curvature(working: &Working<'_>) -> Option<String> {
    let Some(second) = working.variance.second_total() else {
        return working.is_blind().then(|| {
            "no source moves the outcome at the estimates, though it may away from them: use Monte Carlo".to_owned()
        });
    };
    let first = working.variance.first_total();
    if second.abs() <= 0.05 * first {
        return None;
    }
    let is_possible = against_second_order(&working.inputs, &working.correlated).is_empty();
    let way_out = if working.options.second_order || !is_possible {
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
