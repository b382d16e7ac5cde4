//! Pieces whose outcome and reading are affine: exact laws of what both see, and of what only one of them sees.

use super::Risks;
use crate::Error;
use crate::affine::{self, Affine, Term};
use crate::curve::{Curve, Reach, middle_of, width_of};
use crate::plausible::{IMPLAUSIBLE, TOO_RARE, far_off};
use crate::rule::{Functions, Rule};
use kerfwise_source::{Dimension, Quantity};
use kerfwise_stack::{Band, Chance, Exact, Expr, Outcome, Stack};

/// Of a sum of shares of one.
const ROUNDING: f64 = 1e-14;

#[derive(Debug, Clone)]
pub(super) struct Exactly {
    pub(super) band: (f64, f64),
    location: f64,
    pub(super) shown_location: f64,
    pub(super) half: f64,
    common: Exact,
    /// Distribution function and density of the common part, for the many panels of one reading; `None` where the density
    /// has poles, which no polynomial follows.
    curves: Option<(Curve, Curve)>,
    reach: Reach,
    rest: Option<Exact>,
    rest_cdf: Curve,
    /// What the gauge adds of its own; nothing where all its errors are in the outcome as well.
    pub(super) gauge: Option<Exact>,
    gauge_cdf: Curve,
    gauge_ends: (f64, f64),
    shown: Exact,
}

impl Exactly {
    pub(super) fn new(
        stack: &Stack,
        outcome: Outcome<'_>,
        band: Band,
        shown: &Expr,
        step: f64,
    ) -> Result<Self, Error> {
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

    /// Over how much a reading blurs: the gauge's own spread, or its step.
    pub(super) fn sharpness(&self) -> f64 {
        self.gauge.as_ref().map_or(2.0 * self.half, width_of)
    }

    /// The limits of the band as readings, when gauge and what is not seen stand at their means; counted from what is
    /// shown when nothing is off.
    pub(super) fn band_as_read(&self) -> (f64, f64) {
        let rest = self.rest.as_ref().map_or(0.0, middle_of);
        let shift = self.gauge.as_ref().map_or(0.0, middle_of) - rest - self.location;
        (self.band.0 + shift, self.band.1 + shift)
    }

    /// A reading that fewer than this share of all pieces stay below.
    pub(super) fn within(&self, share: f64) -> f64 {
        self.shown.quantile(share).value.raw()
    }

    pub(super) fn check_plausible(&self, r: f64) -> Result<(), Error> {
        let at = |y: f64| Quantity::new(y, Dimension::LENGTH);
        let rarity = |r: f64| {
            let low = self.shown.cdf(at(r + self.half)).value;
            let high = self.shown.sf(at(r - self.half)).value;
            low.min(high)
        };
        if rarity(r) < IMPLAUSIBLE {
            let expected = self.shown_location + self.within(0.5);
            let is_likely = |shown: f64| rarity(shown - self.shown_location) > 1e-3;
            let reading = r + self.shown_location;
            return Err(far_off(reading, expected, TOO_RARE, &is_likely));
        }
        Ok(())
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

    /// The chances given a reading, and a bound of their error.
    pub(super) fn given(&self, r: f64) -> Result<(Chance, f64), Error> {
        let [fine, coarse] = [2.0, 4.0].map(|times| self.given_with(r, times));
        let ((fine, error), (coarse, _)) = (fine?, coarse?);
        let off = (fine.below - coarse.below)
            .abs()
            .max((fine.above - coarse.above).abs());
        Ok((fine, 2.0 * off + error))
    }

    /// The chances given a reading, and how far the parts that are not exact may move them.
    pub(super) fn given_with(&self, r: f64, times: f64) -> Result<(Chance, f64), Error> {
        let edges = [r - self.half, r + self.half];
        let rule = self.rule(&edges, times)?;
        // How likely the reading is, and how far that may be off.
        let likely = |c: f64| {
            if self.half > 0.0 {
                let likely = self.gauge_cdf.at(edges[1] - c) - self.gauge_cdf.at(edges[0] - c);
                (likely.max(0.0), 2.0 * self.gauge_cdf.error + ROUNDING)
            } else {
                let at = Quantity::new(r - c, Dimension::LENGTH);
                let density = self.gauge.as_ref().and_then(|gauge| gauge.pdf(at));
                density.map_or((0.0, 0.0), |d| {
                    let value = d.value.max(0.0);
                    (value, d.error + ROUNDING * value)
                })
            }
        };
        let (mut all, mut below, mut above) = (0.0, 0.0, 0.0);
        let (mut peak, mut doubt) = (0.0_f64, 0.0);
        for (c, weight) in rule.places.iter().zip(&rule.weights) {
            let (likely, off) = likely(*c);
            peak = peak.max(likely);
            doubt += weight * off;
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
        // A rare reading is a small part of all, so what is lost of all weighs more in it: a weight that is off counts by how
        // likely the reading is there, a likelihood that is off as it is. The chances are means of values of the curve.
        let lost = rule.error * peak + doubt;
        Ok((chance, 2.0 * self.rest_cdf.error + ROUNDING + lost / all))
    }

    pub(super) fn risks(&self, from: f64, to: f64) -> Result<Risks, Error> {
        let [fine, coarse] = [2.0, 4.0].map(|times| self.risks_with(from, to, times));
        let (fine, coarse) = (fine?, coarse?);
        let off = (fine.consumer - coarse.consumer)
            .abs()
            .max((fine.producer - coarse.producer).abs());
        Ok(Risks {
            error: 2.0 * off + fine.error,
            ..fine
        })
    }

    fn risks_with(&self, from: f64, to: f64, times: f64) -> Result<Risks, Error> {
        let edges = [from - self.half, to + self.half];
        let rule = self.rule(&edges, times)?;
        let mut risks = Risks {
            conforming: 0.0,
            accepted: 0.0,
            consumer: 0.0,
            producer: 0.0,
            // Both are differences of two values of a curve, and their product is off by no more than both.
            error: rule.error + 2.0 * (self.rest_cdf.error + self.gauge_cdf.error) + ROUNDING,
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
