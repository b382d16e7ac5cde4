mod guide;

use super::*;
use crate::{Band, Expr, Stack};
use kerfwise_source::{Dimension, Event, LengthUnits, Source, SourceBuilder};
use proptest::prelude::*;

fn made(builder: SourceBuilder) -> Source {
    builder.build().unwrap()
}

fn answer_of(text: &str, sources: &[Source], options: RootSumOfSquares) -> RootSumOfSquaresAnswer {
    let stack = Stack::builder()
        .outcome_without_band("y", &Expr::parse(text, sources).unwrap())
        .build()
        .unwrap();
    stack
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(options)
        .unwrap()
}

fn reasons_of(text: &str, sources: &[Source], options: RootSumOfSquares) -> Vec<String> {
    let stack = Stack::builder()
        .outcome_without_band("y", &Expr::parse(text, sources).unwrap())
        .build()
        .unwrap();
    let declined = stack.outcome("y").unwrap().root_sum_of_squares(options);
    declined.unwrap_err().reasons().to_vec()
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    let off = found - expected;
    assert!(off.abs() <= within, "{found} is off {expected} by {off:e}");
}

fn line<'a>(answer: &'a RootSumOfSquaresAnswer, name: &str) -> &'a BudgetLine {
    answer.budget.iter().find(|l| l.name == name).unwrap()
}

#[test]
fn perfect_correlation_cancels_to_nothing() {
    let (a, b) = (
        made(Source::new("a", 1.0).normal(0.3)),
        made(Source::new("b", 1.0).normal(0.1)),
    );
    let difference = Expr::source(&a) - Expr::constant(3.0) * Expr::source(&b);
    let stack = Stack::builder()
        .outcome("y", &difference, Band::within(3.0).unwrap())
        .correlated(&a, &b, 1.0)
        .build()
        .unwrap();
    let answer = stack
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    assert_eq!(answer.standard_uncertainty.raw(), 0.0);
    assert!(answer.budget.iter().all(|l| l.share == 0.0));
    assert_eq!(answer.chance.unwrap().inside, 1.0);
}

#[test]
fn second_order_declines_correlated_and_skewed_inputs() {
    let a = made(Source::new("a", 1.0).normal(0.1));
    let skewed = Distribution::exponential(0.0, 0.1).unwrap();
    let b = made(Source::new("b", 1.0).error(skewed));
    let c = made(Source::new("c", 1.0).normal(0.1));
    let product = Expr::source(&a) * Expr::source(&b) * Expr::source(&c);
    let stack = Stack::builder()
        .outcome_without_band("y", &product)
        .correlated(&a, &c, 0.5)
        .build()
        .unwrap();
    let declined = stack
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new().second_order())
        .unwrap_err();
    assert_eq!(
        declined.reasons(),
        [
            "second-order terms need independent inputs, but \"a\", \"c\" are correlated",
            "second-order terms need symmetric inputs, but \"b\" is not",
        ]
    );
}

#[test]
fn a_source_without_spread_or_mean_is_named() {
    let cauchy = Distribution::student_t(0.0, 0.1, 1.0).unwrap();
    let odd = Distribution::mixture(vec![
        (0.5, cauchy),
        (0.5, Distribution::normal(0.0, 1.0).unwrap()),
    ])
    .unwrap();
    let x = made(Source::new("x", 1.0).error(odd));
    assert_eq!(
        reasons_of("2 * x", &[x], RootSumOfSquares::new().level(1.0)),
        [
            "the level of confidence must be between 0 and 1 (got 1)",
            "source \"x\" has no mean: its error is mixture",
        ]
    );
}

#[test]
fn two_readings_have_a_scale_and_one_degree_of_freedom() {
    // JCGM 100:2008, 4.2.3 and table G.2: u is s/√n with n − 1 = 1 degree of freedom, and k is 12.71 at 95 %.
    let x = made(Source::new("x", 1.0).student_t(0.1, 1.0));
    let answer = answer_of("x", &[x], RootSumOfSquares::new());
    near(answer.standard_uncertainty.raw(), 0.1, 1e-16);
    near(answer.coverage_factor, 12.706_204_736, 1e-8);
    assert_eq!(answer.degrees_of_freedom, Some(1.0));
    assert!(
        answer.doubts[0].contains("has few degrees of freedom (1)"),
        "{:?}",
        answer.doubts
    );
}

fn doubts_of(text: &str, sources: &[Source]) -> Vec<String> {
    answer_of(text, sources, RootSumOfSquares::new()).doubts
}

#[test]
fn a_kink_near_the_estimates_is_doubted_and_a_far_one_is_not() {
    let at = |x: f64| [made(Source::new("x", x).normal(0.1))];
    let answer = answer_of("abs(x)", &at(0.0), RootSumOfSquares::new());
    assert!(
        answer.doubts[0].contains("kink at the estimates (abs)"),
        "{:?}",
        answer.doubts
    );
    // The spread of x is not lost: |x| is ±x, and u(x) is 0.1.
    assert_eq!(answer.standard_uncertainty.raw(), 0.1);
    assert_eq!(
        doubts_of("abs(x)", &at(-0.05)),
        [
            "the outcome has a kink 0.5 standard uncertainties from the estimates (abs): one slope does not tell both \
             sides, use Monte Carlo"
        ]
    );
    assert_eq!(doubts_of("abs(x)", &at(0.31)), [""; 0]);
    // The difference of two has the spread 0.1·√2, so 0.31 is 2.2 of them away.
    let pair = [
        made(Source::new("a", 1.0).normal(0.1)),
        made(Source::new("b", 1.31).normal(0.1)),
    ];
    assert!(
        doubts_of("max(a, b)", &pair)[0]
            .contains("kink 2.2 standard uncertainties from the estimates (max)")
    );
    // A kink in what is known exactly is met by nothing, nor one of which nothing reaches the outcome.
    let known = [
        made(Source::new("k", 0.0)),
        made(Source::new("x", 0.0).normal(0.1)),
    ];
    assert_eq!(doubts_of("abs(k) + x", &known), [""; 0]);
    assert_eq!(doubts_of("x + max(3, abs(x))", &at(1.0)), [""; 0]);
}

#[test]
fn draws_of_one_source_share_their_degrees_of_freedom() {
    let seat = made(
        Source::new("seat", 0.inch())
            .normal(1.thou())
            .degrees_of_freedom(4.0)
            .event(Event::cut()),
    );
    let draw = |k| Expr::source(&seat).redraw(&Event::cut(), k);
    let stack = Stack::builder()
        .outcome_without_band("y", &(draw(1) - draw(2)))
        .build()
        .unwrap();
    let answer = stack
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    // (seat#1 - seat#2)/√2 over the one s is Student t with the 4 degrees of freedom of s, so k is 2.776 (JCGM 100:2008,
    // table G.2); two sources with an s each would have 8.
    near(answer.degrees_of_freedom.unwrap(), 4.0, 1e-14);
    near(answer.coverage_factor, 2.776_445_105, 1e-9);
    let twins =
        ["a", "b"].map(|name| made(Source::new(name, 0.0).normal(1.0).degrees_of_freedom(4.0)));
    let apart = answer_of("a - b", &twins, RootSumOfSquares::new());
    near(apart.degrees_of_freedom.unwrap(), 8.0, 1e-14);
}

#[test]
fn what_is_known_exactly_needs_no_slope() {
    let sources = [
        made(Source::new("k", 0.0)),
        made(Source::new("x", 1.0).normal(0.1)),
    ];
    let answer = answer_of("sqrt(k) + x", &sources, RootSumOfSquares::new());
    assert_eq!(answer.estimate.raw(), 1.0);
    assert_eq!(answer.standard_uncertainty.raw(), 0.1);
    let names: Vec<&str> = answer.budget.iter().map(|l| l.name.as_str()).collect();
    assert_eq!(names, ["x"]);
}

#[test]
fn an_opaque_function_is_named_among_the_assumptions() {
    let x = made(Source::new("x", 2.0).normal(0.1));
    let facts = crate::Facts::giving(Dimension::NUMBER)
        .argument(Dimension::NUMBER, crate::Monotone::Increasing);
    let stack = |facts| {
        let cube = std::sync::Arc::new(|x: &[f64]| x[0] * x[0] * x[0]);
        let cube = Expr::function("cube", &[Expr::source(&x)], facts, cube);
        Stack::builder()
            .outcome_without_band("y", &cube)
            .build()
            .unwrap()
    };
    let rough = stack(facts.clone());
    let answer = rough
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    // 3 x² u = 1.2; the difference quotient of a cubic is off by the square of its step, (1.2e-5)².
    near(answer.standard_uncertainty.raw(), 1.2, 1e-9);
    let by_differences =
        "the derivatives of function \"cube\" are taken by differences of its values";
    assert!(
        answer.assumptions.iter().any(|a| a == by_differences),
        "{:?}",
        answer.assumptions
    );
    assert!(
        answer.doubts[0].starts_with("function \"cube\" is not declared smooth"),
        "{:?}",
        answer.doubts
    );
    let smooth = stack(facts.smooth());
    let outcome = smooth.outcome("y").unwrap();
    let answer = outcome
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    assert!(answer.doubts.is_empty(), "{:?}", answer.doubts);
    let declined = outcome.root_sum_of_squares(RootSumOfSquares::new().second_order());
    assert_eq!(
        declined.unwrap_err().reasons(),
        [
            "function \"cube\" is known by its values only, which is too little for second-order terms: use Monte Carlo"
        ]
    );
}

#[test]
fn no_chance_is_told_of_a_spread_that_the_slopes_do_not_see() {
    let tilt = made(
        Source::new("tilt", Quantity::new(0.0, Dimension::ANGLE))
            .normal(Quantity::new(0.01, Dimension::ANGLE)),
    );
    let stack = Stack::builder()
        .outcome(
            "y",
            &(1.0 - Expr::source(&tilt).cos()),
            Band::at_most(1e-6).unwrap(),
        )
        .build()
        .unwrap();
    let outcome = stack.outcome("y").unwrap();
    let first = outcome
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    assert_eq!(
        (first.standard_uncertainty.raw(), first.chance),
        (0.0, None)
    );
    let sees_nothing = "no source moves the outcome at the estimates, so all shares are 0";
    assert!(
        first.assumptions.iter().any(|a| a == sees_nothing),
        "{:?}",
        first.assumptions
    );
    assert!(
        first.doubts[0].starts_with("the first order sees no spread"),
        "{:?}",
        first.doubts
    );
    let second = outcome
        .root_sum_of_squares(RootSumOfSquares::new().second_order())
        .unwrap();
    assert!(second.chance.is_some());
    // What cancels, cancels: x - x is certain.
    let x = made(Source::new("x", 1.0).normal(0.1));
    let nothing = with_band(&[x], "x - x", Band::within(1.0).unwrap());
    assert_eq!(nothing.inside, 1.0);
}

#[test]
fn terms_that_would_be_declined_are_not_asked_for() {
    let skewed = Distribution::exponential(0.0, 0.5).unwrap();
    let x = made(Source::new("x", 0.0).error(skewed));
    assert_eq!(
        doubts_of("square(x)", &[x])[0],
        "the second-order terms are 50 % of the first-order variance: use Monte Carlo"
    );
}

#[test]
fn an_expanded_uncertainty_beyond_numbers_is_none() {
    let x = made(Source::new("x", 0.0).normal(1e308));
    assert_eq!(
        reasons_of("x", &[x], RootSumOfSquares::new()),
        ["the expanded uncertainty is too large to be held (coverage factor 1.960e0)"]
    );
    let next_to_unknown = made(Source::new("x", 0.0).normal(1.0).degrees_of_freedom(1e-6));
    assert!(
        reasons_of("x", &[next_to_unknown], RootSumOfSquares::new())[0]
            .starts_with("the expanded uncertainty is too large")
    );
}

#[test]
fn where_there_is_no_slope_it_declines() {
    let x = [made(Source::new("x", 0.0).normal(0.1))];
    let root = reasons_of("sqrt(x)", &x, RootSumOfSquares::new());
    assert!(
        root[0].starts_with("source \"x\": the sensitivity at the estimates is not finite"),
        "{root:?}"
    );
    // 0 · ∞ is no number to show: the root of the square is |x|, which has no slope here.
    let size = reasons_of("sqrt(square(x))", &x, RootSumOfSquares::new());
    assert_eq!(
        size,
        ["source \"x\": the outcome has no slope in it at the estimates: use Monte Carlo"]
    );
    let inverse = reasons_of("1 / x", &x, RootSumOfSquares::new());
    assert_eq!(
        inverse,
        ["\"y\" is not defined at the estimates of its sources"]
    );
}

fn with_band(sources: &[Source], text: &str, band: Band) -> Chance {
    let stack = Stack::builder()
        .outcome("y", &Expr::parse(text, sources).unwrap(), band)
        .build()
        .unwrap();
    let answer = stack
        .outcome("y")
        .unwrap()
        .root_sum_of_squares(RootSumOfSquares::new())
        .unwrap();
    answer.chance.unwrap()
}

#[test]
fn nothing_uncertain_is_certainly_in_or_out() {
    let x = [made(Source::new("x", 1.0))];
    let chance = |from, to| with_band(&x, "x", Band::between(from, to).unwrap());
    let (below, inside, above) = (
        Chance {
            below: 1.0,
            ..Chance::default()
        },
        Chance {
            inside: 1.0,
            ..Chance::default()
        },
        Chance {
            above: 1.0,
            ..Chance::default()
        },
    );
    assert_eq!(chance(1.0, 2.0), inside);
    assert_eq!(chance(0.0, 1.0), inside);
    assert_eq!(chance(1.5, 2.0), below);
    assert_eq!(chance(0.0, 0.5), above);
    let answer = answer_of("x", &x, RootSumOfSquares::new());
    assert_eq!(answer.expanded_uncertainty.raw(), 0.0);
    assert_eq!(answer.budget[0].share, 0.0);
    assert!(
        answer
            .assumptions
            .iter()
            .any(|a| a.starts_with("nothing has any spread"))
    );
}

#[test]
fn chances_keep_their_digits_in_the_tails_and_in_narrow_bands() {
    let t = |dof: f64| {
        [made(
            Source::new("x", 0.0).normal(1.0).degrees_of_freedom(dof),
        )]
    };
    // Computed independently at 40 digits with mpmath, by quadrature of the density.
    for (dof, from, to, inside) in [
        (5.0, 10.0, 10.001, 4.097_810_762_267_819e-8),
        (3.0, -1e-6, 2e-6, 1.102_657_790_842_849e-6),
        (1.0, -0.3, 0.1, 0.124_499_096_508_295_91),
        (2.0, 50.0, 60.0, 6.104_903_464_670_094e-5),
        (2.5, 1.0, 3.0, 0.165_742_465_864_620_8),
    ] {
        let chance = with_band(&t(dof), "x", Band::between(from, to).unwrap());
        // A dozen roundings, and 1e-12 for limits that have no exact binary form in a band of a thousandth.
        near(chance.inside / inside, 1.0, 2e-12);
        near(chance.below + chance.inside + chance.above, 1.0, 1e-14);
    }
}

#[test]
fn huge_and_tiny_numbers_neither_overflow_nor_vanish() {
    for size in [1e-200, 1e200] {
        let sources = [
            made(Source::new("a", 0.0).normal(3.0 * size)),
            made(
                Source::new("b", 0.0)
                    .normal(4.0 * size)
                    .degrees_of_freedom(10.0),
            ),
        ];
        let answer = answer_of("a + b", &sources, RootSumOfSquares::new());
        near(answer.standard_uncertainty.raw() / size, 5.0, 1e-14);
        near(answer.budget[0].share, 0.64, 1e-14);
        // 5⁴ / (4⁴/10).
        near(answer.degrees_of_freedom.unwrap(), 6250.0 / 256.0, 1e-12);
    }
}

/// A plain sum of normal sources, within -1 and 2.
fn sum_of_normals(spreads: &[f64]) -> Stack {
    let sources = spreads
        .iter()
        .enumerate()
        .map(|(k, &u)| made(Source::new(&format!("x{k}"), 0.0).normal(u)));
    let sum = sources.fold(Expr::constant(0.25), |sum, source| {
        sum + Expr::source(&source)
    });
    let band = Band::between(-1.0, 2.0).unwrap();
    Stack::builder().outcome("y", &sum, band).build().unwrap()
}

proptest! {
    #[test]
    fn a_normal_source_split_in_two_changes_nothing(
        spreads in prop::collection::vec(0.01_f64..1.0, 1..8),
        part in 0.0_f64..1.0,
    ) {
        let split = {
            let (u, others) = spreads.split_first().unwrap();
            // The squares of both parts add up to that of the whole.
            let mut parts = vec![u * part.sqrt(), u * (1.0 - part).sqrt()];
            parts.extend(others);
            parts
        };
        let (whole, split) = (sum_of_normals(&spreads), sum_of_normals(&split));
        let (whole, split) = (whole.outcome("y").unwrap(), split.outcome("y").unwrap());
        let [one, two] = [whole, split]
            .map(|outcome| outcome.root_sum_of_squares(RootSumOfSquares::new()).unwrap());
        // A few roundings per term.
        prop_assert!((two.standard_uncertainty.raw() / one.standard_uncertainty.raw() - 1.0).abs() < 1e-14);
        let (of_one, of_two) = (one.chance.unwrap(), two.chance.unwrap());
        prop_assert!((of_one.inside - of_two.inside).abs() < 1e-13);
        // What is normal for sure is so in the exact propagation too; each states its error.
        let band = whole.band().unwrap();
        for (outcome, assumed) in [(whole, of_one), (split, of_two)] {
            let exact = outcome.exact().unwrap().chance(&band);
            prop_assert!((exact.value.inside - assumed.inside).abs() < exact.error + 1e-13);
        }
    }

    #[test]
    fn another_unit_scales_the_answer_and_nothing_else(
        terms in prop::collection::vec((-5.0_f64..5.0, 0.01_f64..1.0, 1.0_f64..40.0), 1..8),
        scale in 0.01_f64..100.0,
    ) {
        let answer = |scale: f64| {
            let sources = terms.iter().enumerate().map(|(k, &(x, u, dof))| {
                made(Source::new(&format!("x{k}"), scale * x).normal(scale * u).degrees_of_freedom(dof))
            });
            let sum = sources.fold(Expr::constant(scale), |sum, source| sum - Expr::source(&source));
            let band = Band::between(-3.0 * scale, 4.0 * scale).unwrap();
            let stack = Stack::builder().outcome("y", &sum, band).build().unwrap();
            stack.outcome("y").unwrap().root_sum_of_squares(RootSumOfSquares::new()).unwrap()
        };
        let (one, other) = (answer(1.0), answer(scale));
        // A few roundings per term; estimates may cancel, so they are held against 41, the most that they add up to.
        let u = one.standard_uncertainty.raw();
        prop_assert!((other.estimate.raw() / scale - one.estimate.raw()).abs() < 41.0 * 1e-14);
        prop_assert!((other.standard_uncertainty.raw() / (scale * u) - 1.0).abs() < 1e-14);
        let (of_one, of_other) = (one.degrees_of_freedom.unwrap(), other.degrees_of_freedom.unwrap());
        prop_assert!((of_other / of_one - 1.0).abs() < 1e-13);
        // The density is at most 0.4/u, so so much does the rounding of the estimate move a chance.
        let moved = 41.0 * 1e-14 / u;
        let (of_one, of_other) = (one.chance.unwrap(), other.chance.unwrap());
        prop_assert!((of_one.below - of_other.below).abs() < 1e-12 + moved);
        prop_assert!((of_one.inside - of_other.inside).abs() < 1e-12 + moved);
    }

    #[test]
    fn an_affine_outcome_has_the_closed_form(
        terms in prop::collection::vec((-5.0_f64..5.0, 0.01_f64..1.0, 1.0_f64..40.0), 1..8),
    ) {
        let sources: Vec<Source> = (0..terms.len())
            .map(|k| {
                let (_, u, dof) = terms[k];
                made(Source::new(&format!("x{k}"), 0.0).normal(u).degrees_of_freedom(dof))
            })
            .collect();
        let sum_over = |order: &[usize]| {
            order.iter().fold(Expr::constant(1.0), |sum, &k| {
                sum + Expr::constant(terms[k].0) * Expr::source(&sources[k])
            })
        };
        let answer = |expr: &Expr| {
            let stack = Stack::builder()
                .outcome("y", expr, Band::between(0.0, 2.0).unwrap())
                .build()
                .unwrap();
            stack.outcome("y").unwrap().root_sum_of_squares(RootSumOfSquares::new()).unwrap()
        };
        let order: Vec<usize> = (0..terms.len()).collect();
        let one = answer(&sum_over(&order));
        let squares: Vec<f64> = terms.iter().map(|(c, u, _)| (c * u) * (c * u)).collect();
        let variance: f64 = squares.iter().sum();
        let below: f64 = squares.iter().zip(&terms).map(|(s, (_, _, dof))| s * s / dof).sum();
        // A few roundings per term.
        let u = one.standard_uncertainty.raw();
        prop_assert!((u * u / variance - 1.0).abs() < 1e-13);
        let dof = one.degrees_of_freedom.unwrap();
        prop_assert!((dof * below / (variance * variance) - 1.0).abs() < 1e-12);
        let shares: f64 = one.budget.iter().map(|l| l.share).sum();
        prop_assert!((shares - 1.0).abs() < 1e-13);
        let chance = one.chance.unwrap();
        prop_assert!((chance.below + chance.inside + chance.above - 1.0).abs() < 1e-13);
        let is_sorted = one.budget.windows(2).all(|pair| pair[0].share >= pair[1].share);
        prop_assert!(is_sorted);
        prop_assert!(one.doubts.len() <= 1);

        // Sources written in another order: the same lines; the estimate may round otherwise.
        let reversed: Vec<usize> = order.into_iter().rev().collect();
        let other = answer(&sum_over(&reversed));
        prop_assert_eq!(one.budget, other.budget);
        prop_assert_eq!(one.standard_uncertainty, other.standard_uncertainty);
    }

    #[test]
    fn any_numbers_are_answered_or_declined_and_never_nan(
        estimates in prop::collection::vec(prop::num::f64::NORMAL | prop::num::f64::ZERO, 3),
        spreads in prop::collection::vec(prop::num::f64::POSITIVE | prop::num::f64::ZERO, 3),
        dof in prop::num::f64::POSITIVE,
        limit in prop::num::f64::NORMAL,
        coefficient in -1.0_f64..=1.0,
        is_second_order in prop::bool::ANY,
        text in prop::sample::select(vec!["x0 + x1 - 3 * x2", "x0 * x1 / x2", "sqrt(x0) + exp(x1 * x2)", "x0 - x0 + x1"]),
    ) {
        let sources: Vec<Source> = (0..3)
            .map(|k| {
                let builder = Source::new(&format!("x{k}"), estimates[k]).normal(spreads[k]);
                if k == 0 { builder.degrees_of_freedom(dof) } else { builder }
            })
            .filter_map(|builder| builder.build().ok())
            .collect();
        let Ok(expr) = Expr::parse(text, &sources) else { return Ok(()) };
        let mut builder = Stack::builder().outcome("y", &expr, Band::at_most(limit).unwrap());
        if !is_second_order && text.contains("x2") {
            builder = builder.correlated(&sources[1], &sources[2], coefficient);
        }
        let Ok(stack) = builder.build() else { return Ok(()) };
        let options = RootSumOfSquares::new();
        let options = if is_second_order { options.second_order() } else { options };
        let Ok(answer) = stack.outcome("y").unwrap().root_sum_of_squares(options) else { return Ok(()) };
        let chance = answer.chance.unwrap_or(Chance { inside: 1.0, ..Chance::default() });
        let numbers = [
            answer.estimate.raw(),
            answer.standard_uncertainty.raw(),
            answer.degrees_of_freedom.unwrap_or(1.0),
            answer.coverage_factor,
            answer.expanded_uncertainty.raw(),
            answer.interval.lower.raw(),
            answer.interval.upper.raw(),
            answer.second_order_variance.unwrap_or(0.0),
            chance.below,
            chance.inside,
            chance.above,
        ];
        prop_assert!(numbers.iter().all(|x| !x.is_nan()), "{:?}", answer);
        prop_assert!(answer.budget.iter().all(|l| l.share.is_finite()), "{:?}", answer);
        prop_assert!((chance.below + chance.inside + chance.above - 1.0).abs() < 1e-12);
        prop_assert!(!stack.outcome("y").unwrap().explain().contains("NaN"));
    }
}
