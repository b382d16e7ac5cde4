//! From a plan to the report for the desk.

use crate::args::{
    BatchWords, CostWords, Drawing, ImproveWords, LengthUnit, Options, PageArgs, PlanFile,
    SeenWords,
};
use crate::run::{hand_over, main_job, monte_carlo};
use crate::{batch, improve, testcut};
use kerfwise::plan::Plan;
use kerfwise_report::plot::Density;
use kerfwise_report::{FileDigest, PlanReport, Reproduction, Style};

/// What is said when the report went to a file, or the page itself.
pub(crate) fn print(
    plan: &Plan,
    words: &PageArgs,
    options: &Options,
    style: &Style,
) -> Result<String, String> {
    if options.json {
        return Err(
            "a report is a page, not JSON; `kerfwise job --json` has the main numbers, \
                    `batch`, `improve` and `testcut` the others"
                .into(),
        );
    }
    let (job, plan) = main_job(plan, options)?;
    // Where Ctrl-C ended the trials, so many as were done give the same report again.
    let done = job.chance.trials.unwrap_or(options.trials);
    let options = &Options {
        trials: done.min(options.trials),
        ..options.clone()
    };
    let densities = plan.stack().outcomes().map(Density::of).collect();
    let mut page = PlanReport::new(job, densities, reproduction(&plan, words, options));
    // A plan without pieces, a band or a jig has no such part; that is no fault.
    if let Ok(batch) = batch::report(&plan, &batch_words(), &monte_carlo(options)) {
        page = page.batch(batch);
    }
    if let Ok(improve) = improve::report(&plan, &improve_words()) {
        page = page.improve(improve);
    }
    if let Some(ahead) = testcut::for_card(&plan) {
        page = page.test_cut(ahead);
    }
    let html = page.to_html(style);
    hand_over(
        html,
        words.output.as_deref(),
        "open it in a browser, or print it",
    )
}

/// What `kerfwise batch` would take if nothing was said.
fn batch_words() -> BatchWords {
    BatchWords {
        file: PlanFile { plan: None },
        drawing: Drawing { svg: None },
        pieces: None,
        outcomes: Vec::new(),
        assurance: 0.95,
        costs: CostWords::default(),
        seen: SeenWords::default(),
    }
}

/// What `kerfwise improve` would take if nothing was said.
fn improve_words() -> ImproveWords {
    ImproveWords {
        file: PlanFile { plan: None },
        drawing: Drawing { svg: None },
        outcome: None,
        wanted: None,
        offer: Vec::new(),
        allocate: false,
        weight: Vec::new(),
    }
}

fn reproduction(plan: &Plan, words: &PageArgs, options: &Options) -> Reproduction {
    let mut command = "kerfwise report".to_owned();
    let mut say = |word: &str| {
        command.push(' ');
        command.push_str(&quoted(word));
    };
    if let Some(path) = &words.file.plan {
        say(&path.display().to_string());
    }
    let unit = match options.unit {
        None | Some(LengthUnit::In) => "in",
        Some(LengthUnit::Mm) => "mm",
    };
    let (trials, seed) = (options.trials.to_string(), options.seed.to_string());
    for word in ["--unit", unit, "--trials", &trials, "--seed", &seed] {
        say(word);
    }
    if let Some(path) = &words.output {
        say("-o");
        say(&path.display().to_string());
    }
    let files = plan.files().iter().map(|file| FileDigest {
        name: file.path.clone(),
        sha256: file.sha256.clone(),
    });
    Reproduction {
        command,
        files: files.collect(),
    }
}

/// A word as a shell reads it back.
fn quoted(word: &str) -> String {
    let is_plain = |c: char| c.is_ascii_alphanumeric() || "-_./=+:,@%".contains(c);
    if !word.is_empty() && word.chars().all(is_plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_come_back_from_a_shell() {
        assert_eq!(quoted("a/plan.toml"), "a/plan.toml");
        assert_eq!(quoted("my plan.toml"), "'my plan.toml'");
        assert_eq!(quoted("it's"), "'it'\\''s'");
        assert_eq!(quoted(""), "''");
    }
}
