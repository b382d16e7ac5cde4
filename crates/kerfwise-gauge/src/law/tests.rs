use super::*;
use crate::testing::assert_near;

// Computed independently at 45 digits with mpmath; printed to 13.
#[test]
fn chi_squared_quantiles_in_both_tails() {
    // ν, lower 1e-9, lower 0.025, median, upper 0.005, upper 1e-9.
    let rows = [
        (
            0.5,
            1.349_939_578_622e-36,
            5.273_202_591_26e-7,
            0.087_347_604_705_75,
            6.003_621_528_425,
            34.517_146_470_5,
        ),
        (
            1.0,
            1.570_796_326_795e-18,
            0.000_982_069_117_175_3,
            0.454_936_423_119_6,
            7.879_438_576_622,
            37.324_893_051_36,
        ),
        (
            4.0,
            8.944_405_246_066e-5,
            0.484_418_557_087_9,
            3.356_693_980_033,
            14.860_259_000_56,
            47.879_455_731_15,
        ),
        (
            9.95,
            0.081_122_055_961_59,
            3.219_089_231_939,
            9.291_863_356_446,
            25.108_993_554_65,
            62.832_647_129_33,
        ),
        (
            99.0,
            36.325_312_697_76,
            73.361_080_191_28,
            98.334_137_334_47,
            138.986_783_450_9,
            207.897_520_837_2,
        ),
        (
            1000.0,
            754.633_063_178_3,
            914.257_153_799_3,
            999.333_412_403_4,
            1_118.948_066_323,
            1_291.957_866_236,
        ),
    ];
    for (nu, far, lower, median, upper, beyond) in rows {
        let at = |tail| chi_squared_quantile(tail, nu);
        // Because the references are printed to 13 digits, the shortest to 12.
        assert_near(at(Tail::Lower(1e-9)), far, 5e-12);
        assert_near(at(Tail::Lower(0.025)), lower, 5e-12);
        assert_near(at(Tail::Lower(0.5)), median, 5e-12);
        assert_near(at(Tail::Upper(0.005)), upper, 5e-12);
        assert_near(at(Tail::Upper(1e-9)), beyond, 5e-12);
    }
}

#[test]
fn a_chi_squared_quantile_returns_wherever_it_is_asked() {
    for nu in [1e-3, 0.1, 1.0, 2.5, 30.0, 1e4, 1e8] {
        for p in [1e-300, 1e-60, 1e-9, 0.3, 0.9, 1.0 - 1e-12] {
            let low = chi_squared_quantile(Tail::Lower(p), nu);
            let high = chi_squared_quantile(Tail::Upper(p), nu);
            assert!(low >= 0.0 && low.is_finite(), "{nu} {p}: {low}");
            assert!(high >= 0.0 && high.is_finite(), "{nu} {p}: {high}");
            if low > 1e-300 {
                let back = gamma_p(0.5 * nu, 0.5 * low);
                // Because the density turns the last digit of x into up to ν digits of p.
                assert_near(back, p, 1e-11 + 1e-15 * nu);
            }
            if high > 1e-300 {
                assert_near(gamma_q(0.5 * nu, 0.5 * high), p, 1e-11 + 1e-14 * nu);
            }
        }
        assert_eq!(chi_squared_quantiles(0.0, nu), (0.0, f64::INFINITY));
    }
}

// Computed independently at 45 digits with mpmath; printed to 13.
#[test]
fn f_quantiles_in_the_upper_tail() {
    // ν1, ν2, upper 0.05, 0.01, 1e-6.
    let rows = [
        (
            1.0,
            1.0,
            161.447_638_797_6,
            4_052.180_695_477,
            405_284_734_568.7,
        ),
        (
            2.0,
            3.3,
            8.488_809_705_404,
            25.240_888_771_24,
            7_140.806_113_787,
        ),
        (
            2.7,
            16.8,
            3.299_508_124_004,
            5.422_196_926,
            29.343_289_608_87,
        ),
        (
            18.0,
            60.0,
            1.778_446_085_328,
            2.250_696_876_482,
            5.042_851_447_432,
        ),
        (
            60.0,
            1.0,
            252.195_739_094,
            6_313.030_052_588,
            631_336_894_666.2,
        ),
        (
            1000.0,
            9.0,
            2.711_639_637_129,
            4.321_121_839_63,
            39.540_465_700_26,
        ),
    ];
    for (nu1, nu2, twentieth, hundredth, millionth) in rows {
        for (q, wanted) in [(0.05, twentieth), (0.01, hundredth), (1e-6, millionth)] {
            let f = f_quantile_upper(q, nu1, nu2);
            // Because the references are printed to 13 digits, some to 12.
            assert_near(f, wanted, 5e-12);
            assert_near(f_upper(f, nu1, nu2), q, 1e-12);
        }
    }
    // With infinitely many degrees of freedom below, χ²/ν.
    let limit = f_quantile_upper(0.05, 4.0, f64::INFINITY);
    assert_near(
        limit * 4.0,
        chi_squared_quantile(Tail::Upper(0.05), 4.0),
        1e-15,
    );
}

// Computed independently with mpmath quadrature at 25 digits; agrees with scipy to 6e-15.
#[test]
fn noncentral_t_against_quadrature() {
    let rows = [
        (3.0, 4.0, 2.0, 0.710_539_476_289_959),
        (0.0, 4.0, 2.0, 0.022_750_131_948_179_2),
        (-1.0, 4.0, 2.0, 0.002_573_232_174_844_29),
        (10.0, 9.0, 6.0, 0.935_315_979_671_736),
        (9.2, 9.0, 5.2, 0.949_905_039_896_799),
        (20.0, 23.0, 14.7, 0.953_584_297_343_083),
        (4.5, 2.5, 1.3, 0.912_811_074_584_549),
        (30.0, 1.0, 3.0, 0.920_378_231_610_019),
        (12.0, 99.0, 16.4, 0.000_418_353_941_161_376),
        (25.0, 99.0, 20.0, 0.993_149_205_582_669),
        (2.0, 1.5, 0.0, 0.887_905_834_821_974),
        (60.0, 42.0, 45.0, 0.989_231_786_339_186),
        (15.0, 7.0, 3.0, 0.999_674_027_669_087),
        (5.0, 1000.0, 3.0, 0.976_505_093_192_086),
    ];
    for (t, nu, delta, wanted) in rows {
        let lower = noncentral::noncentral_t(noncentral::Side::Below, t, nu, delta);
        let upper = noncentral::noncentral_t(noncentral::Side::Above, t, nu, delta);
        // Because the references are printed to 15 digits, and the logarithm of gamma is rounded: ν digits of 1e-16.
        assert_near(lower, wanted, 1e-13 + 1e-15 * nu);
        assert!((lower + upper - 1.0).abs() < 1e-13 + 1e-15 * nu);
        assert_near(
            noncentrality(t, nu, lower).unwrap() + 1.0,
            delta + 1.0,
            1e-11,
        );
        assert_near(
            noncentral_t_quantile(lower, nu, delta).unwrap() + 100.0,
            t + 100.0,
            1e-10,
        );
    }
    // Quantiles: chance, ν, δ.
    for (below, nu, delta, wanted) in [
        (0.95, 9.0, 5.2015, 9.205_299_530_733_07),
        (0.95, 4.0, 3.678, 9.397_469_781_637_21),
        (0.05, 19.0, 5.7329, 3.840_594_862_263_98),
        (0.999, 4.0, 5.0, 34.998_467_235_183_5),
    ] {
        assert_near(
            noncentral_t_quantile(below, nu, delta).unwrap(),
            wanted,
            1e-12,
        );
    }
    assert_eq!(noncentrality(3.0, 4.0, 0.0), None);
}
