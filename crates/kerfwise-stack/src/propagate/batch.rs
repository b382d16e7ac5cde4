//! Many pieces with shared errors shared.

mod nodes;

use super::exact::{self, Form, Kink, Sum, Target};
use crate::{Bounded, Chance, Decline, Outcome, Propagation};
use kerfwise_numeric::float;
use kerfwise_source::{Event, Quantity};
use nodes::{Nodes, Of};

/// Options of the batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    pieces: u32,
    event: Event,
}

impl Batch {
    /// So many pieces, drawn anew by the event "piece".
    ///
    /// ```
    /// use kerfwise_source::Event;
    /// use kerfwise_stack::Batch;
    ///
    /// let batch = Batch::of(24);
    /// assert_eq!(batch.pieces(), 24);
    /// assert_eq!(batch.event(), &Event::piece());
    /// ```
    #[must_use]
    pub fn of(pieces: u32) -> Self {
        Self {
            pieces,
            event: Event::piece(),
        }
    }

    /// The event that makes a new piece: sources that it redraws differ from piece to piece, all others are shared.
    #[must_use]
    pub fn redrawn_by(mut self, event: Event) -> Self {
        self.event = event;
        self
    }

    /// How many pieces.
    #[must_use]
    pub fn pieces(&self) -> u32 {
        self.pieces
    }

    /// The event that makes a new piece.
    #[must_use]
    pub fn event(&self) -> &Event {
        &self.event
    }
}

/// What a batch with shared errors does.
///
/// ```text
/// P(all n) = E p(S)^n,   p(s) = P(lower ≤ s + X ≤ upper)
/// ```
/// S is what the pieces share, X what is drawn anew for each. Every chance carries a bound of its numerical error.
#[derive(Debug, Clone, PartialEq)]
pub struct BatchAnswer {
    /// How many pieces.
    pub pieces: u32,
    /// The chance of one piece.
    pub one: Bounded<Chance>,
    /// The chance that all pieces lie in the band.
    pub all: Bounded<f64>,
    /// The chance that none does.
    pub none: Bounded<f64>,
    /// What it would be if nothing were shared: the chance of one to the power n (wrong, shown for teaching).
    pub if_independent: f64,
    /// Standard deviation of what the pieces share; `None` where they share nothing, or there is none (Student t, ν ≤ 2).
    pub shared_standard_deviation: Option<Quantity>,
    /// Standard deviation from piece to piece; `None` where pieces do not differ, or there is none.
    pub piece_standard_deviation: Option<Quantity>,
}

/// The chance of a piece as a random number: what the pieces share is drawn once, and with it the chance of each.
#[derive(Debug, Clone)]
pub(crate) struct Mixture {
    shared: Sum,
    piece: Sum,
    /// Both together.
    whole: Sum,
    has_pieces: bool,
    lower: f64,
    upper: f64,
}

impl Mixture {
    /// Splits an outcome by the event that makes a new piece.
    pub(crate) fn of(outcome: Outcome<'_>, event: &Event) -> Result<Self, Vec<String>> {
        let band = outcome
            .band()
            .ok_or_else(|| vec![format!("outcome \"{}\" has no band", outcome.name())])?;
        let (lower, upper) = band.raw();
        let form = Form::of(outcome, &|of| of.is_redrawn_by(event))?;
        let one = |why| vec![why];
        // Everything is located at the piece: what is shared is counted from zero.
        let piece = Sum::of(&form, 1, form.location(), &[]).map_err(one)?;
        let (least, most, _) = piece.extent();
        // Between these places the chances of a piece vary.
        let places = [lower - most, upper - least];
        Ok(Self {
            shared: Sum::of(&form, 0, (0.0, 0.0), &places).map_err(one)?,
            piece,
            whole: Sum::whole(&form, &[lower, upper]).map_err(one)?,
            has_pieces: form.has_second(),
            lower,
            upper,
        })
    }

    /// The chances of a piece, given the shared error.
    fn given(&self, shared: f64) -> Bounded<Chance> {
        exact::chance_between(&self.piece, self.lower - shared, self.upper - shared)
    }

    /// The chances of one piece.
    fn one(&self) -> Bounded<Chance> {
        exact::chance_between(&self.whole, self.lower, self.upper)
    }

    /// E g(chances of a piece) over what the pieces share, for several continuous g at once.
    ///
    /// By sums of equal steps where they serve, by a quadrature that adapts otherwise.
    fn mix_all(&self, one: Bounded<Chance>, gs: &[Of<'_>]) -> Vec<Bounded<f64>> {
        // Such sums know a chance to an absolute error: where small ones have digits to lose, they are not taken.
        let keeps = self.shared.keeps_small_chances() && self.piece.keeps_small_chances();
        for fineness in FINENESS.iter().filter(|_| !keeps) {
            let Some(nodes) = Nodes::of(self, one, *fineness) else {
                break;
            };
            let answers: Vec<_> = gs.iter().map(|g| nodes.expect(g)).collect();
            let is_fine =
                |(answer, step): &(Bounded<f64>, f64)| *step <= STEP_ERROR.max(0.25 * answer.error);
            if answers.iter().all(is_fine) {
                return answers.into_iter().map(|(answer, _)| answer).collect();
            }
        }
        gs.iter().map(|g| self.mix(g)).collect()
    }

    /// E g(chances of a piece) over what the pieces share. `g` must be continuous.
    fn mix(&self, of: Of<'_>) -> Bounded<f64> {
        let g = |chance: &Chance| {
            of(&Bounded {
                value: *chance,
                error: 0.0,
            })
            .value
        };
        let (least, most, outside) = self.piece.extent();
        let low = Chance {
            below: 1.0,
            ..Chance::default()
        };
        let high = Chance {
            above: 1.0,
            ..Chance::default()
        };
        let inside = Chance {
            inside: 1.0,
            ..Chance::default()
        };
        // Shared errors below the first place leave every piece below the band (or inside, if it has no lower limit).
        let (first, below) = if self.lower.is_finite() {
            (self.lower - most, &low)
        } else {
            (self.upper - most, &inside)
        };
        let (last, above) = if self.upper.is_finite() {
            (self.upper - least, &high)
        } else {
            (self.lower - least, &inside)
        };
        let moved = |chance: &Chance| {
            let other = Chance {
                below: (1.0 - outside) * chance.below + outside * chance.inside,
                inside: (1.0 - outside) * chance.inside + outside * (chance.below + chance.above),
                above: (1.0 - outside) * chance.above + outside * chance.inside,
            };
            (g(&other) - g(chance)).abs()
        };
        let mut kinks = Vec::new();
        for kink in self.piece.kinks() {
            for limit in [self.lower, self.upper] {
                if limit.is_finite() {
                    kinks.push(Kink {
                        at: limit - kink.at,
                        power: kink.power,
                    });
                }
            }
        }
        let at = |shared: f64| of(&self.given(shared));
        let answer = self.shared.expect(&Target {
            g: &at,
            inside: (first, last),
            outside: (g(below), g(above)),
            slack: moved(below).max(moved(above)),
            kinks,
        });
        Bounded {
            value: answer.value,
            error: answer.error + 2.0 * f64::EPSILON * answer.value.abs(),
        }
    }
}

/// Steps of the sums over what pieces share: the first suffices for a few dozen pieces.
const FINENESS: [f64; 3] = [0.85, 1.7, 3.4];
/// What too long a step may do to a chance.
const STEP_ERROR: f64 = 2e-13;

/// p^n; `rest` is 1 − p.
fn raised(p: f64, rest: f64, n: u32) -> f64 {
    if p <= 0.0 && n > 0 {
        0.0
    } else if n <= 64 {
        // A few products: quicker than a logarithm, and off by n units at most.
        float::powi(p, n as i32)
    } else if rest < 0.5 {
        float::exp(f64::from(n) * float::ln_1p(-rest))
    } else {
        float::powf(p, f64::from(n))
    }
}

/// p^n with n above 0, and what the error of p does to it: the slope n p^(n − 1) rises with p.
fn power(p: f64, rest: f64, error: f64, n: u32) -> Bounded<f64> {
    let p = p.clamp(0.0, 1.0);
    let value = raised(p, rest, n);
    let moved = f64::from(n) * error;
    let slope = if moved < 0.1 * p {
        // (1 + error/p)^(n − 1) is at most e^0.1.
        1.12 * value / p
    } else {
        raised((p + error).min(1.0), (rest - error).max(0.0), n - 1)
    };
    Bounded {
        value,
        error: moved * slope + f64::from(n) * f64::EPSILON * value,
    }
}

/// The chance that n pieces fit, given the chances of one.
fn all_fit(one: &Bounded<Chance>, n: u32) -> Bounded<f64> {
    let chance = one.value;
    power(chance.inside, chance.below + chance.above, one.error, n)
}

/// The chance that none of n pieces does.
fn none_fits(one: &Bounded<Chance>, n: u32) -> Bounded<f64> {
    let chance = one.value;
    power(chance.below + chance.above, chance.inside, one.error, n)
}

pub(crate) fn run(outcome: Outcome<'_>, options: &Batch) -> Result<BatchAnswer, Decline> {
    let declined = |reasons| Decline::new(Propagation::Exact, reasons);
    let mixture = Mixture::of(outcome, &options.event).map_err(declined)?;
    let one = mixture.one();
    let n = options.pieces;
    let (all, none) = if options.pieces <= 1 || !mixture.has_pieces {
        // One piece, or all alike.
        let certain = Bounded {
            value: 1.0,
            error: 0.0,
        };
        if options.pieces == 0 {
            (certain, certain)
        } else {
            let chance = one.value;
            let bounded = |value| Bounded {
                value,
                error: one.error,
            };
            (bounded(chance.inside), bounded(chance.below + chance.above))
        }
    } else {
        let both = mixture.mix_all(one, &[&|of| all_fit(of, n), &|of| none_fits(of, n)]);
        (both[0], both[1])
    };
    let quantity = |raw| Quantity::new(raw, outcome.dimension());
    let spread = |sum: &Sum| {
        sum.standard_deviation()
            .filter(|sd| *sd > 0.0)
            .map(quantity)
    };
    Ok(BatchAnswer {
        pieces: options.pieces,
        if_independent: raised(one.value.inside, one.value.below + one.value.above, n),
        one,
        all: within_one(all),
        none: within_one(none),
        shared_standard_deviation: spread(&mixture.shared),
        piece_standard_deviation: spread(&mixture.piece),
    })
}

fn within_one(chance: Bounded<f64>) -> Bounded<f64> {
    Bounded {
        value: chance.value.clamp(0.0, 1.0),
        error: chance.error.min(1.0),
    }
}

#[cfg(test)]
mod tests;
