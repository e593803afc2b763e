//! `rates/`: every table, each read by its own file's rules, and what they say of one another.

mod accounts;
mod charges;
mod checks;
mod doubts;
mod goods;
mod ports;
mod rate;
mod sailings;
mod sawing;
mod securing;
mod selling;
mod usual;

use std::path::{Path, PathBuf};

use super::alike::doubt_tables;
use super::duty::duty;
use super::keys::{Names, Quotes, is_starter};
use super::rigs::{check_rigs, rigs, roads};
use super::table::{self, Laid, Table};
use super::timing::calendars;
use super::workspace::Workspace;
use crate::fault::{Report, Reported, Source};
use crate::files;
use crate::trade::{AccountRow, ExchangeRow, ExchangeUse, NamedPort, Tariffs};
use accounts::accounts as account_rows;
use charges::{crating, drayage, fees, freight};
use checks::{
    check_allowances, check_duplicates, check_overlaps, check_references, check_securing,
    check_values,
};
use doubts::doubt_exchange;
use goods::{containers, stones, yards};
use ports::ports;
use sailings::sailings;
use sawing::sawing;
use securing::securing;
use selling::selling;
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
        for path in files_of(workspace, stem) {
            // The faults of all files are gathered: what cannot be read of one is told.
            let _ = files::read(&path, &workspace.name_of(&path), report).and_then(|source| {
                table::parse(&source, report, |top, report| {
                    fill(top, &mut tariffs, &names, report);
                    Ok(())
                })
            });
        }
    }
    check_references(&tariffs, &names.into_inner(), report);
    check_rigs(&tariffs, report);
    check_securing(&tariffs, report);
    check_values(&tariffs, report);
    check_duplicates(&tariffs, report);
    check_allowances(&tariffs, report);
    check_overlaps(&tariffs, report);
    doubt_exchange(&tariffs, report);
    doubt_rates(&tariffs, report);
    doubt_tables(&tariffs, report);
    tariffs
}

/// The files of a table: its own, and those of its folder in the order of their names. Where there is none, its own
/// is asked for, unless the workspace may do without.
fn files_of(workspace: &Workspace, stem: &str) -> Vec<PathBuf> {
    let folder = workspace.root().join("rates").join(stem);
    let own = folder.with_extension("toml");
    let mut files = if FOLDERS.contains(&stem) { quotes(&folder) } else { Vec::new() };
    let is_needed = files.is_empty() && !OPTIONAL.contains(&stem);
    if own.exists() || is_needed {
        files.insert(0, own);
    }
    files
}

/// The files of a folder that hold tables, in the order of their names.
fn quotes(folder: &Path) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut files: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    files.sort();
    files
}

/// The accounts of a workspace as its own ledger has them; none where it does not say.
///
/// # Errors
///
/// If the table is at fault.
pub fn accounts(workspace: &Workspace, report: &mut Report) -> Result<Vec<AccountRow>, Reported> {
    let mut tariffs = Tariffs::default();
    for path in files_of(workspace, "accounts") {
        let source = files::read(&path, &workspace.name_of(&path), report)?;
        table::parse(&source, report, |top, report| {
            account_rows(top, &mut tariffs, &Names::default(), report);
            Ok(())
        })?;
    }
    report.sound()?;
    Ok(tariffs.accounts)
}

/// The ports of a table of ports that is at hand as text.
///
/// # Errors
///
/// If it cannot be read.
pub fn named_ports(source: &Source, report: &mut Report) -> Result<Vec<NamedPort>, Reported> {
    let mut tariffs = Tariffs::default();
    table::parse(source, report, |top, report| {
        ports(top, &mut tariffs, &Names::default(), report);
        Ok(())
    })?;
    Ok(tariffs.ports)
}

/// How a table's file is read.
pub(super) type Fill = fn(&Table<'_>, &mut Tariffs, &Names, &mut Report);

/// The names of the tables.
pub(super) fn names() -> impl Iterator<Item = &'static str> {
    FILES.iter().map(|(stem, _)| *stem)
}

/// How the file of a table is read, by its name.
pub(super) fn fill_of(name: &str) -> Option<Fill> {
    FILES.iter().find(|(stem, _)| *stem == name).map(|(_, fill)| *fill)
}

/// The files of `rates/` in the order they are read.
const FILES: [(&str, Fill); 18] = [
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
    ("sawing", sawing),
    ("sailings", sailings),
    ("securing", securing),
    ("selling", selling),
    ("accounts", account_rows),
];

/// Those that a workspace may do without: then no working day is counted, nothing is known of
/// axles, no law of the road is checked, a port is named by its code alone, no block is sawn, no sailing is
/// known, nobody says what holds the cargo, nothing is sold, and accounts have no numbers.
const OPTIONAL: [&str; 9] = [
    "calendars",
    "roads",
    "rigs",
    "ports",
    "sawing",
    "sailings",
    "securing",
    "selling",
    "accounts",
];

/// Those that may be a folder of files, a quote each, beside their own file or in its place.
const FOLDERS: [&str; 6] = ["freight", "drayage", "fees", "sawing", "sailings", "exchange"];

/// The rows of exchange.toml that stand under the head of a quote.
const EXCHANGE_HEAD: Laid = Laid::under_quote(&["exchange"]);

fn exchange(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &EXCHANGE_HEAD, report);
    tariffs.exchange.extend(quotes.rows("exchange", report, |row, report| {
        let used_for = row.required_word("use", &ExchangeUse::ALL, report);
        let quote = row.required("quote", report);
        let starter = is_starter(row, report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Ok(ExchangeRow {
            used_for: used_for?.value,
            quote: quote?,
            is_starter: starter?,
            valid: valid?.value,
            source: source?.value.into(),
            place: row.place(),
        })
    }));
    quotes.finish(report);
}
