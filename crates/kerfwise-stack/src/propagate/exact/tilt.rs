//! Small tails of light laws, with relative accuracy: the inversion moved off the real line.
//!
//! With M the moment generating function about the centre, K its logarithm, and any λ > 0:
//!
//! ```text
//! P(S > x) = (1/π) ∫₀^∞ Re[M(λ + it) e^(−(λ + it)x) / (λ + it)] dt
//! ```
//! Near the λ that makes K(λ) − λx least, the integrand falls at once and hardly turns (Lugannani and Rice 1980), so
//! nothing cancels however small the chance is. The sum with step 2π/T is exact but for Σ e^(λnT) P(S > x + nT) over n ≠ 0
//! (Poisson's formula): at most q/(1 − q) from below, with q = e^(−λT), and from above at most e^(K(λ+δ) − (λ+δ)x) times
//! r/(1 − r), with r = e^(−δT), for any δ > 0 (Markov's inequality).

mod law;

use self::law::{Law, Tilted};
use super::part::Part;
use super::tail::chance;
use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::sum::CompensatedSum;
use std::f64::consts::{FRAC_1_PI, PI};

/// A sum of independent laws about its centre, all with a moment generating function in closed form.
#[derive(Debug, Clone)]
pub(super) struct Tilt {
    laws: Vec<Law>,
    centre: f64,
    /// Σ|centre| of the parts.
    centres: f64,
    /// Standard deviation.
    scale: f64,
}

/// Logarithm of one over what may be missed beside e^(K − λx): the chance itself is a few dozen times smaller than that.
const MISSED: f64 = 41.0;
/// What the integral beyond the last node may be, beside e^(K − λx).
const CUT: f64 = 1e-18;
/// More nodes than this, and more sines and cosines at all of them, are not worth it.
const MOST: f64 = 8_000.0;
const MOST_WORK: f64 = 5e5;
/// By how much the logarithm may lie above its least value, to get away from a pole.
const SLACK: f64 = 2.0;
/// Below e^this chances leave the range of floating point.
const LEAST: f64 = -690.0;

/// The line along which the integral is taken.
struct Line {
    lambda: f64,
    /// K(λ) − λx.
    log: f64,
    /// Step and number of nodes.
    step: f64,
    count: u32,
    /// What is cut off, beside e^(K − λx).
    cut: f64,
    /// What the step misses.
    aliases: f64,
}

impl Tilt {
    /// `None` where some law has no moment generating function, or none in closed form.
    pub(super) fn of(parts: &[Part]) -> Option<Self> {
        if !parts.iter().all(|part| Law::is_one(&part.shape)) {
            return None;
        }
        let mut laws = Vec::with_capacity(parts.len());
        for part in parts {
            Law::extend(&mut laws, part);
        }
        Some(Self {
            laws: Law::merged(laws),
            centre: parts.iter().map(|p| p.centre).sum(),
            centres: parts.iter().map(|p| p.centre.abs()).sum(),
            scale: parts.iter().map(|p| p.scale * p.scale).sum::<f64>().sqrt(),
        })
    }

    /// P(S > x), or P(S < x) with `is_lower`, where that is the smaller tail; `None` where nothing is gained.
    pub(super) fn tail(&self, is_lower: bool, x: f64) -> Option<Bounded<f64>> {
        let x = x - self.centre;
        if is_lower {
            let mirrored: Vec<Law> = self.laws.iter().map(Law::mirrored).collect();
            self.beyond(&mirrored, -x)
        } else {
            self.beyond(&self.laws, x)
        }
    }

    /// The chance that the sum of these laws about their centres exceeds x.
    fn beyond(&self, laws: &[Law], x: f64) -> Option<Bounded<f64>> {
        if x.is_nan() || x <= 0.0 || !x.is_finite() {
            return None;
        }
        let line = self.line(laws, x)?;
        let Line { lambda, step, .. } = line;
        let highest = step * f64::from(line.count);
        let tilted: Vec<Tilted> = laws.iter().map(|law| law.tilted(lambda, highest)).collect();
        let (mut sum, mut size, mut slope) = (CompensatedSum::new(), 0.0, 0.0);
        for k in 0..=line.count {
            let t = step * f64::from(k);
            let weight = if k == 0 { 0.5 } else { 1.0 };
            let (mut re, mut im, mut most) = (1.0, 0.0, 1.0);
            for law in &tilted {
                let (a, b, own) = law.at(t);
                (re, im) = (re * a - im * b, re * b + im * a);
                most *= own;
            }
            let (sin, cos) = float::sin_cos(t * x);
            // (re + i im)(cos − i sin)/(λ + it).
            let (a, b) = (re * cos + im * sin, im * cos - re * sin);
            let square = lambda * lambda + t * t;
            sum.add(weight * (a * lambda + b * t) / square);
            size += most / square.sqrt();
            slope += t * most / square.sqrt();
        }
        let scale = step * FRAC_1_PI * float::exp(line.log);
        // Every law's own rounding, and that of its phase and of the place's, which grow with the frequency.
        let own: f64 = 8.0 + tilted.iter().map(|law| law.rounding).sum::<f64>();
        let turns: f64 = 2.0 * x + tilted.iter().map(|law| law.turn).sum::<f64>();
        // Places, widths and coefficients were rounded when they were brought to one unit, and K and λx in their sum.
        let strained: f64 =
            lambda * (x + self.centres) + tilted.iter().map(|law| law.strain).sum::<f64>() + 4.0;
        let rounding = f64::EPSILON * (own * size + 2.0 * turns * slope);
        let value = scale * sum.value();
        let error = scale * rounding
            + 4.0 * f64::EPSILON * strained * value.abs()
            + line.aliases
            + line.cut * float::exp(line.log);
        Some(chance(value, error))
    }

    fn line(&self, laws: &[Law], x: f64) -> Option<Line> {
        let cumulant = |lambda: f64| laws.iter().map(|law| law.cumulant(lambda)).sum::<f64>();
        let pole = laws.iter().map(Law::pole).fold(f64::INFINITY, f64::min);
        let mut lambda = self.saddle(laws, x, pole)?;
        let mut log = cumulant(lambda) - lambda * x;
        if pole.is_finite() {
            // Beside a pole the step must be short: some way down from it nearly as little cancels.
            let most = log + SLACK;
            loop {
                let less = pole - 1.4 * (pole - lambda);
                let here = cumulant(less) - less * x;
                if less <= 0.5 * lambda || here > most {
                    break;
                }
                (lambda, log) = (less, here);
            }
        }
        // Upwards as far again, or most of the way to the pole.
        let delta = lambda.min(0.95 * (pole - lambda));
        let log_above = cumulant(lambda + delta) - (lambda + delta) * x;
        if !(LEAST..0.0).contains(&log) || !log_above.is_finite() {
            return None;
        }
        let period = ((MISSED - log) / lambda).max((MISSED + log_above - log) / delta);
        let step = 2.0 * PI / period;
        let (highest, cut) = horizon(laws, lambda, 1.0 / self.scale, MOST * step)?;
        let count = (highest / step).ceil();
        let work: f64 = laws.iter().map(|law| law.work(lambda, step * count)).sum();
        if count > MOST || count * work > MOST_WORK {
            return None;
        }
        let geometric = |log: f64| {
            let q = float::exp(log);
            q / (1.0 - q)
        };
        let above = float::exp(log_above) * geometric(-delta * period);
        Some(Line {
            lambda,
            log,
            step,
            count: count as u32,
            cut,
            aliases: geometric(-lambda * period) + above,
        })
    }

    /// About where the slope of K is x. Any λ serves, so digits are not sought.
    fn saddle(&self, laws: &[Law], x: f64, pole: f64) -> Option<f64> {
        let slope = |lambda: f64| laws.iter().map(|law| law.slope(lambda)).sum::<f64>();
        let (mut lo, mut hi) = (0.0, (x / (self.scale * self.scale)).min(0.5 * pole));
        let mut tries = 0;
        while slope(hi) < x {
            lo = hi;
            hi = (2.0 * hi).min(0.5 * (hi + pole));
            tries += 1;
            // Places at the very end of a bounded sum.
            if tries > 40 {
                return None;
            }
        }
        for _ in 0..12 {
            let middle = 0.5 * (lo + hi);
            if slope(middle) < x {
                lo = middle;
            } else {
                hi = middle;
            }
        }
        Some(hi)
    }
}

/// A frequency beyond which little is left, and a bound of that; `None` beyond `most`.
///
/// With an envelope E of |M(λ + it)|/M(λ) that falls at least like t^−p from t on, ∫ E/(πt) ≤ E(t)/(πp).
fn horizon(laws: &[Law], lambda: f64, from: f64, most: f64) -> Option<(f64, f64)> {
    let left = |t: f64| {
        let (log, fall) = laws
            .iter()
            .map(|law| law.envelope(lambda, t))
            .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let left = float::exp(log) / (PI * fall);
        (left <= CUT).then_some((t, left))
    };
    let mut t = from;
    let mut found = loop {
        if let Some(found) = left(t) {
            break found;
        }
        t *= 2.0;
        if t > 2.0 * most {
            return None;
        }
    };
    // Back by halves of what is between, in ratio.
    let (mut ratio, mut least) = (2.0_f64, 0.5 * found.0);
    for _ in 0..4 {
        ratio = ratio.sqrt();
        match left(least * ratio) {
            Some(nearer) => found = nearer,
            None => least *= ratio,
        }
    }
    Some(found)
}
