//! A supplier's list of any bytes: a workbook, a text or neither.
#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    quaystone_fuzz::import(data);
});
