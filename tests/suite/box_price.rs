//! What the loader counts for a box is what `cost` bills for it, whatever the row is like.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::common::{Tiny, json};
use serde_json::Value;

/// Rows counted by the box on the way to Savannah beside the freight of 2,000, the haulage of 500 and
/// its fuel of a fifth; each with what it comes to for one box, in cents.
const ROWS: [(&str, &str, i64); 8] = [
    // A tenth of 500 is below its floor.
    ("gate", "rate = \"10 %\"\nof = \"haulage\"\nminimum = \"80 USD\"", 8_000),
    // A half of 500 is above its cap.
    ("peak", "rate = \"50 %\"\nof = \"haulage\"\nmaximum = \"120 USD\"", 12_000),
    // A quarter of what the cap left.
    ("peak tax", "rate = \"25 %\"\nof = \"peak\"", 3_000),
    ("toll", "amount = \"7 USD\"\neach = \"150 USD\"\nof = \"haulage\"\npart = \"whole\"", 2_800),
    // Delivered on the 12th of May, returned on the 15th.
    (
        "hire",
        "amount = \"15 USD\"\nper = \"day\"\nscope = \"container\"\ndays = \"delivered..returned\"",
        4_500,
    ),
    (
        "plug",
        "amount = \"4 USD\"\nper = \"container\"\ndays = \"delivered..returned\"\nfree-days = 1",
        800,
    ),
    // It comes back.
    ("deposit", "amount = \"300 USD\"\nper = \"container\"\ntreatment = \"recoverable\"", 0),
    // By what is in it, which no loader knows beforehand.
    ("weighing", "amount = \"1 USD\"\nper = \"tonne\"\nscope = \"container\"", 0),
];

fn workspace() -> Tiny {
    let tiny = Tiny::new();
    let mut rows = String::new();
    for (name, price, _) in ROWS {
        let head = "[[charge]]\nyard = \"savannah\"\nleg = \"on-carriage\"\n\
                    valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n";
        writeln!(rows, "{head}name = \"{name}\"\n{price}").unwrap();
    }
    tiny.append("rates/drayage.toml", &rows);
    let days = "arrives = 2026-05-09, delivered = 2026-05-12, returned = 2026-05-15 }";
    tiny.replace("shipments/plain/shipment.toml", "arrives = 2026-05-09 }", days);
    tiny
}

fn cents(value: &Value) -> i64 {
    value.as_str().unwrap().replace('.', "").parse().unwrap()
}

#[test]
fn a_box_costs_what_is_billed_for_it() {
    let tiny = workspace();
    let load = json(&tiny, &["load", "plain"]);
    let containers = load["containers"].as_array().unwrap();
    let mut counted: BTreeMap<&str, i64> = BTreeMap::new();
    for part in containers.iter().flat_map(|one| one["cost_parts"].as_array().unwrap()) {
        *counted.entry(part["name"].as_str().unwrap()).or_default() += cents(&part["amount"]);
    }
    let boxes = i64::try_from(containers.len()).unwrap();
    for (name, _, each) in ROWS {
        assert_eq!(counted.get(name).copied().unwrap_or(0), each * boxes, "{name}");
    }
    let own: i64 = ROWS.iter().map(|(_, _, each)| each).sum();
    assert_eq!(cents(&load["cost"]), (200_000 + 50_000 + 10_000 + own) * boxes);

    let cost = json(&tiny, &["cost", "plain"]);
    let mut billed: BTreeMap<&str, i64> = BTreeMap::new();
    for charge in cost["charges"].as_array().unwrap() {
        let name = charge["name"].as_str().unwrap();
        *billed.entry(name).or_default() += cents(&charge["book_amount"]);
    }
    for (name, amount) in &counted {
        assert_eq!(billed.get(name), Some(amount), "{name}");
    }
}
