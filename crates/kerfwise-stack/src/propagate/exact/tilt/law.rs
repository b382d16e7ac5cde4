//! Laws whose moment generating function is known, and what becomes of them under a tilt e^(λx).

use super::super::part::{Part, Shape};
use kerfwise_numeric::float;
use std::f64::consts::PI;

/// A law about its centre.
#[derive(Debug, Clone)]
pub(super) enum Law {
    /// Standard deviation.
    Normal(f64),
    /// Half-width.
    Rectangle(f64),
    /// Half-width.
    Arcsine(f64),
    /// Mean excess with its sign, about the mean.
    Exponential(f64),
    /// One of several: weight, place, and the sum of laws there, none of which is an atom.
    Mixture(Vec<(f64, f64, Vec<Self>)>),
}

/// A law under a tilt, with the sizes of its errors in units of the last place.
pub(super) struct Tilted {
    kind: Kind,
    /// Of M(λ + it)/M(λ), beside its majorant.
    pub(super) rounding: f64,
    /// The same for every unit of frequency.
    pub(super) turn: f64,
    /// What M(λ) does when the parameters are changed by one unit in the last place.
    pub(super) strain: f64,
}

enum Kind {
    /// Standard deviation and λ.
    Normal(f64, f64),
    /// Half-width, λ and coth(hλ).
    Rectangle(f64, f64, f64),
    /// Half-width times cosine, and the even and odd parts of the weights.
    Arcsine(Vec<[f64; 3]>),
    /// m/(1 − mλ) and m.
    Exponential(f64, f64),
    /// Weight under the tilt, place, laws.
    Mixture(Vec<(f64, f64, Vec<Tilted>)>),
}

impl Law {
    /// Whether a shape is one of these.
    pub(super) fn is_one(shape: &Shape) -> bool {
        match shape {
            Shape::Normal(_)
            | Shape::Rectangles(_)
            | Shape::Arcsine(_)
            | Shape::Exponential(_)
            | Shape::Atoms(_) => true,
            Shape::Student(_) | Shape::Smooth(_) => false,
            Shape::Mixture(components) => components
                .iter()
                .filter_map(|c| c.part.as_ref())
                .all(|part| Self::is_one(&part.shape)),
        }
    }

    /// Adds the laws of a part, of which [`is_one`](Self::is_one) is true.
    pub(super) fn extend(laws: &mut Vec<Self>, part: &Part) {
        match &part.shape {
            Shape::Normal(sd) => laws.push(Self::Normal(*sd)),
            Shape::Rectangles(halves) => laws.extend(halves.iter().map(|h| Self::Rectangle(*h))),
            Shape::Arcsine(half) => laws.push(Self::Arcsine(*half)),
            Shape::Exponential(mean) => laws.push(Self::Exponential(*mean)),
            Shape::Atoms(atoms) => laws.push(Self::Mixture(
                atoms.iter().map(|(x, w)| (*w, *x, Vec::new())).collect(),
            )),
            Shape::Mixture(components) => {
                let parts = components.iter().map(|c| {
                    let mut laws = Vec::new();
                    let mut place = c.place - part.centre;
                    if let Some(inner) = &c.part {
                        place += inner.centre;
                        Self::extend(&mut laws, inner);
                    }
                    (c.weight, place, laws)
                });
                laws.push(Self::Mixture(parts.collect()));
            }
            Shape::Student(_) | Shape::Smooth(_) => {}
        }
    }

    /// Normal laws become one.
    pub(super) fn merged(laws: Vec<Self>) -> Vec<Self> {
        let mut sd = 0.0;
        let mut others = Vec::with_capacity(laws.len());
        for law in laws {
            match law {
                Self::Normal(own) => sd = float::hypot(sd, own),
                other => others.push(other),
            }
        }
        if sd > 0.0 {
            others.push(Self::Normal(sd));
        }
        others
    }

    /// The law of −X.
    pub(super) fn mirrored(&self) -> Self {
        match self {
            Self::Exponential(mean) => Self::Exponential(-mean),
            Self::Mixture(parts) => Self::Mixture(
                parts
                    .iter()
                    .map(|(w, x, laws)| (*w, -x, laws.iter().map(Self::mirrored).collect()))
                    .collect(),
            ),
            even => even.clone(),
        }
    }

    /// M(λ) is finite below this.
    pub(super) fn pole(&self) -> f64 {
        match self {
            Self::Exponential(mean) if *mean > 0.0 => 1.0 / mean,
            Self::Mixture(parts) => parts
                .iter()
                .flat_map(|(_, _, laws)| laws)
                .map(Self::pole)
                .fold(f64::INFINITY, f64::min),
            _ => f64::INFINITY,
        }
    }

    /// K(λ) = ln E e^(λX).
    pub(super) fn cumulant(&self, lambda: f64) -> f64 {
        match self {
            Self::Normal(sd) => 0.5 * (sd * lambda) * (sd * lambda),
            Self::Rectangle(half) => {
                // ln(sinh(y)/y).
                let y = half * lambda;
                if y < 1e-8 {
                    y * y / 6.0
                } else {
                    y + float::ln(-float::exp_m1(-2.0 * y) / (2.0 * y))
                }
            }
            // Too sharp a tilt takes too many angles: not to be had.
            Self::Arcsine(half) if half * lambda > SHARPEST => f64::INFINITY,
            Self::Arcsine(half) => {
                let total: f64 = angles(*half, lambda, 0.0).iter().map(|a| a[1]).sum();
                half * lambda + float::ln(total)
            }
            Self::Exponential(mean) => -mean * lambda - float::ln_1p(-mean * lambda),
            Self::Mixture(parts) => log_sum(&logs(parts, lambda)),
        }
    }

    /// About the slope of K: the mean under the tilt. For the arcsine law a bound of I1/I0 (Amos 1974) stands in.
    pub(super) fn slope(&self, lambda: f64) -> f64 {
        match self {
            Self::Normal(sd) => sd * sd * lambda,
            Self::Rectangle(half) => {
                let y = half * lambda;
                half * if y < 1e-2 {
                    y / 3.0
                } else {
                    1.0 / float::tanh(y) - 1.0 / y
                }
            }
            Self::Arcsine(half) => {
                let y = half * lambda;
                half * y / (0.5 + (y * y + 2.25).sqrt())
            }
            Self::Exponential(mean) => mean / (1.0 - mean * lambda) - mean,
            Self::Mixture(parts) => {
                let logs = logs(parts, lambda);
                let all = log_sum(&logs);
                parts
                    .iter()
                    .zip(&logs)
                    .map(|((_, x, laws), log)| {
                        let own: f64 = laws.iter().map(|law| law.slope(lambda)).sum();
                        float::exp(log - all) * (x + own)
                    })
                    .sum()
            }
        }
    }

    /// Logarithm of a bound of |M(λ + it)|/M(λ) that does not rise with t, and a bound from below of its fall −dln/dln t
    /// from t on.
    pub(super) fn envelope(&self, lambda: f64, t: f64) -> (f64, f64) {
        match self {
            Self::Normal(sd) => {
                let square = sd * t * (sd * t);
                (-0.5 * square, square)
            }
            // |sinh(a + ib)|² = sinh²a + sin²b ≤ cosh²a.
            Self::Rectangle(half) => {
                let square = lambda * lambda + t * t;
                let bound = lambda / (float::tanh(half * lambda) * square.sqrt());
                if bound < 1.0 {
                    (float::ln(bound), t * t / square)
                } else {
                    (0.0, 0.0)
                }
            }
            Self::Exponential(mean) => {
                let square = float::powi(mean * t / (1.0 - mean * lambda), 2);
                (-0.5 * float::ln_1p(square), square / (1.0 + square))
            }
            Self::Arcsine(_) => (0.0, 0.0),
            Self::Mixture(parts) => {
                let logs = logs(parts, lambda);
                let all = log_sum(&logs);
                let (mut total, mut least) = (0.0, f64::INFINITY);
                for ((_, _, laws), own) in parts.iter().zip(&logs) {
                    let (log, fall) = laws
                        .iter()
                        .map(|law| law.envelope(lambda, t))
                        .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
                    total += float::exp(own - all + log);
                    least = least.min(fall);
                }
                (float::ln(total.min(1.0)), least)
            }
        }
    }

    /// How many sines and cosines a frequency takes, up to this one.
    pub(super) fn work(&self, lambda: f64, highest: f64) -> f64 {
        match self {
            Self::Normal(_) | Self::Rectangle(_) | Self::Exponential(_) => 1.0,
            Self::Arcsine(half) => pairs(*half, lambda, highest),
            Self::Mixture(parts) => parts
                .iter()
                .map(|(_, _, laws)| {
                    let own = laws.iter().map(|law| law.work(lambda, highest));
                    1.0 + own.sum::<f64>()
                })
                .sum(),
        }
    }

    /// The law under the tilt, for frequencies up to `highest`.
    pub(super) fn tilted(&self, lambda: f64, highest: f64) -> Tilted {
        let (kind, rounding, turn, strain) = match self {
            Self::Normal(sd) => {
                let square = sd * sd * lambda;
                // The exponent σ²t²/2 is largest, by far, where e to it is nothing.
                (
                    Kind::Normal(*sd, lambda),
                    8.0,
                    3.0 * square + sd,
                    square * lambda,
                )
            }
            Self::Rectangle(half) => {
                let coth = 1.0 / float::tanh(half * lambda);
                // Below one radian the sine keeps its digits.
                let turn = if half * highest > 1.0 {
                    half * coth
                } else {
                    0.0
                };
                (
                    Kind::Rectangle(*half, lambda, coth),
                    10.0,
                    turn,
                    half * lambda + 2.0,
                )
            }
            Self::Arcsine(half) => {
                let mut angles = angles(*half, lambda, highest);
                let total: f64 = angles.iter().map(|a| a[1]).sum();
                for angle in &mut angles {
                    angle[1] /= total;
                    angle[2] /= total;
                }
                let rounding = 8.0 + angles.len() as f64;
                (
                    Kind::Arcsine(angles),
                    rounding,
                    2.0 * half,
                    half * lambda + rounding,
                )
            }
            Self::Exponential(mean) => {
                let far = mean / (1.0 - mean * lambda);
                let strain = (mean * lambda).abs() + (far * lambda).abs() + 2.0;
                // 1 − mλ loses digits near the pole.
                let lost = 1.0 / (1.0 - mean * lambda);
                (
                    Kind::Exponential(far, *mean),
                    10.0 + 2.0 * lost.abs(),
                    mean.abs(),
                    strain,
                )
            }
            Self::Mixture(parts) => return mixture(parts, lambda, highest),
        };
        Tilted {
            kind,
            rounding,
            turn,
            strain,
        }
    }
}

fn mixture(parts: &[(f64, f64, Vec<Law>)], lambda: f64, highest: f64) -> Tilted {
    let logs = logs(parts, lambda);
    let all = log_sum(&logs);
    let n = parts.len() as f64;
    let (mut rounding, mut turn, mut strain) = (0.0_f64, 0.0_f64, 0.0);
    let mut tilted = Vec::with_capacity(parts.len());
    for ((_, place, laws), log) in parts.iter().zip(&logs) {
        let share = float::exp(log - all);
        let laws: Vec<Tilted> = laws.iter().map(|law| law.tilted(lambda, highest)).collect();
        let total = |f: fn(&Tilted) -> f64| laws.iter().map(f).sum::<f64>();
        // A share is as good as the logarithms that it comes from.
        let own = total(|law| law.strain) + lambda * place.abs() + log.abs() + all.abs();
        rounding = rounding.max(total(|law| law.rounding) + 8.0 + n + own);
        turn = turn.max(total(|law| law.turn) + 2.0 * place.abs());
        strain += share * own;
        tilted.push((share, *place, laws));
    }
    Tilted {
        kind: Kind::Mixture(tilted),
        rounding,
        turn,
        strain: strain + n + 4.0,
    }
}

/// ln(weight·E e^(λX)) of every part.
fn logs(parts: &[(f64, f64, Vec<Law>)], lambda: f64) -> Vec<f64> {
    parts
        .iter()
        .map(|(weight, place, laws)| {
            let own: f64 = laws.iter().map(|law| law.cumulant(lambda)).sum();
            float::ln(*weight) + lambda * place + own
        })
        .collect()
}

fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().map(|log| float::exp(log - most)).sum();
    most + float::ln(sum)
}

impl Tilted {
    /// M(λ + it)/M(λ), and what its rounding is counted beside: at least its modulus.
    pub(super) fn at(&self, t: f64) -> (f64, f64, f64) {
        match &self.kind {
            Kind::Normal(sd, lambda) => {
                let square = sd * sd * t;
                let size = float::exp(-0.5 * square * t);
                let (sin, cos) = float::sin_cos(square * lambda);
                (size * cos, size * sin, size)
            }
            Kind::Rectangle(half, lambda, coth) => {
                // sinh(h(λ + it))/sinh(hλ) = cos ht + i coth(hλ) sin ht, times λ/(λ + it).
                let (sin, cos) = float::sin_cos(half * t);
                let (c, s) = (cos, sin * coth);
                let over = lambda / (lambda * lambda + t * t);
                let (a, b) = (over * lambda, -over * t);
                let (re, im) = (c * a - s * b, c * b + s * a);
                (re, im, float::hypot(re, im))
            }
            Kind::Arcsine(angles) => {
                let (mut re, mut im) = (0.0, 0.0);
                for [x, even, odd] in angles {
                    let (sin, cos) = float::sin_cos(x * t);
                    re += even * cos;
                    im += odd * sin;
                }
                (re, im, 1.0)
            }
            Kind::Exponential(far, mean) => {
                // e^(−imt)/(1 − it m/(1 − mλ)).
                let x = far * t;
                let size = 1.0 / (1.0 + x * x);
                let (sin, cos) = float::sin_cos(-mean * t);
                (size * (cos - x * sin), size * (sin + x * cos), size.sqrt())
            }
            Kind::Mixture(parts) => {
                let (mut re, mut im, mut most) = (0.0, 0.0, 0.0);
                for (share, place, laws) in parts {
                    let (sin, cos) = float::sin_cos(place * t);
                    let (mut a, mut b, mut own) = (share * cos, share * sin, *share);
                    for law in laws {
                        let (c, d, size) = law.at(t);
                        (a, b) = (a * c - b * d, a * d + b * c);
                        own *= size;
                    }
                    re += a;
                    im += b;
                    most += own;
                }
                (re, im, most)
            }
        }
    }
}

/// e^(−hλ) I0(h(λ + it)) as the mean of e^(h(λ + it) cos θ) over 2n equal angles in half a turn, two by two: its error is
/// about twice the Bessel function of order 4n, less than 1e-17 of it for this n.
///
/// For every pair h cos θ, and the sum and the difference of the weights of cos θ and −cos θ.
fn angles(half: f64, lambda: f64, highest: f64) -> Vec<[f64; 3]> {
    let n = pairs(half, lambda, highest);
    (0..n as u32)
        .map(|k| {
            let cosine = float::cos(0.5 * PI * (f64::from(k) + 0.5) / n);
            let up = 0.5 * float::exp(half * lambda * (cosine - 1.0)) / n;
            let down = 0.5 * float::exp(-half * lambda * (cosine + 1.0)) / n;
            [half * cosine, up + down, up - down]
        })
        .collect()
}

/// Pairs of angles.
fn pairs(half: f64, lambda: f64, highest: f64) -> f64 {
    (0.5 * half * float::hypot(lambda, highest) + 10.0).ceil()
}

/// Half-width of an arcsine law times λ, at most.
const SHARPEST: f64 = 4_000.0;
