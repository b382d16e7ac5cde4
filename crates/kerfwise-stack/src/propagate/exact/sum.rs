//! A solved sum in raw units.

use super::along::Places;
use super::form::Form;
use super::lattice::Lattice;
use super::measure::Target;
use super::part::Part;
use super::quadrature::Kink;
use super::route::{self, Ask};
use super::solved::{Smoothness, Solved};
use super::tail::Tail;
use super::tilt::Tilt;
use crate::Bounded;

/// A sum with its route, counted in raw units.
#[derive(Debug, Clone)]
pub(crate) struct Sum {
    location: (f64, f64),
    unit: f64,
    /// Least and greatest value, in the unit.
    support: (f64, f64),
    /// Mean and standard deviation, in the unit, from the location.
    moments: (Option<f64>, Option<f64>),
    solved: Solved,
    /// For small chances, where the laws allow.
    tilt: Option<Tilt>,
    /// Errors of chances and of densities (in the unit) beyond those of the route.
    off: (f64, f64),
}

/// A chance whose error is more than this part of it is worth another inversion, where relative accuracy is asked for, and
/// where only some digits are.
const RELATIVE: f64 = 1e-9;
const SOME_DIGITS: f64 = 1e-3;

impl Sum {
    /// Solves one of the two sums of a form. `places` are of interest (raw).
    pub(crate) fn of(
        form: &Form,
        which: usize,
        location: (f64, f64),
        places: &[f64],
    ) -> Result<Self, String> {
        Self::made_of(form.parts[which].clone(), form, location, places)
    }

    /// Solves the first of the two sums, counted from the location of the form.
    pub(crate) fn first(mut form: Form, places: &[f64]) -> Result<Self, String> {
        let parts = std::mem::take(&mut form.parts[0]);
        Self::made_of(parts, &form, form.location(), places)
    }

    /// Solves both sums together.
    pub(crate) fn whole(form: &Form, places: &[f64]) -> Result<Self, String> {
        Self::made_of(form.parts.concat(), form, form.location(), places)
    }

    fn made_of(
        parts: Vec<Part>,
        form: &Form,
        location: (f64, f64),
        places: &[f64],
    ) -> Result<Self, String> {
        let centre: f64 = parts.iter().map(|p| p.centre).sum();
        let farthest = places
            .iter()
            .filter(|y| y.is_finite())
            .map(|y| (((y - location.0) - location.1) / form.unit - centre).abs())
            .fold(0.0, f64::max);
        let ask = Ask {
            farthest,
            snap: form.snap,
        };
        let support = parts
            .iter()
            .map(|p| p.law.support())
            .fold((0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1));
        let (moments, tilt) = (moments(&parts), Tilt::of(&parts));
        let solved = route::solve(parts, ask)?;
        Ok(Self {
            location,
            unit: form.unit,
            support,
            moments,
            // Where small chances keep their digits anyway, there is nothing to gain.
            tilt: tilt.filter(|_| solved.floor() > 0.0),
            solved,
            off: (0.0, 0.0),
        })
    }

    /// One of several sums in the same unit, with these chances; `None` where there is none.
    pub(super) fn one_of(sums: Vec<(f64, Self)>) -> Option<Self> {
        let (location, unit) = sums.first().map(|(_, sum)| (sum.location, sum.unit))?;
        let mut support = (f64::INFINITY, f64::NEG_INFINITY);
        let mut moments = (Some(0.0), Some(0.0));
        let mut solved = Vec::with_capacity(sums.len());
        for (weight, sum) in sums {
            let place = ((sum.location.0 - location.0) + (sum.location.1 - location.1)) / unit;
            support.0 = support.0.min(place + sum.support.0);
            support.1 = support.1.max(place + sum.support.1);
            let mean = sum.moments.0.map(|mean| place + mean);
            let square = mean.zip(sum.moments.1).map(|(m, sd)| m * m + sd * sd);
            moments.0 = moments.0.zip(mean).map(|(all, one)| all + weight * one);
            moments.1 = moments.1.zip(square).map(|(all, one)| all + weight * one);
            solved.push((weight, place, sum.solved));
        }
        let variance = moments.0.zip(moments.1).map(|(m, all)| all - m * m);
        Some(Self {
            location,
            unit,
            support,
            moments: (moments.0, variance.map(|variance| variance.max(0.0).sqrt())),
            solved: Solved::Mixture(solved),
            tilt: None,
            off: (0.0, 0.0),
        })
    }

    /// The same law from each of these places (raw) on, with its chance.
    pub(super) fn at_places(self, places: impl Iterator<Item = (f64, f64)>) -> Self {
        let places: Vec<(f64, f64)> = places.map(|(x, w)| (x / self.unit, w)).collect();
        let mean: f64 = places.iter().map(|(x, w)| x * w).sum();
        let strewn = places.iter().map(|(x, w)| w * (x - mean) * (x - mean));
        let variance: f64 = strewn.sum();
        let (least, most) = places
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), (x, _)| {
                (lo.min(*x), hi.max(*x))
            });
        let (own, sd) = self.moments;
        Self {
            support: (least + self.support.0, most + self.support.1),
            moments: (
                own.map(|own| own + mean),
                sd.map(|sd| (sd * sd + variance).sqrt()),
            ),
            solved: Solved::Lattice(Lattice::new(&places, 0.0, Some(self.solved))),
            tilt: None,
            ..self
        }
    }

    /// The same, said to have neither mean nor standard deviation.
    pub(super) fn without_moments(self) -> Self {
        Self {
            moments: (None, None),
            ..self
        }
    }

    /// With so much more error of chances, and of densities (raw).
    pub(super) fn with_error(mut self, chance: f64, density: f64) -> Self {
        self.off = (self.off.0 + chance, self.off.1 + density * self.unit);
        self
    }

    pub(crate) fn route(&self) -> &'static str {
        self.solved.route()
    }

    pub(super) fn solved(&self) -> &Solved {
        &self.solved
    }

    /// From raw to the unit.
    pub(super) fn inward(&self, y: f64) -> f64 {
        ((y - self.location.0) - self.location.1) / self.unit
    }

    /// From the unit to raw.
    pub(super) fn outward(&self, x: f64) -> f64 {
        self.location.0 + (self.location.1 + self.unit * x)
    }

    pub(super) fn unit(&self) -> f64 {
        self.unit
    }

    pub(super) fn support(&self) -> (f64, f64) {
        self.support
    }

    /// Mean and standard deviation in the unit, from the location.
    pub(super) fn moments(&self) -> (Option<f64>, Option<f64>) {
        self.moments
    }

    pub(crate) fn mean(&self) -> Option<f64> {
        self.moments.0.map(|mean| self.outward(mean))
    }

    pub(crate) fn standard_deviation(&self) -> Option<f64> {
        self.moments.1.map(|sd| self.unit * sd)
    }

    /// A chance with some digits, however small it is where the laws allow.
    pub(crate) fn tail(&self, tail: Tail, y: f64) -> Bounded<f64> {
        self.tail_to(SOME_DIGITS, tail, y)
    }

    /// The same with relative accuracy where the laws allow.
    pub(super) fn fine_tail(&self, tail: Tail, y: f64) -> Bounded<f64> {
        self.tail_to(RELATIVE, tail, y)
    }

    fn tail_to(&self, part: f64, tail: Tail, y: f64) -> Bounded<f64> {
        if y.is_infinite() {
            let (low, high) = tail.at_ends();
            return Bounded {
                value: if y > 0.0 { high } else { low },
                error: 0.0,
            };
        }
        let x = self.inward(y);
        // Beyond a finite end of the support nothing is left, whatever the route.
        let (lo, hi) = self.support;
        let slack = 8.0 * f64::EPSILON * (lo.abs().max(hi.abs()) + x.abs());
        if slack.is_finite() && (x < lo - slack || x > hi + slack) {
            let (low, high) = tail.at_ends();
            return Bounded {
                value: if x > hi { high } else { low },
                error: self.off.0,
            };
        }
        let mut chance = self.sharpened(part, tail, x, self.solved.tail(tail, x));
        chance.error += self.off.0;
        chance
    }

    /// A chance with relative accuracy at a place in the unit.
    pub(super) fn within(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let mut chance = self.solved.tail(tail, x);
        chance.error += self.off.0;
        self.refined(tail, x, chance)
    }

    /// A chance there that may be found once more with relative accuracy.
    pub(super) fn refined(&self, tail: Tail, x: f64, chance: Bounded<f64>) -> Bounded<f64> {
        self.sharpened(RELATIVE, tail, x, chance)
    }

    /// A chance as it is or, where its error is more than that part of it, found once more.
    fn sharpened(&self, part: f64, tail: Tail, x: f64, chance: Bounded<f64>) -> Bounded<f64> {
        // What would drown in other errors is left as it is.
        if chance.error <= part * chance.value || self.off.0 > 0.0 {
            return chance;
        }
        self.tilt
            .as_ref()
            .and_then(|tilt| tilt.tail(tail.is_lower(), x))
            .filter(|small| small.error < chance.error)
            .unwrap_or(chance)
    }

    pub(crate) fn density(&self, y: f64) -> Option<Bounded<f64>> {
        let at = self.solved.density(self.inward(y))?;
        Some(Bounded {
            value: at.value / self.unit,
            error: (at.error + self.off.1) / self.unit,
        })
    }

    /// Whether small chances keep their digits, near and far.
    pub(crate) fn keeps_small_chances(&self) -> bool {
        self.solved.floor() <= 0.0
    }

    /// Whether chances far beyond its extent have digits.
    pub(super) fn keeps_far_chances(&self) -> bool {
        self.tilt.is_some() && self.off.0 <= 0.0
    }

    /// What sums of equal steps need, raw; `None` where they do not serve.
    pub(crate) fn smoothness(&self) -> Option<Smoothness> {
        let inward = self.solved.smoothness()?;
        Some(Smoothness {
            centre: self.outward(inward.centre),
            range: (self.outward(inward.range.0), self.outward(inward.range.1)),
            outside: inward.outside,
            frequency: inward.frequency / self.unit,
        })
    }

    /// Chances below and above each of these places, and a bound of their errors; places must lie within the range of the
    /// [`smoothness`](Self::smoothness).
    pub(crate) fn tails_along(&self, places: Places) -> Option<(Vec<[f64; 2]>, f64)> {
        self.solved.tails_along(self.inward_all(places))
    }

    /// Densities there, and a bound of their errors.
    pub(crate) fn densities_along(&self, places: Places) -> Option<(Vec<f64>, f64)> {
        let (mut densities, error) = self.solved.densities_along(self.inward_all(places))?;
        for density in &mut densities {
            *density /= self.unit;
        }
        Some((densities, error / self.unit))
    }

    fn inward_all(&self, places: Places) -> Places {
        Places {
            from: self.inward(places.from),
            step: places.step / self.unit,
            count: places.count,
        }
    }

    /// Where the distribution function may have kinks, and marks of where it varies, raw.
    pub(crate) fn kinks(&self) -> Vec<Kink> {
        let mut kinks = self.solved.kinks();
        kinks.extend(self.solved.marks());
        for kink in &mut kinks {
            kink.at = self.outward(kink.at);
        }
        kinks
    }

    /// Where practically all of it lies, raw, and the chance of being outside.
    pub(crate) fn extent(&self) -> (f64, f64, f64) {
        let (lo, hi, outside) = self.solved.extent();
        (self.outward(lo), self.outward(hi), outside)
    }

    /// E g(Y), everything raw.
    pub(crate) fn expect(&self, target: &Target<'_>) -> Bounded<f64> {
        let g = |x: f64| (target.g)(self.outward(x));
        self.solved.expect(&Target {
            g: &g,
            inside: (self.inward(target.inside.0), self.inward(target.inside.1)),
            outside: target.outside,
            slack: target.slack,
            kinks: target
                .kinks
                .iter()
                .map(|k| Kink {
                    at: self.inward(k.at),
                    power: k.power,
                })
                .collect(),
        })
    }
}

/// Mean and standard deviation of a sum; `None` where a part has none.
fn moments(parts: &[Part]) -> (Option<f64>, Option<f64>) {
    let mean = parts.iter().map(|p| p.law.mean()).sum();
    let variance: Option<f64> = parts
        .iter()
        .map(|p| p.law.standard_deviation().map(|sd| sd * sd))
        .sum();
    (mean, variance.map(f64::sqrt))
}
