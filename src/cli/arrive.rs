//! `quaystone arrive`: what stood on the rack against the packing list, by the books or by a list of the yard.

use std::io::Write;
use std::path::PathBuf;

use super::job::{Exit, Options};
use super::ledger::{Booked, booked, ledger_of, with_booked, with_books};
use crate::fault::{Report, Reported};
use crate::files;
use crate::ledger::{Ledger, Reading, arrived, arriving};
use crate::read::{self, Books, Workspace};
use crate::show::{self, Proposed};
use crate::trade::{BookEvent, Date};

/// Arguments of `arrive`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    booked: Booked,
    /// Take the arrival from a list of the yard (CSV): what it comes to, by --on, the day of arrival
    #[arg(long, value_name = "FILE", requires = "on", conflicts_with = "known")]
    list: Option<PathBuf>,
    /// The yard of the list [default: that of the estimate]
    #[arg(long, value_name = "NAME", requires = "list")]
    yard: Option<String>,
    /// Add the events of the list to the shipment's events.toml
    #[arg(long, requires = "list")]
    write: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if let (Some(list), Some(on)) = (&args.list, args.booked.on.on) {
        return with_books(options, options.report(), |workspace, books, report| {
            listed(args, (list, on), (&workspace, books), options, report)
                .unwrap_or_else(|exit| exit)
        });
    }
    with_booked(options, &args.booked, |ledger, shipment, on, report| {
        put(ledger, shipment, (on, None), options, report)
    })
}

fn put(
    ledger: &Ledger<'_>,
    shipment: usize,
    (on, proposed): (Date, Option<&Proposed>),
    options: &Options,
    report: &Report,
) -> Result<Exit, Exit> {
    let all = Options::fitted(arrived(ledger, shipment))?;
    let json =
        |out: &mut dyn Write| show::json::arrive(ledger, shipment, &all, (on, proposed), out);
    let page = show::arrive(ledger, shipment, &all, (on, proposed, options.units()));
    Ok(options.put(report, page, &json))
}

/// The arrival by a list: the books with the events that it makes.
fn listed(
    args: &Args,
    (list, on): (&PathBuf, Date),
    (workspace, mut books): (&Workspace, Books),
    options: &Options,
    mut report: Report,
) -> Result<Exit, Exit> {
    let report = &mut report;
    let events = {
        let ledger = ledger_of((workspace, &books), (None, Reading::Posted), report)?;
        let shipment = booked(&ledger, &args.booked.shipment)?;
        let made = made(&ledger, shipment, args, (list, on), report);
        Options::told(report, made)?
    };
    let Some(name) = events.first().and_then(|event| event.shipment.clone()) else {
        return Err(Exit::BadCommand(Options::say("error: the list makes no event")));
    };
    let path = read::freeze_folder(workspace, &name).join("events.toml");
    let seen = files::seen(&path).map_err(|refusal| Options::not_written(Some(&path), &refusal))?;
    let proposed = Proposed {
        text: show::events_text(&events),
        events: events.len(),
        file: workspace.name_of(&path),
        is_written: args.write,
    };
    let own = books.events.iter().rposition(|event| event.shipment.as_deref() == Some(&name));
    let at = own.map_or(0, |at| at + 1);
    books.events.splice(at..at, events);
    let ledger = ledger_of((workspace, &books), (Some(on), Reading::Posted), report)?;
    let shipment = booked(&ledger, &args.booked.shipment)?;
    if args.write {
        // What was written for later days has to stand with it, too.
        ledger_of((workspace, &books), (None, Reading::Posted), report)?;
        files::append(&path, &seen, &proposed.text)
            .map_err(|refusal| Options::not_written(Some(&path), &refusal))?;
    }
    put(&ledger, shipment, (on, Some(&proposed)), options, report)
}

fn made(
    ledger: &Ledger<'_>,
    shipment: usize,
    args: &Args,
    (list, on): (&PathBuf, Date),
    report: &mut Report,
) -> Result<Vec<BookEvent>, Reported> {
    let rows = read::arrival(list, report)?;
    arriving(ledger, shipment, &rows, (args.yard.as_deref(), on), report)
}
