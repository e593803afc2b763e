//! What the accountant takes from the books: numbers of accounts, entries by day and month, a second export.

use std::collections::BTreeMap;
use std::fs;

use crate::books_year::year;
use crate::common::{Tiny, run, stdout};

/// The rows of the journal.
fn journal(tiny: &Tiny, args: &[&str]) -> Vec<BTreeMap<String, String>> {
    rows(&stdout(tiny.path(), &[&["journal", "--as", "csv"], args].concat()))
}

/// The rows of a CSV, each by the heads of the columns.
fn rows(text: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let row = |row: csv::StringRecord| {
        heads.iter().zip(&row).map(|(head, cell)| (head.to_owned(), cell.to_owned())).collect()
    };
    reader.records().map(|record| row(record.unwrap())).collect()
}

/// The cents of a line, a debit above nothing.
fn cents(row: &BTreeMap<String, String>) -> i64 {
    let figure = |cell: &str| cell.replace('.', "").parse::<i64>().unwrap_or(0);
    figure(&row["debit"]) - figure(&row["credit"])
}

#[test]
fn accounts_have_the_numbers_of_the_importer_s_own_ledger() {
    let tiny = year();
    let rows = journal(&tiny, &[]);
    let of = |class: &str, yard: &str| -> (&str, &str) {
        let row = rows.iter().find(|row| row["account"] == class && row["yard"] == yard).unwrap();
        (&row["number"], &row["called"])
    };
    assert_eq!(of("stock in transit", ""), ("1410", "Slabs on the water"));
    // A yard of its own goes before all yards.
    assert_eq!(of("stock on hand", "norfolk"), ("1421", "Slabs on the rack in Norfolk"));
    assert_eq!(of("stock on hand", "savannah"), ("1420", ""));
    fs::remove_file(tiny.path().join("rates/accounts.toml")).unwrap();
    let plain = journal(&tiny, &[]);
    assert!(plain.iter().all(|row| row["number"].is_empty()));
    assert_eq!(plain.len(), rows.len());
}

#[test]
fn a_day_or_a_month_is_one_balanced_entry() {
    let tiny = year();
    let sums = |rows: &[BTreeMap<String, String>]| -> BTreeMap<(String, String, String), i64> {
        let mut all = BTreeMap::new();
        for row in rows {
            let month = row["posted"][..7].to_owned();
            let key = (month, row["account"].clone(), row["yard"].clone());
            *all.entry(key).or_default() += cents(row);
        }
        all.retain(|_, sum| *sum != 0);
        all
    };
    let events = journal(&tiny, &[]);
    for by in ["day", "month"] {
        let rows = journal(&tiny, &["--by", by]);
        assert_eq!(sums(&rows), sums(&events), "{by}");
        assert!(rows.len() < events.len());
        let mut entries: BTreeMap<&str, i64> = BTreeMap::new();
        for row in &rows {
            *entries.entry(&row["entry"]).or_default() += cents(row);
        }
        assert!(entries.values().all(|sum| *sum == 0), "{by}: {entries:?}");
        // By foreign currency, too: what is summed is in one currency.
        assert!(rows.iter().any(|row| row["currency"] == "EUR"));
    }
}

#[test]
fn a_second_export_has_only_what_the_first_has_not() {
    let tiny = year();
    let first = tiny.path().join("first.csv");
    let first = first.to_str().unwrap();
    for by in ["event", "day"] {
        let text =
            stdout(tiny.path(), &["journal", "--by", by, "--as", "csv", "--to", "2026-09-01"]);
        fs::write(first, &text).unwrap();
        let whole = journal(&tiny, &["--by", by]);
        let new = journal(&tiny, &["--by", by, "--beyond", first]);
        let count = text.lines().count() - 1;
        assert_eq!(new, whole[count..], "{by}");
        assert!(count > 10 && new.len() > 10);
        fs::write(first, stdout(tiny.path(), &["journal", "--by", by, "--as", "csv"])).unwrap();
        assert!(journal(&tiny, &["--by", by, "--beyond", first]).is_empty());
    }
    // An entry that was exported and is otherwise now is no addition: it is told, and nothing is exported.
    let file = "books/white-marble-spring/events.toml";
    tiny.replace(file, "fee = \"18.00 USD\"", "fee = \"19.00 USD\"");
    let close = "books/yards/2026.toml";
    tiny.replace(close, "debits = \"695058.38 USD\"", "debits = \"695059.38 USD\"");
    let output = run(tiny.path(), &["journal", "--by", "day", "--beyond", first]);
    assert_eq!(output.status.code(), Some(1));
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(told.contains("entry 2026-05-11 USD has other lines than were exported"), "{told}");
    assert!(told.contains("first.csv:") && output.stdout.is_empty(), "{told}");
    fs::write(first, "slab,bundle\n1,2\n").unwrap();
    let output = run(tiny.path(), &["journal", "--beyond", first]);
    assert_eq!(output.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&output.stderr).contains("this is no journal as CSV"));
}

#[test]
fn an_audit_rolls_forward_by_account_shipment_and_charge() {
    let tiny = year();
    let table = |args: &[&str]| -> Vec<BTreeMap<String, String>> {
        let days = ["audit", "--as", "csv", "--from", "2026-06-01", "--to", "2026-09-30"];
        rows(&stdout(tiny.path(), &[&days, args].concat()))
    };
    let figure = |row: &BTreeMap<String, String>, head: &str| -> i64 {
        row[head].replace('.', "").parse().unwrap()
    };
    let heads = ["opening", "debits", "credits", "closing"];
    let (whole, parts) = (table(&[]), table(&["--charges"]));
    let mut sums: BTreeMap<(String, String, String), [i64; 4]> = BTreeMap::new();
    for row in &parts {
        let [opening, debits, credits, closing] = heads.map(|head| figure(row, head));
        assert_eq!(opening + debits - credits, closing, "{row:?}");
        let key = (row["account"].clone(), row["of"].clone(), row["currency"].clone());
        let sum = sums.entry(key).or_default();
        for (sum, own) in sum.iter_mut().zip([opening, debits, credits, closing]) {
            *sum += own;
        }
    }
    // The parts are the whole, account by account: each line is of one charge, or of none.
    for key in sums.keys() {
        let own = whole.iter().filter(|row| {
            (&row["account"], &row["of"], &row["currency"]) == (&key.0, &key.1, &key.2)
        });
        let own = own.fold([0; 4], |sum, row| {
            let own = heads.map(|head| figure(row, head));
            [sum[0] + own[0], sum[1] + own[1], sum[2] + own[2], sum[3] + own[3]]
        });
        assert_eq!(sums[key], own, "{key:?}");
    }
    // What is accrued for a charge is gone when its final bill has come: ocean freight of the white marble, owed
    // on 11 April, billed on 20 August.
    let freight = parts.iter().find(|row| {
        row["account"] == "accrued charges"
            && row["shipment"] == "white-marble-spring"
            && row["charge"] == "ocean freight/box 1"
    });
    let freight = freight.unwrap();
    assert!(figure(freight, "opening") < 0 && figure(freight, "closing") == 0, "{freight:?}");
}

#[test]
fn the_stock_list_is_summed_by_yard_stone_supplier_shipment_and_age() {
    let tiny = year();
    let table = |args: &[&str]| {
        rows(&stdout(
            tiny.path(),
            &[&["stock", "--on", "2026-12-31", "--as", "csv"], args].concat(),
        ))
    };
    let list = table(&[]);
    let whole = |rows: &[BTreeMap<String, String>]| -> [i64; 3] {
        let sum = |head: &str, digits: usize| -> i64 {
            let figure = |row: &BTreeMap<String, String>| -> i64 {
                let (whole, part) = row[head].split_once('.').unwrap_or((&row[head], ""));
                format!("{whole}{:.digits$}", format!("{part:0<digits$}")).parse().unwrap()
            };
            rows.iter().map(figure).sum()
        };
        [sum("cost", 2), sum("written down", 2), sum("gross m2", 9)]
    };
    for by in ["yard", "stone", "supplier", "shipment", "age"] {
        let sums = table(&["--by", by]);
        let count: usize = sums.iter().map(|row| row["slabs"].parse::<usize>().unwrap()).sum();
        assert_eq!(count, list.len(), "{by}");
        // Areas of a sum are shown to four places.
        let (own, of_list) = (whole(&sums), whole(&list));
        assert_eq!(own[..2], of_list[..2], "{by}");
        assert!((own[2] - of_list[2]).abs() < 50_000 * i64::try_from(sums.len()).unwrap(), "{by}");
    }
    let ages = table(&["--by", "age"]);
    let ages: Vec<&str> = ages.iter().map(|row| &*row["age"]).collect();
    assert!(ages.contains(&"181 to 365 days"), "{ages:?}");
}

#[test]
fn parts_by_shipment_are_one_table_and_say_all_of_an_event() {
    let tiny = year();
    for command in ["journal", "stock"] {
        let folder = tiny.path().join(command);
        fs::create_dir(&folder).unwrap();
        let all = if command == "stock" { &["--all"][..] } else { &[] };
        stdout(tiny.path(), &[&[command, "--parts", folder.to_str().unwrap()], all].concat());
        let mut parts: Vec<BTreeMap<String, String>> = Vec::new();
        for entry in fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let own = rows(&fs::read_to_string(&path).unwrap());
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let of = |row: &BTreeMap<String, String>| row["shipment"].clone();
            let named = if name == "yards" { "" } else { &name };
            assert!(own.iter().all(|row| of(row) == named), "{name}");
            parts.extend(own);
        }
        let mut whole = rows(&stdout(tiny.path(), &[&[command, "--as", "csv"], all].concat()));
        assert_eq!(parts.len(), whole.len(), "{command}");
        parts.sort();
        whole.sort();
        assert_eq!(parts, whole, "{command}");
    }
    let arrival = journal(&tiny, &["white-marble-spring"]);
    let arrival = arrival.iter().find(|row| row["event"] == "arrive").unwrap();
    assert_eq!(arrival["occurred"], "2026-05-13");
    let charges = rows(&stdout(tiny.path(), &["settle", "white-marble-spring", "--as", "csv"]));
    let duty =
        charges.iter().find(|row| row["charge"].starts_with("duty on marble slabs")).unwrap();
    assert_eq!((&*duty["leg"], &*duty["treatment"]), ("duty and tax", "stock"));
    assert!(duty["worked"].contains('%') && !duty["expected on"].is_empty(), "{duty:?}");
    let json = stdout(tiny.path(), &["settle", "white-marble-spring", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["charges"].as_array().unwrap().iter().all(|one| one["worked"].is_array()));
}
