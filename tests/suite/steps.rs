//! Prices by quantity, and what is added to them.

use std::fmt::Write as _;
use std::fs;

use quaystone::quantity::{Decimal, Price, Written};

use crate::common::{DEMO, Tiny, charges, entered, json, run, stdout, without};

const FILE: &str = "shipments/plain/shipment.toml";
const PRICE: &str = "price = \"40.00 EUR/m2\"";

/// Slabs of 5.4, 5.4 and 4.0 m2 in two bundles, 14.8 m2, at this price.
fn priced(price: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(FILE, PRICE, price);
    tiny
}

fn goods(price: &str) -> Vec<String> {
    charges(&priced(price).cost("plain").1, "goods")
}

/// 40.00 a square metre, and 38.00 from a quantity on.
fn from(quantity: &str) -> String {
    format!(
        "price = [{{ price = \"40.00 EUR/m2\" }}, {{ from = \"{quantity}\", price = \"38.00 EUR/m2\" }}]"
    )
}

/// A page without its line breaks.
fn joined(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_step_of_a_price_holds_from_its_quantity_on() {
    // 14.8 x 40.00 = 592.00, 14.8 x 38.00 = 562.40.
    for (quantity, comes_to) in [
        ("14.8 m2", "562.40 EUR"),
        ("14.800001 m2", "592.00 EUR"),
        ("2 bundles", "562.40 EUR"),
        ("3 bundles", "592.00 EUR"),
        ("3 slabs", "562.40 EUR"),
        ("4 slabs", "592.00 EUR"),
        // 14.8 m2 x 20 mm x 2,500 kg/m3 = 740 kg.
        ("0.740 t", "562.40 EUR"),
        ("0.741 t", "592.00 EUR"),
    ] {
        assert_eq!(goods(&from(quantity)), [comes_to], "{quantity}");
    }
    let three = "price = [{ price = \"40.00 EUR/m2\" }, { from = \"10 m2\", price = \"38.00 EUR/m2\" }, { from = \"14 m2\", price = \"36.50 EUR/m2\" }]";
    // 14.8 x 36.50.
    assert_eq!(goods(three), ["540.20 EUR"]);
}

#[test]
fn a_step_may_be_for_the_part_above_it() {
    // 10 x 40.00 + 4.8 x 38.00 = 400.00 + 182.40.
    let price = format!("{}\napplies = \"part above\"", from("10 m2"));
    assert_eq!(goods(&price), ["582.40 EUR"]);
    let on_it = format!("{}\napplies = \"part above\"", from("14.8 m2"));
    assert_eq!(goods(&on_it), ["592.00 EUR"]);
    // Rounded by the slab, each at 582.40 / 14.8 a square metre: 5.4 m2 come to 212.4973, 4.0 to 157.4054.
    let by_slab = format!("{price}\nmeasure = {{ money = \"slab\" }}");
    assert_eq!(goods(&by_slab), ["582.41 EUR"]);
    let page = stdout(priced(&price).path(), &["explain", "plain", "A1", "goods"]);
    let working = "10 m2 x 40.00 EUR/m2 + 4.8 m2 x 38.00 EUR/m2 (from 10 m2) = 582.40 EUR";
    assert!(joined(&page).contains(working), "{page}");
}

#[test]
fn the_price_on_the_page_of_compare_has_its_steps_and_additions() {
    let extras = "extra = [{ name = \"resin\", price = \"2.00 EUR/m2\" }, { name = \"mesh\", price = \"3.00 EUR/slab\" }]";
    let price = format!("{}\napplies = \"part above\"\n{extras}", from("10 m2"));
    let tiny = priced(&price);
    let written = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    tiny.write("shipments/other/shipment.toml", &written.replace(extras, "").replace("I-1", "I-2"));
    let list = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.write("shipments/other/packing.csv", &list);
    let args = ["compare", "plain", "other"];
    let page = json(&tiny, &args);
    let entries = page["groups"][0]["offers"].as_array().unwrap();
    let own = entries.iter().find(|one| one["shipment"] == "plain").unwrap();
    assert_eq!(own["prices"], serde_json::json!(["40.00 EUR/m2", "38.00 EUR/m2"]));
    let additions = serde_json::json!([
        { "name": "resin", "price": "2.00 EUR/m2" },
        { "name": "mesh", "price": "3.00 EUR/slab" }
    ]);
    assert_eq!(own["additions"], additions);
    let cell = "40.00 EUR/m2, 38.00 EUR/m2 + 2.00 EUR/m2 resin + 3.00 EUR/slab mesh";
    for form in ["text", "markdown", "html"] {
        let wide = [&args[..], &["--as", form, "--width", "200"]].concat();
        let page = stdout(tiny.path(), &wide);
        assert!(page.contains(cell), "{form}: {page}");
    }
    let list = stdout(tiny.path(), &[&args[..], &["--as", "csv"]].concat());
    for row in [",price,EUR/m2,", ",added,\"EUR/m2, resin\",", ",added,\"EUR/slab, mesh\","] {
        assert!(list.contains(row), "{list}");
    }
}

#[test]
fn slabs_given_free_count_towards_no_step() {
    // Without A3 10.8 m2 are billed.
    let tiny = priced(&from("14 m2"));
    tiny.replace(FILE, "term = \"FOB TRIZM\"", "term = \"FOB TRIZM\"\nfree-slabs = [\"A3\"]");
    assert_eq!(charges(&tiny.cost("plain").1, "goods"), ["432.00 EUR"]);
    let tiny = priced(&from("2 bundles"));
    tiny.replace(FILE, "term = \"FOB TRIZM\"", "term = \"FOB TRIZM\"\nfree-slabs = [\"A3\"]");
    assert_eq!(charges(&tiny.cost("plain").1, "goods"), ["432.00 EUR"]);
}

#[test]
fn the_quantity_of_the_whole_invoice_may_count() {
    let second = "\n[[invoice.line]]\nid = \"B\"\nstone = \"chalk\"\nfinish = \"polished\"\nthickness = \"20 mm\"\nprice = \"30.00 EUR/m2\"\nquantity = \"10 m2\"\n";
    let of = |counted: &str, applies: &str| {
        let tiny = priced(&format!("{}\n{counted}\n{applies}", from("20 m2")));
        tiny.append(FILE, second);
        charges(&tiny.cost("plain").1, "goods")
    };
    let (invoice, above) = ("counted = \"invoice\"", "applies = \"part above\"");
    // Line A alone has 14.8 m2; with B there are 24.8.
    assert_eq!(of("", ""), ["592.00 EUR", "300.00 EUR"]);
    assert_eq!(of(invoice, ""), ["562.40 EUR", "300.00 EUR"]);
    // 20 of the 24.8 m2 at 40.00 and 4.8 at 38.00: 982.40; line A has 14.8 / 24.8 of them, 586.2709...
    assert_eq!(of(invoice, above), ["586.27 EUR", "300.00 EUR"]);
}

#[test]
fn what_is_added_to_a_price_is_goods() {
    // 14.8 x 2.00 for resin and 3 x 3.00 for a mesh.
    let extras = "extra = [{ name = \"resin\", price = \"2.00 EUR/m2\" }, { name = \"mesh\", price = \"3.00 EUR/slab\" }]";
    let tiny = priced(&format!("{PRICE}\n{extras}"));
    let (_, costed) = tiny.cost("plain");
    assert_eq!(charges(&costed, "goods"), ["630.60 EUR"]);
    let page = stdout(tiny.path(), &["explain", "plain", "A1", "goods"]);
    let working = "14.800000 m2 x 40.00 EUR/m2 + 14.800000 m2 x 2.00 EUR/m2 (resin) + 3 slabs x 3.00 EUR/slab (mesh) = 630.60 EUR";
    assert!(joined(&page).contains(working), "{page}");
    // 5.4 x 42.00 + 3.00.
    assert!(page.contains("229.80 EUR of 630.60 EUR (in proportion to price)"), "{page}");
    // It is dutiable: by the slab or by area, the entered value is that of the goods.
    let (_, dearer) = priced("price = \"42.00 EUR/m2\"").cost("plain");
    let (_, added) =
        priced(&format!("{PRICE}\nextra = [{{ name = \"resin\", price = \"2.00 EUR/m2\" }}]"))
            .cost("plain");
    assert_eq!(entered(&dearer), entered(&added));
    assert_eq!(dearer.landed.total, added.landed.total);
}

#[test]
fn a_quantity_just_under_a_step_is_told_what_reaching_it_costs_and_saves() {
    let note = |tiny: &Tiny| {
        let page = joined(&stdout(tiny.path(), &["cost", "plain"]));
        page.split("- ")
            .find(|note| note.contains("short of the price"))
            .map(|note| note.trim().to_owned())
    };
    let landed = |tiny: &Tiny| -> Decimal {
        json(tiny, &["cost", "plain"])["total"].as_str().unwrap().parse().unwrap()
    };
    // 14.8 m2 are there. A bundle more like the lighter, of 4 m2, makes 18.8.
    let tiny = priced(&from("16 m2"));
    let (told, now) = (note(&tiny).unwrap(), landed(&tiny));
    let list = fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.write("shipments/plain/packing.csv", &(list + "A4,B3,250,160\n"));
    // 14.8 m2 at 38.00 and not at 40.00 EUR: 29.60 EUR less.
    let costs = landed(&tiny) - now;
    let sentence = format!(
        "line A: 1.2 m2 short of the price from 16 m2 on, 38.00 EUR/m2; 1 bundle more would land at {costs:.2} USD more in all: the lower price takes 29.60 EUR off the goods there are, and that is counted"
    );
    assert_eq!(told, sentence);
    // Two bundles like it make 22.8 m2, and a bundle has 7.4 m2 on average.
    assert!(note(&priced(&from("22.2 m2"))).unwrap().contains("; 2 bundles more would land at"));
    assert_eq!(note(&priced(&from("22.3 m2"))), None);
    assert!(note(&priced(&from("3 bundles"))).unwrap().contains("1 bundle short of the price"));
    assert_eq!(note(&priced(&from("14 m2"))), None);
    let above = format!("{}\napplies = \"part above\"", from("16 m2"));
    assert_eq!(note(&priced(&above)), None);
}

#[test]
fn a_step_that_takes_another_box_counts_the_box() {
    // 26 t go in a box here, and 4.5 t a bundle: five bundles, and a sixth needs another.
    let tiny = priced(&from("6 bundles").replace("38.00", "39.99"));
    let mut list = String::from("slab,bundle,length (cm),height (cm),weighed mass (kg)\n");
    for slab in 0..20 {
        writeln!(list, "{slab},B{},270,180,4500", slab / 5).unwrap();
    }
    tiny.write("shipments/plain/packing.csv", &list);
    let page = joined(&stdout(tiny.path(), &["cost", "plain"]));
    assert!(!page.contains("short of the price"), "{page}");
    tiny.replace(FILE, "6 bundles", "5 bundles");
    let page = joined(&stdout(tiny.path(), &["cost", "plain"]));
    let (_, costs) = page.split_once("1 bundle more would land at ").unwrap();
    let costs: Decimal = costs.split(' ').next().unwrap().replace(',', "").parse().unwrap();
    // The freight of a box is 2,000.00 USD, and the bundle 24.3 m2 at 39.99 EUR.
    assert!(costs > Decimal::from(3_000), "{page}");
}

#[test]
fn a_quantity_under_the_least_order_is_an_honest_no() {
    let asked = |least: &str| {
        let tiny = Tiny::new();
        tiny.replace(
            FILE,
            "term = \"FOB TRIZM\"",
            &format!("term = \"FOB TRIZM\"\nleast = \"{least}\""),
        );
        let output = run(tiny.path(), &["cost", "plain"]);
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    for met in ["2 bundles", "14.8 m2", "3 slabs", "0.74 t"] {
        assert_eq!(asked(met), (Some(0), String::new()), "{met}");
    }
    let told = "plain: I-1 is sold from 5 bundles on, and has 2 bundles; missing: 3 bundles\n";
    assert_eq!(asked("5 bundles"), (Some(3), told.to_owned()));
    let told = "plain: I-1 is sold from 15 m2 on, and has 14.8 m2; missing: 0.2 m2\n";
    assert_eq!(asked("15 m2"), (Some(3), told.to_owned()));
    // Two bundles of 620 and 280 kg leave room in their box. The lighter of two is the median one.
    let (code, told) = asked("1 full container");
    assert_eq!(code, Some(3));
    assert!(told.starts_with("plain: I-1 is sold from 1 full container on, and fills 0 of 1; there is room for another bundle of"), "{told}");
    // Four bundles of 4.5 t are in a box, and the road stops a fifth.
    let four = |least: &str| {
        let tiny = Tiny::new();
        let old = "term = \"FOB TRIZM\"";
        tiny.replace(FILE, old, &format!("{old}\nleast = \"{least}\""));
        let mut list = String::from("slab,bundle,length (cm),height (cm),weighed mass (kg)\n");
        for slab in 0..28 {
            writeln!(list, "{slab},{},270,180,4500", ["A", "B", "C", "D"][slab / 7]).unwrap();
        }
        tiny.write("shipments/plain/packing.csv", &list);
        let output = run(tiny.path(), &["check", "plain"]);
        (output.status.code(), String::from_utf8(output.stdout).unwrap())
    };
    let (code, page) = four("1 full container");
    assert_eq!(code, Some(0), "{page}");
    let (code, page) = four("2 full containers");
    assert!(code == Some(3) && page.contains("under the least order"), "{page}");
}

#[test]
fn each_quality_may_have_its_price() {
    let by_quality = "price = [{ quality = \"first\", price = \"40.00 EUR/m2\" }, { quality = \"second\", price = \"30.00 EUR/m2\" }, { quality = \"second\", from = \"14 m2\", price = \"28.00 EUR/m2\" }]";
    let of = |more: &str| {
        let tiny = priced(by_quality);
        for word in ["first", "second"] {
            let row =
                format!("[[quality]]\nid = \"{word}\"\nname = \"{word}\"\nsource = \"invented\"\n");
            tiny.append("rates/stones.toml", &row);
        }
        let list = "slab,bundle,length (cm),height (cm),quality\nA1,B1,300,180,first\nA2,B1,300,180,second\nA3,B2,250,160,";
        tiny.write("shipments/plain/packing.csv", &format!("{list}{more}\n"));
        tiny
    };
    // 5.4 x 40.00 + 9.4 x 28.00 = 216.00 + 263.20: the step counts all 14.8 m2 of the line.
    let tiny = of("second");
    assert_eq!(charges(&tiny.cost("plain").1, "goods"), ["479.20 EUR"]);
    let page = joined(&stdout(tiny.path(), &["explain", "plain", "A2", "goods"]));
    let working = "5.400000 m2 x 40.00 EUR/m2 (first) + 9.400000 m2 x 28.00 EUR/m2 (second, from 14 m2) = 479.20 EUR";
    assert!(page.contains(working), "{page}");
    // 5.4 x 28.00.
    assert!(page.contains("151.20 EUR of 479.20 EUR (in proportion to price)"), "{page}");
    let output = run(of("").path(), &["cost", "plain"]);
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(told.contains("line A is priced by quality, and slab A3 has none"), "{told}");
}

#[test]
fn a_price_that_is_set_takes_its_steps_with_it_in_proportion() {
    let (shipment, _) = priced(&from("10 m2")).cost("plain");
    let mut line = shipment.lines[0].clone();
    let half = <Price as Written>::read("20.00 EUR/m2").unwrap();
    line.set_price(half);
    assert_eq!(line.price.to_string(), "20.00 EUR/m2");
    assert_eq!(line.pricing.steps[0].price.to_string(), "19 EUR/m2");
}

#[test]
fn whatever_hangs_on_a_price_hangs_on_the_step_that_is_reached() {
    for name in DEMO {
        let demo = Tiny::of_demo(name);
        let file = format!("shipments/{name}/shipment.toml");
        // Without the lines of the file, which a longer price moves.
        let cost = |tiny: &Tiny| without(json(tiny, &["cost", name]), &["line"]);
        let plain = cost(&demo);
        let text = fs::read_to_string(demo.path().join(&file)).unwrap();
        let mut stepped = String::new();
        for line in text.lines() {
            // One price for the lot has no steps.
            let price = line.strip_prefix("price = \"").and_then(|rest| rest.split_once('"'));
            let price = price.filter(|(price, _)| !price.ends_with("/lot"));
            match price {
                Some((price, rest)) => {
                    let (_, unit) = price.split_once(' ').unwrap();
                    let by = unit.split_once('/').unwrap().1;
                    let steps = format!(
                        "{{ price = \"99.00 {unit}\" }}, {{ from = \"0.001 {by}\", price = \"{price}\" }}"
                    );
                    writeln!(stepped, "price = [{steps}]{rest}").unwrap();
                }
                None => writeln!(stepped, "{line}").unwrap(),
            }
        }
        assert_ne!(text.trim(), stepped.trim());
        demo.write(&file, &stepped);
        assert_eq!(plain, cost(&demo), "{name}");
    }
}
