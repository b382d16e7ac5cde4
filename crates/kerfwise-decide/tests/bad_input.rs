//! Questions that make no sense and observations that cannot be: each is refused in words, with its kind, and nothing panics.

use kerfwise_decide::{
    BatchForecast, BatchOptions, Costs, Error, ErrorKind, Feel, FirstCut, FirstCutOptions, Improve,
    Judge, Offer, Pairing, PairingOptions, Setting, SettingOptions, TestCut, TestCutOptions,
    TestPlan, TestPlanOptions,
};
use kerfwise_source::{Event, Length, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// Tenons of 0.375 in: a set-up of 2 thou, a move that brings 0.5 thou, pieces of 1 thou, a band of ±5 thou.
fn shop(at: Length) -> (Stack, Expr) {
    let source = |name: &str, sd: f64, event: Option<Event>| {
        let source = Source::new(name, 0.inch()).normal(sd.thou());
        let source = match event {
            Some(event) => source.event(event),
            None => source,
        };
        source.build().expect("it is sound")
    };
    let set_up = source("set_up", 2.0, None);
    let lock = source("lock", 0.5, Some(Event::jig_move()));
    let piece = source("piece", 1.0, Some(Event::piece()));
    let gauge = source("gauge", 0.2, None);
    let width = Expr::from(at) + Expr::source(&set_up) + Expr::source(&lock) + Expr::source(&piece);
    let fit = width.clone() - Expr::from(0.375.inch());
    let band = Band::within(5.thou()).expect("it is sound");
    let stack = Stack::builder().outcome("fit", &fit, band).build();
    (stack.expect("it is sound"), width - Expr::source(&gauge))
}

fn tenons() -> (Stack, Expr) {
    shop(0.375.inch())
}

fn test_cut(options: &TestCutOptions) -> Result<TestCut, Error> {
    let (stack, shown) = tenons();
    TestCut::measured(&stack, "fit", &shown, options)
}

fn after(readings: &[f64]) -> Result<(), Error> {
    let readings: Vec<Length> = readings.iter().map(|r| r.inch()).collect();
    test_cut(&TestCutOptions::new())?
        .after_readings(&readings)
        .map(drop)
}

fn felt(feels: &[Feel]) -> Result<(), Error> {
    let cut = TestCut::felt(&tenons().0, "fit", &TestCutOptions::new())?;
    cut.after_feeling(feels).map(drop)
}

fn judged(reading: f64, resolution: Length, wanted: f64) -> Result<(), Error> {
    let (stack, shown) = tenons();
    let judge = Judge::new(&stack, "fit", &shown, resolution)?;
    judge.reading(reading.inch())?;
    judge.limits(wanted).map(drop)
}

fn batch(options: BatchOptions) -> Result<(), Error> {
    BatchForecast::of(&tenons().0, "fit", &options).map(drop)
}

fn best(costs: Costs) -> Result<(), String> {
    let options = SettingOptions::around(0.375.inch()).costs(costs);
    let at = |travel: Length| Ok::<_, Error>(shop(travel).0);
    let found = Setting::best(&options, "fit", at);
    found.map(drop).map_err(|error| error.to_string())
}

fn pair(tenons: &[f64], mortises: &[f64], options: &PairingOptions) -> Result<(), Error> {
    let lengths = |widths: &[f64]| widths.iter().map(|w| w.inch()).collect::<Vec<_>>();
    Pairing::best(&lengths(tenons), &lengths(mortises), options).map(drop)
}

fn cheapest(source: &str, factor: f64, price: f64) -> Result<(), Error> {
    let offer = Offer {
        source: source.to_owned(),
        factor,
        price,
    };
    let improve = Improve::of(&tenons().0, "fit")?;
    improve.cheapest(&[offer], 0.98).map(drop)
}

fn allocate(wanted: f64, weights: &[(&str, f64)]) -> Result<(), Error> {
    let improve = Improve::of(&tenons().0, "fit")?;
    improve.allocate(wanted, weights).map(drop)
}

fn first_cut(costs: Costs, recut: f64) -> Result<(), Error> {
    let (stack, shown) = tenons();
    let options = FirstCutOptions::new(costs).recut(recut);
    FirstCut::best(&stack, "fit", &shown, &options).map(drop)
}

fn planned(costs: Costs, per_piece: f64) -> Result<(), Error> {
    let (stack, shown) = tenons();
    let look = TestPlanOptions::new(costs).per_piece(per_piece);
    TestPlan::measured(&stack, "fit", &shown, &TestCutOptions::new(), &look).map(drop)
}

#[track_caller]
fn all(cases: Vec<(&str, Result<(), Error>)>, is_kind: impl Fn(&ErrorKind) -> bool) {
    for (wanted, result) in cases {
        let error = result.expect_err(wanted);
        let said = error.to_string();
        assert!(said.contains(wanted), "{wanted}: {said}");
        assert!(is_kind(error.kind()), "{wanted}: {error:?}");
        // A maker is told in one sentence.
        assert!(!said.ends_with('.'), "{said}");
    }
}

#[test]
fn observations_that_cannot_be_are_refused() {
    let wanted = |clearance: Length| PairingOptions::wanted(clearance);
    let good = [0.375, 0.376];
    let three = wanted(3.thou());
    let cases = vec![
        ("no test piece", after(&[])),
        ("finite", after(&[f64::NAN])),
        ("finite", after(&[f64::NEG_INFINITY])),
        ("is it in millimetres?", after(&[9.525])),
        ("is it in inches?", after(&[0.375 / 25.4])),
        ("(0.3750 in)", after(&[3.75])),
        ("(0.3760 in)", after(&[0.376, 0.0376])),
        ("another plan?", after(&[0.0])),
        ("another plan?", after(&[-0.375])),
        ("at most 1000", after(&vec![0.375; 1_001])),
        ("measure again", after(&[0.381, 0.369])),
        ("no test piece", felt(&[])),
        ("try each again", felt(&[Feel::Tight, Feel::Loose])),
        ("is it in millimetres?", judged(9.525, 0.5.thou(), 0.95)),
        ("finite", judged(f64::NAN, 0.5.thou(), 0.95)),
        ("no tenons", pair(&[], &good, &three)),
        ("no mortises", pair(&good, &[], &three)),
        (
            "number 2 must be a length above 0",
            pair(&[0.375, -1.0], &good, &three),
        ),
        (
            "number 1 must be a length above 0",
            pair(&[f64::NAN], &good, &three),
        ),
        (
            "number 3 of 3.76 in",
            pair(&[0.375, 0.376, 3.76], &good, &three),
        ),
        (
            "number 1 of 0.0375 in",
            pair(&[0.0375, 0.375, 0.376], &good, &three),
        ),
        ("other units", pair(&good, &[9.6, 9.6], &three)),
    ];
    all(cases, |kind| matches!(kind, ErrorKind::Observation(_)));
}

#[test]
fn questions_that_make_no_sense_are_refused() {
    let costs = |tight: f64, loose: f64| Costs { tight, loose };
    let options = TestCutOptions::new;
    let step = |resolution: Length| test_cut(&options().resolution(resolution)).map(drop);
    let good = [0.375, 0.376];
    let between =
        |least: f64, most: f64| PairingOptions::wanted(3.thou()).between(least.thou(), most.thou());
    let minus = "must be a number of at least 0";
    let cases = vec![
        ("must be a length from 0", step((-1).thou())),
        ("must be a length from 0", step(f64::NAN.inch())),
        ("at most 10 times the band", step(1.inch())),
        ("that it can show", step(1e-300.inch())),
        (
            "dial step",
            test_cut(&options().dial_step(0.inch())).map(drop),
        ),
        (
            "dial step",
            test_cut(&options().dial_step(f64::NAN.inch())).map(drop),
        ),
        ("at most 10 times the band", judged(0.375, 1.inch(), 0.95)),
        ("above 0 and below 1", judged(0.375, 0.5.thou(), 1.0)),
        ("above 0 and below 1", judged(0.375, 0.5.thou(), f64::NAN)),
        ("1 to 10000 (got 0)", batch(BatchOptions::of(0))),
        (
            "1 to 10000 (got 10000000)",
            batch(BatchOptions::of(10_000_000)),
        ),
        ("assurance", batch(BatchOptions::of(24).assurance(0.0))),
        ("assurance", batch(BatchOptions::of(24).assurance(1.0))),
        ("assurance", batch(BatchOptions::of(24).assurance(-3.0))),
        ("assurance", batch(BatchOptions::of(24).assurance(f64::NAN))),
        (
            minus,
            batch(BatchOptions::of(24).rework_minutes(costs(-1.0, 2.0))),
        ),
        (
            "at most",
            batch(BatchOptions::of(24).rework_minutes(costs(1e300, 2.0))),
        ),
        ("both 0", first_cut(costs(0.0, 0.0), 4.0)),
        (minus, first_cut(costs(4.0, f64::NAN), 4.0)),
        (minus, first_cut(costs(4.0, 9.0), -4.0)),
        (minus, planned(costs(4.0, f64::INFINITY), 4.0)),
        (minus, planned(costs(4.0, 9.0), -4.0)),
        ("both 0", planned(costs(0.0, 0.0), 4.0)),
        ("the offer for \"lock\"", cheapest("lock", 0.5, -12.0)),
        ("the offer for \"lock\"", cheapest("lock", 0.5, f64::NAN)),
        ("the offer for \"lock\"", cheapest("lock", 0.5, 1e308)),
        ("factor", cheapest("lock", 2.0, 12.0)),
        ("factor", cheapest("lock", f64::NAN, 12.0)),
        ("no uncertain source \"wind\"", cheapest("wind", 0.5, 12.0)),
        ("above 0 and below 1", allocate(0.0, &[])),
        ("above 0 and below 1", allocate(f64::NAN, &[])),
        ("from 0.000001", allocate(0.98, &[("lock", 0.0)])),
        ("from 0.000001", allocate(0.98, &[("lock", f64::NAN)])),
        ("from 0.000001", allocate(0.98, &[("lock", 1e300)])),
        (
            "more than once",
            allocate(0.98, &[("lock", 2.0), ("lock", 3.0)]),
        ),
        (
            "from the least to the most",
            pair(&good, &good, &between(4.0, 1.0)),
        ),
        (
            "from the least to the most",
            pair(&good, &good, &between(f64::NAN, 1.0)),
        ),
        (
            "more than the tenons are thick",
            pair(&good, &good, &between(-5_000.0, 5_000.0)),
        ),
        (
            "more than the tenons are thick",
            pair(&good, &good, &PairingOptions::wanted(3.inch())),
        ),
    ];
    all(cases, |kind| matches!(kind, ErrorKind::Question(_)));
    for (tight, loose, says) in [
        (0.0, 0.0, "both 0"),
        (-1.0, 2.0, minus),
        (1.0, f64::NAN, minus),
    ] {
        let said = best(costs(tight, loose)).expect_err(says);
        assert!(said.contains(says), "{said}");
    }
}

#[test]
fn what_is_no_length_is_as_rare_as_can_be() {
    let cut = test_cut(&TestCutOptions::new()).expect("it is sound");
    assert!(cut.chance_beyond(f64::NAN.inch()) <= 0.0);
    assert!(cut.chance_beyond(0.375.inch()) > 0.4);
}
