//! `quaystone stock`: every slab in stock on a day, with its cost.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, with_ledger, with_stock};
use crate::ledger::stock;
use crate::sell::{classes, tested};
use crate::show;

/// Arguments of `stock`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    on: On,
    /// Slabs that left stock or were lost as well
    #[arg(long)]
    all: bool,
    /// Hold each slab's cost against what it can be sold for, by [[market]] rows of rates/selling.toml
    #[arg(long, conflicts_with = "all")]
    market: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if args.market { test(args, options) } else { list(args, options) }
}

fn test(args: &Args, options: &Options) -> Exit {
    with_stock(options, &args.on, false, |stock, report| {
        if stock.tariffs.market.is_empty() {
            return Exit::No(Options::say(
                "no slab can be tested: [[market]] rows in rates/selling.toml say what slabs fetch (rates/README.md)",
            ));
        }
        let mut own = options.report();
        let classes = classes(stock.listed);
        let tests = tested(&classes, stock.tariffs, stock.on, &mut own);
        let tests = match Options::told(&own, tests) {
            Ok(tests) => tests,
            Err(exit) => return exit,
        };
        let json = |out: &mut dyn Write| show::json::worth(&tests, stock.on, out);
        options.put(report, show::worth(&tests, stock.on), &json)
    })
}

fn list(args: &Args, options: &Options) -> Exit {
    with_ledger(options, options.report(), (args.on.on, args.on.reading()), |ledger, on, report| {
        let listed = stock(ledger, on, args.all);
        let json = |out: &mut dyn Write| show::json::stock(&listed, on, out);
        options.put(report, show::stock(ledger, &listed, on, options.units()), &json)
    })
}
