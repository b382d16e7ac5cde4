use super::*;
use kerfwise_source::Source;
use kerfwise_stack::Band;

fn source(name: &str, at: f64, sd: f64) -> Source {
    Source::new(name, at.inch())
        .normal(sd.inch())
        .build()
        .unwrap()
}

/// Pieces N(y0, u0), gauge N(0, um), all in inches.
fn judge(y0: f64, u0: f64, um: f64, band: (f64, f64)) -> Judge {
    let y = Expr::source(&source("piece", y0, u0));
    let band = Band::between(band.0.inch(), band.1.inch()).unwrap();
    let stack = Stack::builder().outcome("y", &y, band).build().unwrap();
    let shown = y - Expr::source(&source("gauge", 0.0, um));
    Judge::new(&stack, "y", &shown, 0.inch()).unwrap()
}

#[track_caller]
fn close(what: &str, got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got:e}, not {wanted:e}"
    );
}

/// JCGM 106:2012, 9.5.3.2: resistors of N(1500 Ω, 0.12 Ω), ohmmeter 0.04 Ω, T = 1500 ± 0.2 Ω, A = 1500 ± 0.18 Ω (inches
/// for ohms). Printed `p_c` 0.90, `R_C` 0.01, `R_P` 0.07; digits computed independently with mpmath to 1e-14.
#[test]
fn resistors_of_the_guide() {
    let judge = judge(1500.0, 0.12, 0.04, (1499.8, 1500.2));
    let risks = judge
        .risks(Some(1499.82.inch()), Some(1500.18.inch()))
        .unwrap();
    // 1500.2 − 1500 is good to 2e-13 as floating-point numbers; the density at the limit is about 1.
    close("p_c", risks.conforming, 0.904_419_295_454_370_6, 1e-12);
    close("R_C", risks.consumer, 0.009_878_291_521_772_293, 1e-12);
    close("R_P", risks.producer, 0.069_026_510_461_521_38, 1e-12);
    close("accepted", risks.accepted, 0.845_271_076_514_621_5, 1e-12);
    // What is accepted is what conforms, less what is wrongly rejected, plus what is wrongly accepted.
    close(
        "identity",
        risks.conforming - risks.producer + risks.consumer,
        risks.accepted,
        1e-14,
    );
}

/// Band ±0.005 in: mean and sd of the pieces, gauge, guard band; `p_c`, `R_C`, `R_P`, accepted. Computed independently with
/// mpmath, stated tolerance 1e-14. The first two are JCGM 106:2012, figure 17, at `C_m` = 2 and 10 (printed 0.1 and 1.5, 0.04
/// and 0.07 percent).
const RISKS: &[(f64, f64, f64, f64, [f64; 3])] = &[
    (
        0.0,
        0.01 / 6.0,
        0.01 / 8.0,
        0.0,
        [
            0.997_300_203_936_739_8,
            0.000_981_580_923_489_100_3,
            0.014_676_856_709_421_17,
        ],
    ),
    (
        0.0,
        0.01 / 6.0,
        0.01 / 40.0,
        0.0,
        [
            0.997_300_203_936_739_8,
            0.000_408_131_088_307_188_4,
            0.000_717_412_701_117_309_4,
        ],
    ),
    (
        0.0,
        0.002,
        0.0005,
        0.0,
        [
            0.987_580_669_348_447_7,
            0.002_445_348_712_703_642,
            0.005_319_389_091_350_322,
        ],
    ),
    (
        0.0,
        0.002,
        0.0005,
        0.001,
        [
            0.987_580_669_348_447_7,
            6.094_054_350_963_21e-5,
            0.039_986_673_165_120_584,
        ],
    ),
    (
        0.0,
        0.002,
        0.0005,
        -0.001,
        [
            0.987_580_669_348_447_7,
            0.008_903_110_899_299_646,
            9.312_718_369_281_591e-5,
        ],
    ),
    (
        0.001,
        0.0025,
        0.001,
        0.0,
        [
            0.937_003_172_375_845_8,
            0.014_178_528_432_592_987,
            0.032_807_903_968_060_74,
        ],
    ),
    (
        0.001,
        0.0025,
        0.001,
        0.002,
        [
            0.937_003_172_375_845_8,
            0.000_361_461_591_546_695_1,
            0.234_869_080_333_450_41,
        ],
    ),
    (
        0.0,
        0.0016,
        0.0002,
        0.0004,
        [
            0.998_221_949_401_783_1,
            5.650_053_320_057_275e-6,
            0.002_561_203_139_412_113,
        ],
    ),
];

#[test]
fn risks_with_and_without_guard_bands() {
    for (y0, u0, um, guard, [conforming, consumer, producer]) in RISKS {
        let judge = judge(*y0, *u0, *um, (-0.005, 0.005));
        let limit = (0.005 - guard).inch();
        let risks = judge.risks(Some(-limit), Some(limit)).unwrap();
        close("p_c", risks.conforming, *conforming, 1e-12);
        close("R_C", risks.consumer, *consumer, 1e-12);
        close("R_P", risks.producer, *producer, 1e-12);
        assert!((risks.consumer - consumer).abs() <= risks.error);
    }
}

/// Normal pieces, normal gauge: the piece is N(y, u) with the weighted mean of JCGM 106:2012, 7.2.2 / A.4.
#[test]
fn a_reading_gives_the_weighted_mean() {
    let (u0, um): (f64, f64) = (0.002, 0.0005);
    let judge = judge(0.0, u0, um, (-0.005, 0.005));
    for reading in [-0.006, -0.0051, 0.0, 0.0049, 0.0052] {
        let found = judge.reading(reading.inch()).unwrap();
        let precision = 1.0 / (u0 * u0) + 1.0 / (um * um);
        let (y, u) = (reading / (um * um) / precision, precision.sqrt().recip());
        let above = kerfwise_numeric::special::normal_sf((0.005 - y) / u);
        let below = kerfwise_numeric::special::normal_cdf((-0.005 - y) / u);
        close(
            "inside",
            found.chance.value.inside,
            1.0 - above - below,
            1e-12,
        );
    }
}

/// With pieces that may be anything (a flat prior), the acceptance limit for 95 % lies z₀.₉₅·u inside of each limit:
/// JCGM 106:2012, 7.7.5 prints y from 0.45 to 0.55 at `C_m` = 1; digits with mpmath: 0.449053180149.
#[test]
fn limits_for_a_wanted_chance() {
    // A band of one inch, u = 1/4: C_m = 1. Pieces spread over a hundred times that, flat for the gauge: the slope of the
    // prior moves the limits by u²·y/u0² ≈ 2.5e-5 of the band at most.
    let judge = judge(0.0, 50.0, 0.25, (0.0, 1.0));
    let limits = judge.limits(0.95).unwrap().unwrap();
    close(
        "lower",
        limits.lower.unwrap().to_inches(),
        0.449_053_180_149_049_3,
        3e-5,
    );
    close(
        "upper",
        limits.upper.unwrap().to_inches(),
        0.550_946_819_850_950_7,
        3e-5,
    );
    close(
        "guard",
        limits.guard.0.unwrap().to_inches(),
        0.449_053_180_149_049_3,
        3e-5,
    );
    // At the limits the chance is what was wanted.
    let at = judge.reading(limits.lower.unwrap()).unwrap();
    close("there", at.chance.value.inside, 0.95, 1e-9);
    // The best reading, in the middle, gives 0.9545 (recomputed: 0.954499736): no more can be had.
    assert!(judge.limits(0.96).unwrap().is_none());
    assert!((judge.gauge().capability.unwrap() - 1.0).abs() < 1e-12);
}

/// A band of one limit, guarded for 2 u: risk at the limit 2.275 % (JCGM 106:2012, 8.3.2.3 prints 2.3 %).
#[test]
fn a_band_of_one_limit() {
    let y = Expr::source(&source("piece", 0.0, 50.0));
    let stack = Stack::builder()
        .outcome("y", &y, Band::at_most(0.inch()).unwrap())
        .build()
        .unwrap();
    let shown = y - Expr::source(&source("gauge", 0.0, 0.25));
    let judge = Judge::new(&stack, "y", &shown, 0.inch()).unwrap();
    let at = judge.reading((-0.5).inch()).unwrap();
    close(
        "risk",
        at.chance.value.above,
        0.022_750_131_948_179_21,
        2e-5,
    );
    let limits = judge.limits(0.977_249_868).unwrap().unwrap();
    assert_eq!(limits.lower, None);
    close("guard", limits.guard.1.unwrap().to_inches(), 0.5, 1e-4);
    assert_eq!(judge.gauge().capability, None);
}

/// A caliper right within ±0.5 thou and nothing known of pieces but that they are equally likely anywhere: a reading half a
/// thou inside the limit is right for certain, at the limit it is right half the time.
#[test]
fn a_rectangular_gauge_has_corners() {
    let piece = Source::new("piece", 0.inch())
        .rectangular(20.thou())
        .build()
        .unwrap();
    let gauge = Source::new("gauge", 0.inch())
        .rectangular(0.5.thou())
        .build()
        .unwrap();
    let y = Expr::source(&piece);
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(5.thou()).unwrap())
        .build()
        .unwrap();
    let judge = Judge::new(&stack, "y", &(y - Expr::source(&gauge)), 0.inch()).unwrap();
    let inside = |r: f64| judge.reading(r.thou()).unwrap().chance.value.inside;
    close("certain", inside(4.5), 1.0, 1e-12);
    close("even", inside(5.0), 0.5, 1e-12);
    close("quarter", inside(5.25), 0.25, 1e-12);
    let limits = judge.limits(0.75).unwrap().unwrap();
    close("guard", limits.guard.0.unwrap().to_thou(), 0.25, 1e-6);
}

/// What the reading does not see counts: a tenon in the middle of its band may still meet an odd mortise.
#[test]
fn what_is_not_seen_limits_what_can_be_known() {
    let tenon = Expr::source(&source("tenon", 0.0, 0.002));
    let fit = &tenon - Expr::source(&source("mortise", 0.0, 0.002));
    let stack = Stack::builder()
        .outcome("fit", &fit, Band::within(5.thou()).unwrap())
        .build()
        .unwrap();
    let shown = tenon - Expr::source(&source("gauge", 0.0, 1e-6));
    let judge = Judge::new(&stack, "fit", &shown, 0.inch()).unwrap();
    let found = judge.reading(0.inch()).unwrap().chance.value.inside;
    // ±2.5 standard deviations of the mortise, the gauge's millionth being negligible.
    close(
        "inside",
        found,
        kerfwise_numeric::special::normal_interval(-2.5, 2.5),
        1e-6,
    );
}

#[test]
fn a_gauge_suits_or_a_finer_step_would() {
    let y = Expr::source(&source("piece", 0.0, 0.002));
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(5.thou()).unwrap())
        .build()
        .unwrap();
    let with = |gauge: f64, step: f64| {
        let shown = y.clone() - Expr::source(&source("gauge", 0.0, gauge));
        Judge::new(&stack, "y", &shown, step.inch())
            .unwrap()
            .gauge()
    };
    // u² = 0.3² + 2²/12 thou²: u = 0.651 thou, 10/(4 u) = 3.84.
    let coarse = with(0.0003, 0.002);
    close(
        "u",
        coarse.uncertainty.to_thou(),
        (0.09_f64 + 4.0 / 12.0).sqrt(),
        1e-9,
    );
    assert!(coarse.capability.unwrap() < 4.0);
    // At most 10/16 thou: step √(12 (0.625² − 0.3²)).
    let step = (12.0 * (0.625_f64 * 0.625 - 0.09)).sqrt();
    close("step", coarse.step_for_four.unwrap().to_thou(), step, 1e-9);
    assert_eq!(with(0.001, 0.0).step_for_four, None);
}

#[test]
fn refuses_what_makes_no_sense() {
    let judge = judge(0.0, 0.002, 0.0005, (-0.005, 0.005));
    let says = |r: f64| judge.reading(r.inch()).unwrap_err().to_string();
    assert!(says(0.4).contains("one in ten million"), "{}", says(0.4));
    assert!(says(f64::NAN).contains("finite"));
    for wanted in [0.0, 1.0, -1.0, f64::NAN] {
        assert!(
            judge
                .limits(wanted)
                .unwrap_err()
                .to_string()
                .contains("above 0 and below 1")
        );
    }
    let crossed = judge.risks(Some(1.thou()), Some((-1).thou())).unwrap_err();
    assert!(crossed.to_string().contains("swap them"));
    assert!(judge.risks(Some(f64::INFINITY.inch()), None).is_err());
    let y = Expr::source(&source("piece", 0.0, 0.002));
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(5.thou()).unwrap())
        .outcome_without_band("bare", &y)
        .build()
        .unwrap();
    let other = Expr::source(&source("other", 0.0, 0.001));
    let error = |outcome: &str, shown: &Expr, step: f64| {
        Judge::new(&stack, outcome, shown, step.inch())
            .unwrap_err()
            .to_string()
    };
    assert!(error("y", &other, 0.0).contains("nothing in common"));
    assert!(error("y", &y, 0.0).contains("neither an error"));
    assert!(error("bare", &(&y - &other), 0.0).contains("no band"));
    assert!(error("y", &(2.0 * &y - &other), 0.0).contains("of its own"));
    assert!(error("y", &(&y - &other), -1.0).contains("resolution"));
}

/// A gauge whose errors are all in the outcome too leaves only its step: the piece lies within half of it, so that a reading at
/// the limit of the band is right for the part of the step that lies inside.
#[test]
fn steps_alone_blur_a_reading() {
    let y = Expr::source(&source("piece", 0.0, 0.002));
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(5.thou()).unwrap())
        .build()
        .unwrap();
    let judge = Judge::new(&stack, "y", &y, 0.5.thou()).unwrap();
    let between = |a: f64, b: f64| kerfwise_numeric::special::normal_interval(a / 2.0, b / 2.0);
    let found = judge.reading(5.thou()).unwrap().chance;
    let wanted = between(4.75, 5.0) / between(4.75, 5.25);
    close("at the limit", found.value.inside, wanted, 1e-12);
    close(
        "a step inside",
        judge.reading(4.5.thou()).unwrap().chance.value.inside,
        1.0,
        1e-12,
    );
    // Beyond a reading of 4.75 thou part of its step lies outside.
    let limits = judge.limits(0.999).unwrap().unwrap();
    let upper = limits.upper.unwrap().to_thou();
    assert!((4.75..4.76).contains(&upper), "{upper}");
    assert!(Judge::new(&stack, "y", &y, 0.inch()).is_err());
}

/// A fit that is bent so little that it hardly matters, asked of trials, beside the exact answer.
#[test]
fn trials_agree_with_the_exact_answer() {
    let (tenon, mortise) = (source("tenon", 0.0, 0.002), source("mortise", 0.0, 0.001));
    let caliper = Source::new("caliper", 0.inch())
        .rectangular(0.8.thou())
        .build()
        .unwrap();
    let fit = Expr::source(&tenon) - Expr::source(&mortise);
    let shown = Expr::source(&tenon) - Expr::source(&caliper);
    let band = Band::between((-0.003).inch(), 0.004.inch()).unwrap();
    let judge = |fit: &Expr| {
        let stack = Stack::builder().outcome("fit", fit, band).build().unwrap();
        Judge::new(&stack, "fit", &shown, 0.5.thou()).unwrap()
    };
    // The square of 4 thou over 1,000 in: it moves nothing that counts.
    let hardly = &fit + Expr::source(&tenon).square() / 1000.0.inch();
    let (exact, trials) = (judge(&fit), judge(&hardly));
    assert_eq!(exact.by(), Propagation::Exact);
    assert_eq!(trials.by(), Propagation::MonteCarlo);
    for reading in [-3.0, -1.0, 0.0, 2.5, 4.5] {
        let [exact, trials] =
            [&exact, &trials].map(|judge| judge.reading(reading.thou()).unwrap().chance);
        let off = trials.value.inside - exact.value.inside;
        // Five standard errors.
        assert!(
            off.abs() < 5.0 * trials.error,
            "{reading}: {off} {}",
            trials.error
        );
        assert!(trials.error < 0.003, "{reading}: {}", trials.error);
    }
    let [one, other] =
        [&exact, &trials].map(|judge| judge.risks(Some((-2.0).thou()), Some(3.0.thou())).unwrap());
    for (one, two) in [
        (one.conforming, other.conforming),
        (one.accepted, other.accepted),
        (one.consumer, other.consumer),
        (one.producer, other.producer),
    ] {
        assert!((one - two).abs() < 5.0 * other.error, "{one} {two}");
    }
    let [one, other] = [&exact, &trials].map(|judge| judge.limits(0.9).unwrap().unwrap());
    let off = |a: Option<Length>, b: Option<Length>| (a.unwrap() - b.unwrap()).to_thou().abs();
    // Five standard errors of the chance, some 0.002, over its slope there, some 0.1 a thou.
    assert!(off(one.lower, other.lower) < 0.1 && off(one.upper, other.upper) < 0.1);
    assert!(off(one.guard.0, other.guard.0) < 0.1);
}

/// A tenon felt at its fattest spot: pieces drawn, rounded by the gauge as it shows them, and counted.
#[test]
fn trials_agree_with_counting() {
    use kerfwise_numeric::special::normal_quantile;
    use kerfwise_numeric::stream::Stream;
    let (tenon, taper) = (source("tenon", 0.375, 0.0015), source("taper", 0.0, 0.002));
    let (mortise, caliper) = (
        source("mortise", 0.376, 0.001),
        source("caliper", 0.0, 0.0004),
    );
    let fit = Expr::source(&tenon) + Expr::source(&taper).abs() - Expr::source(&mortise);
    let stack = Stack::builder()
        .outcome("fit", &fit, Band::within(2.thou()).unwrap())
        .build()
        .unwrap();
    let shown = Expr::source(&tenon) - Expr::source(&caliper);
    let judge = Judge::new(&stack, "fit", &shown, 0.5.thou()).unwrap();
    let found = judge.reading(0.3755.inch()).unwrap().chance;
    let count = 400_000;
    let mut columns = vec![vec![0.0; count]; 4];
    for (i, column) in columns.iter_mut().enumerate() {
        Stream::new(77, i as u64, 0).fill_open01(column);
    }
    let (mut seen, mut good) = (0.0, 0.0);
    let normal = |i: usize, t: usize| normal_quantile(columns[i][t]);
    for t in 0..count {
        let z = |i: usize| normal(i, t);
        let tenon = 0.375 + 0.0015 * z(0);
        let reading = ((tenon - 0.0004 * z(3)) / 0.0005).round();
        if (reading - 751.0).abs() < 0.5 {
            seen += 1.0;
            let fit = tenon + (0.002 * z(1)).abs() - (0.376 + 0.001 * z(2));
            good += f64::from(u8::from(fit.abs() <= 0.002));
        }
    }
    let counted: f64 = good / seen;
    let error = (counted * (1.0 - counted) / seen).sqrt();
    let off = found.value.inside - counted;
    // Five standard errors of both together.
    assert!(
        off.abs() < 5.0 * (error * error + found.error * found.error).sqrt(),
        "{off} {error}"
    );
    let told = judge.reading(0.395.inch()).unwrap_err().to_string();
    let far = "lies 0.0200 in from the 0.3750 in that the plan expects, of 131072 trials";
    assert!(told.contains(far), "{told}");
    let told = judge.reading(9.525.inch()).unwrap_err().to_string();
    assert!(told.ends_with("is it in millimetres?"), "{told}");
}

/// By steps that are narrow against the gauge, a reading is likely by a difference of two values of a curve that are nearly
/// the same: what it may be off counts by the little that is likely in all. Pieces of 1.2 and a gauge of 0.4 thou, read as
/// 1 thou, are normal about 1·1.2²/(1.2² + 0.4²) = 0.9 thou with 1.2·0.4/√(1.2² + 0.4²) thou (JCGM 106:2012, 7.2.1); the
/// step adds nothing to that.
#[test]
fn narrow_steps_claim_what_they_lose() {
    let of = |name, sd: f64| {
        let made = Source::new(name, 0.inch()).normal(sd.thou()).build();
        Expr::source(&made.unwrap())
    };
    let y = of("piece", 1.2);
    let stack = Stack::builder()
        .outcome("y", &y, Band::within(2.thou()).unwrap())
        .build()
        .unwrap();
    let shown = &y - of("gauge", 0.4);
    let sd = 1.2 * 0.4 / 1.6_f64.sqrt();
    let above = kerfwise_numeric::special::normal_sf((2.0 - 0.9) / sd);
    for step in [1e-2, 1e-4, 1e-6] {
        let judge = Judge::new(&stack, "y", &shown, step.thou()).unwrap();
        let found = judge.reading(1.thou()).unwrap().chance;
        let off = (found.value.above - above).abs();
        // A step h adds a variance of h²/12; the chance moves by 0.84 times that, zφ(z)/2s² at most.
        assert!(
            off <= found.error + step * step / 12.0,
            "{step}: {off} {}",
            found.error
        );
        // Values of a curve round by 1e-16 at least, of a likelihood of no more than h.
        assert!(found.error >= 1e-16 / step, "{step}: {}", found.error);
    }
}

/// A tenon of 1 thou with a taper of 1 thou that only ever adds, so that it has no exact answer; the gauge has but its steps.
fn bent(band: Band, step: f64) -> Result<Judge, Error> {
    let tenon = Expr::source(&source("tenon", 0.0, 0.001));
    let fit = &tenon + Expr::source(&source("taper", 0.0, 0.001)).abs();
    let stack = Stack::builder().outcome("fit", &fit, band).build();
    Judge::new(&stack.unwrap(), "fit", &tenon, step.thou())
}

#[test]
fn a_gauge_too_fine_for_trials_is_told_so() {
    let band = Band::within(3.thou()).unwrap();
    let told = bent(band, 0.001).unwrap_err().to_string();
    assert!(told.contains("too fine for trials"), "{told}");
    assert!(bent(band, 0.1).is_ok());
}

/// With steps of 0.005 thou some 260 trials are like a reading in the middle, and at many farther out there is none at all.
#[test]
fn limits_by_trials_skip_what_trials_do_not_tell() {
    let judge = bent(Band::at_most(1.644_854.thou()).unwrap(), 0.005).unwrap();
    let limits = judge.limits(0.9).unwrap().unwrap();
    // A taper of at most 1.644 854 thou either way has a chance of 0.9 (table of the normal), so the limit is 0. Of 260 trials
    // that is good to √(0.09/260) = 0.019, over a slope of 2φ(1.645) = 0.206 for each thou: five of these.
    let upper = limits.upper.unwrap().to_thou();
    assert!(upper.abs() < 5.0 * 0.019 / 0.206, "{upper}");
    assert_eq!(limits.lower, None);
    // At −0.6 thou, where more than 200 trials are like a reading, it is 2Φ(2.245) − 1 = 0.975; three standard errors.
    let best = judge.best_reading().unwrap().chance.value;
    assert!(best.inside > 0.975 - 3.0 * 0.011, "{}", best.inside);
}

/// Rectangular errors that are correlated have no exact answer, and trials take none: both are said.
#[test]
fn correlated_sources_are_refused_by_the_true_reason() {
    let of = |name| {
        Source::new(name, 0.inch())
            .rectangular(1.thou())
            .build()
            .unwrap()
    };
    let (tenon, mortise, gauge) = (of("tenon"), of("mortise"), of("gauge"));
    let fit = Expr::source(&tenon) - Expr::source(&mortise);
    let stack = Stack::builder()
        .outcome("fit", &fit, Band::within(1.thou()).unwrap())
        .correlated(&tenon, &mortise, 0.5)
        .build()
        .unwrap();
    let shown = &fit - Expr::source(&gauge);
    let refused = Judge::new(&stack, "fit", &shown, 0.inch()).unwrap_err();
    let told = refused.to_string();
    assert!(told.contains("exact declines: "), "{told}");
    assert!(
        told.contains("no correlated sources") && !told.contains("not affine"),
        "{told}"
    );
}
