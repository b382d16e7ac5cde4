use super::Process;
use crate::Error;
use kerfwise_numeric::special::normal_interval;
use std::collections::BTreeMap;

/// A rule about where the last points of a chart lie. All but the first look at one side of the centre line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum ZoneRule {
    /// One point beyond 3 σ.
    BeyondThree,
    /// Two of three points beyond 2 σ.
    TwoOfThree,
    /// Four of five points beyond 1 σ.
    FourOfFive,
    /// Eight points in a row.
    EightInARow,
}

/// Which zone rules a chart follows (Western Electric, Statistical Quality Control Handbook, 1956); that of points beyond 3 σ
/// always belongs to them.
///
/// Every further rule tells shifts sooner and gives more false alarms.
///
/// ```
/// use kerfwise_gauge::{Process, ZoneRule, ZoneRules};
///
/// let process = Process::new(0.0, 1.0)?;
/// let signals = ZoneRules::all().signals(&process, 1, &[0.1, 2.5, 0.3, 2.1, -3.2]);
/// assert_eq!(signals, [(3, ZoneRule::TwoOfThree), (4, ZoneRule::BeyondThree)]);
/// // A false alarm every 370 points with the first rule, every 92 with all four.
/// assert!((ZoneRules::new(&[]).average_run_length(0.0)? - 370.40).abs() < 0.01);
/// assert!((ZoneRules::all().average_run_length(0.0)? - 91.75).abs() < 0.01);
/// # Ok::<(), kerfwise_gauge::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ZoneRules {
    two_of_three: bool,
    four_of_five: bool,
    eight_in_a_row: bool,
}

/// What the rules remember of the points before: newest bit lowest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
struct Memory {
    /// Of the last two, which were beyond 2 σ, above and below.
    beyond_two: [u8; 2],
    /// Of the last four, which were beyond 1 σ.
    beyond_one: [u8; 2],
    /// How many in a row lie above, or if negative below.
    row: i8,
}

impl ZoneRules {
    /// Those named, and the rule of points beyond 3 σ.
    #[must_use]
    pub fn new(rules: &[ZoneRule]) -> Self {
        let has = |rule| rules.contains(&rule);
        Self {
            two_of_three: has(ZoneRule::TwoOfThree),
            four_of_five: has(ZoneRule::FourOfFive),
            eight_in_a_row: has(ZoneRule::EightInARow),
        }
    }

    /// All four.
    #[must_use]
    pub fn all() -> Self {
        Self {
            two_of_three: true,
            four_of_five: true,
            eight_in_a_row: true,
        }
    }

    /// Which points, counted from 0, signal, and by which rule; each value is a mean of n readings, or one reading for n = 1. After
    /// a signal the rules start anew, so that one event does not signal again and again.
    #[must_use]
    pub fn signals(&self, process: &Process, n: usize, values: &[f64]) -> Vec<(usize, ZoneRule)> {
        let mut memory = Memory::default();
        let mut signals = Vec::new();
        for (index, &value) in values.iter().enumerate() {
            let z = process.standardised(value, n);
            match self.step(memory, side(z), zone(z)) {
                Ok(next) => memory = next,
                Err(rule) => {
                    signals.push((index, rule));
                    memory = Memory::default();
                }
            }
        }
        signals
    }

    /// The memory after one more point, or the rule by which it signals.
    fn step(&self, before: Memory, side: Option<usize>, zone: u8) -> Result<Memory, ZoneRule> {
        if zone >= 3 {
            return Err(ZoneRule::BeyondThree);
        }
        let mut after = before;
        for (i, bits) in after.beyond_two.iter_mut().enumerate() {
            let all = (*bits << 1) | u8::from(side == Some(i) && zone >= 2);
            if self.two_of_three && all.count_ones() >= 2 {
                return Err(ZoneRule::TwoOfThree);
            }
            *bits = if self.two_of_three { all & 0b11 } else { 0 };
        }
        for (i, bits) in after.beyond_one.iter_mut().enumerate() {
            let all = (*bits << 1) | u8::from(side == Some(i) && zone >= 1);
            if self.four_of_five && all.count_ones() >= 4 {
                return Err(ZoneRule::FourOfFive);
            }
            *bits = if self.four_of_five { all & 0b1111 } else { 0 };
        }
        if self.eight_in_a_row {
            after.row = match side {
                Some(0) => before.row.max(0) + 1,
                Some(_) => before.row.min(0) - 1,
                None => 0,
            };
            if after.row.abs() >= 8 {
                return Err(ZoneRule::EightInARow);
            }
        }
        Ok(after)
    }

    /// Average number of points until a signal, when their mean has moved by so many of their standard deviations from the first
    /// point on.
    ///
    /// By the Markov chain of what the rules remember (Champ and Woodall 1987): the chances of no signal yet are added up
    /// until they fall by a steady factor. To about 1e-10 of itself.
    ///
    /// # Errors
    ///
    /// [`ErrorKind::Parameter`](crate::ErrorKind::Parameter) for a shift that is not within ±20.
    pub fn average_run_length(&self, shift: f64) -> Result<f64, Error> {
        super::check_shift(shift)?;
        let chain = self.chain(shift);
        let mut chances = vec![0.0; chain.len()];
        chances[0] = 1.0;
        let (mut total, mut left, mut ratio) = (0.0, 1.0, 0.0_f64);
        for count in 0..100_000 {
            total += left;
            let mut next = vec![0.0; chain.len()];
            for (chance, moves) in chances.iter().zip(&chain) {
                for &(to, share) in moves {
                    next[to] += chance * share;
                }
            }
            chances = next;
            let now: f64 = chances.iter().sum();
            let steady = now / left;
            // Not before every rule had its chance: until then the factor is steady too.
            let is_steady = count > 64 && (steady - ratio).abs() < 1e-15;
            (left, ratio) = (now, steady);
            if left < 1e-20 || is_steady {
                break;
            }
        }
        // What is still to come: left · (1 + ratio + ratio² + …).
        super::checked_length(total + left / (1.0 - ratio).max(f64::EPSILON))
    }

    /// From each memory that can come up, where to, with which chance; the first is that of no points.
    fn chain(&self, shift: f64) -> Vec<Vec<(usize, f64)>> {
        let mut known = BTreeMap::from([(Memory::default(), 0)]);
        let mut memories = vec![Memory::default()];
        let mut chain: Vec<Vec<(usize, f64)>> = Vec::new();
        while let Some(&memory) = memories.get(chain.len()) {
            let mut moves = Vec::new();
            for side in [0, 1] {
                for zone in 0..3_u8 {
                    let Ok(next) = self.step(memory, Some(side), zone) else {
                        continue;
                    };
                    let to = *known.entry(next).or_insert_with(|| {
                        memories.push(next);
                        memories.len() - 1
                    });
                    let (near, far) = (f64::from(zone), f64::from(zone) + 1.0);
                    let chance = if side == 0 {
                        normal_interval(near - shift, far - shift)
                    } else {
                        normal_interval(-far - shift, -near - shift)
                    };
                    moves.push((to, chance));
                }
            }
            chain.push(moves);
        }
        chain
    }
}

/// 0 above, 1 below; a point on the centre line is on no side.
fn side(z: f64) -> Option<usize> {
    if z > 0.0 {
        Some(0)
    } else if z < 0.0 {
        Some(1)
    } else {
        None
    }
}

/// How many whole standard deviations from the centre line, 3 for more and for what is not a number.
fn zone(z: f64) -> u8 {
    let distance = z.abs();
    if distance < 1.0 {
        0
    } else if distance < 2.0 {
        1
    } else if distance <= 3.0 {
        2
    } else {
        3
    }
}
