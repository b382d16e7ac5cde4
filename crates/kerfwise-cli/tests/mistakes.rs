//! What a newcomer does wrong, and what is said to it: `tests/mistakes.txt` holds the words.
//!
//! With `KERFWISE_BLESS=1` they are written anew; read the difference before it is committed.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const PLAN: &str = r#"version = 1
title = "Drawer"

[outcome.gap]
expression = "opening - drawer"
band = ["1/32 in", "1/16 in"]

[source.opening]
readings = "opening.csv"
column = "opening (in)"
use = "mean"

[source.drawer]
estimate = "11-61/64 in"
normal = "5 thou"
event = "piece"
assumed = "made as the last dozen"
"#;
const READINGS: &str = "opening (in)\n12.01\n12.00\n12.02\n11.99\n";

/// In the plan: title, what stands there, what is written instead. `kerfwise chance plan.toml` is asked.
const IN_THE_PLAN: &[(&str, &str, &str)] = &[
    ("a unit that there is not", "5 thou", "5 tho"),
    ("a length without a unit", "\"5 thou\"", "0.005"),
    ("a misspelt key", "normal =", "norml ="),
    ("another word for a law", "normal =", "gaussian ="),
    ("a negative spread", "5 thou", "-5 thou"),
    ("an angle for a length", "5 thou", "5 deg"),
    (
        "no degrees of freedom",
        "event = \"piece\"",
        "degrees_of_freedom = 0",
    ),
    ("a decimal comma", "11-61/64 in", "11,95 in"),
    ("no quotation marks", "\"5 thou\"", "5 thou"),
    (
        "quotation marks of a text program",
        "\"5 thou\"",
        "\u{201c}5 thou\u{201d}",
    ),
    ("an open quotation mark", "\"5 thou\"", "\"5 thou"),
    ("an open bracket", "[outcome.gap]", "[outcome.gap"),
    (
        "two sources of one name",
        "[source.drawer]",
        "[source.opening]\nnormal = \"1 thou\"\nuse = \"mean\"\n\n[source.drawer]",
    ),
    ("an unknown source", "- drawer\"", "- drawr\""),
    ("an algebra that ends early", "- drawer\"", "-\""),
    ("a length and an area", "- drawer\"", "- drawer * 1 in\""),
    (
        "a band that stands on its head",
        "[\"1/32 in\", \"1/16 in\"]",
        "[\"1/16 in\", \"1/32 in\"]",
    ),
    (
        "a band with one end",
        "[\"1/32 in\", \"1/16 in\"]",
        "\"1/16 in\"",
    ),
    ("an unknown event", "\"piece\"", "\"pieces\""),
    (
        "no origin of the numbers",
        "assumed = \"made as the last dozen\"\n",
        "",
    ),
    (
        "two origins",
        "assumed =",
        "stated = \"a letter\"\nassumed =",
    ),
    (
        "no version, no title",
        "version = 1\ntitle = \"Drawer\"\n",
        "",
    ),
    ("a later version", "version = 1", "version = 2"),
    ("an unknown use of readings", "\"mean\"", "\"average\""),
    ("no such file of readings", "opening.csv", "openings.csv"),
    (
        "a source that nothing uses",
        "[source.drawer]",
        "[source.dial]\nnormal = \"1 thou\"\nassumed = \"a guess\"\n\n[source.drawer]",
    ),
];

/// In the readings: title and text. `kerfwise chance plan.toml` is asked.
const IN_THE_READINGS: &[(&str, &str)] = &[
    ("an empty file", ""),
    ("a heading and no reading", "opening (in)\n"),
    ("one reading", "opening (in)\n12.01\n"),
    ("a heading without a unit", "opening\n12.01\n12.00\n"),
    (
        "a heading with a unit that there is not",
        "opening (inn)\n12.01\n12.00\n",
    ),
    ("another heading", "opning (in)\n12.01\n12.00\n"),
    (
        "a decimal comma among commas",
        "drawer,opening (in)\n1,12,01\n2,12.00\n",
    ),
    (
        "words and units in cells",
        "opening (in)\n12.01\nabout 12\n12.00 in\n",
    ),
    ("tabs between columns", "drawer\topening (in)\n1\t12.01\n"),
];

/// On the command line; the plan and its readings are sound.
const ON_THE_LINE: &[&str] = &[
    "chance nosuch.toml",
    "chance opening.csv",
    "chance .",
    "chanse plan.toml",
    "chance --trails 5",
    "chance --trials many",
    "chance --trials 1",
    "budget --seed 5",
    "chance --unit inch",
    "setting plan.toml",
    "batch plan.toml",
    "batch --pieces 0",
    "batch --assurance 95",
    "improve --outcome fitt",
    "improve --wanted 0.98 --offer seating",
    "judge --measured 0.375",
    "judge --measured snug",
    "testcut --measured 3in",
    "testcut --gauge calliper --measured 0.374in",
    "readings nosuch.csv",
    "readings .",
    "readings plan.toml",
    "readings opening.csv --column opning",
    "readings opening.csv --lower 11.9",
    "readings opening.csv --lower 1deg",
    "readings opening.csv --confidence 95",
    "gauge opening.csv",
    "learn opening.csv",
    "pair opening.csv opening.csv",
    "watch opening.csv --first 0",
    "plan.toml",
    "opening.csv",
    "judge --measured -0.3775in",
    "judge --assurance 95",
    "improve --wanted often",
    "setting --cost-tight 5h --cost-loose 3",
    "explain kref",
    "card -o no/such/card.html",
    "new plan.toml",
];

/// A joint with its kerf and its mortise, as `kerfwise new` writes it.
const JOINT: &str = r#"version = 1
title = "Stands"

[batch]
pieces = 24

[joint]
method = "shifted"
dial_step = "0.001 in"
kerf = { test_cut = "kerf", gauge = "caliper" }
kerf_change = "kerf_change"
mortise = { at_feel = "mortise", errors = ["caliper"] }
fit_band = ["-0.005 in", "0.005 in"]

[source.kerf]
readings = "kerf.csv"
column = "kerf (in)"
use = "mean"
limits_at_sd = 3
event = "blade"

[source.mortise]
estimate = "3/8 in"
normal = "0.001 in"
limits_at_sd = 3
assumed = "a guess"

[source.caliper]
rectangular = "0.0008 in"
event = "gauge"
assumed = "a guess"

[source.kerf_change]
normal = "0.0008 in"
limits_at_sd = 3
event = "cut"
assumed = "a guess"
"#;
const KERF: &str = "kerf (in)\n0.1250\n0.1255\n0.1248\n0.1252\n";

/// In the joint, as in [`IN_THE_PLAN`]. `kerfwise chance joint.toml` is asked.
const IN_THE_JOINT: &[(&str, &str, &str)] = &[
    (
        "a source of the joint without a unit",
        "normal = \"0.0008 in\"",
        "normal = \"0.0008\"",
    ),
    (
        "a source of the joint with a misspelt key",
        "normal = \"0.0008 in\"",
        "norml = \"0.0008 in\"",
    ),
    ("no joints", "pieces = 24", "pieces = 0"),
    ("a mortise below nought", "\"3/8 in\"", "\"-3/8 in\""),
];

/// In the readings of its kerf.
const IN_ITS_READINGS: &[(&str, &str)] = &[
    ("two readings of a kerf", "kerf (in)\n0.1250\n0.1255\n"),
    (
        "a slip of the decimal point",
        "kerf (in)\n0.1250\n0.1255\n0.01248\n0.1252\n",
    ),
    (
        "a kerf with a minus sign",
        "kerf (in)\n0.1250\n0.1255\n-0.1248\n0.1252\n",
    ),
    (
        "tabs beside the kerf",
        "cut\tkerf (in)\n1\t0.1250\n2\t0.1255\n",
    ),
];

/// Questions about the joint, which is sound, and readings that cannot be.
const OF_THE_JOINT: &[&str] = &[
    "testcut joint.toml --measured 3.745in",
    "testcut joint.toml --measured 0.3745mm",
    "testcut joint.toml --measured 0.374in --measured 0.374deg",
    "testcut joint.toml --measured 0.3745in --felt tight",
    "testcut joint.toml --felt tight --felt loose",
    "testcut joint.toml --measured 0.3745in --resolution 1in",
    "testcut joint.toml --measured 0.3745in --resolution -1thou",
    "testcut joint.toml --measured 0.3745in --resolution 1thou --resolution 2thou",
    "testcut joint.toml --measured 0.3745in --dial 12.7in",
    "testcut joint.toml --cost-test 4",
    "testcut joint.toml --cost-tight 0 --cost-loose 0",
    "batch joint.toml --pieces 0",
    "batch joint.toml --pieces 10000000",
    "batch joint.toml --pieces -3",
    "batch joint.toml --pieces 2 --measured 0.3745in --measured 0.3746in",
    "batch joint.toml --measured 9.5in",
    "batch joint.toml --measured 0.3745in --felt fits",
    "batch joint.toml --assurance -0.5",
    "batch joint.toml --assurance 100%",
    "batch joint.toml --cost-tight -5 --cost-loose 8",
    "setting joint.toml --recut 4",
    "setting joint.toml --cost-tight 0 --cost-loose 0",
    "setting joint.toml --cost-tight 5 --cost-loose 8 --first-cut --others 99999999999",
    "setting joint.toml --cost-tight 5 --cost-loose 8 --first-cut --resolution 1in",
    "judge joint.toml --measured 9.5in",
    "judge joint.toml --resolution 1in",
    "judge joint.toml --assurance 1",
    "improve joint.toml --wanted 0",
    "improve joint.toml --wanted -1",
    "improve joint.toml --wanted 98% --offer caliper:0.5:-12",
    "improve joint.toml --wanted 98% --offer caliper:nan:12",
    "improve joint.toml --wanted 98% --allocate --weight caliper:0",
    "improve joint.toml --wanted 98% --allocate --weight caliper:2 --weight caliper:3",
];

/// Lists of mortises for three tenons.
const LISTS: &[(&str, &str)] = &[
    ("an empty list", ""),
    ("a list with a heading only", "mortise (in)\n"),
    ("a list of angles", "mortise (deg)\n3\n"),
    ("a list in the wrong unit", "mortise (in)\n9.60\n9.61\n"),
    (
        "a slip of the point in a list",
        "mortise (in)\n3.78\n0.378\n0.377\n",
    ),
    ("a list with a minus sign", "mortise (in)\n0.377\n-0.378\n"),
    ("a list that holds no number", "mortise (in)\nnan\n"),
];

/// What is wrong about clearances.
const OF_THE_LISTS: &[&str] = &[
    "pair tenons.csv mortises.csv --clearance 3in",
    "pair tenons.csv mortises.csv --clearance 3deg",
    "pair tenons.csv mortises.csv --clearance 3thou --least 4thou --most 1thou",
];

fn said(folder: &Path, words: &str) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_kerfwise"))
        .args(words.split_whitespace())
        .current_dir(folder)
        .stdin(Stdio::null())
        .env_remove("COLUMNS")
        .output()
        .expect("the command starts");
    let complaint = String::from_utf8(output.stderr).expect("the complaint is UTF-8");
    match output.status.code() {
        Some(2) => assert!(output.stdout.is_empty(), "{words} answers and complains"),
        // A warning, and an answer.
        Some(0) => assert!(complaint.starts_with("warning: "), "{words}: {complaint}"),
        code => panic!("{words}: {code:?}"),
    }
    assert!(!complaint.is_empty(), "{words} says nothing");
    // Folders have other names each time; what comes from the system, other words on another one.
    let here = std::fs::canonicalize(folder).expect("the folder is there");
    complaint
        .replace(&here.display().to_string(), "HERE")
        .replace(&folder.display().to_string(), "HERE")
}

fn all() -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let put = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("the file can be written");
    };
    let mut text = String::new();
    let mut tell = |title: &str, words: &str| {
        let said = said(folder.path(), words);
        let _never = writeln!(text, "## {title}\n\n{}\n", said.trim_end());
    };
    put("opening.csv", READINGS);
    for (title, from, to) in IN_THE_PLAN {
        let plan = PLAN.replacen(from, to, 1);
        assert_ne!(plan, PLAN, "{title}");
        put("plan.toml", &plan);
        tell(title, "chance plan.toml --trials 1000");
    }
    put("plan.toml", PLAN);
    for (title, readings) in IN_THE_READINGS {
        put("opening.csv", readings);
        tell(title, "chance plan.toml");
    }
    put("opening.csv", READINGS);
    for words in ON_THE_LINE {
        tell(&format!("kerfwise {words}"), words);
    }
    put("kerf.csv", KERF);
    for (title, from, to) in IN_THE_JOINT {
        let joint = JOINT.replacen(from, to, 1);
        assert_ne!(joint, JOINT, "{title}");
        put("joint.toml", &joint);
        tell(title, "chance joint.toml");
    }
    put("joint.toml", JOINT);
    for (title, readings) in IN_ITS_READINGS {
        put("kerf.csv", readings);
        tell(title, "chance joint.toml --trials 1000");
    }
    put("kerf.csv", KERF);
    for words in OF_THE_JOINT {
        tell(&format!("kerfwise {words}"), words);
    }
    put("tenons.csv", "tenon (in)\n0.374\n0.375\n0.376\n");
    for (title, list) in LISTS {
        put("mortises.csv", list);
        tell(title, "pair tenons.csv mortises.csv --clearance 3thou");
    }
    put("mortises.csv", "mortise (in)\n0.377\n0.378\n0.379\n");
    for words in OF_THE_LISTS {
        tell(&format!("kerfwise {words}"), words);
    }
    put("joint.toml", &JOINT.replace("limits_at_sd = 3\n", ""));
    put("kerf.csv", IN_ITS_READINGS[0].1);
    tell("two readings of a kerf, and no limits", "chance joint.toml");
    put("both.csv", "kerf (in),tenon (in)\n0.1250,0.375\n");
    tell("two columns of readings", "readings both.csv");
    text
}

#[test]
fn every_mistake_is_told_with_what_where_and_how_to_mend_it() {
    let path: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mistakes.txt");
    let fresh = all();
    if std::env::var_os("KERFWISE_BLESS").is_some() {
        std::fs::write(&path, &fresh).expect("it can be written");
    }
    let text = std::fs::read_to_string(&path).unwrap_or_default();
    for (old, new) in text.split("\n## ").zip(fresh.split("\n## ")) {
        assert_eq!(old, new, "what is said has changed");
    }
    assert_eq!(text.len(), fresh.len(), "mistakes were added or taken away");
}
