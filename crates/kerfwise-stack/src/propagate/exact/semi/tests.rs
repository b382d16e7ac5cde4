//! Against values computed independently at 25 digits with mpmath, by quadrature over the sources that are held.

use super::*;
use crate::{Band, Bounded, Expr, MonteCarlo, Stack};
use kerfwise_source::{AngleUnits, LengthUnits, Source};
use proptest::prelude::*;

type Law = Result<Distribution, kerfwise_source::Error>;

fn source(name: &str, estimate: f64, error: Law) -> Expr {
    let source = Source::new(name, estimate).error(error.expect("a valid law"));
    Expr::from(source.build().expect("a valid source"))
}

fn normal(name: &str, estimate: f64, sd: f64) -> Expr {
    source(name, estimate, Distribution::normal(0.0, sd))
}

fn rect(name: &str, estimate: f64, half: f64) -> Expr {
    source(name, estimate, Distribution::rectangular(-half, half))
}

fn one() -> Expr {
    Expr::constant(1.0)
}

fn stack(expr: &Expr, lower: f64, upper: f64) -> Stack {
    let band = if lower == f64::NEG_INFINITY {
        Band::at_most(upper)
    } else {
        Band::between(lower, upper)
    };
    Stack::builder()
        .outcome("y", expr, band.expect("a valid band"))
        .build()
        .expect("a sound stack")
}

/// The chance of the band, after a check that this is what it is, with what is held.
fn holds(stack: &Stack, inside: f64, held: &[&str], within: f64) -> Bounded<crate::Chance> {
    let outcome = stack.outcome("y").expect("its only one");
    let answer = outcome.semi_exact().expect("affine but for a few");
    assert_eq!(answer.held(), held);
    assert_eq!(answer.propagation(), Propagation::SemiExact);
    let chance = answer.chance(&outcome.band().expect("it has one"));
    let off = (chance.value.inside - inside).abs();
    assert!(off <= chance.error, "off by {off:e}: {chance:?}");
    assert!(off <= within, "off by {off:e}: {chance:?}");
    // A bound that says little is worth little.
    assert!(chance.error <= 30.0 * within, "{chance:?}");
    chance
}

/// The reference of the benches: ten sources, (½ in + indicator)·(1 − cos θ) with θ within ± this.
fn tilted(half_width: f64) -> Stack {
    let zero = |name: &str| Source::new(name, 0.inch());
    let sum = |sources: Vec<kerfwise_source::SourceBuilder>| {
        let exprs = sources
            .into_iter()
            .map(|s| Expr::from(s.build().expect("valid")));
        exprs.reduce(|a, b| a + b).expect("some")
    };
    let indicator = sum(vec![zero("indicator").rectangular(0.5.thou())]);
    let drift = Distribution::normal(3e-4, 3e-4).expect("valid");
    let theta = Source::new("theta", 0.radians()).rectangular(half_width.radians());
    let lean = one() - Expr::from(theta.build().expect("valid")).cos();
    let fit = sum(vec![
        zero("mortise").student_t(0.4.thou(), 4.0),
        zero("caliper").rectangular(0.5.thou()),
        zero("calibration").normal(0.5.thou()),
        zero("feel").triangular(1.thou()),
        zero("kerf").normal(0.4.thou()),
        zero("run_out").arcsine(1.2.thou()),
        zero("saw").normal(1.thou()),
    ]) + indicator.clone()
        + (Expr::constant(0.5.inch()) + indicator) * lean
        - sum(vec![zero("drift").error(drift)]);
    Stack::builder()
        .outcome("y", &fit, Band::within(5.thou()).expect("valid"))
        .build()
        .expect("a sound stack")
}

#[test]
fn a_tilted_indicator_is_known_to_the_digits_that_are_promised() {
    // What docs/methods.md promises; the chance given a tilt by inversion, in mpmath too.
    holds(&tilted(0.05), 0.996_732_201_490_722_8, &["theta"], 1e-12);
    holds(&tilted(0.15), 0.912_705_616_906_454_9, &["theta"], 1e-12);
}

#[test]
fn chances_are_those_of_quadrature() {
    // x·a + b.
    let y = rect("x", 1.0, 0.5) * normal("a", 0.0, 0.3) + normal("b", 0.0, 0.1);
    holds(
        &stack(&y, -0.5, 0.5),
        0.877_367_972_948_202_7,
        &["x"],
        1e-12,
    );
    // |k| + n: two panels, the kink between them.
    let y = normal("k", 0.1, 0.5).abs() + normal("n", 0.0, 0.3);
    holds(
        &stack(&y, f64::NEG_INFINITY, 1.0),
        0.909_080_432_625_981,
        &["k"],
        1e-12,
    );
    // x² + exp(…) with two sources held.
    let z = source("z", 0.0, Distribution::triangular(-0.5, 0.0, 0.5));
    let x = rect("x", 0.0, 0.7);
    let y = x.square() + (z * Expr::constant(1.radians())).sin() + normal("n", 0.0, 0.2);
    holds(
        &stack(&y, f64::NEG_INFINITY, 1.0),
        0.995_758_658_630_916,
        &["x", "z"],
        1e-12,
    );
    // t² + n, four degrees of freedom.
    let t = source("t", 0.0, Distribution::student_t(0.0, 0.3, 4.0));
    let y = t.square() + normal("n", 0.0, 0.5);
    holds(
        &stack(&y, f64::NEG_INFINITY, 1.0),
        0.928_197_149_728_388_7,
        &["t"],
        1e-12,
    );
    // ½ a² + n, arcsine.
    let a = source("a", 0.0, Distribution::arcsine(-1.0, 1.0));
    let y = Expr::constant(0.5) * a.square() + normal("n", 0.0, 0.2);
    holds(
        &stack(&y, f64::NEG_INFINITY, 0.4),
        0.702_957_762_799_091_7,
        &["a"],
        1e-12,
    );
    // (1 + r + s)·x + n: two sources change their coefficients with x, so each node is solved by itself.
    let s = source("s", 0.0, Distribution::triangular(-0.2, 0.0, 0.2));
    let y = (one() + rect("r", 0.0, 0.3) + s) * rect("x", 1.0, 0.4) + normal("n", 0.0, 0.25);
    holds(
        &stack(&y, f64::NEG_INFINITY, 1.5),
        0.890_263_491_713_977_9,
        &["x"],
        1e-12,
    );
    // x·y + n of three normals.
    let y = normal("x", 1.0, 0.2) * normal("y", 2.0, 0.1) + normal("n", 0.0, 0.3);
    holds(
        &stack(&y, f64::NEG_INFINITY, 2.5),
        0.836_687_316_682_647_7,
        &["x"],
        1e-12,
    );
    // exp(b) + n, the pole of a beta law at one end.
    let b = source("b", 0.0, Distribution::beta(0.0, 1.0, 1.0, 0.5));
    let y = b.exp() + normal("n", 0.0, 0.4);
    holds(
        &stack(&y, f64::NEG_INFINITY, 2.0),
        0.463_026_934_143_060_1,
        &["b"],
        1e-12,
    );
}

#[test]
fn moments_and_quantiles_follow() {
    // x·a + b with x of mean 1 and variance 1/12: mean 0, variance (1 + 1/12)·0.09 + 0.01.
    let y = rect("x", 1.0, 0.5) * normal("a", 0.0, 0.3) + normal("b", 0.0, 0.1);
    let stack = stack(&y, -0.5, 0.5);
    let answer = stack.outcome("y").expect("one").semi_exact().expect("held");
    let sd = answer.standard_deviation().expect("it has one").raw();
    let variance: f64 = 0.09 * (1.0 + 1.0 / 12.0) + 0.01;
    // Some roundings of nodes and weights.
    assert!((sd - variance.sqrt()).abs() < 1e-14, "{sd}");
    assert!(answer.mean().expect("it has one").raw().abs() < 1e-14);
    let end = answer.quantile(0.975);
    let there = answer.cdf(end.value);
    assert!(
        (there.value - 0.975).abs() <= 2.0 * there.error,
        "{there:?}"
    );
    assert!(end.error < 1e-10, "{end:?}");
    let interval = answer.symmetric_interval(0.95);
    assert!(
        (interval.lower.raw() + interval.upper.raw()).abs() < 1e-9,
        "{interval:?}"
    );
}

#[test]
fn moments_that_may_not_exist_are_not_given() {
    // The square of a Student t of four degrees of freedom has no variance; what lies between 0 and 1 has one.
    let t = || source("t", 0.0, Distribution::student_t(0.0, 0.3, 4.0));
    for (bent, is_finite) in [
        (t().square(), false),
        (one() / (one() + t().square()), true),
    ] {
        let stack = stack(&(bent + normal("n", 0.0, 0.5)), -1.0, 1.0);
        let answer = stack.outcome("y").expect("one").semi_exact().expect("held");
        assert_eq!(answer.standard_deviation().is_some(), is_finite);
    }
}

#[test]
fn a_source_of_few_values_needs_no_quadrature() {
    let lever = source(
        "lever",
        0.0,
        Distribution::discrete(&[(1.0, 0.5), (2.0, 0.5)]),
    );
    // All of the first half, half of the second.
    holds(
        &stack(&(lever * rect("x", 0.0, 1.0)), -1.0, 1.0),
        0.75,
        &["lever"],
        1e-14,
    );
}

#[test]
fn declines_say_why() {
    let why = |expr: &Expr| {
        let stack = stack(expr, -1.0, 1.0);
        let decline = stack
            .outcome("y")
            .expect("one")
            .semi_exact()
            .expect_err("declined");
        assert_eq!(decline.propagation(), Propagation::SemiExact);
        decline.reasons().join("; ")
    };
    let [a, b, c] = ["a", "b", "c"].map(|name| normal(name, 0.0, 1.0));
    let reason = why(&(a.clone().square() + b.clone().square() + c.clone().square()));
    assert_eq!(
        reason,
        "with no two of \"a\", \"b\", \"c\" held fixed is the rest affine"
    );
    // A step at each node is no distribution.
    let reason = why(&a.clone().square());
    assert!(reason.contains("not smooth enough"), "{reason}");
    let reason = why(&(a.clone().ln() + b.clone()));
    assert!(reason.contains("not defined"), "{reason}");
    let linked = ["a", "b"].map(|name| {
        let source = Source::new(name, 0.0).normal(1.0).build();
        source.expect("a valid source")
    });
    let y = Expr::from(&linked[0]).square() + Expr::from(&linked[1]);
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(1.0).expect("valid"))
        .correlated(&linked[0], &linked[1], 0.5)
        .build()
        .expect("a sound stack");
    let decline = stack
        .outcome("y")
        .expect("one")
        .semi_exact()
        .expect_err("declined");
    assert!(
        decline.to_string().contains("correlated with others"),
        "{decline}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Holding a source of an affine outcome changes nothing.
    #[test]
    fn a_held_source_of_an_affine_outcome_changes_nothing(
        half in 0.1..2.0_f64, sd in 0.2..1.0_f64, factor in 0.2..2.0_f64, limit in -2.0..2.0_f64,
    ) {
        let y = Expr::constant(factor) * rect("x", 0.3, half) + normal("n", 0.1, sd);
        let stack = stack(&y, limit, limit + 1.0);
        let outcome = stack.outcome("y").expect("its only one");
        let band = outcome.band().expect("it has one");
        let exact = outcome.exact().expect("affine").chance(&band);
        for (input, name) in ["n", "x"].into_iter().enumerate() {
            // A normal held leaves a rectangle, whose kinks no rule of few nodes sees.
            let Ok(found) = sought(outcome, &[input]) else { panic!("{name}") };
            let held = super::super::chance_between(&found.sum, limit, limit + 1.0);
            let off = (held.value.inside - exact.value.inside).abs();
            prop_assert!(off <= held.error + exact.error, "{name}: {held:?} and {exact:?}");
            if name == "x" {
                prop_assert!(held.error < 1e-11, "{held:?}");
            }
        }
    }

    /// What a far finer rule finds lies within the bound, also where little is smooth beside what is held.
    #[test]
    fn bounds_hold_against_a_far_finer_rule(
        half in 0.2..0.9_f64, wide in 0.02..0.5_f64, log_sd in -6.0..-1.0_f64, limit in 0.3..1.6_f64, bend in 0..3_usize,
    ) {
        let x = rect("x", 1.0, half);
        let rest = rect("r", 0.0, wide) + normal("n", 0.0, kerfwise_numeric::float::exp(log_sd));
        let y = match bend {
            0 => x.square() + rest,
            1 => x * (one() + rest),
            _ => (x - one()).abs() + rest,
        };
        let stack = stack(&y, -10.0, limit);
        let outcome = stack.outcome("y").expect("its only one");
        if let Ok(answer) = outcome.semi_exact() {
            let got = answer.cdf(limit);
            let input = stack.problem.variables.iter().position(|v| v.name == "x");
            let held = Held::of(outcome, &[input.expect("named above")]).expect("a law");
            let nodes = held.nodes(16, 31);
            let cases = Cases::of(&stack.problem, 0, &held, nodes).expect("defined");
            let fine = cases.sum(&stack.problem, &[-10.0, limit]).expect("few nodes");
            let fine = fine.tail(Tail::AtMost, limit);
            prop_assert!((got.value - fine.value).abs() <= got.error + fine.error, "{got:?}, {fine:?}");
        }
    }

    /// Monte Carlo agrees, whichever law is held and whatever bends.
    #[test]
    fn trials_agree(
        law in 0..6_usize, bend in 0..5_usize, width in 0.1..0.8_f64, sd in 0.05..0.5_f64, seed in any::<u64>(),
    ) {
        let error = match law {
            0 => Distribution::rectangular(-width, width),
            1 => Distribution::normal(0.0, width / 3.0),
            2 => Distribution::arcsine(-width, width),
            3 => Distribution::triangular(-width, 0.5 * width, width),
            4 => Distribution::exponential(0.0, width / 3.0),
            _ => Distribution::truncated_normal(0.0, width, -width, 1.5 * width),
        };
        let x = source("x", 0.1, error);
        let rest = rect("r", 0.5, 0.2) + normal("n", 0.0, sd);
        let y = match bend {
            0 => x.clone().exp() * rest,
            1 => x.abs() + rest,
            2 => x.square() * rest.clone() + rest,
            3 => x.max(&Expr::constant(0.2)) - rest,
            _ => rest / (Expr::constant(2.0) + x),
        };
        let stack = stack(&y, 0.2, 0.8);
        let outcome = stack.outcome("y").expect("its only one");
        let answer = outcome.semi_exact().expect("affine but for x");
        let chance = answer.chance(&outcome.band().expect("it has one"));
        let trials = stack
            .monte_carlo(MonteCarlo::new().trials(50_000).seed(seed))
            .expect("defined everywhere");
        let (got, error) = (trials.outcomes[0].chance.expect("a band"), trials.outcomes[0].chance_error.expect("a band"));
        // Five standard errors: once in 1.7 million times.
        prop_assert!((got.inside - chance.value.inside).abs() < 5.0 * error.inside + chance.error);
        prop_assert!((got.below - chance.value.below).abs() < 5.0 * error.below + chance.error);
    }
}
