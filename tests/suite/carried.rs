//! What serves on after it has lapsed where `--carry` asks for it: rates of ours, and neither law nor what
//! customs certify; and the letter, which hangs on none of them.

use crate::common::{Tiny, json, json_of_any_answer, run, stdout};

/// The freight of the shipment `plain`, and the same lapsed ten days before its goods sail.
const FREIGHT: [&str; 2] = [
    "amount = \"2000 USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-06-30\"",
    "amount = \"2000 USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-04-01\"",
];

fn lapse_freight(tiny: &Tiny) {
    tiny.replace("rates/freight.toml", FREIGHT[0], FREIGHT[1]);
}

fn flat(text: &[u8]) -> String {
    String::from_utf8_lossy(text).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The exit code, stdout and stderr of a command.
fn ends(tiny: &Tiny, args: &[&str]) -> (Option<i32>, String, String) {
    let output = run(tiny.path(), args);
    (output.status.code(), flat(&output.stdout), flat(&output.stderr))
}

#[test]
fn a_cost_rests_on_a_lapsed_freight_where_it_is_asked_to_and_says_so() {
    let tiny = Tiny::new();
    let before = json(&tiny, &["cost", "plain"]);
    assert!(before.get("lapsed_rates").is_none());
    lapse_freight(&tiny);
    assert_eq!(run(tiny.path(), &["cost", "plain"]).status.code(), Some(1));
    let args = ["cost", "plain", "--carry"];
    let after = json(&tiny, &args);
    assert_eq!(after["total"], before["total"]);
    let told = serde_json::json!([
        { "what": "ocean freight", "until": "2026-04-01", "days": 10, "amount": "2000.00" }
    ]);
    assert_eq!(after["lapsed_rates"], told);
    let (_, page, said) = ends(&tiny, &args);
    let sum = "on lapsed rates ocean freight, ended on 2026-04-01, 10 days before it is needed: 2,000.00 USD (";
    assert!(page.contains(sum) && page.contains("of the landed cost, assumed"), "{page}");
    assert_eq!(said, "");
    // Each cent of it is explained, and paid, as it is costed.
    for command in [&["explain", "plain", "A1"][..], &["cash", "plain"], &["worksheet", "plain"]] {
        assert_eq!(run(tiny.path(), command).status.code(), Some(1), "{command:?}");
        stdout(tiny.path(), &[command, &["--carry"]].concat());
    }
}

#[test]
fn a_counter_price_rests_on_a_lapsed_freight_at_every_step() {
    let tiny = Tiny::new();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(file, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(
        file,
        "\n[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"300.00 EUR/m2\" }]\n",
    );
    let args = ["counter", "plain", "--way", "cif", "--against", "plain"];
    let before = json_of_any_answer(&tiny, &args);
    // Over the day of sailing, the freight ends within the range.
    let over = [&args[..], &["--over", "sails=2026-04-11..2026-04-14"]].concat();
    let ranges = json_of_any_answer(&tiny, &over)["ranges"].clone();
    lapse_freight(&tiny);
    assert_eq!(run(tiny.path(), &args).status.code(), Some(1));
    let carry = |args: &[&str]| json_of_any_answer(&tiny, &[args, &["--carry"]].concat());
    assert_eq!(carry(&args), before);
    assert_eq!(carry(&over)["ranges"], ranges);
    let lasts = FREIGHT[1].replace("2026-04-01", "2026-04-12");
    tiny.replace("rates/freight.toml", FREIGHT[1], &lasts);
    assert_eq!(carry(&over)["ranges"], ranges);
    let alone = json_of_any_answer(&tiny, &over);
    let last = alone["ranges"].as_array().unwrap().last().unwrap();
    assert_eq!([&last["from"], &last["cheaper"]], ["2026-04-13", "plain, way cif alone"]);
}

#[test]
fn law_and_what_customs_certify_never_serve_on_and_the_fault_says_to_read_them_again() {
    let duty = ("rates/duty.toml", "layer = \"base\"");
    let fee = ("rates/fees.toml", "leg = \"duty and tax\"");
    for (file, of) in [duty, fee] {
        let tiny = Tiny::new();
        let text = std::fs::read_to_string(tiny.path().join(file)).unwrap();
        let (before, after) = text.split_once(of).unwrap();
        let (row, rest) = after.split_once("valid = \"").unwrap();
        let (_, rest) = rest.split_once('"').unwrap();
        tiny.write(file, &format!("{before}{of}{row}valid = \"2025-01-01..2026-01-31\"{rest}"));
        let (code, page, said) = ends(&tiny, &["cost", "plain", "--carry"]);
        assert_eq!((code, &*page), (Some(1), ""), "{file}: {said}");
        let law = "read the law, the certified rate or the calendar again";
        assert!(said.contains("error[lapsed-rate]") && said.contains(law), "{file}: {said}");
        // Without the wish nobody speaks of it.
        let (_, _, said) = ends(&tiny, &["cost", "plain"]);
        assert!(!said.contains("--carry"), "{said}");
        // An offer stays on the page with its reason.
        let other = "shipments/plain/shipment.toml";
        let text = std::fs::read_to_string(tiny.path().join(other)).unwrap();
        tiny.write("shipments/other/shipment.toml", &text);
        tiny.write(
            "shipments/other/packing.csv",
            "slab,bundle,length (cm),height (cm)\nX,Y,300,180\n",
        );
        let (code, page, said) = ends(&tiny, &["compare", "plain", "other", "--carry"]);
        assert_eq!(code, Some(3), "{said}");
        assert!(page.contains(&format!("plain no rank: {file}")), "{page}");
    }
}

#[test]
fn a_letter_goes_out_whatever_of_our_rates_has_lapsed() {
    let tiny = Tiny::new();
    let before = stdout(tiny.path(), &["letter", "plain"]);
    assert!(before.contains("Please load the bundles in 1 container"), "{before}");
    lapse_freight(&tiny);
    // The load is planned with the last freight: bundles, boxes and places are as they were.
    let (code, _, said) = ends(&tiny, &["letter", "plain"]);
    assert_eq!(code, Some(0), "{said}");
    assert_eq!(said, "our rate of ocean freight ended on 2026-04-01: the load is planned with it");
    assert_eq!(stdout(tiny.path(), &["letter", "plain"]), before);
    // Of a freight that there never was, and of a law that has ended, no load is planned.
    let freight = std::fs::read_to_string(tiny.path().join("rates/freight.toml")).unwrap();
    let without = freight.replace("lane = \"TRIZM-USSAV\"", "lane = \"TRIZM-USCHS\"");
    tiny.write("rates/freight.toml", &without);
    let (code, page, said) = ends(&tiny, &["letter", "plain"]);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains("the load is left out of the letter: "), "{said}");
    assert!(page.contains("B1") && !page.contains("Please load the bundles in"), "{page}");
}
