//! Several entries of one shipment: each by its own day, its own goods and its own lines. Figures are
//! worked by hand; the fees of the fiscal years are published ones.

use crate::common::{Tiny, run, stdout};
use quaystone::choose::Costed;
use serde_json::Value;

/// One invoice of one lot, and an entry over it.
fn lot(number: &str, price: &str, entered: &str) -> String {
    format!(
        "[[entry]]\nid = \"E-{number}\"\ninvoices = [\"{number}\"]\nentered = {entered}\n\
         [[invoice]]\nsupplier = \"Quarry Inkwell (invented)\"\nnumber = \"{number}\"\nterm = \"FOB TRIZM\"\n\
         price-valid = \"2025-01-01..2026-12-31\"\n[[invoice.line]]\nid = \"{number}-1\"\nstone = \"chalk\"\n\
         finish = \"polished\"\nthickness = \"20 mm\"\nprice = \"{price}/lot\"\nbundles = 1\nslabs = 4\n\
         size = \"250 x 100 cm\"\n"
    )
}

/// Two lots on two entries of one shipment, "case".
fn two(dates: &str, price: &str, days: [&str; 2]) -> Tiny {
    let tiny = Tiny::new();
    let head = format!("to = \"savannah\"\nlane = \"TRIZM-USSAV\"\ndates = {{ {dates} }}\n");
    let lots = lot("1", price, days[0]) + &lot("2", price, days[1]);
    tiny.write("shipments/case/shipment.toml", &(head + &lots));
    tiny
}

/// A row of the fees.
fn fee(tiny: &Tiny, keys: &str) {
    let row = format!(
        "[[charge]]\nregime = \"us\"\nname = \"it\"\n{keys}\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
    );
    tiny.append("rates/fees.toml", &row);
}

/// What the charges of a name belong to, and what they come to.
fn all(costed: &Costed, name: &str) -> Vec<(String, String)> {
    let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
    own.map(|charge| (charge.scope.of.to_string(), charge.amount().to_string())).collect()
}

fn pair(of: &str, amount: &str) -> (String, String) {
    (of.to_owned(), amount.to_owned())
}

#[test]
fn each_entry_has_the_fee_of_its_own_fiscal_year() {
    // 19 CFR 24.23: 0.3464 % of each entry, between a floor and a cap of the fiscal year, which begins
    // on 1 October. 2025: 32.71 and 634.62 (FR Doc. 2024-15990, CSMS 61572319); 2026: 33.58 and
    // 651.50 (90 FR 34665). Of 9,000 it is 31.18, of 9,500 32.91, of 200,000 692.80.
    for (price, fees) in [
        ("9000 USD", ["32.71 USD", "33.58 USD"]),
        ("9500 USD", ["32.91 USD", "33.58 USD"]),
        ("200000 USD", ["634.62 USD", "651.50 USD"]),
    ] {
        let dates = "quoted = 2025-08-01, sails = 2025-09-01, arrives = 2025-09-28";
        let tiny = two(dates, price, ["2025-09-30", "2025-10-01"]);
        for file in ["rates/freight.toml", "rates/drayage.toml"] {
            tiny.replace(file, "2026-03-01..", "2025-03-01..");
        }
        tiny.replace("rates/fees.toml", "2026-01-01..", "2025-01-01..");
        tiny.replace("rates/fees.toml", "2025-10-01..\"\n", "2024-10-01..\"\n");
        tiny.append("rates/fees.toml", "[[charge]]\nregime = \"us\"\nname = \"merchandise processing fee\"\nleg = \"duty and tax\"\nrate = \"0.3464 %\"\nof = \"entered value\"\nper = \"entry\"\nminimum = \"32.71 USD\"\nmaximum = \"634.62 USD\"\nvalid = \"2024-10-01..2025-09-30\"\nsource = \"FR Doc. 2024-15990\"\n");
        let (_, costed) = tiny.cost("case");
        let expected = [pair("E-1", fees[0]), pair("E-2", fees[1])];
        assert_eq!(all(&costed, "merchandise processing fee"), expected, "{price}");
    }
}

/// Entered on Friday 29 May and on Tuesday 2 June, in the yard on 3 June.
const SPRING: &str =
    "quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09, delivered = 2026-06-03";

fn spring(price: &str) -> Tiny {
    two(SPRING, price, ["2026-05-29", "2026-06-02"])
}

#[test]
fn duties_and_fees_fall_due_by_the_day_of_their_own_entry() {
    let tiny = spring("10000 USD");
    tiny.replace(
        "rates/duty.toml",
        "value-step = \"1 USD\"",
        "value-step = \"1 USD\"\nduty-due = \"entered + 10 days\"",
    );
    fee(
        &tiny,
        "leg = \"import clearance\"\namount = \"40 USD\"\nper = \"entry\"\ntreatment = \"recoverable\"\ndue = \"entered + 1 day\"\nrecovered = \"entered + 30 days\"",
    );
    let json = stdout(tiny.path(), &["cash", "case", "--as", "json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    let text = |flow: &Value, key: &str| flow[key].as_str().unwrap().to_owned();
    let flows = json["payments"].as_array().unwrap().iter();
    let flows: Vec<(String, String, String)> =
        flows.map(|flow| (text(flow, "name"), text(flow, "due"), text(flow, "amount"))).collect();
    for (name, due, amount) in [
        ("duty", "2026-06-08", "250.00"),
        ("duty", "2026-06-12", "250.00"),
        ("merchandise processing fee", "2026-06-08", "34.64"),
        ("merchandise processing fee", "2026-06-12", "34.64"),
        ("customs entry", "2026-05-29", "150.00"),
        ("customs entry", "2026-06-02", "150.00"),
        ("it", "2026-05-30", "40.00"),
        ("it", "2026-06-03", "40.00"),
        ("it, back", "2026-06-28", "-40.00"),
        ("it, back", "2026-07-02", "-40.00"),
    ] {
        let wanted = (name.to_owned(), due.to_owned(), amount.to_owned());
        assert!(flows.contains(&wanted), "{wanted:?} in {flows:?}");
    }
}

#[test]
fn a_rate_by_the_day_of_entry_is_each_entry_s_own() {
    // A regime with a rate for each month goes by the month of the entry; one that goes by the day of
    // export has the same for both. The figures are invented.
    for (on, values) in [("entered", ["10,500.00", "12,000.00"]), ("sails", ["10,846.00"; 2])] {
        let dates = SPRING.replace("2026-03-04", "2026-06-10");
        let tiny = two(&dates, "10000 EUR", ["2026-05-29", "2026-06-02"]);
        tiny.replace("rates/exchange.toml", "2026-04-01..2026-06-30", "2026-04-01..2026-04-30");
        for (rate, valid) in
            [("1.05", "2026-05-01..2026-05-31"), ("1.20", "2026-06-01..2026-06-30")]
        {
            tiny.append("rates/exchange.toml", &format!("[[exchange]]\nuse = \"customs\"\nquote = \"1 EUR = {rate} USD\"\nvalid = \"{valid}\"\nsource = \"invented\"\n"));
        }
        tiny.replace(
            "rates/duty.toml",
            "value-step = \"1 USD\"",
            &format!("value-step = \"1 USD\"\nexchange-on = \"{on}\""),
        );
        let (_, costed) = tiny.cost("case");
        let lines = costed.landed.entries.iter().flat_map(|entry| &entry.lines);
        let entered: Vec<String> = lines.map(|line| line.entered.to_string()).collect();
        assert_eq!(entered, values.map(|value| format!("{value} USD")), "{on}");
    }
}

#[test]
fn days_run_from_the_day_of_the_entry() {
    // Until 3 June: five days from 29 May, one from 2 June; 25 and 10 from the shipment's own day,
    // 9 May, where the goods of both are counted together.
    let row = |more: &str| {
        format!("leg = \"on-carriage\"\namount = \"10 USD\"\ndays = \"entered..delivered\"\n{more}")
    };
    let tiny = spring("10000 USD");
    fee(&tiny, &row("per = \"day\"\nscope = \"entry\""));
    assert_eq!(
        all(&tiny.cost("case").1, "it"),
        [pair("E-1", "50.00 USD"), pair("E-2", "10.00 USD")]
    );
    let tiny = spring("10000 USD");
    fee(&tiny, &row("per = \"day\""));
    assert_eq!(all(&tiny.cost("case").1, "it"), [pair("case", "250.00 USD")]);
    // Where both are entered on one day, that is the shipment's.
    let tiny = two(SPRING, "10000 USD", ["2026-06-02"; 2]);
    fee(&tiny, &row("per = \"day\""));
    assert_eq!(all(&tiny.cost("case").1, "it"), [pair("case", "10.00 USD")]);
    // A box has the day of the entry that all of it is on: 5 and 9 June, in the yard on the 11th.
    let tiny = Tiny::new();
    fee(&tiny, &row("per = \"container\"\nscope = \"container\""));
    let got = all(&tiny.cost("split-invoice").1, "it");
    assert_eq!(got, [pair("1", "60.00 USD"), pair("2", "20.00 USD")]);
}

#[test]
fn a_part_of_a_charge_of_an_entry_goes_by_its_day() {
    // The broker's surcharge begins on 1 June: the entry of 29 May is without.
    let tiny = spring("10000 USD");
    fee(&tiny, "leg = \"import clearance\"\nrate = \"10 %\"\nof = \"customs entry\"");
    tiny.replace(
        "rates/fees.toml",
        "of = \"customs entry\"\nvalid = \"2026-01-01..",
        "of = \"customs entry\"\nvalid = \"2026-06-01..",
    );
    assert_eq!(all(&tiny.cost("case").1, "it"), [pair("E-2", "15.00 USD")]);
}

#[test]
fn one_invoice_on_two_entries_by_their_containers() {
    // Of line A (26.7567 m2 at 52.17: 1,395.90 EUR) 18.0552 m2 are in box 1, of line B nothing. With
    // its part of the discount (54.41) and half of the freight in the price (411.11 for two boxes):
    // 941.94 - 23.55 - 205.56 = 712.84 EUR, 773 USD at the certified 1.0846. Box 2 has 471.6213 kg of
    // A and 861.4838 kg of B: 453.96 - 11.35 - 72.72 = 369.89 EUR, 401 USD; line B 780.53 - 19.51 -
    // 132.83 = 628.19 EUR, 681 USD.
    let tiny = Tiny::new();
    let (_, costed) = tiny.cost("split-invoice");
    let lines = costed.landed.entries.iter().flat_map(|entry| &entry.lines);
    let entered: Vec<(String, String)> =
        lines.map(|line| (line.label.clone(), line.entered.to_string())).collect();
    assert_eq!(
        entered,
        [
            pair("6802.93.00 JP on E-1", "773.00 USD"),
            pair("6802.93.00 JP on E-2", "401.00 USD"),
            pair("6802.99.00 PT on E-2", "681.00 USD"),
        ]
    );
    // The duty of an entry is borne by the slabs in its box.
    let duties = costed.landed.charges.iter().filter(|charge| charge.name == "duty");
    let borne: Vec<usize> =
        duties.map(|charge| costed.landed.sets.members(charge.scope.set).count()).collect();
    assert_eq!(borne, [4, 2, 4]);
    let sheet = stdout(tiny.path(), &["worksheet", "split-invoice"]);
    assert!(sheet.contains("E-1: formal, by sea, on 2026-06-05"), "{sheet}");
    assert!(sheet.contains("E-2: formal, by sea, on 2026-06-09"), "{sheet}");
    assert!(sheet.contains("One entry instead of 2"), "{sheet}");
    let check = run(tiny.path(), &["check", "split-invoice"]);
    assert!(check.status.success(), "{}", String::from_utf8_lossy(&check.stdout));
}

#[test]
fn a_single_bond_covers_each_entry_and_tiers_count_its_own_lines() {
    // E-1: 773 entered, 109.77 of duty, 33.58 + 0.97 + 25.00 of fees: 942.32. E-2: 1,082 + 101.22 +
    // 33.58 + 1.35 + 25.00 = 1,243.15. Five dollars for each begun thousand.
    let tiny = Tiny::new();
    fee(
        &tiny,
        "leg = \"import clearance\"\namount = \"5 USD\"\neach = \"1000 USD\"\nof = \"single bond\"\npart = \"whole\"\nper = \"entry\"",
    );
    // One line in the price of the entry: E-1 has one, E-2 two.
    tiny.replace(
        "rates/fees.toml",
        "amount = \"7.77 USD\"",
        "tiers = [{ lines = \"1..1\", amount = \"3 USD\" }, { lines = \"2..\", amount = \"7.77 USD\" }]",
    );
    let (_, costed) = tiny.cost("split-invoice");
    assert_eq!(all(&costed, "it"), [pair("E-1", "5.00 USD"), pair("E-2", "10.00 USD")]);
    let tiered = all(&costed, "tariff line");
    assert_eq!(tiered, [pair("E-1", "3.00 USD"), pair("E-2", "10.77 USD")]);
}

/// The worksheet with its lines and columns run together.
fn sheet(tiny: &Tiny, name: &str) -> String {
    let page = stdout(tiny.path(), &["worksheet", name, "--width", "400"]);
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_worksheet_says_which_rate_of_exchange_it_rests_on() {
    // It sails on 11 April: a planning rate where none is certified for that day, or the certified one.
    for (quoted, rate, planned) in [
        ("2026-03-04", "plan rate of exchange, 2026-04-11 1 EUR = 1.1000 USD", true),
        ("2026-04-12", "customs rate of exchange, 2026-04-11 1 EUR = 1.0846 USD", false),
    ] {
        let tiny = Tiny::new();
        tiny.replace(
            "shipments/plain/shipment.toml",
            "quoted = 2026-03-04",
            &format!("quoted = {quoted}"),
        );
        if planned {
            // No rate is certified for the day yet.
            let next = "2026-05-01..2026-06-30";
            tiny.replace("rates/exchange.toml", "2026-04-01..2026-06-30", next);
        }
        let page = sheet(&tiny, "plain").replace("1.10 USD", "1.1000 USD");
        assert!(page.contains(rate), "{page}");
        assert_eq!(page.contains("are planning rates"), planned, "{page}");
    }
}

#[test]
fn a_worksheet_names_the_bound_of_a_fee() {
    // 19 CFR 24.23 in fiscal year 2026: 0.3464 %, from 33.58 to 651.50. Of 9,500 it is 32.91, of
    // 10,000 34.64, of 200,000 692.80.
    for (price, bound) in
        [("9500 USD", Some("minimum")), ("10000 USD", None), ("200000 USD", Some("maximum"))]
    {
        let page = sheet(&spring(price), "case");
        // The words may go on in a second line, after the amount.
        assert_eq!(page.contains(", at its"), bound.is_some(), "{page}");
        assert!(bound.is_none_or(|word| page.contains(word)), "{page}");
    }
}

#[test]
fn a_worksheet_adds_up_the_bills_of_one_row() {
    // Two bundles, 20 dollars of packing each.
    let tiny = Tiny::new();
    tiny.replace(
        "shipments/plain/shipment.toml",
        "term = \"FOB TRIZM\"",
        "term = \"FOB TRIZM\"\npacking = \"apart\"",
    );
    tiny.append("rates/crating.toml", "[[charge]]\nport = \"TRIZM\"\nname = \"crates\"\nleg = \"export packing\"\namount = \"20 USD\"\nper = \"bundle\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n");
    let page = sheet(&tiny, "plain");
    assert!(page.contains("goods, line A 592.00 EUR"), "{page}");
    assert!(page.contains("crates 2 bills, in all 40.00 USD"), "{page}");
}
