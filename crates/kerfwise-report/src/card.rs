use crate::budget::by_error;
use crate::input::one_for_both_cuts;
use crate::plot::Density;
use crate::table::unbroken;
use crate::{Input, JobReport, Origin, OutcomeChances, Style, TestCutAheadReport, Way, number};
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment};
use serde::Serialize;

/// More sources of one origin than this leave the page; the budget has them all.
const MOST: usize = 8;

/// The set-up card: one page that hangs by the saw.
///
/// It says what to set, in which order to work, how the fits will come out, what the numbers stand on,
/// and what to be careful of. The page stands alone: no scripts, nothing from elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Card {
    job: JobReport,
    /// Of the first outcome.
    density: Option<Density>,
    ahead: Option<TestCutAheadReport>,
}

/// What the template is filled with.
#[derive(Debug, Serialize)]
struct Words<'a> {
    title: &'a str,
    note: Option<&'a str>,
    /// What is set, and what to.
    set: Option<(&'static str, String)>,
    around: Option<String>,
    tenon: Option<String>,
    fits: Option<String>,
    batch: Option<String>,
    order: Vec<String>,
    test: Vec<Test>,
    gauge: Option<String>,
    pictures: Vec<String>,
    parts: Vec<Part>,
    cautions: &'a [String],
    origin: String,
}

/// What to do for a reading of the first test piece.
#[derive(Debug, Serialize)]
struct Test {
    from: String,
    to: String,
    then: String,
}

/// The sources of one origin.
#[derive(Debug, Serialize)]
struct Part {
    title: &'static str,
    rows: Vec<Row>,
}

/// A source on the card.
#[derive(Debug, Serialize)]
struct Row {
    name: String,
    estimate: String,
    u: String,
    share: String,
}

impl Card {
    /// From the main job, and the density of its first outcome where there is one.
    #[must_use]
    pub fn new(job: JobReport, density: Option<Density>) -> Self {
        Self {
            job,
            density,
            ahead: None,
        }
    }

    /// With what to do for each reading of the first test piece.
    #[must_use]
    pub fn test_cut(mut self, ahead: TestCutAheadReport) -> Self {
        self.ahead = Some(ahead);
        self
    }

    /// The page, in HTML.
    ///
    /// ```
    /// use kerfwise_report::{BudgetReport, Card, ChanceReport, JobReport, Style, Subject, plot::Density};
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.0.inch()).normal(3.0.thou()).build()?;
    /// let band = Band::within(5.0.thou())?;
    /// let stack = Stack::builder().outcome("fit", &Expr::source(&kerf), band).build()?;
    /// let subject = Subject::titled("One <stand>");
    /// let chance = ChanceReport::new(&subject, &stack, &stack.side_by_side(10_000), &[]);
    /// let job = JobReport::new(None, chance, BudgetReport::new(&subject, &stack));
    /// let page = Card::new(job, stack.outcome("fit").and_then(Density::of)).to_html(&Style::default());
    /// assert!(page.contains("One &lt;stand&gt;") && page.contains("test cut on scrap"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_html(&self, style: &Style) -> String {
        let mut page = Environment::new();
        page.set_auto_escape_callback(|_| AutoEscape::Html);
        page.add_filter("unbroken", |text: &str| unbroken(text));
        let subject = &self.job.chance.subject;
        let first = self.job.chance.outcomes.first();
        let setting = self.job.setting.as_ref();
        let set = setting.map(|s| (s.what, number::dial(s.set(), style.unit)));
        let words = Words {
            title: &subject.title,
            note: subject.note.as_deref(),
            around: self.around(style),
            tenon: subject.tenon.map(|tenon| tenon.sentence(style)),
            fits: first.map(|o| o.sentence(style.unit)),
            batch: first.and_then(OutcomeChances::batch_in_short),
            order: match &set {
                Some((what, to)) => what.order_of_work(to),
                None => vec!["Cut a test piece on scrap and measure it before the rest.".into()],
            },
            test: self.test(style),
            gauge: self.gauge(style),
            set: set.map(|(what, to)| (what.name(), to)),
            pictures: self.pictures(style),
            parts: self.parts(style),
            cautions: &self.job.chance.cautions,
            origin: self.origin(),
        };
        page.render_str(include_str!("card.html"), Serde(&words))
            .unwrap_or_else(|fault| format!("the card's template is faulty: {fault}"))
    }

    fn around(&self, style: &Style) -> Option<String> {
        let setting = self.job.setting.as_ref()?;
        let dial = |x| number::dial(x, style.unit);
        let fine = setting.how_far_off(style);
        let is_best = (setting.set() - setting.best_in).abs() <= setting.step_in / 4.0;
        Some(if is_best {
            fine
        } else {
            format!(
                "As the plan says; the best setting is {}. {fine}",
                dial(setting.best_in)
            )
        })
    }

    fn test(&self, style: &Style) -> Vec<Test> {
        let lines = self.ahead.iter().flat_map(|ahead| &ahead.lines);
        let rows = lines.map(|line| Test {
            from: number::dial(line.from_in, style.unit),
            to: number::dial(line.to_in, style.unit),
            then: line.what_to_do(style.unit),
        });
        rows.collect()
    }

    fn gauge(&self, style: &Style) -> Option<String> {
        let step = self.ahead.as_ref()?.resolution_in;
        Some(format!(
            "For a gauge that shows steps of {}.",
            number::dial(step, style.unit)
        ))
    }

    fn pictures(&self, style: &Style) -> Vec<String> {
        let outcome = self.job.chance.outcomes.first();
        let fits = outcome
            .zip(self.density.as_ref())
            .map(|(outcome, density)| outcome.to_svg(density, style));
        let setting = self.job.setting.as_ref().map(|s| s.to_svg(style));
        fits.into_iter().chain(setting).collect()
    }

    /// The sources that the first outcome depends on, by origin, those that count most first.
    fn parts(&self, style: &Style) -> Vec<Part> {
        let Some(Way::Answer(total)) = self.job.budget.outcomes.first().map(|o| &o.budget) else {
            return Vec::new();
        };
        let errors = by_error(&total.rows);
        let lines = total.uncertain().map(|line| (&line.name, line.share));
        let mut shares: Vec<_> = errors.iter().map(|(name, share)| (name, *share)).collect();
        // Cuts that are unlike stand apart.
        shares.extend(lines);
        let share_of = |input: &Input| {
            let found = shares.iter().find(|(name, _)| **name == input.name);
            found.map_or(0.0, |(_, share)| *share)
        };
        let mut inputs = one_for_both_cuts(&self.job.chance.inputs);
        inputs.retain(|input| input.standard_uncertainty != Some(0.0) && share_of(input) > 0.0);
        inputs.sort_by(|a, b| share_of(b).total_cmp(&share_of(a)));
        let of = |title, is_wanted: fn(Origin) -> bool| {
            let wanted = inputs.iter().filter(|input| is_wanted(input.origin));
            let rows = wanted.take(MOST).map(|input| {
                let u = input.standard_uncertainty.unwrap_or(0.0);
                Row {
                    name: input.name.clone(),
                    estimate: number::estimate(input.estimate, u, &input.unit, style.unit),
                    u: input.spread(style.unit),
                    share: format!("{:.1} %", share_of(input) * 100.0),
                }
            });
            Part {
                title,
                rows: rows.collect(),
            }
        };
        let parts = [
            of("measured or stated", |o| o != Origin::Assumed),
            of("assumed: measure it if it counts", |o| o == Origin::Assumed),
        ];
        parts.into_iter().filter(|p| !p.rows.is_empty()).collect()
    }

    fn origin(&self) -> String {
        let subject = &self.job.chance.subject;
        let plan = subject.plan.as_deref().unwrap_or("no plan file");
        let hash = subject.plan_hash.as_deref().unwrap_or("none");
        format!("Kerfwise {}, {plan}, hash {hash}", subject.version)
    }
}
