//! A sum of independent laws with the route by which its chances are found.

use super::along::Places;
use super::convolution::Convolution;
use super::lattice::Lattice;
use super::measure::{Measure, Target};
use super::part::Part;
use super::powers::Powers;
use super::quadrature::{Effort, Kink, between, integrate};
use super::spliced::Spliced;
use super::tail::{Tail, chance, sure};
use super::transform::Transform;
use crate::Bounded;
use kerfwise_numeric::sum::CompensatedSum;

/// A solved sum. Every kind answers the same few questions.
#[derive(Debug, Clone)]
pub(super) enum Solved {
    /// Atoms, with or without a continuous rest.
    Lattice(Lattice),
    /// One law.
    Law(Box<Part>),
    /// Inversion of the characteristic function.
    Transform(Box<Transform>),
    /// Inversion near, convolution far out in heavy tails.
    Spliced(Box<Spliced>),
    /// Truncated powers.
    Powers(Box<Powers>),
    /// Convolution.
    Convolution(Box<Convolution>),
    /// Weight, place and sum.
    Mixture(Vec<(f64, f64, Self)>),
}

/// What makes a law fit for sums of equal steps: an analytic density, seen on a range.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Smoothness {
    /// A place amid the law, about which it may be even.
    pub(crate) centre: f64,
    /// The places that are served, and a bound of the chance of being outside.
    pub(crate) range: (f64, f64),
    pub(crate) outside: f64,
    /// The highest frequency that is heard.
    pub(crate) frequency: f64,
}

/// Standard deviations beyond which, and times the frequency from which on, nothing is left of a normal law: 2e-19.
const GAUSSIAN: f64 = 9.0;

/// How hard expectations over smooth densities try.
const EFFORT: Effort = Effort {
    relative: 1e-14,
    absolute: 0.0,
    evaluations: 6000,
};

impl Solved {
    /// The route, by name.
    pub(super) fn route(&self) -> &'static str {
        match self {
            Self::Lattice(lattice) if lattice.rest().is_none() => "sum over atoms",
            Self::Lattice(_) | Self::Mixture(_) => "conditioning",
            Self::Law(part) if part.is_normal() => "normal",
            Self::Law(_) => "one law",
            Self::Transform(transform) if transform.is_wrapped() => {
                "characteristic function, wrapped sum"
            }
            Self::Transform(_) | Self::Spliced(_) => "characteristic function, panels",
            Self::Powers(_) => "truncated powers",
            Self::Convolution(_) => "convolution",
        }
    }

    /// One chance.
    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        match self {
            Self::Lattice(lattice) => lattice.tail(tail, x),
            Self::Law(part) => part.tail(tail, x),
            Self::Transform(transform) => transform.tail(tail, x),
            Self::Spliced(spliced) => spliced.tail(tail, x),
            Self::Powers(powers) => powers.tail(tail, x),
            Self::Convolution(convolution) => convolution.tail(tail, x),
            Self::Mixture(parts) => {
                let (mut value, mut error) = (CompensatedSum::new(), 0.0);
                for (weight, place, part) in parts {
                    let one = part.tail(tail, x - place);
                    value.add(weight * one.value);
                    error += weight * (one.error + 2.0 * f64::EPSILON * one.value);
                }
                chance(value.value(), error)
            }
        }
    }

    /// The density; `None` where there are atoms.
    pub(super) fn density(&self, x: f64) -> Option<Bounded<f64>> {
        match self {
            Self::Lattice(lattice) => lattice.density(x),
            Self::Law(part) => part.density(x),
            Self::Transform(transform) => Some(transform.density(x)),
            Self::Spliced(spliced) => spliced.density(x),
            Self::Powers(powers) => Some(powers.density(x)),
            Self::Convolution(convolution) => convolution.density(x),
            Self::Mixture(parts) => {
                let mut sum = sure(0.0);
                for (weight, place, part) in parts {
                    let one = part.density(x - place)?;
                    sum.value += weight * one.value;
                    sum.error += weight * (one.error + 4.0 * f64::EPSILON * one.value);
                }
                Some(sum)
            }
        }
    }

    /// Both at once, where that costs less.
    pub(super) fn tail_and_density(
        &self,
        tail: Tail,
        x: f64,
    ) -> Option<(Bounded<f64>, Bounded<f64>)> {
        match self {
            Self::Transform(transform) => transform.tail_and_density(tail, x),
            Self::Spliced(spliced) => spliced.near().tail_and_density(tail, x),
            _ => None,
        }
    }

    /// Where practically all of it lies, and a bound of the chance of being outside.
    pub(super) fn extent(&self) -> (f64, f64, f64) {
        match self {
            Self::Lattice(lattice) => lattice.extent(),
            Self::Law(part) => part.extent(),
            Self::Transform(transform) => transform.extent(),
            Self::Spliced(spliced) => spliced.extent(),
            Self::Powers(powers) => powers.extent(),
            Self::Convolution(convolution) => convolution.extent(),
            Self::Mixture(parts) => {
                let mut all = (f64::INFINITY, f64::NEG_INFINITY, 0.0);
                for (weight, place, part) in parts {
                    let (lo, hi, outside) = part.extent();
                    all = (
                        all.0.min(lo + place),
                        all.1.max(hi + place),
                        all.2 + weight * outside,
                    );
                }
                all
            }
        }
    }

    /// A bound of the density; infinite where there is none or it is not known.
    pub(super) fn peak(&self) -> f64 {
        match self {
            Self::Lattice(lattice) => lattice.rest().map_or(f64::INFINITY, Self::peak),
            Self::Law(part) => part.peak(),
            Self::Transform(transform) => transform.peak(),
            Self::Spliced(spliced) => spliced.near().peak(),
            Self::Powers(powers) => powers.peak(),
            Self::Convolution(convolution) => convolution.peak(),
            Self::Mixture(parts) => parts.iter().map(|(w, _, part)| w * part.peak()).sum(),
        }
    }

    /// Where the distribution function is not analytic.
    pub(super) fn kinks(&self) -> Vec<Kink> {
        let shifted = |kinks: Vec<Kink>, by: f64| {
            kinks.into_iter().map(move |k| Kink {
                at: k.at + by,
                power: k.power,
            })
        };
        match self {
            Self::Lattice(lattice) => match lattice.rest() {
                None => lattice.atoms().map(|(x, _)| Kink::corner(x)).collect(),
                Some(rest) => lattice
                    .atoms()
                    .flat_map(|(x, _)| shifted(rest.kinks(), x))
                    .collect(),
            },
            Self::Law(part) => part.kinks(),
            Self::Transform(_) | Self::Spliced(_) => Vec::new(),
            Self::Powers(powers) => powers.kinks(),
            Self::Convolution(convolution) => convolution.kinks(),
            Self::Mixture(parts) => parts
                .iter()
                .flat_map(|(_, place, part)| shifted(part.kinks(), *place))
                .collect(),
        }
    }

    /// Marks that tell a quadrature where it varies.
    pub(super) fn marks(&self) -> Vec<Kink> {
        match self {
            // A handful of atoms with a narrow rest each.
            Self::Lattice(lattice) => lattice.rest().map_or_else(Vec::new, |rest| {
                let marks = rest.marks();
                lattice
                    .atoms()
                    .take(64)
                    .flat_map(|(x, _)| marks.iter().map(move |k| Kink::corner(k.at + x)))
                    .collect()
            }),
            Self::Law(part) => part.marks().iter().copied().map(Kink::corner).collect(),
            Self::Transform(transform) => transform.marks(),
            Self::Spliced(spliced) => spliced.marks(),
            Self::Powers(_) => Vec::new(),
            Self::Convolution(convolution) => convolution.marks(),
            Self::Mixture(parts) => parts
                .iter()
                .flat_map(|(_, place, part)| {
                    part.marks()
                        .into_iter()
                        .map(move |k| Kink::corner(k.at + place))
                })
                .collect(),
        }
    }

    /// Rough half-width.
    pub(super) fn scale(&self) -> f64 {
        match self {
            Self::Law(part) => part.scale,
            Self::Convolution(convolution) => convolution.scale(),
            Self::Transform(transform) => transform.scale(),
            Self::Spliced(spliced) => spliced.near().scale(),
            Self::Lattice(_) | Self::Powers(_) | Self::Mixture(_) => {
                let (lo, hi, _) = self.extent();
                0.25 * (hi - lo)
            }
        }
    }

    /// Saves the bounds of far tails of transforms, for something that only averages over chances.
    pub(super) fn make_plain(&mut self) {
        match self {
            Self::Transform(transform) => transform.make_plain(),
            Self::Spliced(spliced) => spliced.make_plain(),
            Self::Mixture(parts) => parts.iter_mut().for_each(|part| part.2.make_plain()),
            Self::Lattice(_) | Self::Law(_) | Self::Powers(_) | Self::Convolution(_) => {}
        }
    }

    /// An absolute error of chances that no effort undercuts.
    pub(super) fn floor(&self) -> f64 {
        match self {
            Self::Law(_) | Self::Powers(_) => 0.0,
            Self::Transform(transform) => transform.floor(),
            Self::Spliced(spliced) => spliced.near().floor(),
            Self::Convolution(convolution) => convolution.floor(),
            Self::Lattice(lattice) => lattice.rest().map_or(0.0, Self::floor),
            Self::Mixture(parts) => parts.iter().map(|(w, _, part)| w * part.floor()).sum(),
        }
    }

    /// Convolutions within convolutions.
    pub(super) fn depth(&self) -> u32 {
        match self {
            Self::Convolution(convolution) => convolution.depth(),
            Self::Mixture(parts) => parts.iter().map(|p| p.2.depth()).max().unwrap_or(0),
            _ => 0,
        }
    }

    /// `None` where the density may have kinks, or is not had by turning.
    pub(super) fn smoothness(&self) -> Option<Smoothness> {
        match self {
            Self::Law(part) => {
                let sd = part.is_normal().then_some(part.scale)?;
                Some(Smoothness {
                    centre: part.centre,
                    range: (part.centre - GAUSSIAN * sd, part.centre + GAUSSIAN * sd),
                    outside: 4e-19,
                    frequency: GAUSSIAN / sd,
                })
            }
            Self::Transform(transform) => Some(transform.smoothness()),
            Self::Spliced(spliced) => Some(spliced.near().smoothness()),
            Self::Lattice(_) | Self::Powers(_) | Self::Convolution(_) | Self::Mixture(_) => None,
        }
    }

    /// Chances below and above each of these places, which must be served, and a bound of their errors; for
    /// those that have a [`smoothness`](Self::smoothness).
    pub(super) fn tails_along(&self, places: Places) -> Option<(Vec<[f64; 2]>, f64)> {
        match self {
            Self::Law(part) => {
                let mut error = 0.0_f64;
                let both = |x: f64| {
                    [Tail::AtMost, Tail::MoreThan].map(|tail| {
                        let chance = part.tail(tail, x);
                        error = error.max(chance.error);
                        chance.value
                    })
                };
                let tails = places.iter().map(both).collect();
                Some((tails, error))
            }
            Self::Transform(transform) => Some(transform.tails_along(places)),
            Self::Spliced(spliced) => Some(spliced.near().tails_along(places)),
            Self::Lattice(_) | Self::Powers(_) | Self::Convolution(_) | Self::Mixture(_) => None,
        }
    }

    /// Densities there, and a bound of their errors.
    pub(super) fn densities_along(&self, places: Places) -> Option<(Vec<f64>, f64)> {
        match self {
            Self::Law(part) => {
                let mut error = 0.0_f64;
                let densities = places
                    .iter()
                    .map(|x| {
                        let density = part.density(x)?;
                        error = error.max(density.error);
                        Some(density.value)
                    })
                    .collect::<Option<_>>()?;
                Some((densities, error))
            }
            Self::Transform(transform) => Some(transform.densities_along(places)),
            Self::Spliced(spliced) => Some(spliced.near().densities_along(places)),
            Self::Lattice(_) | Self::Powers(_) | Self::Convolution(_) | Self::Mixture(_) => None,
        }
    }

    /// E g(Y).
    pub(super) fn expect(&self, target: &Target<'_>) -> Bounded<f64> {
        match self {
            Self::Law(part) => Measure::new(part).expect(target, EFFORT),
            Self::Convolution(convolution) => convolution.expect(target),
            Self::Lattice(lattice) => {
                let places: Vec<(f64, f64)> = lattice.atoms().collect();
                weighted(target, places.iter().map(|(x, w)| (*w, *x, lattice.rest())))
            }
            Self::Mixture(parts) => weighted(
                target,
                parts.iter().map(|(w, x, part)| (*w, *x, Some(part))),
            ),
            Self::Transform(_) | Self::Spliced(_) | Self::Powers(_) => self.over_density(target),
        }
    }

    /// An end of the range, drawn in from far out to where what lies beyond still does not matter: g only comes nearer to
    /// its value outside from there on.
    fn drawn_in(&self, target: &Target<'_>, tail: Tail, end: f64) -> f64 {
        let outside = if tail.is_lower() {
            target.outside.0
        } else {
            target.outside.1
        };
        let scale = 8.0 * self.scale();
        let mut x = if end < 0.0 { -scale } else { scale };
        while x.abs() < end.abs() {
            let beyond = self.tail(tail, x);
            if (beyond.value + beyond.error) * ((target.g)(x).value - outside).abs() < 1e-18 {
                return x;
            }
            x *= 2.0;
        }
        end
    }

    /// E g(Y) by quadrature over the density.
    fn over_density(&self, target: &Target<'_>) -> Bounded<f64> {
        let (least, most, outside) = self.extent();
        let lo = self.drawn_in(target, Tail::LessThan, target.inside.0.clamp(least, most));
        let hi = self
            .drawn_in(target, Tail::MoreThan, target.inside.1.clamp(least, most))
            .max(lo);
        let mut kinks = self.kinks();
        kinks.extend(self.marks());
        kinks.extend(target.kinks.iter().copied());
        let below = self.tail(Tail::LessThan, lo);
        let above = self.tail(Tail::MoreThan, hi);
        let (a, b) = target.outside;
        let known = a * below.value + b * above.value;
        let effort = Effort {
            absolute: EFFORT.relative * known.abs(),
            ..EFFORT
        };
        let mut answer = integrate(&between(kinks, lo, hi), effort, |x| {
            let density = self.density(x).unwrap_or(sure(0.0));
            let y = (target.g)(x);
            Bounded {
                value: density.value * y.value,
                error: density.value * y.error + density.error * y.value.abs(),
            }
        });
        answer.value += known;
        // Where the range was drawn in, g is off from its value outside, at most by what it is off at the end.
        let off = |x: f64, outside: f64| ((target.g)(x).value - outside).abs();
        answer.error += a.abs() * below.error
            + b.abs() * above.error
            + if lo > target.inside.0 {
                below.value * off(lo, a)
            } else {
                0.0
            }
            + if hi < target.inside.1 {
                above.value * off(hi, b)
            } else {
                0.0
            }
            + target.slack * (below.value + above.value)
            + outside;
        answer
    }
}

/// A weighted sum of expectations, each about its own place; a part that is not there is a point.
fn weighted<'a>(
    target: &Target<'_>,
    parts: impl Iterator<Item = (f64, f64, Option<&'a Solved>)>,
) -> Bounded<f64> {
    let (mut value, mut error) = (CompensatedSum::new(), 0.0);
    for (weight, place, part) in parts {
        let one = match part {
            None if place < target.inside.0 => Bounded {
                value: target.outside.0,
                error: target.slack,
            },
            None if place > target.inside.1 => Bounded {
                value: target.outside.1,
                error: target.slack,
            },
            None => (target.g)(place),
            Some(part) => {
                let g = |x: f64| (target.g)(x + place);
                part.expect(&Target {
                    g: &g,
                    inside: (target.inside.0 - place, target.inside.1 - place),
                    outside: target.outside,
                    slack: target.slack,
                    kinks: target
                        .kinks
                        .iter()
                        .map(|k| Kink {
                            at: k.at - place,
                            power: k.power,
                        })
                        .collect(),
                })
            }
        };
        value.add(weight * one.value);
        error += weight * one.error + 2.0 * f64::EPSILON * (weight * one.value).abs();
    }
    Bounded {
        value: value.value(),
        error,
    }
}
