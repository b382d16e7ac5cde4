//! The commands that read a notebook of readings, run as a user runs them.

mod common;

use common::{complaint, kerfwise, printed, top};
use kerfwise_report::{
    ChanceReport, ChangeKind, LearnReport, Origin, ReadingsReport, SettingReport, StudyReport,
    WatchAdvice, WatchReport,
};

const PLAN: &str = "datasets/plant-stands/plan.toml";
const LOG: &str = "datasets/set-ups/tenons.csv";
const RUN: &str = "datasets/set-ups/run.csv";
const STUDY: &str = "datasets/set-ups/caliper-study.csv";

#[test]
fn logs_become_a_plan_whose_sources_are_all_measured() {
    const LEARNT: &str = "datasets/set-ups/plan.toml";
    let text = std::fs::read_to_string(top().join(LEARNT)).expect("it is there");
    let mortises = "datasets/set-ups/mortises.csv";
    for words in [
        &["learn", LOG, "--sources"][..],
        &["learn", mortises, "--of", "mortise", "--sources"],
    ] {
        let sources = bare(&printed(words));
        assert!(text.contains(sources.trim()), "{words:?} says\n{sources}");
    }
    let report: ChanceReport =
        serde_json::from_str(&printed(&["chance", LEARNT, "--json"])).expect("the JSON reads back");
    assert_eq!(report.inputs.len(), 6);
    for input in &report.inputs {
        assert_eq!(input.origin, Origin::Measured, "{input:?}");
    }
    assert!(!printed(&["job", LEARNT]).contains("Assumed"));
    // Computed with numpy: 160 million draws of the six laws, 0.982305 with a standard error of 0.00001; four of them.
    let exact = report.outcomes[0].exact.answer().expect("it is affine");
    let inside = exact.chance.expect("a band").inside;
    assert!((inside - 0.982305).abs() < 4e-5, "{inside}");
}

/// Without comments.
fn bare(text: &str) -> String {
    let lines = text.lines().filter(|line| !line.starts_with('#'));
    lines.map(|line| format!("{line}\n")).collect()
}

/// The line of the comments that sets a key.
fn told(text: &str, key: &str) -> String {
    let start = format!("#   {key} = ");
    let line = text.lines().find(|line| line.starts_with(&start));
    line.expect("the comments name the key")[1..]
        .trim()
        .to_owned()
}

// The comments alone make the plan: nothing is unused, and the dial makes up for what the tenons were off by.
#[test]
fn the_sources_of_logs_go_where_their_comments_say() {
    let mortises = "datasets/set-ups/mortises.csv";
    let tenon = printed(&["learn", LOG, "--predicted", "0.3845in", "--sources"]);
    let mortise = printed(&["learn", mortises, "--sources"]);
    let plan = format!(
        "version = 1\ntitle = \"Logs\"\n[joint]\nmethod = \"shifted\"\n{}\n{}\nkerf = {{ source = \"kerf\" }}\n\
         clearance = \"clearance\"\n[source.kerf]\nestimate = \"0.125 in\"\nassumed = \"as predicted\"\n\
         [source.clearance]\nestimate = \"1 thou\"\nassumed = \"wanted\"\n{tenon}\n{mortise}",
        told(&tenon, "travel_errors"),
        told(&mortise, "mortise"),
    );
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("logs.toml");
    std::fs::write(&path, plan).expect("it can be written");
    let output = kerfwise(&["setting", path.to_str().expect("a path"), "--json"]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success() && said.is_empty(), "{said}");
    let report: SettingReport =
        serde_json::from_slice(&output.stdout).expect("the JSON reads back");
    // By hand: mortise 0.3752541667 less clearance 0.001, kerf 0.125; tenons came out 0.374075 where 0.3845 was predicted.
    let travel = 0.375_254_166_7 - 0.001 + 0.125 + (0.3845 - 0.374_075);
    // Because sources have ten digits.
    assert!(
        (report.nominal_in - travel).abs() < 1e-9,
        "{}",
        report.nominal_in
    );
    assert_eq!(report.inputs.len(), 9, "{:?}", report.inputs);
}

#[test]
fn comments_name_the_sources_of_the_plan_that_a_log_replaces() {
    let words = [
        "learn",
        LOG,
        "--predicted",
        "0.3745in",
        "--plan",
        PLAN,
        "--sources",
    ];
    let text = printed(&words);
    for part in [
        "tenon.set_up holds all that is redrawn with the set-up: dial_reading, cosine, lock_residual",
        "tenon.off holds what stayed the same all over the log: dial_limit, kerf, caliper",
        "[source.\"tenon.off\"]\nestimate = \"-0.000425 in\"",
    ] {
        assert!(text.contains(part), "no \"{part}\" in {text}");
    }
    // Without a prediction there is the mean, and two places for it.
    let text = printed(&["learn", LOG, "--sources"]);
    assert!(
        text.contains("travel_errors = [\"tenon.set_up\", \"tenon.piece\"]"),
        "{text}"
    );
    assert!(
        text.contains("expression = \"tenon.mean + tenon.set_up + tenon.piece"),
        "{text}"
    );
}

#[test]
fn a_log_with_a_wrong_prediction_shows_the_bias() {
    let words = ["learn", LOG, "--predicted", "0.37in", "--json"];
    let report: LearnReport = serde_json::from_str(&printed(&words)).expect("the JSON reads back");
    let bias = report.bias.expect("a prediction was given");
    assert!(bias.is_steady && bias.interval.0 > 0.003, "{bias:?}");
    assert_eq!((report.set_ups, report.pieces), (8, 24));
}

#[test]
fn a_run_that_slipped_is_stopped_at_the_right_place() {
    for chart in ["cusum", "ewma"] {
        let words = ["watch", RUN, "--chart", chart, "--json"];
        let report: WatchReport =
            serde_json::from_str(&printed(&words)).expect("the JSON reads back");
        assert_eq!(report.advice, WatchAdvice::Stop);
        let change = report.change.expect("it changed");
        // datasets/set-ups/README.md: from piece 27 on, 1.6 thou more.
        assert_eq!((change.kind, change.began), (ChangeKind::Step, 27));
        assert!((change.size - 0.0016).abs() < 3.0 * change.standard_error);
    }
    let calm = [
        "watch", RUN, "--mean", "0.375in", "--sd", "0.05in", "--json",
    ];
    let report: WatchReport = serde_json::from_str(&printed(&calm)).expect("the JSON reads back");
    assert_eq!(
        (report.advice, report.process.from_first),
        (WatchAdvice::GoOn, 0)
    );
}

/// Writes a file of readings, and calls the command with its name for FILE.
fn printed_of(text: &str, words: &[&str]) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("run.csv");
    std::fs::write(&path, text).expect("it can be written");
    let file = path.to_str().expect("a path");
    let words: Vec<&str> = words
        .iter()
        .map(|&w| if w == "FILE" { file } else { w })
        .collect();
    printed(&words)
}

// Invented: level about 0.3759 in for ten pieces, then a steady climb; more than half of the first 20 are in it.
#[test]
fn a_baseline_that_climbs_itself_is_not_taken_for_good() {
    let ten_thousandths = [
        3758, 3762, 3755, 3760, 3757, 3763, 3759, 3756, 3761, 3758, 3760, 3762, 3764, 3763, 3766,
        3765, 3768, 3767, 3770, 3769, 3771, 3772, 3773, 3775,
    ];
    let rows: String = ten_thousandths.iter().map(|x| format!("0.{x}\n")).collect();
    let text = format!("tenon (in)\n{rows}");
    let report: WatchReport =
        serde_json::from_str(&printed_of(&text, &["watch", "FILE", "--json"]))
            .expect("the JSON reads back");
    let change = report.change.expect("it changed");
    assert_eq!(
        (report.advice, change.kind),
        (WatchAdvice::Stop, ChangeKind::Drift)
    );
    assert!(
        change.size > 0.0 && (9..=12).contains(&change.began),
        "{change:?}"
    );
    let baseline = report.baseline.expect("it is from the run");
    assert!(baseline.was_chosen && baseline.changes.expect("it climbs").size > 0.0);
    let told = printed_of(&text, &["watch", "FILE"]);
    assert!(
        told.contains("drift upward") && !told.contains("reading 1."),
        "{told}"
    );
    // From the eight before the climb it is the same.
    let words = ["watch", "FILE", "--first", "8", "--json"];
    let report: WatchReport =
        serde_json::from_str(&printed_of(&text, &words)).expect("the JSON reads back");
    let change = report.change.expect("it changed");
    assert!(change.kind == ChangeKind::Drift && change.size > 0.0 && change.began > 8);
    assert!(
        report
            .baseline
            .expect("it is from the run")
            .changes
            .is_none()
    );
}

#[test]
fn files_for_pairing_are_told_apart_by_their_headings() {
    let folder = tempfile::tempdir().expect("a folder");
    let put = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text).expect("it can be written");
        path.to_str().expect("a path").to_owned()
    };
    let tenons = put("t.csv", "tenon (in)\n0.374\n0.375\n");
    let mortises = put("m.csv", "mortise (in)\n0.377\n0.376\n");
    let right = printed(&["pair", &tenons, &mortises, "--clearance", "0.002in"]);
    let swapped = printed(&["pair", &mortises, &tenons, "--clearance", "0.002in"]);
    assert!(swapped.contains("the other way round"), "{swapped}");
    assert!(swapped.ends_with(&right), "{swapped}");
    assert!(right.contains("below 0 needs the wood to give"), "{right}");
    let plain = |name: &str, text: &str| {
        put(
            name,
            &text.replace("mortise", "width").replace("tenon", "width"),
        )
    };
    let (wide, thin) = (
        plain("w.csv", "mortise (in)\n0.377\n"),
        plain("n.csv", "tenon (in)\n0.374\n"),
    );
    let unnamed = printed(&["pair", &wide, &thin, "--clearance", "0.002in"]);
    assert!(unnamed.contains("are the files swapped?"), "{unnamed}");
}

#[test]
fn chances_minutes_and_costs_are_understood_as_they_are_written() {
    let same = |a: &[&str], b: &[&str]| assert_eq!(printed(a), printed(b), "{a:?}");
    same(
        &["improve", PLAN, "--wanted", "98%"],
        &["improve", PLAN, "--wanted", "0.98"],
    );
    let costs = |tight, loose| ["setting", PLAN, tight, "5min", loose, "20"];
    same(
        &costs("--tight", "--loose"),
        &["setting", PLAN, "--cost-tight", "5", "--cost-loose", "20"],
    );
    same(
        &["compare", PLAN, "--cost-tight", "3"],
        &["compare", PLAN, "--tight", "3"],
    );
    // Without a piece, which readings to accept.
    let limits = printed(&["judge", PLAN, "--assurance", "90 %"]);
    assert!(limits.contains("accept readings from"), "{limits}");
}

#[test]
fn groups_of_pieces_are_charted_by_their_means_and_ranges() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("groups.csv");
    let group = |name: u32, [a, b]: [f64; 2]| format!("{name},{a}\n{name},{b}\n");
    let calm: String = (0..12).map(|i| group(i, [1.0, 2.0])).collect();
    let last = group(12, [1.5, 6.5]);
    std::fs::write(&path, format!("hour,gap (thou)\n{calm}{last}")).expect("it can be written");
    let file = path.to_str().expect("a path");
    let words = ["watch", file, "--by", "hour", "--first", "12", "--json"];
    let report: WatchReport = serde_json::from_str(&printed(&words)).expect("the JSON reads back");
    assert_eq!((report.group_size, report.points.len()), (2, 13));
    // By hand: mean 1.5, mean range 1, over d₂ = 2/√π; 3 of that over √2 is 1.880 (JIS Z 9020, A₂ from memory). Because of its digits.
    assert!(
        (report.limits.1 - 0.003_38).abs() < 1e-6,
        "{:?}",
        report.limits
    );
    let rules: Vec<(u64, &str)> = report
        .signals
        .iter()
        .map(|signal| (signal.reading, signal.rule.as_str()))
        .collect();
    // The last group: mean 4, range 5, where 3.267 is the limit.
    assert_eq!(
        rules[..2],
        [
            (13, "beyond the limits"),
            (13, "its readings differ too much")
        ]
    );
}

#[test]
fn only_sources_of_what_was_read_can_be_in_the_log() {
    for (of, has_kerf, has_mortise) in [
        ("tenon", true, false),
        ("mortise", false, true),
        ("fit", true, true),
    ] {
        let words = ["learn", LOG, "--of", of, "--plan", PLAN, "--json"];
        let report: LearnReport =
            serde_json::from_str(&printed(&words)).expect("the JSON reads back");
        let groups = report.groups.expect("a plan was given");
        let all = [groups.set_up, groups.piece, groups.unseen].concat();
        let has = |name: &str| all.iter().any(|source| source == name);
        assert_eq!(
            (has("kerf"), has("mortise_spread")),
            (has_kerf, has_mortise),
            "{of}"
        );
    }
}

#[test]
fn a_study_and_a_column_of_readings_read_back() {
    let report: StudyReport =
        serde_json::from_str(&printed(&["gauge", STUDY, "--json"])).expect("the JSON reads back");
    assert_eq!((report.parts.len(), report.people.len()), (8, 3));
    let words = ["readings", LOG, "--lower", "0.37in", "--json"];
    let report: ReadingsReport =
        serde_json::from_str(&printed(&words)).expect("the JSON reads back");
    assert_eq!(report.column.count, 48);
    assert!(report.limits.expect("a limit was given").pp.is_none());
}

#[test]
fn a_long_column_streams_by() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("long.csv");
    let rows: String = (0..150_000).map(|i| format!("0,{}\r\n", i % 3)).collect();
    std::fs::write(&path, format!("no,gap (thou)\r\n{rows}")).expect("it can be written");
    let words = ["readings", path.to_str().expect("a path"), "--json"];
    let report: ReadingsReport =
        serde_json::from_str(&printed(&words)).expect("the JSON reads back");
    assert_eq!((report.column.count, report.closer), (150_000, None));
    // 0, 1 and 2 thou equally often. Because the mean is rounded once.
    assert!((report.mean - 0.001).abs() < 1e-15);
}

#[test]
fn what_is_wrong_with_readings_is_told() {
    let text = complaint(&["gauge", LOG]);
    assert!(text.contains("there is no column \"part\""), "{text}");
    let text = complaint(&["readings", "datasets/drawer/readings/case.csv"]);
    assert!(text.contains("name one of"), "{text}");
    let text = complaint(&["watch", RUN, "--mean", "9.5mm", "--sd", "1deg"]);
    assert!(
        text.contains("--sd must be of the kind of the readings"),
        "{text}"
    );
    let text = complaint(&["readings", RUN, "--confidence", "100%"]);
    assert!(
        text.contains("confidence must be above 0 and below 1"),
        "{text}"
    );
    let text = complaint(&["learn", "no-such-file.csv"]);
    assert!(text.contains("no-such-file.csv: cannot read"), "{text}");
    let text = complaint(&["learn", LOG, "--name", "9"]);
    assert!(text.contains("9.mean"), "{text}");
}
