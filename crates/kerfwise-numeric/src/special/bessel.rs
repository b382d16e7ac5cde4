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
pub(super) struct Bends {
    pub(super) cosh: f64,
    pub(super) forward: f64,
    pub(super) backward: f64,
}

impl Bends {
    pub(super) fn at(u: f64) -> Self {
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

/// `e^z K_0(z)` and `e^z K_1(z)`, for z > 0: the power series of DLMF 10.31.1 and 10.31.2 below 2, a polynomial in 4/z - 1 above.
///
/// Relative accuracy: 1e-15.
pub(super) fn scaled_k01(z: f64) -> (f64, f64) {
    if z < 2.0 {
        let (k0, first) = small_k01(z, float::ln(0.5 * z));
        let e = float::exp(z);
        (e * k0, e * (first / z))
    } else {
        large_k01(z)
    }
}

/// `K_0(z)` and `z K_1(z)`, with the logarithm of z/2.
#[inline(always)]
pub(super) fn small_k01(z: f64, ln_half: f64) -> (f64, f64) {
    const EULER: f64 = 0.577_215_664_901_532_9;
    let w = 0.25 * z * z;
    let log = ln_half + EULER;
    // Sums of w^k/(k!)^2 (H_k - log) and of w^k/(k! (k+1)!) ((H_k + H_(k+1))/2 - log): differences are taken term by term,
    // before they can grow.
    let (mut sum0, mut sum1) = (0.0, 0.0);
    for [c0, c1, h0, h1] in SMALL_K01.iter().rev() {
        sum0 = sum0 * w + c0 * (h0 - log);
        sum1 = sum1 * w + c1 * (h1 - log);
    }
    (sum0, 1.0 - 2.0 * w * sum1)
}

/// `1/(k!)^2`, `1/(k! (k+1)!)`, `H_k` and `(H_k + H_(k+1))/2`.
const SMALL_K01: [[f64; 4]; 14] = {
    let mut rows = [[1.0, 1.0, 0.0, 0.5]; 14];
    let mut i = 1;
    let mut k = 1.0;
    while i < rows.len() {
        let before = rows[i - 1];
        let harmonic = before[2] + 1.0 / k;
        rows[i] = [
            before[0] / (k * k),
            before[1] / (k * (k + 1.0)),
            harmonic,
            harmonic + 0.5 / (k + 1.0),
        ];
        i += 1;
        k += 1.0;
    }
    rows
};

#[inline(always)]
pub(super) fn large_k01(z: f64) -> (f64, f64) {
    let u = 4.0 / z - 1.0;
    let square = u * u;
    // Even and odd powers side by side: half as long a wait for each other.
    let (mut even, mut odd) = (LARGE_K01[24], [0.0; 2]);
    for pair in LARGE_K01[..24].chunks_exact(2).rev() {
        for i in 0..2 {
            even[i] = even[i] * square + pair[0][i];
            odd[i] = odd[i] * square + pair[1][i];
        }
    }
    let root = z.sqrt();
    ((even[0] + u * odd[0]) / root, (even[1] + u * odd[1]) / root)
}

/// Coefficients of `sqrt(z) e^z K_0(z)` and `sqrt(z) e^z K_1(z)` in powers of 4/z - 1, from their Chebyshev series to degree
/// 24, computed with mpmath at 60 digits. That series falls sevenfold with each term, so its powers do not cancel.
const LARGE_K01: [[f64; 2]; 25] = [
    [1.218_595_338_513_390_5, 1.363_151_890_371_342],
    [-0.031_071_461_824_889_52, 0.103_349_737_753_865_23],
    [0.003_032_891_810_273_794, -0.005_566_729_880_072_931],
    [-0.000_479_769_056_766_231_4, 0.000_735_724_154_908_150_1],
    [9.956_054_749_305_854e-5, -0.000_139_590_219_641_750_84],
    [-2.473_520_456_146_690_6e-5, 3.284_386_555_825_453e-5],
    [7.002_244_287_487_694e-6, -8.961_205_912_549_711e-6],
    [-2.191_177_788_015_528e-6, 2.730_041_433_569_803e-6],
    [7.427_932_208_028_755e-7, -9.067_229_884_830_243e-7],
    [-2.689_066_247_290_161_4e-7, 3.229_811_917_715_182_4e-7],
    [1.028_798_068_945_858_2e-7, -1.219_509_382_450_161_3e-7],
    [-4.133_923_052_104_385e-8, 4.846_195_220_009_186_5e-8],
    [1.731_622_598_181_986e-8, -2.010_939_858_552_384_6e-8],
    [-7.286_380_907_337_665e-9, 8.409_387_565_361_77e-9],
    [3.170_629_957_994_259e-9, -3.639_264_909_950_171e-9],
    [-1.930_944_487_584_570_5e-9, 2.175_778_202_583_717_6e-9],
    [1.057_377_791_772_004_7e-9, -1.180_097_808_498_307e-9],
    [1.788_709_583_847_648_2e-10, -1.798_213_849_617_501_6e-10],
    [-2.426_111_314_423_373e-10, 2.560_533_082_941_635e-10],
    [-5.541_051_446_065_683e-10, 6.042_482_293_782_838e-10],
    [3.883_027_499_295_913e-10, -4.219_063_551_782_663_6e-10],
    [2.213_758_097_591_008e-10, -2.399_376_595_899_464e-10],
    [-1.575_097_314_455_228_5e-10, 1.704_297_529_665_342e-10],
    [-6.910_453_875_670_571e-11, 7.524_795_486_353_94e-11],
    [4.446_326_113_636_836_5e-11, -4.829_107_281_627_596e-11],
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
