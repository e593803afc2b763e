//! The demo year: six shipments from booking to the close, and what their books say.

use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::commands::snapshot;
use crate::common::{Tiny, copy, demo, run, stdout};

/// A copy of the demo with its books.
pub(crate) fn year() -> Tiny {
    let tiny = Tiny::of_demo("white-marble-spring");
    copy(&demo().join("books"), &tiny.path().join("books"));
    tiny
}

fn json(workspace: &Path, args: &[&str]) -> Value {
    serde_json::from_str(&stdout(workspace, &[args, &["--as", "json"]].concat())).unwrap()
}

fn cents(value: &Value) -> i64 {
    value.as_str().unwrap().replace('.', "").parse().unwrap()
}

#[test]
fn the_demo_year_reconciles_at_the_end_of_every_month() {
    for month in 4..=12 {
        let day = format!("2026-{month:02}-28");
        let audit = json(&demo(), &["audit", "--to", &day]);
        assert_eq!(audit["broken"], Value::Array(Vec::new()), "{day}");
    }
    snapshot("books-audit.txt", stdout(&demo(), &["audit"]));
    snapshot("books-settle.txt", stdout(&demo(), &["settle", "pink-granite-summer"]));
    snapshot("books-arrive.txt", stdout(&demo(), &["arrive", "pink-granite-summer"]));
    let day = ["journal", "pink-granite-summer", "--from", "2027-01-01"];
    snapshot("books-journal.txt", stdout(&demo(), &day));
}

/// The freight bill of the white marble came after a third of the slabs were sold: 145 more for each of two boxes.
#[test]
fn a_late_bill_is_split_by_where_the_slabs_are() {
    let journal = json(
        &demo(),
        &["journal", "white-marble-spring", "--from", "2026-08-20", "--to", "2026-08-20"],
    );
    let lines = journal["entries"][0]["lines"].as_array().unwrap();
    let sum = |account: &str| -> i64 {
        let own = lines.iter().filter(|line| line["account"] == account);
        own.map(|line| cents(&line["book_amount"])).sum()
    };
    let (sold, left) = (sum("cost of sales"), sum("stock on hand"));
    assert_eq!(sold + left, 29_000);
    // 24 of 72 slabs of like size are sold.
    assert!((9_000..=10_500).contains(&sold), "{sold}");
}

#[test]
fn a_second_export_adds_only_what_is_new_and_an_edit_of_rates_nothing() {
    let tiny = year();
    let journal =
        |args: &[&str]| stdout(tiny.path(), &[&["journal", "--as", "csv"], args].concat());
    let (first, whole) = (journal(&["--to", "2026-09-01"]), journal(&[]));
    assert!(whole.starts_with(&first) && whole.len() > first.len());
    for entry in fs::read_dir(tiny.path().join("rates")).unwrap() {
        let path = entry.unwrap().path();
        if path.is_file() {
            let text = fs::read_to_string(&path).unwrap();
            fs::write(&path, text.replace("1780 USD", "1999 USD").replace("620 USD", "999 USD"))
                .unwrap();
        }
    }
    assert_eq!(journal(&[]), whole);
}

#[test]
fn nothing_is_posted_into_a_closed_year_unseen() {
    let tiny = year();
    let late = "\n[[event]]\nkind = \"issue\"\noccurred = 2026-12-20\nslabs = [\"CHH-1\"]\n";
    let file = "books/one-week-norfolk/events.toml";
    let slab = fs::read_to_string(tiny.path().join("books/one-week-norfolk/slabs.csv")).unwrap();
    let slab = slab.lines().nth(1).unwrap().split(',').next().unwrap().to_owned();
    tiny.append(file, &late.replace("CHH-1", &slab));
    let output = run(tiny.path(), &["audit"]);
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(
        told.contains("closed here with debits of") && told.contains("posted = 2027-01-01"),
        "{told}"
    );
    // Posted in the next year it is taken, on the day it occurred all the same.
    tiny.replace(file, "occurred = 2026-12-20", "occurred = 2026-12-20\nposted = 2027-01-20");
    assert_eq!(run(tiny.path(), &["audit"]).status.code(), Some(0));
    let in_stock = |args: &[&str]| json(tiny.path(), args)["slabs"].as_array().unwrap().len();
    let posted = in_stock(&["stock", "--on", "2026-12-31"]);
    assert_eq!(in_stock(&["stock", "--on", "2026-12-31", "--known"]), posted - 1);
}

/// A slab of the white marble was cut in the new year, a count found one slab gone, and the entry was liquidated with
/// 84.30 more: the pieces, what is sold and what is left bear it.
#[test]
fn a_piece_is_listed_priced_and_explained() {
    let stock = json(&demo(), &["stock"]);
    let find = |id: &str| {
        stock["slabs"].as_array().unwrap().iter().find(|one| one["slab"] == id).unwrap().clone()
    };
    let pieces = ["412-27a", "412-27b"].map(find);
    // The pieces are 2.25 and 1.85 m2, and 0.35 m2 are wasted beyond what a cut takes: whatever comes to the slab, it is
    // shared so, to the cent.
    let all = json(&demo(), &["stock", "--all"]);
    let all = all["slabs"].as_array().unwrap();
    let whole = all.iter().find(|one| one["slab"] == "412-27").unwrap();
    let [first, second, lost] = [&pieces[0], &pieces[1], whole].map(|one| cents(&one["cost"]));
    let all = first + second + lost;
    for (own, area) in [(first, 225), (second, 185), (lost, 35)] {
        assert!((own * 445 - all * area).abs() <= 445, "{own} of {all} for {area}");
    }
    assert_eq!(
        (&*whole["status"].to_string(), pieces[1]["quality"].as_str()),
        ("\"cut\"", Some("remnant"))
    );
    let page = stdout(&demo(), &["explain", "white-marble-spring", "412-27a", "--booked"]);
    assert!(page.contains("412-27a is a piece of 412-27, and is on hand at"), "{page}");
    assert_eq!(find("415-03")["measured_m2"], "3.5485");
    assert!(!stock["slabs"].as_array().unwrap().iter().any(|one| one["slab"] == "415-02"));
}
