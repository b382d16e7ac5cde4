//! Pages, pictures and JSON, as the command writes them.

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

/// What the command writes to the file that `words` names last.
fn written(words: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("out");
    let mut words = words.to_vec();
    words.push(path.to_str().expect("UTF-8"));
    let output = kerfwise(&words);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{words:?}: {said}");
    std::fs::read_to_string(&path).expect("the file was written")
}

fn complaint(words: &[&str]) -> String {
    let output = kerfwise(words);
    assert_eq!(output.status.code(), Some(2), "{words:?} must end with 2");
    String::from_utf8(output.stderr).expect("the complaint is UTF-8")
}

const PLAN: &str = "datasets/plant-stands/plan.toml";
const TURNED: &str = "datasets/plant-stands/turned.toml";
const DRAWER: &str = "datasets/drawer/plan.toml";

#[test]
fn a_report_has_all_that_another_person_needs() {
    let page = written(&["report", PLAN, "--trials", "20000", "--seed", "3", "-o"]);
    let page = page.replace("&#x2f;", "/");
    for word in [
        "<html lang=\"en\">",
        "about 96 in 100 joints fit",
        "Error budget: fit",
        "Which error to fix",
        "The first test piece",
        "If nothing were shared",
        "Assumed, not measured",
        "Wood Handbook (FPL-GTR-190), table 13-5: white ash, radial",
        "readings/kerf.csv",
        "20,000 trials of seed 3",
        "kerfwise report datasets/plant-stands/plan.toml --unit in --trials 20000 --seed 3 -o ",
        "test cut on scrap",
    ] {
        let is_there = page.to_lowercase().contains(&word.to_lowercase());
        assert!(is_there, "no \"{word}\" in the report");
    }
    // The one address is the name of the SVG language.
    let elsewhere = page.replace("http://www.w3.org/2000/svg", "");
    for word in ["<script", "http", "src=", "<link", "█"] {
        assert!(!elsewhere.contains(word), "the report holds {word}");
    }
}

/// What a shell's own tool says of the file, the report says too.
#[test]
fn the_digests_are_of_the_files() {
    let page = written(&["report", DRAWER, "--trials", "2000", "-o"]);
    let told = Command::new("sha256sum").arg(top().join(DRAWER)).output();
    let Ok(told) = told else {
        // No such tool on this machine; a test of kerfwise-plan has a published digest.
        return;
    };
    let told = String::from_utf8(told.stdout).expect("UTF-8");
    let digest = told.split_whitespace().next().expect("a digest");
    assert!(page.contains(digest), "no {digest} in the report");
}

#[test]
fn the_same_report_again_and_with_other_threads() {
    let again = |threads| {
        let words = ["report", PLAN, "--trials", "20000", "--threads", threads];
        String::from_utf8(kerfwise(&words).stdout).expect("UTF-8")
    };
    let one = again("1");
    assert!(one.contains("</html>") && one == again("2"));
}

#[test]
fn a_report_is_no_json_and_says_where_there_is_some() {
    assert!(complaint(&["report", PLAN, "--json"]).contains("kerfwise job --json"));
}

#[test]
fn every_command_that_can_draw_draws() {
    let run = "datasets/set-ups/run.csv";
    let study = "datasets/set-ups/caliper-study.csv";
    let pictures: [&[&str]; 10] = [
        &["chance", PLAN, "--trials", "2000"],
        &["budget", PLAN],
        &["setting", PLAN],
        &["improve", PLAN],
        &["testcut", PLAN, "--measured", "0.3779in"],
        &["batch", PLAN],
        &["watch", run],
        &["watch", run, "--chart", "ewma", "--unit", "mm"],
        &["gauge", study],
        &["compare", PLAN, TURNED, "--trials", "2000"],
    ];
    for words in pictures {
        let svg = written(&[words, &["--svg"]].concat());
        let is_whole = svg.starts_with("<svg ") && svg.trim_end().ends_with("</svg>");
        assert!(is_whole, "{words:?}");
        assert!(
            svg.contains("<title ") && svg.contains("<desc "),
            "{words:?}"
        );
        assert!(svg.len() < 60_000, "{words:?}: {} bytes", svg.len());
    }
    let nothing = complaint(&["testcut", PLAN, "--svg", "x.svg"]);
    assert!(nothing.contains("add --measured or --felt"), "{nothing}");
}

/// Each command's JSON has the published form of the name that it gives itself.
#[test]
fn json_has_the_published_form() {
    let run = "datasets/set-ups/run.csv";
    let log = "datasets/set-ups/tenons.csv";
    let study = "datasets/set-ups/caliper-study.csv";
    let kerf = "datasets/plant-stands/readings/kerf.csv";
    let tenons = "datasets/plant-stands/measured/tenons.csv";
    let mortises = "datasets/plant-stands/measured/mortises.csv";
    let commands: [&[&str]; 20] = [
        &["job", PLAN, "--trials", "2000"],
        &["chance", DRAWER, "--trials", "2000"],
        &["chance", TURNED, "--trials", "2000"],
        &["budget", PLAN],
        &["setting", PLAN],
        &["setting", PLAN, "--cost-tight", "5", "--cost-loose", "14"],
        &["compare", PLAN, TURNED, "--trials", "2000"],
        &["testcut", PLAN],
        &["testcut", PLAN, "--measured", "0.3742in"],
        &["testcut", PLAN, "--felt", "tight", "--one-mortise"],
        &["batch", PLAN],
        &["judge", PLAN, "--measured", "0.3779in"],
        &[
            "improve",
            PLAN,
            "--wanted",
            "0.97",
            "--offer",
            "feel:0.5:12",
        ],
        &["pair", tenons, mortises, "--clearance", "0.003in"],
        &["readings", kerf, "--upper", "0.1275in"],
        &["gauge", study],
        &["learn", log, "--plan", PLAN],
        &["watch", run],
        &["watch", run, "--chart", "ewma", "--rules"],
        &["readings", "datasets/set-ups/tenons.csv"],
    ];
    for words in commands {
        let output = kerfwise(&[words, &["--json"]].concat());
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success(), "{words:?}: {said}");
        let answer: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        let name = answer["schema"].as_str().expect("a name");
        let file = format!(
            "{}.json",
            name.trim_start_matches("kerfwise/").replace('/', "-")
        );
        let path = top().join("docs/schema").join(file);
        let form = std::fs::read_to_string(&path).expect("the form is published");
        let form = serde_json::from_str(&form).expect("the form is JSON");
        let form = jsonschema::validator_for(&form).expect("it is a schema");
        let faults: Vec<String> = form.iter_errors(&answer).map(|e| e.to_string()).collect();
        assert!(faults.is_empty(), "{words:?}: {faults:?}");
    }
}
