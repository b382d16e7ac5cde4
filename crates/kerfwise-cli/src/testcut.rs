//! From a plan and test pieces to what to do.

use crate::args::{Drawing, FeltWord, PlanFile, TestCutWords};
use crate::run::{draw, show, subject};
use kerfwise::decide::{Feel, TestCut, TestCutOptions};
use kerfwise::plan::Plan;
use kerfwise::prelude::{
    Event, Expr, Length, LengthUnits as _, Quantity, ShiftedTenon, Source, Stack,
};
use kerfwise_report::{Input, Style, TestCutAheadReport, TestCutReport, TestPieces};

/// What the command prints: about pieces that were cut, or what to do for each that may be.
pub(crate) fn print(
    plan: &Plan,
    words: &TestCutWords,
    is_json: bool,
    style: &Style,
) -> Result<String, String> {
    let dialled = words
        .dial
        .map(|dial| plan.with_travel(dial))
        .transpose()
        .map_err(|faults| show(&faults))?;
    let plan = dialled.as_ref().unwrap_or(plan);
    let name = plan.name();
    let joint = plan.joint().ok_or_else(|| {
        format!(
            "{name}: this plan has no jig to move; `testcut` needs a [joint] (docs/plan-file.md)"
        )
    })?;
    let options = options(plan, words);
    let told = |message: String| format!("{name}: {message}");
    let after = match (words.measured.is_empty(), words.felt.is_empty()) {
        (false, _) => measured(plan, joint, words, &options),
        (true, false) => felt(plan, joint, words, options),
        (true, true) => {
            if words.drawing.svg.is_some() {
                return Err(told(
                    "--svg draws what test pieces say: add --measured or --felt".to_owned(),
                ));
            }
            let report = ahead(plan, joint, words, &options).map_err(told)?;
            return Ok(if is_json {
                report.to_json()
            } else {
                report.to_text(style)
            });
        }
    };
    let fit = plan.stack().outcome(ShiftedTenon::FIT);
    let band = fit.and_then(|fit| fit.band());
    let length = |limit: Option<Quantity>| limit.and_then(Quantity::length);
    let report = after.map_err(told)?.band(
        length(band.and_then(|band| band.lower())),
        length(band.and_then(|band| band.upper())),
    );
    draw(&words.drawing, || Some(report.to_svg(style)))?;
    Ok(if is_json {
        report.to_json()
    } else {
        report.to_text(style)
    })
}

fn options(plan: &Plan, words: &TestCutWords) -> TestCutOptions {
    TestCutOptions::new()
        .dial_step(plan.dial_step().unwrap_or(0.5.thou()))
        .resolution(words.resolution)
}

/// A test cut with a gauge, and the inputs to show.
fn with_gauge(
    plan: &Plan,
    joint: &ShiftedTenon,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<(TestCut, Vec<Input>), String> {
    let gauge = gauge(plan, words.gauge.as_deref())?;
    let shown = joint.tenon().thickness() - Expr::source(&gauge);
    let cut =
        TestCut::measured(plan.stack(), ShiftedTenon::FIT, &shown, options).map_err(words_of)?;
    let mut inputs = Input::all(plan.stack());
    if words.gauge.is_none() {
        let with_gauge = Stack::builder()
            .outcome_without_band("gauge", &Expr::source(&gauge))
            .build()
            .map_err(|error| error.to_string())?;
        inputs.extend(Input::all(&with_gauge));
    }
    Ok((cut, inputs))
}

/// What to do for each reading of a first test piece, with a caliper of its own; none where the plan's fit does not tell.
pub(crate) fn for_card(plan: &Plan) -> Option<TestCutAheadReport> {
    let words = TestCutWords {
        file: PlanFile { plan: None },
        drawing: Drawing { svg: None },
        measured: Vec::new(),
        felt: Vec::new(),
        dial: None,
        resolution: 0.5.thou(),
        gauge: None,
        one_mortise: false,
    };
    ahead(plan, plan.joint()?, &words, &options(plan, &words)).ok()
}

fn ahead(
    plan: &Plan,
    joint: &ShiftedTenon,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<TestCutAheadReport, String> {
    let (cut, inputs) = with_gauge(plan, joint, words, options)?;
    let by_feel = TestCut::felt(plan.stack(), ShiftedTenon::FIT, options).map_err(words_of)?;
    let worth = [
        cut.next_reading(&[]).map_err(words_of)?,
        by_feel.next_feel(&[]).map_err(words_of)?,
    ];
    Ok(TestCutAheadReport::new(
        &subject(plan),
        plan.pieces(),
        words.resolution.to_inches(),
        worth,
        &cut.advice_by_reading().map_err(words_of)?,
        inputs,
    ))
}

fn measured(
    plan: &Plan,
    joint: &ShiftedTenon,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<TestCutReport, String> {
    let (cut, inputs) = with_gauge(plan, joint, words, options)?;
    let answer = cut.after_readings(&words.measured).map_err(words_of)?;
    let next = cut.next_reading(&words.measured).map_err(words_of)?;
    let tests = TestPieces::Measured {
        readings_in: words.measured.iter().map(|r| r.to_inches()).collect(),
        resolution_in: words.resolution.to_inches(),
    };
    Ok(TestCutReport::new(
        &subject(plan),
        tests,
        plan.pieces(),
        &answer,
        next,
        inputs,
    ))
}

fn felt(
    plan: &Plan,
    joint: &ShiftedTenon,
    words: &TestCutWords,
    mut options: TestCutOptions,
) -> Result<TestCutReport, String> {
    if words.one_mortise {
        for source in mortise_by_mortise(joint) {
            options = options.same_for_all_tests(&source);
        }
    }
    let cut = TestCut::felt(plan.stack(), ShiftedTenon::FIT, &options).map_err(words_of)?;
    let feels: Vec<Feel> = words.felt.iter().map(|word| feel(*word)).collect();
    let answer = cut.after_feeling(&feels).map_err(words_of)?;
    let next = cut.next_feel(&feels).map_err(words_of)?;
    let tests = TestPieces::Felt {
        feels: words
            .felt
            .iter()
            .map(|word| name_of(*word).to_owned())
            .collect(),
        in_one_mortise: words.one_mortise,
    };
    Ok(TestCutReport::new(
        &subject(plan),
        tests,
        plan.pieces(),
        &answer,
        next,
        Input::all(plan.stack()),
    ))
}

/// An error in words, for `map_err`.
fn words_of(error: kerfwise::decide::Error) -> String {
    error.to_string()
}

/// The error of the gauge: a source of the plan, or a caliper that measured nothing else.
pub(crate) fn gauge(plan: &Plan, name: Option<&str>) -> Result<Source, String> {
    let Some(name) = name else {
        return Source::new("test_caliper", Length::default())
            .rectangular(0.02.mm())
            .event(Event::gauge())
            .stated(
                "DIN 862, digital caliper up to 100 mm: limit of error 20 um; a caliper of its own",
            )
            .build()
            .map_err(|error| error.to_string());
    };
    let sources = plan.stack().sources();
    match sources.iter().find(|source| source.name() == name) {
        Some(source) => Ok((*source).clone()),
        None => {
            let names: Vec<&str> = sources
                .iter()
                .filter(|s| s.event().is_redrawn_by(&Event::gauge()))
                .map(|s| s.name())
                .collect();
            Err(format!(
                "the plan has no source \"{name}\" that could be the gauge (gauges of this plan: {})",
                names.join(", ")
            ))
        }
    }
}

/// What differs from mortise to mortise.
fn mortise_by_mortise(joint: &ShiftedTenon) -> Vec<Source> {
    let tenon = joint.tenon().thickness().sources();
    let fit = joint.fit().map(|fit| fit.sources()).unwrap_or_default();
    fit.into_iter()
        .filter(|s| s.event().is_redrawn_by(&Event::piece()))
        .filter(|s| !tenon.iter().any(|t| t.is_same(s)))
        .collect()
}

fn feel(word: FeltWord) -> Feel {
    match word {
        FeltWord::Tight => Feel::Tight,
        FeltWord::Fits => Feel::Fits,
        FeltWord::Loose => Feel::Loose,
    }
}

fn name_of(word: FeltWord) -> &'static str {
    match word {
        FeltWord::Tight => "tight",
        FeltWord::Fits => "fits",
        FeltWord::Loose => "loose",
    }
}
