use super::linear::solve;
use super::{ChartLimits, Process};
use crate::Error;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::special::normal_pdf;

/// A chart of exponentially weighted moving averages: small lasting shifts show sooner than on single readings.
///
/// ```text
/// zᵢ = λ xᵢ + (1 − λ) zᵢ₋₁, z₀ = mean        limits: mean ± L σ √(λ/(2−λ) (1 − (1−λ)²ⁱ))
/// ```
/// Roberts (1959); Lucas and Saccucci (1990).
///
/// ```
/// use kerfwise_gauge::{Ewma, Process};
///
/// let chart = Ewma::new(0.2, 3.0)?;
/// let run = chart.run(&Process::new(10.0, 1.0)?, &[10.0, 12.0, 12.0, 12.0]);
/// assert!((run.points[1] - 10.4).abs() < 1e-12);
/// // Without a shift it gives a false alarm every 560 readings, with one of σ it tells after 11.
/// assert!((chart.average_run_length(0.0)? - 559.87).abs() < 0.01);
/// assert!((chart.average_run_length(1.0)? - 10.84).abs() < 0.01);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ewma {
    weight: f64,
    limit: f64,
}

/// A run on the chart.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct EwmaRun {
    /// The average after each reading.
    pub points: Vec<f64>,
    /// The limits at each reading; they widen towards their steady width.
    pub limits: Vec<ChartLimits>,
    /// The first reading, counted from 0, at which the average was outside.
    pub signal: Option<usize>,
}

impl Ewma {
    /// With the weight λ of the newest reading, and limits of so many standard deviations of the average.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless the weight is from 0.01 to 1 and the limit above 0 and up to 6.
    pub fn new(weight: f64, limit: f64) -> Result<Self, Error> {
        if !(0.01..=1.0).contains(&weight) {
            return Err(Error::parameter(format!(
                "the weight of the newest reading must be from 0.01 to 1, such as 0.2 (got {weight})"
            )));
        }
        if !(limit > 0.0 && limit <= 6.0) {
            return Err(Error::parameter(format!(
                "the limit must be above 0 and up to 6 standard deviations, such as 3 (got {limit})"
            )));
        }
        Ok(Self { weight, limit })
    }

    /// Steady limits, that the run comes to.
    #[must_use]
    pub fn steady_limits(&self, process: &Process) -> ChartLimits {
        self.limits_at(process, 1.0)
    }

    fn limits_at(&self, process: &Process, share: f64) -> ChartLimits {
        let width = (self.weight / (2.0 - self.weight) * share).sqrt();
        let reach = self.limit * process.standard_deviation() * width;
        ChartLimits {
            lower: process.mean() - reach,
            centre: process.mean(),
            upper: process.mean() + reach,
        }
    }

    /// Draws a run, from the mean of the process on. A reading that is not a number makes all points after it none, and
    /// signals.
    #[must_use]
    pub fn run(&self, process: &Process, readings: &[f64]) -> EwmaRun {
        let keep = 1.0 - self.weight;
        let (mut point, mut left) = (process.mean(), 1.0);
        let mut run = EwmaRun {
            points: Vec::with_capacity(readings.len()),
            limits: Vec::with_capacity(readings.len()),
            signal: None,
        };
        for (index, reading) in readings.iter().enumerate() {
            point = self.weight * reading + keep * point;
            left *= keep * keep;
            let limits = self.limits_at(process, 1.0 - left);
            if run.signal.is_none() && !limits.contains(point) {
                run.signal = Some(index);
            }
            run.points.push(point);
            run.limits.push(limits);
        }
        run
    }

    /// Average number of readings until the steady limits are passed, when the mean has moved by so many σ from the first
    /// reading on: for 0 how long until a false alarm, else how long until the shift is told.
    ///
    /// The integral equation of Crowder (1987) at Gauss–Legendre nodes; to about 1e-9 of itself.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a shift that is not within ±20.
    pub fn average_run_length(&self, shift: f64) -> Result<f64, Error> {
        super::check_shift(shift)?;
        let reach = self.limit * (self.weight / (2.0 - self.weight)).sqrt();
        // Two panels, since the average starts between them.
        let rule = gauss_legendre(64);
        let nodes: Vec<(f64, f64)> = [-0.5, 0.5]
            .into_iter()
            .flat_map(|middle| {
                let at = move |(x, w): (&f64, &f64)| (reach * (middle + 0.5 * x), 0.5 * reach * w);
                rule.nodes().iter().zip(rule.weights()).map(at)
            })
            .collect();
        let density = |from: f64, to: f64| {
            let reading = (to - (1.0 - self.weight) * from) / self.weight;
            normal_pdf(reading - shift) / self.weight
        };
        let rows = nodes
            .iter()
            .enumerate()
            .map(|(i, &(from, _))| {
                let mut row: Vec<f64> = nodes
                    .iter()
                    .enumerate()
                    .map(|(j, &(to, weight))| {
                        f64::from(u8::from(i == j)) - weight * density(from, to)
                    })
                    .collect();
                row.push(1.0);
                row
            })
            .collect();
        let lengths = solve(rows).ok_or_else(super::no_run_length)?;
        let term =
            |(&(to, weight), length): (&(f64, f64), &f64)| weight * density(0.0, to) * length;
        let length = 1.0 + nodes.iter().zip(&lengths).map(term).sum::<f64>();
        super::checked_length(length)
    }

    /// The limit that gives a false alarm every so many readings on average.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a weight as in [`Ewma::new`] and a number of readings that no
    /// limit up to 6 gives.
    ///
    /// ```
    /// use kerfwise_gauge::Ewma;
    ///
    /// // Lucas and Saccucci (1990): λ = 0.1 with L = 2.814 has 500 readings.
    /// assert!((Ewma::with_false_alarms_every(500.0, 0.1)?.limit() - 2.814).abs() < 0.001);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn with_false_alarms_every(readings: f64, weight: f64) -> Result<Self, Error> {
        Self::new(weight, 3.0)?;
        let length = |limit: f64| {
            let chart = Self { weight, limit };
            chart
                .average_run_length(0.0)
                .map_or(f64::INFINITY, float::ln)
                - float::ln(readings)
        };
        let limit = super::design(length, 0.1, 6.0, readings)?;
        Self::new(weight, limit)
    }

    /// Standard deviations of the average from the mean to a limit.
    #[must_use]
    pub fn limit(&self) -> f64 {
        self.limit
    }
}
