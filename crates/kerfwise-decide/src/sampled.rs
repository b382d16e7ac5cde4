//! An outcome evaluated at many points of its sources, for stacks that are not affine.

use crate::Error;
use crate::affine;
use kerfwise_numeric::sobol::{self, Sobol};
use kerfwise_numeric::stream::Stream;
use kerfwise_source::{Quantity, Source};
use kerfwise_stack::{Outcome, Stack};

/// Points that are made together.
pub(crate) const BLOCK: usize = sobol::BLOCK;

/// One draw of a source that varies.
pub(crate) struct Moving {
    pub(crate) source: Source,
    pub(crate) instance: u32,
    name: String,
}

/// An outcome and what moves it.
pub(crate) struct Sampled<'a> {
    pub(crate) outcome: Outcome<'a>,
    pub(crate) moving: Vec<Moving>,
    /// With all sources at their estimates; values are counted from it.
    pub(crate) middle: f64,
}

impl<'a> Sampled<'a> {
    pub(crate) fn of(stack: &'a Stack, name: &str) -> Result<Self, Error> {
        let outcome = affine::named(stack, name)?;
        let moving: Vec<Moving> = outcome
            .draws()
            .into_iter()
            .filter(|(source, _)| source.error().quantile(0.25) < source.error().quantile(0.75))
            .map(|(source, instance)| Moving {
                source: source.clone(),
                instance,
                name: match instance {
                    0 => source.name().to_owned(),
                    n => format!("{}#{n}", source.name()),
                },
            })
            .collect();
        if let Some(matrix) = stack.correlations() {
            for (i, a) in moving.iter().enumerate() {
                for b in &moving[i + 1..] {
                    let (a, b) = (a.source.name(), b.source.name());
                    if matrix.between(a, b) != 0.0 {
                        return Err(Error::question(format!(
                            "sources \"{a}\" and \"{b}\" are correlated, so no share belongs to one of them; write what they \
                             share as a source of its own"
                        )));
                    }
                }
            }
        }
        Ok(Self {
            middle: outcome.evaluate(&[])?.raw(),
            outcome,
            moving,
        })
    }

    /// The outcome less its middle when the sources have these errors.
    pub(crate) fn value(&self, errors: &[f64]) -> Result<f64, Error> {
        let values: Vec<(&str, Quantity)> = self
            .moving
            .iter()
            .zip(errors)
            .map(|(input, error)| {
                let value = input.source.estimate().raw() + error;
                let quantity = Quantity::new(value, input.source.dimension());
                (input.name.as_str(), quantity)
            })
            .collect();
        Ok(self.outcome.evaluate(&values)?.raw() - self.middle)
    }

    /// Points of the errors, under one scramble, by the dimensions from this one on.
    pub(crate) fn points(&self, seed: u64, scramble: u64, from: usize) -> Points<'_> {
        let make = |dimension: usize| Sobol::new(dimension, seed, scramble);
        Points {
            sources: &self.moving,
            sobol: (from..from + self.moving.len()).map(make).collect(),
            from,
            columns: vec![Box::new([0.0; BLOCK]); self.moving.len()],
            seed,
            scramble,
        }
    }
}

/// Errors of the sources, a block of points at a time.
pub(crate) struct Points<'a> {
    sources: &'a [Moving],
    /// None from the 33rd dimension on.
    sobol: Vec<Option<Sobol>>,
    columns: Vec<Box<[f64; BLOCK]>>,
    from: usize,
    seed: u64,
    scramble: u64,
}

impl Points<'_> {
    pub(crate) fn fill(&mut self, block: u32) {
        for (i, column) in self.columns.iter_mut().enumerate() {
            match &self.sobol[i] {
                Some(sobol) => sobol.fill(block, column),
                None => {
                    let key = ((self.from + i) as u64) << 32 | self.scramble;
                    Stream::new(self.seed, key, u64::from(block)).fill_open01(&mut column[..]);
                }
            }
            for u in column.iter_mut() {
                *u = self.sources[i].source.error().quantile(*u);
            }
        }
    }

    pub(crate) fn errors(&self, point: usize) -> Vec<f64> {
        self.columns.iter().map(|column| column[point]).collect()
    }
}
