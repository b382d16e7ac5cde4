use super::{Component, Estimator, MeanSquare, Term};
use crate::wide::Wide;
use crate::{Confidence, Error, Interval, Moments};
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_numeric::special::student_t_quantile_upper;
use kerfwise_numeric::sum::sum;

/// Readings in groups: how much the groups differ, and how much the readings within one do.
///
/// The groups are set-ups with their pieces, pieces with their repeated readings, days with their cuts. They stand for
/// all groups that could have been.
///
/// ```text
/// reading = mean + group + rest        E[MS between] = σ²within + n σ²between        E[MS within] = σ²within
/// ```
///
/// ```
/// use kerfwise_gauge::{Confidence, Estimator, OneWay};
///
/// // Three set-ups of a jig, two pieces each, in thou.
/// let set_ups = OneWay::new(&[[1.0, 3.0], [4.0, 6.0], [7.0, 9.0]])?;
/// // Group means 2, 5, 8: MS between = 2 · 9 = 18; deviations ±1: MS within = 6/3 = 2.
/// assert_eq!(set_ups.between().mean_square(), 18.0);
/// assert_eq!(set_ups.within().mean_square(), 2.0);
/// assert_eq!((set_ups.f(), set_ups.estimator()), (9.0, Estimator::AnalysisOfVariance));
/// let between = set_ups.between_component(Confidence::default());
/// assert_eq!(between.variance, 8.0); // (18 - 2)/2
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct OneWay {
    counts: Vec<u64>,
    /// Group means less the first reading of all.
    means: Vec<f64>,
    first: f64,
    between: MeanSquare,
    within: MeanSquare,
    estimator: Estimator,
    variances: Variances,
}

/// Estimates.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Variances {
    between: f64,
    within: f64,
}

impl OneWay {
    /// From at least two groups with at least one reading each, of which one has two or more.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for fewer than two groups, an empty group, groups of one reading each
    /// (their spread cannot be told from that between them), and a reading that is not finite or beyond ±1e140.
    ///
    /// ```
    /// use kerfwise_gauge::OneWay;
    /// assert_eq!(
    ///     OneWay::new(&[[1.0], [2.0]]).unwrap_err().to_string(),
    ///     "every group has one reading: the spread within groups cannot be told from that between them; \
    ///      take at least 2 readings in a group"
    /// );
    /// ```
    pub fn new<G: AsRef<[f64]>>(groups: &[G]) -> Result<Self, Error> {
        let moments = check(groups)?;
        let first = groups[0].as_ref()[0];
        let offsets: Vec<Wide> = moments
            .iter()
            .map(|group| group.wide_mean() - Wide::from(first))
            .collect();
        let counts: Vec<u64> = moments.iter().map(Moments::count).collect();
        let total: u64 = counts.iter().sum();
        let weighted = |square: bool| {
            let term = |(offset, &n): (&Wide, &u64)| {
                let weight = Wide::from(n as f64);
                weight * if square { *offset * *offset } else { *offset }
            };
            offsets
                .iter()
                .zip(&counts)
                .map(term)
                .fold(Wide::default(), |a, b| a + b)
        };
        let sum_of_offsets = weighted(false);
        let squares = weighted(true) - (sum_of_offsets * sum_of_offsets).over(total as f64);
        let groups = counts.len() as f64;
        let between = MeanSquare::new(squares.value().max(0.0), groups - 1.0);
        let inside = sum(moments.iter().map(Moments::sum_of_squares));
        let within = MeanSquare::new(inside, total as f64 - groups);
        let mut study = Self {
            means: offsets.iter().map(|offset| offset.value()).collect(),
            counts,
            first,
            between,
            within,
            estimator: Estimator::AnalysisOfVariance,
            variances: Variances {
                between: 0.0,
                within: within.mean_square(),
            },
        };
        study.estimate();
        Ok(study)
    }

    /// Sum of squares between the groups.
    #[must_use]
    pub fn between(&self) -> MeanSquare {
        self.between
    }

    /// Sum of squares within the groups.
    #[must_use]
    pub fn within(&self) -> MeanSquare {
        self.within
    }

    /// Ratio of the mean squares; infinite where nothing varies within groups but the groups differ.
    #[must_use]
    pub fn f(&self) -> f64 {
        self.between.over(&self.within)
    }

    /// How often groups that do not differ give a ratio as large.
    #[must_use]
    pub fn p_value(&self) -> f64 {
        self.between.p_over(&self.within)
    }

    /// Share of the sum of squares that lies between the groups; 0 where all readings are equal.
    #[must_use]
    pub fn r_squared(&self) -> f64 {
        let total = self.between.sum_of_squares + self.within.sum_of_squares;
        if total > 0.0 {
            self.between.sum_of_squares / total
        } else {
            0.0
        }
    }

    /// How the variances were estimated: from the mean squares if all groups have the same size and the ratio is above 1,
    /// else by restricted likelihood.
    #[must_use]
    pub fn estimator(&self) -> Estimator {
        self.estimator
    }

    /// Number of groups.
    #[must_use]
    pub fn groups(&self) -> usize {
        self.counts.len()
    }

    /// Variance within the groups, with its exact interval.
    #[must_use]
    pub fn within_component(&self, confidence: Confidence) -> Component {
        Component::of_square(self.variances.within, &self.within, confidence)
    }

    /// Variance between the groups.
    ///
    /// Of uneven groups the interval uses the squares of the plain group means and the harmonic mean of the sizes (Thomas
    /// and Hultquist 1978; Burdick and Graybill 1992, 4.5).
    #[must_use]
    pub fn between_component(&self, confidence: Confidence) -> Component {
        let size = self.harmonic_size();
        let terms = [
            Term::new(1.0 / size, self.unweighted()),
            Term::new(-1.0 / size, self.within),
        ];
        Component::of_terms(self.variances.between, &terms, confidence)
    }

    /// Variance of one reading of a group that is yet to come: between and within.
    #[must_use]
    pub fn total_component(&self, confidence: Confidence) -> Component {
        let size = self.harmonic_size();
        let terms = [
            Term::new(1.0 / size, self.unweighted()),
            Term::new(1.0 - 1.0 / size, self.within),
        ];
        let variance = self.variances.between + self.variances.within;
        Component::of_terms(variance, &terms, confidence)
    }

    /// Mean of the group means, so that a group with many readings counts no more than another.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.first + self.mean_offset()
    }

    /// Standard uncertainty of the mean, from the spread of the group means (JCGM 100:2008, H.5.2); its degrees of freedom are
    /// the number of groups less 1.
    #[must_use]
    pub fn standard_error(&self) -> f64 {
        let groups = self.counts.len() as f64;
        (self.unweighted().mean_square() / (self.harmonic_size() * groups)).sqrt()
    }

    /// Where the true mean lies.
    pub fn mean_interval(&self, confidence: Confidence) -> Interval {
        let nu = self.between.degrees_of_freedom;
        let reach = student_t_quantile_upper(confidence.tail(), nu) * self.standard_error();
        Interval::new(self.mean() - reach, self.mean() + reach)
    }

    fn mean_offset(&self) -> f64 {
        sum(self.means.iter().copied()) / self.means.len() as f64
    }

    /// Harmonic mean of the group sizes.
    pub(crate) fn harmonic_size(&self) -> f64 {
        let inverse = sum(self.counts.iter().map(|&n| 1.0 / n as f64));
        self.counts.len() as f64 / inverse
    }

    /// Squares of the plain group means, in units of a reading; the same as between the groups if all have one size.
    pub(crate) fn unweighted(&self) -> MeanSquare {
        if self.is_balanced() {
            return self.between;
        }
        let mean = self.mean_offset();
        let squares = sum(self.means.iter().map(|x| (x - mean) * (x - mean)));
        MeanSquare::new(
            self.harmonic_size() * squares,
            self.between.degrees_of_freedom,
        )
    }

    fn is_balanced(&self) -> bool {
        self.counts.iter().all(|&n| n == self.counts[0])
    }

    fn estimate(&mut self) {
        let (between, within) = (self.between.mean_square(), self.within.mean_square());
        if self.is_balanced() && between >= within {
            let size = self.counts[0] as f64;
            self.variances = Variances {
                between: (between - within) / size,
                within,
            };
            return;
        }
        self.estimator = Estimator::RestrictedLikelihood;
        self.variances = self.restricted_likelihood();
    }

    /// Restricted maximum likelihood: the ratio λ = between/within is the root of the slope of
    ///
    /// ```text
    /// (N−1) ln[SSwithin + Σ wᵢ (x̄ᵢ − μ)²] + Σ ln(λ + 1/nᵢ) + ln Σ wᵢ        wᵢ = 1/(λ + 1/nᵢ), μ the weighted mean
    /// ```
    fn restricted_likelihood(&self) -> Variances {
        let freedom = self.between.degrees_of_freedom + self.within.degrees_of_freedom;
        let at = |ratio: f64| self.profile(ratio, freedom);
        let finest = RootTolerance {
            absolute: 0.0,
            relative: 1e-14,
        };
        let mut ratio = 0.0;
        if at(0.0).slope < 0.0 {
            let mut far = 1.0;
            // Beyond 1e15 the spread within is nothing that 64 bits could show.
            while at(far).slope < 0.0 && far < 1e15 {
                far *= 4.0;
            }
            ratio = find_root(|x| at(x).slope, 0.0, far, finest).map_or(far, |root| root.x);
        }
        let within = at(ratio).squares / freedom;
        Variances {
            between: ratio * within,
            within,
        }
    }

    fn profile(&self, ratio: f64, freedom: f64) -> Profile {
        let weights: Vec<f64> = self
            .counts
            .iter()
            .map(|&n| 1.0 / (ratio + 1.0 / n as f64))
            .collect();
        let weighted = |power: u8, f: &dyn Fn(f64) -> f64| {
            let term = |(w, x): (&f64, &f64)| if power == 1 { w * f(*x) } else { w * w * f(*x) };
            sum(weights.iter().zip(&self.means).map(term))
        };
        let (weight, weight_2) = (weighted(1, &|_| 1.0), weighted(2, &|_| 1.0));
        let mean = weighted(1, &|x| x) / weight;
        let square = |x: f64| (x - mean) * (x - mean);
        let squares = self.within.sum_of_squares + weighted(1, &square);
        let slope = if squares > 0.0 {
            weight - weight_2 / weight - freedom * weighted(2, &square) / squares
        } else {
            0.0
        };
        Profile { squares, slope }
    }
}

struct Profile {
    /// Weighted sum of squares, within and between.
    squares: f64,
    /// Of minus twice the logarithm of the restricted likelihood, over the ratio.
    slope: f64,
}

fn check<G: AsRef<[f64]>>(groups: &[G]) -> Result<Vec<Moments>, Error> {
    if groups.len() < 2 {
        return Err(Error::readings(format!(
            "groups cannot be compared with fewer than 2 of them (got {})",
            groups.len()
        )));
    }
    let mut moments = Vec::with_capacity(groups.len());
    for (index, group) in groups.iter().enumerate() {
        let group = Moments::of(group.as_ref())
            .map_err(|error| Error::readings(format!("group {}: {error}", index + 1)))?;
        if group.count() == 0 {
            let number = index + 1;
            return Err(Error::readings(format!(
                "group {number} has no readings: leave it out"
            )));
        }
        moments.push(group);
    }
    if moments.iter().all(|group| group.count() == 1) {
        return Err(Error::readings(
            "every group has one reading: the spread within groups cannot be told from that between them; \
             take at least 2 readings in a group",
        ));
    }
    Ok(moments)
}

#[cfg(test)]
mod tests;
