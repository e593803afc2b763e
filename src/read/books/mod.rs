//! The books of a workspace: `books/NAME/` holds the booked estimate of a shipment and its events,
//! `books/yards/` the events of the yards.

mod across;
mod events;
mod exported;
mod freeze;
mod parties;
mod rates;

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use rayon::prelude::*;

use super::table::nearest;
use super::workspace::Workspace;
use crate::fault::{Code, Fault, Report, Reported, gathered, tried};
use crate::quantity::{Currency, Units};
use crate::trade::{BookEvent, Date, Freeze};

pub use across::{Across, Spot};
pub(super) use events::events_of;
pub use exported::exported;
pub use freeze::{Workings, booked, freeze_folder};
pub use rates::{is_rate_asked, is_rate_asked_of_all};

/// Ten years: customs may change an entry for less (common practice).
const DAYS_OF_A_SHIPMENT: i64 = 3653;

/// All that is in the books of a workspace.
#[derive(Debug, Default)]
pub struct Books {
    /// The booked estimates, by the name of the shipment.
    pub freezes: Vec<Freeze>,
    /// The events of every file, in the order of files and in each as they stand.
    pub events: Vec<BookEvent>,
}

/// Reads the books of a workspace: every booked shipment with its events, and the events of the yards.
///
/// # Errors
/// Where a file is at fault.
pub fn books(workspace: &Workspace, report: &mut Report) -> Result<Books, Reported> {
    let shelf = Shelf::of(workspace, report);
    // Side by side; what is told stays in the order of the names. The texts of many shipments are not kept.
    let read: Vec<_> = shelf
        .names
        .par_iter()
        .map(|name| {
            let mut own = shelf.report();
            let read = of_shipment(workspace, name, Workings::Read, &mut own);
            own.forget_unused();
            (read, own)
        })
        .collect();
    let each = gathered(read.into_iter().map(|(read, own)| {
        report.absorb(own);
        read
    }));
    let of_yards = shelf.yards(report);
    let books = Books::of(each?, of_yards?);
    known_yards(&books, report)?;
    let spots = books.events.iter().enumerate().map(|(at, event)| ((0, at), event));
    Across::of(&books, (|at| at, |at| (0, at))).told(spots, report);
    Ok(books)
}

/// The books of a workspace that are not read yet.
#[derive(Debug)]
pub struct Shelf<'w> {
    workspace: &'w Workspace,
    /// The booked shipments, in order.
    pub names: Vec<String>,
    units: Units,
}

impl<'w> Shelf<'w> {
    /// What is booked in a workspace.
    pub fn of(workspace: &'w Workspace, report: &Report) -> Self {
        let folder = workspace.root().join("books");
        let mut names: Vec<String> = list(&folder).into_iter().filter_map(name).collect();
        names.retain(|name| folder.join(name).join("freeze.toml").exists());
        Self { workspace, names, units: report.units() }
    }

    /// A report for some of the books.
    pub fn report(&self) -> Report {
        Report::in_units(self.units)
    }

    /// Reads the events of the yards.
    ///
    /// # Errors
    /// Where one is at fault.
    pub fn yards(&self, report: &mut Report) -> Result<Vec<BookEvent>, Reported> {
        let files = list(&self.workspace.root().join("books").join("yards")).into_iter();
        let files = files.filter(|path| path.extension().is_some_and(|ending| ending == "toml"));
        let each = files.map(|path| events::events(self.workspace, (&path, None), report));
        Ok(gathered(each)?.into_iter().flatten().collect())
    }

    /// The last day that events seem to stand under. Those of shipments are not read for it, only looked at line by
    /// line: one that is written in another way may have a later one.
    pub fn last_day(&self) -> Option<Date> {
        let of = |name: &String| {
            let path = freeze_folder(self.workspace, name).join("events.toml");
            let text = fs::read_to_string(path).ok()?;
            let lines = text.lines().filter_map(|line| {
                let (key, day) = line.split_once('=')?;
                ["occurred", "posted"].contains(&key.trim()).then(|| day.trim().get(..10))?
            });
            // Days in this form are in the order of their texts.
            lines.max()?.parse().ok()
        };
        let of_yards = tried(|report| self.yards(report)).unwrap_or_default();
        let of_yards = of_yards.iter().map(BookEvent::posted_on).max();
        self.names.par_iter().filter_map(of).max().max(of_yards)
    }

    /// Reads some shipments without workings; `yards` are the events of the yards that go with them.
    ///
    /// # Errors
    /// Where one is at fault.
    pub fn read<'n>(
        &self,
        names: impl Iterator<Item = &'n String>,
        yards: Vec<BookEvent>,
        report: &mut Report,
    ) -> Result<Books, Reported> {
        let without = Workings::LeftOut;
        let each = gathered(names.map(|name| of_shipment(self.workspace, name, without, report)))?;
        Ok(Books::of(each, yards))
    }
}

impl Books {
    fn of(each: Vec<(Option<Freeze>, Vec<BookEvent>)>, yards: Vec<BookEvent>) -> Self {
        let mut books = Self::default();
        for (freeze, events) in each {
            books.freezes.extend(freeze);
            books.events.extend(events);
        }
        books.events.extend(yards);
        books
    }

    /// The currencies of the books, by code.
    pub fn currencies(&self) -> BTreeMap<&'static str, Currency> {
        self.freezes.iter().map(|one| (one.currency.code(), one.currency)).collect()
    }
}

/// The yard that a misspelt name is meant for: the name is nearly that of a yard where a booked shipment goes. Any
/// other name is taken, as slabs may be moved to a yard where no shipment went.
pub fn misspelt<'k>(name: &str, known: &[&'k str]) -> Option<&'k str> {
    if known.contains(&name) { None } else { nearest(name, known) }
}

/// Reports misspelt yards of events.
fn known_yards(books: &Books, report: &mut Report) -> Result<(), Reported> {
    let mut known: Vec<&str> = books.freezes.iter().map(|freeze| freeze.yard.as_str()).collect();
    known.sort_unstable();
    known.dedup();
    let mut sound = Ok(());
    for yard in books.events.iter().filter_map(|event| event.what.yard()) {
        let name = yard.value.as_str();
        if let Some(near) = misspelt(name, &known) {
            sound = Err(report.error(
                Fault::error(Code::UnknownReference, format!("no yard is called \"{name}\""))
                    .at(&yard.place, "no booked shipment goes to it")
                    .help(format!("did you mean \"{near}\"?")),
            ));
        }
    }
    sound
}

/// The booked estimate of a shipment, and its events.
fn of_shipment(
    workspace: &Workspace,
    name: &str,
    workings: Workings,
    report: &mut Report,
) -> Result<(Option<Freeze>, Vec<BookEvent>), Reported> {
    let freeze = booked(workspace, name, workings, report);
    let path = freeze_folder(workspace, name).join("events.toml");
    let events = if path.exists() {
        events::events(workspace, (&path, Some(name)), report)
    } else {
        Ok(Vec::new())
    };
    let (freeze, events) = (freeze?, events?);
    if let Some(freeze) = &freeze {
        for event in &events {
            doubt_day(event, freeze, report);
        }
    }
    Ok((freeze, events))
}

/// Asks about an event that is older than the estimate, or many years younger: most likely its year is a slip.
fn doubt_day(event: &BookEvent, freeze: &Freeze, report: &mut Report) {
    let since = (event.occurred - freeze.quoted).num_days();
    let when = match since {
        ..0 => "before its estimate was quoted",
        0..=DAYS_OF_A_SHIPMENT => return,
        _ => "more than ten years after its estimate",
    };
    let message = format!("an event of {} happened on {}, {when}", freeze.shipment, event.occurred);
    let doubt = Fault::warning(Code::Notice, message)
        .at(&event.place, "is the year right?")
        .also(&freeze.place, format!("quoted on {}", freeze.quoted));
    event.ask(doubt, report);
}

/// What is in a folder, in order; nothing where there is none.
fn list(folder: &std::path::Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut all: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    all.sort();
    all
}

fn name(path: PathBuf) -> Option<String> {
    path.file_name().map(|name| name.to_string_lossy().into_owned())
}
