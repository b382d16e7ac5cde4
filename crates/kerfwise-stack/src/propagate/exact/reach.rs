//! How far a sum of independent terms reaches: bounds of its tails without computing them.
//!
//! Markov's inequality for exp(λS) with bounds of the cumulant generating functions (Chernoff 1952; Hoeffding 1963).

use super::part::{Component, Part, Shape};
use kerfwise_numeric::float;
use kerfwise_source::Distribution;

/// What bounds the tails of one term, counted from its centre.
#[derive(Debug, Clone, Copy)]
struct Term {
    /// How far it lies below and above its centre; beyond, at most the chance that was trimmed.
    down: f64,
    up: f64,
    /// Proxy of the variance: ln E exp(λX) ≤ λ²·proxy/2.
    proxy: f64,
    /// Mean excess of an exponential, whose cumulants are known; 0 for others.
    exponential: f64,
}

/// The tails of a sum.
#[derive(Debug, Clone)]
pub(super) struct Reach {
    terms: Vec<Term>,
    /// Chance that some unbounded term lies beyond what is taken for its reach.
    trimmed: f64,
}

/// Chance at which a term without exponential moments is trimmed.
const TRIM: f64 = 2e-18;

impl Reach {
    pub(super) fn of<'a>(parts: impl IntoIterator<Item = &'a Part>) -> Self {
        let mut trimmed = 0.0;
        let terms = parts
            .into_iter()
            .map(|part| term(part, &mut trimmed))
            .collect();
        Self { terms, trimmed }
    }

    /// Upper bound of the cumulant generating function about the centre; `side` is 1 for the upper tail, −1 for the lower.
    fn cumulant(&self, lambda: f64, side: f64) -> f64 {
        let mut total = 0.0;
        for term in &self.terms {
            let far = if side > 0.0 { term.up } else { term.down };
            let mut least = (lambda * far).min(0.5 * lambda * lambda * term.proxy);
            if term.exponential != 0.0 {
                let x = side * lambda * term.exponential;
                least = if x < 1.0 {
                    least.min(-x - float::ln_1p(-x))
                } else {
                    least
                };
            }
            total += least;
        }
        total
    }

    /// Least value of `f(λ)`, which has one valley over the logarithm of λ.
    fn least(&self, f: impl Fn(f64) -> f64) -> f64 {
        let scale: f64 = self
            .terms
            .iter()
            .map(|t| {
                if t.exponential == 0.0 {
                    t.proxy.sqrt().min(t.up.max(t.down))
                } else {
                    t.exponential.abs()
                }
            })
            .sum();
        if scale.is_nan() || scale <= 0.0 {
            return f(1.0).min(0.0);
        }
        // Coarse steps first, then finer ones about the best.
        let (mut best, mut at, mut ratio) = (f64::INFINITY, 1.0 / scale, 4.0);
        for k in -2..=20 {
            let lambda = float::powi(4.0, k) / scale;
            let y = f(lambda);
            if y < best {
                (best, at) = (y, lambda);
            }
        }
        for _ in 0..6 {
            ratio = f64::sqrt(ratio);
            for lambda in [at / ratio, at * ratio] {
                let y = f(lambda);
                if y < best {
                    (best, at) = (y, lambda);
                }
            }
        }
        best
    }

    /// A distance from the centre beyond which at most exp(−`log`) (plus what is trimmed) lies, above or below.
    pub(super) fn distance(&self, side: f64, log: f64) -> f64 {
        let far = |t: &Term| if side > 0.0 { t.up } else { t.down };
        // Of one term the least is known: at λ² = 2 log/proxy.
        if let [one] = &self.terms[..]
            && one.exponential == 0.0
        {
            return far(one).min((2.0 * log * one.proxy).sqrt());
        }
        let total: f64 = self.terms.iter().map(far).sum();
        self.least(|lambda| (self.cumulant(lambda, side) + log) / lambda)
            .min(total)
    }

    /// An upper bound of the chance to lie farther than this from the centre, above or below.
    pub(super) fn beyond(&self, side: f64, distance: f64) -> f64 {
        let total: f64 = self
            .terms
            .iter()
            .map(|t| if side > 0.0 { t.up } else { t.down })
            .sum();
        if distance > total {
            return self.trimmed;
        }
        let exponent = |lambda: f64| self.cumulant(lambda, side) - lambda * distance;
        // Any λ gives a bound. The best one lies between that of a normal sum and that of what is unbounded alone, and there
        // may be several valleys in between: a walk over all by doubles, then finer steps about the best.
        let (mut at, most) = self.slopes(distance, side);
        let (mut best, mut next) = (exponent(at), at);
        while next < most {
            next *= 2.0;
            let here = exponent(next);
            if here < best {
                (best, at) = (here, next);
            }
        }
        for ratio in [0.7, 1.4, 0.84, 1.19] {
            let next = exponent(at * ratio);
            if next < best {
                (best, at) = (next, at * ratio);
            }
        }
        (float::exp(best.min(0.0)) + self.trimmed).min(1.0)
    }

    /// The least and the greatest λ that may be the best for a distance.
    ///
    /// On the long side of an exponential term they stay below its pole.
    fn slopes(&self, distance: f64, side: f64) -> (f64, f64) {
        let (mut proxy, mut longest, mut corner) = (0.0, 0.0_f64, 0.0_f64);
        let (mut reach, mut unbounded) = (0.0, 0.0);
        for term in &self.terms {
            if term.exponential != 0.0 {
                proxy += term.exponential * term.exponential;
                longest = longest.max(side * term.exponential);
                continue;
            }
            proxy += term.proxy;
            let far = if side > 0.0 { term.up } else { term.down };
            if far.is_finite() {
                reach += far;
                // From here on its bound is a straight line.
                corner = corner.max(2.0 * far / term.proxy);
            } else {
                unbounded += term.proxy;
            }
        }
        let least = (0.5 * distance / proxy).min(0.25 / longest);
        let most = corner
            .max((distance - reach) / unbounded)
            .min(0.5 / longest)
            .min(float::powi(2.0, 40) * least);
        (least, most)
    }

    /// Chance that was trimmed.
    pub(super) fn trimmed(&self) -> f64 {
        self.trimmed
    }

    /// A bound of E(|S|^32)^(1/32): how fast the characteristic function may turn and bend, as a frequency.
    pub(super) fn frequency(&self) -> f64 {
        let (mut bounded, mut proxy) = (0.0, 0.0);
        for term in &self.terms {
            let far = term.up.max(term.down);
            let gaussian = 3.8 * term.proxy.sqrt();
            if term.exponential != 0.0 {
                // A pole at distance 1/m from the real line: panels must be short against that.
                bounded += 16.0 * term.exponential.abs();
            } else if far < gaussian {
                bounded += far;
            } else {
                proxy += term.proxy;
            }
        }
        let together: f64 = self.terms.iter().map(|t| t.proxy).sum::<f64>().sqrt() * 3.8;
        if together.is_finite() && self.terms.iter().all(|t| t.exponential == 0.0) {
            together.min(bounded + 3.8 * proxy.sqrt())
        } else {
            bounded + 3.8 * proxy.sqrt()
        }
    }
}

fn term(part: &Part, trimmed: &mut f64) -> Term {
    let even = |far: f64, proxy: f64| Term {
        down: far,
        up: far,
        proxy,
        exponential: 0.0,
    };
    match &part.shape {
        Shape::Normal(sd) => even(f64::INFINITY, sd * sd),
        // Rectangular and arcsine laws are strictly sub-Gaussian: their proxy is their variance.
        Shape::Rectangles(halves) => even(
            halves.iter().sum(),
            halves.iter().map(|h| h * h).sum::<f64>() / 3.0,
        ),
        Shape::Arcsine(half) => even(*half, 0.5 * half * half),
        Shape::Student(..) => {
            *trimmed += 2.0 * TRIM;
            let far = part.law.quantile_upper(TRIM);
            even(far, far * far)
        }
        Shape::Exponential(mean) => {
            // Trimmed only in name: the cumulants serve up to their pole.
            let (near, far) = (mean.abs(), f64::INFINITY);
            let (down, up) = if *mean > 0.0 {
                (near, far)
            } else {
                (far, near)
            };
            Term {
                down,
                up,
                proxy: f64::INFINITY,
                exponential: *mean,
            }
        }
        Shape::Smooth(_) => smooth(part, trimmed),
        Shape::Atoms(atoms) => {
            let least = atoms.iter().map(|a| a.0).fold(0.0, f64::min);
            let most = atoms.iter().map(|a| a.0).fold(0.0, f64::max);
            bounded(-least, most)
        }
        Shape::Mixture(parts) => mixture(part.centre, parts, trimmed),
    }
}

/// Hoeffding's lemma: the proxy of a bounded law is a quarter of the square of its width.
fn bounded(down: f64, up: f64) -> Term {
    let half = 0.5 * (down + up);
    Term {
        down,
        up,
        proxy: half * half,
        exponential: 0.0,
    }
}

fn smooth(part: &Part, trimmed: &mut f64) -> Term {
    let (mut lo, mut hi) = part.law.support();
    if !lo.is_finite() {
        *trimmed += TRIM;
        lo = part.law.quantile(TRIM);
    }
    if !hi.is_finite() {
        *trimmed += TRIM;
        hi = part.law.quantile_upper(TRIM);
    }
    let mut term = bounded(part.centre - lo, hi - part.centre);
    // A density more sharply peaked than a normal one is sub-Gaussian with that one's variance (Caffarelli 2000).
    match &part.law {
        Distribution::TruncatedNormal(law) => {
            term.proxy = term.proxy.min(law.parent_sd() * law.parent_sd());
        }
        Distribution::TwoPieceNormal(law) => {
            let sd = law.sd_below().max(law.sd_above());
            term.proxy = term.proxy.min(sd * sd);
        }
        _ => {}
    }
    term
}

/// As wide as its widest component, each counted from the mixture's centre.
fn mixture(centre: f64, parts: &[Component], trimmed: &mut f64) -> Term {
    let (mut down, mut up) = (0.0_f64, 0.0_f64);
    for component in parts {
        let (mut below, mut above) = (0.0, 0.0);
        let mut middle = component.place - centre;
        if let Some(part) = &component.part {
            let one = Reach {
                terms: vec![term(part, trimmed)],
                trimmed: 0.0,
            };
            let log = -float::ln(TRIM);
            *trimmed += 2.0 * TRIM;
            (below, above) = (one.distance(-1.0, log), one.distance(1.0, log));
            middle += part.centre;
        }
        down = down.max(below - middle);
        up = up.max(middle + above);
    }
    bounded(down, up)
}
