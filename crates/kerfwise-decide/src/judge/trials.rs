//! Pieces whose outcome and reading have no exact answer, by weighted trials.

use super::Risks;
use crate::Error;
use crate::affine::{self, FIT, SHOWN, Term, named};
use crate::curve::{Curve, middle_of};
use crate::plausible::far_off;
use kerfwise_numeric::special::normal_sf;
use kerfwise_numeric::stream::Stream;
use kerfwise_source::{Dimension, Distribution, Quantity, Source};
use kerfwise_stack::{Band, Chance, Exact, Expr, Outcome, Stack};

/// Blocks of trials, and trials of a block.
const BLOCKS: u64 = 128;
const BLOCK: usize = 1_024;
/// The seed of all trials: the same question has the same answer.
const SEED: u64 = 1;
/// Trials that are worth less say nothing of a reading.
pub(super) const LEAST: f64 = 200.0;
/// Readings rarer than this are not looked at for limits: too few trials are like them.
const RARE: f64 = 1e-3;

/// Trials of a piece: what a gauge without error would show, and how likely it then lies outside of the band.
///
/// ```text
/// trial i:   what outcome and reading share is drawn;   wᵢ = P(reading | trial i), over the gauge's errors
/// P(Y in band | reading) ≈ Σ wᵢ P(Y in band | trial i) / Σ wᵢ
/// ```
/// Errors of the gauge that only add to the reading, and normal errors that only add to the outcome, are not drawn but
/// integrated out (importance sampling with the prior as proposal; Owen, Monte Carlo theory, methods and examples, 2013, 9.2).
#[derive(Debug, Clone)]
pub(super) struct Trials {
    pub(super) band: (f64, f64),
    pub(super) half: f64,
    pub(super) shown_location: f64,
    /// From outcome to reading, on average.
    pub(super) shift: f64,
    pub(super) gauge: Option<Exact>,
    gauge_cdf: Curve,
    /// Ascending by what is shown.
    trials: Vec<Trial>,
}

#[derive(Debug, Clone, Copy)]
struct Trial {
    /// Counted from what is shown when nothing is off.
    shown: f64,
    below: f64,
    above: f64,
}

/// One draw of a source, and whether outcome and reading have it.
struct Draw {
    name: String,
    source: Source,
    instance: u32,
    is_in: [bool; 2],
    is_drawn: bool,
}

/// Outcome and reading over the same draws.
struct Both {
    stack: Stack,
    draws: Vec<Draw>,
}

impl Both {
    fn new(outcome: Outcome<'_>, shown: &Expr) -> Result<Self, Error> {
        let stack = Stack::builder()
            .outcome_without_band(FIT, outcome.expr())
            .outcome_without_band(SHOWN, shown)
            .build()?;
        let mut draws: Vec<Draw> = Vec::new();
        for (which, name) in [FIT, SHOWN].into_iter().enumerate() {
            let one = named(&stack, name)?;
            if one.dimension() != Dimension::LENGTH {
                return Err(Error::question(format!(
                    "a gauge needs a fit and a reading that are lengths (got {})",
                    one.dimension()
                )));
            }
            for (source, instance) in one.draws() {
                if matches!(source.error(), Distribution::Point(_)) {
                    continue;
                }
                let name = match instance {
                    0 => source.name().to_owned(),
                    n => format!("{}#{n}", source.name()),
                };
                match draws.iter_mut().find(|draw| draw.name == name) {
                    Some(known) => known.is_in[which] = true,
                    None => draws.push(Draw {
                        name,
                        source: source.clone(),
                        instance,
                        is_in: [which == 0, which == 1],
                        is_drawn: true,
                    }),
                }
            }
        }
        Ok(Self { stack, draws })
    }

    fn value(&self, which: usize, errors: &[f64]) -> Result<f64, Error> {
        let used = self.draws.iter().zip(errors);
        let values: Vec<(&str, Quantity)> = used
            .filter(|(draw, _)| draw.is_in[which])
            .map(|(draw, error)| {
                let value = draw.source.estimate().raw() + error;
                let quantity = Quantity::new(value, draw.source.dimension());
                (draw.name.as_str(), quantity)
            })
            .collect();
        let outcome = named(&self.stack, [FIT, SHOWN][which])?;
        Ok(outcome.evaluate(&values)?.raw())
    }

    /// Takes out what is not to be drawn: of the reading what only adds to it, as terms; of the outcome the normal errors that
    /// only add to it, as one standard deviation.
    fn integrate(&mut self) -> Result<(Vec<Term>, f64), Error> {
        let (mut gauge, mut variance) = (Vec::new(), 0.0);
        for which in [0, 1] {
            let bent: Vec<(Source, u32)> = named(&self.stack, [FIT, SHOWN][which])?
                .not_affine_in()
                .into_iter()
                .map(|(source, instance)| (source.clone(), instance))
                .collect();
            let is_bent = |draw: &Draw| {
                let mut bent = bent.iter();
                bent.any(|(source, n)| source.is_same(&draw.source) && *n == draw.instance)
            };
            for i in 0..self.draws.len() {
                let draw = &self.draws[i];
                if !draw.is_in[which] || draw.is_in[1 - which] || is_bent(draw) {
                    continue;
                }
                let width = draw.source.error().quantile(0.75) - draw.source.error().quantile(0.25);
                let mut errors = vec![0.0; self.draws.len()];
                let here = self.value(which, &errors)?;
                errors[i] = width;
                let slope = (self.value(which, &errors)? - here) / width;
                let draw = &mut self.draws[i];
                match (which, draw.source.error()) {
                    (0, Distribution::Normal(normal)) => {
                        variance += slope * slope * normal.sd() * normal.sd();
                        draw.is_drawn = false;
                    }
                    (1, _) if slope.is_finite() => {
                        draw.is_drawn = false;
                        gauge.push(Term {
                            source: draw.source.clone(),
                            instance: draw.instance,
                            coefficient: slope,
                        });
                    }
                    _ => {}
                }
            }
        }
        Ok((gauge, f64::sqrt(variance)))
    }

    /// Outcome and reading of all trials. What is integrated out stands at nothing in the reading, and at its mean in the
    /// outcome.
    fn tried(&self) -> Result<Vec<[f64; 2]>, Error> {
        let still: Vec<f64> = self
            .draws
            .iter()
            .map(|draw| match (draw.is_in, draw.source.error()) {
                ([true, false], Distribution::Normal(normal)) => normal.mean(),
                _ => 0.0,
            })
            .collect();
        let mut errors = still;
        let mut all = Vec::with_capacity(BLOCKS as usize * BLOCK);
        let mut columns = vec![vec![0.0; BLOCK]; self.draws.len()];
        for block in 0..BLOCKS {
            for (i, column) in columns.iter_mut().enumerate() {
                if self.draws[i].is_drawn {
                    Stream::new(SEED, (i as u64) << 32, block).fill_open01(column);
                    for u in column {
                        *u = self.draws[i].source.error().quantile(*u);
                    }
                }
            }
            for t in 0..BLOCK {
                for (i, column) in columns.iter().enumerate() {
                    if self.draws[i].is_drawn {
                        errors[i] = column[t];
                    }
                }
                all.push([self.value(0, &errors)?, self.value(1, &errors)?]);
            }
        }
        Ok(all)
    }
}

impl Trials {
    pub(super) fn new(
        outcome: Outcome<'_>,
        band: Band,
        shown: &Expr,
        step: f64,
    ) -> Result<Self, Error> {
        let mut both = Both::new(outcome, shown)?;
        if !both.draws.iter().any(|draw| draw.is_in == [true, true]) {
            return Err(Error::question(
                "the reading has nothing in common with the outcome, so it cannot tell of it",
            ));
        }
        let (gauge, sd) = both.integrate()?;
        let gauge = affine::law(&gauge, Dimension::LENGTH, None)?;
        if gauge.is_none() && step == 0.0 {
            return Err(Error::question(
                "the gauge has neither an error of its own nor steps; give it one, for instance its limits of error",
            ));
        }
        let shown_location = both.value(1, &vec![0.0; both.draws.len()])?;
        let (lower, upper) = band.raw();
        let beyond = |gap: f64| {
            if sd > 0.0 {
                normal_sf(gap / sd)
            } else {
                f64::from(u8::from(gap < 0.0))
            }
        };
        let values = both.tried()?;
        let count = values.len() as f64;
        let mean = |which: usize| values.iter().map(|value| value[which]).sum::<f64>() / count;
        let own = gauge.as_ref().map_or(0.0, middle_of);
        let shift = mean(1) + own - mean(0) - shown_location;
        let mut trials: Vec<Trial> = values
            .iter()
            .map(|[fit, shown]| Trial {
                shown: shown - shown_location,
                below: beyond(fit - lower),
                above: beyond(upper - fit),
            })
            .collect();
        trials.sort_by(|a, b| a.shown.total_cmp(&b.shown));
        let made = Self {
            band: (lower, upper),
            half: 0.5 * step,
            shown_location,
            shift,
            gauge_cdf: Curve::cdf(gauge.as_ref(), Dimension::LENGTH),
            gauge,
            trials,
        };
        made.check_gauge()?;
        Ok(made)
    }

    /// Refuses a gauge so fine that too few trials are like even the readings that most pieces would show.
    fn check_gauge(&self) -> Result<(), Error> {
        let likeliest = (1..10).map(|tenth| self.worth(self.within(0.1 * f64::from(tenth))));
        let worth = likeliest.fold(0.0, f64::max);
        if worth >= LEAST {
            return Ok(());
        }
        Err(Error::question(format!(
            "the gauge is too fine for trials, by which this plan is judged since it has no exact answer: of {} trials those \
             that may show a likely reading are worth {worth:.0}, and {LEAST} are needed; give the gauge its error, or steps \
             that are not so small beside the pieces",
            self.trials.len()
        )))
    }

    pub(super) fn within(&self, share: f64) -> f64 {
        let at = share.clamp(RARE, 1.0 - RARE) * self.trials.len() as f64;
        let own = self.gauge.as_ref().map_or(0.0, middle_of);
        self.trials[(at as usize).min(self.trials.len() - 1)].shown + own
    }

    /// The trials that may show this, each with how likely it does.
    fn likely(&self, r: f64) -> impl Iterator<Item = (f64, &Trial)> {
        let (low, high) = match &self.gauge {
            None => (0.0, 0.0),
            Some(gauge) => (
                gauge.quantile(1e-15).value.raw(),
                gauge.quantile(1.0 - 1e-15).value.raw(),
            ),
        };
        let (from, to) = (r - self.half - high, r + self.half - low);
        let first = self.trials.partition_point(|trial| trial.shown < from);
        let near = self.trials[first..]
            .iter()
            .take_while(move |trial| trial.shown <= to);
        near.map(move |trial| {
            let gap = r - trial.shown;
            let weight = if self.half > 0.0 {
                self.gauge_cdf.at(gap + self.half) - self.gauge_cdf.at(gap - self.half)
            } else {
                let at = Quantity::new(gap, Dimension::LENGTH);
                let density = self.gauge.as_ref().and_then(|gauge| gauge.pdf(at));
                density.map_or(0.0, |density| density.value)
            };
            (weight.max(0.0), trial)
        })
    }

    /// The chances given a reading, and their standard error: of a ratio of weighted sums, √ Σ w² (g − mean)² / Σ w.
    pub(super) fn given(&self, r: f64) -> Result<(Chance, f64), Error> {
        let (mut all, mut below, mut above) = (0.0, 0.0, 0.0);
        for (weight, trial) in self.likely(r) {
            all += weight;
            below += weight * trial.below;
            above += weight * trial.above;
        }
        if !(all > 0.0 && all.is_finite()) {
            return Err(self.too_few(r, 0.0));
        }
        let (below, above) = (below / all, above / all);
        let mut squares = [0.0; 3];
        for (weight, trial) in self.likely(r) {
            let off = [trial.below - below, trial.above - above];
            for (square, off) in squares.iter_mut().zip([off[0], off[1], off[0] + off[1]]) {
                *square += weight * weight * off * off;
            }
        }
        let error = squares.into_iter().fold(0.0, f64::max).sqrt() / all;
        let chance = Chance {
            below,
            inside: (1.0 - below - above).max(0.0),
            above,
        };
        Ok((chance, error))
    }

    pub(super) fn risks(&self, from: f64, to: f64) -> Risks {
        let count = self.trials.len() as f64;
        let (mut sums, mut squares) = ([0.0; 4], [0.0; 4]);
        for trial in &self.trials {
            let below = self
                .gauge_cdf
                .at(from - self.half - trial.shown)
                .clamp(0.0, 1.0);
            let up_to = self
                .gauge_cdf
                .at(to + self.half - trial.shown)
                .clamp(0.0, 1.0);
            let accepted = (up_to - below).max(0.0);
            let inside = (1.0 - trial.below - trial.above).max(0.0);
            let all = [
                inside,
                accepted,
                accepted * (1.0 - inside),
                (1.0 - accepted) * inside,
            ];
            for (k, x) in all.into_iter().enumerate() {
                sums[k] += x;
                squares[k] += x * x;
            }
        }
        let means = sums.map(|sum| sum / count);
        let pairs = means.iter().zip(squares);
        let variances = pairs.map(|(mean, square)| (square / count - mean * mean) / count);
        let [conforming, accepted, consumer, producer] = means;
        Risks {
            conforming,
            accepted,
            consumer,
            producer,
            error: variances.fold(0.0, f64::max).sqrt(),
        }
    }

    /// So many trials of equal weight would tell as much of this reading.
    pub(super) fn worth(&self, r: f64) -> f64 {
        let (sum, squares) = self.likely(r).fold((0.0, 0.0), |(sum, squares), (w, _)| {
            (sum + w, squares + w * w)
        });
        if squares > 0.0 {
            sum * sum / squares
        } else {
            0.0
        }
    }

    pub(super) fn check_plausible(&self, r: f64) -> Result<(), Error> {
        let worth = self.worth(r);
        if worth >= LEAST {
            return Ok(());
        }
        Err(self.too_few(r, worth))
    }

    #[cold]
    fn too_few(&self, r: f64, worth: f64) -> Error {
        let expected = self.shown_location + self.within(0.5);
        let how_rare = format!(
            "of {} trials (the plan has no exact answer, so it is answered by trials) those that may show it are worth \
             {worth:.0}, and {LEAST} are needed",
            self.trials.len()
        );
        let is_likely = |shown: f64| self.worth(shown - self.shown_location) >= LEAST;
        far_off(r + self.shown_location, expected, &how_rare, &is_likely)
    }
}
