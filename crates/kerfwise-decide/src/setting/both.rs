//! Two fits at once, which share some of their errors: those of a loose tenon share the slip.

use super::Found;
use crate::Error;
use crate::affine::{self, Affine, Term, in_both};
use crate::curve::{Curve, Reach, width_of};
use crate::rule::{Functions, Rule};
use kerfwise_source::Dimension;
use kerfwise_stack::{Band, Chance, Exact, MonteCarlo, Outcome, Propagation, Stack, StackBuilder};

/// The chance of both: exact where it can be, else by trials.
pub(super) fn chance(
    stack: &Stack,
    outcomes: [Outcome<'_>; 2],
    bands: [Band; 2],
    options: &MonteCarlo,
) -> Result<Found, String> {
    match exact(stack, outcomes, bands) {
        Ok(found) => Ok(found),
        Err(_) => by_trials(stack, outcomes, bands, options),
    }
}

/// What only one of the two fits has, and where it fits.
struct Own {
    law: Option<Exact>,
    cdf: Curve,
    /// Limits, counted from where the fit stands when nothing is off.
    limits: (f64, f64),
}

impl Own {
    fn new(law: Option<Exact>, fit: &Affine, band: Band) -> Self {
        let (lower, upper) = band.raw();
        Self {
            cdf: Curve::cdf(law.as_ref(), Dimension::LENGTH),
            law,
            limits: (lower - fit.location, upper - fit.location),
        }
    }

    /// The chances of at most the upper limit, and of between the limits, when what is shared is this.
    fn at(&self, shared: f64) -> (f64, f64) {
        let up_to = |limit: f64| self.cdf.at(limit - shared).clamp(0.0, 1.0);
        let (below, high) = (up_to(self.limits.0), up_to(self.limits.1));
        (high, (high - below).max(0.0))
    }

    /// Where it has a corner or a step.
    fn corners(&self) -> Vec<f64> {
        let ends = self.law.as_ref().map_or([0.0; 2], |law| {
            [0.0, 1.0].map(|p| law.quantile(p).value.raw())
        });
        let limits = [self.limits.0, self.limits.1];
        let all = limits.iter().flat_map(|limit| ends.map(|end| limit - end));
        all.filter(|x| x.is_finite()).collect()
    }
}

/// With C what both share, R and L what each has of its own, and independent:
///
/// ```text
/// P(both fit) = E [ P(lower ≤ C + R ≤ upper | C) P(lower ≤ C + L ≤ upper | C) ]
/// ```
fn exact(stack: &Stack, outcomes: [Outcome<'_>; 2], bands: [Band; 2]) -> Result<Found, Error> {
    let [one, other] = outcomes;
    let (one, other) = affine::beside(stack, one, Some(other.expr()))?;
    let (mut shared, mut own): (Vec<Term>, Vec<Term>) = (Vec::new(), Vec::new());
    for term in &one.terms {
        match in_both(term, &other)? {
            true => shared.push(term.clone()),
            false => own.push(term.clone()),
        }
    }
    let is_own = |term: &&Term| !shared.iter().any(|t| t.is_same(term));
    let rest: Vec<Term> = other.terms.iter().filter(is_own).cloned().collect();
    let matrix = stack.correlations();
    affine::parts_are_independent(&[&shared, &own, &rest], matrix)?;
    let law = |terms: &[Term]| affine::law(terms, Dimension::LENGTH, matrix);
    let parts = [
        Own::new(law(&own)?, &one, bands[0]),
        Own::new(law(&rest)?, &other, bands[1]),
    ];
    let shared = law(&shared)?;
    let [fine, coarse] = [2.0, 4.0].map(|times| mean(shared.as_ref(), &parts, times));
    let ((fine, error), (coarse, _)) = (fine?, coarse?);
    let off = (fine.inside - coarse.inside)
        .abs()
        .max((fine.above - coarse.above).abs())
        .max((fine.below - coarse.below).abs());
    Ok(Found {
        chance: fine,
        error: off + error,
        by: Propagation::Exact,
    })
}

fn mean(shared: Option<&Exact>, parts: &[Own; 2], times: f64) -> Result<(Chance, f64), Error> {
    let widths = parts.iter().filter_map(|part| part.law.as_ref());
    let narrow = widths.map(width_of).fold(f64::INFINITY, f64::min);
    let rule = match shared {
        None => Rule::point(),
        Some(shared) => {
            let corners: Vec<f64> = parts.iter().flat_map(Own::corners).collect();
            let (functions, reach) = (
                Functions::exact(shared, Dimension::LENGTH)?,
                Reach::of(shared, Dimension::LENGTH),
            );
            Rule::over(&functions, &reach, &corners, &|_, _| times * narrow)?
        }
    };
    let (mut both, mut none_tight) = (0.0, 0.0);
    for (place, weight) in rule.places.iter().zip(&rule.weights) {
        let [one, other] = [parts[0].at(*place), parts[1].at(*place)];
        none_tight += weight * one.0 * other.0;
        both += weight * one.1 * other.1;
    }
    // Each factor is a difference of two values of a curve.
    let curves: f64 = parts.iter().map(|part| 2.0 * part.cdf.error).sum();
    let error = rule.error + curves + 1e-14;
    let above = (1.0 - none_tight).clamp(0.0, 1.0);
    let inside = both.clamp(0.0, 1.0 - above);
    let chance = Chance {
        below: 1.0 - above - inside,
        inside,
        above,
    };
    Ok((chance, error))
}

/// Two runs over the same draws: none too tight, and both fit.
fn by_trials(
    stack: &Stack,
    outcomes: [Outcome<'_>; 2],
    bands: [Band; 2],
    options: &MonteCarlo,
) -> Result<Found, String> {
    // What other outcomes take is not in this stack, and would be refused in its correlations.
    let sources = affine::sources_of(&outcomes.map(|outcome| outcome.expr()));
    let run = |builder: StackBuilder| {
        let used = affine::correlated(builder, &sources, stack.correlations());
        let stack = used.build().map_err(|error| error.to_string())?;
        let answer = stack.monte_carlo(options.clone());
        let joint = answer.map_err(|declined| declined.to_string())?.joint;
        joint.ok_or_else(|| "the two fits have no chance at once".to_owned())
    };
    let with = |limits: [Option<Band>; 2]| {
        let pairs = outcomes.iter().zip(limits);
        pairs.fold(Stack::builder(), |builder, (outcome, band)| match band {
            Some(band) => builder.outcome(outcome.name(), outcome.expr(), band),
            None => builder.outcome_without_band(outcome.name(), outcome.expr()),
        })
    };
    let both = run(with(bands.map(Some)))?;
    let at_most = bands.map(|band| band.upper().and_then(|upper| Band::at_most(upper).ok()));
    let (none_tight, error) = if at_most.iter().all(Option::is_none) {
        (1.0, 0.0)
    } else {
        let found = run(with(at_most))?;
        (found.value, found.error)
    };
    Ok(Found {
        chance: Chance {
            below: (none_tight - both.value).max(0.0),
            inside: both.value,
            above: 1.0 - none_tight,
        },
        error: both.error.max(error),
        by: Propagation::MonteCarlo,
    })
}

#[cfg(test)]
mod tests {
    use super::super::*;
    use kerfwise_source::Source;
    use kerfwise_stack::{Band, Expr};

    fn at(setting: Length) -> Result<Stack, kerfwise_stack::Error> {
        let of = |name, sd: f64| {
            let made = Source::new(name, 0.inch()).normal(sd.thou()).build();
            Expr::source(&made.expect("a sound source"))
        };
        let slip = of("slip", 1.5) + (setting - 0.375.inch());
        let band = Band::within(4.0.thou())?;
        Stack::builder()
            .outcome("fit_rail", &(&slip - of("rail", 1.0)), band)
            .outcome("fit_leg", &(&slip - of("leg", 2.0) - 1.0.thou()), band)
            .build()
    }

    /// Half-way between the two mortises it would be 0.3755 in. The chances at 0.3755 in were computed independently at 30
    /// digits with mpmath: E over the slip of the product of two differences of Φ.
    #[test]
    fn both_fits_of_a_loose_tenon() {
        let options = SettingOptions::around(0.375.inch()).also("fit_leg");
        let found = Setting::best(&options, "fit_rail", at).unwrap();
        assert_eq!(found.by, Propagation::Exact);
        let there = |p: &&SettingPoint| (p.setting.to_thou() - 375.5).abs() < 1e-9;
        let chance = found.curve.iter().find(there).unwrap().chance;
        let (inside, above) = BY_MPMATH;
        // What the propagation itself claims, and more than rounding of a sum of a hundred terms.
        assert!(found.error < 1e-9, "{}", found.error);
        assert!((chance.inside - inside).abs() < 1e-10, "{}", chance.inside);
        assert!((chance.above - above).abs() < 1e-10, "{}", chance.above);
    }

    const BY_MPMATH: (f64, f64) = (0.860_236_652_953_329_7, 0.055_934_126_179_874_63);

    /// The same question, where one fit is bent so little that it hardly matters: by trials, with their standard error.
    #[test]
    fn bent_fits_are_answered_by_trials() {
        let bent = |setting| {
            let stack = at(setting)?;
            let [rail, leg] = ["fit_rail", "fit_leg"].map(|name| stack.outcome(name).unwrap());
            let hardly = leg.expr() + leg.expr() * leg.expr() / 1000.0.inch();
            let builder = Stack::builder().outcome("fit_rail", rail.expr(), rail.band().unwrap());
            builder
                .outcome("fit_leg", &hardly, leg.band().unwrap())
                .build()
        };
        let options = SettingOptions::around(0.3755.inch())
            .step(0.5.thou())
            .reach(0.1.thou())
            .monte_carlo(MonteCarlo::new().trials(200_000))
            .also("fit_leg");
        let found = Setting::best(&options, "fit_rail", bent).unwrap();
        assert_eq!(found.by, Propagation::MonteCarlo);
        // A square of 4 thou over 1,000 in moves no limit that counts; five standard errors.
        let (inside, above) = BY_MPMATH;
        assert!((found.chance.inside - inside).abs() < 5.0 * found.error);
        assert!((found.chance.above - above).abs() < 5.0 * found.error);
        assert!(found.error < 0.0012);
    }

    /// Trials ask only for the two fits: sources of a third outcome that are correlated are none of theirs.
    #[test]
    fn correlated_sources_of_another_outcome_are_left_out() {
        let of = |name: &str| {
            let made = Source::new(name, 0.inch()).rectangular(1.thou()).build();
            made.expect("a sound source")
        };
        let (wall, door) = (of("wall"), of("door"));
        let beside = |setting| {
            let stack = at(setting)?;
            let [rail, leg] = ["fit_rail", "fit_leg"].map(|name| stack.outcome(name).unwrap());
            let bent = rail.expr() + rail.expr().abs();
            let gap = Expr::source(&wall) - Expr::source(&door);
            Stack::builder()
                .outcome("fit_rail", &bent, rail.band().unwrap())
                .outcome("fit_leg", leg.expr(), leg.band().unwrap())
                .outcome_without_band("gap", &gap)
                .correlated(&wall, &door, 0.5)
                .build()
        };
        let options = SettingOptions::around(0.3755.inch())
            .step(0.5.thou())
            .reach(0.1.thou())
            .monte_carlo(MonteCarlo::new().trials(20_000))
            .also("fit_leg");
        let found = Setting::best(&options, "fit_rail", beside).unwrap();
        assert_eq!(found.by, Propagation::MonteCarlo);
        assert!(
            (found.chance.above + found.chance.inside + found.chance.below - 1.0).abs() < 1e-12
        );
    }

    #[test]
    fn says_that_the_other_fit_is_not_there() {
        let options = SettingOptions::around(0.375.inch()).also("fit_post");
        let refused = Setting::best(&options, "fit_rail", at).unwrap_err();
        assert_eq!(refused.to_string(), "the stack has no outcome \"fit_post\"");
    }
}
