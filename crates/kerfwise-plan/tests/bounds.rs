//! What is too much is refused, quickly; what is only unusual is read.

use kerfwise_plan::{Plan, read_readings};
use std::fmt::Write;

fn faults(text: &str) -> Vec<String> {
    let none = |_: &str| Err(std::io::ErrorKind::NotFound.into());
    match Plan::parse("plan.toml", text, &none) {
        Ok(_) => Vec::new(),
        Err(faults) => {
            assert!(!faults.render(false).is_empty());
            let messages = faults.faults().iter().map(|fault| fault.message.clone());
            messages.collect()
        }
    }
}

fn sources(count: usize) -> String {
    let mut text = String::from("version = 1\ntitle = \"many\"\n");
    let names: Vec<String> = (0..count).map(|n| format!("s{n}")).collect();
    let _ = writeln!(text, "[outcome.y]\nexpression = \"{}\"", names.join(" + "));
    for name in names {
        let _ = writeln!(
            text,
            "[source.{name}]\nnormal = \"1 thou\"\nassumed = \"test\""
        );
    }
    text
}

#[test]
fn sources_are_bounded() {
    assert_eq!(faults(&sources(500)), Vec::<String>::new());
    let told = faults(&sources(501));
    assert_eq!(told[0], "a plan may have 500 sources (got 501)");
}

#[test]
fn all_sources_may_be_correlated() {
    let mut text = sources(200);
    for n in 1..200 {
        let _ = writeln!(
            text,
            "[[correlation]]\nbetween = [\"s0\", \"s{n}\"]\ncoefficient = 0.05"
        );
    }
    assert_eq!(faults(&text), Vec::<String>::new());
}

/// Which propagation can answer is told when it is asked.
#[test]
fn correlated_sources_need_not_be_normal_to_be_read() {
    let mut text = sources(2).replace("normal", "rectangular");
    text.push_str("[[correlation]]\nbetween = [\"s0\", \"s1\"]\ncoefficient = 0.5\n");
    assert_eq!(faults(&text), Vec::<String>::new());
}

#[test]
fn texts_are_bounded() {
    let long = format!("# {}\n", "x".repeat(1 << 20));
    let told = faults(&long);
    assert_eq!(told, ["a plan may have 1048576 bytes (got 1048579)"]);
    let readings = format!("x (in)\n{}", "1\n".repeat(9 << 20));
    let refused = read_readings("r.csv", &readings, "x (in)").unwrap_err();
    assert_eq!(
        refused.to_string(),
        "r.csv: a file of readings may have 16 MiB (got 18 MiB)"
    );
}

#[test]
fn a_hundred_thousand_readings_are_read() {
    let readings = format!("x (in)\n{}", "0.125\n".repeat(100_000));
    let column = read_readings("r.csv", &readings, "x (in)").unwrap();
    assert_eq!(column.raw().len(), 100_000);
}

// Any of these could exhaust the stack of a reader that calls itself without a bound.
#[test]
fn deep_nesting_is_a_fault() {
    let deep = [
        format!("a = {}", "[".repeat(10_000)),
        format!("a = {}1{}", "[".repeat(10_000), "]".repeat(10_000)),
        format!("[{}]", vec!["a"; 10_000].join(".")),
        "a = {".repeat(10_000),
        format!(
            "version = 1\ntitle = \"x\"\n[outcome.y]\nexpression = \"{}1{}\"\n",
            "(".repeat(10_000),
            ")".repeat(10_000)
        ),
        format!(
            "version = 1\ntitle = \"x\"\n[outcome.y]\nexpression = \"{}1\"\n",
            "-".repeat(10_000)
        ),
    ];
    for text in deep {
        assert!(!faults(&text).is_empty());
    }
    let part = "mixture = [{ weight = 1, ";
    let mixtures = format!(
        "[source.a]\n{}normal = \"1 thou\"{}\n",
        part.repeat(1000),
        "}]".repeat(1000)
    );
    assert!(!faults(&mixtures).is_empty());
}

#[test]
fn events_are_bounded() {
    let mut text = sources(1);
    for n in 0..101 {
        let _ = writeln!(text, "[event.e{n}]");
    }
    assert_eq!(faults(&text), ["a plan may name 100 events (got 101)"]);
}
