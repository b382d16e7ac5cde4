//! What is promised of every run: the same bits, honest errors, a reason for every refusal.

use crate::{Band, Bounded, Expr, MonteCarlo, MonteCarloAnswer, Stack};
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_source::{Distribution, Event, Source};
use std::ops::ControlFlow;

fn source(name: &str, error: Distribution) -> Source {
    Source::new(name, 0.0)
        .error(error)
        .build()
        .expect("a valid source")
}

fn normal(name: &str, sd: f64) -> Source {
    Source::new(name, 0.0)
        .normal(sd)
        .build()
        .expect("a valid source")
}

fn rectangular(name: &str, half_width: f64) -> Source {
    Source::new(name, 0.0)
        .rectangular(half_width)
        .build()
        .expect("a valid source")
}

fn band(half_width: f64) -> Band {
    Band::within(half_width).expect("a valid band")
}

fn one(expr: &Expr) -> Stack {
    Stack::builder()
        .outcome("y", expr, band(1.0))
        .build()
        .expect("a valid stack")
}

fn run(stack: &Stack, options: MonteCarlo) -> MonteCarloAnswer {
    stack.monte_carlo(options).expect("nothing to decline")
}

fn declines(stack: &Stack, options: MonteCarlo) -> String {
    stack
        .monte_carlo(options)
        .expect_err("not to be answered")
        .to_string()
}

/// Sources of several laws, two of them correlated; outcomes with a kink, with undefined trials and without a band.
fn varied() -> Stack {
    let (a, b, c) = (normal("a", 0.4), normal("b", 0.3), rectangular("c", 0.5));
    let t = Source::new("t", 0.0)
        .student_t(0.2, 4.0)
        .build()
        .expect("a valid source");
    let [x, y, z, w] = [&a, &b, &c, &t].map(Expr::source);
    let sum = x.clone() + y.clone() - z.clone() + w;
    let root = (z + Expr::constant(0.4)).sqrt();
    Stack::builder()
        .outcome("sum", &sum, band(1.0))
        .outcome("root", &root, band(0.5))
        .outcome_without_band("greater", &x.max(&y))
        .correlated(&a, &b, -0.5)
        .build()
        .expect("a valid stack")
}

#[test]
fn any_number_of_threads_gives_the_same_bits() {
    let stack = varied();
    for trials in [2, 1000, 1024, 1025, 300_000] {
        let options = MonteCarlo::new().trials(trials).seed(3);
        let single = run(&stack, options.clone().threads(1));
        for threads in [2, 5] {
            assert_eq!(
                run(&stack, options.clone().threads(threads)),
                single,
                "{trials} on {threads}"
            );
        }
    }
    let adaptive = MonteCarlo::new().trials(200_000).adaptive(2);
    let single = run(&stack, adaptive.clone().threads(1));
    assert_eq!(run(&stack, adaptive.threads(5)), single);

    let batch = |threads| {
        let options = MonteCarlo::new().trials(5000).threads(threads);
        stack
            .simulate_batch(3, &Event::batch(), options)
            .expect("two bands")
    };
    assert_eq!(batch(1), batch(2));
    assert_eq!(batch(1), batch(5));
}

#[test]
fn the_order_of_sources_and_outcomes_changes_nothing() {
    let forwards = {
        let (kerf, seat) = (normal("kerf", 0.3), rectangular("seat", 0.4));
        let (kerf, seat) = (Expr::source(&kerf), Expr::source(&seat));
        Stack::builder()
            .outcome("fit", &(kerf.clone() - seat.clone()), band(0.5))
            .outcome("step", &(kerf * seat), band(0.1))
    };
    let backwards = {
        let (seat, kerf) = (rectangular("seat", 0.4), normal("kerf", 0.3));
        let (seat, kerf) = (Expr::source(&seat), Expr::source(&kerf));
        Stack::builder()
            .outcome("step", &(kerf.clone() * seat.clone()), band(0.1))
            .outcome("fit", &(kerf - seat), band(0.5))
    };
    let [mut forwards, backwards] = [forwards, backwards].map(|builder| {
        run(
            &builder.build().expect("a valid stack"),
            MonteCarlo::new().trials(10_000),
        )
    });
    forwards.outcomes.reverse();
    assert_eq!(forwards, backwards);
}

#[test]
fn editing_one_source_leaves_the_draws_of_the_others() {
    let answer = |b: Source| {
        let a = normal("a", 0.5);
        let stack = Stack::builder()
            .outcome("of_a", &Expr::source(&a), band(1.0))
            .outcome("of_b", &Expr::source(&b), band(1.0))
            .build()
            .expect("a valid stack");
        run(&stack, MonteCarlo::new().trials(20_000)).outcomes
    };
    let before = answer(rectangular("b", 0.5));
    let after = answer(source(
        "b",
        Distribution::exponential(0.0, 0.3).expect("a valid distribution"),
    ));
    assert_eq!(before[0], after[0]);
    assert_ne!(before[1], after[1]);
    // Another name is another source.
    assert_ne!(answer(rectangular("b2", 0.5))[1].mean, before[1].mean);
}

/// Sources a, b, c (normal) and r (rectangular).
fn four() -> [Expr; 4] {
    let normals = [("a", 0.3), ("b", 0.4), ("c", 1.2)];
    let [a, b, c] = normals.map(|(name, sd)| Expr::source(&normal(name, sd)));
    [a, b, c, Expr::source(&rectangular("r", 0.5))]
}

/// Two independent estimates of one number: four standard errors of their difference.
fn agree(p: Bounded<f64>, q: Bounded<f64>) {
    let error = kerfwise_numeric::float::hypot(p.error, q.error);
    assert!((p.value - q.value).abs() < 4.0 * error, "{p:?} and {q:?}");
}

#[test]
fn merged_normals_have_the_distribution_of_their_sum() {
    // sd² of a + b - c/2 is 0.09 + 0.16 + 0.36 = 0.61; with r, of variance 1/12, 0.693333.
    let [a, b, c, r] = four();
    let sum = a + b - c * Expr::constant(0.5) + r.clone();
    let stack = Stack::builder()
        .outcome("sum", &sum, band(1.0))
        .outcome("r", &r, band(0.25))
        .build()
        .expect("a valid stack");
    let options = MonteCarlo::new().trials(400_000).seed(5);
    let merged = run(&stack, options.clone());
    let apart = run(&stack, options.merge_normals(false));
    for answer in [&merged, &apart] {
        let outcome = &answer.outcomes[0];
        // Four standard errors.
        let mean = outcome.mean;
        assert!(mean.value.raw().abs() < 4.0 * mean.error);
        let sd = outcome.standard_deviation;
        assert!((sd.value.raw() - (0.61 + 1.0 / 12.0_f64).sqrt()).abs() < 4.0 * sd.error);
    }
    agree(
        merged.joint.expect("two bands"),
        apart.joint.expect("two bands"),
    );
    assert_ne!(merged.outcomes[0].mean, apart.outcomes[0].mean);
    assert_eq!(
        merged.outcomes[1], apart.outcomes[1],
        "r has its own stream"
    );
}

#[test]
fn normals_that_two_outcomes_share_otherwise_stay_apart() {
    // x + y and x - y of equal spreads are independent, so the chance of both is the square of the chance of one.
    let (x, y) = (normal("x", 1.0), normal("y", 1.0));
    let (x, y) = (Expr::source(&x), Expr::source(&y));
    let stack = Stack::builder()
        .outcome("sum", &(x.clone() + y.clone()), band(1.0))
        .outcome("difference", &(x - y), band(1.0))
        .build()
        .expect("a valid stack");
    let joint = run(&stack, MonteCarlo::new().trials(200_000))
        .joint
        .expect("two bands");
    // P(|N(0, √2)| ≤ 1) = erf(1/2) = 0.520500 (DLMF 7.2.1).
    assert!((joint.value - 0.520_499_877_8 * 0.520_499_877_8).abs() < 4.0 * joint.error);
}

#[test]
fn normals_that_two_outcomes_share_alike_are_merged_for_both() {
    let [a, b, _, r] = four();
    let shared = a + b * Expr::constant(2.0);
    let stack = Stack::builder()
        .outcome("one", &(shared.clone() + r.clone()), band(1.0))
        .outcome("other", &(Expr::constant(3.0) * shared - r), band(2.0))
        .build()
        .expect("a valid stack");
    let options = MonteCarlo::new().trials(200_000);
    let merged = run(&stack, options.clone()).joint.expect("two bands");
    let apart = run(&stack, options.merge_normals(false))
        .joint
        .expect("two bands");
    assert_ne!(merged, apart);
    agree(merged, apart);
}

#[test]
fn normals_of_a_sum_within_a_sum_are_merged_with_those_outside() {
    let [a, b, c] =
        [("a", 1.0), ("b", 2.0), ("c", 3.0)].map(|(name, sd)| Expr::source(&normal(name, sd)));
    let inner = b.clone() - c.clone();
    let options = MonteCarlo::new().trials(3000);
    let flat = run(&one(&(a.clone() + b - c)), options.clone());
    assert_eq!(
        run(&one(&(a.clone() + inner.clone())), options.clone()),
        flat
    );
    // What a square sees is no part of the sum.
    let squared = a + inner.clone() + inner.square();
    let both = [true, false].map(|merge| run(&one(&squared), options.clone().merge_normals(merge)));
    let [merged, apart] = both.each_ref().map(|answer| &answer.outcomes[0].mean);
    // E = 2² + 3²; four standard errors.
    for mean in [merged, apart] {
        assert!(
            (mean.value.raw() - 13.0).abs() < 4.0 * mean.error,
            "{mean:?}"
        );
    }
}

#[test]
fn what_is_not_added_is_not_merged() {
    let [a, b, c, r] = four();
    let product = a.clone() * b.clone() + c.square() + r + a.max(&b);
    let options = MonteCarlo::new().trials(5000);
    let answer = run(&one(&product), options.clone());
    assert_eq!(answer, run(&one(&product), options.merge_normals(false)));
}

#[test]
fn a_batch_merges_within_the_piece_and_within_the_set_up_only() {
    let piece = |name: &str, sd: f64| {
        let source = Source::new(name, 0.0).normal(sd).event(Event::piece());
        Expr::source(&source.build().expect("a valid source"))
    };
    let [a, b, c, _] = four();
    let fit = a + b + c * Expr::constant(0.1) + piece("p", 0.3) + piece("q", 0.4);
    let options = MonteCarlo::new().trials(40_000);
    let simulate = |options| {
        one(&fit)
            .simulate_batch(4, &Event::piece(), options)
            .expect("a band")
    };
    let merged = simulate(options.clone());
    let apart = simulate(options.merge_normals(false));
    for (p, q) in [
        (merged.all, apart.all),
        (merged.one, apart.one),
        (merged.none, apart.none),
    ] {
        agree(p, q);
    }
    // Were the pieces alike, all would fit as often as one; were nothing shared, p to the fourth power.
    assert!(merged.one.value - merged.all.value > 0.05);
    let square = merged.one.value * merged.one.value;
    assert!(merged.all.value - square * square > 0.05);
}

#[test]
fn instances_of_correlated_sources_are_errors_of_their_own() {
    // a and b of one piece go together by 0.8; those of two pieces do not, nor does a with itself.
    let of_piece = |name: &str| Source::new(name, 0.0).normal(1.0).event(Event::piece());
    let [a, b] = ["a", "b"].map(|name| of_piece(name).build().expect("a valid source"));
    let [x, y] = [&a, &b].map(Expr::source);
    let second = |expr: &Expr| expr.redraw(&Event::piece(), 1);
    let rows = [
        (x.clone() - y.clone(), 0.4),
        (x.clone() - second(&x), 2.0),
        (x.clone() - second(&y), 2.0),
        (second(&x) - second(&y), 0.4),
        (x.clone() + y.clone() - second(&x) - second(&y), 7.2),
    ];
    let mut builder = Stack::builder().correlated(&a, &b, 0.8);
    for (index, (expr, _)) in rows.iter().enumerate() {
        builder = builder.outcome_without_band(&format!("y{index}"), expr);
    }
    let stack = builder.build().expect("a valid stack");
    let answer = run(&stack, MonteCarlo::new().trials(100_000));
    for (outcome, (_, variance)) in answer.outcomes.iter().zip(rows) {
        let sd = outcome.standard_deviation;
        assert!(
            (sd.value.raw() - f64::sqrt(variance)).abs() < 4.0 * sd.error,
            "{outcome:?}"
        );
    }
}

#[test]
fn a_trial_is_the_draw_of_its_seed_name_and_block() {
    let error = Distribution::triangular(-1.0, 0.2, 1.0).expect("a valid distribution");
    let trials = 2500_u32;
    let mut sum = 0.0;
    let mut inside = 0_u32;
    for block in 0..3_u32 {
        let mut column = [0.0; 1024];
        error.fill(
            &mut Stream::new(9, name_key("a"), u64::from(block)),
            &mut column,
        );
        for value in column
            .iter()
            .take((trials - block * 1024).min(1024) as usize)
        {
            sum += value + 3.0;
            inside += u32::from((value + 3.0) <= 3.25);
        }
    }
    let a = Source::new("a", 3.0)
        .error(error)
        .build()
        .expect("a valid source");
    let stack = Stack::builder()
        .outcome(
            "y",
            &Expr::source(&a),
            Band::at_most(3.25).expect("a valid band"),
        )
        .build()
        .expect("a valid stack");
    let answer = run(&stack, MonteCarlo::new().trials(u64::from(trials)).seed(9));
    let n = f64::from(trials);
    // Rounding of 2,500 additions.
    assert!((answer.outcomes[0].mean.value.raw() - sum / n).abs() < 1e-13);
    let chance = answer.outcomes[0].chance.expect("it has a band");
    assert!((chance.inside * n - f64::from(inside)).abs() < 1e-9);
    assert!((chance.below + chance.inside + chance.above - 1.0).abs() < 1e-15);
}

#[test]
fn recorded_bits_stay() {
    // Recorded from this version. If this fails, results of every plan have changed: say so in the change log.
    // Rectangles only: draws of other laws are recorded where they are made.
    let [a, b, c] = ["a", "b", "c"].map(|name| Expr::source(&rectangular(name, 0.5)));
    let stack = Stack::builder()
        .outcome("sum", &(a.clone() + b.clone() - c.clone()), band(0.5))
        .outcome_without_band("other", &((a + Expr::constant(0.25)).sqrt() * b.max(&c)))
        .build()
        .expect("a valid stack");
    let answer = run(&stack, MonteCarlo::new().trials(3000).seed(42));
    let recorded = answer.outcomes.iter().map(|outcome| {
        [
            outcome.mean.value.raw(),
            outcome.standard_deviation.value.raw(),
            outcome.symmetric.lower.raw(),
            outcome.shortest.upper.raw(),
        ]
        .map(f64::to_bits)
    });
    assert_eq!(recorded.collect::<Vec<_>>(), RECORDED);
}

const RECORDED: [[u64; 4]; 2] = [
    [
        13801522832998710530,
        4602636220910989060,
        13830390426098414719,
        4605683986775198593,
    ],
    [
        4591508964728952282,
        4594480141541108080,
        13820258434265428396,
        4600584713279044735,
    ],
];

#[test]
fn standard_errors_are_what_estimates_scatter_by() {
    // A skewed outcome with a known mean 1, sd 1, chance and quantile: the exponential.
    let error = Distribution::exponential(0.0, 1.0).expect("a valid distribution");
    let stack = Stack::builder()
        .outcome(
            "y",
            &Expr::source(&source("e", error)),
            Band::between(0.5, 2.0).expect("a valid band"),
        )
        .build()
        .expect("a valid stack");
    let inside = 0.606_530_659_712_633_4 - 0.135_335_283_236_612_7; // e^-½ − e^-2
    let (low, high) = (0.025_317_807_984_289_9, 3.688_879_454_113_936); // −ln 0.975, −ln 0.025
    let runs = 200_u32;
    let mut squares = [0.0; 5];
    for seed in 0..runs {
        let answer = run(&stack, MonteCarlo::new().trials(3000).seed(u64::from(seed)));
        let outcome = &answer.outcomes[0];
        let (chance, error) = outcome
            .chance
            .zip(outcome.chance_error)
            .expect("it has a band");
        let scores = [
            (outcome.mean.value.raw() - 1.0) / outcome.mean.error,
            (outcome.standard_deviation.value.raw() - 1.0) / outcome.standard_deviation.error,
            (chance.inside - inside) / error.inside,
            (outcome.symmetric.lower.raw() - low) / outcome.symmetric_error.0,
            (outcome.symmetric.upper.raw() - high) / outcome.symmetric_error.1,
        ];
        for (square, score) in squares.iter_mut().zip(scores) {
            *square += score * score / f64::from(runs);
        }
    }
    for mean_square in squares {
        // A mean of 200 squared normal scores is 1 ± 0.1; four of these, and a tenth for errors that are estimates too.
        assert!((0.5..1.6).contains(&mean_square), "{squares:?}");
    }
}

#[test]
fn undefined_trials_are_counted_and_fit_nothing() {
    // √x with x between −1 and 3: a quarter is not defined; of the rest √x ≤ 1 in a third.
    let x = Source::new("x", 1.0)
        .rectangular(2.0)
        .build()
        .expect("a valid source");
    let answer = run(
        &one(&Expr::source(&x).sqrt()),
        MonteCarlo::new().trials(20_000),
    );
    let outcome = &answer.outcomes[0];
    // Four binomial standard errors of 20,000 (15,000) trials.
    assert!((outcome.undefined as f64 / 20_000.0 - 0.25).abs() < 4.0 * 0.0031);
    let chance = outcome.chance.expect("it has a band");
    assert!((chance.inside - 1.0 / 3.0).abs() < 4.0 * 0.0039);
    assert!((chance.inside + chance.below + chance.above - 1.0).abs() < 1e-15);
    let joint = answer.joint.expect("it has a band");
    assert!((joint.value - 0.25).abs() < 4.0 * 0.0031);
    assert!(
        outcome.notes[0].contains("of 20000 trials are not defined"),
        "{:?}",
        outcome.notes
    );

    let never = Expr::source(&x).square() - Expr::constant(20.0);
    assert_eq!(
        declines(&one(&never.sqrt()), MonteCarlo::new().trials(100)),
        "Monte Carlo declines: outcome \"y\" was defined in only 0 of 100 trials"
    );
}

#[test]
fn moments_that_do_not_exist_are_said_not_to() {
    let notes = |degrees_of_freedom: f64| {
        let t = Source::new("t", 0.0)
            .student_t(1.0, degrees_of_freedom)
            .build()
            .expect("a valid source");
        let answer = run(&one(&Expr::source(&t)), MonteCarlo::new().trials(50_000));
        let outcome = answer.outcomes[0].clone();
        let numbers = [
            outcome.mean.value.raw(),
            outcome.standard_deviation.value.raw(),
            outcome.symmetric.upper.raw(),
            outcome.shortest.lower.raw(),
        ];
        assert!(numbers.iter().all(|x| x.is_finite()), "{numbers:?}");
        outcome.notes.join("\n")
    };
    assert!(notes(1.0).contains("has no mean"));
    assert!(notes(2.0).contains("has no variance"));
    assert!(notes(4.0).contains("has no fourth moment"));
    assert_eq!(notes(4.5), "");
    // Fourth powers beyond the range of numbers.
    assert!(
        notes(0.01).contains("beyond what numbers can hold"),
        "{}",
        notes(0.01)
    );
}

#[test]
fn moments_that_trials_cannot_find_have_no_error() {
    let source = |error| {
        let source = Source::new("x", 0.0).error(error);
        Expr::from(source.build().expect("a valid source"))
    };
    let t = |freedom| source(Distribution::student_t(0.0, 1.0, freedom).expect("valid"));
    let about_zero = source(Distribution::normal(0.0, 1.0).expect("valid"));
    let far_from_zero = source(Distribution::normal(20.0, 1.0).expect("valid"));
    let one_over = |x: Expr| Expr::constant(1.0) / x;
    // (outcome, whether it has a mean with a standard error, whether it has a standard deviation)
    let cases = [
        (one_over(about_zero), false, false),
        (t(1.0), false, false),
        (t(2.0), false, false),
        (t(3.0), true, true),
        (one_over(far_from_zero), true, true),
    ];
    for (expr, has_mean, has_spread) in cases {
        for seed in 0..20 {
            let options = MonteCarlo::new().trials(20_000).seed(seed);
            let answer = run(&one(&expr), options);
            let outcome = &answer.outcomes[0];
            assert_eq!(outcome.mean.error < f64::INFINITY, has_mean, "{outcome:?}");
            let spread = outcome.standard_deviation;
            assert_eq!(spread.error < f64::INFINITY, has_spread, "{outcome:?}");
            assert!(spread.value.raw().is_finite() && outcome.mean.value.raw().is_finite());
            assert!(has_spread || !outcome.notes.is_empty());
        }
    }
}

#[test]
fn tails_have_the_right_quantiles() {
    // Cauchy: the 97.5 % quantile is 12.7062 (JCGM 100:2008, table G.2, ν = 1), density there 1/(π(1 + 12.7062²)).
    let t = Source::new("t", 0.0)
        .student_t(1.0, 1.0)
        .build()
        .expect("a valid source");
    let outcome =
        run(&one(&Expr::source(&t)), MonteCarlo::new().trials(400_000)).outcomes[0].clone();
    let error = (0.025_f64 * 0.975 / 4e5).sqrt() * std::f64::consts::PI * (1.0 + 12.7062 * 12.7062);
    assert!((outcome.symmetric.upper.raw() - 12.7062).abs() < 4.0 * error);
    assert!((outcome.symmetric.lower.raw() + 12.7062).abs() < 4.0 * error);
}

#[test]
fn a_stack_without_errors_is_exact() {
    let known = Source::new("known", 0.375).build().expect("a valid source");
    let answer = run(
        &one(&(Expr::source(&known) * Expr::constant(2.0))),
        MonteCarlo::new().trials(5000),
    );
    let outcome = &answer.outcomes[0];
    for value in [
        outcome.mean.value,
        outcome.symmetric.lower,
        outcome.symmetric.upper,
        outcome.shortest.lower,
        outcome.least,
    ] {
        assert_eq!(value.raw().to_bits(), 0.75_f64.to_bits());
    }
    assert!(outcome.standard_deviation.value.raw().abs() <= 0.0);
    assert!(
        outcome.chance_error.expect("it has a band").above > 0.0,
        "no disagreement is not certainty"
    );
}

#[test]
fn a_run_may_be_ended_early() {
    let stack = varied();
    let mut calls = Vec::new();
    let options = MonteCarlo::new().trials(1_000_000);
    let answer = stack
        .monte_carlo_with(options, &mut |progress| {
            calls.push((progress.done, progress.of));
            if calls.len() == 2 {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        })
        .expect("nothing to decline");
    assert_eq!(calls, [(131_072, 1_000_000), (262_144, 1_000_000)]);
    assert!(answer.is_cancelled);
    let whole = run(&stack, MonteCarlo::new().trials(262_144));
    assert_eq!(
        MonteCarloAnswer {
            is_cancelled: false,
            ..answer
        },
        whole
    );

    // Nothing is left to cancel after the last block.
    let answer = stack
        .monte_carlo_with(2000, &mut |_| ControlFlow::Break(()))
        .expect("nothing to decline");
    assert!(!answer.is_cancelled);
}

#[test]
fn options_that_cannot_be_followed_are_declined() {
    let stack = one(&Expr::source(&normal("a", 1.0)));
    let new = MonteCarlo::new;
    let rows = [
        (new().trials(0), "trials must be at least 1 (got 0)"),
        (
            new().trials(1),
            "one trial has no standard deviation: trials must be at least 2",
        ),
        (
            new().level(1.0),
            "level must be above 0 and below 1 (got 1)",
        ),
        (
            new().level(f64::NAN),
            "level must be above 0 and below 1 (got NaN)",
        ),
        (
            new().adaptive(0),
            "significant digits of the adaptive procedure must be 1 to 6 (got 0)",
        ),
    ];
    for (options, reason) in rows {
        assert_eq!(
            declines(&stack, options),
            format!("Monte Carlo declines: {reason}")
        );
    }
    let both = declines(&stack, new().trials(0).level(2.0));
    assert!(both.contains("trials") && both.contains("level"), "{both}");
}

#[test]
fn few_trials_have_their_extremes_as_ends() {
    let answer = run(
        &one(&Expr::source(&normal("a", 1.0))),
        MonteCarlo::new().trials(5),
    );
    let outcome = &answer.outcomes[0];
    assert!(outcome.notes[0].contains("too few"), "{:?}", outcome.notes);
    let cell = 0.01;
    assert!((outcome.symmetric.lower.raw() - outcome.least.raw()).abs() < cell);
    assert!((outcome.symmetric.upper.raw() - outcome.greatest.raw()).abs() < cell);
}

#[test]
fn correlated_normals_vary_together() {
    for correlation in [-1.0, -0.6, 0.9, 1.0] {
        let (a, b) = (normal("a", 1.0), normal("b", 2.0));
        let (x, y) = (Expr::source(&a), Expr::source(&b));
        let stack = Stack::builder()
            .outcome_without_band("sum", &(x.clone() + y.clone()))
            .outcome_without_band("b", &y)
            .correlated(&a, &b, correlation)
            .build()
            .expect("a valid stack");
        let answer = run(&stack, MonteCarlo::new().trials(200_000));
        // Var = 1 + 4 + 2·1·2·r; the standard error of a normal sample's sd is sd/√(2n).
        for (outcome, variance) in answer.outcomes.iter().zip([5.0 + 4.0 * correlation, 4.0]) {
            let sd = outcome.standard_deviation.value.raw();
            assert!(
                (sd / f64::sqrt(variance) - 1.0).abs() < 4.0 / 400_000.0_f64.sqrt(),
                "{correlation}: {sd}"
            );
        }
    }
}

#[test]
fn a_matrix_is_not_a_distribution() {
    let (a, b) = (normal("a", 1.0), rectangular("b", 1.0));
    let stack = Stack::builder()
        .outcome_without_band("y", &(Expr::source(&a) + Expr::source(&b)))
        .correlated(&a, &b, 0.5)
        .build()
        .expect("a valid stack");
    assert_eq!(
        declines(&stack, MonteCarlo::new()),
        "Monte Carlo declines: correlated sources must all be normal, for a matrix is not a distribution, but \"b\" is \
         rectangular: write what they share as a source of its own"
    );
}

#[test]
fn all_outcomes_together() {
    // Two outcomes that are one and the same, and their negative: the joint chance is that of |x| ≤ ½ for x in ±1.
    let x = Expr::source(&rectangular("x", 1.0));
    let stack = Stack::builder()
        .outcome("first", &x, Band::at_most(0.5).expect("a valid band"))
        .outcome(
            "second",
            &(-x.clone()),
            Band::at_most(0.5).expect("a valid band"),
        )
        .outcome_without_band("third", &x)
        .build()
        .expect("a valid stack");
    let joint = run(&stack, MonteCarlo::new().trials(100_000))
        .joint
        .expect("bands");
    assert!((joint.value - 0.5).abs() < 4.0 * joint.error, "{joint:?}");
    assert!((joint.error - 0.25_f64.sqrt() / 100_000.0_f64.sqrt()).abs() < 1e-5);

    let without = Stack::builder()
        .outcome_without_band("y", &x)
        .build()
        .expect("a valid stack");
    assert_eq!(run(&without, MonteCarlo::new().trials(100)).joint, None);
}

#[test]
fn batches_say_why_they_cannot_be_simulated() {
    let (a, b) = (
        normal("a", 1.0),
        Source::new("b", 0.0)
            .normal(1.0)
            .event(Event::piece())
            .build()
            .expect("a valid source"),
    );
    let stack = Stack::builder()
        .outcome_without_band("y", &(Expr::source(&a) + Expr::source(&b)))
        .correlated(&a, &b, 0.5)
        .build()
        .expect("a valid stack");
    let decline = stack
        .simulate_batch(0, &Event::piece(), 10)
        .expect_err("not to be answered");
    assert_eq!(
        decline.reasons(),
        [
            "no outcome has a band that pieces could fit in",
            "pieces must be 1 to 100000 (got 0)",
            "\"b\" is drawn for each piece and \"a\" once for all, yet they are correlated: write what they share as a \
             source of its own",
        ]
    );
}
