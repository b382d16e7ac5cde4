//! The demonstration plan with random damage is read or refused, and nothing else happens.

use kerfwise_plan::{DEMO_PLAN, Plan, read_readings};
use proptest::prelude::*;
use proptest::sample::Index;

/// What happens to a text at a random place.
#[derive(Debug, Clone)]
enum Damage {
    Cut(Index, Index),
    Insert(Index, String),
    Copy(Index, Index, Index),
}

const PIECES: &[&str] = &[
    "\"",
    "'",
    "[",
    "]",
    "{",
    "}",
    "=",
    ".",
    ",",
    "#",
    "\n",
    "\r\n",
    "\0",
    "\u{feff}",
    "½",
    "-",
    "nan",
    "inf",
    "1e999",
    "-1e-999",
    "0",
    "\"0 in\"",
    "\"-1 in\"",
    "\"1e300 in\"",
    "\"1 deg\"",
    "\"1e-320 in\"",
    "[[source]]",
    "[source.x]",
    "[outcome.y]\nexpression = \"kerf / 0\"\n",
    "normal",
    "rectangular",
    "limits_at_sd = 1e308\n",
    "mixture = []\n",
    "travel",
    "\"seating\"",
    "\"kerf\"",
];

fn pieces() -> impl Strategy<Value = String> {
    proptest::sample::select(PIECES).prop_map(str::to_owned)
}

fn damage() -> impl Strategy<Value = Damage> {
    let at = any::<Index>;
    prop_oneof![
        (at(), at()).prop_map(|(a, b)| Damage::Cut(a, b)),
        (at(), pieces()).prop_map(|(a, text)| Damage::Insert(a, text)),
        (at(), at(), at()).prop_map(|(a, b, c)| Damage::Copy(a, b, c)),
    ]
}

fn place(index: &Index, text: &str) -> usize {
    let at = index.index(text.len() + 1);
    (0..=at)
        .rev()
        .find(|at| text.is_char_boundary(*at))
        .unwrap_or(0)
}

/// At most two lines or so: a plan of which half is gone only shows the first fault of all.
fn stretch<'a>(a: &Index, b: &Index, text: &'a str) -> (usize, &'a str) {
    let start = place(a, text);
    let rest = &text[start..];
    let near = rest.char_indices().nth(100);
    let rest = near.map_or(rest, |(at, _)| &rest[..at]);
    (start, &rest[..place(b, rest)])
}

fn damaged(text: &str, all: &[Damage]) -> String {
    let mut text = text.to_owned();
    for one in all {
        match one {
            Damage::Cut(a, b) => {
                let (start, cut) = stretch(a, b, &text);
                let end = start + cut.len();
                text.replace_range(start..end, "");
            }
            Damage::Insert(a, piece) => text.insert_str(place(a, &text), piece),
            Damage::Copy(a, b, c) => {
                let copy = stretch(a, b, &text).1.to_owned();
                text.insert_str(place(c, &text), &copy);
            }
        }
    }
    text
}

/// Four of each: fewer have no standard deviation of their mean, and the plan's limits need one.
const READINGS: &str = "\
# comment
no,kerf (in),at feel (in)
1,0.126,0.3745
2,0.1265,0.375
3,,0.374
4,0.1255,0.3755
5,0.126,
";

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn a_damaged_plan_is_read_or_refused(all in proptest::collection::vec(damage(), 1..4)) {
        let text = damaged(DEMO_PLAN, &all);
        match Plan::parse("plan.toml", &text, &|_| Ok(READINGS.to_owned())) {
            Ok(plan) => prop_assert!(plan.stack().outcomes().count() > 0),
            Err(faults) => {
                prop_assert!(!faults.faults().is_empty());
                prop_assert!(!faults.render(false).is_empty());
                for fault in faults.faults() {
                    prop_assert!(fault.file != "plan.toml" || fault.span.end <= text.len(), "{fault}");
                    prop_assert!(!fault.message.is_empty());
                }
            }
        }
    }

    #[test]
    fn damaged_readings_are_read_or_refused(all in proptest::collection::vec(damage(), 1..4)) {
        let text = damaged(READINGS, &all);
        match read_readings("r.csv", &text, "kerf (in)") {
            Ok(readings) => prop_assert!(readings.raw().iter().all(|x| x.is_finite())),
            Err(faults) => {
                prop_assert!(!faults.render(false).is_empty());
                for fault in faults.faults() {
                    prop_assert!(text.get(fault.span.clone()).is_some(), "{fault}");
                }
            }
        }
    }
}

fn read(text: &str) -> Result<Plan, kerfwise_plan::Faults> {
    Plan::parse("plan.toml", text, &|_| Ok(READINGS.to_owned()))
}

#[track_caller]
fn is_read_or_refused(text: &str) {
    match read(text) {
        Ok(plan) => {
            let travel = plan.joint().map(|joint| joint.dialled().to_inches());
            assert!(travel.is_none_or(|inches| inches.is_finite() && inches > 0.0));
        }
        Err(faults) => assert!(!faults.to_string().is_empty()),
    }
}

#[test]
fn every_text_of_the_plan_replaced_by_every_odd_value() {
    const ODD: &[&str] = &[
        "\"\"",
        "\" \"",
        "\"0 in\"",
        "\"-0 in\"",
        "\"-1 in\"",
        "\"1e300 in\"",
        "\"-1.7e308 in\"",
        "\"1e-320 in\"",
        "\"1 deg\"",
        "\"1 %MC\"",
        "\"0.5\"",
        "\"nan in\"",
        "\"seating\"",
        "\"kerf\"",
        "\"mean\"",
        "\"spread\"",
        "\"empirical\"",
        "\"cut\"",
        "0",
        "-1",
        "1e308",
        "nan",
        "true",
        "[]",
        "{}",
        "[[\"0 in\", 1]]",
        "[\"0 in\", \"0 in\"]",
        "[\"-1e308 in\", \"1e308 in\"]",
    ];
    assert!(read(DEMO_PLAN).is_ok(), "undamaged, it is read");
    let mut texts = 0;
    let mut from = 0;
    while let Some(open) = DEMO_PLAN[from..].find('"') {
        let start = from + open;
        let length = DEMO_PLAN[start + 1..].find('"').expect("it is closed") + 2;
        for odd in ODD {
            let (before, after) = (&DEMO_PLAN[..start], &DEMO_PLAN[start + length..]);
            is_read_or_refused(&format!("{before}{odd}{after}"));
        }
        texts += 1;
        from = start + length;
    }
    assert!(texts > 80, "{texts} texts were replaced");
}

#[test]
fn every_line_left_out_or_given_twice() {
    let lines: Vec<&str> = DEMO_PLAN.lines().collect();
    for n in 0..lines.len() {
        let without = [&lines[..n], &lines[n + 1..]].concat().join("\n");
        is_read_or_refused(&without);
        let twice = [&lines[..=n], &lines[n..]].concat().join("\n");
        let is_blank = lines[n].trim().is_empty() || lines[n].starts_with('#');
        assert_eq!(read(&twice).is_ok(), is_blank, "{:?} given twice", lines[n]);
    }
}
