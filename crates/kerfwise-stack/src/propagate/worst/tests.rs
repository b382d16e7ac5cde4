use super::*;
use crate::{Expr, Facts, Monotone, Stack};
use kerfwise_source::{AngleUnits, Dimension, LengthUnits, Source};
use proptest::prelude::*;
use std::sync::Arc;

/// A source that can be anything between two values.
fn between(name: &str, lower: impl Into<Quantity>, upper: impl Into<Quantity>) -> Source {
    let (lower, upper) = (lower.into(), upper.into());
    let middle = (0.5 * lower.raw() + 0.5 * upper.raw()).clamp(lower.raw(), upper.raw());
    let middle = Quantity::new(middle, lower.dimension());
    Source::new(name, middle)
        .limits(lower, upper)
        .build()
        .unwrap()
}

fn stack_of(expr: &Expr) -> Stack {
    Stack::builder()
        .outcome_without_band("y", expr)
        .build()
        .unwrap()
}

fn range(expr: &Expr, options: WorstCase) -> Result<WorstCaseAnswer, Decline> {
    stack_of(expr).outcome("y").unwrap().worst_case(options)
}

/// Text over sources, searched far enough for the tolerance of the cases below.
fn range_of(text: &str, sources: &[Source]) -> WorstCaseAnswer {
    let expr = Expr::parse(text, sources).unwrap();
    range(&expr, WorstCase::new().tolerance(1e-12)).unwrap()
}

/// Own examples; extremes analytic, checked by a dense scan.
#[track_caller]
fn assert_extremes(text: &str, sources: &[Source], least: f64, greatest: f64) -> WorstCaseAnswer {
    let answer = range_of(text, sources);
    let (lower, upper) = (&answer.lower, &answer.upper);
    // 1e-9 is how well the listed extremes are known.
    for (found, expected) in [
        (lower.bound, least),
        (lower.attained, least),
        (upper.bound, greatest),
        (upper.attained, greatest),
    ] {
        let off = found.raw() - expected;
        assert!(off.abs() <= 1e-9, "{text}: {found} is off by {off:e}");
    }
    assert!(answer.is_tight, "{text}: {answer:?}");
    assert!(lower.bound.raw() <= lower.attained.raw());
    assert!(upper.bound.raw() >= upper.attained.raw());
    answer
}

fn place(extreme: &Extreme, name: &str) -> f64 {
    extreme.at.iter().find(|(n, _)| n == name).unwrap().1.raw()
}

#[test]
fn w01_cosine_is_greatest_inside() {
    let sources = [
        between("L", 10.0, 10.0),
        between("beta", (-2).degrees(), 2.degrees()),
    ];
    let answer = assert_extremes("L * cos(beta)", &sources, 9.993_908_270_190_957, 10.0);
    assert!(place(&answer.upper, "beta").abs() < 1e-6);
}

#[test]
fn w02_parabola_is_least_inside() {
    assert_extremes("square(x - 1)", &[between("x", 0.0, 3.0)], 0.0, 4.0);
}

#[test]
fn w03_bump_is_greatest_inside() {
    let sources = [between("x", 0.0, 1.5), between("z", -1.0, 1.0)];
    let answer = assert_extremes(
        "x * exp(-square(x) - square(z))",
        &sources,
        0.0,
        0.428_881_942_480_353_4,
    );
    // The value is flat there: 1e-12 of it is 1e-6 of a place.
    assert!((place(&answer.upper, "x") - 0.707_106_781_186_547_5).abs() < 1e-5);
}

fn tenon(from: f64, to: f64) -> [Source; 3] {
    [
        between("t", 0.375.inch(), 0.375.inch()),
        between("len", 1.5.inch(), 1.5.inch()),
        between("theta", from.degrees(), to.degrees()),
    ]
}

#[test]
fn w04_skewed_tenon_has_a_kinked_least_width() {
    assert_extremes(
        "t * cos(theta) + len * abs(sin(theta))",
        &tenon(-1.0, 1.0),
        0.375,
        0.401_121_495_339_572_03,
    );
}

#[test]
fn w05_turned_tenon_is_widest_at_its_diagonal() {
    let answer = assert_extremes(
        "t * cos(theta) + len * abs(sin(theta))",
        &tenon(0.0, 90.0),
        0.375,
        1.546_164_609_606_622_6,
    );
    let degrees = place(&answer.upper, "theta").to_degrees();
    assert!((degrees - 75.963_756_532_073_53).abs() < 1e-3);
}

#[test]
fn w06_run_outs_cancel_between_the_corners() {
    let turn = std::f64::consts::TAU;
    let sources = [
        between("r1", 0.002, 0.002),
        between("r2", 0.0015, 0.0015),
        between("a", 0.radians(), turn.radians()),
        between("b", 0.radians(), turn.radians()),
    ];
    assert_extremes("r1 * cos(a) + r2 * cos(b)", &sources, -0.0035, 0.0035);
}

#[test]
fn w07_two_tones_have_their_greatest_value_twice() {
    let x = between("x", 0.radians(), std::f64::consts::PI.radians());
    assert_extremes("sin(x) + sin(3 * x)", &[x], 0.0, 1.539_600_717_839_002);
}

#[test]
fn w08_greatest_on_an_edge() {
    let sources = [between("x", 0.0, 1.0), between("z", 1.0, 2.0)];
    let answer = assert_extremes("x * (1 - x) * z", &sources, 0.0, 0.5);
    assert_eq!(place(&answer.upper, "z"), 2.0);
}

#[test]
fn w09_saddle_is_zero_in_all_corners() {
    let sources = [between("x", 0.0, 1.0), between("z", 0.0, 1.0)];
    assert_extremes("square(x - 0.5) - square(z - 0.5)", &sources, -0.25, 0.25);
}

#[test]
fn w10_least_inside_of_a_valley() {
    let sources = [between("x", 0.0, 5.0), between("z", 0.0, 5.0)];
    assert_extremes(
        "square(square(x) + z - 11) + square(x + square(z) - 7)",
        &sources,
        0.0,
        890.0,
    );
}

#[test]
fn w11_a_source_that_stands_twice() {
    assert_extremes("x - square(x)", &[between("x", 0.0, 1.0)], 0.0, 0.25);
    // Not known to be a square: the intervals alone would say -1 to 1.
    assert_extremes("x - x * x", &[between("x", 0.0, 1.0)], 0.0, 0.25);
}

#[test]
fn w12_seat_turns_about_a_point_beside_it() {
    let sources = [
        between("r", 8.0, 8.0),
        between("s", 0.1, 0.1),
        between("a", (-3).degrees(), 3.degrees()),
    ];
    assert_extremes(
        "r * (1 - cos(a)) - s * sin(a)",
        &sources,
        -0.000_624_975_587_845_355_6,
        0.016_197_317_587_703_72,
    );
}

#[test]
fn w13_least_along_a_line_of_kinks() {
    let sources = [between("x1", -0.003, 0.005), between("x2", -0.002, 0.004)];
    assert_extremes("abs(x1 + x2)", &sources, 0.0, 0.009);
}

#[test]
fn w14_monotone_ratio_needs_its_corners_only() {
    let sources = [
        between("x1", 0.9, 1.1),
        between("x2", 1.9, 2.1),
        between("x3", 2.9, 3.1),
    ];
    let answer = assert_extremes(
        "x1 * x2 / x3",
        &sources,
        0.551_612_903_225_806_5,
        0.796_551_724_137_931_2,
    );
    let corner: Vec<f64> = answer.upper.at.iter().map(|(_, v)| v.raw()).collect();
    assert_eq!(corner, [1.1, 2.1, 2.9]);
}

#[test]
fn w15_multilinear_with_changes_of_sign() {
    let sources = [
        between("x1", -1.0, 2.0),
        between("x2", -3.0, 1.0),
        between("x3", -2.0, 2.0),
    ];
    assert_extremes("x1 * x2 - x2 * x3 + x1 * x3", &sources, -16.0, 7.0);
}

#[test]
fn w16_clutch_is_monotone_over_its_tolerances() {
    let sources = [
        between("a", 27.595, 27.695),
        between("c", 11.42, 11.44),
        between("e", 50.7875, 50.8125),
    ];
    // Dimensions of the one-way clutch of the Brigham Young University tolerance papers, from memory.
    let degree = std::f64::consts::PI / 180.0;
    assert_extremes(
        "acos((a + c) / (e - c))",
        &sources,
        5.957_364_503_163_546 * degree,
        7.938_469_292_597_883 * degree,
    );
}

#[test]
fn a_plain_sum_adds_its_limits() {
    let sources = [
        Source::new("travel", 0.5.inch())
            .rectangular(1.thou())
            .build()
            .unwrap(),
        Source::new("kerf", 0.125.inch())
            .rectangular(2.thou())
            .build()
            .unwrap(),
    ];
    let answer = range_of("travel - 2 * kerf", &sources);
    // 0.25 ± (1 + 2·2) thou; 1e-15 is four roundings of numbers below 1.
    assert!((answer.lower.attained.raw() - 0.245).abs() < 1e-15);
    assert!((answer.upper.attained.raw() - 0.255).abs() < 1e-15);
    assert!(answer.upper.bound.raw() - answer.upper.attained.raw() < 1e-15);
    assert_eq!(place(&answer.upper, "kerf"), 0.123);
    assert!(answer.is_tight && answer.assumptions.is_empty());
}

#[test]
fn nothing_uncertain_is_a_range_of_one_value() {
    let x = between("x", 3.0, 3.0);
    let answer = range_of("x * x", &[x]);
    assert_eq!(answer.lower.attained.raw(), 9.0);
    assert_eq!(answer.upper.attained.raw(), 9.0);
    assert!(answer.is_tight);
}

fn reason(expr: &Expr, options: WorstCase) -> String {
    range(expr, options).unwrap_err().to_string()
}

#[test]
fn all_sources_without_limits_are_named() {
    let a = Source::new("a", 1.0).normal(0.1).build().unwrap();
    let b = Source::new("b", 1.0).student_t(0.1, 2.0).build().unwrap();
    let c = Source::new("c", 1.0).rectangular(0.1).build().unwrap();
    let sum = Expr::source(&a) + Expr::source(&b) + Expr::source(&c);
    assert_eq!(
        reason(&sum, WorstCase::new()),
        "worst case declines: sources \"a\", \"b\" have no limits: state limits, \
         or say how many standard deviations to take for sources without"
    );
    assert_eq!(
        reason(&sum, WorstCase::new().unbounded_at_sd(3.0)),
        "worst case declines: source \"b\" has neither limits nor a standard deviation to count them in: state limits"
    );
}

#[test]
fn standard_deviations_stand_in_for_limits_and_are_said() {
    let a = Source::new("a", 1.0).normal(0.1).build().unwrap();
    let b = Source::new("b", 1.0)
        .normal(0.1)
        .limits_at_sd(2.0)
        .build()
        .unwrap();
    let c = Source::new("c", 1.0).rectangular(0.1).build().unwrap();
    let sum = Expr::source(&a) + Expr::source(&b) + Expr::source(&c);
    let answer = range(&sum, WorstCase::new().unbounded_at_sd(3.0)).unwrap();
    // 3 ± (0.3 + 0.2 + 0.1), rounded a few times.
    assert!((answer.upper.attained.raw() - 3.6).abs() < 1e-14);
    assert_eq!(
        answer.assumptions,
        [
            "source \"b\": limits stated as 2 standard deviations either side of the mean",
            "source \"a\" has no limits: taken at 3 standard deviations either side of the mean",
        ]
    );
}

#[test]
fn correlated_sources_may_still_reach_opposite_limits() {
    let a = Source::new("a", 0.0).rectangular(1.0).build().unwrap();
    let b = Source::new("b", 0.0).rectangular(1.0).build().unwrap();
    let stack = Stack::builder()
        .outcome_without_band("y", &(Expr::source(&a) - Expr::source(&b)))
        .correlated(&a, &b, 1.0)
        .build()
        .unwrap();
    let answer = stack
        .outcome("y")
        .unwrap()
        .worst_case(WorstCase::new())
        .unwrap();
    assert_eq!(answer.upper.attained.raw(), 2.0);
    assert!(answer.assumptions[0].starts_with("correlations rule nothing out"));
}

#[test]
fn where_it_is_not_defined_it_declines_and_says_where() {
    let x = between("x", -1.0, 2.0);
    let one_over = Expr::constant(1.0) / Expr::source(&x);
    let root = Expr::source(&x).sqrt();
    assert_eq!(
        reason(&one_over, WorstCase::new()),
        "worst case declines: no bound was found for all values within the limits: \
         division by \"x\", which may be 0 within the limits"
    );
    assert!(reason(&root, WorstCase::new()).contains("not defined at x = -1: sqrt of \"x\""));
}

#[test]
fn a_root_that_only_looks_undefined_is_bounded() {
    // x − x² is at least 0 on [0, 1], but intervals see -1 until they are cut small.
    let x = between("x", 0.0, 1.0);
    let sources = [x];
    let answer = range_of("sqrt(x - x * x + 0.1)", &sources);
    assert!((answer.lower.bound.raw() - 0.1_f64.sqrt()).abs() < 1e-9);
    assert!((answer.upper.bound.raw() - 0.35_f64.sqrt()).abs() < 1e-9);
}

#[test]
fn an_opaque_function_is_bounded_where_it_is_declared_monotone() {
    let x = between("x", 1.0, 2.0);
    let cube = |monotone| {
        let facts = Facts::giving(Dimension::NUMBER).argument(Dimension::NUMBER, monotone);
        let cube = Arc::new(|x: &[f64]| x[0] * x[0] * x[0]);
        Expr::function("cube", &[Expr::source(&x)], facts, cube)
    };
    let answer = range(&cube(Monotone::Increasing), WorstCase::new()).unwrap();
    assert_eq!(answer.lower.attained.raw(), 1.0);
    assert_eq!(answer.upper.attained.raw(), 8.0);
    assert!(answer.is_tight);
    let declined = reason(&cube(Monotone::Unknown), WorstCase::new());
    assert!(declined.contains("opaque function \"cube\""), "{declined}");
}

#[test]
fn separate_values_are_searched_as_a_range_and_that_is_said() {
    let error = Distribution::discrete(&[(-1.0, 0.5), (1.0, 0.5)]).unwrap();
    let x = Source::new("x", 0.0).error(error).build().unwrap();
    let answer = range_of("square(x)", &[x]);
    assert_eq!(answer.lower.attained.raw(), 0.0);
    assert_eq!(
        answer.assumptions,
        ["source \"x\" was taken to reach every value between its least and its greatest"]
    );
}

#[test]
fn too_few_boxes_give_both_sides_and_say_so() {
    let sources = [between("x", 0.0, 1.5), between("z", -1.0, 1.0)];
    let bump = Expr::parse("x * exp(-square(x) - square(z))", &sources).unwrap();
    let answer = range(&bump, WorstCase::new().boxes(3)).unwrap();
    assert!(!answer.is_tight);
    // Own example w03: the greatest value is 0.42888...
    assert!(answer.upper.bound.raw() > 0.4289);
    assert!(answer.upper.attained.raw() <= 0.428_881_942_480_353_5);
}

#[test]
fn options_out_of_range_are_refused() {
    let x = Expr::source(&between("x", 0.0, 1.0));
    let options = WorstCase::new().unbounded_at_sd(-1.0).tolerance(f64::NAN);
    assert_eq!(
        range(&x, options).unwrap_err().reasons(),
        [
            "the number of standard deviations for sources without limits must be 0 or more and finite (got -1)",
            "the tolerance must be 0 or more and finite (got NaN)",
        ]
    );
}

/// Limits that are not symmetric about the estimate.
fn limits() -> impl Strategy<Value = (f64, f64)> {
    (-1.0_f64..1.0, 0.0_f64..0.5, 0.0_f64..0.5).prop_map(|(x, below, above)| (x - below, x + above))
}

fn sources(limits: &[(f64, f64)]) -> Vec<Source> {
    limits
        .iter()
        .enumerate()
        .map(|(k, &(lower, upper))| between(&format!("x{k}"), lower, upper))
        .collect()
}

proptest! {
    #[test]
    fn an_affine_range_is_the_sum_of_its_half_limits(
        terms in prop::collection::vec((-5.0_f64..5.0, limits()), 1..8),
    ) {
        let (coefficients, limits): (Vec<f64>, Vec<(f64, f64)>) = terms.into_iter().unzip();
        let sources = sources(&limits);
        let sum = sources.iter().zip(&coefficients).fold(Expr::constant(0.25), |sum, (x, &c)| {
            sum + Expr::constant(c) * Expr::source(x)
        });
        let answer = range(&sum, WorstCase::new()).unwrap();
        let pairs = || coefficients.iter().zip(&limits);
        let middle: f64 = 0.25 + pairs().map(|(c, (a, b))| c * 0.5 * (a + b)).sum::<f64>();
        let half: f64 = pairs().map(|(c, (a, b))| c.abs() * 0.5 * (b - a)).sum();
        // Some twenty roundings of numbers below 60.
        let rounding = 1e-13;
        prop_assert!((answer.lower.bound.raw() - (middle - half)).abs() < rounding);
        prop_assert!((answer.lower.attained.raw() - (middle - half)).abs() < rounding);
        prop_assert!((answer.upper.bound.raw() - (middle + half)).abs() < rounding);
        prop_assert!((answer.upper.attained.raw() - (middle + half)).abs() < rounding);
        prop_assert!(answer.is_tight);
    }

    #[test]
    fn nothing_within_the_limits_goes_beyond_the_bounds(
        limits in prop::collection::vec(limits(), 3),
        places in prop::collection::vec(prop::collection::vec(0.0_f64..=1.0, 3), 20),
        text in prop::sample::select(vec![
            "x0 * x1 - square(x2)",
            "abs(x0 + x1) * x2",
            "max(x0, x1 * x2) / (2 + x2)",
            "exp(x0 * x1) + x2 * x2 * x0",
            "min(x0, min(x1, x2)) - x0 * x1",
            "sqrt(square(x0) + square(x1)) + ln(3 + x2 * x1)",
        ]),
    ) {
        let sources = sources(&limits);
        let stack = stack_of(&Expr::parse(text, &sources).unwrap());
        let outcome = stack.outcome("y").unwrap();
        let answer = outcome.worst_case(WorstCase::new().boxes(2000)).unwrap();
        for place in places {
            let value = outcome.expr().evaluate(&|source| {
                let k = sources.iter().position(|s| s.is_same(source)).unwrap();
                let (lower, upper) = limits[k];
                (lower + place[k] * (upper - lower)).clamp(lower, upper)
            });
            prop_assert!(answer.lower.bound.raw() <= value, "{value} is below {:?}", answer.lower);
            prop_assert!(value <= answer.upper.bound.raw(), "{value} is above {:?}", answer.upper);
        }
        // What is said to be attained is.
        for extreme in [&answer.lower, &answer.upper] {
            let value = outcome.expr().evaluate(&|source| {
                extreme.at.iter().find(|(name, _)| name == source.name()).unwrap().1.raw()
            });
            prop_assert_eq!(value.to_bits(), extreme.attained.raw().to_bits());
        }
    }

    #[test]
    fn the_order_of_sources_changes_nothing(
        limits in prop::collection::vec(limits(), 3),
    ) {
        let sources = sources(&limits);
        let reversed: Vec<Source> = sources.iter().rev().cloned().collect();
        let text = "x0 * x1 - square(x2)";
        let one = range(&Expr::parse(text, &sources).unwrap(), WorstCase::new()).unwrap();
        let other = range(&Expr::parse(text, &reversed).unwrap(), WorstCase::new()).unwrap();
        prop_assert_eq!(one, other);
    }

    #[test]
    fn any_limits_are_answered_or_declined_and_never_nan(
        ends in prop::collection::vec((prop::num::f64::NORMAL | prop::num::f64::SUBNORMAL | prop::num::f64::ZERO,
            prop::num::f64::NORMAL | prop::num::f64::ZERO), 3),
        text in prop::sample::select(vec![
            "x0 + x1 - 3 * x2",
            "x0 * x1 / x2",
            "sqrt(abs(x0)) + exp(x1) * x2",
            "x0 * x0 - x0 * x1",
            "ln(square(x0) + 1) - max(x1, x2)",
        ]),
    ) {
        let limits: Vec<(f64, f64)> = ends.iter().map(|&(a, b)| (a.min(b), a.max(b))).collect();
        let stack = stack_of(&Expr::parse(text, &sources(&limits)).unwrap());
        if let Ok(answer) = stack.outcome("y").unwrap().worst_case(WorstCase::new().boxes(100)) {
            let (lower, upper) = (&answer.lower, &answer.upper);
            prop_assert!(lower.bound.raw() <= lower.attained.raw(), "{:?}", answer);
            prop_assert!(lower.attained.raw() <= upper.attained.raw(), "{:?}", answer);
            prop_assert!(upper.attained.raw() <= upper.bound.raw(), "{:?}", answer);
        }
    }
}
