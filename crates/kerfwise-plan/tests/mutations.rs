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

/// At most a line or two: a plan of which half is gone only shows the first fault of all.
fn stretch<'a>(a: &Index, b: &Index, text: &'a str) -> (usize, &'a str) {
    let start = place(a, text);
    let rest = &text[start..];
    let end = place(
        b,
        &rest[..rest
            .len()
            .min(100)
            .max(rest.char_indices().nth(50).map_or(0, |(i, _)| i))],
    );
    (start, &rest[..end])
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

const READINGS: &str =
    "# comment\nno,kerf (in),at feel (in)\n1,0.126,0.3745\n2,0.1265,0.375\n3,,0.374\n";

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
