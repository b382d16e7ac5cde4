//! Several pieces at once, and the rest of a batch: one invented shop with normal errors, in thou.

use super::*;
use crate::{BatchOptions, Costs};
use kerfwise_source::{Event, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};

/// Fit and reading: the set-up 2, lock-down 0.8, a cut 1.2; the mortise 0.6 and its spread 0.7 in the fit, a gauge 0.4 in
/// the reading. Band ±4 thou.
fn shop() -> (Stack, Expr) {
    let source = |name: &str, sd: f64, event: Event| {
        let made = Source::new(name, 0.inch()).normal(sd.thou()).event(event);
        Expr::source(&made.build().unwrap())
    };
    let tenon = source("set_up", 2.0, Event::blade())
        + source("lock", 0.8, Event::jig_move())
        + source("cut", 1.2, Event::piece());
    let fit = &tenon
        - &source("mortise", 0.6, Event::mortise_set_up())
        - &source("spread", 0.7, Event::piece());
    let shown = &tenon - &source("gauge", 0.4, Event::gauge());
    let band = Band::within(4.thou()).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    (stack, shown)
}

#[track_caller]
fn close(what: &str, got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got}, not {wanted}"
    );
}

/// Conjugate normal model and quadrature over what is shared, computed independently at 25 digits with mpmath.
#[test]
fn the_rest_of_a_batch_is_what_bayes_rule_says() {
    let (stack, shown) = shop();
    let exact = TestCutOptions::new().resolution(0.inch());
    let cut = TestCut::measured(&stack, "fit", &shown, &exact).unwrap();
    let options = BatchOptions::of(10).rework_minutes(Costs {
        tight: 5.0,
        loose: 20.0,
    });
    let readings = [1.5.thou(), 0.7.thou(), 2.2.thou()];
    let rest = cut.rest_after_readings(&readings, &options).unwrap();
    let wanted = [
        (10, 0.673_495_854_389_000_7),
        (9, 0.198_911_877_055_797_6),
        (8, 0.072_613_765_087_763_9),
        (5, 0.006_178_841_041_939_795),
        (0, 2.512_877_524_613_846e-5),
    ];
    for (k, chance) in wanted {
        // The bound is stated, and of this size.
        assert!(rest.error < 1e-12, "{}", rest.error);
        close(&k.to_string(), rest.fits[k], chance, rest.error);
    }
    close("mean", rest.expected, 9.449_101_438_907_057, 1e-11);
    close(
        "minutes",
        rest.rework_minutes.unwrap(),
        2.884_913_733_708_920_2,
        1e-10,
    );
}

/// Nothing seen of the rest but one piece in a million: it is the forecast of a fresh batch, by the same chances.
#[test]
fn a_piece_that_says_nothing_leaves_the_forecast() {
    let (stack, shown) = shop();
    let blind = TestCutOptions::new().resolution(75.thou());
    let cut = TestCut::measured(&stack, "fit", &shown, &blind).unwrap();
    let rest = cut
        .rest_after_readings(&[0.inch()], &BatchOptions::of(6))
        .unwrap();
    let fresh = crate::BatchForecast::of(&stack, "fit", &BatchOptions::of(6)).unwrap();
    for (k, (a, b)) in rest.fits.iter().zip(&fresh.fits).enumerate() {
        close(&k.to_string(), *a, *b, rest.error + fresh.error);
    }
}

/// Felt pieces: of all simulated batches of 8 those whose first two are tight tell how many of the other six fit.
#[test]
fn the_rest_after_feeling_is_what_simulated_batches_show() {
    let (stack, _) = shop();
    let cut = TestCut::felt(&stack, "fit", &TestCutOptions::new()).unwrap();
    let rest = cut
        .rest_after_feeling(&[Feel::Tight, Feel::Tight], &BatchOptions::of(6))
        .unwrap();
    let fit = stack.outcome("fit").unwrap().expr().clone();
    let mut eight = Stack::builder();
    for n in 1..=8 {
        let redrawn = fit.redraw(&Event::piece(), n);
        let band = match n {
            1 | 2 => Band::at_least(4.thou()).unwrap(),
            _ => Band::within(4.thou()).unwrap(),
        };
        eight = eight.outcome(&format!("fit{n}"), &redrawn, band);
    }
    // All six of the rest fit and both were tight, against both tight.
    let chances = |stack: &Stack| {
        let answer = stack
            .monte_carlo(MonteCarlo::new().trials(400_000).seed(3))
            .unwrap();
        answer.joint.unwrap()
    };
    let all = chances(&eight.build().unwrap());
    let mut two = Stack::builder();
    for n in 1..=2 {
        let redrawn = fit.redraw(&Event::piece(), n);
        two = two.outcome(
            &format!("fit{n}"),
            &redrawn,
            Band::at_least(4.thou()).unwrap(),
        );
    }
    let both = chances(&two.build().unwrap());
    let share = all.value / both.value;
    let error = (share * (1.0 - share) / (400_000.0 * both.value)).sqrt();
    // Four standard errors.
    close("all of the rest", rest.all(), share, 4.0 * error);
}

/// Worth of no, one, two and three test pieces, computed independently by quadrature over the set-up and sums over what is
/// seen (numpy): expected cost of a joint, chance of a joint.
#[test]
fn test_pieces_are_worth_what_direct_sums_say() {
    let (stack, shown) = shop();
    let costs = Costs {
        tight: 5.0,
        loose: 20.0,
    };
    let options = TestPlanOptions::new(costs)
        .joints(24)
        .per_piece(4.0)
        .at_most(3);
    let test = TestCutOptions::new();
    let measured = TestPlan::measured(&stack, "fit", &shown, &test, &options).unwrap();
    let felt = TestPlan::felt(&stack, "fit", &test, &options).unwrap();
    let wanted = [
        [
            (1.211_320_460_572, 0.844_015_008_479),
            (0.478_582_350_657, 0.935_751_196_672),
            (0.385_581_010_913, 0.950_007_571_312),
            (0.350_365_666_030, 0.954_059_160_491),
        ],
        [
            (1.211_320_460_572, 0.844_015_008_479),
            (0.849_405_108_867, 0.882_102_743_117),
            (0.701_988_469_288, 0.899_155_370_907),
            (0.600_846_557_502, 0.945_613_319_696),
        ],
    ];
    for (plan, wanted) in [measured, felt].iter().zip(wanted) {
        for (row, (cost, inside)) in plan.rows.iter().zip(wanted) {
            // The reference's grid is good to 1e-7, and readings of 1e-9 may be left out.
            close("cost", row.rework, 24.0 * cost, 24.0 * 3e-7);
            close("inside", row.inside, inside, 3e-7);
            close(
                "total",
                row.total,
                row.rework + 4.0 * f64::from(row.pieces),
                1e-12,
            );
        }
        assert_eq!(plan.rows.len(), 4);
    }
}

#[test]
fn dear_test_pieces_are_not_cut_and_free_ones_are() {
    let (stack, shown) = shop();
    let costs = Costs {
        tight: 5.0,
        loose: 20.0,
    };
    let plan = |per_piece: f64| {
        let options = TestPlanOptions::new(costs)
            .joints(24)
            .per_piece(per_piece)
            .at_most(2);
        TestPlan::measured(&stack, "fit", &shown, &TestCutOptions::new(), &options)
            .unwrap()
            .best
    };
    // One piece saves 24 · 0.733 = 17.6 minutes, a second 24 · 0.093 = 2.2.
    assert_eq!([plan(0.0), plan(3.0), plan(18.0)], [2, 1, 0]);
    let refused = |options: TestPlanOptions| {
        TestPlan::felt(&stack, "fit", &TestCutOptions::new(), &options)
            .unwrap_err()
            .to_string()
    };
    let options = TestPlanOptions::new(costs);
    assert!(refused(options.per_piece(-1.0)).contains("the cost of a test piece"));
    assert!(refused(options.joints(0)).contains("at least 1 joint"));
    assert!(refused(options.at_most(50)).contains("at most 12 test pieces"));
}
