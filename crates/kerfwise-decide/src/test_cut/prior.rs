use super::even::Even;
use super::options::TestCutOptions;
use crate::Error;
use crate::affine::{self, Affine, Term, named, step_of};
use crate::curve::{Curve, middle_of, width_of};
use crate::rule::Rule;
use kerfwise_numeric::quadrature::gauss_legendre;
use kerfwise_source::{CorrelationMatrix, Dimension, Length, LengthUnits as _};
use kerfwise_stack::{Band, Exact, Expr, Outcome, Stack};

/// What is known of a set-up before a test piece is cut: prepared once, then asked with what was seen.
///
/// ```text
/// fit of a joint           F = f₀ + K + J + E + (piece)     shared: K kept, J redrawn by a move, E not in the reading
/// what the gauge shows     R = r₀ + K + J + D + (piece)     D: of the gauge alone
/// after a move by x        F = f₀ + x + K + J′ + E + (piece)     J′ drawn anew
/// ```
///
/// ```
/// use kerfwise_decide::{Advice, TestCut, TestCutOptions};
/// use kerfwise_source::{Event, LengthUnits, Source};
/// use kerfwise_stack::{Band, Expr, Stack};
///
/// // The jig was set by eye (4 thou); pieces of one set-up differ by 1 thou; the dial is read to half a thou.
/// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
/// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
/// let fit = Expr::source(&set_up) + Expr::source(&piece);
/// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
/// let cut = TestCut::measured(&stack, "fit", &fit, &TestCutOptions::new().resolution(0.inch()))?;
/// let answer = cut.after_readings(&[3.4.thou()])?;
/// // Bayes' rule for normal errors: 16/17 of the reading is the set-up's, so 3.2 thou are to be undone.
/// assert!((answer.after.mean.to_thou() - 3.2).abs() < 1e-9);
/// assert_eq!(answer.advice, Advice::MoveBy((-3).thou())); // nearest step
/// assert!(answer.leave.value.inside < 0.5 && answer.moved.value.inside > 0.95);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
pub struct TestCut {
    pub(super) band: (f64, f64),
    pub(super) fit_location: f64,
    pub(super) shown_location: f64,
    pub(super) is_felt: bool,
    pub(super) step: f64,
    pub(super) resolution: f64,
    pub(super) laws: Laws,
    /// Rules in narrow panels, and in wide ones to tell how far off the narrow ones may be.
    pub(super) rules: [Rules; 2],
    pub(super) gauge: Rule,
    /// In as few panels as a handful of readings need.
    pub(super) few_gauge: Rule,
    pub(super) curves: Curves,
    pub(super) noise_sd: f64,
    pub(super) even: Even,
    /// J and E in a few places, for numbers of two digits.
    pub(super) few: [Vec<(f64, f64)>; 2],
}

/// Exact laws of the parts.
#[derive(Debug, Clone)]
pub(super) struct Laws {
    pub(super) kept: Option<Exact>,
    pub(super) moved: Option<Exact>,
    pub(super) both: Option<Exact>,
    pub(super) fit_only: Option<Exact>,
    /// A whole reading.
    pub(super) shown: Option<Exact>,
}

/// Rules over what is not known.
#[derive(Debug, Clone)]
pub(super) struct Rules {
    pub(super) kept: Rule,
    pub(super) moved: Rule,
    pub(super) both: Rule,
}

/// Distribution functions that are asked for often.
#[derive(Debug, Clone)]
pub(super) struct Curves {
    /// Of what differs between readings of one set-up.
    pub(super) noise: Curve,
    /// Its chance within half a step of the gauge; its density, if readings count as exact.
    pub(super) noise_step: Option<Curve>,
    /// Of E + piece.
    pub(super) left: Curve,
    /// Of E + J + piece.
    pub(super) fresh: Curve,
    /// Of the piece.
    pub(super) piece: Curve,
    /// Of J.
    pub(super) moved: Curve,
    /// Of E.
    pub(super) fit_only: Curve,
    /// Mean (median, where there is none) and standard deviation of the piece's part.
    pub(super) piece_middle: f64,
    /// Middle of E + J + piece, and about how wide it is.
    pub(super) fresh_middle: f64,
    pub(super) fresh_width: f64,
}

impl Rules {
    /// Whether both have the same panels, so that what they give is the same.
    pub(super) fn places_are_those_of(&self, other: &Self) -> bool {
        self.kept.places == other.kept.places
            && self.moved.places == other.moved.places
            && self.both.places == other.both.places
    }
}

/// The terms of fit and reading, sorted by who shares them.
pub(super) struct Parts {
    pub(super) kept: Vec<Term>,
    pub(super) moved: Vec<Term>,
    pub(super) fit_only: Vec<Term>,
    pub(super) gauge: Vec<Term>,
    pub(super) fit_piece: Vec<Term>,
    pub(super) shown_piece: Vec<Term>,
}

/// A rule must not need more panels than this for its laws and its readings together.
const PANELS: f64 = 400.0;

impl TestCut {
    /// Test pieces are read with a gauge: `shown` is what it shows, before rounding, as an expression over the sources of
    /// the stack and of the gauge (the tenon's thickness minus the gauge's error).
    ///
    /// A gauge error that stands in the fit as well, since the mortise was read with the same caliper, must be the same
    /// source in both; then it cancels as it does in the shop.
    ///
    /// # Errors
    ///
    /// When fit or reading is not an affine length; when the fit has no band of two limits; when a shared source counts
    /// differently in both; when readings of one set-up cannot differ; when an option is not a length of its kind.
    pub fn measured(
        stack: &Stack,
        outcome: &str,
        shown: &Expr,
        options: &TestCutOptions,
    ) -> Result<Self, Error> {
        Self::new(stack, outcome, Some(shown), options)
    }

    /// Test pieces are tried in mortises of the job, and feel [tight, right or loose](super::Feel).
    ///
    /// # Errors
    ///
    /// As [`measured`](Self::measured).
    ///
    /// ```
    /// use kerfwise_decide::{Feel, TestCut, TestCutOptions};
    /// use kerfwise_source::{Event, LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let set_up = Source::new("set_up", 0.inch()).normal(4.thou()).build()?;
    /// let piece = Source::new("piece", 0.inch()).normal(1.thou()).event(Event::piece()).build()?;
    /// let fit = Expr::source(&set_up) + Expr::source(&piece);
    /// let stack = Stack::builder().outcome("fit", &fit, Band::within(3.thou())?).build()?;
    /// let cut = TestCut::felt(&stack, "fit", &TestCutOptions::new())?;
    /// let answer = cut.after_feeling(&[Feel::Tight])?;
    /// assert!(answer.best_move < 0.inch()); // thinner tenons
    /// // Nothing is known of how much too tight, so the next piece is still worth much.
    /// assert!(cut.next_feel(&[Feel::Tight])?.then > answer.moved.value.inside);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn felt(stack: &Stack, outcome: &str, options: &TestCutOptions) -> Result<Self, Error> {
        Self::new(stack, outcome, None, options)
    }

    fn new(
        stack: &Stack,
        name: &str,
        shown: Option<&Expr>,
        options: &TestCutOptions,
    ) -> Result<Self, Error> {
        let outcome = named(stack, name)?;
        let band = band_of(outcome)?;
        let step = positive("dial step", options.dial_step)?;
        let resolution = step_of(options.resolution, band)?;
        let matrix = stack.correlations();
        let (fit, seen) = affine::beside(stack, outcome, shown)?;
        let parts = Parts::of(&fit, &seen, options)?;
        parts.check(matrix)?;
        let law = |lists: &[&[Term]]| affine::law(&lists.concat(), Dimension::LENGTH, matrix);
        let laws = Laws {
            kept: law(&[&parts.kept])?,
            moved: law(&[&parts.moved])?,
            both: law(&[&parts.kept, &parts.moved])?,
            fit_only: law(&[&parts.fit_only])?,
            shown: law(&[&parts.kept, &parts.moved, &parts.gauge, &parts.shown_piece])?,
        };
        let noise = law(&[&parts.shown_piece])?.ok_or_else(|| {
            Error::question(
                "readings of one set-up cannot differ in this plan, so one test piece would tell all; give the cut, the \
                 piece or the gauge an error that is drawn anew with each piece",
            )
        })?;
        let noise_sd = width_of(&noise);
        let fresh = law(&[&parts.fit_only, &parts.moved, &parts.fit_piece])?;
        let piece = law(&[&parts.fit_piece])?;
        let left = law(&[&parts.fit_only, &parts.fit_piece])?;
        let cdf = |law: Option<&Exact>| Curve::cdf(law, Dimension::LENGTH);
        let noise_step = match shown {
            None => None,
            Some(_) if resolution > 0.0 => {
                Some(Curve::around(&noise, Dimension::LENGTH, 0.5 * resolution))
            }
            Some(_) => Some(Curve::density(&noise, Dimension::LENGTH).ok_or_else(|| {
                Error::question(
                    "a gauge without steps needs readings that vary continuously; give its resolution",
                )
            })?),
        };
        let curves = Curves {
            noise: cdf(Some(&noise)),
            noise_step,
            left: cdf(left.as_ref()),
            fresh: cdf(fresh.as_ref()),
            piece: cdf(piece.as_ref()),
            moved: cdf(laws.moved.as_ref()),
            fit_only: cdf(laws.fit_only.as_ref()),
            piece_middle: piece.as_ref().map_or(0.0, middle_of),
            fresh_middle: fresh.as_ref().map_or(0.0, middle_of),
            fresh_width: fresh.as_ref().map_or(0.0, width_of),
        };
        let gauge = law(&[&parts.gauge])?;
        let few_gauge = Rule::sparse(gauge.as_ref(), Dimension::LENGTH, 2.0 * noise_sd)?;
        let gauge = Rule::of(gauge.as_ref(), Dimension::LENGTH, &|_, _| 2.0 * noise_sd)?;
        let few = [
            few_places(laws.moved.as_ref()),
            few_places(laws.fit_only.as_ref()),
        ];
        let rules = [1.0, 2.0].map(|times| laws.rules(2.0 * times * noise_sd, None));
        let [fine, coarse] = rules;
        let limits = (band.0 - fit.location, band.1 - fit.location);
        let spread =
            [&laws.kept, &laws.moved, &laws.fit_only].map(|law| law.as_ref().map_or(0.0, width_of));
        // Beyond so much of what is shared, or of band and pieces, nothing is left that counts.
        let reach = (8.0 * spread.iter().sum::<f64>()).min(limits.1 - limits.0 + 60.0 * noise_sd);
        let even = Even::new(&curves.piece, limits, curves.piece_middle, noise_sd, reach);
        Ok(Self {
            band,
            fit_location: fit.location,
            shown_location: seen.location,
            is_felt: shown.is_none(),
            step,
            resolution,
            laws,
            rules: [fine?, coarse?],
            gauge,
            few_gauge,
            curves,
            noise_sd,
            even,
            few,
        })
    }

    /// The rules to use for what was seen between two places of K + J: as they are, or closer where it was seen.
    pub(super) fn rules_for(&self, seen: Option<(f64, f64)>) -> Result<[Rules; 2], Error> {
        match seen {
            Some(focus) if self.laws.is_wide(2.0 * self.noise_sd) => {
                let [fine, coarse] = [1.0, 2.0]
                    .map(|times| self.laws.rules(2.0 * times * self.noise_sd, Some(focus)));
                Ok([fine?, coarse?])
            }
            _ => Ok(self.rules.clone()),
        }
    }
}

impl Laws {
    fn is_wide(&self, panel: f64) -> bool {
        let is_wide = |law: &Option<Exact>| {
            law.as_ref()
                .is_some_and(|law| 20.0 * width_of(law) / panel > PANELS)
        };
        is_wide(&self.kept) || is_wide(&self.moved) || is_wide(&self.both)
    }

    /// Rules in panels of this width where something was seen, and wider with the distance from there.
    fn rules(&self, panel: f64, focus: Option<(f64, f64)>) -> Result<Rules, Error> {
        let is_wide = focus.is_none() && self.is_wide(panel);
        let around = |spread: f64| {
            move |from: f64, to: f64| match focus {
                _ if is_wide => f64::INFINITY,
                None => panel,
                Some((lo, hi)) => {
                    let distance = (lo - spread - to).max(from - hi - spread).max(0.0);
                    panel.max(0.25 * distance)
                }
            }
        };
        let spread = self.moved.as_ref().map_or(0.0, |law| 8.0 * width_of(law));
        let kept_spread = self.kept.as_ref().map_or(0.0, |law| 8.0 * width_of(law));
        let rule = |law: &Option<Exact>, widest: &dyn Fn(f64, f64) -> f64| {
            Rule::of(law.as_ref(), Dimension::LENGTH, widest)
        };
        Ok(Rules {
            kept: rule(&self.kept, &around(spread))?,
            // J is seen anywhere, less what K is.
            moved: rule(&self.moved, &around(kept_spread))?,
            both: rule(&self.both, &around(0.0))?,
        })
    }
}

impl Parts {
    pub(super) fn of(fit: &Affine, seen: &Affine, options: &TestCutOptions) -> Result<Self, Error> {
        let is_piece = |term: &Term| term.source.event().is_redrawn_by(&options.piece);
        let is_same = |term: &Term| options.same.iter().any(|s| s.is_same(&term.source));
        let mut parts = Self {
            kept: Vec::new(),
            moved: Vec::new(),
            fit_only: Vec::new(),
            gauge: Vec::new(),
            fit_piece: Vec::new(),
            shown_piece: Vec::new(),
        };
        for term in &fit.terms {
            if is_piece(term) {
                parts.fit_piece.push(term.clone());
            } else if affine::in_both(term, seen)? {
                if term.source.event().is_redrawn_by(&options.moved) {
                    parts.moved.push(term.clone());
                } else {
                    parts.kept.push(term.clone());
                }
            } else {
                parts.fit_only.push(term.clone());
            }
        }
        for term in &seen.terms {
            if is_piece(term) && !is_same(term) {
                parts.shown_piece.push(term.clone());
            } else if is_piece(term) || !fit.terms.iter().any(|t| t.is_same(term)) {
                parts.gauge.push(term.clone());
            }
        }
        Ok(parts)
    }

    fn check(&self, matrix: Option<&CorrelationMatrix>) -> Result<(), Error> {
        let shared: [&[Term]; 5] = [
            &self.kept,
            &self.moved,
            &self.fit_only,
            &self.gauge,
            &self.fit_piece,
        ];
        affine::parts_are_independent(&shared, matrix)?;
        let shown: [&[Term]; 4] = [&self.kept, &self.moved, &self.gauge, &self.shown_piece];
        affine::parts_are_independent(&shown, matrix)
    }
}

pub(super) fn band_of(outcome: Outcome<'_>) -> Result<(f64, f64), Error> {
    let limits = outcome.band().as_ref().map(Band::raw);
    match limits {
        Some((lower, upper)) if lower.is_finite() && upper.is_finite() => Ok((lower, upper)),
        Some(_) => Err(Error::question(format!(
            "outcome \"{}\" has a band of one limit, so the farther the better; a test cut needs two limits",
            outcome.name()
        ))),
        None => Err(Error::question(format!(
            "outcome \"{}\" has no band to fit in",
            outcome.name()
        ))),
    }
}

pub(crate) fn positive(what: &str, length: Length) -> Result<f64, Error> {
    let inches = length.to_inches();
    if inches > 0.0 && inches.is_finite() {
        return Ok(inches);
    }
    Err(Error::question(format!(
        "{what} must be above 0 (got {length})"
    )))
}

/// A law in a dozen places of equal steps of chance.
fn few_places(law: Option<&Exact>) -> Vec<(f64, f64)> {
    let Some(law) = law else {
        return vec![(0.0, 1.0)];
    };
    let rule = gauss_legendre(12);
    let pairs = rule.nodes().iter().zip(rule.weights());
    pairs
        .map(|(node, weight)| (law.quantile(0.5 * (1.0 + node)).value.raw(), 0.5 * weight))
        .collect()
}

/// A raw length as a length.
pub(super) fn length(raw: f64) -> Length {
    raw.inch()
}
