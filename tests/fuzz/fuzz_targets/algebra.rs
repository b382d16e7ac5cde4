//! Any text as algebra over three sources: an error, or an expression that prints and reads back.
#![no_main]

use kerfwise_source::{LengthUnits, Source};
use kerfwise_stack::Expr;
use libfuzzer_sys::fuzz_target;
use std::sync::OnceLock;

static SOURCES: OnceLock<Vec<Source>> = OnceLock::new();

fuzz_target!(|text: &str| {
    let sources = SOURCES.get_or_init(|| {
        ["a", "b", "kerf"]
            .map(|name| Source::new(name, 0.25.inch()).normal(1.0.thou()).build().expect("valid"))
            .to_vec()
    });
    if let Ok(expr) = Expr::parse(text, sources) {
        let printed = expr.to_string();
        let again = Expr::parse(&printed, sources).expect("what is printed reads back");
        assert_eq!(again.to_string(), printed);
    }
});
