//! Whole commands: what a user sees, and the contract with scripts.
//!
//! `SNAPSHOTS=overwrite cargo test --test commands` rewrites `tests/snapshots/`; read the change
//! before you commit it.

use crate::common::{DEMO, Tiny, demo, run, stdout};
use serde_json::Value;
use snapbox::{Data, assert_data_eq};

/// Shipments of the demo whose books are in another currency than the rest.
const ABROAD: [&str; 4] = [
    "pink-granite-halifax",
    "white-marble-felixstowe",
    "white-marble-melbourne",
    "white-marble-rotterdam",
];

pub(crate) fn snapshot(name: &str, actual: String) {
    let path = demo().join("tests/snapshots").join(name);
    assert_data_eq!(actual, Data::read_from(&path, None).raw());
}

#[test]
fn one_cost_in_every_form() {
    let tiny = demo().join("tests/tiny");
    for form in ["text", "markdown", "html", "csv", "json"] {
        snapshot(&format!("tiny-cost.{form}.txt"), stdout(&tiny, &["cost", "plain", "--as", form]));
    }
    let us = stdout(&tiny, &["cost", "plain", "--by", "bundle", "--units", "us"]);
    snapshot("tiny-cost-us.txt", us);
}

#[test]
fn one_load_in_other_forms() {
    let tiny = demo().join("tests/tiny");
    for form in ["csv", "json"] {
        let args = ["load", "two-boxes", "--as", form];
        snapshot(&format!("two-boxes-load.{form}.txt"), stdout(&tiny, &args));
    }
    let us = ["load", "two-boxes", "--units", "us"];
    snapshot("two-boxes-load-us.txt", stdout(&tiny, &us));
}

#[test]
fn what_the_demo_prints() {
    for name in DEMO {
        snapshot(&format!("{name}-cost.txt"), stdout(&demo(), &["cost", name, "--by", "bundle"]));
        snapshot(&format!("{name}-load.txt"), stdout(&demo(), &["load", name]));
    }
    for name in ABROAD.into_iter().chain(["white-marble-ddp"]) {
        snapshot(&format!("{name}-worksheet.txt"), stdout(&demo(), &["worksheet", name]));
    }
    let tiny = demo().join("tests/tiny");
    snapshot("two-entries-worksheet.txt", stdout(&tiny, &["worksheet", "two-entries"]));
    let vat = ["explain", "white-marble-rotterdam", "A-B1-1", "--full"];
    snapshot("explain-vat.txt", stdout(&demo(), &vat));
    let offers = ["compare", "white-marble-spring", "white-marble-cif"];
    snapshot("compare.txt", stdout(&demo(), &offers));
    let asked = ["counter", "white-marble-cif", "--against", "white-marble-spring"];
    snapshot("counter.txt", stdout(&demo(), &asked));
    let slab = ["explain", "white-marble-spring", "410-01"];
    snapshot("explain.txt", stdout(&demo(), &slab));
    let freight = [&slab[..], &["ocean freight"]].concat();
    snapshot("explain-charge.txt", stdout(&demo(), &freight));
    snapshot("cash.txt", stdout(&demo(), &["cash", "dock-tandem"]));
    for form in ["markdown", "html", "csv", "json"] {
        let args = ["cash", "long-slabs-floor", "--as", form];
        snapshot(&format!("cash.{form}.txt"), stdout(&demo(), &args));
    }
    let both = ["load", "one-week-savannah", "one-week-norfolk"];
    snapshot("together-load.txt", stdout(&demo(), &both));
    snapshot("together-load.json.txt", stdout(&demo(), &[&both[..], &["--as", "json"]].concat()));
    snapshot("saw.txt", stdout(&demo(), &["saw", "white-marble-block"]));
    snapshot("check.txt", stdout(&demo(), &["check"]));
    snapshot("rates.txt", stdout(&demo(), &["rates", "--on", "2026-04-11"]));
}

fn json(args: &[&str]) -> Value {
    let text = stdout(&demo(), &[args, &["--as", "json"]].concat());
    serde_json::from_str(&text).unwrap()
}

/// An amount of the contract, in cents.
fn cents(value: &Value) -> i64 {
    let text = value.as_str().unwrap();
    let (whole, fraction) = text.split_once('.').unwrap();
    assert_eq!(fraction.len(), 2, "{text} is in full minor units");
    format!("{whole}{fraction}").parse().unwrap()
}

#[test]
fn slabs_and_charges_add_up_to_the_total_to_the_cent() {
    for name in DEMO {
        let cost = json(&["cost", name]);
        let total = cents(&cost["total"]);
        let slabs = cost["slabs"].as_array().unwrap();
        assert_eq!(slabs.iter().map(|slab| cents(&slab["cost"])).sum::<i64>(), total, "{name}");
        let charges = cost["charges"].as_array().unwrap();
        let stock = |charge: &&Value| charge["treatment"] == "stock";
        let booked = charges.iter().filter(stock).map(|charge| cents(&charge["book_amount"]));
        assert_eq!(booked.sum::<i64>(), total, "{name}");
        let mut shared = vec![0; charges.len()];
        for slab in slabs {
            let mut own = 0;
            for share in slab["charges"].as_array().unwrap() {
                let amount = cents(&share["amount"]);
                shared[usize::try_from(share["charge"].as_u64().unwrap()).unwrap()] += amount;
                own += amount;
            }
            assert_eq!(own, cents(&slab["cost"]), "{name} {}", slab["slab"]);
        }
        let mut listed = vec![0; charges.len()];
        for (index, charge) in charges.iter().enumerate() {
            assert_eq!(charge["charge"].as_u64().unwrap(), u64::try_from(index).unwrap());
            if charge["treatment"] == "stock" {
                let under = usize::try_from(charge["listed_under"].as_u64().unwrap()).unwrap();
                listed[under] += cents(&charge["book_amount"]);
            }
            assert!(!charge["sources"].as_array().unwrap().is_empty(), "{name} {}", charge["name"]);
        }
        assert_eq!(shared, listed, "{name}");
    }
}

#[test]
fn every_source_is_a_line_that_is_there() {
    for name in DEMO {
        for charge in json(&["cost", name])["charges"].as_array().unwrap() {
            for source in charge["sources"].as_array().unwrap() {
                let file = demo().join(source["file"].as_str().unwrap());
                let text = std::fs::read_to_string(&file).unwrap();
                let line = usize::try_from(source["line"].as_u64().unwrap()).unwrap();
                let line = text.lines().nth(line - 1).unwrap();
                assert!(!line.trim().is_empty(), "{} of {name}: {source}", charge["name"]);
            }
        }
    }
}

#[test]
fn the_explanation_of_every_slab_ends_in_its_cost() {
    for name in DEMO {
        let cost = json(&["cost", name]);
        for slab in cost["slabs"].as_array().unwrap().iter().step_by(29) {
            let id = slab["slab"].as_str().unwrap();
            let text = stdout(&demo(), &["explain", name, id]);
            let last = text.lines().find(|line| line.starts_with("landed ")).unwrap();
            let shown = last.split_whitespace().last().unwrap().replace(',', "");
            assert_eq!(shown, slab["cost"].as_str().unwrap(), "{name} {id}");
        }
    }
}

#[test]
fn tables_foot() {
    // Bundle and container rows are sums of slabs: every breakdown has the same last line.
    for name in DEMO {
        let total = |by: &str| {
            let text = stdout(&demo(), &["cost", name, "--by", by, "--as", "csv"]);
            let mut reader = csv::Reader::from_reader(text.as_bytes());
            let at = reader
                .headers()
                .unwrap()
                .iter()
                .position(|head| head.starts_with("landed "))
                .unwrap();
            let cents =
                |record: csv::StringRecord| record[at].replace('.', "").parse::<i64>().unwrap();
            reader.records().map(|record| cents(record.unwrap())).sum::<i64>()
        };
        let slabs = total("slab");
        for by in ["bundle", "container", "line"] {
            assert_eq!(total(by), slabs, "{name} {by}");
        }
    }
}

/// Those of the demo that pay in parts, by tiers and with interest.
const CHARLESTON: [&str; 3] = ["dock-tandem", "heavy-permit", "long-slabs-floor"];

#[test]
fn payments_foot_with_the_landed_cost_and_with_their_interest() {
    for name in DEMO.into_iter().chain(CHARLESTON) {
        let (cash, cost) = (json(&["cash", name]), json(&["cost", name]));
        assert_eq!(cash["stock"], cost["total"], "{name}");
        let payments = cash["payments"].as_array().unwrap();
        let booked: i64 = payments.iter().map(|one| cents(&one["book_amount"])).sum();
        assert_eq!(booked, cents(&cash["net"]), "{name}");
        let gone = cents(&cash["stock"]) + cents(&cash["period"]) + cents(&cash["recoverable"]);
        assert_eq!(booked, gone - cents(&cash["returned"]), "{name}");
        let days: Vec<&str> = payments.iter().map(|one| one["due"].as_str().unwrap()).collect();
        assert!(days.is_sorted(), "{name}");
        if !cash["interest"].is_null() {
            let own = payments.iter().filter(|one| !one["interest"].is_null());
            let own: i64 = own.map(|one| cents(&one["interest"])).sum();
            assert_eq!(own, cents(&cash["interest"]), "{name}");
        }
        // What is in the currency of the books is paid as it is booked.
        for one in payments.iter().filter(|one| one["currency"] == cash["currency"]) {
            assert_eq!(one["amount"], one["book_amount"], "{name}: {}", one["name"]);
        }
    }
}

#[test]
fn the_load_keeps_its_contract() {
    for name in DEMO {
        let load = json(&["load", name]);
        let proof = load["proof"].as_str().unwrap();
        assert!(
            ["proven", "proven by the limits that are known", "not proven", "given"]
                .contains(&proof),
            "{proof}"
        );
        assert!(cents(&load["lower_bound"]) <= cents(&load["cost"]), "{name}");
        for container in load["containers"].as_array().unwrap() {
            let kg = |key: &str| container[key].as_str().unwrap().parse::<f64>().unwrap();
            assert!(kg("cargo_kg") <= kg("limit_kg"), "{name}: over a limit");
            assert!(kg("cargo_kg") < kg("gross_kg"));
            assert!(container["bundles"].as_array().unwrap().iter().all(|b| b["x_mm"].is_i64()));
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    for args in
        [vec!["cost", "white-marble-spring", "--as", "json"], vec!["load", "blue-quartzite-exw"]]
    {
        assert_eq!(stdout(&demo(), &args), stdout(&demo(), &args));
    }
}

#[test]
fn a_shipment_is_named_by_name_or_path() {
    let by_name = stdout(&demo(), &["cost", "white-marble-spring"]);
    for given in ["shipments/white-marble-spring", "shipments/white-marble-spring/"] {
        assert_eq!(stdout(&demo(), &["cost", given]), by_name, "{given}");
    }
}

#[test]
fn nothing_is_on_stdout_when_there_is_a_fault() {
    let tiny = Tiny::new();
    tiny.replace("rates/freight.toml", "2000 USD", "2000");
    for form in ["text", "csv", "json"] {
        let output = run(tiny.path(), &["cost", "plain", "--as", form]);
        assert_eq!(output.status.code(), Some(1));
        assert!(output.stdout.is_empty());
        assert!(!output.stderr.is_empty());
    }
}
