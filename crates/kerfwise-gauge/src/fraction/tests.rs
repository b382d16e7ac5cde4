use super::*;
use crate::testing::assert_near;
use kerfwise_numeric::float;
use kerfwise_numeric::special::ln_gamma;

// Count, of, Clopper–Pearson, Wilson and Jeffreys at 95 %, and the exact one-sided lower limit at 95 %, computed independently with
// mpmath; statsmodels agrees to 1e-9.
#[expect(clippy::type_complexity, reason = "a table")]
const ROWS: [(u64, u64, [f64; 2], [f64; 2], [f64; 2], f64); 14] = [
    (
        23,
        24,
        [0.788_798_316_543_026_9, 0.998_945_647_554_530_3],
        [0.797_581_935_213_440_6, 0.992_606_543_834_494_2],
        [0.821_305_081_201_026_9, 0.995_466_809_872_728_5],
        0.817_107_530_244_353_7,
    ),
    (
        24,
        24,
        [0.857_526_402_277_474_3, 1.0],
        [0.862_023_795_325_019_8, 1.0],
        [0.901_612_395_614_130_2, 1.0],
        0.882_653_843_845_051_2,
    ),
    (
        22,
        24,
        [0.730_027_198_442_396_4, 0.989_743_658_718_749_8],
        [0.741_511_978_067_893_2, 0.976_841_184_702_956_7],
        [0.758_597_026_849_673_7, 0.982_275_345_193_922_1],
        0.760_198_983_871_198_2,
    ),
    (
        0,
        12,
        [0.0, 0.264_648_469_397_051_2],
        [0.0, 0.242_494_006_655_240_9],
        [0.0, 0.185_305_938_312_485_15],
        0.0,
    ),
    (
        12,
        12,
        [0.735_351_530_602_948_8, 1.0],
        [0.757_505_993_344_759_1, 1.0],
        [0.814_694_061_687_514_8, 1.0],
        0.779_077_808_054_444,
    ),
    (
        11,
        12,
        [0.615_203_834_849_055_8, 0.997_892_406_768_139_7],
        [0.646_120_088_858_883_1, 0.985_134_905_595_082_9],
        [0.671_504_273_599_411_6, 0.990_855_673_765_851_5],
        0.661_319_331_565_967_6,
    ),
    (
        8,
        8,
        [0.630_583_352_447_180_7, 1.0],
        [0.675_592_435_116_119_8, 1.0],
        [0.737_782_751_282_814_1, 1.0],
        0.687_656_021_933_632_1,
    ),
    (
        7,
        8,
        [0.473_490_329_124_793_44, 0.996_840_276_468_748_1],
        [0.529_111_817_787_146_4, 0.977_582_508_549_943_3],
        [0.546_280_678_967_585_4, 0.986_161_766_209_679_2],
        0.529_320_591_398_868_3,
    ),
    (
        19,
        20,
        [0.751_267_237_227_972_2, 0.998_734_910_502_050_2],
        [0.763_868_806_553_258, 0.991_118_551_199_204_6],
        [0.789_181_363_750_734_8, 0.994_550_967_418_573_4],
        0.783_893_835_793_152_6,
    ),
    (
        46,
        50,
        [0.807_657_216_404_037_2, 0.977_772_036_345_070_3],
        [0.811_617_530_816_571_6, 0.968_450_485_911_407],
        [0.820_933_850_381_986_3, 0.972_392_909_007_787_7],
        0.826_208_841_835_806_5,
    ),
    (
        95,
        100,
        [0.887_165_088_894_537_3, 0.983_568_120_817_947_9],
        [0.888_249_530_768_080_9, 0.978_456_320_845_632],
        [0.893_899_926_116_897_1, 0.980_668_188_014_133_2],
        0.897_746_622_356_725_5,
    ),
    (
        1,
        1,
        [0.025, 1.0],
        [0.206_549_314_377_237_4, 1.0],
        [0.146_746_316_309_575_1, 1.0],
        0.05,
    ),
    (
        995,
        1000,
        [0.988_370_529_440_187_9, 0.998_374_580_482_437_2],
        [0.988_349_044_626_624_9, 0.997_862_464_472_675_6],
        [0.989_075_335_928_185_8, 0.998_089_647_499_166_1],
        0.989_515_923_088_584_4,
    ),
    (
        16,
        20,
        [0.563_385_997_003_331_6, 0.942_666_002_949_967_3],
        [0.583_982_567_748_106_4, 0.919_342_337_420_202],
        [0.591_774_237_483_074_5, 0.928_479_947_521_269_3],
        0.598_971_882_668_025_4,
    ),
];

#[track_caller]
fn assert_interval(found: Interval, wanted: [f64; 2]) {
    for (found, wanted) in [found.lower, found.upper].into_iter().zip(wanted) {
        // Because the references are rounded to 16 digits, once for 1 less a small number.
        assert_near(found + 1.0, wanted + 1.0, 1e-14);
    }
}

#[test]
fn intervals_of_the_table() {
    for (count, of, exact, wilson, jeffreys, lower) in ROWS {
        let fraction = Fraction::new(count, of).unwrap();
        assert_interval(fraction.exact(Confidence::default()), exact);
        assert_interval(fraction.wilson(Confidence::default()), wilson);
        assert_interval(fraction.jeffreys(Confidence::default()), jeffreys);
        assert_near(
            fraction.exact_lower(Confidence::default()) + 1.0,
            lower + 1.0,
            1e-14,
        );
    }
}

// NIST/SEMATECH e-Handbook, 7.2.4.1: 4 of 20 at 90 %, printed 0.071354 and 0.401029 (from memory; 0.0713539 and 0.4010281 computed
// independently).
#[test]
fn the_handbook_s_four_of_twenty() {
    let found = Fraction::new(4, 20)
        .unwrap()
        .exact(Confidence::new(0.9).unwrap());
    assert_near(found.lower, 0.071_353_9, 1e-6);
    assert_near(found.upper, 0.401_028_1, 1e-6);
}

#[test]
fn faults_and_ends() {
    assert!(Fraction::new(0, 0).is_err());
    let none = Fraction::new(0, 7).unwrap();
    assert_eq!(none.wilson(Confidence::default()).lower.to_bits(), 0);
    assert_eq!(none.jeffreys(Confidence::default()).lower.to_bits(), 0);
    assert!(
        (none.exact_upper(Confidence::default()) - (1.0 - float::powf(0.05, 1.0 / 7.0))).abs()
            < 1e-14
    );
}

/// How often the intervals hold a true fraction: no simulation, but the sum over all counts.
fn coverage(of: u64, p: f64, interval: impl Fn(Fraction) -> Interval) -> f64 {
    let n = of as f64;
    let chance = |k: u64| {
        let k = k as f64;
        let ln = ln_gamma(n + 1.0) - ln_gamma(k + 1.0) - ln_gamma(n - k + 1.0);
        float::exp(ln + k * float::ln(p) + (n - k) * float::ln_1p(-p))
    };
    (0..=of)
        .filter(|&k| interval(Fraction::new(k, of).unwrap()).contains(p))
        .map(chance)
        .sum()
}

// Exact coverage over true fractions 0.005, 0.015 ... 0.995. Clopper–Pearson is never below its rate. Of the approximate ones the
// least and the mean that were found (again with scipy) stand in the rows, rounded down: what a user may count on.
#[test]
fn coverage_over_a_grid() {
    let confidence = Confidence::default();
    for (of, wilson, jeffreys) in [
        (8, (0.886, 0.953), (0.879, 0.953)),
        (24, (0.886, 0.952), (0.896, 0.951)),
        (100, (0.910, 0.950), (0.880, 0.950)),
    ] {
        let grid: Vec<f64> = (0..100).map(|i| (f64::from(i) + 0.5) / 100.0).collect();
        let least_and_mean = |interval: &dyn Fn(Fraction) -> Interval| {
            let found: Vec<f64> = grid.iter().map(|&p| coverage(of, p, interval)).collect();
            let least = found.iter().copied().fold(1.0, f64::min);
            (least, found.iter().sum::<f64>() / 100.0)
        };
        let exact = least_and_mean(&|fraction| fraction.exact(confidence));
        assert!(exact.0 >= 0.95 - 1e-12, "{of}: {exact:?}");
        let rows = [
            (
                least_and_mean(&|fraction| fraction.wilson(confidence)),
                wilson,
            ),
            (
                least_and_mean(&|fraction| fraction.jeffreys(confidence)),
                jeffreys,
            ),
        ];
        for (found, (least, mean)) in rows {
            // Because the rows are rounded down to three decimals.
            assert!(
                found.0 >= least && found.0 < least + 0.001,
                "{of}: {found:?}"
            );
            assert!(found.1 >= mean && found.1 < mean + 0.001, "{of}: {found:?}");
        }
    }
}
