//! Batches whose pieces have several fits: how many pieces have all of them.
//!
//! ```text
//! Y_j = location_j + a_j S + b_j T + W_j
//! p(s) = E Π_j P(lower_j ≤ location_j + a_j s + b_j T + W_j ≤ upper_j)
//! P(k of n) = E [ C(n, k) p(S)^k (1 − p(S))^(n − k) ]
//! ```
//! S is what all pieces share, T what the fits of one piece share (the slip of a loose tenon, say), `W_j` what a fit has alone.
//! Both expectations are sums over nodes, where S and T are each one number, however many sources they are made of.

use super::{BatchForecast, BatchOptions, Mixture};
use crate::Error;
use crate::affine::{self, Affine, Term};
use crate::curve::{Curve, middle_of, width_of};
use crate::rule::Rule;
use kerfwise_source::{CorrelationMatrix, Dimension, Event};
use kerfwise_stack::{Bounded, Chance, Exact, Stack};

/// Nodes of S times nodes of T times fits, at most.
const MOST_WORK: usize = 20_000_000;

impl BatchForecast {
    /// The forecast for several outcomes of a stack: a piece fits when each of them lies in its band.
    ///
    /// What the pieces share must come to one number, which each outcome takes with a factor of its own, and so must
    /// what the outcomes of one piece share; how many sources make them up does not matter. In `one`, a piece is above
    /// where some outcome is above its band, and below where some is below and none above.
    ///
    /// # Errors
    ///
    /// As [`of`](Self::of), when no outcome is named or one twice, and when pieces or outcomes share more than one number, or
    /// an outcome has nothing of its own that differs from piece to piece: the error says so, and
    /// [`simulated_all`](Self::simulated_all) answers by sampling.
    ///
    /// ```
    /// use kerfwise_decide::{BatchForecast, BatchOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// // Two mortises of each piece, rectangular within ±4 thou, must both lie within ±3: nine in sixteen do.
    /// let end = |name| Source::new(name, 0.inch()).rectangular(4.thou()).event(Event::piece()).build();
    /// let (rail, leg) = (end("rail")?, end("leg")?);
    /// let band = Band::within(3.thou())?;
    /// let stack = Stack::builder()
    ///     .outcome("fit_rail", &Expr::source(&rail), band)
    ///     .outcome("fit_leg", &Expr::source(&leg), band)
    ///     .build()?;
    /// let batch = BatchForecast::of_all(&stack, &["fit_rail", "fit_leg"], &BatchOptions::of(2))?;
    /// assert!((batch.one.value.inside - 9.0 / 16.0).abs() < 1e-12);
    /// assert!((batch.all() - 81.0 / 256.0).abs() < 1e-12);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of_all(stack: &Stack, outcomes: &[&str], options: &BatchOptions) -> Result<Self, Error> {
        options.check()?;
        let fits = Fits::of(stack, outcomes, &options.event)?;
        Ok(fits.mixture(options.pieces)?.forecast(options))
    }
}

/// One outcome, seen from S and T.
struct Fit {
    /// Limits less the location.
    limits: (f64, f64),
    /// Factors of S and T.
    factors: (f64, f64),
    own: Exact,
    curve: Curve,
}

/// A number that several outcomes take, each with a factor of its own.
struct Common {
    law: Option<Exact>,
    dimension: Dimension,
}

struct Fits {
    fits: Vec<Fit>,
    shared: Common,
    piece: Common,
}

/// A source with its coefficient in each outcome.
struct Spread {
    term: Term,
    coefficients: Vec<f64>,
}

impl Fits {
    fn of(stack: &Stack, names: &[&str], event: &Event) -> Result<Self, Error> {
        let mut forms = Vec::new();
        let mut limits = Vec::new();
        for (outcome, band) in super::banded(stack, names)? {
            let form = Affine::of(outcome)?;
            let (lower, upper) = band.raw();
            limits.push((lower - form.location, upper - form.location));
            forms.push(form);
        }
        let (mut shared, mut common) = (Vec::new(), Vec::new());
        let mut own: Vec<Vec<Term>> = vec![Vec::new(); forms.len()];
        for spread in spreads(&forms) {
            let mut takers = (0..forms.len()).filter(|&j| spread.coefficients[j] != 0.0);
            match (takers.next(), takers.next()) {
                _ if !spread.term.source.event().is_redrawn_by(event) => shared.push(spread),
                (Some(only), None) => own[only].push(spread.term),
                _ => common.push(spread),
            }
        }
        let matrix = stack.correlations();
        refuse_correlated(&shared, &common, &own, matrix)?;
        let (shared, a) = one_number(&shared, "all pieces", &forms, matrix)?;
        let (piece, b) = one_number(&common, "the outcomes of one piece", &forms, matrix)?;
        let mut fits = Vec::with_capacity(forms.len());
        for (j, form) in forms.iter().enumerate() {
            let Some(own) = affine::law(&own[j], form.dimension, matrix)? else {
                return Err(Error::sampled(format!(
                    "outcome \"{}\" has no error of its own that differs from piece to piece: such batches are simulated",
                    names[j]
                )));
            };
            fits.push(Fit {
                limits: limits[j],
                factors: (a[j], b[j]),
                curve: Curve::cdf(Some(&own), form.dimension),
                own,
            });
        }
        Ok(Self {
            fits,
            shared,
            piece,
        })
    }

    /// The chances of a piece at every node of S, in narrow panels and in wide ones.
    fn mixture(&self, pieces: u32) -> Result<Mixture, Error> {
        let spread = self.piece.law.as_ref().map_or(0.0, width_of);
        let mut places = [Vec::new(), Vec::new()];
        let mut ones = [Chance::default(); 2];
        let (mut shared_error, mut piece_error) = (0.0, 0.0);
        for (at, times) in [2.0, 4.0].into_iter().enumerate() {
            let outer = self.rule(&self.shared, times, |fit| {
                (fit.factors.0, fit.factors.1 * spread)
            })?;
            let inner = self.rule(&self.piece, times, |fit| (fit.factors.1, f64::INFINITY))?;
            let work = outer.places.len() * inner.places.len() * self.fits.len();
            if work > MOST_WORK {
                return Err(Error::sampled(
                    "what differs between the outcomes of a piece is too narrow beside what they share: such batches are \
                     simulated",
                ));
            }
            for (s, weight) in outer.places.iter().zip(&outer.weights) {
                if *weight <= 0.0 {
                    continue;
                }
                let (not, above) = self.given(*s, &inner);
                places[at].push((*weight, 1.0 - not, not));
                ones[at].inside += weight * (1.0 - not);
                ones[at].above += weight * above;
                ones[at].below += weight * (not - above);
            }
            if at == 0 {
                (shared_error, piece_error) = (outer.error, inner.error);
            }
        }
        let [one, coarse] = ones;
        // Two limits of every fit; what a chance of a piece is off by, n pieces may be off by n times.
        let curves: f64 = self.fits.iter().map(|fit| 2.0 * fit.curve.error).sum();
        let given = curves + 2.0 * piece_error + 1e-14;
        let off = (one.inside - coarse.inside)
            .abs()
            .max((one.above - coarse.above).abs())
            .max((one.below - coarse.below).abs());
        let one = Bounded {
            value: one,
            error: off + 2.0 * shared_error + given,
        };
        Ok(Mixture::new(
            one,
            places,
            2.0 * shared_error + f64::from(pieces) * given,
        ))
    }

    /// Nodes of S or T, in panels that are narrow against the fits, which are smoothed by what each has of its own and by
    /// `smoothed`, the factor and that width.
    fn rule(
        &self,
        common: &Common,
        times: f64,
        smoothed: impl Fn(&Fit) -> (f64, f64),
    ) -> Result<Rule, Error> {
        Rule::of(common.law.as_ref(), common.dimension, &|from, to| {
            let (mut width, mut nearest) = (f64::INFINITY, f64::INFINITY);
            for fit in &self.fits {
                let (factor, more) = smoothed(fit);
                if factor == 0.0 {
                    continue;
                }
                let own = width_of(&fit.own);
                // An infinite width says that the other number may be anywhere: no place is far from a limit then.
                let is_anywhere = more.is_infinite();
                let own = if is_anywhere {
                    own
                } else {
                    own.max(more.abs())
                } / factor.abs();
                width = width.min(own);
                for limit in [fit.limits.0, fit.limits.1]
                    .into_iter()
                    .filter(|y| y.is_finite())
                {
                    let at = (limit - middle_of(&fit.own)) / factor;
                    let distance = (at - to).max(from - at).max(0.0) - 4.0 * own;
                    nearest = nearest.min(if is_anywhere { 0.0 } else { distance.max(0.0) });
                }
            }
            if width.is_finite() {
                times * width + 0.25 * if nearest.is_finite() { nearest } else { 0.0 }
            } else {
                to - from
            }
        })
    }

    /// The chance that a piece does not fit, and that some fit of it is above its band, given S.
    fn given(&self, s: f64, inner: &Rule) -> (f64, f64) {
        let (mut not, mut above) = (0.0, 0.0);
        for (t, weight) in inner.places.iter().zip(&inner.weights) {
            if *weight <= 0.0 {
                continue;
            }
            // One less a product, so that small chances are not lost in it.
            let (mut some_not, mut some_above) = (0.0, 0.0);
            for fit in &self.fits {
                let moved = fit.factors.0 * s + fit.factors.1 * t;
                let below = fit.curve.at(fit.limits.0 - moved).clamp(0.0, 1.0);
                let above = (1.0 - fit.curve.at(fit.limits.1 - moved)).clamp(0.0, 1.0);
                some_not += (1.0 - some_not) * (below + above).min(1.0);
                some_above += (1.0 - some_above) * above;
            }
            not += weight * some_not;
            above += weight * some_above;
        }
        (not.clamp(0.0, 1.0), above.clamp(0.0, not.clamp(0.0, 1.0)))
    }
}

/// Refuses correlations between what the pieces share, what the outcomes of a piece share, and what each has alone.
fn refuse_correlated(
    shared: &[Spread],
    common: &[Spread],
    own: &[Vec<Term>],
    matrix: Option<&CorrelationMatrix>,
) -> Result<(), Error> {
    let plain = |spreads: &[Spread]| -> Vec<Term> {
        spreads.iter().map(|spread| spread.term.clone()).collect()
    };
    let (shared, common) = (plain(shared), plain(common));
    let redrawn: Vec<Term> = common.iter().chain(own.iter().flatten()).cloned().collect();
    affine::parts_are_independent(&[&shared, &redrawn], matrix)?;
    let mut parts: Vec<&[Term]> = vec![&common];
    parts.extend(own.iter().map(Vec::as_slice));
    affine::parts_are_independent(&parts, matrix).map_err(|_| {
        Error::sampled("outcomes of one piece take correlated sources: such batches are simulated")
    })
}

/// Every source once, with its coefficients in all outcomes.
fn spreads(forms: &[Affine]) -> Vec<Spread> {
    let mut all: Vec<Spread> = Vec::new();
    for (j, form) in forms.iter().enumerate() {
        for term in &form.terms {
            let at = all.iter().position(|spread| spread.term.is_same(term));
            let at = at.unwrap_or_else(|| {
                all.push(Spread {
                    term: term.clone(),
                    coefficients: vec![0.0; forms.len()],
                });
                all.len() - 1
            });
            all[at].coefficients[j] = term.coefficient;
        }
    }
    all
}

/// The one number that these sources come to, and the factor of each outcome; refuses where they are more than one.
///
/// It is what the outcome with the largest factor takes of them.
fn one_number(
    spreads: &[Spread],
    who: &str,
    forms: &[Affine],
    matrix: Option<&CorrelationMatrix>,
) -> Result<(Common, Vec<f64>), Error> {
    let Some(first) = spreads.first() else {
        let none = Common {
            law: None,
            dimension: Dimension::NUMBER,
        };
        return Ok((none, vec![0.0; forms.len()]));
    };
    let size = |j: &usize| first.coefficients[*j].abs();
    let lead = (0..forms.len())
        .max_by(|i, j| size(i).total_cmp(&size(j)))
        .unwrap_or(0);
    let factors: Vec<f64> = first
        .coefficients
        .iter()
        .map(|c| c / first.coefficients[lead])
        .collect();
    let mut terms = Vec::with_capacity(spreads.len());
    for spread in spreads {
        let coefficient = spread.coefficients[lead];
        for (factor, own) in factors.iter().zip(&spread.coefficients) {
            // Equal up to the rounding of a handful of products.
            let slack = 64.0 * f64::EPSILON * own.abs().max((factor * coefficient).abs());
            if (factor * coefficient - own).abs() > slack {
                return Err(Error::sampled(format!(
                    "{who} share more than one number: \"{}\" and \"{}\" count in other proportions in one outcome than \
                     in another; such batches are simulated",
                    first.term.source.name(),
                    spread.term.source.name()
                )));
            }
        }
        terms.push(Term {
            coefficient,
            ..spread.term.clone()
        });
    }
    let dimension = forms[lead].dimension;
    let common = Common {
        law: affine::law(&terms, dimension, matrix)?,
        dimension,
    };
    Ok((common, factors))
}
