//! Test cuts of fits that are not affine, by weighted trials.

use super::advice::{Advice, NextPiece, Offset, TestCutAnswer};
use super::options::{Feel, TestCutOptions};
use super::prior::{band_of, length, positive};
use super::trials::{JOINTS, Trial, Trier};
use crate::Error;
use crate::affine::{named, step_of};
use crate::plausible::far_off;
use kerfwise_numeric::float;
use kerfwise_numeric::special::{normal_cdf, normal_interval, normal_pdf, normal_sf};
use kerfwise_source::Length;
use kerfwise_stack::{Bounded, Chance, Expr, Stack};

/// Blocks of 1,024 trials at first, and at most.
const FIRST: u64 = 16;
const MOST: u64 = 128;
/// Trials are added until they are worth so many; worth less than the other number they say nothing.
const ENOUGH: f64 = 4_000.0;
const LEAST: f64 = 200.0;
/// As of a [`TestCut`](super::TestCut): pieces that fit together less well than exp(−20 − m/2) contradict each other.
const CONTRADICTION: f64 = 20.0;
/// The most test pieces.
const MOST_PIECES: usize = 100;
/// A reading so many standard deviations from what is expected is taken for a mistake.
const IMPLAUSIBLE: f64 = 6.0;

/// What is known of a set-up whose fit is not affine (a wall that leans, a tenon felt at its fattest spot): asked as a
/// [`TestCut`](super::TestCut), answered by weighted trials.
///
/// ```text
/// trial i:   K, J, E, D drawn;  wᵢ = Π P(reading j | K, J, D, the piece's errors drawn for j)
/// chance after the readings ≈ Σ wᵢ P(fit | trial i) / Σ wᵢ,   worth (Σ wᵢ)² / Σ wᵢ² trials
/// ```
/// Normal errors of the piece that only add to the fit or to the reading are not drawn but integrated out, exactly. The
/// weights are right on average although the other errors of a test piece are drawn but once: that makes the trials worth
/// less, not the answer wrong (importance sampling; Owen, Monte Carlo theory, methods and examples, 2013, 9.2 and 9.3).
///
/// ```
/// use kerfwise_decide::{SampledTestCut, TestCutOptions};
/// use kerfwise_source::{Event, LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Stack};
///
/// // An affine fit, so that Bayes' rule for normal errors can be done with a pencil: see TestCut.
/// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
/// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
/// let fit = Expr::source(&set_up) + Expr::source(&piece);
/// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
/// let cut = SampledTestCut::measured(&stack, "fit", &fit, &TestCutOptions::new().resolution(0.inch()))?;
/// let found = cut.after_readings(&[3.4.thou()])?;
/// // 16/17 of the reading, known to 4/√17 thou; five standard errors.
/// let error = 4.0 / 17.0_f64.sqrt() / found.effective.sqrt();
/// assert!((found.answer.after.mean.to_thou() - 3.2).abs() < 5.0 * error);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct SampledTestCut {
    trier: Trier,
    band: (f64, f64),
    step: f64,
    resolution: f64,
    is_felt: bool,
}

/// What test pieces say, found by weighted trials.
#[derive(Debug, Clone, PartialEq)]
pub struct SampledAnswer {
    /// The answer. The errors of its chances are standard errors, and so wide is every other number of it.
    pub answer: TestCutAnswer,
    /// Standard error of [`raises`](TestCutAnswer::raises).
    pub raises_error: f64,
    /// Trials that were made.
    pub trials: u64,
    /// What one more test piece would be worth: its reading is taken in sixteen steps of equal chance, what to do after each
    /// is chosen by one half of the trials and judged by the other, so it is a lower bound, but for the standard error.
    pub next: NextPiece,
    /// What they are worth: as many trials of equal weight would know as much.
    pub effective: f64,
}

/// One thing that was seen, raw: the least and the greatest that the gauge may have held.
#[derive(Clone, Copy)]
struct Seen(f64, f64);

impl SampledTestCut {
    /// Test pieces are read with a gauge; as [`TestCut::measured`](super::TestCut::measured).
    ///
    /// # Errors
    ///
    /// When the fit has no band of two limits, fit or reading is not a length, sources are correlated, or an option is not a
    /// length of its kind.
    pub fn measured(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        options: &TestCutOptions,
    ) -> Result<Self, Error> {
        Self::new(stack, outcome, Some(shown), options)
    }

    /// Test pieces are tried in mortises of the job; as [`TestCut::felt`](super::TestCut::felt).
    ///
    /// # Errors
    ///
    /// As [`measured`](Self::measured).
    pub fn felt(stack: &Stack, outcome: &str, options: &TestCutOptions) -> Result<Self, Error> {
        Self::new(stack, outcome, None, options)
    }

    fn new(
        stack: &Stack,
        outcome: &str,
        shown: Option<&Expr>,
        options: &TestCutOptions,
    ) -> Result<Self, Error> {
        let outcome = named(stack, outcome)?;
        let band = band_of(outcome)?;
        let resolution = step_of(options.resolution, band)?;
        Ok(Self {
            step: positive("dial step", options.dial_step)?,
            trier: Trier::of(stack, outcome, shown, options, SEED)?,
            band,
            resolution,
            is_felt: shown.is_none(),
        })
    }

    /// Advice from readings of test pieces.
    ///
    /// # Errors
    ///
    /// When there are no readings or more than 100, when one is not finite or so far off that it is a mistake, or when so few
    /// trials agree with them that nothing can be said.
    pub fn after_readings(&self, readings: &[Length]) -> Result<SampledAnswer, Error> {
        if self.is_felt {
            return Err(Error::question(
                "this test cut was set up for pieces that are felt; set it up with a gauge for readings",
            ));
        }
        let half = 0.5 * self.resolution;
        let mut seen = Vec::with_capacity(readings.len());
        for reading in readings {
            let r = reading.to_inches();
            if !r.is_finite() {
                return Err(Error::observation(format!(
                    "a reading must be a finite length (got {reading})"
                )));
            }
            seen.push(Seen(r - half, r + half));
        }
        self.after(&seen)
    }

    /// Advice from the feel of test pieces.
    ///
    /// # Errors
    ///
    /// As [`after_readings`](Self::after_readings).
    pub fn after_feeling(&self, feels: &[Feel]) -> Result<SampledAnswer, Error> {
        if !self.is_felt {
            return Err(Error::question(
                "this test cut was set up for readings of a gauge; set it up for pieces that are felt",
            ));
        }
        let (lower, upper) = self.band;
        let seen: Vec<Seen> = feels
            .iter()
            .map(|feel| match feel {
                Feel::Tight => Seen(upper, f64::INFINITY),
                Feel::Fits => Seen(lower, upper),
                Feel::Loose => Seen(f64::NEG_INFINITY, lower),
            })
            .collect();
        self.after(&seen)
    }

    fn after(&self, seen: &[Seen]) -> Result<SampledAnswer, Error> {
        if seen.is_empty() {
            return Err(Error::observation(
                "there is no test piece to judge from; give at least one",
            ));
        }
        if seen.len() > MOST_PIECES {
            return Err(Error::observation(format!(
                "at most {MOST_PIECES} test pieces of a plan that is not affine (got {})",
                seen.len()
            )));
        }
        let mut trials: Vec<Trial> = Vec::new();
        let mut blocks = 0;
        let weights = loop {
            let until = if blocks == 0 { FIRST } else { 2 * blocks };
            while blocks < until {
                trials.extend(self.trier.block(blocks, seen.len())?);
                blocks += 1;
            }
            self.check_plausible(seen, &trials)?;
            let weights = Weights::of(trials.iter().map(|trial| self.ln_likelihood(seen, trial)));
            if weights.effective >= ENOUGH || blocks >= MOST {
                break weights;
            }
        };
        if weights.ln_most - self.ln_best(seen) <= -CONTRADICTION - 0.5 * seen.len() as f64 {
            return Err(Error::observation(
                "these test pieces contradict each other, or the plan: no set-up of it makes them likely; measure again, or \
                 look for what moved between them",
            ));
        }
        if weights.effective < LEAST {
            return Err(Error::observation(format!(
                "{} trials of this plan (it is not affine, so it is answered by trials) are worth only {:.0} when they must \
                 agree with what was seen, and {LEAST} are needed; do the test pieces contradict each other, or the plan?",
                trials.len(),
                weights.effective
            )));
        }
        let answer = self.answer(seen.len(), &trials, &weights);
        Ok(self.with_next(answer, &trials, &weights))
    }

    /// What the likelihood would be if each piece lay where it is likeliest.
    fn ln_best(&self, seen: &[Seen]) -> f64 {
        // What is open to one side is certain far out.
        let closed = |seen: &&Seen| seen.0.is_finite() && seen.1.is_finite();
        let closed: Vec<Seen> = seen.iter().filter(closed).copied().collect();
        let middles: Vec<f64> = closed.iter().map(|Seen(lo, hi)| 0.5 * (lo + hi)).collect();
        self.ln_likely(&closed, &middles)
    }

    fn ln_likelihood(&self, seen: &[Seen], trial: &Trial) -> f64 {
        self.ln_likely(seen, &trial.shown)
    }

    /// Logarithm of the likelihood of pieces that would show this, were it not for what is integrated out.
    fn ln_likely(&self, seen: &[Seen], shown: &[f64]) -> f64 {
        let sd = self.trier.normal_sd[1];
        let one = |(seen, shown): (&Seen, &f64)| {
            let Seen(lo, hi) = *seen;
            let likely = if hi <= lo {
                // Exact readings: a density, which there is only where something normal is integrated out.
                if sd > 0.0 {
                    normal_pdf((lo - shown) / sd) / sd
                } else {
                    0.0
                }
            } else if sd > 0.0 {
                normal_interval((lo - shown) / sd, (hi - shown) / sd)
            } else if (lo..=hi).contains(shown) {
                1.0
            } else {
                0.0
            };
            float::ln(likely)
        };
        seen.iter().zip(shown).map(one).sum()
    }

    fn check_plausible(&self, seen: &[Seen], trials: &[Trial]) -> Result<(), Error> {
        let shown = || trials.iter().flat_map(|trial| &trial.shown);
        let count = (trials.len() * seen.len()) as f64;
        let mean = shown().sum::<f64>() / count;
        let own = self.trier.normal_sd[1];
        let square = shown().map(|y| (y - mean) * (y - mean)).sum::<f64>() / count + own * own;
        let far = IMPLAUSIBLE * square.sqrt();
        for Seen(lo, hi) in seen.iter().filter(|_| !self.is_felt) {
            let r = 0.5 * (lo + hi);
            let is_far = |r: f64| (r - mean).abs() > far + 0.5 * (hi - lo);
            if is_far(r) {
                let rare = format!("more than {IMPLAUSIBLE} standard deviations");
                return Err(far_off(r, mean, &rare, &|r| !is_far(r)));
            }
        }
        Ok(())
    }

    fn answer(&self, pieces: usize, trials: &[Trial], weights: &Weights) -> SampledAnswer {
        let left: Vec<Chance> = trials.iter().map(|t| self.chance(&t.left, 0.0)).collect();
        let all: Vec<usize> = (0..trials.len()).collect();
        let x = self.best_move(trials, weights, &all);
        let moved: Vec<Chance> = trials.iter().map(|t| self.chance(&t.fresh, x)).collect();
        let (leave, after_move) = (weights.chance(&left), weights.chance(&moved));
        let pairs = left.iter().zip(&moved);
        let is_raised = pairs.map(|(a, b)| f64::from(u8::from(b.inside > a.inside)));
        let (raises, raises_error) = weights.mean(&is_raised.collect::<Vec<f64>>());
        let even = Weights::of(trials.iter().map(|_| 0.0));
        let middles: Vec<f64> = trials.iter().map(|trial| trial.middle).collect();
        let n = (x / self.step).round() as i64;
        let stride = self.stride(0.25, trials);
        let moves = (-6..=6).map(|i| {
            let x = (n + i * stride) as f64 * self.step;
            let chances: Vec<Chance> = trials.iter().map(|t| self.chance(&t.fresh, x)).collect();
            (length(x), weights.chance(&chances).value)
        });
        SampledAnswer {
            raises_error,
            trials: trials.len() as u64,
            next: NextPiece {
                now: leave.value.inside.max(after_move.value.inside),
                then: leave.value.inside.max(after_move.value.inside),
            },
            effective: weights.effective,
            answer: TestCutAnswer {
                pieces,
                advice: Advice::better(leave.value.inside, after_move.value.inside, x),
                untested: even.chance(&left).value,
                leave,
                best_move: length(x),
                moved: after_move,
                raises,
                before: even.offset(&middles),
                after: weights.offset(&middles),
                ln_evidence: weights.ln_mean,
                moves: moves.collect(),
            },
        }
    }

    /// The chances of a joint that is raised by x.
    fn chance(&self, fits: &[f64; JOINTS], x: f64) -> Chance {
        let ((lower, upper), sd) = (self.band, self.trier.normal_sd[0]);
        let (mut below, mut above) = (0.0, 0.0);
        for fit in fits {
            let fit = fit + x;
            if sd > 0.0 {
                below += normal_cdf((lower - fit) / sd);
                above += normal_sf((upper - fit) / sd);
            } else {
                below += f64::from(u8::from(fit < lower));
                above += f64::from(u8::from(fit > upper));
            }
        }
        let (below, above) = (below / JOINTS as f64, above / JOINTS as f64);
        Chance {
            below,
            inside: (1.0 - below - above).max(0.0),
            above,
        }
    }

    /// What one more test piece would bring.
    fn with_next(
        &self,
        mut found: SampledAnswer,
        trials: &[Trial],
        weights: &Weights,
    ) -> SampledAnswer {
        let mut order: Vec<usize> = (0..trials.len())
            .filter(|i| weights.weights[*i] > 0.0)
            .collect();
        order.sort_by(|a, b| trials[*a].next.total_cmp(&trials[*b].next).then(a.cmp(b)));
        let mut sum = 0.0;
        let mut steps: Vec<Vec<usize>> = vec![Vec::new(); STEPS];
        for i in order {
            let step = if self.is_felt {
                let (lower, upper) = self.band;
                usize::from(trials[i].next >= lower) + usize::from(trials[i].next > upper)
            } else {
                (sum * STEPS as f64) as usize
            };
            sum += weights.weights[i];
            steps[step.min(STEPS - 1)].push(i);
        }
        let inside = |i: usize, x: Option<f64>| {
            let chance = match x {
                None => self.chance(&trials[i].left, 0.0),
                Some(x) => self.chance(&trials[i].fresh, x),
            };
            weights.weights[i] * chance.inside
        };
        let mut then = 0.0;
        for step in &steps {
            let halves: [Vec<usize>; 2] = [0, 1].map(|odd| {
                let half = step.iter().copied().filter(|i| i % 2 == odd);
                half.collect()
            });
            for (chosen_by, judged_by) in [(0, 1), (1, 0)] {
                let by = &halves[chosen_by];
                let x = self.best_move(trials, weights, by);
                let of = |x: Option<f64>| by.iter().map(|i| inside(*i, x)).sum::<f64>();
                let action = if of(Some(x)) > of(None) {
                    Some(x)
                } else {
                    None
                };
                then += halves[judged_by]
                    .iter()
                    .map(|i| inside(*i, action))
                    .sum::<f64>();
            }
        }
        found.next.then = then.max(found.next.now);
        found
    }

    /// The best whole number of dial steps by these of the trials, of equal ones the smaller move: sought in strides, then
    /// step by step.
    fn best_move(&self, trials: &[Trial], weights: &Weights, picks: &[usize]) -> f64 {
        let total: f64 = picks.iter().map(|i| weights.weights[*i]).sum();
        if total <= 0.0 {
            return 0.0;
        }
        let mean_of = |g: &dyn Fn(f64) -> f64| -> f64 {
            let terms = picks
                .iter()
                .map(|i| weights.weights[*i] * g(trials[*i].fresh[0]));
            terms.sum::<f64>() / total
        };
        let mean = mean_of(&|fit| fit);
        let own = self.trier.normal_sd[0];
        let square = mean_of(&|fit| (fit - mean) * (fit - mean)) + own * own;
        let spread = 3.0 * square.sqrt();
        let target = 0.5 * (self.band.0 + self.band.1) - mean;
        let stride = (0.5 * square.sqrt() / self.step).clamp(1.0, 1e15) as i64;
        let count = |x: f64| (x / self.step).clamp(-1e15, 1e15) as i64;
        let value = |n: i64| {
            let x = n as f64 * self.step;
            let heavy = picks.iter().filter(|i| weights.weights[**i] > 0.0);
            heavy
                .map(|i| weights.weights[*i] * self.chance(&trials[*i].fresh, x).inside)
                .sum::<f64>()
        };
        let mut best = (0_i64, f64::NEG_INFINITY);
        let mut look = |n: i64| {
            let chance = value(n);
            if chance > best.1 || (chance >= best.1 && n.abs() < best.0.abs()) {
                best = (n, chance);
            }
        };
        let (mut n, last) = (count(target - spread), count(target + spread));
        while n <= last {
            look(n);
            n += stride;
        }
        let at = best.0;
        for n in at - stride + 1..at + stride {
            let chance = value(n);
            if chance > best.1 {
                best = (n, chance);
            }
        }
        best.0 as f64 * self.step
    }

    /// Dial steps in so much of the standard deviation of a joint after a move.
    fn stride(&self, part: f64, trials: &[Trial]) -> i64 {
        let fits: Vec<f64> = trials.iter().map(|trial| trial.fresh[0]).collect();
        let (_, sd) = Weights::of(trials.iter().map(|_| 0.0)).moments(&fits);
        let own = self.trier.normal_sd[0];
        (part * (sd * sd + own * own).sqrt() / self.step).clamp(1.0, 1e15) as i64
    }
}

/// Steps of equal chance in which the next reading is taken.
const STEPS: usize = 16;

/// The seed of all trials: the same question has the same answer.
const SEED: u64 = 1;

/// Weights that add to one.
struct Weights {
    weights: Vec<f64>,
    effective: f64,
    /// Logarithms of the greatest of the likelihoods and of their mean.
    ln_most: f64,
    ln_mean: f64,
}

impl Weights {
    fn of(logs: impl Iterator<Item = f64> + Clone) -> Self {
        let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
        if most == f64::NEG_INFINITY {
            return Self {
                weights: Vec::new(),
                effective: 0.0,
                ln_most: most,
                ln_mean: most,
            };
        }
        let mut weights: Vec<f64> = logs.map(|log| float::exp(log - most)).collect();
        let total: f64 = weights.iter().sum();
        for weight in &mut weights {
            *weight /= total;
        }
        Self {
            ln_most: most,
            effective: 1.0 / weights.iter().map(|w| w * w).sum::<f64>(),
            ln_mean: most + float::ln(total / weights.len() as f64),
            weights,
        }
    }

    /// The weighted mean, and the standard error of such a ratio: √ Σ w² (g − mean)².
    fn mean(&self, values: &[f64]) -> (f64, f64) {
        let pairs = || self.weights.iter().zip(values);
        let mean = pairs().map(|(w, g)| w * g).sum::<f64>();
        let square = pairs()
            .map(|(w, g)| w * w * (g - mean) * (g - mean))
            .sum::<f64>();
        (mean, square.sqrt())
    }

    fn moments(&self, values: &[f64]) -> (f64, f64) {
        let (mean, _) = self.mean(values);
        let pairs = self.weights.iter().zip(values);
        (
            mean,
            pairs
                .map(|(w, g)| w * (g - mean) * (g - mean))
                .sum::<f64>()
                .sqrt(),
        )
    }

    fn chance(&self, chances: &[Chance]) -> Bounded<Chance> {
        let of =
            |part: fn(&Chance) -> f64| self.mean(&chances.iter().map(part).collect::<Vec<f64>>());
        let (below, inside, above) = (of(|c| c.below), of(|c| c.inside), of(|c| c.above));
        Bounded {
            value: Chance {
                below: below.0,
                inside: inside.0,
                above: above.0,
            },
            error: below.1.max(inside.1).max(above.1),
        }
    }

    fn offset(&self, middles: &[f64]) -> Offset {
        let (mean, sd) = self.moments(middles);
        let mut order: Vec<usize> = (0..middles.len()).collect();
        order.sort_by(|a, b| middles[*a].total_cmp(&middles[*b]));
        let quantile = |p: f64| {
            let mut sum = 0.0;
            let at = order.iter().find(|i| {
                sum += self.weights[**i];
                sum >= p
            });
            length(at.or(order.last()).map_or(mean, |i| middles[*i]))
        };
        Offset {
            mean: length(mean),
            sd: length(sd),
            interval_95: (quantile(0.025), quantile(0.975)),
        }
    }
}
