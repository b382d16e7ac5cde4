use super::*;
use crate::published::{last_column, num_acc, set};
use crate::testing::assert_near;
use proptest::prelude::*;

/// Mean, standard deviation and lag-1 autocorrelation of a set: as certified, and of the numbers that the decimals become
/// in binary, by exact rational arithmetic (computed independently).
struct Certified {
    name: &'static str,
    values: Vec<f64>,
    certified: [f64; 3],
    on_binary: [f64; 3],
    /// How far the second may be from the first, relative: what rounding the decimals to binary costs.
    apart: f64,
}

fn exact_set(name: &'static str, values: Vec<f64>, certified: [f64; 3]) -> Certified {
    Certified {
        name,
        values,
        certified,
        on_binary: certified,
        apart: 1e-13,
    }
}

/// NIST Statistical Reference Datasets, univariate: all nine.
fn nist() -> Vec<Certified> {
    let one = |rows: Vec<Vec<f64>>| last_column(&rows);
    vec![
        exact_set(
            "PiDigits",
            one(set("pidigits")),
            [4.5348, 2.867_339_060_288_71, -0.003_550_992_872_379_72],
        ),
        exact_set(
            "Lottery",
            one(set("lottery")),
            [
                518.958_715_596_330,
                291.699_727_470_969,
                -0.120_948_622_967_393,
            ],
        ),
        exact_set(
            "Lew",
            one(set("lew")),
            [-177.435, 277.332_168_044_316, -0.307_304_800_605_679],
        ),
        exact_set(
            "NumAcc1",
            vec![10_000_001.0, 10_000_003.0, 10_000_002.0],
            [10_000_002.0, 1.0, -0.5],
        ),
        exact_set(
            "NumAcc2",
            num_acc(["1.2", "1.1", "1.3"]),
            [1.2, 0.1, -0.999],
        ),
        Certified {
            name: "Mavro",
            values: one(set("mavro")),
            certified: [2.001_856, 0.000_429_123_454_003_053, 0.937_989_183_438_248],
            on_binary: [
                2.001_856,
                0.000_429_123_454_003_085_4,
                0.937_989_183_438_258_9,
            ],
            apart: 1e-13,
        },
        Certified {
            name: "Michelso",
            values: one(set("michelso")),
            certified: [299.8524, 0.079_010_547_819_051_8, 0.535_199_668_621_283],
            on_binary: [299.852_4, 0.079_010_547_819_050_67, 0.535_199_668_621_263_6],
            apart: 1e-13,
        },
        Certified {
            name: "NumAcc3",
            values: num_acc(["1000000.2", "1000000.1", "1000000.3"]),
            certified: [1_000_000.2, 0.1, -0.999],
            on_binary: [
                1_000_000.2,
                0.100_000_000_034_924_6,
                -0.998_999_999_999_418_5,
            ],
            apart: 4e-10,
        },
        Certified {
            name: "NumAcc4",
            values: num_acc(["10000000.2", "10000000.1", "10000000.3"]),
            certified: [10_000_000.2, 0.1, -0.999],
            on_binary: [
                10_000_000.2,
                0.100_000_000_558_793_54,
                -0.998_999_999_990_696_1,
            ],
            apart: 6e-9,
        },
    ]
}

#[test]
fn all_nine_univariate_sets_to_the_last_digits() {
    for set in nist() {
        let found = Summary::new(&set.values).unwrap();
        let found = [
            found.sample.mean(),
            found.sample.standard_deviation(),
            found.autocorrelation.unwrap(),
        ];
        for (i, value) in found.into_iter().enumerate() {
            let what = format!("{}, {i}: {value}", set.name);
            let of_binary = (value / set.on_binary[i] - 1.0).abs();
            // The printed references have 15 digits and the autocorrelation two sums of rounded products.
            assert!(
                of_binary < 5e-15 * if i == 2 { 20.0 } else { 1.0 },
                "{what}"
            );
            assert!((value / set.certified[i] - 1.0).abs() < set.apart, "{what}");
        }
    }
}

// Adjusted A² and p computed independently; A² of the 500 numbers is printed as 1.0612 in the NIST/SEMATECH e-Handbook, 1.4.2
// (from memory).
#[test]
fn anderson_darling_of_published_sets() {
    let one = |rows: Vec<Vec<f64>>| last_column(&rows);
    let rows = [
        (
            one(set("normal-random-500")),
            1.061_236_682_463_721,
            0.008_625_506_211_582_713,
        ),
        (one(set("heat-flow-meter")), 0.126_478_783_1, 0.985_019),
        (
            one(set("mavro")),
            1.668_465_484_656_045_4,
            0.000_241_272_551_571_837_44,
        ),
        (one(set("michelso")), 0.460_763_855_7, 0.254_957),
        (one(set("lew")), 6.000_646_916, 8.324_83e-15),
        (one(set("lottery")), 2.573_726_471, 1.630_08e-6),
    ];
    for (values, statistic, p_value) in rows {
        let found = Summary::new(&values).unwrap().normality.unwrap();
        // Because the references are printed to so many digits.
        assert_near(found.statistic, statistic, 1e-9);
        assert_near(found.p_value, p_value, 1e-5);
    }
}

// Slope over the order and its t, computed independently with 64-bit least squares.
#[test]
fn drift_of_published_sets() {
    let one = |rows: Vec<Vec<f64>>| last_column(&rows);
    let rows = [
        (
            one(set("lew")),
            0.007_365_934_148_353_74,
            0.021_631_323_732_636_25,
            0.982_763_829_937_233_4,
        ),
        (
            one(set("mavro")),
            1.846_818_727_491_272_7e-5,
            5.581_598_258_675_272,
            1.085_002_766_645_927e-6,
        ),
        (
            one(set("michelso")),
            -0.000_928_532_853_285_318_3,
            -3.590_283_308_415_562,
            0.000_518_171_556_622_437,
        ),
        (
            one(set("heat-flow-meter")),
            -5.641_135_800_870_644e-5,
            -1.960_010_297_225_943,
            0.051_434_104_025_014_44,
        ),
        (
            one(set("flowrate-individuals")),
            0.510_909_090_909_091,
            3.313_189_362_838_443,
            0.010_647_505_768_351_362,
        ),
    ];
    for (values, slope, t, p_value) in rows {
        let found = Summary::new(&values).unwrap().drift.unwrap();
        // Because the reference was computed in 64 bits, whose sums of large numbers lose some digits.
        assert_near(found.slope, slope, 1e-10);
        assert_near(found.slope / found.standard_error, t, 1e-8);
        assert_near(found.p_value, p_value, 1e-7);
    }
}

// JCGM 100:2008, 4.2 on the flow rates of the NIST/SEMATECH e-Handbook, 6.3.2.2; intervals computed independently.
#[test]
fn intervals_of_the_flow_rates() {
    let flow = Summary::new(&last_column(&set("flowrate-individuals")))
        .unwrap()
        .sample;
    let confidence = Confidence::default();
    // Because the reference has 16 digits and readings of one decimal are rounded in binary.
    assert_near(flow.standard_error(), 0.643_160_598_572_048_3, 1e-13);
    let mean = flow.mean_interval(confidence);
    assert_near(mean.lower, 49.355_069_645_110_66, 1e-13);
    assert_near(mean.upper, 52.264_930_354_889_34, 1e-13);
    let spread = flow.standard_deviation_interval(confidence);
    assert_near(spread.lower, 1.398_955_281_074_400_4, 1e-12);
    assert_near(spread.upper, 3.713_021_637_973_422, 1e-12);
}

#[test]
fn equal_readings_are_no_trouble() {
    let found = Summary::new(&[0.375; 9]).unwrap();
    assert_eq!(found.sample.standard_deviation().to_bits(), 0);
    assert_eq!(found.robust_spread.to_bits(), 0);
    assert_eq!(
        (found.distinct, found.autocorrelation, found.normality),
        (1, None, None)
    );
    let drift = found.drift.unwrap();
    assert_eq!((drift.slope, drift.p_value), (0.0, 1.0));
    // A ruler laid on: slope without scatter.
    let drift = Summary::new(&[1.0, 2.0, 3.0, 4.0]).unwrap().drift.unwrap();
    assert_eq!(
        (drift.slope, drift.standard_error, drift.p_value),
        (1.0, 0.0, 0.0)
    );
}

#[test]
fn faults_are_named() {
    let message = |readings: &[f64]| Summary::new(readings).unwrap_err().to_string();
    assert_eq!(message(&[]), "there are no readings: take at least 2");
    assert_eq!(
        message(&[1.0]),
        "one reading only has no spread: take at least 2"
    );
    assert_eq!(
        message(&[1.0, 2e140]),
        "reading 2 must be within ±1e140 (got 2e140): use a larger unit"
    );
}

// A million readings in constant memory: the first lies a million spreads away from the rest.
#[test]
fn a_million_readings_stream_by_and_the_first_may_be_wild() {
    let mut moments = Moments::new();
    moments.add(1e6).unwrap();
    for i in 0..1_000_000 {
        moments.add(if i % 2 == 0 { 1.0 } else { -1.0 }).unwrap();
    }
    // Σx = 1e6, Σx² = 1e12 + 1e6, n = 1e6 + 1.
    let n = 1_000_001.0;
    let variance = (1e12 + 1e6 - 1e12 / n) / 1e6;
    assert_near(moments.mean().unwrap(), 1e6 / n, 1e-15);
    assert_near(
        moments.standard_deviation().unwrap(),
        variance.sqrt(),
        1e-15,
    );
}

proptest! {
    #[test]
    fn any_readings_give_finite_results_or_an_error(
        readings in prop::collection::vec(prop::num::f64::ANY, 0..24),
    ) {
        if let Ok(found) = Summary::new(&readings) {
            let sample = found.sample;
            prop_assert!(sample.mean().is_finite() && sample.standard_deviation().is_finite());
            prop_assert!(found.smallest <= found.median && found.median <= found.largest);
            prop_assert!(found.robust_spread.is_finite());
            prop_assert!(found.autocorrelation.is_none_or(|r| r.abs() <= 1.0 + 1e-12));
            if let Some(normality) = found.normality {
                prop_assert!((0.0..=1.0).contains(&normality.p_value));
                prop_assert!(normality.statistic.is_finite());
            }
        }
    }

    // Because the shift rounds every reading to 2e-15 and the least spread of distinct ones here is far above.
    #[test]
    fn moving_the_readings_moves_the_mean_and_nothing_else(
        readings in prop::collection::vec(-100_i32..100, 3..30),
        shift in -100_i32..100,
    ) {
        let of = |by: i32| {
            let column: Vec<f64> = readings.iter().map(|x| f64::from(x + by)).collect();
            Summary::new(&column).unwrap()
        };
        let (before, after) = (of(0), of(shift));
        let moved = after.sample.mean() - before.sample.mean();
        prop_assert!((moved - f64::from(shift)).abs() < 1e-12);
        prop_assert_eq!(before.sample.standard_deviation(), after.sample.standard_deviation());
        prop_assert_eq!(before.robust_spread, after.robust_spread);
        prop_assert_eq!(before.distinct, after.distinct);
        prop_assert_eq!(before.outliers.len(), after.outliers.len());
    }
}
