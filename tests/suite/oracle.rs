//! The program against a second reading of the rules: tests/oracle/landed.py works every landed
//! cost out on its own, and what it found is kept in tests/oracle/. This test needs no Python.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

use crate::common::Tiny;

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
        let entry = entry?;
        if !entry.path().is_dir() {
            continue;
        }
        let name = entry.file_name().to_string_lossy().into_owned();
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

/// What the charges of each name, leg and treatment come to, those that come to nothing left out.
fn sums(cost: &Value) -> BTreeMap<String, i64> {
    let mut sums = BTreeMap::new();
    for charge in list(cost, "charges") {
        let [leg, name, treatment] = ["leg", "name", "treatment"].map(|key| text(charge, key));
        let sum = sums.entry(format!("{leg}: {name} ({treatment})")).or_insert(0);
        *sum += cents(charge, "book_amount");
    }
    sums.retain(|_, sum| *sum != 0);
    sums
}

/// A change as `tests/oracle/mutate.py` draws it.
fn change(tiny: &Tiny, change: &[Value]) -> Result<(), Fault> {
    let part = |at: usize| change.get(at).and_then(Value::as_str).unwrap_or("");
    let name = part(1);
    let old = fs::read_to_string(tiny.path().join(name))?;
    let number = |at: usize| change.get(at).and_then(Value::as_u64).map(usize::try_from);
    let new = match part(0) {
        // The nearest line that reads so.
        "line" => {
            let wanted = number(2).ok_or("no line")??;
            let mut lines: Vec<&str> = old.split('\n').collect();
            let places = (0..lines.len()).filter(|at| lines.get(*at) == Some(&part(3)));
            let at = places.min_by_key(|at| at.abs_diff(wanted)).ok_or_else(|| {
                format!("{name} has no line {:?}: see tests/oracle/README.md", part(3))
            })?;
            lines.splice(at..=at, [part(4)]);
            lines.join("\n")
        }
        "add" => old + part(2),
        "before" => old.replacen(part(2), &[part(3), part(2)].concat(), 1),
        // The first rows of a table to its end.
        "turn" => {
            let by = number(2).ok_or("no count")??;
            let mut parts = vec![String::new()];
            for line in old.lines() {
                let begins =
                    line.starts_with('[') && !line.split(']').next().unwrap_or("").contains('.');
                if begins {
                    parts.push(String::new());
                }
                let last = parts.last_mut().ok_or("no part")?;
                *last = [last.as_str(), line, "\n"].concat();
            }
            let rows = parts.get_mut(1..).ok_or("no rows")?;
            rows.rotate_left(by % rows.len().max(1));
            parts.concat()
        }
        other => return Err(format!("no such change: {other}").into()),
    };
    tiny.write(name, &new);
    Ok(())
}

#[test]
fn random_changes_agree_with_the_second_reading() -> Result<(), Fault> {
    let home = Path::new(env!("CARGO_MANIFEST_DIR"));
    let cases: Value = serde_json::from_slice(&fs::read(home.join("tests/oracle/changes.json"))?)?;
    let mut wrong = Vec::new();
    // Every second one, or each where `QUAYSTONE_DRAWN` asks for more.
    let step = if std::env::var_os("QUAYSTONE_DRAWN").is_some() { 1 } else { 2 };
    for (at, case) in cases.as_array().ok_or("no cases")?.iter().enumerate().step_by(step) {
        let (workspace, name) = (text(case, "of"), text(case, "shipment"));
        let tiny = Tiny::of(&home.join(workspace), name);
        for one in list(case, "changes") {
            change(&tiny, one.as_array().ok_or("no change")?)?;
        }
        if let Some(plan) = case["plan"].as_str() {
            tiny.write(&format!("shipments/{name}/plan.toml"), plan);
        }
        // Of the sums only those that differ from the shipment's own are kept.
        let folder = if workspace == "." { "tests/oracle" } else { "tests/oracle/tiny" };
        let base = fs::read(home.join(folder).join(format!("{name}.json")))?;
        let mut wanted = sums(&serde_json::from_slice(&base)?);
        for (key, sum) in case["sums"].as_object().ok_or("no sums")? {
            let sum: i64 = sum.as_str().unwrap_or("").replace('.', "").parse()?;
            wanted.insert(key.clone(), sum);
        }
        wanted.retain(|_, sum| *sum != 0);
        let cost = match run(tiny.path(), "cost", name) {
            Ok(cost) => cost,
            Err(fault) => {
                wrong.push(format!("case {at}, {name}: {fault}"));
                continue;
            }
        };
        let found = sums(&cost);
        for key in found.keys().chain(wanted.keys()) {
            if found.get(key) != wanted.get(key) {
                let (found, wanted) = (found.get(key), wanted.get(key));
                wrong.push(format!("case {at}, {name}: {key}: {found:?}, not {wanted:?}"));
            }
        }
        for total in ["total", "decision_total"] {
            if text(&cost, total) != text(case, total) {
                let (found, wanted) = (text(&cost, total), text(case, total));
                wrong.push(format!("case {at}, {name}: {total} {found}, not {wanted}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    Ok(())
}
