use super::*;
use crate::testing::{Normals, assert_covers, assert_near};
use proptest::prelude::*;

fn tolerance(content: f64, confidence: f64) -> Tolerance {
    Tolerance::new(content, Confidence::new(confidence).unwrap()).unwrap()
}

fn sample(n: u64) -> Sample {
    Sample::new(n, 0.0, 1.0).unwrap()
}

// Readings, share, confidence, two-sided and one-sided factor, computed independently at 22 digits with mpmath. They agree with
// all that is printed in Meeker, Hahn and Escobar, table J.5b, and Montgomery and Runger, table XII, for these sizes.
const FACTORS: [(u64, f64, f64, f64, f64); 54] = [
    (5, 0.9, 0.9, 3.499_263_021_865_798_5, 2.742_348_202_951_292),
    (5, 0.9, 0.95, 4.290_604_070_686_454, 3.406_633_262_800_809_4),
    (5, 0.9, 0.99, 6.654_929_690_632_792, 5.361_719_675_364_563),
    (5, 0.95, 0.9, 4.142_464_440_335_78, 3.399_833_958_384_927_5),
    (5, 0.95, 0.95, 5.076_874_532_059_398, 4.202_680_741_256_179),
    (5, 0.95, 0.99, 7.869_730_768_888_13, 6.578_336_752_624_2),
    (5, 0.99, 0.9, 5.386_764_745_172_46, 4.665_982_196_083_551),
    (5, 0.99, 0.95, 6.597_976_739_396_555, 5.741_084_517_227_309),
    (5, 0.99, 0.99, 10.220_090_305_042_609, 8.939_024_938_893_025),
    (10, 0.9, 0.9, 2.545_941_682_151_297, 2.065_668_320_001_767_4),
    (
        10,
        0.9,
        0.95,
        2.856_310_848_578_928,
        2.354_640_131_829_060_4,
    ),
    (
        10,
        0.9,
        0.99,
        3.616_621_094_383_058,
        3.047_907_458_137_646_4,
    ),
    (
        10,
        0.95,
        0.9,
        3.025_706_000_795_893_6,
        2.568_373_205_889_100_2,
    ),
    (
        10,
        0.95,
        0.95,
        3.393_429_478_712_607_6,
        2.910_963_413_078_167_4,
    ),
    (10, 0.95, 0.99, 4.294_172_235_390_533, 3.738_314_964_162_107),
    (
        10,
        0.99,
        0.9,
        3.957_961_910_563_809_7,
        3.531_658_750_760_601,
    ),
    (
        10,
        0.99,
        0.95,
        4.436_908_728_948_543,
        3.981_117_845_273_060_2,
    ),
    (10, 0.99, 0.99, 5.610_168_286_814_599, 5.073_725_348_045_278),
    (20, 0.9, 0.9, 2.158_328_409_863_755, 1.765_206_311_766_704),
    (
        20,
        0.9,
        0.95,
        2.318_791_074_601_538_3,
        1.925_990_972_262_196_4,
    ),
    (
        20,
        0.9,
        0.99,
        2.675_186_082_986_943_6,
        2.275_645_895_804_022,
    ),
    (20, 0.95, 0.9, 2.569_647_663_888_556, 2.207_779_393_255_218),
    (
        20,
        0.95,
        0.95,
        2.760_346_178_445_701_5,
        2.396_001_683_752_17,
    ),
    (
        20,
        0.95,
        0.99,
        3.183_781_183_420_600_7,
        2.807_866_058_023_041_7,
    ),
    (
        20,
        0.99,
        0.9,
        3.371_519_393_489_228,
        3.051_542_582_066_932_4,
    ),
    (
        20,
        0.99,
        0.95,
        3.620_986_173_759_611_4,
        3.295_156_936_170_855,
    ),
    (
        20,
        0.99,
        0.99,
        4.174_746_439_605_194,
        3.831_557_985_599_078_5,
    ),
    (30, 0.9, 0.9, 2.028_871_154_376_739, 1.657_064_913_130_377),
    (
        30,
        0.9,
        0.95,
        2.145_111_091_944_986_7,
        1.777_328_797_833_493_3,
    ),
    (30, 0.9, 0.99, 2.393_966_454_517_516, 2.029_834_190_121_624),
    (30, 0.95, 0.9, 2.416_586_817_203_49, 2.079_816_970_704_819_7),
    (
        30,
        0.95,
        0.95,
        2.554_892_813_277_691_6,
        2.219_837_532_035_056_5,
    ),
    (30, 0.95, 0.99, 2.850_929_820_472_349, 2.515_486_154_897_651),
    (30, 0.99, 0.9, 3.173_308_609_367_93, 2.883_724_685_463_042),
    (
        30,
        0.99,
        0.95,
        3.354_575_844_793_448_6,
        3.063_901_126_238_169_2,
    ),
    (
        30,
        0.99,
        0.99,
        3.742_463_497_240_461_6,
        3.446_505_961_217_232_6,
    ),
    (43, 0.9, 0.9, 1.946_372_656_309_035, 1.584_799_908_356_156),
    (
        43,
        0.9,
        0.95,
        2.035_898_643_612_147_6,
        1.679_553_214_025_003_6,
    ),
    (
        43,
        0.9,
        0.99,
        2.222_825_173_791_124_4,
        1.873_953_605_851_199_6,
    ),
    (
        43,
        0.95,
        0.9,
        2.318_785_794_595_119_6,
        1.994_927_428_202_999_8,
    ),
    (
        43,
        0.95,
        0.95,
        2.425_376_527_370_808,
        2.104_809_996_621_276_5,
    ),
    (43, 0.95, 0.99, 2.647_906_762_869_405, 2.331_399_024_948_98),
    (43, 0.99, 0.9, 3.046_091_790_895_789_4, 2.773_272_428_628_41),
    (
        43,
        0.99,
        0.95,
        3.185_950_996_482_225_7,
        2.914_074_661_354_457_7,
    ),
    (
        43,
        0.99,
        0.99,
        3.477_880_820_615_320_4,
        3.205_916_132_527_978_6,
    ),
    (
        100,
        0.9,
        0.9,
        1.823_185_623_913_457,
        1.470_061_565_185_352_6,
    ),
    (
        100,
        0.9,
        0.95,
        1.874_807_543_792_47,
        1.526_748_747_850_306_3,
    ),
    (
        100,
        0.9,
        0.99,
        1.978_332_770_662_159_2,
        1.638_979_611_906_856_5,
    ),
    (
        100,
        0.95,
        0.9,
        2.172_381_090_319_771,
        1.861_251_648_896_646_2,
    ),
    (
        100,
        0.95,
        0.95,
        2.233_882_023_044_248_7,
        1.926_538_850_512_315_5,
    ),
    (
        100,
        0.95,
        0.99,
        2.357_216_333_598_72,
        2.056_286_491_968_201_3,
    ),
    (
        100,
        0.99,
        0.9,
        2.854_753_505_138_283_7,
        2.600_902_813_117_179_4,
    ),
    (
        100,
        0.99,
        0.95,
        2.935_549_241_147_595_6,
        2.683_957_855_691_278,
    ),
    (
        100,
        0.99,
        0.99,
        3.097_570_204_900_755,
        2.849_648_117_597_919_6,
    ),
];

// Readings, share, confidence, two-sided factor: ISO 16269-6:2014, annex F, which rounds the fourth decimal up.
const ANNEX_F: [(u64, f64, f64, f64); 60] = [
    (2, 0.9, 0.9, 15.512_4),
    (8, 0.9, 0.9, 2.754_2),
    (16, 0.9, 0.9, 2.253_7),
    (35, 0.9, 0.9, 1.990_6),
    (100, 0.9, 0.9, 1.823_2),
    (300, 0.9, 0.9, 1.740_1),
    (1000, 0.9, 0.9, 1.694_7),
    (3, 0.95, 0.9, 6.823_3),
    (9, 0.95, 0.9, 3.132_3),
    (15, 0.95, 0.9, 2.719_6),
    (30, 0.95, 0.9, 2.416_6),
    (90, 0.95, 0.9, 2.186_2),
    (150, 0.95, 0.9, 2.127_6),
    (400, 0.95, 0.9, 2.056_9),
    (1000, 0.95, 0.9, 2.019_3),
    (4, 0.99, 0.9, 6.372_2),
    (8, 0.99, 0.9, 4.270_7),
    (17, 0.99, 0.9, 3.474_1),
    (28, 0.99, 0.9, 3.202_3),
    (100, 0.99, 0.9, 2.854_8),
    (300, 0.99, 0.9, 2.724_9),
    (1000, 0.99, 0.9, 2.653_8),
    (2, 0.9, 0.95, 31.092_3),
    (8, 0.9, 0.95, 3.156_1),
    (16, 0.9, 0.95, 2.448_6),
    (35, 0.9, 0.95, 2.094_3),
    (150, 0.9, 0.95, 1.826),
    (500, 0.9, 0.95, 1.737_4),
    (1000, 0.9, 0.95, 1.708_8),
    (5, 0.95, 0.95, 5.076_9),
    (10, 0.95, 0.95, 3.393_5),
    (26, 0.95, 0.95, 2.618_8),
    (90, 0.95, 0.95, 2.251_9),
    (200, 0.95, 0.95, 2.143),
    (1000, 0.95, 0.95, 2.036_2),
    (3, 0.99, 0.95, 12.647_2),
    (9, 0.99, 0.95, 4.632_9),
    (17, 0.99, 0.95, 3.760_6),
    (35, 0.99, 0.95, 3.276_2),
    (100, 0.99, 0.95, 2.935_6),
    (500, 0.99, 0.95, 2.720_8),
    (4, 0.9, 0.99, 9.416_2),
    (10, 0.9, 0.99, 3.616_7),
    (22, 0.9, 0.99, 2.597_9),
    (80, 0.9, 0.99, 2.028_2),
    (200, 0.9, 0.99, 1.865_7),
    (1000, 0.9, 0.99, 1.735_9),
    (2, 0.95, 0.99, 182.720_1),
    (9, 0.95, 0.99, 4.581),
    (17, 0.95, 0.99, 3.364_1),
    (40, 0.95, 0.99, 2.683_6),
    (150, 0.95, 0.99, 2.271_2),
    (500, 0.95, 0.99, 2.117_5),
    (3, 0.99, 0.99, 28.585_7),
    (7, 0.99, 0.99, 7.190_8),
    (15, 0.99, 0.99, 4.621_2),
    (28, 0.99, 0.99, 3.804_2),
    (70, 0.99, 0.99, 3.228_4),
    (200, 0.99, 0.99, 2.921_5),
    (1000, 0.99, 0.99, 2.718_4),
];

#[test]
fn factors_to_eleven_digits() {
    for (n, content, confidence, two, one) in FACTORS {
        let tolerance = tolerance(content, confidence);
        // Because the references were found by roots to 1e-12.
        assert_near(tolerance.two_sided_factor(&sample(n)).unwrap(), two, 1e-11);
        assert_near(tolerance.one_sided_factor(&sample(n)).unwrap(), one, 1e-11);
    }
}

#[test]
fn printed_factors_of_the_standard() {
    for (n, content, confidence, printed) in ANNEX_F {
        let k = tolerance(content, confidence)
            .two_sided_factor(&sample(n))
            .unwrap();
        assert!(
            k <= printed + 1e-9 && k > printed - 1e-4 - 1e-9,
            "{n}: {k} for {printed}"
        );
    }
}

// Wilks (1941); ISO 16269-6 (numbers from memory, recomputed independently): share, confidence, order, for one side, for two.
#[test]
fn numbers_of_readings_without_a_distribution() {
    for (content, confidence, order, one, two) in [
        (0.95, 0.95, 1, 59, 93),
        (0.95, 0.95, 2, 93, 153),
        (0.95, 0.95, 3, 124, 208),
        (0.95, 0.95, 4, 153, 260),
        (0.9, 0.95, 1, 29, 46),
        (0.99, 0.95, 1, 299, 473),
        (0.95, 0.9, 1, 45, 77),
        (0.9, 0.9, 1, 22, 38),
        (0.99, 0.9, 1, 230, 388),
        (0.99, 0.99, 1, 459, 662),
        (0.95, 0.99, 1, 90, 130),
        (0.9, 0.99, 1, 44, 64),
    ] {
        let tolerance = tolerance(content, confidence);
        assert_eq!(tolerance.least_count(order, Sides::One).unwrap(), one);
        assert_eq!(tolerance.least_count(order, Sides::Two).unwrap(), two);
    }
}

// What the smallest and the largest of n are sure to hold with 95 %, computed independently with scipy.
#[test]
fn confidence_of_the_extremes() {
    for (n, content) in [
        (8, 0.529_320_591_398_868_3),
        (12, 0.661_319_331_565_967_6),
        (24, 0.817_107_530_244_353_7),
        (50, 0.908_601_869_280_302_6),
    ] {
        // Because the content is printed to 16 digits and its slope is about n.
        assert_near(tolerance(content, 0.5).free_confidence(n, 2), 0.95, 1e-13);
    }
}

#[test]
fn faults_are_named() {
    assert_eq!(
        Tolerance::new(1.0, Confidence::default())
            .unwrap_err()
            .to_string(),
        "the share of pieces must be above 0 and below 1, such as 0.95 (got 1)"
    );
    let tolerance = tolerance(0.9, 0.9);
    assert_eq!(
        tolerance
            .least_count(0, Sides::One)
            .unwrap_err()
            .to_string(),
        "the order of a reading is counted from 1 (got 0)"
    );
    assert_eq!(
        tolerance
            .free_limits(&[1.0, f64::NAN])
            .unwrap_err()
            .to_string(),
        "reading 2 is not a number"
    );
    let near_one = Tolerance::new(1.0 - 1e-12, Confidence::default()).unwrap();
    assert_eq!(
        near_one.least_count(1, Sides::One).unwrap_err().to_string(),
        "no limit for a share of 0.999999999999 with confidence 0.95: take a share or confidence farther from 0 and 1"
    );
}

// Exact methods: they cover at their stated rate, within 4 binomial standard errors on either side.
#[test]
fn limits_hold_the_share_as_often_as_stated() {
    let tolerance = tolerance(0.9, 0.95);
    let (two, one) = (
        tolerance.two_sided_factor(&sample(8)).unwrap(),
        tolerance.one_sided_factor(&sample(8)).unwrap(),
    );
    let mut normals = Normals::new(21);
    let (mut twos, mut ones, mut frees) = (0, 0, 0);
    for _ in 0..8000 {
        let readings = normals.column(8);
        let found = crate::Moments::of(&readings).unwrap().sample().unwrap();
        let (mean, sd) = (found.mean(), found.standard_deviation());
        twos += u32::from(normal_interval(mean - two * sd, mean + two * sd) >= 0.9);
        ones += u32::from(mean + one * sd >= normal_quantile(0.9));
        // Any law will do: here the rectangular one, of which 46 readings are wanted.
        let readings: Vec<f64> = (0..46).map(|_| normals.uniform()).collect();
        let limits = tolerance.free_limits(&readings).unwrap();
        frees += u32::from(limits.upper - limits.lower >= 0.9);
    }
    for hits in [twos, ones, frees] {
        assert_covers(hits, 8000, 0.95, "a share of 0.9");
        assert_covers(8000 - hits, 8000, 0.046, "misses"); // 0.04802 with 46 readings, else 0.05
    }
}

proptest! {
    #[test]
    fn any_parameters_give_a_factor_or_an_error(
        n in 2_u64..200,
        content in 1e-9_f64..1.0,
        confidence in 1e-9_f64..1.0,
    ) {
        let (tolerance, sample) = (tolerance(content, confidence), sample(n));
        if let Ok(k) = tolerance.two_sided_factor(&sample) {
            prop_assert!(k > 0.0 && k.is_finite());
        }
        if let Ok(k) = tolerance.one_sided_factor(&sample) {
            prop_assert!(k.is_finite());
        }
        if let Ok(count) = tolerance.least_count(1, Sides::Two) {
            prop_assert!(tolerance.free_confidence(count, 2) >= confidence);
        }
    }
}
