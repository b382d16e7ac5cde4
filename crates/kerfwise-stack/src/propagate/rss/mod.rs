//! Root sum of squares: the law of propagation of uncertainty (JCGM 100).

mod chance;
mod doubts;
mod freedom;
mod inputs;
#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what is exact is compared exactly")]
mod tests;
mod variance;

use crate::run::taylor::gradient;
use crate::{Chance, CoverageInterval, Decline, Outcome, Propagation};
use freedom::Shape;
use inputs::{CorrelatedPair, Input};
use kerfwise_source::{Dimension, Distribution, Quantity};
use variance::{NoVariance, Variance};

/// Second-order terms are computed unasked, to tell whether they matter, for at most so many non-linear inputs.
const FEW_INPUTS: usize = 64;

/// Options of the law of propagation.
///
/// ```
/// use kerfwise_source::Source;
/// use kerfwise_stack::{Expr, RootSumOfSquares, Stack};
///
/// let x = Source::new("x", 3.0).normal(0.5).degrees_of_freedom(4.0).build()?;
/// let stack = Stack::builder().outcome_without_band("y", &Expr::source(&x)).build()?;
/// let answer = stack.outcome("y").unwrap().root_sum_of_squares(RootSumOfSquares::new().level(0.99))?;
/// // JCGM 100, table G.2: 4.60 for 4 degrees of freedom at 99 %.
/// assert!((answer.coverage_factor - 4.604_094_871).abs() < 1e-9);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct RootSumOfSquares {
    level: f64,
    second_order: bool,
    truncated: bool,
}

impl Default for RootSumOfSquares {
    fn default() -> Self {
        Self::new()
    }
}

impl RootSumOfSquares {
    /// First order, 95 % level of confidence, effective degrees of freedom used as the real number that they are.
    #[must_use]
    pub fn new() -> Self {
        Self {
            level: 0.95,
            second_order: false,
            truncated: false,
        }
    }

    /// The level of confidence of the expanded uncertainty, between 0 and 1.
    #[must_use]
    pub fn level(mut self, level: f64) -> Self {
        self.level = level;
        self
    }

    /// Adds the second-order terms (JCGM 100, 5.1.2 note). They hold for independent inputs whose distributions are
    /// symmetric; with others this propagation declines.
    #[must_use]
    pub fn second_order(mut self) -> Self {
        self.second_order = true;
        self
    }

    /// Truncates the effective degrees of freedom to the next lower whole number before taking the coverage factor, as
    /// the Guide does for its printed table (JCGM 100, G.4.1 note 1). Below 1 they stay as they are.
    #[must_use]
    pub fn truncated_degrees_of_freedom(mut self) -> Self {
        self.truncated = true;
        self
    }
}

/// A line of the uncertainty budget.
#[derive(Debug, Clone, PartialEq)]
pub struct BudgetLine {
    /// Source (or source#instance).
    pub name: String,
    /// Estimate (estimate plus mean error).
    pub estimate: Quantity,
    /// Standard uncertainty u.
    pub standard_uncertainty: Quantity,
    /// Its degrees of freedom.
    pub degrees_of_freedom: f64,
    /// Sensitivity coefficient c.
    pub sensitivity: Quantity,
    /// c·u, with the sign of c.
    pub contribution: Quantity,
    /// Share of the variance; the terms of two sources (covariance, second order) are split evenly between them. Shares
    /// add to 1; with negative covariances some may be negative. All are 0 when nothing has any spread.
    pub share: f64,
}

/// The law of propagation's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct RootSumOfSquaresAnswer {
    /// The outcome at the estimates.
    pub estimate: Quantity,
    /// Combined standard uncertainty.
    pub standard_uncertainty: Quantity,
    /// Effective degrees of freedom of the first-order part (Welch–Satterthwaite, JCGM 100, G.4.1). Several draws of one
    /// source are counted together, since they share one estimate of their spread. Infinite when those of all inputs are;
    /// `None` with correlated inputs of finite degrees of freedom, for which the formula does not hold.
    pub degrees_of_freedom: Option<f64>,
    /// Coverage factor from the t distribution (from the normal where the degrees of freedom are infinite or `None`).
    pub coverage_factor: f64,
    /// Expanded uncertainty.
    pub expanded_uncertainty: Quantity,
    /// Estimate ± expanded uncertainty.
    pub interval: CoverageInterval,
    /// Chance of the band under the assumption of a normal (or t) outcome; `None` without a band, and where the slopes at
    /// the estimates show no spread although there is some (the doubts then say so).
    pub chance: Option<Chance>,
    /// The budget, largest share first. A source without spread, in which the outcome has no slope, has no line.
    pub budget: Vec<BudgetLine>,
    /// The part of the variance from second-order terms, if asked for (raw unit squared).
    pub second_order_variance: Option<f64>,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// Why this answer should be doubted: kinks within three standard uncertainties of the estimates, large second-order
    /// terms, one dominating non-normal source.
    pub doubts: Vec<String>,
}

/// What has been worked out about an outcome on the way to the answer.
struct Working<'a> {
    outcome: Outcome<'a>,
    options: &'a RootSumOfSquares,
    inputs: Vec<Input<'a>>,
    /// The outcome at the estimates.
    value: f64,
    /// All inputs of the tape at the estimates.
    at: Vec<f64>,
    /// Sensitivity coefficients, one per input.
    sensitivities: Vec<f64>,
    variance: Variance,
    correlated: Vec<CorrelatedPair>,
}

impl Working<'_> {
    /// Whether the slopes at the estimates show no spread where there is some: at the top of a cosine, say.
    fn is_blind(&self) -> bool {
        let has_spread = self
            .inputs
            .iter()
            .any(|input| input.standard_uncertainty > 0.0);
        has_spread
            && self.variance.is_zero()
            && !self.is_affine()
            && self
                .variance
                .second_total()
                .is_none_or(|second| second > 0.0)
    }

    fn is_affine(&self) -> bool {
        self.outcome.is_affine()
    }
}

/// The law of propagation of uncertainty.
///
/// ```text
/// u² = Σ c_i² u_i² + 2 Σ_{i<j} c_i c_j u_i u_j r_ij        JCGM 100, 5.2.2, eq. 16
///    + Σ_ij (½ f_ij² + f_i f_ijj) u_i² u_j²                5.1.2 note, when asked for
/// ```
pub(crate) fn run(
    outcome: Outcome<'_>,
    options: &RootSumOfSquares,
) -> Result<RootSumOfSquaresAnswer, Decline> {
    work_out(outcome, options)
        .and_then(|working| answer(&working))
        .map_err(|reasons| Decline::new(Propagation::RootSumOfSquares, reasons))
}

fn work_out<'a>(
    outcome: Outcome<'a>,
    options: &'a RootSumOfSquares,
) -> Result<Working<'a>, Vec<String>> {
    let problem = &outcome.stack.problem;
    let mut reasons = Vec::new();
    if !(options.level > 0.0 && options.level < 1.0) {
        reasons.push(format!(
            "the level of confidence must be between 0 and 1 (got {})",
            options.level
        ));
    }
    let inputs = inputs::of(outcome).unwrap_or_else(|without| {
        reasons.extend(without);
        Vec::new()
    });
    let correlated = inputs::correlated_pairs(outcome, &inputs);
    if options.second_order {
        reasons.extend(inputs::against_second_order(&inputs, &correlated));
    }
    if !reasons.is_empty() {
        return Err(reasons);
    }

    let at = inputs::point(outcome, &inputs);
    let derivatives = gradient(&problem.tape, outcome.index, &at);
    let sensitivities: Vec<f64> = inputs
        .iter()
        .map(|input| derivatives.gradient[input.index])
        .collect();
    check_finite(outcome, &inputs, derivatives.value, &sensitivities)?;

    let contributions: Vec<f64> = inputs
        .iter()
        .zip(&sensitivities)
        .map(|(input, c)| contribution(input, *c))
        .collect();
    let second = second_order_terms(&at, outcome, options, &inputs, derivatives.kink);
    let variance = Variance::new(&contributions, &correlated, second, options.second_order)
        .map_err(|fault| vec![without_variance(outcome, fault)])?;
    Ok(Working {
        outcome,
        options,
        value: derivatives.value,
        at,
        sensitivities,
        variance,
        correlated,
        inputs,
    })
}

/// c·u; nothing where there is no spread, whatever the slope.
fn contribution(input: &Input<'_>, sensitivity: f64) -> f64 {
    if input.standard_uncertainty > 0.0 {
        sensitivity * input.standard_uncertainty
    } else {
        0.0
    }
}

fn without_variance(outcome: Outcome<'_>, fault: NoVariance) -> String {
    match (fault, outcome.opaque_function()) {
        (NoVariance::NotFinite, Some(name)) => format!(
            "function \"{name}\" is known by its values only, which is too little for second-order terms: use Monte Carlo"
        ),
        (NoVariance::NotFinite, None) => {
            "the derivatives of second and third order at the estimates are not finite: use Monte Carlo".to_owned()
        }
        (NoVariance::Negative, _) => {
            "the second-order terms make the variance negative, so the expansion does not hold: use Monte Carlo"
                .to_owned()
        }
    }
}

fn check_finite(
    outcome: Outcome<'_>,
    inputs: &[Input<'_>],
    value: f64,
    sensitivities: &[f64],
) -> Result<(), Vec<String>> {
    if !value.is_finite() {
        return Err(vec![format!(
            "\"{}\" is not defined at the estimates of its sources",
            outcome.name()
        )]);
    }
    let reason = |input: &Input<'_>, c: f64| {
        let name = input.name;
        if c.is_nan() {
            format!(
                "source \"{name}\": the outcome has no slope in it at the estimates: use Monte Carlo"
            )
        } else {
            format!(
                "source \"{name}\": the sensitivity at the estimates is not finite, or too large (got {c}): use Monte Carlo"
            )
        }
    };
    let reasons: Vec<String> = inputs
        .iter()
        .zip(sensitivities)
        .filter(|(input, c)| !contribution(input, **c).is_finite())
        .map(|(input, c)| reason(input, *c))
        .collect();
    if reasons.is_empty() {
        Ok(())
    } else {
        Err(reasons)
    }
}

/// Asked for, or cheap enough to tell whether they should have been; `None` when neither.
fn second_order_terms(
    at: &[f64],
    outcome: Outcome<'_>,
    options: &RootSumOfSquares,
    inputs: &[Input<'_>],
    kink: Option<&str>,
) -> Option<Vec<variance::SecondOrderTerm>> {
    let problem = &outcome.stack.problem;
    let Err(not_affine_in) = &problem.affine[outcome.index] else {
        return Some(Vec::new());
    };
    let curved: Vec<usize> = (0..inputs.len())
        .filter(|&k| {
            inputs[k].standard_uncertainty > 0.0 && not_affine_in.contains(&inputs[k].index)
        })
        .collect();
    let is_cheap = kink.is_none() && curved.len() <= FEW_INPUTS;
    (options.second_order || is_cheap)
        .then(|| variance::second_order_terms(&problem.tape, outcome.index, at, inputs, &curved))
}

fn answer(working: &Working<'_>) -> Result<RootSumOfSquaresAnswer, Vec<String>> {
    let Working {
        outcome, options, ..
    } = working;
    let dimension = outcome.dimension();
    let u = working.variance.standard_uncertainty();
    if !u.is_finite() {
        return Err(vec![
            "the combined standard uncertainty is too large to be held".to_owned(),
        ]);
    }
    let shape = freedom::shape(working);
    let coverage_factor = shape.coverage_factor(options.level);
    // An infinite factor (next to no degrees of freedom) times no uncertainty is no uncertainty.
    let expanded = if u > 0.0 { coverage_factor * u } else { 0.0 };
    if !(working.value.abs() + expanded).is_finite() {
        return Err(vec![format!(
            "the expanded uncertainty is too large to be held (coverage factor {coverage_factor:.3e})"
        )]);
    }
    let chance = outcome
        .band()
        .filter(|_| !working.is_blind())
        .map(|band| chance::of_band(band, working.value, u, shape));
    let second_order_variance = options
        .second_order
        .then(|| working.variance.second_order());
    Ok(RootSumOfSquaresAnswer {
        estimate: Quantity::new(working.value, dimension),
        standard_uncertainty: Quantity::new(u, dimension),
        degrees_of_freedom: freedom::effective(working),
        coverage_factor,
        expanded_uncertainty: Quantity::new(expanded, dimension),
        interval: CoverageInterval {
            lower: Quantity::new(working.value - expanded, dimension),
            upper: Quantity::new(working.value + expanded, dimension),
            level: options.level,
        },
        chance,
        budget: budget(working)?,
        second_order_variance,
        assumptions: assumptions(working, shape),
        doubts: doubts::of(working),
    })
}

fn budget(working: &Working<'_>) -> Result<Vec<BudgetLine>, Vec<String>> {
    let dimension = working.outcome.dimension();
    let mut lines = Vec::with_capacity(working.inputs.len());
    for (k, input) in working.inputs.iter().enumerate() {
        let of = input.source.dimension();
        let c = working.sensitivities[k];
        if !c.is_finite() {
            continue;
        }
        lines.push(BudgetLine {
            name: input.name.to_owned(),
            estimate: Quantity::new(input.estimate, of),
            standard_uncertainty: Quantity::new(input.standard_uncertainty, of),
            degrees_of_freedom: input.degrees_of_freedom,
            sensitivity: Quantity::new(c, sensitivity_dimension(dimension, of, input.name)?),
            contribution: Quantity::new(contribution(input, c), dimension),
            share: working.variance.share(k),
        });
    }
    // Inputs come by name, and the sort is stable.
    lines.sort_by(|a, b| b.share.total_cmp(&a.share));
    Ok(lines)
}

fn sensitivity_dimension(
    outcome: Dimension,
    source: Dimension,
    name: &str,
) -> Result<Dimension, Vec<String>> {
    outcome.per(source).ok_or_else(|| {
        vec![format!(
            "source \"{name}\": no dimension can be given to its sensitivity ({outcome} per {source})"
        )]
    })
}

fn assumptions(working: &Working<'_>, shape: Shape) -> Vec<String> {
    let mut said = vec![shape.to_string()];
    said.extend(of_the_expansion(working).map(str::to_owned));
    if let Some(name) = working.outcome.opaque_function() {
        said.push(format!(
            "the derivatives of function \"{name}\" are taken by differences of its values"
        ));
    }
    if freedom::effective(working).is_none() {
        said.push(
            "with correlated inputs there are no effective degrees of freedom (JCGM 100, G.4.1): \
             the coverage factor is that of the normal"
                .to_owned(),
        );
    }
    for input in &working.inputs {
        if matches!(input.source.error(), Distribution::StudentT(_)) {
            said.push(format!(
                "source \"{}\": the scale of its Student t is its standard uncertainty, with its degrees of freedom \
                 (JCGM 100, 4.2.3)",
                input.name
            ));
        }
    }
    said.extend(why_zero(working).map(str::to_owned));
    said
}

fn of_the_expansion(working: &Working<'_>) -> Option<&'static str> {
    let is_normal = |input: &Input<'_>| {
        matches!(
            input.source.error(),
            Distribution::Normal(_) | Distribution::Point(_)
        )
    };
    if working.is_affine() {
        None
    } else if !working.options.second_order {
        Some("the outcome is taken as straight in its sources about their estimates")
    } else if working.inputs.iter().all(is_normal) {
        None
    } else {
        Some("the second-order terms are those of normal inputs (JCGM 100, 5.1.2 note)")
    }
}

fn why_zero(working: &Working<'_>) -> Option<&'static str> {
    let is_known = |input: &Input<'_>| input.standard_uncertainty <= 0.0;
    if !working.variance.is_zero() {
        None
    } else if working.inputs.iter().all(is_known) {
        Some("nothing has any spread, so all shares are 0")
    } else if working.is_affine() {
        Some("the spreads cancel, so all shares are 0")
    } else {
        Some("no source moves the outcome at the estimates, so all shares are 0")
    }
}
