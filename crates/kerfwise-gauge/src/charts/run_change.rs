use super::{Change, ChangePoint};
use crate::{Error, Moments};
use kerfwise_numeric::float;
use kerfwise_numeric::special::student_t_sf;

/// A change in a run of which nothing is known beforehand: neither the mean nor the standard deviation while all was well.
///
/// This is what tells whether the readings that a chart is to start from are sound themselves, and when a change began that
/// may lie among them.
///
/// ```text
/// x = mean + size · w + error        w = 0 before the change; from there on 1 for a step, and 1, 2, 3 … for a drift
/// ```
///
/// Every place is tried by least squares (maximum likelihood for normal errors; Quandt 1958), and the best is taken.
///
/// ```
/// use kerfwise_gauge::{Change, RunChange};
///
/// // Level with ±1 about 0, and from the sixth reading on 2 more with each.
/// let warming = [1.0, -1.0, 1.0, -1.0, 0.0, 2.0, 4.0, 6.0, 8.0];
/// let found = RunChange::find(&warming)?.unwrap();
/// assert_eq!((found.change.kind, found.change.began), (Change::Drift, 5));
/// assert!((found.change.size - 2.0).abs() < 1e-12 && found.mean_before.abs() < 1e-12);
/// assert!(found.p_value < 0.001 && found.is_clear);
/// // The same readings in another order do not change.
/// let steady = [1.0, 6.0, -1.0, 8.0, 0.0, 2.0, 4.0, -1.0, 1.0];
/// assert!(RunChange::find(&steady)?.unwrap().p_value > 0.5);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct RunChange {
    /// What changed, and where; its standard uncertainty comes from the scatter about the change.
    pub change: ChangePoint,
    /// The mean before it.
    pub mean_before: f64,
    /// A steady run of normal readings shows a change like this at most so often (t test of each place, times their number, after
    /// Bonferroni): 0.01 gives a false alarm in at most one run of a hundred.
    pub p_value: f64,
    /// Whether the other kind is much less likely: below e⁻² of this one.
    pub is_clear: bool,
}

/// One kind of change is clear where its logarithm of the likelihood is so much above the other's: e² to 1.
const CLEAR: f64 = 2.0;
/// Readings before a step, so that one odd reading at the beginning is none.
const BEFORE_STEP: usize = 3;

impl RunChange {
    /// The likeliest step or drift; `None` for fewer than five readings, and where all are equal.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for readings that are not finite or beyond ±1e140.
    pub fn find(readings: &[f64]) -> Result<Option<Self>, Error> {
        const LEAST: usize = 5;
        if readings.len() < LEAST {
            Moments::of(readings)?;
            return Ok(None);
        }
        let sample = Moments::of(readings)?.sample()?;
        let (mean, sd) = (sample.mean(), sample.standard_deviation());
        if sd <= 0.0 {
            return Ok(None);
        }
        // In standard deviations from the mean of all, so that no square overflows.
        let z: Vec<f64> = readings.iter().map(|x| (x - mean) / sd).collect();
        let step = Fit::best(Change::Step, &z);
        let drift = Fit::best(Change::Drift, &z);
        let (best, other) = match (step, drift) {
            (Some(step), Some(drift)) if drift.square > step.square => (drift, Some(step)),
            (Some(step), drift) => (step, drift),
            (None, Some(drift)) => (drift, None),
            (None, None) => return Ok(None),
        };
        let all = z.len() as f64 - 1.0;
        let gain = |fit: &Fit| -0.5 * (all + 1.0) * float::ln((1.0 - fit.square / all).max(1e-300));
        let freedom = all - 1.0;
        let scatter = ((all - best.square).max(0.0) / freedom).sqrt();
        let error = scatter / best.squares.sqrt();
        let t = best.size.abs() / error;
        // n − 3 steps and n − 2 drifts.
        let places = (2 * z.len() - BEFORE_STEP - 2) as f64;
        Ok(Some(Self {
            change: ChangePoint {
                kind: best.kind,
                began: best.began,
                size: sd * best.size,
                standard_error: sd * error,
                gain: gain(&best),
            },
            mean_before: mean - sd * best.size * best.mean_weight,
            p_value: (2.0 * places * student_t_sf(t, freedom)).min(1.0),
            is_clear: other.is_none_or(|other| gain(&best) - gain(&other) > CLEAR),
        }))
    }
}

/// A regression of deviations from their mean on the weights of one change.
struct Fit {
    kind: Change,
    began: usize,
    /// Per unit of weight.
    size: f64,
    /// What it takes off the sum of squares.
    square: f64,
    /// Σ (w − mean of w)².
    squares: f64,
    mean_weight: f64,
}

impl Fit {
    fn best(kind: Change, z: &[f64]) -> Option<Self> {
        let n = z.len() as f64;
        // A step has three readings before it, a drift one; a drift of one reading would be a step.
        let (first, last) = match kind {
            Change::Step => (BEFORE_STEP, z.len() - 1),
            Change::Drift => (1, z.len() - 2),
        };
        let mut best: Option<Self> = None;
        let (mut plain, mut weighted, mut count) = (0.0, 0.0, 0.0);
        for (began, &deviation) in z.iter().enumerate().rev() {
            plain += deviation;
            weighted += plain;
            count += 1.0;
            if !(first..=last).contains(&began) {
                continue;
            }
            let (product, total, squares) = match kind {
                Change::Step => (plain, count, count),
                Change::Drift => (
                    weighted,
                    count * (count + 1.0) / 2.0,
                    count * (count + 1.0) * (2.0 * count + 1.0) / 6.0,
                ),
            };
            let squares = squares - total * total / n;
            let square = product * product / squares;
            if best.as_ref().is_none_or(|best| square > best.square) {
                best = Some(Self {
                    kind,
                    began,
                    size: product / squares,
                    square,
                    squares,
                    mean_weight: total / n,
                });
            }
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::Normals;

    const LEVEL: f64 = 0.01;

    fn found(readings: &[f64]) -> RunChange {
        RunChange::find(readings).unwrap().unwrap()
    }

    // At most 1 in 100 by Bonferroni's inequality; held to within four binomial standard errors.
    #[test]
    fn steady_runs_are_called_changed_as_rarely_as_stated() {
        let mut normals = Normals::new(61);
        let runs = 10_000;
        for n in [8, 20, 40] {
            let false_alarms = (0..runs)
                .filter(|_| found(&normals.column(n)).p_value < LEVEL)
                .count() as f64;
            let most = LEVEL + 4.0 * (LEVEL * (1.0 - LEVEL) / f64::from(runs)).sqrt();
            let share = false_alarms / f64::from(runs);
            assert!(share < most, "{n}: {share}");
            // The bound is not empty: the places are alike, but not that much.
            assert!(share > LEVEL / 10.0, "{n}: {share}");
        }
    }

    // A quarter of a standard deviation with each reading, from anywhere but the last six readings on.
    #[test]
    fn clear_drifts_have_the_right_sign_and_begin_near_where_they_do() {
        let mut normals = Normals::new(62);
        let (mut right, mut near, runs) = (0, 0, 2_000_usize);
        for run in 0..runs {
            let began = 2 + run % 16;
            let sign = if run % 2 == 0 { 1.0 } else { -1.0 };
            let mut readings = normals.column(24);
            for (index, reading) in readings.iter_mut().enumerate().skip(began) {
                *reading += sign * 0.25 * (index - began + 1) as f64;
            }
            let change = found(&readings).change;
            right += usize::from(change.size * sign > 0.0);
            near += usize::from(change.began.abs_diff(began) <= 8);
            assert!(change.began > 0);
        }
        // Wanted: more than 95 %.
        assert!(right > runs * 95 / 100, "{right} of {runs}");
        assert!(near > runs * 80 / 100, "{near} of {runs}");
    }

    // By hand: means 0 and 3, squares about them 4 over 6 degrees of freedom, Σ(w − ½)² = 2.
    #[test]
    fn a_step_by_hand() {
        let step = found(&[1.0, -1.0, 0.0, 0.0, 4.0, 2.0, 3.0, 3.0]);
        assert_eq!((step.change.kind, step.change.began), (Change::Step, 4));
        // Because of the rounding of eight sums.
        assert!((step.change.size - 3.0).abs() < 1e-12 && step.mean_before.abs() < 1e-12);
        let error = (4.0_f64 / 6.0 / 2.0).sqrt();
        assert!((step.change.standard_error - error).abs() < 1e-12);
    }

    #[test]
    fn what_tells_nothing_has_no_change() {
        assert_eq!(RunChange::find(&[1.0; 4]).unwrap(), None);
        assert_eq!(RunChange::find(&[1.0; 9]).unwrap(), None);
        assert!(RunChange::find(&[1.0, f64::NAN]).is_err());
        // A straight line leaves no scatter at all.
        let line = found(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0]);
        assert_eq!(line.change.kind, Change::Drift);
        assert!(line.p_value < 1e-6 && line.change.size > 0.99);
    }
}
