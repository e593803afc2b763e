//! Boxes of one shipment that go by different forwarders, by whole commands.

use std::collections::BTreeMap;
use std::fmt::Write;

use crate::common::{Tiny, json, run};
use serde_json::Value;

/// What two forwarders quote to Savannah: f1 takes 12 t in a box for 1,500 USD and 60 a bill of
/// lading, f2 takes 26 t for 2,000 and 90. Haulage is 500 and a fifth of it.
const FREIGHT: &str = r#"
[[charge]]
lane = "TRIZM-USSAV"
container = "20gp"
name = "ocean freight"
leg = "main carriage"
amount = "1500 USD"
per = "container"
offer = "f1"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[charge]]
lane = "TRIZM-USSAV"
container = "20gp"
name = "ocean freight"
leg = "main carriage"
amount = "2000 USD"
per = "container"
offer = "f2"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[charge]]
lane = "TRIZM-USSAV"
name = "bunker surcharge"
leg = "main carriage"
rate = "10 %"
of = "ocean freight"
offer = "f2"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[charge]]
lane = "TRIZM-USSAV"
name = "document fee"
leg = "main carriage"
amount = "60 USD"
per = "bill of lading"
offer = "f1"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[charge]]
lane = "TRIZM-USSAV"
name = "document fee"
leg = "main carriage"
amount = "90 USD"
per = "bill of lading"
offer = "f2"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[charge]]
lane = "TRIZM-USSAV"
name = "manifest filing"
leg = "main carriage"
amount = "25 USD"
per = "bill of lading"
valid = "2026-03-01..2026-06-30"
source = "invented"
[[limit]]
lane = "TRIZM-USSAV"
container = "20gp"
name = "f1's cap"
cargo = "12 t"
kind = "carrier"
offer = "f1"
valid = "2026-03-01..2026-06-30"
source = "invented"
"#;

/// Six bundles of 4,500 kg: two go in a box of f1, four in one of f2, where the road stops a fifth.
fn workspace(asked: &str) -> Tiny {
    let tiny = Tiny::new();
    let mut list = String::from("slab,bundle,length (cm),height (cm),weighed mass (kg)\n");
    for bundle in ["A", "B", "C", "D", "E", "F"] {
        for slab in 1..=7 {
            writeln!(list, "{bundle}-{slab},{bundle},270,180,4500").unwrap();
        }
    }
    tiny.write("shipments/plain/packing.csv", &list);
    let old = "[[charge]]\nlane = \"TRIZM-USSAV\"\ncontainer = \"20gp\"\nname = \"ocean freight\"\nleg = \"main carriage\"\namount = \"2000 USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n";
    tiny.replace("rates/freight.toml", old, "");
    tiny.append("rates/freight.toml", FREIGHT);
    tiny.replace("shipments/plain/shipment.toml", "to = \"savannah\"\n", asked);
    tiny
}

const ANY: &str = "to = \"savannah\"\n";

fn cents(value: &Value) -> i64 {
    value.as_str().unwrap().replace('.', "").parse().unwrap()
}

/// The freight offer and the bundles of each container.
fn boxes(load: &Value) -> Vec<(&str, usize)> {
    let containers = load["containers"].as_array().unwrap().iter();
    containers
        .map(|one| {
            let offer = one["offers"][0]["offer"].as_str().unwrap();
            (offer, one["bundles"].as_array().unwrap().len())
        })
        .collect()
}

#[test]
fn a_cheap_small_box_beside_a_dear_large_one() {
    let tiny = workspace(ANY);
    let load = json(&tiny, &["load", "plain"]);
    let mut found = boxes(&load);
    found.sort_unstable();
    assert_eq!(found, [("f1", 2), ("f2", 4)]);
    // 1,500 and 600; 2,000, 200 and 600.
    assert_eq!((load["cost"].as_str(), load["proof"].as_str()), (Some("4900.00"), Some("proven")));

    let cost = json(&tiny, &["cost", "plain"]);
    let mut sums: BTreeMap<&str, Vec<i64>> = BTreeMap::new();
    for charge in cost["charges"].as_array().unwrap() {
        sums.entry(charge["name"].as_str().unwrap()).or_default().push(cents(&charge["amount"]));
    }
    for amounts in sums.values_mut() {
        amounts.sort_unstable();
    }
    assert_eq!(sums["ocean freight"], [150_000, 200_000]);
    // A tenth of f2's freight alone; a fee and a filing for each forwarder's bill.
    assert_eq!(sums["bunker surcharge"], [20_000]);
    assert_eq!(sums["document fee"], [6_000, 9_000]);
    assert_eq!(sums["manifest filing"], [2_500, 2_500]);

    // The fee of f1's bill lies on the slabs in f1's box and on no other: 60 USD over 14 like slabs.
    let containers = load["containers"].as_array().unwrap();
    let of_f1 = containers.iter().find(|one| one["offers"][0]["offer"] == "f1").unwrap();
    let inside: Vec<&str> = of_f1["bundles"]
        .as_array()
        .unwrap()
        .iter()
        .map(|b| b["bundle"].as_str().unwrap())
        .collect();
    let charges = cost["charges"].as_array().unwrap();
    let fee = charges
        .iter()
        .position(|one| one["name"] == "document fee" && one["amount"] == "60.00")
        .unwrap();
    let mut borne = 0;
    for slab in cost["slabs"].as_array().unwrap() {
        let own = slab["charges"].as_array().unwrap().iter().find(|share| share["charge"] == fee);
        assert_eq!(own.is_some(), inside.contains(&slab["bundle"].as_str().unwrap()));
        if let Some(own) = own {
            assert!((428..=429).contains(&cents(&own["amount"])));
            borne += cents(&own["amount"]);
        }
    }
    assert_eq!(borne, 6_000);
}

#[test]
fn several_forwarders_serve_only_where_they_land_cheaper() {
    let mixed = json(&workspace(ANY), &["cost", "plain"]);
    // By f2 alone: two boxes, one bill. 2 x 2,800 + 90 + 25 against 4,900 + 150 + 50.
    let f2 = "to = \"savannah\"\noffers = { freight = \"f2\" }\n";
    let alone = json(&workspace(f2), &["cost", "plain"]);
    let freight = |cost: &Value| -> i64 {
        let own = cost["charges"].as_array().unwrap().iter();
        let carried = own.filter(|charge| {
            ["main carriage", "on-carriage"].contains(&charge["leg"].as_str().unwrap())
        });
        carried.map(|charge| cents(&charge["book_amount"])).sum()
    };
    assert_eq!((freight(&mixed), freight(&alone)), (510_000, 571_500));

    // A filing of 700 USD a bill: one bill more costs more than the dearer box.
    let dear = workspace(ANY);
    dear.replace("rates/freight.toml", "amount = \"25 USD\"", "amount = \"700 USD\"");
    let load = json(&dear, &["load", "plain"]);
    assert_eq!(boxes(&load), [("f2", 3), ("f2", 3)]);

    // Pinned to both, boxes may go by either; to one, by that alone.
    let both = "to = \"savannah\"\noffers = { freight = [\"f2\", \"f1\"] }\n";
    let pinned = json(&workspace(both), &["cost", "plain"]);
    assert_eq!(pinned["total"], mixed["total"]);
}

#[test]
fn boxes_of_an_offer_run_out() {
    let with = |f1: u32, f2: u32| {
        let had = |offer: &str, count: u32| {
            format!(
                "[[load.available]]\ntype = \"20gp\"\noffers = {{ freight = \"{offer}\" }}\ncount = {count}\n"
            )
        };
        let tiny = workspace(ANY);
        let asked = format!("\n{}{}", had("f1", f1), had("f2", f2));
        tiny.append("shipments/plain/shipment.toml", &asked);
        tiny
    };
    assert_eq!(boxes(&json(&with(0, 2), &["load", "plain"])), [("f2", 3), ("f2", 3)]);
    let mut found = json(&with(2, 1), &["load", "plain"]);
    assert_eq!(boxes(&found).len(), 2);
    found = json(&with(3, 0), &["load", "plain"]);
    assert_eq!(boxes(&found), [("f1", 2), ("f1", 2), ("f1", 2)]);
    let none = run(with(2, 0).path(), &["load", "plain"]);
    let said = String::from_utf8(none.stderr).unwrap();
    assert_eq!(none.status.code(), Some(3));
    assert!(said.contains("6 bundles need 3 containers at least, and 2 may be had"), "{said}");
    assert!(said.contains("4 go") || said.contains("go and"), "{said}");
}

#[test]
fn a_frozen_plan_keeps_its_forwarders() {
    let tiny = workspace(ANY);
    let before = json(&tiny, &["cost", "plain"]);
    let plan = tiny.path().join("shipments/plain/plan.toml");
    let frozen = run(tiny.path(), &["load", "plain", "--freeze", plan.to_str().unwrap()]);
    assert!(frozen.status.success(), "{}", String::from_utf8_lossy(&frozen.stderr));
    let load = json(&tiny, &["load", "plain"]);
    assert_eq!(load["proof"], "given");
    let mut found = boxes(&load);
    found.sort_unstable();
    assert_eq!(found, [("f1", 2), ("f2", 4)]);
    assert_eq!(json(&tiny, &["cost", "plain"])["total"], before["total"]);
    // A given load that does not say what its boxes go by is booked by one forwarder.
    let text = std::fs::read_to_string(&plan).unwrap();
    let silent: String = text
        .lines()
        .filter(|line| !line.starts_with("offers"))
        .fold(String::new(), |all, line| all + line + "\n");
    tiny.write("shipments/plain/plan.toml", &silent);
    assert_eq!(boxes(&json(&tiny, &["load", "plain"])), [("f2", 2), ("f2", 4)]);
}

#[test]
fn a_dear_bill_keeps_a_third_forwarder_out() {
    let tiny = workspace(ANY);
    // A box of f3 is ten dollars cheaper than one of f1; its bill costs 440 more.
    let third = |name: &str, rest: &str| {
        format!(
            "[[charge]]\nlane = \"TRIZM-USSAV\"\nname = \"{name}\"\nleg = \"main carriage\"\n{rest}\n\
             offer = \"f3\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n"
        )
    };
    let box_of_f3 = "container = \"20gp\"\namount = \"1490 USD\"\nper = \"container\"";
    let cap = "[[limit]]\nlane = \"TRIZM-USSAV\"\ncontainer = \"20gp\"\nname = \"f3's cap\"\n\
               cargo = \"12 t\"\nkind = \"carrier\"\noffer = \"f3\"\n\
               valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n";
    tiny.append("rates/freight.toml", &third("ocean freight", box_of_f3));
    let fee = "amount = \"500 USD\"\nper = \"bill of lading\"";
    tiny.append("rates/freight.toml", &(third("document fee", fee) + cap));
    let load = json(&tiny, &["load", "plain"]);
    let mut found = boxes(&load);
    found.sort_unstable();
    assert_eq!(found, [("f1", 2), ("f2", 4)]);
}

#[test]
fn a_broken_wish_counts_where_offers_are_compared() {
    let load = |asked: &str| {
        let tiny = workspace(ANY);
        // Two boxes of f1 for 2 x 1,300 and 60 land below one of f2 for 2,800 and 90.
        tiny.replace("rates/freight.toml", "amount = \"1500 USD\"", "amount = \"700 USD\"");
        let mut list =
            String::from("slab,bundle,block,length (cm),height (cm),weighed mass (kg)\n");
        for bundle in ["A", "B", "C", "D"] {
            for slab in 1..=7 {
                writeln!(list, "{bundle}-{slab},{bundle},K1,270,180,4500").unwrap();
            }
        }
        tiny.write("shipments/plain/packing.csv", &list);
        tiny.append("shipments/plain/shipment.toml", asked);
        json(&tiny, &["load", "plain"])
    };
    assert_eq!(boxes(&load("")), [("f1", 2), ("f1", 2)]);
    let kept = load("\n[load]\nblocks = \"400.00 USD\"\n");
    assert_eq!(boxes(&kept), [("f2", 4)]);
    assert_eq!(kept["broken_wishes"], "0.00");
}

#[test]
fn a_plan_and_a_pin_that_disagree_are_named() {
    let tiny = workspace("to = \"savannah\"\noffers = { freight = \"f2\" }\n");
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\noffers = { freight = \"f1\" }\n\
                bundles = [\"A\", \"B\", \"C\", \"D\", \"E\", \"F\"]\n";
    tiny.write("shipments/plain/plan.toml", plan);
    let output = run(tiny.path(), &["load", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(said.contains("box 1: the offers asked for have no rates here"), "{said}");
    assert!(said.contains("plan.toml:4:"), "{said}");
}

#[test]
fn a_box_that_names_no_offer_takes_what_is_left() {
    let tiny = workspace(ANY);
    let had = "\n[[load.available]]\ntype = \"20gp\"\noffers = { freight = \"f2\" }\ncount = 1\n";
    tiny.append("shipments/plain/shipment.toml", had);
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"A\", \"B\"]\n\
                [[container]]\ncontainer = \"2\"\ntype = \"20gp\"\n\
                offers = { freight = \"f2\" }\nbundles = [\"C\", \"D\", \"E\", \"F\"]\n";
    tiny.write("shipments/plain/plan.toml", plan);
    assert_eq!(boxes(&json(&tiny, &["load", "plain"])), [("f1", 2), ("f2", 4)]);
}
