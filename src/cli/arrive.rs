//! `quaystone arrive`: what stood on the rack against the packing list.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, booked, with_ledger};
use crate::ledger::arrived;
use crate::show;

/// Arguments of `arrive`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path
    shipment: String,
    #[command(flatten)]
    on: On,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_ledger(options, options.report(), (args.on.on, args.on.reading()), |ledger, on, report| {
        let shipment = match booked(ledger, &args.shipment) {
            Ok(shipment) => shipment,
            Err(exit) => return exit,
        };
        let all = match arrived(ledger, shipment) {
            Ok(all) => all,
            Err(overflow) => {
                return Exit::BadData(Options::say(&format!("error: {overflow}")));
            }
        };
        let json = |out: &mut dyn Write| show::json::arrive(ledger, shipment, &all, on, out);
        let page = show::arrive(ledger, shipment, &all, (on, options.units()));
        options.put(report, page, &json)
    })
}
