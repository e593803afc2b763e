//! Invented shipments, one folder each, with the load given: the same every time.

use std::fmt::Write;
use std::fs;
use std::io;
use std::path::Path;

/// Slabs in a shipment, in a bundle, and bundles in a box.
pub(crate) const SLABS: usize = 300;
const IN_BUNDLE: usize = 8;
const IN_BOX: usize = 5;

/// Writes so many shipments into a workspace that has the demo's rates.
pub(crate) fn write(workspace: &Path, shipments: usize) -> io::Result<()> {
    // A small congruential generator, so that the sizes differ and never change.
    let mut state = 12_345_u64;
    let mut next = || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        state
    };
    for number in 1..=shipments {
        let folder = workspace.join("shipments").join(name(number));
        fs::create_dir_all(&folder)?;
        fs::write(folder.join("shipment.toml"), shipment(number))?;
        fs::write(folder.join("packing.csv"), packing(&mut next))?;
    }
    Ok(())
}

/// The name of a shipment.
pub(crate) fn name(number: usize) -> String {
    format!("history-{number:05}")
}

fn shipment(number: usize) -> String {
    format!(
        r#"# Invented by a generator.
to = "savannah"
containers = ["20gp"]
dates = {{ quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }}
[[invoice]]
supplier = "Quarry Abacus (invented)"
number = "AB-{number}"
term = "FOB TRIZM"
price-valid = "2026-03-01..2026-04-15"
[[invoice.line]]
id = "A"
stone = "teapot-white"
finish = "polished"
thickness = "20 mm"
price = "46.00 EUR/m2"
measure = {{ take-off = {{ length = "5 cm", height = "4 cm" }}, places = 3 }}
"#
    )
}

fn packing(next: &mut impl FnMut() -> u64) -> String {
    let mut text = String::from("slab,bundle,container,length (cm),height (cm),block\n");
    for slab in 0..SLABS {
        let state = next();
        // Two bundles stand one behind the other, so that the floor bears what is in a box.
        let length = 240 + (state >> 33) % 40;
        let height = 165 + (state >> 45) % 30;
        let bundle = slab / IN_BUNDLE;
        writeln!(
            text,
            "S{slab:03},B{bundle:02},{},{length}.{},{height}.{},K{}",
            bundle / IN_BOX + 1,
            (state >> 20) % 10,
            (state >> 24) % 10,
            bundle / 4
        )
        .expect("writing to a string");
    }
    text
}
