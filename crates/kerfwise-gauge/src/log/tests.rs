use super::*;
use crate::testing::{Normals, assert_covers, assert_near};
use kerfwise_source::{LengthUnits, Provenance};

fn log(rows: &[(&str, &str, &[f64])]) -> Log {
    let rows: Vec<LogReading<'_>> = rows
        .iter()
        .flat_map(|&(set_up, piece, readings)| {
            readings.iter().map(move |&reading| LogReading {
                set_up,
                piece,
                reading,
            })
        })
        .collect();
    Log::new(&rows).unwrap()
}

// Invented readings; restricted likelihood maximised independently with numpy on all readings.
#[test]
fn an_uneven_log_by_restricted_likelihood() {
    let spreads = log(&[
        ("mon", "1", &[1.0, 3.0]),
        ("mon", "2", &[5.0]),
        ("mon", "3", &[4.0, 4.5]),
        ("tue", "1", &[9.0, 8.5, 9.0]),
        ("tue", "2", &[12.0, 11.0]),
        ("wed", "1", &[6.0]),
        ("wed", "2", &[2.0, 2.5, 3.0]),
        ("wed", "3", &[5.0, 5.5]),
        ("thu", "1", &[0.5, 0.0, 1.0]),
    ])
    .spreads(Confidence::default());
    assert_eq!(spreads.estimator, Estimator::RestrictedLikelihood);
    // Because the steps of both end at 1e-12 of the variances.
    assert_near(spreads.set_up.variance, 13.663_236_925_516_477, 1e-9);
    assert_near(spreads.piece.variance, 2.897_082_462_233_165_7, 1e-9);
    assert_near(
        spreads.repeat.unwrap().variance,
        0.390_518_468_503_260_7,
        1e-9,
    );
}

// Likewise: the pieces differ less than the readings of one piece.
#[test]
fn pieces_that_differ_less_than_readings_have_no_spread() {
    let spreads = log(&[
        ("mon", "1", &[1.0, 3.0]),
        ("mon", "2", &[3.0, 1.0]),
        ("tue", "1", &[9.0, 7.0]),
        ("tue", "2", &[7.0, 9.5]),
        ("wed", "1", &[4.0, 6.0]),
        ("wed", "2", &[5.5, 5.0]),
    ])
    .spreads(Confidence::default());
    assert_near(spreads.set_up.variance, 9.064_236_111_111_134, 1e-9);
    assert_eq!(spreads.piece.variance.to_bits(), 0);
    assert_near(
        spreads.repeat.unwrap().variance,
        1.263_888_888_888_888,
        1e-9,
    );
}

// By hand: repeats ±0.1, so MS repeat = 8 · 0.01 / 4 = 0.02; piece means 1, 3 | 5, 7: variance 2 about each set-up, of which
// 0.02/2 is from reading; set-up means 2 and 6: variance 8, of which 2/2 is from pieces.
#[test]
fn an_even_log_by_hand() {
    let even = log(&[
        ("mon", "1", &[0.9, 1.1]),
        ("mon", "2", &[2.9, 3.1]),
        ("tue", "1", &[4.9, 5.1]),
        ("tue", "2", &[6.9, 7.1]),
    ]);
    let spreads = even.spreads(Confidence::default());
    assert_eq!(spreads.estimator, Estimator::AnalysisOfVariance);
    assert_near(spreads.repeat.unwrap().variance, 0.02, 1e-12);
    assert_near(spreads.piece.variance, 1.99, 1e-12);
    assert_near(spreads.set_up.variance, 7.0, 1e-12);
    assert_near(even.mean(), 4.0, 1e-14);
    assert_near(even.standard_error(), 2.0, 1e-14); // √(8/2)
}

#[test]
fn sources_are_measured_and_say_how_well_they_are_known() {
    let log = log(&[
        ("mon", "1", &[0.371]),
        ("mon", "2", &[0.373]),
        ("tue", "1", &[0.374]),
        ("tue", "2", &[0.376]),
        ("wed", "1", &[0.377]),
        ("wed", "2", &[0.379]),
    ]);
    let names = LogNames {
        name: "tenon",
        dimension: Dimension::LENGTH,
        set_up: Event::tenon_set_up(),
        piece: Event::piece(),
        limits_at_sd: Some(3.0),
        readings: "log.csv",
    };
    let sources = log.sources(&names).unwrap();
    for source in [&sources.mean, &sources.set_up, &sources.piece] {
        let measured = matches!(source.provenance(), Provenance::Measured { readings } if readings == "log.csv");
        assert!(measured, "{source:?}");
    }
    assert_eq!(sources.mean.event(), &Event::batch());
    assert_eq!(sources.set_up.event(), &Event::tenon_set_up());
    assert_eq!(sources.piece.event(), &Event::piece());
    assert!((sources.mean.estimate().raw() - 0.375).abs() < 1e-15);
    // Set-up means 372, 375, 378 thou: u = 3/√3, two degrees of freedom; variance 9 − 2/2.
    let u = |source: &Source| source.standard_uncertainty().unwrap().length().unwrap();
    assert!((u(&sources.mean) - 3.0_f64.sqrt().thou()).abs() < 1e-12.thou());
    assert!((sources.mean.degrees_of_freedom() - 2.0).abs() < 1e-12);
    assert!((u(&sources.set_up) - 8.0_f64.sqrt().thou()).abs() < 1e-9.thou());
    // Satterthwaite: (9 − 1)²/(9²/2 + 1²/3); pieces: three pairs.
    assert_near(
        sources.set_up.degrees_of_freedom(),
        64.0 / (40.5 + 1.0 / 3.0),
        1e-9,
    );
    assert_near(sources.piece.degrees_of_freedom(), 3.0, 1e-12);
    let (lower, upper) = sources.piece.bounds().unwrap();
    assert_near(upper - lower, 6.0 * 2.0_f64.sqrt() / 1000.0, 1e-9);
    let error = log
        .sources(&LogNames {
            name: "2nd",
            ..names
        })
        .unwrap_err();
    assert!(
        matches!(error.kind(), crate::ErrorKind::Source(_)),
        "{error}"
    );
}

#[test]
fn groups_name_what_cannot_be_told_apart() {
    let source = |name: &str, event| {
        let source = Source::new(name, 0.inch())
            .rectangular(1.thou())
            .event(event);
        source.build().unwrap()
    };
    let plan = [
        source("travel", Event::jig_move()),
        source("lock_down", Event::jig_move()),
        source("seat", Event::cut()),
        source("stock", Event::piece()),
        source("kerf", Event::blade()),
        Source::new("clearance", 2.thou()).build().unwrap(),
    ];
    let rows = [
        ("mon", "1", &[1.0, 2.0][..]),
        ("mon", "2", &[3.0]),
        ("tue", "1", &[1.0]),
    ];
    let groups = log(&rows).groups(&plan, &Event::tenon_set_up(), &Event::piece());
    assert_eq!(groups.set_up, ["travel", "lock_down"]);
    assert_eq!(groups.piece, ["seat", "stock"]);
    assert_eq!(groups.unseen, ["kerf"]);
    assert_eq!(
        groups.advice,
        [
            "\"travel\", \"lock_down\" are redrawn together with \"jig move\": only measuring one of them by itself tells them apart",
            "\"cut\" several times in one piece, in a column of its own, tells \"seat\" from \"stock\"",
            "a log over several of \"blade\" would show \"kerf\"",
        ]
    );
}

#[test]
fn faults_are_named() {
    let row = |set_up, piece, reading| LogReading {
        set_up,
        piece,
        reading,
    };
    let message = |rows: &[LogReading<'_>]| Log::new(rows).unwrap_err().to_string();
    assert_eq!(message(&[]), "a log needs at least 2 set-ups (got 0)");
    assert_eq!(
        message(&[row("mon", "1", 1.0), row("mon", "2", f64::NAN)]),
        "reading 2 must be finite and within ±1e140 (got NaN)"
    );
    let rows = [
        row("mon", "1", 1.0),
        row("mon", "2", 3.0),
        row("tue", "1", 2.0),
        row("tue", "2", 2.0),
    ];
    let log = Log::new(&rows).unwrap();
    assert_eq!(
        log.set_ups_for(1.5, Confidence::default())
            .unwrap_err()
            .to_string(),
        "no spread between set-ups was found, so there is no telling how many would sharpen it"
    );
    let achieved = |spread, achieved| Achieved {
        predicted: 0.0,
        spread,
        achieved,
    };
    assert_eq!(
        Bias::new(&[achieved(1.0, 1.0), achieved(-1.0, 1.0)])
            .unwrap_err()
            .to_string(),
        "set-up 2: the predicted spread must be 0 or above and finite (got -1)"
    );
    assert_eq!(
        Bias::new(&[achieved(1.0, f64::INFINITY)])
            .unwrap_err()
            .to_string(),
        "set-up 1: achieved less predicted must be finite and within ±1e140 (got inf)"
    );
    let none = Bias::new(&[achieved(0.0, 1.0), achieved(0.0, 1.0)]).unwrap();
    assert_eq!(none.spread_ratio(Confidence::default()), None);
    assert_eq!(none.p_value(), 0.0); // twice the same, and not 0
}

// Eight set-ups (spread 2) of three pieces (spread 1), each read twice (spread 0.3). The gauge's interval is exact; those of
// set-up and piece are differences of mean squares, held to 94 % less 4 standard errors as such intervals are known to
// keep (Burdick and Graybill 1992); the mean's is exact for an even log.
#[test]
fn intervals_cover_the_truth() {
    let mut normals = Normals::new(41);
    let confidence = Confidence::default();
    let mut hits = [0; 4];
    for _ in 0..4000 {
        let mut rows = Vec::new();
        for set_up in ["a", "b", "c", "d", "e", "f", "g", "h"] {
            let of_set_up = 2.0 * normals.draw();
            for piece in ["1", "2", "3"] {
                let of_piece = of_set_up + normals.draw();
                for _ in 0..2 {
                    let reading = of_piece + 0.3 * normals.draw();
                    rows.push(LogReading {
                        set_up,
                        piece,
                        reading,
                    });
                }
            }
        }
        let log = Log::new(&rows).unwrap();
        let spreads = log.spreads(confidence);
        let truth = [
            spreads.repeat.unwrap().interval.contains(0.09),
            log.mean_interval(confidence).contains(0.0),
            spreads.set_up.interval.contains(4.0),
            spreads.piece.interval.contains(1.0),
        ];
        for (hit, is_in) in hits.iter_mut().zip(truth) {
            *hit += u32::from(is_in);
        }
    }
    let what = format!("{hits:?}");
    assert_covers(hits[0], 4000, 0.95, &what);
    assert_covers(hits[1], 4000, 0.95, &what);
    assert_covers(hits[2], 4000, 0.94, &what);
    assert_covers(hits[3], 4000, 0.94, &what);
}

// A saw that is off by 1 and a prediction that is right otherwise: both intervals are exact.
#[test]
fn the_bias_and_the_ratio_of_spreads_cover_the_truth() {
    let mut normals = Normals::new(42);
    let confidence = Confidence::default();
    let (mut biases, mut ratios) = (0, 0);
    for _ in 0..4000 {
        let rows: Vec<Achieved> = (0..6)
            .map(|_| Achieved {
                predicted: 5.0,
                spread: 0.5,
                achieved: 6.0 + 0.5 * normals.draw(),
            })
            .collect();
        let bias = Bias::new(&rows).unwrap();
        biases += u32::from(bias.interval(confidence).contains(1.0));
        let ratio = bias.spread_ratio(confidence).unwrap();
        ratios += u32::from(ratio.interval.contains(1.0));
    }
    assert_covers(biases, 4000, 0.95, "bias");
    assert_covers(ratios, 4000, 0.95, "ratio");
}
