//! Student's t distribution with unit scale, for any real number of degrees of freedom.

use super::beta::fraction;
use super::gamma::half_step_ratio;
use super::normal::{FRAC_1_SQRT_TAU, normal_pdf, normal_quantile_upper, normal_sf};
use super::tail::Tail;
use crate::dd::{Dd, two_prod};
use crate::float;

/// From here on t and normal agree to the last bit: they differ by t^4/(4 nu).
pub(super) const NORMAL_FROM: f64 = 1e24;

/// Density of Student's t with `nu` degrees of freedom and unit scale.
///
/// ```text
/// f(t) = Gamma((nu+1)/2) / (sqrt(nu pi) Gamma(nu/2)) * (1 + t^2/nu)^(-(nu+1)/2)
/// ```
/// For real nu > 0, infinity included; NaN otherwise. Relative accuracy: 2e-15 until it underflows.
///
/// ```
/// use kerfwise_numeric::special::student_t_pdf;
/// assert!((student_t_pdf(0.0, 4.0) - 0.375).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_pdf(t: f64, nu: f64) -> f64 {
    match Student::new(nu) {
        None => f64::NAN,
        Some(_) if nu >= NORMAL_FROM => normal_pdf(t),
        Some(law) if t.is_finite() => law.at(t.abs()).pdf.value(),
        Some(_) => {
            if t.is_nan() {
                t
            } else {
                0.0
            }
        }
    }
}

/// Chance that Student's t is at most `t`.
///
/// Domain and accuracy as for [`student_t_sf`].
///
/// ```
/// use kerfwise_numeric::special::student_t_cdf;
/// assert_eq!(student_t_cdf(0.0, 4.0), 0.5);
/// assert!((student_t_cdf(1.0, 1.0) - 0.75).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_cdf(t: f64, nu: f64) -> f64 {
    student_t_sf(-t, nu)
}

/// Chance that Student's t is above `t`, with full relative accuracy in the right tail.
///
/// For real nu > 0, infinity (the normal) included; NaN otherwise. Near the middle a series of positive terms, further out
/// the continued fraction of the incomplete beta function, DLMF 8.17. Relative accuracy: 1e-14 for nu from 1e-3 to infinity,
/// down to 1e-300.
///
/// ```
/// use kerfwise_numeric::special::student_t_sf;
/// // Two degrees of freedom: 1/2 - t / (2 sqrt(2 + t^2)).
/// assert!((student_t_sf(1.0, 2.0) - (0.5 - 0.5 / 3.0_f64.sqrt())).abs() < 1e-15);
/// ```
#[must_use]
pub fn student_t_sf(t: f64, nu: f64) -> f64 {
    let Some(law) = Student::new(nu) else {
        return f64::NAN;
    };
    if nu >= NORMAL_FROM {
        return normal_sf(t);
    }
    if t.is_nan() {
        return t;
    }
    if t.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    let place = law.at(t.abs());
    if place.is_central() {
        let half = place.central();
        if t > 0.0 { 0.5 - half } else { 0.5 + half }
    } else {
        let tail = place.tail().value();
        if t > 0.0 { tail } else { 1.0 - tail }
    }
}

/// The `t` with `student_t_cdf(t, nu) = p`: minus infinity at 0, infinity at 1; NaN for p outside [0, 1] or nu not
/// above 0.
///
/// Accuracy as for [`student_t_quantile_upper`], which is to be used for p near 1.
///
/// ```
/// use kerfwise_numeric::special::student_t_quantile;
/// assert!((student_t_quantile(0.975, 4.0) - 2.776_445_105_197_793).abs() < 1e-14); // JCGM 100:2008, table G.2: 2.78
/// ```
#[must_use]
pub fn student_t_quantile(p: f64, nu: f64) -> f64 {
    0.0 - student_t_quantile_upper(p, nu) // not a negation: the median is +0
}

/// The `t` with `student_t_sf(t, nu) = q`: infinity at 0, minus infinity at 1; NaN for q outside [0, 1] or nu not
/// above 0. Infinite where t itself would be above the largest `f64` (nu below 1, far tail).
///
/// Halley's method on functions that are concave. Relative accuracy: 1e-14 divided by the smaller of 1 and t f(t)/q, for nu from
/// 1e-2 up, q down to 1e-300 and the neighbourhood of 1/2 included.
///
/// ```
/// use kerfwise_numeric::special::student_t_quantile_upper;
/// assert!((student_t_quantile_upper(0.25, 1.0) - 1.0).abs() < 1e-15); // tan(pi/4)
/// ```
#[must_use]
pub fn student_t_quantile_upper(q: f64, nu: f64) -> f64 {
    let Some(law) = Student::new(nu) else {
        return f64::NAN;
    };
    if !(0.0..=1.0).contains(&q) {
        f64::NAN
    } else if nu >= NORMAL_FROM {
        normal_quantile_upper(q)
    } else if q > 0.5 {
        -law.upper_half(1.0 - q) // exact: no rounding for q in [1/2, 1]
    } else {
        law.upper_half(q)
    }
}

/// The constants of one number of degrees of freedom.
#[derive(Debug, Clone, Copy)]
struct Student {
    nu: f64,
    /// Density at 0.
    top: f64,
}

/// Student's t at one t >= 0.
#[derive(Debug, Clone, Copy)]
struct Place {
    t: f64,
    nu: f64,
    pdf: Tail,
    /// t f(t), which is there long after f(t) has underflowed.
    front: Tail,
    /// nu/(nu + t^2) and its complement.
    x: f64,
    y: f64,
}

impl Student {
    fn new(nu: f64) -> Option<Self> {
        // Below 1e-280 the distribution is at 0 and at infinity, and quotients would overflow.
        let least = nu.max(1e-280);
        (nu > 0.0).then(|| Self {
            nu: least,
            top: FRAC_1_SQRT_TAU * half_step_ratio(0.5 * least),
        })
    }

    fn at(self, t: f64) -> Place {
        let nu = self.nu;
        let ratio = if !(1e-140..=1e140).contains(&t) {
            Dd::new((t / nu.sqrt()) * (t / nu.sqrt()))
        } else {
            two_prod(t, t) / nu
        };
        // Beyond 1e200 the 1 of 1 + t^2/nu does not count, and the square may not exist.
        let log = if ratio.hi < 1e200 {
            ratio.ln_1p()
        } else {
            Dd::new(t).ln() * 2.0 - Dd::new(nu).ln()
        };
        let exponent = log * ((Dd::new(nu) + 1.0) * -0.5);
        let whole = 1.0 + ratio.hi;
        let (x, y) = if ratio.hi < 1e200 {
            (1.0 / whole, ratio.hi / whole)
        } else {
            (nu / t / t, 1.0)
        };
        Place {
            t,
            nu,
            pdf: Tail {
                exponent,
                factor: self.top,
            },
            front: Tail {
                exponent: log * (-0.5 * nu),
                factor: self.top * (nu * y).sqrt(),
            },
            x,
            y,
        }
    }

    /// The t with upper tail q, for q in [0, 1/2].
    ///
    /// Halley's method: in t for the chance between 0 and t where that is the more precise, else in ln t for the logarithm of the
    /// tail. Both are concave, so that it converges from anywhere; two or three steps are usual.
    fn upper_half(self, q: f64) -> f64 {
        let d = 0.5 - q; // exact for q in [1/4, 1/2]
        if q == 0.0 || d == 0.0 {
            return if d > 0.0 { f64::INFINITY } else { 0.0 };
        }
        // One f64 for so large a logarithm would cost digits of t.
        let ln_q = Dd::new(q).ln();
        // The density is nowhere above its top, so t cannot be less than this.
        let least = d / self.top;
        let mut t = self.start(least, q, ln_q.hi).max(least).min(f64::MAX);
        // The cap is for a function that is flat in floating point.
        for _ in 0..100 {
            let place = self.at(t);
            // Slope of ln f over ln t.
            let fall = -(self.nu + 1.0) * place.y;
            let (step, sharpness) = if place.is_central() {
                let newton = (d - place.central()) / (t * place.pdf.value());
                (newton / (1.0 + 0.5 * newton * fall).max(0.5), 1.0 - fall)
            } else {
                let share = place.tail_over_front();
                let newton = (place.front.times(share).ln() - ln_q).hi * share;
                let sharpness = 1.0 + fall + 1.0 / share;
                let bent = newton / (1.0 + 0.5 * newton * sharpness).max(0.5);
                (float::exp_m1(bent), 1.0 + sharpness - fall)
            };
            t += t * step;
            if t > f64::MAX {
                return f64::INFINITY;
            }
            t = t.max(least);
            // The next step would be the cube of this, in units of the distance over which the slope changes.
            if step.abs() * sharpness < 1e-5 {
                break;
            }
        }
        t
    }

    /// Near the t with upper tail q: near the middle the series of t in least = (1/2 - q)/f(0) (Hill 1970), else the normal quantile
    /// stretched after Wallace (1959), or the power law of the far tail where that is better.
    fn start(self, least: f64, q: f64, ln_q: f64) -> f64 {
        let nu = self.nu;
        let x = least * least * (1.0 + 1.0 / nu);
        if x < 0.3 {
            let second = (7.0 * nu + 1.0) / (120.0 * (nu + 1.0));
            return least * (1.0 + x * (1.0 / 6.0 + x * second));
        }
        let z = normal_quantile_upper(q) * (8.0 * nu + 3.0) / (8.0 * nu + 1.0);
        let stretched = (nu * float::exp_m1(z * z / nu)).sqrt();
        // sf(t) is below top nu^((nu-1)/2) t^-nu, and near it in the far tail.
        let power = (float::ln(self.top) + 0.5 * (nu - 1.0) * float::ln(nu) - ln_q) / nu;
        stretched.min(float::exp(power))
    }
}

impl Place {
    /// Whether the series of `central` is short and the tail not small.
    fn is_central(&self) -> bool {
        self.y <= 0.5 && self.t * self.t <= 2.0
    }

    /// The chance between 0 and t: t f(t) (1 + y (nu+1)/3 + y^2 (nu+1)(nu+3)/15 + ...), y = t^2/(nu + t^2),
    /// from DLMF 15.8.1 applied to the integral of the density.
    fn central(&self) -> f64 {
        let mut term = 1.0;
        let mut total = 1.0;
        let mut k = 0.0;
        while term > 1e-17 * total {
            // y (nu + 1 + 2k)/(3 + 2k), with y nu kept below t^2 for the largest nu
            term *= self.y * (self.nu + 1.0 + 2.0 * k) / (3.0 + 2.0 * k);
            total += term;
            k += 1.0;
        }
        self.t * self.pdf.value() * total
    }

    /// The chance above t.
    fn tail(&self) -> Tail {
        self.front.times(self.tail_over_front())
    }

    /// The chance above t over t f(t), the front of the incomplete beta function of nu/2, 1/2 at x of which it is half.
    fn tail_over_front(&self) -> f64 {
        let a = 0.5 * self.nu;
        let lambda = a * self.y - 0.5 * self.x;
        0.5 * fraction(self.x, lambda, a, 0.5)
    }
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use crate::special::erf;
    use proptest::prelude::*;
    use statrs::distribution::ContinuousCDF;
    use std::f64::consts::FRAC_1_SQRT_2;

    // t, degrees of freedom, density, upper tail, computed with mpmath at 70 digits.
    const TABLE: [(f64, f64, f64, f64); 27] = [
        (
            1.0e-6,
            0.001,
            0.015_800_438_964_073_68,
            0.499_999_984_199_561_04,
        ),
        (
            5.0,
            0.01,
            0.000_954_838_716_237_379_5,
            0.477_515_307_464_399_96,
        ),
        (
            1.0e20,
            0.1,
            4.173_803_137_173_217e-24,
            0.004_173_803_137_173_217,
        ),
        (0.3, 0.5, 0.238_194_251_658_137_04, 0.422_429_576_065_245_4),
        (
            100_000.0,
            0.5,
            5.070_727_650_542_876_6e-9,
            0.001_014_145_530_138_999_7,
        ),
        (
            40.0,
            0.75,
            0.000_365_805_019_549_000_3,
            0.019_515_420_093_738_84,
        ),
        (1.0, 1.0, 0.159_154_943_091_895_35, 0.25),
        (
            1_000_000_000.0,
            1.0,
            3.183_098_861_837_906_5e-19,
            3.183_098_861_837_906_5e-10,
        ),
        (
            1.0e100,
            1.0,
            3.183_098_861_837_906_7e-201,
            3.183_098_861_837_907e-101,
        ),
        (2.5, 1.5, 0.043_742_506_803_807_15, 0.084_903_251_307_348_03),
        (
            30.0,
            2.0,
            3.691_392_229_556_69e-5,
            0.000_554_631_340_979_829_4,
        ),
        (
            10_000_000.0,
            3.0,
            3.307_973_372_530_554e-28,
            1.102_657_790_843_544_4e-21,
        ),
        (1.4, 4.0, 0.138_377_537_135_552_54, 0.117_050_313_663_414_99),
        (
            6.5,
            4.0,
            0.000_824_901_139_179_027_5,
            0.001_445_003_558_550_367_5,
        ),
        (1.0e60, 5.0, 0.0, 9.490_167_245_562_363e-300),
        (0.7, 7.5, 0.294_891_438_313_044_65, 0.252_527_810_936_925_2),
        (
            25.0,
            9.95,
            5.106_210_938_318_535_6e-11,
            1.301_661_929_271_965_7e-10,
        ),
        (1.5, 30.5, 0.128_971_971_461_294_47, 0.071_947_890_117_087_3),
        (
            12.0,
            99.5,
            1.171_805_900_651_335e-20,
            2.373_785_374_345_745e-21,
        ),
        (
            3.0,
            1_000.0,
            0.004_500_624_610_139_896,
            0.001_383_354_522_119_096_3,
        ),
        (
            36.0,
            1_000.0,
            8.597_529_752_047_323e-182,
            5.479_100_611_182_699_5e-183,
        ),
        (
            0.5,
            30_000.0,
            0.352_061_109_345_427_3,
            0.308_539_372_390_108_65,
        ),
        (
            1.43,
            1_000_000.0,
            0.143_504_517_957_877_78,
            0.076_358_665_748_832_72,
        ),
        (
            20.0,
            1_000_000.0,
            5.745_050_932_478_889e-88,
            2.866_543_523_695_186e-89,
        ),
        (
            37.0,
            1_000_000_000.0,
            2.120_998_639_402_784e-298,
            5.728_258_428_777_57e-300,
        ),
        (
            5.0,
            1_000_000_000_000.0,
            1.486_719_514_947_642e-6,
            2.866_515_719_275_122_7e-7,
        ),
        (
            37.0,
            1_000_000_000_000.0,
            2.120_007_543_381_562e-298,
            5.725_573_909_103_507e-300,
        ),
    ];
    // Upper tail, degrees of freedom, t, computed with mpmath at 70 digits.
    const QUANTILES: [(f64, f64, f64); 21] = [
        (0.4, 0.1, 1.512_976_170_677_862),
        (1.0e-20, 0.1, 1.604_425_705_666_529_5e196),
        (0.25, 0.5, 1.553_773_974_030_037_4),
        (1.0e-100, 0.5, 1.028_491_156_316_34e199),
        (1.0e-9, 1.0, 318_309_886.183_790_6),
        (1.0e-300, 1.0, 3.183_098_861_837_906_6e299),
        (1.0e-12, 1.5, 52_194_694.273_446_35),
        (0.499_999_9, 2.0, 2.828_427_124_827_58e-7),
        (1.0e-50, 2.5, 8.765_437_882_279_992e19),
        (0.025, 4.0, 2.776_445_105_197_794_3),
        (1.0e-200, 4.0, 1.316_074_012_952_492_4e50),
        (0.2, 7.5, 0.892_209_346_939_673_8),
        (0.15, 30.5, 1.054_358_398_688_858_7),
        (1.0e-100, 99.5, 97.190_197_042_305_07),
        (1.0e-6, 249.0, 4.868_397_936_206_673),
        (2.0e-52, 249.0, 19.524_683_813_298_12),
        (1.0e-100, 1_000.0, 23.930_617_087_826_445),
        (0.499_9, 1_000_000.0, 0.000_250_662_892_753_726_76),
        (1.0e-9, 1_000_000.0, 5.997_862_455_710_895),
        (0.025, 1_000_000_000_000.0, 1.959_963_984_542_426_4),
        (1.0e-250, 1_000_000_000_000.0, 33.799_586_182_356_55),
    ];

    #[test]
    fn density_and_tail() {
        for (t, nu, density, tail) in TABLE {
            // because: measured 7e-16 and 3e-15 at worst over 330 and 620 random places
            assert_close(student_t_pdf(t, nu), density, 2e-15, (t, nu));
            assert_close(student_t_sf(t, nu), tail, 5e-15, (t, nu));
            assert_close(student_t_cdf(-t, nu), tail, 5e-15, (t, nu));
        }
    }

    #[test]
    fn quantiles_in_the_far_tail_and_at_the_middle() {
        for (q, nu, t) in QUANTILES {
            // because: that of the tail over the slope of ln sf, which is at least 0.09 here, and of 1/2 - q itself
            assert_close(student_t_quantile_upper(q, nu), t, 2e-14, (q, nu));
            assert_close(student_t_quantile(q, nu), -t, 2e-14, (q, nu));
        }
    }

    // JCGM 100:2008, table G.2, recomputed there to nine decimals: 68.27, 90, 95, 95.45, 99 and 99.73 %.
    #[test]
    fn coverage_factors_of_the_guide() {
        let inside = |k: f64| erf(k * FRAC_1_SQRT_2);
        let columns = [inside(1.0), 0.90, 0.95, inside(2.0), 0.99, inside(3.0)];
        let table = [
            (
                1.0,
                [
                    1.837_337_201,
                    6.313_751_515,
                    12.706_204_736,
                    13.967_730_199,
                    63.656_741_163,
                    235.801_497_960,
                ],
            ),
            (
                2.0,
                [
                    1.321_277_373,
                    2.919_985_580,
                    4.302_652_730,
                    4.526_536_687,
                    9.924_843_201,
                    19.206_744_212,
                ],
            ),
            (
                4.0,
                [
                    1.141_626_629,
                    2.131_846_786,
                    2.776_445_105,
                    2.869_309_415,
                    4.604_094_871,
                    6.620_205_967,
                ],
            ),
            (
                10.0,
                [
                    1.052_562_415,
                    1.812_461_123,
                    2.228_138_852,
                    2.283_678_202,
                    3.169_272_673,
                    3.956_936_660,
                ],
            ),
            (
                50.0,
                [
                    1.010_100_499,
                    1.675_905_025,
                    2.008_559_112,
                    2.051_248_173,
                    2.677_793_271,
                    3.157_147_792,
                ],
            ),
            (
                f64::INFINITY,
                [1.0, 1.644_853_627, 1.959_963_985, 2.0, 2.575_829_304, 3.0],
            ),
        ];
        for (nu, factors) in table {
            for (p, factor) in columns.into_iter().zip(factors) {
                let got = student_t_quantile_upper(0.5 * (1.0 - p), nu);
                assert!((got - factor).abs() < 5.1e-10, "{nu} {p}: {got}"); // because: nine decimals
            }
        }
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!(
            (
                student_t_sf(f64::INFINITY, 3.0),
                student_t_cdf(f64::INFINITY, 0.5)
            ),
            (0.0, 1.0)
        );
        assert_eq!(
            (
                student_t_pdf(f64::NEG_INFINITY, 3.0),
                student_t_cdf(0.0, 0.1)
            ),
            (0.0, 0.5)
        );
        assert_eq!(
            (student_t_quantile(0.0, 3.0), student_t_quantile(1.0, 3.0)),
            (f64::NEG_INFINITY, f64::INFINITY)
        );
        assert!(
            student_t_quantile(0.5, 3.0) == 0.0 && student_t_quantile(0.5, 3.0).is_sign_positive()
        );
        assert_eq!(student_t_quantile_upper(1e-300, 0.1), f64::INFINITY); // near 1e2999
        for nu in [0.0, -1.0, f64::NAN] {
            assert!(
                student_t_sf(1.0, nu).is_nan()
                    && student_t_pdf(1.0, nu).is_nan()
                    && student_t_quantile(0.1, nu).is_nan()
            );
        }
        assert!(student_t_sf(f64::NAN, 3.0).is_nan() && student_t_quantile(1.5, 3.0).is_nan());
    }

    #[test]
    fn becomes_the_normal_smoothly() {
        // The first correction of the tail is f(t) (t + t^3)/(4 nu) (Abramowitz and Stegun 26.7.8).
        for t in [0.5, 2.0, 8.0] {
            let mut nu = 1e10;
            while nu < 1e26 {
                let want = normal_sf(t) + normal_pdf(t) * (t + t * t * t) / (4.0 * nu);
                // because: the next term, 3 t^7 f(t)/(96 nu^2), is below 6e-15 of the tail
                assert_close(student_t_sf(t, nu), want, 2e-14, (t, nu));
                nu *= 10.0;
            }
        }
    }

    fn degrees() -> impl Strategy<Value = f64> {
        prop_oneof![
            (0.05_f64..3.0),
            (1_u32..200).prop_map(f64::from),
            (-3.0_f64..27.0).prop_map(float::exp)
        ]
    }

    proptest! {
        #[test]
        fn quantile_undoes_the_tail(nu in degrees(), ln_q in -690.0..-0.7) {
            let q = float::exp(ln_q);
            let t = student_t_quantile_upper(q, nu);
            // because: one rounding of t moves q by t f(t)/q, at most t^2 or nu: below 1400
            prop_assert!(t == f64::INFINITY || (student_t_sf(t, nu) / q - 1.0).abs() < 1e-12, "{}", t);
        }

        #[test]
        fn quantile_near_the_middle(nu in degrees(), log_d in -14.0_f64..-1.0) {
            let d = float::powf(10.0, log_d);
            let q = 0.5 - d;
            let t = student_t_quantile_upper(q, nu);
            let law = Student::new(nu).expect("nu is above 0");
            let place = law.at(t);
            // because: what is left of 1/2 is exact, and so is the central series to 2e-15
            if place.is_central() {
                prop_assert!((place.central() / (0.5 - q) - 1.0).abs() < 1e-14);
            }
        }

        #[test]
        fn cdf_rises_and_both_sides_add_to_one(nu in degrees(), t in -50.0..50.0, step in 0.0..1.0) {
            // because: at equal t but for rounding, or where the two ways meet, values may differ by their error
            prop_assert!(student_t_sf(t + step, nu) <= student_t_sf(t, nu) * (1.0 + 1e-14));
            prop_assert!((student_t_cdf(t, nu) + student_t_sf(t, nu) - 1.0).abs() < 3e-16);
        }

        #[test]
        fn both_ways_agree_where_they_meet(nu in degrees()) {
            let law = Student::new(nu).expect("nu is above 0");
            let place = law.at(nu.min(2.0).sqrt());
            prop_assert!((place.central() + place.tail().value() - 0.5).abs() < 2e-15);
        }

        // statrs 0.19 as an outside witness, within its own accuracy (1e-11 for these degrees of freedom).
        #[test]
        fn agrees_with_another_library(nu in 1.0_f64..1000.0, t in 0.1..30.0) {
            let other = statrs::distribution::StudentsT::new(0.0, 1.0, nu).expect("valid").sf(t);
            prop_assert!((student_t_sf(t, nu) - other).abs() < 1e-10 * other + 1e-200);
        }
    }
}
