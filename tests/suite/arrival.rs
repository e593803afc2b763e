//! A list of the yard against the packing list: what it comes to, what it writes, and what is wrong with it.

use std::fs;

use serde_json::Value;

use crate::common::{run, stdout};
use crate::ledger_common::{Estimate, Kept, event};

/// Four slabs of 5 m2 at 100 USD, S1 and S3 in box 1, S2 and S4 in box 2, on the way.
fn afloat() -> Kept {
    let estimate = Estimate::new("one", "USD", 4, 2).goods("400 USD", None);
    let events = event("control", "2026-02-01", "");
    Kept::of(&[&estimate], &[events.trim_end()], "").unwrap()
}

fn arrive(kept: &Kept, list: &str, more: &[&str]) -> (Option<i32>, String, String) {
    let path = kept.root().join("arrival.csv");
    fs::write(&path, list).unwrap();
    let args = ["arrive", "one", "--on", "2026-03-01", "--list", path.to_str().unwrap()];
    let output = run(kept.root(), &[&args, more].concat());
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.code(), text(output.stdout), text(output.stderr))
}

fn json(kept: &Kept, args: &[&str]) -> Value {
    serde_json::from_str(&stdout(kept.root(), &[args, &["--as", "json"]].concat())).unwrap()
}

const BOX_1: &str = "Slab,Box,State,Length (cm),Height (cm),Quality,Remark\nS1,1,re-measured,300,160,,\"a corner, \"\"sawn\"\" off\"\nS3,1,Downgraded,,,standard,\nX9,1,over,,,,\n";

#[test]
fn a_list_is_tried_and_then_written_below_what_stands_there() {
    let kept = afloat();
    let file = kept.root().join("books/one/events.toml");
    let before = fs::read_to_string(&file).unwrap();
    let (code, page, told) = arrive(&kept, BOX_1, &[]);
    assert_eq!(code, Some(0), "{told}");
    assert!(page.contains("--write adds"), "{page}");
    assert_eq!(fs::read_to_string(&file).unwrap(), before);

    let (code, page, told) = arrive(&kept, BOX_1, &["--write"]);
    assert_eq!(code, Some(0), "{told}");
    assert!(page.contains("added to books/one/events.toml"), "{page}");
    let after = fs::read_to_string(&file).unwrap();
    let added = after.strip_prefix(&before).unwrap();
    let added: toml::Table = added.parse().unwrap();
    let remark = &added["event"][0]["found"][0]["remark"];
    assert_eq!(remark.as_str(), Some("a corner, \"sawn\" off"));

    // Cost and weight stay; it is sold by what it measures, under the quality it has.
    let stock = json(&kept, &["stock"]);
    let slab = |id: &str| {
        let own = stock["slabs"].as_array().unwrap().iter().find(|one| one["slab"] == *id).unwrap();
        ["cost", "mass_kg", "billed_m2", "measured_m2", "quality", "status"]
            .map(|key| own[key].as_str().unwrap_or("-").to_owned())
    };
    assert_eq!(slab("S1"), ["100.00", "270", "5", "4.8", "-", "on hand"]);
    assert_eq!(slab("S3"), ["100.00", "270", "5", "-", "standard", "on hand"]);
    assert_eq!(slab("S2"), ["100.00", "270", "5", "-", "-", "in transit"]);
    let arrived = json(&kept, &["arrive", "one"]);
    assert_eq!(arrived["over"][0], "X9");
    assert_eq!(arrived["found"][0]["area_m2"], "4.8");

    // The same list again is a box that came already; nothing is added.
    let (code, _, told) = arrive(&kept, BOX_1, &["--write"]);
    assert_eq!(code, Some(1));
    assert!(told.contains("slab S1 is not in transit: it is on hand"), "{told}");
    assert_eq!(fs::read_to_string(&file).unwrap(), after);
}

#[test]
fn a_slab_that_came_in_pieces_is_cut_at_its_arrival() {
    let kept = afloat();
    let list = "slab;state;piece;area (m2)\nS1;cut;S1a;3\nS1;cut;S1b;1\nS3;sound;;\n";
    let (code, _, told) = arrive(&kept, list, &["--write", "--yard", "norfolk"]);
    assert_eq!(code, Some(0), "{told}");
    let stock = json(&kept, &["stock"]);
    let own: Vec<[&str; 3]> = stock["slabs"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|one| one["yard"] == "norfolk")
        .map(|one| ["slab", "cost", "billed_m2"].map(|key| one[key].as_str().unwrap()))
        .collect();
    // What came off with the break is no loss of its own: it stays in the cost of the pieces.
    assert_eq!(own, [["S3", "100.00", "5"], ["S1a", "75.00", "3"], ["S1b", "25.00", "1"]]);
}

#[test]
fn all_that_is_wrong_with_a_list_is_told_with_its_line() {
    let kept = afloat();
    for (list, says) in [
        (
            "slab,state\nS1,sound\nS2,sound\nS4,brken\n",
            vec!["arrival.csv:4:4", "did you mean \"broken\"?"],
        ),
        ("slab,state\nS1,sound\n", vec!["slab S3 of box 1 is not on the list", "sound or short"]),
        (
            "slab,state\nS1,sound\nS3,sound\nS1,short\n",
            vec!["slab S1 is on the list twice", "arrival.csv:4:1", "first here"],
        ),
        ("slab,state\nS9,sound\nS1,sound\nS3,sound\n", vec!["slab S9 was never packed", "`over`"]),
        (
            "slab,box,state\nS1,2,sound\nS3,1,sound\n",
            vec!["slab S1 was packed in box 1, and came out of 2", "arrival.csv:2:4"],
        ),
        (
            "slab,state\nS1,re-measured\nS3,downgraded\n",
            vec![
                "S1 is re-measured, and lacks what it measures",
                "S3 is downgraded, and lacks its quality",
            ],
        ),
        (
            "slab,state,piece\nS1,cut,a\nS3,sound,\n",
            vec!["S1 is cut, and lacks its piece and what that measures"],
        ),
        (
            "slab,state,length (cm)\nS1,re-measured,300\nS3,sound,\n",
            vec!["a slab measures an area, or has two sides"],
        ),
        (
            "slab,state,length\nS1,re-measured,300\nS3,sound,\n",
            vec!["\"300\" cannot be read", "a unit in the header"],
        ),
        ("slab,quality\nS1,first\n", vec!["the list has no column \"state\""]),
        (
            "slab,state,shade\nS1,sound,\nS3,,\n",
            vec!["column \"shade\" is not read", "does not say how its slab is"],
        ),
        (
            "slab,state\nS1,over\nS2,sound\nS4,sound\n",
            vec!["slab S1 was packed, and is found over", "arrival.csv:2:1"],
        ),
        ("", vec!["the list is empty"]),
        ("slab,state\n", vec!["the list has no slab"]),
    ] {
        let (code, _, told) = arrive(&kept, list, &["--write"]);
        assert_eq!(code, Some(1), "{list}{told}");
        for says in says {
            assert!(told.contains(says), "{says} is not in {told}");
        }
    }
    let file = kept.root().join("books/one/events.toml");
    assert!(!fs::read_to_string(file).unwrap().contains("arrive"));
    // A list is of a day.
    let output = run(kept.root(), &["arrive", "one", "--list", "arrival.csv"]);
    assert_eq!(output.status.code(), Some(2));
}
