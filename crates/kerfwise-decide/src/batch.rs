//! How many joints of a batch fit, when all are cut with one set-up.
//!
//! Joints of one set-up are not independent: a jig that stands 3 thou off makes all of them tight. So the chance that all
//! fit is not the chance of one to the power n, and the number that fit is no binomial one: it is a binomial one for each
//! set-up, averaged over what set-ups there may be. Derivation and sources: `docs/decisions.md`.

mod several;
mod simulated;

use crate::affine::{self, Affine, Term};
use crate::curve::{Curve, width_of};
use crate::rule::Rule;
use crate::{Costs, Error};
use kerfwise_numeric::float;
use kerfwise_numeric::special::{beta_inc, ln_gamma};
use kerfwise_source::{Dimension, Event};
use kerfwise_stack::{Band, Bounded, Chance, Exact, Outcome, Stack};

/// The most pieces of which the whole distribution is written out.
const MOST_PIECES: u32 = 10_000;

/// What to ask of a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchOptions {
    pieces: u32,
    event: Event,
    assurance: f64,
    costs: Option<Costs>,
}

impl BatchOptions {
    /// So many pieces, drawn anew by the event "piece"; spares for an assurance of 95 %.
    #[must_use]
    pub fn of(pieces: u32) -> Self {
        Self {
            pieces,
            event: Event::piece(),
            assurance: 0.95,
            costs: None,
        }
    }

    /// The event that makes a new piece.
    #[must_use]
    pub fn redrawn_by(mut self, event: Event) -> Self {
        self.event = event;
        self
    }

    /// The wanted chance that, spares counted, enough pieces fit.
    #[must_use]
    pub fn assurance(mut self, assurance: f64) -> Self {
        self.assurance = assurance;
        self
    }

    /// Minutes to mend a joint that does not fit.
    #[must_use]
    pub fn rework_minutes(mut self, costs: Costs) -> Self {
        self.costs = Some(costs);
        self
    }
}

/// What a batch comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchForecast {
    /// Pieces in the batch.
    pub pieces: u32,
    /// The chance of one piece.
    pub one: Bounded<Chance>,
    /// The chance that exactly k fit, k from 0 to the number of pieces.
    pub fits: Vec<f64>,
    /// A bound of the error of each of them.
    pub error: f64,
    /// The same if the pieces shared nothing: binomial, and wrong, shown for teaching.
    pub if_independent: Vec<f64>,
    /// How many fit on average.
    pub expected: f64,
    /// Standard deviation of the number that fit.
    pub sd: f64,
    /// Spares to cut in the same set-up.
    pub spares: Spares,
    /// Minutes of rework to be expected, if minutes were given.
    pub rework_minutes: Option<f64>,
}

/// Spares to cut in the same set-up, so that enough pieces fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spares {
    /// The wanted chance.
    pub assurance: f64,
    /// The fewest spares that give it; `None` where [`most`](Self::most) do not: where the set-up is off, spares are off
    /// with it, and only a test cut helps.
    pub needed: Option<u32>,
    /// The chance with that many, or with the most.
    pub chance: f64,
    /// The most spares that were thought of: as many as pieces, and ten at least.
    pub most: u32,
}

impl BatchForecast {
    /// The chance that all fit.
    #[must_use]
    pub fn all(&self) -> f64 {
        self.fits.last().copied().unwrap_or(1.0)
    }

    /// The chance that at least k fit.
    #[must_use]
    pub fn at_least(&self, k: u32) -> f64 {
        // From the far end, so that the small ones are added first.
        let from = (k as usize).min(self.fits.len());
        self.fits[from..].iter().rev().sum::<f64>().min(1.0)
    }

    /// The forecast for one outcome of a stack.
    ///
    /// ```text
    /// P(k fit) = E [ C(n, k) p(S)^k (1 − p(S))^(n − k) ],   p(s) = P(lower ≤ s + X ≤ upper)
    /// ```
    /// S is what the pieces share, X what is drawn anew for each.
    ///
    /// # Errors
    ///
    /// When there are no pieces or more than 10,000; when the assurance is not above 0 and below 1, or minutes are not from 0 to 1e12;
    /// when the outcome has no band, or has no exact answer.
    ///
    /// ```
    /// use kerfwise_decide::{BatchForecast, BatchOptions};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// // Only the set-up differs: a quarter of all set-ups lies outside, and then all pieces do.
    /// let set_up = Source::new("set_up", 0.inch()).rectangular(4.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome("fit", &Expr::source(&set_up), Band::within(3.thou())?)
    ///     .build()?;
    /// let batch = BatchForecast::of(&stack, "fit", &BatchOptions::of(24))?;
    /// assert!((batch.all() - 0.75).abs() < 1e-12 && (batch.fits[0] - 0.25).abs() < 1e-12);
    /// assert!((batch.expected - 18.0).abs() < 1e-12);
    /// assert_eq!(batch.spares.needed, None); // no number of spares mends a set-up
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn of(stack: &Stack, outcome: &str, options: &BatchOptions) -> Result<Self, Error> {
        options.check()?;
        let mixture = Mixture::of(stack, outcome, &options.event)?;
        Ok(mixture.forecast(options))
    }
}

/// The named outcomes, which must be different, with their bands.
fn banded<'a>(stack: &'a Stack, names: &[&str]) -> Result<Vec<(Outcome<'a>, Band)>, Error> {
    if names.is_empty() {
        return Err(Error::question("name one outcome at least that is to fit"));
    }
    if let Some(twice) = (1..names.len()).find(|i| names[..*i].contains(&names[*i])) {
        return Err(Error::question(format!(
            "outcome \"{}\" is named twice",
            names[twice]
        )));
    }
    names
        .iter()
        .map(|name| affine::banded(stack, name))
        .collect()
}

impl BatchOptions {
    pub(crate) fn check(&self) -> Result<(), Error> {
        if !(1..=MOST_PIECES).contains(&self.pieces) {
            return Err(Error::question(format!(
                "pieces of a batch must be 1 to {MOST_PIECES} (got {})",
                self.pieces
            )));
        }
        if !(self.assurance > 0.0 && self.assurance < 1.0) {
            return Err(Error::question(format!(
                "assurance must be a chance above 0 and below 1 (got {})",
                self.assurance
            )));
        }
        self.costs.map_or(Ok(()), |costs| costs.check())
    }
}

/// The chance of a piece for each thing that the pieces may share, with the weight of that.
pub(crate) struct Mixture {
    one: Bounded<Chance>,
    /// In narrow panels, and in wide ones to tell how far off the narrow ones may be: weight, fits, does not.
    places: [Vec<(f64, f64, f64)>; 2],
    known_error: f64,
}

impl Mixture {
    pub(crate) fn new(
        one: Bounded<Chance>,
        places: [Vec<(f64, f64, f64)>; 2],
        known_error: f64,
    ) -> Self {
        Self {
            one,
            places,
            known_error,
        }
    }

    fn of(stack: &Stack, name: &str, event: &Event) -> Result<Self, Error> {
        let (outcome, band) = affine::banded(stack, name)?;
        let one = outcome.exact()?.chance(&band);
        let form = Affine::of(outcome)?;
        let (lower, upper) = band.raw();
        let (piece, shared): (Vec<Term>, Vec<Term>) = form
            .terms
            .iter()
            .cloned()
            .partition(|term| term.source.event().is_redrawn_by(event));
        let matrix = stack.correlations();
        affine::parts_are_independent(&[&piece, &shared], matrix)?;
        let law = |terms: &[Term]| affine::law(terms, form.dimension, matrix);
        let Some(piece) = law(&piece)? else {
            // All alike: they fit or they do not.
            let chance = one.value;
            let alike = vec![
                (chance.inside, 1.0, 0.0),
                (chance.below + chance.above, 0.0, 1.0),
            ];
            return Ok(Self {
                known_error: one.error,
                one,
                places: [alike.clone(), alike],
            });
        };
        let limits = (lower - form.location, upper - form.location);
        let shared = law(&shared)?;
        let curve = Curve::cdf(Some(&piece), form.dimension);
        let rules =
            [2.0, 4.0].map(|times| rule(shared.as_ref(), form.dimension, &piece, limits, times));
        let [fine, coarse] = rules;
        let (fine, coarse) = (fine?, coarse?);
        let known_error = 2.0 * (fine.error + curve.error) + 1e-14;
        let places = [fine, coarse].map(|rule| {
            let at = |(s, w): (&f64, &f64)| {
                let below = curve.at(limits.0 - s).clamp(0.0, 1.0);
                let above = (1.0 - curve.at(limits.1 - s)).clamp(0.0, 1.0);
                let not = (below + above).min(1.0);
                (*w, 1.0 - not, not)
            };
            rule.places.iter().zip(&rule.weights).map(at).collect()
        });
        Ok(Self {
            one,
            places,
            known_error,
        })
    }

    pub(crate) fn forecast(&self, options: &BatchOptions) -> BatchForecast {
        let n = options.pieces;
        let ln_choose = ln_choose(n);
        let count = |places: &[(f64, f64, f64)]| {
            let mut fits = vec![0.0; n as usize + 1];
            for (weight, p, q) in places.iter().filter(|(w, _, _)| *w > 0.0) {
                add_binomial(&mut fits, &ln_choose, *weight, *p, *q);
            }
            fits
        };
        let [fine, coarse] = [&self.places[0], &self.places[1]].map(|p| count(p));
        let off = fine
            .iter()
            .zip(&coarse)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        let chance = self.one.value;
        let expected = f64::from(n) * chance.inside;
        let spread = |fits: &[f64]| {
            let squares = fits.iter().enumerate().map(|(k, p)| {
                let off = k as f64 - expected;
                p * off * off
            });
            squares.sum::<f64>().max(0.0).sqrt()
        };
        let mut if_independent = vec![0.0; n as usize + 1];
        add_binomial(
            &mut if_independent,
            &ln_choose,
            1.0,
            chance.inside,
            chance.below + chance.above,
        );
        BatchForecast {
            pieces: n,
            one: self.one,
            // The binomial coefficients go through logarithms of factorials, which round in proportion to their size.
            error: off + self.known_error + 8.0 * f64::EPSILON * ln_gamma(f64::from(n) + 1.0),
            sd: spread(&fine),
            fits: fine,
            if_independent,
            expected,
            spares: self.spares(n, options.assurance),
            rework_minutes: options
                .costs
                .map(|costs| f64::from(n) * costs.expected(&chance)),
        }
    }

    /// The chance that at least n of n + s pieces fit: the incomplete beta function of each p (DLMF 8.17.5).
    fn enough(&self, n: u32, s: u32) -> f64 {
        let (a, b) = (f64::from(n), f64::from(s) + 1.0);
        let terms = self.places[0].iter().filter(|(w, _, _)| *w > 0.0);
        terms
            .map(|(w, p, _)| w * beta_inc(*p, a, b).0)
            .sum::<f64>()
            .min(1.0)
    }

    /// The fewest spares, by halving: more spares never give a smaller chance.
    fn spares(&self, n: u32, assurance: f64) -> Spares {
        let most = n.max(10);
        let at_most = self.enough(n, most);
        if at_most < assurance {
            return Spares {
                assurance,
                needed: None,
                chance: at_most,
                most,
            };
        }
        let (mut low, mut high) = (0, most);
        while low < high {
            let middle = low + (high - low) / 2;
            if self.enough(n, middle) >= assurance {
                high = middle;
            } else {
                low = middle + 1;
            }
        }
        Spares {
            assurance,
            needed: Some(high),
            chance: self.enough(n, high),
            most,
        }
    }
}

/// What the pieces share, in panels that are narrow where a piece's chance changes: about the limits.
fn rule(
    shared: Option<&Exact>,
    dimension: Dimension,
    piece: &Exact,
    limits: (f64, f64),
    times: f64,
) -> Result<Rule, Error> {
    let width = width_of(piece);
    let middle = piece.quantile(0.5).value.raw();
    Rule::of(shared, dimension, &|from, to| {
        let distance = |limit: f64| {
            let at = limit - middle;
            (at - to).max(from - at).max(0.0) - 4.0 * width
        };
        let nearest = distance(limits.0).min(distance(limits.1)).max(0.0);
        times * width + 0.25 * nearest
    })
}

/// Logarithms of the binomial coefficients of n.
fn ln_choose(n: u32) -> Vec<f64> {
    let ln_factorial = |k: u32| ln_gamma(f64::from(k) + 1.0);
    (0..=n)
        .map(|k| ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k))
        .collect()
}

/// Adds weight · C(n, k) p^k q^(n−k).
fn add_binomial(fits: &mut [f64], ln_choose: &[f64], weight: f64, p: f64, q: f64) {
    let n = fits.len() - 1;
    if q <= 0.0 {
        fits[n] += weight;
        return;
    }
    if p <= 0.0 {
        fits[0] += weight;
        return;
    }
    // The smaller of the two has its digits; the larger is what is left of one.
    let ln_of = |x: f64, rest: f64| {
        if rest < 0.5 {
            float::ln_1p(-rest)
        } else {
            float::ln(x)
        }
    };
    let (ln_p, ln_q) = (ln_of(p, q), ln_of(q, p));
    for (k, (fit, choose)) in fits.iter_mut().zip(ln_choose).enumerate() {
        let ln = choose + k as f64 * ln_p + (n - k) as f64 * ln_q;
        if ln > -745.0 {
            *fit += weight * float::exp(ln);
        }
    }
}

#[cfg(test)]
mod several_tests;
#[cfg(test)]
mod tests;
