//! Expectations over one continuous law, walked along the coordinate in which it is smoothest.

use super::part::{Part, Shape};
use super::quadrature::{Effort, Kink, between, integrate};
use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::special::{ln_beta, normal_pdf};
use kerfwise_source::Distribution;
use kerfwise_source::distribution::Beta;
use std::f64::consts::{FRAC_1_PI, FRAC_PI_2};

/// A chance that is nothing to any sum.
const UNSEEN: f64 = 1e-17;

/// A function to take the expectation of, with all that is known of it.
pub(crate) struct Target<'a> {
    /// The function.
    pub(crate) g: &'a dyn Fn(f64) -> Bounded<f64>,
    /// Below the first of these places it has the first of `outside`, above the second the second.
    pub(crate) inside: (f64, f64),
    /// Its values outside.
    pub(crate) outside: (f64, f64),
    /// How far those values may be off.
    pub(crate) slack: f64,
    /// Where it is not analytic, and marks of where it varies.
    pub(crate) kinks: Vec<Kink>,
}

/// The coordinate along which a law is walked.
#[derive(Debug, Clone, Copy)]
enum Walk {
    /// The place itself.
    Place,
    /// Arcsine: x = half·sin u, so that the poles at the ends vanish.
    Angle(f64),
    /// Lognormal: sign·exp(mean + sd·u).
    Score { sign: f64, mean: f64, sd: f64 },
    /// Beta: from 0 to 1 the lower half of the interval, from 1 to 2 the upper one, the distance from either end being a power
    /// of the coordinate that leaves a smooth density, whatever the shapes.
    Ends(Ends),
}

/// The two ends of a beta law.
#[derive(Debug, Clone, Copy)]
struct Ends {
    lower: f64,
    upper: f64,
    shapes: [f64; 2],
    powers: [f64; 2],
    ln_beta: f64,
}

impl Ends {
    fn of(law: &Beta) -> Self {
        let power = |shape: f64| {
            if shape % 1.0 == 0.0 || shape > 6.0 {
                1.0
            } else {
                (4.0 / shape).ceil()
            }
        };
        Self {
            lower: law.lower(),
            upper: law.upper(),
            shapes: [law.a(), law.b()],
            powers: [power(law.a()), power(law.b())],
            ln_beta: ln_beta(law.a(), law.b()),
        }
    }

    fn coordinate(&self, x: f64) -> f64 {
        let width = self.upper - self.lower;
        let share = ((x - self.lower) / width).clamp(0.0, 1.0);
        if share <= 0.5 {
            float::powf(2.0 * share, 1.0 / self.powers[0])
        } else {
            let other = (2.0 * (self.upper - x) / width).max(0.0);
            2.0 - float::powf(other, 1.0 / self.powers[1])
        }
    }

    fn at(&self, u: f64) -> (f64, f64) {
        let near = usize::from(u > 1.0);
        let v = if near == 0 { u } else { 2.0 - u };
        let (shape, other, power) = (self.shapes[near], self.shapes[1 - near], self.powers[near]);
        let log = float::ln(v.max(f64::MIN_POSITIVE));
        let share = 0.5 * float::exp(power * log);
        let density = power
            * float::exp(
                (power * shape - 1.0) * log - shape * std::f64::consts::LN_2
                    + (other - 1.0) * float::ln_1p(-share)
                    - self.ln_beta,
            );
        let away = share * (self.upper - self.lower);
        let x = if near == 0 {
            self.lower + away
        } else {
            self.upper - away
        };
        (x, density)
    }
}

/// A value times a weight.
fn weighed(weight: f64, y: Bounded<f64>) -> Bounded<f64> {
    Bounded {
        value: weight * y.value,
        error: weight * y.error,
    }
}

/// A part with its coordinate.
#[derive(Debug)]
pub(super) struct Measure<'a> {
    part: &'a Part,
    walk: Walk,
}

impl<'a> Measure<'a> {
    pub(super) fn new(part: &'a Part) -> Self {
        let walk = match (&part.shape, &part.law) {
            (Shape::Arcsine(half), _) => Walk::Angle(*half),
            (_, Distribution::Lognormal(law)) => Walk::Score {
                sign: if law.is_reflected() { -1.0 } else { 1.0 },
                mean: law.log_mean(),
                sd: law.log_sd(),
            },
            (_, Distribution::Beta(law)) if law.a() < 1.0 || law.b() < 1.0 => {
                Walk::Ends(Ends::of(law))
            }
            _ => Walk::Place,
        };
        Self { part, walk }
    }

    /// The coordinate of a place of the law's extent.
    fn coordinate(&self, x: f64) -> f64 {
        match self.walk {
            Walk::Place => x,
            // From the nearer end: what is left of a nearly right angle keeps the digits that its mass needs.
            Walk::Angle(half) => {
                let share = ((half - x.abs()) / (2.0 * half)).clamp(0.0, 0.5);
                let angle = FRAC_PI_2 - 2.0 * float::asin(share.sqrt());
                if x < 0.0 { -angle } else { angle }
            }
            Walk::Score { sign, mean, sd } => {
                ((float::ln((sign * x).max(f64::MIN_POSITIVE)) - mean) / sd).max(-17.0)
            }
            Walk::Ends(ends) => ends.coordinate(x),
        }
    }

    /// The place at a coordinate, and the density of the coordinate there.
    fn at(&self, u: f64) -> (f64, f64) {
        match self.walk {
            Walk::Place => (u, self.density(u)),
            Walk::Angle(half) => (half * float::sin(u), FRAC_1_PI),
            Walk::Score { sign, mean, sd } => (sign * float::exp(mean + sd * u), normal_pdf(u)),
            Walk::Ends(ends) => ends.at(u),
        }
    }

    /// Kinks of the law and marks of its size, as coordinates.
    fn own_kinks(&self) -> Vec<Kink> {
        match self.walk {
            Walk::Place => {
                let marks = self.part.marks().iter().copied().map(Kink::corner);
                self.part.kinks().into_iter().chain(marks).collect()
            }
            Walk::Angle(_) => vec![
                Kink::corner(-FRAC_PI_2),
                Kink::corner(0.0),
                Kink::corner(FRAC_PI_2),
            ],
            Walk::Score { .. } => [-8.5, -4.0, -1.5, 1.5, 4.0, 8.5].map(Kink::corner).to_vec(),
            Walk::Ends(ends) => {
                let marks = self.part.marks().iter().copied();
                marks
                    .map(|x| ends.coordinate(x))
                    .chain([0.0, 1.0, 2.0])
                    .map(Kink::corner)
                    .collect()
            }
        }
    }

    /// The places from `lo` to `hi` as kinks of the coordinate, ends included.
    fn places(&self, lo: f64, hi: f64, kinks: &[Kink]) -> Vec<Kink> {
        let (a, b) = (self.coordinate(lo), self.coordinate(hi));
        let mut all = self.own_kinks();
        for kink in kinks {
            // Also those that meet an end: their power counts there.
            all.push(Kink {
                at: self.coordinate(kink.at.clamp(lo, hi)),
                power: if kink.at < lo || kink.at > hi {
                    1
                } else {
                    kink.power
                },
            });
        }
        between(all, a.min(b), a.max(b))
    }

    /// E g(X).
    pub(super) fn expect(&self, target: &Target<'_>, effort: Effort) -> Bounded<f64> {
        let (least, most, beyond) = self.part.extent();
        let lo = target.inside.0.clamp(least, most);
        let hi = target.inside.1.clamp(least, most).max(lo);
        let places = self.places(lo, hi, &target.kinks);
        self.total((lo, hi), beyond, target, effort, &places, |u| {
            let (x, density) = self.at(u);
            weighed(density, (target.g)(x))
        })
    }

    /// E g(y − X), for a target that varies over a range narrow against the law or against y: walked along y − X, of which
    /// rounding leaves more digits there.
    pub(super) fn expect_near(&self, y: f64, target: &Target<'_>, effort: Effort) -> Bounded<f64> {
        let (least, most, beyond) = self.part.extent();
        let lo = target.inside.0.max(y - most);
        let hi = target.inside.1.min(y - least).max(lo);
        let mut kinks = target.kinks.clone();
        kinks.extend(self.own_kinks().into_iter().map(|k| Kink {
            at: y - k.at,
            power: k.power,
        }));
        let swapped = Target {
            g: target.g,
            inside: target.inside,
            outside: (target.outside.1, target.outside.0),
            slack: target.slack,
            kinks: Vec::new(),
        };
        let places = between(kinks, lo, hi);
        self.total((y - hi, y - lo), beyond, &swapped, effort, &places, |r| {
            weighed(self.density(y - r), (target.g)(r))
        })
    }

    /// Whether [`expect_near`](Self::expect_near) serves.
    pub(super) fn is_walked_by_place(&self) -> bool {
        matches!(self.walk, Walk::Place)
    }

    /// The integral over the places, and what lies outside of the range (of X).
    fn total(
        &self,
        (lo, hi): (f64, f64),
        beyond: f64,
        target: &Target<'_>,
        effort: Effort,
        places: &[Kink],
        f: impl FnMut(f64) -> Bounded<f64>,
    ) -> Bounded<f64> {
        let law = &self.part.law;
        let (below, above) = (law.cdf(lo), law.sf(hi));
        let (a, b) = target.outside;
        let known = a * below + b * above;
        // What is added to something known need not be better than that.
        let effort = Effort {
            absolute: effort.absolute.max(effort.relative * known.abs()),
            ..effort
        };
        let mut answer = integrate(places, effort, f);
        // Densities and chances of the law itself are trusted to a few units in the last place.
        let size = answer.value.abs() + (a * below).abs() + (b * above).abs();
        answer.value += known;
        answer.error += 4e-15 * size + target.slack * (below + above) + beyond;
        answer
    }

    /// The density of the law.
    pub(super) fn density(&self, x: f64) -> f64 {
        match &self.part.shape {
            Shape::Student(student) => student.density(x),
            _ => self.part.law.pdf(x).unwrap_or(0.0),
        }
    }

    /// Nodes (from the reference point) and weights of Gauss–Legendre rules of this order: one on each stretch between
    /// kinks of the law, marks of its size and these kinks, cut in so many pieces.
    pub(super) fn rule(&self, order: usize, pieces: u32, kinks: &[Kink]) -> Vec<(f64, f64)> {
        let law = &self.part.law;
        let (least, most, _) = self.part.extent();
        // Farther out nothing is left that a sum of chances could see.
        let (lo, hi) = (
            least.max(law.quantile(UNSEEN)),
            most.min(law.quantile_upper(UNSEEN)),
        );
        let rule = gauss_legendre(order);
        let mut nodes = Vec::new();
        for pair in self.places(lo, hi, kinks).windows(2) {
            for walked in Piece::between(pair[0], pair[1]) {
                for piece in 0..pieces {
                    let width = 1.0 / f64::from(pieces);
                    let middle = (f64::from(piece) + 0.5) * width;
                    for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
                        let (u, slope) = walked.at(middle + 0.5 * width * node);
                        let (x, density) = self.at(u);
                        let weight = 0.5 * width * weight * density * slope;
                        if weight.is_finite() && weight > 0.0 {
                            nodes.push((x, weight));
                        }
                    }
                }
            }
        }
        nodes
    }

    /// Nodes and weights that stand for the law in sums of exp(itx) up to the frequency `highest`, counted from the
    /// centre, and a bound of the error of such sums.
    pub(super) fn nodes(&self, highest: f64) -> (Vec<(f64, f64)>, f64) {
        if let Distribution::Beta(law) = &self.part.law
            && let Some(nodes) = squared(law, self.part.centre, highest)
        {
            return (nodes, 1e-15);
        }
        if let (Walk::Place, Distribution::Beta(law)) = (self.walk, &self.part.law) {
            let by_ends = Self {
                part: self.part,
                walk: Walk::Ends(Ends::of(law)),
            };
            return by_ends.walked_nodes(highest);
        }
        self.walked_nodes(highest)
    }

    fn walked_nodes(&self, highest: f64) -> (Vec<(f64, f64)>, f64) {
        let (least, most, beyond) = self.part.extent();
        let mut rule = Nodes {
            measure: self,
            highest,
            nodes: Vec::new(),
            error: beyond,
        };
        let (far_low, far_high) = if !matches!(self.walk, Walk::Place) {
            (least, most)
        } else {
            // Farther out nothing is left that a sum could see.
            (
                least.max(self.part.law.quantile(1e-18)),
                most.min(self.part.law.quantile_upper(1e-18)),
            )
        };
        rule.error += 2e-18;
        for pair in self.places(far_low, far_high, &[]).windows(2) {
            for piece in Piece::between(pair[0], pair[1]) {
                rule.add(&piece, 0);
            }
        }
        // Densities are good to a few units in the last place.
        let error = rule.error + 4e-15;
        (rule.nodes, error)
    }
}

/// The most pieces of a law that is walked along a square root.
const MOST_PIECES: f64 = 16.0;

/// Nodes of a law with the shapes 1 and ½ or ½ and 1 (the cosine of a rectangular angle), which is one end and the width
/// times the square of a rectangular number; `None` for other shapes, and where it turns too often.
#[expect(clippy::float_cmp, reason = "only with these shapes it is a square")]
fn squared(law: &Beta, centre: f64, highest: f64) -> Option<Vec<(f64, f64)>> {
    let width = law.upper() - law.lower();
    let (end, width) = match (law.a(), law.b()) {
        (a, b) if a == 1.0 && b == 0.5 => (law.upper(), -width),
        (a, b) if a == 0.5 && b == 1.0 => (law.lower(), width),
        _ => return None,
    };
    // Sixteen nodes hold eight radians to far less than rounding; towards the end it turns twice as fast as on average.
    let pieces = (0.25 * highest * width.abs()).ceil().max(1.0);
    if pieces > MOST_PIECES {
        return None;
    }
    let rule = gauss_legendre(16);
    let mut nodes = Vec::new();
    for piece in 0..pieces as u32 {
        for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
            let root = (f64::from(piece) + 0.5 + 0.5 * node) / pieces;
            nodes.push(((end - centre) + width * root * root, 0.5 * weight / pieces));
        }
    }
    Some(nodes)
}

/// Nodes in the making.
struct Nodes<'a> {
    measure: &'a Measure<'a>,
    highest: f64,
    nodes: Vec<(f64, f64)>,
    error: f64,
}

/// A piece of the coordinate, walked from one end: u = end + length·v^power for v in `from..to`.
#[derive(Debug, Clone, Copy)]
struct Piece {
    end: f64,
    length: f64,
    power: u8,
    from: f64,
    to: f64,
}

impl Piece {
    fn new(end: f64, length: f64, power: u8) -> Self {
        Self {
            end,
            length,
            power,
            from: 0.0,
            to: 1.0,
        }
    }

    /// From each end that looks like a root, else from the first.
    fn between(from: Kink, to: Kink) -> Vec<Self> {
        let length = to.at - from.at;
        if from.power > 1 && to.power > 1 {
            vec![
                Self::new(from.at, 0.5 * length, from.power),
                Self::new(to.at, -0.5 * length, to.power),
            ]
        } else if to.power > 1 {
            vec![Self::new(to.at, -length, to.power)]
        } else {
            vec![Self::new(from.at, length, from.power)]
        }
    }

    /// The coordinate at v, and how fast it goes there.
    fn at(&self, v: f64) -> (f64, f64) {
        let before = float::powi(v, i32::from(self.power) - 1);
        let slope = self.length.abs() * f64::from(self.power) * before;
        (self.end + self.length * v * before, slope)
    }
}

impl Nodes<'_> {
    /// Nodes of one piece, with the sums of 1, cos and sin at the highest frequency.
    fn piece(&self, piece: &Piece) -> (Vec<(f64, f64)>, [f64; 3]) {
        let rule = gauss_legendre(16);
        let (middle, half) = (0.5 * (piece.from + piece.to), 0.5 * (piece.to - piece.from));
        let mut sums = [0.0; 3];
        let mut nodes = Vec::with_capacity(16);
        for (node, weight) in rule.nodes().iter().zip(rule.weights()) {
            let v = middle + half * node;
            let (u, slope) = piece.at(v);
            let (x, density) = self.measure.at(u);
            if !density.is_finite() {
                continue;
            }
            let x = x - self.measure.part.centre;
            let w = half * weight * density * slope;
            let (sin, cos) = float::sin_cos(self.highest * x);
            sums[0] += w;
            sums[1] += w * cos;
            sums[2] += w * sin;
            nodes.push((x, w));
        }
        (nodes, sums)
    }

    fn add(&mut self, piece: &Piece, depth: u32) {
        let middle = 0.5 * (piece.from + piece.to);
        let halves = [
            Piece {
                to: middle,
                ..*piece
            },
            Piece {
                from: middle,
                ..*piece
            },
        ];
        let (coarse, sums) = self.piece(piece);
        let (_, one) = self.piece(&halves[0]);
        let (_, two) = self.piece(&halves[1]);
        let off = (0..3)
            .map(|i| (sums[i] - one[i] - two[i]).abs())
            .fold(0.0, f64::max);
        // Sums of a piece round to about 1e-16.
        if off <= 2e-16 || depth >= 30 {
            self.error += 2.0 * off;
            self.nodes.extend(coarse);
        } else {
            self.add(&halves[0], depth + 1);
            self.add(&halves[1], depth + 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Both walks of the same law give the same sums of exp(itx).
    #[test]
    fn a_squared_rectangular_law_has_the_nodes_of_its_beta_law() {
        for (a, b) in [(1.0, 0.5), (0.5, 1.0)] {
            let law = Distribution::beta(-0.3, 1.2, a, b).unwrap();
            let part = Part::new(&law, 1.0).unwrap().1.unwrap();
            let Distribution::Beta(beta) = &part.law else {
                panic!("it is a beta law")
            };
            for highest in [0.0, 1.0, 6.0, 20.0, 40.0] {
                let quick = squared(beta, part.centre, highest).unwrap();
                let by_ends = Measure {
                    part: &part,
                    walk: Walk::Ends(Ends::of(beta)),
                };
                let (nodes, error) = by_ends.walked_nodes(highest);
                for share in [0.0, 0.3, 0.7, 1.0] {
                    let sum = |nodes: &[(f64, f64)]| {
                        nodes.iter().fold((0.0, 0.0), |(re, im), (x, w)| {
                            let (sin, cos) = float::sin_cos(share * highest * x);
                            (re + w * cos, im + w * sin)
                        })
                    };
                    let (one, other) = (sum(&quick), sum(&nodes));
                    let off = (one.0 - other.0).abs().max((one.1 - other.1).abs());
                    assert!(off < error + 1e-15, "{a} {b} {highest} {share} {off:e}");
                }
            }
            assert!(squared(beta, part.centre, 1e3).is_none());
        }
    }
}
