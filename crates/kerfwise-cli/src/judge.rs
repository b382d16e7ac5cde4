//! From a plan and readings to what the pieces are worth.

use crate::args::JudgeWords;
use crate::run::subject;
use kerfwise::decide::{AcceptanceLimits, Judge, Judgement};
use kerfwise::plan::Plan;
use kerfwise::prelude::{Length, LengthUnits as _};
use kerfwise_report::{AcceptReport, GaugeReport, JudgeReport, JudgedPiece, ThreeChances};

pub(crate) fn report(plan: &Plan, words: &JudgeWords) -> Result<JudgeReport, String> {
    let name = plan.name();
    let told = |error: kerfwise::decide::Error| format!("{name}: {error}");
    let outcome =
        outcome(plan, words.outcome.as_deref()).map_err(|why| format!("{name}: {why}"))?;
    let (gauge, inputs) = if plan.fits().contains(&outcome) {
        words.gauge.of(plan)
    } else {
        words.gauge.of_outcome(plan, outcome)
    }
    .map_err(|message| format!("{name}: {message}"))?;
    let resolution = words.gauge.resolution;
    let judge = Judge::new(plan.stack(), outcome, gauge.shown(), resolution).map_err(told)?;
    let mut pieces = Vec::new();
    for reading in &words.measured {
        pieces.push(judged(&judge.reading(*reading).map_err(told)?));
    }
    let accept = judge
        .limits(words.assurance)
        .map_err(told)?
        .map(|limits| accepted(&judge, &limits, resolution))
        .transpose()
        .map_err(told)?
        .flatten();
    let suits = judge.gauge();
    Ok(JudgeReport {
        schema: JudgeReport::SCHEMA.into(),
        subject: subject(plan),
        outcome: outcome.into(),
        by: judge.by().to_string(),
        pieces,
        resolution_in: resolution.to_inches(),
        wanted: words.assurance,
        accept,
        best: judged(&judge.best_reading().map_err(told)?),
        gauge: GaugeReport {
            uncertainty_in: suits.uncertainty.to_inches(),
            capability: suits.capability,
            step_for_four_in: suits.step_for_four.map(Length::to_inches),
            error_of_plan: gauge.is_of_plan().then(|| gauge.error().name().to_owned()),
        },
        inputs,
        cautions: kerfwise_report::cautions::all(),
    })
}

/// What is to conform: as named, or else the one fit of the joint, or else the first outcome with a band.
fn outcome<'a>(plan: &'a Plan, named: Option<&'a str>) -> Result<&'a str, String> {
    match (named, plan.fits()) {
        (Some(name), _) => Ok(name),
        (None, [fit]) => Ok(fit),
        (None, []) => {
            let mut outcomes = plan.stack().outcomes();
            let banded = outcomes.find(|outcome| outcome.band().is_some());
            banded.map(|outcome| outcome.name()).ok_or_else(|| {
                "no outcome of this plan has a band to judge by; add one to its [outcome] (docs/plan-file.md)".into()
            })
        }
        (None, fits) => Err(format!(
            "a loose tenon is judged for one mortise at a time; add --outcome {}",
            fits.join(" or --outcome ")
        )),
    }
}

fn judged(judgement: &Judgement) -> JudgedPiece {
    let chance = judgement.chance.value;
    JudgedPiece {
        reading_in: judgement.reading.to_inches(),
        chance: ThreeChances {
            below: chance.below,
            inside: chance.inside,
            above: chance.above,
            error: Some(judgement.chance.error),
        },
    }
}

/// The limits as the gauge can show them, inwards, and what they risk; nothing if no step lies between them.
fn accepted(
    judge: &Judge,
    limits: &AcceptanceLimits,
    step: Length,
) -> Result<Option<AcceptReport>, kerfwise::decide::Error> {
    let step = step.to_inches();
    // What lies within a millionth of a step of a mark is that mark.
    let inwards = |x: f64, up: bool| {
        if step <= 0.0 {
            return x;
        }
        let count = x / step;
        (if up {
            (count - 1e-6).ceil()
        } else {
            (count + 1e-6).floor()
        }) * step
    };
    let lower = limits.lower.map(|l| inwards(l.to_inches(), true));
    let upper = limits.upper.map(|u| inwards(u.to_inches(), false));
    if let (Some(lower), Some(upper)) = (lower, upper)
        && lower > upper
    {
        return Ok(None);
    }
    let risks = judge.risks(lower.map(|l| l.inch()), upper.map(|u| u.inch()))?;
    Ok(Some(AcceptReport {
        lower_in: lower,
        upper_in: upper,
        accepted: risks.accepted,
        consumer: risks.consumer,
        producer: risks.producer,
        error: risks.error,
    }))
}
