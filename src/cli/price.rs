//! `quaystone price`: the price list of a day, from what slabs in stock cost.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{On, with_stock};
use crate::sell::{classes, price_list};
use crate::show;

/// Arguments of `price`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    on: On,
    /// Prices of one sort of customer only: a `tier` of rates/selling.toml
    #[arg(long, value_name = "TIER")]
    tier: Option<String>,
    /// For the showroom: prices without any cost [default: internal, beside our cost]
    #[arg(long = "for", value_name = "WHOM")]
    whom: Option<Whom>,
}

/// Whom a list is for.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Whom {
    Showroom,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_stock(options, &args.on, false, |stock, report| {
        let tariffs = stock.tariffs;
        if tariffs.selling.is_empty() {
            return Exit::No(Options::say(
                "no price can be set: [[selling]] rows in rates/selling.toml say how (rates/README.md)",
            ));
        }
        let known = || tariffs.selling.iter().map(|row| row.tier.as_str());
        if let Some(tier) = args.tier.as_deref().filter(|tier| !known().any(|one| one == *tier)) {
            let mut known: Vec<&str> = known().collect();
            known.sort_unstable();
            known.dedup();
            return Exit::BadCommand(Options::say(&format!(
                "error: no [[selling]] row is for \"{tier}\"; there are: {}",
                known.join(", ")
            )));
        }
        let mut own = options.report();
        let classes = classes(stock.listed);
        let listing = price_list(&classes, tariffs, (stock.on, args.tier.as_deref()), &mut own);
        let listing = match Options::told(&own, listing) {
            Ok(listing) => listing,
            Err(exit) => return exit,
        };
        let is_internal = args.whom.is_none();
        let json = |out: &mut dyn Write| show::json::prices(&listing, stock.on, is_internal, out);
        let page = if is_internal { show::prices } else { show::showroom };
        options.put(report, page(&listing, stock.on, options.units()), &json)
    })
}
