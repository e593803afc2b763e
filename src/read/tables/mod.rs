//! `rates/`: every table, each read by its own file's rules, and what they say of one another.

pub(super) mod charges;
mod checks;
mod goods;
mod rate;

use std::cell::RefCell;

use super::duty::duty;
use super::rigs::{check_rigs, rigs, roads};
use super::table::{self, Table};
use super::timing::calendars;
use super::workspace::Workspace;
use crate::fault::{At, Code, Fault, Report};
use crate::files;
use crate::quantity::Written;
use crate::trade::{Country, ExchangeRow, ExchangeUse, Tariffs};
use charges::{crating, drayage, fees, freight};
use checks::{check_duplicates, check_overlaps, check_references};
use goods::{containers, stones, yards};

/// Reads every table of `rates/`. `None`: a fault is in the report.
pub fn tariffs(workspace: &Workspace, report: &mut Report) -> Option<Tariffs> {
    let tariffs = tables(workspace, report);
    (!report.has_errors()).then_some(tariffs)
}

/// What can be read of the tables of `rates/`; what cannot is in the report.
pub fn tables(workspace: &Workspace, report: &mut Report) -> Tariffs {
    let mut tariffs = Tariffs::default();
    let names = Names::default();
    for (stem, fill) in FILES {
        let path = workspace.root().join("rates").join(format!("{stem}.toml"));
        let name = workspace.name_of(&path);
        if OPTIONAL.contains(&stem) && !path.exists() {
            continue;
        }
        let Some(source) = files::read(&path, &name, report) else {
            continue;
        };
        table::parse(&source, report, |top, report| {
            fill(top, &mut tariffs, &names, report);
            Some(())
        });
    }
    check_references(&tariffs, &names.into_inner(), report);
    check_rigs(&tariffs, report);
    check_duplicates(&tariffs, report);
    check_overlaps(&tariffs, report);
    tariffs
}

type Fill = fn(&Table<'_>, &mut Tariffs, &Names, &mut Report);

/// Names in a table that refer to rows of another, with their places, to be looked up once all
/// tables are read.
pub(super) type Names = RefCell<Vec<(Named, At<String>)>>;

/// What a name refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Container,
    Yard,
    Stone,
    Regime,
}

/// Reads a name that refers to a row of another table, and keeps it to be looked up.
fn name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    let name = row.text(key, report)?;
    names.borrow_mut().push((what, name.clone()));
    Some(name.value)
}

/// The files of `rates/` in the order they are read.
const FILES: [(&str, Fill); 12] = [
    // Before the tables whose rows name a calendar.
    ("calendars", |top, tariffs, _, report| tariffs.calendars = calendars(top, report)),
    ("stones", stones),
    ("containers", containers),
    ("yards", yards),
    ("freight", freight),
    ("drayage", drayage),
    ("crating", crating),
    ("fees", fees),
    ("duty", duty),
    ("exchange", exchange),
    ("roads", roads),
    ("rigs", rigs),
];

/// Those that a workspace may do without: then no working day is counted, nothing is known of
/// axles, and no law of the road is checked.
const OPTIONAL: [&str; 3] = ["calendars", "roads", "rigs"];

/// The same for a name that must be there.
pub(super) fn required_name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    let name = row.required_text(key, report)?;
    names.borrow_mut().push((what, name.clone()));
    Some(name.value)
}

/// Reads every row of an array with `read`, reports its unknown keys, and gives what could be read.
pub(super) fn each<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::new();
    for row in top.rows(key, report) {
        let value = read(&row, report);
        row.finish(report);
        all.extend(value);
    }
    all
}

/// Reads a list of country codes.
pub(super) fn countries(row: &Table<'_>, key: &'static str, report: &mut Report) -> Vec<Country> {
    let mut all = Vec::new();
    for text in row.texts(key, report) {
        match Country::read(&text) {
            Ok(country) => all.push(country),
            Err(fault) => report.add(
                Fault::error(Code::BadQuantity, format!("`{key}` holds \"{}\"", text.value))
                    .at(&text.place, format!("expected {}", fault.expected)),
            ),
        }
    }
    all
}

fn exchange(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.exchange = each(top, "exchange", report, |row, report| {
        let used_for = row.required_word("use", &ExchangeUse::ALL, report);
        let quote = row.required("quote", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Some(ExchangeRow {
            used_for: used_for?.value,
            quote: quote?,
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
}
