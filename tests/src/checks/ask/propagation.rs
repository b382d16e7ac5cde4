use super::super::table::{By, Row};
use super::{Answer, Got, at, level, outcome_of, unknown};
use kerfwise_plan::Plan;
use kerfwise_source::{Event, Quantity};
use kerfwise_stack::{
    Batch, Bounded, BudgetLine, Chance, Decline, Exact, Expr, MonteCarlo, Outcome, QuasiMonteCarlo,
    RootSumOfSquares, RootSumOfSquaresAnswer, Stack, WorstCase,
};

/// The stack is the plan's, or that of a joint made of its sources.
pub(super) fn answer(row: &Row, plan: &Plan, stack: &Stack) -> Got {
    let outcome = outcome_of(stack, row.of.as_deref())?;
    if let Some(reason) = row.ask.strip_prefix("declines: ") {
        return declines(row, stack, outcome, reason);
    }
    match row.by {
        By::Rss if row.ask == "correlation" => correlation(row, plan, outcome),
        By::Rss => root_sum_of_squares(row, outcome),
        By::Exact => whole(row, outcome, &outcome.exact().map_err(text)?),
        By::SemiExact => whole(row, outcome, &outcome.semi_exact().map_err(text)?),
        By::QuasiMonteCarlo => quasi(row, outcome),
        By::WorstCase => worst_case(row, outcome),
        By::Batch => batch(row, outcome),
        By::BatchSimulation => simulated(row, plan),
        By::Value => outcome
            .evaluate(&[])
            .map(|q| Answer::from(q.raw()))
            .map_err(|e| e.to_string()),
        _ => Err(unknown(row)),
    }
}

/// 1 where the propagation declines with this reason among its reasons, 0 where it answers.
fn declines(row: &Row, stack: &Stack, outcome: Outcome<'_>, reason: &str) -> Got {
    let piece = Event::piece();
    let trials = MonteCarlo::new().trials(row.trials.unwrap_or(1_000));
    let decline = match row.by {
        By::WorstCase => outcome.worst_case(corners(row)).err(),
        By::Rss => outcome.root_sum_of_squares(terms(row)).err(),
        By::Exact => outcome.exact().err(),
        By::SemiExact => outcome.semi_exact().err(),
        By::QuasiMonteCarlo => outcome.quasi_monte_carlo(QuasiMonteCarlo::new()).err(),
        By::MonteCarlo => stack.monte_carlo(trials).err(),
        By::Batch => outcome.batch(Batch::of(pieces(row)?)).err(),
        By::BatchSimulation => stack.simulate_batch(pieces(row)?, &piece, trials).err(),
        _ => return Err(unknown(row)),
    };
    match decline {
        None => Ok(Answer::from(0.0)),
        Some(decline) if decline.reasons().iter().any(|why| why.contains(reason)) => {
            Ok(Answer::from(1.0))
        }
        Some(other) => Err(other.to_string()),
    }
}

fn terms(row: &Row) -> RootSumOfSquares {
    let mut options = RootSumOfSquares::new().level(level(row));
    if row.second_order {
        options = options.second_order();
    }
    if row.truncated {
        options = options.truncated_degrees_of_freedom();
    }
    options
}

fn rss(row: &Row, outcome: Outcome<'_>) -> Result<RootSumOfSquaresAnswer, String> {
    outcome.root_sum_of_squares(terms(row)).map_err(text)
}

fn root_sum_of_squares(row: &Row, outcome: Outcome<'_>) -> Got {
    let answer = rss(row, outcome)?;
    let chance = || answer.chance.ok_or_else(|| "no band".to_owned());
    let none = || format!("no {}", row.ask);
    if let Some(input) = row.ask.strip_prefix("contribution of ") {
        return Ok(line(&answer, input)?.contribution.raw().abs().into());
    }
    if let Some(input) = row.ask.strip_prefix("sensitivity to ") {
        return Ok(line(&answer, input)?.sensitivity.raw().into());
    }
    if let Some(input) = row.ask.strip_prefix("share of ") {
        return Ok(line(&answer, input)?.share.into());
    }
    if let Some(of) = row.ask.strip_prefix("doubt: ") {
        return doubt(&answer, of).ok_or_else(none);
    }
    let value = match row.ask.as_str() {
        "estimate" => answer.estimate.raw(),
        "u" => answer.standard_uncertainty.raw(),
        "u²" => answer.standard_uncertainty.raw() * answer.standard_uncertainty.raw(),
        "degrees of freedom" => answer.degrees_of_freedom.ok_or_else(none)?,
        "k" => answer.coverage_factor,
        "U" => answer.expanded_uncertainty.raw(),
        "lower" => answer.interval.lower.raw(),
        "upper" => answer.interval.upper.raw(),
        "second-order part of u" => answer.second_order_variance.ok_or_else(none)?.sqrt(),
        "below" => chance()?.below,
        "inside" => chance()?.inside,
        "above" => chance()?.above,
        _ => return Err(unknown(row)),
    };
    Ok(Answer::from(value))
}

/// The number in a doubt: how far off a kink is, or how many percent of the variance are meant.
fn doubt(answer: &RootSumOfSquaresAnswer, of: &str) -> Option<Answer> {
    let (before, after) = match of {
        "kink" => ("has a kink ", " standard uncertainties"),
        "second order, %" => ("the second-order terms are ", " %"),
        "one source, %" => (" makes ", " %"),
        _ => return None,
    };
    let found = |text: &String| {
        let (_, rest) = text.split_once(before)?;
        rest.split_once(after)?.0.parse::<f64>().ok()
    };
    answer.doubts.iter().find_map(found).map(Answer::from)
}

fn line<'a>(answer: &'a RootSumOfSquaresAnswer, input: &str) -> Result<&'a BudgetLine, String> {
    answer
        .budget
        .iter()
        .find(|line| line.name == input)
        .ok_or_else(|| format!("no line {input} in the budget"))
}

/// r(a, b) = [u²(a + b) − u²(a − b)] / (4 u(a) u(b)), each scaled by its own u so that units do not matter.
fn correlation(row: &Row, plan: &Plan, a: Outcome<'_>) -> Got {
    let b = outcome_of(plan.stack(), Some(row.with.as_deref().ok_or("with whom?")?))?;
    let scaled = |outcome: Outcome<'_>| -> Result<Expr, String> {
        let u = rss(row, outcome)?.standard_uncertainty;
        Ok(outcome.expr() / Expr::constant(u))
    };
    let (first, second) = (scaled(a)?, scaled(b)?);
    // The sources' correlations are in the plan's stack only, so the two sums are outcomes of a plan again.
    let both = [("sum", &first + &second), ("difference", &first - &second)];
    let mut variance = [0.0; 2];
    for ((name, expr), v) in both.iter().zip(&mut variance) {
        let stack = with_correlations(plan, name, expr)?;
        let outcome = stack.outcome(name).ok_or("lost")?;
        let u = rss(row, outcome)?.standard_uncertainty.raw();
        *v = u * u;
    }
    Ok(Answer::from((variance[0] - variance[1]) / 4.0))
}

/// A stack of one expression over a plan's sources, with the plan's correlations.
fn with_correlations(plan: &Plan, name: &str, expr: &Expr) -> Result<Stack, String> {
    let used = expr.sources();
    let mut builder = Stack::builder().outcome_without_band(name, expr);
    for (a, b, r) in pairs(plan.source_text())? {
        let find = |name: &str| used.iter().find(|source| source.name() == name);
        if let (Some(a), Some(b)) = (find(&a), find(&b)) {
            builder = builder.correlated(a, b, r);
        }
    }
    builder.build().map_err(|e| e.to_string())
}

fn pairs(plan: &str) -> Result<Vec<(String, String, f64)>, String> {
    let table: toml::Table = toml::from_str(plan).map_err(|e| e.to_string())?;
    let Some(list) = table.get("correlation").and_then(|c| c.as_array()) else {
        return Ok(Vec::new());
    };
    list.iter()
        .map(|entry| {
            let name = |k: usize| {
                let names = entry.get("between").and_then(|b| b.as_array());
                names.and_then(|b| b.get(k)?.as_str().map(str::to_owned))
            };
            let r = entry.get("coefficient").and_then(toml::Value::as_float);
            Some((name(0)?, name(1)?, r?))
        })
        .collect::<Option<_>>()
        .ok_or_else(|| "a correlation that is none".to_owned())
}

fn text(decline: Decline) -> String {
    decline.to_string()
}

/// Standard errors that a quasi-Monte Carlo value may be off by.
const STANDARD_ERRORS: f64 = 5.0;

fn quasi(row: &Row, outcome: Outcome<'_>) -> Got {
    let points = row.trials.ok_or("how many points?")?;
    let options = QuasiMonteCarlo::new().points(points as u32);
    let answer = outcome.quasi_monte_carlo(options).map_err(text)?;
    let pick = |chance: &Chance| match row.ask.as_str() {
        "below" => Some(chance.below),
        "inside" => Some(chance.inside),
        "above" => Some(chance.above),
        _ => None,
    };
    let (value, error) = pick(&answer.chance)
        .zip(pick(&answer.chance_error))
        .ok_or_else(|| unknown(row))?;
    Ok(Answer {
        value,
        bound: Some(STANDARD_ERRORS * error),
    })
}

/// The whole distribution.
fn whole(row: &Row, outcome: Outcome<'_>, exact: &Exact) -> Got {
    let place = |y: f64| Quantity::new(y, outcome.dimension());
    let none = || format!("no {}", row.ask);
    let chance = |pick: fn(&Chance) -> f64| -> Got {
        let band = outcome.band().ok_or("no band")?;
        let chance = exact.chance(&band);
        Ok(Answer {
            value: pick(&chance.value),
            bound: Some(chance.error),
        })
    };
    let bounded = |q: Bounded<Quantity>| Answer {
        value: q.value.raw(),
        bound: Some(q.error),
    };
    let symmetric = || exact.symmetric_interval(level(row));
    let half_width = || 0.5 * (symmetric().upper.raw() - symmetric().lower.raw());
    let shortest = || exact.shortest_interval(level(row));
    Ok(match row.ask.as_str() {
        "estimate" => exact.mean().ok_or_else(none)?.raw().into(),
        "u" => exact.standard_deviation().ok_or_else(none)?.raw().into(),
        "cdf" => exact.cdf(place(at(row)?)).into(),
        "upper tail" => exact.sf(place(at(row)?)).into(),
        "density" => exact.pdf(place(at(row)?)).ok_or_else(none)?.into(),
        "quantile" => bounded(exact.quantile(at(row)?)),
        "lower" => symmetric().lower.raw().into(),
        "upper" => symmetric().upper.raw().into(),
        "half-width" => half_width().into(),
        "k" => (half_width() / exact.standard_deviation().ok_or_else(none)?.raw()).into(),
        "shortest lower" => shortest().lower.raw().into(),
        "shortest upper" => shortest().upper.raw().into(),
        "shortest width" => (shortest().upper.raw() - shortest().lower.raw()).into(),
        "below" => chance(|c| c.below)?,
        "inside" => chance(|c| c.inside)?,
        "above" => chance(|c| c.above)?,
        _ => return Err(unknown(row)),
    })
}

/// What is never left is within this part of the width of what is reached (`WorstCase::tolerance`).
const TOLERANCE: f64 = 1e-6;

fn corners(row: &Row) -> WorstCase {
    match row.at_sd {
        Some(k) => WorstCase::new().unbounded_at_sd(k),
        None => WorstCase::new(),
    }
}

fn worst_case(row: &Row, outcome: Outcome<'_>) -> Got {
    let answer = outcome.worst_case(corners(row)).map_err(text)?;
    let end = if row.ask.starts_with("lower") {
        &answer.lower
    } else {
        &answer.upper
    };
    if let Some(input) = row.with.as_deref().filter(|_| row.ask.ends_with(" at")) {
        let at = end.at.iter().find(|(name, _)| name == input);
        return at
            .map(|(_, q)| Answer::from(q.raw()))
            .ok_or_else(|| format!("no {input}"));
    }
    let attained = end.attained.raw();
    let beyond = match row.ask.starts_with("lower") {
        true => attained - end.bound.raw(),
        false => end.bound.raw() - attained,
    };
    let width = answer.upper.attained.raw() - answer.lower.attained.raw();
    if !(0.0..=TOLERANCE * width).contains(&beyond) {
        return Err(format!(
            "what is never left lies {beyond:e} beyond what is reached"
        ));
    }
    match row.ask.as_str() {
        // What is reached and what is never left must both be there.
        "lower" | "upper" => Ok(Answer {
            value: attained,
            bound: Some((end.bound.raw() - attained).abs()),
        }),
        "lower bound" | "upper bound" => Ok(end.bound.raw().into()),
        "half-width" => Ok((0.5 * (answer.upper.bound.raw() - answer.lower.bound.raw())).into()),
        _ => Err(unknown(row)),
    }
}

fn pieces(row: &Row) -> Result<u32, String> {
    row.pieces.ok_or_else(|| "how many pieces?".to_owned())
}

fn batch(row: &Row, outcome: Outcome<'_>) -> Got {
    let answer = outcome
        .batch(Batch::of(pieces(row)?))
        .map_err(|d| d.to_string())?;
    let none = || format!("no {}", row.ask);
    Ok(match row.ask.as_str() {
        "one" => Answer {
            value: answer.one.value.inside,
            bound: Some(answer.one.error),
        },
        "all" => answer.all.into(),
        "none" => answer.none.into(),
        "all, if independent" => answer.if_independent.into(),
        "shared u" => answer
            .shared_standard_deviation
            .ok_or_else(none)?
            .raw()
            .into(),
        "piece u" => answer
            .piece_standard_deviation
            .ok_or_else(none)?
            .raw()
            .into(),
        _ => return Err(unknown(row)),
    })
}

fn simulated(row: &Row, plan: &Plan) -> Got {
    let batches = row.trials.ok_or("how many batches?")?;
    let answer = plan
        .stack()
        .simulate_batch(
            pieces(row)?,
            &Event::piece(),
            MonteCarlo::new().trials(batches),
        )
        .map_err(|d| d.to_string())?;
    let share = |k: usize| {
        let count = answer.counts.get(k).copied().unwrap_or(0);
        count as f64 / answer.batches as f64
    };
    let fitting = answer.counts.iter().enumerate();
    Ok(match row.ask.as_str() {
        "one" => answer.one.value.into(),
        "all" => answer.all.value.into(),
        "none" => answer.none.value.into(),
        "exactly" => share(at(row)? as usize).into(),
        "expected number" => fitting
            .map(|(k, _)| k as f64 * share(k))
            .sum::<f64>()
            .into(),
        _ => return Err(unknown(row)),
    })
}
