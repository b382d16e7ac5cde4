//! Every runner on every operation, and on random expressions: they must agree.

use super::{affine, block, interval, point, taylor};
use crate::op::Op;
use crate::tape::Tape;
use crate::testing::{self, INPUTS, is_same};
use crate::{Expr, Facts, Monotone};
use kerfwise_numeric::interval::Interval;
use kerfwise_source::{Dimension, Source};
use proptest::prelude::*;
use std::sync::Arc;

fn tape_of(expr: &Expr, sources: &[Source]) -> Tape {
    testing::stack_of(expr, sources).problem.tape
}

fn value_at(tape: &Tape, inputs: &[f64]) -> f64 {
    point::point(tape, inputs, &mut Vec::new())[0]
}

/// Points where the operations are smooth, have kinks, or are not defined.
fn grid() -> Vec<[f64; INPUTS]> {
    let line = [-2.5, -1.0, -0.75, 0.0, 0.25, 1.0, 1.5, 3.0];
    let pairs = line
        .iter()
        .flat_map(|&a| line.iter().map(move |&b| [a, b, 0.0]));
    pairs.collect()
}

/// Each operation as a stack of its own.
fn rows() -> Vec<(Op, Tape)> {
    let sources = testing::sources();
    let [a, b] = [0, 1].map(|k| Expr::from(&sources[k]));
    let row = |op| {
        (
            op,
            tape_of(&testing::apply(op, a.clone(), b.clone()), &sources),
        )
    };
    Op::ALL.map(row).into()
}

fn boxed(centre: &[f64], radius: f64) -> Vec<Interval> {
    let around = |&x: &f64| Interval::new(x - radius, x + radius).unwrap();
    centre.iter().map(around).collect()
}

#[test]
fn the_table_names_every_undefined_place() {
    for (op, tape) in rows() {
        let is_partial = grid().iter().any(|at| value_at(&tape, at).is_nan());
        // No float is a quarter turn, so the tangent has a value at each.
        let is_said = op.row().undefined.is_some() && op != Op::Tan;
        assert_eq!(is_partial, is_said, "{op:?}");
    }
}

#[test]
fn a_block_gives_the_bits_of_points() {
    for (op, tape) in rows() {
        let mut scratch = block::BlockScratch::new(&tape);
        let grid = grid();
        for input in 0..INPUTS {
            let column = scratch.input(input);
            for (place, at) in column.iter_mut().zip(grid.iter().cycle()) {
                *place = at[input];
            }
        }
        scratch.run(&tape);
        for (got, at) in scratch.output(0).iter().zip(grid.iter().cycle()) {
            assert!(is_same(*got, value_at(&tape, at)), "{op:?} at {at:?}");
        }
    }
}

#[test]
fn intervals_hold_the_values_inside_or_say_why_not() {
    for (op, tape) in rows() {
        for at in grid() {
            for radius in [0.0, 0.2, 1.0] {
                let box_ = boxed(&at, radius);
                let range = interval::interval(&tape, 0, &box_, &mut Vec::new());
                for (da, db) in [(0.0, 0.0), (-1.0, 1.0), (1.0, 0.5), (-0.3, -1.0)] {
                    let inside = [at[0] + da * radius, at[1] + db * radius, 0.0];
                    let value = value_at(&tape, &inside);
                    match &range {
                        Ok(range) => assert!(range.contains(value), "{op:?} {inside:?}"),
                        Err(reason) => assert!(op.row().undefined.is_some(), "{op:?} {reason}"),
                    }
                }
            }
        }
    }
}

/// Central differences of order h²; at h = 1e-4 truncation and rounding are below 1e-6 for slopes of order one.
fn difference(f: impl Fn(f64) -> f64) -> f64 {
    let h = 1e-4;
    (f(h) - f(-h)) / (2.0 * h)
}

fn moved(at: &[f64; INPUTS], input: usize, by: f64) -> [f64; INPUTS] {
    let mut moved = *at;
    moved[input] += by;
    moved
}

/// Whether the operation is smooth at and around a point.
fn is_smooth_around(op: Op, tape: &Tape, at: &[f64; INPUTS]) -> bool {
    let is_far_from_kinks = [-0.01, 0.01].iter().all(|&by| {
        !op.is_kink(at[0], at[1])
            && value_at(tape, &moved(at, 0, by)).is_finite()
            && value_at(tape, &moved(at, 1, by)).is_finite()
    });
    is_far_from_kinks && value_at(tape, at).is_finite()
}

#[test]
fn gradients_agree_with_differences_and_lie_in_their_intervals() {
    for (op, tape) in rows() {
        for at in grid() {
            if !is_smooth_around(op, &tape, &at) {
                continue;
            }
            let derivatives = taylor::gradient(&tape, 0, &at);
            assert!(is_same(derivatives.value, value_at(&tape, &at)), "{op:?}");
            assert_eq!(derivatives.kink, None, "{op:?} {at:?}");
            let ranges = interval::gradient(&tape, 0, &boxed(&at, 0.0)).unwrap().1;
            for (input, range) in ranges.into_iter().enumerate() {
                let slope = derivatives.gradient[input];
                let expected = difference(|h| value_at(&tape, &moved(&at, input, h)));
                // Because of `difference`, relative to slopes that are not of order one.
                let close = 1e-5 * (1.0 + slope.abs());
                assert!(
                    (slope - expected).abs() < close,
                    "{op:?} {at:?} {slope} {expected}"
                );
                let range = range.unwrap();
                let widened = Interval::new(range.lo() - 1e-12, range.hi() + 1e-12).unwrap();
                assert!(widened.contains(slope), "{op:?} {at:?} {slope} {range:?}");
            }
        }
    }
}

#[test]
fn higher_derivatives_agree_with_differences_of_lower_ones() {
    for (op, tape) in rows() {
        for at in grid() {
            if !is_smooth_around(op, &tape, &at) {
                continue;
            }
            for i in 0..2 {
                let gradient = taylor::gradient(&tape, 0, &at).gradient;
                for j in 0..2 {
                    let (first, second, third) = taylor::pair(&tape, 0, &at, i, j);
                    let at_j = |h| moved(&at, j, h);
                    let of_first = |h| taylor::gradient(&tape, 0, &at_j(h)).gradient[i];
                    let of_second = |h| taylor::pair(&tape, 0, &at_j(h), i, j).1;
                    for (got, expected) in [
                        (first, gradient[i]),
                        (second, difference(of_first)),
                        (third, difference(of_second)),
                    ] {
                        // Because of `difference`; higher derivatives near a pole are larger by themselves.
                        let size = 1.0 + expected.abs() + first.abs() + second.abs();
                        assert!(
                            (got - expected).abs() < 1e-4 * size,
                            "{op:?} {at:?} {i} {j} {got} {expected}"
                        );
                    }
                }
            }
        }
    }
}

#[test]
fn kinks_are_named() {
    let sources = testing::sources();
    let [a, b] = [0, 1].map(|k| Expr::from(&sources[k]));
    let kink = |expr: &Expr, at: [f64; INPUTS]| {
        let derivatives = taylor::gradient(&tape_of(expr, &sources), 0, &at);
        (derivatives.kink, derivatives.gradient)
    };
    assert_eq!(
        kink(&(&a - &b).abs(), [1.0, 1.0, 0.0]),
        (Some("abs"), vec![1.0, -1.0, 0.0])
    );
    assert_eq!(kink(&(&a - &b).abs(), [2.0, 1.0, 0.0]).0, None);
    assert_eq!(
        kink(&a.max(&b), [1.0, 1.0, 0.0]),
        (Some("max"), vec![0.5, 0.5, 0.0])
    );
    assert_eq!(
        kink(&a.min(&b), [1.0, 2.0, 0.0]),
        (None, vec![1.0, 0.0, 0.0])
    );
    let (name, slopes) = kink(&a.sqrt(), [0.0, 0.0, 0.0]);
    assert_eq!((name, slopes[0]), (Some("sqrt"), f64::INFINITY));
    // Nothing of it reaches the outcome, so it is no kink of the outcome.
    assert_eq!(kink(&(a.sqrt() * (&b - &b)), [0.0, 1.0, 0.0]).0, None);
}

#[test]
fn the_nearest_side_of_each_kink_is_known() {
    let sources = testing::sources();
    let [a, b] = [0, 1].map(|k| Expr::from(&sources[k]));
    let expr = (2.0 * &a - &b).abs() + a.min(&b);
    let kinks = taylor::kinks(&tape_of(&expr, &sources), 0, &[1.0, 3.0, 0.0], 9);
    let kink = |operation, difference, a, b| taylor::Kink {
        operation,
        difference,
        gradient: vec![a, b, 0.0],
    };
    assert_eq!(
        kinks,
        [kink("abs", -1.0, 2.0, -1.0), kink("min", -2.0, 1.0, -1.0)]
    );
}

#[test]
fn what_is_not_defined_stays_so_to_the_power_0() {
    let sources = testing::sources();
    let a = Expr::from(&sources[0]);
    let tape = tape_of(&(a.sqrt().powi(0) + &a), &sources);
    assert!(value_at(&tape, &[-1.0, 0.0, 0.0]).is_nan());
    assert_eq!(value_at(&tape, &[4.0, 0.0, 0.0]), 5.0);
}

#[test]
fn derivatives_of_the_inverse_tangent_do_not_overflow() {
    let sources = testing::sources();
    let expr = testing::apply(Op::Atan, Expr::from(&sources[0]), Expr::from(&sources[0]));
    let tape = tape_of(&expr, &sources);
    let (first, second, third) = taylor::pair(&tape, 0, &[1e200, 0.0, 0.0], 0, 0);
    assert_eq!((first, second, third), (0.0, 0.0, 0.0));
    // (6 - 2)/2³ at 1.
    assert_eq!(taylor::pair(&tape, 0, &[1.0, 0.0, 0.0], 0, 0).2, 0.5);
}

#[test]
fn a_function_is_followed_to_the_end_of_where_it_is_defined() {
    let sources = testing::sources();
    let facts = Facts::giving(Dimension::NUMBER)
        .argument(Dimension::NUMBER, Monotone::Increasing)
        .smooth();
    let ramp = Arc::new(|x: &[f64]| if x[0] < 0.0 { f64::NAN } else { 3.0 * x[0] });
    let ramp = Expr::function("ramp", &[Expr::from(&sources[0])], facts, ramp);
    let slopes = taylor::gradient(&tape_of(&ramp, &sources), 0, &[0.0; INPUTS]).gradient;
    // Two roundings of a quotient.
    assert!((slopes[0] - 3.0).abs() < 1e-15, "{slopes:?}");
}

#[test]
fn slopes_over_a_kink_are_all_those_between_both_sides() {
    let sources = testing::sources();
    let [a, b] = [0, 1].map(|k| Expr::from(&sources[k]));
    let slopes = |expr: &Expr, lo: f64, hi: f64| {
        let mut box_ = vec![Interval::new(lo, hi).unwrap(); INPUTS];
        box_[1] = Interval::new(0.0, 0.0).unwrap();
        let slope = interval::gradient(&tape_of(expr, &sources), 0, &box_)
            .unwrap()
            .1[0];
        slope.map(|slope| (slope.lo(), slope.hi()))
    };
    assert_eq!(slopes(&a.abs(), -1.0, 2.0), Some((-1.0, 1.0)));
    assert_eq!(slopes(&a.abs(), 1.0, 2.0), Some((1.0, 1.0)));
    assert_eq!(slopes(&a.abs(), -2.0, -1.0), Some((-1.0, -1.0)));
    // Up to the kink itself there is one side only.
    assert_eq!(slopes(&a.abs(), 0.0, 2.0), Some((1.0, 1.0)));
    assert_eq!(slopes(&a.max(&b), -1.0, 0.0), Some((0.0, 0.0)));
    assert_eq!(slopes(&a.max(&b), -1.0, 2.0), Some((0.0, 1.0)));
    assert_eq!(slopes(&a.max(&b), 1.0, 2.0), Some((1.0, 1.0)));
    assert_eq!(slopes(&a.min(&b), 1.0, 2.0), Some((0.0, 0.0)));
    assert_eq!(slopes(&a.powi(0), -1.0, 2.0), Some((0.0, 0.0)));
    let root = slopes(&a.sqrt(), 0.0, 4.0).unwrap();
    // 1 / (2 sqrt 4) from below, no end above.
    assert!(root.0 <= 0.25 && root.0 > 0.2499 && root.1 == f64::INFINITY);
}

#[test]
fn an_undefined_place_is_named_with_its_algebra() {
    let [x, y] = ["x", "y"].map(|name| Source::new(name, 1.0).build().unwrap());
    let (x, y) = (Expr::from(&x), Expr::from(&y));
    let reason = |expr: Expr| {
        let stack = crate::Stack::builder()
            .outcome_without_band("out", &(expr + 0.0 * &x + 0.0 * &y))
            .build()
            .unwrap();
        let box_ = [Interval::new(-2.0, 2.0).unwrap(); 2];
        interval::interval(&stack.problem.tape, 0, &box_, &mut Vec::new()).unwrap_err()
    };
    assert_eq!(
        reason(2.0 / (&x - &y)),
        r#"division by "x - y", which may be 0 within the limits"#
    );
    assert_eq!(
        reason((&x - &y).powi(-2)),
        r#"power -2 of "x - y", which may be 0 within the limits"#
    );
    assert_eq!(
        reason(x.sqrt()),
        r#"sqrt of "x", which may be negative within the limits"#
    );
    assert_eq!(
        reason((&x * &y).ln()),
        r#"ln of "x * y", which may be 0 or negative within the limits"#
    );
    assert_eq!(
        reason(testing::apply(Op::Asin, x.clone(), x.clone())),
        r#"asin of "x", which may be outside -1 to 1 within the limits"#
    );
}

/// Whether no intermediate value is so large or small that a power of it may leave the range of numbers: intervals hold
/// the true value, and a float that has overflowed or vanished is far from it.
fn is_in_range(tape: &Tape, at: &[f64]) -> bool {
    let mut values = Vec::new();
    point::fill(tape, at, &mut values, tape.steps());
    values
        .iter()
        .all(|x| *x == 0.0 || (1e-25..1e25).contains(&x.abs()))
}

/// A random expression, its sources, and a point.
fn cases() -> impl Strategy<Value = (Vec<Source>, Expr, [f64; INPUTS])> {
    let with = |sources: Vec<Source>| {
        (
            Just(sources.clone()),
            testing::number(sources),
            testing::point(),
        )
    };
    Just(())
        .prop_map(|()| testing::sources())
        .prop_flat_map(with)
}

proptest! {
    #[test]
    fn direct_point_and_block_agree_to_the_bit((sources, expr, at) in cases()) {
        let value_of = |source: &Source| {
            at[sources.iter().position(|s| s.is_same(source)).unwrap()]
        };
        let direct = expr.evaluate(&value_of);
        let tape = tape_of(&expr, &sources);
        prop_assert!(is_same(direct, value_at(&tape, &at)), "{expr} {direct}");
        let mut scratch = block::BlockScratch::new(&tape);
        for (input, x) in at.iter().enumerate() {
            scratch.input(input).fill(*x);
        }
        // Twice: a run must not spoil the columns of inputs and constants.
        for _ in 0..2 {
            scratch.run(&tape);
            prop_assert!(scratch.output(0).iter().all(|x| is_same(*x, direct)), "{expr}");
        }
    }

    #[test]
    fn intervals_hold_points((sources, expr, at) in cases(), radius in 0.0..0.5_f64, t in prop::array::uniform3(-1.0..1.0_f64)) {
        let tape = tape_of(&expr, &sources);
        let range = interval::interval(&tape, 0, &boxed(&at, radius), &mut Vec::new());
        let inside: [f64; INPUTS] = std::array::from_fn(|k| at[k] + t[k] * radius);
        if let (Ok(range), true) = (range, is_in_range(&tape, &inside)) {
            let value = value_at(&tape, &inside);
            prop_assert!(range.contains(value), "{expr} {value} {range:?}");
        }
    }

    #[test]
    fn slopes_hold_between_two_points((sources, expr, at) in cases(), radius in 0.01..0.5_f64) {
        let tape = tape_of(&expr, &sources);
        let box_ = boxed(&at, radius);
        let Ok((_, slopes)) = interval::gradient(&tape, 0, &box_) else {
            return Ok(());
        };
        for (input, slope) in slopes.into_iter().enumerate() {
            let Some(slope) = slope else { continue };
            let [low, high] = [box_[input].lo(), box_[input].hi()];
            // Mean value theorem: f(high) - f(low) is a slope from the range times high - low, all with bounds.
            let value = |x: f64| {
                let mut end: Vec<Interval> = at.iter().map(|&x| Interval::point(x).unwrap()).collect();
                end[input] = Interval::point(x).unwrap();
                interval::interval(&tape, 0, &end, &mut Vec::new())
            };
            if let (Ok(below), Ok(above)) = (value(low), value(high)) {
                let run = Interval::point(high).unwrap() - Interval::point(low).unwrap();
                let (rise, expected) = (above - below, slope * run);
                prop_assert!(rise.intersect(expected).is_some(), "{expr} {at:?} {rise:?} {expected:?}");
            }
        }
    }

    #[test]
    fn affine_forms_give_the_values(
        (sources, expr, at) in Just(()).prop_map(|()| testing::sources()).prop_flat_map(|sources| {
            (Just(sources.clone()), testing::affine(sources), testing::point())
        })
    ) {
        let tape = tape_of(&expr, &sources);
        let form = affine::affine(&tape, 0, &[]);
        prop_assert!(form.is_ok(), "{expr}");
        let form = form.unwrap();
        let value = form.terms.iter().fold(form.constant, |sum, (input, c)| sum + c * at[*input]);
        let expected = value_at(&tape, &at);
        // Because of rounding, relative to the largest thing that is added up.
        let size = form.terms.iter().fold(form.constant.abs(), |sum, (_, c)| sum + c.abs() * 3.0);
        let largest = 1e4_f64.max(size);
        prop_assert!((value - expected).abs() < 1e-10 * largest, "{expr} {value} {expected}");
        let gradient = taylor::gradient(&tape, 0, &at).gradient;
        for (input, c) in &form.terms {
            prop_assert!((gradient[*input] - c).abs() < 1e-10 * largest, "{expr}");
        }
    }

    #[test]
    fn what_is_affine_says_so_only_if_second_derivatives_vanish((sources, expr, at) in cases()) {
        let tape = tape_of(&expr, &sources);
        if affine::affine(&tape, 0, &[]).is_ok() {
            for i in 0..INPUTS {
                let (_, second, third) = taylor::pair(&tape, 0, &at, i, (i + 1) % INPUTS);
                prop_assert!(second == 0.0 && third == 0.0 || !second.is_finite(), "{expr}");
            }
        }
    }
}

#[test]
fn affine_forms_are_exact() {
    let sources = testing::sources();
    let [x, y, z] = [0, 1, 2].map(|k| Expr::from(&sources[k]));
    let form = |expr: &Expr| {
        affine::affine(&tape_of(expr, &sources), 0, &[]).map(|form| (form.constant, form.terms))
    };
    assert_eq!(form(&(&x - &x)), Ok((0.0, vec![])));
    assert_eq!(form(&(&x * 2.0 / 4.0)), Ok((0.0, vec![(0, 0.5)])));
    assert_eq!(form(&(&x * 0.0 + 3.0)), Ok((3.0, vec![])));
    assert_eq!(
        form(&(&x + 1e5 - &y - 1e5 + 0.05)),
        Ok((0.05, vec![(0, 1.0), (1, -1.0)]))
    );
    assert_eq!(form(&((&x - &x + 2.0) * &y)), Ok((0.0, vec![(1, 2.0)])));
    assert_eq!(form(&(&y / (&x - &x + 2.0))), Ok((0.0, vec![(1, 0.5)])));
    assert_eq!(
        form(&((&x - &x - 2.0).abs() + &y)),
        Ok((2.0, vec![(1, 1.0)]))
    );
    assert_eq!(form(&x.powi(1)), Ok((0.0, vec![(0, 1.0)])));
    assert_eq!(form(&(-(-&x))), Ok((0.0, vec![(0, 1.0)])));
    assert_eq!(form(&(&x * &y + &z)), Err(vec![0, 1]));
    assert_eq!(form(&(&x * &x)), Err(vec![0]));
    assert_eq!(form(&(&z + (&x - &y).abs())), Err(vec![0, 1]));
    assert_eq!(form(&(&x + 1.0 / &y)), Err(vec![1]));
    assert_eq!(form(&(&x + &y.max(&z))), Err(vec![1, 2]));
    // A known value is a constant, unless what is made of it is not defined.
    let with_known = |expr: &Expr, known: f64| {
        let known = [None, Some(known)];
        affine::affine(&tape_of(expr, &sources), 0, &known).map(|form| (form.constant, form.terms))
    };
    assert_eq!(with_known(&(&x * &y + &y), 3.0), Ok((3.0, vec![(0, 3.0)])));
    assert_eq!(with_known(&(&x + y.sqrt()), 4.0), Ok((2.0, vec![(0, 1.0)])));
    assert_eq!(with_known(&(&x + y.sqrt()), -4.0), Err(vec![1]));
    assert_eq!(with_known(&(&x / &y + x.square()), 4.0), Err(vec![0]));
    // Not affine where it is not defined: the root of a negative number is none.
    assert_eq!(form(&(&x + y.sqrt() - y.sqrt())), Err(vec![1]));
    assert_eq!(form(&(&x + 0.0 * y.sqrt())), Err(vec![1]));
}

#[test]
fn a_long_sum_is_one_instruction_and_keeps_its_order() {
    let sources: Vec<Source> = (0..10_000)
        .map(|k| {
            Source::new(&format!("s{k:05}"), 1.0)
                .normal(1.0)
                .build()
                .unwrap()
        })
        .collect();
    let sum = sources
        .iter()
        .enumerate()
        .fold(Expr::constant(0.5), |sum, (k, source)| match k % 3 {
            0 => sum + source,
            1 => sum - source,
            _ => sum + 3.0 * Expr::from(source),
        });
    let stack = crate::Stack::builder()
        .outcome_without_band("sum", &sum)
        .build()
        .unwrap();
    let tape = &stack.problem.tape;
    assert_eq!(tape.steps().count(), 1);
    let value_of = |k: usize| 1.0 / (1.0 + k as f64);
    let inputs: Vec<f64> = (0..sources.len()).map(value_of).collect();
    let direct = sum.evaluate(&|source| value_of(source.name()[1..].parse().unwrap()));
    assert!(is_same(value_at(tape, &inputs), direct));
    let form = stack.problem.affine[0].clone().unwrap();
    assert_eq!(form.constant, 0.5);
    assert_eq!(form.terms[..3], [(0, 1.0), (1, -1.0), (2, 3.0)]);
    let mut scratch = block::BlockScratch::new(tape);
    for (k, x) in inputs.iter().enumerate() {
        scratch.input(k).fill(*x);
    }
    scratch.run(tape);
    assert!(scratch.output(0).iter().all(|x| is_same(*x, direct)));
}

#[test]
fn shared_values_are_computed_once_and_columns_are_reused() {
    let sources = testing::sources();
    let [x, y] = [0, 1].map(|k| Expr::from(&sources[k]));
    let shared = || (&x * &y).exp();
    let tape = tape_of(&(shared() + shared().abs()), &sources);
    // x * y, exp, abs, +, and the sum of all inputs that the helper adds.
    assert_eq!(tape.steps().count(), 5);
    let mut long = &x * &y;
    for _ in 0..100 {
        long = (&long * &y).abs();
    }
    let tape = tape_of(&long, &sources);
    assert!(tape.column_count() < INPUTS + 5, "{}", tape.column_count());
}

#[test]
fn opaque_functions_are_run_and_bounded_as_declared() {
    let sources = testing::sources();
    let [x, y] = [0, 1].map(|k| Expr::from(&sources[k]));
    let build = |monotone| {
        let facts = Facts::giving(Dimension::NUMBER)
            .argument(Dimension::NUMBER, Monotone::Increasing)
            .argument(Dimension::NUMBER, monotone)
            .smooth();
        let compute = Arc::new(|x: &[f64]| x[0] * x[0] * x[0] - 2.0 * x[1]);
        tape_of(
            &(Expr::function("f", &[x.clone(), y.clone()], facts, compute) + 1.0),
            &sources,
        )
    };
    let tape = build(Monotone::Decreasing);
    assert_eq!(value_at(&tape, &[2.0, 1.0, 0.0]), 7.0);
    assert_eq!(tape.opaque_function(0), Some("f"));
    assert!(tape.is_smooth(0));
    let box_ = boxed(&[1.0, 0.0, 0.0], 1.0);
    let range = interval::interval(&tape, 0, &box_, &mut Vec::new()).unwrap();
    assert!(range.contains(-1.0) && range.contains(11.0) && range.width() < 12.000001);
    let slopes = interval::gradient(&tape, 0, &box_).unwrap().1;
    assert_eq!(slopes[0], Interval::new(0.0, f64::INFINITY));
    assert_eq!(slopes[1], Interval::new(f64::NEG_INFINITY, 0.0));
    let derivatives = taylor::gradient(&tape, 0, &[2.0, 1.0, 0.0]);
    // Because the quotient of a cubic is off by the square of its step, (1.2e-5)².
    assert!((derivatives.gradient[0] - 12.0).abs() < 1e-8);
    assert!((derivatives.gradient[1] + 2.0).abs() < 1e-8);
    assert!(taylor::pair(&tape, 0, &[2.0, 1.0, 0.0], 0, 1).1.is_nan());
    assert_eq!(affine::affine(&tape, 0, &[]), Err(vec![0, 1]));
    // Of known arguments its value is known too.
    let known = affine::affine(&tape, 0, &[Some(2.0), Some(1.0), None]).unwrap();
    assert_eq!((known.constant, known.terms), (7.0, vec![]));

    let unknown = build(Monotone::Unknown);
    let reason = interval::interval(&unknown, 0, &box_, &mut Vec::new()).unwrap_err();
    assert_eq!(
        reason,
        r#"opaque function "f", which is not declared monotone in argument 2"#
    );
    assert_eq!(
        interval::gradient(&unknown, 0, &boxed(&[1.0; 3], 0.0))
            .unwrap()
            .1[1],
        None
    );
}
