//! What pages call things: the words of the trade and of its standards.

use crate::common::{Tiny, demo, run, stdout};
use quaystone::fault::Report;
use quaystone::read::Workspace;

/// The same text on one line, as pages wrap.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn container_types_stand_on_pages_as_the_trade_writes_them() {
    let tiny = Tiny::new();
    let named = "name = \"20' GP\"\n";
    tiny.replace("rates/containers.toml", named, &format!("{named}iso = \"22G1\"\n"));
    let cost = stdout(tiny.path(), &["cost", "plain"]);
    assert!(cost.contains("1 x 20' GP (proven)"), "{cost}");
    let load = stdout(tiny.path(), &["load", "plain"]);
    assert!(load.contains("Container 1: 20' GP (22G1)\n"), "{load}");
    // A spreadsheet and a program are given the name that rows refer to, and the code beside it.
    let csv = stdout(tiny.path(), &["load", "plain", "--as", "csv"]);
    assert!(csv.contains("\n1,20gp,22G1,"), "{csv}");
    let json = stdout(tiny.path(), &["load", "plain", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["containers"][0]["type"], "20gp");
    assert_eq!(json["containers"][0]["iso"], "22G1");
}

#[test]
fn a_code_that_is_no_size_and_type_of_iso_6346_is_a_fault() {
    let tiny = Tiny::new();
    let named = "name = \"20' GP\"\n";
    tiny.replace("rates/containers.toml", named, &format!("{named}iso = \"20GP1\"\n"));
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = flat(&String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("ISO 6346") && said.contains("\"22G1\""), "{said}");
}

#[test]
fn two_container_types_have_two_names() {
    let tiny = Tiny::new();
    tiny.replace("rates/containers.toml", "40' GP", "20' GP");
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = flat(&String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("two container types have the name \"20' GP\""), "{said}");
}

#[test]
fn ids_of_container_types_are_words_of_toml_and_of_a_shell() {
    let mut report = Report::new();
    let workspace = Workspace::at(&demo(), &mut report).unwrap();
    let tariffs = quaystone::read::tariffs(&workspace, &mut report).unwrap();
    for kind in &tariffs.containers {
        let is_word = kind.id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit());
        assert!(is_word, "{}", kind.id);
        assert!(kind.iso.is_some(), "{}", kind.id);
    }
}

#[test]
fn made_up_bundle_names_are_no_dates_to_a_spreadsheet() {
    // A line called "1" of ten bundles: "1/10" and "1-10" are the first of October or the tenth of January.
    let tiny = Tiny::new();
    std::fs::remove_file(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(file, "id = \"A\"", "id = \"1\"");
    tiny.append(file, "bundles = 10\nslabs = 3\nsize = \"250 x 160 cm\"\n");
    let csv = stdout(tiny.path(), &["cost", "plain", "--as", "csv"]);
    assert!(csv.contains("\n1-B10-3,1-B10,"), "{csv}");
}

#[test]
fn pages_use_the_words_of_the_trade() {
    let tiny = Tiny::new();
    let page = |args: &[&str]| flat(&stdout(tiny.path(), args));
    let load = page(&["load", "plain", "--width", "400"]);
    // One box of 2,600.00 of freight and haulage, and a cheaper one is excluded.
    for words in
        ["box charges", "(proven minimum)", "room for one more yes, the size of B", "floor load"]
    {
        assert!(load.contains(words), "{words}: {load}");
    }
    assert!(load.contains("crane and forklift limit") && load.contains("running total"), "{load}");
    let cost = page(&["cost", "plain", "--width", "400"]);
    assert!(cost.contains("goods shipping customs delivery landed"), "{cost}");
    assert!(cost.contains("shared by"), "{cost}");
    let slab = page(&["explain", "plain", "A1", "--full", "--width", "400"]);
    assert!(slab.contains("billed area 5.4000 m2") && slab.contains("(by billed area)"), "{slab}");
    let check = run(tiny.path(), &["--help"]);
    let help = flat(&String::from_utf8_lossy(&check.stdout));
    assert!(help.contains("customs worksheet") && help.contains("documents"), "{help}");
}

#[test]
fn the_decision_cost_is_headed_with_finance_and_a_note_says_what_it_holds() {
    let note = "with finance: landed cost with finance and expensed charges";
    let tiny = Tiny::new();
    for file in ["shipment.toml", "packing.csv"] {
        let text = std::fs::read_to_string(tiny.path().join("shipments/plain").join(file)).unwrap();
        tiny.write(&format!("shipments/other/{file}"), &text.replace("I-1", "I-2"));
    }
    for args in [&["cost", "plain"][..], &["compare", "plain", "other"]] {
        let page = stdout(tiny.path(), args);
        assert!(page.contains("with finance ") && flat(&page).contains(note), "{page}");
        assert!(!page.contains("decision cost"), "{page}");
    }
    let json = stdout(tiny.path(), &["cost", "plain", "--as", "json"]);
    assert!(json.contains("\"decision_total\""), "{json}");
}

#[test]
fn a_page_names_a_port_with_its_code() {
    let tiny = Tiny::new();
    let worksheet = stdout(tiny.path(), &["worksheet", "plain"]);
    assert!(
        worksheet.contains("Izmir (TRIZM) to Savannah (USSAV), sails 2026-04-11"),
        "{worksheet}"
    );
    let load = flat(&stdout(tiny.path(), &["load", "plain"]));
    assert!(load.contains("from the works to Izmir (TRIZM)"), "{load}");
    for args in [&["letter", "plain"][..], &["load", "plain", "--for", "supplier"]] {
        let text = flat(&stdout(tiny.path(), args));
        let ports = "port of loading Izmir (TRIZM) port of arrival Savannah (USSAV)";
        assert!(text.contains(ports), "{text}");
    }
    // A program is given the codes, and a port without a name has its code alone.
    let json = stdout(tiny.path(), &["load", "plain", "--for", "supplier", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((json["from"].as_str(), json["port"].as_str()), (Some("TRIZM"), Some("USSAV")));
    tiny.replace("rates/ports.toml", "    { id = \"TRIZM\", name = \"Izmir\" },\n", "");
    let worksheet = stdout(tiny.path(), &["worksheet", "plain"]);
    assert!(worksheet.contains("TRIZM to Savannah (USSAV)"), "{worksheet}");
}

/// A list of 1,234 small slabs in 30 bundles.
fn many_slabs() -> String {
    let rows = (0..30).map(|bundle| {
        let (first, last) = (bundle * 42 + 1, (bundle * 42 + 42).min(1234));
        format!("{first}-{last},B{bundle},20,15,{}\n", last + 1 - first)
    });
    format!("slab,bundle,length (cm),height (cm),pcs\n{}", rows.collect::<String>())
}

#[test]
fn counts_of_pages_and_faults_have_their_thousands_marked_and_those_of_csv_and_json_do_not() {
    let tiny = Tiny::new();
    tiny.write("shipments/plain/packing.csv", &many_slabs());
    for args in [
        &["cost", "plain", "--by", "line"][..],
        &["letter", "plain"],
        &["check", "plain"],
        &["explain", "plain", "7", "ocean freight"],
    ] {
        let text = stdout(tiny.path(), args);
        assert!(text.contains("1,234") && !text.contains("1234"), "{args:?}: {text}");
    }
    let csv = stdout(tiny.path(), &["cost", "plain", "--by", "line", "--as", "csv"]);
    assert!(csv.contains(",1234,"), "{csv}");
    let json = stdout(tiny.path(), &["cost", "plain", "--as", "json"]);
    assert!(!json.contains("1,234"), "{json}");
    let said = run(tiny.path(), &["explain", "plain", "9999"]);
    let said = String::from_utf8_lossy(&said.stderr).into_owned();
    assert!(said.contains("its 1,234 slabs run from 1 to 1234"), "{said}");
}

#[test]
fn the_csv_of_a_cost_names_its_currency_and_the_billed_area() {
    let heads = |units: &str| {
        let args = ["cost", "plain", "--as", "csv", "--units", units];
        let csv = stdout(Tiny::new().path(), &args);
        csv.lines().next().unwrap_or("").to_owned()
    };
    let names = "slab,bundle,box,line";
    let money = "goods USD,shipping USD,customs USD,delivery USD,landed USD";
    let (m2, ft2) = ("USD per billed m2", "USD per billed ft2");
    assert_eq!(heads("metric"), format!("{names},billed m2,{money},{m2},{ft2}"));
    assert_eq!(heads("us"), format!("{names},billed ft2,{money},{ft2},{m2}"));
}
