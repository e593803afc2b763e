//! Where a rule turns: a begun part, the quoted day, the day of payment, a floor, the base of a layer,
//! the day a row is chosen by, a margin. Each case is worked by hand and fails if the rule turns one step
//! too early or too late.

use std::fs;

use crate::common::{Tiny, stdout};
use serde_json::Value;

const SHIPMENT: &str = "shipments/plain/shipment.toml";

/// A row of haulage of the small workspace's yard.
fn row(name: &str, leg: &str, rest: &str) -> String {
    format!(
        "[[charge]]\nyard = \"savannah\"\nname = \"{name}\"\nleg = \"{leg}\"\n{rest}\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
    )
}

fn quote(name: &str, quote: &str, valid: &str) -> String {
    format!(
        "[[exchange]]\nuse = \"{name}\"\nquote = \"{quote}\"\nvalid = \"{valid}\"\nsource = \"invented\"\n"
    )
}

fn json(tiny: &Tiny, command: &str) -> Value {
    serde_json::from_str(&stdout(tiny.path(), &[command, "plain", "--as", "json"])).unwrap()
}

/// The amounts of a charge in the book currency.
fn booked(tiny: &Tiny, name: &str) -> Vec<String> {
    let cost = json(tiny, "cost");
    let own = cost["charges"].as_array().unwrap().iter().filter(|one| one["name"] == name);
    own.map(|one| one["book_amount"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn an_exact_multiple_begins_no_further_part() {
    // 7 USD for each begun 250 USD of 500: two parts.
    let tiny = Tiny::new();
    let toll = "amount = \"7 USD\"\neach = \"250 USD\"\nof = \"haulage\"\npart = \"whole\"";
    tiny.append("rates/drayage.toml", &row("toll", "on-carriage", toll));
    assert_eq!(booked(&tiny, "toll"), ["14.00"]);
}

#[test]
fn an_event_on_the_quoted_day_takes_the_actual_rate() {
    // 592 EUR at 1.0871, the book rate of April; the plan rate is 1.10.
    let tiny = Tiny::new();
    tiny.replace(SHIPMENT, "quoted = 2026-03-04", "quoted = 2026-04-11");
    assert_eq!(booked(&tiny, "goods"), ["643.56"]);
}

#[test]
fn a_bill_paid_later_is_booked_by_the_day_of_its_leg() {
    // 100 EUR delivered on the 12th of May, at 1.10; paid on the 21st of June, when it is 1.30.
    let tiny = Tiny::new();
    let old = "quote = \"1 EUR = 1.10 USD\"\nvalid = \"2026-01-01..2026-12-31\"";
    tiny.replace("rates/exchange.toml", old, &old.replace("12-31", "05-31"));
    let later = quote("plan", "1 EUR = 1.30 USD", "2026-06-01..2026-12-31");
    tiny.append("rates/exchange.toml", &later);
    let shuttle = "amount = \"100 EUR\"\nper = \"shipment\"\ndue = \"delivered + 40 days\"";
    tiny.append("rates/drayage.toml", &row("shuttle", "on-carriage", shuttle));
    assert_eq!(booked(&tiny, "shuttle"), ["110.00"]);
}

#[test]
fn a_payment_by_contract_goes_by_its_own_day() {
    // 30 % of 592 EUR on the 10th of March, at 1.05; from April on the contract is at 1.20.
    let tiny = Tiny::new();
    let both = quote("contract", "1 EUR = 1.05 USD", "2026-01-01..2026-03-31")
        + &quote("contract", "1 EUR = 1.20 USD", "2026-04-01..2026-12-31");
    tiny.append("rates/exchange.toml", &both);
    tiny.replace(
        SHIPMENT,
        "[[invoice.line]]",
        "[[invoice.payment]]\nname = \"deposit\"\nshare = \"30 %\"\non = 2026-03-10\nexchange = \"contract\"\n[[invoice.payment]]\nname = \"balance\"\nshare = \"rest\"\ndue = \"sails\"\n[[invoice.line]]",
    );
    let cash = json(&tiny, "cash");
    // It is booked at the day's rate, 1.10, and paid at the contract's.
    let moved = cash["exchange_differences"].as_array().unwrap();
    let is_deposit = |one: &&Value| one["name"].as_str().unwrap().starts_with("deposit");
    let deposit = moved.iter().find(is_deposit).unwrap();
    assert_eq!((&deposit["booked"], &deposit["settled"]), (&"195.36".into(), &"186.48".into()));
}

#[test]
fn an_assumed_share_is_of_the_value_before_the_main_carriage() {
    // 642.08 and freight of 2,000; 1.125 % of the 642.08 is 7.223.
    let tiny = Tiny::new();
    tiny.replace(
        "rates/duty.toml",
        "value-basis = \"export\"\nvalue-step = \"1 USD\"",
        "value-basis = \"border\"\nassumed = [{ leg = \"insurance\", rate = \"1.125 %\" }]",
    );
    tiny.replace(
        "rates/fees.toml",
        "rate = \"0.30 %\"\nof = \"insured value\"\ninsured = \"110 %\"",
        "amount = \"0 USD\"",
    );
    let sheet = json(&tiny, "worksheet");
    assert_eq!(sheet["entries"][0]["lines"][0]["entered"], "2649.31");
}

#[test]
fn a_floor_makes_no_fee_of_nothing() {
    // Three days, four of them free.
    let tiny = Tiny::new();
    let days = "amount = \"10 USD\"\nper = \"day\"\ndays = \"arrives..delivered\"\nfree-days = 4\nminimum = \"25 USD\"";
    tiny.append("rates/drayage.toml", &row("detention", "destination terminal", days));
    assert!(booked(&tiny, "detention").iter().all(|amount| amount == "0.00"));
}

#[test]
fn a_top_up_lifts_the_rate_that_is_levied() {
    // 642 at 15 %, less the 1 % that is claimed; the general rate would be 2.5 %.
    let tiny = Tiny::new();
    let layer = |line: &str, kind: &str, rate: &str| {
        format!(
            "[[duty]]\nregime = \"us\"\nline = \"{line}\"\nlayer = \"{kind}\"\nname = \"{kind}\"\n{rate}\nvalid = \"2020-01-01..\"\nsource = \"invented\"\n"
        )
    };
    let own = "rate = \"1 %\"\nprogramme = \"P (invented)\"";
    let both =
        layer("6802.91.05", "preferential", own) + &layer("6802", "top-up", "rate = \"15 %\"");
    tiny.append("rates/duty.toml", &both);
    tiny.replace(SHIPMENT, "id = \"A\"", "id = \"A\"\npreference = \"P (invented)\"");
    assert_eq!(booked(&tiny, "preferential"), ["6.42"]);
    assert_eq!(booked(&tiny, "top-up"), ["89.88"]);
}

#[test]
fn haulage_is_chosen_by_the_day_of_delivery() {
    // Arrived on the 9th of May, delivered on the 12th; the price changes on the 11th.
    let tiny = Tiny::new();
    let table = "rates/drayage.toml";
    let text = fs::read_to_string(tiny.path().join(table)).unwrap();
    let first = text.split("[[charge]]").nth(1).unwrap();
    let old = first.replace("2026-06-30", "2026-05-10");
    let new = first.replace("2026-03-01", "2026-05-11").replace("500 USD", "700 USD");
    let rest = text.replacen(first, &format!("{old}[[charge]]{new}"), 1);
    tiny.write(table, &rest);
    assert_eq!(booked(&tiny, "haulage"), ["700.00"]);
}

#[test]
fn a_surcharge_by_gross_mass_goes_by_weighed_dunnage() {
    // Bundles of 900 kg and a tare of 2,280 make 3,380 kg with the type's 200 kg of dunnage, 3,440 with 260.
    for (dunnage, wanted) in [("", "100.00"), ("dunnage = \"260 kg\"\n", "300.00")] {
        let tiny = Tiny::new();
        let tiers = "tiers = [{ gross = \"0 t..3.4 t\", amount = \"100 USD\" }, { gross = \"3.4 t..\", amount = \"300 USD\" }]\nper = \"container\"";
        tiny.append("rates/drayage.toml", &row("heavy box", "on-carriage", tiers));
        let plan = format!(
            "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\n{dunnage}bundles = [\"B1\", \"B2\"]\n"
        );
        tiny.write("shipments/plain/plan.toml", &plan);
        assert_eq!(booked(&tiny, "heavy box"), [wanted]);
    }
}

/// The box of the small workspace, with slabs that may be 5 % thicker: 540 kg and 200 kg of stone, each
/// with 80 kg of timber.
fn with_margin() -> Value {
    let tiny = Tiny::new();
    let marble = "kind = \"marble\"";
    let margin = format!("{marble}\nthickness-margin = \"5 %\"");
    tiny.replace("rates/stones.toml", marble, &margin);
    json(&tiny, "load")["containers"][0].clone()
}

#[test]
fn the_line_load_carries_the_margin() {
    // 540 x 1.05 + 80 = 647 kg on 3 m.
    assert_eq!(with_margin()["line_load_kg_per_m"], "215.7");
}

#[test]
fn the_mass_sheet_carries_no_margin() {
    let sheet = &with_margin()["mass_sheet"];
    assert_eq!(sheet["bundles_kg"], "900.0");
    assert_eq!(sheet["sum_kg"], "3380.0");
}
