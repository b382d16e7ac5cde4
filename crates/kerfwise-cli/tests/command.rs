//! The command, run as a user runs it.

use kerfwise_report::{BudgetReport, ChanceReport, CompareReport, JobReport, SettingReport};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

fn kerfwise(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words)
        .current_dir(top())
        .output()
        .expect("the command starts")
}

fn printed(words: &[&str]) -> String {
    let output = kerfwise(words);
    assert!(
        output.status.success(),
        "{words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).expect("the output is UTF-8")
}

fn complaint(words: &[&str]) -> String {
    let output = kerfwise(words);
    assert_eq!(output.status.code(), Some(2), "{words:?} must end with 2");
    assert!(output.stdout.is_empty(), "{words:?} must print no answer");
    String::from_utf8(output.stderr).expect("the complaint is UTF-8")
}

const PLAN: &str = "datasets/plant-stands/plan.toml";
const TURNED: &str = "datasets/plant-stands/turned.toml";
const DRAWER: &str = "datasets/drawer/plan.toml";

#[test]
fn without_words_it_does_the_main_job_on_the_built_in_plan() {
    let text = printed(&[]);
    let file = printed(&["job", PLAN]);
    assert_eq!(text, file, "the built-in plan is the one in datasets");
    for word in [
        "Dial",
        "joints fit",
        "Batch of 24",
        "worst case",
        "exact",
        "Monte Carlo",
        "test cut on scrap",
    ] {
        assert!(text.contains(word), "no \"{word}\" in:\n{text}");
    }
}

#[test]
fn four_propagations_agree_on_the_plan() {
    let report: ChanceReport =
        serde_json::from_str(&printed(&["chance", PLAN, "--json"])).expect("the JSON reads back");
    assert_eq!(report.trials, Some(200_000), "default number of trials");
    let fit = &report.outcomes[0];
    let exact = fit.exact.answer().expect("the plan is affine");
    let trials = fit.monte_carlo.answer().expect("Monte Carlo always runs");
    let rss = fit.root_sum_of_squares.answer().expect("all have a spread");
    let worst = fit.worst_case.answer().expect("all have limits");
    let (e, m) = (exact.chance.expect("band"), trials.chance.expect("band"));
    let (bound, se) = (
        e.error.expect("a bound"),
        m.error.expect("a standard error"),
    );
    // Five standard errors of the trials.
    assert!(
        (e.inside - m.inside).abs() < 5.0 * se + bound,
        "{e:?} {m:?}"
    );
    let r = rss.chance.expect("band");
    assert_eq!(
        r.error, None,
        "how far the normal assumption is off is not known"
    );
    // The normal assumption is worth a point or two here, no more: the sources are many and alike.
    assert!((e.inside - r.inside).abs() < 0.02, "{e:?} {r:?}");
    assert!(worst.lower < exact.interval_95.0 && worst.upper > exact.interval_95.1);
    let batch = fit
        .batch
        .as_ref()
        .and_then(|b| b.answer())
        .expect("24 pieces");
    assert!(
        batch.all > batch.if_independent && batch.all < e.inside,
        "shared errors help a batch"
    );
}

#[test]
fn every_command_answers_in_text_and_json() {
    for command in ["job", "chance", "budget", "setting"] {
        let text = printed(&[command, PLAN]);
        assert!(
            text.contains("test cut on scrap"),
            "{command} leads to the saw, so it cautions"
        );
        let json: serde_json::Value =
            serde_json::from_str(&printed(&[command, PLAN, "--json"])).expect("JSON");
        assert_eq!(json["schema"], format!("kerfwise/{command}/1"));
    }
    let setting: SettingReport =
        serde_json::from_str(&printed(&["setting", PLAN, "--json"])).expect("the JSON reads back");
    assert!(setting.fine_in.0 <= setting.best_in && setting.best_in <= setting.fine_in.1);
    let budget: BudgetReport =
        serde_json::from_str(&printed(&["budget", PLAN, "--json"])).expect("the JSON reads back");
    let total = budget.outcomes[0].budget.answer().expect("a budget");
    let shares: f64 = total.rows.iter().map(|r| r.share).sum();
    assert!((shares - 1.0).abs() < 1e-12);
    let job: JobReport = serde_json::from_str(&printed(&["--json"])).expect("the JSON reads back");
    assert!(job.setting.is_some());
}

#[test]
fn a_stack_that_is_no_joint() {
    let text = printed(&["chance", DRAWER]);
    assert!(text.contains("inside"), "{text}");
    let complaint = complaint(&["setting", DRAWER]);
    assert!(complaint.contains("no dial to set"), "{complaint}");
    assert!(printed(&["job", DRAWER]).contains("worst case"));
}

#[test]
fn a_joint_without_a_dial() {
    assert!(printed(&["job", TURNED]).contains("fit"));
    assert!(complaint(&["setting", TURNED]).contains("no dial to set"));
}

#[test]
fn plans_side_by_side() {
    let text = printed(&["compare", PLAN, TURNED]);
    assert!(
        text.contains("1. Three ash") && text.contains("turned.toml"),
        "{text}"
    );
    let read = |words: &[&str]| -> CompareReport {
        serde_json::from_str(&printed(words)).expect("the JSON reads back")
    };
    let usual = read(&["compare", PLAN, TURNED, "--json"]);
    let fit = &usual.plans[1].outcomes[0];
    let by_hand = 5.0 * fit.chance.above + 14.0 * fit.chance.below;
    // Two products and a sum of numbers below 14.
    assert!((usual.plans[1].minutes.expect("it has a fit") - by_hand).abs() < 1e-13);
    let free = read(&["compare", TURNED, "--json", "--tight", "0", "--loose", "0"]);
    assert_eq!(free.plans[0].minutes, Some(0.0));
    assert!(complaint(&["compare", PLAN, "--tight", "nan"]).contains("0 to 1000000"));
    assert!(complaint(&["compare"]).contains("PLANS"));
}

#[test]
fn seed_and_threads() {
    let one = printed(&["chance", PLAN, "--seed", "7", "--threads", "1"]);
    let five = printed(&["chance", PLAN, "--seed", "7", "--threads", "5"]);
    assert_eq!(one, five, "threads change nothing");
    assert_ne!(
        one,
        printed(&["chance", PLAN, "--seed", "8"]),
        "another seed, other trials"
    );
}

#[test]
fn millimetres_on_request() {
    let text = printed(&["setting", PLAN, "--unit", "mm"]);
    assert!(text.contains(" mm") && !text.contains(" in:"), "{text}");
}

#[test]
fn bad_words_end_with_2_and_say_what_to_do() {
    assert!(complaint(&["chance", "no-such-plan.toml"]).contains("no-such-plan.toml"));
    assert!(complaint(&["guess"]).contains("guess"));
    assert!(complaint(&["chance", PLAN, "--trials", "0"]).contains("trials"));
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("plan.toml");
    std::fs::write(
        &path,
        "version = 1\ntitle = \"x\"\n[source.a]\nnormal = \"0.4\"\n",
    )
    .expect("written");
    let before = std::fs::read(&path).expect("there");
    let text = complaint(&["chance", path.to_str().expect("UTF-8")]);
    assert!(text.contains("plan.toml"), "{text}");
    assert_eq!(
        std::fs::read(&path).expect("there"),
        before,
        "the user's file is as it was"
    );
}
