use super::Process;
use super::linear::solve;
use crate::Error;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::special::{normal_cdf, normal_pdf};

/// A two-sided chart of cumulative sums: it tells a lasting shift of about 2 k standard deviations soonest, and where it
/// began.
///
/// ```text
/// Sᵢ⁺ = max(0, Sᵢ₋₁⁺ + zᵢ − k)    Sᵢ⁻ = max(0, Sᵢ₋₁⁻ − zᵢ − k)    signal where one is above h        z = (x − mean)/σ
/// ```
/// Page (1954); head start of Lucas and Crosier (1982).
///
/// ```
/// use kerfwise_gauge::{Cusum, Process};
///
/// let chart = Cusum::new(0.5, 4.0)?;
/// let run = chart.run(&Process::new(0.0, 1.0)?, &[0.0, 0.0, 2.5, 2.5, 2.5, 2.5]);
/// assert_eq!(run.upper, [0.0, 0.0, 2.0, 4.0, 6.0, 8.0]);
/// assert_eq!((run.signal, run.began), (Some(4), Some(2)));
/// // Without a shift it gives a false alarm every 168 readings, with one of σ it tells after 8.38.
/// assert!((chart.average_run_length(0.0)? - 167.68).abs() < 0.01);
/// assert!((chart.average_run_length(1.0)? - 8.38).abs() < 0.01);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cusum {
    allowance: f64,
    decision: f64,
    head_start: f64,
}

/// A run on the chart, in standard deviations.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct CusumRun {
    /// The sum that rises with the mean, after each reading.
    pub upper: Vec<f64>,
    /// The sum that rises when the mean falls.
    pub lower: Vec<f64>,
    /// The first reading, counted from 0, at which a sum was above the decision interval.
    pub signal: Option<usize>,
    /// Where the shift that was signalled is likely to have begun: the first reading after that sum was last 0 (Page 1954).
    pub began: Option<usize>,
}

impl Cusum {
    /// With the allowance k and the decision interval h, both in standard deviations.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless k is from 0 to 5 and h above 0 and up to 20.
    pub fn new(allowance: f64, decision: f64) -> Result<Self, Error> {
        if !(0.0..=5.0).contains(&allowance) {
            return Err(Error::parameter(format!(
                "the allowance must be from 0 to 5 standard deviations, such as 0.5 (got {allowance})"
            )));
        }
        if !(decision > 0.0 && decision <= 20.0) {
            return Err(Error::parameter(format!(
                "the decision interval must be above 0 and up to 20 standard deviations, such as 4 or 5 (got {decision})"
            )));
        }
        Ok(Self {
            allowance,
            decision,
            head_start: 0.0,
        })
    }

    /// Starts both sums at this value instead of 0, so that a wrong set-up shows at once; h/2 is usual.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) unless it is from 0 to below h.
    pub fn head_start(self, head_start: f64) -> Result<Self, Error> {
        if (0.0..self.decision).contains(&head_start) {
            Ok(Self { head_start, ..self })
        } else {
            let h = self.decision;
            Err(Error::parameter(format!(
                "the head start must be from 0 to below the decision interval {h} (got {head_start})"
            )))
        }
    }

    /// The decision interval h.
    #[must_use]
    pub fn decision(&self) -> f64 {
        self.decision
    }

    /// Draws a run. A reading that is not a number signals.
    #[must_use]
    pub fn run(&self, process: &Process, readings: &[f64]) -> CusumRun {
        let (mut up, mut down) = (self.head_start, self.head_start);
        // The reading after the one at which each sum was last 0.
        let (mut up_since, mut down_since) = (0, 0);
        let mut run = CusumRun {
            upper: Vec::with_capacity(readings.len()),
            lower: Vec::with_capacity(readings.len()),
            signal: None,
            began: None,
        };
        for (index, &reading) in readings.iter().enumerate() {
            let z = process.standardised(reading, 1);
            let step = |sum: f64, z: f64| {
                let next = sum + z - self.allowance;
                if next < 0.0 { 0.0 } else { next } // a NaN stays one
            };
            (up, down) = (step(up, z), step(down, -z));
            if up <= 0.0 {
                up_since = index + 1;
            }
            if down <= 0.0 {
                down_since = index + 1;
            }
            let is_inside = |sum: f64| sum <= self.decision;
            if run.signal.is_none() && !(is_inside(up) && is_inside(down)) {
                run.signal = Some(index);
                run.began = Some(if is_inside(up) { down_since } else { up_since });
            }
            run.upper.push(up);
            run.lower.push(down);
        }
        run
    }

    /// Average number of readings until a signal, when the mean has moved by so many σ from the first reading on.
    ///
    /// Page's integral equation for each side at Gauss–Legendre nodes, both sides joined after Lucas and Crosier (1982); to
    /// about 1e-9 of itself.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a shift that is not within ±20.
    pub fn average_run_length(&self, shift: f64) -> Result<f64, Error> {
        super::check_shift(shift)?;
        let (up_0, up) = self.one_side(shift)?;
        let (down_0, down) = self.one_side(-shift)?;
        // Divided by the longer first, since a side may take longer than any number. With a head start
        // (L⁺ L₀⁻ + L⁻ L₀⁺ − L₀⁺ L₀⁻)/(L₀⁺ + L₀⁻).
        let share = 1.0 / (1.0 + up_0 / down_0);
        super::checked_length((up - up_0 + down * (up_0 / down_0)) * share)
    }

    /// Average run length of one side from 0 and from the head start.
    ///
    /// ```text
    /// L(s) = 1 + L(0) Φ(k − s − δ) + ∫ L(x) φ(x + k − s − δ) dx over 0 … h
    /// ```
    fn one_side(&self, shift: f64) -> Result<(f64, f64), Error> {
        let rule = gauss_legendre(64);
        // Panels of at most 4 standard deviations.
        let panels = (self.decision / 4.0).ceil().max(1.0);
        let half = 0.5 * self.decision / panels;
        let mut nodes = vec![(0.0, 0.0)]; // the sum at 0, which has a chance of its own
        for panel in 0..panels as u32 {
            let middle = half * (2.0 * f64::from(panel) + 1.0);
            let at = |(x, w): (&f64, &f64)| (middle + half * x, half * w);
            nodes.extend(rule.nodes().iter().zip(rule.weights()).map(at));
        }
        let chance = |from: f64, j: usize| {
            let (to, weight) = nodes[j];
            let z = to + self.allowance - from - shift;
            if j == 0 {
                normal_cdf(z)
            } else {
                weight * normal_pdf(z)
            }
        };
        let rows = nodes
            .iter()
            .enumerate()
            .map(|(i, &(from, _))| {
                let cell = |j| f64::from(u8::from(i == j)) - chance(from, j);
                let mut row: Vec<f64> = (0..nodes.len()).map(cell).collect();
                row.push(1.0);
                row
            })
            .collect();
        let lengths = solve(rows).ok_or_else(super::no_run_length)?;
        let from = |start: f64| {
            let term = |(j, length): (usize, &f64)| chance(start, j) * length;
            1.0 + lengths.iter().enumerate().map(term).sum::<f64>()
        };
        let pair = (lengths[0], from(self.head_start));
        if pair.0 >= 1.0 && pair.1 >= 1.0 {
            Ok(pair)
        } else {
            // So long that the equations have lost it: longer than anybody cuts.
            Ok((1e15, 1e15))
        }
    }

    /// The decision interval that gives a false alarm every so many readings on average.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for an allowance as in [`Cusum::new`] and a number of readings that
    /// no h up to 20 gives.
    ///
    /// ```
    /// use kerfwise_gauge::Cusum;
    ///
    /// // As rare as on a chart of single readings with limits at 3σ: 370.4.
    /// assert!((Cusum::with_false_alarms_every(370.4, 0.5)?.decision() - 4.7749).abs() < 1e-4);
    /// # Ok::<(), kerfwise_gauge::Error>(())
    /// ```
    pub fn with_false_alarms_every(readings: f64, allowance: f64) -> Result<Self, Error> {
        Self::new(allowance, 4.0)?;
        let length = |decision: f64| {
            let chart = Self {
                allowance,
                decision,
                head_start: 0.0,
            };
            chart
                .average_run_length(0.0)
                .map_or(f64::INFINITY, float::ln)
                - float::ln(readings)
        };
        let decision = super::design(length, 0.01, 20.0, readings)?;
        Self::new(allowance, decision)
    }
}
