//! Every block of `docs/plan-file.md` is read.
//!
//! A block is marked by the word behind `toml`: `whole` is a plan as it stands; of `source` and `joint` each
//! paragraph is put into a plan, inside a source or a joint.

use kerfwise_plan::Plan;
use std::path::{Path, PathBuf};

fn top() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// Mark and body of every fenced block.
fn blocks(text: &str) -> Vec<(String, String)> {
    let mut blocks = Vec::new();
    let mut open: Option<(String, String)> = None;
    for line in text.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(mark), None) => open = Some((mark.to_owned(), String::new())),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some((_, body))) => {
                body.push_str(line);
                body.push('\n');
            }
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "a block is not closed");
    blocks
}

#[track_caller]
fn read(text: &str) -> Plan {
    let folder = top().join("datasets/plant-stands");
    let beside = |path: &str| std::fs::read_to_string(folder.join(path));
    match Plan::parse("plan.toml", text, &beside) {
        Ok(plan) => plan,
        Err(faults) => panic!("{faults}\nin:\n{text}"),
    }
}

fn with_source(lines: &str) -> String {
    let from = [
        "measured =",
        "stated =",
        "assumed =",
        "readings =",
        "wood =",
    ];
    let provenance = if from.iter().any(|key| lines.contains(key)) {
        ""
    } else {
        "assumed = \"test\"\n"
    };
    format!(
        "version = 1\ntitle = \"test\"\n[outcome.y]\nexpression = \"x\"\n[source.x]\n{lines}\n{provenance}"
    )
}

fn with_joint(lines: &str) -> String {
    let mut text = String::from("version = 1\ntitle = \"test\"\n[joint]\nmethod = \"shifted\"\n");
    for (key, line) in [
        ("kerf =", "kerf = { source = \"kerf\" }\n"),
        ("mortise =", "mortise = { at_feel = \"mortise\" }\n"),
    ] {
        let mut own = lines.lines().take_while(|l| !l.starts_with('['));
        if !own.any(|l| l.starts_with(key)) {
            text.push_str(line);
        }
    }
    text.push_str(lines);
    let lengths = [
        ("kerf", "1/8 in"),
        ("mortise", "3/8 in"),
        ("pin", "0.1 in"),
        ("far_cheek", "23/32 in"),
        ("far_cheek_set", "23/32 in"),
        ("near_wall", "11/32 in"),
        ("rail", "1-1/16 in"),
        ("leg", "1-1/16 in"),
        ("clearance", "2 thou"),
        ("leaf_error", "0 in"),
        ("film", "0 in"),
        ("caliper", "0 in"),
        ("feel", "0 in"),
        ("mortise_spread", "0 in"),
        ("seating", "0 in"),
        ("runner_play", "0 in"),
        ("kerf_change", "0 in"),
        ("lock_shift", "0 in"),
        ("lock_residual", "0 in"),
        ("dial_limit", "0 in"),
        ("dial_reading", "0 in"),
        ("plunger", "1 deg"),
        ("wedges_closed", "1/4 in"),
        ("wedges_slide", "2 in"),
        ("bit", "3/8 in"),
        ("run_out", "1 thou"),
        ("fence_shift", "1/8 in"),
        ("pass", "0 in"),
        ("chisel", "3/8 in"),
        ("twist", "0 deg"),
        ("pins", "3/8 in"),
        ("wall", "0 in"),
        ("lean", "0 deg"),
        ("bow", "0 in"),
        ("jig_lean", "0 deg"),
        ("chip_yaw", "0 deg"),
        ("tooth", "1/8 in"),
        ("plate_run_out", "2 thou"),
        ("flange_run_out", "1 thou"),
        ("tip_spread", "0 in"),
        ("phase", "90 deg"),
        ("heel", "2 thou"),
        ("blade", "1-1/4 in"),
        ("height_gauge", "0 in"),
        ("shoulder", "1-1/4 in"),
        ("tips", "1 thou"),
        ("support", "0 in"),
        ("mortise_depth", "1-5/16 in"),
        ("ash_radial", "0.00169 /%MC"),
        ("moisture_change", "0 %MC"),
        ("ash_tangential", "0.00274 /%MC"),
        ("shop", "8 %MC"),
        ("summer", "12 %MC"),
    ];
    for (name, estimate) in lengths {
        text.push_str(&format!(
            "\n[source.{name}]\nestimate = \"{estimate}\"\nassumed = \"test\"\n"
        ));
    }
    text
}

/// Paragraphs of a block; a table header belongs to the lines below it.
fn paragraphs(body: &str) -> impl Iterator<Item = &str> {
    body.split("\n\n").filter(|lines| !lines.trim().is_empty())
}

#[test]
fn every_block_of_the_reference_is_read() {
    let path = top().join("docs/plan-file.md");
    let text = std::fs::read_to_string(path).expect("the reference is there");
    let (mut plans, mut fragments) = (0, 0);
    for (mark, body) in blocks(&text) {
        match mark.as_str() {
            "toml whole" => {
                let plan = read(&body);
                assert_eq!(plan.warnings(), [], "{body}");
                plans += 1;
            }
            "toml source" => {
                for lines in paragraphs(&body) {
                    let plan = read(&with_source(lines));
                    assert_eq!(plan.stack().sources().len(), 1, "{lines}");
                    fragments += 1;
                }
            }
            "toml joint" => {
                for lines in paragraphs(&body) {
                    assert!(read(&with_joint(lines)).joint().is_some(), "{lines}");
                    fragments += 1;
                }
            }
            "text" => {}
            other => panic!("a block is marked {other:?}"),
        }
    }
    assert!(
        plans >= 7 && fragments >= 40,
        "{plans} plans, {fragments} fragments"
    );
}

/// What a plan may hold is named in the reference: a key that is added must be described.
#[test]
fn every_key_is_in_the_reference() {
    let path = top().join("docs/plan-file.md");
    let text = std::fs::read_to_string(path).expect("the reference is there");
    let broken = "version = 1\ntitle = \"x\"\n[joint]\nno_key_at_all = 1\n[source.x]\nno_key_at_all = 1\n\
                  [outcome.y]\nno_key_at_all = 1\n[[correlation]]\nno_key_at_all = 1\n";
    let none = |_: &str| Err(std::io::ErrorKind::NotFound.into());
    let faults = Plan::parse("plan.toml", broken, &none).unwrap_err();
    let mut keys = 0;
    for fault in faults.faults() {
        let Some(help) = &fault.help else { continue };
        let Some(list) = help.strip_prefix("it may have ") else {
            continue;
        };
        for key in list.split(", ") {
            let key = key.trim_matches('"');
            assert!(text.contains(key), "{key:?} is not described");
            keys += 1;
        }
    }
    assert!(keys > 40, "{keys} keys were checked");
}
