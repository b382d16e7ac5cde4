//! Distributions of errors, in plain numbers (the raw unit of whatever they belong to).

mod arcsine;
mod beta;
mod check;
mod curvilinear_trapezoid;
mod discrete;
mod empirical;
mod exponential;
mod lognormal;
mod mixture;
mod normal;
mod point;
mod rectangular;
mod student_t;
mod trapezoidal;
mod triangular;
mod truncated_normal;
mod two_piece_normal;

pub use arcsine::Arcsine;
pub use beta::Beta;
pub use curvilinear_trapezoid::CurvilinearTrapezoid;
pub use discrete::Discrete;
pub use empirical::Empirical;
pub use exponential::Exponential;
pub use lognormal::Lognormal;
pub use mixture::Mixture;
pub use normal::Normal;
pub use point::Point;
pub use rectangular::Rectangular;
pub use student_t::StudentT;
pub use trapezoidal::Trapezoidal;
pub use triangular::Triangular;
pub use truncated_normal::TruncatedNormal;
pub use two_piece_normal::TwoPieceNormal;

use crate::Error;
use kerfwise_numeric::stream::Stream;

/// The law of an error: a closed set.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Distribution {
    /// One value, no spread.
    Point(Point),
    /// Normal.
    Normal(Normal),
    /// Rectangular on an interval.
    Rectangular(Rectangular),
    /// Triangular.
    Triangular(Triangular),
    /// Symmetric trapezoid.
    Trapezoidal(Trapezoidal),
    /// Rectangular with limits known to ±d.
    CurvilinearTrapezoid(CurvilinearTrapezoid),
    /// Arcsine on an interval.
    Arcsine(Arcsine),
    /// Scaled and shifted Student t.
    StudentT(StudentT),
    /// Exponential above or below an origin.
    Exponential(Exponential),
    /// Lognormal above or below an origin.
    Lognormal(Lognormal),
    /// Beta over an interval.
    Beta(Beta),
    /// Normal cut to an interval.
    TruncatedNormal(TruncatedNormal),
    /// Two half normals.
    TwoPieceNormal(TwoPieceNormal),
    /// Values with probabilities.
    Discrete(Discrete),
    /// A mixture.
    Mixture(Mixture),
    /// Each reading equally likely.
    Empirical(Empirical),
}

#[allow(unused_variables, reason = "skeleton")]
impl Distribution {
    /// Known exactly.
    pub fn point(value: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Normal.
    pub fn normal(mean: f64, sd: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Rectangular on an interval.
    pub fn rectangular(lower: f64, upper: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Triangular, arguments in ascending order.
    pub fn triangular(lower: f64, peak: f64, upper: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Symmetric trapezoid; top over base is `top_ratio` in [0, 1] (JCGM 101, 6.4.4).
    pub fn trapezoidal(lower: f64, upper: f64, top_ratio: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Rectangular with limits known to ±d (JCGM 101, 6.4.3).
    pub fn curvilinear_trapezoid(lower: f64, upper: f64, d: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Arcsine (U-shaped) on an interval (JCGM 101, 6.4.6).
    pub fn arcsine(lower: f64, upper: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Scaled and shifted Student t.
    pub fn student_t(location: f64, scale: f64, degrees_of_freedom: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Exponential above `origin`, with `mean_excess` over it; negative `mean_excess` lies below.
    pub fn exponential(origin: f64, mean_excess: f64) -> Result<Self, Error> {
        todo!()
    }
    /// `origin` + exp(N(log_mean, log_sd²)).
    pub fn lognormal(origin: f64, log_mean: f64, log_sd: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Beta with shapes a, b stretched over an interval.
    pub fn beta(lower: f64, upper: f64, a: f64, b: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Normal cut to an interval (either end may be infinite).
    pub fn truncated_normal(mean: f64, sd: f64, lower: f64, upper: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Two half normals joined at the mode.
    pub fn two_piece_normal(mode: f64, sd_below: f64, sd_above: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Values with probabilities (which must add to 1).
    pub fn discrete(pairs: &[(f64, f64)]) -> Result<Self, Error> {
        todo!()
    }
    /// A mixture: weights (which must add to 1) and what they weigh.
    pub fn mixture(parts: Vec<(f64, Self)>) -> Result<Self, Error> {
        todo!()
    }
    /// Each reading equally likely.
    pub fn empirical(readings: &[f64]) -> Result<Self, Error> {
        todo!()
    }

    /// Mean, or `None` where the integral does not converge.
    pub fn mean(&self) -> Option<f64> {
        todo!()
    }
    /// Variance, or `None`.
    pub fn variance(&self) -> Option<f64> {
        todo!()
    }
    /// Square root of the variance, or `None`.
    pub fn standard_deviation(&self) -> Option<f64> {
        todo!()
    }
    /// Density; `None` for a distribution that has atoms.
    pub fn pdf(&self, x: f64) -> Option<f64> {
        todo!()
    }
    /// P(X ≤ x), with relative accuracy in the lower tail.
    pub fn cdf(&self, x: f64) -> f64 {
        todo!()
    }
    /// P(X > x), with relative accuracy in the upper tail.
    pub fn sf(&self, x: f64) -> f64 {
        todo!()
    }
    /// Smallest x with P(X ≤ x) ≥ p; ends of the support at 0 and 1.
    pub fn quantile(&self, p: f64) -> f64 {
        todo!()
    }
    /// x with P(X > x) = q, accurate for small q.
    pub fn quantile_upper(&self, q: f64) -> f64 {
        todo!()
    }
    /// Least and greatest value (maybe infinite).
    pub fn support(&self) -> (f64, f64) {
        todo!()
    }
    /// The point of symmetry, if the law is symmetric.
    pub fn centre_of_symmetry(&self) -> Option<f64> {
        todo!()
    }
    /// Characteristic function E exp(itX) as (real, imaginary), where it has a closed form.
    pub fn characteristic(&self, t: f64) -> Option<(f64, f64)> {
        todo!()
    }
    /// How many 64-bit words one draw takes (fixed per distribution).
    pub fn words_per_draw(&self) -> usize {
        todo!()
    }
    /// Fills a column with draws.
    pub fn fill(&self, stream: &mut Stream, out: &mut [f64]) {
        todo!()
    }
    /// The law of factor·X + shift.
    pub fn affine(&self, factor: f64, shift: f64) -> Result<Self, Error> {
        todo!()
    }
    /// Lower-case name, as printed: "normal", "rectangular", "Student t".
    pub fn name(&self) -> &'static str {
        todo!()
    }
}
