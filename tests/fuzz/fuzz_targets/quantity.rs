//! Any text as a quantity: an error or a quantity that prints and reads back to the same.
#![no_main]

use kerfwise_source::Quantity;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    if let Ok(quantity) = text.parse::<Quantity>() {
        assert!(quantity.raw().is_finite());
        let again: Quantity = quantity.to_string().parse().expect("what is printed reads back");
        assert_eq!(again, quantity);
    }
});
