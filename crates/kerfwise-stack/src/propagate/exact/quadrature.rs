//! Integrals over pieces between known kinks, the worst piece halved first, with a bound on the error.

use crate::Bounded;
use kerfwise_numeric::float;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_numeric::sum::CompensatedSum;

/// A place where a function is not analytic.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kink {
    /// Where.
    pub(crate) at: f64,
    /// 1 where each side is analytic up to the place (a corner, a jump, or nothing at all);
    /// q above 1 where a side looks like a power of the distance that the substitution of its q-th root makes smooth.
    pub(crate) power: u8,
}

impl Kink {
    /// A corner, a jump, or a mark that only guides the quadrature.
    pub(super) const fn corner(at: f64) -> Self {
        Self { at, power: 1 }
    }

    /// A place that looks like a root of the distance.
    pub(super) const fn root(at: f64, power: u8) -> Self {
        Self { at, power }
    }
}

/// How hard an integral may try.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Relative error to stop at.
    pub(super) relative: f64,
    /// Absolute error to stop at.
    pub(super) absolute: f64,
    /// Most evaluations.
    pub(super) evaluations: usize,
}

/// Sorts kinks and keeps those strictly between two ends, ends added with the power of a kink that meets them.
pub(super) fn between(mut kinks: Vec<Kink>, lo: f64, hi: f64) -> Vec<Kink> {
    let slack = 4.0 * f64::EPSILON * (lo.abs().max(hi.abs()));
    let mut ends = [Kink::corner(lo), Kink::corner(hi)];
    for kink in &kinks {
        for end in &mut ends {
            if (kink.at - end.at).abs() <= slack {
                end.power = end.power.max(kink.power);
            }
        }
    }
    kinks.retain(|k| k.at > lo + slack && k.at < hi - slack);
    kinks.sort_by(|a, b| a.at.total_cmp(&b.at));
    let mut kept: Vec<Kink> = Vec::with_capacity(kinks.len() + 2);
    kept.push(ends[0]);
    for kink in kinks {
        match kept.last_mut() {
            Some(last) if kink.at - last.at <= slack => last.power = last.power.max(kink.power),
            _ => kept.push(kink),
        }
    }
    kept.push(ends[1]);
    kept
}

/// A piece, walked from one of its ends: x = end ± length·v^power for v in `from..to`.
#[derive(Debug, Clone, Copy)]
struct Panel {
    end: f64,
    length: f64,
    power: u8,
    from: f64,
    to: f64,
    value: f64,
    error: f64,
    /// What the errors of the integrand's values add up to.
    inherited: f64,
}

impl Panel {
    fn new(end: f64, length: f64, power: u8) -> Self {
        Self {
            end,
            length,
            power,
            from: 0.0,
            to: 1.0,
            value: 0.0,
            error: 0.0,
            inherited: 0.0,
        }
    }

    fn measured(mut self, f: &mut dyn FnMut(f64) -> Bounded<f64>) -> Self {
        let (middle, half) = (0.5 * (self.from + self.to), 0.5 * (self.to - self.from));
        let mut at = |node: f64| {
            let v = middle + half * node;
            let before = float::powi(v, i32::from(self.power) - 1);
            let y = f(self.end + self.length * v * before);
            let weight = half * self.length.abs() * f64::from(self.power) * before;
            // A pole on which rounding has landed: the substitution leaves it no weight.
            if y.value.is_finite() {
                (weight * y.value, weight * y.error)
            } else {
                (0.0, 0.0)
            }
        };
        let (coarse, fine) = (gauss_legendre(16), gauss_legendre(24));
        let mut first = 0.0;
        for (node, weight) in coarse.nodes().iter().zip(coarse.weights()) {
            first += weight * at(*node).0;
        }
        let (mut second, mut inherited) = (0.0, 0.0);
        for (node, weight) in fine.nodes().iter().zip(fine.weights()) {
            let (value, error) = at(*node);
            second += weight * value;
            inherited += weight * error;
        }
        self.value = second;
        self.error = (first - second).abs();
        self.inherited = inherited;
        self
    }

    fn halves(self) -> [Self; 2] {
        let middle = 0.5 * (self.from + self.to);
        [
            Self { to: middle, ..self },
            Self {
                from: middle,
                ..self
            },
        ]
    }
}

/// Evaluations of one panel: both rules.
const PER_PANEL: usize = 40;

/// Integral of `f` from the first to the last of these places, which must ascend.
///
/// Two Gauss–Legendre rules (16 and 24 nodes) on every piece; their difference bounds the error of the finer one, being
/// the error of the coarser. Kinks that look like a root are substituted away.
pub(super) fn integrate(
    places: &[Kink],
    effort: Effort,
    mut f: impl FnMut(f64) -> Bounded<f64>,
) -> Bounded<f64> {
    let mut panels = Vec::with_capacity(2 * places.len());
    for pair in places.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let length = b.at - a.at;
        if !(length > 0.0 && length.is_finite()) {
            continue;
        }
        match (a.power, b.power) {
            (power, 1) => panels.push(Panel::new(a.at, length, power).measured(&mut f)),
            (1, power) => panels.push(Panel::new(b.at, -length, power).measured(&mut f)),
            (left, right) => {
                panels.push(Panel::new(a.at, 0.5 * length, left).measured(&mut f));
                panels.push(Panel::new(b.at, -0.5 * length, right).measured(&mut f));
            }
        }
    }
    refine(&mut panels, effort, &mut f);
    let (mut value, mut error) = (CompensatedSum::new(), 0.0);
    for panel in &panels {
        value.add(panel.value);
        error += panel.error + panel.inherited + 4.0 * f64::EPSILON * panel.value.abs();
    }
    Bounded {
        value: value.value(),
        error,
    }
}

fn refine(panels: &mut Vec<Panel>, effort: Effort, f: &mut dyn FnMut(f64) -> Bounded<f64>) {
    while panels.len() * PER_PANEL < effort.evaluations {
        let (mut total, mut error) = (0.0, 0.0);
        let mut worst: Option<usize> = None;
        for (i, panel) in panels.iter().enumerate() {
            total += panel.value;
            error += panel.error;
            // What is left of a panel's error may be rounding, which halving does not mend.
            let floor = 8.0 * f64::EPSILON * panel.value.abs() + panel.inherited;
            if panel.error > floor && worst.is_none_or(|w| panel.error > panels[w].error) {
                worst = Some(i);
            }
        }
        let Some(worst) = worst else { return };
        if error <= effort.absolute.max(effort.relative * total.abs())
            || panels[worst].to - panels[worst].from < 1e-12
        {
            return;
        }
        let [left, right] = panels[worst].halves();
        panels[worst] = left.measured(f);
        panels.push(right.measured(f));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propagate::exact::tail::sure;

    const TRY: Effort = Effort {
        relative: 1e-14,
        absolute: 0.0,
        evaluations: 4000,
    };

    #[test]
    fn roots_are_substituted_away() {
        // The integral of 1/sqrt(x(1-x)) over 0 to 1 is pi.
        let places = [Kink::root(0.0, 2), Kink::root(1.0, 2)];
        let got = integrate(&places, TRY, |x| sure(1.0 / (x * (1.0 - x)).sqrt()));
        // Near 1 the distance 1 - x has lost digits, hence not 1e-15.
        assert!((got.value - std::f64::consts::PI).abs() < 1e-11, "{got:?}");
    }

    #[test]
    fn a_corner_that_is_named_costs_nothing() {
        let mut count = 0;
        let places = [Kink::corner(0.0), Kink::corner(0.3), Kink::corner(1.0)];
        let got = integrate(&places, TRY, |x| {
            count += 1;
            sure((x - 0.3).abs())
        });
        assert!((got.value - (0.045 + 0.245)).abs() <= got.error, "{got:?}");
        assert_eq!(count, 80);
    }

    #[test]
    fn a_corner_that_is_not_named_is_found() {
        let places = [Kink::corner(0.0), Kink::corner(1.0)];
        let got = integrate(&places, TRY, |x| sure((x - 0.3).abs()));
        assert!((got.value - 0.29).abs() <= got.error, "{got:?}");
        assert!(got.error < 1e-13, "{got:?}");
    }

    #[test]
    fn kinks_are_sorted_merged_and_cut() {
        let kinks = vec![
            Kink::corner(2.0),
            Kink::root(0.5, 2),
            Kink::corner(0.5),
            Kink::root(0.0, 3),
            Kink::corner(-1.0),
        ];
        let kept = between(kinks, 0.0, 1.0);
        assert_eq!(
            kept,
            [Kink::root(0.0, 3), Kink::root(0.5, 2), Kink::corner(1.0)]
        );
    }
}
