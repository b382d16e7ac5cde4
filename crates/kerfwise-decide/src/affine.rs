//! Affine outcomes taken apart: which sources make which part of an outcome, and the exact law of each part.

use crate::Error;
use kerfwise_source::{CorrelationMatrix, Dimension, Length, LengthUnits as _, Quantity, Source};
use kerfwise_stack::{AffineTerm, Band, Exact, Expr, Outcome, Stack, StackBuilder};

/// Coefficient times the error of one source.
#[derive(Debug, Clone)]
pub(crate) struct Term {
    pub(crate) source: Source,
    pub(crate) instance: u32,
    /// Raw.
    pub(crate) coefficient: f64,
}

impl Term {
    /// Whether both are of one source, in one draw.
    pub(crate) fn is_same(&self, other: &Self) -> bool {
        self.source.is_same(&other.source) && self.instance == other.instance
    }

    /// Whether both give errors of the same law; they may be of two sources.
    #[expect(clippy::float_cmp, reason = "any difference makes another law")]
    pub(crate) fn is_alike(&self, other: &Self) -> bool {
        self.coefficient == other.coefficient && self.source.error() == other.source.error()
    }

    fn of(term: AffineTerm) -> Self {
        Self {
            coefficient: term.coefficient.raw(),
            source: term.source,
            instance: term.instance,
        }
    }
}

/// location + Σ coefficient · error, in raw units.
#[derive(Debug, Clone)]
pub(crate) struct Affine {
    /// The value when every source stands at its estimate.
    pub(crate) location: f64,
    pub(crate) terms: Vec<Term>,
    pub(crate) dimension: Dimension,
}

impl Affine {
    pub(crate) fn of(outcome: Outcome<'_>) -> Result<Self, Error> {
        Ok(Self {
            location: outcome.evaluate(&[])?.raw(),
            terms: outcome.affine_terms()?.into_iter().map(Term::of).collect(),
            dimension: outcome.dimension(),
        })
    }
}

/// An outcome by name.
pub(crate) fn named<'a>(stack: &'a Stack, name: &str) -> Result<Outcome<'a>, Error> {
    stack
        .outcome(name)
        .ok_or_else(|| Error::question(format!("the stack has no outcome \"{name}\"")))
}

/// An outcome by its name, and the band that it must have.
pub(crate) fn banded<'a>(stack: &'a Stack, name: &str) -> Result<(Outcome<'a>, Band), Error> {
    let outcome = named(stack, name)?;
    let band = outcome.band();
    let none = || Error::question(format!("outcome \"{name}\" has no band to fit in"));
    Ok((outcome, band.ok_or_else(none)?))
}

pub(crate) const FIT: &str = "fit";
pub(crate) const SHOWN: &str = "shown";

/// An outcome and what a gauge shows of it (itself, if nothing else is said), over the same sources.
pub(crate) fn beside(
    stack: &Stack,
    outcome: Outcome<'_>,
    shown: Option<&Expr>,
) -> Result<(Affine, Affine), Error> {
    let fit = outcome.expr();
    let both = Stack::builder()
        .outcome_without_band(FIT, fit)
        .outcome_without_band(SHOWN, shown.unwrap_or(fit));
    let sources = sources_of(&[fit, shown.unwrap_or(fit)]);
    let both = correlated(both, &sources, stack.correlations()).build()?;
    let (fit, seen) = (
        Affine::of(named(&both, FIT)?)?,
        Affine::of(named(&both, SHOWN)?)?,
    );
    if fit.dimension != Dimension::LENGTH || seen.dimension != Dimension::LENGTH {
        return Err(Error::question(format!(
            "a gauge needs a fit and a reading that are lengths (got {} and {})",
            fit.dimension, seen.dimension
        )));
    }
    Ok((fit, seen))
}

/// The step in which a gauge shows, in inches.
pub(crate) fn step_of(resolution: Length, (lower, upper): (f64, f64)) -> Result<f64, Error> {
    /// Times the band: nobody judges by a step wider than that.
    const COARSEST: f64 = 10.0;
    /// Of the band; less is no step that a gauge shows.
    const FINEST: f64 = 1e-9;
    let step = resolution.to_inches();
    if !(step >= 0.0 && step.is_finite()) {
        return Err(Error::question(format!(
            "resolution of the gauge must be a length from 0 (got {resolution})"
        )));
    }
    let width = upper - lower;
    if width.is_finite() && step > COARSEST * width {
        return Err(Error::question(format!(
            "resolution of the gauge must be at most {COARSEST} times the band of {} (got {resolution}): a reading would tell \
             nothing; is its unit right?",
            width.inch()
        )));
    }
    if width.is_finite() && step > 0.0 && step < FINEST * width {
        return Err(Error::question(format!(
            "resolution of the gauge must be 0 (no steps) or a length that it can show (got {resolution}); is its unit right?"
        )));
    }
    Ok(step)
}

/// The sources of several expressions, each once.
pub(crate) fn sources_of(exprs: &[&Expr]) -> Vec<Source> {
    let mut sources: Vec<Source> = Vec::new();
    for source in exprs.iter().flat_map(|expr| expr.sources()) {
        if !sources.iter().any(|known| known.is_same(&source)) {
            sources.push(source);
        }
    }
    sources
}

/// Correlates the sources as this matrix has them.
pub(crate) fn correlated(
    mut stack: StackBuilder,
    sources: &[Source],
    matrix: Option<&CorrelationMatrix>,
) -> StackBuilder {
    let Some(matrix) = matrix else {
        return stack;
    };
    for (i, a) in sources.iter().enumerate() {
        for b in &sources[i + 1..] {
            let r = matrix.between(a.name(), b.name());
            if r != 0.0 {
                stack = stack.correlated(a, b, r);
            }
        }
    }
    stack
}

/// Whether a term of the fit stands in the reading as well; refuses one that counts differently there.
pub(crate) fn in_both(term: &Term, seen: &Affine) -> Result<bool, Error> {
    let Some(other) = seen.terms.iter().find(|t| t.is_same(term)) else {
        return Ok(false);
    };
    let (a, b) = (term.coefficient, other.coefficient);
    // Equal up to the rounding of a handful of products.
    if (a - b).abs() <= 64.0 * f64::EPSILON * a.abs().max(b.abs()) {
        return Ok(true);
    }
    Err(Error::question(format!(
        "source \"{name}\" counts {a} times in the fit and {b} times in the reading, so that neither tells of the other; name \
         \"{name}\" as the gauge if the pieces are measured with it, or give each thing that it measured an error of its own",
        name = term.source.name(),
    )))
}

/// The exact law of a sum of terms, counted from zero; `None` where there are no terms.
pub(crate) fn law(
    terms: &[Term],
    dimension: Dimension,
    correlations: Option<&CorrelationMatrix>,
) -> Result<Option<Exact>, Error> {
    let mut sum: Option<Expr> = None;
    for term in terms {
        let per = dimension.per(term.source.dimension());
        let factor = Quantity::new(term.coefficient, per.unwrap_or(Dimension::NUMBER));
        let draw = match term.instance {
            0 => Expr::source(&term.source),
            n => Expr::source(&term.source).redraw(term.source.event(), n),
        };
        let error = draw - Expr::constant(term.source.estimate());
        let part = Expr::constant(factor) * error;
        sum = Some(match sum {
            Some(sum) => sum + part,
            None => part,
        });
    }
    let Some(sum) = sum else {
        return Ok(None);
    };
    let mut stack = Stack::builder();
    if let Some(matrix) = correlations {
        for (i, a) in terms.iter().enumerate() {
            for b in &terms[i + 1..] {
                let r = matrix.between(a.source.name(), b.source.name());
                if r != 0.0 && a.instance == b.instance && !a.source.is_same(&b.source) {
                    stack = stack.correlated(&a.source, &b.source, r);
                }
            }
        }
    }
    let near = exact(stack.clone().outcome_without_band(PART, &sum))?;
    // Of a band the exact propagation makes places that are quick to ask: here all that will be asked often.
    let moments = near.mean().zip(near.standard_deviation());
    let often = moments.and_then(|(mean, sd)| {
        let at = |deviations: f64| Quantity::new(mean.raw() + deviations * sd.raw(), dimension);
        Band::between(at(-ASKED), at(ASKED)).ok()
    });
    match often {
        Some(band) => exact(stack.outcome(PART, &sum, band)).map(Some),
        None => Ok(Some(near)),
    }
}

fn exact(stack: StackBuilder) -> Result<Exact, Error> {
    let stack = stack.build()?;
    Ok(named(&stack, PART)?.exact()?)
}

/// Places that are asked often lie within so many standard deviations of the mean: [`Reach`](crate::curve::Reach) goes to
/// ten of the median for all but very heavy tails.
const ASKED: f64 = 12.0;

const PART: &str = "part";

/// Refuses sources that are correlated and stand in different parts, which the parts being independent forbids.
pub(crate) fn parts_are_independent(
    parts: &[&[Term]],
    correlations: Option<&CorrelationMatrix>,
) -> Result<(), Error> {
    let Some(matrix) = correlations else {
        return Ok(());
    };
    for (i, part) in parts.iter().enumerate() {
        for other in &parts[i + 1..] {
            for a in *part {
                for b in *other {
                    let r = matrix.between(a.source.name(), b.source.name());
                    if r != 0.0 && a.instance == b.instance && !a.source.is_same(&b.source) {
                        return Err(Error::question(format!(
                            "sources \"{}\" and \"{}\" are correlated, but one of them is drawn anew where the other is \
                             kept; write what they share as a source of its own",
                            a.source.name(),
                            b.source.name()
                        )));
                    }
                }
            }
        }
    }
    Ok(())
}
