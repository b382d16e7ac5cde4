//! Bessel functions: J0 from `libm`, and K of any real order.

use crate::dd::two_prod;
use crate::float;

/// Bessel function of the first kind, order 0 (DLMF 10.2): the characteristic function of the arcsine distribution.
///
/// Absolute accuracy: 3e-16 (`libm`).
///
/// ```
/// use kerfwise_numeric::special::bessel_j0;
/// assert_eq!(bessel_j0(0.0), 1.0);
/// assert!((bessel_j0(1.0) - 0.765_197_686_557_966_6).abs() < 1e-15);
/// ```
#[must_use]
pub fn bessel_j0(x: f64) -> f64 {
    float::bessel_j0(x)
}

/// Modified Bessel function of the second kind of real order `nu` at `x` (DLMF 10.25): infinite at 0, NaN below.
///
/// ```text
/// K_nu(x) = 1/2 * integral of exp(-x cosh u + nu u) over all u
/// ```
/// (DLMF 10.32.9), by the trapezoidal rule about the peak of the integrand, which converges faster than any power of its step.
/// Relative accuracy: 2e-15 until the result under- or overflows. An x below 1e-140 is taken as 1e-140, an order above 1e100 as
/// 1e100.
///
/// ```
/// use kerfwise_numeric::special::bessel_k;
/// // Half an odd order is elementary: K_1/2(2) = sqrt(pi/4) e^-2.
/// let exact = (std::f64::consts::PI / 4.0).sqrt() * (-2.0_f64).exp();
/// assert!((bessel_k(0.5, 2.0) / exact - 1.0).abs() < 1e-14);
/// ```
#[must_use]
pub fn bessel_k(nu: f64, x: f64) -> f64 {
    if x.is_nan() || nu.is_nan() || x < 0.0 {
        return f64::NAN;
    }
    let nu = nu.abs().min(1e100); // K is even in its order
    if x == 0.0 {
        return f64::INFINITY;
    }
    if x > 1e4 && x > nu {
        return 0.0; // below e^-5000
    }
    let x = x.max(1e-140);
    let square = two_prod(x, x);
    let root = (square + two_prod(nu, nu)).sqrt();
    let exponent = ((root + nu) / x).ln() * nu - root;
    let excess = (square / (root + nu)).hi;
    0.5 * exponent.exp() * peak_integral(nu, root.hi, excess)
}

/// Integral over all u of exp(-excess (cosh u - 1) - nu (e^u - 1 - u)), where root = nu + excess is the curvature at its peak.
pub(super) fn peak_integral(nu: f64, root: f64, excess: f64) -> f64 {
    // The rule's error is exp(-2 pi y/h) times the growth of the integrand at a distance y from the real line, cos(y)^-nu
    // at most: this step keeps it below 1e-16 for every order and argument.
    let h = 0.66 / (root + 7.0).sqrt();
    let mut total = 1.0;
    let (mut right, mut left) = (true, true);
    let mut k = 1.0;
    while right || left {
        let bends = Bends::at(k * h);
        if right {
            let term = float::exp(-excess * bends.cosh - nu * bends.forward);
            total += term;
            right = term > 1e-18 * total;
        }
        if left {
            let term = float::exp(-excess * bends.cosh - nu * bends.backward);
            total += term;
            left = term > 1e-18 * total;
        }
        k += 1.0;
    }
    h * total
}

/// cosh u - 1, e^u - 1 - u and e^-u - 1 + u, each accurate relative to itself, for u > 0.
struct Bends {
    cosh: f64,
    forward: f64,
    backward: f64,
}

impl Bends {
    fn at(u: f64) -> Self {
        if u < 0.5 {
            let s = u * u;
            let (mut even, mut odd) = (0.0, 0.0);
            for k in (1..=7).rev() {
                let k = f64::from(2 * k);
                even = (even + 1.0) * s / (k * (k - 1.0));
                odd = (odd + 1.0) * s / (k * (k + 1.0));
            }
            let odd = odd * u;
            return Self {
                cosh: even,
                forward: even + odd,
                backward: even - odd,
            };
        }
        let e = float::exp_m1(u);
        Self {
            cosh: 0.5 * e * e / (1.0 + e),
            forward: e - u,
            backward: u - e / (1.0 + e),
        }
    }
}

/// `e^z K_0(z)` and `e^z K_1(z)`, for z > 0: the power series of DLMF 10.31.1 and 10.31.2 below 2, Chebyshev series in 4/z - 1 above.
///
/// Relative accuracy: 1e-15.
pub(super) fn scaled_k01(z: f64) -> (f64, f64) {
    if z < 2.0 { small_k01(z) } else { large_k01(z) }
}

fn small_k01(z: f64) -> (f64, f64) {
    const EULER: f64 = 0.577_215_664_901_532_9;
    let w = 0.25 * z * z;
    let log = float::ln(0.5 * z) + EULER;
    // Sums of w^k/(k!)^2 (H_k - log) and of w^k/(k! (k+1)!) ((H_k + H_(k+1))/2 - log): differences are taken term by term,
    // before they can grow.
    let (mut c0, mut c1, mut harmonic) = (1.0, 1.0, 0.0);
    let (mut sum0, mut sum1) = (-log, 0.5 - log);
    for k in 1..=13 {
        let k = f64::from(k);
        c0 *= w / (k * k);
        c1 *= w / (k * (k + 1.0));
        harmonic += 1.0 / k;
        sum0 += c0 * (harmonic - log);
        sum1 += c1 * (harmonic + 0.5 / (k + 1.0) - log);
    }
    let (k0, k1) = (sum0, 1.0 / z - 0.5 * z * sum1);
    let e = float::exp(z);
    (e * k0, e * k1)
}

fn large_k01(z: f64) -> (f64, f64) {
    let twice = 2.0 * (4.0 / z - 1.0);
    let (mut a, mut b) = ([0.0; 2], [0.0; 2]);
    for c in K01_CHEBYSHEV[1..].iter().rev() {
        let next = [twice * a[0] - b[0] + c[0], twice * a[1] - b[1] + c[1]];
        (a, b) = (next, a);
    }
    let first = K01_CHEBYSHEV[0];
    let root = z.sqrt();
    (
        (0.5 * twice * a[0] - b[0] + first[0]) / root,
        (0.5 * twice * a[1] - b[1] + first[1]) / root,
    )
}

/// Chebyshev coefficients of `sqrt(z) e^z K_0(z)` and `sqrt(z) e^z K_1(z)` over 4/z - 1, computed with mpmath at 60 digits.
const K01_CHEBYSHEV: [[f64; 2]; 25] = [
    [1.220_151_541_032_977_7, 1.360_313_095_242_221_3],
    [-0.031_448_101_311_964_5, 0.103_923_736_576_817_24],
    [0.001_569_883_885_730_053_3, -0.002_857_816_859_622_779],
    [-0.000_128_495_495_816_278_02, 0.000_195_215_518_471_351_62],
    [1.394_981_371_887_65e-5, -1.936_197_974_166_083e-5],
    [-1.831_755_522_719_119_5e-6, 2.406_484_947_837_217e-6],
    [2.766_813_639_445_015e-7, -3.501_960_603_087_812_6e-7],
    [-4.660_489_897_687_948e-8, 5.741_084_125_450_049_5e-8],
    [8.574_034_017_414_225e-9, -1.034_576_246_567_809_7e-8],
    [-1.697_534_509_389_061_4e-9, 2.015_049_755_197_034_7e-9],
    [3.577_397_281_400_328_3e-10, -4.190_354_759_341_925_4e-10],
    [-7.957_489_244_477_396e-11, 9.218_315_187_605_315e-11],
    [1.855_949_114_954_926_4e-11, -2.129_967_838_427_791e-11],
    [-4.514_597_883_374_519e-12, 5.139_639_673_482_343e-12],
    [1.140_340_588_207_344_1e-12, -1.289_173_960_949_822_9e-12],
    [-2.980_096_923_148_178_4e-13, 3.348_419_666_052_243e-13],
    [8.032_890_775_068_375e-14, -8.976_705_182_010_146e-14],
    [-2.227_513_326_746_296_5e-14, 2.477_154_424_219_598_8e-14],
    [6.340_076_476_276_646e-15, -7.019_837_089_214_768_5e-15],
    [-1.848_593_377_920_907e-15, 2.038_703_166_239_861e-15],
    [5.512_055_999_404_333_5e-16, -6.057_047_270_643_018e-16],
    [-1.678_231_125_754_900_6e-16, 1.838_093_575_243_045_5e-16],
    [5.210_391_777_643_554_3e-17, -5.689_462_849_193_648e-17],
    [-1.647_580_593_984_263_2e-17, 1.794_051_047_886_357_2e-17],
    [5.300_433_771_177_335_4e-18, -5.756_744_482_073_302_5e-18],
];

#[cfg(test)]
mod tests {
    use super::super::testing::assert_close;
    use super::*;
    use proptest::prelude::*;

    // Order, x, K, computed with mpmath at 40 digits.
    const TABLE: [(f64, f64, f64); 15] = [
        (0.0, 1.0e-8, 18.536_612_259_610_777),
        (0.0, 0.5, 0.924_419_071_227_665_9),
        (0.0, 2.0, 0.113_893_872_749_533_44),
        (0.0, 30.0, 2.132_477_496_463_056_3e-14),
        (1.0, 0.1, 9.853_844_780_870_606),
        (1.0, 3.0, 0.040_156_431_128_194_184),
        (2.0, 1.4, 0.701_992_064_367_078_8),
        (0.25, 0.000_1, 21.351_915_864_398_12),
        (0.3, 5.0, 0.003_721_669_328_873_425_4),
        (3.7, 0.2, 10_412.791_636_449_134),
        (10.0, 20.0, 6.316_214_528_321_579_6e-9),
        (50.5, 1.0, 3.398_565_506_633_802_7e78),
        (100.0, 300.0, 5.406_578_727_398_515e-125),
        (300.0, 200.0, 0.007_874_382_834_585_221),
        (0.0, 650.0, 2.512_502_884_662_839_3e-284),
    ];

    #[test]
    fn any_order() {
        for (nu, x, want) in TABLE {
            // because: measured 1e-15 at worst over 150 random places
            assert_close(bessel_k(nu, x), want, 3e-15, (nu, x));
            assert_close(bessel_k(-nu, x), want, 3e-15, (-nu, x));
        }
    }

    // Abramowitz and Stegun (1964), table 9.1.
    #[test]
    fn published_values() {
        assert!((bessel_j0(2.0) - 0.223_890_779_141_235_67).abs() < 3e-16);
    }

    #[test]
    fn ends_and_faults() {
        assert_eq!(
            (bessel_k(1.0, 0.0), bessel_k(2.0, 1e6), bessel_k(1e9, 1.0)),
            (f64::INFINITY, 0.0, f64::INFINITY)
        );
        assert!(
            bessel_k(1.0, -1.0).is_nan()
                && bessel_k(f64::NAN, 1.0).is_nan()
                && bessel_k(1.0, f64::NAN).is_nan()
        );
        for (nu, x) in [
            (f64::INFINITY, 1.0),
            (0.0, f64::INFINITY),
            (f64::INFINITY, f64::INFINITY),
            (0.0, 5e-324),
            (1e-300, 1e-300),
        ] {
            assert!(!bessel_k(nu, x).is_nan(), "{nu} {x}");
        }
    }

    proptest! {
        #[test]
        fn fast_orders_agree_with_the_integral(ln_x in -20.0..6.0) {
            let x = float::exp(ln_x);
            let (k0, k1) = scaled_k01(x);
            let scale = float::exp(-x);
            // because: K_0 near 2 is a difference of numbers ten times as large; e^-x adds x roundings at most
            prop_assert!((k0 * scale / bessel_k(0.0, x) - 1.0).abs() < 4e-15);
            prop_assert!((k1 * scale / bessel_k(1.0, x) - 1.0).abs() < 4e-15);
        }

        #[test]
        fn recurrence_holds(nu in 1.0..80.0, ln_x in -3.0..6.0) {
            // K_(nu+1) = K_(nu-1) + 2 nu/x K_nu, DLMF 10.29.1.
            let x = float::exp(ln_x);
            let up = bessel_k(nu - 1.0, x) + 2.0 * nu / x * bessel_k(nu, x);
            // because: 3e-15 for each, all positive; nu - 1 and nu + 1 are rounded, which moves K by ln(2 nu/x) roundings of nu
            prop_assert!((bessel_k(nu + 1.0, x) / up - 1.0).abs() < 2e-13);
        }
    }
}
