//! A workspace with files of a fuzzer's in it, read, costed and shown in every form.

use std::cell::RefCell;
use std::fs;
use std::path::Path;

use quaystone::choose::estimate;
use quaystone::cost::{By, explain, prove};
use quaystone::fault::{Report, is_unseen, render};
use quaystone::import::{self, Answers};
use quaystone::load::{Effort, summary};
use quaystone::quantity::Units;
use quaystone::read::{self, Workspace};
use quaystone::show::{self, Format, Load, Told};

thread_local! {
    static TINY: RefCell<tempfile::TempDir> = RefCell::new(tempfile::tempdir().unwrap());
}

/// Puts files into a copy of `tests/tiny` and works out its shipment `plain`.
///
/// # Panics
/// Where a rule is broken: a shipment is neither read nor told why it is not, or a mark that is not seen
/// is written as it is.
pub fn run(files: &[(&str, &[u8])]) {
    TINY.with_borrow(|tiny| {
        copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../tiny"), tiny.path());
        for (name, text) in files {
            fs::write(tiny.path().join(name), text).unwrap();
        }
        work_out(tiny.path());
        let _ = fs::remove_dir_all(tiny.path().join("shipments"));
    });
}

/// Reads a supplier's list.
///
/// # Panics
/// Where a list is refused without a fault, where the list read holds an invisible mark, and where it holds a
/// slab's number twice.
pub fn import(bytes: &[u8]) {
    let mut report = Report::new();
    // With an answer, more lists are read to their end.
    let mut answers = Answers { bundle: Some("B1".to_owned()), ..Answers::default() };
    answers.take_unit("cm").unwrap();
    let read = import::import("list", bytes, &answers, &mut report);
    let said = render(&report, false);
    assert!(read.is_ok() || !said.is_empty(), "no list and no fault");
    let Ok(read) = read else { return };
    let text = String::from_utf8(show::packing_csv(&read.clean)).unwrap();
    assert!(!text.contains(|c: char| c != '\n' && is_unseen(c)), "{text}");
    let mut names: Vec<_> = read.clean.rows.iter().map(|row| format!("{:?}", row.first())).collect();
    let all = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), all, "a slab's number is in the list twice");
}

fn work_out(root: &Path) {
    let mut report = Report::new();
    let mut out = Vec::new();
    let is_worked_out = shown(root, &mut report, &mut out).is_some();
    let said = render(&report, false);
    assert!(is_worked_out || !said.is_empty(), "no result and no fault");
    assert!(!said.contains("mistake of the program"), "{said}");
    let text = String::from_utf8(out).unwrap() + &said;
    assert!(!text.contains(|c: char| c != '\n' && is_unseen(c)), "{text}");
}

/// `None`: a fault is in the report.
fn shown(root: &Path, report: &mut Report, out: &mut Vec<u8>) -> Option<()> {
    let workspace = Workspace::at(root, report).ok()?;
    let tariffs = read::tables(&workspace, report);
    let shipment = read::shipment(&workspace, "plain", &tariffs, report);
    let shipment = shipment.ok().filter(|_| !report.has_errors())?;
    // A shipment that fits no box is an answer, too.
    let Ok(costed) = estimate(&shipment, &tariffs, Effort::default(), report).ok()? else {
        return Some(());
    };
    let _ = prove(&shipment, &costed.landed);
    let summaries: Result<Vec<_>, _> =
        costed.plan.boxes.iter().map(|one| summary(&costed.plan, one, &shipment.bundles)).collect();
    for units in [Units::Metric, Units::Us] {
        for format in [Format::Text, Format::Markdown, Format::Html, Format::Csv] {
            show::costed(&shipment, &costed, &[], By::Slab, units).write(format, 78, out).unwrap();
            if let Some(explained) = explain(&shipment, &costed.landed, 0)
                && let Some(page) =
                    show::explained(&shipment, &costed, &explained, Told::Full, units)
            {
                page.write(format, 78, out).unwrap();
            }
            if let Ok(summaries) = &summaries {
                let load = Load { shipment: &shipment, costed: &costed, summaries };
                show::loaded(load, units, 78).write(format, 78, out).unwrap();
            }
        }
    }
    show::json::cost(&shipment, &costed, &[], By::Bundle, out).unwrap();
    if let Ok(summaries) = &summaries {
        let load = Load { shipment: &shipment, costed: &costed, summaries };
        show::json::load(load, out).unwrap();
        out.extend(show::drawing(load, Units::Metric).into_bytes());
        out.extend(show::frozen(&shipment, &costed, summaries).into_bytes());
    }
    Some(())
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            // The other shipments are not looked at.
            if from.file_name() != Some("shipments".as_ref()) || entry.file_name() == "plain" {
                copy(&entry.path(), &target);
            }
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
