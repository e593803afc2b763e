//! `quaystone stock`: every slab in stock on a day, with its cost.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, with_ledger};
use crate::ledger::stock;
use crate::show;

/// Arguments of `stock`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    on: On,
    /// Slabs that left stock or were lost as well
    #[arg(long)]
    all: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_ledger(options, options.report(), (args.on.on, args.on.reading()), |ledger, on, report| {
        let listed = stock(ledger, on, args.all);
        let json = |out: &mut dyn Write| show::json::stock(ledger, &listed, on, out);
        options.put(report, show::stock(ledger, &listed, on, options.units()), &json)
    })
}
