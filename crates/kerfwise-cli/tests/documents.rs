//! Documents that show output show what is really printed.
//!
//! A text block that follows `<!-- output: COMMAND -->` must be what COMMAND prints. With
//! `KERFWISE_BLESS=1` the blocks are written anew instead; read the difference before it is committed.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

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

/// Runs a command as it stands after `$ `, in a folder, with what is typed; what it says on both channels.
fn step(folder: &Path, command: &str, typed: &str) -> String {
    let mut words = command.split_whitespace();
    assert_eq!(
        words.next(),
        Some("kerfwise"),
        "only our own command is run"
    );
    let mut child = Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .current_dir(folder)
        .env_remove("COLUMNS")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    let mut stdin = child.stdin.take().expect("a pipe");
    let _unread = stdin.write_all(typed.as_bytes());
    drop(stdin);
    let output = child.wait_with_output().expect("the command ends");
    let said = [output.stderr, output.stdout].concat();
    let said = String::from_utf8(said).expect("the output is UTF-8");
    assert!(output.status.success(), "{command}: {said}");
    // No line of a document ends with a space.
    said.lines()
        .map(|line| format!("{}\n", line.trim_end()))
        .collect()
}

/// A document of steps, made anew: each block is run in one and the same folder.
fn walked(text: &str, folder: &Path) -> (String, usize) {
    let (mut fresh, mut steps) = (String::new(), 0);
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        fresh.push_str(line);
        fresh.push('\n');
        let Some(mark) = line
            .strip_prefix("<!-- ")
            .and_then(|mark| mark.strip_suffix(" -->"))
        else {
            continue;
        };
        fresh.push_str(lines.next().expect("a fence"));
        fresh.push('\n');
        let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        let of = |key: &str| {
            let mut parts = mark.split(';').map(str::trim);
            parts.find_map(|part| part.strip_prefix(key)).map(str::trim)
        };
        if let Some(file) = of("file:") {
            let rows: String = block.iter().map(|row| format!("{row}\n")).collect();
            std::fs::write(folder.join(file), &rows).expect("the file can be written");
            fresh.push_str(&rows);
        } else {
            let command = block.first().expect("a command");
            let typed = of("type:").unwrap_or_default();
            let typed: String = typed
                .split('|')
                .map(|answer| format!("{}\n", answer.trim()))
                .collect();
            let command = command.strip_prefix("$ ").expect("a command after a $");
            let said = step(folder, command, &typed);
            fresh.push_str(&format!("$ {command}\n"));
            let most = of("lines:").map_or(usize::MAX, |n| n.parse().expect("a number of lines"));
            for row in said.lines().take(most) {
                fresh.push_str(row);
                fresh.push('\n');
            }
            if said.lines().count() > most {
                fresh.push_str("...\n");
            }
            steps += 1;
        }
        fresh.push_str("```\n");
    }
    (fresh, steps)
}

#[test]
fn first_steps_go_as_they_are_written() {
    let path = top().join("docs/first-steps.md");
    let text = std::fs::read_to_string(&path).expect("the document is there");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (fresh, steps) = walked(&text, folder.path());
    assert!(steps >= 7, "{steps}");
    if is_blessing() {
        std::fs::write(&path, &fresh).expect("the document can be written");
    } else {
        assert!(
            fresh == text,
            "first-steps.md is not what happens:\n{fresh}"
        );
    }
    let card = std::fs::read_to_string(folder.path().join("card.html")).expect("the card");
    assert!(card.contains("test cut on scrap"));
}

#[test]
fn safety_document_has_the_same_words() {
    let path = top().join("docs/safety.md");
    let fresh = kerfwise_report::cautions::document();
    if is_blessing() {
        std::fs::write(&path, &fresh).expect("the document can be written");
    }
    let text = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(
        text, fresh,
        "docs/safety.md is rendered from kerfwise_report::cautions"
    );
}

/// README, the command, the card and the report say every caution, in the same words.
#[test]
fn cautions_are_the_same_everywhere() {
    let readme = std::fs::read_to_string(top().join("README.md")).expect("README is there");
    let (_, own) = readme
        .split_once("\n## Before you go to the saw\n")
        .expect("README has cautions of its own");
    let shown = [
        own.to_owned(),
        output_of("kerfwise job --trials 2000"),
        output_of("kerfwise card --trials 2000"),
        output_of("kerfwise report --trials 2000"),
    ];
    for text in shown {
        let text = text.replace("&#x27;", "'");
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
        for caution in kerfwise_report::cautions::all() {
            assert!(words.contains(&caution), "no \"{caution}\" in {words}");
        }
    }
}
