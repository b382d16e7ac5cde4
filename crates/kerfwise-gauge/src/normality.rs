use crate::Moments;
use kerfwise_numeric::float;
use kerfwise_numeric::special::normal_cdf;
use kerfwise_numeric::sum::sum;
use std::f64::consts::TAU;

/// The test of Anderson and Darling whether readings look normal, mean and standard deviation being estimated.
///
/// A gauge that reads in steps as coarse as the spread makes readings look not normal, because they are not.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Normality {
    /// A², from the definition.
    pub statistic: f64,
    /// A² (1 + 0.75/n + 2.25/n²), which has nearly the same law for any n.
    pub adjusted: f64,
    /// How often normal readings give a larger A²; below 1e-6 it says no more than that.
    pub p_value: f64,
}

/// Fewer readings say nothing about the shape (D'Agostino and Stephens 1986, 4.8.5).
const FEWEST: usize = 8;

/// `None` for fewer than eight readings, or equal ones.
///
/// ```text
/// A² = −n − Σ (2i − 1) (ln Φ(zᵢ) + ln Φ(−zₙ₊₁₋ᵢ)) / n        z sorted, (x − mean) / s
/// ```
/// p by D'Agostino and Stephens (1986), table 4.9.
pub(crate) fn normality(sorted: &[f64]) -> Option<Normality> {
    let count = sorted.len();
    if count < FEWEST {
        return None;
    }
    let moments = Moments::of(sorted).ok()?;
    let (mean, sd) = (moments.mean()?, moments.standard_deviation()?);
    if sd <= 0.0 {
        return None;
    }
    let n = count as f64;
    let z = |index: usize| (sorted[index] - mean) / sd;
    let terms = (0..count).map(|i| {
        let weight = 2.0 * i as f64 + 1.0;
        weight * (ln_normal_cdf(z(i)) + ln_normal_cdf(-z(count - 1 - i)))
    });
    let statistic = -n - sum(terms) / n;
    let adjusted = statistic * (1.0 + 0.75 / n + 2.25 / (n * n));
    Some(Normality {
        statistic,
        adjusted,
        p_value: p_value(adjusted),
    })
}

fn p_value(a: f64) -> f64 {
    // The last line turns up again beyond 153, where it says e^-436.
    let a = a.min(150.0);
    let p = if a < 0.2 {
        -float::exp_m1(-13.436 + 101.14 * a - 223.73 * a * a)
    } else if a < 0.34 {
        -float::exp_m1(-8.318 + 42.796 * a - 59.938 * a * a)
    } else if a < 0.6 {
        float::exp(0.9177 - 4.279 * a - 1.38 * a * a)
    } else {
        float::exp(1.2937 - 5.709 * a + 0.0186 * a * a)
    };
    p.clamp(0.0, 1.0)
}

/// ln Φ(z); where Φ underflows, by the leading terms of its tail (DLMF 7.12.1).
fn ln_normal_cdf(z: f64) -> f64 {
    if z > -37.0 {
        return float::ln(normal_cdf(z));
    }
    let r = 1.0 / (z * z);
    -0.5 * z * z - float::ln(-z) - 0.5 * float::ln(TAU)
        + float::ln_1p(-r * (1.0 - 3.0 * r * (1.0 - 5.0 * r)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_of_a_far_tail_goes_on_where_the_tail_is_0() {
        // Computed independently at 40 digits with mpmath: ln Φ(-37), ln Φ(-50).
        for (z, wanted) in [
            (-36.999_9, -689.026_882_883_118_2),
            (-37.0, -689.030_585_576_890_6),
            (-50.0, -1_254.831_361_139_42),
        ] {
            let got = ln_normal_cdf(z);
            assert!((got / wanted - 1.0).abs() < 1e-12, "{z}: {got}");
        }
    }

    #[test]
    fn the_p_value_is_a_chance_and_falls() {
        let mut before = 1.0;
        for step in 1..400 {
            let p = p_value(f64::from(step) * 0.5);
            assert!((0.0..=before).contains(&p));
            before = p;
        }
        assert!(p_value(-1.0) <= 1.0);
    }
}
