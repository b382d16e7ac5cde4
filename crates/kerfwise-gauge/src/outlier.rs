use crate::Moments;
use kerfwise_numeric::special::student_t_quantile_upper;

/// A reading that the others make doubtful. It stays among the readings: whether it goes is for whoever knows what
/// happened at the gauge.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Outlier {
    /// Which reading, counted from 0.
    pub index: usize,
    /// The reading.
    pub value: f64,
    /// How many standard deviations it lies from the mean, both without the outliers farther out.
    pub deviate: f64,
    /// What a clean column exceeds with a chance of 5 %.
    pub critical: f64,
}

/// The chance that a clean normal column has any reading flagged.
const SIGNIFICANCE: f64 = 0.05;

/// Generalised extreme studentised deviates (Rosner 1983, Technometrics 25, 165): the farthest reading is set aside
/// again and again, and all up to the last one that is too far are flagged, so that several outliers cannot hide
/// one another.
///
/// ```text
/// Rᵢ = max |x − mean| / s of what is left        λᵢ = (n−i) t / √((n−i−1+t²)(n−i+1))
/// t = upper α/(2(n−i+1)) quantile of n−i−1 degrees of freedom
/// ```
pub(crate) fn outliers(readings: &[f64]) -> Vec<Outlier> {
    let mut found = extreme_deviates(readings, most(readings.len()));
    let flagged = found
        .iter()
        .rposition(|outlier| outlier.deviate > outlier.critical)
        .map_or(0, |last| last + 1);
    found.truncate(flagged);
    found
}

/// The limits λ are good for at least 25 readings and fair from 15 (Rosner 1983); with one candidate only they are those
/// of Grubbs (1969), which are right for any number.
fn most(n: usize) -> usize {
    if n < 15 { 1 } else { (n / 5).min(10) }
}

fn extreme_deviates(readings: &[f64], most: usize) -> Vec<Outlier> {
    let mut order: Vec<usize> = (0..readings.len()).collect();
    order.sort_by(|&a, &b| readings[a].total_cmp(&readings[b]));
    let sorted: Vec<f64> = order.iter().map(|&index| readings[index]).collect();
    let (mut from, mut to) = (0, sorted.len());
    let mut found = Vec::new();
    while found.len() < most && to - from > 2 {
        let left = &sorted[from..to];
        let Some((mean, sd)) = mean_and_spread(left) else {
            break;
        };
        let (low, high) = (mean - left[0], left[left.len() - 1] - mean);
        let (at, distance) = if low > high {
            (from, low)
        } else {
            (to - 1, high)
        };
        found.push(Outlier {
            index: order[at],
            value: sorted[at],
            deviate: distance / sd,
            critical: critical(left.len()),
        });
        if low > high {
            from += 1;
        } else {
            to -= 1;
        }
    }
    found
}

/// `None` where all are equal.
fn mean_and_spread(readings: &[f64]) -> Option<(f64, f64)> {
    let moments = Moments::of(readings).ok()?;
    let sd = moments.standard_deviation().filter(|&sd| sd > 0.0)?;
    Some((moments.mean()?, sd))
}

/// Of m readings that are left.
fn critical(m: usize) -> f64 {
    let m = m as f64;
    let t = student_t_quantile_upper(SIGNIFICANCE / (2.0 * m), m - 2.0);
    if t > 1e150 {
        return (m - 1.0) / m.sqrt(); // its limit
    }
    (m - 1.0) * t / ((m - 2.0 + t * t) * m).sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::published::ROSNER;

    #[track_caller]
    fn assert_near(value: f64, expected: f64, within: f64) {
        let difference = (value - expected).abs();
        assert!(difference <= within, "{value} instead of {expected}");
    }

    // NIST/SEMATECH e-Handbook 1.3.5.17.1 (data of Tietjen and Moore), from memory: G = 2.4687; two-sided limit at 5 % computed
    // independently, 2.126645087195.
    #[test]
    fn grubbs_in_the_handbook() {
        let uranium = [
            199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57,
        ];
        let found = outliers(&uranium);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].index, 7);
        // Because the reference has 15 digits.
        assert_near(found[0].deviate, 2.468_764_611_212_45, 1e-13);
        assert_near(found[0].critical, 2.126_645_087_195_466_7, 1e-13);
    }

    // Deviates and limits of fifty values of Rosner (1983), computed independently with scipy; three are outliers.
    #[test]
    fn three_outliers_do_not_hide_one_another() {
        let deviates = [
            3.194_110_540_809_061_3,
            3.043_662_717_979_441_5,
            3.342_499_417_721_634,
            3.000_014_469_249_519,
            2.916_290_711_608_198_6,
            2.332_081_020_865_221,
            2.376_844_412_853_5,
            2.084_494_050_591_465_5,
            2.158_032_980_917_401_5,
            2.228_380_982_184_299_4,
        ];
        let limits = [
            3.128_247_334_330_998,
            3.120_127_738_314_815,
            3.111_796_454_289_989_6,
            3.103_243_077_602_28,
            3.094_456_447_023_39,
            3.085_424_571_243_102_8,
            3.076_134_546_345_414_4,
            3.066_572_462_921_691,
            3.056_723_301_235_484,
            3.046_570_812_566_670_4,
        ];
        let all = extreme_deviates(&ROSNER, 10);
        for (outlier, (deviate, limit)) in all.iter().zip(deviates.iter().zip(&limits)) {
            // Because the reference was computed in 64 bits.
            assert_near(outlier.deviate, *deviate, 1e-12);
            assert_near(outlier.critical, *limit, 1e-12);
        }
        // The second is within its limit, but the third is not: all three are flagged.
        assert!(deviates[1] < limits[1]);
        assert_eq!(outliers(&ROSNER).len(), 3);
    }

    #[test]
    fn equal_readings_have_no_outlier_and_one_stranger_has() {
        assert_eq!(outliers(&[0.375; 12]), []);
        let mut readings = [0.375; 12];
        readings[4] = 0.376;
        let found = outliers(&readings);
        assert_eq!((found.len(), found[0].index), (1, 4));
        // (n - 1)/√n is the farthest that one of twelve can be; because 0.376 - 0.375 is rounded to 1e-13 of itself.
        assert_near(found[0].deviate, 11.0 / 12.0_f64.sqrt(), 1e-12);
    }
}
