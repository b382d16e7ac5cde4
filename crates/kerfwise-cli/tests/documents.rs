//! Documents that show output show what is really printed.
//!
//! A text block that follows `<!-- output: COMMAND -->` must be what COMMAND prints. With
//! `KERFWISE_BLESS=1` the blocks are written anew instead; read the difference before it is committed.

use std::path::{Path, PathBuf};
use std::process::Command;

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn is_blessing() -> bool {
    std::env::var_os("KERFWISE_BLESS").is_some()
}

fn output_of(words: &str) -> String {
    let mut words = words.split_whitespace();
    assert_eq!(
        words.next(),
        Some("kerfwise"),
        "only our own command is run"
    );
    let output = Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .current_dir(top())
        .env_remove("COLUMNS")
        .output()
        .expect("the command starts");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("the output is UTF-8")
}

/// The document with every marked block replaced by fresh output, and how many there were.
fn renewed(text: &str) -> (String, usize) {
    const OPEN: &str = "<!-- output: ";
    let (mut fresh, mut rest, mut blocks) = (String::new(), text, 0);
    while let Some(at) = rest.find(OPEN) {
        let (before, marked) = rest.split_at(at);
        let command_end = marked.find(" -->").expect("the mark is closed");
        let command = &marked[OPEN.len()..command_end];
        let fence = marked.find("\n```").expect("a fenced block follows") + 1;
        let body = fence + marked[fence..].find('\n').expect("the fence line ends") + 1;
        let close = body + marked[body..].find("```").expect("the block is closed");
        fresh.push_str(before);
        fresh.push_str(&marked[..body]);
        fresh.push_str(&output_of(command));
        rest = &marked[close..];
        blocks += 1;
    }
    fresh.push_str(rest);
    (fresh, blocks)
}

fn check(document: &str, least_blocks: usize) {
    let path = top().join(document);
    let text = std::fs::read_to_string(&path).expect("the document is there");
    let (fresh, blocks) = renewed(&text);
    assert!(blocks >= least_blocks, "{document} shows {blocks} outputs");
    if is_blessing() {
        std::fs::write(&path, fresh).expect("the document can be written");
    } else {
        assert!(
            fresh == text,
            "{document} does not show what is printed now:\n{fresh}"
        );
    }
}

#[test]
fn readme_shows_what_is_printed() {
    check("README.md", 1);
}

#[test]
fn json_document_shows_what_is_printed() {
    check("docs/json.md", 4);
}

#[test]
fn decisions_document_shows_what_is_printed() {
    check("docs/decisions.md", 6);
}

#[test]
fn joints_document_shows_what_is_printed() {
    check("docs/joints.md", 1);
}

#[test]
fn readings_document_shows_what_is_printed() {
    check("docs/readings.md", 4);
}

#[test]
fn safety_document_has_the_same_words() {
    let path = top().join("docs/safety.md");
    let mut fresh = String::from("# Before you go to the saw\n\n");
    for caution in kerfwise_report::cautions::AT_THE_SAW {
        fresh.push_str(&format!("- {caution}\n"));
    }
    fresh.push_str(&format!(
        "\n# What the numbers are for\n\n{}\n",
        kerfwise_report::cautions::SCOPE
    ));
    if is_blessing() {
        std::fs::write(&path, &fresh).expect("the document can be written");
    }
    let text = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(
        text, fresh,
        "docs/safety.md is rendered from kerfwise_report::cautions"
    );
}
