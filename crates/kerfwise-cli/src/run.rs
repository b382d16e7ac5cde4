//! From a plan to an answer.

use crate::args::{
    Cli, Command, Drawing, LengthUnit, Options, PageArgs, PlanFile, Plans, completions,
};
use crate::progress::of_trials;
use crate::{
    batch, explain, files, improve, judge, learn, new, pair, readings, report, setting, study,
    testcut, watch,
};
use kerfwise::plan::{Faults, Plan};
use kerfwise::prelude::{Batch, Expr, LengthUnits as _, MonteCarlo, Quantity, Source};
use kerfwise_report::{
    BudgetReport, Card, ChanceReport, Column, CompareReport, JobReport, Minutes, Style, Subject,
    TenonGoal, Unit, plot::Density,
};
use std::io::{IsTerminal as _, Write as _};
use std::path::Path;

/// The narrowest text that tables are made for, the widest that is still read with ease, and what is taken where there is
/// no terminal.
const NARROWEST: u16 = 80;
const WIDEST: u16 = 120;
const PLAIN: u16 = 100;

/// The whole answer as text, or what is wrong.
pub(crate) fn run(cli: &Cli) -> Result<String, String> {
    let options = &cli.options;
    let style = style(options);
    let none = PlanFile { plan: None };
    match &cli.command {
        None => job(&load(&none)?, options, &style),
        Some(Command::Completions(words)) => Ok(completions(words.shell)),
        Some(Command::Explain(words)) => explain::run(&words.word, usize::from(style.width)),
        Some(Command::New(words)) => new::run(words, options.unit.unwrap_or(LengthUnit::In)),
        Some(Command::Job(file)) => job(&load(file)?, options, &style),
        Some(Command::Chance(words)) => {
            let plan = load(&words.file)?;
            let report = chance(&plan, options);
            draw(&words.drawing, || {
                let outcome = plan.stack().outcomes().next().and_then(Density::of);
                let drawn = report.outcomes.first().zip(outcome);
                drawn.map(|(outcome, density)| outcome.to_svg(&density, &style))
            })?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Budget(words)) => {
            let plan = load(&words.file)?;
            let report = BudgetReport::new(&subject(&plan), plan.stack());
            draw(&words.drawing, || report.outcomes.first()?.to_svg(&style))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Card(card)) => page(&load(&card.file)?, card, options, &style),
        Some(Command::Report(words)) => report::print(&load(&words.file)?, words, options, &style),
        Some(Command::Setting(words)) => {
            let (plan, costs) = (load(&words.file)?, words.costs.costs());
            if let Some(costs) = costs.filter(|_| words.first_cut) {
                let report = setting::first_cut(&plan, words, costs, options)?;
                return Ok(if options.json {
                    report.to_json()
                } else {
                    report.to_text(&style)
                });
            }
            let report = setting::report(&plan, costs, options)?;
            draw(&words.drawing, || Some(report.to_svg(&style)))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Compare(plans)) => {
            let report = compare(plans, options)?;
            draw(&plans.drawing, || Some(report.to_svg()))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Testcut(words)) => {
            testcut::print(&load(&words.file)?, words, options.json, &style)
        }
        Some(Command::Improve(words)) => {
            let report = improve::report(&load(&words.file)?, words)?;
            draw(&words.drawing, || Some(report.to_svg()))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Pair(words)) => {
            let report = pair::report(words)?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Judge(words)) => {
            let report = judge::report(&load(&words.file)?, words)?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Batch(words)) => {
            let report = batch::report(&load(&words.file)?, words, &monte_carlo(options))?;
            draw(&words.drawing, || Some(report.to_svg()))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Readings(words)) => {
            let report = readings::report(words)?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style_of(&report.column, options))
            })
        }
        Some(Command::Gauge(words)) => {
            let report = study::report(words)?;
            let style = style_of(&report.column, options);
            draw(&words.drawing, || report.to_svg(&style))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
        Some(Command::Learn(words)) => {
            let report = learn::report(words)?;
            Ok(if words.sources {
                report.plan_text
            } else if options.json {
                report.to_json()
            } else {
                report.to_text(&style_of(&report.column, options))
            })
        }
        Some(Command::Watch(words)) => {
            let report = watch::report(words)?;
            let style = style_of(&report.column, options);
            draw(&words.drawing, || Some(report.to_svg(&style)))?;
            Ok(if options.json {
                report.to_json()
            } else {
                report.to_text(&style)
            })
        }
    }
}

fn job(plan: &Plan, options: &Options, style: &Style) -> Result<String, String> {
    let (report, _) = main_job(plan, options)?;
    Ok(if options.json {
        report.to_json()
    } else {
        report.to_text(style)
    })
}

/// The main job, and the plan at the setting that it is for.
pub(crate) fn main_job(plan: &Plan, options: &Options) -> Result<(JobReport, Plan), String> {
    let setting = match plan.joint() {
        Some(_) => Some(setting::report(plan, None, options)?),
        // Whether anything is set, and whether the fit depends on it, is up to the plan.
        None => setting::report(plan, None, options).ok(),
    };
    let at_best = match &setting {
        Some(found) if !plan.setting_was_given() => Some(
            plan.with_setting(found.best_in.inch())
                .map_err(|f| show(&f))?,
        ),
        _ => None,
    };
    let plan = at_best.unwrap_or_else(|| plan.clone());
    let budget = BudgetReport::new(&subject(&plan), plan.stack());
    let report = JobReport::new(setting, chance(&plan, options), budget);
    Ok((report, plan))
}

/// The set-up card; what is said when it went to a file, or the page itself.
fn page(plan: &Plan, card: &PageArgs, options: &Options, style: &Style) -> Result<String, String> {
    if options.json {
        return Err(
            "a card is a page, not JSON; `kerfwise job --json` has the same numbers".into(),
        );
    }
    let (report, plan) = main_job(plan, options)?;
    let density = plan.stack().outcomes().next().and_then(Density::of);
    let mut page = Card::new(report, density);
    if let Some(ahead) = testcut::for_card(&plan) {
        page = page.test_cut(ahead);
    }
    let html = page.to_html(style);
    hand_over(
        html,
        card.output.as_deref(),
        "print it and hang it by the saw",
    )
}

/// The picture to its file, where one was asked for.
pub(crate) fn draw(
    words: &Drawing,
    picture: impl FnOnce() -> Option<String>,
) -> Result<(), String> {
    let Some(path) = &words.svg else {
        return Ok(());
    };
    let none =
        "--svg: there is nothing to draw, since no propagation gives what the picture would show";
    let svg = picture().ok_or(none)?;
    write_safely(path, &svg).map_err(|e| format!("cannot write {}: {e}", path.display()))
}

/// A page to its file, with what to do with it, or to standard output.
pub(crate) fn hand_over(page: String, to: Option<&Path>, then: &str) -> Result<String, String> {
    let Some(path) = to else {
        return Ok(page);
    };
    write_safely(path, &page).map_err(|e| format!("cannot write {}: {e}", path.display()))?;
    Ok(format!("{}: {then}", path.display()))
}

/// A file with the permissions that any other new file would have, not the narrow ones of a temporary file.
fn new_file() -> tempfile::Builder<'static, 'static> {
    #[cfg_attr(
        not(unix),
        expect(unused_mut, reason = "only Unix has such permissions")
    )]
    let mut builder = tempfile::Builder::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        // What the umask leaves of it.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    builder
}

/// Writes beside the file and renames, so that a card is never half there.
pub(crate) fn write_safely(path: &Path, text: &str) -> std::io::Result<()> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if !folder.is_dir() {
        return Err(std::io::Error::other("there is no such folder"));
    }
    let mut file = new_file().tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.persist(path)?;
    Ok(())
}

fn compare(plans: &Plans, options: &Options) -> Result<CompareReport, String> {
    let mut reports = Vec::new();
    for path in &plans.plans {
        let plan = files::plan(path)?;
        let budget = BudgetReport::new(&subject(&plan), plan.stack());
        reports.push((chance(&plan, options), budget));
    }
    let minutes = Minutes {
        tight: plans.tight,
        loose: plans.loose,
    };
    Ok(CompareReport::new(&reports, minutes))
}

fn chance(plan: &Plan, options: &Options) -> ChanceReport {
    let stack = plan.stack();
    let ways = stack.side_by_side_with(monte_carlo(options), &mut of_trials);
    let batches: Vec<_> = stack
        .outcomes()
        .map(|o| {
            plan.pieces()
                .filter(|_| o.band().is_some())
                .map(|n| o.batch(Batch::of(n)))
        })
        .collect();
    ChanceReport::new(&subject(plan), stack, &ways, &batches)
}

fn load(file: &PlanFile) -> Result<Plan, String> {
    match &file.plan {
        Some(path) => files::plan(path),
        None => kerfwise::plan::demo().map_err(|faults| show(&faults)),
    }
}

pub(crate) fn show(faults: &Faults) -> String {
    let is_plain = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    faults.render(std::io::stderr().is_terminal() && !is_plain)
}

pub(crate) fn subject(plan: &Plan) -> Subject {
    Subject {
        plan: Some(plan.name().to_owned()),
        plan_hash: Some(format!("{:016x}", plan.hash())),
        note: plan.note().map(str::to_owned),
        travel_in: plan.joint().map(|j| j.dialled().to_inches()),
        tenon: tenon_goal(plan),
        ..Subject::titled(plan.title())
    }
}

/// What the tenon should measure; nothing where that has no mean or no band.
fn tenon_goal(plan: &Plan) -> Option<TenonGoal> {
    let mean = |expr: &Expr| expr.evaluate(&|s: &Source| s.mean().map_or(f64::NAN, Quantity::raw));
    let expected = mean(&plan.tenon()?);
    // For each of its mortises: what it wants, and the least and the most that it takes.
    let each = plan.fits().iter().map(|fit| {
        let fit = plan.stack().outcome(fit)?;
        let (wanted, (lower, upper)) = (expected - mean(fit.expr()), fit.band()?.raw());
        Some([wanted, wanted + lower, wanted + upper])
    });
    let each: Vec<[f64; 3]> = each.collect::<Option<_>>()?;
    let goal = TenonGoal {
        expected_in: expected,
        wanted_in: each.iter().map(|[wanted, ..]| wanted).sum::<f64>() / each.len() as f64,
        from_in: each
            .iter()
            .map(|[_, from, _]| *from)
            .fold(f64::NEG_INFINITY, f64::max),
        to_in: each
            .iter()
            .map(|[.., to]| *to)
            .fold(f64::INFINITY, f64::min),
    };
    let all = [goal.expected_in, goal.wanted_in, goal.from_in, goal.to_in];
    (all.iter().all(|x| x.is_finite()) && goal.from_in < goal.to_in).then_some(goal)
}

pub(crate) fn monte_carlo(options: &Options) -> MonteCarlo {
    let chosen = MonteCarlo::new().trials(options.trials).seed(options.seed);
    match options.threads {
        Some(threads) => chosen.threads(usize::from(threads)),
        None => chosen,
    }
}

/// As the file of readings is written, unless told otherwise.
fn style_of(column: &Column, options: &Options) -> Style {
    let mut style = style(options);
    if options.unit.is_none() {
        style.unit = column.written_in();
    }
    style
}

fn style(options: &Options) -> Style {
    let unit = match options.unit {
        Some(LengthUnit::In) | None => Unit::Inch,
        Some(LengthUnit::Mm) => Unit::Millimetre,
    };
    // A pipe gets one width on every machine, so that what is written to a file can be compared.
    let columns = std::env::var("COLUMNS").ok().and_then(|c| c.parse().ok());
    let width = if std::io::stdout().is_terminal() {
        let seen = || terminal_size::terminal_size_of(std::io::stdout());
        columns.or_else(|| seen().map(|(columns, _)| columns.0))
    } else {
        None
    };
    Style {
        unit,
        width: width.unwrap_or(PLAIN).clamp(NARROWEST, WIDEST),
    }
}
