//! `quaystone journal`: every line of the ledger, for a ledger of your own.

use std::io::Write;
use std::path::PathBuf;

use super::job::{Exit, Options, day};
use super::ledger::{booked, with_ledger};
use crate::fault::Report;
use crate::ledger::{Entry, Ledger, Per, Reading, beyond, summed};
use crate::read;
use crate::show::{self, Lines};
use crate::trade::{AccountRow, Date};

/// The part of what is of no one shipment; no shipment is called so, as the folder of such events is.
const OF_NONE: &str = "yards";

/// Arguments of `journal`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The lines of this shipment alone
    shipment: Option<String>,
    /// The first day [default: that of the first event]
    #[arg(long, value_name = "DATE", value_parser = day)]
    from: Option<Date>,
    /// The last day [default: that of the last event]
    #[arg(long, value_name = "DATE", value_parser = day)]
    to: Option<Date>,
    /// An entry for each event, day or month
    #[arg(long, value_enum, default_value = "event")]
    by: ByArg,
    /// Only the lines that an earlier export (CSV) lacks; an error where one of its lines has changed
    #[arg(long, value_name = "FILE")]
    beyond: Option<PathBuf>,
    /// CSV files in this folder, one for each shipment, and one for what is of none
    #[arg(long, value_name = "FOLDER")]
    parts: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum ByArg {
    Event,
    Day,
    Month,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let workspace = options.workspace(&mut report);
    let rows = workspace.and_then(|workspace| read::accounts(&workspace, &mut report));
    let rows = match rows {
        Ok(rows) => rows,
        told => match Options::told(&report, told) {
            Ok(rows) => rows,
            Err(exit) => return exit,
        },
    };
    with_ledger(options, report, (args.to, Reading::Posted), |ledger, _, report| {
        export(args, options, (ledger, &rows), report).unwrap_or_else(|exit| exit)
    })
}

fn export(
    args: &Args,
    options: &Options,
    (ledger, rows): (&Ledger<'_>, &[AccountRow]),
    report: &Report,
) -> Result<Exit, Exit> {
    let shipment = args.shipment.as_deref().map(|name| booked(ledger, name)).transpose()?;
    let is_of = |entry: &&Entry| {
        let of = |at: usize| entry.lines.iter().any(|line| line.shipment == Some(at));
        args.from.is_none_or(|from| from <= entry.posted) && shipment.is_none_or(of)
    };
    let of_events: Vec<&Entry> = ledger.entries.iter().filter(is_of).collect();
    let per = match args.by {
        ByArg::Event => None,
        ByArg::Day => Some(Per::Day),
        ByArg::Month => Some(Per::Month),
    };
    let sums = Options::fitted(per.map(|per| summed(ledger, &of_events, per)).transpose())?;
    let mut entries = sums.as_ref().map_or(of_events, |sums| sums.iter().collect());
    if let Some(path) = &args.beyond {
        let mut own = options.report();
        let earlier = read::exported(path, &mut own);
        let new = earlier.and_then(|earlier| beyond(entries, &earlier, &mut own));
        entries = Options::told(&own, new)?;
    }
    let mut lines: Vec<(&Entry, usize)> = Vec::new();
    for entry in &entries {
        lines.extend((0..entry.lines.len()).map(|at| (*entry, at)));
    }
    let of = |lines| Lines { ledger, lines, numbers: rows };
    let Some(folder) = &args.parts else {
        let json = |out: &mut dyn Write| show::json::journal(ledger, (&entries, rows), out);
        return Ok(options.put(report, show::journal(of(&lines)), &json));
    };
    let shipment =
        |(entry, at): &(&Entry, usize)| entry.lines.get(*at).and_then(|one| one.shipment);
    lines.sort_by_key(shipment);
    let parts = lines.chunk_by(|one, other| shipment(one) == shipment(other)).map(|own| {
        let freeze = own.first().and_then(shipment).and_then(|at| ledger.freeze(at));
        (freeze.map_or(OF_NONE, |freeze| &freeze.shipment), show::journal(of(own)))
    });
    options.put_parts(report, folder, parts.collect())
}
