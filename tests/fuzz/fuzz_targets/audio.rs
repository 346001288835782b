#![no_main]
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| concento_fuzz::audio(bytes));
