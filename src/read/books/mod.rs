//! The books of a workspace: `books/NAME/` holds the booked estimate of a shipment and its events,
//! `books/yards/` the events of the yards.

mod events;
mod exported;
mod freeze;
mod parties;

use std::fs;
use std::path::PathBuf;

use rayon::prelude::*;

use super::table::nearest;
use super::workspace::Workspace;
use crate::fault::{Code, Fault, Report, Reported, gathered};
use crate::trade::{BookEvent, Freeze};

pub(super) use events::events_of;
pub use exported::exported;
pub use freeze::{booked, freeze_folder};

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
    let folder = workspace.root().join("books");
    let mut names: Vec<String> = list(&folder).into_iter().filter_map(name).collect();
    names.retain(|name| folder.join(name).join("freeze.toml").exists());
    // Side by side; what is told stays in the order of the names. The texts of many shipments are not kept.
    let units = report.units();
    let read: Vec<_> = names
        .into_par_iter()
        .map(|name| {
            let mut own = Report::in_units(units);
            let read = of_shipment(workspace, &name, &mut own);
            own.forget_unused();
            (read, own)
        })
        .collect();
    let each = gathered(read.into_iter().map(|(read, own)| {
        report.absorb(own);
        read
    }));
    let yards = list(&folder.join("yards"));
    let of_toml = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "toml");
    let yards = yards.into_iter().filter(of_toml);
    let of_yards = gathered(yards.map(|path| events::events(workspace, (&path, None), report)));
    let mut books = Books::default();
    for (freeze, events) in each? {
        books.freezes.extend(freeze);
        books.events.extend(events);
    }
    books.events.extend(of_yards?.into_iter().flatten());
    known_yards(&books, report)?;
    parties::parties(&books.freezes, &books.events, report);
    Ok(books)
}

/// Reports misspelt yards of events: no booked shipment goes there, and the name is nearly that of a yard where one
/// does. Any other name is taken, as slabs may be moved to a yard where no shipment went.
fn known_yards(books: &Books, report: &mut Report) -> Result<(), Reported> {
    let mut known: Vec<&str> = books.freezes.iter().map(|freeze| freeze.yard.as_str()).collect();
    known.sort_unstable();
    known.dedup();
    let mut sound = Ok(());
    for yard in books.events.iter().filter_map(|event| event.what.yard()) {
        let name = yard.value.as_str();
        if !known.contains(&name)
            && let Some(near) = nearest(name, &known)
        {
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
    report: &mut Report,
) -> Result<(Option<Freeze>, Vec<BookEvent>), Reported> {
    let freeze = booked(workspace, name, report);
    let path = freeze_folder(workspace, name).join("events.toml");
    let events = if path.exists() {
        events::events(workspace, (&path, Some(name)), report)
    } else {
        Ok(Vec::new())
    };
    Ok((freeze?, events?))
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
