//! `quaystone cover`: how long stones last, and by when to order.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, with_stock};
use crate::sell::{cover, unwatched};
use crate::show;

/// Arguments of `cover`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    on: On,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_stock(options, &args.on, true, |stock, report| {
        if stock.tariffs.cover.is_empty() {
            return Exit::No(Options::say(
                "nothing is watched: [[cover]] rows in rates/selling.toml say which stones (rates/README.md)",
            ));
        }
        let mut own = options.report();
        let all = cover(stock.ledger, stock.listed, stock.tariffs, stock.on, &mut own);
        let all = match Options::told(&own, all) {
            Ok(all) => all,
            Err(exit) => return exit,
        };
        let others = unwatched(stock.ledger, stock.listed, stock.tariffs, stock.on);
        let others = match Options::fitted(others) {
            Ok(others) => others,
            Err(exit) => return exit,
        };
        let json = |out: &mut dyn Write| show::json::cover((&all, &others), stock.on, out);
        options.put(report, show::cover((&all, &others), stock.on, options.units()), &json)
    })
}
