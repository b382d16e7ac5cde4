//! Smooth functions that are asked for very often, as polynomials on panels.

use kerfwise_numeric::float;
use kerfwise_source::{Dimension, Quantity};
use kerfwise_stack::Exact;
use std::f64::consts::PI;
use std::sync::LazyLock;

/// Chebyshev coefficients of one panel.
const ORDER: usize = 16;
/// A panel is halved at most so often; a jump is then closed in to a billionth of the width.
const DEEPEST: u32 = 30;
/// A stop for functions that are nothing but rounding.
const MOST_PANELS: usize = 2_000;

/// The most cells by which panels are found.
const MOST_CELLS: usize = 512;

/// A function between two places as Chebyshev series on panels, each halved until its last coefficients vanish; constant
/// outside.
#[derive(Debug, Clone)]
pub(crate) struct Curve {
    /// Ends of panels, ascending, one more than there are panels.
    ends: Vec<f64>,
    coefficients: Vec<[f64; ORDER]>,
    /// The panel in which each of equal cells begins.
    cells: Vec<usize>,
    /// Cells per length.
    density: f64,
    below: f64,
    above: f64,
    /// How far it may be off in all.
    pub(crate) error: f64,
}

impl Curve {
    /// Between the first and the last of these places, ascending, which are also ends of panels; `outside` are the values
    /// below and above. Nothing may hide between places: put some about every step.
    pub(crate) fn new(
        places: &[f64],
        outside: (f64, f64),
        tolerance: f64,
        f: &dyn Fn(f64) -> f64,
    ) -> Self {
        let mut curve = Self {
            ends: vec![places.first().copied().unwrap_or(0.0)],
            coefficients: Vec::new(),
            cells: Vec::new(),
            density: 0.0,
            below: outside.0,
            above: outside.1,
            error: 0.0,
        };
        for pair in places.windows(2) {
            if pair[1] > pair[0] {
                curve.add((pair[0], pair[1]), tolerance, f, (f64::INFINITY, 0));
            }
        }
        curve.make_cells();
        curve
    }

    /// The distribution function of a law; a step at zero where there is none.
    pub(crate) fn cdf(law: Option<&Exact>, dimension: Dimension) -> Self {
        let Some(law) = law else {
            return Self::new(&[0.0], (0.0, 1.0), 0.0, &|_| 0.0);
        };
        let at = |y: f64| law.cdf(Quantity::new(y, dimension)).value;
        let reach = Reach::of(law, dimension);
        let mut curve = Self::new(&reach.places, (0.0, 1.0), 4e-15, &at);
        curve.error += reach.outside;
        curve
    }

    /// The chance that a law lies within `half` of x.
    pub(crate) fn around(law: &Exact, dimension: Dimension, half: f64) -> Self {
        let at = |y: f64| Quantity::new(y, dimension);
        let middle = middle_of(law);
        // From the side where both are small, so that far out they keep their digits.
        let chance = |x: f64| {
            let (lo, hi) = (at(x - half), at(x + half));
            let chance = if x > middle {
                law.sf(lo).value - law.sf(hi).value
            } else {
                law.cdf(hi).value - law.cdf(lo).value
            };
            chance.max(0.0)
        };
        let mut places = Vec::new();
        for place in Reach::of(law, dimension).places {
            places.extend([place - half, place + half]);
        }
        places.sort_by(f64::total_cmp);
        // A difference of two chances, each good to a unit in the last place of one.
        Self::new(&places, (0.0, 0.0), 4e-16, &chance)
    }

    /// The density of a law, if it has one everywhere.
    pub(crate) fn density(law: &Exact, dimension: Dimension) -> Option<Self> {
        let at = |y: f64| law.pdf(Quantity::new(y, dimension)).map(|d| d.value);
        let middle = at(law.quantile(0.5).value.raw())?;
        let reach = Reach::of(law, dimension);
        let tolerance = 4e-15 * middle.max(f64::MIN_POSITIVE);
        let f = |y: f64| at(y).filter(|d| d.is_finite()).unwrap_or(0.0);
        Some(Self::new(&reach.places, (0.0, 0.0), tolerance, &f))
    }

    /// Adds panels; `above` is what the panel that was halved left over, and how often it had been halved.
    fn add(
        &mut self,
        (from, to): (f64, f64),
        tolerance: f64,
        f: &dyn Fn(f64) -> f64,
        above: (f64, u32),
    ) {
        let coefficients = series(from, to, f);
        let rest: f64 = coefficients[ORDER - 3..].iter().map(|c| c.abs()).sum();
        // What halving does not make smaller is rounding of the function itself.
        let is_rounding = rest < 1e4 * tolerance && rest > 0.25 * above.0;
        if rest <= tolerance
            || is_rounding
            || above.1 >= DEEPEST
            || self.coefficients.len() >= MOST_PANELS
        {
            self.coefficients.push(coefficients);
            self.ends.push(to);
            self.error = self.error.max(rest);
            return;
        }
        let middle = 0.5 * (from + to);
        self.add((from, middle), tolerance, f, (rest, above.1 + 1));
        self.add((middle, to), tolerance, f, (rest, above.1 + 1));
    }

    /// Cells about as narrow as most panels, to find a panel without a search.
    fn make_cells(&mut self) {
        let (first, panels) = (self.ends[0], self.coefficients.len());
        let count = (4 * panels).min(MOST_CELLS);
        self.density = count as f64 / (self.ends[panels] - first);
        let panel_at = |x: f64| self.ends.partition_point(|end| *end <= x).saturating_sub(1);
        self.cells = (0..count)
            .map(|cell| panel_at(first + cell as f64 / self.density))
            .collect();
        self.cells.push(panels.saturating_sub(1));
    }

    /// The panel that holds x, which lies between the ends.
    #[inline]
    fn panel(&self, x: f64) -> usize {
        let cell = ((x - self.ends[0]) * self.density) as i32 as usize;
        let cell = cell.min(self.cells.len() - 2);
        let (first, last) = (self.cells[cell], self.cells[cell + 1]);
        // Rounding may put an x that lies on the end of a cell into its neighbour.
        let first = if x < self.ends[first] {
            first - 1
        } else {
            first
        };
        if last - first <= 4 {
            let mut panel = first;
            while panel + 2 < self.ends.len() && self.ends[panel + 1] <= x {
                panel += 1;
            }
            panel
        } else {
            self.ends.partition_point(|end| *end <= x) - 1
        }
    }

    /// The integral between the ends: of `T_k` over [-1, 1] it is 2 / (1 - k²) for even k and nothing for odd.
    pub(crate) fn integral(&self) -> f64 {
        let panels = self.ends.windows(2).zip(&self.coefficients);
        panels
            .map(|(ends, c)| {
                let even = (0..ORDER).step_by(2);
                let sum: f64 = even.map(|k| c[k] / (1.0 - (k * k) as f64)).sum();
                (ends[1] - ends[0]) * sum
            })
            .sum()
    }

    /// The value at x.
    #[inline]
    pub(crate) fn at(&self, x: f64) -> f64 {
        let last = self.ends.len() - 1;
        if x < self.ends[0] {
            return self.below;
        }
        if x >= self.ends[last] {
            return self.above;
        }
        let panel = self.panel(x);
        let (from, to) = (self.ends[panel], self.ends[panel + 1]);
        let u = ((x - from) - (to - x)) / (to - from);
        clenshaw(&self.coefficients[panel], u)
    }
}

/// Lanes of a sum that is walked in parallel.
const LANES: usize = 4;

/// Σ `c[k]` `T_k`(u), every fourth term in a lane of its own: the recurrence of Clenshaw in steps of four,
/// `T_(k+4)` = 2 `T_4` `T_k` − `T_(k−4)`, is four times shorter.
#[inline]
fn clenshaw(c: &[f64; ORDER], u: f64) -> f64 {
    let t2 = 2.0 * u * u - 1.0;
    let t = [1.0, u, t2, u * (2.0 * t2 - 1.0), 2.0 * t2 * t2 - 1.0];
    let twice = 2.0 * t[LANES];
    let mut sum = [0.0; LANES];
    for i in 0..LANES {
        let b3 = c[3 * LANES + i];
        let b2 = twice * b3 + c[2 * LANES + i];
        let b1 = twice * b2 - b3 + c[LANES + i];
        let b0 = twice * b1 - b2 + c[i];
        sum[i] = b0 * t[i] - b1 * t[LANES - i];
    }
    (sum[0] + sum[2]) + (sum[1] + sum[3])
}

/// Where a law lies, in steps that leave no part of its distribution function unseen.
#[derive(Debug, Clone)]
pub(crate) struct Reach {
    /// Ascending; the first and the last are the ends.
    pub(crate) places: Vec<f64>,
    /// The chance of lying beyond.
    pub(crate) outside: f64,
}

impl Reach {
    /// Steps outwards from the median, counted in standard deviations, until 1e-13 is left, or 1e-9 of a heavy tail.
    pub(crate) fn of(law: &Exact, dimension: Dimension) -> Self {
        let at = |y: f64| Quantity::new(y, dimension);
        let middle = law.quantile(0.5).value.raw();
        let width = width_of(law);
        let (lo, hi) = (law.quantile(0.0).value.raw(), law.quantile(1.0).value.raw());
        let (mut below, mut above) = (Vec::new(), Vec::new());
        let (mut under, mut over) = (1.0, 1.0);
        let left = |k: f64, chance: f64| chance > 1e-13 && (k < 10.0 || chance > 1e-9);
        let mut last = 0.0;
        for k in STEPS {
            if left(last, under) && width > 0.0 {
                let place = (middle - k * width).max(lo);
                under = law.cdf(at(place)).value;
                below.push(place);
            }
            if left(last, over) && width > 0.0 {
                let place = (middle + k * width).min(hi);
                over = law.sf(at(place)).value;
                above.push(place);
            }
            last = k;
        }
        below.reverse();
        below.push(middle);
        below.extend(above);
        below.dedup();
        // An end of the support has nothing beyond it, though an atom may lie on it.
        let rest = |chance: f64, is_end: bool| if is_end { 0.0 } else { chance };
        let outside = rest(under, below[0] <= lo) + rest(over, below[below.len() - 1] >= hi);
        Self {
            places: below,
            outside,
        }
    }
}

/// In standard deviations.
const STEPS: [f64; 13] = [
    0.7, 2.0, 4.0, 7.0, 10.0, 14.0, 20.0, 40.0, 100.0, 1e3, 1e4, 1e5, 1e6,
];

/// Standard deviation, or what it would be for a normal law of the same quartiles.
pub(crate) fn width_of(law: &Exact) -> f64 {
    let quartiles = || law.quantile(0.75).value.raw() - law.quantile(0.25).value.raw();
    match law.standard_deviation() {
        Some(sd) => sd.raw(),
        None => quartiles() / 1.349,
    }
}

/// Mean, or median where there is none.
pub(crate) fn middle_of(law: &Exact) -> f64 {
    let median = || law.quantile(0.5).value;
    law.mean().unwrap_or_else(median).raw()
}

/// cos(k (i + 1/2) π / n), rows by k.
static COSINES: LazyLock<[[f64; ORDER]; ORDER]> = LazyLock::new(|| {
    let mut table = [[0.0; ORDER]; ORDER];
    for (k, row) in table.iter_mut().enumerate() {
        for (i, cosine) in row.iter_mut().enumerate() {
            *cosine = float::cos(PI * k as f64 * (i as f64 + 0.5) / ORDER as f64);
        }
    }
    table
});

fn series(from: f64, to: f64, f: &dyn Fn(f64) -> f64) -> [f64; ORDER] {
    let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
    let cosines = &*COSINES;
    let mut values = [0.0; ORDER];
    for (value, cosine) in values.iter_mut().zip(&cosines[1]) {
        *value = f(middle + half * cosine);
    }
    let mut coefficients = [0.0; ORDER];
    for (k, c) in coefficients.iter_mut().enumerate() {
        let sum: f64 = values.iter().zip(&cosines[k]).map(|(v, c)| v * c).sum();
        *c = sum * if k == 0 { 1.0 } else { 2.0 } / ORDER as f64;
    }
    coefficients
}
