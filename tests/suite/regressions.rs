//! Faults that were found and mended, each with a test named for it.

use crate::common::{Tiny, try_cost};
use quaystone::fault::{Report, render};

fn row(keys: &str, name: &str, leg: &str, amount: &str, per: &str) -> String {
    format!(
        "[[charge]]\n{keys}\nname = \"{name}\"\nleg = \"{leg}\"\namount = \"{amount}\"\nper = \"{per}\"\nvalid = \"2026-01-01..\"\nsource = \"made up\"\n"
    )
}

#[test]
fn a_box_without_ocean_freight_is_no_cheap_box() {
    // A type that the lane does not quote, beside surcharges that fit every type, was carried for
    // the surcharges alone and so won as the cheapest.
    let tiny = Tiny::new();
    let text = std::fs::read_to_string(tiny.path().join("rates/containers.toml")).unwrap();
    let first = text.split("[[container]]").nth(1).unwrap();
    let open = first.replace("20gp", "20st").replace("20' GP", "20' ST");
    tiny.append("rates/containers.toml", &format!("[[container]]{open}"));
    let lane = "lane = \"TRIZM-USSAV\"";
    tiny.append("rates/freight.toml", &row(lane, "bunker", "main carriage", "90 USD", "container"));
    let yard = "yard = \"savannah\"\ncontainer = \"20st\"";
    tiny.append("rates/drayage.toml", &row(yard, "haulage", "on-carriage", "400 USD", "container"));
    let (_, costed) = tiny.cost("plain");
    let kinds: Vec<&str> =
        costed.plan.variants.iter().map(|variant| variant.container.id.as_str()).collect();
    assert_eq!(kinds, ["20gp"]);

    tiny.replace("shipments/plain/shipment.toml", "to = ", "containers = [\"20st\"]\nto = ");
    let mut report = Report::new();
    assert!(try_cost(tiny.path(), "plain", &mut report).is_none());
    assert!(render(&report, false).contains("no container type has its rates"));
}

#[test]
fn two_works_have_each_their_own_truck() {
    // Rows were asked for at the first invoice's works only, and its truck served both.
    let tiny = Tiny::new();
    let invoice = |number: &str, place: &str, line: &str| {
        format!(
            "[[invoice]]\nsupplier = \"Quarry {number} (invented)\"\nnumber = \"{number}\"\nterm = \"EXW {place}\"\nprice-valid = \"2026-03-01..2026-04-15\"\n[[invoice.line]]\nid = \"{line}\"\nstone = \"chalk\"\nfinish = \"polished\"\nthickness = \"20 mm\"\nprice = \"40 USD/m2\"\n"
        )
    };
    let head = "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\ndates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }\n";
    let text = [head, &invoice("N-1", "North", "A"), &invoice("S-1", "South", "B")].concat();
    tiny.write("shipments/plain/shipment.toml", &text);
    tiny.write(
        "shipments/plain/packing.csv",
        "slab,bundle,line,length mm,height mm\nA1,B1,A,3000,1800\nS1,B2,B,3000,1800\n",
    );
    for (place, amount) in [("North", "100 USD"), ("South", "900 USD")] {
        let keys = format!("term-place = \"{place}\"");
        tiny.append("rates/crating.toml", &row(&keys, "truck", "pre-carriage", amount, "shipment"));
    }
    tiny.append("rates/crating.toml", &row("", "papers", "export clearance", "0 USD", "shipment"));
    let (_, costed) = tiny.cost("plain");
    let trucks: Vec<String> = costed
        .landed
        .charges
        .iter()
        .filter(|charge| charge.name == "truck")
        .map(|charge| charge.amount().to_string())
        .collect();
    assert_eq!(trucks, ["100.00 USD", "900.00 USD"]);
}
