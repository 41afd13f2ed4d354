#![no_main]

#[path = "../inputs.rs"]
#[allow(dead_code, reason = "each target uses its own part")]
mod inputs;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| inputs::import(bytes));
