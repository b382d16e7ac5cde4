//! The record of outside checks: every row of `tests/checks` against what Kerfwise says now.
//!
//! Prints each failing row with its source, what was expected, what came and the tolerance; then the rows
//! by source. It has its own main so that the counts show also when all is well.
#![expect(clippy::print_stdout, reason = "this is a report for whoever runs it")]

use kerfwise_tests::checks::{Asker, Case, Row, Verdict, cases, counts, judge, page};
use std::path::Path;
use std::process::ExitCode;

type Judged<'a> = (&'a Case, Vec<(&'a Row, Verdict)>);

fn main() -> ExitCode {
    // What the test runner asks of every test program.
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    if arguments.iter().any(|a| a == "--list") {
        println!("record: test");
        return ExitCode::SUCCESS;
    }
    let cases = match cases() {
        Ok(cases) => cases,
        Err(fault) => {
            println!("{fault}");
            return ExitCode::FAILURE;
        }
    };
    let wanted: Vec<&String> = arguments.iter().filter(|a| !a.starts_with('-')).collect();
    let is_whole = wanted.is_empty();
    let all: Vec<Judged<'_>> = cases
        .iter()
        .filter(|case| is_whole || wanted.iter().any(|part| case.id.contains(part.as_str())))
        .map(judged)
        .collect();
    let mut failures = all.iter().map(report).sum::<usize>();
    if is_whole {
        failures += composition(&all).len();
        failures += usize::from(!page_is_current(&page(&all)));
        println!("\n{}", counts(&all));
    }
    println!("{failures} failed");
    ExitCode::from(u8::from(failures > 0))
}

fn judged(case: &Case) -> Judged<'_> {
    let mut asker = Asker::new(case);
    let judge = |row| (row, judge(case, row, &mut asker));
    (case, case.rows.iter().map(judge).collect())
}

/// How many rows of a case fail; each is printed.
fn report((case, rows): &Judged<'_>) -> usize {
    let mut failures = 0;
    for (row, verdict) in rows {
        let what = format!(
            "{} {}, {} ({})",
            case.source,
            case.clause_of(row),
            row.ask,
            case.id
        );
        match (&row.known_wrong, verdict.faults.is_empty()) {
            (None, true) | (Some(_), false) => continue,
            (Some(_), true) => println!("{what}: right now; take known_wrong away"),
            (None, false) => {
                for fault in &verdict.faults {
                    println!("{what}: {fault}");
                }
            }
        }
        failures += 1;
    }
    failures
}

/// The page must be what it would be now; with `KERFWISE_BLESS` set it is written.
fn page_is_current(page: &str) -> bool {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/checks.md");
    if std::env::var_os("KERFWISE_BLESS").is_some() {
        return match std::fs::write(&path, page) {
            Ok(()) => true,
            Err(error) => {
                println!("docs/checks.md: {error}");
                false
            }
        };
    }
    let known = std::fs::read_to_string(&path).unwrap_or_default();
    if known == page {
        return true;
    }
    let other = page
        .lines()
        .zip(known.lines())
        .find(|(new, old)| new != old);
    println!(
        "docs/checks.md is not what it would be now; see the difference after KERFWISE_BLESS=1 cargo test -p kerfwise-tests --test checks"
    );
    if let Some((new, old)) = other {
        println!("  is: {old}\n  now: {new}");
    }
    false
}

/// What the record as a whole must have; each lack is printed.
fn composition(all: &[Judged<'_>]) -> Vec<String> {
    let lacks = kerfwise_tests::checks::lacks(all);
    for lack in &lacks {
        println!("{lack}");
    }
    lacks
}
