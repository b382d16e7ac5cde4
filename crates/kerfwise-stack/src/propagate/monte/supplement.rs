//! The worked examples of JCGM 101:2008, clause 9, and batches against their exact chances.
//!
//! "Exact" values were computed independently by quadrature at 20 digits. Tolerances are four standard errors of the
//! trials run here (one such test in 16,000 fails by chance, and seeds are fixed), plus half a unit of the last digit
//! where the value is one that the document prints.

use crate::{Band, Expr, MonteCarlo, MonteCarloOutcome, Stack};
use kerfwise_source::{Distribution, Event, Source, SourceBuilder};

const STANDARD_ERRORS: f64 = 4.0;

fn built(source: SourceBuilder) -> Expr {
    Expr::source(&source.build().expect("a valid source"))
}

fn with(name: &str, estimate: f64, error: Distribution) -> Expr {
    built(Source::new(name, estimate).error(error))
}

fn normal(name: &str, mean: f64, sd: f64) -> Expr {
    built(Source::new(name, mean).normal(sd))
}

fn rectangular(name: &str, mean: f64, half_width: f64) -> Expr {
    built(Source::new(name, mean).rectangular(half_width))
}

fn student(name: &str, mean: f64, scale: f64, degrees_of_freedom: f64) -> Expr {
    built(Source::new(name, mean).student_t(scale, degrees_of_freedom))
}

fn run(expr: &Expr, options: MonteCarlo) -> MonteCarloOutcome {
    let stack = Stack::builder()
        .outcome_without_band("y", expr)
        .build()
        .expect("a valid stack");
    let mut answer = stack.monte_carlo(options).expect("nothing to decline");
    answer.outcomes.swap_remove(0)
}

#[track_caller]
fn near(got: f64, wanted: f64, standard_error: f64, printed: f64) {
    let tolerance = STANDARD_ERRORS * standard_error + printed;
    assert!(
        (got - wanted).abs() <= tolerance,
        "{got} is not within {tolerance} of {wanted}"
    );
}

#[track_caller]
fn symmetric_near(outcome: &MonteCarloOutcome, half_width: f64, printed: f64) {
    let (low, high) = outcome.symmetric_error;
    near(outcome.symmetric.lower.raw(), -half_width, low, printed);
    near(outcome.symmetric.upper.raw(), half_width, high, printed);
}

fn sum_of(terms: [Expr; 4]) -> Expr {
    let [a, b, c, d] = terms;
    a + b + c + d
}

#[test]
fn four_normals() {
    // JCGM 101:2008, 9.2.2, table 2: y 0.00, u 2.00, 95 % interval [-3.92, 3.92].
    let sum = sum_of(["x1", "x2", "x3", "x4"].map(|name| normal(name, 0.0, 1.0)));
    let outcome = run(&sum, MonteCarlo::new().trials(1_000_000));
    near(outcome.mean.value.raw(), 0.0, 0.002, 0.0);
    near(outcome.standard_deviation.value.raw(), 2.0, 0.00142, 0.0);
    symmetric_near(&outcome, 3.92, 0.005);
    symmetric_near(&outcome, 3.919_928, 0.0);
    // Standard errors in theory: u/√n, u/√(2n), and √(p(1−p)/n) over the density 0.02922 at the ends.
    let errors = [
        (outcome.mean.error, 0.002),
        (outcome.standard_deviation.error, 0.001_414),
        (outcome.symmetric_error.0, 0.005_343),
        (outcome.symmetric_error.1, 0.005_343),
    ];
    for (got, theory) in errors {
        // The ends' are read off 312 trials, whose number is known to 6 %: three times that.
        assert!((got / theory - 1.0).abs() < 0.18, "{got}, not {theory}");
    }
    assert_eq!(outcome.notes, Vec::<String>::new());
}

#[test]
fn four_equal_rectangles() {
    // JCGM 101:2008, 9.2.3, table 3 and annex E: ends at ±2√3(2 − (3/5)^¼) = ±3.8794, printed 3.88.
    let sum = sum_of(["x1", "x2", "x3", "x4"].map(|name| rectangular(name, 0.0, 3.0_f64.sqrt())));
    let outcome = run(&sum, MonteCarlo::new().trials(1_000_000));
    near(
        outcome.standard_deviation.value.raw(),
        2.0,
        outcome.standard_deviation.error,
        0.0,
    );
    symmetric_near(&outcome, 3.88, 0.005);
    symmetric_near(&outcome, 3.879_406_7, 0.0);
}

#[test]
fn one_rectangle_ten_times_as_wide() {
    // JCGM 101:2008, 9.2.4, table 4: u 10.1, 95 % interval [-17.0, 17.0].
    let sum = sum_of(
        [("x1", 1.0), ("x2", 1.0), ("x3", 1.0), ("x4", 10.0)]
            .map(|(name, factor)| rectangular(name, 0.0, factor * 3.0_f64.sqrt())),
    );
    let outcome = run(&sum, MonteCarlo::new().trials(1_000_000));
    near(
        outcome.standard_deviation.value.raw(),
        10.148_892,
        outcome.standard_deviation.error,
        0.0,
    );
    symmetric_near(&outcome, 17.0, 0.05);
    symmetric_near(&outcome, 17.015_814, 0.0);
}

#[test]
fn mass_calibration() {
    // JCGM 101:2008, 9.3, tables 5 to 7, in mg and kg/m³.
    let mass = normal("m_rc", 1e5, 0.05) + normal("dm_rc", 1.234, 0.02);
    let air = rectangular("rho_a", 1.2, 0.1) - Expr::constant(1.2);
    let one = || Expr::constant(1.0);
    let buoyancy =
        one() / rectangular("rho_w", 8000.0, 1000.0) - one() / rectangular("rho_r", 8000.0, 50.0);
    let difference = mass * (one() + air * buoyancy) - Expr::constant(1e5);
    let outcome = run(&difference, MonteCarlo::new().trials(700_000));
    near(
        outcome.mean.value.raw(),
        1.2340,
        outcome.mean.error,
        0.000_05,
    );
    // The document's 0.0754 is itself from 0.72e6 trials: its own standard error is 6e-5; exact 0.07547974.
    let sd = outcome.standard_deviation;
    near(sd.value.raw(), 0.075_479_74, sd.error, 0.0);
    near(sd.value.raw(), 0.0754, sd.error, 0.000_05 + 2.0 * 6e-5);
    // Printed [1.0834, 1.3825], shifted from the exact [1.08443, 1.38357] as shortest intervals may be.
    let (low, high) = outcome.symmetric_error;
    near(outcome.symmetric.lower.raw(), 1.084_433_26, low, 0.0);
    near(outcome.symmetric.upper.raw(), 1.383_566_74, high, 0.0);
    near(outcome.shortest.lower.raw(), 1.0834, low, 0.002);
    near(outcome.shortest.upper.raw(), 1.3825, high, 0.002);
}

/// x1² + x2² in units of 1e-6, both with standard uncertainty 0.005.
fn comparison_loss(x1: f64, correlation: f64) -> MonteCarloOutcome {
    let x1 = Source::new("x1", x1)
        .normal(0.005)
        .build()
        .expect("a valid source");
    let x2 = Source::new("x2", 0.0)
        .normal(0.005)
        .build()
        .expect("a valid source");
    let loss = (Expr::source(&x1).square() + Expr::source(&x2).square()) * Expr::constant(1e6);
    let stack = Stack::builder()
        .outcome_without_band("loss", &loss)
        .correlated(&x1, &x2, correlation)
        .build()
        .expect("a valid stack");
    let options = MonteCarlo::new().trials(1_000_000);
    let mut answer = stack.monte_carlo(options).expect("normal sources");
    answer.outcomes.swap_remove(0)
}

#[test]
fn comparison_loss_in_microwave_power() {
    // JCGM 101:2008, 9.4, tables 8 (r = 0) and 9 (r = 0.9): mean, u, shortest 95 % interval, exact and as printed.
    // Last, standard deviations of lower end, upper end and width of such intervals, from 40 runs of 1e6 trials with
    // numpy: the ends scatter together, for about its least value the width changes little with a shift.
    let rows = [
        (
            0.0,
            0.0,
            50.0,
            50.0,
            (0.0, 149.7866),
            (0.0, 150.0),
            (5e-5, 0.20, 0.20),
        ),
        (
            0.010,
            0.0,
            150.0,
            111.8034,
            (0.0, 366.0053),
            (0.0, 367.0),
            (7e-4, 0.31, 0.31),
        ),
        (
            0.050,
            0.0,
            2550.0,
            502.4938,
            (1593.57, 3548.57),
            (1590.0, 3543.0),
            (5.0, 4.9, 1.9),
        ),
        (
            0.0,
            0.9,
            50.0,
            67.26812,
            (0.0, 185.0565),
            (0.0, 185.0),
            (2e-5, 0.35, 0.35),
        ),
        (
            0.010,
            0.9,
            150.0,
            120.5197,
            (12.65156, 397.4788),
            (13.0, 398.0),
            (0.43, 0.67, 0.53),
        ),
        (
            0.050,
            0.9,
            2550.0,
            504.5047,
            (1624.419, 3554.682),
            (1628.0, 3555.0),
            (4.3, 4.2, 1.7),
        ),
    ];
    // A least value of so many trials is of the size of its scatter, not about zero: for the lower ends at zero.
    let slack = 1e-3;
    for (x1, correlation, mean, u, exact, printed, errors) in rows {
        let outcome = comparison_loss(x1, correlation);
        near(outcome.mean.value.raw(), mean, outcome.mean.error, 0.0);
        let sd = outcome.standard_deviation;
        near(sd.value.raw(), u, sd.error, 0.0);
        let (low, high) = (outcome.shortest.lower.raw(), outcome.shortest.upper.raw());
        near(low, exact.0, errors.0, slack);
        near(high, exact.1, errors.1, 0.0);
        near(high - low, exact.1 - exact.0, errors.2, 0.0);
        // The printed ends are from 1e6 trials of their own.
        near(low, printed.0, 2.0_f64.sqrt() * errors.0, 0.5);
        near(high, printed.1, 2.0_f64.sqrt() * errors.1, 0.5);
    }
}

#[test]
fn gauge_block() {
    // JCGM 101:2008, 9.5, tables 10 and 11, in nm and °C: u 36, 99 % interval [745, 932].
    let blurred = |half_width: f64, d: f64| {
        Distribution::curvilinear_trapezoid(-half_width, half_width, d).expect("limits known to ±d")
    };
    let standard = student("l_s", 50_000_623.0, 25.0, 18.0);
    let difference = student("d", 215.0, 6.0, 24.0)
        + student("d1", 0.0, 4.0, 5.0)
        + student("d2", 0.0, 7.0, 8.0);
    let expansion = rectangular("alpha_s", 11.5e-6, 2e-6);
    let temperature = normal("theta0", -0.1, 0.2) + built(Source::new("delta", 0.0).arcsine(0.5));
    let d_alpha = with("d_alpha", 0.0, blurred(1e-6, 0.1e-6));
    let d_theta = with("d_theta", 0.0, blurred(0.05, 0.025));
    let length =
        standard.clone() + difference - standard * (d_alpha * temperature + expansion * d_theta);
    let deviation = length - Expr::constant(50e6);
    let outcome = run(&deviation, MonteCarlo::new().trials(1_000_000).level(0.99));
    near(outcome.mean.value.raw(), 838.0, outcome.mean.error, 0.0);
    let sd = outcome.standard_deviation;
    near(sd.value.raw(), 36.0, sd.error, 0.5);
    near(sd.value.raw(), 35.808_078_6, sd.error, 0.0);
    let (low, high) = outcome.symmetric_error;
    near(outcome.symmetric.lower.raw(), 744.348_436, low, 0.0);
    near(outcome.symmetric.upper.raw(), 931.651_564, high, 0.0);
    // As printed, a shortest interval from 1.26e6 trials: 0.5 for its digit, 0.5 for its own scatter.
    near(outcome.symmetric.lower.raw(), 745.0, low, 1.0);
    near(outcome.symmetric.upper.raw(), 932.0, high, 1.0);
}

#[test]
fn the_adaptive_procedure_keeps_its_promise() {
    // JCGM 101:2008, 7.9.4 and 9.2.2.7: u = 2.0 with two digits has δ = 0.05.
    let sum = sum_of(["x1", "x2", "x3", "x4"].map(|name| normal(name, 0.0, 1.0)));
    let stack = Stack::builder()
        .outcome_without_band("y", &sum)
        .build()
        .expect("a valid stack");
    let options = MonteCarlo::new().trials(5_000_000).adaptive(2);
    let answer = stack.monte_carlo(options).expect("nothing to decline");
    assert_eq!(answer.is_stable, Some(true));
    assert!(
        answer.trials.is_multiple_of(10_240),
        "whole blocks of 10,240, not {}",
        answer.trials
    );
    let outcome = &answer.outcomes[0];
    // δ is two standard deviations of each: twice that here, for four estimates that each may be off.
    near(outcome.standard_deviation.value.raw(), 2.0, 0.0, 0.1);
    near(outcome.symmetric.upper.raw(), 3.919_928, 0.0, 0.1);
    // The end scatters most, by 0.0053·√(1e6/n); 2 s ≤ 0.05 needs about 45,000 trials, if s were known at once.
    assert!(
        (20_480..500_000).contains(&answer.trials),
        "{}",
        answer.trials
    );

    let too_few = MonteCarlo::new().trials(30_000).adaptive(4);
    let answer = stack.monte_carlo(too_few).expect("nothing to decline");
    assert_eq!((answer.is_stable, answer.trials), (Some(false), 30_000));
}

#[test]
fn batches_with_a_shared_set_up_error() {
    // P(all fit) = E[g(B)^N] by quadrature at 20 digits; band ±0.005 (lengths in inches, here as plain numbers).
    // (pieces, set-up error, sd of a piece, mean, chance of one, chance of all, chance of none)
    let set_ups = [
        (
            8,
            Distribution::normal(0.0, 0.0015),
            0.001,
            0.0,
            0.994_454_332_7,
            0.971_808_049_3,
            6.1470e-5,
        ),
        (
            8,
            Distribution::normal(0.0, 0.002),
            0.002,
            0.0,
            0.922_900_128_3,
            0.644_424_988_3,
            6.1545e-4,
        ),
        (
            4,
            Distribution::normal(0.0, 0.001),
            0.0015,
            0.0015,
            0.973_742_436_8,
            0.908_772_153_4,
            f64::NAN,
        ),
        (
            24,
            Distribution::normal(0.0, 0.003),
            0.001,
            0.0,
            0.886_153_702_0,
            0.684_142_210_2,
            f64::NAN,
        ),
        (
            8,
            Distribution::rectangular(-0.003, 0.003),
            0.001,
            0.0,
            0.997_169_765_8,
            0.978_280_384_3,
            1.2e-15,
        ),
        (
            8,
            Distribution::arcsine(-0.002, 0.002),
            0.0012,
            0.0,
            0.997_739_532_4,
            0.982_192_458_6,
            2.9e-19,
        ),
    ];
    for (pieces, set_up, sd, mean, one, all, none) in set_ups {
        let set_up = with("set_up", mean, set_up.expect("a valid distribution"));
        let piece = built(Source::new("piece", 0.0).normal(sd).event(Event::piece()));
        let stack = Stack::builder()
            .outcome(
                "fit",
                &(set_up + piece),
                Band::within(0.005).expect("a valid band"),
            )
            .build()
            .expect("a valid stack");
        let batches = stack
            .simulate_batch(pieces, &Event::piece(), 60_000)
            .expect("a band and a piece");
        near(batches.all.value, all, batches.all.error, 0.0);
        near(batches.one.value, one, batches.one.error, 0.0);
        if none.is_finite() {
            near(batches.none.value, none, batches.none.error, 0.0);
        }
        assert_eq!(batches.counts.iter().sum::<u64>(), 60_000);
        assert_eq!(batches.counts.len(), pieces as usize + 1);
    }
}

#[test]
fn the_number_that_fits_has_its_whole_distribution() {
    // P(exactly k of 8 fit), computed independently at 20 digits: set-up N(0, 0.002), piece N(0, 0.002), band ±0.005.
    let exact = [
        0.000_615_450_4,
        0.001_833_385_3,
        0.004_102_770_6,
        0.008_315_056_4,
        0.016_431_898_1,
        0.033_469_943_7,
        0.075_905_838_0,
        0.214_900_669_3,
        0.644_424_988_3,
    ];
    let set_up = normal("set_up", 0.0, 0.002);
    let piece = built(
        Source::new("piece", 0.0)
            .normal(0.002)
            .event(Event::piece()),
    );
    let stack = Stack::builder()
        .outcome(
            "fit",
            &(set_up + piece),
            Band::within(0.005).expect("a valid band"),
        )
        .build()
        .expect("a valid stack");
    let n = 100_000_u32;
    let batches = stack
        .simulate_batch(8, &Event::piece(), u64::from(n))
        .expect("a band and a piece");
    for (count, p) in batches.counts.iter().zip(exact) {
        let n = f64::from(n);
        near(*count as f64, n * p, (n * p * (1.0 - p)).sqrt(), 0.0);
    }
}
