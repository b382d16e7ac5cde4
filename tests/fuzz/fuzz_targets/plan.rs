//! Any text as a plan: a plan or faults, never a panic.
#![no_main]

use kerfwise_plan::Plan;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let read = |_: &str| Ok("kerf (in)\n0.125\n0.126\n0.127\n".to_owned());
    match Plan::parse("fuzz.toml", text, &read) {
        Ok(plan) => assert!(plan.stack().outcomes().count() > 0),
        Err(faults) => assert!(!faults.render(false).is_empty()),
    }
});
