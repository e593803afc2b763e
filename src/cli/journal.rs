//! `quaystone journal`: every line of the ledger, for a ledger of your own.

use std::io::Write;

use super::job::{Exit, Options, day};
use super::ledger::{booked, with_ledger};
use crate::ledger::{Entry, Reading};
use crate::show;
use crate::trade::Date;

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
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_ledger(options, options.report(), (args.to, Reading::Posted), |ledger, _, report| {
        let shipment = args.shipment.as_deref().map(|name| booked(ledger, name)).transpose();
        let shipment = match shipment {
            Ok(shipment) => shipment,
            Err(exit) => return exit,
        };
        let is_of = |entry: &&Entry| {
            let of = |at: usize| entry.lines.iter().any(|line| line.shipment == Some(at));
            args.from.is_none_or(|from| from <= entry.posted) && shipment.is_none_or(of)
        };
        let entries: Vec<&Entry> = ledger.entries.iter().filter(is_of).collect();
        let json = |out: &mut dyn Write| show::json::journal(ledger, &entries, out);
        options.put(report, show::journal(ledger, &entries), &json)
    })
}
