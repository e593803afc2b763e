//! What results say to scripts and spreadsheets, and how `explain` accounts for a slab.

use crate::common::{Tiny, demo, json, stdout};
use serde_json::Value;

/// Every text of a document that reads like a figure with thousands marks or with its unit.
fn marked(value: &Value, found: &mut Vec<String>) {
    match value {
        // The window of a tier stands as it is written.
        Value::Object(map) => {
            let own = map.iter().filter(|(key, _)| *key != "window");
            own.for_each(|(_, value)| marked(value, found));
        }
        Value::Array(list) => list.iter().for_each(|value| marked(value, found)),
        Value::String(text) => {
            // A tariff number has more points than a figure.
            let figure = |word: &str| {
                word.chars().all(|c| c.is_ascii_digit() || c == '.' || c == ',')
                    && word.matches('.').count() < 2
            };
            let words: Vec<&str> = text.split(' ').collect();
            let with_unit = matches!(&words[..], [one, unit] if figure(one) && !figure(unit));
            if with_unit || (figure(text) && text.contains(',')) {
                found.push(text.clone());
            }
        }
        _ => {}
    }
}

#[test]
fn figures_for_scripts_are_plain_decimals() {
    for args in [
        vec!["cost", "dock-tandem"],
        vec!["explain", "dock-tandem", "620-01"],
        vec!["rates"],
        vec!["check"],
        vec!["load", "dock-tandem"],
    ] {
        let args: Vec<&str> = args.into_iter().chain(["--as", "json"]).collect();
        let value: Value = serde_json::from_str(&stdout(&demo(), &args)).unwrap();
        let mut found = Vec::new();
        marked(&value, &mut found);
        assert!(found.is_empty(), "{args:?}: {found:?}");
    }
}

#[test]
fn what_is_expensed_is_a_share_beside_the_cost() {
    let tiny = Tiny::new();
    let policy = "\n[[policy]]\ncharge = \"cargo insurance\"\ntreatment = \"period\"\nreason = \"invented\"\n";
    tiny.append("shipments/plain/shipment.toml", policy);
    let cost = json(&tiny, &["cost", "plain"]);
    let charges = cost["charges"].as_array().unwrap();
    let insurance = charges.iter().find(|one| one["name"] == "cargo insurance").unwrap();
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let shares: i64 = cost["slabs"]
        .as_array()
        .unwrap()
        .iter()
        .flat_map(|slab| slab["not_in_cost"].as_array().unwrap())
        .filter(|share| share["charge"] == insurance["listed_under"])
        .map(|share| cents(&share["amount"]))
        .sum();
    assert_eq!(shares, cents(&insurance["book_amount"]));
}

#[test]
fn the_parts_that_are_explained_give_the_share() {
    // A bundle of two slabs of 5.4 m2 at 400 EUR, one of them free: the other bears it all.
    let tiny = Tiny::new();
    let shipment = "shipments/plain/shipment.toml";
    tiny.replace(shipment, "40.00 EUR/m2", "400 EUR/bundle");
    tiny.replace(shipment, "price-valid", "free-slabs = [\"A1\"]\nprice-valid");
    let explained = json(&tiny, &["explain", "plain", "A2"]);
    let goods = &explained["charges"][0];
    assert_eq!((&goods["name"], &goods["share"]), (&"goods".into(), &"440.00".into()));
    assert_eq!(goods["key_part"]["slab"], goods["key_part"]["whole"], "{goods}");
    // Where a supplier rounds slab by slab, its amounts are what the slabs weigh.
    let tiny = Tiny::new();
    tiny.append(shipment, "measure = { money = \"slab\" }\n");
    let explained = json(&tiny, &["explain", "plain", "A1"]);
    let part = &explained["charges"][0]["key_part"];
    assert_eq!(part["unit"], "EUR");
    assert_eq!((&part["slab"], &part["whole"]), (&"216.00".into(), &"592.00".into()));
}

#[test]
fn an_amount_is_shown_unrounded_before_it_is_rounded() {
    // 0.9 t at 1,150.55 a tonne: 1,035.495.
    let tiny = Tiny::new();
    let row = "[[charge]]\nname = \"it\"\nleg = \"unloading\"\namount = \"1150.55 USD\"\nper = \"tonne\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n";
    tiny.append("rates/fees.toml", row);
    let text = stdout(tiny.path(), &["explain", "plain", "A1", "it"]);
    assert!(text.contains("1,150.55 USD = 1,035.495, rounded to 1,035.50 USD"), "{text}");
    let explained = json(&tiny, &["explain", "plain", "A1"]);
    let charges = explained["charges"].as_array().unwrap();
    let it = charges.iter().find(|one| one["name"] == "it").unwrap();
    assert_eq!(it["working"]["exact"], "1035.495");
    assert_eq!(it["working"]["each"], "1150.55");
    // The slab's legs come to its cost.
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let legs = explained["legs"].as_array().unwrap().iter().map(|leg| cents(&leg["amount"]));
    assert_eq!(legs.sum::<i64>(), cents(&explained["cost"]));
}

#[test]
fn a_price_by_the_square_foot_is_measured_in_square_feet() {
    let tiny = Tiny::new();
    let shipment = "shipments/plain/shipment.toml";
    std::fs::remove_file(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.replace(shipment, "40.00 EUR/m2", "4.00 EUR/ft2");
    tiny.append(shipment, "quantity = \"420 ft2\"\n");
    let (_, costed) = tiny.cost("plain");
    assert_eq!(costed.landed.charges[0].amount().to_string(), "1,680.00 EUR");
}

#[test]
fn lists_have_one_thing_in_a_cell() {
    let offers = ["compare", "white-marble-spring", "white-marble-cif", "--as", "csv"];
    let compared = stdout(&demo(), &offers);
    let mut lines = compared.lines();
    let heads = "offer,supplier,term,yard,stone,finish,thickness mm,quality,valid until,sails,on the rack,load,what,of,USD,per m2,per ft2,m2,ft2,%,count,kg,price";
    assert_eq!(lines.next(), Some(heads));
    let of = |what: &str| compared.lines().filter(|line| line.contains(what)).count();
    // Two offers of like goods, and goods that one of them holds alone; and the same with boxes full.
    assert_eq!((of(",with finance,"), of(",above the lowest,")), (6, 6));

    let loaded = stdout(&demo(), &["load", "white-marble-spring", "--as", "csv"]);
    let heads = loaded.lines().filter(|line| line.starts_with("container,")).count();
    assert_eq!(heads, 1, "{loaded}");
    assert!(!loaded.contains('"'), "{loaded}");

    let paid = stdout(&demo(), &["cash", "dock-tandem", "--as", "csv"]);
    assert!(paid.contains(",11938.14,EUR,"), "{paid}");
}
