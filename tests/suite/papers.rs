//! What papers state of a shipment, held against its packing list by `check`.

use crate::common::{Tiny, run};
use serde_json::Value;

/// Three slabs of 14.8 m2 together at 40.00 EUR, in two bundles of 900 kg with timber.
fn checked(billed: &str, papers: &str) -> (i32, Vec<(String, String, bool)>) {
    let tiny = Tiny::new();
    let shipment = "shipments/plain/shipment.toml";
    tiny.replace(
        shipment,
        "price = \"40.00 EUR/m2\"",
        &format!("price = \"40.00 EUR/m2\"\n{billed}"),
    );
    tiny.append(shipment, papers);
    let output = run(tiny.path(), &["check", "plain", "--as", "json"]);
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    let text = |line: &Value, key: &str| line[key].as_str().unwrap().to_owned();
    let off =
        |line: &Value| format!("{} {}", text(line, "off"), text(line, "unit")).trim().to_owned();
    let lines = json["shipments"][0]["papers"].as_array().unwrap().iter();
    let lines =
        lines.map(|line| (text(line, "figure"), off(line), line["agrees"].as_bool().unwrap()));
    (output.status.code().unwrap(), lines.collect())
}

fn line(figure: &str, off: &str, agrees: bool) -> (String, String, bool) {
    (figure.to_owned(), off.to_owned(), agrees)
}

#[test]
fn an_invoice_that_adds_up_agrees() {
    let billed = "billed = { quantity = \"14.8 m2\", amount = \"592.00 EUR\" }";
    let papers = "[[paper]]\nname = \"packing list\"\npackages = 2\ngross = \"900 kg\"\narea = \"14.8 m2\"\n";
    let (exit, lines) = checked(billed, papers);
    assert_eq!(exit, 0);
    assert_eq!(lines.len(), 5);
    assert!(lines.iter().all(|(_, _, agrees)| *agrees), "{lines:?}");
}

#[test]
fn each_difference_is_shown_and_the_answer_is_no() {
    let billed = "billed = { quantity = \"15 m2\", amount = \"600.00 EUR\" }";
    let papers = "[[paper]]\nname = \"bill of lading\"\npackages = 3\ngross = \"960 kg\"\n";
    let (exit, lines) = checked(billed, papers);
    assert_eq!(exit, 3);
    assert_eq!(
        lines,
        [
            line("quantity of line A", "0.2 m2", false),
            line("amount of line A", "8.00 EUR", false),
            line("packages", "1", false),
            line("gross mass", "60 kg", false),
        ]
    );
}

#[test]
fn masses_from_density_are_given_five_percent() {
    let papers = "[[paper]]\nname = \"bill of lading\"\ngross = \"945 kg\"\n";
    assert_eq!(checked("", papers), (0, vec![line("gross mass", "45 kg", true)]));
}

#[test]
fn papers_are_held_against_each_other() {
    // Each lies within what density allows, and the two are not of one load.
    let papers = "[[paper]]\nname = \"invoice\"\npackages = 2\ngross = \"890 kg\"\n[[paper]]\nname = \"bill of lading\"\npackages = 2\ngross = \"910 kg\"\n";
    let (exit, lines) = checked("", papers);
    assert_eq!(exit, 3);
    assert_eq!(
        lines,
        [
            line("packages", "0", true),
            line("gross mass", "-10 kg", true),
            line("packages", "0", true),
            line("gross mass", "10 kg", true),
            line("packages", "0", true),
            line("gross mass", "20 kg", false),
        ]
    );
}
