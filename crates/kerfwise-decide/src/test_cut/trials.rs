//! Trials of a set-up: what a joint of it does, and what a test piece of it shows.

use super::options::TestCutOptions;
use crate::Error;
use crate::affine::{FIT, SHOWN, named};
use kerfwise_numeric::special::normal_quantile;
use kerfwise_numeric::stream::Stream;
use kerfwise_source::{Dimension, Distribution, Quantity, Source};
use kerfwise_stack::{Expr, Outcome, Stack};

/// Trials that are made together.
const BLOCK: usize = 1_024;
/// Joints of each trial, for what is drawn anew with each and cannot be integrated out.
pub(super) const JOINTS: usize = 4;

/// Who shares an error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Role {
    /// All joints and test pieces, also after a move.
    Kept,
    /// The same, until the jig is moved.
    Moved,
    /// All test pieces; each joint has its own.
    Tests,
    /// Nobody.
    Piece,
}

/// One draw of a source.
#[derive(Debug, Clone)]
struct Draw {
    name: String,
    source: Source,
    role: Role,
    /// In the fit, and in the reading: how it comes in.
    uses: [Use; 2],
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Use {
    Not,
    Drawn,
    /// A normal error that only adds itself times this, and is integrated out.
    Integrated(f64),
}

/// A stack that can be tried.
#[derive(Debug, Clone)]
pub(super) struct Trier {
    both: Stack,
    draws: Vec<Draw>,
    seed: u64,
    /// Standard deviations of what is integrated out of the fit and of the reading.
    pub(super) normal_sd: [f64; 2],
}

/// One trial, in raw units; normals that are integrated out stand at their means.
pub(super) struct Trial {
    /// The fit of joints as the jig stands.
    pub(super) left: [f64; JOINTS],
    /// The fit of joints with the jig set anew.
    pub(super) fresh: [f64; JOINTS],
    /// The fit of a joint whose own errors stand in the middle.
    pub(super) middle: f64,
    /// What each test piece shows.
    pub(super) shown: Vec<f64>,
    /// What one more test piece would show, its normal errors drawn.
    pub(super) next: f64,
}

impl Trier {
    pub(super) fn of(
        stack: &Stack,
        outcome: Outcome<'_>,
        shown: Option<&Expr>,
        options: &TestCutOptions,
        seed: u64,
    ) -> Result<Self, Error> {
        if stack.correlations().is_some() {
            return Err(Error::question(
                "this plan is not affine and has correlated sources; write what they share as a source of its own",
            ));
        }
        let fit = outcome.expr();
        let both = Stack::builder()
            .outcome_without_band(FIT, fit)
            .outcome_without_band(SHOWN, shown.unwrap_or(fit))
            .build()?;
        let mut draws = Vec::new();
        for (which, name) in [FIT, SHOWN].into_iter().enumerate() {
            let outcome = named(&both, name)?;
            if outcome.dimension() != Dimension::LENGTH {
                return Err(Error::question(format!(
                    "a gauge needs a fit and a reading that are lengths (got {})",
                    outcome.dimension()
                )));
            }
            for (source, instance) in outcome.draws() {
                if !matches!(source.error(), Distribution::Point(_)) {
                    add(&mut draws, source, instance, which, options);
                }
            }
        }
        // What a move redraws counts where a reading tells of it.
        for draw in &mut draws {
            if draw.role == Role::Moved && draw.uses.contains(&Use::Not) {
                draw.role = Role::Kept;
            }
        }
        let mut trier = Self {
            both,
            draws,
            seed,
            normal_sd: [0.0; 2],
        };
        for which in [0, 1] {
            trier.integrate(which)?;
        }
        Ok(trier)
    }

    /// Finds the normal errors of a piece that can be integrated out.
    fn integrate(&mut self, which: usize) -> Result<(), Error> {
        let outcome = self.outcome(which)?;
        let bent: Vec<String> = outcome
            .not_affine_in()
            .into_iter()
            .map(|(source, instance)| name_of(source, instance))
            .collect();
        let mut errors: Vec<f64> = self.draws.iter().map(middle_of).collect();
        let middle = self.value(which, &errors)?;
        let mut variance = 0.0;
        let mut found = Vec::new();
        for (i, draw) in self.draws.iter().enumerate() {
            // To the joints, what the test pieces share is their own.
            let is_own = draw.role == Role::Piece || (draw.role == Role::Tests && which == 0);
            let Distribution::Normal(normal) = draw.source.error() else {
                continue;
            };
            if !is_own || draw.uses[which] == Use::Not || bent.contains(&draw.name) {
                continue;
            }
            errors[i] += normal.sd();
            let slope = (self.value(which, &errors)? - middle) / normal.sd();
            errors[i] = middle_of(draw);
            variance += slope * slope * normal.sd() * normal.sd();
            found.push((i, slope));
        }
        for (i, slope) in found {
            self.draws[i].uses[which] = Use::Integrated(slope);
        }
        self.normal_sd[which] = f64::sqrt(variance);
        Ok(())
    }

    fn outcome(&self, which: usize) -> Result<Outcome<'_>, Error> {
        named(&self.both, [FIT, SHOWN][which])
    }

    /// The fit or the reading with these errors.
    fn value(&self, which: usize, errors: &[f64]) -> Result<f64, Error> {
        let used = self.draws.iter().zip(errors);
        let values: Vec<(&str, Quantity)> = used
            .filter(|(draw, _)| draw.uses[which] != Use::Not)
            .map(|(draw, error)| {
                let value = draw.source.estimate().raw() + error;
                let quantity = Quantity::new(value, draw.source.dimension());
                (draw.name.as_str(), quantity)
            })
            .collect();
        Ok(self.outcome(which)?.evaluate(&values)?.raw())
    }

    /// One block of trials with so many test pieces.
    pub(super) fn block(&self, block: u64, tests: usize) -> Result<Vec<Trial>, Error> {
        // Copies of each draw: as it stands, after a move, for each joint, for each test piece.
        let copies = 2 + JOINTS + tests + 1;
        let mut columns = Vec::with_capacity(self.draws.len());
        for (i, draw) in self.draws.iter().enumerate() {
            let mut mine = Vec::with_capacity(copies);
            for copy in 0..copies {
                let mut column = vec![0.0; BLOCK];
                if draw.needs(copy) {
                    let key = (i as u64) << 32 | copy as u64;
                    Stream::new(self.seed, key, block).fill_open01(&mut column);
                    for u in &mut column {
                        *u = draw.source.error().quantile(*u);
                    }
                }
                mine.push(column);
            }
            columns.push(mine);
        }
        let mut normals = vec![0.0; BLOCK];
        Stream::new(self.seed, (self.draws.len() as u64) << 32, block).fill_open01(&mut normals);
        let middles: Vec<f64> = self.draws.iter().map(middle_of).collect();
        let mut errors = middles.clone();
        let mut trials = Vec::with_capacity(BLOCK);
        for t in 0..BLOCK {
            let mut at = |which: usize, copy: Copy| {
                for (i, draw) in self.draws.iter().enumerate() {
                    errors[i] = match draw.copy(which, copy) {
                        Some(copy) => columns[i][copy][t],
                        None => middles[i],
                    };
                }
                self.value(which, &errors)
            };
            let (mut left, mut fresh) = ([0.0; JOINTS], [0.0; JOINTS]);
            for q in 0..JOINTS {
                left[q] = at(0, Copy::Left(q))?;
                fresh[q] = at(0, Copy::Fresh(q))?;
            }
            let middle = at(0, Copy::Middle)?;
            let shown = (0..tests).map(|j| at(1, Copy::Test(j)));
            let shown = shown.collect::<Result<_, Error>>()?;
            let next = at(1, Copy::Test(tests))? + self.normal_sd[1] * normal_quantile(normals[t]);
            trials.push(Trial {
                next,
                left,
                fresh,
                middle,
                shown,
            });
        }
        Ok(trials)
    }
}

/// Which joint or test piece.
#[derive(Clone, Copy)]
enum Copy {
    Left(usize),
    Fresh(usize),
    Middle,
    Test(usize),
}

impl Draw {
    /// The copy of this draw; `None` where it stands in the middle.
    fn copy(&self, which: usize, copy: Copy) -> Option<usize> {
        if self.uses[which] != Use::Drawn {
            return None;
        }
        match (self.role, copy) {
            (Role::Kept, _) => Some(0),
            (Role::Moved, Copy::Fresh(_)) => Some(1),
            (Role::Moved, _) => Some(0),
            (Role::Tests, Copy::Test(_)) => Some(0),
            (Role::Tests | Role::Piece, Copy::Left(q) | Copy::Fresh(q)) => Some(2 + q),
            (Role::Piece, Copy::Test(j)) => Some(2 + JOINTS + j),
            (Role::Tests | Role::Piece, Copy::Middle) => None,
        }
    }

    /// Whether any trial asks for this copy.
    fn needs(&self, copy: usize) -> bool {
        if !self.uses.contains(&Use::Drawn) {
            return false;
        }
        match self.role {
            Role::Kept => copy == 0,
            Role::Moved => copy <= 1,
            Role::Tests => copy != 1,
            Role::Piece => copy >= 2,
        }
    }
}

fn add(
    draws: &mut Vec<Draw>,
    source: &Source,
    instance: u32,
    which: usize,
    options: &TestCutOptions,
) {
    let name = name_of(source, instance);
    if let Some(known) = draws.iter_mut().find(|draw| draw.name == name) {
        known.uses[which] = Use::Drawn;
        return;
    }
    let event = source.event();
    let role = if event.is_redrawn_by(&options.piece) {
        if options.same.iter().any(|same| same.is_same(source)) {
            Role::Tests
        } else {
            Role::Piece
        }
    } else if event.is_redrawn_by(&options.moved) {
        Role::Moved
    } else {
        Role::Kept
    };
    let mut uses = [Use::Not; 2];
    uses[which] = Use::Drawn;
    draws.push(Draw {
        name,
        source: source.clone(),
        role,
        uses,
    });
}

fn name_of(source: &Source, instance: u32) -> String {
    match instance {
        0 => source.name().to_owned(),
        n => format!("{}#{n}", source.name()),
    }
}

/// The mean of a normal error, the median of others.
fn middle_of(draw: &Draw) -> f64 {
    draw.source.error().quantile(0.5)
}
