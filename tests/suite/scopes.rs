//! Who shares a charge: a scope that a row or a policy asks for is obeyed or refused, never passed over.

use crate::common::{Tiny, run, try_cost};
use quaystone::choose::Costed;
use quaystone::fault::{Report, render};
use quaystone::trade::{ScopeKind, Shipment};

/// Two invoices of a line each. Box 1 holds bundle B1 of line A, box 2 the bundles B2 and B3 of line B.
fn two_boxes() -> Tiny {
    let tiny = Tiny::new();
    let list = "slab,bundle,length (cm),height (cm),line,container\n\
                a1,B1,300,180,A,1\na2,B1,300,180,A,1\nb1,B2,300,180,B,2\nb2,B3,250,160,B,2\n";
    tiny.write("shipments/plain/packing.csv", list);
    let second = r#"
[[invoice]]
supplier = "Quarry Blotter (invented)"
number = "I-2"
term = "FOB TRIZM"
price-valid = "2026-03-01..2026-04-15"
[[invoice.line]]
id = "B"
stone = "chalk"
finish = "polished"
thickness = "20 mm"
price = "70.00 EUR/m2"
"#;
    tiny.append("shipments/plain/shipment.toml", second);
    tiny
}

fn policy(tiny: &Tiny, charge: &str, what: &str) {
    let rule =
        format!("[[policy]]\ncharge = \"{charge}\"\n{what}\nreason = \"invented\"\n\n[[invoice]]");
    let path = "shipments/plain/shipment.toml";
    let text = std::fs::read_to_string(tiny.path().join(path)).unwrap();
    tiny.write(path, &text.replacen("[[invoice]]", &rule, 1));
}

/// For each charge of a name: its scope and the slabs that bear some of it.
fn borne(shipment: &Shipment, costed: &Costed, name: &str) -> Vec<(ScopeKind, String, String)> {
    let landed = &costed.landed;
    let mut all = Vec::new();
    for (at, charge) in landed.charges.iter().enumerate() {
        if charge.name == name {
            let members = landed.sets.members(charge.scope.set).enumerate();
            let bearing =
                members.filter(|(position, _)| landed.shares.of_charge(at, *position).minor != 0);
            let slabs: Vec<&str> =
                bearing.map(|(_, slab)| shipment.slabs[slab].id.as_str()).collect();
            all.push((charge.scope.kind, charge.scope.of.to_string(), slabs.join(" ")));
        }
    }
    all
}

const EVERYTHING: &str = "a1 a2 b1 b2";

#[test]
fn a_scope_is_obeyed_where_it_holds_what_is_counted() {
    let whole = |kind| vec![(kind, "plain", EVERYTHING); 3];
    let per_line = |kind, [a, b]: [&'static str; 2]| {
        vec![(kind, a, "a1 a2"), (kind, b, "b1 b2"), (kind, b, "b1 b2")]
    };
    for (charge, scope, expected) in [
        ("unloading", ScopeKind::Shipment, whole(ScopeKind::Shipment)),
        ("unloading", ScopeKind::Line, per_line(ScopeKind::Line, ["A", "B"])),
        ("unloading", ScopeKind::Invoice, per_line(ScopeKind::Invoice, ["I-1", "I-2"])),
        ("unloading", ScopeKind::Container, per_line(ScopeKind::Container, ["1", "2"])),
        ("unloading", ScopeKind::Entry, whole(ScopeKind::Entry)),
        ("unloading", ScopeKind::Bill, whole(ScopeKind::Bill)),
        (
            "ocean freight",
            ScopeKind::Container,
            per_line(ScopeKind::Container, ["1", "2"])[..2].into(),
        ),
        ("ocean freight", ScopeKind::Shipment, whole(ScopeKind::Shipment)[..2].into()),
        // A percentage of the haulage, which is counted by the box.
        (
            "fuel surcharge",
            ScopeKind::Container,
            per_line(ScopeKind::Container, ["1", "2"])[..2].into(),
        ),
        ("merchandise processing fee", ScopeKind::Shipment, whole(ScopeKind::Shipment)[..1].into()),
    ] {
        let tiny = two_boxes();
        let before = tiny.cost("plain").1.landed.total;
        policy(&tiny, charge, &format!("scope = \"{}\"", scope.word()));
        let (shipment, costed) = tiny.cost("plain");
        assert_eq!(costed.landed.total, before, "{charge} over {}", scope.word());
        let borne = borne(&shipment, &costed, charge);
        let borne: Vec<_> =
            borne.iter().map(|(kind, of, slabs)| (*kind, of.as_str(), slabs.as_str())).collect();
        assert_eq!(borne, expected, "{charge} over {}", scope.word());
    }
}

#[test]
fn a_scope_that_cannot_be_obeyed_is_refused_where_it_is_asked_for() {
    let serving = [
        ("unloading", "tariff line", "\"bundle\", \"container\", \"line\", \"invoice\""),
        ("unloading", "slab", "\"bundle\", \"container\", \"line\", \"invoice\""),
        ("ocean freight", "line", "\"container\", \"bill of lading\", \"entry\", \"shipment\""),
        ("ocean freight", "slab", "\"container\", \"bill of lading\", \"entry\", \"shipment\""),
        ("customs entry", "bundle", "\"entry\", \"shipment\""),
        ("merchandise processing fee", "tariff line", "\"entry\", \"shipment\""),
        ("cargo insurance", "line", "\"shipment\""),
        ("fuel surcharge", "line", "\"shipment\""),
        ("duty", "shipment", "\"tariff line\""),
        ("discount", "line", "\"invoice\""),
    ];
    for (charge, scope, serving) in serving {
        let tiny = two_boxes();
        tiny.replace(
            "shipments/plain/shipment.toml",
            "number = \"I-1\"",
            "number = \"I-1\"\ndiscount = \"2 %\"",
        );
        policy(&tiny, charge, &format!("scope = \"{scope}\""));
        let mut report = Report::new();
        assert!(try_cost(tiny.path(), "plain", &mut report).is_none(), "{charge} over {scope}");
        let said = render(&report, false);
        assert!(said.contains(&format!("scope = \"{scope}\"")), "{said}");
        assert!(said.contains("cannot be spread over the scope"), "{said}");
        assert!(said.contains(serving), "{said}");
    }
}

#[test]
fn a_box_on_two_entries_is_not_spread_over_one() {
    let tiny = two_boxes();
    tiny.replace("shipments/plain/packing.csv", "b1,B2,300,180,B,2", "b1,B2,300,180,B,1");
    let entries = "[[entry]]\nid = \"first\"\ninvoices = [\"I-1\"]\n[[entry]]\nid = \"second\"\ninvoices = [\"I-2\"]\n";
    tiny.append("shipments/plain/shipment.toml", entries);
    policy(&tiny, "ocean freight", "scope = \"entry\"");
    let mut report = Report::new();
    assert!(try_cost(tiny.path(), "plain", &mut report).is_none());
    let said = render(&report, false);
    assert!(said.contains("container 1 lies in more than one entry"), "{said}");
}

#[test]
fn a_fee_of_an_entry_stays_on_its_worksheet_however_it_is_spread() {
    let tiny = two_boxes();
    let entries = "[[entry]]\nid = \"first\"\ninvoices = [\"I-1\"]\n[[entry]]\nid = \"second\"\ninvoices = [\"I-2\"]\n";
    tiny.append("shipments/plain/shipment.toml", entries);
    let cash = |tiny: &Tiny| {
        let (_, costed) = tiny.cost("plain");
        let sheets =
            quaystone::customs::worksheet(&costed.landed.entries, &costed.landed.charges).unwrap();
        sheets.iter().map(|sheet| sheet.cash).collect::<Vec<_>>()
    };
    let before = cash(&tiny);
    policy(&tiny, "merchandise processing fee", "scope = \"shipment\"");
    assert_eq!(cash(&tiny), before);
}

#[test]
fn goods_take_no_policy() {
    for what in ["treatment = \"period\"", "key = \"count\"", "scope = \"invoice\""] {
        let tiny = two_boxes();
        policy(&tiny, "goods", what);
        let output = run(tiny.path(), &["cost", "plain"]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(1), "{said}");
        assert!(said.contains("no policy moves the price of goods"), "{said}");
    }
}

#[test]
fn time_may_be_counted_anew_for_each_box_by_a_policy() {
    // From 9 to 12 May, three days at 10 for the shipment, or for each of two boxes.
    let row = "[[charge]]\nname = \"storage\"\nleg = \"destination terminal\"\namount = \"10 USD\"\nper = \"day\"\ndays = \"arrives..delivered\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n";
    for (scope, amounts) in [("shipment", vec!["30.00 USD"]), ("container", vec!["30.00 USD"; 2])] {
        let tiny = two_boxes();
        tiny.append("rates/fees.toml", row);
        policy(&tiny, "storage", &format!("scope = \"{scope}\""));
        let (_, costed) = tiny.cost("plain");
        let own = costed.landed.charges.iter().filter(|charge| charge.name == "storage");
        let own: Vec<String> = own.map(|charge| charge.amount().to_string()).collect();
        assert_eq!(own, amounts, "{scope}");
    }
}
