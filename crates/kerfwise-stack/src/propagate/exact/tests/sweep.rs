//! Random stacks of all laws: every one gets a route, and its numbers belong together.

use super::*;
use crate::propagate::exact::part::{Part, Shape};
use crate::propagate::exact::route::{self, Ask};
use crate::propagate::exact::solved::Solved;
use proptest::prelude::*;

/// Any law, of about unit spread.
fn law() -> impl Strategy<Value = Distribution> {
    let one = prop_oneof![
        4 => Just(Distribution::normal(0.3, 1.0)),
        4 => Just(Distribution::rectangular(-1.0, 1.5)),
        2 => Just(Distribution::triangular(-1.0, 0.0, 1.0)),
        1 => (0.0..1.0_f64).prop_map(|c| Distribution::triangular(-1.0, 2.0 * c - 1.0, 1.0)),
        1 => (0.0..1.0_f64).prop_map(|top| Distribution::trapezoidal(-1.0, 1.0, top)),
        1 => (0.01..1.0_f64).prop_map(|d| Distribution::curvilinear_trapezoid(-1.0, 1.0, d)),
        2 => Just(Distribution::arcsine(-1.0, 1.0)),
        2 => prop_oneof![Just(1.0), Just(2.0), Just(4.0), 1.0..40.0_f64]
            .prop_map(|nu| Distribution::student_t(0.0, 1.0, nu)),
        1 => prop_oneof![Just(1.0), Just(-1.0)].prop_map(|m| Distribution::exponential(0.0, m)),
        1 => (0.05..1.0_f64).prop_map(|s| Distribution::lognormal(0.0, 0.0, s)),
        1 => (0.6..6.0_f64, 0.6..6.0_f64).prop_map(|(a, b)| Distribution::beta(-1.0, 1.0, a, b)),
        1 => (-2.0..0.5_f64, 0.6..3.0_f64)
            .prop_map(|(lo, hi)| Distribution::truncated_normal(0.0, 1.0, lo, hi)),
        1 => (0.2..2.0_f64).prop_map(|s| Distribution::two_piece_normal(0.0, 1.0, s)),
        1 => Just(Distribution::discrete(&[(-1.0, 0.2), (0.0, 0.5), (1.5, 0.3)])),
        1 => Just(Distribution::empirical(&[0.1, -0.4, 0.9, 0.2, -1.1])),
        1 => Just(Distribution::mixture(vec![
            (0.98, Distribution::normal(0.0, 0.5).unwrap()),
            (0.02, Distribution::rectangular(1.0, 3.0).unwrap()),
        ])),
    ];
    one.prop_map(Result::unwrap)
}

/// One to `most` laws with spreads up to four orders of magnitude apart.
pub(super) fn stack(most: usize) -> impl Strategy<Value = Vec<(f64, Distribution)>> {
    let size = (-4.0..0.0_f64, any::<bool>()).prop_map(|(log, minus)| {
        let size = kerfwise_numeric::float::powf(10.0, log);
        if minus { -size } else { size }
    });
    prop::collection::vec((size, law()), 1..=most)
}

fn form(terms: &[(f64, Distribution)]) -> Form {
    let terms: Vec<Term<'_>> = terms
        .iter()
        .map(|(coefficient, law)| Term {
            coefficient: *coefficient,
            estimate: 0.0,
            error: law,
            is_second: false,
        })
        .collect();
    Form::new(0.0, &terms, &[]).unwrap()
}

fn names(terms: &[(f64, Distribution)]) -> String {
    let each: Vec<String> = terms
        .iter()
        .map(|(c, law)| {
            format!(
                "{c:.2e}x{}",
                format!("{law:?}")
                    .split(", table")
                    .next()
                    .unwrap()
                    .chars()
                    .take(150)
                    .collect::<String>()
            )
        })
        .collect();
    each.join(" + ")
}

/// Places across the law, some of them far out.
fn places(sum: &Sum) -> Vec<f64> {
    [1e-9, 1e-3, 0.02, 0.2, 0.5]
        .iter()
        .flat_map(|&p| {
            [
                sum.outward(interval::place(sum, Tail::AtMost, p).value),
                sum.outward(interval::place(sum, Tail::MoreThan, p).value),
            ]
        })
        .collect()
}

/// Other routes to the same numbers.
fn others(parts: &[Part]) -> Vec<Solved> {
    let mut all = Vec::new();
    let ask = Ask::anywhere();
    let parts = route::merge_stable(parts.to_vec()).unwrap();
    if let Some(transform) = route::transform(&parts, ask, 2e-17, 300_000.0) {
        all.push(transform);
    }
    if parts
        .iter()
        .all(|p| !p.has_atoms() && !matches!(p.shape, Shape::Mixture(_)))
        && (2..=3).contains(&parts.len())
        && let Some(cheapest) = route::Cheapest::of(&parts)
    {
        all.extend(cheapest.build(parts, ask));
    }
    all
}

fn check(terms: &[(f64, Distribution)]) {
    let form = form(terms);
    // How often a stack gets no route is counted by the agreement tests of the package `tests`.
    let Ok(sum) = Sum::of(&form, 0, form.location(), &[]) else {
        return;
    };
    let places = places(&sum);
    let others = others(&form.parts[0]);
    let mut bad = String::new();
    for &y in &places {
        let (below, above) = (sum.tail(Tail::AtMost, y), sum.tail(Tail::MoreThan, y));
        if (below.value + above.value - 1.0).abs() > below.error + above.error + 1e-16 {
            bad += &format!(" both {below:?} {above:?}");
        }
        for other in &others {
            let off = other.tail(Tail::AtMost, sum.inward(y));
            if (off.value - below.value).abs() > off.error + below.error {
                bad += &format!(" at {y:e} {} {off:?} {below:?}", other.route());
            }
        }
    }
    assert!(bad.is_empty(), "{}{bad}: {}", sum.route(), names(terms));
}

/// Each case solves its stack by every route that there is, the slow ones too: two are for every day, `.ci/long` asks for
/// more through `KERFWISE_SWEEP`.
fn cases() -> u32 {
    std::env::var("KERFWISE_SWEEP")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(2)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: cases(), ..ProptestConfig::default() })]

    #[test]
    fn few(terms in stack(4)) {
        check(&terms);
    }

    #[test]
    fn many(terms in stack(30)) {
        check(&terms);
    }
}
