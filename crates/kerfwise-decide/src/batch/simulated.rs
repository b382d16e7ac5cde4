//! Batches of outcomes that are not affine, by Monte Carlo.

use super::{BatchForecast, BatchOptions, Spares, add_binomial, ln_choose};
use crate::Error;
use crate::affine;
use kerfwise_numeric::float;
use kerfwise_numeric::special::ln_gamma;
use kerfwise_source::Quantity;
use kerfwise_stack::{
    Band, BatchSimulation, Bounded, Chance, Expr, MonteCarlo, QuasiMonteCarlo, Stack,
};

/// The most pieces that are simulated.
const MOST_PIECES: u32 = 1_000;

impl BatchForecast {
    /// The forecast by simulated batches, for an outcome that is not affine. `error` is then the largest standard error of
    /// the chances of a number, and that of the one chance is in `one`.
    ///
    /// Batches of n + s pieces are simulated, s the most spares; of K that fit among all N of them, the chance that k of the
    /// first n fit is hypergeometric, since pieces of one set-up come in no order:
    ///
    /// ```text
    /// P(k of n) = Σ_K P(K of N) · C(K, k) C(N − K, n − k) / C(N, n)
    /// ```
    ///
    /// # Errors
    ///
    /// As [`of`](Self::of), but for more than 1,000 pieces and for outcomes that Monte Carlo declines.
    ///
    /// ```
    /// use kerfwise_decide::{BatchForecast, BatchOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};
    ///
    /// // A lean of the jig only ever takes away, so a tenth of all set-ups is off, with all of their pieces.
    /// let lean = Source::new("lean", 0.inch()).normal(1.thou()).build()?;
    /// let cut = Expr::constant(0.inch()) - Expr::source(&lean).abs();
    /// let stack = Stack::builder().outcome("cut", &cut, Band::within(1.644_854.thou())?).build()?;
    /// let batch = BatchForecast::simulated(&stack, "cut", &BatchOptions::of(8), &MonteCarlo::new().trials(40_000))?;
    /// assert!((batch.all() - 0.9).abs() < 4.0 * batch.error && batch.error < 0.002);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn simulated(
        stack: &Stack,
        outcome: &str,
        options: &BatchOptions,
        monte_carlo: &MonteCarlo,
    ) -> Result<Self, Error> {
        checked(options)?;
        let alone = only(stack, &[outcome])?;
        let found = simulate(&alone, options, monte_carlo)?;
        let one = chance(&alone, outcome, monte_carlo)?;
        Ok(Counts::of(&found).forecast(one, options))
    }

    /// The forecast for several outcomes of a stack by simulated batches: for stacks that [`of_all`](Self::of_all) refuses. `one` and `error` are as there and as for [`simulated`](Self::simulated).
    ///
    /// # Errors
    ///
    /// As [`of`](Self::of), when no outcome is named or one twice, for more than 1,000 pieces, and for outcomes that Monte
    /// Carlo declines.
    ///
    /// ```
    /// use kerfwise_decide::{BatchForecast, BatchOptions};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, MonteCarlo, Stack};
    ///
    /// // Two jigs, each off in half of all set-ups, with all of their pieces.
    /// let jig = |name| Source::new(name, 0.inch()).rectangular(4.thou()).build();
    /// let (rail, leg) = (jig("rail")?, jig("leg")?);
    /// let band = Band::within(2.thou())?;
    /// let stack = Stack::builder()
    ///     .outcome("fit_rail", &Expr::source(&rail), band)
    ///     .outcome("fit_leg", &Expr::source(&leg), band)
    ///     .build()?;
    /// let (both, options) = (["fit_rail", "fit_leg"], BatchOptions::of(8));
    /// assert!(BatchForecast::of_all(&stack, &both, &options).is_err()); // two numbers are shared
    /// let monte_carlo = MonteCarlo::new().trials(40_000);
    /// let batch = BatchForecast::simulated_all(&stack, &both, &options, &monte_carlo)?;
    /// assert!((batch.all() - 0.25).abs() < 4.0 * batch.error && batch.error < 0.003);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn simulated_all(
        stack: &Stack,
        outcomes: &[&str],
        options: &BatchOptions,
        monte_carlo: &MonteCarlo,
    ) -> Result<Self, Error> {
        checked(options)?;
        let alone = only(stack, outcomes)?;
        let found = simulate(&alone, options, monte_carlo)?;
        let above = some_above(&alone, monte_carlo)?;
        let not = 1.0 - found.one.value;
        let one = Bounded {
            value: Chance {
                below: (not - above.value).max(0.0),
                inside: found.one.value,
                above: above.value.min(not),
            },
            error: found.one.error + above.error,
        };
        Ok(Counts::of(&found).forecast(one, options))
    }
}

fn checked(options: &BatchOptions) -> Result<(), Error> {
    options.check()?;
    let n = options.pieces;
    if n > MOST_PIECES {
        return Err(Error::question(format!(
            "at most {MOST_PIECES} pieces are simulated (got {n})"
        )));
    }
    Ok(())
}

/// A stack of these outcomes only.
fn only(stack: &Stack, names: &[&str]) -> Result<Stack, Error> {
    let mut alone = Stack::builder();
    let mut exprs = Vec::new();
    for (outcome, band) in super::banded(stack, names)? {
        alone = alone.outcome(outcome.name(), outcome.expr(), band);
        exprs.push(outcome.expr());
    }
    let sources = affine::sources_of(&exprs);
    Ok(affine::correlated(alone, &sources, stack.correlations()).build()?)
}

/// The most spares that are thought of.
fn most_spares(pieces: u32) -> u32 {
    pieces.max(10)
}

fn simulate(
    stack: &Stack,
    options: &BatchOptions,
    monte_carlo: &MonteCarlo,
) -> Result<BatchSimulation, Error> {
    let all = options.pieces + most_spares(options.pieces);
    Ok(stack.simulate_batch(all, &options.event, monte_carlo.clone())?)
}

/// The chance that some outcome is above its band: that the greatest of all excesses is above 0.
fn some_above(stack: &Stack, monte_carlo: &MonteCarlo) -> Result<Bounded<f64>, Error> {
    const EXCESS: &str = "excess";
    let excesses = stack.outcomes().filter_map(|outcome| {
        let upper = outcome.band()?.upper()?;
        let unit = Expr::constant(Quantity::new(1.0, upper.dimension()));
        Some((outcome.expr().clone() - Expr::constant(upper)) / unit)
    });
    let Some(greatest) = excesses.reduce(|a, b| a.max(&b)) else {
        return Ok(Bounded {
            value: 0.0,
            error: 0.0,
        });
    };
    let alone = affine::correlated(
        Stack::builder().outcome(EXCESS, &greatest, Band::at_most(0.0)?),
        &greatest.sources(),
        stack.correlations(),
    )
    .build()?;
    let found = chance(&alone, EXCESS, monte_carlo)?;
    Ok(Bounded {
        value: found.value.above,
        error: found.error,
    })
}

/// The chance of a piece, by even points where they will do.
fn chance(stack: &Stack, name: &str, monte_carlo: &MonteCarlo) -> Result<Bounded<Chance>, Error> {
    let largest = |error: &Chance| error.below.max(error.inside).max(error.above);
    if let Ok(found) = affine::named(stack, name)?.quasi_monte_carlo(QuasiMonteCarlo::new()) {
        return Ok(Bounded {
            error: largest(&found.chance_error),
            value: found.chance,
        });
    }
    let answer = stack.monte_carlo(monte_carlo.clone())?;
    let found = answer.outcomes.iter().find(|o| o.name == name);
    found
        .and_then(|o| {
            Some(Bounded {
                value: o.chance?,
                error: largest(&o.chance_error?),
            })
        })
        .ok_or_else(|| Error::question(format!("outcome \"{name}\" has no chance")))
}

/// Shares of the simulated batches in which so many pieces fit.
struct Counts {
    chances: Vec<f64>,
    batches: f64,
}

impl Counts {
    fn of(found: &BatchSimulation) -> Self {
        let batches = found.batches as f64;
        let counts = found.counts.iter();
        Self {
            chances: counts.map(|count| *count as f64 / batches).collect(),
            batches,
        }
    }

    fn pieces(&self) -> u32 {
        self.chances.len() as u32 - 1
    }

    /// The chance that k of n fit.
    fn exactly(&self, n: u32, k: u32) -> f64 {
        let all = self.pieces();
        let ln_ways = |n: u32, k: u32| {
            let ln = |n: u32| ln_gamma(f64::from(n) + 1.0);
            ln(n) - ln(k) - ln(n - k)
        };
        let whole = ln_ways(all, n);
        let fitting = (0..)
            .zip(&self.chances)
            .filter(|(fit, p)| **p > 0.0 && *fit >= k && all - fit >= n - k);
        fitting
            .map(|(fit, p)| p * float::exp(ln_ways(fit, k) + ln_ways(all - fit, n - k) - whole))
            .sum()
    }

    fn at_least(&self, n: u32, k: u32) -> f64 {
        (k..=n).map(|k| self.exactly(n, k)).sum::<f64>().min(1.0)
    }

    fn forecast(&self, one: Bounded<Chance>, options: &BatchOptions) -> BatchForecast {
        let n = options.pieces;
        let most = most_spares(n);
        let fits: Vec<f64> = (0..=n).map(|k| self.exactly(n, k)).collect();
        let mean = |g: &dyn Fn(f64) -> f64| -> f64 {
            (0..).zip(&fits).map(|(k, p)| p * g(f64::from(k))).sum()
        };
        let expected = mean(&|k| k);
        let sd = mean(&|k| (k - expected) * (k - expected)).max(0.0).sqrt();
        let mut if_independent = vec![0.0; n as usize + 1];
        let not = one.value.below + one.value.above;
        add_binomial(
            &mut if_independent,
            &ln_choose(n),
            1.0,
            one.value.inside,
            not,
        );
        let largest = fits.iter().map(|p| p * (1.0 - p)).fold(0.0, f64::max);
        let spares = (0..=most).find(|s| self.at_least(n + s, n) >= options.assurance);
        BatchForecast {
            pieces: n,
            one,
            // None of all batches is no proof: a share of less than one batch cannot be told from 0.
            error: (largest / self.batches).sqrt().max(1.0 / self.batches),
            fits,
            if_independent,
            expected,
            sd,
            spares: Spares {
                assurance: options.assurance,
                needed: spares,
                chance: self.at_least(n + spares.unwrap_or(most), n),
                most,
            },
            rework_minutes: options
                .costs
                .map(|costs| f64::from(n) * costs.expected(&one.value)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwise_source::{Event, LengthUnits, Source};
    use kerfwise_stack::{Band, Expr};

    /// An affine outcome can be both simulated and computed.
    #[test]
    fn simulated_batches_are_those_of_the_exact_forecast() {
        let set_up = Source::new("set_up", 0.inch())
            .normal(2.thou())
            .build()
            .unwrap();
        let piece = Source::new("piece", 0.5.thou())
            .normal(2.thou())
            .event(Event::piece())
            .build()
            .unwrap();
        let fit = Expr::source(&set_up) + Expr::source(&piece);
        let band = Band::within(5.thou()).unwrap();
        let stack = Stack::builder().outcome("fit", &fit, band).build().unwrap();
        let costs = crate::Costs {
            tight: 5.0,
            loose: 20.0,
        };
        let options = BatchOptions::of(8).assurance(0.8).rework_minutes(costs);
        let exact = BatchForecast::of(&stack, "fit", &options).unwrap();
        let monte_carlo = MonteCarlo::new().trials(100_000);
        let found = BatchForecast::simulated(&stack, "fit", &options, &monte_carlo).unwrap();
        for (a, b) in found.fits.iter().zip(&exact.fits) {
            // Nine numbers, four and a half of the largest standard error.
            assert!((a - b).abs() < 4.5 * found.error, "{a} {b} {}", found.error);
        }
        assert!(found.error < 0.002);
        assert_eq!(found.spares.needed, exact.spares.needed);
        assert!((found.spares.chance - exact.spares.chance).abs() < 4.5 * 0.002);
        let minutes = |batch: &BatchForecast| batch.rework_minutes.unwrap();
        // The chance of one is good to 1e-4 and better by even points; 8 joints at up to 20 minutes.
        assert!((minutes(&found) - minutes(&exact)).abs() < 160.0 * 4.0 * found.one.error);
    }
}
