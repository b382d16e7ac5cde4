use super::*;
use crate::Costs;
use kerfwise_source::{Event, Length, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, Stack};

/// A set-up error drawn once, and a piece error of normal law.
fn stack(set_up: Source, sigma: f64, band: (f64, f64)) -> Stack {
    let piece = Source::new("piece", 0.inch())
        .normal(sigma.inch())
        .event(Event::piece())
        .build()
        .unwrap();
    let fit = Expr::source(&set_up) + Expr::source(&piece);
    let band = Band::between(band.0.inch(), band.1.inch()).unwrap();
    Stack::builder().outcome("fit", &fit, band).build().unwrap()
}

fn inches(readings: &[f64]) -> Vec<Length> {
    readings.iter().map(|r| r.inch()).collect()
}

fn measured(stack: &Stack, resolution: f64) -> TestCut {
    let options = TestCutOptions::new().resolution(resolution.inch());
    let shown = stack.outcome("fit").unwrap().expr().clone();
    TestCut::measured(stack, "fit", &shown, &options).unwrap()
}

#[track_caller]
fn close(what: &str, got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got:e}, not {wanted:e}"
    );
}

/// Prior mean and sd, σ, readings, band; posterior mean, sd, 95 % interval, chance of the next piece.
/// Conjugate normal model, closed form, computed independently at 20 digits with mpmath.
type Conjugate = ((f64, f64), f64, &'static [f64], (f64, f64), [f64; 5]);

const CONJUGATE: &[Conjugate] = &[
    (
        (0.0, 0.003),
        0.001,
        &[0.0021],
        (-0.002, 0.002),
        [
            0.00189,
            0.000_948_683_298_050_513_8,
            3.061_490_308_631_511e-5,
            0.003_749_385_096_913_685,
            0.529_417_291_834_410_2,
        ],
    ),
    (
        (0.0, 0.003),
        0.001,
        &[0.0021, 0.0035, 0.0028],
        (-0.002, 0.002),
        [
            0.0027,
            0.000_566_946_709_513_840_8,
            0.001_588_804_868_199_38,
            0.003_811_195_131_800_62,
            0.271_259_621_096_717_4,
        ],
    ),
    (
        (0.001, 0.0005),
        0.002,
        &[0.004, 0.0055, 0.0035, 0.005, 0.0045],
        (0.0, 0.006),
        [
            0.001_833_333_333_333_333_3,
            0.000_436_435_780_471_984_8,
            0.000_977_934_922_043_613_7,
            0.002_688_731_744_623_053,
            0.793_860_790_902_768_2,
        ],
    ),
    (
        (0.0, 0.01),
        0.0008,
        &[-0.0062, -0.0071],
        (-0.002, 0.002),
        [
            -0.006_628_787_878_787_879,
            0.000_564_782_494_724_905,
            -0.007_735_741_227_547_376,
            -0.005_521_834_530_028_382,
            1.140_707_029_871_505_5e-6,
        ],
    ),
    (
        (0.0, 1000.0),
        0.001,
        &[0.0021, 0.0035, 0.0028],
        (-0.002, 0.002),
        [
            0.002_799_999_999_999_066_7,
            0.000_577_350_269_189_529_5,
            0.001_668_414_265_923_083_4,
            0.003_931_585_734_075_049_5,
            0.244_195_030_104_260_1,
        ],
    ),
];

#[test]
fn exact_readings_of_normal_errors_give_the_conjugate_posterior() {
    for ((mean, sd), sigma, readings, band, wanted) in CONJUGATE {
        let set_up = Source::new("set_up", mean.inch())
            .normal(sd.inch())
            .build()
            .unwrap();
        let cut = measured(&stack(set_up, *sigma, *band), 0.0);
        let answer = cut.after_readings(&inches(readings)).unwrap();
        let [m, s, low, high, chance] = *wanted;
        let after = answer.after;
        // The stated tolerance of these values is 1e-12.
        close("mean", after.mean.to_inches(), m, 1e-12);
        close("sd", after.sd.to_inches(), s, 1e-12);
        close("2.5 %", after.interval_95.0.to_inches(), low, 1e-12);
        close("97.5 %", after.interval_95.1.to_inches(), high, 1e-12);
        close("chance", answer.leave.value.inside, chance, 1e-12);
        assert!(
            (answer.leave.value.inside - chance).abs() <= answer.leave.error,
            "the error covers what is off: {:?}",
            answer.leave
        );
    }
}

/// Prior, σ, readings, resolution, band; mean, sd, 2.5 %, 97.5 %, chance of the next piece, evidence. Rectangular prior and
/// rounded readings: quadrature with mpmath at 30 digits.
type Rounded = ((f64, f64), f64, &'static [f64], f64, (f64, f64), [f64; 6]);

const ROUNDED: &[Rounded] = &[
    (
        (-0.004, 0.004),
        0.0008,
        &[0.002],
        0.001,
        (-0.002, 0.002),
        [
            0.001_978_714_323_840_791,
            0.000_824_871_711_061_067_7,
            0.000_330_863_783_120_417_94,
            0.003_551_544_019_176_017,
            0.504_331_853_242_139_5,
            0.123_845_095_645_822_46,
        ],
    ),
    (
        (-0.004, 0.004),
        0.0008,
        &[0.002, 0.003, 0.003],
        0.001,
        (-0.002, 0.002),
        [
            0.002_661_404_211_084_476,
            0.000_485_006_248_698_470_45,
            0.001_702_063_843_105_088_6,
            0.003_604_201_483_021_545_7,
            0.239_774_472_907_304_24,
            0.009_978_088_337_681_847,
        ],
    ),
    (
        (-0.004, 0.004),
        0.0002,
        &[0.002, 0.002, 0.002, 0.002],
        0.001,
        (0.0015, 0.0025),
        [
            0.002,
            0.000_218_335_924_409_704_88,
            0.001_590_883_783_973_722_6,
            0.002_409_116_216_026_277_4,
            0.909_364_324_909_266_3,
            0.073_551_828_721_695_29,
        ],
    ),
    (
        (0.0, 0.003),
        0.0012,
        &[0.004, 0.005, 0.003],
        0.001,
        (0.001, 0.004),
        [
            0.002_676_836_825_914_39,
            0.000_283_035_850_034_624_9,
            0.001_950_081_599_914_375_5,
            0.002_990_312_010_132_68,
            0.771_404_824_850_021_1,
            0.000_837_629_703_210_416_5,
        ],
    ),
    (
        (-0.002, 0.002),
        0.0003,
        &[0.001, 0.0, 0.001, 0.001, 0.0],
        0.001,
        (-0.001, 0.002),
        [
            0.000_578_849_805_466_955_4,
            0.000_169_979_244_930_169_94,
            0.000_248_891_073_410_358_87,
            0.000_915_789_652_479_433_8,
            0.999_977_814_758_644_7,
            0.003_649_383_473_244_793_4,
        ],
    ),
    (
        (-0.010, 0.010),
        0.0015,
        &[0.0, 0.0025, 0.0015, 0.0020],
        0.0005,
        (-0.003, 0.003),
        [
            0.001_499_995_761_659_876_3,
            0.000_753_471_180_548_680_7,
            2.322_073_672_757_323e-5,
            0.002_976_770_839_466_176_4,
            0.810_559_887_860_119_5,
            1.341_482_000_889_867_1e-5,
        ],
    ),
];

#[test]
fn rounded_readings_and_a_rectangular_prior() {
    for ((lo, hi), sigma, readings, resolution, band, wanted) in ROUNDED {
        let half = 0.5 * (hi - lo);
        let set_up = Source::new("set_up", (0.5 * (lo + hi)).inch())
            .rectangular(half.inch())
            .build()
            .unwrap();
        let cut = measured(&stack(set_up, *sigma, *band), *resolution);
        let answer = cut.after_readings(&inches(readings)).unwrap();
        let [m, s, low, high, chance, evidence] = *wanted;
        // The stated tolerance of these values is 1e-12, of the evidence 1e-10.
        close("mean", answer.after.mean.to_inches(), m, 1e-12);
        close("sd", answer.after.sd.to_inches(), s, 1e-12);
        close("2.5 %", answer.after.interval_95.0.to_inches(), low, 1e-12);
        close(
            "97.5 %",
            answer.after.interval_95.1.to_inches(),
            high,
            1e-11,
        );
        close("chance", answer.leave.value.inside, chance, 1e-12);
        let found = kerfwise_numeric::float::exp(answer.ln_evidence);
        close("evidence", found, evidence, 1e-10);
    }
}

fn set_up(sd: f64) -> Source {
    Source::new("set_up", 0.inch())
        .normal(sd.inch())
        .build()
        .unwrap()
}

/// Set-up kept, and a part of it that a move redraws.
fn with_lock(kept: f64, lock: f64, piece: f64) -> Stack {
    let lock = Source::new("lock", 0.inch())
        .normal(lock.inch())
        .event(Event::jig_move())
        .build()
        .unwrap();
    let piece = Source::new("piece", 0.inch())
        .normal(piece.inch())
        .event(Event::piece())
        .build()
        .unwrap();
    let fit = Expr::source(&set_up(kept)) + Expr::source(&lock) + Expr::source(&piece);
    let band = Band::within(5.thou()).unwrap();
    Stack::builder().outcome("fit", &fit, band).build().unwrap()
}

/// All normal: what is kept is shrunk by its share of the variance of the reading, and a move undoes just that.
#[test]
fn the_best_move_undoes_what_is_kept_and_no_more() {
    let (kept, lock, piece) = (0.003, 0.002, 0.001);
    let cut = measured(&with_lock(kept, lock, piece), 0.0);
    let reading: f64 = 0.006;
    let answer = cut.after_readings(&inches(&[reading])).unwrap();
    let all = kept * kept + lock * lock + piece * piece;
    let k = reading * kept * kept / all;
    // The mean of K after the reading, to the nearest step of half a thou.
    let steps = (-k / 0.0005).round() * 0.0005;
    close("move", answer.best_move.to_inches(), steps, 1e-12);
    // After it: what is left of K, a fresh lock-down and the piece, all normal.
    let sd = (kept * kept * (1.0 - kept * kept / all) + lock * lock + piece * piece).sqrt();
    let at = |y: f64| kerfwise_numeric::special::normal_cdf((y - k - steps) / sd);
    close(
        "moved",
        answer.moved.value.inside,
        at(0.005) - at(-0.005),
        1e-12,
    );
    let c = reading * (kept * kept + lock * lock) / all;
    close("offset", answer.after.mean.to_inches(), c, 1e-12);
}

/// A tight piece, all normal: P(next fits | one tight) = P(tight, fits) / P(tight), by quadrature over the set-up with
/// mpmath at 30 digits (set-up sd 2 thou, piece sd 1 thou, band ±3 thou).
#[test]
fn the_feel_of_a_piece() {
    let stack = stack(set_up(0.002), 0.001, (-0.003, 0.003));
    let cut = TestCut::felt(&stack, "fit", &TestCutOptions::new()).unwrap();
    let answer = cut.after_feeling(&[Feel::Tight]).unwrap();
    close("chance", answer.leave.value.inside, TIGHT_THEN_FITS, 1e-12);
    close(
        "evidence",
        kerfwise_numeric::float::exp(answer.ln_evidence),
        TIGHT,
        1e-12,
    );
    // Feels that say nothing of the middle leave it where it is.
    let both = cut
        .after_feeling(&[Feel::Tight, Feel::Loose, Feel::Fits])
        .unwrap();
    close("offset", both.after.mean.to_inches(), 0.0, 1e-12);
}

const TIGHT: f64 = 0.089_856_247_439_499_92;
const TIGHT_THEN_FITS: f64 = 0.448_813_930_743_447_9;

#[test]
fn order_of_pieces_does_not_matter() {
    let cut = measured(&with_lock(0.002, 0.001, 0.001), 0.0005);
    let one = cut
        .after_readings(&inches(&[0.001, 0.003, 0.0025]))
        .unwrap();
    let two = cut
        .after_readings(&inches(&[0.0025, 0.001, 0.003]))
        .unwrap();
    // Products of three factors in another order differ by rounding.
    close(
        "leave",
        one.leave.value.inside,
        two.leave.value.inside,
        1e-14,
    );
    assert_eq!(one.best_move, two.best_move);
}

#[test]
fn a_gauge_error_of_its_own_makes_readings_tell_less() {
    let stack = with_lock(0.002, 0.001, 0.001);
    let shown = stack.outcome("fit").unwrap().expr().clone();
    let gauge = Source::new("gauge", 0.inch())
        .normal(1.thou())
        .build()
        .unwrap();
    let options = TestCutOptions::new();
    let plain = TestCut::measured(&stack, "fit", &shown, &options).unwrap();
    let off = TestCut::measured(&stack, "fit", &(shown - Expr::source(&gauge)), &options).unwrap();
    let readings = inches(&[0.004, 0.0045, 0.0035, 0.004, 0.004]);
    let (plain, off) = (
        plain.after_readings(&readings).unwrap(),
        off.after_readings(&readings).unwrap(),
    );
    assert!(off.after.sd > plain.after.sd && off.after.mean < plain.after.mean);
}

#[test]
fn one_more_piece_is_worth_something_and_never_harms() {
    let cut = measured(&with_lock(0.004, 0.001, 0.0015), 0.0005);
    let first = cut.next_reading(&[]).unwrap();
    assert!(first.then > first.now + 0.05, "{first:?}");
    let second = cut.next_reading(&inches(&[0.003])).unwrap();
    assert!(second.then >= second.now && second.then - second.now < first.then - first.now);
    let felt = TestCut::felt(
        &with_lock(0.004, 0.001, 0.0015),
        "fit",
        &TestCutOptions::new(),
    )
    .unwrap();
    let feel = felt.next_feel(&[]).unwrap();
    // A number tells more than tight, right or loose.
    assert!(
        feel.then > feel.now && feel.then < first.then,
        "{feel:?} {first:?}"
    );
}

#[test]
fn a_card_says_what_asking_would_say() {
    let cut = measured(&with_lock(0.002, 0.001, 0.001), 0.0005);
    let card = cut.advice_by_reading().unwrap();
    assert!(card.len() > 5, "{card:?}");
    assert!(
        card.windows(2).all(|pair| pair[0].advice != pair[1].advice
            && (pair[1].from - pair[0].to).to_thou().abs() < 0.5 + 1e-9),
        "no gaps, and no two lines that say the same: {card:?}"
    );
    for line in &card {
        for reading in [line.from, line.to] {
            let asked = cut.after_readings(&[reading]).unwrap();
            assert_eq!(asked.advice, line.advice, "{reading}");
            let chance = asked.leave.value.inside.max(asked.moved.value.inside);
            // The same sums, so equal, but for the least of a line.
            assert!(line.inside <= chance && line.inside > chance - 0.05);
        }
    }
    // A band and errors that are even: as much to the one side as to the other.
    let (first, last) = (card[0].advice, card[card.len() - 1].advice);
    let (Advice::MoveBy(first), Advice::MoveBy(last)) = (first, last) else {
        panic!("the farthest readings call for a move: {card:?}");
    };
    close("even", (first + last).to_inches(), 0.0, 1e-12);
    let felt = TestCut::felt(
        &with_lock(0.002, 0.001, 0.001),
        "fit",
        &TestCutOptions::new(),
    );
    assert!(felt.unwrap().advice_by_reading().is_err());
    let fine = measured(&with_lock(0.002, 0.001, 0.001), 0.000_001);
    let refused = fine.advice_by_reading().unwrap_err().to_string();
    assert!(refused.contains("too many for a card"), "{refused}");
}

/// Many pieces of one set-up are no contradiction: of 1,000 the sum of squares is as often above 1,000 as below, and feels on
/// the edge of the band are now this, now that.
#[test]
fn many_pieces_that_go_together_are_believed() {
    let stack = with_lock(0.002, 0.001, 0.001);
    let cut = measured(&stack, 0.0005);
    // Alternating at 1.06 standard deviations: a sum of squares of 1,124, which chance passes once in 300.
    let readings: Vec<f64> = (0..1_000)
        .map(|i| if i % 2 == 0 { 0.001_06 } else { -0.001_06 })
        .collect();
    assert!(cut.after_readings(&inches(&readings)).is_ok());
    let felt = TestCut::felt(&stack, "fit", &TestCutOptions::new()).unwrap();
    let feels: Vec<Feel> = (0..400)
        .map(|i| if i % 2 == 0 { Feel::Tight } else { Feel::Fits })
        .collect();
    assert!(felt.after_feeling(&feels).is_ok());
    let said = felt.after_feeling(&[Feel::Tight, Feel::Loose]).unwrap_err();
    assert!(said.to_string().contains("try each again"), "{said}");
}

#[test]
fn refuses_what_cannot_be() {
    let stack = with_lock(0.002, 0.001, 0.001);
    let cut = measured(&stack, 0.0005);
    let says = |readings: &[f64]| {
        cut.after_readings(&inches(readings))
            .unwrap_err()
            .to_string()
    };
    assert!(says(&[]).contains("no test piece"), "{}", says(&[]));
    assert!(
        says(&[0.5]).contains("one in ten million"),
        "{}",
        says(&[0.5])
    );
    assert!(
        says(&[f64::NAN]).contains("finite"),
        "{}",
        says(&[f64::NAN])
    );
    assert!(says(&[f64::INFINITY]).contains("finite"));
    // Each plausible alone: together they lie 12 standard deviations of a piece apart.
    assert!(
        says(&[0.006, -0.006]).contains("contradict"),
        "{}",
        says(&[0.006, -0.006])
    );
    assert!(says(&vec![0.001; 1_001]).contains("at most 1000"));
    assert!(
        cut.after_feeling(&[Feel::Tight])
            .unwrap_err()
            .to_string()
            .contains("gauge")
    );
    let felt = TestCut::felt(&stack, "fit", &TestCutOptions::new()).unwrap();
    assert!(felt.after_readings(&inches(&[0.001])).is_err());
    assert!(felt.after_feeling(&[]).is_err());
}

#[test]
fn refuses_plans_that_have_no_test_cut() {
    let says = |stack: &Stack, options: &TestCutOptions| {
        TestCut::felt(stack, "fit", options)
            .unwrap_err()
            .to_string()
    };
    let plain = TestCutOptions::new();
    let good = with_lock(0.002, 0.001, 0.001);
    assert!(says(&good, &plain.clone().dial_step(0.inch())).contains("dial step"));
    assert!(says(&good, &plain.clone().resolution((-1).thou())).contains("resolution"));
    assert!(
        TestCut::felt(&good, "gap", &plain)
            .unwrap_err()
            .to_string()
            .contains("no outcome \"gap\"")
    );
    let one_sided = Stack::builder()
        .outcome(
            "fit",
            good.outcome("fit").unwrap().expr(),
            Band::at_least(0.inch()).unwrap(),
        )
        .build()
        .unwrap();
    assert!(says(&one_sided, &plain).contains("one limit"));
    let alike = Stack::builder()
        .outcome(
            "fit",
            &Expr::source(&set_up(0.001)),
            Band::within(1.thou()).unwrap(),
        )
        .build()
        .unwrap();
    assert!(says(&alike, &plain).contains("cannot differ"));
    let bent = Expr::source(&set_up(0.001)).abs();
    let bent = Stack::builder()
        .outcome("fit", &bent, Band::within(1.thou()).unwrap())
        .build()
        .unwrap();
    assert!(
        says(&bent, &plain).contains("not affine in: set_up"),
        "{}",
        says(&bent, &plain)
    );
}

/// A move by x that redraws nothing is right for all joints beyond half of x from the middle; computed independently at 40 digits
/// with mpmath.
#[test]
fn a_move_that_redraws_nothing_is_a_shift() {
    let set_up = Source::new("set_up", 0.inch()).normal(0.003.inch());
    let cut = measured(
        &stack(set_up.build().unwrap(), 0.0015, (-0.002, 0.002)),
        0.0,
    );
    let answer = cut.after_readings(&inches(&[0.0011])).unwrap();
    close("move", answer.best_move.to_inches(), -0.001, 1e-15);
    // The best place is the top of a curve, told to the root of rounding.
    close("raises", answer.raises, 0.611_501_756_103_540_2, 1e-7);
    let turning = |x: f64| cut.even.turning(x);
    assert_eq!(turning(0.0), None);
    for x in [-0.003, -1e-5, 1e-5, 0.003] {
        close("even", turning(x).unwrap(), -0.5 * x, 1e-9);
    }
}

/// With normal errors and a move that draws nothing anew the cost is c · 2 Φ(−L/√(v + s²)), v what the readings leave of the
/// set-up's variance: 1/v = 1/4² + n/1.5². For c = 10 and L = 3 computed independently with mpmath.
#[test]
fn one_more_reading_in_minutes() {
    let source = |name, sd: f64| Source::new(name, 0.inch()).normal(sd.thou());
    let set_up = source("set_up", 4.0).build().unwrap();
    let piece = source("piece", 1.5).event(Event::piece()).build().unwrap();
    let fit = Expr::source(&set_up) + Expr::source(&piece);
    let band = Band::within(3.thou()).unwrap();
    let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
    let fine = TestCutOptions::new()
        .resolution(0.01.thou())
        .dial_step(0.02.thou());
    let cut = TestCut::measured(&stack, "fit", &fit, &fine).unwrap();
    let costs = Costs {
        tight: 10.0,
        loose: 10.0,
    };
    let worth = cut.next_reading_cost(&[2.thou()], &costs).unwrap();
    // Half a step of the dial off costs less than this.
    assert!((worth.now - 1.443_101_363).abs() < 1e-4, "{}", worth.now);
    // The reading in steps of an eighth of its standard deviation tells 1/768 of its variance less, so it is a lower bound.
    let off = worth.then - 0.987_035_092;
    assert!((-1e-6..2e-3).contains(&off), "{off}");
    assert!(
        cut.next_reading_cost(
            &[2.thou()],
            &Costs {
                tight: -1.0,
                loose: 1.0
            }
        )
        .is_err()
    );
    let felt = TestCut::felt(&stack, "fit", &fine).unwrap();
    let by_feel = felt.next_feel_cost(&[Feel::Tight], &costs).unwrap();
    assert!(by_feel.then < by_feel.now);
}
