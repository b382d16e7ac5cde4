//! Laws whose characteristic functions have no short closed form.
//!
//! Far out on the frequency axis only the ends and the kinks of a density f are heard, each through the jumps of its
//! derivatives (Erdélyi, Asymptotic Expansions, 2.8; DLMF 2.3(i)):
//!
//! ```text
//! φ(t) ~ Σ e^(itx) Σ_j [f⁽ʲ⁾(x+) − f⁽ʲ⁾(x−)] (i/t)^(j+1)
//! ```
//! with (i/t)^(a+j) at an end where f looks like a power a − 1 of the distance. Nearer to zero a sum over nodes of the law
//! serves; see `measure`.

use kerfwise_numeric::float;
use kerfwise_numeric::special::{ln_beta, ln_gamma, normal_pdf};
use kerfwise_source::Distribution;
use kerfwise_source::distribution::{
    Beta, CurvilinearTrapezoid, Lognormal, Triangular, TruncatedNormal, TwoPieceNormal,
};
use std::f64::consts::{FRAC_PI_2, PI};

/// A continuous law of one peak.
#[derive(Debug, Clone)]
pub(super) struct Smooth {
    /// A bound of the total variation of the density.
    pub(super) variation: f64,
    /// A bound of the total variation of the density's slope.
    bend: f64,
    /// What is heard of it far out, where that is known.
    pub(super) far: Option<Far>,
    /// Set for a lognormal law: logarithm of its median and standard deviation of its logarithm.
    lognormal: Option<(f64, f64)>,
    is_reflected: bool,
}

/// The characteristic function from some frequency on.
#[derive(Debug, Clone)]
pub(super) struct Far {
    /// From here on it holds.
    pub(super) from: f64,
    pub(super) ends: Vec<End>,
}

/// An end or a kink: e^(itx) (±i/t)^power Σ `c_j` (i/t)^j.
#[derive(Debug, Clone)]
pub(super) struct End {
    /// Its place, from the centre of the law.
    pub(super) at: f64,
    power: f64,
    /// 1, or −1 at an upper end with a power of its own.
    side: f64,
    coefficients: Vec<f64>,
    /// `orders[n]` is the frequency from which on n terms suffice.
    orders: Vec<f64>,
}

/// What is left out of a series, at most.
const LEFT_OUT: f64 = 1e-18;
/// Most terms of a series.
const TERMS: usize = 40;

impl Smooth {
    /// Of a law about its reference point; `centre` is its mean.
    pub(super) fn new(law: &Distribution, centre: f64) -> Self {
        let lognormal = match law {
            Distribution::Lognormal(one) => Some((one.log_mean(), one.log_sd())),
            _ => None,
        };
        let is_reflected = matches!(law, Distribution::Lognormal(one) if one.is_reflected());
        Self {
            is_reflected,
            variation: 2.0 * peak_density(law),
            bend: bend(law),
            far: Far::of(law, centre),
            lognormal,
        }
    }

    /// Whether it is the mirror image of what [`contour`](Self::contour) stands for.
    pub(super) fn is_reflected(&self) -> bool {
        self.is_reflected
    }

    /// A lognormal law as places and weights off the real line: the midpoint sum along the path ln X = mean + σ(u + iθ), on which
    /// exp(itX) dies before it turns often. `None` for other laws.
    ///
    /// Its error is at most 2e^(−2πθ/h) for the step h, since the integrand is analytic and at most a normal density between
    /// that path and the real line (Trefethen and Weideman 2014, theorem 5.1); above the path it only falls. Rounding of
    /// places by ε of the median turns them by εt, while they die like exp(−t sin(σθ)).
    pub(super) fn contour(&self, centre: f64) -> Option<(Vec<[f64; 4]>, f64)> {
        let (mean, sd) = self.lognormal?;
        let theta = (0.5 * PI / sd).min(1.0);
        let step = 2.0 * PI * theta / 41.0;
        let most = (9.4 / step).ceil() as i32;
        let height = step * float::exp(0.5 * theta * theta);
        let atoms = (-most..=most)
            .map(|i| {
                let u = step * f64::from(i);
                let size = float::exp(mean + sd * u);
                let (sin, cos) = float::sin_cos(sd * theta);
                let weight = height * normal_pdf(u);
                let (s, c) = float::sin_cos(-u * theta);
                [
                    size * cos - centre.abs(),
                    size * sin,
                    weight * c,
                    weight * s,
                ]
            })
            .collect();
        let rounding = 4.0 * f64::EPSILON * (1.0 + 1.0 / float::sin(sd * theta));
        Some((atoms, rounding))
    }

    /// Logarithm of a bound of |φ(t)|, and the least power with which that bound falls from there on.
    ///
    /// A law of bounded variation V has |φ(t)| ≤ V/t, one whose slope has V' has |φ(t)| ≤ V'/t².
    pub(super) fn envelope(&self, t: f64) -> (f64, f64) {
        let (one, p) = inverse(t / self.variation);
        let (two, q) = inverse(t / self.bend.sqrt());
        let mut best = if 2.0 * two < one {
            (2.0 * two, 2.0 * q)
        } else {
            (one, p)
        };
        let others = [
            self.far.as_ref().and_then(|far| far.envelope(t)),
            self.lognormal
                .map(|(mean, sd)| lognormal_envelope(mean, sd, t)),
        ];
        for other in others.into_iter().flatten() {
            if other.0 < best.0 {
                best = other;
            }
        }
        best
    }
}

/// Logarithm of min(1, 1/x) and its fall.
pub(super) fn inverse(x: f64) -> (f64, f64) {
    if x > 1.0 {
        (-float::ln(x), 1.0)
    } else {
        (0.0, 0.0)
    }
}

impl Far {
    fn of(law: &Distribution, centre: f64) -> Option<Self> {
        let (ends, least) = match law {
            Distribution::Triangular(law) => (triangular_ends(law, centre), 0.0),
            Distribution::CurvilinearTrapezoid(law) => (curvilinear_ends(law, centre)?, 0.0),
            Distribution::Beta(law) => (beta_ends(law, centre)?, 0.0),
            Distribution::TruncatedNormal(law) => {
                (truncated_ends(law, centre), GAUSSIAN / law.parent_sd())
            }
            Distribution::TwoPieceNormal(law) => {
                let sd = law.sd_below().min(law.sd_above());
                (two_piece_ends(law, centre), GAUSSIAN / sd)
            }
            _ => return None,
        };
        let from = ends.iter().map(End::from).fold(least, f64::max);
        from.is_finite().then_some(Self { from, ends })
    }

    /// A bound of what it is, and its fall.
    fn envelope(&self, t: f64) -> Option<(f64, f64)> {
        if t < self.from {
            return None;
        }
        // What the series leave out falls with a power of its own, far above this one.
        let rest = 8.0;
        let mut total = 4.0 * LEFT_OUT * float::powf(self.from / t, rest);
        let mut fall = rest;
        for end in &self.ends {
            total += end.size(t);
            fall = fall.min(end.fall());
        }
        let log = float::ln(total);
        (log < 0.0).then_some((log, fall))
    }
}

/// Standard deviations times frequency from which on a normal law is not heard: e^(−9.2²/2) = 4e-19.
const GAUSSIAN: f64 = 9.2;

impl End {
    fn new(at: f64, power: f64, side: f64, mut coefficients: Vec<f64>) -> Self {
        coefficients.truncate(TERMS);
        let log = |j: usize| {
            let c: f64 = coefficients.get(j).map_or(0.0, |c| c.abs());
            float::ln(c / LEFT_OUT) / (power + j as f64)
        };
        // Four terms in a row must be small, since every other one and the first two may be zero.
        let most = if coefficients.len() < TERMS {
            coefficients.len()
        } else {
            TERMS - 4
        };
        let orders = (0..=most)
            .map(|n| float::exp((n..n + 4).map(log).fold(f64::NEG_INFINITY, f64::max)))
            .collect();
        Self {
            at,
            power,
            side,
            coefficients,
            orders,
        }
    }

    /// The jumps of a density and its derivatives.
    fn kink(at: f64, jumps: Vec<f64>) -> Self {
        Self::new(at, 1.0, 1.0, jumps)
    }

    /// From where on it serves without cancellation.
    fn from(&self) -> f64 {
        let least = self.orders.iter().copied().fold(f64::INFINITY, f64::min);
        let mut t = least;
        if least <= 0.0 {
            let top = self
                .coefficients
                .iter()
                .enumerate()
                .map(|(j, c)| float::powf(c.abs(), 1.0 / (self.power + j as f64)))
                .fold(0.0, f64::max);
            t = 0.1 * top;
        }
        for _ in 0..400 {
            if !t.is_finite() || self.size(t) <= 2.0 {
                break;
            }
            t *= 1.1;
        }
        t
    }

    /// How many terms suffice from a frequency on.
    pub(super) fn terms(&self, t: f64) -> usize {
        self.orders
            .iter()
            .position(|from| t >= *from)
            .unwrap_or(self.orders.len() - 1)
    }

    /// Sum of the sizes of the terms.
    fn size(&self, t: f64) -> f64 {
        let mut power = float::powf(t, -self.power);
        let mut total = 0.0;
        for c in &self.coefficients[..self.terms(t)] {
            total += c.abs() * power;
            power /= t;
        }
        total
    }

    /// The power of the first term that is there.
    fn fall(&self) -> f64 {
        let first = self.coefficients.iter().position(|c| *c != 0.0);
        first.map_or(f64::INFINITY, |j| self.power + j as f64)
    }

    /// (±i/t)^power Σ `c_j` (i/t)^j over the first `n` terms.
    pub(super) fn amplitude(&self, t: f64, n: usize) -> (f64, f64) {
        let r = 1.0 / t;
        let square = -r * r;
        let (mut even, mut odd) = (0.0, 0.0);
        for pair in self.coefficients[..n].chunks(2).rev() {
            even = even * square + pair[0];
            odd = odd * square + pair.get(1).copied().unwrap_or(0.0);
        }
        let odd = odd * r;
        if self.is_whole() {
            return (-r * odd, r * even);
        }
        let size = float::exp(-self.power * float::ln(t));
        let (sin, cos) = float::sin_cos(self.side * FRAC_PI_2 * self.power);
        (
            size * (cos * even - sin * odd),
            size * (cos * odd + sin * even),
        )
    }

    /// i/t itself.
    #[expect(clippy::float_cmp, reason = "ends are made with exactly these")]
    fn is_whole(&self) -> bool {
        self.power == 1.0 && self.side == 1.0
    }
}

fn triangular_ends(law: &Triangular, centre: f64) -> Vec<End> {
    let (rise, fall) = (law.peak() - law.lower(), law.upper() - law.peak());
    let height = 2.0 / (rise + fall);
    let (up, down) = (height / rise, height / fall);
    if rise <= 0.0 {
        return vec![
            End::kink(law.lower() - centre, vec![height, -down]),
            End::kink(law.upper() - centre, vec![0.0, down]),
        ];
    }
    if fall <= 0.0 {
        return vec![
            End::kink(law.lower() - centre, vec![0.0, up]),
            End::kink(law.upper() - centre, vec![-height, -up]),
        ];
    }
    vec![
        End::kink(law.lower() - centre, vec![0.0, up]),
        End::kink(law.peak() - centre, vec![0.0, -up - down]),
        End::kink(law.upper() - centre, vec![0.0, down]),
    ]
}

/// The density is ln((h + d)/max(|x|, h − d))/(4d).
fn curvilinear_ends(law: &CurvilinearTrapezoid, centre: f64) -> Option<Vec<End>> {
    let (half, d) = (law.half_width(), law.d());
    let (outer, inner) = (half + d, half - d);
    if inner <= 0.0 {
        return None;
    }
    let middle = law.midpoint() - centre;
    let mut ends = Vec::with_capacity(4);
    for (distance, sign) in [(outer, -1.0), (inner, 1.0)] {
        // Derivatives on the right-hand slope.
        let mut jumps = vec![0.0];
        let mut size = -sign * 0.25 / d / distance;
        for j in 1..TERMS {
            jumps.push(size);
            size *= -(j as f64) / distance;
        }
        let mirrored = jumps
            .iter()
            .enumerate()
            .map(|(j, c)| if j % 2 == 0 { -c } else { *c })
            .collect();
        ends.push(End::kink(middle + distance, jumps));
        ends.push(End::kink(middle - distance, mirrored));
    }
    Some(ends)
}

/// ∫ y^(a−1) (1 − y)^(b−1) e^(izy) dy: each end's power times the binomial series of the other.
fn beta_ends(law: &Beta, centre: f64) -> Option<Vec<End>> {
    let width = law.upper() - law.lower();
    let end = |at: f64, own: f64, other: f64, side: f64| {
        let log = ln_gamma(own) - ln_beta(law.a(), law.b()) - own * float::ln(width);
        let mut c = float::exp(log);
        let mut coefficients = Vec::with_capacity(TERMS);
        for n in 0..TERMS {
            coefficients.push(c);
            let n = n as f64;
            c *= -side * (other - 1.0 - n) * (own + n) / ((n + 1.0) * width);
        }
        coefficients
            .iter()
            .all(|c| c.is_finite())
            .then(|| End::new(at - centre, own, side, coefficients))
    };
    Some(vec![
        end(law.lower(), law.a(), law.b(), 1.0)?,
        end(law.upper(), law.b(), law.a(), -1.0)?,
    ])
}

/// Derivatives of a normal density at z standard deviations, of height `height` there: Hermite polynomials.
fn normal_derivatives(height: f64, z: f64, sd: f64) -> Vec<f64> {
    let mut all = Vec::with_capacity(TERMS);
    // The j-th over sd^j with its sign.
    let (mut before, mut now) = (0.0, height);
    for j in 0..TERMS {
        all.push(now);
        let next = -(z * now + j as f64 / sd * before) / sd;
        (before, now) = (now, next);
    }
    all
}

fn truncated_ends(law: &TruncatedNormal, centre: f64) -> Vec<End> {
    let (mean, sd) = (law.parent_mean(), law.parent_sd());
    let whole = Distribution::TruncatedNormal(law.clone());
    let mut ends = Vec::with_capacity(2);
    for (at, sign) in [(law.lower(), 1.0), (law.upper(), -1.0)] {
        let height = whole.pdf(at).unwrap_or(0.0);
        if at.is_finite() && height > 0.0 {
            ends.push(End::kink(
                at - centre,
                normal_derivatives(sign * height, (at - mean) / sd, sd),
            ));
        }
    }
    ends
}

fn two_piece_ends(law: &TwoPieceNormal, centre: f64) -> Vec<End> {
    let (below, above) = (law.sd_below(), law.sd_above());
    let height = 2.0 * normal_pdf(0.0) / (below + above);
    let left = normal_derivatives(height, 0.0, below);
    let jumps = normal_derivatives(height, 0.0, above)
        .iter()
        .zip(&left)
        .map(|(right, left)| right - left)
        .collect();
    vec![End::kink(law.mode() - centre, jumps)]
}

/// |φ(t)| ≤ e^(θ²/2) E exp(−t sin(σθ) X) for 0 ≤ σθ ≤ π/2: the path of the logarithm moved up by iθ. As a function of ln t
/// the logarithm of that is concave (a convolution of log-concave functions), so its last slope bounds its fall.
fn lognormal_envelope(mean: f64, sd: f64, t: f64) -> (f64, f64) {
    let mut best = (0.0, 0.0);
    let most = 0.5 * PI / sd;
    for theta in [1.0, 2.0, 4.0, 8.0, most] {
        if theta > most.min(16.0) {
            continue;
        }
        let damping = t * float::exp(mean) * float::sin(sd * theta);
        let now = 0.5 * theta * theta + laplace(damping, sd);
        if now < best.0 {
            let before = 0.5 * theta * theta + laplace(damping / 1.1, sd);
            best = (now, ((before - now) / float::ln(1.1)).max(0.0));
        }
    }
    best
}

/// ln E exp(−c e^(σU)) for a standard normal U, a little too large.
fn laplace(c: f64, sd: f64) -> f64 {
    let mut total = 1e-24;
    for i in -22..=16 {
        let u = 0.5 * f64::from(i);
        let exponent = -0.5 * u * u - c * float::exp(sd * u);
        total += float::exp(exponent);
    }
    // Step over √(2π), and a little for the sum.
    float::ln(1.02 * 0.5 * 0.398_942_280_401_432_7 * total)
}

/// The greatest density of a law of one peak; infinite where it has a pole.
fn peak_density(law: &Distribution) -> f64 {
    let at = match law {
        Distribution::Triangular(law) => law.peak(),
        Distribution::CurvilinearTrapezoid(law) if law.half_width() > law.d() => law.midpoint(),
        Distribution::Lognormal(one) => {
            let excess = float::exp(one.log_mean() - one.log_sd() * one.log_sd());
            one.origin() + if one.is_reflected() { -excess } else { excess }
        }
        Distribution::Beta(law) if law.a() >= 1.0 && law.b() >= 1.0 => {
            let share = (law.a() - 1.0) / (law.a() + law.b() - 2.0);
            law.lower() + share * (law.upper() - law.lower())
        }
        Distribution::TruncatedNormal(law) => law.parent_mean().clamp(law.lower(), law.upper()),
        Distribution::TwoPieceNormal(law) => law.mode(),
        _ => return f64::INFINITY,
    };
    // Rounding may have moved the place a little off the peak.
    1.000_001 * law.pdf(at).unwrap_or(f64::INFINITY)
}

/// A bound of the total variation of the slope of a density; infinite where the density jumps or is not known to bend
/// gently.
fn bend(law: &Distribution) -> f64 {
    let density = |x: f64| law.pdf(x).unwrap_or(f64::INFINITY);
    match law {
        Distribution::Triangular(one) => {
            let (rise, fall) = (one.peak() - one.lower(), one.upper() - one.peak());
            let height = density(one.peak());
            2.0 * height * (1.0 / rise + 1.0 / fall)
        }
        Distribution::CurvilinearTrapezoid(one) => {
            1.0 / (one.d() * (one.half_width() - one.d()).max(0.0))
        }
        Distribution::TwoPieceNormal(one) => {
            // The slope is steepest one standard deviation from the mode, on either side.
            let steep = density(one.mode()) * float::exp(-0.5);
            2.0 * steep * (1.0 / one.sd_below() + 1.0 / one.sd_above())
        }
        Distribution::Lognormal(one) => lognormal_bend(one),
        Distribution::Beta(one) => beta_bend(law, one, &density),
        _ => f64::INFINITY,
    }
}

/// The slope rises to a maximum before the mode and falls to a minimum after it; both solve z² + 3sz + 2s² = 1.
fn lognormal_bend(law: &Lognormal) -> f64 {
    let s = law.log_sd();
    let root = (s * s + 4.0).sqrt();
    let steep = |z: f64| {
        let x = float::exp(law.log_mean() + s * z);
        normal_pdf(z) / (s * x * x) * (1.0 + z / s).abs()
    };
    2.0 * (steep(0.5 * (-3.0 * s + root)) + steep(0.5 * (-3.0 * s - root)))
}

/// By walking over the density on a grid of nine standard deviations about the mean, which is fine against the four
/// extremes that the slope has at most.
fn beta_bend(law: &Distribution, beta: &Beta, density: &dyn Fn(f64) -> f64) -> f64 {
    let (a, b) = (beta.a() - 1.0, beta.b() - 1.0);
    if a < 1.0 || b < 1.0 {
        return f64::INFINITY;
    }
    let (Some(mean), Some(sd)) = (law.mean(), law.standard_deviation()) else {
        return f64::INFINITY;
    };
    let width = beta.upper() - beta.lower();
    let from = (mean - 9.0 * sd).max(beta.lower());
    let step = ((mean + 9.0 * sd).min(beta.upper()) - from) / 200.0;
    let (mut total, mut before) = (0.0, 0.0);
    for i in 0..200 {
        let x = from + step * (f64::from(i) + 0.5);
        let share = (x - beta.lower()) / width;
        let now = density(x) * (a / share - b / (1.0 - share)) / width;
        total += (now - before).abs();
        before = now;
    }
    // Between the nodes the extremes rise a little higher.
    1.1 * (total + before.abs())
}
