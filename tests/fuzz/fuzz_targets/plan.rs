//! A plan.toml of any bytes.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    quaystone_fuzz::run(&[("shipments/plain/plan.toml", data)]);
});
