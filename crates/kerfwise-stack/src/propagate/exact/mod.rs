//! The whole distribution of an affine outcome, without sampling.

mod along;
mod comb;
mod convolution;
mod far;
mod form;
mod interval;
mod lattice;
mod measure;
mod part;
mod powers;
mod quadrature;
mod reach;
mod route;
pub(crate) mod semi;
mod smooth;
mod solved;
mod spliced;
mod sum;
mod tail;
#[cfg(test)]
mod tests;
mod tilt;
mod transform;

pub(crate) use along::Places;
pub(crate) use form::Form;
pub(crate) use measure::Target;
pub(crate) use quadrature::Kink;
pub(crate) use solved::Smoothness;
pub(crate) use sum::Sum;
pub(crate) use tail::Tail;

use crate::{Band, Bounded, Chance, CoverageInterval, Decline, Outcome, Propagation};
#[cfg(test)]
use kerfwise_source::Distribution;
use kerfwise_source::{Dimension, Quantity};

/// The whole distribution of an outcome, each number with an error bound.
///
/// An affine outcome is a constant plus coefficients times independent (or jointly normal) sources. Normal sources are merged,
/// and a route is chosen for the rest; `docs/methods.md` has the table of distributions, routes and accuracies.
///
/// Of an outcome that is not affine, but is so once one or two of its sources are held fixed,
/// [`Outcome::semi_exact`] gives the same answers: chances averaged over the nodes of a quadrature, and their bounds with
/// what two rules of that quadrature differ by.
///
/// The bounds cover truncation, aliasing, quadrature and rounding of the computation. They take estimates, half-widths
/// and limits to be exactly the numbers given.
///
/// A quantity of another dimension than the outcome's, or one that is not a number, has no place on its axis: chances are
/// then 0.5 with error 0.5.
///
/// ```
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Stack};
///
/// // Two rectangular errors of ±1 thou: a triangle from −2 to 2 thou.
/// let a = Source::new("a", 0.0.thou()).rectangular(1.0.thou()).build()?;
/// let b = Source::new("b", 0.0.thou()).rectangular(1.0.thou()).build()?;
/// let band = Band::within(1.0.thou())?;
/// let stack = Stack::builder()
///     .outcome("fit", &(Expr::source(&a) - Expr::source(&b)), band)
///     .build()?;
/// let fit = stack.outcome("fit").unwrap().exact()?;
/// let chance = fit.chance(&band);
/// assert!((chance.value.below - 0.125).abs() < 1e-15);
/// assert!((chance.value.inside - 0.75).abs() < 1e-15);
/// assert!(chance.error < 1e-14);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Exact {
    sum: Sum,
    dimension: Dimension,
    /// Names of the sources that were held at quadrature nodes.
    held: Vec<String>,
}

/// Nothing is known.
const UNKNOWN: Bounded<f64> = Bounded {
    value: 0.5,
    error: 0.5,
};

impl Exact {
    /// [`Propagation::Exact`], or [`Propagation::SemiExact`] where sources were held at the nodes of a quadrature.
    #[must_use]
    pub fn propagation(&self) -> Propagation {
        if self.held.is_empty() {
            Propagation::Exact
        } else {
            Propagation::SemiExact
        }
    }

    /// Names of the sources that were held at the nodes of a quadrature, since the outcome is not affine in them.
    #[must_use]
    pub fn held(&self) -> &[String] {
        &self.held
    }

    /// The route taken, by name: "normal", "one law", "sum over atoms", "truncated powers",
    /// "characteristic function, wrapped sum", "characteristic function, panels", "convolution", "conditioning".
    #[must_use]
    pub fn route(&self) -> &'static str {
        self.sum.route()
    }

    /// Mean; `None` where a source has none (Student t with ν ≤ 1), or where the rules of a quadrature find different ones.
    #[must_use]
    pub fn mean(&self) -> Option<Quantity> {
        self.sum.mean().map(|raw| self.quantity(raw))
    }

    /// Standard deviation; `None` where a source has none (Student t with ν ≤ 2), or as for the mean.
    #[must_use]
    pub fn standard_deviation(&self) -> Option<Quantity> {
        self.sum.standard_deviation().map(|raw| self.quantity(raw))
    }

    /// P(Y ≤ y).
    ///
    /// The error is absolute, mostly about 1e-13 and at most about 1e-11 where a stack is hard; in the lower tail it is
    /// also relative on the routes "one law", "truncated powers" and a "convolution" of such, and on all routes where every
    /// source is normal, rectangular, triangular (symmetric), trapezoidal, arcsine, exponential, discrete, empirical or a
    /// mixture of such: a chance of 1e-40 is then good to about 1e-12 of itself.
    #[must_use]
    pub fn cdf(&self, y: impl Into<Quantity>) -> Bounded<f64> {
        self.tail(Tail::AtMost, y.into())
    }

    /// P(Y > y), not as 1 − cdf. Its accuracy in the upper tail is that of [`cdf`](Self::cdf) in the lower one.
    #[must_use]
    pub fn sf(&self, y: impl Into<Quantity>) -> Bounded<f64> {
        self.tail(Tail::MoreThan, y.into())
    }

    /// Density per raw unit; `None` where the outcome has atoms.
    ///
    /// Infinite where the density has a pole, as at the ends of a single arcsine law.
    #[must_use]
    pub fn pdf(&self, y: impl Into<Quantity>) -> Option<Bounded<f64>> {
        match self.raw(y.into()) {
            Some(y) if y.is_finite() => self.sum.density(y),
            Some(_) => self.sum.density(0.0).map(|_| tail::sure(0.0)),
            None => self.sum.density(0.0).map(|_| Bounded {
                value: 0.0,
                error: f64::INFINITY,
            }),
        }
    }

    /// The smallest y with P(Y ≤ y) ≥ p; the error is in the raw unit.
    ///
    /// The ends of the support, maybe infinite, for p of 0 and below or 1 and above. Where the distribution function is
    /// flat at p, the error reaches over the flat part. NaN is taken as 1/2, with an infinite error.
    #[must_use]
    pub fn quantile(&self, p: f64) -> Bounded<Quantity> {
        let at = if p <= 0.5 {
            interval::place(&self.sum, Tail::AtMost, p)
        } else if p > 0.5 {
            interval::place(&self.sum, Tail::MoreThan, 1.0 - p)
        } else {
            Bounded {
                error: f64::INFINITY,
                ..interval::place(&self.sum, Tail::AtMost, 0.5)
            }
        };
        let raw = self.sum.outward(at.value);
        let rounding = if raw.is_finite() {
            f64::EPSILON * raw.abs()
        } else {
            0.0
        };
        Bounded {
            value: self.quantity(raw),
            error: at.error * self.sum.unit() + rounding,
        }
    }

    /// Chance of a band; the error bounds each of the three numbers.
    ///
    /// The limits belong to the band. The chances outside are computed themselves, not as what is left, so a small
    /// failure chance keeps its digits.
    #[must_use]
    pub fn chance(&self, band: &Band) -> Bounded<Chance> {
        if band.dimension() != self.dimension {
            return Bounded {
                value: Chance {
                    below: 0.25,
                    inside: 0.5,
                    above: 0.25,
                },
                error: 1.0,
            };
        }
        let (lower, upper) = band.raw();
        chance_between(&self.sum, lower, upper)
    }

    /// Probabilistically symmetric coverage interval (JCGM 101, 3.15).
    ///
    /// The level is kept between 0 and 1.
    #[must_use]
    pub fn symmetric_interval(&self, level: f64) -> CoverageInterval {
        let level = level_within(level);
        self.interval(interval::symmetric(&self.sum, level), level)
    }

    /// Shortest coverage interval (JCGM 101, 3.16).
    ///
    /// For a law of one peak the densities at both ends are equal. For one with several peaks it is the shortest that a
    /// walk over 17 lower tails finds, refined about the best.
    #[must_use]
    pub fn shortest_interval(&self, level: f64) -> CoverageInterval {
        let level = level_within(level);
        self.interval(interval::shortest(&self.sum, level), level)
    }

    fn interval(&self, (lower, upper): (f64, f64), level: f64) -> CoverageInterval {
        CoverageInterval {
            lower: self.quantity(self.sum.outward(lower)),
            upper: self.quantity(self.sum.outward(upper)),
            level,
        }
    }

    fn quantity(&self, raw: f64) -> Quantity {
        Quantity::new(raw, self.dimension)
    }

    fn raw(&self, y: Quantity) -> Option<f64> {
        (y.dimension() == self.dimension && !y.raw().is_nan()).then(|| y.raw())
    }

    fn tail(&self, tail: Tail, y: Quantity) -> Bounded<f64> {
        self.raw(y).map_or(UNKNOWN, |y| self.sum.fine_tail(tail, y))
    }
}

/// A coverage level within 0 and 1; what is not a number covers nothing.
fn level_within(level: f64) -> f64 {
    if level.is_nan() {
        0.0
    } else {
        level.clamp(0.0, 1.0)
    }
}

/// The three chances of a band: the two smaller ones are computed, the largest is what is left.
pub(crate) fn chance_between(sum: &Sum, lower: f64, upper: f64) -> Bounded<Chance> {
    let below = sum.tail(Tail::LessThan, lower);
    let above = sum.tail(Tail::MoreThan, upper);
    let error = below.error + above.error + f64::EPSILON;
    let value = if below.value > 0.5 {
        let inside = (sum.tail(Tail::AtLeast, lower).value - above.value).max(0.0);
        Chance {
            below: 1.0 - inside - above.value,
            inside,
            above: above.value,
        }
    } else if above.value > 0.5 {
        let inside = (sum.tail(Tail::AtMost, upper).value - below.value).max(0.0);
        Chance {
            below: below.value,
            inside,
            above: 1.0 - inside - below.value,
        }
    } else {
        Chance {
            below: below.value,
            inside: (1.0 - below.value - above.value).max(0.0),
            above: above.value,
        }
    };
    Bounded { value, error }
}

pub(crate) fn run(outcome: Outcome<'_>) -> Result<Exact, Decline> {
    let declined = |reasons| Decline::new(Propagation::Exact, reasons);
    let form = Form::of(outcome, &|_| false).map_err(declined)?;
    let places = outcome.band().map_or([f64::NAN; 2], |band| {
        let (lower, upper) = band.raw();
        [lower, upper]
    });
    let sum = Sum::first(form, &places).map_err(|why| declined(vec![why]))?;
    Ok(Exact {
        sum,
        dimension: outcome.dimension(),
        held: Vec::new(),
    })
}
