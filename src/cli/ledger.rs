//! What the commands of the books share: the ledger up to a day.

use std::path::Path;

use super::job::{Exit, Options, day};
use crate::fault::Report;
use crate::ledger::{Ledger, Listed, Part, Reading, Where, Whole, apart, at_once, fold, stock};
use crate::quantity::Overflow;
use crate::read::{self, Books, Shelf, Workspace};
use crate::trade::{BookEvent, Date, Tariffs};

/// The day of a list, and by which day of its events.
#[derive(Debug, clap::Args)]
pub(super) struct On {
    /// The day [default: that of the last event]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub(super) on: Option<Date>,
    /// By the day events occurred on, and not by the day they are posted on
    #[arg(long)]
    pub(super) known: bool,
}

/// A booked shipment and a day.
#[derive(Debug, clap::Args)]
pub(super) struct Booked {
    /// The shipment, by name or path
    pub(super) shipment: String,
    #[command(flatten)]
    pub(super) on: On,
}

impl On {
    pub(super) fn reading(&self) -> Reading {
        if self.known { Reading::Occurred } else { Reading::Posted }
    }
}

/// Holds the first day that is asked for against the last.
pub(super) fn in_order(from: Option<Date>, to: Option<Date>) -> Result<(), Exit> {
    match from.zip(to).filter(|(from, to)| from > to) {
        None => Ok(()),
        Some((from, to)) => Err(Exit::BadCommand(Options::say(&format!(
            "error: --from {from} comes after --to {to}: nothing is between them; exchange the two"
        )))),
    }
}

/// Reads the books, in which something is booked.
pub(super) fn with_books(
    options: &Options,
    mut report: Report,
    then: impl FnOnce(Workspace, Books, Report) -> Exit,
) -> Exit {
    let workspace = options.workspace(&mut report);
    let books = workspace.and_then(|workspace| {
        let books = read::books(&workspace, &mut report);
        Ok((workspace, books?))
    });
    // Warnings are told once, with those of the ledger.
    let (workspace, books) = match books {
        Ok(read) if !report.has_errors() => read,
        failed => match Options::told(&report, failed) {
            Ok(read) => read,
            Err(exit) => return exit,
        },
    };
    if books.freezes.is_empty() {
        return Exit::No(Options::say("no shipment is booked: quaystone book SHIPMENT books one"));
    }
    then(workspace, books, report)
}

/// Folds the books part by part up to a day, and hands on what `keep` keeps of each part. `keep` is told the day, that
/// of the last event where none is given; `seeks` says whether that matters to it.
pub(super) fn with_parts<T: Send>(
    options: &Options,
    report: Report,
    ((until, reading), seeks): ((Option<Date>, Reading), bool),
    keep: impl Fn(&Part<'_>, Date) -> Result<T, Overflow> + Sync,
    then: impl FnOnce(&Whole<T>, Date, &Report) -> Exit,
) -> Exit {
    let mut tried = report.clone();
    let workspace = options.workspace(&mut tried);
    if let Ok(workspace) = workspace {
        let shelf = Shelf::of(&workspace, &tried);
        let guess = if seeks { until.or_else(|| shelf.last_day()) } else { until };
        let fold = |day: Option<Date>, report: &mut Report| {
            let day = day.unwrap_or(Date::MAX);
            apart(&shelf, (until, reading), report, |part| keep(part, day))
        };
        let mut own = tried.clone();
        let mut whole = fold(guess, &mut own);
        let last = whole.as_ref().and_then(|whole| until.or(whole.last));
        if seeks && last.is_some() && last != guess {
            own = tried.clone();
            whole = fold(last, &mut own);
        }
        if let Some((whole, day)) = whole.zip(last) {
            for fault in own.sorted().into_iter().cloned().collect::<Vec<_>>() {
                Options::keep_texts(&fault, &workspace, &mut own);
            }
            return match Options::told(&own, Ok(())) {
                Ok(()) => then(&whole, day, &own),
                Err(exit) => exit,
            };
        }
    }
    // Faults are told as they are found of all, and nothing that happened as nothing.
    with_ledger(options, report, (until, reading), |ledger, day, report| {
        match Options::fitted(at_once(ledger, |part| keep(part, day))) {
            Ok(whole) => then(&whole, day, report),
            Err(exit) => exit,
        }
    })
}

/// Reads the books and folds them up to a day, that of the last event where none is given.
pub(super) fn with_ledger(
    options: &Options,
    report: Report,
    on: (Option<Date>, Reading),
    then: impl FnOnce(&Ledger<'_>, Date, &Report) -> Exit,
) -> Exit {
    with_books(options, report, |workspace, books, mut report| {
        folded((&workspace, &books), on, &mut report, then)
    })
}

fn folded(
    (workspace, books): (&Workspace, &Books),
    (until, reading): (Option<Date>, Reading),
    report: &mut Report,
    then: impl FnOnce(&Ledger<'_>, Date, &Report) -> Exit,
) -> Exit {
    let last = || books.events.iter().map(BookEvent::posted_on).max();
    let Some(day) = until.or_else(last) else {
        return Exit::No(Options::say(
            "nothing has happened yet: events stand in books/SHIPMENT/events.toml",
        ));
    };
    match ledger_of((workspace, books), (Some(day), reading), report) {
        Ok(ledger) => then(&ledger, day, report),
        Err(exit) => exit,
    }
}

/// Folds books up to a day.
pub(super) fn ledger_of<'b>(
    (workspace, books): (&Workspace, &'b Books),
    on: (Option<Date>, Reading),
    report: &mut Report,
) -> Result<Ledger<'b>, Exit> {
    let ledger = fold(books, on, report);
    for fault in report.sorted().into_iter().cloned().collect::<Vec<_>>() {
        Options::keep_texts(&fault, workspace, report);
    }
    Options::told(report, ledger)
}

/// Folds the books up to a day for one booked shipment, by position.
pub(super) fn with_booked(
    options: &Options,
    args: &Booked,
    then: impl FnOnce(&Ledger<'_>, usize, Date, &Report) -> Result<Exit, Exit>,
) -> Exit {
    let on = (args.on.on, args.on.reading());
    with_ledger(options, options.report(), on, |ledger, on, report| {
        let found = booked(ledger, &args.shipment);
        found.and_then(|shipment| then(ledger, shipment, on, report)).unwrap_or_else(|exit| exit)
    })
}

/// A stock list with the tables that say what is done with it.
pub(super) struct Stock<'s> {
    pub(super) ledger: &'s Ledger<'s>,
    pub(super) listed: &'s [Listed<'s>],
    pub(super) tariffs: &'s Tariffs,
    pub(super) on: Date,
}

/// Reads tables and books, and lists the slabs of a day that are ours; with `all`, whatever became of them.
pub(super) fn with_stock(
    options: &Options,
    on: &On,
    all: bool,
    then: impl FnOnce(&Stock<'_>, &Report) -> Exit,
) -> Exit {
    let mut report = options.report();
    let tariffs = match options.open(&mut report) {
        Ok((_, tariffs)) => tariffs,
        Err(exit) => return exit,
    };
    with_ledger(options, report, (on.on, on.reading()), |ledger, on, report| {
        let mut listed = stock(ledger, on, all);
        listed.retain(|one| one.state.at != Where::Abroad);
        then(&Stock { ledger, listed: &listed, tariffs: &tariffs, on }, report)
    })
}

/// The booked shipment of a name, by position; an end where there is none.
pub(super) fn booked(ledger: &Ledger<'_>, name: &str) -> Result<usize, Exit> {
    let name = Path::new(name.trim_end_matches('/'));
    let name = name.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let all = &ledger.books.freezes;
    all.iter().position(|freeze| freeze.shipment == name).ok_or_else(|| {
        let known: Vec<&str> = all.iter().map(|freeze| freeze.shipment.as_str()).collect();
        Exit::BadCommand(Options::say(&format!(
            "error: \"{name}\" is not booked; booked are: {}",
            known.join(", ")
        )))
    })
}
