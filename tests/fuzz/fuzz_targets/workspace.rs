//! Any bytes for several files at once: the byte 255, which no text has, parts them.
#![no_main]

const FILES: [&str; 9] = [
    "shipments/plain/shipment.toml",
    "shipments/plain/packing.csv",
    "shipments/plain/plan.toml",
    "rates/stones.toml",
    "rates/freight.toml",
    "rates/drayage.toml",
    "rates/fees.toml",
    "rates/duty.toml",
    "rates/exchange.toml",
];

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let parts = data.split(|byte| *byte == 255);
    // What is left empty stays as it is.
    let files: Vec<_> = FILES.into_iter().zip(parts).filter(|(_, part)| !part.is_empty()).collect();
    quaystone_fuzz::run(&files);
});
