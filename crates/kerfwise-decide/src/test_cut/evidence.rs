//! What was seen, as a likelihood of the shared error.

use super::options::Feel;
use super::prior::{Rules, TestCut};
use crate::Error;
use crate::curve::Curve;
use crate::plausible::{IMPLAUSIBLE, TOO_RARE, far_off};
use crate::rule::Rule;
use kerfwise_numeric::float;
use kerfwise_source::{Dimension, Length, LengthUnits as _, Quantity};

/// Pieces that go together as rarely as that contradict each other: one set of pieces in ten million, exp(−16).
const CONTRADICTION: f64 = 16.0;
const LN_3: f64 = 1.098_612_288_668_109_8;
/// The most test pieces.
const MOST: usize = 1_000;

/// What is known of one reading, counted from what the gauge shows when nothing is off.
#[derive(Debug, Clone, Copy)]
pub(super) enum Seen {
    At(f64),
    Between(f64, f64),
}

/// The shared errors after the test pieces.
#[derive(Debug, Clone)]
pub(super) struct Beliefs {
    /// Of K.
    pub(super) kept: Rule,
    /// Of K + J.
    pub(super) both: Rule,
    /// Likelihood of K + J, up to a factor.
    pub(super) likelihood: Option<Curve>,
    /// What the likelihood averages to before the test.
    pub(super) evidence: f64,
    /// Chance (density, for exact readings) of what was seen.
    pub(super) ln_evidence: f64,
}

impl Beliefs {
    /// How far the likelihood may be off, as a part of all.
    pub(super) fn error(&self) -> f64 {
        let curve = self.likelihood.as_ref();
        curve.map_or(0.0, |curve| curve.error / self.evidence)
    }
}

/// The likelihood of K + J.
#[derive(Clone)]
struct Likelihood {
    curve: Curve,
    /// Logarithm of what it was divided by.
    ln_scale: f64,
    peak: f64,
}

/// The likelihood of one piece, as a function of the shared part of its reading.
enum Factor<'a> {
    /// What the noise must be around, to show this.
    Around(Option<&'a Curve>, f64),
    /// Between these, by the distribution function of the noise.
    Between(&'a Curve, f64, f64),
}

impl Factor<'_> {
    #[inline]
    fn at(&self, s: f64) -> f64 {
        match self {
            Self::Around(curve, r) => curve.map_or(0.0, |curve| curve.at(r - s).max(0.0)),
            Self::Between(noise, lo, hi) => (noise.at(hi - s) - noise.at(lo - s)).max(0.0),
        }
    }
}

impl TestCut {
    /// Readings as intervals of what is shown.
    pub(super) fn readings(&self, readings: &[Length]) -> Result<Vec<Seen>, Error> {
        if self.is_felt {
            return Err(Error::question(
                "this test cut was set up for pieces that are felt; set it up with a gauge for readings",
            ));
        }
        check_count(readings.len())?;
        readings
            .iter()
            .map(|reading| self.reading(*reading))
            .collect()
    }

    fn reading(&self, reading: Length) -> Result<Seen, Error> {
        let r = reading.to_inches();
        if !r.is_finite() {
            return Err(Error::observation(format!(
                "a reading must be a finite length (got {reading})"
            )));
        }
        let (off, half) = (r - self.shown_location, 0.5 * self.resolution);
        if self.rarity_of(r) < IMPLAUSIBLE {
            return Err(self.implausible(r));
        }
        Ok(if half > 0.0 {
            Seen::Between(off - half, off + half)
        } else {
            Seen::At(off)
        })
    }

    /// The chance of a reading at least that far out.
    fn rarity(&self, off: f64, half: f64) -> f64 {
        self.laws.shown.as_ref().map_or(1.0, |law| {
            let at = |y: f64| Quantity::new(y, Dimension::LENGTH);
            let low = law.cdf(at(off + half)).value;
            let high = law.sf(at(off - half)).value;
            low.min(high)
        })
    }

    #[cold]
    fn implausible(&self, r: f64) -> Error {
        let expected = self.shown_location
            + self
                .laws
                .shown
                .as_ref()
                .map_or(0.0, |law| law.quantile(0.5).value.raw());
        far_off(r, expected, TOO_RARE, &|r| self.rarity_of(r) > 1e-3)
    }

    /// The chance, before any test piece, of a first reading at least so far out, on the side on which this one lies (of a
    /// fit deviation, where pieces are felt); 0 for what is no length.
    ///
    /// A reading with less than 1/1,000 lies outside of [`advice_by_reading`](Self::advice_by_reading): measure that piece
    /// again.
    ///
    /// ```
    /// use kerfwise_decide::{TestCut, TestCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(3.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(5.thou())?).build()?;
    /// let cut = TestCut::measured(&stack, "fit", &fit, &TestCutOptions::new().resolution(0.inch()))?;
    /// // Readings have 5 thou: 10 thou are two standard deviations, beyond which 2.275 % lie.
    /// assert!((cut.chance_beyond(10.thou()) - 0.022_750_131_948).abs() < 1e-9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn chance_beyond(&self, reading: Length) -> f64 {
        let r = reading.to_inches();
        if r.is_finite() {
            self.rarity_of(r).clamp(0.0, 1.0)
        } else {
            0.0
        }
    }

    /// The same for what a gauge shows, in inches.
    fn rarity_of(&self, r: f64) -> f64 {
        self.rarity(r - self.shown_location, 0.5 * self.resolution)
    }

    /// Feels as intervals of the fit.
    pub(super) fn feels(&self, feels: &[Feel]) -> Result<Vec<Seen>, Error> {
        if !self.is_felt {
            return Err(Error::question(
                "this test cut was set up for readings of a gauge; set it up for pieces that are felt",
            ));
        }
        check_count(feels.len())?;
        let (lower, upper) = self.limits();
        feels
            .iter()
            .map(|feel| {
                let (chance, seen) = match feel {
                    Feel::Tight => (self.rarity(upper, 0.0), Seen::Between(upper, f64::INFINITY)),
                    Feel::Loose => (self.rarity(lower, 0.0), Seen::Between(f64::NEG_INFINITY, lower)),
                    Feel::Fits => (1.0, Seen::Between(lower, upper)),
                };
                if chance < IMPLAUSIBLE {
                    let word = if *feel == Feel::Tight { "tight" } else { "loose" };
                    return Err(Error::observation(format!(
                        "a {word} test piece is rarer in this plan than one in ten million; is the set-up the one of the \
                         plan?"
                    )));
                }
                Ok(seen)
            })
            .collect()
    }

    /// The band, counted from the fit when nothing is off.
    pub(super) fn limits(&self) -> (f64, f64) {
        (
            self.band.0 - self.fit_location,
            self.band.1 - self.fit_location,
        )
    }

    /// How likely one piece is, against the shared part of the reading.
    fn factor(&self, seen: &Seen) -> Factor<'_> {
        let curves = &self.curves;
        match (*seen, &curves.noise_step) {
            (Seen::At(r), step) => Factor::Around(step.as_ref(), r),
            // A reading, as the gauge shows it.
            (Seen::Between(lo, hi), Some(step))
                if (hi - lo - self.resolution).abs() < 1e-12 * self.resolution =>
            {
                Factor::Around(Some(step), 0.5 * (lo + hi))
            }
            (Seen::Between(lo, hi), _) => Factor::Between(&curves.noise, lo, hi),
        }
    }

    /// Bayes' rule.
    pub(super) fn believe(&self, seen: &[Seen], rules: &Rules) -> Result<Beliefs, Error> {
        if seen.is_empty() {
            return Ok(Beliefs {
                kept: rules.kept.clone(),
                both: rules.both.clone(),
                likelihood: None,
                evidence: 1.0,
                ln_evidence: 0.0,
            });
        }
        let likelihood = self.likelihood(seen, rules)?;
        self.weighed(likelihood, rules)
    }

    /// What is believed by narrow panels, and by wide ones.
    pub(super) fn believe_both(
        &self,
        seen: &[Seen],
        [fine, coarse]: &[Rules; 2],
    ) -> Result<[Beliefs; 2], Error> {
        if seen.is_empty() || fine.places_are_those_of(coarse) {
            let beliefs = self.believe(seen, fine)?;
            return Ok([beliefs.clone(), beliefs]);
        }
        let likelihood = self.likelihood(seen, fine)?;
        Ok([
            self.weighed(likelihood.clone(), fine)?,
            self.weighed(likelihood, coarse)?,
        ])
    }

    /// The likelihood of K + J, up to a factor.
    fn likelihood(&self, seen: &[Seen], rules: &Rules) -> Result<Likelihood, Error> {
        // Each factor is taken relative to its own best, so that many pieces do not underflow.
        let mut ln_scale = 0.0;
        let mut scaled = Vec::with_capacity(seen.len());
        for one in seen {
            let factor = self.factor(one);
            let best = factor.at(self.best_for(one)).max(f64::MIN_POSITIVE);
            ln_scale += float::ln(best);
            scaled.push((factor, 1.0 / best));
        }
        let product = |s: f64| {
            let mut product = 1.0;
            for (factor, scale) in &scaled {
                product *= scale * factor.at(s);
            }
            product
        };
        // The likelihood of many readings is narrow.
        let gauge = if seen.len() <= 3 {
            &self.few_gauge
        } else {
            &self.gauge
        };
        let gauged = |c: f64| gauge.expect(|d| product(c + d));
        let places = self.places_of(seen, rules);
        let peak = places.iter().map(|c| gauged(*c)).fold(0.0, f64::max);
        let m = seen.len() as f64;
        let plain = if self.is_felt {
            // Feels that are all as likely as the others.
            m * LN_3
        } else {
            // Half a χ² of m degrees of freedom: it passes m/2 + √(m x) + x with a chance below exp(−x) (Laurent and Massart
            // 2000, lemma 1).
            0.5 * m + (CONTRADICTION * m).sqrt()
        };
        if peak.is_nan() || float::ln(peak) <= -CONTRADICTION - plain {
            return Err(contradiction(seen, self.noise_sd, self.is_felt));
        }
        let ends = (gauged(places[0]), gauged(places[places.len() - 1]));
        // A factor is a difference of two distribution functions, each good to a few units in the last place of one.
        let rounding: f64 = scaled.iter().map(|(_, scale)| 4e-16 * scale.max(1.0)).sum();
        let tolerance = rounding.max(4e-15 * peak);
        Ok(Likelihood {
            curve: Curve::new(&places, ends, tolerance, &gauged),
            ln_scale,
            peak,
        })
    }

    /// The laws of K and K + J, weighed.
    fn weighed(&self, likelihood: Likelihood, rules: &Rules) -> Result<Beliefs, Error> {
        let Likelihood {
            curve,
            ln_scale,
            peak,
        } = likelihood;
        let (both, evidence) = rules.both.reweighed(|c| curve.at(c).max(0.0));
        let (kept, _) = rules
            .kept
            .reweighed(|k| rules.moved.expect(|j| curve.at(k + j)).max(0.0));
        if evidence.is_nan() || evidence <= 1e-12 * peak {
            return Err(Error::observation(
                "what was seen does not go with this plan: fewer than one set-up in a million million would do it",
            ));
        }
        Ok(Beliefs {
            kept,
            both,
            likelihood: Some(curve),
            evidence,
            ln_evidence: ln_scale + float::ln(evidence),
        })
    }

    /// The shared part at which a piece is likeliest, nearly.
    fn best_for(&self, seen: &Seen) -> f64 {
        let far = 40.0 * self.noise_sd;
        match *seen {
            Seen::At(r) => r,
            Seen::Between(lo, hi) if lo == f64::NEG_INFINITY => hi - far,
            Seen::Between(lo, hi) if hi == f64::INFINITY => lo + far,
            Seen::Between(lo, hi) => 0.5 * (lo + hi),
        }
    }

    /// Ends of panels for the likelihood: close together where something was seen.
    fn places_of(&self, seen: &[Seen], rules: &Rules) -> Vec<f64> {
        let end = |rule: &Rule| {
            let first = rule.places.first().copied().unwrap_or(0.0);
            let last = rule.places.last().copied().unwrap_or(0.0);
            (first, last)
        };
        let ((k0, k1), (j0, j1), (c0, c1)) =
            (end(&rules.kept), end(&rules.moved), end(&rules.both));
        let (lo, hi) = ((k0 + j0).min(c0), (k1 + j1).max(c1));
        let mut places = vec![lo, hi];
        if let Some((from, to)) = centres(seen) {
            let mut step = 0.5 * self.noise_sd;
            for centre in [from, to, 0.5 * (from + to)] {
                places.push(centre);
            }
            while step < hi - lo {
                places.push(from - step);
                places.push(to + step);
                step *= 3.0;
            }
        }
        places.retain(|c| *c >= lo && *c <= hi);
        places.sort_by(f64::total_cmp);
        places.dedup_by(|a, b| (*a - *b).abs() < 1e-3 * self.noise_sd);
        if let (Some(last), true) = (places.last_mut(), hi > lo) {
            *last = hi;
        }
        if places.len() == 1 {
            places.push(hi.max(lo + self.noise_sd));
        }
        places
    }
}

/// Least and greatest place at which anything was seen to change; one pair, or none.
fn centres(seen: &[Seen]) -> Option<(f64, f64)> {
    let ends = seen.iter().flat_map(|one| match *one {
        Seen::At(r) => [r, r],
        Seen::Between(lo, hi) => [lo, hi],
    });
    let finite = ends.filter(|x| x.is_finite());
    finite.fold(None, |range, x| match range {
        None => Some((x, x)),
        Some((lo, hi)) => Some((x.min(lo), x.max(hi))),
    })
}

/// Where K + J is seen, for rules that must be closer there.
pub(super) fn focus(seen: &[Seen], width: f64) -> Option<(f64, f64)> {
    centres(seen).map(|(lo, hi)| (lo - width, hi + width))
}

#[cold]
fn contradiction(seen: &[Seen], noise_sd: f64, is_felt: bool) -> Error {
    let range = centres(seen).map_or(0.0, |(lo, hi)| hi - lo);
    let (apart, again) = if is_felt {
        ("a tight one and a loose one lie at least", "try each again")
    } else {
        ("they lie up to", "measure again")
    };
    Error::observation(format!(
        "these test pieces contradict each other: {apart} {} apart, while pieces of one set-up differ by a standard \
         deviation of {}; {again}, or look for what moved between them",
        thou(range),
        thou(noise_sd)
    ))
}

fn thou(raw: f64) -> String {
    format!("{:.1} thou", raw.inch().to_thou())
}

fn check_count(count: usize) -> Result<(), Error> {
    if count == 0 {
        return Err(Error::observation(
            "there is no test piece to judge from; give at least one",
        ));
    }
    if count > MOST {
        return Err(Error::observation(format!(
            "at most {MOST} test pieces (got {count})"
        )));
    }
    Ok(())
}
