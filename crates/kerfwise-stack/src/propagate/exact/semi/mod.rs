//! Outcomes that are affine once one or two of their sources are held fixed: a tilt, a taper, a factor.
//!
//! ```text
//! P(Y ≤ y) = ∫ P(Y ≤ y | B = b) dP(b) ≈ Σ wⱼ P(Y ≤ y | B = bⱼ)
//! ```
//! With B held at a node the outcome is affine; the nodes together make a mixture, which the exact propagation solves as
//! it solves any other. What two rules of different order differ by is the error of the quadrature.

mod cases;
mod held;

use super::{Exact, Sum, Tail};
use crate::{Decline, Outcome, Propagation};
use cases::Cases;
use held::Held;
use kerfwise_source::Distribution;

/// Order of the Gauss–Legendre rules, and pieces of each stretch: from one to the next the error shows.
const LEVELS: [(usize, u32); 7] = [
    (8, 1),
    (16, 1),
    (24, 1),
    (24, 2),
    (24, 4),
    (24, 8),
    (24, 16),
];
/// Nodes of one rule.
const MOST_NODES: usize = 4_096;
/// A difference of two rules that is small enough.
const GOOD: f64 = 1e-12;
/// The same for what is only a guide to the rules that are worth solving.
const GUIDED: f64 = 1e-13;
/// A difference that makes the answer worthless.
const WORST: f64 = 1e-6;
/// Up to here a difference of two rules is taken for that of the coarser one; above, convergence is slow.
const QUICK: f64 = 1e-9;
/// A part of a variance, or of a standard deviation, that is not to come from what no quadrature sees.
const SEEN: f64 = 1e-6;
/// Choices of sources to hold that are tried.
const MOST_CHOICES: usize = 3;

/// Asks for the whole distribution.
pub(crate) fn run(outcome: Outcome<'_>) -> Result<Exact, Decline> {
    if outcome.is_affine() {
        return super::run(outcome);
    }
    let declined = |reasons| Decline::new(Propagation::SemiExact, reasons);
    let mut best: Option<Sought> = None;
    let mut reasons: Vec<String> = Vec::new();
    for inputs in choices(outcome).map_err(|why| declined(vec![why]))? {
        match sought(outcome, &inputs) {
            Ok(found) => {
                if best.as_ref().is_none_or(|best| found.off < best.off) {
                    best = Some(found);
                }
                if best.as_ref().is_some_and(|best| best.off <= QUICK) {
                    break;
                }
            }
            Err(why) if reasons.contains(&why) => {}
            Err(why) => reasons.push(why),
        }
    }
    match best {
        Some(best) if best.off <= WORST => Ok(Exact {
            sum: best.sum,
            dimension: outcome.dimension(),
            held: best.held,
        }),
        Some(best) => Err(declined(vec![format!(
            "quadrature over {} knows chances only to {:.0e}: what is affine beside is not smooth enough",
            quoted(&best.held),
            best.off
        )])),
        None => Err(declined(reasons)),
    }
}

/// An answer with the error of its quadrature.
struct Sought {
    sum: Sum,
    off: f64,
    held: Vec<String>,
}

fn quoted(names: &[String]) -> String {
    let names: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    names.join(", ")
}

/// Which one or two inputs may be held fixed so that the rest is affine, the most promising first.
fn choices(outcome: Outcome<'_>) -> Result<Vec<Vec<usize>>, String> {
    let problem = &outcome.stack.problem;
    let Err(bent) = &problem.affine[outcome.index] else {
        return Ok(Vec::new());
    };
    if let Some(name) = problem.tape.rough_function(outcome.index) {
        return Err(format!("function \"{name}\" is not declared smooth"));
    }
    let names = |inputs: &[usize]| -> Vec<String> {
        let names = inputs.iter().map(|&i| problem.variables[i].name.clone());
        names.collect()
    };
    let used = problem.tape.inputs_of(outcome.index);
    let linked: Vec<usize> = problem
        .correlated_groups()
        .into_iter()
        .map(|group| group.into_iter().filter(|i| used.contains(i)).collect())
        .filter(|group: &Vec<usize>| group.len() > 1)
        .flatten()
        .collect();
    let (tied, free): (Vec<usize>, Vec<usize>) = bent.iter().partition(|i| linked.contains(i));
    let mut choices: Vec<Vec<usize>> = free.iter().map(|&i| vec![i]).collect();
    choices.retain(|choice| Held::is_enough(outcome, choice));
    if choices.is_empty() {
        let pairs = |(k, &i): (usize, &usize)| free[..k].iter().map(|&j| vec![j, i]).collect();
        choices = free
            .iter()
            .enumerate()
            .take(30)
            .flat_map(|pair| -> Vec<Vec<usize>> { pairs(pair) })
            .collect();
        choices.retain(|choice| Held::is_enough(outcome, choice));
    }
    if choices.is_empty() {
        return Err(if !tied.is_empty() {
            format!(
                "it is not affine in {}, and {} correlated with others",
                quoted(&names(bent)),
                quoted(&names(&tied)) + if tied.len() > 1 { " are" } else { " is" },
            )
        } else if let [only] = bent[..] {
            format!(
                "even with {} held fixed it is not affine, or not defined",
                quoted(&names(&[only]))
            )
        } else {
            format!(
                "with no two of {} held fixed is the rest affine",
                quoted(&names(bent))
            )
        });
    }
    let cost = |choice: &Vec<usize>| -> u32 {
        let errors = choice.iter().map(|&i| problem.variables[i].source.error());
        errors.map(difficulty).sum()
    };
    choices.sort_by_key(cost);
    choices.truncate(MOST_CHOICES);
    Ok(choices)
}

/// How hard a law is for a quadrature of few nodes.
fn difficulty(error: &Distribution) -> u32 {
    let (lower, upper) = error.support();
    match error {
        Distribution::Discrete(_) | Distribution::Empirical(_) => 0,
        Distribution::Mixture(_) => 4,
        Distribution::StudentT(_) => 8,
        _ if lower.is_finite() && upper.is_finite() => 1,
        _ => 2,
    }
}

/// Rules of rising order, until two agree.
fn sought(outcome: Outcome<'_>, inputs: &[usize]) -> Result<Sought, String> {
    let problem = &outcome.stack.problem;
    let held = Held::of(outcome, inputs)?;
    let places = outcome.band().map_or([f64::NAN; 2], |band| {
        let (lower, upper) = band.raw();
        [lower, upper]
    });
    let mut coarse: Option<(Cases, Option<Sum>)> = None;
    let mut best: Option<(Sum, f64)> = None;
    for (index, (order, pieces)) in LEVELS.into_iter().enumerate() {
        let nodes = held.nodes(order, pieces);
        if nodes.len() > MOST_NODES {
            break;
        }
        let is_last = LEVELS
            .get(index + 1)
            .is_none_or(|(order, pieces)| held.nodes(*order, *pieces).len() > MOST_NODES);
        let cases = Cases::of(problem, outcome.index, &held, nodes)?;
        let Some((before, sum)) = coarse.take() else {
            if held.is_countable() {
                let sum = cases.sum(problem, &places)?;
                return Ok(held.answer(sum, 0.0));
            }
            coarse = Some((cases, None));
            continue;
        };
        if !is_last && cases.guide_differs(&before, problem, GUIDED) {
            coarse = Some((cases, None));
            continue;
        }
        let first = match sum {
            Some(sum) => sum,
            None => before.sum(problem, &places)?,
        };
        let second = cases.sum(problem, &places)?;
        let (chance, density, error) = difference(&first, &second, places);
        // Twice for what lies between the places; where convergence is slow the finer rule may be no better.
        let safety = if chance <= QUICK { 2.0 } else { 10.0 };
        let off = safety * chance;
        if best.as_ref().is_none_or(|(_, least)| off < *least) {
            let mut sum = second.clone().with_error(off, safety * density);
            if cases.is_carried_by_tails(problem) || !have_same_moments(&first, &second) {
                sum = sum.without_moments();
            }
            best = Some((sum, off));
        }
        // Below the error of the sums themselves a difference says nothing more.
        if chance <= GOOD.max(error) {
            break;
        }
        coarse = Some((cases, Some(second)));
    }
    let (sum, off) = best.ok_or_else(|| {
        format!(
            "quadrature over {} takes more than {MOST_NODES} nodes",
            quoted(&held.names)
        )
    })?;
    Ok(held.answer(sum, off))
}

/// Whether both rules find the same mean and standard deviation; they do not where there are none.
fn have_same_moments(a: &Sum, b: &Sum) -> bool {
    let (Some(one), Some(other)) = (
        a.mean().zip(a.standard_deviation()),
        b.mean().zip(b.standard_deviation()),
    ) else {
        return true;
    };
    let slack = SEEN * other.1;
    (one.0 - other.0).abs() <= slack && (one.1 - other.1).abs() <= slack
}

/// The greatest differences of chances and of densities (raw) over places all over both laws, and the greatest error of a
/// chance there.
fn difference(a: &Sum, b: &Sum, places: [f64; 2]) -> (f64, f64, f64) {
    let scale = b
        .standard_deviation()
        .unwrap_or_else(|| b.unit() * b.solved().scale());
    let centre = b.mean().unwrap_or_else(|| b.outward(0.0));
    let at = |z: f64| centre + z * scale;
    let all = [-3.4, -2.5, -1.7, -1.0, -0.4, 0.2, 0.8, 1.4, 2.1, 2.9].map(at);
    let (mut chance, mut density, mut error) = (0.0_f64, 0.0_f64, 0.0_f64);
    for y in all.into_iter().chain(places).filter(|y| y.is_finite()) {
        let (one, other) = (a.tail(Tail::AtMost, y), b.tail(Tail::AtMost, y));
        chance = chance.max((one.value - other.value).abs());
        error = error.max(other.error);
    }
    for y in [-2.2, -0.9, 0.3, 1.3, 2.6].map(at) {
        if let (Some(one), Some(other)) = (a.density(y), b.density(y)) {
            let off = (one.value - other.value).abs();
            density = density.max(if off.is_finite() { off } else { 0.0 });
        }
    }
    (chance, density, error)
}

#[cfg(test)]
mod tests;
