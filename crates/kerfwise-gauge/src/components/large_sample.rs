use super::MeanSquare;
use crate::law::{Tail, chi_squared_quantile, f_quantile_upper};
use crate::{Confidence, Interval};

/// A mean square with its coefficient, which may be negative.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Term {
    pub(crate) coefficient: f64,
    pub(crate) square: MeanSquare,
}

impl Term {
    pub(crate) fn new(coefficient: f64, square: MeanSquare) -> Self {
        Self {
            coefficient,
            square,
        }
    }

    pub(crate) fn value(&self) -> f64 {
        self.coefficient * self.square.mean_square()
    }

    fn size(&self) -> f64 {
        self.value().abs()
    }

    fn nu(&self) -> f64 {
        self.square.degrees_of_freedom
    }

    /// 1 − ν/χ²(upper): how far below its mean square a variance may lie.
    fn down(&self, alpha: f64) -> f64 {
        1.0 - self.nu() / chi_squared_quantile(Tail::Upper(alpha), self.nu())
    }

    /// ν/χ²(lower) − 1: how far above.
    fn up(&self, alpha: f64) -> f64 {
        self.nu() / chi_squared_quantile(Tail::Lower(alpha), self.nu()) - 1.0
    }
}

/// Interval of Σ cᵢ θᵢ for independent mean squares with expectations θᵢ, by the modified large-sample method.
///
/// Each mean square alone has its exact limits; their distances from the estimates are combined as squares, with products
/// that make the limits exact again wherever all but two mean squares vanish. Graybill and Wang (1980) for sums; Ting,
/// Burdick, Graybill, Jeyaratnam and Lu (1990) where there are differences, as in Burdick and Graybill (1992), 3.3.
pub(crate) fn combination(terms: &[Term], confidence: Confidence) -> Interval {
    let alpha = confidence.tail();
    let used = || terms.iter().filter(|term| term.size() > 0.0);
    let plus: Vec<&Term> = used().filter(|term| term.coefficient > 0.0).collect();
    let minus: Vec<&Term> = used().filter(|term| term.coefficient < 0.0).collect();
    let value: f64 = terms.iter().map(Term::value).sum();
    // Towards smaller values what is added goes down and what is subtracted goes up; and the other way round.
    let below = reach(&plus, &minus, alpha);
    let above = reach(&minus, &plus, alpha);
    Interval::new(value - below, value + above)
}

/// How far the combination may lie on the side where the terms of `down` are smaller and those of `up` larger.
fn reach(down: &[&Term], up: &[&Term], alpha: f64) -> f64 {
    let mut total = 0.0;
    for term in down {
        let moved = term.down(alpha) * term.size();
        total += moved * moved;
    }
    for term in up {
        let moved = term.up(alpha) * term.size();
        total += moved * moved;
    }
    for d in down {
        for u in up {
            total += crossed(d, u, alpha) * d.size() * u.size();
        }
    }
    // Sums alone have no such products (Graybill and Wang 1980).
    if !up.is_empty() && down.len() > 1 {
        let share = 1.0 / (down.len() as f64 - 1.0);
        for (i, a) in down.iter().enumerate() {
            for b in &down[i + 1..] {
                total += share * alike(a, b, alpha) * a.size() * b.size();
            }
        }
    }
    total.max(0.0).sqrt()
}

/// Makes the limit exact for a difference of two.
fn crossed(d: &Term, u: &Term, alpha: f64) -> f64 {
    let f = f_quantile_upper(alpha, d.nu(), u.nu());
    let (down, up) = (d.down(alpha), u.up(alpha));
    ((f - 1.0) * (f - 1.0) - down * down * f * f - up * up) / f
}

/// Makes it exact for a sum of two.
fn alike(a: &Term, b: &Term, alpha: f64) -> f64 {
    let nu = a.nu() + b.nu();
    let both = 1.0 - nu / chi_squared_quantile(Tail::Upper(alpha), nu);
    let (one, other) = (a.down(alpha), b.down(alpha));
    both * both * nu * nu / (a.nu() * b.nu())
        - one * one * a.nu() / b.nu()
        - other * other * b.nu() / a.nu()
}

#[cfg(test)]
mod tests {
    use super::*;

    // A difference of two mean squares whose ratio is the F quantile: the lower limit must be 0, which is what the
    // product term is made for.
    #[test]
    fn a_difference_at_its_f_quantile_has_limit_0() {
        let confidence = Confidence::default();
        let f = f_quantile_upper(confidence.tail(), 4.0, 20.0);
        let term = |sign: f64, mean_square: f64, nu: f64| {
            Term::new(sign, MeanSquare::new(mean_square * nu, nu))
        };
        let found = combination(&[term(1.0, f, 4.0), term(-1.0, 1.0, 20.0)], confidence);
        // Because squares of numbers near 3 cancel to the square of a difference.
        assert!(found.lower.abs() < 1e-12, "{found:?}");
        // The other way round it is the upper limit.
        let found = combination(&[term(-1.0, f, 4.0), term(1.0, 1.0, 20.0)], confidence);
        assert!(found.upper.abs() < 1e-12, "{found:?}");
    }

    // One mean square alone: its exact limits, here of 10 degrees of freedom with χ² 3.247 and 20.483 (any table).
    #[test]
    fn one_term_has_its_exact_limits() {
        let term = Term::new(0.5, MeanSquare::new(20.0, 10.0));
        let found = combination(&[term], Confidence::default());
        assert!((found.lower - 10.0 / 20.483).abs() < 1e-4);
        assert!((found.upper - 10.0 / 3.247).abs() < 1e-3);
    }
}
