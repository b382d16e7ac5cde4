//! The commands that read a notebook of readings, run as a user runs them.

mod common;

use common::{complaint, printed, top};
use kerfwise_report::{
    ChanceReport, ChangeKind, LearnReport, Origin, ReadingsReport, StudyReport, WatchAdvice,
    WatchReport,
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
        let sources = printed(words);
        assert!(
            text.contains(sources.trim_end()),
            "{words:?} says\n{sources}"
        );
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
    let text = complaint(&["readings", RUN, "--confidence", "95"]);
    assert!(
        text.contains("confidence must be above 0 and below 1"),
        "{text}"
    );
    let text = complaint(&["learn", "no-such-file.csv"]);
    assert!(text.contains("no-such-file.csv: cannot read"), "{text}");
    let text = complaint(&["learn", LOG, "--name", "9"]);
    assert!(text.contains("9.mean"), "{text}");
}
