use super::*;
use kerfwise_joint::{LooseTenon, Mortise};
use kerfwise_source::{Event, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};

fn normal(name: &str, mean: f64, sd: f64, event: Event) -> Expr {
    let source = Source::new(name, mean).normal(sd).event(event);
    Expr::source(&source.build().unwrap())
}

fn shared(name: &str, sd: f64) -> Expr {
    normal(name, 0.0, sd, Event::tenon_set_up())
}

fn piece(name: &str, mean: f64, sd: f64) -> Expr {
    normal(name, mean, sd, Event::piece())
}

/// A loose tenon: two sources of the set-up, in one proportion; the slip's own error in both fits; and a third outcome that
/// takes half of the set-up the other way round.
fn loose() -> Stack {
    let set_up = shared("slip_set_up", 1.2) + shared("calibration", 0.9);
    let slip = set_up.clone() + piece("slip", 0.0, 0.5);
    let band = Band::within(5.0).unwrap();
    Stack::builder()
        .outcome("fit_rail", &(slip.clone() - piece("rail", 0.0, 0.8)), band)
        .outcome("fit_leg", &(slip - piece("leg", -0.3, 0.6)), band)
        .outcome(
            "shoulder",
            &(piece("shoulder", 0.0, 0.7) - 0.5 * set_up),
            Band::between(-3.0, 2.5).unwrap(),
        )
        .outcome_without_band("watched", &shared("watched", 3.0))
        .build()
        .unwrap()
}

const BOTH: [&str; 2] = ["fit_rail", "fit_leg"];
const THREE: [&str; 3] = ["fit_rail", "fit_leg", "shoulder"];

/// Chances that exactly 0 to 12 of 12 pieces have all three fits, that one has, and that one has a fit above its band.
/// Computed independently with mpmath at 30 digits: nested sums of equal steps over set-up and slip, with two steps each that
/// agree in all 18 digits.
const FITS: [f64; 13] = [
    0.000_372_933_107_570_376_7,
    0.000_423_263_636_835_715_35,
    0.000_532_076_631_634_601,
    0.000_685_193_950_563_169_2,
    0.000_900_467_944_951_347_2,
    0.001_213_601_326_613_944_3,
    0.001_692_831_955_806_635_6,
    0.002_479_536_745_342_584,
    0.003_906_348_711_179_697,
    0.006_917_788_088_859_916,
    0.015_148_716_862_419_382,
    0.054_253_686_134_555_75,
    0.911_473_554_903_666_9,
];
const ONE: f64 = 0.985_016_490_296_199_5;
const ONE_ABOVE: f64 = 0.011_621_235_406_924_608;

#[test]
fn several_fits_of_a_piece() {
    let batch = BatchForecast::of_all(&loose(), &THREE, &BatchOptions::of(12)).unwrap();
    for (k, (got, want)) in batch.fits.iter().zip(FITS).enumerate() {
        // because: 16 digits are given
        assert!(
            (got - want).abs() <= batch.error + 1e-16,
            "{k}: {got} {want}"
        );
    }
    let one = batch.one.value;
    assert!((one.inside - ONE).abs() <= batch.one.error, "{one:?}");
    assert!((one.above - ONE_ABOVE).abs() <= batch.one.error, "{one:?}");
    assert!((one.below + one.inside + one.above - 1.0).abs() < 1e-14);
    // because: curves on panels of 16 nodes are good to about 1e-13, and twelve pieces may have that twelve times
    assert!(
        batch.error < 1e-11 && batch.one.error < 1e-11,
        "{:e}",
        batch.error
    );
    // If nothing were shared it would be 0.834.
    assert!(batch.all() > batch.if_independent[12] + 0.07);
}

/// With one outcome it is the forecast for that one, which is found by another road.
#[test]
fn one_outcome_is_as_if_asked_alone() {
    let fit = shared("set_up", 2.0) + piece("piece", 0.5, 1.5);
    let band = Band::between(-5.0, 4.0).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    let costs = Costs {
        tight: 4.0,
        loose: 20.0,
    };
    let options = BatchOptions::of(24).rework_minutes(costs);
    let all = BatchForecast::of_all(&stack, &["fit"], &options).unwrap();
    let alone = BatchForecast::of(&stack, "fit", &options).unwrap();
    for (a, b) in all.fits.iter().zip(&alone.fits) {
        assert!((a - b).abs() <= all.error + alone.error, "{a} {b}");
    }
    let minutes = |batch: &BatchForecast| batch.rework_minutes.unwrap();
    // because: 24 pieces at up to 20 minutes
    let slack = 480.0 * (all.one.error + alone.one.error);
    assert!((minutes(&all) - minutes(&alone)).abs() <= slack);
    assert_eq!(all.spares.needed, alone.spares.needed);
}

/// Two mortises alike that share the slip of a set-up: twelve pieces with both fits are twenty-four fits of one set-up.
#[test]
fn both_fits_of_a_loose_tenon_are_a_batch_of_twice_as_many() {
    let width = |name: &str, sd: f64, event: Event| {
        let source = Source::new(name, 0.375.inch()).normal(sd.thou());
        source.event(event).build().unwrap()
    };
    let slip = width("slip", 1.8, Event::tenon_set_up());
    let [rail, leg] = ["rail", "leg"].map(|name| width(name, 1.4, Event::piece()));
    let stack = LooseTenon::new(&slip, Mortise::at_feel(&rail), Mortise::at_feel(&leg))
        .stack()
        .unwrap();
    let both = BatchForecast::of_all(
        &stack,
        &[LooseTenon::FIT_RAIL, LooseTenon::FIT_LEG],
        &BatchOptions::of(12),
    )
    .unwrap();
    let options = BatchOptions::of(24);
    let one = BatchForecast::of(&stack, LooseTenon::FIT_RAIL, &options).unwrap();
    let off = (both.all() - one.all()).abs();
    assert!(off <= both.error + one.error, "{off:e}");
    // because: a curve ends where up to 1e-13 is left on either side; two fits have four limits, twelve pieces forty-eight, which
    // makes 1e-11, and the nodes of the set-up end in the same way
    assert!(both.error < 1.2e-11, "{:e}", both.error);
    // It is not the square of what one mortise alone would have.
    let alone = BatchForecast::of(&stack, LooseTenon::FIT_RAIL, &BatchOptions::of(12)).unwrap();
    assert!(both.all() > alone.all() * alone.all() + 0.01);
}

#[test]
fn simulated_batches_of_several_fits_agree() {
    let monte_carlo = MonteCarlo::new().trials(100_000).seed(5);
    let found = BatchForecast::simulated_all(&loose(), &THREE, &BatchOptions::of(12), &monte_carlo)
        .unwrap();
    for (k, (got, want)) in found.fits.iter().zip(FITS).enumerate() {
        let error = (want * (1.0 - want) / 100_000.0).sqrt();
        // because: thirteen numbers, four standard errors and a half: one honest run in ten thousand fails
        assert!((got - want).abs() < 4.5 * error + 1e-5, "{k}: {got} {want}");
    }
    let one = found.one;
    assert!((one.value.inside - ONE).abs() < 4.5 * one.error, "{one:?}");
    assert!(
        (one.value.above - ONE_ABOVE).abs() < 4.5 * one.error,
        "{one:?}"
    );
}

#[test]
fn what_is_not_one_number_is_told_and_simulated() {
    let band = Band::within(5.0).unwrap();
    let two = |rail: Expr, leg: Expr| {
        Stack::builder()
            .outcome("fit_rail", &rail, band)
            .outcome("fit_leg", &leg, band)
            .build()
            .unwrap()
    };
    let told = |stack: &Stack, names: &[&str]| {
        BatchForecast::of_all(stack, names, &BatchOptions::of(4))
            .unwrap_err()
            .to_string()
    };
    let (one, other) = (shared("one", 1.0), shared("other", 1.0));
    let (rail, leg) = (piece("rail", 0.0, 1.0), piece("leg", 0.0, 1.0));
    let stack = two(one.clone() + rail.clone(), other.clone() + leg.clone());
    let why = told(&stack, &BOTH);
    assert!(
        why.starts_with("all pieces share more than one number: \"one\" and \"other\""),
        "{why}"
    );
    let monte_carlo = MonteCarlo::new().trials(20_000);
    let found =
        BatchForecast::simulated_all(&stack, &BOTH, &BatchOptions::of(4), &monte_carlo).unwrap();
    // Set-ups of the two fits are independent, so all pieces have both with the product of two chances.
    let fit = one.clone() + rail.clone();
    let alone = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    let alone = BatchForecast::of(&alone, "fit", &BatchOptions::of(4))
        .unwrap()
        .all();
    // because: four and a half standard errors
    assert!(
        (found.all() - alone * alone).abs() < 4.5 * found.error,
        "{}",
        found.all()
    );
    let (x, y) = (piece("x", 0.0, 1.0), piece("y", 0.0, 1.0));
    let why = told(
        &two(x.clone() + y.clone() + rail.clone(), x - y + leg),
        &BOTH,
    );
    assert!(
        why.starts_with("the outcomes of one piece share more than one number"),
        "{why}"
    );
    let why = told(&two(one.clone() + rail, one), &BOTH);
    assert!(
        why.starts_with("outcome \"fit_leg\" has no error of its own"),
        "{why}"
    );
    let bare = Stack::builder()
        .outcome_without_band("y", &other)
        .build()
        .unwrap();
    assert_eq!(told(&bare, &["y"]), "outcome \"y\" has no band to fit in");
    assert_eq!(told(&bare, &[]), "name one outcome at least that is to fit");
    let twice = told(&stack, &["fit_leg", "fit_rail", "fit_leg"]);
    assert_eq!(twice, "outcome \"fit_leg\" is named twice");
}
