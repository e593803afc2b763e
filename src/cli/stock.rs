//! `quaystone stock`: every slab in stock on a day, with its cost.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;

use super::job::{Exit, Options};
use super::ledger::{On, with_ledger, with_parts, with_stock};
use crate::ledger::{Part, StockBy, grouped, regrouped, stock};
use crate::sell::{classes, tested};
use crate::show::{self, Block};
use crate::trade::Date;

/// Arguments of `stock`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    on: On,
    /// Slabs that left stock or were lost as well
    #[arg(long)]
    all: bool,
    /// Compare each slab's cost with its net realisable value, by [[market]] rows of rates/selling.toml
    #[arg(long, conflicts_with = "all")]
    market: bool,
    /// A row for each place, stone, supplier, shipment or class of age
    #[arg(long, value_enum, conflicts_with = "market")]
    by: Option<ByArg>,
    /// Slabs of others in our yards alone: they are in no sum of the others
    #[arg(long, conflicts_with_all = ["all", "market", "by", "parts"])]
    consigned: bool,
    /// CSV files in this folder, one for each shipment
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["market", "by"])]
    parts: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum ByArg {
    Yard,
    Stone,
    Supplier,
    Shipment,
    Age,
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
    let by = args.by.map(|by| match by {
        ByArg::Yard => StockBy::Yard,
        ByArg::Stone => StockBy::Stone,
        ByArg::Supplier => StockBy::Supplier,
        ByArg::Shipment => StockBy::Shipment,
        ByArg::Age => StockBy::Age,
    });
    let (on, units) = ((args.on.on, args.on.reading()), options.units());
    if let Some(by) = by {
        let keep = |part: &Part<'_>, on: Date| grouped(&stock(part.ledger, on, args.all), by);
        return with_parts(
            options,
            options.report(),
            (on, by == StockBy::Age),
            keep,
            |whole, on, report| {
                let groups = match Options::fitted(regrouped(whole.parts.iter().flatten().cloned()))
                {
                    Ok(groups) => groups,
                    Err(exit) => return exit,
                };
                let json = |out: &mut dyn Write| show::json::grouped(&groups, on, out);
                options.put(report, show::stock_by((by.head(), &groups), on, units), &json)
            },
        );
    }
    if !options.has_memos() && args.parts.is_none() && !args.consigned {
        return sheet(args, options);
    }
    with_ledger(options, options.report(), on, |ledger, on, report| {
        let listed = stock(ledger, on, args.all);
        let put = || -> Result<Exit, Exit> {
            if args.consigned {
                let json = |out: &mut dyn Write| show::json::stock(ledger, &[], on, out);
                return Ok(options.put(report, show::consigned(ledger, on, units), &json));
            }
            if let Some(folder) = &args.parts {
                let parts = listed.chunk_by(|one, other| std::ptr::eq(one.freeze, other.freeze));
                let parts = parts.filter_map(|own| {
                    let page = show::stock(ledger, (own, &[]), on, units);
                    Some((own.first()?.freeze.shipment.as_str(), page))
                });
                return options.put_parts(report, folder, parts.collect());
            }
            let places = Options::fitted(grouped(&listed, StockBy::Yard))?;
            let json = |out: &mut dyn Write| show::json::stock(ledger, &listed, on, out);
            let page = show::stock(ledger, (&listed, &places), on, units);
            Ok(options.put(report, page, &json))
        };
        put().unwrap_or_else(|exit| exit)
    })
}

/// The rows of a list are written as each part of the books is folded, and put in the order of shipments.
fn sheet(args: &Args, options: &Options) -> Exit {
    let units = options.units();
    let keep = |part: &Part<'_>, on: Date| {
        let listed = stock(part.ledger, on, args.all);
        let shipments = listed.chunk_by(|one, other| std::ptr::eq(one.freeze, other.freeze));
        let rows = shipments.filter_map(|own| {
            let (shipment, _) =
                part.shipments.iter().zip(&part.ledger.books.freezes).find(|(_, freeze)| {
                    own.first().is_some_and(|one| std::ptr::eq(*freeze, one.freeze))
                })?;
            Some((*shipment, show::stock(part.ledger, (own, &[]), on, units).rows()))
        });
        Ok(rows.collect::<Vec<_>>())
    };
    let on = (args.on.on, args.on.reading());
    with_parts(options, options.report(), (on, true), keep, |whole, on, report| {
        let rows: BTreeMap<usize, &[u8]> =
            whole.parts.iter().flatten().map(|(shipment, rows)| (*shipment, &**rows)).collect();
        let ledger = whole.ledger();
        let mut page = show::stock(&ledger, (&[], &[]), on, units);
        page.blocks.push(Block::Written(rows.into_values().collect()));
        options.put(report, page, &|_| Ok(()))
    })
}
