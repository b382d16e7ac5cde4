//! Variances that add up to the spread of a reading.

mod crossed;
mod large_sample;
mod likelihood;
mod one_way;

pub use crossed::{GaugeComponents, GaugeReading, GaugeStudy, Interaction};
pub(crate) use large_sample::{Term, combination};
pub(crate) use likelihood::{Cells, fit};
pub use one_way::OneWay;

use crate::law::{chi_squared_quantiles, f_upper};
use crate::{Confidence, Interval};

/// One line of an analysis of variance.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct MeanSquare {
    /// Degrees of freedom; 0 where there is nothing to estimate from, and then the rest is 0 too.
    pub degrees_of_freedom: f64,
    /// Sum of squares.
    pub sum_of_squares: f64,
}

impl MeanSquare {
    pub(crate) fn new(sum_of_squares: f64, degrees_of_freedom: f64) -> Self {
        Self {
            degrees_of_freedom,
            sum_of_squares,
        }
    }

    /// Sum of squares over degrees of freedom.
    #[must_use]
    pub fn mean_square(&self) -> f64 {
        if self.degrees_of_freedom > 0.0 {
            self.sum_of_squares / self.degrees_of_freedom
        } else {
            0.0
        }
    }

    pub(crate) fn pooled(&self, other: &Self) -> Self {
        Self::new(
            self.sum_of_squares + other.sum_of_squares,
            self.degrees_of_freedom + other.degrees_of_freedom,
        )
    }

    /// Ratio to another mean square; infinite over 0, and 0 of 0.
    pub(crate) fn over(&self, other: &Self) -> f64 {
        let (above, below) = (self.mean_square(), other.mean_square());
        if above <= 0.0 { 0.0 } else { above / below }
    }

    /// How often a ratio to another mean square is as large, if both estimate the same.
    pub(crate) fn p_over(&self, other: &Self) -> f64 {
        f_upper(
            self.over(other),
            self.degrees_of_freedom,
            other.degrees_of_freedom,
        )
    }
}

/// How variances were estimated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Estimator {
    /// From the mean squares of a balanced set, none of the variances being negative.
    AnalysisOfVariance,
    /// By restricted maximum likelihood (REML), which gives no negative variance and weighs uneven groups rightly.
    RestrictedLikelihood,
}

/// A variance that contributes to the spread of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub struct Component {
    /// The variance, 0 or above.
    pub variance: f64,
    /// Where the true variance lies. Of a single mean square exact (χ²), of a sum or difference of mean squares by the
    /// modified large-sample method (Graybill and Wang 1980; Ting, Burdick, Graybill, Jeyaratnam and Lu 1990), cut off at 0.
    pub interval: Interval,
    /// Degrees of freedom, those of Satterthwaite (1946) for a sum or difference; not below 1.
    pub degrees_of_freedom: f64,
}

impl Component {
    /// Square root of the variance.
    #[must_use]
    pub fn standard_deviation(&self) -> f64 {
        self.variance.sqrt()
    }

    /// Where the true standard deviation lies.
    pub fn standard_deviation_interval(&self) -> Interval {
        self.interval.map(f64::sqrt)
    }

    /// What one mean square estimates.
    pub(crate) fn of_square(variance: f64, square: &MeanSquare, confidence: Confidence) -> Self {
        let nu = square.degrees_of_freedom;
        let (low, high) = chi_squared_quantiles(confidence.tail(), nu);
        let sum = square.sum_of_squares;
        Self {
            variance,
            interval: Interval::new(sum / high, sum / low),
            degrees_of_freedom: nu,
        }
    }

    /// What a combination of mean squares estimates.
    pub(crate) fn of_terms(variance: f64, terms: &[Term], confidence: Confidence) -> Self {
        let value: f64 = terms.iter().map(Term::value).sum();
        let share = |term: &Term| term.value() * term.value() / term.square.degrees_of_freedom;
        let spread: f64 = terms.iter().map(share).sum();
        let satterthwaite = if spread > 0.0 {
            value * value / spread
        } else {
            1.0
        };
        Self {
            variance,
            interval: combination(terms, confidence).map(|x| x.max(0.0)),
            degrees_of_freedom: satterthwaite.max(1.0),
        }
    }
}
