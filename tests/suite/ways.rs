//! Several ways to buy the same goods in one folder.

use crate::common::{Tiny, charges, cost, json, run, stdout, without};

/// Three slabs, 14.8 m2 at 40.00 EUR/m2 FOB: CIF, or 2 % less for payment on order.
const WAYS: &str = r#"
[[way]]
id = "cif"
term = "CIF USSAV"
line = [{ id = "A", price = "52.00 EUR/m2" }]

[[way]]
id = "on order"
discount = "2 %"
payment = [{ name = "on order", share = "100 %", on = 2026-04-02 }]
"#;

const FILE: &str = "shipments/plain/shipment.toml";

/// What names the way, and the lines of the file.
const NAMES: [&str; 3] = ["shipment", "way", "line"];

fn with_ways() -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(FILE, WAYS);
    tiny
}

#[test]
fn a_way_comes_to_what_the_shipment_comes_to_when_it_is_written_so() {
    for (way, was, is) in [
        ("cif", "term = \"FOB TRIZM\"", "term = \"CIF USSAV\""),
        (
            "on order",
            "term = \"FOB TRIZM\"",
            "term = \"FOB TRIZM\"\ndiscount = \"2 %\"\npayment = [{ name = \"on order\", share = \"100 %\", on = 2026-04-02 }]",
        ),
    ] {
        let tiny = with_ways();
        let of_way = json(&tiny, &["cost", "plain", "--way", way]);
        assert_eq!(of_way["way"], way);
        let written = Tiny::new();
        written.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
        written.replace(FILE, was, is);
        if way == "cif" {
            written.replace(FILE, "40.00 EUR/m2", "52.00 EUR/m2");
        }
        assert_eq!(
            without(of_way, &NAMES),
            without(json(&written, &["cost", "plain"]), &NAMES),
            "{way}"
        );
    }
}

#[test]
fn compare_has_a_row_for_each_way_and_the_written_one_is_costed_without_asking() {
    let tiny = with_ways();
    let compared = json(&tiny, &["compare", "plain"]);
    let offers = compared["offers"].as_array().unwrap();
    let terms: Vec<&str> = offers.iter().map(|one| one["term"].as_str().unwrap()).collect();
    assert_eq!(terms, ["FOB TRIZM", "CIF USSAV", "FOB TRIZM"]);
    for (offer, way) in offers.iter().zip([None, Some("cif"), Some("on order")]) {
        let mut args = vec!["cost", "plain"];
        args.extend(way.into_iter().flat_map(|way| ["--way", way]));
        assert_eq!(offer["landed"], json(&tiny, &args)["total"]);
    }
    // 14.8 m2 x 40.00 = 592.00, x 52.00 = 769.60; 2 % of 592.00 = 11.84.
    let (_, written) = tiny.cost("plain");
    assert_eq!(charges(&written, "goods"), ["592.00 EUR"]);
    assert_eq!(charges(&written, "discount"), Vec::<String>::new());
    let page = stdout(tiny.path(), &["cost", "plain"]);
    assert!(page.contains("as written (other ways: cif, on order)"), "{page}");
    let page = stdout(tiny.path(), &["cost", "plain", "--way", "cif"]);
    assert!(page.starts_with("plain, way cif"), "{page}");
    assert!(page.contains("769.60 EUR"), "{page}");
    let page = stdout(tiny.path(), &["cost", "plain", "--way", "on order"]);
    assert!(page.contains("-11.84 EUR"), "{page}");
    let page = stdout(tiny.path(), &["check"]);
    assert!(
        page.contains("plain is checked as it is written; other ways: cif, on order"),
        "{page}"
    );
    // Two shipments: each way of each.
    let other = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    tiny.write("shipments/other/shipment.toml", other.split("\n[[way]]").next().unwrap());
    let list = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.write("shipments/other/packing.csv", &list);
    assert_eq!(json(&tiny, &["compare", "plain", "other"])["offers"].as_array().unwrap().len(), 4);
    let one = run(tiny.path(), &["compare", "other"]);
    assert_eq!(one.status.code(), Some(2));
}

#[test]
fn a_bill_of_one_way_never_counts_for_another() {
    let tiny = with_ways();
    tiny.state_bills();
    tiny.append(FILE, "\n[[paper]]\nname = \"supplier's list\"\narea = \"14.8 m2\"\n");
    let mut report = quaystone::fault::Report::new();
    let workspace = quaystone::read::Workspace::at(tiny.path(), &mut report).unwrap();
    let tariffs = quaystone::read::tables(&workspace, &mut report);
    let mut read = |way| {
        let asked = quaystone::read::Asked { name: "plain", way };
        quaystone::read::shipment(&workspace, asked, &tariffs, &mut report).unwrap()
    };
    let written = read(None);
    assert!(written.invoices[0].total.is_some() && written.invoices[0].rounding.is_some());
    assert!(written.lines[0].billed.is_some() && written.papers.len() == 1);
    let cif = read(Some("cif"));
    assert!(cif.invoices[0].total.is_none() && cif.invoices[0].rounding.is_none());
    assert!(cif.lines[0].billed.is_none() && cif.papers.is_empty());
    // A way may have a bill and papers of its own: they are held against it.
    let own =
        "term = \"CIF USSAV\"\ntotal = \"769.60 EUR\"\npaper = [{ name = \"own\", packages = 2 }]";
    tiny.replace(FILE, "term = \"CIF USSAV\"", own);
    let cif = read(Some("cif"));
    assert_eq!(cif.invoices[0].total.as_ref().unwrap().to_string(), "769.60 EUR");
    assert_eq!(cif.papers[0].name.value, "own");
    tiny.replace(FILE, "769.60", "769.61");
    let wrong = run(tiny.path(), &["cost", "plain", "--way", "cif"]);
    let wrong = String::from_utf8_lossy(&wrong.stderr);
    assert!(wrong.contains("the total of invoice I-1 is 0.01 EUR above the 769.60 EUR"), "{wrong}");
    assert_eq!(String::from_utf8_lossy(&run(tiny.path(), &["cost", "plain"]).stderr), "");
}

#[test]
fn a_price_that_has_lapsed_in_one_way_leaves_the_others() {
    let tiny = with_ways();
    let lapsed = "term = \"CIF USSAV\"\nprice-valid = \"2026-02-01..2026-03-01\"";
    tiny.replace(FILE, "term = \"CIF USSAV\"", lapsed);
    let (shipment, _) = cost(tiny.path(), "plain");
    assert_eq!(shipment.ways, ["cif", "on order"]);
    let lapsed = run(tiny.path(), &["cost", "plain", "--way", "cif"]);
    assert_eq!(lapsed.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&lapsed.stderr).contains("lapsed-rate"));
}

#[test]
fn a_plan_that_is_kept_for_one_way_serves_no_other() {
    let tiny = with_ways();
    stdout(tiny.path(), &["load", "plain", "--freeze", "--way", "cif"]);
    let plan = "shipments/plain/plan.toml";
    let text = std::fs::read_to_string(tiny.path().join(plan)).unwrap();
    assert!(text.contains("\nway = \"cif\"\n"), "{text}");
    let proof = |args: &[&str]| json(&tiny, args)["proof"].as_str().unwrap().to_owned();
    assert_eq!(proof(&["load", "plain", "--way", "cif"]), "given");
    for args in [&["load", "plain"][..], &["load", "plain", "--way", "on order"]] {
        assert_eq!(proof(args), "proven", "{args:?}");
        let said = String::from_utf8(run(tiny.path(), args).stderr).unwrap();
        assert!(
            said.contains("warning[notice]: the plan is for way cif, and is left aside"),
            "{said}"
        );
    }
    // Held against the shipment as it is written, it is refused.
    let path = tiny.path().join(plan);
    let path = path.to_str().unwrap();
    let check = run(tiny.path(), &["load", "plain", "--check", path]);
    assert_eq!(check.status.code(), Some(1));
    let said = String::from_utf8(check.stderr).unwrap();
    assert!(
        said.contains("error[contradiction]: the plan is for way cif, not for plain"),
        "{said}"
    );
    let check = run(tiny.path(), &["load", "plain", "--way", "cif", "--check", path]);
    assert_eq!(check.status.code(), Some(0));
    // One that names no way serves all, and one that names a way that there is not, none.
    tiny.write(plan, &text.replace("way = \"cif\"", ""));
    assert_eq!(proof(&["load", "plain", "--way", "on order"]), "given");
    tiny.write(plan, &text.replace("way = \"cif\"", "way = \"cfi\""));
    let wrong = run(tiny.path(), &["load", "plain"]);
    let said = String::from_utf8(wrong.stderr).unwrap();
    assert!(said.contains("error[unknown-reference]: no way is called \"cfi\""), "{said}");
}
