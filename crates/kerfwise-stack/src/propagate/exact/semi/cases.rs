//! The affine outcomes at the nodes, and the mixture that they make.

use super::super::form::{self, Form, Group, Term};
use super::super::sum::Sum;
use super::SEEN;
use super::held::{Held, Node};
use crate::problem::Problem;
use crate::run::affine::Affine;
use crate::run::again::Again;
use kerfwise_numeric::special::normal_cdf;
use kerfwise_source::Distribution;

/// Sums that are solved one by one, at most.
const MOST_SINGLE: usize = 1_024;
/// A chance that is next to nothing.
const SELDOM: f64 = 1e-9;
/// Spreads of one case over which the cases may be strewn for one transform of all to be worth it.
const FARTHEST: f64 = 300.0;

/// Affine outcomes with their weights.
pub(super) struct Cases {
    cases: Vec<(f64, Affine)>,
}

impl Cases {
    /// The outcome at each node; equal ones once.
    pub(super) fn of(
        problem: &Problem,
        output: usize,
        held: &Held<'_>,
        nodes: Vec<Node>,
    ) -> Result<Self, String> {
        let mut cases: Vec<(f64, Affine)> = Vec::with_capacity(nodes.len());
        let mut known = held.known().to_vec();
        let mut again = None;
        for (values, weight) in nodes {
            for (input, value) in held.inputs().zip(&values) {
                known[input] = Some(*value);
            }
            let again = again.get_or_insert_with(|| Again::new(&problem.tape, output, &known));
            let Ok(one) = again.at(&known) else {
                let places: Vec<String> = held
                    .names
                    .iter()
                    .zip(&values)
                    .map(|(name, value)| format!("\"{name}\" at {value:.4}"))
                    .collect();
                return Err(format!(
                    "with {} it is not defined, or not affine",
                    places.join(" and ")
                ));
            };
            cases.push((weight, one));
        }
        cases.sort_by(|(_, a), (_, b)| a.constant.total_cmp(&b.constant));
        let mut kept: Vec<(f64, Affine)> = Vec::with_capacity(cases.len());
        for (weight, one) in cases {
            match kept.last_mut() {
                Some((before, same)) if *same == one => *before += weight,
                _ => kept.push((weight, one)),
            }
        }
        Ok(Self { cases: kept })
    }

    /// Weights with means and standard deviations.
    fn about(&self, problem: &Problem) -> Vec<(f64, (f64, f64))> {
        let cases = self.cases.iter();
        cases.map(|(w, one)| (*w, about(problem, one))).collect()
    }

    /// Whether the cases lie so far apart that one transform would have to serve them all from end to end.
    fn is_strewn(&self, problem: &Problem) -> bool {
        let (mut least, mut lo, mut hi) = (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY);
        for (_, (mean, sd)) in self.about(problem) {
            (least, lo, hi) = (least.min(sd), lo.min(mean), hi.max(mean));
        }
        hi - lo > FARTHEST * least
    }

    /// Whether a part of the variance comes from cases that are next to never met: it may then be without bound.
    pub(super) fn is_carried_by_tails(&self, problem: &Problem) -> bool {
        let cases = self.about(problem);
        let centre: f64 = cases.iter().map(|(w, (m, _))| w * m).sum();
        let mut squares: Vec<(f64, f64)> = cases
            .iter()
            .map(|(w, (m, sd))| (*w, (m - centre) * (m - centre) + sd * sd))
            .collect();
        squares.sort_by(|a, b| b.1.total_cmp(&a.1));
        let total: f64 = squares.iter().map(|(w, square)| w * square).sum();
        let (mut met, mut tails) = (0.0, 0.0);
        for (weight, square) in squares {
            met += weight;
            if met > SELDOM {
                break;
            }
            tails += weight * square;
        }
        tails > SEEN * total
    }

    /// Whether the chances of normal laws of the same means and spreads, at nine places, differ from those of others.
    pub(super) fn guide_differs(&self, other: &Self, problem: &Problem, by: f64) -> bool {
        let (mine, others) = (self.about(problem), other.about(problem));
        let mean: f64 = mine.iter().map(|(w, (m, _))| w * m).sum();
        let variance: f64 = mine
            .iter()
            .map(|(w, (m, sd))| w * (sd * sd + (m - mean) * (m - mean)))
            .sum();
        let sd = variance.max(0.0).sqrt();
        let chance = |cases: &[(f64, (f64, f64))], y: f64| -> f64 {
            cases
                .iter()
                .map(|(w, (m, sd))| w * normal_cdf((y - m) / sd.max(f64::MIN_POSITIVE)))
                .sum()
        };
        [-2.5, -1.5, -0.8, -0.3, 0.1, 0.5, 1.1, 1.9, 2.7]
            .iter()
            .map(|z| mean + z * sd)
            .any(|y| (chance(&mine, y) - chance(&others, y)).abs() > by)
    }

    /// The sum of what is the same in all cases and a mixture of what differs, where that is one source, or several
    /// normal ones; else each case solved by itself.
    pub(super) fn sum(&self, problem: &Problem, places: &[f64; 2]) -> Result<Sum, String> {
        let table = Table::of(&self.cases);
        let constant: f64 = self.cases.iter().map(|(w, one)| w * one.constant).sum();
        let term = |(input, coefficient): (usize, f64)| {
            Term::of(&problem.variables[input].source, coefficient)
        };
        let base: Vec<(usize, f64)> = table.same();
        let terms: Vec<Term<'_>> = base.iter().copied().map(term).collect();
        let inputs: Vec<usize> = base.iter().map(|base| base.0).collect();
        let is_strewn = self.is_strewn(problem);
        if is_strewn && table.differing().is_empty() {
            let groups = form::groups(problem, &inputs, &terms).map_err(|why| why.join("; "))?;
            let base = solve(&Form::new(0.0, &terms, &groups), places)?;
            let cases = self.cases.iter();
            return Ok(base.at_places(cases.map(|(w, one)| (one.constant, *w))));
        }
        let mixture = if is_strewn && self.cases.len() <= MOST_SINGLE {
            None
        } else {
            self.mixture(problem, &table, constant)?
        };
        let Some(mixture) = mixture else {
            return self.one_by_one(problem, places);
        };
        let groups = form::groups(problem, &inputs, &terms).map_err(|why| why.join("; "))?;
        let mut terms = terms;
        terms.push(Term {
            coefficient: 1.0,
            estimate: 0.0,
            error: &mixture,
            is_second: false,
        });
        solve(&Form::new(constant, &terms, &groups), places)
    }

    /// The law of what differs, from this constant on; `None` where it is not one law at each node.
    fn mixture(
        &self,
        problem: &Problem,
        table: &Table,
        constant: f64,
    ) -> Result<Option<Distribution>, String> {
        let differing = table.differing();
        let source = |input: &usize| &problem.variables[*input].source;
        let is_normal = |input: &usize| matches!(source(input).error(), Distribution::Normal(_));
        let is_linked = problem
            .correlated_groups()
            .iter()
            .flatten()
            .any(|input| differing.contains(input));
        if is_linked || !(differing.len() <= 1 || differing.iter().all(is_normal)) {
            return Ok(None);
        }
        let mut parts = Vec::with_capacity(self.cases.len());
        for (weight, one) in &self.cases {
            let shift = one.constant - constant;
            let terms: Vec<(f64, &_)> = differing
                .iter()
                .map(|input| (coefficient(one, *input), source(input)))
                .collect();
            let law = match terms[..] {
                [] => Distribution::point(shift),
                [(a, source)] => source
                    .error()
                    .affine(a, shift + a * source.estimate().raw()),
                _ => {
                    let (mut mean, mut variance) = (shift, 0.0);
                    for (a, source) in terms {
                        let error = source.error();
                        mean += a * (source.estimate().raw() + error.mean().unwrap_or(0.0));
                        variance += a * a * error.variance().unwrap_or(0.0);
                    }
                    if variance > 0.0 {
                        Distribution::normal(mean, variance.sqrt())
                    } else {
                        Distribution::point(mean)
                    }
                }
            };
            parts.push((*weight, law.map_err(|error| error.to_string())?));
        }
        let mixture = Distribution::mixture(parts).map_err(|error| error.to_string())?;
        Ok(Some(mixture))
    }

    fn one_by_one(&self, problem: &Problem, places: &[f64; 2]) -> Result<Sum, String> {
        if self.cases.len() > MOST_SINGLE {
            return Err(format!(
                "more than {MOST_SINGLE} nodes, at each of which several sources have other coefficients"
            ));
        }
        let mut forms: Vec<(Vec<Term<'_>>, Vec<Group>)> = Vec::with_capacity(self.cases.len());
        let mut unit = f64::MIN_POSITIVE;
        for (_, one) in &self.cases {
            let term = |&(i, c): &(usize, f64)| Term::of(&problem.variables[i].source, c);
            let terms: Vec<Term<'_>> = one.terms.iter().map(term).collect();
            let inputs: Vec<usize> = one.terms.iter().map(|term| term.0).collect();
            let groups = form::groups(problem, &inputs, &terms).map_err(|why| why.join("; "))?;
            unit = unit.max(form::unit(&terms));
            forms.push((terms, groups));
        }
        let mut sums = Vec::with_capacity(forms.len());
        for ((weight, one), (terms, groups)) in self.cases.iter().zip(&forms) {
            let form = Form::counted_in(unit, one.constant, terms, groups);
            sums.push((*weight, solve(&form, places)?));
        }
        Sum::one_of(sums).ok_or_else(|| "there are no nodes".to_owned())
    }
}

fn solve(form: &Result<Form, Vec<String>>, places: &[f64; 2]) -> Result<Sum, String> {
    match form {
        Ok(form) => Sum::of(form, 0, form.location(), places),
        Err(why) => Err(why.join("; ")),
    }
}

fn coefficient(one: &Affine, input: usize) -> f64 {
    one.terms
        .binary_search_by_key(&input, |term| term.0)
        .map_or(0.0, |at| one.terms[at].1)
}

/// Mean and standard deviation, roughly where there are none.
fn about(problem: &Problem, one: &Affine) -> (f64, f64) {
    let (mut mean, mut variance) = (one.constant, 0.0);
    for &(input, c) in &one.terms {
        let source = &problem.variables[input].source;
        let error = source.error();
        let spread = error
            .standard_deviation()
            .unwrap_or_else(|| error.quantile(0.75) - error.quantile(0.25));
        mean += c * (source.estimate().raw() + error.mean().unwrap_or_else(|| error.quantile(0.5)));
        variance += (c * spread) * (c * spread);
    }
    (mean, variance.sqrt())
}

/// The inputs of all cases, each with its coefficient where all have the same.
struct Table {
    inputs: Vec<(usize, Option<f64>)>,
}

impl Table {
    fn of(cases: &[(f64, Affine)]) -> Self {
        let mut inputs: Vec<usize> = cases
            .iter()
            .flat_map(|(_, one)| one.terms.iter().map(|term| term.0))
            .collect();
        inputs.sort_unstable();
        inputs.dedup();
        let common = |input: usize| {
            let mut all = cases.iter().map(|(_, one)| coefficient(one, input));
            let first = all.next()?;
            all.all(|other| other.to_bits() == first.to_bits())
                .then_some(first)
        };
        Self {
            inputs: inputs
                .into_iter()
                .map(|input| (input, common(input)))
                .collect(),
        }
    }

    fn same(&self) -> Vec<(usize, f64)> {
        let same = self.inputs.iter();
        same.filter_map(|(input, c)| c.map(|c| (*input, c)))
            .collect()
    }

    fn differing(&self) -> Vec<usize> {
        let others = self.inputs.iter().filter(|(_, c)| c.is_none());
        others.map(|(input, _)| *input).collect()
    }
}
