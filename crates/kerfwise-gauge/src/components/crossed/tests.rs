use super::*;
use crate::testing::{Normals, assert_covers, assert_near};

/// Ten parts by three people, three readings each: measurement systems analysis reference manual of the automotive industry
/// action group, 4th edition (2010), the running example.
const MANUAL: [[[f64; 3]; 3]; 10] = [
    [[0.29, 0.41, 0.64], [0.08, 0.25, 0.07], [0.04, -0.11, -0.15]],
    [
        [-0.56, -0.68, -0.58],
        [-0.47, -1.22, -0.68],
        [-1.38, -1.13, -0.96],
    ],
    [[1.34, 1.17, 1.27], [1.19, 0.94, 1.34], [0.88, 1.09, 0.67]],
    [[0.47, 0.50, 0.64], [0.01, 1.03, 0.20], [0.14, 0.20, 0.11]],
    [
        [-0.80, -0.92, -0.84],
        [-0.56, -1.20, -1.28],
        [-1.46, -1.07, -1.45],
    ],
    [
        [0.02, -0.11, -0.21],
        [-0.20, 0.22, 0.06],
        [-0.29, -0.67, -0.49],
    ],
    [[0.59, 0.75, 0.66], [0.47, 0.55, 0.83], [0.02, 0.01, 0.21]],
    [
        [-0.31, -0.20, -0.17],
        [-0.63, 0.08, -0.34],
        [-0.46, -0.56, -0.49],
    ],
    [[2.26, 1.99, 2.01], [1.80, 2.12, 2.19], [1.77, 1.45, 1.87]],
    [
        [-1.36, -1.25, -1.31],
        [-1.68, -1.62, -1.50],
        [-1.49, -1.77, -2.16],
    ],
];

/// Twenty parts by three people, two readings each: Montgomery, Design and Analysis of Experiments, table 13.1.
const TEXTBOOK: [[[f64; 2]; 3]; 20] = [
    [[21., 20.], [20., 20.], [19., 21.]],
    [[24., 23.], [24., 24.], [23., 24.]],
    [[20., 21.], [19., 21.], [20., 22.]],
    [[27., 27.], [28., 26.], [27., 28.]],
    [[19., 18.], [19., 18.], [18., 21.]],
    [[23., 21.], [24., 21.], [23., 22.]],
    [[22., 21.], [22., 24.], [22., 20.]],
    [[19., 17.], [18., 20.], [19., 18.]],
    [[24., 23.], [25., 23.], [24., 24.]],
    [[25., 23.], [26., 25.], [24., 25.]],
    [[21., 20.], [20., 20.], [21., 20.]],
    [[18., 19.], [17., 19.], [18., 19.]],
    [[23., 25.], [25., 25.], [25., 25.]],
    [[24., 24.], [23., 25.], [24., 25.]],
    [[29., 30.], [30., 28.], [31., 30.]],
    [[26., 26.], [25., 26.], [25., 27.]],
    [[20., 20.], [19., 20.], [20., 20.]],
    [[19., 21.], [19., 19.], [21., 23.]],
    [[25., 26.], [25., 24.], [25., 25.]],
    [[19., 19.], [18., 17.], [19., 17.]],
];

const NAMES: [&str; 20] = [
    "a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l", "m", "n", "o", "p", "q", "r", "s",
    "t",
];

fn study<const R: usize>(
    table: &[[[f64; R]; 3]],
    keep: impl Fn(usize, usize, usize) -> bool,
) -> GaugeStudy {
    let mut rows = Vec::new();
    for (i, part) in table.iter().enumerate() {
        for (j, readings) in part.iter().enumerate() {
            for (k, &reading) in readings.iter().enumerate() {
                if keep(i, j, k) {
                    rows.push(GaugeReading {
                        part: NAMES[i],
                        person: NAMES[j],
                        reading,
                    });
                }
            }
        }
    }
    GaugeStudy::new(&rows).unwrap()
}

fn whole<const R: usize>(table: &[[[f64; R]; 3]]) -> GaugeStudy {
    study(table, |_, _, _| true)
}

// The manual prints squares 88.3619, 3.1673, 0.3590, 2.7589, F of the interaction 0.434, and of the pooled model standard
// deviations EV 0.199933, AV 0.226838, GRR 0.302373, PV 1.042327, TV 1.085, and 4 classes; more digits computed independently.
#[test]
fn the_manual_s_example() {
    let study = whole(&MANUAL);
    // Because readings of two decimals are rounded in binary and squares of sums are taken of them.
    assert_near(study.part().sum_of_squares, 88.361_934_444_444_44, 1e-13);
    assert_near(
        study.person().sum_of_squares,
        3.167_262_222_222_222_4,
        1e-12,
    );
    assert_near(
        study.interaction().sum_of_squares,
        0.358_982_222_222_222_2,
        1e-12,
    );
    assert_near(
        study.repeat().sum_of_squares,
        2.758_933_333_333_333_2,
        1e-12,
    );
    assert_near(
        study.interaction_p_value().unwrap(),
        0.974_106_404_329_046_2,
        1e-11,
    );
    let found = study.components(Interaction::Tested, Confidence::default());
    assert!(found.pooled && found.interaction.is_none());
    assert_eq!(found.estimator, Estimator::AnalysisOfVariance);
    let rows = [
        (found.repeatability, 0.199_933_179_720_816_62),
        (found.reproducibility, 0.226_837_521_496_322_33),
        (found.gauge, 0.302_371_522_322_904_7),
        (found.part, 1.042_327_493_838_035),
        (found.total, 1.085_299_563_218_630_2),
    ];
    for (component, sd) in rows {
        assert_near(component.standard_deviation(), sd, 1e-12);
    }
    assert_near(found.distinct_classes(), 4.875_041_362_678_109, 1e-12);
    // Six standard deviations of the gauge in a band of 4.
    let (share, interval) = found.share_of_band(4.0).unwrap();
    assert_near(share, 1.5 * 0.302_371_522_322_904_7, 1e-12);
    assert!(interval.contains(share));
}

// Intervals with the interaction kept, computed independently from the formula of Burdick, Borror and Montgomery (2005) for the
// gauge and from χ² for repeatability. Restricted likelihood, maximised independently with numpy on all readings, gives the
// pooled estimates where the interaction vanishes.
#[test]
fn the_manual_s_example_with_the_interaction_kept() {
    let found = whole(&MANUAL).components(Interaction::Kept, Confidence::default());
    assert_eq!(found.estimator, Estimator::RestrictedLikelihood);
    // Because the references are those of the mean squares, good to 1e-13.
    assert_near(found.gauge.interval.lower, 0.049_920_639_517_577_94, 1e-11);
    assert_near(found.gauge.interval.upper, 2.121_706_931_297_580_5, 1e-11);
    let repeatability = found.repeatability.standard_deviation_interval();
    assert_near(repeatability.lower, 0.181_992_781_956_290_43, 1e-11);
    assert_near(repeatability.upper, 0.261_060_385_157_583_84, 1e-11);
    assert_eq!(found.interaction.unwrap().variance.to_bits(), 0);
    // Because the score is rounded, 1e-9 of the variances.
    assert_near(found.person.variance, 0.051_455_261_158_594_494, 1e-9);
    assert_near(found.part.variance, 1.086_446_604_410_678_4, 1e-9);
}

// Montgomery prints 62.391, 1.308, 0.712 and 0.992 as mean squares, p 0.861 of the interaction and pooled components 10.2513,
// 0.0106, 0.8832; more digits, the intervals and the likelihood (numpy, all readings) computed independently.
#[test]
fn the_textbook_s_negative_interaction() {
    let study = whole(&TEXTBOOK);
    // Whole numbers: a few roundings.
    assert_near(study.part().mean_square(), 62.390_789_473_684_21, 1e-13);
    assert_near(study.person().mean_square(), 1.308_333_333_333_333_3, 1e-12);
    assert_near(
        study.interaction().mean_square(),
        0.711_842_105_263_157_9,
        1e-12,
    );
    assert_near(study.repeat().mean_square(), 0.991_666_666_666_666_7, 1e-13);
    assert_near(
        study.interaction_p_value().unwrap(),
        0.861_434_495_417_459_9,
        1e-11,
    );
    let pooled = study.components(Interaction::Tested, Confidence::default());
    assert_near(pooled.part.variance, 10.251_271_034_729_681, 1e-12);
    assert_near(pooled.person.variance, 0.010_629_251_700_680_272, 1e-11);
    assert_near(
        pooled.repeatability.variance,
        0.883_163_265_306_122_4,
        1e-12,
    );
    assert_near(pooled.distinct_classes(), 4.789_448_400_102_761, 1e-12);
    let kept = study.components(Interaction::Kept, Confidence::default());
    assert_eq!(kept.estimator, Estimator::RestrictedLikelihood);
    // Because the score is rounded, 1e-9 of the variances; the least is a hundredth of the largest of the gauge.
    assert_near(kept.part.variance, 10.251_271_034_729_088, 1e-9);
    assert_near(kept.person.variance, 0.010_629_251_700_679_887, 1e-7);
    assert_near(kept.repeatability.variance, 0.883_163_265_306_121_7, 1e-9);
    assert_near(kept.gauge.interval.lower, 0.686_636_849_408_775_7, 1e-11);
    assert_near(kept.gauge.interval.upper, 2.167_699_543_891_495, 1e-11);
}

// Restricted likelihood, maximised independently with numpy on all readings.
#[test]
fn uneven_studies_by_restricted_likelihood() {
    let uneven = study(&MANUAL, |i, j, k| {
        !(j == 2 && i < 5 && k == 2 || j == 1 && i == 6 && k > 0)
    });
    for interaction in [Interaction::Kept, Interaction::Pooled] {
        let found = uneven.components(interaction, Confidence::default());
        assert_eq!(found.estimator, Estimator::RestrictedLikelihood);
        // Because the reference's own steps end at 1e-13 and its matrices are 83 wide.
        assert_near(found.part.variance, 1.086_524_846_625_942, 1e-9);
        assert_near(found.person.variance, 0.047_603_742_807_387_86, 1e-9);
        assert_near(
            found.repeatability.variance,
            0.041_057_659_428_938_346,
            1e-9,
        );
    }
    // Invented: an interaction, and people who differ in nothing else.
    let rows: [(&str, &str, &[f64]); 6] = [
        ("a", "Ann", &[1.0, 3.0, 2.0]),
        ("a", "Bo", &[6.0, 5.0]),
        ("b", "Ann", &[12.0, 13.0]),
        ("b", "Bo", &[11.0, 12.0, 10.0, 11.0]),
        ("c", "Ann", &[25.0]),
        ("c", "Bo", &[21.0, 23.0, 22.0]),
    ];
    let rows: Vec<GaugeReading<'_>> = rows
        .iter()
        .flat_map(|&(part, person, readings)| {
            readings.iter().map(move |&reading| GaugeReading {
                part,
                person,
                reading,
            })
        })
        .collect();
    let found = GaugeStudy::new(&rows)
        .unwrap()
        .components(Interaction::Kept, Confidence::default());
    assert_near(found.part.variance, 95.985_821_309_940_39, 1e-9);
    assert_eq!(found.person.variance.to_bits(), 0);
    assert_near(
        found.interaction.unwrap().variance,
        3.489_362_841_686_138,
        1e-9,
    );
    assert_near(found.repeatability.variance, 0.780_042_052_378_371, 1e-9);
}

#[test]
fn read_once_the_interaction_is_in_the_repeatability() {
    let once = study(&MANUAL, |_, _, k| k == 0);
    assert_eq!(once.interaction_p_value(), None);
    let found = once.components(Interaction::Kept, Confidence::default());
    assert!(found.pooled);
    assert_near(
        found.repeatability.variance,
        once.interaction().mean_square(),
        1e-15,
    );
}

#[test]
fn faults_are_named() {
    let row = |part, person, reading| GaugeReading {
        part,
        person,
        reading,
    };
    let message = |rows: &[GaugeReading<'_>]| GaugeStudy::new(rows).unwrap_err().to_string();
    assert_eq!(
        message(&[]),
        "a gauge study needs at least 2 parts and 2 people (got 0 and 0): for one person, compare the parts as groups"
    );
    let mut rows = vec![
        row("a", "Ann", 1.0),
        row("a", "Bo", 1.0),
        row("b", "Ann", 1.0),
        row("b", "Bo", f64::INFINITY),
    ];
    assert_eq!(
        message(&rows),
        "reading 4 must be finite and within ±1e140 (got inf)"
    );
    rows[3].reading = 1.0;
    let equal = GaugeStudy::new(&rows).unwrap();
    let found = equal.components(Interaction::Kept, Confidence::default());
    assert_eq!(found.total.variance.to_bits(), 0);
    assert_eq!(found.distinct_classes().to_bits(), 0);
    assert_eq!(
        found.share_of_band(0.0).unwrap_err().to_string(),
        "the width of a band must be above 0 and finite (got 0)"
    );
}

// Ten parts, three people, two readings, variances 1 (part), 0.05 (person), 0.02 (interaction), 0.03 (repeat). Repeatability
// is exact. The others are known to cover at or above their stated rate for three people (Burdick, Borror and Montgomery 2005);
// each is held to that rate less 1 point and 4 standard errors.
#[test]
fn intervals_cover_the_truth() {
    let mut normals = Normals::new(11);
    let mut hits = [0; 5];
    for _ in 0..4000 {
        let people: Vec<f64> = (0..3).map(|_| 0.05_f64.sqrt() * normals.draw()).collect();
        let table: Vec<[[f64; 2]; 3]> = (0..10)
            .map(|_| {
                let part = normals.draw();
                std::array::from_fn(|j| {
                    let cell = part + people[j] + 0.02_f64.sqrt() * normals.draw();
                    std::array::from_fn(|_| cell + 0.03_f64.sqrt() * normals.draw())
                })
            })
            .collect();
        let found = whole(&table).components(Interaction::Kept, Confidence::default());
        let truth = [
            (found.repeatability, 0.03),
            (found.reproducibility, 0.07),
            (found.gauge, 0.10),
            (found.part, 1.0),
            (found.total, 1.10),
        ];
        for (hit, (component, variance)) in hits.iter_mut().zip(truth) {
            *hit += u32::from(component.interval.contains(variance));
        }
    }
    let what = format!("{hits:?}");
    assert_covers(hits[0], 4000, 0.95, &what);
    for hit in &hits[1..] {
        assert_covers(*hit, 4000, 0.94, &what);
    }
}
