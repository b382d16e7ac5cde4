//! The rest of a batch, after some of its pieces were measured.

use super::evidence::{Beliefs, Seen, focus};
use super::options::Feel;
use super::prior::TestCut;
use crate::Error;
use crate::batch::{BatchForecast, BatchOptions, Mixture};
use crate::rule::Rule;
use kerfwise_source::{Dimension, Length};
use kerfwise_stack::{Bounded, Chance};

impl TestCut {
    /// How many of the rest of a batch fit, after some of its pieces were measured and the jig was left as it is; `options`
    /// are about the rest.
    ///
    /// ```text
    /// P(k of the rest fit | readings) = E [ C(n, k) p(S)^k (1 − p(S))^(n − k) | readings ],   S = K + J + E
    /// ```
    /// What the pieces share is believed by Bayes' rule, E as before, since no reading tells of it.
    ///
    /// # Errors
    ///
    /// As [`after_readings`](Self::after_readings), and as [`BatchForecast::of`] for the options.
    ///
    /// ```
    /// use kerfwise_decide::{BatchOptions, TestCut, TestCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(3.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// let cut = TestCut::measured(&stack, "fit", &fit, &TestCutOptions::new().resolution(0.inch()))?;
    /// let rest = cut.rest_after_readings(&[0.4.thou(), (-0.2).thou(), 0.1.thou(), (-0.3).thou()], &BatchOptions::of(20))?;
    /// // Four pieces about the middle: the set-up is good to half a thou, and nearly all of the rest fit.
    /// assert!(rest.expected > 19.8 && rest.at_least(19) > 0.96);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn rest_after_readings(
        &self,
        readings: &[Length],
        options: &BatchOptions,
    ) -> Result<BatchForecast, Error> {
        self.rest(&self.readings(readings)?, options)
    }

    /// The same after pieces that were felt.
    ///
    /// # Errors
    ///
    /// As [`rest_after_readings`](Self::rest_after_readings).
    pub fn rest_after_feeling(
        &self,
        feels: &[Feel],
        options: &BatchOptions,
    ) -> Result<BatchForecast, Error> {
        self.rest(&self.feels(feels)?, options)
    }

    fn rest(&self, seen: &[Seen], options: &BatchOptions) -> Result<BatchForecast, Error> {
        options.check()?;
        let rules = self.rules_for(focus(seen, 8.0 * self.noise_sd))?;
        let beliefs = self.believe_both(seen, &rules)?;
        let [fine, _] = &rules;
        let piece = self.noise_sd;
        let unseen = [2.0, 4.0].map(|times| {
            let law = self.laws.fit_only.as_ref();
            Rule::of(law, Dimension::LENGTH, &|_, _| times * piece)
        });
        let [near, far] = unseen;
        let (near, far) = (near?, far?);
        let places = [
            self.places(&beliefs[0], &near),
            self.places(&beliefs[1], &far),
        ];
        // Weights that are left out, laws that are cut off, and the curve of the piece, as in the test cut.
        let light = LIGHT * (near.places.len() * fine.both.places.len()) as f64;
        let known_error = 2.0
            * (fine.both.error + near.error + self.curves.piece.error + beliefs[0].error())
            + light
            + 1e-14;
        let [fine, coarse] = [&places[0], &places[1]].map(|p| mean(p));
        let off = (fine.inside - coarse.inside).abs();
        let one = Bounded {
            value: fine,
            error: off + known_error,
        };
        let places = places.map(|all| all.into_iter().map(counted).collect());
        Ok(Mixture::new(one, places, known_error).forecast(options))
    }

    /// For every shared error its weight, and the chance of a piece.
    fn places(&self, beliefs: &Beliefs, unseen: &Rule) -> Vec<(f64, Chance)> {
        let (lower, upper) = self.limits();
        let mut places = Vec::new();
        for (c, p) in pairs(&beliefs.both) {
            for (e, q) in pairs(unseen).filter(|(_, q)| p * q > LIGHT) {
                let s = c + e;
                let below = self.curves.piece.at(lower - s).clamp(0.0, 1.0);
                let above = (1.0 - self.curves.piece.at(upper - s)).clamp(0.0, 1.0 - below);
                let inside = 1.0 - below - above;
                places.push((
                    p * q,
                    Chance {
                        below,
                        inside,
                        above,
                    },
                ));
            }
        }
        places
    }
}

/// What has no more weight than this is left out.
const LIGHT: f64 = 1e-20;

fn pairs(rule: &Rule) -> impl Iterator<Item = (f64, f64)> {
    rule.places
        .iter()
        .copied()
        .zip(rule.weights.iter().copied())
}

fn mean(places: &[(f64, Chance)]) -> Chance {
    let of = |part: fn(&Chance) -> f64| places.iter().map(|(w, c)| w * part(c)).sum::<f64>();
    let below = of(|c| c.below).clamp(0.0, 1.0);
    let above = of(|c| c.above).clamp(0.0, 1.0 - below);
    Chance {
        below,
        inside: 1.0 - below - above,
        above,
    }
}

/// Weight, fits, does not.
fn counted((weight, chance): (f64, Chance)) -> (f64, f64, f64) {
    let not = chance.below + chance.above;
    (weight, 1.0 - not, not)
}
