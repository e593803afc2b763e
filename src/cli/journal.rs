//! `quaystone journal`: every line of the ledger, for a ledger of your own.

use std::io::Write;
use std::path::PathBuf;

use super::job::{Exit, Options, day};
use super::ledger::{booked, in_order, with_ledger, with_parts};
use crate::fault::Report;
use crate::ledger::{Entry, Ledger, Order, Part, Per, Reading, beyond, summed};
use crate::read;
use crate::show::{self, Block, Lines};
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
    if let Err(exit) = in_order(args.from, args.to) {
        return exit;
    }
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
    let is_whole = args.shipment.is_none() && args.beyond.is_none() && args.parts.is_none();
    if is_whole && !options.has_memos() {
        return match args.by {
            ByArg::Event => sheet(args, options, (report, &rows)),
            ByArg::Day => sums(args, options, (report, &rows), Per::Day),
            ByArg::Month => sums(args, options, (report, &rows), Per::Month),
        };
    }
    with_ledger(options, report, (args.to, Reading::Posted), |ledger, day, report| {
        export(args, options, (ledger, &rows, day), report).unwrap_or_else(|exit| exit)
    })
}

/// Whether an entry is of the days asked for.
fn is_since(args: &Args, entry: &Entry) -> bool {
    args.from.is_none_or(|from| from <= entry.posted)
}

/// Says that there is no entry of the days asked for; `day` is the last of them.
fn told_none(args: &Args, day: Date) {
    let days = match (args.from, args.to) {
        (Some(from), None) => format!("from {from} on: the last event is posted on {day}"),
        (Some(from), Some(_)) => format!("from {from} to {day}"),
        (None, _) => format!("up to {day}"),
    };
    let _ = Options::say(&format!("note: nothing is posted {days}"));
}

/// The rows of entries as they are written, and where each entry ends.
fn written(
    (ledger, entries): (&Ledger<'_>, &[(Order, &Entry)]),
    rows: &[AccountRow],
) -> (Vec<u8>, Vec<(Order, usize)>) {
    let lines = |(_, entry): &(Order, &Entry)| entry.lines.len();
    let each: Vec<(&Entry, usize)> =
        entries.iter().flat_map(|one| (0..lines(one)).map(|at| (one.1, at))).collect();
    let text = show::journal(Lines { ledger, lines: &each, numbers: rows }).rows();
    // A row is a line: what would break one is shown escaped.
    let mut ends = text.iter().zip(1..).filter(|(byte, _)| **byte == b'\n').map(|(_, end)| end);
    let ends =
        entries.iter().map(|one| (one.0, ends.by_ref().take(lines(one)).last().unwrap_or(0)));
    let ends = ends.collect();
    (text, ends)
}

/// The rows of a journal are written as each part of the books is folded, and put in their order.
fn sheet(args: &Args, options: &Options, (report, rows): (Report, &[AccountRow])) -> Exit {
    let keep = |part: &Part<'_>, _: Date| {
        let own: Vec<(Order, &Entry)> =
            part.entries().filter(|(_, entry)| is_since(args, entry)).collect();
        Ok(written((part.ledger, &own), rows))
    };
    with_parts(options, report, ((args.to, Reading::Posted), false), keep, |whole, day, report| {
        let ledger = whole.ledger();
        let closes = whole.closes.iter().filter(|(_, entry)| is_since(args, entry));
        let closes: Vec<(Order, &Entry)> = closes.map(|(order, entry)| (*order, entry)).collect();
        let of_closes = written((&ledger, &closes), rows);
        let mut all: Vec<(Order, &[u8])> = Vec::new();
        for (text, ends) in whole.parts.iter().chain([&of_closes]) {
            let mut start = 0;
            for (order, end) in ends {
                all.extend(text.get(start..*end).map(|own| (*order, own)));
                start = *end;
            }
        }
        all.sort_unstable_by_key(|(order, _)| *order);
        if all.is_empty() {
            told_none(args, day);
        }
        let mut page = show::journal(Lines { ledger: &ledger, lines: &[], numbers: rows });
        page.blocks.push(Block::Written(all.into_iter().map(|(_, own)| own).collect()));
        options.put(report, page, &|_| Ok(()))
    })
}

/// The sums of each part of the books, put together.
fn sums(args: &Args, options: &Options, (report, rows): (Report, &[AccountRow]), per: Per) -> Exit {
    let keep = |part: &Part<'_>, _: Date| {
        let own: Vec<&Entry> =
            part.entries().map(|(_, entry)| entry).filter(|one| is_since(args, one)).collect();
        let mut sums = summed(part.ledger, &own, per)?;
        for line in sums.iter_mut().flat_map(|entry| &mut entry.lines) {
            line.shipment = line.shipment.and_then(|at| part.shipments.get(at)).copied();
        }
        Ok(sums)
    };
    with_parts(options, report, ((args.to, Reading::Posted), false), keep, |whole, day, report| {
        let ledger = whole.ledger();
        let closes = whole.closes.iter().map(|(_, entry)| entry);
        let closes = closes.filter(|entry| is_since(args, entry));
        let all: Vec<&Entry> = whole.parts.iter().flatten().chain(closes).collect();
        let sums = match Options::fitted(summed(&ledger, &all, per)) {
            Ok(sums) => sums,
            Err(exit) => return exit,
        };
        let mut lines: Vec<(&Entry, usize)> = Vec::new();
        for entry in &sums {
            lines.extend((0..entry.lines.len()).map(|at| (entry, at)));
        }
        if lines.is_empty() {
            told_none(args, day);
        }
        let lines = Lines { ledger: &ledger, lines: &lines, numbers: rows };
        options.put(report, show::journal(lines), &|_| Ok(()))
    })
}

fn export(
    args: &Args,
    options: &Options,
    (ledger, rows, day): (&Ledger<'_>, &[AccountRow], Date),
    report: &Report,
) -> Result<Exit, Exit> {
    let shipment = args.shipment.as_deref().map(|name| booked(ledger, name)).transpose()?;
    let is_of = |entry: &&Entry| {
        let of = |at: usize| entry.lines.iter().any(|line| line.shipment == Some(at));
        is_since(args, entry) && shipment.is_none_or(of)
    };
    let of_events: Vec<&Entry> = ledger.entries.iter().filter(is_of).collect();
    if of_events.is_empty() {
        told_none(args, day);
    }
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
