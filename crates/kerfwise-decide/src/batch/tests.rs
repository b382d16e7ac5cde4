use super::*;
use kerfwise_source::{Distribution, LengthUnits, Source};
use kerfwise_stack::{Band, Expr, MonteCarlo};

#[derive(Debug, Clone, Copy)]
enum SetUp {
    Normal(f64),
    Rect(f64),
    Arcsine(f64),
}

/// Pieces, set-up, sd of a piece, mean; then the chance of one, of all, of none, mean and variance of the number that fit,
/// the chance of all if they were independent; the chance of each number. Band ±0.005 in.
///
/// P = E[g(B)^N] and its kin, computed independently with mpmath: mixture sums to 1 within 1e-22, P(all) by two routes to
/// 1e-20; stated tolerance 1e-13.
type Case = (u32, SetUp, f64, f64, [f64; 6], &'static [f64]);

const CASES: &[Case] = &[
    (
        8,
        SetUp::Normal(0.001_5),
        0.001,
        0.0,
        [
            0.994_454_332_684_755_9,
            0.971_808_049_315_830_1,
            6.146_978_869_487_615e-5,
            7.955_634_661_478_047,
            0.102_345_284_064_825_29,
            0.956_486_300_307_118_3,
        ],
        &[
            6.146_978_869_487_615e-5,
            0.000_138_277_727_092_221_22,
            0.000_266_500_882_451_474_6,
            0.000_496_320_303_637_923_3,
            0.000_945_977_048_187_954_3,
            0.001_954_833_304_855_668,
            0.004_848_049_573_280_875,
            0.019_480_522_055_968_875,
            0.971_808_049_315_830_1,
        ],
    ),
    (
        8,
        SetUp::Normal(0.002),
        0.002,
        0.0,
        [
            0.922_900_128_256_458_3,
            0.644_424_988_301_433_9,
            0.000_615_450_388_452_486_7,
            7.383_201_026_051_666,
            1.187_023_761_928_002_4,
            0.526_305_187_610_217_7,
        ],
        &[
            0.000_615_450_388_452_486_7,
            0.001_833_385_250_133_496_7,
            0.004_102_770_569_705_210_5,
            0.008_315_056_385_704_008,
            0.016_431_898_073_701_334,
            0.033_469_943_730_040_135,
            0.075_905_837_957_273_36,
            0.214_900_669_343_556_03,
            0.644_424_988_301_433_9,
        ],
    ),
    (
        8,
        SetUp::Normal(0.0),
        0.002_5,
        0.0,
        [
            0.954_499_736_103_641_6,
            0.688_979_819_230_179_7,
            1.837_009_169_821_382_5e-11,
            7.635_997_888_829_133,
            0.347_439_919_053_761_26,
            0.688_979_819_230_179_7,
        ],
        &[
            1.837_009_169_821_382_5e-11,
            3.082_926_765_978_275_7e-9,
            2.263_565_936_539_591_7e-7,
            9.496_969_485_722_708e-6,
            0.000_249_033_030_021_397_4,
            0.004_179_350_906_235_748,
            0.043_836_991_211_448_88,
            0.262_745_079_194_738_1,
            0.688_979_819_230_179_7,
        ],
    ),
    (
        8,
        SetUp::Normal(0.002_5),
        5.0e-5,
        0.0,
        [
            0.954_456_539_013_744_6,
            0.951_319_646_659_095_4,
            0.042_527_487_181_676_48,
            7.635_652_312_109_957,
            2.713_765_198_218_547_3,
            0.688_730_413_529_641_7,
        ],
        &[
            0.042_527_487_181_676_48,
            0.001_173_451_479_465_026_1,
            0.000_796_356_031_074_544_5,
            0.000_682_643_714_957_025,
            0.000_658_830_931_503_319_1,
            0.000_701_121_048_345_212_4,
            0.000_843_125_494_211_432_8,
            0.001_297_337_459_671_522,
            0.951_319_646_659_095_4,
        ],
    ),
    (
        4,
        SetUp::Normal(0.001),
        0.001_5,
        0.001_5,
        [
            0.973_742_436_840_959,
            0.908_772_153_400_469_2,
            0.000_139_926_135_128_690_1,
            3.894_969_747_363_836,
            0.125_327_130_342_876_49,
            0.899_034_566_338_322_3,
        ],
        &[
            0.000_139_926_135_128_690_1,
            0.001_441_931_395_745_011_4,
            0.010_498_764_839_757_242,
            0.079_147_224_228_899_83,
            0.908_772_153_400_469_2,
        ],
    ),
    (
        12,
        SetUp::Normal(0.002),
        0.000_5,
        0.001,
        [
            0.972_022_794_895_445_6,
            0.937_399_441_907_823_9,
            0.008_926_009_486_197_959,
            11.664_273_538_745_348,
            2.733_500_571_109_269,
            0.711_405_791_082_719_3,
        ],
        &[
            0.008_926_009_486_197_959,
            0.003_381_641_892_073_144,
            0.002_773_949_783_093_810_7,
            0.002_614_282_488_428_55,
            0.002_632_720_117_880_308,
            0.002_773_668_056_689_412_7,
            0.003_038_634_884_555_563_5,
            0.003_468_109_087_571_054,
            0.004_163_188_942_055_349_5,
            0.005_374_057_883_586_985_5,
            0.007_869_229_406_593_415,
            0.015_585_066_063_450_614,
            0.937_399_441_907_823_9,
        ],
    ),
    (
        2,
        SetUp::Normal(0.001_2),
        0.001_8,
        0.0,
        [
            0.979_180_995_093_516,
            0.959_601_244_546_481_9,
            0.001_239_254_359_449_985_8,
            1.958_361_990_187_032,
            0.042_382_794_670_683_25,
            0.958_795_421_152_328_1,
        ],
        &[
            0.001_239_254_359_449_985_8,
            0.039_159_501_094_068_14,
            0.959_601_244_546_481_9,
        ],
    ),
    (
        24,
        SetUp::Normal(0.003),
        0.001,
        0.0,
        [
            0.886_153_701_993_342,
            0.684_142_210_248_082,
            0.022_335_189_411_096_575,
            21.267_688_847_840_21,
            35.886_470_292_954_47,
            0.054_981_596_600_967_346,
        ],
        &[],
    ),
    (
        48,
        SetUp::Normal(0.000_8),
        0.000_8,
        0.0,
        [
            0.999_990_103_265_374_7,
            0.999_578_215_389_771_9,
            1.931_854_207_202_628_7e-15,
            47.999_524_956_737_986,
            0.000_651_286_826_277_67,
            0.999_525_067_203_586_2,
        ],
        &[],
    ),
    (
        8,
        SetUp::Normal(0.001_8),
        0.001_2,
        -0.002_2,
        [
            0.901_782_127_194_549,
            0.711_183_250_139_431,
            0.009_812_927_888_872_782,
            7.214_257_017_556_392,
            2.682_399_275_381_027,
            0.437_333_744_574_047_4,
        ],
        &[
            0.009_812_927_888_872_782,
            0.011_797_077_378_950_213,
            0.014_872_313_096_319_305,
            0.019_197_444_539_542_023,
            0.025_640_037_493_369_246,
            0.036_242_374_084_223_82,
            0.056_897_068_798_908_63,
            0.114_357_506_580_383_06,
            0.711_183_250_139_431,
        ],
    ),
    (
        8,
        SetUp::Rect(0.003),
        0.001,
        0.0,
        [
            0.997_169_765_794_390_1,
            0.978_280_384_327_143_8,
            1.236_358_923_767_123_6e-15,
            7.977_358_126_355_121,
            0.024_031_381_315_331_248,
            0.977_581_147_589_246_4,
        ],
        &[
            1.236_358_923_767_123_6e-15,
            4.857_051_489_017_559e-13,
            8.521_799_247_572_485e-11,
            8.787_331_631_993_208e-9,
            5.897_728_676_770_941e-7,
            2.700_018_219_462_486_5e-5,
            0.000_866_452_710_690_967,
            0.020_825_564_134_066_374,
            0.978_280_384_327_143_8,
        ],
    ),
    (
        8,
        SetUp::Arcsine(0.002),
        0.001_2,
        0.0,
        [
            0.997_739_532_428_357_7,
            0.982_192_458_606_927_8,
            2.869_761_118_538_545_4e-19,
            7.981_916_259_426_861,
            0.018_314_748_301_665_865,
            0.982_058_686_414_039_2,
        ],
        &[
            2.869_761_118_538_545_4e-19,
            3.928_445_628_326_599_4e-16,
            2.377_215_389_361_069e-13,
            8.337_217_959_891_428e-11,
            1.865_342_916_849_814_3e-8,
            2.759_057_851_533_839e-6,
            0.000_270_624_769_396_347_6,
            0.017_534_138_828_784_823,
            0.982_192_458_606_927_8,
        ],
    ),
];

fn stack(set_up: SetUp, sigma: f64, mean: f64) -> Stack {
    let law = match set_up {
        SetUp::Normal(sd) if sd > 0.0 => Distribution::normal(0.0, sd),
        SetUp::Normal(_) => Distribution::point(0.0),
        SetUp::Rect(half) => Distribution::rectangular(-half, half),
        SetUp::Arcsine(half) => Distribution::arcsine(-half, half),
    };
    let set_up = Source::new("set_up", mean.inch())
        .error(law.unwrap())
        .build()
        .unwrap();
    let piece = Source::new("piece", 0.inch())
        .normal(sigma.inch())
        .event(Event::piece())
        .build()
        .unwrap();
    let fit = Expr::source(&set_up) + Expr::source(&piece);
    let band = Band::within(0.005.inch()).unwrap();
    Stack::builder().outcome("fit", &fit, band).build().unwrap()
}

#[track_caller]
fn close(what: &str, got: f64, wanted: f64, tolerance: f64) {
    assert!(
        (got - wanted).abs() <= tolerance,
        "{what}: {got:e}, not {wanted:e}"
    );
}

#[test]
fn shared_set_ups_give_the_mixture_of_binomials() {
    for (n, set_up, sigma, mean, wanted, each) in CASES {
        let batch = BatchForecast::of(&stack(*set_up, *sigma, *mean), "fit", &BatchOptions::of(*n))
            .unwrap();
        let what = |name: &str| format!("{name} of {n}, {set_up:?}, {sigma}");
        let [one, all, none, expected, variance, independent] = *wanted;
        close(&what("one"), batch.one.value.inside, one, 1e-13);
        // The tail of a normal set-up beyond seven standard deviations is left out: 1e-12 at most.
        close(&what("all"), batch.all(), all, 1e-12);
        close(&what("none"), batch.fits[0], none, 1e-12);
        assert!(
            (batch.all() - all).abs() <= batch.error,
            "{} {}",
            what("bound"),
            batch.error
        );
        close(&what("expected"), batch.expected, expected, 1e-11);
        close(&what("variance"), batch.sd * batch.sd, variance, 1e-9);
        close(
            &what("independent"),
            batch.if_independent[*n as usize],
            independent,
            1e-12,
        );
        close(&what("sum"), batch.at_least(0), 1.0, 1e-12);
        for (k, wanted) in each.iter().enumerate() {
            close(&what(&format!("{k}")), batch.fits[k], *wanted, 1e-12);
        }
    }
}

/// One set-up offset N(0, 0.0006), pieces 0.0008, band ±0.002, mean 0.0002: P(all 8), P(all 24) by quadrature with mpmath,
/// stated tolerance 1e-12.
#[test]
fn a_batch_of_twenty_four() {
    let set_up = Source::new("set_up", 0.0002.inch())
        .normal(0.0006.inch())
        .build()
        .unwrap();
    let piece = Source::new("piece", 0.inch())
        .normal(0.0008.inch())
        .event(Event::piece())
        .build()
        .unwrap();
    let fit = Expr::source(&set_up) + Expr::source(&piece);
    let stack = Stack::builder()
        .outcome("fit", &fit, Band::within(0.002.inch()).unwrap())
        .build()
        .unwrap();
    let of = |n: u32| BatchForecast::of(&stack, "fit", &BatchOptions::of(n)).unwrap();
    close("all 8", of(8).all(), 0.720_120_311_582_003_1, 1e-12);
    close("all 24", of(24).all(), 0.460_691_471_186_717_27, 1e-12);
    close("sd of 24", of(24).sd, 1.809_608_486_215_393, 1e-11);
}

/// Nothing shared: binomial, p = 0.97: P(at least 23 of 24) = 24·0.97²³·0.03 + 0.97²⁴.
#[test]
fn nothing_shared_is_binomial_and_spares_follow_from_it() {
    let piece = Source::new("piece", 0.inch())
        .rectangular(1.inch())
        .event(Event::piece())
        .build()
        .unwrap();
    let stack = Stack::builder()
        .outcome(
            "fit",
            &Expr::source(&piece),
            Band::within(0.97.inch()).unwrap(),
        )
        .build()
        .unwrap();
    let batch = BatchForecast::of(&stack, "fit", &BatchOptions::of(24)).unwrap();
    close("all", batch.all(), 0.481_417_221_911_723_7, 1e-12);
    close("23", batch.at_least(23), 0.838_757_840_237_951_6, 1e-12);
    // With s spares, at most s of 24 + s fail. By adding the binomial terms (mpmath): 0.958 for two, 0.828 for one.
    assert_eq!(batch.spares.needed, Some(2));
    close("spares", batch.spares.chance, SPARES, 1e-12);
}

const SPARES: f64 = 0.958_020_271_604_330_1;

#[test]
fn simulated_batches_agree() {
    let stack = stack(SetUp::Normal(0.002), 0.0015, 0.001);
    let batch = BatchForecast::of(&stack, "fit", &BatchOptions::of(12)).unwrap();
    let simulated = stack
        .simulate_batch(
            12,
            &Event::piece(),
            MonteCarlo::new().trials(100_000).seed(5),
        )
        .unwrap();
    for (k, count) in simulated.counts.iter().enumerate() {
        let (p, share) = (batch.fits[k], *count as f64 / 100_000.0);
        let error = (p * (1.0 - p) / 100_000.0).sqrt();
        // Thirteen numbers, four standard errors and a half: one honest run in ten thousand fails.
        assert!((share - p).abs() < 4.5 * error + 1e-5, "{k}: {share} {p}");
    }
}

#[test]
fn minutes_of_rework_are_counted_per_side() {
    let stack = stack(SetUp::Normal(0.002), 0.002, 0.0);
    let options = BatchOptions::of(10).rework_minutes(Costs {
        loose: 20.0,
        tight: 4.0,
    });
    let batch = BatchForecast::of(&stack, "fit", &options).unwrap();
    let chance = batch.one.value;
    // Both sides are alike here: ten joints at 24 minutes for a pair of failures.
    close(
        "minutes",
        batch.rework_minutes.unwrap(),
        240.0 * chance.above,
        1e-9,
    );
}

#[test]
fn refuses_what_makes_no_sense() {
    let stack = stack(SetUp::Normal(0.002), 0.002, 0.0);
    let says = |options: &BatchOptions| {
        BatchForecast::of(&stack, "fit", options)
            .unwrap_err()
            .to_string()
    };
    assert!(says(&BatchOptions::of(0)).contains("1 to 10000"));
    assert!(says(&BatchOptions::of(1_000_000)).contains("1 to 10000"));
    for assurance in [0.0, 1.0, -0.5, f64::NAN] {
        assert!(says(&BatchOptions::of(4).assurance(assurance)).contains("assurance"));
    }
    assert!(
        says(&BatchOptions::of(4).rework_minutes(Costs {
            loose: -1.0,
            tight: 2.0
        }))
        .contains("loose joint")
    );
    assert!(
        says(&BatchOptions::of(4).rework_minutes(Costs {
            loose: 1.0,
            tight: f64::NAN
        }))
        .contains("tight joint")
    );
    let error = BatchForecast::of(&stack, "gap", &BatchOptions::of(4)).unwrap_err();
    assert_eq!(error.to_string(), "the stack has no outcome \"gap\"");
}

/// Where no setting is chosen, joints that cost nothing to mend are no mistake.
#[test]
fn rework_may_cost_nothing() {
    let piece = Source::new("piece", 0.inch())
        .normal(1.thou())
        .event(Event::piece())
        .build()
        .unwrap();
    let stack = Stack::builder()
        .outcome(
            "fit",
            &Expr::source(&piece),
            Band::within(1.thou()).unwrap(),
        )
        .build()
        .unwrap();
    let free = Costs {
        tight: 0.0,
        loose: 0.0,
    };
    let options = BatchOptions::of(8).rework_minutes(free);
    let batch = BatchForecast::of(&stack, "fit", &options).unwrap();
    assert_eq!(batch.rework_minutes, Some(0.0));
}
