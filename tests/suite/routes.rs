//! `routes`: a chain costs what `cost` says of files with its lane and days written in. That every chain is there
//! is tried by `tests/oracle/routes.py`.

use quaystone::quantity::Decimal;

use crate::common::{Tiny, demo, json, run, stdout};

const FILE: &str = "shipments/plain/shipment.toml";

/// The tiny workspace with two services to Savannah, one from a second port of loading, and a line that says
/// when it is ready.
fn tiny() -> Tiny {
    let tiny = Tiny::new();
    let freight = std::fs::read_to_string(tiny.path().join("rates/freight.toml")).unwrap();
    let own = freight.split("[[charge]]\nlane = \"JPTYO-USORF\"").next().unwrap();
    tiny.append(
        "rates/freight.toml",
        &own.replace("TRIZM", "TRMER").replace("2000 USD", "1700 USD"),
    );
    tiny.write(
        "rates/sailings.toml",
        "[[sailing]]\nlane = \"TRIZM-USSAV\"\nservice = \"slow\"\nweekdays = [\"tuesday\", \"saturday\"]\ncloses = 4\n\
         transit-days = 28\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n\
         [[sailing]]\nlane = \"TRIZM-USSAV\"\nservice = \"fast\"\ndays = [2026-04-02, 2026-04-23]\ntransit-days = 17\n\
         valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n\
         [[sailing]]\nlane = \"TRMER-USSAV\"\nweekdays = [\"monday\"]\ncloses = 2\ntransit-days = 30\n\
         valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n",
    );
    tiny.replace(
        FILE,
        "price = \"40.00 EUR/m2\"\n",
        "price = \"40.00 EUR/m2\"\nready = 2026-03-30\nports = [\"TRMER\"]\n",
    );
    tiny
}

#[test]
fn a_chain_costs_what_cost_says_of_files_with_its_lane_and_days_written_in() {
    let tiny = tiny();
    let said = json(&tiny, &["routes", "plain"]);
    // Ready on Monday, 30 March. Four days before Saturday, 4 April, is Tuesday the 31st: that ship is made, the
    // one of Tuesday the 31st is not. The fast one goes on 2 April. From the other port two days before Monday,
    // 6 April, is the 4th.
    let days = ["2026-04-04", "2026-04-02", "2026-04-06"];
    let arrives = ["2026-05-02", "2026-04-19", "2026-05-06"];
    let routes = said["routes"].as_array().unwrap();
    assert_eq!(routes.len(), 3);
    for (at, route) in routes.iter().enumerate() {
        assert_eq!((&route["sails"], &route["arrives"]), (&days[at].into(), &arrives[at].into()));
        let copy = Tiny::new();
        for name in ["rates/freight.toml", "rates/sailings.toml", FILE] {
            copy.write(name, &std::fs::read_to_string(tiny.path().join(name)).unwrap());
        }
        let from = route["from"].as_str().unwrap();
        copy.replace(FILE, "FOB TRIZM", &format!("FOB {from}"));
        copy.replace(
            FILE,
            "sails = 2026-04-11, arrives = 2026-05-09",
            &format!("sails = {}, arrives = {}", days[at], arrives[at]),
        );
        let cost = json(&copy, &["cost", "plain"]);
        assert_eq!(route["decision"], cost["decision_total"], "{from}, {}", days[at]);
    }
    assert_eq!(said["fastest"], 1);
    assert_eq!(said["cheapest"], 2);
    // From Mersin it is 17 days slower, and 600.00 USD cheaper for the two boxes or what finance makes of them.
    let figure =
        |at: usize| -> Decimal { routes[at]["decision"].as_str().unwrap().parse().unwrap() };
    let each = (figure(1) - figure(2)) / Decimal::from(17);
    let day: Decimal = said["price_of_a_day"].as_str().unwrap().parse().unwrap();
    assert!((day - each).abs() <= Decimal::new(5, 3), "{day} {each}");
}

#[test]
fn a_ship_that_is_missed_and_a_rate_that_lapses_are_told_and_are_no_cost() {
    let tiny = tiny();
    tiny.replace(FILE, "ready = 2026-03-30", "lead-days = 60");
    // The order of 4 March is ready on 3 May: the fast ships are gone.
    let said = json(&tiny, &["routes", "plain"]);
    let routes = said["routes"].as_array().unwrap();
    assert_eq!(routes[0]["ready"], "2026-05-03");
    assert!(routes[1]["refused"].as_str().unwrap().contains("no sailing is known"));
    tiny.replace(
        "rates/freight.toml",
        "valid = \"2026-03-01..2026-06-30\"",
        "valid = \"2026-03-01..2026-04-30\"",
    );
    let output = run(tiny.path(), &["routes", "plain"]);
    assert_eq!(output.status.code(), Some(3));
    let page = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(page.contains("not in force"), "{page}");
}

#[test]
fn a_term_that_names_the_port_of_destination_keeps_it() {
    let tiny = tiny();
    tiny.replace(
        "rates/yards.toml",
        "port = \"USSAV\"\n",
        "port = \"USSAV\"\nports = [\"USORF\"]\n",
    );
    let lanes = |tiny: &Tiny| {
        let said = json(tiny, &["routes", "plain"]);
        let routes = said["routes"].as_array().unwrap().iter();
        let lane = |route: &serde_json::Value| {
            format!("{}-{}", route["from"], route["to"]).replace('"', "")
        };
        routes.map(lane).collect::<Vec<_>>()
    };
    tiny.append(
        "rates/sailings.toml",
        "[[sailing]]\nlane = \"TRIZM-USORF\"\nweekdays = [\"monday\"]\ntransit-days = 30\n\
         valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n",
    );
    assert!(lanes(&tiny).contains(&"TRIZM-USORF".to_owned()));
    tiny.replace(FILE, "FOB TRIZM", "CFR USSAV");
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    assert_eq!(lanes(&tiny), ["TRIZM-USSAV", "TRIZM-USSAV"]);
}

#[test]
fn the_page_of_two_ports_and_three_ships() {
    crate::commands::snapshot("routes.txt", stdout(&demo(), &["routes", "dock-tandem"]));
}
