//! Faulty plans, with the expected message beside the faulty line.
//!
//! In `bad-input/*.toml` a comment `#~ MESSAGE` stands for one fault of its line, with ` -- HELP` behind it where
//! there is a way out; where that would change the fault (an open quotation mark), the comment is `#~^ MESSAGE` on
//! the next line. A fault of another file starts with `FILE:LINE:COLUMN: `; a fault of the file as a whole stands
//! on the first line and starts with `FILE: `. With `KERFWISE_BLESS=1` the comments are written anew instead; read the
//! difference before it is committed.

use kerfwise_plan::{Fault, Plan};
use std::fmt::Write;
use std::path::{Path, PathBuf};

const BESIDE: &str = " #~ ";
const BELOW: &str = "#~^ ";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/bad-input")
}

/// Line, from 0, and what is said about it.
fn described(fault: &Fault, plan: &str) -> (usize, String) {
    let Fault {
        file,
        line,
        column,
        message,
        ..
    } = fault;
    let (at, mut text) = if file == plan && *line > 0 {
        (line - 1, message.clone())
    } else if *line > 0 {
        (0, format!("{file}:{line}:{column}: {message}"))
    } else {
        (0, format!("{file}: {message}"))
    };
    if let Some(help) = &fault.help {
        let _ = write!(text, " -- {help}");
    }
    let here = folder().display().to_string();
    (at, text.replace(&here, "HERE"))
}

/// The plan without its comments, and with those that belong there.
fn with_comments(text: &str, found: &[(usize, String)]) -> String {
    let mut fresh = String::new();
    let lines = text.lines().enumerate();
    for (number, line) in lines.filter(|(_, line)| !line.starts_with(BELOW)) {
        let line = line.split(BESIDE).next().unwrap_or_default();
        fresh.push_str(line);
        let mut of_line: Vec<&str> = found
            .iter()
            .filter(|(at, _)| *at == number)
            .map(|(_, text)| text.as_str())
            .collect();
        of_line.sort_unstable();
        let is_open = line.matches('"').count() % 2 == 1 || line.ends_with('=');
        for text in of_line {
            fresh.push_str(if is_open { "\n#~^ " } else { BESIDE });
            fresh.push_str(text);
        }
        fresh.push('\n');
    }
    fresh
}

fn check(path: &Path) -> Result<(), String> {
    let text = std::fs::read_to_string(path).expect("the plan is there");
    let name = path.display().to_string();
    let found: Vec<(usize, String)> = match Plan::from_path(path) {
        Ok(_) => Vec::new(),
        Err(faults) => {
            assert!(!faults.render(true).is_empty());
            faults
                .faults()
                .iter()
                .map(|f| described(f, &name))
                .collect()
        }
    };
    let fresh = with_comments(&text, &found);
    if std::env::var_os("KERFWISE_BLESS").is_some() {
        std::fs::write(path, &fresh).expect("the plan can be written");
        return Ok(());
    }
    let told = fresh.matches("#~").count();
    if fresh == text && told > 0 && told == found.len() {
        return Ok(());
    }
    Err(format!("{name} is now told about so:\n{fresh}"))
}

#[test]
fn every_fault_is_told_at_its_line() {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder())
        .expect("the folder is there")
        .map(|entry| entry.expect("it can be listed").path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 15, "only {} plans", paths.len());
    let wrong: Vec<String> = paths.iter().filter_map(|path| check(path).err()).collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
