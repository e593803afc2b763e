//! A shipment of many slabs, invented line by line: the same every time.

use std::fmt::Write;
use std::fs;
use std::io;
use std::path::Path;

/// Slabs in a bundle, and bundles in a container.
const SLABS: usize = 8;
const BUNDLES: usize = 7;

/// Writes `shipments/many` with this many slabs into a workspace that has the demo's rates.
pub(crate) fn write(workspace: &Path, slabs: usize) -> io::Result<()> {
    let folder = workspace.join("shipments").join("many");
    fs::create_dir_all(&folder)?;
    fs::write(folder.join("shipment.toml"), SHIPMENT)?;
    fs::write(folder.join("packing.csv"), packing(slabs))
}

const SHIPMENT: &str = r#"# Invented by a generator.
to = "savannah"
containers = ["20-box"]
dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }
[[invoice]]
supplier = "Quarry Abacus (invented)"
number = "AB-1"
term = "FOB TRIZM"
price-valid = "2026-03-01..2026-04-15"
[[invoice.line]]
id = "A"
stone = "teapot-white"
finish = "polished"
thickness = "20 mm"
price = "46.00 EUR/m2"
measure = { take-off = { length = "5 cm", height = "4 cm" }, places = 3 }
"#;

fn packing(slabs: usize) -> String {
    let mut text = String::from("slab,bundle,container,length (cm),height (cm),block\n");
    // A small congruential generator, so that the sizes differ and never change.
    let mut state = 12_345_u64;
    for slab in 0..slabs {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let length = 280 + (state >> 33) % 40;
        let height = 165 + (state >> 45) % 30;
        let bundle = slab / SLABS;
        let container = bundle / BUNDLES;
        let block = bundle / 4;
        writeln!(
            text,
            "S{slab:07},B{bundle:06},{},{length}.{},{height}.{},K{block}",
            container + 1,
            (state >> 20) % 10,
            (state >> 24) % 10
        )
        .expect("writing to a string");
    }
    text
}
