//! Which route a sum takes, by smoothness and cost.

use super::convolution::Convolution;
use super::lattice::{Lattice, sum_of_atoms};
use super::part::{Component, Part, Shape};
use super::powers::{MOST, Powers};
use super::solved::Solved;
use super::spliced::Spliced;
use super::transform::{CUTS, Plan, Transform};

/// What will be asked of the answer.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ask {
    /// Farthest place of interest, counted from the mean.
    pub(super) farthest: f64,
    /// Places that differ by no more than this are the same.
    pub(super) snap: f64,
}

impl Ask {
    /// Nothing in particular.
    pub(super) fn anywhere() -> Self {
        Self {
            farthest: 0.0,
            snap: 0.0,
        }
    }
}

/// Most atoms of a sum of discrete laws, and most combinations of components of mixtures.
const MOST_ATOMS: usize = 20_000;
const MOST_COMBINATIONS: usize = 1_024;
/// Most nodes of a transform.
const MANY_NODES: f64 = 300_000.0;
/// Nodes of a transform inside a convolution, at most.
const FEW_NODES: f64 = 3_000.0;
/// Nanoseconds for all that a report asks, above which a sum is declined.
const SLOWEST: f64 = 1e8;
/// Nanoseconds below which nothing quicker is looked for.
const QUICK: f64 = 1e6;
/// Nodes of a transform below which nothing quicker is looked for either: time is then mostly that of many laws.
const SMALL: f64 = 1_000.0;
/// About how many chances a report asks for.
const CHANCES: f64 = 15.0;
/// What a loss of digits by each of [`CUTS`] is worth, as a factor of the time.
const WORTH: [f64; 4] = [1.0, 1.2, 1.6, 20.0];

/// Solves a sum of independent parts, each counted from its reference point.
pub(super) fn solve(parts: Vec<Part>, ask: Ask) -> Result<Solved, String> {
    let is_split = |p: &Part| matches!(p.shape, Shape::Atoms(_) | Shape::Mixture(_));
    if !parts.iter().any(is_split) {
        return continuous(parts, ask);
    }
    let mut atoms = Vec::new();
    let mut mixtures = Vec::new();
    let mut rest = Vec::new();
    for part in &parts {
        match &part.shape {
            Shape::Atoms(law) => {
                atoms.push(law.iter().map(|(x, w)| (part.centre + x, *w)).collect());
            }
            Shape::Mixture(components) => mixtures.push(components.clone()),
            _ => rest.push(part.clone()),
        }
    }
    let combinations: f64 = mixtures.iter().map(|m| m.len() as f64).product();
    let corners: f64 = atoms.iter().map(|a: &Vec<_>| a.len() as f64).product();
    let is_cheap = rest.len() <= 1 && combinations <= 4.0 && corners <= 200.0;
    let merged = merge_stable(parts)?;
    let whole = if is_cheap {
        None
    } else {
        cheapest_transform(&merged, ask)
    };
    let by_parts = match &whole {
        Some(transform) if transform.worth <= QUICK => f64::INFINITY,
        _ => conditioning_time(&mixtures, &rest, ask, combinations, corners)?,
    };
    let is_whole_quicker = whole.as_ref().is_some_and(|t| t.worth <= by_parts);
    if !is_whole_quicker && by_parts <= SLOWEST {
        match condition(&atoms, &mixtures, &rest, ask) {
            Ok(solved) => return Ok(solved),
            Err(why) if whole.is_none() => return Err(why),
            Err(_) => {}
        }
    }
    whole
        .map(|transform| finish(merged, transform.plan))
        .ok_or_else(|| {
            format!(
                "{} sources that are discrete, empirical or mixtures have too many values together, and the others are not smooth enough to do without them one by one",
                atoms.len() + mixtures.len()
            )
        })
}

/// About how long a report takes if every combination of atoms and components is solved by itself.
fn conditioning_time(
    mixtures: &[Vec<Component>],
    rest: &[Part],
    ask: Ask,
    combinations: f64,
    corners: f64,
) -> Result<f64, String> {
    let mut worst = 0.0_f64;
    // The first and the last component of each stand for all: one may be smooth and the other not.
    for last in [false, true] {
        let mut one = rest.to_vec();
        for components in mixtures {
            let component = if last {
                components.last()
            } else {
                components.first()
            };
            one.extend(component.and_then(|c| c.part.clone()));
        }
        if one
            .iter()
            .any(|p| matches!(p.shape, Shape::Atoms(_) | Shape::Mixture(_)))
        {
            // Mixtures of mixtures: guessed.
            worst = worst.max(1e6 * corners);
            continue;
        }
        let one = merge_stable(one)?;
        let (make, query) = Choice::of(&one, ask).map_or((f64::INFINITY, 0.0), |c| c.time(&one));
        worst = worst.max(make + CHANCES * corners.min(MOST_ATOMS as f64) * query);
    }
    Ok(combinations * worst)
}

/// Sums over atoms and over components of mixtures.
fn condition(
    atoms: &[Vec<(f64, f64)>],
    mixtures: &[Vec<Component>],
    rest: &[Part],
    ask: Ask,
) -> Result<Solved, String> {
    let places = sum_of_atoms(atoms, ask.snap, MOST_ATOMS).ok_or_else(|| {
        format!(
            "the discrete sources have more than {MOST_ATOMS} values together, and the others are not smooth enough to do without them one by one"
        )
    })?;
    let mut combinations = vec![(1.0, 0.0, rest.to_vec())];
    for mixture in mixtures {
        if combinations.len() * mixture.len() > MOST_COMBINATIONS {
            return Err(format!(
                "the mixtures have more than {MOST_COMBINATIONS} combinations of their parts, and the others are not smooth enough to do without them one by one"
            ));
        }
        let mut more = Vec::with_capacity(combinations.len() * mixture.len());
        for (weight, place, parts) in &combinations {
            for component in mixture {
                let mut parts = parts.clone();
                parts.extend(component.part.clone());
                more.push((weight * component.weight, place + component.place, parts));
            }
        }
        combinations = more;
    }
    let mut solved = Vec::with_capacity(combinations.len());
    for (weight, place, parts) in combinations {
        solved.push((weight, place, solve(parts, ask)?));
    }
    let rest = match solved.len() {
        1 => {
            let (_, place, one) = solved.swap_remove(0);
            if rest.is_empty() && matches!(&one, Solved::Lattice(_)) && mixtures.is_empty() {
                return Ok(Solved::Lattice(Lattice::new(&places, ask.snap, None)));
            }
            if place == 0.0 {
                one
            } else {
                Solved::Mixture(vec![(1.0, place, one)])
            }
        }
        _ => Solved::Mixture(solved),
    };
    if atoms.is_empty() {
        return Ok(rest);
    }
    Ok(Solved::Lattice(Lattice::new(&places, ask.snap, Some(rest))))
}

/// Normals add up to one normal, and Student's t with one degree of freedom (Cauchy's law) to one of those.
pub(super) fn merge_stable(parts: Vec<Part>) -> Result<Vec<Part>, String> {
    let mut others = Vec::with_capacity(parts.len());
    let mut normals = Vec::new();
    let mut cauchy = 0.0;
    for part in parts {
        match &part.shape {
            Shape::Normal(sd) => normals.push(*sd),
            Shape::Student(student) if is_cauchy(student.nu) => cauchy += student.scale,
            _ => others.push(part),
        }
    }
    if cauchy > 0.0 {
        others.push(Part::cauchy(cauchy)?);
    }
    if !normals.is_empty() {
        let largest = normals.iter().copied().fold(0.0, f64::max);
        let square: f64 = normals
            .iter()
            .map(|sd| (sd / largest) * (sd / largest))
            .sum();
        others.push(Part::normal(largest * square.sqrt())?);
    }
    Ok(others)
}

/// Exactly 1 degree of freedom: Cauchy laws add up to one.
#[expect(
    clippy::float_cmp,
    reason = "only at exactly 1 is the sum a Cauchy law again"
)]
fn is_cauchy(nu: f64) -> bool {
    nu == 1.0
}

/// A sum of continuous laws.
fn continuous(parts: Vec<Part>, ask: Ask) -> Result<Solved, String> {
    let mut parts = merge_stable(parts)?;
    if parts.is_empty() {
        return Ok(Solved::Lattice(Lattice::new(&[(0.0, 1.0)], ask.snap, None)));
    }
    match Choice::of(&parts, ask) {
        Some(Choice::Law) => Ok(Solved::Law(Box::new(parts.remove(0)))),
        Some(Choice::Powers(powers)) => Ok(Solved::Powers(powers)),
        Some(Choice::Transform(transform)) => Ok(finish(parts, transform.plan)),
        Some(Choice::Convolution(cheapest)) => cheapest.build(parts, ask),
        None => Err(format!(
            "{} laws whose characteristic functions fall slowly ({}), and no normal one wide enough to smooth them",
            parts.len(),
            parts
                .iter()
                .map(|p| p.law.name())
                .collect::<Vec<_>>()
                .join(", ")
        )),
    }
}

/// The route of a sum of continuous laws.
enum Choice {
    Law,
    Powers(Box<Powers>),
    Transform(Costed),
    Convolution(Cheapest),
}

impl Choice {
    /// The quickest, by an estimate; `None` where all are too slow.
    fn of(parts: &[Part], ask: Ask) -> Option<Self> {
        if parts.len() <= 1 {
            return Some(Self::Law);
        }
        let powers = powers(parts).map(Box::new);
        if let Some(powers) = &powers
            && powers.cost() < 100.0
        {
            return Some(Self::Powers(powers.clone()));
        }
        // Two laws of which one has no closed characteristic function are convolved at once.
        let is_smooth = |p: &Part| matches!(p.shape, Shape::Smooth(_));
        let is_pair = parts.len() == 2 && parts.iter().any(is_smooth);
        let transform = if is_pair {
            None
        } else {
            cheapest_transform(parts, ask)
        };
        let worth = transform.as_ref().map_or(f64::INFINITY, |t| t.worth);
        // Truncated powers keep small tails too: they are taken where the transform is not clearly quicker.
        if let Some(powers) = powers
            && (worth > QUICK || 10.0 * powers.cost() * CHANCES < worth)
        {
            return Some(Self::Powers(powers));
        }
        if transform.as_ref().is_some_and(Costed::is_quick) {
            return transform.map(Self::Transform);
        }
        match Cheapest::of(parts).filter(|c| c.time() <= SLOWEST) {
            Some(convolution) if convolution.time() < worth => Some(Self::Convolution(convolution)),
            _ => transform.map(Self::Transform),
        }
    }

    /// Nanoseconds to make it, and for one chance.
    fn time(&self, parts: &[Part]) -> (f64, f64) {
        match self {
            Self::Law => (0.0, parts.iter().map(chance_cost).sum::<f64>() + 10.0),
            Self::Powers(powers) => (1_000.0, 10.0 * powers.cost()),
            Self::Transform(transform) => {
                let (make, query) = transform.parts;
                (make, query + far_cost(parts))
            }
            Self::Convolution(cheapest) => (cheapest.make, cheapest.query),
        }
    }
}

/// A transform with its cost in nanoseconds.
struct Costed {
    plan: Plan,
    /// To make it, and for one chance.
    parts: (f64, f64),
    /// For a report, dearer the fewer digits it gives.
    worth: f64,
}

impl Costed {
    fn is_quick(&self) -> bool {
        self.worth <= QUICK || self.plan.nodes <= SMALL
    }
}

/// Nanoseconds to make a transform of so many nodes.
fn make_cost(parts: &[Part], nodes: f64) -> f64 {
    parts
        .iter()
        .map(node_cost)
        .map(|(each, once)| nodes * each + once)
        .sum()
}

/// The transform with the best of digits and time.
fn cheapest_transform(parts: &[Part], ask: Ask) -> Option<Costed> {
    let mut best: Option<Costed> = None;
    for (cut, digits) in CUTS.into_iter().zip(WORTH) {
        let Some(plan) = plan(parts, ask, cut, MANY_NODES) else {
            continue;
        };
        let (make, query) = (make_cost(parts, plan.nodes), 150.0 + 2.0 * plan.nodes);
        let time = make + CHANCES * query;
        let worth = digits * time;
        if time <= SLOWEST && best.as_ref().is_none_or(|b| worth < b.worth) {
            best = Some(Costed {
                plan,
                parts: (make, query),
                worth,
            });
        }
        if best.as_ref().is_some_and(Costed::is_quick) {
            break;
        }
    }
    best
}

/// Rough nanoseconds of a characteristic function at one node, and before the first.
fn node_cost(part: &Part) -> (f64, f64) {
    match &part.shape {
        Shape::Normal(_) => (20.0, 0.0),
        Shape::Rectangles(halves) => (25.0 * halves.len() as f64, 0.0),
        Shape::Arcsine(_) => (40.0, 0.0),
        Shape::Student(_) => (80.0, 0.0),
        Shape::Exponential(_) => (50.0, 0.0),
        Shape::Smooth(law) => match &law.far {
            Some(far) => (60.0 * far.ends.len() as f64, 1e5),
            None => (300.0, 1e4),
        },
        Shape::Atoms(atoms) => (3.0 * atoms.len() as f64, 0.0),
        Shape::Mixture(components) => components
            .iter()
            .filter_map(|c| c.part.as_ref())
            .map(node_cost)
            .fold((10.0, 0.0), |a, b| (a.0 + 5.0 + b.0, a.1 + b.1)),
    }
}

/// Truncated powers, where every law is a sum of rectangles but for one arcsine law at most.
fn powers(parts: &[Part]) -> Option<Powers> {
    let mut halves = Vec::new();
    let mut arcsine = None;
    for part in parts {
        match &part.shape {
            Shape::Rectangles(widths) => halves.extend(widths),
            Shape::Arcsine(half) if arcsine.is_none() => arcsine = Some(*half),
            _ => return None,
        }
    }
    (!halves.is_empty() && halves.len() <= MOST)
        .then(|| Powers::new(0.0, halves, arcsine.unwrap_or(0.0)))
}

/// Farthest place from the centre that panels serve: what is asked for, within reason, and most of the law.
fn farthest(parts: &[Part], ask: Ask) -> f64 {
    let (mut square, mut heavy) = (0.0, 0.0);
    for part in parts {
        if part.is_heavy() {
            let far = part.law.quantile_upper(0.01).abs();
            heavy += far.min(20.0 * part.scale);
        } else {
            square += part.scale * part.scale;
        }
    }
    let most = 3.5 * square.sqrt() + heavy;
    most.max(ask.farthest.min(8.0 * most))
}

fn plan(parts: &[Part], ask: Ask, cut: f64, most: f64) -> Option<Plan> {
    Plan::new(parts, cut, farthest(parts, ask), most)
}

#[cfg(test)]
pub(super) fn transform(parts: &[Part], ask: Ask, cut: f64, most: f64) -> Option<Solved> {
    Some(finish(parts.to_vec(), plan(parts, ask, cut, most)?))
}

fn finish(parts: Vec<Part>, plan: Plan) -> Solved {
    let transform = Transform::new(&parts, plan);
    if transform.is_wrapped() {
        Solved::Transform(Box::new(transform))
    } else {
        Solved::Spliced(Box::new(Spliced::new(transform, parts)))
    }
}

/// The cheapest nest of convolutions: which parts are averaged over, one after the other, and which are left inside.
pub(super) struct Cheapest {
    /// Indices of the laws averaged over, widest first.
    over: Vec<usize>,
    /// Nanoseconds to make it, and for one chance.
    make: f64,
    query: f64,
}

impl Cheapest {
    /// Nanoseconds for a report.
    fn time(&self) -> f64 {
        self.make + self.query * CHANCES
    }

    pub(super) fn of(parts: &[Part]) -> Option<Self> {
        let mut by_width: Vec<usize> = (0..parts.len()).collect();
        by_width.sort_by(|&i, &j| parts[j].scale.total_cmp(&parts[i].scale));
        let mut best: Option<Self> = None;
        let mut offer = |over: Vec<usize>, inside: f64, make: f64| {
            if over.is_empty() || over.len() > 3 {
                return;
            }
            let density = over.last().map_or(0.0, |&i| density_cost(&parts[i]));
            let query = evaluations(over.len()) * (inside + density);
            let one = Self { over, make, query };
            if best.as_ref().is_none_or(|b| one.time() < b.time()) {
                best = Some(one);
            }
        };
        // One law inside. An arcsine law is better averaged over.
        for &inside in &by_width {
            if parts.len() > 4
                || matches!(parts[inside].shape, Shape::Arcsine(_))
                    && parts.len() == 2
                    && !parts.iter().all(|p| matches!(p.shape, Shape::Arcsine(_)))
            {
                continue;
            }
            let over = by_width.iter().copied().filter(|&i| i != inside).collect();
            offer(over, chance_cost(&parts[inside]), 0.0);
        }
        // Rectangles and an arcsine law inside, by truncated powers.
        let mut has_arcsine = false;
        let (inside, over): (Vec<usize>, Vec<usize>) =
            by_width.iter().partition(|&&i| match &parts[i].shape {
                Shape::Rectangles(_) => true,
                Shape::Arcsine(_) if !has_arcsine => {
                    has_arcsine = true;
                    true
                }
                _ => false,
            });
        let within: Vec<Part> = inside.iter().map(|&i| parts[i].clone()).collect();
        if let Some(powers) = powers(&within) {
            offer(over, 10.0 * powers.cost(), 0.0);
        }
        // The narrow ones inside, by their transform.
        for k in 1..=3.min(parts.len().saturating_sub(1)) {
            let over: Vec<usize> = by_width
                .iter()
                .copied()
                .filter(|&i| !parts[i].is_normal())
                .take(k)
                .collect();
            let within: Vec<Part> = (0..parts.len())
                .filter(|i| !over.contains(i))
                .map(|i| parts[i].clone())
                .collect();
            if within.len() > 1
                && let Some(plan) = plan(&within, Ask::anywhere(), CUTS[0], FEW_NODES)
            {
                let query = 150.0 + 3.0 * plan.nodes + far_cost(&within);
                offer(over, query, make_cost(&within, plan.nodes));
            }
        }
        best
    }

    pub(super) fn build(self, parts: Vec<Part>, ask: Ask) -> Result<Solved, String> {
        let within = (0..parts.len())
            .filter(|i| !self.over.contains(i))
            .map(|i| parts[i].clone())
            .collect();
        let mut solved = continuous(
            within,
            Ask {
                farthest: 0.0,
                ..ask
            },
        )?;
        for &i in self.over.iter().rev() {
            solved = Solved::Convolution(Box::new(Convolution::new(parts[i].clone(), solved)));
        }
        Ok(solved)
    }
}

/// About how many evaluations a nest of convolutions takes: outer ones see the kinks and the errors of inner ones.
fn evaluations(depth: usize) -> f64 {
    let mut all = 200.0;
    for _ in 1..depth {
        all *= 1_000.0;
    }
    all
}

/// Rough nanoseconds of one more chance far out: in one heavy tail it is a convolution of its own, in several a transform.
fn far_cost(parts: &[Part]) -> f64 {
    match parts.iter().filter(|p| p.is_heavy()).count() {
        0 => 0.0,
        1 => 1e5,
        _ => 1e7,
    }
}

/// Rough nanoseconds of a density.
fn density_cost(part: &Part) -> f64 {
    match &part.shape {
        Shape::Rectangles(_) => 10.0,
        Shape::Arcsine(_) => 25.0,
        Shape::Normal(_) | Shape::Exponential(_) => 25.0,
        Shape::Student(..) => 80.0,
        _ => 120.0,
    }
}

/// Rough nanoseconds of a chance.
fn chance_cost(part: &Part) -> f64 {
    match &part.shape {
        Shape::Rectangles(_) => 10.0,
        Shape::Normal(_) | Shape::Exponential(_) | Shape::Arcsine(_) => 30.0,
        Shape::Student(..) => 250.0,
        _ => 250.0,
    }
}
