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
        match Expr::parse(&printed, sources) {
            Ok(again) => assert_eq!(again.to_string(), printed),
            // A sign inside is printed in brackets, so the text may be nested deeper than what was read.
            Err(error) => assert!(error.to_string().contains("nested more than"), "{printed}: {error}"),
        }
    }
});
