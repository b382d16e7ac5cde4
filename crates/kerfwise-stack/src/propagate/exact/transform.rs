//! Inversion of the characteristic function.
//!
//! ```text
//! F(x) = 1/2 − (1/π) ∫₀^∞ Im[φ(t) e^(−itx)] / t dt         (Gil-Pelaez 1951)
//! ```
//! *Wrapped*: the midpoint sum with step 2π/T is exact but for what lies outside of the period,
//! Σ (−1)ⁿ {P(S < x − nT) − P(S > x + nT)} (Bohmann 1961, Davies 1973): nothing for a bounded sum, a tail that is bounded
//! beforehand for others. *Panels*: Gauss–Legendre nodes on equal panels, the first one graded towards zero, where the
//! characteristic function of a heavy tail is smooth on one side only.

use super::along::{Places, TURNED};
use super::comb::{Comb, GROUP, Teeth};
use super::measure::Measure;
use super::part::{Part, Shape};
use super::quadrature::Kink;
use super::reach::Reach;
use super::smooth::Smooth;
use super::solved::Smoothness;
use super::tail::{Tail, chance};
use crate::Bounded;
use kerfwise_numeric::columns;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::sum::CompensatedSum;
use std::f64::consts::{FRAC_1_PI, PI};
use std::sync::OnceLock;

/// What is left out of the integral beyond the last node, at most.
const CUT: f64 = 2e-17;
/// Logarithm of 1 over the chance that may lie outside of the period.
const ALIAS: f64 = 39.0;

/// A sum of parts by its characteristic function.
#[derive(Debug, Clone)]
pub(super) struct Transform {
    /// Sum of the parts' centres: places are counted from here.
    centre: f64,
    comb: Comb,
    teeth: Teeth,
    /// Places (from the centre) that the nodes serve.
    valid: (f64, f64),
    /// Bound of all errors but rounding, of a chance and of a density.
    error: f64,
    density_error: f64,
    /// Σ|a| of the teeth (in the head: only of their imaginary parts), Σ|a|t of the head, Σ|a|t of all, and the relative
    /// error of a tooth.
    size: f64,
    head_slope: f64,
    slope: f64,
    relative: f64,
    reach: Reach,
    is_wrapped: bool,
    is_whole: bool,
    scale: f64,
    /// Where practically all of it lies, from the centre, and the chance of being outside; found when first asked for.
    extent: OnceLock<(f64, f64, f64)>,
    /// Whether far tails need no better bound than the error of a chance near the centre.
    is_plain: bool,
}

/// Panels of an alternating sum, and the most of one that is summed to its end.
const ALTERNATING: usize = 48;
const MOST_PERIODS: f64 = 2_000.0;

/// How a transform would be laid out, and what it costs.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    /// Highest frequency, and the bounds of what lies beyond it.
    highest: f64,
    error: f64,
    density_error: f64,
    reach: Reach,
    valid: (f64, f64),
    layout: Layout,
    /// Whether the nodes end where nothing of weight follows; else their sum must be carried to its limit.
    is_whole: bool,
    /// Number of nodes.
    pub(super) nodes: f64,
}

#[derive(Debug, Clone, Copy)]
enum Layout {
    /// Period.
    Wrapped(f64),
    /// Length of a panel, power of the substitution in the first one and its nodes.
    Panels(f64, u8, usize),
}

impl Plan {
    /// The cheaper layout for these parts; `None` when the characteristic function falls too slowly for `most` nodes.
    ///
    /// `farthest` is the distance from the centre that must be served.
    pub(super) fn new(parts: &[Part], cut: f64, farthest: f64, most: f64) -> Option<Self> {
        let reach = Reach::of(parts);
        let frequency = reach_frequency(parts);
        let scale: f64 = parts.iter().map(|p| p.scale * p.scale).sum::<f64>().sqrt();
        let (down, up) = (reach.distance(-1.0, ALIAS), reach.distance(1.0, ALIAS));
        let period = 1.01 * (down + up);
        let length = 15.0 / (farthest + frequency);
        let per_frequency = (period / (2.0 * PI)).min(GROUP as f64 / length);
        let (highest, error, density_error) =
            horizon(parts, cut, 1.0 / scale, most / per_frequency)?;
        let (power, head) = head(parts);
        let wrapped = highest * period / (2.0 * PI);
        let paneled = head as f64 + GROUP as f64 * (highest / length);
        // A panel's node costs a little more than a wrapped one: a sine of its own in the first panel.
        let (nodes, layout, valid) = if wrapped <= 1.2 * paneled {
            (wrapped, Layout::Wrapped(period), (-down, up))
        } else {
            let layout = Layout::Panels(length, power, head);
            (paneled, layout, (-farthest, farthest))
        };
        (nodes <= most).then_some(Self {
            highest,
            error,
            density_error,
            reach,
            valid,
            layout,
            is_whole: true,
            nodes,
        })
    }

    /// Panels of half a period of sin(tx) each, for one distance far out, where the parts die slowly against that.
    ///
    /// Few of them, for an alternating sum, where the parts vary little over a panel; all of them otherwise.
    pub(super) fn half_periods(parts: &[Part], distance: f64) -> Option<Self> {
        let length = PI / distance;
        let far = distance > 6.0 * reach_frequency(parts);
        let scale = parts.iter().map(|p| p.scale * p.scale).sum::<f64>().sqrt();
        let whole = horizon(parts, CUT, 1.0 / scale, MOST_PERIODS * length);
        let ((highest, error, density_error), is_whole) = match whole {
            Some(all) if all.0 <= 1.5 * ALTERNATING as f64 * length || !far => (all, true),
            _ if far => ((ALTERNATING as f64 * length, 0.0, 0.0), false),
            _ => return None,
        };
        let (power, head) = head(parts);
        Some(Self {
            highest,
            error,
            density_error,
            reach: Reach::of(parts),
            valid: (-distance, distance),
            layout: Layout::Panels(length, power, head),
            is_whole,
            nodes: 0.0,
        })
    }

    /// Nodes and their weights W/(πt).
    fn comb(&self) -> (Comb, Vec<f64>) {
        match self.layout {
            Layout::Wrapped(period) => {
                let step = 2.0 * PI / period;
                let groups = ((self.highest / step) / GROUP as f64).ceil().max(1.0) as usize;
                let mut offsets = [0.0; GROUP];
                for (i, offset) in offsets.iter_mut().enumerate() {
                    *offset = step * i as f64;
                }
                let starts = (0..groups)
                    .map(|g| step * ((GROUP * g) as f64 + 0.5))
                    .collect();
                let weights = (0..GROUP * groups)
                    .map(|k| FRAC_1_PI / (k as f64 + 0.5))
                    .collect();
                let comb = Comb {
                    head: Vec::new(),
                    starts,
                    offsets,
                };
                (comb, weights)
            }
            Layout::Panels(length, power, head) => {
                let rule = gauss_legendre(head);
                let mut nodes = Vec::with_capacity(head);
                let mut weights = Vec::with_capacity(head);
                for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
                    let v = 0.5 + 0.5 * node;
                    nodes.push(length * float::powi(v, i32::from(power)));
                    // dt/t = power dv/v.
                    weights.push(FRAC_1_PI * 0.5 * weight * f64::from(power) / v);
                }
                let rule = gauss_legendre(GROUP);
                let half = 0.5 * length;
                let groups = (self.highest / length - 1.0).ceil().max(1.0) as usize;
                let mut offsets = [0.0; GROUP];
                for (offset, node) in offsets.iter_mut().zip(rule.nodes()) {
                    *offset = half * node;
                }
                let starts: Vec<f64> = (0..groups).map(|g| length * (g as f64 + 1.5)).collect();
                for start in &starts {
                    for (offset, weight) in offsets.iter().zip(rule.weights()) {
                        weights.push(FRAC_1_PI * half * weight / (start + offset));
                    }
                }
                let comb = Comb {
                    head: nodes,
                    starts,
                    offsets,
                };
                (comb, weights)
            }
        }
    }
}

impl Transform {
    /// Evaluates the characteristic function where the plan wants it.
    pub(super) fn new(parts: &[Part], plan: Plan) -> Self {
        let (comb, weights) = plan.comb();
        let mut teeth = Teeth {
            re: weights,
            im: Vec::new(),
        };
        let (mut relative, mut phi_error) = (12.0 * f64::EPSILON, 0.0);
        let nodes: Vec<f64> = comb.nodes().collect();
        for part in parts {
            let (phi, error) = characteristic(part, &comb, &nodes, plan.highest);
            phi_error += error;
            relative += match &part.shape {
                Shape::Student(..) => 1e-14,
                Shape::Normal(_) => 4.0 * f64::EPSILON,
                _ => 3.0 * f64::EPSILON,
            };
            multiply(&mut teeth, &phi);
        }
        let (mut size, mut head_slope, mut slope) = (0.0, 0.0, 0.0);
        for (i, t) in nodes.iter().enumerate() {
            let im = teeth.im.get(i).copied().unwrap_or(0.0);
            let tooth = if im == 0.0 {
                teeth.re[i].abs()
            } else {
                float::hypot(teeth.re[i], im)
            };
            slope += tooth * t;
            if i < comb.head.len() {
                // Towards zero teeth grow like 1/t, but what they are multiplied by falls like t.
                size += im.abs();
                head_slope += teeth.re[i].abs() * t;
            } else {
                size += tooth;
            }
        }
        // Nodes where the other parts have died do not hear of an error in one part.
        let heard = (size + FRAC_1_PI).min(1.0 + float::ln(1.0 + comb.len() as f64));
        let alias = match plan.layout {
            Layout::Wrapped(_) => 2.0 * float::exp(-ALIAS) + 2.0 * plan.reach.trimmed(),
            Layout::Panels(..) => 1e-16,
        };
        Self {
            centre: parts.iter().map(|p| p.centre).sum(),
            error: plan.error + alias + phi_error * heard,
            density_error: plan.density_error + (alias + phi_error) * plan.highest,
            comb,
            teeth,
            valid: plan.valid,
            size,
            head_slope,
            slope,
            relative,
            reach: plan.reach,
            is_wrapped: matches!(plan.layout, Layout::Wrapped(_)),
            is_whole: plan.is_whole,
            scale: parts.iter().map(|p| p.scale * p.scale).sum::<f64>().sqrt(),
            extent: OnceLock::new(),
            is_plain: false,
        }
    }

    /// Whether a place is served.
    pub(super) fn serves(&self, x: f64) -> bool {
        let x = x - self.centre;
        self.is_wrapped || (x >= self.valid.0 && x <= self.valid.1)
    }

    /// The places that are served.
    pub(super) fn valid(&self) -> (f64, f64) {
        (self.centre + self.valid.0, self.centre + self.valid.1)
    }

    pub(super) fn centre(&self) -> f64 {
        self.centre
    }

    /// Saves the bounds of far tails, for something that only averages over its chances.
    pub(super) fn make_plain(&mut self) {
        self.is_plain = true;
    }

    /// The error of a chance near the centre.
    pub(super) fn floor(&self) -> f64 {
        self.error + self.relative * self.size
    }

    pub(super) fn scale(&self) -> f64 {
        self.scale
    }

    pub(super) fn is_wrapped(&self) -> bool {
        self.is_wrapped
    }

    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let x = x - self.centre;
        // Where the asked-for tail, or the other one, is so small that its bound says all.
        if x < self.valid.0 || x > self.valid.1 {
            let far = if x > 0.0 { 1.0 } else { -1.0 };
            let bound = if self.is_plain {
                float::exp(-ALIAS) + self.reach.trimmed()
            } else {
                self.reach.beyond(far, x.abs())
            };
            let value = if (x > 0.0) == tail.is_lower() {
                1.0
            } else {
                0.0
            };
            return chance(value, bound);
        }
        self.near_tail(tail, x, self.comb.sine_sum(&self.teeth, x))
    }

    /// A chance and the density, where both come from the same sines and cosines.
    pub(super) fn tail_and_density(
        &self,
        tail: Tail,
        x: f64,
    ) -> Option<(Bounded<f64>, Bounded<f64>)> {
        let x = x - self.centre;
        if x < self.valid.0 || x > self.valid.1 || !self.teeth.im.is_empty() {
            return None;
        }
        let [sine, slope] = self.comb.sine_and_slope_sums(&self.teeth, x);
        Some((self.near_tail(tail, x, sine), self.near_density(x, slope)))
    }

    /// From the sum of sines at a place that is served, counted from the centre.
    fn near_tail(&self, tail: Tail, x: f64, sum: f64) -> Bounded<f64> {
        let side = if tail.is_lower() { -1.0 } else { 1.0 };
        let value = if tail.is_lower() {
            0.5 + sum
        } else {
            0.5 - sum
        };
        let error = self.error
            + self.relative * (self.size + self.head_slope * x.abs())
            + 2.0 * f64::EPSILON * self.slope * x.abs()
            + f64::EPSILON;
        let mut answer = chance(value, error);
        // Deep in a tail the bound of the tail may be better than the sum.
        if !self.is_plain && answer.value < 100.0 * error && x * side > 0.0 {
            let bound = self.reach.beyond(side, x.abs());
            if bound < answer.value + answer.error {
                answer = chance(answer.value.min(bound), answer.error.min(bound));
            }
        }
        answer
    }

    /// From the sum of slopes.
    fn near_density(&self, x: f64, sum: f64) -> Bounded<f64> {
        let error = self.density_error
            + self.relative * self.slope
            + 2.0 * f64::EPSILON * self.slope * x.abs() / self.scale;
        Bounded {
            value: sum.max(0.0),
            error,
        }
    }

    /// P(S > x) for x on one side of the centre (−1: P(S < x)), at the distance whose half periods the panels are, as the
    /// limit of an alternating sum.
    pub(super) fn far_tail(&self, side: f64) -> Bounded<f64> {
        let x = side * self.valid.1;
        let mut sums = Vec::with_capacity(self.comb.starts.len() + 1);
        self.comb
            .sine_sums(&self.teeth, x, &mut |part| sums.push(part));
        let (sum, off) = alternating(&sums, self.is_whole);
        let rounding = self.relative * (self.size + self.head_slope * x.abs())
            + 2.0 * f64::EPSILON * self.slope.min(50.0 / x.abs()) * x.abs();
        chance(0.5 - side * sum, self.error + off + rounding + f64::EPSILON)
    }

    /// The density there.
    pub(super) fn far_density(&self, side: f64) -> Bounded<f64> {
        let x = side * self.valid.1;
        let mut sums = Vec::with_capacity(self.comb.starts.len() + 1);
        self.comb
            .slope_sums(&self.teeth, x, &mut |part| sums.push(part));
        let (sum, off) = alternating(&sums, self.is_whole);
        Bounded {
            value: sum.max(0.0),
            error: self.density_error + off + (self.relative + 1e-14) * self.slope,
        }
    }

    pub(super) fn density(&self, x: f64) -> Bounded<f64> {
        let x = x - self.centre;
        if x < self.valid.0 || x > self.valid.1 {
            return Bounded {
                value: 0.0,
                error: self.density_error,
            };
        }
        self.near_density(x, self.comb.slope_sum(&self.teeth, x))
    }

    /// Its density is analytic, being an integral over a bounded range of frequencies.
    pub(super) fn smoothness(&self) -> Smoothness {
        let (lo, hi) = self.valid();
        let outside = if self.is_wrapped {
            2.0 * float::exp(-ALIAS) + self.reach.trimmed()
        } else {
            [(Tail::AtMost, lo), (Tail::MoreThan, hi)]
                .into_iter()
                .map(|(tail, x)| self.tail(tail, x))
                .map(|chance| chance.value + chance.error)
                .sum()
        };
        Smoothness {
            centre: self.centre,
            range: (lo, hi),
            outside,
            frequency: self.comb.nodes().last().unwrap_or(0.0),
        }
    }

    /// Chances below and above each of these places, which must all be served, and a bound of their errors.
    pub(super) fn tails_along(&self, places: Places) -> (Vec<[f64; 2]>, f64) {
        let places = Places {
            from: places.from - self.centre,
            ..places
        };
        let [_, mut sums] = self.comb.along(&self.teeth.re, places);
        if !self.teeth.im.is_empty() {
            let [cosines, _] = self.comb.along(&self.teeth.im, places);
            for (sum, cosine) in sums.iter_mut().zip(&cosines) {
                *sum -= cosine;
            }
        }
        let farthest = places.farthest();
        let error = self.error
            + (self.relative + TURNED) * (self.size + self.head_slope * farthest)
            + 2.0 * f64::EPSILON * self.slope * farthest
            + f64::EPSILON;
        let tails = sums
            .iter()
            .map(|sum| [0.5 + sum, 0.5 - sum].map(|chance| chance.clamp(0.0, 1.0)))
            .collect();
        (tails, error)
    }

    /// Densities at these places, which must all be served, and a bound of their errors.
    pub(super) fn densities_along(&self, places: Places) -> (Vec<f64>, f64) {
        let places = Places {
            from: places.from - self.centre,
            ..places
        };
        let times_t = |teeth: &[f64]| -> Vec<f64> {
            let nodes = self.comb.nodes();
            teeth
                .iter()
                .zip(nodes)
                .map(|(tooth, t)| tooth * t)
                .collect()
        };
        let re = times_t(&self.teeth.re);
        let mut sums = if self.teeth.im.is_empty() {
            self.comb.even_along(&re, places)
        } else {
            let [mut sums, _] = self.comb.along(&re, places);
            let [_, sines] = self.comb.along(&times_t(&self.teeth.im), places);
            for (sum, sine) in sums.iter_mut().zip(&sines) {
                *sum += sine;
            }
            sums
        };
        for density in &mut sums {
            *density = density.max(0.0);
        }
        let error = self.density_error
            + (self.relative + TURNED) * self.slope
            + 2.0 * f64::EPSILON * self.slope * places.farthest() / self.scale;
        (sums, error)
    }

    /// Where practically all of it lies, and the chance of being outside.
    pub(super) fn extent(&self) -> (f64, f64, f64) {
        let (lo, hi, outside) = *self.extent.get_or_init(|| {
            let log = 41.0;
            (
                -self.reach.distance(-1.0, log),
                self.reach.distance(1.0, log),
                2.0 * float::exp(-log) + self.reach.trimmed(),
            )
        });
        (self.centre + lo, self.centre + hi, outside)
    }

    /// A bound of the density.
    pub(super) fn peak(&self) -> f64 {
        self.slope + self.density_error
    }

    /// Marks of its size for a quadrature.
    pub(super) fn marks(&self) -> Vec<Kink> {
        [-3.0, 0.0, 3.0]
            .map(|k| Kink::corner(self.centre + k * self.scale))
            .to_vec()
    }
}

/// Limit of the partial sums: the last one if they are complete, else Euler's transformation (repeated means of
/// neighbours; DLMF 3.9.2) with the change by its last step, ten times, as the error.
fn alternating(parts: &[f64], is_complete: bool) -> (f64, f64) {
    let mut total = CompensatedSum::new();
    let mut sums: Vec<f64> = parts
        .iter()
        .map(|part| {
            total.add(*part);
            total.value()
        })
        .collect();
    if is_complete || sums.len() < 16 {
        return (total.value(), 0.0);
    }
    sums.drain(..8);
    let mut before = f64::NAN;
    while sums.len() > 1 {
        before = sums[sums.len() / 2];
        sums = sums
            .windows(2)
            .map(|pair| 0.5 * (pair[0] + pair[1]))
            .collect();
    }
    (sums[0], 10.0 * (sums[0] - before).abs())
}

/// Multiplies complex numbers one by one; an empty imaginary part is zero.
fn multiply(teeth: &mut Teeth, by: &Teeth) {
    if by.im.is_empty() {
        for (a, b) in teeth.re.iter_mut().zip(&by.re) {
            *a *= b;
        }
        for (a, b) in teeth.im.iter_mut().zip(&by.re) {
            *a *= b;
        }
        return;
    }
    if teeth.im.is_empty() {
        teeth.im = vec![0.0; teeth.re.len()];
    }
    for i in 0..teeth.re.len() {
        let (a, b, c, d) = (teeth.re[i], teeth.im[i], by.re[i], by.im[i]);
        teeth.re[i] = a * c - b * d;
        teeth.im[i] = a * d + b * c;
    }
}

/// The characteristic function of a part about its centre, at all nodes, and a bound of its error beyond rounding.
pub(super) fn characteristic(
    part: &Part,
    comb: &Comb,
    nodes: &[f64],
    highest: f64,
) -> (Teeth, f64) {
    match &part.shape {
        Shape::Atoms(atoms) => (
            comb.characteristic(atoms, comb.starts.len()),
            4.0 * f64::EPSILON,
        ),
        Shape::Smooth(law) => smooth_characteristic(part, law, comb, highest),
        Shape::Mixture(components) => {
            let mut sum = Teeth {
                re: vec![0.0; comb.len()],
                im: vec![0.0; comb.len()],
            };
            let mut error = 4.0 * f64::EPSILON;
            for component in components {
                let mut place = component.place - part.centre;
                let mut phi = Teeth {
                    re: vec![1.0; comb.len()],
                    im: Vec::new(),
                };
                if let Some(inner) = &component.part {
                    place += inner.centre;
                    let off;
                    (phi, off) = characteristic(inner, comb, nodes, highest);
                    error += component.weight * off;
                }
                comb.add_turned(&mut sum, component.weight, &phi, place);
            }
            (sum, error)
        }
        Shape::Rectangles(halves) => {
            let mut re = vec![1.0; nodes.len()];
            for half in halves {
                columns::times_sinc(&mut re, nodes, *half);
            }
            (Teeth { re, im: vec![] }, 0.0)
        }
        Shape::Exponential(mean) => {
            let (re, im) = nodes.iter().map(|t| exponential(mean * t)).unzip();
            (Teeth { re, im }, 0.0)
        }
        Shape::Normal(sd) => {
            let mut re: Vec<f64> = nodes.iter().map(|t| -0.5 * (sd * t) * (sd * t)).collect();
            columns::exps(&mut re);
            (Teeth { re, im: vec![] }, 0.0)
        }
        Shape::Arcsine(half) => {
            let mut re: Vec<f64> = nodes.iter().map(|t| half * t).collect();
            columns::bessel_j0s(&mut re);
            (Teeth { re, im: vec![] }, 0.0)
        }
        Shape::Student(student) => {
            let re = student.characteristic(nodes);
            (Teeth { re, im: vec![] }, 0.0)
        }
    }
}

/// 1/(1 − ix), turned back by the mean.
fn exponential(x: f64) -> (f64, f64) {
    let size = 1.0 / (1.0 + x * x);
    let (sin, cos) = float::sin_cos(-x);
    (size * (cos - x * sin), size * (sin + x * cos))
}

/// The characteristic function of a law without a short closed form: a sum over nodes of the law near zero, its ends and kinks
/// far out, each checked by the other where they meet.
fn smooth_characteristic(part: &Part, law: &Smooth, comb: &Comb, highest: f64) -> (Teeth, f64) {
    if let Some((atoms, error)) = law.contour(part.centre) {
        let mut teeth = comb.characteristic_above(&atoms);
        if law.is_reflected() {
            for im in &mut teeth.im {
                *im = -*im;
            }
        }
        return (teeth, error);
    }
    let groups = comb.starts.len();
    let Some(far) = &law.far else {
        let (nodes, error) = Measure::new(part).nodes(highest);
        return (comb.characteristic(&nodes, groups), error);
    };
    let near = comb.groups_below(far.from);
    let meet = if near < groups {
        comb.first_of(near)
    } else {
        highest
    };
    let (nodes, mut error) = Measure::new(part).nodes(meet);
    let mut teeth = comb.characteristic(&nodes, near);
    if near < groups {
        comb.add_far(&mut teeth, far, near);
        let (mut re, mut im) = (0.0, 0.0);
        for (x, weight) in &nodes {
            let (sin, cos) = float::sin_cos(meet * x);
            re += weight * cos;
            im += weight * sin;
        }
        let at = comb.index_of(near);
        error += (re - teeth.re[at]).abs() + (im - teeth.im[at]).abs();
    }
    (teeth, error)
}

/// The frequency from which on the integral over |φ|/(πt) is at most `cut`, that bound there, and the one of |φ|/π.
///
/// With an envelope E that falls at least like t^−p from t on, ∫ E/(πt) ≤ E(t)/(πp) and ∫ E/π ≤ tE(t)/(π(p − 1)).
fn horizon(parts: &[Part], cut: f64, from: f64, most: f64) -> Option<(f64, f64, f64)> {
    let beyond = |t: f64| {
        let (log, fall) = parts
            .iter()
            .map(|p| p.envelope(t))
            .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let size = float::exp(log);
        if fall <= 0.0 || size > cut * PI * fall {
            return None;
        }
        let density = if fall > 1.0 {
            t * size / (PI * (fall - 1.0))
        } else {
            f64::INFINITY
        };
        Some((t, size / (PI * fall), density))
    };
    // Doubled until it is enough, then back by halves of what is between, in ratio.
    let mut t = from;
    let mut found = loop {
        if let Some(found) = beyond(t) {
            break found;
        }
        if t >= 1.3 * most {
            return None;
        }
        t = (2.0 * t).min(1.3 * most);
    };
    let mut ratio = 2.0_f64;
    let mut least = 0.5 * found.0;
    for _ in 0..4 {
        ratio = ratio.sqrt();
        if found.0 <= from {
            break;
        }
        match beyond(least * ratio) {
            Some(nearer) => found = nearer,
            None => least *= ratio,
        }
    }
    Some(found)
}

/// Frequency-like bound of how fast the characteristic function varies: that of the light parts, and 1 over the length on
/// which the heavy ones fall.
fn reach_frequency(parts: &[Part]) -> f64 {
    let mut heavy = 0.0;
    for part in parts {
        heavy += heavy_frequency(part);
    }
    Reach::of(parts.iter().filter(|p| !p.is_heavy())).frequency() + heavy
}

fn heavy_frequency(part: &Part) -> f64 {
    match &part.shape {
        Shape::Student(student) => student.nu.sqrt() * student.scale,
        Shape::Mixture(components) if part.is_heavy() => components
            .iter()
            .map(|c| {
                let own = c.part.as_ref().map_or(0.0, |inner| {
                    inner.centre.abs()
                        + if inner.is_heavy() {
                            heavy_frequency(inner)
                        } else {
                            Reach::of([inner]).frequency()
                        }
                });
                (c.place - part.centre).abs() + own
            })
            .fold(0.0, f64::max),
        _ => 0.0,
    }
}

/// Power of the substitution in the first panel, and its nodes: the heavier the tails, the rougher φ is at zero.
fn head(parts: &[Part]) -> (u8, usize) {
    match parts
        .iter()
        .map(least_freedom)
        .fold(f64::INFINITY, f64::min)
    {
        nu if nu < 1.0 => (4, 64),
        nu if nu < 4.0 => (3, 32),
        nu if nu < f64::INFINITY => (2, 24),
        _ => (1, 24),
    }
}

/// The least degrees of freedom of any Student t in it.
fn least_freedom(part: &Part) -> f64 {
    match &part.shape {
        Shape::Student(student) => student.nu,
        Shape::Mixture(components) => components
            .iter()
            .filter_map(|c| c.part.as_ref())
            .map(least_freedom)
            .fold(f64::INFINITY, f64::min),
        _ => f64::INFINITY,
    }
}

/// What is cut off, for a caller that tries harder tolerances first.
pub(super) const CUTS: [f64; 4] = [CUT, 1e-15, 1e-13, 1e-11];
