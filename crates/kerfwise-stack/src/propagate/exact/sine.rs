//! The characteristic function of a rectangular law at many places at once.

use kerfwise_numeric::float;

/// π in three parts, the first two with so many bits that their products with whole numbers up to 10⁵ are exact.
const PI_HIGH: f64 = 3.141_592_653_468_251_2;
const PI_MIDDLE: f64 = 1.215_420_101_260_793_2e-10;
const PI_LOW: f64 = 4.044_532_497_591_901e-21;
const FRAC_1_PI: f64 = std::f64::consts::FRAC_1_PI;
/// Added and taken away again, it leaves the nearest whole number.
const ROUND: f64 = 6_755_399_441_055_744.0;
/// Up to here the reduction serves.
const MOST: f64 = 3e5;
/// Taylor coefficients of sin(r)/r in r², from the highest: what follows is below 1e-18 for r up to π/2.
const SERIES: [f64; 11] = [
    1.957_294_106_339_126_3e-20,
    -8.220_635_246_624_33e-18,
    2.811_457_254_345_520_6e-15,
    -7.647_163_731_819_816e-13,
    1.605_904_383_682_161_3e-10,
    -2.505_210_838_544_172e-8,
    2.755_731_922_398_589_3e-6,
    -1.984_126_984_126_984e-4,
    8.333_333_333_333_333e-3,
    -0.166_666_666_666_666_66,
    1.0,
];

/// Multiplies by sin(ht)/(ht) at every t, which are above zero and ascend.
pub(super) fn times_sinc(column: &mut [f64], nodes: &[f64], half: f64) {
    let near = nodes.partition_point(|t| half * t <= MOST);
    for (y, t) in column[..near].iter_mut().zip(&nodes[..near]) {
        *y *= sinc(half * t);
    }
    for (y, t) in column[near..].iter_mut().zip(&nodes[near..]) {
        let x = half * t;
        *y *= float::sin(x) / x;
    }
}

/// sin(x)/x without a branch, for x from 0 to [`MOST`].
#[inline(always)]
fn sinc(x: f64) -> f64 {
    let x = x + f64::MIN_POSITIVE;
    let n = (x * FRAC_1_PI + ROUND) - ROUND;
    let r = ((x - n * PI_HIGH) - n * PI_MIDDLE) - n * PI_LOW;
    // What is left of n/2 is 0 or ±½.
    let half = 0.5 * n;
    let left = half - ((half + ROUND) - ROUND);
    let sign = 1.0 - 8.0 * left * left;
    let square = r * r;
    let mut series = SERIES[0];
    for c in &SERIES[1..] {
        series = series * square + c;
    }
    sign * r * series / x
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_the_sine_over_its_argument() {
        let nodes: Vec<f64> = (0..4000)
            .map(|i| 1e-9 + 0.037 * f64::from(i))
            .chain([1e5, 2.9e5, 1e7])
            .collect();
        for half in [1.0, 0.3, 17.0] {
            let mut column = vec![1.0; nodes.len()];
            times_sinc(&mut column, &nodes, half);
            for (y, t) in column.iter().zip(&nodes) {
                let x = half * t;
                // Two roundings of a number of the size of 1/x.
                let allowed = 2.0 * f64::EPSILON / x.max(1.0);
                assert!((y - float::sin(x) / x).abs() <= allowed, "{x} {y}");
            }
        }
    }
}
