//! How the input columns of a block are filled.

use super::merge::{self, Merged};
use crate::problem::Problem;
use crate::run::block::{self, BLOCK, BlockScratch, Column};
use crate::{Decline, Propagation};
use kerfwise_numeric::columns;
use kerfwise_numeric::stream::{Stream, name_key};
use kerfwise_source::Distribution;

/// The draws of some of a problem's variables.
///
/// Every variable has a stream of its own, addressed by (seed, name, block); so adding, removing or editing one
/// source leaves the draws of all others as they were. Normals that are merged share one.
pub(super) struct Draws<'a> {
    alone: Vec<Drawn<'a>>,
    merged: Vec<Merged>,
    groups: Vec<Group<'a>>,
    /// Inputs that are the same in all trials.
    constants: Vec<(usize, f64)>,
}

/// A variable that is drawn by itself.
struct Drawn<'a> {
    input: usize,
    name: &'a str,
    key: u64,
    estimate: f64,
    error: &'a Distribution,
}

/// Jointly normal variables: each has a standard normal column of its own, which the factor mixes.
struct Group<'a> {
    members: Vec<Member<'a>>,
    /// Row by row, one per member: a square root of the correlation matrix.
    factor: Vec<Vec<f64>>,
}

struct Member<'a> {
    input: usize,
    name: &'a str,
    key: u64,
    /// Estimate plus mean error.
    mean: f64,
    sd: f64,
}

/// Scratch space for groups.
pub(super) struct Mixing(Vec<Box<Column>>);

impl<'a> Draws<'a> {
    /// The draws of the variables that are wanted; a correlated group is wanted whole or not at all.
    ///
    /// Declines when a correlated group is not jointly normal: a correlation coefficient says how two errors go
    /// together only if their joint distribution is known, which for normal errors it then is.
    pub(super) fn new(
        problem: &'a Problem,
        merge_normals: bool,
        is_wanted: impl Fn(usize) -> bool,
    ) -> Result<Self, Decline> {
        let grouped = problem.correlated_groups();
        let mut reasons = Vec::new();
        let mut groups = Vec::new();
        for indices in &grouped {
            if indices.iter().any(|index| is_wanted(*index)) {
                match Group::new(problem, indices) {
                    Ok(group) => groups.push(group),
                    Err(reason) => reasons.push(reason),
                }
            }
        }
        if !reasons.is_empty() {
            return Err(Decline::new(Propagation::MonteCarlo, reasons));
        }
        let mut single: Vec<usize> = (0..problem.variables.len())
            .filter(|index| is_wanted(*index) && !grouped.iter().flatten().any(|i| i == index))
            .collect();
        let (mut merged, mut constants) = (Vec::new(), Vec::new());
        if merge_normals {
            for (set, settled) in merge::normals(problem, &single) {
                single
                    .retain(|input| *input != set.input && !settled.iter().any(|s| s.0 == *input));
                merged.push(set);
                constants.extend(settled);
            }
        }
        let mut alone = Vec::with_capacity(single.len());
        for input in single {
            let drawn = Drawn::new(problem, input);
            match drawn.error {
                Distribution::Point(error) => {
                    constants.push((input, drawn.estimate + error.value()));
                }
                _ => alone.push(drawn),
            }
        }
        Ok(Self {
            alone,
            merged,
            groups,
            constants,
        })
    }

    /// Scratch space to fill with.
    pub(super) fn mixing(&self) -> Mixing {
        let most = self.groups.iter().map(|group| group.members.len()).max();
        Mixing(vec![Box::new([0.0; BLOCK]); most.unwrap_or(0)])
    }

    /// Fills the columns that no block changes, once.
    pub(super) fn settle(&self, scratch: &mut BlockScratch) {
        for (input, value) in &self.constants {
            scratch.hold(*input, *value);
        }
    }

    /// Fills the columns of this block; all of it, so that a short last block has the same draws as a whole one.
    ///
    /// `piece` tells apart the draws of pieces that are made with the rest of the inputs shared.
    pub(super) fn fill(
        &self,
        seed: u64,
        block: u64,
        piece: Option<u32>,
        mixing: &mut Mixing,
        scratch: &mut BlockScratch,
    ) {
        // No source name holds a "#" or a space, so a piece never shares a stream with anything else.
        let stream = |name: &str, key: u64| {
            let key = piece.map_or(key, |piece| name_key(&format!("{name}#piece {piece}")));
            Stream::new(seed, key, block)
        };
        for drawn in &self.alone {
            let column = scratch.input(drawn.input);
            drawn.error.fill(&mut stream(drawn.name, drawn.key), column);
            if drawn.estimate != 0.0 {
                columns::shift(column, drawn.estimate);
            }
        }
        for set in &self.merged {
            let column = scratch.input(set.input);
            stream(&set.name, set.key).fill_open01(column);
            columns::normal_quantiles(column);
            columns::scale_and_shift(column, set.sd, set.mean);
        }
        for group in &self.groups {
            for (member, column) in group.members.iter().zip(&mut mixing.0) {
                stream(member.name, member.key).fill_open01(&mut **column);
                columns::normal_quantiles(&mut **column);
            }
            group.mix(&mixing.0, scratch);
        }
    }
}

impl<'a> Drawn<'a> {
    fn new(problem: &'a Problem, input: usize) -> Self {
        let variable = &problem.variables[input];
        Self {
            input,
            name: &variable.name,
            key: name_key(&variable.name),
            estimate: variable.source.estimate().raw(),
            error: variable.source.error(),
        }
    }
}

impl<'a> Group<'a> {
    fn new(problem: &'a Problem, indices: &[usize]) -> Result<Self, String> {
        let mut members = Vec::with_capacity(indices.len());
        let mut others = Vec::new();
        for &input in indices {
            let variable = &problem.variables[input];
            let (mean, sd) = match variable.source.error() {
                Distribution::Normal(error) => (error.mean(), error.sd()),
                // A source made exact for comparison: correlated or not, it does not move.
                Distribution::Point(error) => (error.value(), 0.0),
                error => {
                    others.push(format!("\"{}\" is {}", variable.name, error.name()));
                    continue;
                }
            };
            members.push(Member {
                input,
                name: &variable.name,
                key: name_key(&variable.name),
                mean: variable.source.estimate().raw() + mean,
                sd,
            });
        }
        if !others.is_empty() {
            return Err(format!(
                "correlated sources must all be normal, for a matrix is not a distribution, but {}: \
                 write what they share as a source of its own",
                others.join(", ")
            ));
        }
        let names: Vec<&str> = indices
            .iter()
            .map(|index| problem.variables[*index].source.name())
            .collect();
        let factor = problem
            .correlation
            .as_ref()
            .map_or_else(Vec::new, |matrix| matrix.factor(&names));
        Ok(Self { members, factor })
    }

    fn mix(&self, standard: &[Box<Column>], scratch: &mut BlockScratch) {
        for (member, weights) in self.members.iter().zip(&self.factor) {
            let column = scratch.input(member.input);
            column.fill(member.mean);
            for (weight, standard) in weights.iter().zip(standard) {
                let weight = weight * member.sd;
                if weight.abs() > 0.0 {
                    block::add(weight, standard, column);
                }
            }
        }
    }
}
