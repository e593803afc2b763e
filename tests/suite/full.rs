//! Offers with their boxes full, and what has lapsed and serves on: on the page of `compare`, in every form.

use quaystone::quantity::Decimal;
use serde_json::Value;

use crate::common::{Tiny, json, json_of_any_answer, run, stdout};

const FILE: &str = "shipments/plain/shipment.toml";

/// The shipment `plain` as so many bundles of five slabs of 2.80 x 1.80 m, and another supplier's offer of 4.
fn offers(bundles: u32, price: &str, more: &str) -> Tiny {
    let tiny = Tiny::new();
    std::fs::remove_file(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    let nominal = |bundles: u32, price: &str| {
        format!("{price}\nbundles = {bundles}\nslabs = 5\nsize = \"280 x 180 cm\"\n")
    };
    let written = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    let old = "price = \"40.00 EUR/m2\"\n";
    let other = written.replace(old, &nominal(4, old)).replace("I-1", "I-2");
    tiny.write("shipments/other/shipment.toml", &other);
    let term = "term = \"FOB TRIZM\"\n";
    let own = written.replace(old, &nominal(bundles, price));
    tiny.write(FILE, &own.replace(term, &format!("{term}{more}")));
    tiny
}

const STEPS: &str =
    "price = [{ price = \"41.00 EUR/m2\" }, { from = \"200 m2\", price = \"39.00 EUR/m2\" }]";

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn boxes_full_are_costed_whole_at_the_price_then_reached_and_marked_nominal() {
    let tiny = offers(4, STEPS, "");
    let page = json(&tiny, &["compare", "plain", "other"]);
    let (whole, full) = (&page["offers"][0], &page["offers"][0]["full"]);
    let added = full["bundles_added"].as_u64().unwrap();
    assert_eq!(whole["would_still_fit"]["bundles"].as_u64(), Some(added));
    assert!(added > 4 && full["nominal"] == true, "{full}");
    assert_eq!((&whole["boxes"], &full["boxes"]), (&"1 x 20' GP".into(), &"1 x 20' GP".into()));
    assert_eq!(full["would_still_fit"]["bundles"], 0);
    // 4 x 25.2 m2 are under 200 m2, and with the added bundles above.
    let [entry] = &page["groups"][0]["offers"].as_array().unwrap()[1..] else { panic!("two") };
    let filled = page["groups"][0]["full"].as_array().unwrap();
    let own = |all: &[Value]| all.iter().find(|one| one["shipment"] == "plain").unwrap().clone();
    assert_eq!(own(std::slice::from_ref(entry))["prices"], serde_json::json!(["41.00 EUR/m2"]));
    let own = own(filled);
    assert_eq!(own["prices"], serde_json::json!(["39.00 EUR/m2"]));
    // 41.00 loses to 40.00 as offered, and 39.00 wins.
    assert_eq!((&entry["rank"], &own["rank"]), (&2.into(), &1.into()));
    // As an offer of so many bundles is costed.
    let text = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    let bundles = 4 + added;
    tiny.write(FILE, &text.replace("bundles = 4", &format!("bundles = {bundles}")));
    let cost = json(&tiny, &["cost", "plain"]);
    assert_eq!(full["landed"], cost["total"]);
    assert_eq!(own["slabs"], bundles * 5);
    tiny.write(FILE, &text);

    let text = flat(&stdout(tiny.path(), &["compare", "plain", "other"]));
    for said in ["boxes full (nominal)", "Nobody offered so much", "39.00 EUR/m2"] {
        assert!(text.contains(said), "{said}: {text}");
    }
    let list = stdout(tiny.path(), &["compare", "plain", "other", "--as", "csv"]);
    let landed = full["landed"].as_str().unwrap();
    let row = |line: &&str| line.contains("boxes full (nominal),landed in all,");
    assert!(list.lines().find(row).unwrap().contains(landed), "{list}");
    for form in ["markdown", "html"] {
        let text = stdout(tiny.path(), &["compare", "plain", "other", "--as", form]);
        assert!(text.contains("boxes full (nominal)"), "{text}");
    }
}

#[test]
fn a_least_order_that_full_boxes_reach_is_met_with_boxes_full() {
    let tiny = offers(4, "price = \"40.00 EUR/m2\"", "least = \"6 bundles\"\n");
    let page = json(&tiny, &["compare", "plain", "other"]);
    let of = |list: &str| {
        let all = page["groups"][0][list].as_array().unwrap().clone();
        all.into_iter().find(|one| one["shipment"] == "plain").unwrap()
    };
    assert_eq!(of("offers")["rank"], Value::Null);
    assert_eq!(of("full")["rank"], 1);
}

#[test]
fn full_boxes_keep_the_bundles_that_a_plan_puts_in_them() {
    let tiny = offers(4, "price = \"40.00 EUR/m2\"", "");
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"A-B1\"]\n[[container]]\ncontainer = \"2\"\ntype = \"20gp\"\nbundles = [\"A-B2\", \"A-B3\", \"A-B4\"]\n";
    tiny.write("shipments/plain/plan.toml", plan);
    let page = json(&tiny, &["compare", "plain", "other"]);
    let full = &page["offers"][0]["full"];
    assert_eq!(full["boxes"], "2 x 20' GP");
    assert_eq!(full["would_still_fit"]["bundles"], 0);
    // Two boxes of like bundles hold twice what one does.
    let one = page["offers"][1]["full"]["bundles_added"].as_u64().unwrap() + 4;
    assert_eq!(full["bundles_added"].as_u64(), Some(2 * one - 4));
}

#[test]
fn a_rate_that_has_lapsed_serves_on_where_it_is_asked_for_and_is_named_with_its_age() {
    let tiny = offers(4, "price = \"40.00 EUR/m2\"", "");
    let rates = "rates/freight.toml";
    let text = std::fs::read_to_string(tiny.path().join(rates)).unwrap();
    let freight = "name = \"ocean freight\"\nleg = \"main carriage\"\namount = \"2000 USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-06-30\"";
    assert!(text.contains(freight));
    let text = text.replacen(freight, &format!("{freight}\nbasis = \"quoted\""), 1);
    tiny.write(rates, &text);
    let before = json(&tiny, &["compare", "plain", "other"]);
    tiny.write(rates, &text.replacen(freight, &freight.replace("2026-06-30", "2026-04-01"), 1));
    let args = ["compare", "plain", "other"];
    let lapsed = run(tiny.path(), &args);
    assert_eq!(lapsed.status.code(), Some(3));
    let said = flat(&String::from_utf8(lapsed.stdout).unwrap());
    assert!(said.contains("no rank: rates/freight.toml: \"ocean freight\""), "{said}");

    let carried = [&args[..], &["--carry"]].concat();
    let after = json(&tiny, &carried);
    let whole = &after["offers"][0];
    // What it comes to is what it came to while the rate held.
    assert_eq!(whole["landed"], before["offers"][0]["landed"]);
    assert_eq!(before["offers"][0]["lapsed_rates"], serde_json::json!([]));
    // One box. It sails on 2026-04-11, ten days after.
    let told = serde_json::json!([
        { "what": "ocean freight", "until": "2026-04-01", "days": 10, "amount": "2000.00" }
    ]);
    assert_eq!((&whole["lapsed_rates"], &whole["on_lapsed_rates"]), (&told, &"2000.00".into()));
    let assumed = |page: &Value| -> Decimal {
        page["offers"][0]["on_assumptions"].as_str().unwrap().parse().unwrap()
    };
    assert_eq!(assumed(&after) - assumed(&before), Decimal::new(200_000, 2));
    assert_eq!(after["groups"][0]["offers"][0]["rank"], 1);
    let text = flat(&stdout(tiny.path(), &carried));
    let said = "ocean freight, ended on 2026-04-01, 10 days before it is needed: 2,000.00 USD (";
    assert!(text.contains(said), "{text}");
    let list = stdout(tiny.path(), &[&carried[..], &["--as", "csv"]].concat());
    assert!(list.contains(",\"on a lapsed rate, with its days\",ocean freight,2000.00,"), "{list}");
}

#[test]
fn nothing_lapsed_serves_on_beside_what_holds() {
    // A second quote, cheaper and lapsed, wins nothing by --carry: one that holds serves.
    let tiny = offers(4, "price = \"40.00 EUR/m2\"", "");
    let plain = json(&tiny, &["compare", "plain", "other"]);
    let row = |offer: &str, amount: &str, until: &str| {
        format!(
            "[[charge]]\nlane = \"TRIZM-USSAV\"\ncontainer = \"20gp\"\nname = \"quoted extra\"\nleg = \"main carriage\"\namount = \"{amount} USD\"\nper = \"container\"\noffer = \"{offer}\"\nvalid = \"2026-03-01..{until}\"\nsource = \"invented\"\n"
        )
    };
    tiny.append("rates/freight.toml", &row("old", "10", "2026-04-01"));
    tiny.append("rates/freight.toml", &row("new", "70", "2026-06-30"));
    let page = json(&tiny, &["compare", "plain", "other", "--carry"]);
    let cents = |page: &Value| -> Decimal {
        page["offers"][0]["landed"].as_str().unwrap().parse().unwrap()
    };
    assert_eq!(page["offers"][0]["lapsed_rates"], serde_json::json!([]));
    // 70.00, and 0.30 % of 110 % of it for the insurance.
    assert_eq!(cents(&page) - cents(&plain), Decimal::new(7023, 2));
}

#[test]
fn a_price_that_has_lapsed_serves_on_as_an_assumption() {
    let tiny = offers(4, "price = \"40.00 EUR/m2\"", "");
    tiny.replace(FILE, "2026-03-01..2026-04-15", "2026-02-01..2026-03-01");
    let args = ["compare", "plain", "other", "--carry"];
    let page = json_of_any_answer(&tiny, &args);
    let whole = &page["offers"][0];
    let goods = page["groups"][0]["offers"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["shipment"] == "plain");
    let goods = &goods.unwrap()["amounts"][0]["amount"];
    // Quoted on 2026-03-04.
    assert_eq!(
        (&whole["lapsed_rates"][0]["days"], &whole["lapsed_rates"][0]["amount"]),
        (&3.into(), goods)
    );
    assert_eq!(whole["on_lapsed_rates"], *goods);
    let text = flat(&stdout(tiny.path(), &args));
    assert!(text.contains("2026-03-01 (lapsed)") && text.contains("on lapsed rates"), "{text}");
    // Without it the offer stays with its reason.
    let text = flat(&stdout(tiny.path(), &args[..3]));
    assert!(
        text.contains("plain no rank: the prices of I-1 hold 2026-02-01..2026-03-01"),
        "{text}"
    );
}
