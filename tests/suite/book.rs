//! What `book` keeps of an estimate: it foots, it is never overwritten, no edit of a rate moves it.

use std::collections::BTreeMap;
use std::fs;

use quaystone::fault::{Report, render};
use quaystone::read::{self, Workspace};
use quaystone::trade::{Freeze, Treatment};
use serde_json::Value;

use crate::common::{DEMO, Tiny, json, run, stdout};

/// The booked estimate of a shipment.
fn booked(tiny: &Tiny, name: &str) -> Freeze {
    let mut report = Report::new();
    let workspace = Workspace::at(tiny.path(), &mut report).unwrap();
    let freeze = read::booked(&workspace, name, read::Workings::Read, &mut report);
    freeze.unwrap_or_else(|_| panic!("{}", render(&report, false))).unwrap()
}

#[test]
fn every_charge_has_a_key_and_its_shares_add_up() {
    for name in DEMO {
        let tiny = Tiny::of_demo(name);
        if !tiny.path().join("shipments").join(name).join("packing.csv").exists() {
            // Books are kept slab by slab: goods without a list wait for it.
            assert_eq!(run(tiny.path(), &["book", name]).status.code(), Some(1), "{name}");
            continue;
        }
        stdout(tiny.path(), &["book", name]);
        let freeze = booked(&tiny, name);
        let cost = json(&tiny, &["cost", name]);
        assert_eq!(freeze.charges.len(), cost["charges"].as_array().unwrap().len(), "{name}");
        let mut keys: Vec<&str> = freeze.charges.iter().map(|one| one.key.as_str()).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), freeze.charges.len(), "{name}: keys are told apart");
        // The charges of a list of shares come to what its slabs bear, and the slabs to what `cost` says.
        let mut slabs = vec![0; freeze.slabs.len()];
        for (at, sharing) in freeze.sharings.iter().enumerate() {
            let own: Vec<_> = freeze.charges.iter().filter(|one| one.sharing == at).collect();
            let sum: i64 = own.iter().map(|one| one.book.minor().unwrap()).sum();
            assert_eq!(sharing.shares.iter().sum::<i64>(), sum, "{name}");
            if own[0].treatment == Treatment::Stock {
                for (slab, share) in sharing.slabs.iter().zip(&sharing.shares) {
                    slabs[*slab] += share;
                }
            }
        }
        let cents =
            |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
        for (slab, minor) in cost["slabs"].as_array().unwrap().iter().zip(slabs) {
            assert_eq!(cents(&slab["cost"]), minor, "{name} {}", slab["slab"]);
        }
    }
}

#[test]
fn no_edit_of_a_rate_moves_what_is_booked() {
    let tiny = Tiny::new();
    stdout(tiny.path(), &["book", "plain"]);
    let files = ["freeze.toml", "charges.csv", "workings.csv", "slabs.csv", "shares.csv"];
    let texts = || files.map(|name| fs::read(tiny.path().join("books/plain").join(name)).unwrap());
    let before = texts();
    assert_eq!(json(&tiny, &["book", "plain"])["changed"], Value::Array(Vec::new()));
    tiny.replace("rates/freight.toml", "2000 USD", "2100 USD");
    let again = json(&tiny, &["book", "plain"]);
    let changed: BTreeMap<&str, &str> = again["changed"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| (one["key"].as_str().unwrap(), one["today"].as_str().unwrap()))
        .collect();
    assert_eq!(changed.get("ocean freight/box 1"), Some(&"2100.00"), "{changed:?}");
    assert_eq!(texts(), before);
    // A slab is explained as it was booked, too: 40.00 EUR a square metre of 5.4 of 14.8 m2 of freight, and so on.
    let shares = json(&tiny, &["explain", "plain", "A1", "--booked"])["shares"].clone();
    let shares = shares.as_array().unwrap();
    let freight = shares.iter().find(|one| one["charges"][0] == "ocean freight/box 1").unwrap();
    // 2,000 x 5.4 / 14.8 = 729.7297...
    assert_eq!((&freight["book_amount"], &freight["share"]), (&"2000.00".into(), &"729.73".into()));
}

#[test]
fn a_freeze_that_was_edited_is_a_fault_and_an_empty_one_can_be_taken_back() {
    let tiny = Tiny::new();
    stdout(tiny.path(), &["book", "plain"]);
    let reverse = || run(tiny.path(), &["book", "plain", "--reverse"]).status.code();
    // An event keeps it booked.
    tiny.write("books/plain/events.toml", "[[event]]\nkind = \"control\"\noccurred = 2026-04-11\n");
    assert_eq!(reverse(), Some(3));
    fs::remove_file(tiny.path().join("books/plain/events.toml")).unwrap();
    assert_eq!(reverse(), Some(0));
    assert!(!tiny.path().join("books/plain").exists());
    assert_eq!(reverse(), Some(2));
    stdout(tiny.path(), &["book", "plain"]);
    tiny.replace("books/plain/shares.csv", ",A1,", ",A9,");
    let output = run(tiny.path(), &["book", "plain"]);
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(told.contains("is not as it was booked"), "{told}");
}

/// B7: textbook case on IAS 21.22. Ordered on 31 March, shipped on 7 April, received on 15 April, paid on 31 May: the
/// transaction is of 7 or 15 April, as the term has it, and of no other day.
#[test]
fn b7_the_day_of_a_purchase_is_the_day_its_term_says() {
    for (term, day) in [("FOB TRIZM", "2026-04-07"), ("DAP USSAV", "2026-04-15")] {
        let tiny = Tiny::new();
        let file = "shipments/plain/shipment.toml";
        tiny.replace(file, "quoted = 2026-03-04", "quoted = 2026-03-31");
        tiny.replace(
            file,
            "sails = 2026-04-11, arrives = 2026-05-09",
            "sails = 2026-04-07, arrives = 2026-04-15",
        );
        tiny.replace(file, "FOB TRIZM", term);
        tiny.replace(file, "dates = ", "lane = \"TRIZM-USSAV\"\ndates = ");
        stdout(tiny.path(), &["book", "plain"]);
        let freeze = booked(&tiny, "plain");
        let goods = freeze.charges.iter().find(|charge| charge.invoice.is_some()).unwrap();
        assert_eq!(goods.owed.to_string(), day, "{term}");
    }
}
