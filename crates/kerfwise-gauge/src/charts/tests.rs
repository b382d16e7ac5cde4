use super::*;
use crate::published::{last_column, set};
use crate::testing::{Normals, assert_near};
use proptest::prelude::*;

const SHIFTS: [f64; 10] = [0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0];

// NIST/SEMATECH e-Handbook, 6.3.2.2: mean 50.81, mean moving range 1.8778; the page divides by 1.128, these limits by 2/√π
// (computed independently).
#[test]
fn individuals_of_the_handbook() {
    let flow = last_column(&set("flowrate-individuals"));
    let process = Process::of_individuals(&flow).unwrap();
    // Because the readings of one decimal are rounded in binary.
    assert_near(process.mean(), 50.81, 1e-15);
    let limits = process.limits(1);
    assert_near(limits.upper, 55.802_411_680_050_54, 1e-12);
    assert_near(limits.lower, 45.817_588_319_949_465, 1e-12);
    let ranges = process.range_limits(2).unwrap();
    assert_near(ranges.centre, 1.877_777_777_777_778_4, 1e-12);
    assert_near(ranges.upper, 6.133_821_048_441_931_5, 1e-11);
    assert_eq!(ranges.lower.to_bits(), 0);
    assert_eq!(ZoneRules::new(&[]).signals(&process, 1, &flow), []);
}

// NIST/SEMATECH e-Handbook, 6.3.2.4: λ 0.3, mean 50, s 2.0539, L 3: last average 51.99, limits 52.5884 and 47.4115 (truncated), no
// signal; more digits computed independently.
#[test]
fn averages_of_the_handbook() {
    let readings = [
        52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8,
        51.2, 52.6, 52.4, 53.6, 52.1,
    ];
    let process = Process::new(50.0, 2.0539).unwrap();
    let chart = Ewma::new(0.3, 3.0).unwrap();
    let run = chart.run(&process, &readings);
    // Because twenty products are added.
    assert_near(run.points[18], 51.940_347_512_349_45, 1e-14);
    assert_near(run.points[19], 51.988_243_258_644_616, 1e-14);
    assert_near(run.limits[1].upper - 50.0, 2.256_394_012_123_990_5, 1e-12);
    let steady = chart.steady_limits(&process);
    assert_near(steady.upper, 52.588_431_738_126_616, 1e-14);
    assert_near(steady.lower, 47.411_568_261_873_384, 1e-14);
    assert_eq!(run.signal, None);
}

// NIST/SEMATECH e-Handbook, 6.3.2.3: target 325, k 0.3175, h 4.1959 in the unit of the means; upper sums 3.01, 4.94 … 19.04 from
// group 13 on, first signal at group 14.
#[test]
fn sums_of_the_handbook() {
    let means = [
        324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
        324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
    ];
    let process = Process::new(325.0, 1.0).unwrap();
    let run = Cusum::new(0.3175, 4.1959).unwrap().run(&process, &means);
    let upper = [
        3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035,
    ];
    for (found, wanted) in run.upper[12..].iter().zip(upper) {
        // Because 328.5 and its like are rounded to 6e-14.
        assert_near(*found, wanted, 1e-12);
    }
    assert_near(run.lower[6], 0.5575, 1e-11);
    assert_eq!((run.signal, run.began), (Some(13), Some(12)));
    let change = ChangePoint::of(Change::Step, &process, &means[..14]).unwrap();
    assert_eq!(change.began, 12);
    assert_near(change.size, 0.5 * (3.325 + 2.25), 1e-12);
}

// Lucas and Crosier (1982) print 168, 74.2, 26.6, 13.3, 8.38 … for h 4 and 465, 139, 38.0, 17.0, 10.4 … for h 5 from 0 (from memory);
// all digits, and those with a head start, computed independently; the latter confirmed by simulation there.
#[test]
fn run_lengths_of_cumulative_sums() {
    let rows = [
        (
            4.0,
            0.0,
            [
                167.683_788_813_615_5,
                74.224_027_885_012_49,
                26.630_203_088_869_223,
                13.285_088_375_246_227,
                8.383_131_870_495_143,
                4.747_168_199_469_931_5,
                3.342_770_129_429_851,
                2.619_518_911_508_483_6,
                2.194_480_908_611_608_6,
                1.708_457_163_286_437,
            ],
        ),
        (
            5.0,
            0.0,
            [
                465.443_506_032_061_63,
                139.493_689_772_038_86,
                37.996_143_189_366_16,
                17.048_325_942_944_956,
                10.375_969_921_593_597,
                5.747_217_703_429_229_6,
                4.008_871_061_031_074_5,
                3.113_688_391_473_449_4,
                2.573_252_051_447_409_5,
                2.012_567_523_282_365_7,
            ],
        ),
        (
            4.0,
            2.0,
            [
                148.695_649_990_617_85,
                62.698_241_227_236_95,
                20.063_961_936_481_58,
                8.967_975_014_775_86,
                5.286_886_214_891_895,
                2.862_038_546_798_236,
                2.014_374_889_693_723_2,
                1.585_807_403_672_807,
                1.325_393_122_341_499_2,
                1.067_000_455_748_773_3,
            ],
        ),
        (
            5.0,
            2.5,
            [
                430.390_839_191_427_2,
                121.687_944_555_701_5,
                28.665_830_192_121_817,
                11.235_826_406_545_975,
                6.346_850_468_325_472,
                3.371_950_032_742_374,
                2.362_290_941_288_139_7,
                1.856_169_304_222_451_6,
                1.539_642_544_970_997_4,
                1.159_371_153_475_981_4,
            ],
        ),
        (
            4.774_9,
            0.0,
            [
                370.401_111_689_335_8,
                121.677_697_583_938_42,
                35.266_477_528_313_24,
                16.191_517_450_685_23,
                9.926_817_014_842_648,
                5.522_053_966_546_982_6,
                3.858_565_265_656_299_6,
                3.001_030_761_278_397,
                2.486_316_867_257_978_7,
                1.957_090_959_048_629_6,
            ],
        ),
    ];
    for (decision, start, lengths) in rows {
        let chart = Cusum::new(0.5, decision)
            .unwrap()
            .head_start(start)
            .unwrap();
        for (shift, wanted) in SHIFTS.into_iter().zip(lengths) {
            // Because the references state 1e-7.
            assert_near(chart.average_run_length(shift).unwrap(), wanted, 1e-7);
        }
    }
}

// Lucas and Saccucci (1990) print 500, 224, 71.2, 28.4, 14.3 … for the first row and their like for the next four (from memory); all
// digits computed independently. The last row is the chart of single readings.
#[test]
fn run_lengths_of_averages() {
    let rows = [
        (
            0.4,
            3.054,
            [
                499.951_338_642_707_07,
                223.727_813_266_755_67,
                71.200_502_005_302_78,
                28.418_384_817_505_142,
                14.262_764_263_052_901,
                5.874_941_762_638_044,
                3.521_539_198_798_903_8,
                2.539_150_303_625_099_5,
                2.018_629_564_894_313,
                1.439_895_801_554_358_8,
            ],
        ),
        (
            0.25,
            2.998,
            [
                499.836_003_532_212_5,
                170.295_850_188_290_4,
                48.293_875_140_190_57,
                20.114_748_440_263_384,
                11.135_501_980_326_183,
                5.463_744_143_867_216,
                3.613_710_825_256_893_2,
                2.744_753_157_470_765_5,
                2.257_562_993_572_844_5,
                1.727_027_503_149_451_3,
            ],
        ),
        (
            0.2,
            2.962,
            [
                499.735_122_165_865_85,
                150.216_402_919_670_88,
                41.764_395_762_474_05,
                18.149_623_446_321_69,
                10.541_665_796_564_28,
                5.500_648_698_970_174,
                3.743_439_060_539_444_5,
                2.880_269_675_443_349_4,
                2.380_903_484_080_399_8,
                1.864_365_659_693_066_4,
            ],
        ),
        (
            0.1,
            2.814,
            [
                499.579_550_082_599_55,
                106.321_852_978_401_2,
                31.297_435_196_284_503,
                15.847_543_977_992_268,
                10.330_665_155_223_143,
                6.084_184_342_103_98,
                4.362_253_413_742_455,
                3.441_698_220_876_739,
                2.868_003_512_315_847_4,
                2.193_095_389_923_954_5,
            ],
        ),
        (
            0.05,
            2.615,
            [
                499.933_005_710_998_9,
                84.005_861_726_282_03,
                28.763_727_999_140_87,
                16.374_154_044_991_62,
                11.382_803_687_995_942,
                7.112_490_622_518_073,
                5.224_879_825_946_775,
                4.167_863_510_403_644,
                3.496_171_838_942_913,
                2.694_547_710_732_562_6,
            ],
        ),
        (
            0.3,
            3.0,
            [
                465.553_433_892_153_35,
                178.741_061_432_498_4,
                53.160_280_247_436_31,
                21.826_098_997_094_228,
                11.698_628_531_941_218,
                5.446_892_837_107_367_5,
                3.506_345_897_654_852_7,
                2.628_664_930_314_590_4,
                2.145_207_212_087_12,
                1.595_940_033_262_357_4,
            ],
        ),
        (
            0.2,
            3.0,
            [
                559.874_075_106_866_6,
                163.119_709_968_696_3,
                44.127_404_840_546_11,
                18.842_630_447_355_617,
                10.835_879_196_887_678,
                5.604_721_415_172_329,
                3.800_854_594_948_342_8,
                2.918_560_441_796_626,
                2.408_253_867_158_001_6,
                1.884_561_007_166_800_2,
            ],
        ),
        (
            1.0,
            3.0,
            [
                370.398_347_344_968_4,
                281.152_523_567_768_87,
                155.224_200_752_627_52,
                81.215_701_988_160_96,
                43.894_681_718_539_78,
                14.967_685_005_613_935,
                6.302_962_987_143_034,
                3.241_096_505_087_178,
                1.999_999_996_053_649_6,
                1.188_573_417_343_252_3,
            ],
        ),
    ];
    for (weight, limit, lengths) in rows {
        let chart = Ewma::new(weight, limit).unwrap();
        for (shift, wanted) in SHIFTS.into_iter().zip(lengths) {
            // Because the references state 1e-7.
            assert_near(chart.average_run_length(shift).unwrap(), wanted, 1e-7);
        }
    }
}

// Champ and Woodall (1987) print 370.40, 225.44, 166.05, 152.73, 132.89, 122.05, 105.78 and 91.75 without a shift (from memory); more
// digits, and those with a shift of 1, computed independently.
#[test]
fn run_lengths_of_zone_rules() {
    use ZoneRule::{EightInARow, FourOfFive, TwoOfThree};
    let rows: [(&[ZoneRule], f64, f64); 8] = [
        (&[], 370.398_347_344_956_4, 43.894_681_718_539_545),
        (
            &[TwoOfThree],
            225.438_406_741_615_07,
            20.005_036_450_869_184,
        ),
        (
            &[FourOfFive],
            166.054_517_130_549_07,
            12.664_386_401_651_797,
        ),
        (
            &[EightInARow],
            152.730_065_339_499_25,
            14.578_129_271_874_735,
        ),
        (
            &[TwoOfThree, FourOfFive],
            132.892_811_391_628_84,
            10.951_383_770_542_33,
        ),
        (
            &[TwoOfThree, EightInARow],
            122.050_772_012_438_02,
            11.725_838_711_730_725,
        ),
        (
            &[FourOfFive, EightInARow],
            105.783_065_044_684_42,
            10.187_465_383_535_72,
        ),
        (
            &[TwoOfThree, FourOfFive, EightInARow],
            91.750_773_128_348_84,
            9.221_859_963_515_955,
        ),
    ];
    for (rules, alone, shifted) in rows {
        let rules = ZoneRules::new(rules);
        // Because the references state 1e-7.
        assert_near(rules.average_run_length(0.0).unwrap(), alone, 1e-7);
        assert_near(rules.average_run_length(1.0).unwrap(), shifted, 1e-7);
    }
}

/// Mean run length over 4000 runs, in standard errors from what was computed: run lengths spread about as much as their mean.
fn errors_from(computed: f64, mut run: impl FnMut() -> usize) -> f64 {
    let total: usize = (0..4000).map(|_| run()).sum();
    (total as f64 / 4000.0 - computed) / (computed / 4000.0_f64.sqrt())
}

#[test]
fn charts_keep_their_stated_rate_of_false_alarms() {
    let process = Process::new(0.0, 1.0).unwrap();
    let mut normals = Normals::new(51);
    let cusum = Cusum::new(0.5, 3.0).unwrap();
    let of_cusum = errors_from(cusum.average_run_length(0.0).unwrap(), || {
        let run = cusum.run(&process, &normals.column(2000));
        run.signal.unwrap() + 1
    });
    assert!(of_cusum.abs() < 4.0, "{of_cusum}");
    let rules = ZoneRules::all();
    let of_rules = errors_from(rules.average_run_length(0.0).unwrap(), || {
        rules.signals(&process, 1, &normals.column(2000))[0].0 + 1
    });
    assert!(of_rules.abs() < 4.0, "{of_rules}");
    // The run lengths are those of the steady limits.
    let ewma = Ewma::new(0.2, 2.2).unwrap();
    let limits = ewma.steady_limits(&process);
    let of_ewma = errors_from(ewma.average_run_length(0.0).unwrap(), || {
        let run = ewma.run(&process, &normals.column(2000));
        run.points
            .iter()
            .position(|point| !limits.contains(*point))
            .unwrap()
            + 1
    });
    assert!(of_ewma.abs() < 4.0, "{of_ewma}");
}

// P(|z| > 3), and P(range of two > d₂ + 3 d₃) = P(|z| > 3.68589/√2), computed independently with scipy. Held to within four binomial
// standard errors.
#[test]
fn points_beyond_the_limits_are_as_rare_as_stated() {
    let process = Process::new(0.0, 1.0).unwrap();
    let mut normals = Normals::new(52);
    let points = 40_000;
    let mut assert_rare = |wanted: f64, is_out: &dyn Fn(&mut Normals) -> bool| {
        let out = (0..points).filter(|_| is_out(&mut normals)).count() as f64;
        let n = f64::from(points);
        let error = (wanted * (1.0 - wanted) / n).sqrt();
        assert!(
            (out / n - wanted).abs() < 4.0 * error,
            "{out} of {n}, not {wanted}"
        );
    };
    for size in [1, 4] {
        let limits = process.limits(size);
        assert_rare(0.002_699_796_063_26, &|normals| {
            let mean = normals.column(size).iter().sum::<f64>() / size as f64;
            !limits.contains(mean)
        });
    }
    let ranges = process.range_limits(2).unwrap();
    assert_rare(0.009_152_214_7, &|normals| {
        !ranges.contains((normals.draw() - normals.draw()).abs())
    });
}

#[test]
fn faults_are_named() {
    let message = |error: Error| error.to_string();
    assert_eq!(
        message(Process::of_subgroups(&[vec![1.0, 2.0], vec![1.0]]).unwrap_err()),
        "subgroup 2 has 1 readings and the first 2: a chart of ranges needs one size"
    );
    assert_eq!(
        message(Process::of_individuals(&[1.0, 1.0]).unwrap_err()),
        "a process needs a finite mean and a standard deviation above 0 (got 1 and 0)"
    );
    assert_eq!(
        message(Cusum::new(0.5, 4.0).unwrap().head_start(4.0).unwrap_err()),
        "the head start must be from 0 to below the decision interval 4 (got 4)"
    );
    assert_eq!(
        message(Ewma::new(0.0, 3.0).unwrap_err()),
        "the weight of the newest reading must be from 0.01 to 1, such as 0.2 (got 0)"
    );
    let chart = Cusum::new(5.0, 20.0).unwrap();
    assert_eq!(
        message(chart.average_run_length(0.0).unwrap_err()),
        "the run is too long to be computed: take narrower limits"
    );
    assert_eq!(
        message(chart.average_run_length(f64::NAN).unwrap_err()),
        "a shift must be within ±20 standard deviations (got NaN)"
    );
    assert!(Cusum::with_false_alarms_every(0.5, 0.5).is_err());
    // What is not a number signals.
    let process = Process::new(0.0, 1.0).unwrap();
    let chart = Cusum::new(0.5, 4.0).unwrap();
    assert_eq!(chart.run(&process, &[0.0, f64::NAN]).signal, Some(1));
    let rules = ZoneRules::new(&[]);
    assert_eq!(
        rules.signals(&process, 1, &[f64::NAN]),
        [(0, ZoneRule::BeyondThree)]
    );
    let chart = Ewma::new(0.3, 3.0).unwrap();
    assert_eq!(chart.run(&process, &[f64::NAN]).signal, Some(0));
    assert!(ChangePoint::find(&process, &[1e200]).is_err());
}

proptest! {
    #[test]
    fn a_larger_shift_is_told_sooner(
        allowance in 0.1_f64..1.0,
        decision in 1.0_f64..6.0,
        weight in 0.05_f64..1.0,
        shift in 0.0_f64..3.0,
    ) {
        let cusum = Cusum::new(allowance, decision).unwrap();
        let ewma = Ewma::new(weight, 2.7).unwrap();
        for length in [
            |chart: (Cusum, Ewma), shift: f64| chart.0.average_run_length(shift),
            |chart: (Cusum, Ewma), shift: f64| chart.1.average_run_length(shift),
        ] {
            let (near, far) = (length((cusum, ewma), shift), length((cusum, ewma), shift + 0.5));
            prop_assert!(near.unwrap() > far.unwrap());
            let mirrored = length((cusum, ewma), -shift).unwrap();
            let plain = length((cusum, ewma), shift).unwrap();
            // Because both are solved to 1e-9 of themselves.
            prop_assert!((mirrored / plain - 1.0).abs() < 1e-8);
        }
    }
}

/// What `kerfwise watch` says of a baseline of 20: cumulative sums that start from so few stop one steady run of 40 in 5, not one
/// in 11; moving averages one in 5, not one in 9. Simulated, and held to the whole numbers that are said.
#[test]
fn a_baseline_of_twenty_brings_false_alarms() {
    let mut normals = Normals::new(63);
    let sums = Cusum::with_false_alarms_every(370.4, 0.5).unwrap();
    let average = Ewma::with_false_alarms_every(370.4, 0.2).unwrap();
    let known = Process::new(0.0, 1.0).unwrap();
    let runs = 6_000;
    // Cumulative sums, moving averages; each with a known process and with one from the first twenty.
    let mut stopped = [[0_u32; 2]; 2];
    for _ in 0..runs {
        let readings = normals.column(40);
        let from_twenty = Process::of_individuals(&readings[..20]).unwrap();
        for (i, process) in [known, from_twenty].iter().enumerate() {
            stopped[0][i] += u32::from(sums.run(process, &readings).signal.is_some());
            stopped[1][i] += u32::from(average.run(process, &readings).signal.is_some());
        }
    }
    let one_in =
        stopped.map(|chart| chart.map(|n| (f64::from(runs) / f64::from(n)).round() as u32));
    assert_eq!(one_in, [[11, 5], [9, 5]]);
}
