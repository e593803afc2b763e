//! A term may name its port as people call it.

use crate::common::{Tiny, demo, json, stdout};

#[test]
fn a_port_by_its_name_costs_what_its_code_does() {
    let tiny = Tiny::new();
    let by_code = stdout(tiny.path(), &["cost", "plain", "--as", "csv"]);
    let by_name = |name: &str| {
        let tiny = Tiny::new();
        tiny.replace("shipments/plain/shipment.toml", "FOB TRIZM", &format!("FOB {name}"));
        stdout(tiny.path(), &["cost", "plain", "--as", "csv"])
    };
    for name in ["Izmir", "İZMİR", "izmir, Turkey"] {
        assert_eq!(by_name(name), by_code, "{name}");
    }
}

#[test]
fn the_known_ports_are_listed_with_their_codes() {
    let page = stdout(&demo(), &["rates", "--ports"]);
    let row = page.lines().find(|line| line.starts_with("INMAA")).unwrap();
    assert!(row.contains("Chennai") && row.contains("Madras"), "{row}");
    let listed = json(&Tiny::new(), &["rates", "--ports"]);
    assert_eq!(listed["ports"][0]["port"], "TRIZM");
    assert_eq!(listed["ports"][0]["name"], "Izmir");
}
