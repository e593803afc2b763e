//! Quotes as forwarders send them: a file each, what its rows share in a head, and prices by type of container or
//! by lane. They cost what the same rows cost when each stands alone.

use std::fs;

use serde_json::Value;

use crate::common::{Tiny, run, stdout};

const FREIGHT: &str = "rates/freight.toml";
const FOLDER: &str = "rates/freight/quote-1.toml";

/// The freight of the small workspace's lanes, as quotes.
const QUOTES: &str = r#"
[[quote]]
lane = "TRIZM-USSAV"
leg = "main carriage"
per = "container"
valid = "2026-03-01..2026-06-30"
source = "invented"

[[quote.charge]]
container = "20gp"
name = "ocean freight"
amount = "2000 USD"

[[quote.charge]]
name = "terminal handling inside the freight"
leg = "destination terminal"
amount = "0 USD"

[[quote.limit]]
container = "20gp"
name = "carrier's cap"
cargo = "26 t"
kind = "carrier"

[[quote]]
lane = "JPTYO-USORF"
leg = "main carriage"
valid = "2026-01-01..2026-12-31"
source = "invented"
charge = [
    { offer = "f1", name = "ocean freight", per = "container", amount = { 20gp = "2100.00 USD", 40gp = "2333.33 EUR" } },
    { offer = "f1", name = "bunker surcharge", rate = "7.35 %", of = "ocean freight" },
    { offer = "f1", name = "document fee", per = "bill of lading", amount = "9005 JPY" },
    { offer = "f2", name = "ocean freight", per = "container", amount = { 20gp = "2200.00 USD", 40gp = "2450.00 EUR" } },
    { offer = "f2", name = "document fee", per = "bill of lading", amount = "77.77 USD" },
    { name = "war risk", per = "tonne", key = "mass", amount = "3.33 USD" },
]

[[quote]]
valid = "2026-01-01..2026-12-31"
source = "invented"
charge = [
    { port = "JPTYO", name = "origin handling", leg = "origin terminal", amount = "23333 JPY", per = "container" },
    { port = "JPTYO", name = "lifting on board", leg = "loading on board", amount = "4444 JPY", per = "bundle", scope = "shipment" },
    { port = "USORF", name = "terminal handling", leg = "destination terminal", amount = "88.80 USD", per = "container", scope = "container", key = "mass" },
]
"#;

/// The small workspace with its freight as one file of a folder.
fn quoted(text: &str) -> Tiny {
    let tiny = Tiny::new();
    fs::remove_file(tiny.path().join(FREIGHT)).unwrap();
    tiny.write(FOLDER, text);
    tiny
}

/// What a shipment costs, without where it says so.
fn costs(tiny: &Tiny, name: &str) -> Value {
    fn without_places(value: &mut Value) {
        match value {
            Value::Object(map) => {
                for key in ["place", "file", "line", "at", "source"] {
                    map.remove(key);
                }
                map.values_mut().for_each(without_places);
            }
            Value::Array(list) => list.iter_mut().for_each(without_places),
            _ => {}
        }
    }
    let text = stdout(tiny.path(), &["cost", name, "--as", "json"]);
    let mut value = serde_json::from_str(&text).unwrap();
    without_places(&mut value);
    value
}

#[test]
fn rows_under_a_head_cost_what_they_cost_alone() {
    let (alone, quoted) = (Tiny::new(), quoted(QUOTES));
    for name in ["plain", "crowded", "two-boxes", "two-terms"] {
        assert_eq!(costs(&alone, name), costs(&quoted, name), "{name}");
    }
    // A figure is found again where it stands.
    let slab = stdout(quoted.path(), &["explain", "plain", "A1", "--full"]);
    assert!(slab.contains("rates/freight/quote-1.toml:12"), "{slab}");
}

#[test]
fn an_amount_by_lane_is_a_row_for_each_lane() {
    let by_lane = QUOTES.replacen("lane = \"TRIZM-USSAV\"\n", "", 1).replace(
        "amount = \"2000 USD\"",
        "amount = { TRIZM-USSAV = \"2000 USD\", TRIZM-USORF = \"2100 USD\" }",
    );
    assert_eq!(costs(&Tiny::new(), "plain"), costs(&quoted(&by_lane), "plain"));
}

#[test]
fn a_renewal_is_a_file_more_and_the_old_one_stays() {
    let tiny = quoted(QUOTES);
    let renewed = |valid: &str| {
        let head = QUOTES.split("[[quote]]").nth(1).unwrap();
        let head = head.split("[[quote.limit]]").next().unwrap();
        format!(
            "[[quote]]{}",
            head.replace("2026-03-01..2026-06-30", valid).replace("2000", "2400")
        )
    };
    tiny.write("rates/freight/quote-2.toml", &renewed("2026-07-01..2026-09-30"));
    assert_eq!(costs(&Tiny::new(), "plain"), costs(&tiny, "plain"));
    // The two may not hold on one day.
    tiny.write("rates/freight/quote-2.toml", &renewed("2026-06-01..2026-09-30"));
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("quote-1.toml:9") && said.contains("quote-2.toml:8"), "{said}");
}

#[test]
fn a_slip_in_a_quote_is_told_at_its_key_once() {
    for (old, new, told) in [
        ("leg = \"main carriage\"", "legg = \"main carriage\"", &["quote-1.toml:4", "`leg`"][..]),
        (
            "per = \"container\"",
            "wharf = \"x\"",
            &["quote-1.toml:5", "has no key `wharf`", "the head has every key"],
        ),
        (
            "name = \"ocean freight\"\n",
            "name = \"ocean freight\"\nwharf = 1\n",
            &["[[quote.charge]] has no key `wharf`"],
        ),
        (
            "40gp = \"2333.33 EUR\"",
            "40pg = \"2333.33 EUR\"",
            &["no container type is called \"40pg\"", "did you mean \"40gp\"?"],
        ),
        (
            "40gp = \"2333.33 EUR\"",
            "40gp = \"2333.33\"",
            &["`amount` cannot be read", "quote-1.toml:31"],
        ),
        (
            "name = \"ocean freight\", per = \"container\", amount = { 20gp = \"2100",
            "name = \"ocean freight\", container = \"20gp\", per = \"container\", amount = { 20gp = \"2100",
            &["the amounts are by container, and so is the row"],
        ),
        ("[[quote.limit]]", "[[quote]]\noffer = \"x\"\n[[quote.limit]]", &["`valid`"]),
        (
            "[[quote]]\nvalid",
            "[[quote]]\noffer = \"x\"\n\n[[quote]]\nvalid",
            &["this [[quote]] has no rows"],
        ),
    ] {
        assert!(QUOTES.contains(old), "{old}");
        let output = run(quoted(&QUOTES.replacen(old, new, 1)).path(), &["cost", "plain"]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{new}: {said}");
        for words in told {
            assert!(said.contains(words), "{words}: {said}");
        }
    }
}
