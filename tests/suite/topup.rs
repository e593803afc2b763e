//! `topup`: what it says a purchase comes to is what `cost` says of the list marked so. That no choice is better
//! is tried by `tests/oracle/topup.py`.

use std::fmt::Write;

use quaystone::quantity::Decimal;
use serde_json::Value;

use crate::common::{Tiny, demo, json, run, stdout};

const LIST: &str = "shipments/plain/packing.csv";

/// Bundles of two slabs: name, length, height, block, set, word.
type Listed = (&'static str, u32, u32, &'static str, &'static str, &'static str);

const BUNDLES: [Listed; 6] = [
    ("B1", 300, 180, "K1", "", "keep"),
    ("B2", 290, 170, "K1", "", "open"),
    ("B3", 280, 175, "K2", "M", "open"),
    ("B4", 285, 175, "K2", "M", "open"),
    ("B5", 250, 160, "K2", "", "open"),
    ("B6", 300, 190, "K3", "", "no"),
];

/// A list of bundles, each with the word that is given for it.
fn list(word: impl Fn(&Listed) -> &'static str) -> String {
    let mut text = "slab,bundle,length (cm),height (cm),block,match,take\n".to_owned();
    for own in &BUNDLES {
        let (name, length, height, block, set, _) = own;
        for slab in 1..=2 {
            let take = word(own);
            writeln!(text, "{name}-{slab},{name},{length},{height},{block},{set},{take}").unwrap();
        }
    }
    text
}

fn tiny() -> Tiny {
    let tiny = Tiny::new();
    tiny.write(LIST, &list(|own| own.5));
    tiny
}

fn names(of: &Value) -> Vec<&str> {
    of.as_array().unwrap().iter().map(|name| name.as_str().unwrap()).collect()
}

#[test]
fn a_purchase_comes_to_what_cost_says_of_the_list_marked_so() {
    let tiny = tiny();
    for asked in [&[][..], &["--most-area"], &["--of-a-block", "1"]] {
        tiny.write(LIST, &list(|own| own.5));
        let words = [&["topup", "plain", "--footing", "gross"][..], asked].concat();
        let said = json(&tiny, &words);
        let bought = names(&said["best"]["bundles"]);
        assert!(bought.contains(&"B1") && !bought.contains(&"B6"), "{bought:?}");
        assert_eq!(bought.contains(&"B3"), bought.contains(&"B4"), "a set is torn: {bought:?}");
        tiny.write(LIST, &list(|own| if bought.contains(&own.0) { "keep" } else { "no" }));
        let cost = json(&tiny, &["cost", "plain"]);
        assert_eq!(said["best"]["decision"], cost["decision_total"], "{asked:?}");
        // What is left out is as if it were not on the list.
        let whole = list(|own| own.5);
        let kept = whole.lines().enumerate();
        let kept =
            kept.filter(|(at, row)| *at == 0 || bought.contains(&row.split(',').nth(1).unwrap()));
        let rows: Vec<&str> = kept.map(|(_, row)| row.rsplit_once(',').unwrap().0).collect();
        tiny.write(LIST, &(rows.join("\n") + "\n"));
        assert_eq!(json(&tiny, &["cost", "plain"])["decision_total"], cost["decision_total"]);
    }
}

#[test]
fn a_bundle_adds_its_goods_duty_and_fees_and_no_box() {
    // B5 has two slabs of 2.50 x 1.60 m, 8.00 m2 at 40.00 EUR: 320.00 EUR are 352.00 USD at 1.10, and by the
    // certified rate of 1.0846 a customs value of 347.07, which is entered in whole dollars. Duty 2.5 % is 8.68
    // and the harbor fee 0.125 % 0.43; the processing fee is at its least. Unloading is 30.00, insurance 0.30 %
    // of 110 % of the goods 1.16. In all 392.27; the dollar moves duty and fee by 0.03 at most, each of three
    // rounded sums by a cent.
    let tiny = tiny();
    let said = json(&tiny, &["topup", "plain", "--footing", "gross", "--most-area"]);
    let choices = said["choices"].as_array().unwrap();
    let own = choices.iter().find(|one| names(&one["bundles"]) == ["B5"]).unwrap();
    assert_eq!(own["goods"], "352.00");
    let more: Decimal = own["more"].as_str().unwrap().parse().unwrap();
    assert!((Decimal::new(39_221, 2)..=Decimal::new(39_233, 2)).contains(&more), "{more}");
}

#[test]
fn what_cannot_be_bought_is_a_no_with_its_reason() {
    let tiny = tiny();
    let no = |words: &[&str]| {
        let output = run(tiny.path(), &[&["topup", "plain"], words].concat());
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(3), "{words:?}: {said}");
        said
    };
    assert!(no(&["--budget", "100 USD"]).contains("more than 100.00 USD"));
    tiny.write(LIST, &list(|own| if own.0 == "B3" { "no" } else { "keep" }));
    assert!(no(&[]).contains("the book-matched set M has a bundle that is taken"));
    tiny.write(LIST, &list(|own| if own.0 == "B1" { "keep" } else { "no" }));
    assert!(no(&[]).contains("no bundle is open"));
    tiny.write(LIST, &list(|_| "open"));
    assert!(no(&[]).contains("say which boxes to fill"));
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(said.contains("the list has no bundle that is taken"), "{said}");
}

#[test]
fn more_of_the_list_reaches_a_least_order() {
    let tiny = tiny();
    tiny.replace(
        "shipments/plain/shipment.toml",
        "[[invoice.line]]",
        "least = \"3 bundles\"\n[[invoice.line]]",
    );
    let said = json(&tiny, &["topup", "plain", "--boxes", "1x20GP", "--footing", "gross"]);
    assert!(names(&said["best"]["bundles"]).len() >= 3, "{said}");
    let missing = said["missing"].as_str().unwrap();
    assert!(missing.contains("is sold from 3 bundles on, and has 1 bundle"), "{missing}");
    // Nothing that is open reaches nine.
    tiny.replace("shipments/plain/shipment.toml", "3 bundles", "9 bundles");
    let output = run(tiny.path(), &["topup", "plain", "--boxes", "2x20gp"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{said}");
    assert!(said.contains("of all that loads: ") && said.contains("from 9 bundles on"), "{said}");
}

#[test]
fn a_wrong_command_line_says_what_to_write() {
    let tiny = tiny();
    let wrong = |words: &[&str]| {
        let output = run(tiny.path(), &[&["topup", "plain"], words].concat());
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        String::from_utf8_lossy(&output.stderr).into_owned()
    };
    assert!(wrong(&["--boxes", "two"]).contains("such as \"2x20gp, 1x40gp\""));
    assert!(wrong(&["--boxes", "1x20hq"]).contains("rates/containers.toml has 20gp, 40gp"));
    assert!(wrong(&["--boxes", "1"]).contains("write how many of which type"));
    assert!(wrong(&["--budget", "100 EUR"]).contains("are in USD"));
    assert!(wrong(&["--budget", "60000"]).contains("write its currency as well: \"60000 USD\""));
    assert!(wrong(&["--budget", "-5 USD"]).contains("a budget is above 0"));
}

#[test]
fn of_alike_bundles_the_first_are_chosen_and_it_is_proven() {
    // By mass and by area more would go in, but two of 3.10 m do not stand one behind the other: eight stand side by
    // side, and where one nine is refuted, any nine of the sixteen is.
    let tiny = tiny();
    let mut text = "slab,bundle,length (cm),height (cm),take\n".to_owned();
    for bundle in 1..=16 {
        for slab in 1..=10 {
            writeln!(text, "B{bundle}-{slab},B{bundle},310,40,open").unwrap();
        }
    }
    tiny.write(LIST, &text);
    let said = json(&tiny, &["topup", "plain", "--boxes", "1x20gp", "--footing", "gross"]);
    let names: Vec<String> = (1..=8).map(|at| format!("B{at}")).collect();
    assert_eq!(said["best"]["bundles"], serde_json::json!(names));
    assert_eq!(said["open"], Value::Null);
    assert!(said["costed"].as_u64().unwrap() < 20, "{said}");
}

#[test]
fn the_page_of_a_list_in_two_invoices() {
    let page = stdout(&demo(), &["topup", "tests/offers/granite-list"]);
    crate::commands::snapshot("topup.txt", page);
}
