//! Examples of the help, completions, and long runs that are ended early.

use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::Duration;

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn kerfwise(folder: &Path, words: &[&str]) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    // Whoever is asked takes the defaults.
    let mut stdin = child.stdin.take().expect("a pipe");
    let _unread = stdin.write_all(&[b'\n'; 40]);
    drop(stdin);
    child.wait_with_output().expect("the command ends")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// The lines of a help text that show commands.
fn examples(help: &str) -> Vec<String> {
    let after = help.split("\nExamples:\n").nth(1).unwrap_or_default();
    let mut found: Vec<String> = Vec::new();
    for line in after.lines() {
        let Some(words) = line.strip_prefix("  kerfwise") else {
            continue;
        };
        // What it is for stands behind two spaces.
        let command = words.split("  ").next().unwrap_or_default();
        found.push(command.trim().to_owned());
    }
    found
}

#[test]
fn every_example_of_the_help_runs() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let data = top().join("datasets");
    std::fs::create_dir(folder.path().join("readings")).expect("a folder");
    for (from, to) in [
        ("plant-stands/plan.toml", "stands.toml"),
        ("plant-stands/turned.toml", "turned.toml"),
        ("plant-stands/turned.toml", "a.toml"),
        ("plant-stands/plan.toml", "b.toml"),
        ("plant-stands/readings/kerf.csv", "readings/kerf.csv"),
        ("plant-stands/readings/mortise.csv", "readings/mortise.csv"),
        ("plant-stands/readings/kerf.csv", "kerf.csv"),
        ("plant-stands/measured/mortises.csv", "mortises.csv"),
        ("plant-stands/measured/tenons.csv", "tenons.csv"),
        ("set-ups/caliper-study.csv", "caliper.csv"),
        ("set-ups/tenons.csv", "log.csv"),
        ("set-ups/run.csv", "run.csv"),
    ] {
        std::fs::copy(data.join(from), folder.path().join(to)).expect(from);
    }
    let top_help = text(&kerfwise(folder.path(), &["--help"]).stdout);
    let commands = top_help
        .split("Commands:\n")
        .nth(1)
        .expect("a list of commands");
    let names = commands
        .lines()
        .take_while(|line| !line.trim().is_empty())
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help");
    // The list at the top shows a command for each log; here they are one.
    let mut lines: Vec<String> = examples(&top_help)
        .into_iter()
        .map(|line| match line.as_str() {
            "new stands.toml" => "new other.toml".to_owned(),
            "learn tenons.csv" => "learn log.csv".to_owned(),
            _ => line,
        })
        .collect();
    assert!(lines.len() > 15, "{lines:?}");
    for name in names {
        let help = text(&kerfwise(folder.path(), &[name, "--help"]).stdout);
        let own = examples(&help);
        assert!(!own.is_empty(), "{name} shows no example:\n{help}");
        lines.extend(own);
    }
    lines.sort();
    lines.dedup();
    for line in lines {
        let words: Vec<&str> = line.split_whitespace().collect();
        let output = kerfwise(folder.path(), &words);
        let complaint = text(&output.stderr);
        assert!(output.status.success(), "kerfwise {line}: {complaint}");
    }
}

#[test]
fn options_of_trials_are_shown_and_taken_only_where_trials_run() {
    let help = |words: &[&str]| text(&kerfwise(&top(), words).stdout);
    assert!(help(&["chance", "--help"]).contains("--trials"));
    assert!(!help(&["budget", "--help"]).contains("--trials"));
    let output = kerfwise(&top(), &["budget", "--seed", "7"]);
    assert_eq!(output.status.code(), Some(2));
    let complaint = text(&output.stderr);
    assert!(
        complaint.contains("`kerfwise budget` runs no Monte Carlo trials"),
        "{complaint}"
    );
}

#[test]
fn completions_for_every_shell() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let output = kerfwise(&top(), &["completions", shell]);
        assert!(output.status.success(), "{shell}");
        let script = text(&output.stdout);
        assert!(
            script.contains("testcut") && script.contains("kerfwise"),
            "{shell}"
        );
    }
    // The shell that is most at hand reads what is for it.
    let folder = tempfile::tempdir().expect("a temporary folder");
    let script = folder.path().join("kerfwise.bash");
    std::fs::write(&script, kerfwise(&top(), &["completions", "bash"]).stdout).expect("written");
    if let Ok(output) = Command::new("bash").arg("-n").arg(&script).output() {
        assert!(output.status.success(), "{}", text(&output.stderr));
    }
    assert_eq!(
        kerfwise(&top(), &["completions", "csh"]).status.code(),
        Some(2)
    );
}

/// Starts a command, and interrupts it once it has had time to get to its trials, on a busy machine too.
#[cfg(unix)]
fn interrupted(words: &[&str]) -> Output {
    let child = Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command starts");
    std::thread::sleep(Duration::from_millis(1500));
    let id = child.id().to_string();
    let sent = Command::new("kill")
        .args(["-INT", &id])
        .status()
        .expect("kill is there");
    assert!(sent.success());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(
        output.status.code(),
        Some(130),
        "as interrupted commands do"
    );
    let note = text(&output.stderr);
    assert!(note.starts_with("cut short by Ctrl-C after "), "{note}");
    assert!(note.contains(" of 1,000,000,000,000 trials"), "{note}");
    output
}

/// More than a day has time for.
#[cfg(unix)]
const TRIALS: &str = "1000000000000";

#[cfg(unix)]
#[test]
fn an_interrupt_ends_the_trials_with_what_is_known_so_far() {
    let output = interrupted(&["chance", "--trials", TRIALS, "--json"]);
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).expect("a whole answer");
    let trials = report["trials"].as_u64().expect("how many there were");
    assert!(trials > 0 && trials < 1_000_000_000_000, "{trials}");
    let fits = &report["outcomes"][0]["monte_carlo"]["answer"]["chance"]["inside"];
    // A tenth of a second already gives four digits of 0.9625.
    assert!(
        (fits.as_f64().expect("a chance") - 0.9625).abs() < 0.01,
        "{fits}"
    );
}

#[cfg(unix)]
#[test]
fn a_report_that_is_cut_short_tells_the_trials_that_were_run() {
    let page = text(&interrupted(&["report", "--trials", TRIALS]).stdout);
    assert!(page.contains("</html>") && !page.contains(TRIALS), "{page}");
    let between = |from: &str, to: &str| {
        let (_, rest) = page.split_once(from).expect(from);
        rest.split_once(to).expect(to).0.replace(',', "")
    };
    let asked = between("--trials ", " ");
    assert_eq!(between("Monte Carlo with ", " trials"), asked);
    assert!(asked.parse::<u64>().is_ok_and(|n| n > 0), "{asked}");
}
