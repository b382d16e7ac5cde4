//! Which error to fix: what it buys in chance, not in shares of a variance.
//!
//! A share of the variance does not say what a better gauge is worth: where the band is wide, most of the variance may
//! cost nothing, and one rectangular error may cost all. So the distribution of the outcome is computed anew, exactly,
//! with the errors of a source halved or gone. Derivation: `docs/decisions.md`.

mod sampled;

pub use sampled::SampledImprove;

use crate::Error;
use crate::affine::{self, Affine, Term};
use crate::costs::cost_is_sound;
use crate::curve::width_of;
use kerfwise_numeric::float;
use kerfwise_numeric::root::{RootTolerance, find_root};
use kerfwise_source::{CorrelationMatrix, Quantity, Source};
use kerfwise_stack::{Band, Bounded, Chance, Stack};

/// The errors of one outcome, ready to be made smaller: prepared once, then asked.
///
/// To scale a source by a factor means: all its errors, from its estimate, are so many times as large. Zero: it is known
/// exactly.
///
/// Sources `NAME.first` and `NAME.second` are one error that comes with each of two cuts: whoever mends one mends both, so
/// they count as one, by the name `NAME`. Each may still be named by itself.
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
/// assert_eq!(most.name, "large");
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
    families: Vec<Family>,
    now: Bounded<Chance>,
}

/// Sources that are mended together.
#[derive(Debug, Clone)]
struct Family {
    name: String,
    sources: Vec<Source>,
}

impl Family {
    /// Whether it goes by that name, or one of its sources.
    fn is_called(&self, name: &str) -> bool {
        self.name == name || self.sources.iter().any(|s| s.name() == name)
    }
}

/// What one error costs.
#[derive(Debug, Clone)]
pub struct SourceWorth {
    /// The source, or what the sources of both cuts are called together.
    pub name: String,
    /// The source, or those of both cuts.
    pub sources: Vec<Source>,
    /// The chance if its errors were half as large.
    pub halved: Bounded<Chance>,
    /// The chance if it were known exactly.
    pub removed: Bounded<Chance>,
}

/// How large one error may be, where a wanted chance is shared out.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// The source, or what those of both cuts are called together.
    pub name: String,
    /// How many times as large as now its errors may be.
    pub factor: f64,
    /// The standard deviation that it then gives the outcome.
    pub part: Quantity,
}

/// Something that can be bought or done.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// The source that it makes better, or the name of those of both cuts.
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
        let (outcome, band) = affine::banded(stack, outcome)?;
        let form = Affine::of(outcome)?;
        Ok(Self {
            band,
            matrix: stack.correlations().cloned(),
            families: families(form.terms.iter().map(|term| &term.source)),
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
        for family in &self.families {
            let scaled = |by: f64| self.scaled(&|n| if family.is_called(n) { by } else { 1.0 });
            all.push(SourceWorth {
                halved: scaled(0.5)?,
                removed: scaled(0.0)?,
                name: family.name.clone(),
                sources: family.sources.clone(),
            });
        }
        by_worth(&mut all);
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
        self.largest_factor(wanted, &|n, factor| {
            if self.is_meant(source, n) {
                factor
            } else {
                1.0
            }
        })
    }

    /// The same for all sources together: by how much everything must be better, or may be worse.
    ///
    /// # Errors
    ///
    /// When the wanted chance is not above 0 and below 1.
    pub fn largest_of_all(&self, wanted: f64) -> Result<Option<f64>, Error> {
        self.largest_factor(wanted, &|_, factor| factor)
    }

    /// How large each error may be so that all together give the wanted chance: in equal parts, or in parts that go by what
    /// it costs to make one smaller. `None` where even without errors the chance is less.
    ///
    /// The standard deviation that an error gives the outcome, t, is its part. Where making an error small costs
    /// weight / t, the least cost in all at a given variance is
    ///
    /// ```text
    /// minimise Σ wᵢ/tᵢ  with Σ tᵢ² = const:   −wᵢ/tᵢ² + 2μtᵢ = 0,   tᵢ = s ∛wᵢ
    /// ```
    /// (Lagrange's multiplier μ). The common s is then solved so that the exact chance is the wanted one. Errors without
    /// a weight have weight 1; with no weights at all the parts are equal.
    ///
    /// # Errors
    ///
    /// When a weight is for no source of the outcome, given twice, or not from 10⁻⁶ to 10⁶; when the wanted chance is not above 0 and below 1.
    ///
    /// ```
    /// use kerfwise_decide::Improve;
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let a = Source::new("a", 0.inch()).normal(3.thou()).build()?;
    /// let b = Source::new("b", 0.inch()).normal(4.thou()).build()?;
    /// let fit = Expr::source(&a) + Expr::source(&b);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(6.thou())?).build()?;
    /// let improve = Improve::of(&stack, "fit")?;
    /// // For 95.45 % (two standard deviations) they may make 3 thou in all: 3/√2 = 2.12 thou each.
    /// let parts = improve.allocate(0.954_499_736_103_642, &[])?.unwrap();
    /// assert!((parts[0].factor - 0.5_f64.sqrt()).abs() < 1e-9 && (parts[1].factor - 0.75 * 0.5_f64.sqrt()).abs() < 1e-9);
    /// assert!((1000.0 * parts[1].part.raw() - 4.5_f64.sqrt()).abs() < 1e-9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn allocate(
        &self,
        wanted: f64,
        weights: &[(&str, f64)],
    ) -> Result<Option<Vec<Part>>, Error> {
        for (name, weight) in weights {
            self.known(name)?;
            if !(1e-6..=1e6).contains(weight) {
                return Err(Error::question(format!(
                    "the weight of \"{name}\" must be a number from 0.000001 to 1000000 (got {weight})"
                )));
            }
        }
        for family in &self.families {
            if weights.iter().filter(|(n, _)| family.is_called(n)).count() > 1 {
                return Err(Error::question(format!(
                    "the weight of \"{}\" is given more than once",
                    family.name
                )));
            }
        }
        let mut shares = Vec::new();
        for family in &self.families {
            let weight = weights.iter().find(|(name, _)| family.is_called(name));
            let weight = weight.map_or(1.0, |(_, weight)| *weight);
            shares.push((float::cbrt(weight), self.part_of(family)?));
        }
        // A source of no width cannot be made smaller.
        let factor = |share: &(f64, f64), s: f64| {
            if share.1 > 0.0 {
                s * share.0 / share.1
            } else {
                1.0
            }
        };
        let widest = shares.iter().map(|s| s.1).fold(0.0, f64::max);
        let scale = self.largest_factor(wanted, &|name, s| {
            let at = self.families.iter().position(|f| f.is_called(name));
            at.map_or(1.0, |i| factor(&shares[i], s * widest))
        })?;
        let dimension = self.form.dimension;
        Ok(scale.map(|s| {
            let parts = self
                .families
                .iter()
                .zip(&shares)
                .map(|(family, share)| Part {
                    name: family.name.clone(),
                    factor: factor(share, s * widest),
                    part: Quantity::new(factor(share, s * widest) * share.1, dimension),
                });
            parts.collect()
        }))
    }

    /// The standard deviation that a family gives the outcome (of heavy tails, what quartiles say).
    fn part_of(&self, family: &Family) -> Result<f64, Error> {
        let is_member = |term: &&Term| family.sources.iter().any(|s| s.is_same(&term.source));
        let terms: Vec<Term> = self.form.terms.iter().filter(is_member).cloned().collect();
        let law = affine::law(&terms, self.form.dimension, self.matrix.as_ref())?;
        Ok(law.as_ref().map_or(0.0, width_of))
    }

    /// Whether a question about `asked` is about this source.
    fn is_meant(&self, asked: &str, source: &str) -> bool {
        asked == source
            || self
                .families
                .iter()
                .any(|f| f.name == asked && f.is_called(source))
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
                let mine = members(offers, set).filter(|(_, o)| self.is_meant(&o.source, name));
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
        if self.families.iter().any(|f| f.is_called(source)) {
            return Ok(());
        }
        let names: Vec<&str> = self.families.iter().map(|f| f.name.as_str()).collect();
        Err(Error::question(format!(
            "the outcome has no uncertain source \"{source}\" (there are: {})",
            names.join(", ")
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
        factor_of: &dyn Fn(&str, f64) -> f64,
    ) -> Result<Option<f64>, Error> {
        check_wanted(wanted)?;
        let at = |factor: f64| {
            let chance = self.scaled(&|n| factor_of(n, factor))?;
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

/// The one first whose removal buys most.
fn by_worth(all: &mut [SourceWorth]) {
    all.sort_by(|a, b| {
        let inside = |w: &SourceWorth| w.removed.value.inside;
        inside(b)
            .total_cmp(&inside(a))
            .then_with(|| a.name.cmp(&b.name))
    });
}

/// The errors that are mended together: `NAME.first` and `NAME.second` where both are there, else each by itself.
fn families<'a>(sources: impl Iterator<Item = &'a Source> + Clone) -> Vec<Family> {
    let mut families: Vec<Family> = Vec::new();
    for source in sources.clone() {
        let other = |name: &str| sources.clone().any(|s| s.name() == name);
        let cuts = [(".first", ".second"), (".second", ".first")];
        let both = cuts.iter().find_map(|(this, that)| {
            let name = source.name().strip_suffix(this)?;
            other(&format!("{name}{that}")).then_some(name)
        });
        let name = both.unwrap_or(source.name());
        match families.iter_mut().find(|f| f.name == name) {
            Some(family) if family.sources.iter().any(|s| s.is_same(source)) => {}
            Some(family) => family.sources.push(source.clone()),
            None => families.push(Family {
                name: name.to_owned(),
                sources: vec![source.clone()],
            }),
        }
    }
    families
}

impl Offer {
    fn check(&self) -> Result<(), Error> {
        if !(0.0..=1.0).contains(&self.factor) {
            return Err(Error::question(format!(
                "offer for \"{}\": the factor must be from 0 (known exactly) to 1 (as it is) (got {})",
                self.source, self.factor
            )));
        }
        cost_is_sound(&format!("the offer for \"{}\"", self.source), self.price)
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
