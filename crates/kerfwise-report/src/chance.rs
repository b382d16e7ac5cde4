mod answers;

use crate::budget::plain;
use crate::input::{self, Input, Subject};
use crate::table::{Align, Grid, wrap};
use crate::{Style, Unit, cautions, number};
use kerfwise_stack::{
    BatchAnswer, Chance, Decline, MonteCarloAnswer, Outcome, OutcomeSideBySide, SideBySide, Stack,
};
use serde::{Deserialize, Serialize};

/// All propagations side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChanceReport {
    /// "kerfwise/chance/1".
    pub schema: String,
    /// What it is about.
    pub subject: Subject,
    /// Monte Carlo trials, where it answered.
    pub trials: Option<u64>,
    /// Monte Carlo seed, where it answered.
    pub seed: Option<u64>,
    /// Each outcome.
    pub outcomes: Vec<OutcomeChances>,
    /// The chance that all outcomes lie in their bands at once, with its standard error; only with
    /// more than one outcome.
    pub all_outcomes: Option<(f64, f64)>,
    /// Every source with its provenance.
    pub inputs: Vec<Input>,
    /// Words of caution.
    pub cautions: Vec<String>,
}

/// One outcome, propagated in several ways. Numbers are in `unit`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OutcomeChances {
    /// The outcome's name.
    pub name: String,
    /// The algebra.
    pub algebra: String,
    /// Raw unit of the outcome: "in" for a length.
    pub unit: String,
    /// Lower limit of the band.
    pub lower: Option<f64>,
    /// Upper limit of the band.
    pub upper: Option<f64>,
    /// Guaranteed extremes.
    pub worst_case: Way<RangeReport>,
    /// The law of propagation.
    pub root_sum_of_squares: Way<SumOfSquaresChances>,
    /// The exact distribution.
    pub exact: Way<ExactChances>,
    /// The same with sources held at the nodes of a quadrature; asked where the outcome is not affine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub semi_exact: Option<Way<ExactChances>>,
    /// Even points instead of trials; asked where neither of the two answers and there is a band.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quasi_monte_carlo: Option<Way<QuasiMonteCarloChances>>,
    /// Monte Carlo.
    pub monte_carlo: Way<MonteCarloChances>,
    /// Why they differ.
    pub differences: Vec<String>,
    /// The batch, where the plan has one.
    pub batch: Option<Way<BatchChances>>,
}

/// An answer, or the reasons for having none this way.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Way<T> {
    /// The answer.
    Answer(T),
    /// Why this propagation declines.
    Declined(Vec<String>),
}

impl<T> Way<T> {
    /// The answer, if there is one.
    pub fn answer(&self) -> Option<&T> {
        match self {
            Self::Answer(answer) => Some(answer),
            Self::Declined(_) => None,
        }
    }

    /// Why there is no answer; nothing where there is one.
    pub(crate) fn reasons(&self) -> &[String] {
        match self {
            Self::Answer(_) => &[],
            Self::Declined(reasons) => reasons,
        }
    }
}

impl<'a, A, T: From<&'a A>> From<Result<&'a A, &Decline>> for Way<T> {
    fn from(result: Result<&'a A, &Decline>) -> Self {
        match result {
            Ok(answer) => Self::Answer(answer.into()),
            Err(decline) => Self::Declined(decline.reasons().to_vec()),
        }
    }
}

/// Below the band, inside it, above it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ThreeChances {
    /// Below the lower limit (a fit: too loose).
    pub below: f64,
    /// Inside the band (a fit: fits).
    pub inside: f64,
    /// Above the upper limit (a fit: too tight).
    pub above: f64,
    /// The largest error of the three, a bound or a standard error as it says where it stands; none where it is not known.
    pub error: Option<f64>,
}

impl ThreeChances {
    fn new(chance: Chance, error: Option<f64>) -> Self {
        let Chance {
            below,
            inside,
            above,
        } = chance;
        Self {
            below,
            inside,
            above,
            error,
        }
    }
}

/// The worst case.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RangeReport {
    /// Guaranteed lower bound.
    pub lower: f64,
    /// Guaranteed upper bound.
    pub upper: f64,
    /// Least value that is reached.
    pub lower_attained: f64,
    /// Greatest value that is reached.
    pub upper_attained: f64,
    /// Always in the band (true), never (false), or it depends (none).
    pub always_inside: Option<bool>,
    /// What was assumed.
    pub assumptions: Vec<String>,
}

/// The law of propagation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SumOfSquaresChances {
    /// The outcome at the estimates.
    pub estimate: f64,
    /// Combined standard uncertainty.
    pub standard_uncertainty: f64,
    /// Expanded uncertainty.
    pub expanded_uncertainty: f64,
    /// Its coverage factor.
    pub coverage_factor: f64,
    /// Chances under the assumption of a normal or t outcome; their error is not known.
    pub chance: Option<ThreeChances>,
    /// What was assumed.
    pub assumptions: Vec<String>,
    /// Why it should be doubted.
    pub doubts: Vec<String>,
}

/// The exact distribution.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ExactChances {
    /// The route.
    pub route: String,
    /// Mean, where there is one.
    pub mean: Option<f64>,
    /// Standard deviation, where there is one.
    pub standard_deviation: Option<f64>,
    /// Chances; the error is a bound.
    pub chance: Option<ThreeChances>,
    /// Probabilistically symmetric 95 % interval.
    pub interval_95: (f64, f64),
    /// Sources held at the nodes of a quadrature.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub held: Vec<String>,
}

/// Quasi-Monte Carlo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct QuasiMonteCarloChances {
    /// Chances; the error is a standard error.
    pub chance: ThreeChances,
    /// Points in all.
    pub points: u64,
    /// Sources that were integrated out.
    pub integrated: Vec<String>,
}

/// Monte Carlo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct MonteCarloChances {
    /// Mean of the trials, where the outcome has one.
    pub mean: Option<f64>,
    /// Standard deviation of the trials, where the outcome has one.
    pub standard_deviation: Option<f64>,
    /// Chances; the error is a standard error.
    pub chance: Option<ThreeChances>,
    /// Probabilistically symmetric interval (95 % unless asked otherwise).
    pub interval: (f64, f64),
    /// Trials in which the outcome was not defined.
    pub undefined: u64,
}

/// A batch of pieces that share errors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct BatchChances {
    /// How many pieces.
    pub pieces: u32,
    /// The chance that every piece lies in the band.
    pub all: f64,
    /// Bound on its error.
    pub all_error: f64,
    /// The chance of one to the power n: wrong when errors are shared, shown to teach.
    pub if_independent: f64,
    /// Pieces expected to lie in the band.
    pub expected: f64,
    /// Standard deviation of what the pieces share.
    pub shared_standard_deviation: Option<f64>,
    /// Standard deviation from piece to piece.
    pub piece_standard_deviation: Option<f64>,
}

impl ChanceReport {
    /// From all propagations of a stack, and a batch where there is one.
    #[must_use]
    pub fn new(
        subject: &Subject,
        stack: &Stack,
        ways: &SideBySide,
        batches: &[Option<Result<BatchAnswer, Decline>>],
    ) -> Self {
        let run = ways.monte_carlo.as_ref();
        let outcomes =
            stack
                .outcomes()
                .zip(&ways.outcomes)
                .enumerate()
                .map(|(i, (outcome, ways))| {
                    let batch = batches.get(i).and_then(Option::as_ref);
                    OutcomeChances::new(outcome, ways, run, i, batch)
                });
        Self {
            schema: "kerfwise/chance/1".into(),
            subject: subject.clone(),
            trials: run.ok().map(|r| r.trials),
            seed: run.ok().map(|r| r.seed),
            outcomes: outcomes.collect(),
            all_outcomes: run
                .ok()
                .filter(|_| ways.outcomes.len() > 1)
                .and_then(|r| r.joint)
                .map(|j| (j.value, j.error)),
            inputs: Input::all(stack),
            cautions: cautions::all(),
        }
    }

    /// As JSON, indented.
    #[must_use]
    pub fn to_json(&self) -> String {
        json(self)
    }

    /// As text: the sentence, the table, why the ways differ, what was assumed, cautions.
    #[must_use]
    pub fn to_text(&self, style: &Style) -> String {
        let mut text = self.subject.heading(style);
        text.push_str(&self.answer(style));
        text.push_str(&input::assumed(&self.inputs, style));
        text.push_str(&input::cautions_in_short(&self.cautions, style));
        text
    }

    /// The text without heading, assumptions and cautions.
    pub(crate) fn answer(&self, style: &Style) -> String {
        let mut text = String::new();
        if let Some(travel) = self.subject.travel_in {
            text.push_str(&format!("\nDial: {}\n", number::dial(travel, style.unit)));
        }
        for outcome in &self.outcomes {
            text.push('\n');
            text.push_str(&outcome.to_text(self.trials, style));
        }
        text.push_str(&self.all_at_once(style));
        text
    }

    fn all_at_once(&self, style: &Style) -> String {
        let sentence = self.all_in_a_sentence();
        sentence.map_or(String::new(), |line| {
            format!("\n{}", wrap(&line, "", style.width))
        })
    }

    pub(crate) fn all_in_a_sentence(&self) -> Option<String> {
        let (p, se) = self.all_outcomes?;
        Some(format!(
            "All outcomes at once: {} (Monte Carlo, standard error {}).",
            number::percent(p),
            error_text(se)
        ))
    }
}

impl OutcomeChances {
    fn new(
        outcome: Outcome<'_>,
        ways: &OutcomeSideBySide,
        run: Result<&MonteCarloAnswer, &Decline>,
        index: usize,
        batch: Option<&Result<BatchAnswer, Decline>>,
    ) -> Self {
        let band = outcome.band();
        let limit = |q: Option<kerfwise_source::Quantity>| q.map(|q| q.raw());
        let mut worst_case = Way::from(ways.worst_case.as_ref());
        if let (Way::Answer::<RangeReport>(range), Some(band), Ok(worst)) =
            (&mut worst_case, &band, &ways.worst_case)
        {
            range.always_inside = worst.fits(band);
        }
        let exact = match &ways.exact {
            Ok(exact) => Way::Answer(ExactChances::new(exact, band.as_ref())),
            Err(decline) => Way::Declined(decline.reasons().to_vec()),
        };
        let monte_carlo = match run {
            Ok(answer) => match answer.outcomes.get(index) {
                Some(one) => Way::Answer(MonteCarloChances::from(one)),
                None => Way::Declined(vec!["the run ended before its first block".into()]),
            },
            Err(decline) => Way::Declined(decline.reasons().to_vec()),
        };
        Self {
            name: outcome.name().to_owned(),
            algebra: outcome.expr().to_string(),
            unit: outcome.dimension().raw_unit(),
            lower: limit(band.and_then(|b| b.lower())),
            upper: limit(band.and_then(|b| b.upper())),
            worst_case,
            root_sum_of_squares: Way::from(ways.root_sum_of_squares.as_ref()),
            exact,
            semi_exact: ways.semi_exact.as_ref().map(|way| match way {
                Ok(exact) => Way::Answer(ExactChances::new(exact, band.as_ref())),
                Err(decline) => Way::Declined(decline.reasons().to_vec()),
            }),
            quasi_monte_carlo: ways
                .quasi_monte_carlo
                .as_ref()
                .map(|way| Way::from(way.as_ref())),
            monte_carlo,
            differences: ways.differences.clone(),
            batch: batch.map(|b| Way::from(b.as_ref())),
        }
    }

    /// The best chance there is: exact, else semi-exact, else by quasi-Monte Carlo, else by Monte Carlo, else by root sum
    /// of squares.
    #[must_use]
    pub fn best(&self) -> Option<ThreeChances> {
        self.best_by().map(|(_, chance)| chance)
    }

    /// The best chance with the name of the propagation that it comes from.
    #[must_use]
    pub fn best_by(&self) -> Option<(&'static str, ThreeChances)> {
        let exact = self.exact.answer().and_then(|e| e.chance);
        let semi = self.semi_exact.as_ref().and_then(Way::answer);
        let semi = semi.and_then(|e| e.chance);
        let quasi = self.quasi_monte_carlo.as_ref().and_then(Way::answer);
        let monte = self.monte_carlo.answer().and_then(|m| m.chance);
        let rss = self.root_sum_of_squares.answer().and_then(|r| r.chance);
        let ways = [
            ("exact", exact),
            ("semi-exact", semi),
            ("quasi-Monte Carlo", quasi.map(|q| q.chance)),
            ("Monte Carlo", monte),
            ("root sum of squares", rss),
        ];
        ways.into_iter()
            .find_map(|(name, chance)| chance.map(|chance| (name, chance)))
    }

    pub(crate) fn is_fit(&self) -> bool {
        self.name == "fit"
    }

    /// What below, inside and above the band are called.
    pub(crate) fn words(&self) -> (&'static str, &'static str, &'static str) {
        if self.is_fit() {
            ("too loose", "fits", "too tight")
        } else {
            ("below", "inside", "above")
        }
    }

    fn show_spread(&self, x: f64, unit: Unit) -> String {
        let (_, name) = number::scale(&self.unit, unit);
        let number = number::bare_spread(x, &self.unit, unit);
        format!("{number} {name}").trim_end().to_owned()
    }

    /// The table of ways, short enough for the saw.
    pub(crate) fn brief(&self, style: &Style) -> String {
        let table = self.ways_in_short(style.unit).to_text(style.width);
        table + &wrap(&format!("{RANGE}."), "  ", style.width)
    }

    fn of_the_batch(&self, style: &Style) -> String {
        let sentence = self.batch_sentence(style.unit);
        sentence.map_or(String::new(), |words| wrap(&words, "", style.width))
    }

    fn to_text(&self, trials: Option<u64>, style: &Style) -> String {
        let mut text = wrap(&self.sentence(style.unit), "", style.width);
        text.push('\n');
        text.push_str(&self.ways_in_text(trials, style));
        if self.batch.is_some() {
            text.push('\n');
            text.push_str(&self.of_the_batch(style));
        }
        if !self.differences.is_empty() {
            text.push_str("\nWhere they differ, and why:\n");
            for difference in &self.differences {
                text.push_str(&wrap(difference, "  - ", style.width));
            }
        }
        let algebra = format!("Formula: {} = {}", self.name, self.algebra);
        text.push('\n');
        text.push_str(&wrap(&algebra, "", style.width));
        text
    }

    pub(crate) fn band(&self, unit: Unit) -> String {
        let limit = |x| number::limit(x, &self.unit, unit);
        match (self.lower, self.upper) {
            (Some(l), Some(u)) if (l + u).abs() <= 1e-12 * u.abs() => {
                format!("within ±{}", limit(u))
            }
            (Some(l), Some(u)) => format!("from {} to {}", limit(l), limit(u)),
            (Some(l), None) => format!("at least {}", limit(l)),
            (None, Some(u)) => format!("at most {}", limit(u)),
            (None, None) => "anything".into(),
        }
    }

    pub(crate) fn sentence(&self, unit: Unit) -> String {
        let Some((by, chance)) = self.best_by() else {
            return format!(
                "The {} has no band, or no propagation gives its chance.",
                plain(&self.name)
            );
        };
        let band = self.band(unit);
        let about = match by {
            "exact" => "About".to_owned(),
            "root sum of squares" => format!("By {by}, which assumes a normal outcome, about"),
            "semi-exact" => "By the semi-exact propagation about".to_owned(),
            _ => format!("By {by} about"),
        };
        if self.is_fit() {
            let mut text = format!(
                "{about} {} joints fit ({band} of the fit wanted)",
                number::in_a_hundred(chance.inside)
            );
            text.push_str(match chance {
                c if c.below > 1.25 * c.above => "; when one does not, it is more often too loose.",
                c if c.above > 1.25 * c.below => "; when one does not, it is more often too tight.",
                _ => "; when one does not, it is too loose about as often as too tight.",
            });
            text
        } else {
            format!(
                "{about} {} have a {} {band}.",
                number::in_a_hundred(chance.inside),
                plain(&self.name)
            )
        }
    }

    /// All ways that answered, one row each.
    pub(crate) fn ways(&self, unit: Unit) -> Grid {
        let (below, inside, above) = self.words();
        let header = [
            ("way", Align::Left),
            (below, Align::Right),
            (inside, Align::Right),
            (above, Align::Right),
            ("middle", Align::Right),
            ("u", Align::Right),
            ("range", Align::Right),
        ];
        let (_, name) = number::scale(&self.unit, unit);
        Grid::new(&header, self.way_rows(unit)).in_unit(&["middle", "u", "range"], name)
    }

    /// The chances and the range of each way, without the mean and the standard uncertainty.
    fn ways_in_short(&self, unit: Unit) -> Grid {
        let (below, inside, above) = self.words();
        let header = [
            ("way", Align::Left),
            (below, Align::Right),
            (inside, Align::Right),
            (above, Align::Right),
            ("range", Align::Right),
        ];
        let rows = self.way_rows(unit).into_iter().map(|mut row| {
            row.drain(4..6);
            row
        });
        let (_, name) = number::scale(&self.unit, unit);
        Grid::new(&header, rows).in_unit(&["range"], name)
    }

    /// Way, three chances, middle, standard uncertainty, range.
    fn way_rows(&self, unit: Unit) -> Vec<Vec<String>> {
        let mut rows = Vec::new();
        if let Way::Answer(range) = &self.worst_case {
            rows.push(self.worst_row(range, unit));
        }
        if let Way::Answer(rss) = &self.root_sum_of_squares {
            let (middle, u) = (rss.estimate, Some(rss.standard_uncertainty));
            let wide = rss.expanded_uncertainty;
            let range = (middle - wide, middle + wide);
            rows.push(self.row("sum of squares", rss.chance, middle, u, range, unit));
        }
        let whole = [
            ("exact", self.exact.answer()),
            ("semi-exact", self.semi_exact.as_ref().and_then(Way::answer)),
        ];
        for (name, exact) in whole {
            let Some(exact) = exact else { continue };
            let (range, u) = (exact.interval_95, exact.standard_deviation);
            let middle = middle(exact.mean, range);
            rows.push(self.row(name, exact.chance, middle, u, range, unit));
        }
        if let Some(Way::Answer(points)) = &self.quasi_monte_carlo {
            rows.push(self.points_row(points));
        }
        if let Way::Answer(mc) = &self.monte_carlo {
            let (range, u) = (mc.interval, mc.standard_deviation);
            let middle = middle(mc.mean, range);
            rows.push(self.row("Monte Carlo", mc.chance, middle, u, range, unit));
        }
        rows
    }

    /// What the words of [`ways`](Self::ways) mean, and why a way is not among them.
    pub(crate) fn notes(&self, trials: Option<u64>) -> Vec<String> {
        let bound = |chance: Option<ThreeChances>| {
            let error = chance.and_then(|c| c.error).map(error_text);
            error.map_or(String::new(), |e| format!(", chances to within {e}"))
        };
        let mut words = vec!["Sum of squares: root sum of squares (JCGM 100)".to_owned()];
        if let Some(rss) = self.root_sum_of_squares.answer() {
            words[0].push_str(
                rss.chance
                    .map_or("", |_| ", chances as if the outcome were normal"),
            );
        }
        if let Some(exact) = self.exact.answer().filter(|e| e.chance.is_some()) {
            words.push(format!("Exact: by {}{}", exact.route, bound(exact.chance)));
        }
        if let Some(semi) = self.semi_exact.as_ref().and_then(Way::answer) {
            words.push(format!(
                "Semi-exact: held at quadrature nodes: {}{}",
                semi.held.join(", "),
                bound(semi.chance)
            ));
        }
        if let Some(quasi) = self.quasi_monte_carlo.as_ref().and_then(Way::answer) {
            let points = number::count(quasi.points);
            let error = standard_error(Some(quasi.chance));
            words.push(format!(
                "Quasi-MC: quasi-Monte Carlo, {points} points{error}"
            ));
        }
        if let (Some(trials), Some(mc)) = (trials, self.monte_carlo.answer()) {
            let (trials, error) = (number::count(trials), standard_error(mc.chance));
            words.push(format!("Monte Carlo: {trials} trials{error}"));
        }
        words.push(RANGE.to_owned());
        let mut notes = vec![format!("{}.", words.join(". "))];
        let declined = [
            ("worst case", self.worst_case.reasons()),
            ("root sum of squares", self.root_sum_of_squares.reasons()),
            ("exact", self.exact.reasons()),
            ("semi-exact", reasons(self.semi_exact.as_ref())),
            (
                "quasi-Monte Carlo",
                reasons(self.quasi_monte_carlo.as_ref()),
            ),
            ("Monte Carlo", self.monte_carlo.reasons()),
        ];
        for (name, why) in declined.into_iter().filter(|(_, why)| !why.is_empty()) {
            notes.push(format!("{name} declines: {}.", why.join("; ")));
        }
        notes
    }

    fn ways_in_text(&self, trials: Option<u64>, style: &Style) -> String {
        let mut text = self.ways(style.unit).to_text(style.width);
        for note in self.notes(trials) {
            text.push_str(&wrap(&note, "  ", style.width));
        }
        text
    }

    fn worst_row(&self, range: &RangeReport, unit: Unit) -> Vec<String> {
        let verdict = match range.always_inside {
            Some(true) => "always",
            Some(false) => "never",
            None => "may miss",
        };
        let has_band = self.lower.is_some() || self.upper.is_some();
        let ends = (range.lower, range.upper);
        // In the digits of the other ways.
        let rss = self.root_sum_of_squares.answer();
        let u = rss.map_or((ends.1 - ends.0) / 4.0, |rss| rss.standard_uncertainty);
        let mut row = vec!["worst case".to_owned(), String::new()];
        row.push(if has_band {
            verdict.into()
        } else {
            String::new()
        });
        row.push(String::new());
        row.push(number::bare_beside(
            f64::midpoint(ends.0, ends.1),
            u,
            &self.unit,
            unit,
        ));
        row.push(String::new());
        row.push(number::bare_interval(ends, u, true, &self.unit, unit));
        row
    }

    fn points_row(&self, points: &QuasiMonteCarloChances) -> Vec<String> {
        let ThreeChances {
            below,
            inside,
            above,
            ..
        } = points.chance;
        let mut row = vec!["quasi-MC".to_owned()];
        row.extend([below, inside, above].map(number::percent));
        row.resize(7, String::new());
        row
    }

    fn row(
        &self,
        name: &str,
        chance: Option<ThreeChances>,
        middle: f64,
        u: Option<f64>,
        range: (f64, f64),
        unit: Unit,
    ) -> Vec<String> {
        let percent = |p: fn(&ThreeChances) -> f64| {
            chance
                .as_ref()
                .map_or(String::new(), |c| number::percent(p(c)))
        };
        // Digits that tell the ends of the range apart, where there is no standard uncertainty.
        let digits = u.unwrap_or((range.1 - range.0) / 4.0);
        vec![
            name.into(),
            percent(|c| c.below),
            percent(|c| c.inside),
            percent(|c| c.above),
            number::bare_beside(middle, digits, &self.unit, unit),
            u.map_or("none".into(), |u| number::bare_spread(u, &self.unit, unit)),
            number::bare_interval(range, digits, false, &self.unit, unit),
        ]
    }

    /// "Batch of 24: all fit in 50.75 % of such batches; 23.1 are expected to fit."
    pub(crate) fn batch_in_a_sentence(&self) -> Option<String> {
        Some(match self.batch.as_ref()? {
            Way::Declined(why) => format!("No batch chance: {}.", why.join("; ")),
            Way::Answer(batch) => format!(
                "Batch of {}: all fit in {} of such batches; {:.1} are expected to fit.",
                batch.pieces,
                number::percent(batch.all),
                batch.expected
            ),
        })
    }

    /// "All 24 fit in 50.75 % of such batches."
    #[cfg(feature = "html")]
    pub(crate) fn batch_in_short(&self) -> Option<String> {
        let batch = self.batch.as_ref()?.answer()?;
        let all = number::percent(batch.all);
        Some(format!(
            "All {} fit in {all} of such batches.",
            batch.pieces
        ))
    }

    pub(crate) fn batch_sentence(&self, unit: Unit) -> Option<String> {
        let mut text = self.batch_in_a_sentence()?;
        let Some(batch) = self.batch.as_ref()?.answer() else {
            return Some(text);
        };
        text.push_str(&format!(
            " One joint's chance to the power {} would say {}, which is wrong: the pieces share errors",
            batch.pieces,
            number::percent(batch.if_independent),
        ));
        if let (Some(shared), Some(piece)) = (
            batch.shared_standard_deviation,
            batch.piece_standard_deviation,
        ) {
            text.push_str(&format!(
                " (shared {}, from piece to piece {})",
                self.show_spread(shared, unit),
                self.show_spread(piece, unit)
            ));
        }
        text.push('.');
        Some(text)
    }
}

/// The mean; the middle of the interval where there is none.
fn middle(mean: Option<f64>, (lower, upper): (f64, f64)) -> f64 {
    mean.unwrap_or(f64::midpoint(lower, upper))
}

/// Why a way that was asked gives no answer.
fn reasons<T>(way: Option<&Way<T>>) -> &[String] {
    way.map_or(&[], Way::reasons)
}

/// What a range is, for the notes below a table of ways.
pub(crate) const RANGE: &str = "Range: guaranteed for the worst case, else the 95\u{a0}% interval";

fn standard_error(chance: Option<ThreeChances>) -> String {
    let error = chance.and_then(|c| c.error).map(error_text);
    error.map_or(String::new(), |e| format!(", standard error {e}"))
}

fn error_text(error: f64) -> String {
    if error <= 0.0 {
        "0 %".into()
    } else if error < 1e-6 {
        format!("{:.0e} %", error * 100.0)
    } else {
        format!("{} %", number::two_digits(error * 100.0))
    }
}

/// Indented JSON of a report; these types always serialise.
pub(crate) fn json<T: Serialize>(report: &T) -> String {
    serde_json::to_string_pretty(report)
        .unwrap_or_else(|error| format!("{{\"error\": \"{error}\"}}"))
}
