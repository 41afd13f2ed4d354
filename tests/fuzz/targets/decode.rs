#![no_main]

#[path = "../inputs.rs"]
#[allow(dead_code, reason = "each target uses its own part")]
mod inputs;

libfuzzer_sys::fuzz_target!(
    // The reader turns a panic of the decoding library into an error; libFuzzer's own hook would end
    // the run before that. A panic that leaves the reader still counts as a find.
    init: std::panic::set_hook(Box::new(|_| {})),
    |bytes: &[u8]| inputs::decode(bytes)
);
