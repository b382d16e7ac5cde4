use crate::bisect::least;
use crate::law::noncentral_t_quantile;
use crate::{Confidence, Error, Interval, Sample};
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_numeric::special::{
    beta_inc, gamma_q, normal_interval, normal_pdf, normal_quantile, normal_quantile_upper,
};

/// A share of all pieces, and how sure one wants to be that at least so many lie within limits that are found from
/// readings (a statistical tolerance interval, ISO 16269-6).
///
/// Unlike an interval of the mean, it is about the pieces yet to come.
///
/// ```
/// use kerfwise_gauge::{Confidence, Sample, Tolerance};
///
/// // 95 % of all tenons, with a confidence of 95 %, from twenty with mean 375 and s = 1 thou.
/// let tolerance = Tolerance::new(0.95, Confidence::default())?;
/// let tenons = Sample::new(20, 375.0, 1.0)?;
/// let limits = tolerance.limits(&tenons)?;
/// assert!((limits.upper - 377.760).abs() < 0.001); // 375 + 2.760 s, ISO 16269-6, annex F
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    content: f64,
    confidence: Confidence,
}

/// Which limits are wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sides {
    /// Only a lower or only an upper limit.
    One,
    /// A lower and an upper limit.
    Two,
}

impl Tolerance {
    /// Of a share between 0 and 1.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a share that is not above 0 and below 1.
    pub fn new(content: f64, confidence: Confidence) -> Result<Self, Error> {
        if content > 0.0 && content < 1.0 {
            Ok(Self {
                content,
                confidence,
            })
        } else {
            Err(Error::parameter(format!(
                "the share of pieces must be above 0 and below 1, such as 0.95 (got {content})"
            )))
        }
    }

    /// The share of all pieces.
    #[must_use]
    pub fn content(&self) -> f64 {
        self.content
    }

    /// How sure.
    #[must_use]
    pub fn confidence(&self) -> Confidence {
        self.confidence
    }

    /// The k of mean + k s, below which at least the share lies (or above mean − k s), for normal readings; exact.
    ///
    /// ```text
    /// k = t(γ; ν, z√n)/√n        t a quantile of noncentral t, z the normal quantile of the share
    /// ```
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) where a share or confidence is so near to 0 or 1 that no number is
    /// found.
    pub fn one_sided_factor(&self, sample: &Sample) -> Result<f64, Error> {
        let root_n = (sample.count() as f64).sqrt();
        let shift = normal_quantile(self.content) * root_n;
        let nu = sample.degrees_of_freedom();
        noncentral_t_quantile(self.confidence.level(), nu, shift)
            .map(|t| t / root_n)
            .filter(|k| k.is_finite())
            .ok_or_else(|| self.out_of_reach())
    }

    /// The k of mean ± k s, between which at least the share lies, for normal readings; exact.
    ///
    /// ```text
    /// E[P(χ²(ν) > ν r(z/√n)²/k²)] = γ over a normal z        Φ(x + r) − Φ(x − r) = share at x
    /// ```
    ///
    /// # Errors
    ///
    /// As [`Tolerance::one_sided_factor`].
    pub fn two_sided_factor(&self, sample: &Sample) -> Result<f64, Error> {
        let root_n = (sample.count() as f64).sqrt();
        let nu = sample.degrees_of_freedom();
        let rule = gauss_legendre(64);
        // Over half of the normal law, to where it is 1e-18.
        let points: Vec<(f64, f64)> = rule
            .nodes()
            .iter()
            .zip(rule.weights())
            .map(|(x, weight)| {
                let z = 4.5 * (1.0 + x);
                (self.reach(z / root_n), 2.0 * 4.5 * weight * normal_pdf(z))
            })
            .collect();
        let short = |k: f64| {
            let miss =
                |&(r, weight): &(f64, f64)| weight * gamma_q(0.5 * nu, 0.5 * nu * r * r / (k * k));
            points.iter().map(miss).sum::<f64>() - self.confidence.level()
        };
        let (mut lo, mut hi) = (self.reach(0.0), self.reach(0.0));
        while short(lo) > 0.0 && lo > 1e-9 {
            lo *= 0.5;
        }
        while short(hi) < 0.0 && hi < 1e18 {
            hi *= 2.0;
        }
        let fine = RootTolerance {
            absolute: 0.0,
            relative: 1e-13,
        };
        find_root(short, lo, hi, fine)
            .map(|root| root.x)
            .map_err(|_| self.out_of_reach())
    }

    /// The r for which a normal quantity off centre by x is within ± r with the share.
    fn reach(&self, x: f64) -> f64 {
        let tail = normal_quantile_upper(0.5 * (1.0 - self.content));
        let excess = |r: f64| normal_interval(x - r, x + r) - self.content;
        let fine = RootTolerance {
            absolute: 0.0,
            relative: 1e-15,
        };
        // At x = 0 it is the quantile; beside it, never more than that and the way there.
        find_root(excess, 0.5 * tail, x.abs() + 1.000_001 * tail, fine).map_or(tail, |root| root.x)
    }

    /// Limits between which at least the share of all pieces lies.
    ///
    /// # Errors
    ///
    /// As [`Tolerance::one_sided_factor`].
    pub fn limits(&self, sample: &Sample) -> Result<Interval, Error> {
        let reach = self.two_sided_factor(sample)? * sample.standard_deviation();
        Ok(Interval::new(sample.mean() - reach, sample.mean() + reach))
    }

    /// Limit below which at least the share of all pieces lies.
    ///
    /// # Errors
    ///
    /// As [`Tolerance::one_sided_factor`].
    pub fn upper_limit(&self, sample: &Sample) -> Result<f64, Error> {
        let k = self.one_sided_factor(sample)?;
        Ok(sample.mean() + k * sample.standard_deviation())
    }

    /// Limit above which at least the share of all pieces lies.
    ///
    /// # Errors
    ///
    /// As [`Tolerance::one_sided_factor`].
    pub fn lower_limit(&self, sample: &Sample) -> Result<f64, Error> {
        let k = self.one_sided_factor(sample)?;
        Ok(sample.mean() - k * sample.standard_deviation())
    }

    /// How many readings it takes until the `order`-th from the end may serve as a limit, whatever the distribution
    /// (Wilks 1941): order 1 is the smallest or largest reading.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for order 0, and where it would take more than a thousand million
    /// readings.
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Sides, Tolerance};
    ///
    /// let tolerance = Tolerance::new(0.95, Confidence::default())?;
    /// assert_eq!(tolerance.least_count(1, Sides::One)?, 59); // 0.95^59 < 0.05
    /// assert_eq!(tolerance.least_count(1, Sides::Two)?, 93);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn least_count(&self, order: u64, sides: Sides) -> Result<u64, Error> {
        const MOST: u64 = 1_000_000_000;
        let cut = cut(order, sides);
        if order == 0 || order > MOST {
            return Err(Error::parameter(format!(
                "the order of a reading is counted from 1 (got {order})"
            )));
        }
        let is_enough = |n: u64| self.free_confidence(n, cut) >= self.confidence.level();
        if !is_enough(MOST) {
            return Err(self.out_of_reach());
        }
        Ok(least(cut, MOST, is_enough))
    }

    /// Limits between which at least the share of all pieces lies, whatever their distribution: the innermost pair of readings
    /// that will do.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) for a reading that is no number, and where even the smallest and the
    /// largest are not enough (it says how many readings would be).
    ///
    /// ```
    /// use kerfwise_gauge::{Confidence, Tolerance};
    ///
    /// let tolerance = Tolerance::new(0.95, Confidence::default())?;
    /// let readings: Vec<f64> = (1..=160).map(f64::from).collect();
    /// let limits = tolerance.free_limits(&readings)?; // 153 readings are enough for the second ones
    /// assert_eq!((limits.lower, limits.upper), (2.0, 159.0));
    /// assert_eq!(
    ///     tolerance.free_limits(&[1.0, 2.0]).unwrap_err().to_string(),
    ///     "2 readings are too few for limits without a distribution: take 93"
    /// );
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn free_limits(&self, readings: &[f64]) -> Result<Interval, Error> {
        if let Some(index) = readings.iter().position(|reading| reading.is_nan()) {
            let number = index + 1;
            return Err(Error::readings(format!("reading {number} is not a number")));
        }
        let n = readings.len() as u64;
        let is_enough = |order| {
            let cut = cut(order, Sides::Two);
            cut < n && self.free_confidence(n, cut) >= self.confidence.level()
        };
        if !is_enough(1) {
            let wanted = self.least_count(1, Sides::Two)?;
            return Err(Error::readings(format!(
                "{n} readings are too few for limits without a distribution: take {wanted}"
            )));
        }
        let order = least(1, n, |order| !is_enough(order)) - 1;
        let mut sorted = readings.to_vec();
        sorted.sort_by(f64::total_cmp);
        let at = order as usize - 1;
        Ok(Interval::new(sorted[at], sorted[sorted.len() - 1 - at]))
    }

    /// How sure one can be with n readings of which the outermost `cut` lie outside: the content between order statistics
    /// is beta(n + 1 − cut, cut).
    fn free_confidence(&self, n: u64, cut: u64) -> f64 {
        beta_inc(self.content, (n + 1).saturating_sub(cut) as f64, cut as f64).1
    }

    #[cold]
    fn out_of_reach(&self) -> Error {
        let (content, confidence) = (self.content, self.confidence.level());
        Error::parameter(format!(
            "no limit for a share of {content} with confidence {confidence}: take a share or confidence farther from 0 and 1"
        ))
    }
}

/// How many of the n + 1 gaps between readings lie outside.
fn cut(order: u64, sides: Sides) -> u64 {
    match sides {
        Sides::One => order,
        Sides::Two => order.saturating_mul(2),
    }
}

#[cfg(test)]
mod tests;
