use crate::Error;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::special::{ln_gamma, normal_interval, normal_pdf};

/// Constants of the range and standard deviation of n normal readings with σ = 1, computed, not tabled.
///
/// ```text
/// d₂ = E[range]        d₃ = sd of the range        c₄ = E[s] = √(2/(n−1)) Γ(n/2)/Γ((n−1)/2)
/// P(range ≤ w) = n ∫ φ(x) (Φ(x+w) − Φ(x))ⁿ⁻¹ dx
/// ```
///
/// ```
/// use kerfwise_gauge::ChartConstants;
///
/// let two = ChartConstants::new(2)?;
/// assert!((two.d2 - 2.0 / std::f64::consts::PI.sqrt()).abs() < 1e-12);
/// assert!((two.c4 - (2.0 / std::f64::consts::PI).sqrt()).abs() < 1e-12);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ChartConstants {
    /// Mean of the range.
    pub d2: f64,
    /// Standard deviation of the range.
    pub d3: f64,
    /// Mean of s.
    pub c4: f64,
}

impl ChartConstants {
    /// For n readings, to twelve digits.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for n below 2 or above 100.
    pub fn new(n: usize) -> Result<Self, Error> {
        if !(2..=100).contains(&n) {
            return Err(Error::parameter(format!(
                "a range is of 2 to 100 readings (got {n})"
            )));
        }
        let nu = n as f64 - 1.0;
        let ratio = float::exp(ln_gamma(0.5 * (nu + 1.0)) - ln_gamma(0.5 * nu));
        let (first, second) = moments_of_range(n as i32);
        Ok(Self {
            d2: first,
            d3: (second - first * first).sqrt(),
            c4: (2.0 / nu).sqrt() * ratio,
        })
    }
}

/// E[W] = ∫ P(W > w) dw and E[W²] = 2 ∫ w P(W > w) dw.
fn moments_of_range(n: i32) -> (f64, f64) {
    // A range of a hundred readings is beyond 14 with a chance of 1e-20.
    const FARTHEST: f64 = 14.0;
    let rule = gauss_legendre(64);
    let (mut first, mut second) = (0.0, 0.0);
    for (x, weight) in rule.nodes().iter().zip(rule.weights()) {
        let w = 0.5 * FARTHEST * (1.0 + x);
        let share = 0.5 * FARTHEST * weight * above(n, w);
        first += share;
        second += 2.0 * w * share;
    }
    (first, second)
}

/// P(W > w): the smallest of the n at x, and not all others within w of it.
fn above(n: i32, w: f64) -> f64 {
    // By symmetry about the middle of the range, over both halves; the smallest reading is between -9 and 9.
    let rule = gauss_legendre(64);
    let term = |x: f64| {
        let inside = float::powi(normal_interval(x, x + w), n - 1);
        let all = float::powi(normal_interval(x, f64::INFINITY), n - 1);
        f64::from(n) * normal_pdf(x) * (all - inside)
    };
    rule.integrate(-9.0, 0.0, term) + rule.integrate(0.0, 9.0, term)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::assert_near;
    use std::f64::consts::FRAC_2_SQRT_PI;

    // d₂ and c₄ computed independently to 30 digits with mpmath, d₃ by two double-precision integrals that agree to 8e-15.
    // Handbooks print them to three decimals, with slips of one in the last.
    #[test]
    fn constants_of_two_to_twenty_five() {
        for (n, d2, d3, c4) in TABLE {
            let found = ChartConstants::new(n).unwrap();
            // Because d₃ is a root of a difference of numbers of up to 16, each good to 1e-14.
            assert_near(found.d2, d2, 1e-12);
            assert_near(found.d3, d3, 1e-11);
            assert_near(found.c4, c4, 1e-13);
        }
        assert!(ChartConstants::new(1).is_err() && ChartConstants::new(101).is_err());
        assert!(ChartConstants::new(100).unwrap().d3 > 0.0);
    }

    const TABLE: [(usize, f64, f64, f64); 24] = [
        (
            2,
            FRAC_2_SQRT_PI,
            0.852_502_466_427_418_1,
            0.797_884_560_802_865_4,
        ),
        (
            3,
            1.692_568_750_643_269,
            0.888_368_004_045_193_9,
            0.886_226_925_452_758,
        ),
        (
            4,
            2.058_750_746_007_928,
            0.879_808_202_824_982_7,
            0.921_317_731_923_561_3,
        ),
        (
            5,
            2.325_928_947_281_039,
            0.864_081_941_099_486_7,
            0.939_985_602_986_625_1,
        ),
        (
            6,
            2.534_412_721_222_943,
            0.848_039_686_117_487_7,
            0.951_532_861_948_144_6,
        ),
        (
            7,
            2.704_356_751_213_808_7,
            0.833_205_335_622_268_4,
            0.959_368_788_699_833,
        ),
        (
            8,
            2.847_200_612_090_555_5,
            0.819_831_489_791_944_2,
            0.965_030_456_147_371_9,
        ),
        (
            9,
            2.970_026_324_418_474,
            0.807_834_274_553_321_8,
            0.969_310_699_713_954_1,
        ),
        (
            10,
            3.077_505_461_670_346,
            0.797_050_673_519_414,
            0.972_659_274_121_588_3,
        ),
        (
            11,
            3.172_872_703_816_000_5,
            0.787_314_620_550_326,
            0.975_350_077_145_229_3,
        ),
        (
            12,
            3.258_455_279_743_826,
            0.778_478_341_203_361_2,
            0.977_559_351_854_772_2,
        ),
        (
            13,
            3.335_980_354_098_255,
            0.770_416_202_063_754,
            0.979_405_604_314_217_7,
        ),
        (
            14,
            3.406_763_108_199_953,
            0.763_023_095_624_769_3,
            0.980_971_436_755_516_2,
        ),
        (
            15,
            3.471_826_889_882_074_8,
            0.756_211_429_727_948_7,
            0.982_316_177_162_650_5,
        ),
        (
            16,
            3.531_982_786_109_576,
            0.749_908_089_409_911_8,
            0.983_483_531_615_841_2,
        ),
        (
            17,
            3.587_883_961_765_381_7,
            0.744_051_783_960_709_8,
            0.984_506_405_471_831_5,
        ),
        (
            18,
            3.640_063_757_937_444_4,
            0.738_590_853_378_193_1,
            0.985_410_043_808_079,
        ),
        (
            19,
            3.688_963_023_207_649_3,
            0.733_481_495_518_846_8,
            0.986_214_136_860_193_5,
        ),
        (
            20,
            3.734_950_119_596_641,
            0.728_686_345_707_302_1,
            0.986_934_267_524_655_3,
        ),
        (
            21,
            3.778_335_829_842_621,
            0.724_173_340_717_497,
            0.987_582_928_826_156_4,
        ),
        (
            22,
            3.819_384_643_362_832_7,
            0.719_914_808_434_199_1,
            0.988_170_253_315_831,
        ),
        (
            23,
            3.858_323_423_285_007,
            0.715_886_735_491_805_5,
            0.988_704_545_233_999_2,
        ),
        (
            24,
            3.895_348_148_451_356_4,
            0.712_068_175_147_930_3,
            0.989_192_674_958_504_7,
        ),
        (
            25,
            3.930_629_219_507_113,
            0.708_440_765_888_633_8,
            0.989_640_375_585_703_1,
        ),
    ];
}
