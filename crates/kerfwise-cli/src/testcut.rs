//! From a plan and test pieces to what to do.

use crate::args::{CostWords, Drawing, FeltWord, PlanFile, SeenWords, TestCutWords};
use crate::progress::part;
use crate::run::{draw, show, subject};
use kerfwise::decide::{
    Costs, ErrorKind, Feel, SampledTestCut, TestCut, TestCutOptions, TestPlan, TestPlanOptions,
};
use kerfwise::plan::Plan;
use kerfwise::prelude::{Length, LengthUnits as _, Quantity, ShiftedTenon};
use kerfwise_report::{
    Input, Style, TestCutAheadReport, TestCutReport, TestPieces, TestPlanReport,
};

/// What the command prints: about pieces that were cut, or what to do for each that may be.
pub(crate) fn print(
    plan: &Plan,
    words: &TestCutWords,
    is_json: bool,
    style: &Style,
) -> Result<String, String> {
    words
        .check_dial(plan)
        .map_err(|message| format!("{}: {message}", plan.name()))?;
    let dialled = words
        .dial
        .map(|dial| plan.with_setting(dial))
        .transpose()
        .map_err(|faults| show(&faults))?;
    let plan = dialled.as_ref().unwrap_or(plan);
    let name = plan.name();
    if plan.joint().is_none() {
        return Err(format!(
            "{name}: this plan has no jig to move; `testcut` needs a [joint] (docs/plan-file.md)"
        ));
    }
    let options = options(plan, words);
    let told = |message: String| format!("{name}: {message}");
    words.seen.check().map_err(told)?;
    let after = match (words.seen.measured.is_empty(), words.seen.felt.is_empty()) {
        (false, _) => measured(plan, words, &options),
        (true, false) => felt(plan, words, options),
        (true, true) => {
            if words.drawing.svg.is_some() {
                return Err(told(
                    "--svg draws what test pieces say: add --measured or --felt".to_owned(),
                ));
            }
            let report = ahead(plan, words, &options).map_err(told)?;
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
        .dial_step(plan.setting_step().unwrap_or(0.5.thou()))
        .resolution(words.seen.gauge.resolution)
}

/// A test cut with a gauge, and the inputs to show.
fn with_gauge(
    plan: &Plan,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<(TestCut, Vec<Input>), String> {
    let (gauge, inputs) = words.seen.gauge.of(plan)?;
    let cut = TestCut::measured(plan.stack(), ShiftedTenon::FIT, gauge.shown(), options)
        .map_err(words_of)?;
    Ok((cut, inputs))
}

/// What to do for each reading of a first test piece, with a caliper of its own; none where the plan's fit does not tell.
pub(crate) fn for_card(plan: &Plan) -> Option<TestCutAheadReport> {
    // Without a jig that is moved there is nothing to move.
    plan.joint()?;
    let words = TestCutWords {
        file: PlanFile { plan: None },
        drawing: Drawing { svg: None },
        seen: SeenWords::default(),
        dial: None,
        one_mortise: false,
        one_tenon: false,
        costs: CostWords::default(),
        cost_test: 0.0,
    };
    ahead(plan, &words, &options(plan, &words)).ok()
}

fn ahead(
    plan: &Plan,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<TestCutAheadReport, String> {
    let costs = words.costs.costs();
    let parts = if costs.is_some() { 5 } else { 3 };
    let (cut, inputs) = with_gauge(plan, words, options)?;
    let by_feel = TestCut::felt(plan.stack(), ShiftedTenon::FIT, options).map_err(words_of)?;
    part(1, parts);
    let by_reading = cut.next_reading(&[]).map_err(words_of)?;
    part(2, parts);
    let worth = [by_reading, by_feel.next_feel(&[]).map_err(words_of)?];
    part(3, parts);
    let report = TestCutAheadReport::new(
        &subject(plan),
        plan.pieces(),
        words.seen.gauge.resolution.to_inches(),
        worth,
        &cut.advice_by_reading().map_err(words_of)?,
        inputs,
    );
    Ok(match costs {
        Some(costs) => report.with_plan(planned(plan, words, costs, options)?),
        None => report,
    })
}

/// How many test pieces are worth cutting.
fn planned(
    plan: &Plan,
    words: &TestCutWords,
    costs: Costs,
    options: &TestCutOptions,
) -> Result<TestPlanReport, String> {
    let joints = plan.pieces().unwrap_or(1);
    let look = TestPlanOptions::new(costs)
        .joints(joints)
        .per_piece(words.cost_test);
    let (gauge, _) = words.seen.gauge.of(plan)?;
    let (stack, fit) = (plan.stack(), ShiftedTenon::FIT);
    part(4, 5);
    let measured =
        TestPlan::measured(stack, fit, gauge.shown(), options, &look).map_err(words_of)?;
    part(5, 5);
    let felt = TestPlan::felt(stack, fit, options, &look).map_err(words_of)?;
    Ok(TestPlanReport::new(
        joints,
        words.cost_test,
        [&measured, &felt],
    ))
}

fn measured(
    plan: &Plan,
    words: &TestCutWords,
    options: &TestCutOptions,
) -> Result<TestCutReport, String> {
    let (gauge, inputs) = words.seen.gauge.of(plan)?;
    let (stack, fit, readings) = (plan.stack(), ShiftedTenon::FIT, &words.seen.measured);
    let (subject, tests) = (subject(plan), words.seen.pieces(false));
    let cut = match TestCut::measured(stack, fit, gauge.shown(), options) {
        Ok(cut) => cut,
        Err(error) if is_not_affine(&error) => {
            let found = SampledTestCut::measured(stack, fit, gauge.shown(), options)
                .and_then(|cut| cut.after_readings(readings))
                .map_err(words_of)?;
            let pieces = plan.pieces();
            return Ok(TestCutReport::sampled(
                &subject, tests, pieces, &found, inputs,
            ));
        }
        Err(error) => return Err(words_of(error)),
    };
    let answer = cut.after_readings(readings).map_err(words_of)?;
    let next = cut.next_reading(readings).map_err(words_of)?;
    let pieces = plan.pieces();
    let report = TestCutReport::new(&subject, tests, pieces, &answer, next, inputs);
    let beyond = |reading: &Length| (reading.to_inches(), cut.chance_beyond(*reading));
    let rarest = readings
        .iter()
        .map(beyond)
        .reduce(|a, b| if b.1 < a.1 { b } else { a });
    let report = report.rarest(rarest);
    Ok(match words.costs.costs() {
        Some(costs) => {
            let cost = cut.next_reading_cost(readings, &costs).map_err(words_of)?;
            report.minutes(cost, pieces.unwrap_or(1), words.cost_test)
        }
        None => report,
    })
}

fn felt(
    plan: &Plan,
    words: &TestCutWords,
    mut options: TestCutOptions,
) -> Result<TestCutReport, String> {
    if words.one_tenon {
        for source in plan.tenon_by_tenon() {
            options = options.same_for_all_tests(&source);
        }
    }
    if words.one_mortise {
        for source in plan.mortise_by_mortise() {
            options = options.same_for_all_tests(&source);
        }
    }
    let (stack, fit, feels) = (plan.stack(), ShiftedTenon::FIT, words.seen.feels());
    let (subject, tests) = (subject(plan), words.seen.pieces(words.one_mortise));
    let (pieces, inputs) = (plan.pieces(), Input::all(stack));
    let cut = match TestCut::felt(stack, fit, &options) {
        Ok(cut) => cut,
        Err(error) if is_not_affine(&error) => {
            let found = SampledTestCut::felt(stack, fit, &options)
                .and_then(|cut| cut.after_feeling(&feels))
                .map_err(words_of)?;
            return Ok(TestCutReport::sampled(
                &subject, tests, pieces, &found, inputs,
            ));
        }
        Err(error) => return Err(words_of(error)),
    };
    let answer = cut.after_feeling(&feels).map_err(words_of)?;
    let next = cut.next_feel(&feels).map_err(words_of)?;
    let report = TestCutReport::new(&subject, tests, pieces, &answer, next, inputs);
    Ok(match words.costs.costs() {
        Some(costs) => {
            let cost = cut.next_feel_cost(&feels, &costs).map_err(words_of)?;
            report.minutes(cost, pieces.unwrap_or(1), words.cost_test)
        }
        None => report,
    })
}

/// Whether weighted trials are to answer.
fn is_not_affine(error: &kerfwise::decide::Error) -> bool {
    matches!(error.kind(), ErrorKind::Declined(_))
}

/// An error in words, for `map_err`.
fn words_of(error: kerfwise::decide::Error) -> String {
    error.to_string()
}

impl TestCutWords {
    /// A dial so far from the plan's setting was read in another unit.
    fn check_dial(&self, plan: &Plan) -> Result<(), String> {
        let nominal = plan.joint().and_then(|joint| joint.nominal_travel().ok());
        let (Some(dial), Some(nominal)) = (self.dial, nominal) else {
            return Ok(());
        };
        let ratio = dial.to_inches() / nominal.to_inches();
        if (0.5..=2.0).contains(&ratio) {
            return Ok(());
        }
        Err(format!(
            "--dial {dial} is far from the setting of the plan, {:.4} in; is its unit right, and the point in its place?",
            nominal.to_inches()
        ))
    }
}

impl SeenWords {
    /// Pieces of one kind.
    pub(crate) fn check(&self) -> Result<(), String> {
        if self.measured.is_empty() || self.felt.is_empty() {
            return Ok(());
        }
        Err(
            "pieces are either measured or felt; give the readings alone, which tell more"
                .to_owned(),
        )
    }

    pub(crate) fn feels(&self) -> Vec<Feel> {
        self.felt.iter().map(|word| feel(*word)).collect()
    }

    /// As a report tells them.
    pub(crate) fn pieces(&self, in_one_mortise: bool) -> TestPieces {
        if self.felt.is_empty() {
            return TestPieces::Measured {
                readings_in: self.measured.iter().map(|r| r.to_inches()).collect(),
                resolution_in: self.gauge.resolution.to_inches(),
            };
        }
        TestPieces::Felt {
            feels: self
                .felt
                .iter()
                .map(|word| name_of(*word).to_owned())
                .collect(),
            in_one_mortise,
        }
    }
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
