//! The program against a second reading of the rules: tests/oracle/landed.py works every landed
//! cost out on its own, and what it found is kept in tests/oracle/. This test needs no Python.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

type Fault = Box<dyn std::error::Error>;

/// Runs a command of the program and reads what it prints.
fn run(dir: &Path, command: &str, shipment: &str) -> Result<Value, Fault> {
    let output = Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .arg("--dir")
        .arg(dir)
        .args([command, shipment, "--as", "json"])
        .output()?;
    if !output.status.success() {
        return Err(String::from_utf8_lossy(&output.stderr).into());
    }
    Ok(serde_json::from_slice(&output.stdout)?)
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or("")
}

/// An amount with two decimals as whole cents.
fn cents(value: &Value, key: &str) -> i64 {
    text(value, key).replace('.', "").parse().unwrap_or(i64::MAX)
}

/// The keys that two rows must share, one row to a text.
fn rows(value: &Value, key: &str, keys: &[&str]) -> Vec<String> {
    let row = |one: &Value| keys.iter().map(|key| text(one, key)).collect::<Vec<_>>().join(" | ");
    list(value, key).iter().map(row).collect()
}

/// Which bundles share a box: what the second reading took from the program.
fn boxes(value: &Value) -> BTreeMap<&str, Vec<&str>> {
    let mut boxes = BTreeMap::new();
    for one in list(value, "containers") {
        let bundles = list(one, "bundles").iter();
        let mut names: Vec<&str> =
            bundles.map(|b| b.as_str().unwrap_or_else(|| text(b, "bundle"))).collect();
        names.sort_unstable();
        names.push(text(one, "type"));
        boxes.insert(text(one, "container"), names);
    }
    boxes
}

/// Slabs sum to the total, and so do the stock charges; each slab sums its charges.
fn feet(cost: &Value, name: &str) {
    let total = cents(cost, "total");
    let slabs: i64 = list(cost, "slabs").iter().map(|slab| cents(slab, "cost")).sum();
    assert_eq!(slabs, total, "{name}: slabs and total");
    let stock = list(cost, "charges").iter().filter(|charge| text(charge, "treatment") == "stock");
    let booked: i64 = stock.map(|charge| cents(charge, "book_amount")).sum();
    assert_eq!(booked, total, "{name}: stock charges and total");
    for slab in list(cost, "slabs") {
        let own: i64 = list(slab, "charges").iter().map(|share| cents(share, "amount")).sum();
        assert_eq!(own, cents(slab, "cost"), "{name}: the charges of slab {}", text(slab, "slab"));
    }
}

/// What every slab, bundle and box bears is its exact total rounded down or up.
fn rounded(cost: &Value, kept: &Value, name: &str) {
    let within = |own: i64, one: &Value| {
        let what = format!("{name}: {own} of {one}");
        assert!((cents(one, "least")..=cents(one, "most")).contains(&own), "{what}");
    };
    let mut sums: BTreeMap<(&str, &str), i64> = BTreeMap::new();
    for (slab, kept) in list(cost, "slabs").iter().zip(list(kept, "slabs")) {
        let own = cents(slab, "cost");
        within(own, kept);
        for group in ["bundle", "container"] {
            *sums.entry((group, text(slab, group))).or_default() += own;
        }
    }
    for (list_of, group) in [("bundles", "bundle"), ("boxes", "container")] {
        for one in list(kept, list_of) {
            within(sums.get(&(group, text(one, group))).copied().unwrap_or(0), one);
        }
    }
}

/// Every fixture of a folder against the workspace it was worked out from.
fn agree(workspace: &str, fixtures: &str) -> Result<(), Fault> {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let dir = home.join(workspace);
    let mut shipments = 0;
    for entry in fs::read_dir(dir.join("shipments"))? {
        let name = entry?.file_name().to_string_lossy().into_owned();
        let fixture = home.join(fixtures).join(format!("{name}.json"));
        let kept = fs::read(&fixture)
            .map_err(|_| format!("{name} has no fixture: see tests/oracle/README.md"))?;
        let kept: Value = serde_json::from_slice(&kept)?;
        let load = run(&dir, "load", &name)?;
        assert_eq!(
            boxes(&load),
            boxes(&kept),
            "{name} is loaded otherwise than when the fixture was written: see tests/oracle/README.md"
        );
        let cost = run(&dir, "cost", &name)?;
        let charge =
            ["leg", "name", "scope", "of", "key", "amount", "currency", "book_amount", "treatment"];
        let mut charges = [rows(&cost, "charges", &charge), rows(&kept, "charges", &charge)];
        for list in &mut charges {
            list.sort_unstable();
        }
        assert_eq!(charges[0], charges[1], "{name}: charges");
        let slab = ["slab", "bundle", "billed_area_m2"];
        assert_eq!(rows(&cost, "slabs", &slab), rows(&kept, "slabs", &slab), "{name}: slabs");
        rounded(&cost, &kept, &name);
        for total in ["total", "decision_total"] {
            assert_eq!(text(&cost, total), text(&kept, total), "{name}: {total}");
        }
        feet(&cost, &name);
        shipments += 1;
    }
    assert!(shipments > 0, "no shipment in {workspace}");
    Ok(())
}

#[test]
fn the_demo_agrees_with_the_second_reading() -> Result<(), Fault> {
    agree(".", "tests/oracle")
}

#[test]
fn the_small_workspace_agrees_with_the_second_reading() -> Result<(), Fault> {
    agree("tests/tiny", "tests/oracle/tiny")
}
