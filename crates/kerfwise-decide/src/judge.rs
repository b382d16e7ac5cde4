//! What a measured piece is worth: the chance that it conforms, and where to draw the line.
//!
//! After JCGM 106:2012, *The role of measurement uncertainty in conformity assessment*. What is known of pieces before
//! measuring is the distribution of the stack, not an assumption on top of it. Derivation: `docs/decisions.md`.

use crate::Error;
use crate::affine::{self, Affine, Term, named};
use crate::curve::{Curve, Reach, middle_of, width_of};
use crate::rule::{Functions, Rule};
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_source::{Dimension, Length, LengthUnits as _, Quantity};
use kerfwise_stack::{Bounded, Chance, Exact, Expr, Stack};

/// Rarer than this is taken for a mistake: one reading in ten million.
const IMPLAUSIBLE: f64 = 1e-7;

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
#[derive(Debug, Clone)]
pub struct Judge {
    band: (f64, f64),
    location: f64,
    shown_location: f64,
    half: f64,
    common: Exact,
    /// Distribution function and density of the common part, for the many panels of one reading; `None` where the density
    /// has poles, which no polynomial follows.
    curves: Option<(Curve, Curve)>,
    reach: Reach,
    rest: Option<Exact>,
    rest_cdf: Curve,
    /// What the gauge adds of its own; nothing where all its errors are in the outcome as well.
    gauge: Option<Exact>,
    gauge_cdf: Curve,
    gauge_ends: (f64, f64),
    shown: Exact,
}

/// What one reading says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Judgement {
    /// The reading.
    pub reading: Length,
    /// The chances that the piece lies below, inside and above the band: inside is the conformance probability (JCGM 106,
    /// 3.3.7).
    pub chance: Bounded<Chance>,
}

/// Readings that are accepted; `None` where a side has no limit.
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
    /// A bound of the error of each.
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
    /// When outcome or reading is not an affine length; when the outcome has no band; when reading and outcome have nothing in
    /// common; when a source counts differently in both; when the resolution is negative, or zero with a gauge that has no
    /// error of its own.
    pub fn new(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        resolution: Length,
    ) -> Result<Self, Error> {
        let outcome = named(stack, outcome)?;
        let band = outcome.band().ok_or_else(|| {
            Error::question(format!(
                "outcome \"{}\" has no band to judge by",
                outcome.name()
            ))
        })?;
        let step = affine::step_of(resolution)?;
        let (fit, seen) = affine::beside(stack, outcome, Some(shown))?;
        let [common, rest, gauge] = split(&fit, &seen)?;
        let matrix = stack.correlations();
        affine::parts_are_independent(&[&common, &rest, &gauge], matrix)?;
        let law = |terms: &[Term]| affine::law(terms, Dimension::LENGTH, matrix);
        let common = law(&common)?.ok_or_else(|| {
            Error::question(
                "the reading has nothing in common with the outcome, so it cannot tell of it",
            )
        })?;
        let gauge = law(&gauge)?;
        if gauge.is_none() && step == 0.0 {
            return Err(Error::question(
                "the gauge has neither an error of its own nor steps; give it one, for instance its limits of error",
            ));
        }
        let rest = law(&rest)?;
        let shown = law(&seen.terms)?
            .ok_or_else(|| Error::question("nothing of the reading is uncertain"))?;
        Ok(Self {
            band: band.raw(),
            location: fit.location,
            shown_location: seen.location,
            half: 0.5 * step,
            reach: Reach::of(&common, Dimension::LENGTH),
            curves: curves_of(&common),
            common,
            rest_cdf: Curve::cdf(rest.as_ref(), Dimension::LENGTH),
            rest,
            gauge_cdf: Curve::cdf(gauge.as_ref(), Dimension::LENGTH),
            gauge_ends: gauge.as_ref().map_or((0.0, 0.0), |gauge| {
                (
                    gauge.quantile(0.0).value.raw(),
                    gauge.quantile(1.0).value.raw(),
                )
            }),
            gauge,
            shown,
        })
    }

    /// The chance that a piece conforms, given its reading: Bayes' rule with the stack as what was known before.
    ///
    /// # Errors
    ///
    /// When the reading is not finite, or so far off that fewer than one piece in ten million would show it.
    pub fn reading(&self, reading: Length) -> Result<Judgement, Error> {
        let r = self.plausible(reading)?;
        let [fine, coarse] = [2.0, 4.0].map(|times| self.given(r, times));
        let ((fine, error), (coarse, _)) = (fine?, coarse?);
        let off = (fine.below - coarse.below)
            .abs()
            .max((fine.above - coarse.above).abs());
        Ok(Judgement {
            reading,
            chance: Bounded {
                value: fine,
                error: 2.0 * off + error,
            },
        })
    }

    /// Readings for which the chance to conform is at least `wanted`.
    ///
    /// `None` when no reading gives that chance.
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
        let at = |r: f64| self.given(r, 2.0).map(|(c, _)| c.inside);
        let (lo, hi) = (self.within(1e-6), self.within(1.0 - 1e-6));
        let (best, most) = self.best(wanted)?;
        if most < wanted {
            return Ok(None);
        }
        let side = |end: f64| -> Result<Option<f64>, Error> {
            if at(end)? >= wanted {
                return Ok(None);
            }
            let mut failed = None;
            let gap = |r: f64| match at(r) {
                Ok(chance) => chance - wanted,
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
        let as_length = |r: f64| (r + self.shown_location).inch();
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
        self.reading((r + self.shown_location).inch())
    }

    /// The best reading and its chance, sought until it is good enough.
    fn best(&self, enough: f64) -> Result<(f64, f64), Error> {
        let at = |r: f64| self.given(r, 2.0).map(|(c, _)| c.inside);
        let (lo, hi) = (self.within(1e-6), self.within(1.0 - 1e-6));
        // The best reading, coarsely and then closely: the chance rises to it and falls from there.
        let (mut best, mut most) = (lo, at(lo)?);
        let mut step = (hi - lo) / 40.0;
        for i in 1..=40 {
            let r = lo + step * f64::from(i);
            let chance = at(r)?;
            if chance > most {
                (best, most) = (r, chance);
            }
        }
        while step > 1e-3 * self.sharpness() && most < enough {
            step *= 0.5;
            for r in [best - step, best + step] {
                let chance = at(r)?;
                if chance > most {
                    (best, most) = (r, chance);
                }
            }
        }
        Ok((best, most))
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
            limit.map_or(none, |l| l.to_inches() - self.shown_location)
        };
        let (from, to) = (raw(lower, f64::NEG_INFINITY), raw(upper, f64::INFINITY));
        if from > to {
            return Err(Error::question(format!(
                "lower acceptance limit {} lies above the upper one {}; swap them",
                (from + self.shown_location).inch(),
                (to + self.shown_location).inch()
            )));
        }
        let [fine, coarse] = [2.0, 4.0].map(|times| self.risks_with(from, to, times));
        let (fine, coarse) = (fine?, coarse?);
        let off = (fine.consumer - coarse.consumer)
            .abs()
            .max((fine.producer - coarse.producer).abs());
        Ok(Risks {
            error: 2.0 * off + self.known_error() + fine.error,
            ..fine
        })
    }

    /// Whether the gauge suits the band.
    #[must_use]
    pub fn gauge(&self) -> GaugeSuits {
        let own = self.gauge.as_ref().map_or(0.0, width_of);
        // A step is a rectangular error of half a step either way (JCGM 100, F.2.2.1).
        let step = 2.0 * self.half / 12.0_f64.sqrt();
        let u = (own * own + step * step).sqrt();
        let width = self.band.1 - self.band.0;
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
        self.gauge.as_ref().map_or(2.0 * self.half, width_of)
    }

    /// The limits of the band as readings, when gauge and what is not seen stand at their means; counted from what is
    /// shown when nothing is off.
    fn band_as_read(&self) -> (f64, f64) {
        let rest = self.rest.as_ref().map_or(0.0, middle_of);
        let shift = self.gauge.as_ref().map_or(0.0, middle_of) - rest - self.location;
        (self.band.0 + shift, self.band.1 + shift)
    }

    /// A reading that fewer than this share of all pieces stay below.
    fn within(&self, share: f64) -> f64 {
        self.shown.quantile(share).value.raw()
    }

    fn plausible(&self, reading: Length) -> Result<f64, Error> {
        let r = reading.to_inches() - self.shown_location;
        if !r.is_finite() {
            return Err(Error::observation(format!(
                "a reading must be a finite length (got {reading})"
            )));
        }
        let at = |y: f64| Quantity::new(y, Dimension::LENGTH);
        let low = self.shown.cdf(at(r + self.half)).value;
        let high = self.shown.sf(at(r - self.half)).value;
        if low.min(high) < IMPLAUSIBLE {
            let expected = self.shown_location + self.within(0.5);
            return Err(Error::observation(format!(
                "a reading of {:.4} in lies {:.4} in from the {expected:.4} in that the plan expects, which fewer than one \
                 in ten million would; a mistaken reading, the wrong unit, or another plan?",
                reading.to_inches(),
                (reading.to_inches() - expected).abs(),
            )));
        }
        Ok(r)
    }

    /// The chances of below, inside and above when C is this.
    fn chance_of(&self, c: f64) -> (f64, f64) {
        let below = self.rest_cdf.at(self.band.0 - self.location - c);
        let above = 1.0 - self.rest_cdf.at(self.band.1 - self.location - c);
        (below.clamp(0.0, 1.0), above.clamp(0.0, 1.0))
    }

    /// A rule over C with ends of panels where what is averaged may have corners.
    fn rule(&self, edges: &[f64], times: f64) -> Result<Rule, Error> {
        let mut breaks = Vec::new();
        for edge in edges {
            for end in [self.gauge_ends.0, self.gauge_ends.1, 0.0] {
                breaks.push(edge - end);
            }
        }
        for limit in [self.band.0, self.band.1] {
            breaks.push(limit - self.location);
        }
        breaks.retain(|b| b.is_finite());
        let narrow = match &self.rest {
            Some(rest) => self.sharpness().min(width_of(rest)),
            None => self.sharpness(),
        };
        let width = times * narrow;
        let far = 8.0 * narrow;
        let near = breaks.clone();
        Rule::over(&self.functions()?, &self.reach, &breaks, &|from, to| {
            let distance = |at: &f64| (at - to).max(from - at).max(0.0);
            let nearest = near.iter().map(distance).fold(f64::INFINITY, f64::min);
            width + 0.25 * (nearest - far).max(0.0)
        })
    }

    fn functions(&self) -> Result<Functions<'_>, Error> {
        let exact = Functions::exact(&self.common, Dimension::LENGTH)?;
        let Some((cdf, density)) = &self.curves else {
            return Ok(exact);
        };
        Ok(Functions {
            cdf: Box::new(|y| cdf.at(y)),
            pdf: Box::new(|y| (density.at(y), density.error)),
            quantile: exact.quantile,
            // Each is good to 4e-15 in its own right, and its sums round.
            rounding: 3e-14 + 2.0 * cdf.error,
        })
    }

    /// The chances given a reading, and how far the parts that are not exact may move them.
    fn given(&self, r: f64, times: f64) -> Result<(Chance, f64), Error> {
        let edges = [r - self.half, r + self.half];
        let rule = self.rule(&edges, times)?;
        let likely = |c: f64| {
            if self.half > 0.0 {
                (self.gauge_cdf.at(edges[1] - c) - self.gauge_cdf.at(edges[0] - c)).max(0.0)
            } else {
                let at = Quantity::new(r - c, Dimension::LENGTH);
                let density = self.gauge.as_ref().and_then(|gauge| gauge.pdf(at));
                density.map_or(0.0, |d| d.value.max(0.0))
            }
        };
        let (mut all, mut below, mut above) = (0.0, 0.0, 0.0);
        let mut peak = 0.0_f64;
        for (c, weight) in rule.places.iter().zip(&rule.weights) {
            let likely = likely(*c);
            peak = peak.max(likely);
            let share = weight * likely;
            let (low, high) = self.chance_of(*c);
            all += share;
            below += share * low;
            above += share * high;
        }
        if !(all > 0.0 && all.is_finite()) {
            return Err(Error::observation(
                "no piece of this plan would show that reading; is the unit right?",
            ));
        }
        let (below, above) = (below / all, above / all);
        let chance = Chance {
            below,
            inside: (1.0 - below - above).max(0.0),
            above,
        };
        // A rare reading is a small part of all, so what is lost of all weighs more in it.
        Ok((chance, (self.known_error() + rule.error) * peak / all))
    }

    fn risks_with(&self, from: f64, to: f64, times: f64) -> Result<Risks, Error> {
        let edges = [from - self.half, to + self.half];
        let rule = self.rule(&edges, times)?;
        let mut risks = Risks {
            conforming: 0.0,
            accepted: 0.0,
            consumer: 0.0,
            producer: 0.0,
            error: rule.error,
        };
        for (c, weight) in rule.places.iter().zip(&rule.weights) {
            let below = self.gauge_cdf.at(edges[0] - c).clamp(0.0, 1.0);
            let above = (1.0 - self.gauge_cdf.at(edges[1] - c)).clamp(0.0, 1.0);
            let rejected = (below + above).min(1.0);
            let (low, high) = self.chance_of(*c);
            let outside = (low + high).min(1.0);
            risks.conforming += weight * (1.0 - outside);
            risks.accepted += weight * (1.0 - rejected);
            risks.consumer += weight * (1.0 - rejected) * outside;
            risks.producer += weight * rejected * (1.0 - outside);
        }
        Ok(risks)
    }

    fn known_error(&self) -> f64 {
        self.reach.outside + self.rest_cdf.error + self.gauge_cdf.error + 1e-14
    }
}

/// Distribution function and density as curves, if these agree with each other.
fn curves_of(law: &Exact) -> Option<(Curve, Curve)> {
    let density = Curve::density(law, Dimension::LENGTH)?;
    let cdf = Curve::cdf(Some(law), Dimension::LENGTH);
    // A pole is cut off by the smallest panel and leaves far more than this; smooth pieces and steps leave far less.
    ((density.integral() - 1.0).abs() < 1e-11 + 2.0 * Reach::of(law, Dimension::LENGTH).outside)
        .then_some((cdf, density))
}

/// Terms that both have, of the outcome alone, of the reading alone.
fn split(fit: &Affine, seen: &Affine) -> Result<[Vec<Term>; 3], Error> {
    let (mut common, mut rest) = (Vec::new(), Vec::new());
    for term in &fit.terms {
        match affine::in_both(term, seen)? {
            true => common.push(term.clone()),
            false => rest.push(term.clone()),
        }
    }
    let is_known = |term: &&Term| !common.iter().any(|t: &Term| t.is_same(term));
    let gauge = seen.terms.iter().filter(is_known).cloned().collect();
    Ok([common, rest, gauge])
}

#[cfg(test)]
mod tests;
