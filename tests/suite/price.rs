//! One row has one price: what the loader counts for a box, what is billed for it, what a memo says and
//! what one entry would save are the same answer.

use std::fmt::Write;

use serde_json::Value;

use crate::common::{Tiny, json, run};

/// A row on the way to Savannah, in force from March to June.
fn row(keys: &str, name: &str, leg: &str, price: &str) -> String {
    format!(
        "\n[[charge]]\n{keys}\nname = \"{name}\"\nleg = \"{leg}\"\n{price}\n\
         valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n"
    )
}

fn cents(value: &Value) -> i64 {
    value.as_str().unwrap().replace('.', "").parse().unwrap()
}

/// What is billed under a name, in cents of the book currency.
fn billed(tiny: &Tiny, name: &str) -> i64 {
    let cost = json(tiny, &["cost", "plain"]);
    let charges = cost["charges"].as_array().unwrap();
    charges.iter().filter(|one| one["name"] == name).map(|one| cents(&one["book_amount"])).sum()
}

/// What the loader counts, and how sure it is.
fn counted(tiny: &Tiny) -> (i64, String) {
    let load = json(tiny, &["load", "plain"]);
    (cents(&load["cost"]), load["proof"].as_str().unwrap().to_owned())
}

/// Goods of two suppliers in one shipment, which fill a box each and are kept apart.
fn two_suppliers(tiny: &Tiny, terms: [&str; 2]) {
    let mut head = "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n\
         dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }\n"
        .to_owned();
    let mut list = "slab,bundle,length (cm),height (cm),line\n".to_owned();
    for (at, term) in terms.iter().enumerate() {
        let line = ["A", "B"][at];
        write!(
            head,
            "[[invoice]]\nsupplier = \"Quarry {line} (invented)\"\nnumber = \"{line}-1\"\n\
             term = \"{term}\"\nprice-valid = \"2026-03-01..2026-04-15\"\n\
             [[invoice.line]]\nid = \"{line}\"\nstone = \"chalk\"\nfinish = \"polished\"\n\
             thickness = \"20 mm\"\nprice = \"40.00 EUR/m2\"\n"
        )
        .unwrap();
        // A slab of 2.7 x 1.8 m weighs 243 kg; 16 of them with 80 kg of timber 3,968 kg. Four bundles are
        // 15.9 t, and all eight far over the road's 44,000 lb (19,958 kg).
        for bundle in 0..4 {
            for slab in 0..16 {
                writeln!(list, "{line}{bundle}-{slab},{line}{bundle},270,180,{line}").unwrap();
            }
        }
    }
    for line in ["A", "B"] {
        write!(
            head,
            "[[load.together]]\nbundles = [\"{line}0\", \"{line}1\", \"{line}2\", \"{line}3\"]\n"
        )
        .unwrap();
    }
    tiny.write("shipments/plain/shipment.toml", &head);
    tiny.write("shipments/plain/packing.csv", &list);
}

#[test]
fn a_box_charge_paid_early_is_counted_at_the_rate_it_is_billed_at() {
    let tiny = Tiny::new();
    tiny.replace(
        "rates/freight.toml",
        "amount = \"2000 USD\"",
        "amount = \"2000 EUR\"\ndue = \"quoted\"",
    );
    tiny.append(
        "rates/exchange.toml",
        "[[exchange]]\nuse = \"book\"\nquote = \"1 EUR = 1.25 USD\"\n\
         valid = \"2026-03-01..2026-03-31\"\nsource = \"invented\"\n",
    );
    // Paid on the day of the quote, at that day's 1.25, and not at the plan's 1.10.
    assert_eq!(billed(&tiny, "ocean freight"), 250_000);
    // With the haulage of 500 and its fuel of a fifth.
    assert_eq!(counted(&tiny), (250_000 + 50_000 + 10_000, "proven".to_owned()));
}

#[test]
fn a_deposit_by_gross_mass_is_no_cost_of_the_box() {
    let tiny = Tiny::new();
    let price = "per = \"container\"\ntreatment = \"recoverable\"\n\
                 tiers = [{ gross = \"..2 t\", amount = \"100 USD\" }, { gross = \"2 t..\", amount = \"900 USD\" }]";
    tiny.append("rates/drayage.toml", &row("yard = \"savannah\"", "deposit", "on-carriage", price));
    assert_eq!(billed(&tiny, "deposit"), 90_000);
    assert_eq!(counted(&tiny).0, 200_000 + 50_000 + 10_000);
}

#[test]
fn a_percentage_of_a_surcharge_by_gross_mass_is_counted() {
    let tiny = Tiny::new();
    let price = "per = \"container\"\n\
                 tiers = [{ gross = \"..2 t\", amount = \"0 USD\" }, { gross = \"2 t..\", amount = \"700 USD\" }]";
    let lane = "lane = \"TRIZM-USSAV\"";
    tiny.append("rates/freight.toml", &row(lane, "heavy", "main carriage", price));
    let price = "rate = \"20 %\"\nof = \"heavy\"";
    tiny.append("rates/freight.toml", &row(lane, "heavy tax", "main carriage", price));
    // 2,000 + 500 + 100 + 700 + 140.
    assert_eq!(billed(&tiny, "heavy tax"), 14_000);
    assert_eq!(counted(&tiny), (344_000, "proven".to_owned()));
}

#[test]
fn a_leg_that_a_seller_bears_is_not_counted_for_boxes_of_his_goods() {
    let tiny = Tiny::new();
    two_suppliers(&tiny, ["FOB TRIZM", "CIF USSAV"]);
    // The freight of 2,000 is the importer's for the first box alone; each has its haulage of 600.
    let (cost, proof) = counted(&tiny);
    assert_eq!(billed(&tiny, "ocean freight"), 200_000);
    assert_eq!(cost, 200_000 + 2 * 60_000);
    // The bound is of the least a box may cost, and here one costs more.
    assert_eq!(proof, "not proven");
}

#[test]
fn every_box_is_counted_with_the_truck_of_its_own_works() {
    let tiny = Tiny::new();
    two_suppliers(&tiny, ["FCA Abacus Works", "FCA Candle Works"]);
    for (works, amount) in [("Abacus Works", "100 USD"), ("Candle Works", "900 USD")] {
        let keys = format!("term-place = \"{works}\"");
        let price = format!("amount = \"{amount}\"\nper = \"container\"");
        tiny.append("rates/crating.toml", &row(&keys, "truck", "pre-carriage", &price));
    }
    let port = "port = \"TRIZM\"";
    for (name, leg) in [
        ("papers", "export clearance"),
        ("handling", "origin terminal"),
        ("lift", "loading on board"),
    ] {
        let price = "amount = \"0 USD\"\nper = \"shipment\"";
        tiny.append("rates/freight.toml", &row(port, name, leg, price));
    }
    // 2 x (2,000 + 600) + 100 + 900.
    assert_eq!(billed(&tiny, "truck"), 100_000);
    assert_eq!(counted(&tiny).0, 2 * 260_000 + 100_000);
}

#[test]
fn two_bonds_in_force_are_told_as_two() {
    let tiny = Tiny::new();
    for _ in 0..2 {
        tiny.append(
            "rates/fees.toml",
            "\n[[bond]]\nregime = \"us\"\nannual = \"40000 USD\"\nentries = 10\nleast = \"50000 USD\"\n\
             share = \"10 %\"\nsteps = [{ by = \"10000 USD\" }]\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n",
        );
    }
    let price =
        "amount = \"5 USD\"\neach = \"1000 USD\"\nof = \"continuous bond\"\nper = \"entry\"";
    tiny.append(
        "rates/fees.toml",
        &row("regime = \"us\"", "bond premium", "import clearance", price),
    );
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert!(said.contains("two rows serve the [[bond]] of \"us\" on 2026-01-01"), "{said}");
    assert!(!said.contains("has no [[bond]]"), "{said}");
}

#[test]
fn a_charge_whose_row_begins_after_its_day_is_named_with_its_dates() {
    let tiny = Tiny::new();
    tiny.replace(
        "rates/fees.toml",
        "valid = \"2025-10-01..2026-09-30\"",
        "valid = \"2026-10-01..2027-09-30\"",
    );
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    let what =
        "\"merchandise processing fee\" is not charged: its row begins after 2026-05-09 (entered)";
    assert!(said.contains(what), "{said}");
    assert!(said.contains("in force 2026-10-01..2027-09-30"), "{said}");
    // A row that takes the place of another later leaves nothing out.
    let tiny = Tiny::new();
    let later = "amount = \"40 USD\"\nper = \"bundle\"";
    let later = row("yard = \"savannah\"", "unloading", "unloading", later);
    let later = later.replace("2026-03-01..2026-06-30", "2027-01-01..");
    tiny.replace(
        "rates/fees.toml",
        "amount = \"30 USD\"\nper = \"bundle\"\nvalid = \"2026-01-01..\"",
        "amount = \"30 USD\"\nper = \"bundle\"\nvalid = \"2026-01-01..2026-12-31\"",
    );
    tiny.append("rates/fees.toml", &later);
    let output = run(tiny.path(), &["cost", "plain"]);
    assert!(!String::from_utf8(output.stderr).unwrap().contains("is not charged"));
}

#[test]
fn nothing_is_shown_without_a_sign() {
    use quaystone::quantity::{Currency, Decimal, Exact, Money, grouped};
    let usd = Currency::from_code("USD").unwrap();
    assert_eq!(Money::zero(usd).negated().to_string(), "0.00 USD");
    assert_eq!(Money::zero(usd).negated().amount().to_string(), "0.00");
    let tiny = Exact::new(Decimal::new(-4, 3), usd);
    assert_eq!(tiny.round().unwrap().amount().to_string(), "0.00");
    assert_eq!(grouped(-Decimal::new(0, 2)), "0.00");
}

#[test]
fn a_row_by_the_kind_of_box_serves_the_goods_in_such_boxes() {
    let tiny = Tiny::new();
    // The load is one 20gp with all the goods: two bundles, three slabs, 14.80 m2.
    for (per, name) in [
        ("shipment", "by shipment"),
        ("bundle", "by bundle"),
        ("slab", "by slab"),
        ("m2", "by area"),
        ("bill of lading", "by bill"),
    ] {
        let price = format!("amount = \"10 USD\"\nper = \"{per}\"");
        let keys = "yard = \"savannah\"\ncontainer = \"20gp\"";
        tiny.append("rates/drayage.toml", &row(keys, name, "on-carriage", &price));
        let keys = "yard = \"savannah\"\ncontainer = \"40gp\"";
        tiny.append(
            "rates/drayage.toml",
            &row(keys, &format!("{name} of 40"), "on-carriage", &price),
        );
    }
    assert_eq!(billed(&tiny, "by shipment"), 1_000);
    assert_eq!(billed(&tiny, "by bundle"), 2_000);
    assert_eq!(billed(&tiny, "by slab"), 3_000);
    // 2 x 3.00 x 1.80 + 2.50 x 1.60 = 14.80.
    assert_eq!(billed(&tiny, "by area"), 14_800);
    assert_eq!(billed(&tiny, "by bill"), 1_000);
    assert_eq!(billed(&tiny, "by shipment of 40"), 0);
    // The loader does not weigh them, and does not claim to.
    assert_eq!(counted(&tiny).1, "not proven");
    // An entry is of no one kind of box.
    let price = "amount = \"10 USD\"\nper = \"entry\"";
    let keys = "yard = \"savannah\"\ncontainer = \"20gp\"";
    tiny.append("rates/fees.toml", &row(keys, "by entry", "import clearance", price));
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("\"by entry\" is for one kind of box"), "{said}");
}

#[test]
fn freight_is_weighed_with_the_duty_and_premium_it_causes() {
    let tiny = Tiny::new();
    // A regime that values at the border, at 25 %: of two kinds of box the one whose freight is lower
    // and haulage higher is the cheaper, though it costs 20 USD more by itself.
    let duty = std::fs::read_to_string(tiny.path().join("rates/duty.toml")).unwrap();
    let duty = duty.replace("value-basis = \"export\"", "value-basis = \"border\"");
    tiny.write("rates/duty.toml", &duty.replace("rate = \"2.5 %\"", "rate = \"25 %\""));
    tiny.replace("rates/freight.toml", "amount = \"2000 USD\"", "amount = \"1900 USD\"");
    tiny.replace("rates/drayage.toml", "amount = \"500 USD\"", "amount = \"600 USD\"");
    // The 40gp: 2,000 of freight, 600 with the fuel; the 20gp: 1,900 and 720.
    let lane = "lane = \"TRIZM-USSAV\"\ncontainer = \"40gp\"";
    let price = "amount = \"2000 USD\"\nper = \"container\"";
    tiny.append("rates/freight.toml", &row(lane, "ocean freight", "main carriage", price));
    let yard = "yard = \"savannah\"\ncontainer = \"40gp\"";
    let price = "amount = \"500 USD\"\nper = \"container\"";
    tiny.append("rates/drayage.toml", &row(yard, "haulage", "on-carriage", price));
    let load = json(&tiny, &["load", "plain"]);
    assert_eq!(load["containers"][0]["type"], "20gp");
    assert_eq!(
        counted(&tiny),
        (190_000 + 72_000, "proven by the limits that are known".to_owned())
    );
    // It lands lower than the other.
    let decision = |name: &str, kind: &str| {
        let head =
            std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
        let head = format!("containers = [\"{kind}\"]\n{head}");
        tiny.write(&format!("shipments/{name}/shipment.toml"), &head);
        let list =
            std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
        tiny.write(&format!("shipments/{name}/packing.csv"), &list);
        cents(&json(&tiny, &["cost", name])["decision_total"])
    };
    let (small, large) = (decision("small", "20gp"), decision("large", "40gp"));
    // 100 less of freight, with a quarter of duty and the fees of the entered value (0.4714 %) and the
    // premium of 0.33 % and what is levied on that, against 120 more of haulage.
    assert!(large - small > 500 && large - small < 650, "{small} {large}");
}
