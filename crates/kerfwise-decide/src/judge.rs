//! What a measured piece is worth: the chance that it conforms, and where to draw the line.
//!
//! After JCGM 106:2012, *The role of measurement uncertainty in conformity assessment*. What is known of pieces before
//! measuring is the distribution of the stack, not an assumption on top of it. Derivation: `docs/decisions.md`.

mod exactly;
mod trials;

use crate::affine;
use crate::curve::width_of;
use crate::{Error, ErrorKind};
use exactly::Exactly;
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_source::{Length, LengthUnits as _};
use kerfwise_stack::{Bounded, Chance, Expr, Propagation, Stack};
use trials::{LEAST, Trials};

/// Judges measured pieces: prepared once, then asked with readings.
///
/// ```text
/// what must conform   Y = y₀ + C + E      C is seen in the reading, E is not
/// what is shown       R = r₀ + C + D      D: errors of the gauge
/// ```
///
/// ```
/// use kerfwise_decide::Judge;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Stack};
///
/// // JCGM 106:2012, 9.5.3.2, with thou for ohm·0.1: pieces of 1.2 thou in a band of ±2, a gauge of 0.4 thou.
/// let piece = Source::new("piece", 0.inch()).normal(1.2.thou()).build()?;
/// let gauge = Source::new("gauge", 0.inch()).normal(0.4.thou()).build()?;
/// let y = Expr::source(&piece);
/// let stack = Stack::builder().outcome("y", &y, Band::within(2.thou())?).build()?;
/// let judge = Judge::new(&stack, "y", &(y - Expr::source(&gauge)), 0.inch())?;
/// let risks = judge.risks(Some((-1.8).thou()), Some(1.8.thou()))?;
/// assert_eq!(format!("{:.2}", risks.consumer), "0.01"); // as printed there
/// assert_eq!(format!("{:.2}", risks.producer), "0.07");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// Where there is no exact answer, as when outcome or reading is not affine (a tenon felt at its fattest spot), 131,072 weighted trials
/// answer, always the same ones: the error of a chance is then a standard error, not a bound, and [`limits`](Self::limits)
/// are as good as the chances from which they are solved.
///
/// ```
/// use kerfwise_decide::Judge;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Propagation, Stack};
///
/// let tenon = Source::new("tenon", 0.inch()).normal(1.thou()).build()?;
/// let taper = Source::new("taper", 0.inch()).normal(2.thou()).build()?;
/// let gauge = Source::new("gauge", 0.inch()).normal(0.1.thou()).build()?;
/// let (tenon, taper) = (Expr::source(&tenon), Expr::source(&taper));
/// let stack = Stack::builder().outcome("fit", &(&tenon + taper.abs()), Band::at_most(2.thou())?).build()?;
/// let judge = Judge::new(&stack, "fit", &(tenon - Expr::source(&gauge)), 0.01.thou())?;
/// assert_eq!(judge.by(), Propagation::MonteCarlo);
/// let found = judge.reading(0.inch())?.chance;
/// // A taper of at most 2 thou, one standard deviation, either way: 0.6827, as good as without the gauge's error.
/// assert!((found.value.inside - 0.6827).abs() < 5.0 * found.error + 0.001);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Judge {
    pieces: Pieces,
}

/// What is known of pieces before they are measured.
#[derive(Debug, Clone)]
enum Pieces {
    Exactly(Box<Exactly>),
    ByTrials(Box<Trials>),
}

/// What one reading says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// The reading.
    pub reading: Length,
    /// The chances that the piece lies below, inside and above the band: inside is the conformance probability (JCGM 106,
    /// 3.3.7). The error is a bound, or by trials a standard error.
    pub chance: Bounded<Chance>,
}

/// Readings that are accepted; `None` where a side has no limit: the band has none there, or every reading that occurs is
/// accepted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AcceptanceLimits {
    /// The least reading that is accepted.
    pub lower: Option<Length>,
    /// The greatest.
    pub upper: Option<Length>,
    /// How far each lies inside the limit of the band (guard band, JCGM 106, 3.3.11); negative when outside of it.
    pub guard: (Option<Length>, Option<Length>),
}

/// Risks of a decision rule, over all pieces (JCGM 106, 9.5.2: global risks).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Risks {
    /// The chance that a piece conforms.
    pub conforming: f64,
    /// The chance that a piece is accepted.
    pub accepted: f64,
    /// Consumer's risk: the chance that a piece is accepted and does not conform.
    pub consumer: f64,
    /// Producer's risk: the chance that a piece is rejected and conforms.
    pub producer: f64,
    /// A bound of the error of each, or by trials a standard error.
    pub error: f64,
}

/// Whether a gauge suits a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GaugeSuits {
    /// Standard uncertainty of a reading: the gauge's errors and its step.
    pub uncertainty: Length,
    /// Measurement capability index, band / (4 u) (JCGM 106, 7.6.3); `None` for a band of one limit. The old rule of four
    /// to one wants 4.
    pub capability: Option<f64>,
    /// The coarsest step with which the capability would be 4; `None` where no step would do, since the gauge's other errors
    /// are too large already, or where there is no capability.
    pub step_for_four: Option<Length>,
}

impl Judge {
    /// For an outcome with a band, and what the gauge shows of a piece, before rounding to steps of `resolution`, as an
    /// expression over the sources of the stack and of the gauge.
    ///
    /// # Errors
    ///
    /// When outcome or reading is not a length; when the outcome has no band; when reading and outcome have nothing in
    /// common; when both are affine and a source counts differently in them; when there is no exact answer, and sources are
    /// correlated or the gauge is so fine that hardly a trial is like any reading; when the resolution is negative, or zero
    /// with a gauge that has no error of its own.
    pub fn new(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        resolution: Length,
    ) -> Result<Self, Error> {
        let (outcome, band) = affine::banded(stack, outcome)?;
        let step = affine::step_of(resolution, band.raw())?;
        let pieces = match Exactly::new(stack, outcome, band, shown, step) {
            Ok(exactly) => Pieces::Exactly(Box::new(exactly)),
            Err(error) if matches!(error.kind(), ErrorKind::Declined(_)) => {
                if stack.correlations().is_some() {
                    return Err(Error::question(format!(
                        "{error}; and trials, which answer elsewhere, take no correlated sources: write what they share as a \
                         source of its own"
                    )));
                }
                let trials = Trials::new(outcome, band, shown, step)?;
                Pieces::ByTrials(Box::new(trials))
            }
            Err(error) => return Err(error),
        };
        Ok(Self { pieces })
    }

    /// How the chances are found: exactly, or by Monte Carlo where outcome and reading have no exact answer.
    #[must_use]
    pub fn by(&self) -> Propagation {
        match &self.pieces {
            Pieces::Exactly(_) => Propagation::Exact,
            Pieces::ByTrials(_) => Propagation::MonteCarlo,
        }
    }

    /// The chance that a piece conforms, given its reading: Bayes' rule with the stack as what was known before.
    ///
    /// # Errors
    ///
    /// When the reading is not finite, or so far off that fewer than one piece in ten million would show it; by trials, when
    /// those that may show it are worth fewer than 200.
    pub fn reading(&self, reading: Length) -> Result<Judgement, Error> {
        let r = self.plausible(reading)?;
        let (value, error) = match &self.pieces {
            Pieces::Exactly(e) => e.given(r)?,
            Pieces::ByTrials(t) => t.given(r)?,
        };
        Ok(Judgement {
            reading,
            chance: Bounded { value, error },
        })
    }

    /// Readings for which the chance to conform is at least `wanted`.
    ///
    /// `None` when no reading gives that chance. A side has no limit where every reading on it is accepted that pieces of
    /// this plan show: all but one in a million, or by trials those that are like enough trials.
    ///
    /// # Errors
    ///
    /// When the wanted chance is not above 0 and below 1.
    pub fn limits(&self, wanted: f64) -> Result<Option<AcceptanceLimits>, Error> {
        if !(wanted > 0.0 && wanted < 1.0) {
            return Err(Error::question(format!(
                "the wanted chance to conform must be above 0 and below 1 (got {wanted})"
            )));
        }
        let (lo, hi) = (self.within(1e-6), self.within(1.0 - 1e-6));
        let (best, most) = self.best(wanted)?;
        if most < wanted {
            return Ok(None);
        }
        let side = |end: f64| -> Result<Option<f64>, Error> {
            let Some((end, chance)) = self.first_told(end, best)? else {
                return Ok(None);
            };
            if chance >= wanted {
                return Ok(None);
            }
            let mut failed = None;
            let gap = |r: f64| match self.inside(r) {
                // What is not told of is not accepted.
                Ok(chance) => chance.unwrap_or(0.0) - wanted,
                Err(error) => {
                    failed = Some(error);
                    0.0
                }
            };
            let tolerance = RootTolerance {
                absolute: 1e-10 * (hi - lo),
                relative: 0.0,
            };
            let root = find_root(gap, end.min(best), end.max(best), tolerance);
            match failed {
                Some(error) => Err(error),
                None => Ok(root.ok().map(|root| root.x)),
            }
        };
        let (lower, upper) = (side(lo)?, side(hi)?);
        let (band_lower, band_upper) = self.band_as_read();
        let as_length = |r: f64| (r + self.shown_location()).inch();
        Ok(Some(AcceptanceLimits {
            lower: lower.map(as_length),
            upper: upper.map(as_length),
            guard: (
                lower
                    .filter(|_| band_lower.is_finite())
                    .map(|r| (r - band_lower).inch()),
                upper
                    .filter(|_| band_upper.is_finite())
                    .map(|r| (band_upper - r).inch()),
            ),
        }))
    }

    /// The reading that promises most.
    ///
    /// # Errors
    ///
    /// When the stack gives no chance for any reading.
    pub fn best_reading(&self) -> Result<Judgement, Error> {
        let (r, _) = self.best(1.0)?;
        self.reading((r + self.shown_location()).inch())
    }

    /// The best reading and its chance, sought until it is good enough.
    fn best(&self, enough: f64) -> Result<(f64, f64), Error> {
        let (lo, hi) = (self.within(1e-6), self.within(1.0 - 1e-6));
        let better = |r: f64, (best, most): (f64, f64)| -> Result<(f64, f64), Error> {
            let chance = self.inside(r)?.filter(|chance| *chance > most);
            Ok(chance.map_or((best, most), |chance| (r, chance)))
        };
        // The best reading, coarsely and then closely: the chance rises to it and falls from there. Where many pieces lie,
        // trials tell of some reading at least.
        let likely = (1..10).map(|tenth| self.within(0.1 * f64::from(tenth)));
        let mut found = (self.within(0.5), f64::NEG_INFINITY);
        for r in parts(lo, hi).chain(likely) {
            found = better(r, found)?;
        }
        let mut step = (hi - lo) / PARTS;
        while step > 1e-3 * self.sharpness() && found.1 < enough {
            step *= 0.5;
            for r in [found.0 - step, found.0 + step] {
                found = better(r, found)?;
            }
        }
        Ok(found)
    }

    /// The first place on the way from one to another of which something is told, and what.
    fn first_told(&self, from: f64, to: f64) -> Result<Option<(f64, f64)>, Error> {
        for r in parts(from, to) {
            if let Some(chance) = self.inside(r)? {
                return Ok(Some((r, chance)));
            }
        }
        Ok(None)
    }

    /// Risks of accepting readings from `lower` to `upper`, over all pieces of the stack.
    ///
    /// ```text
    /// consumer's risk R_C = E [ P(accepted | C) P(outside | C) ],   producer's risk R_P = E [ P(rejected | C) P(inside | C) ]
    /// ```
    ///
    /// # Errors
    ///
    /// When a limit is not finite, or the lower one lies above the upper one.
    pub fn risks(&self, lower: Option<Length>, upper: Option<Length>) -> Result<Risks, Error> {
        for limit in [lower, upper].into_iter().flatten() {
            if !limit.to_inches().is_finite() {
                return Err(Error::question(format!(
                    "an acceptance limit must be finite (got {limit}); leave it out for none"
                )));
            }
        }
        let raw = |limit: Option<Length>, none: f64| {
            limit.map_or(none, |l| l.to_inches() - self.shown_location())
        };
        let (from, to) = (raw(lower, f64::NEG_INFINITY), raw(upper, f64::INFINITY));
        if from > to {
            return Err(Error::question(format!(
                "lower acceptance limit {} lies above the upper one {}; swap them",
                (from + self.shown_location()).inch(),
                (to + self.shown_location()).inch()
            )));
        }
        match &self.pieces {
            Pieces::Exactly(e) => e.risks(from, to),
            Pieces::ByTrials(t) => Ok(t.risks(from, to)),
        }
    }

    /// Whether the gauge suits the band.
    #[must_use]
    pub fn gauge(&self) -> GaugeSuits {
        let (band, half, own) = match &self.pieces {
            Pieces::Exactly(e) => (e.band, e.half, e.gauge.as_ref()),
            Pieces::ByTrials(t) => (t.band, t.half, t.gauge.as_ref()),
        };
        let own = own.map_or(0.0, width_of);
        // A step is a rectangular error of half a step either way (JCGM 100, F.2.2.1).
        let step = 2.0 * half / 12.0_f64.sqrt();
        let u = (own * own + step * step).sqrt();
        let width = band.1 - band.0;
        let allowed = width / 16.0;
        let room = allowed * allowed - own * own;
        GaugeSuits {
            uncertainty: u.inch(),
            capability: (width.is_finite() && u > 0.0).then(|| width / (4.0 * u)),
            step_for_four: (width.is_finite() && room > 0.0).then(|| (12.0 * room).sqrt().inch()),
        }
    }

    /// Over how much a reading blurs: the gauge's own spread, or its step.
    fn sharpness(&self) -> f64 {
        match &self.pieces {
            Pieces::Exactly(e) => e.sharpness(),
            Pieces::ByTrials(t) => t.gauge.as_ref().map_or(2.0 * t.half, width_of),
        }
    }

    /// The limits of the band as readings, when gauge and what is not seen stand at their means; counted from what is
    /// shown when nothing is off.
    fn band_as_read(&self) -> (f64, f64) {
        match &self.pieces {
            Pieces::Exactly(e) => e.band_as_read(),
            Pieces::ByTrials(t) => (t.band.0 + t.shift, t.band.1 + t.shift),
        }
    }

    /// A reading that fewer than this share of all pieces stay below.
    fn within(&self, share: f64) -> f64 {
        match &self.pieces {
            Pieces::Exactly(e) => e.within(share),
            Pieces::ByTrials(t) => t.within(share),
        }
    }

    /// What is shown when nothing is off.
    fn shown_location(&self) -> f64 {
        match &self.pieces {
            Pieces::Exactly(e) => e.shown_location,
            Pieces::ByTrials(t) => t.shown_location,
        }
    }

    /// The chance to conform given a reading; none where too few trials are like it.
    fn inside(&self, r: f64) -> Result<Option<f64>, Error> {
        match &self.pieces {
            Pieces::Exactly(e) => Ok(Some(e.given_with(r, 2.0)?.0.inside)),
            Pieces::ByTrials(t) if t.worth(r) < LEAST => Ok(None),
            Pieces::ByTrials(t) => Ok(Some(t.given(r)?.0.inside)),
        }
    }

    fn plausible(&self, reading: Length) -> Result<f64, Error> {
        let r = reading.to_inches() - self.shown_location();
        if !r.is_finite() {
            return Err(Error::observation(format!(
                "a reading must be a finite length (got {reading})"
            )));
        }
        match &self.pieces {
            Pieces::Exactly(e) => e.check_plausible(r)?,
            Pieces::ByTrials(t) => t.check_plausible(r)?,
        }
        Ok(r)
    }
}

/// Readings are looked at in so many equal parts.
const PARTS: f64 = 40.0;

/// The places from one to another, both with them.
fn parts(from: f64, to: f64) -> impl Iterator<Item = f64> {
    (0..=PARTS as u32).map(move |i| from + (to - from) / PARTS * f64::from(i))
}

#[cfg(test)]
mod tests;
