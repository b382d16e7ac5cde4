//! One independent term of the sum, counted from a reference point of its own.

use super::quadrature::Kink;
use super::smooth::{Smooth, inverse};
use super::tail::{Tail, rounded};
use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::special::{StudentCf, student_t_pdf};
use kerfwise_source::Distribution;
use std::f64::consts::FRAC_2_PI;
use std::sync::OnceLock;

/// What a law is made of, as far as the routes tell laws apart. Everything is counted from the centre of the part.
#[derive(Debug, Clone)]
pub(super) enum Shape {
    /// Standard deviation.
    Normal(f64),
    /// Half-widths of independent rectangles, the wider first: one is rectangular, two make a triangle or trapezoid.
    Rectangles(Vec<f64>),
    /// Half-width.
    Arcsine(f64),
    /// Student's t.
    Student(Student),
    /// Mean excess with its sign.
    Exponential(f64),
    /// Another continuous law of one peak.
    Smooth(Box<Smooth>),
    /// Values (from the centre) with their weights.
    Atoms(Vec<(f64, f64)>),
    /// Components: weight, place of its reference point (from the centre), and the law there unless it is a point.
    Mixture(Vec<Component>),
}

/// Student's t about zero, its constants kept.
#[derive(Debug, Clone)]
pub(super) struct Student {
    pub(super) scale: f64,
    /// Degrees of freedom.
    pub(super) nu: f64,
    /// Characteristic function of unit scale.
    cf: StudentCf,
    /// Density at zero.
    peak: f64,
}

impl Student {
    fn new(scale: f64, nu: f64) -> Self {
        Self {
            scale,
            nu,
            cf: StudentCf::new(nu),
            peak: student_t_pdf(0.0, nu) / scale,
        }
    }

    /// The density, to about 1e-15·ν relative.
    pub(super) fn density(&self, x: f64) -> f64 {
        let z = x / self.scale;
        self.peak * float::exp(-0.5 * (self.nu + 1.0) * float::ln_1p(z * z / self.nu))
    }

    /// The characteristic function at all nodes.
    pub(super) fn characteristic(&self, nodes: &[f64]) -> Vec<f64> {
        let mut column: Vec<f64> = nodes.iter().map(|t| self.scale * t).collect();
        self.cf.fill(&mut column);
        column
    }

    /// Logarithm of the characteristic function, which is positive and falls, and a bound of its fall: the logarithm is
    /// concave from ν = 1 on (the ratio of the Bessel functions of orders ν/2 − 1 and ν/2 rises to 1), and below that its
    /// slope is at least √ν.
    fn envelope(&self, t: f64) -> (f64, f64) {
        let t = self.scale * t;
        let log = float::ln(self.cf.at(t).max(f64::MIN_POSITIVE));
        let fall = if self.nu >= 1.0 {
            -log
        } else {
            self.nu.sqrt() * t
        };
        (log, fall)
    }
}

/// A part of a mixture.
#[derive(Debug, Clone)]
pub(super) struct Component {
    pub(super) weight: f64,
    /// Where its reference point lies, from the reference point of the mixture.
    pub(super) place: f64,
    /// `None` is a point.
    pub(super) part: Option<Part>,
}

/// One independent term of the sum.
#[derive(Debug, Clone)]
pub(super) struct Part {
    /// The law of the term, counted from its reference point.
    pub(super) law: Distribution,
    /// Its shape.
    pub(super) shape: Shape,
    /// The mean, from the reference point; a point amid the law where there is no mean.
    pub(super) centre: f64,
    /// Rough half-width: standard deviation, or the scale where there is none.
    pub(super) scale: f64,
    /// What takes quantiles of the law, found when first asked for.
    found: Found,
}

/// Kept answers of a part.
#[derive(Debug, Clone, Default)]
struct Found {
    extent: OnceLock<(f64, f64, f64)>,
    marks: OnceLock<Vec<f64>>,
}

/// Relative accuracy that the laws' own distribution functions are trusted with.
const ELEMENTARY: f64 = 4e-15;
const SPECIAL: f64 = 3e-14;

/// Chance that may be left outside of what is taken for the reach of an unbounded law.
pub(super) const OUTSIDE: f64 = 1e-60;
/// The same for Student's t, whose tails are too long for that.
const OUTSIDE_HEAVY: f64 = 1e-20;

impl Part {
    /// The term `factor`·X, as its reference point (in the unit of X) and the law about it; no law if it is a point.
    pub(super) fn new(law: &Distribution, factor: f64) -> Result<(f64, Option<Self>), String> {
        let reference = reference(law);
        if matches!(law, Distribution::Point(_)) {
            return Ok((reference, None));
        }
        let about = law
            .affine(factor, -(factor * reference))
            .map_err(|error| error.to_string())?;
        // A factor so small that the law collapses.
        if matches!(about, Distribution::Point(_)) {
            return Ok((reference, None));
        }
        let shape = shape(law, &about, factor)?;
        let centre = centre(&about, &shape);
        let scale = match (&shape, about.standard_deviation()) {
            (Shape::Student(student), _) => student.scale,
            (_, Some(sd)) => sd,
            _ => 0.5 * (about.quantile(0.75) - about.quantile(0.25)),
        };
        Ok((
            reference,
            Some(Self {
                law: about,
                shape,
                centre,
                scale,
                found: Found::default(),
            }),
        ))
    }

    /// A normal law of mean zero.
    pub(super) fn normal(sd: f64) -> Result<Self, String> {
        Ok(Self {
            law: Distribution::normal(0.0, sd).map_err(|error| error.to_string())?,
            shape: Shape::Normal(sd),
            centre: 0.0,
            scale: sd,
            found: Found::default(),
        })
    }

    /// Student's t with one degree of freedom, about zero.
    pub(super) fn cauchy(scale: f64) -> Result<Self, String> {
        Ok(Self {
            law: Distribution::student_t(0.0, scale, 1.0).map_err(|error| error.to_string())?,
            shape: Shape::Student(Student::new(scale, 1.0)),
            centre: 0.0,
            scale,
            found: Found::default(),
        })
    }

    pub(super) fn is_normal(&self) -> bool {
        matches!(self.shape, Shape::Normal(_))
    }

    /// Whether the tails fall off like a power.
    pub(super) fn is_heavy(&self) -> bool {
        match &self.shape {
            Shape::Student(..) => true,
            Shape::Mixture(parts) => parts
                .iter()
                .filter_map(|c| c.part.as_ref())
                .any(Self::is_heavy),
            _ => false,
        }
    }

    /// Whether some value has a chance of its own.
    #[cfg(test)]
    pub(super) fn has_atoms(&self) -> bool {
        match &self.shape {
            Shape::Atoms(_) => true,
            Shape::Mixture(parts) => parts
                .iter()
                .any(|c| c.part.as_ref().is_none_or(Self::has_atoms)),
            _ => false,
        }
    }

    /// Relative accuracy of the law's distribution function.
    fn accuracy(&self) -> f64 {
        match &self.shape {
            Shape::Student(..) | Shape::Smooth(_) | Shape::Mixture(_) => SPECIAL,
            _ => ELEMENTARY,
        }
    }

    /// A chance of the law. It has no atoms, so all four kinds are two.
    pub(super) fn tail(&self, tail: Tail, x: f64) -> Bounded<f64> {
        let value = if tail.is_lower() {
            self.law.cdf(x)
        } else {
            self.law.sf(x)
        };
        let mut at = rounded(value, self.accuracy());
        // Half-widths and the like were rounded once when the unit was changed, and x with them.
        let slope = self.law.pdf(x).unwrap_or(0.0) * x.abs() * 2.0 * f64::EPSILON;
        if slope.is_finite() {
            at.error += slope;
        } else {
            at.error += f64::EPSILON.sqrt();
        }
        at
    }

    /// The density.
    pub(super) fn density(&self, x: f64) -> Option<Bounded<f64>> {
        self.law.pdf(x).map(|y| rounded(y, self.accuracy()))
    }

    /// Where practically all of the law lies, and the chance of being outside.
    pub(super) fn extent(&self) -> (f64, f64, f64) {
        *self.found.extent.get_or_init(|| self.find_extent())
    }

    fn find_extent(&self) -> (f64, f64, f64) {
        let (lo, hi) = self.law.support();
        let outside = if self.is_heavy() {
            OUTSIDE_HEAVY
        } else {
            OUTSIDE
        };
        let mut beyond = 0.0;
        let lo = if lo.is_finite() {
            lo
        } else {
            beyond += outside;
            self.law.quantile(outside)
        };
        let hi = if hi.is_finite() {
            hi
        } else {
            beyond += outside;
            self.law.quantile_upper(outside)
        };
        (lo, hi, beyond)
    }

    /// An upper bound of the density.
    pub(super) fn peak(&self) -> f64 {
        match &self.shape {
            Shape::Normal(sd) => 0.399 / sd,
            Shape::Rectangles(halves) => 0.5 / halves[0],
            Shape::Arcsine(_) | Shape::Atoms(_) => f64::INFINITY,
            Shape::Student(student) => student.peak,
            Shape::Exponential(mean) => 1.0 / mean.abs(),
            Shape::Smooth(smooth) => 0.5 * smooth.variation,
            Shape::Mixture(parts) => parts
                .iter()
                .map(|c| c.weight * c.part.as_ref().map_or(f64::INFINITY, Self::peak))
                .sum(),
        }
    }

    /// Where the distribution function is not analytic.
    pub(super) fn kinks(&self) -> Vec<Kink> {
        match (&self.shape, &self.law) {
            (Shape::Rectangles(halves), _) => signed_sums(halves).map(Kink::corner).collect(),
            (Shape::Arcsine(half), _) => vec![Kink::root(-half, 2), Kink::root(*half, 2)],
            (Shape::Exponential(_), _) => vec![Kink::corner(0.0)],
            (_, Distribution::Triangular(law)) => [law.lower(), law.peak(), law.upper()]
                .map(Kink::corner)
                .to_vec(),
            (_, Distribution::CurvilinearTrapezoid(law)) => curvilinear_kinks(law),
            (_, Distribution::Beta(law)) => {
                vec![
                    Kink::root(law.lower(), power_of(law.a())),
                    Kink::root(law.upper(), power_of(law.b())),
                ]
            }
            (_, Distribution::TruncatedNormal(law)) => [law.lower(), law.upper()]
                .into_iter()
                .filter(|x| x.is_finite())
                .map(Kink::corner)
                .collect(),
            (_, Distribution::TwoPieceNormal(law)) => vec![Kink::corner(law.mode())],
            (_, Distribution::Lognormal(law)) => vec![Kink::corner(law.origin())],
            (Shape::Atoms(atoms), _) => atoms
                .iter()
                .map(|(x, _)| Kink::corner(self.centre + x))
                .collect(),
            (Shape::Mixture(parts), _) => parts.iter().flat_map(Component::kinks).collect(),
            _ => Vec::new(),
        }
    }

    /// Places that tell a quadrature the size and site of the law.
    pub(super) fn marks(&self) -> &[f64] {
        self.found.marks.get_or_init(|| self.find_marks())
    }

    fn find_marks(&self) -> Vec<f64> {
        match &self.shape {
            Shape::Rectangles(_) | Shape::Arcsine(_) => vec![self.centre],
            Shape::Normal(sd) => [-8.5, -3.0, 0.0, 3.0, 8.5].map(|k| k * sd).to_vec(),
            Shape::Exponential(mean) => [1.0, 3.0, 10.0, 40.0].map(|k| k * mean).to_vec(),
            Shape::Student(student) => {
                let mut marks = vec![0.0];
                let mut x = 2.0 * student.scale;
                let (_, most, _) = self.extent();
                // Powers fall slowly: a mark every two octaves, up to where nothing is left.
                while x < most && marks.len() < 120 {
                    marks.extend([-x, x]);
                    x *= 4.0;
                }
                marks
            }
            Shape::Smooth(_) => {
                let mut marks: Vec<f64> = [1e-16, 1e-9, 1e-4, 0.02, 0.2]
                    .iter()
                    .flat_map(|&p| [self.law.quantile(p), self.law.quantile_upper(p)])
                    .collect();
                marks.push(self.law.quantile(0.5));
                marks
            }
            Shape::Atoms(_) => Vec::new(),
            Shape::Mixture(parts) => parts
                .iter()
                .flat_map(|c| {
                    let marks = c.part.as_ref().map_or(&[][..], Self::marks);
                    marks.iter().map(|x| x + c.place)
                })
                .collect(),
        }
    }

    /// Logarithm of a bound of |φ(t)| that does not rise with t, and a bound from below of its fall −dln/dln t from t on.
    pub(super) fn envelope(&self, t: f64) -> (f64, f64) {
        match &self.shape {
            Shape::Normal(sd) => {
                let square = sd * t * (sd * t);
                (-0.5 * square, square)
            }
            // |sin(ht)/(ht)| ≤ 1/(ht).
            Shape::Rectangles(halves) => halves.iter().fold((0.0, 0.0), |(log, fall), h| {
                let (one, slope) = inverse(h * t);
                (log + one, fall + slope)
            }),
            // |J0(x)| ≤ sqrt(2/(πx)).
            Shape::Arcsine(half) => {
                let x = half * t / FRAC_2_PI;
                if x > 1.0 {
                    (-0.5 * float::ln(x), 0.5)
                } else {
                    (0.0, 0.0)
                }
            }
            Shape::Student(student) => student.envelope(t),
            Shape::Exponential(mean) => {
                let square = mean * t * (mean * t);
                (-0.5 * float::ln_1p(square), square / (1.0 + square))
            }
            Shape::Smooth(smooth) => smooth.envelope(t),
            Shape::Atoms(_) => (0.0, 0.0),
            Shape::Mixture(parts) => {
                let (mut total, mut least) = (0.0, f64::INFINITY);
                for c in parts {
                    let (log, fall) = c.part.as_ref().map_or((0.0, 0.0), |p| p.envelope(t));
                    total += c.weight * float::exp(log);
                    least = least.min(fall);
                }
                (float::ln(total.min(1.0)), least)
            }
        }
    }
}

impl Component {
    fn kinks(&self) -> Vec<Kink> {
        let mut kinks = self
            .part
            .as_ref()
            .map_or_else(|| vec![Kink::corner(0.0)], Part::kinks);
        for kink in &mut kinks {
            kink.at += self.place;
        }
        kinks
    }
}

/// All sums of half-widths with either sign.
pub(super) fn signed_sums(halves: &[f64]) -> impl Iterator<Item = f64> {
    let halves = halves.to_vec();
    (0..1_usize << halves.len()).map(move |signs| {
        halves
            .iter()
            .enumerate()
            .map(|(i, h)| if signs >> i & 1 == 1 { -h } else { *h })
            .sum()
    })
}

/// The power that smooths d^shape.
fn power_of(shape: f64) -> u8 {
    if shape % 1.0 == 0.0 {
        1
    } else if shape % 0.5 == 0.0 {
        2
    } else {
        4
    }
}

fn curvilinear_kinks(law: &kerfwise_source::distribution::CurvilinearTrapezoid) -> Vec<Kink> {
    let (middle, half, d) = (law.midpoint(), law.half_width(), law.d());
    let mut kinks = vec![
        Kink::corner(middle - half - d),
        Kink::corner(middle + half + d),
    ];
    if half - d > 0.0 {
        kinks.extend([half - d, d - half].map(|x| Kink::corner(middle + x)));
    } else {
        // The flat top has gone and left a logarithm.
        kinks.push(Kink::root(middle, 3));
    }
    kinks
}

/// The point from which a law is counted, so that nothing is lost to cancellation about it.
fn reference(law: &Distribution) -> f64 {
    match law {
        Distribution::Point(law) => law.value(),
        Distribution::Normal(law) => law.mean(),
        Distribution::Rectangular(law) => law.midpoint(),
        Distribution::Triangular(law) => law.peak(),
        Distribution::Trapezoidal(law) => law.midpoint(),
        Distribution::CurvilinearTrapezoid(law) => law.midpoint(),
        Distribution::Arcsine(law) => law.midpoint(),
        Distribution::StudentT(law) => law.location(),
        Distribution::Exponential(law) => law.origin(),
        Distribution::Lognormal(law) => law.origin(),
        Distribution::Beta(law) => law.lower(),
        Distribution::TruncatedNormal(law) => [law.lower(), law.upper(), law.parent_mean()]
            .into_iter()
            .find(|x| x.is_finite())
            .unwrap_or(0.0),
        Distribution::TwoPieceNormal(law) => law.mode(),
        Distribution::Discrete(law) => law.values()[0],
        Distribution::Empirical(law) => law.readings()[0],
        Distribution::Mixture(law) => reference(&law.parts()[0].1),
        _ => 0.0,
    }
}

fn centre(about: &Distribution, shape: &Shape) -> f64 {
    match shape {
        Shape::Normal(_) | Shape::Rectangles(_) | Shape::Arcsine(_) | Shape::Student(..) => 0.0,
        _ => about.mean().unwrap_or_else(|| about.quantile(0.5)),
    }
}

/// The shape of `factor`·X; `about` is its law about the reference point.
fn shape(law: &Distribution, about: &Distribution, factor: f64) -> Result<Shape, String> {
    let size = factor.abs();
    Ok(match law {
        Distribution::Normal(law) => Shape::Normal(size * law.sd()),
        Distribution::Rectangular(law) => Shape::Rectangles(vec![size * law.half_width()]),
        Distribution::Triangular(one) if law.centre_of_symmetry().is_some() => {
            let quarter = size * 0.25 * (one.upper() - one.lower());
            Shape::Rectangles(vec![quarter, quarter])
        }
        Distribution::Trapezoidal(law) => {
            let (half, top) = (0.5 * size * law.half_width(), law.top_ratio());
            let mut halves = vec![half * (1.0 + top), half * (1.0 - top)];
            halves.retain(|h| *h > 0.0);
            Shape::Rectangles(halves)
        }
        Distribution::Arcsine(law) => Shape::Arcsine(size * law.half_width()),
        Distribution::StudentT(law) => {
            Shape::Student(Student::new(size * law.scale(), law.degrees_of_freedom()))
        }
        Distribution::Exponential(law) => Shape::Exponential(factor * law.mean_excess()),
        Distribution::Discrete(one) => {
            let centre = law.mean().unwrap_or(0.0);
            let probabilities = one.probabilities().iter();
            Shape::Atoms(
                one.values()
                    .iter()
                    .zip(probabilities)
                    .map(|(x, p)| (factor * (x - centre), *p))
                    .collect(),
            )
        }
        Distribution::Empirical(one) => {
            let centre = law.mean().unwrap_or(0.0);
            let weight = 1.0 / one.readings().len() as f64;
            Shape::Atoms(
                one.readings()
                    .iter()
                    .map(|x| (factor * (x - centre), weight))
                    .collect(),
            )
        }
        Distribution::Mixture(mixture) => {
            let origin = reference(law);
            let mut components = Vec::with_capacity(mixture.parts().len());
            for (weight, inner) in mixture.parts() {
                let (place, part) = Part::new(inner, factor)?;
                components.push(Component {
                    weight: *weight,
                    place: factor * (place - origin),
                    part,
                });
            }
            Shape::Mixture(components)
        }
        _ => {
            let centre = about.mean().unwrap_or_else(|| about.quantile(0.5));
            Shape::Smooth(Box::new(Smooth::new(about, centre)))
        }
    })
}
