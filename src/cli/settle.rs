//! `quaystone settle`: what was estimated against what was billed.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, booked, with_ledger};
use crate::ledger::settled;
use crate::show;

/// Arguments of `settle`.
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
        let all = match settled(ledger, shipment, on) {
            Ok(all) => all,
            Err(overflow) => {
                return Exit::BadData(Options::say(&format!("error: {overflow}")));
            }
        };
        let json = |out: &mut dyn Write| show::json::settle(ledger, shipment, &all, on, out);
        options.put(report, show::settle(ledger, shipment, &all, on), &json)
    })
}
