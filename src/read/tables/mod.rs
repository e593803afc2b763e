//! `rates/`: every table, each read by its own file's rules, and what they say of one another.

mod charges;
mod checks;
mod doubts;
mod goods;
mod ports;
mod rate;
mod usual;

use super::alike::doubt_tables;
use super::duty::duty;
use super::keys::{Names, readable};
use super::rigs::{check_rigs, rigs, roads};
use super::table::{self, Table};
use super::timing::calendars;
use super::workspace::Workspace;
use crate::fault::{Report, Reported};
use crate::files;
use crate::trade::{ExchangeRow, ExchangeUse, Tariffs};
use charges::{crating, drayage, fees, freight};
use checks::{check_allowances, check_duplicates, check_overlaps, check_references, check_values};
use doubts::doubt_exchange;
use goods::{containers, stones, yards};
use ports::ports;
use usual::doubt_rates;

/// Reads every table of `rates/`.
///
/// # Errors
///
/// If one is at fault.
pub fn tariffs(workspace: &Workspace, report: &mut Report) -> Result<Tariffs, Reported> {
    let tariffs = tables(workspace, report);
    report.sound()?;
    Ok(tariffs)
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
        // The faults of all files are gathered: what cannot be read of one is told.
        let _ = files::read(&path, &name, report).and_then(|source| {
            table::parse(&source, report, |top, report| {
                fill(top, &mut tariffs, &names, report);
                Ok(())
            })
        });
    }
    check_references(&tariffs, &names.into_inner(), report);
    check_rigs(&tariffs, report);
    check_values(&tariffs, report);
    check_duplicates(&tariffs, report);
    check_allowances(&tariffs, report);
    check_overlaps(&tariffs, report);
    doubt_exchange(&tariffs, report);
    doubt_rates(&tariffs, report);
    doubt_tables(&tariffs, report);
    tariffs
}

type Fill = fn(&Table<'_>, &mut Tariffs, &Names, &mut Report);

/// The files of `rates/` in the order they are read.
const FILES: [(&str, Fill); 13] = [
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
    ("ports", ports),
];

/// Those that a workspace may do without: then no working day is counted, nothing is known of
/// axles, no law of the road is checked, and a port is named by its code alone.
const OPTIONAL: [&str; 4] = ["calendars", "roads", "rigs", "ports"];

fn exchange(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.exchange = readable(top, "exchange", report, |row, report| {
        let used_for = row.required_word("use", &ExchangeUse::ALL, report);
        let quote = row.required("quote", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Ok(ExchangeRow {
            used_for: used_for?.value,
            quote: quote?,
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
}
