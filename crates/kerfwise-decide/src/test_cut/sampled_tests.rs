use super::*;
use kerfwise_source::{Event, Length, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};

fn source(name: &str, sd: f64, event: Event) -> Expr {
    let made = Source::new(name, 0.inch()).normal(sd.thou()).event(event);
    Expr::source(&made.build().unwrap())
}

fn rectangular(name: &str, half: f64, event: Event) -> Expr {
    let made = Source::new(name, 0.inch())
        .rectangular(half.thou())
        .event(event);
    Expr::source(&made.build().unwrap())
}

/// A shop with every part: kept, redrawn, of the fit alone, of the gauge alone, of the piece.
fn affine_shop() -> (Stack, Expr) {
    let tenon = source("kept", 1.5, Event::blade())
        + rectangular("play", 1.2, Event::jig_move())
        + source("cut", 1.0, Event::cut())
        + rectangular("clamp", 0.8, Event::piece());
    let shown = &tenon + &rectangular("gauge", 0.8, Event::gauge());
    let fit = &tenon
        - &source("mortise", 0.6, Event::mortise_set_up())
        - &source("spread", 0.9, Event::piece());
    let band = Band::within(4.thou()).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    (stack, shown)
}

/// Five standard errors: 14 numbers, so one in a hundred thousand such tests would fail by luck, and seeds are fixed.
const FIVE: f64 = 5.0;

#[track_caller]
fn agree(sampled: &SampledAnswer, exact: &TestCutAnswer) {
    let found = &sampled.answer;
    assert!(sampled.effective > 1_000.0, "{}", sampled.effective);
    let near = |a: f64, b: f64, error: f64| {
        assert!((a - b).abs() < FIVE * error, "{a} {b} {error}");
        // The stated error is no excuse for a poor answer.
        assert!(error < 0.01, "{error}");
    };
    let left = found.leave;
    near(left.value.inside, exact.leave.value.inside, left.error);
    near(left.value.above, exact.leave.value.above, left.error);
    let row = exact
        .moves
        .iter()
        .find(|(by, _)| (*by - found.best_move).to_inches().abs() < 1e-9);
    let moved = row.expect("the best moves are near each other").1;
    near(found.moved.value.inside, moved.inside, found.moved.error);
    near(found.moved.value.below, moved.below, found.moved.error);
    let spread = exact.after.sd.to_inches() / sampled.effective.sqrt();
    near(
        found.after.mean.to_inches(),
        exact.after.mean.to_inches(),
        spread,
    );
    // The standard deviation of a standard deviation is about 1/√(2n) of it; an end of the interval is 2.7 times as rough as
    // the mean.
    near(
        found.after.sd.to_inches(),
        exact.after.sd.to_inches(),
        spread,
    );
    for (a, b) in [
        (found.after.interval_95.0, exact.after.interval_95.0),
        (found.after.interval_95.1, exact.after.interval_95.1),
    ] {
        near(a.to_inches(), b.to_inches(), 2.7 * spread);
    }
}

#[test]
fn of_an_affine_shop_trials_say_what_is_exact() {
    let (stack, shown) = affine_shop();
    let options = TestCutOptions::new();
    let exact = TestCut::measured(&stack, "fit", &shown, &options).unwrap();
    let sampled = SampledTestCut::measured(&stack, "fit", &shown, &options).unwrap();
    for readings in [&[2.5][..], &[-3.0, -1.5]] {
        let readings: Vec<Length> = readings.iter().map(|r| r.thou()).collect();
        let (a, b) = (
            sampled.after_readings(&readings).unwrap(),
            exact.after_readings(&readings).unwrap(),
        );
        agree(&a, &b);
        // Four joints stand for all of what a piece draws anew, so which of two chances is greater is not quite known.
        assert!((a.answer.raises - b.raises).abs() < FIVE * a.raises_error + 0.03);
        let worth = exact.next_reading(&readings).unwrap();
        let gain = |next: NextPiece| next.then - next.now;
        // Sixteen steps of a reading tell a little less than all, and both gains are of the same trials.
        assert!(
            (gain(a.next) - gain(worth)).abs() < 0.004,
            "{:?} {worth:?}",
            a.next
        );
        let off = (a.answer.ln_evidence - b.ln_evidence).abs();
        assert!(off < FIVE / a.effective.sqrt(), "{off}");
    }
    let exact = TestCut::felt(&stack, "fit", &options).unwrap();
    let sampled = SampledTestCut::felt(&stack, "fit", &options).unwrap();
    for feels in [
        &[Feel::Tight][..],
        &[Feel::Loose, Feel::Fits],
        &[Feel::Fits],
    ] {
        agree(
            &sampled.after_feeling(feels).unwrap(),
            &exact.after_feeling(feels).unwrap(),
        );
    }
}

/// A tenon that is felt at the fatter of two spots, the jig being read at one of them.
fn bent_shop() -> (Stack, Expr) {
    let tenon = source("kept", 2.0, Event::blade()) + source("cut", 0.8, Event::cut());
    let twist = source("twist", 1.5, Event::jig_move());
    let felt = &tenon + &twist.max(&Expr::constant(0.inch()));
    let shown = &tenon + &twist + &rectangular("gauge", 0.5, Event::gauge());
    let fit = felt - source("spread", 0.7, Event::piece());
    let band = Band::within(4.thou()).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    (stack, shown)
}

#[test]
fn of_a_bent_shop_trials_say_what_quadrature_does() {
    let (stack, shown) = bent_shop();
    let options = TestCutOptions::new();
    assert!(TestCut::measured(&stack, "fit", &shown, &options).is_err());
    let cut = SampledTestCut::measured(&stack, "fit", &shown, &options).unwrap();
    for (readings, wanted) in BENT {
        let readings: Vec<Length> = readings.iter().map(|r| r.thou()).collect();
        let found = cut.after_readings(&readings).unwrap();
        let answer = &found.answer;
        let [mean, left, moved] = *wanted;
        let spread = answer.after.sd.to_thou() / found.effective.sqrt();
        assert!(
            (answer.after.mean.to_thou() - mean).abs() < FIVE * spread,
            "{answer:?}"
        );
        assert!(
            (answer.leave.value.inside - left).abs() < FIVE * answer.leave.error,
            "{answer:?}"
        );
        // Moved by −2 thou, whatever is best.
        let row = answer
            .moves
            .iter()
            .find(|(by, _)| (by.to_thou() + 2.0).abs() < 1e-6);
        let inside = row.expect("it is near the best").1.inside;
        assert!(
            (inside - moved).abs() < FIVE * answer.moved.error.max(answer.leave.error),
            "{inside} {moved}"
        );
    }
}

/// Readings in thou; mean of the fit (thou) and chance as it stands; chance after a move of −2 thou. Computed independently by
/// quadrature over kept, twist and gauge (numpy).
const BENT: &[(&[f64], [f64; 3])] = &[
    (&[3.0], [2.834_156_807, 0.805_253_156, 0.960_313_267]),
    (&[2.0, 4.5], [3.171_076_762, 0.746_688_204, 0.957_281_109]),
];

#[test]
fn what_makes_no_sense_is_refused() {
    let (stack, shown) = bent_shop();
    let options = TestCutOptions::new();
    let cut = SampledTestCut::measured(&stack, "fit", &shown, &options).unwrap();
    let says = |readings: &[f64]| {
        let readings: Vec<Length> = readings.iter().map(|r| r.thou()).collect();
        cut.after_readings(&readings).unwrap_err().to_string()
    };
    assert!(says(&[]).contains("no test piece"));
    assert!(says(&[f64::NAN]).contains("finite"));
    assert!(says(&[60.0]).contains("standard deviations"));
    assert!(says(&[9.0, -9.0, 9.0, -9.0]).contains("contradict"));
    let felt = SampledTestCut::felt(&stack, "fit", &options).unwrap();
    assert!(felt.after_readings(&[0.inch()]).is_err() && cut.after_feeling(&[Feel::Fits]).is_err());
}
