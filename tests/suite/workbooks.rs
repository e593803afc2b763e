//! Workbooks, read back by a reader of their own: each cell is that of CSV to its last place, words stay words, and a
//! formula is a sum that carries its value.

use std::collections::BTreeMap;
use std::io::Cursor;
use std::path::Path;

use calamine::{Data, Range, Reader, Xlsx};
use quaystone::quantity::Decimal;

use crate::common::{DEMO, Tiny, demo, drawn, run, stdout};

/// The bytes of a command's workbook, which must be made.
fn bytes(workspace: &Path, args: &[&str]) -> Vec<u8> {
    let output = run(workspace, &[args, &["--as", "xlsx"]].concat());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.stdout.starts_with(b"PK"), "{args:?}: {said}");
    output.stdout
}

/// A sheet: the cells with their values, and the formulas.
type Sheet = (Range<Data>, Range<String>);

fn sheets(bytes: Vec<u8>) -> BTreeMap<String, Sheet> {
    let mut book: Xlsx<_> = calamine::open_workbook_from_rs(Cursor::new(bytes)).unwrap();
    let names = book.sheet_names();
    let mut sheet = |name: &String| {
        let values = book.worksheet_range(name).unwrap();
        (name.clone(), (values, book.worksheet_formula(name).unwrap()))
    };
    names.iter().map(&mut sheet).collect()
}

/// The figure of a cell, by the shortest digits of its binary number; `None`: words, or nothing.
fn figure(cell: &Data) -> Option<Decimal> {
    match cell {
        Data::Float(_) | Data::Int(_) => Some(cell.to_string().parse().unwrap()),
        _ => None,
    }
}

/// Whether a cell says what one of CSV says. CSV marks words that a spreadsheet would run.
fn is_same(cell: &Data, text: &str) -> bool {
    match cell {
        Data::Empty => text.is_empty(),
        Data::String(words) => words == text || format!("'{words}") == text,
        cell => figure(cell).is_some_and(|figure| text.parse() == Ok(figure)),
    }
}

/// Holds the list of CSV against the sheet that has it, and gives the count of its numbers.
fn compare(workspace: &Path, args: &[&str]) -> usize {
    let text = stdout(workspace, &[args, &["--as", "csv"]].concat());
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let all = sheets(bytes(workspace, args));
    let has_heads = |(values, _): &&Sheet| {
        let mut row = values.rows().next().into_iter().flatten().map(ToString::to_string);
        heads.iter().all(|head| row.next().as_deref() == Some(head)) && row.next().is_none()
    };
    let (values, _) = all.values().find(has_heads).unwrap_or_else(|| panic!("{args:?}: {heads:?}"));
    let mut numbers = 0;
    for (at, row) in rows.iter().enumerate() {
        for (column, text) in row.iter().enumerate() {
            let cell = values.get((at + 1, column)).unwrap_or(&Data::Empty);
            assert!(
                is_same(cell, text),
                "{args:?}: {cell:?} is not {text:?} of {}",
                &heads[column]
            );
            numbers += usize::from(figure(cell).is_some());
        }
    }
    // Below the list are totals at most.
    assert!(values.height() <= rows.len() + 2, "{args:?}");
    numbers
}

#[test]
fn each_cell_of_a_workbook_is_that_of_csv_to_its_last_place() {
    let tiny = demo().join("tests/tiny");
    for args in [&["load", "two-boxes"][..], &["worksheet", "two-entries"], &["rates"]] {
        assert!(compare(&tiny, args) > 10, "{args:?}");
    }
    for name in DEMO.iter().take(usize::try_from(drawn(1)).unwrap()) {
        assert!(compare(&demo(), &["cost", name]) > 100, "{name}");
        assert!(compare(&demo(), &["cash", name]) > 10, "{name}");
    }
    if drawn(1) > 1 {
        assert!(compare(&demo(), &["compare", "white-marble-spring", "white-marble-cif"]) > 50);
    }
}

#[test]
fn the_workbook_of_a_cost_has_its_views_and_sums_that_carry_their_value() {
    let all = sheets(bytes(&demo(), &["cost", "white-marble-spring"]));
    for name in [
        "Overview",
        "Charges",
        "Landed cost in USD by slab",
        "Landed cost in USD by bundle",
        "Customs, a figure a cell",
        "Payments by due date, as booked",
        "Sources of the cost",
    ] {
        assert!(all.contains_key(name), "{name} in {:?}", all.keys());
    }
    let mut sums = 0;
    for (name, (values, formulas)) in &all {
        for (row, column, formula) in formulas.used_cells() {
            let (top, left) = formulas.start().unwrap();
            let (row, column) = (row + top as usize, column + left as usize);
            if formula.is_empty() {
                continue;
            }
            assert!(formula.starts_with("ROUND(SUM("), "{name}: {formula}");
            let own = (1..row).filter_map(|at| figure(values.get((at, column))?));
            let sum: Decimal = own.sum();
            assert_eq!(figure(&values[(row, column)]), Some(sum), "{name}: {formula}");
            sums += 1;
        }
    }
    // Of slabs, bundles and boxes the area, four stages and the landed cost; slabs of the last two; the payments.
    assert_eq!(sums, 21);
    // What is charged but not stock is no part of the landed cost: that total is a figure.
    let (charges, formulas) = &all["Charges"];
    assert_eq!(formulas.used_cells().count(), 0);
    let last = charges.rows().next_back().unwrap();
    let (slabs, _) = &all["Landed cost in USD by slab"];
    let total = slabs.rows().next_back().unwrap().get(9).and_then(figure);
    assert_eq!((last[1].to_string().as_str(), figure(&last[4])), ("landed cost", total));
}

#[test]
fn a_sheet_is_called_by_what_stands_there_and_that_of_the_books_has_its_format() {
    let tiny = demo().join("tests/tiny");
    let called: [(&[&str], &[&str]); 3] = [
        (&["load", "two-boxes"], &["Bundles, a figure a cell", "Container 1"]),
        (&["rates"], &["All rates", "Rates, a figure a cell"]),
        (&["check", "plain"], &["Shipments and papers"]),
    ];
    for (args, names) in called {
        let all = sheets(bytes(&tiny, args));
        for name in names {
            let is_there = all.keys().any(|own| own.starts_with(name));
            assert!(is_there, "{args:?}: {name} in {:?}", all.keys());
        }
        for name in all.keys() {
            let ends_whole = name.ends_with(|c: char| c.is_alphanumeric() || c == ')');
            assert!(ends_whole && !name.starts_with("List"), "{args:?}: {name}");
        }
    }
    assert!(compare(&demo(), &["stock"]) > 100);
}

#[test]
fn a_sheet_of_a_load_says_of_which_container_it_is_and_each_head_its_unit() {
    let all = sheets(bytes(&demo(), &["load", "white-marble-spring"]));
    for number in ["1", "2"] {
        for name in
            [format!("Unloading container {number}"), format!("Container {number} held fast")]
        {
            assert!(all.contains_key(&name), "{name} in {:?}", all.keys());
        }
    }
    for (name, (values, _)) in all.iter().filter(|(name, _)| *name != "Overview") {
        let heads: Vec<String> =
            values.rows().next().into_iter().flatten().map(ToString::to_string).collect();
        let bare = |head: &String| ["", "running total", "cargo left"].contains(&head.as_str());
        assert!(!heads.iter().any(bare), "{name}: {heads:?}");
    }
    let all = sheets(bytes(&demo(), &["cost", "white-marble-cif"]));
    assert!(all.contains_key("Inside the supplier's price"), "{:?}", all.keys());
}

#[test]
fn words_stay_words_and_the_same_page_gives_the_same_bytes() {
    let tiny = Tiny::new();
    let list = "shipments/plain/packing.csv";
    tiny.replace(list, "A1,", "007,").replace(list, "A2,", "1-10,").replace(list, "A3,", "=1+1,");
    let first = bytes(tiny.path(), &["cost", "plain"]);
    let (values, formulas) = &sheets(first.clone())["Landed cost in USD by slab"];
    for (at, name) in ["007", "1-10", "=1+1"].iter().enumerate() {
        assert_eq!(values.get((at + 1, 0)), Some(&Data::String((*name).to_owned())));
    }
    assert!(formulas.used_cells().all(|(_, _, own)| own.is_empty() || own.contains("SUM(")));
    assert_eq!(bytes(tiny.path(), &["cost", "plain"]), first);
    // By its ending as well, and whole.
    let file = tiny.path().join("cost.xlsx");
    let output = run(tiny.path(), &["cost", "plain", "--out", file.to_str().unwrap()]);
    assert!(output.status.success() && output.stdout.is_empty());
    assert_eq!(std::fs::read(file).unwrap(), first);
}
