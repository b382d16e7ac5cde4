//! Random expressions for property tests.

use crate::expr::Expr;
use crate::op::Op;
use crate::{Stack, op};
use kerfwise_source::{AngleUnits, Dimension, LengthUnits, Quantity, Source};
use proptest::prelude::*;

/// Inputs of a random expression.
pub(crate) const INPUTS: usize = 3;

/// Pure numbers `a`, `b`, `c`; each call makes new sources.
pub(crate) fn sources() -> Vec<Source> {
    ["a", "b", "c"]
        .into_iter()
        .map(|name| Source::new(name, 1.0).build().unwrap())
        .collect()
}

/// One step of building an expression: which operation, on which of the expressions so far.
type Step = (usize, usize, usize, f64);

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let number = prop_oneof![
        Just(1.0),
        Just(-2.0),
        Just(0.5),
        -4.0..4.0_f64,
        prop::num::f64::NORMAL,
    ];
    prop::collection::vec((0..200_usize, 0..100_usize, 0..100_usize, number), 1..20)
}

/// An expression of any shape, for text: dimensions need not fit. All operations, negative constants, units, draws.
pub(crate) fn any_shape(sources: Vec<Source>) -> impl Strategy<Value = Expr> {
    steps().prop_map(move |steps| {
        let mut pool: Vec<Expr> = sources.iter().map(Expr::from).collect();
        pool.push(Expr::leaf(&sources[0], 2));
        for (op, i, j, number) in steps {
            pool.push(any_step(op, i, j, number, &pool));
        }
        pool.pop().unwrap()
    })
}

fn any_step(op: usize, i: usize, j: usize, number: f64, pool: &[Expr]) -> Expr {
    // The newest are taken most often, so that expressions grow deep.
    let pick = |k: usize| pool[pool.len() - 1 - k % pool.len().min(5)].clone();
    let dimensions = [
        Dimension::NUMBER,
        Dimension::LENGTH,
        Dimension::ANGLE,
        Dimension::MOISTURE,
        Dimension::LENGTH.per(Dimension::MOISTURE).unwrap(),
        Dimension::LENGTH.powi(2).unwrap(),
    ];
    match Op::ALL.get(op % 32) {
        Some(op) if op.row().arity == 2 => Expr::binary(*op, pick(i), pick(j)),
        Some(op) => Expr::unary(*op, &pick(i)),
        None if op % 32 == 25 => Expr::constant(-0.0),
        None => Expr::constant(Quantity::new(number, dimensions[i % dimensions.len()])),
    }
}

/// An expression of pure numbers that builds into a stack; it need not be defined everywhere.
pub(crate) fn number(sources: Vec<Source>) -> impl Strategy<Value = Expr> {
    steps().prop_map(move |steps| {
        let mut pool: Vec<Expr> = sources.iter().map(Expr::from).collect();
        for (op, i, j, number) in steps {
            let pick = |k: usize| pool[pool.len() - 1 - k % pool.len().min(6)].clone();
            let next = match op % 32 {
                25 => pick(i) + number,
                26 => number - pick(i),
                27 => number * pick(i),
                28 => pick(i) * number,
                29 => pick(i) / number,
                30 => pick(i) - pick(j) + pick(op) - 2.0 * pick(i),
                31 => -pick(i),
                k => apply(Op::ALL[k], pick(i), pick(j)),
            };
            pool.push(next);
        }
        pool.pop().unwrap()
    })
}

/// An affine expression of pure numbers.
pub(crate) fn affine(sources: Vec<Source>) -> impl Strategy<Value = Expr> {
    steps().prop_map(move |steps| {
        let mut pool: Vec<Expr> = sources.iter().map(Expr::from).collect();
        for (op, i, j, number) in steps {
            // Of a size that keeps twenty products in range.
            let number = if number.abs() < 8.0 && number.abs() > 0.01 {
                number
            } else {
                0.75
            };
            let pick = |k: usize| pool[pool.len() - 1 - k % pool.len().min(6)].clone();
            let next = match op % 8 {
                0 => pick(i) + pick(j),
                1 => pick(i) - pick(j),
                2 => number * pick(i),
                3 => pick(i) * number,
                4 => pick(i) / number,
                5 => -pick(i),
                6 => number - pick(i),
                // A factor in which everything cancels.
                _ => {
                    let (x, same) = (pick(i), pick(i));
                    (x - same + number) * pick(j)
                }
            };
            pool.push(next);
        }
        pool.pop().unwrap()
    })
}

/// The operation on pure numbers, with angles made and taken away where it wants them.
pub(crate) fn apply(op: Op, a: Expr, b: Expr) -> Expr {
    let row = op.row();
    match row.rule {
        op::Rule::AngleToNumber => Expr::unary(op, &(a * 1.0.radians())),
        op::Rule::NumberToAngle => Expr::unary(op, &a) / 1.0.radians(),
        op::Rule::Root => {
            // A square root takes any pure number.
            Expr::unary(op, &a)
        }
        _ if row.arity == 2 => Expr::binary(op, a, b),
        _ => Expr::unary(op, &a),
    }
}

/// A stack of one outcome that names all sources, so that inputs are numbered as `sources` are.
pub(crate) fn stack_of(expr: &Expr, sources: &[Source]) -> Stack {
    let all = sources
        .iter()
        .map(Expr::from)
        .reduce(|sum, next| sum + next)
        .unwrap();
    Stack::builder()
        .outcome_without_band("out", expr)
        .outcome_without_band("all", &all)
        .build()
        .unwrap()
}

/// Points of ordinary size, now and then a whole number, where kinks and ends of domains are.
pub(crate) fn point() -> impl Strategy<Value = [f64; INPUTS]> {
    let coordinate = || {
        prop_oneof![
            4 => -3.0..3.0_f64,
            1 => (-2..=2_i32).prop_map(f64::from),
        ]
    };
    [coordinate(), coordinate(), coordinate()]
}

/// A length of this name at 1 in.
pub(crate) fn length(name: &str) -> Source {
    Source::new(name, 1.inch()).build().unwrap()
}

/// The same bits, or both not numbers.
pub(crate) fn is_same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits() || a.is_nan() && b.is_nan()
}
