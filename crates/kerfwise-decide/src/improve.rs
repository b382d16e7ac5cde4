//! Which error to fix: what it buys in chance, not in shares of a variance.
//!
//! A share of the variance does not say what a better gauge is worth: where the band is wide, most of the variance may
//! cost nothing, and one rectangular error may cost all. So the distribution of the outcome is computed anew, exactly,
//! with the errors of a source halved or gone. Derivation: `docs/decisions.md`.

use crate::Error;
use crate::affine::{self, Affine, Term};
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_source::{CorrelationMatrix, Quantity, Source};
use kerfwise_stack::{Band, Bounded, Chance, Stack};

/// The errors of one outcome, ready to be made smaller: prepared once, then asked.
///
/// To scale a source by a factor means: all its errors, from its estimate, are so many times as large. Zero: it is known
/// exactly.
///
/// ```
/// use kerfwise_decide::Improve;
/// use kerfwise_source::{LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Stack};
///
/// let small = Source::new("small", 0.inch()).normal(3.thou()).build()?;
/// let large = Source::new("large", 0.inch()).normal(4.thou()).build()?;
/// let fit = Expr::source(&small) + Expr::source(&large);
/// let stack = Stack::builder().outcome("fit", &fit, Band::within(6.thou())?).build()?;
/// let improve = Improve::of(&stack, "fit")?;
/// // 3 and 4 make 5: ±6 is ±1.2 standard deviations, 76.99 % by the table of the normal; without the large one ±2: 95.45 %.
/// assert!((improve.now().value.inside - 0.7699).abs() < 1e-4);
/// let most = &improve.sources()?[0];
/// assert_eq!(most.source.name(), "large");
/// assert!((most.removed.value.inside - 0.9545).abs() < 1e-4);
/// // For 86.64 % (±1.5: a standard deviation of 4) the large one may be √(16 − 9) = 2.65, 0.661 of what it is.
/// let factor = improve.largest("large", 0.866_385_597_462_284)?.unwrap();
/// assert!((factor - 7.0_f64.sqrt() / 4.0).abs() < 1e-12);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct Improve {
    form: Affine,
    band: Band,
    matrix: Option<CorrelationMatrix>,
    names: Vec<String>,
    now: Bounded<Chance>,
}

/// What one source costs.
#[derive(Debug, Clone)]
pub struct SourceWorth {
    /// The source.
    pub source: Source,
    /// The chance if its errors were half as large.
    pub halved: Bounded<Chance>,
    /// The chance if it were known exactly.
    pub removed: Bounded<Chance>,
}

/// Something that can be bought or done.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The name of the source that it makes better.
    pub source: String,
    /// What becomes of its errors: 0.5 halves them, 0 removes them.
    pub factor: f64,
    /// What it costs, in any money or minutes.
    pub price: f64,
}

/// The cheapest offers that give a wanted chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Cheapest {
    /// Their places in the list of offers, ascending; empty if nothing is needed.
    pub offers: Vec<usize>,
    /// The sum of their prices.
    pub price: f64,
    /// The chance with them.
    pub chance: Bounded<Chance>,
}

/// The most offers: all their subsets are thought of.
const MOST_OFFERS: usize = 12;
/// A factor beyond which a source counts as free to be as large as it likes.
const FREE: f64 = 1e6;

impl Improve {
    /// For one outcome of a stack.
    ///
    /// # Errors
    ///
    /// When there is no such outcome, or it has no band; when it is not affine, or has no exact answer.
    pub fn of(stack: &Stack, outcome: &str) -> Result<Self, Error> {
        let outcome = affine::named(stack, outcome)?;
        let band = outcome.band().ok_or_else(|| {
            Error::question(format!(
                "outcome \"{}\" has no band to fit in",
                outcome.name()
            ))
        })?;
        let form = Affine::of(outcome)?;
        let mut names: Vec<String> = Vec::new();
        for term in &form.terms {
            if !names.iter().any(|n| n == term.source.name()) {
                names.push(term.source.name().to_owned());
            }
        }
        Ok(Self {
            band,
            matrix: stack.correlations().cloned(),
            names,
            now: outcome.exact()?.chance(&band),
            form,
        })
    }

    /// The chance as it is.
    #[must_use]
    pub fn now(&self) -> Bounded<Chance> {
        self.now
    }

    /// What each source costs, the one first whose removal buys most.
    ///
    /// # Errors
    ///
    /// When the exact propagation declines what is left.
    pub fn sources(&self) -> Result<Vec<SourceWorth>, Error> {
        let mut all = Vec::new();
        for name in &self.names {
            let Some(term) = self.form.terms.iter().find(|t| t.source.name() == name) else {
                continue;
            };
            all.push(SourceWorth {
                source: term.source.clone(),
                halved: self.scaled(&|n| if n == name { 0.5 } else { 1.0 })?,
                removed: self.scaled(&|n| if n == name { 0.0 } else { 1.0 })?,
            });
        }
        all.sort_by(|a, b| {
            let inside = |w: &SourceWorth| w.removed.value.inside;
            inside(b)
                .total_cmp(&inside(a))
                .then_with(|| a.source.name().cmp(b.source.name()))
        });
        Ok(all)
    }

    /// The largest factor of one source's errors with which the chance inside the band is still what is wanted, to the last
    /// digits; infinite where the source may be a million times as large. `None` where even without the source the chance
    /// is less.
    ///
    /// Where the chance does not only fall with the factor (an outcome off the middle of its band), it is the end of the
    /// run of good factors that begins at 0.
    ///
    /// # Errors
    ///
    /// When there is no such source in the outcome; when the wanted chance is not above 0 and below 1.
    pub fn largest(&self, source: &str, wanted: f64) -> Result<Option<f64>, Error> {
        self.known(source)?;
        self.largest_factor(wanted, &|n| n == source)
    }

    /// The same for all sources together: by how much everything must be better, or may be worse.
    ///
    /// # Errors
    ///
    /// When the wanted chance is not above 0 and below 1.
    pub fn largest_of_all(&self, wanted: f64) -> Result<Option<f64>, Error> {
        self.largest_factor(wanted, &|_| true)
    }

    /// The cheapest of all subsets of these offers that gives the wanted chance; of equally cheap ones that with the greater
    /// chance. `None` where all of them together do not give it. Two offers for one source multiply.
    ///
    /// # Errors
    ///
    /// When there are more than 12 offers, or one names no source of the outcome, has a factor that is not from 0 to 1, or
    /// a negative price; when the wanted chance is not above 0 and below 1.
    ///
    /// ```
    /// use kerfwise_decide::{Improve, Offer};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let small = Source::new("small", 0.inch()).normal(3.thou()).build()?;
    /// let large = Source::new("large", 0.inch()).normal(4.thou()).build()?;
    /// let fit = Expr::source(&small) + Expr::source(&large);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(6.thou())?).build()?;
    /// let offer = |source: &str, factor, price| Offer { source: source.to_owned(), factor, price };
    /// let offers = [offer("small", 0.0, 10.0), offer("large", 0.5, 15.0), offer("large", 0.0, 80.0)];
    /// // Without the small one ±1.5 standard deviations; with the large one halved √13 = 3.61 are left: ±1.66, 90.39 %.
    /// let best = Improve::of(&stack, "fit")?.cheapest(&offers, 0.90)?.unwrap();
    /// assert_eq!(best.offers, [1]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn cheapest(&self, offers: &[Offer], wanted: f64) -> Result<Option<Cheapest>, Error> {
        check_wanted(wanted)?;
        if offers.len() > MOST_OFFERS {
            return Err(Error::question(format!(
                "at most {MOST_OFFERS} offers (got {}), since all their subsets are compared",
                offers.len()
            )));
        }
        for offer in offers {
            self.known(&offer.source)?;
            offer.check()?;
        }
        let mut subsets: Vec<(f64, u32)> = (0..1_u32 << offers.len())
            .map(|set| (members(offers, set).map(|(_, o)| o.price).sum(), set))
            .collect();
        subsets.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut found: Option<Cheapest> = None;
        for (price, set) in subsets {
            if found.as_ref().is_some_and(|f| f.price < price) {
                break;
            }
            let factor = |name: &str| {
                let mine = members(offers, set).filter(|(_, o)| o.source == name);
                mine.map(|(_, o)| o.factor).product()
            };
            let chance = self.scaled(&factor)?;
            let is_better = found
                .as_ref()
                .is_none_or(|f| chance.value.inside > f.chance.value.inside);
            if chance.value.inside >= wanted && is_better {
                found = Some(Cheapest {
                    offers: members(offers, set).map(|(i, _)| i).collect(),
                    price,
                    chance,
                });
            }
        }
        Ok(found)
    }

    fn known(&self, source: &str) -> Result<(), Error> {
        if self.names.iter().any(|n| n == source) {
            return Ok(());
        }
        Err(Error::question(format!(
            "the outcome has no uncertain source \"{source}\" (there are: {})",
            self.names.join(", ")
        )))
    }

    /// The chance with the errors of each source multiplied by its factor.
    fn scaled(&self, factor: &dyn Fn(&str) -> f64) -> Result<Bounded<Chance>, Error> {
        let terms: Vec<Term> = self
            .form
            .terms
            .iter()
            .map(|term| Term {
                coefficient: term.coefficient * factor(term.source.name()),
                ..term.clone()
            })
            .filter(|term| term.coefficient != 0.0)
            .collect();
        let (lower, upper) = self.band.raw();
        let (lower, upper) = (lower - self.form.location, upper - self.form.location);
        let Some(law) = affine::law(&terms, self.form.dimension, self.matrix.as_ref())? else {
            // Known exactly: it lies in the band or it does not.
            let is = |yes: bool| f64::from(u8::from(yes));
            let (below, above) = (is(0.0 < lower), is(0.0 > upper));
            return Ok(Bounded {
                value: Chance {
                    below,
                    inside: 1.0 - below - above,
                    above,
                },
                error: 0.0,
            });
        };
        let at = |y: f64| Quantity::new(y, self.form.dimension);
        // One limit may be missing.
        let below = lower.is_finite().then(|| law.cdf(at(lower)));
        let above = upper.is_finite().then(|| law.sf(at(upper)));
        let value = |b: &Option<Bounded<f64>>| b.as_ref().map_or(0.0, |b| b.value.clamp(0.0, 1.0));
        let error = |b: &Option<Bounded<f64>>| b.as_ref().map_or(0.0, |b| b.error);
        let (low, high) = (value(&below), value(&above));
        Ok(Bounded {
            value: Chance {
                below: low,
                inside: (1.0 - low - high).max(0.0),
                above: high,
            },
            error: error(&below) + error(&above),
        })
    }

    fn largest_factor(
        &self,
        wanted: f64,
        is_scaled: &dyn Fn(&str) -> bool,
    ) -> Result<Option<f64>, Error> {
        check_wanted(wanted)?;
        let at = |factor: f64| {
            let chance = self.scaled(&|n| if is_scaled(n) { factor } else { 1.0 })?;
            Ok::<f64, Error>(chance.value.inside - wanted)
        };
        if at(0.0)? < 0.0 {
            return Ok(None);
        }
        // A bracket: from good to not good, in steps of a half as much again, from an eighth.
        let (mut good, mut bad) = (0.0, 0.125);
        while at(bad)? >= 0.0 {
            if bad >= FREE {
                return Ok(Some(f64::INFINITY));
            }
            (good, bad) = (bad, bad * 1.5);
        }
        let mut failed = None;
        let gap = |factor: f64| {
            at(factor).unwrap_or_else(|error| {
                failed = Some(error);
                0.0
            })
        };
        let tolerance = RootTolerance {
            absolute: 0.0,
            relative: 4.0 * f64::EPSILON,
        };
        let root = find_root(gap, good, bad, tolerance);
        match failed {
            Some(error) => Err(error),
            None => Ok(Some(root.map_or(good, |root| root.x))),
        }
    }
}

impl Offer {
    fn check(&self) -> Result<(), Error> {
        if !(0.0..=1.0).contains(&self.factor) {
            return Err(Error::question(format!(
                "offer for \"{}\": the factor must be from 0 (known exactly) to 1 (as it is) (got {})",
                self.source, self.factor
            )));
        }
        if !(self.price >= 0.0 && self.price.is_finite()) {
            return Err(Error::question(format!(
                "offer for \"{}\": the price must be at least 0 (got {})",
                self.source, self.price
            )));
        }
        Ok(())
    }
}

/// The offers of a subset, with their places.
fn members(offers: &[Offer], set: u32) -> impl Iterator<Item = (usize, &Offer)> {
    let is_in = move |i: &usize| set >> i & 1 == 1;
    offers.iter().enumerate().filter(move |(i, _)| is_in(i))
}

fn check_wanted(wanted: f64) -> Result<(), Error> {
    if wanted > 0.0 && wanted < 1.0 {
        return Ok(());
    }
    Err(Error::question(format!(
        "the wanted chance must be above 0 and below 1 (got {wanted})"
    )))
}

#[cfg(test)]
mod tests;
