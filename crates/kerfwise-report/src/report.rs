use crate::input::{assumptions, provenance};
use crate::plot::Density;
use crate::table::{PageTable, unbroken};
use crate::{
    BatchReport, BudgetOutcome, ImproveReport, JobReport, OutcomeChances, Style,
    TestCutAheadReport, Way, batch, number,
};
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment};
use serde::Serialize;

/// The whole of a plan's answers on pages for the desk: all propagations, the budget, pictures, the batch, what was
/// assumed, where every number came from, and what another person needs to get the same.
///
/// The page stands alone: no scripts, nothing from elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanReport {
    job: JobReport,
    /// One for each outcome, in their order.
    densities: Vec<Option<Density>>,
    batch: Option<BatchReport>,
    improve: Option<ImproveReport>,
    ahead: Option<TestCutAheadReport>,
    reproduction: Reproduction,
}

/// What another person needs to get the same report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reproduction {
    /// The command line, with everything in it that could change a number.
    pub command: String,
    /// The plan first, then the readings.
    pub files: Vec<FileDigest>,
}

/// A file, and what tells whether another person's is the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FileDigest {
    /// Its name.
    pub name: String,
    /// SHA-256 of its bytes (FIPS 180-4), in hexadecimal.
    pub sha256: String,
}

/// What the template is filled with.
#[derive(Debug, Serialize)]
struct Words<'a> {
    title: &'a str,
    note: Option<&'a str>,
    dial: Option<String>,
    sentences: Vec<String>,
    outcomes: Vec<OutcomeWords>,
    all_outcomes: Option<String>,
    setting: Option<Part>,
    test_cut: Option<Part>,
    batch: Option<Part>,
    improve: Option<Part>,
    assumed: Option<PageTable>,
    inputs: PageTable,
    cautions: &'a [String],
    version: &'a str,
    plan_hash: Option<&'a str>,
    trials: Option<String>,
    seed: Option<u64>,
    reproduction: &'a Reproduction,
}

/// One outcome in all ways, with its budget.
#[derive(Debug, Serialize)]
struct OutcomeWords {
    name: String,
    algebra: String,
    sentence: String,
    ways: PageTable,
    notes: Vec<String>,
    differences: Vec<String>,
    picture: Option<String>,
    budget: Part,
}

/// Sentences, a table, what stands below it, and pictures.
#[derive(Debug, Default, Serialize)]
struct Part {
    sentences: Vec<String>,
    table: Option<PageTable>,
    notes: Vec<String>,
    pictures: Vec<String>,
}

impl PlanReport {
    /// From the main job, the densities of its outcomes in their order (none where there is none), and what another person
    /// needs to get the same.
    #[must_use]
    pub fn new(
        job: JobReport,
        densities: Vec<Option<Density>>,
        reproduction: Reproduction,
    ) -> Self {
        Self {
            job,
            densities,
            batch: None,
            improve: None,
            ahead: None,
            reproduction,
        }
    }

    /// With how many joints of the batch fit.
    #[must_use]
    pub fn batch(mut self, batch: BatchReport) -> Self {
        self.batch = Some(batch);
        self
    }

    /// With which error to fix.
    #[must_use]
    pub fn improve(mut self, improve: ImproveReport) -> Self {
        self.improve = Some(improve);
        self
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
    /// use kerfwise_report::{
    ///     BudgetReport, ChanceReport, JobReport, PlanReport, Reproduction, Style, Subject, plot::Density,
    /// };
    /// use kerfwise_source::{LengthUnits, Source};
    /// use kerfwise_stack::{Band, Expr, Stack};
    ///
    /// let kerf = Source::new("kerf", 0.0.inch()).normal(3.0.thou()).build()?;
    /// let stack = Stack::builder()
    ///     .outcome("fit", &Expr::source(&kerf), Band::within(5.0.thou())?)
    ///     .build()?;
    /// let subject = Subject::titled("One <stand>");
    /// let chance = ChanceReport::new(&subject, &stack, &stack.side_by_side(10_000), &[]);
    /// let job = JobReport::new(None, chance, BudgetReport::new(&subject, &stack));
    /// let densities = stack.outcomes().map(Density::of).collect();
    /// let again = Reproduction { command: "kerfwise report stand.toml".into(), files: Vec::new() };
    /// let page = PlanReport::new(job, densities, again).to_html(&Style::default());
    /// assert!(page.contains("One &lt;stand&gt;") && page.contains("kerfwise report stand.toml"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn to_html(&self, style: &Style) -> String {
        let mut page = Environment::new();
        page.set_auto_escape_callback(|_| AutoEscape::Html);
        page.add_filter("unbroken", |text: &str| unbroken(text));
        let chance = &self.job.chance;
        let subject = &chance.subject;
        let outcomes = chance.outcomes.iter().enumerate();
        let words = Words {
            title: &subject.title,
            note: subject.note.as_deref(),
            dial: self
                .job
                .setting
                .as_ref()
                .map(|s| format!("{} at {}", s.what.name(), number::dial(s.set(), style.unit))),
            sentences: self.sentences(style),
            outcomes: outcomes.map(|(i, o)| self.outcome(i, o, style)).collect(),
            all_outcomes: chance.all_in_a_sentence(),
            setting: self.setting(style),
            test_cut: self.of_the_test_cut(style),
            batch: self.of_the_batch(),
            improve: self.what_to_fix(),
            assumed: assumptions(&chance.inputs, style.unit)
                .map(|rows| rows.to_page("Measure these first if they count")),
            inputs: provenance(&chance.inputs, style.unit).to_page("Every number that goes in"),
            cautions: &chance.cautions,
            version: &subject.version,
            plan_hash: subject.plan_hash.as_deref(),
            trials: chance.trials.map(number::count),
            seed: chance.seed,
            reproduction: &self.reproduction,
        };
        page.render_str(include_str!("report.html"), Serde(&words))
            .unwrap_or_else(|fault| format!("the report's template is faulty: {fault}"))
    }

    /// The answer in short: what to dial, how likely it fits, how many, and which error to fix.
    fn sentences(&self, style: &Style) -> Vec<String> {
        let chance = &self.job.chance;
        let setting = self.job.setting.iter().map(|s| s.sentence(style));
        let outcomes = chance.outcomes.iter().map(|o| o.sentence(style.unit));
        let all = chance.all_in_a_sentence();
        let batch = self.batch.iter().map(BatchReport::answer);
        let fix = self.improve.iter().map(ImproveReport::answer);
        setting
            .chain(outcomes)
            .chain(all)
            .chain(batch)
            .chain(fix)
            .collect()
    }

    fn outcome(&self, index: usize, outcome: &OutcomeChances, style: &Style) -> OutcomeWords {
        let density = self.densities.get(index).and_then(Option::as_ref);
        let budget = self.job.budget.outcomes.get(index);
        OutcomeWords {
            name: crate::budget::plain(&outcome.name),
            algebra: format!("{} = {}", outcome.name, outcome.algebra),
            sentence: outcome.sentence(style.unit),
            ways: outcome.ways(style.unit).to_page("The ways side by side"),
            notes: outcome.notes(self.job.chance.trials),
            differences: outcome.differences.clone(),
            picture: density.map(|density| outcome.to_svg(density, style)),
            budget: budget.map(|b| budget_of(b, style)).unwrap_or_default(),
        }
    }

    fn setting(&self, style: &Style) -> Option<Part> {
        let setting = self.job.setting.as_ref()?;
        Some(Part {
            sentences: vec![setting.sentence(style)],
            table: Some(setting.rows(style.unit).to_page("Settings about the best")),
            notes: vec![format!("By: {}.", setting.by)],
            pictures: vec![setting.to_svg(style)],
        })
    }

    fn of_the_test_cut(&self, style: &Style) -> Option<Part> {
        let ahead = self.ahead.as_ref()?;
        let step = number::dial(ahead.resolution_in, style.unit);
        let caption = format!("For a gauge that shows steps of {step}");
        let notes = ahead.notes().into_iter().map(str::to_owned);
        Some(Part {
            sentences: vec![ahead.worth()],
            table: Some(ahead.rows(style.unit).to_page(&caption)),
            notes: notes.collect(),
            pictures: Vec::new(),
        })
    }

    fn of_the_batch(&self) -> Option<Part> {
        let batch = self.batch.as_ref()?;
        Some(Part {
            sentences: vec![batch.answer(), batch.spares_in_words()],
            table: Some(batch.rows().to_page("How many do not fit")),
            notes: vec![batch::IF_NOTHING_WERE_SHARED.to_owned()],
            pictures: vec![batch.to_svg()],
        })
    }

    fn what_to_fix(&self) -> Option<Part> {
        let improve = self.improve.as_ref()?;
        Some(Part {
            sentences: vec![improve.answer()],
            table: Some(improve.rows().to_page("What a better source would buy")),
            notes: Vec::new(),
            pictures: vec![improve.to_svg()],
        })
    }
}

fn budget_of(budget: &BudgetOutcome, style: &Style) -> Part {
    let total = match &budget.budget {
        Way::Answer(total) => total,
        Way::Declined(reasons) => {
            return Part {
                sentences: vec![budget.why_none(reasons)],
                ..Part::default()
            };
        }
    };
    let doubts = total.doubts.iter().map(|doubt| format!("Doubt: {doubt}"));
    let rows = budget.rows(total.uncertain(), style);
    Part {
        sentences: vec![budget.sentence(total), budget.closing(total, style)],
        table: Some(rows.to_page("Shares of the variance, the largest first")),
        notes: doubts.collect(),
        pictures: budget.to_svg(style).into_iter().collect(),
    }
}
