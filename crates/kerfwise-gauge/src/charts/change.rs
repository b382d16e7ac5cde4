use super::Process;
use crate::Error;

/// How a process left its mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Change {
    /// At once, to a new mean: a jig that slipped, a fence that was bumped.
    Step,
    /// Steadily, from one reading to the next: a blade that warms up, a bit that wears.
    Drift,
}

/// Where in a run a change is most likely to have begun, and how large it is.
///
/// ```
/// use kerfwise_gauge::{Change, ChangePoint, Process};
///
/// let process = Process::new(0.0, 1.0)?;
/// let slipped = ChangePoint::find(&process, &[0.0, 1.0, -1.0, 0.0, 3.0, 2.0, 4.0])?;
/// assert_eq!((slipped.kind, slipped.began, slipped.size), (Change::Step, 4, 3.0));
/// let warming = ChangePoint::find(&process, &[0.0, 0.5, -0.5, 0.0, 1.0, 2.0, 3.0, 4.0])?;
/// assert_eq!((warming.kind, warming.began), (Change::Drift, 4));
/// assert!((warming.size - 1.0).abs() < 1e-12); // per reading
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct ChangePoint {
    /// A step or a drift.
    pub kind: Change,
    /// The first reading, counted from 0, that is changed.
    pub began: usize,
    /// The step, or the change per reading.
    pub size: f64,
    /// Its standard uncertainty, where the change began taken as known.
    pub standard_error: f64,
    /// By how much the logarithm of the likelihood is above that of no change; of the two kinds the larger is likelier.
    pub gain: f64,
}

impl ChangePoint {
    /// The likelier of a step and a drift, in the readings up to the one at which a chart signalled.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Readings`](crate::ErrorKind::Readings) without readings, and for one that is not finite.
    pub fn find(process: &Process, readings: &[f64]) -> Result<Self, Error> {
        let step = Self::of(Change::Step, process, readings)?;
        let drift = Self::of(Change::Drift, process, readings)?;
        Ok(if drift.gain > step.gain { drift } else { step })
    }

    /// The best change of one kind, by maximum likelihood with the mean before known: for a step after Samuel, Pignatiello and
    /// Calvin (1998), for a drift after Perry and Pignatiello (2006).
    ///
    /// ```text
    /// gain = (Σ wᵢ (xᵢ − mean))² / (2 σ² Σ wᵢ²) from the first changed reading on, w = 1 for a step, 1, 2, 3 … for a drift
    /// ```
    ///
    /// # Errors
    ///
    /// As [`ChangePoint::find`].
    pub fn of(kind: Change, process: &Process, readings: &[f64]) -> Result<Self, Error> {
        if readings.is_empty() {
            return Err(Error::readings(
                "there are no readings: take those up to the signal",
            ));
        }
        if let Some(index) = readings.iter().position(|reading| !reading.is_finite()) {
            let (number, reading) = (index + 1, readings[index]);
            return Err(Error::readings(format!(
                "reading {number} must be a finite number (got {reading})"
            )));
        }
        let sd = process.standard_deviation();
        let mut best: Option<Self> = None;
        // From the last reading backwards, with Σ z and Σ w z; a reading more makes every w one larger.
        let (mut plain, mut weighted, mut count) = (0.0, 0.0, 0.0);
        for (index, &reading) in readings.iter().enumerate().rev() {
            plain += process.standardised(reading, 1);
            weighted += plain;
            count += 1.0;
            let (sum, squares) = match kind {
                Change::Step => (plain, count),
                Change::Drift => (weighted, count * (count + 1.0) * (2.0 * count + 1.0) / 6.0),
            };
            let gain = 0.5 * sum * sum / squares;
            // Of readings so far out that squares overflow, none is kept.
            if gain.is_finite() && best.is_none_or(|best| gain > best.gain) {
                best = Some(Self {
                    kind,
                    began: index,
                    size: sd * sum / squares,
                    standard_error: sd / squares.sqrt(),
                    gain,
                });
            }
        }
        best.ok_or_else(|| Error::readings("the readings are too large for this process"))
    }
}
