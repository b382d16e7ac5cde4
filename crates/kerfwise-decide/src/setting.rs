//! What the dial is to show.
//!
//! The best setting is the one with the greatest chance inside the band, or where tight and loose joints cost
//! differently the one with the least expected cost, among those that the dial can show. It is found by looking at every one of them: a dial has few steps within reach, and a chance
//! need not have a single peak. The chance of each setting is exact where the stack allows it, else
//! Monte Carlo with the same seed at every setting, so that neighbours differ by the setting and not
//! by luck.

mod both;

use crate::Costs;
use crate::affine::{self, Affine, Term};
use kerfwise_source::{Length, LengthUnits, Quantity};
use kerfwise_stack::{Chance, Exact, MonteCarlo, Outcome, Propagation, QuasiMonteCarlo, Stack};

/// The most settings that are looked at.
const MOST_SETTINGS: f64 = 2_001.0;

/// Where to look for a setting.
#[derive(Debug, Clone, PartialEq)]
pub struct SettingOptions {
    around: Length,
    step: Length,
    reach: Length,
    loss: f64,
    costs: Option<Costs>,
    also: Option<String>,
    monte_carlo: MonteCarlo,
}

impl SettingOptions {
    /// Around this setting, in dial steps of 0.0005 in, up to 0.010 in either side.
    #[must_use]
    pub fn around(setting: Length) -> Self {
        Self {
            around: setting,
            step: 0.5.thou(),
            reach: 10.0.thou(),
            loss: 0.01,
            costs: None,
            also: None,
            monte_carlo: MonteCarlo::new(),
        }
    }

    /// The smallest step that the dial can show.
    #[must_use]
    pub fn step(mut self, step: Length) -> Self {
        self.step = step;
        self
    }

    /// How far to look on either side.
    #[must_use]
    pub fn reach(mut self, reach: Length) -> Self {
        self.reach = reach;
        self
    }

    /// The loss of chance that is still called fine (default 0.01: one joint in a hundred).
    #[must_use]
    pub fn loss(mut self, loss: f64) -> Self {
        self.loss = loss;
        self
    }

    /// Looks for the least expected cost instead of the greatest chance. What is fine then costs at most
    /// [`loss`](Self::loss) times the dearer of the two more than the best: with equal costs it is the same zone.
    #[must_use]
    pub fn costs(mut self, costs: Costs) -> Self {
        self.costs = Some(costs);
        self
    }

    /// A second outcome that is to fit at the same time: the other mortise of a loose tenon. Inside is then that both fit,
    /// above that one of them is too tight, below that none is and one is too loose.
    #[must_use]
    pub fn also(mut self, outcome: &str) -> Self {
        self.also = Some(outcome.to_owned());
        self
    }

    /// Trials and seed for stacks that have no exact answer.
    #[must_use]
    pub fn monte_carlo(mut self, options: MonteCarlo) -> Self {
        self.monte_carlo = options;
        self
    }
}

/// One setting and what it gives.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SettingPoint {
    /// What the dial shows.
    pub setting: Length,
    /// Below, inside and above the band.
    pub chance: Chance,
    /// What a joint costs on average, if costs were given.
    pub cost: Option<f64>,
}

/// The setting with the best chance or the least cost, and how far off is still fine.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// What the dial is to show: a whole number of steps.
    pub best: Length,
    /// The chance at that setting.
    pub chance: Chance,
    /// Error of each of the three chances: a bound when exact, a standard error when Monte Carlo.
    pub error: f64,
    /// How the chances were found.
    pub by: Propagation,
    /// From here to there the chance inside the band is at most the stated loss below the best; where costs were given,
    /// a joint costs at most that loss times the dearer cost more than at the best.
    pub fine: (Length, Length),
    /// The loss of chance that was called fine.
    pub loss: f64,
    /// The costs that were given.
    pub costs: Option<Costs>,
    /// Chance against setting, ascending.
    pub curve: Vec<SettingPoint>,
}

/// Why there is no best setting.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SettingError<E> {
    /// A step, a reach or a loss that makes no sense.
    #[error("{0}")]
    Options(String),
    /// The stack could not be made at one of the settings.
    #[error("at a setting of {setting}: {error}")]
    Stack {
        /// The setting.
        setting: Length,
        /// What was wrong.
        error: E,
    },
    /// The stack gives no chance: no such outcome, no band, or every propagation declines.
    #[error("{0}")]
    NoChance(String),
}

impl Setting {
    /// The best setting for one outcome of the stack that `stack_at` makes for each setting.
    ///
    /// Where several settings next to each other are equally good, the middle one is taken: it forgives
    /// most. With costs, the best is the least of
    ///
    /// ```text
    /// C(a) = loose · P(F_a below the band) + tight · P(F_a above the band)
    /// ```
    /// For a normal fit of standard deviation σ in a band from L to U it lies where the middle of the fit is at
    /// (L + U)/2 − σ² ln(tight/loose)/(U − L): towards the cheaper side.
    ///
    /// # Errors
    ///
    /// When step or reach is not a finite length above 0, the loss is not from 0 to 1, a cost is not from 0 to 1e12 or both
    /// are 0, or more than 2,001 steps lie within reach; when `stack_at` refuses a setting; when the stack gives no chance
    /// for this outcome.
    ///
    /// ```
    /// use kerfwise_decide::{Costs, Setting, SettingOptions};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let error = Source::new("error", 0.inch()).normal(2.thou()).build()?;
    /// let at = |travel| {
    ///     let fit = Expr::source(&error) + travel - 500.thou();
    ///     Stack::builder().outcome("fit", &fit, Band::within(4.thou())?).build()
    /// };
    /// // A loose joint costs e² = 7.389 times as much as a tight one: the best middle lies at 2² · 2/(4 − (−4)) = 1 thou.
    /// let options = SettingOptions::around(500.thou()).costs(Costs { tight: 5.0, loose: 36.945_280_49 });
    /// let setting = Setting::best(&options, "fit", at)?;
    /// assert!((setting.best.to_thou() - 501.0).abs() < 1e-9);
    /// // 5 Φ(−1.5) + 36.945 Φ(−2.5) by the table of the normal.
    /// assert!((setting.cost().unwrap() - (5.0 * 0.066_807 + 36.945 * 0.006_210)).abs() < 1e-4);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn best<E>(
        options: &SettingOptions,
        outcome: &str,
        mut stack_at: impl FnMut(Length) -> Result<Stack, E>,
    ) -> Result<Self, SettingError<E>> {
        let (first, last) = steps(options)?;
        let step = options.step.to_inches();
        let mut curve = Vec::new();
        let (mut error, mut by) = (0.0_f64, Propagation::Exact);
        let mut known = None;
        let mut index = first;
        while index <= last {
            let setting = (index * step).inch();
            let stack =
                stack_at(setting).map_err(|error| SettingError::Stack { setting, error })?;
            let found =
                chance(&stack, outcome, options, &mut known).map_err(SettingError::NoChance)?;
            error = error.max(found.error);
            by = found.by;
            curve.push(SettingPoint {
                setting,
                chance: found.chance,
                cost: options.costs.map(|costs| costs.expected(&found.chance)),
            });
            index += 1.0;
        }
        // As chances, so that the same closeness counts as equal.
        let dearer = options.costs.map_or(1.0, |costs| costs.dearer());
        let worth = |p: &SettingPoint| match p.cost {
            Some(cost) => -cost / dearer,
            None => p.chance.inside,
        };
        let at = middle_of_the_best(&curve, &worth);
        let enough = worth(&curve[at]) - options.loss;
        let is_fine = |p: &SettingPoint| worth(p) >= enough - EQUAL;
        let low = (0..at)
            .rev()
            .take_while(|&i| is_fine(&curve[i]))
            .last()
            .unwrap_or(at);
        let high = (at + 1..curve.len())
            .take_while(|&i| is_fine(&curve[i]))
            .last()
            .unwrap_or(at);
        Ok(Self {
            best: curve[at].setting,
            chance: curve[at].chance,
            error,
            by,
            fine: (curve[low].setting, curve[high].setting),
            loss: options.loss,
            costs: options.costs,
            curve,
        })
    }

    /// What a joint costs on average at the best setting, if costs were given.
    #[must_use]
    pub fn cost(&self) -> Option<f64> {
        self.costs.map(|costs| costs.expected(&self.chance))
    }

    /// The setting with the greatest chance, whatever joints cost.
    #[must_use]
    pub fn likeliest(&self) -> SettingPoint {
        self.curve[middle_of_the_best(&self.curve, &|p| p.chance.inside)]
    }
}

/// Chances that differ by no more than this are equal: far more than rounding, far less than counts.
const EQUAL: f64 = 1e-12;

/// The middle of the first run of settings that are as good as the best.
fn middle_of_the_best(curve: &[SettingPoint], worth: &dyn Fn(&SettingPoint) -> f64) -> usize {
    let best = curve.iter().map(worth).fold(f64::NEG_INFINITY, f64::max);
    let is_best = |p: &SettingPoint| worth(p) >= best - EQUAL;
    let first = curve.iter().position(is_best).unwrap_or(0);
    let run = curve[first..].iter().take_while(|p| is_best(p)).count();
    first + run.saturating_sub(1) / 2
}

/// The first and last setting within reach, counted in dial steps.
fn steps<E>(options: &SettingOptions) -> Result<(f64, f64), SettingError<E>> {
    let refuse = |message: String| Err(SettingError::Options(message));
    let (step, reach) = (options.step.to_inches(), options.reach.to_inches());
    if !(step > 0.0 && step.is_finite()) {
        return refuse(format!("dial step must be above 0 (got {})", options.step));
    }
    if !(reach > 0.0 && reach.is_finite()) {
        return refuse(format!("reach must be above 0 (got {})", options.reach));
    }
    if !(0.0..=1.0).contains(&options.loss) {
        return refuse(format!(
            "loss must be a chance from 0 to 1 (got {})",
            options.loss
        ));
    }
    if let Some(Err(error)) = options.costs.map(|costs| costs.check_that_they_choose()) {
        return refuse(error.to_string());
    }
    let around = options.around.to_inches();
    let first = ((around - reach) / step).ceil().max(1.0);
    let last = ((around + reach) / step).floor();
    if !(first.is_finite() && last.is_finite() && first <= last) {
        return refuse(format!(
            "no setting above 0 lies within {} of {} in steps of {}",
            options.reach, options.around, options.step
        ));
    }
    if last - first >= MOST_SETTINGS {
        return refuse(format!(
            "{} settings lie within reach; take a larger step or a shorter reach (at most \
             {MOST_SETTINGS})",
            last - first + 1.0
        ));
    }
    Ok((first, last))
}

struct Found {
    chance: Chance,
    error: f64,
    by: Propagation,
}

/// The errors of an affine outcome, and their law once two settings next to each other had the same: then only the
/// location differs.
struct Known {
    terms: Vec<Term>,
    law: Option<Exact>,
}

impl Known {
    /// The chance by the law of the errors, where they are those of the setting before; `None` elsewhere, and where errors
    /// are correlated.
    fn chance(known: &mut Option<Self>, stack: &Stack, outcome: Outcome<'_>) -> Option<Found> {
        if !outcome.is_affine() || stack.correlations().is_some() {
            return None;
        }
        let form = Affine::of(outcome).ok()?;
        let is_alike = |known: &&mut Self| {
            let mut pairs = known.terms.iter().zip(&form.terms);
            known.terms.len() == form.terms.len() && pairs.all(|(a, b)| a.is_alike(b))
        };
        let Some(known) = known.as_mut().filter(is_alike) else {
            let terms = form.terms;
            *known = Some(Self { terms, law: None });
            return None;
        };
        if known.law.is_none() {
            known.law = affine::law(&form.terms, form.dimension, None).ok()?;
        }
        let law = known.law.as_ref()?;
        let (lower, upper) = outcome.band()?.raw();
        let at = |limit: f64| Quantity::new(limit - form.location, form.dimension);
        let (below, above) = (law.cdf(at(lower)), law.sf(at(upper)));
        // A limit less the location rounds, and with it the place at which the law is asked. Where a value has a chance of its
        // own, or the density a pole, that may be much: the whole propagation knows better.
        let rounded = |limit: f64| {
            if limit.is_infinite() {
                return Some(0.0);
            }
            let off = f64::EPSILON * (limit.abs() + form.location.abs());
            let density = law.pdf(at(limit))?.value;
            Some(density * off).filter(|error| error.is_finite())
        };
        let rounding = rounded(lower)? + rounded(upper)?;
        Some(Found {
            chance: Chance {
                below: below.value,
                inside: (1.0 - below.value - above.value).max(0.0),
                above: above.value,
            },
            error: below.error + above.error + rounding,
            by: Propagation::Exact,
        })
    }
}

fn chance(
    stack: &Stack,
    name: &str,
    options: &SettingOptions,
    known: &mut Option<Known>,
) -> Result<Found, String> {
    let banded = |name: &str| affine::banded(stack, name).map_err(|error| error.to_string());
    let (outcome, band) = banded(name)?;
    if let Some(also) = &options.also {
        let (other, its_band) = banded(also)?;
        let bands = [band, its_band];
        return both::chance(stack, [outcome, other], bands, &options.monte_carlo);
    }
    if let Some(found) = Known::chance(known, stack, outcome) {
        return Ok(found);
    }
    let whole = if outcome.is_affine() {
        outcome.exact()
    } else {
        outcome.semi_exact()
    };
    if let Ok(exact) = whole {
        let bounded = exact.chance(&band);
        return Ok(Found {
            chance: bounded.value,
            error: bounded.error,
            by: exact.propagation(),
        });
    }
    match outcome.quasi_monte_carlo(QuasiMonteCarlo::new()) {
        Ok(points) => {
            let error = points.chance_error;
            Ok(Found {
                chance: points.chance,
                error: error.below.max(error.inside).max(error.above),
                by: Propagation::QuasiMonteCarlo,
            })
        }
        Err(_) => {
            let answer = stack
                .monte_carlo(options.monte_carlo.clone())
                .map_err(|d| d.to_string())?;
            let found = answer.outcomes.iter().find(|o| o.name == name);
            let (chance, error) = found
                .and_then(|o| Some((o.chance?, o.chance_error?)))
                .ok_or_else(|| format!("outcome \"{name}\" has no chance"))?;
            let error = error.below.max(error.inside).max(error.above);
            Ok(Found {
                chance,
                error,
                by: Propagation::MonteCarlo,
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_source::Source;
    use kerfwise_stack::{Band, Expr};

    fn stack_at(travel: Length, bias: f64) -> Result<Stack, kerfwise_stack::Error> {
        let source = Source::new("error", bias.inch())
            .rectangular(1.0.thou())
            .build()
            .unwrap();
        let fit = Expr::source(&source) + travel - 0.5.inch();
        Stack::builder()
            .outcome("fit", &fit, Band::within(2.0.thou())?)
            .build()
    }

    #[test]
    fn aims_at_the_middle_and_knows_how_far_off_is_fine() {
        // A rectangular error of ±1 thou in a band of ±2 thou: every setting within 1 thou fits for
        // certain, half a thou beyond loses a quarter (length of the part outside over the whole).
        let options = SettingOptions::around(0.5.inch())
            .step(0.5.thou())
            .reach(4.0.thou());
        let found = Setting::best(&options, "fit", |t| stack_at(t, 0.0)).unwrap();
        assert_eq!(found.by, Propagation::Exact);
        assert!(
            (found.best.to_thou() - 500.0).abs() < 1e-9,
            "middle of the equals: {}",
            found.best
        );
        assert!((found.chance.inside - 1.0).abs() < 1e-12);
        assert!((found.fine.1.to_thou() - 501.0).abs() < 1e-9);
        let beyond = found
            .curve
            .iter()
            .find(|p| (p.setting.to_thou() - 501.5).abs() < 1e-6)
            .unwrap();
        assert!((beyond.chance.above - 0.25).abs() < 1e-12);
    }

    #[test]
    fn follows_a_bias() {
        let options = SettingOptions::around(0.5.inch())
            .step(0.5.thou())
            .reach(6.0.thou());
        let found = Setting::best(&options, "fit", |t| stack_at(t, 0.003)).unwrap();
        assert!(
            (found.best.to_thou() - 497.0).abs() < 1e-9,
            "{}",
            found.best
        );
    }

    #[test]
    fn refuses_steps_that_make_no_sense() {
        for (step, reach) in [
            (0.0, 1.0),
            (-1.0, 1.0),
            (f64::NAN, 1.0),
            (0.5, 0.0),
            (1e-6, 100.0),
        ] {
            let options = SettingOptions::around(0.5.inch())
                .step(step.thou())
                .reach(reach.thou());
            let refused = Setting::best(&options, "fit", |t| stack_at(t, 0.0));
            assert!(
                matches!(refused, Err(SettingError::Options(_))),
                "{step} {reach}"
            );
        }
    }

    /// Step costs of a normal clearance between two limits, with the best mean derived by setting the derivative to zero and
    /// computed independently at 30 digits: limits, standard deviation, cost below the lower limit (tight, since it is a
    /// clearance) and above the upper, best mean, least cost.
    #[test]
    fn costs_pull_the_setting_to_the_cheaper_side() {
        let cases = [
            (
                0.001,
                0.006,
                0.001,
                5.0,
                1.0,
                0.003_821_887_582_486_8,
                0.026_634_311_516_7,
            ),
            (
                0.001,
                0.006,
                0.001_5,
                1.0,
                1.0,
                0.003_5,
                0.095_580_704_545_6,
            ),
            (
                0.001,
                0.006,
                0.001_5,
                1.0,
                8.0,
                0.002_564_251_306_244_1,
                0.236_482_139_429,
            ),
            (
                0.0,
                0.004,
                0.001_2,
                20.0,
                1.0,
                0.003_078_463_618_479_4,
                0.324_320_319_13,
            ),
            (
                0.002,
                0.005,
                0.002,
                3.0,
                1.0,
                0.004_964_816_384_890_8,
                0.700_329_819_296,
            ),
        ];
        for (lower, upper, sd, tight, loose, mean, least) in cases {
            let error = Source::new("error", 0.inch())
                .normal(sd.inch())
                .build()
                .unwrap();
            // Travel grows the tenon and lessens the clearance, so the fit is minus the clearance about its wanted middle.
            let at = |travel: Length| {
                let fit = Expr::source(&error) + travel - 0.5.inch();
                let band = Band::between((-upper).inch(), (-lower).inch())?;
                Stack::builder().outcome("fit", &fit, band).build()
            };
            // A dial so fine that the mean is found to half a thousandth of a thou.
            let options = SettingOptions::around((0.5 - mean).inch())
                .step(0.001.thou())
                .reach(0.5.thou())
                .costs(Costs { tight, loose });
            let found = Setting::best(&options, "fit", at).unwrap();
            let off = 0.5 - found.best.to_inches() - mean;
            // Half a step, and where rounding makes neighbours equal (1e-12 of a chance) √(1e-12/C″) more.
            assert!(off.abs() < 0.002e-3, "{mean}: off by {off}");
            let cost = found.cost().unwrap();
            // |φ′| is at most 0.242, which bounds C″; the least cost is given to twelve digits.
            let excess = (tight + loose) * 0.242 / (sd * sd) * off * off / 2.0;
            assert!(
                (cost - least).abs() <= excess + 1e-11,
                "{cost} {least} {excess}"
            );
        }
    }

    #[test]
    fn what_is_fine_in_cost_is_what_is_fine_in_chance_when_both_cost_the_same() {
        let normal = Source::new("n", 0.inch()).normal(2.thou()).build().unwrap();
        let at = |travel: Length| {
            let fit = Expr::source(&normal) + travel - 0.5.inch();
            Stack::builder()
                .outcome("fit", &fit, Band::within(4.thou())?)
                .build()
        };
        let options = SettingOptions::around(0.5.inch());
        let plain = Setting::best(&options, "fit", at).unwrap();
        let costs = Costs {
            tight: 7.0,
            loose: 7.0,
        };
        let priced = Setting::best(&options.clone().costs(costs), "fit", at).unwrap();
        assert_eq!((plain.best, plain.fine), (priced.best, priced.fine));
        let cost = 7.0 * (1.0 - plain.chance.inside);
        assert!((priced.cost().unwrap() - cost).abs() < 1e-12);
    }

    #[test]
    fn refuses_costs_below_zero() {
        for costs in [
            Costs {
                tight: -1.0,
                loose: 2.0,
            },
            Costs {
                tight: 1.0,
                loose: f64::NAN,
            },
            Costs {
                tight: f64::INFINITY,
                loose: 2.0,
            },
        ] {
            let options = SettingOptions::around(0.5.inch()).costs(costs);
            let refused = Setting::best(&options, "fit", |t| stack_at(t, 0.0)).unwrap_err();
            assert!(
                refused
                    .to_string()
                    .contains("must be a number of at least 0"),
                "{refused}"
            );
        }
    }

    #[test]
    fn says_that_there_is_no_such_outcome() {
        let options = SettingOptions::around(0.5.inch());
        let refused = Setting::best(&options, "gap", |t| stack_at(t, 0.0)).unwrap_err();
        assert_eq!(refused.to_string(), "the stack has no outcome \"gap\"");
    }
}
