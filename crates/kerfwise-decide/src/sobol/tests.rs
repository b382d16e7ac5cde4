use super::*;
use kerfwise_source::{Dimension, LengthUnits};
use kerfwise_stack::Expr;
use std::f64::consts::PI;

fn number(name: &str, from: f64, to: f64) -> Source {
    let middle = 0.5 * (from + to);
    Source::new(name, Quantity::new(middle, Dimension::NUMBER))
        .rectangular(Quantity::new(0.5 * (to - from), Dimension::NUMBER))
        .build()
        .unwrap()
}

fn of(sum: &Expr) -> SobolIndices {
    let stack = Stack::builder()
        .outcome_without_band("f", sum)
        .build()
        .unwrap();
    SobolIndices::of(&stack, "f", &SobolOptions::new()).unwrap()
}

/// By name: first-order and total index.
fn check(found: &SobolIndices, wanted: &[(&str, f64, f64)]) {
    for (name, first, total) in wanted {
        let is_named = |s: &&SobolIndex| s.source.name() == *name;
        let got = found.sources.iter().find(is_named).unwrap();
        // Four standard errors, from 16 scrambles: one honest index in a thousand lies outside (Student t, 15 degrees).
        let allowed = |error: f64| 4.0 * error + 1e-9;
        assert!(
            (got.first - first).abs() < allowed(got.first_error),
            "{name}: {got:?}, not {first}"
        );
        assert!(
            (got.total - total).abs() < allowed(got.total_error),
            "{name}: {got:?}, not {total}"
        );
        // And they are worth having.
        assert!(got.first_error < 0.02 && got.total_error < 0.02, "{got:?}");
    }
}

/// Ishigami and Homma (1990), sin x₁ + 7 sin² x₂ + 0.1 x₃⁴ sin x₁ on ±π; closed form: V₁ = ½(1 + bπ⁴/5)², V₂ = a²/8,
/// V₁₃ = b²π⁸(1/18 − 1/50).
#[test]
fn the_ishigami_function() {
    let x: Vec<Expr> = ["x1", "x2", "x3"]
        .iter()
        .map(|name| Expr::source(&number(name, -PI, PI)))
        .collect();
    let radian = Expr::constant(Quantity::new(1.0, Dimension::ANGLE));
    let sin = |x: &Expr| (x * &radian).sin();
    let f = sin(&x[0]) + 7.0 * sin(&x[1]).square() + 0.1 * x[2].powi(4) * sin(&x[0]);
    let found = of(&f);
    check(
        &found,
        &[
            ("x1", 0.313_905_191_148, 0.557_588_855_210),
            ("x2", 0.442_411_144_790, 0.442_411_144_790),
            ("x3", 0.0, 0.243_683_664_062),
        ],
    );
    assert!((found.standard_deviation.raw() - 13.844_587_940_719_f64.sqrt()).abs() < 0.01);
}

/// Sobol's g-function Π (|4x − 2| + a)/(1 + a), (Saltelli and Sobol 1995); closed form: Vᵢ = 1/(3(1 + aᵢ)²), V = Π(1 + Vᵢ) − 1.
#[test]
fn the_g_function() {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let factors = a.iter().enumerate().map(|(i, a)| {
        let x = Expr::source(&number(&format!("x{i}"), 0.0, 1.0));
        ((4.0 * x - 2.0).abs() + *a) / (1.0 + a)
    });
    let found = of(&factors.reduce(|f, g| f * g).unwrap());
    check(
        &found,
        &[
            ("x0", 0.716_192_168_9, 0.787_144_126_7),
            ("x1", 0.179_048_042_2, 0.242_198_192_8),
            ("x2", 0.023_675_774_2, 0.034_316_910_2),
            ("x3", 0.007_161_921_7, 0.010_460_387_1),
            ("x4", 0.000_071_619_2, 0.000_104_949_1),
        ],
    );
    assert_eq!(found.sources[0].source.name(), "x0");
}

/// x₁ − x₂ − |x₃|: the folded one has the variance σ²(1 − 2/π) of a half normal, and nothing comes of any two together.
#[test]
fn a_lean_that_folds() {
    let sd = [1.1, 0.7, 0.9];
    let x: Vec<Expr> = (0..3)
        .map(|i| {
            let name = format!("x{i}");
            let source = Source::new(&name, 0.inch()).normal(sd[i].thou()).build();
            Expr::source(&source.unwrap())
        })
        .collect();
    let found = of(&(&x[0] - &x[1] - x[2].abs()));
    let parts = [1.21, 0.49, 0.81 * (1.0 - 2.0 / PI)];
    let all: f64 = parts.iter().sum();
    let shares: Vec<(String, f64)> = (0..3).map(|i| (format!("x{i}"), parts[i] / all)).collect();
    let wanted: Vec<(&str, f64, f64)> = shares.iter().map(|(n, s)| (n.as_str(), *s, *s)).collect();
    check(&found, &wanted);
}

#[test]
fn refuses_what_does_not_vary() {
    let constant = Expr::constant(1.inch());
    let stack = Stack::builder()
        .outcome_without_band("f", &constant)
        .build()
        .unwrap();
    let refused = SobolIndices::of(&stack, "f", &SobolOptions::new()).unwrap_err();
    assert!(refused.to_string().contains("does not vary"), "{refused}");
    let refused = SobolIndices::of(&stack, "g", &SobolOptions::new()).unwrap_err();
    assert!(
        refused.to_string().contains("no outcome \"g\""),
        "{refused}"
    );
}
