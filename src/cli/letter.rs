//! `quaystone letter`: what is asked of one supplier, with the load.

use std::io::Write;

use super::job::{Exit, One, Options, day};
use super::starter::Starters;
use crate::outgoing::{Goods, Letter, OutgoingLoad, Requests};
use crate::quantity::{Price, Written};
use crate::show;
use crate::trade::{Date, Shipment};

/// Arguments of `letter`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// An invoice of the supplier, by its number; needed where there are several suppliers
    #[arg(long, value_name = "NUMBER")]
    invoice: Option<String>,
    /// The price asked for a line, such as A="45.20 EUR/m2"; may be repeated
    #[arg(long = "price", value_name = "LINE=PRICE", value_parser = price)]
    prices: Vec<(String, Price)>,
    /// The day until which the prices are asked, such as 2026-04-01
    #[arg(long, value_name = "DAY", value_parser = day, requires = "prices")]
    until: Option<Date>,
    /// A wish in your own words, such as "bundles of at most 3.5 t"; may be repeated
    #[arg(long = "wish", value_name = "TEXT")]
    wishes: Vec<String>,
    #[command(flatten)]
    starters: Starters,
}

fn price(text: &str) -> Result<(String, Price), String> {
    let form = "write the line and its price, such as A=\"45.20 EUR/m2\"";
    let (line, price) = text.split_once('=').ok_or_else(|| match Price::read(text.trim()) {
        Ok(_) => format!("write the line in front: --price 'A={}', if that is line A", text.trim()),
        Err(_) => form.to_owned(),
    })?;
    let price =
        Price::read(price.trim()).map_err(|_| format!("\"{price}\" is no price: {form}"))?;
    Ok((line.trim().to_owned(), price))
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_tried(
        args.one.asked(),
        |_, shipment, _, _| {
            // What has lapsed is asked for anew, and the load hangs on no price of his.
            *shipment = shipment.serving_on();
            Ok(())
        },
        |shipment, tried, tariffs, report| {
            let supplier = match supplier(shipment, args.invoice.as_deref()) {
                Ok(supplier) => supplier,
                Err(exit) => return exit,
            };
            if let Ok(costed) = &tried
                && let Err(exit) = args.starters.allow(shipment, costed)
            {
                return exit;
            }
            let goods = Goods::of(shipment, supplier, tariffs);
            for (at, (line, _)) in args.prices.iter().enumerate() {
                if args.prices.iter().take(at).any(|(other, _)| other == line) {
                    let twice = format!("error: --price names line {line} twice");
                    return Exit::BadCommand(Options::say(&twice));
                }
                if !goods.lines.iter().any(|own| own.id == line) {
                    let own: Vec<&str> = goods.lines.iter().map(|own| own.id).collect();
                    let known = own.join(", ");
                    return Exit::BadCommand(Options::say(&format!(
                        "error: --price names line {line}, which {supplier} does not offer: its lines are {known}"
                    )));
                }
            }
            let summaries = match &tried {
                Ok(costed) if costed.verdict.holds() && !goods.is_nominal => {
                    match Options::summed_up(shipment, costed) {
                        Ok(summaries) => Some(summaries),
                        Err(exit) => return exit,
                    }
                }
                Ok(costed) if costed.verdict.holds() => None,
                Ok(costed) => {
                    for what in costed.verdict.broken() {
                        Options::say(&format!("the load is left out of the letter: {what}"));
                    }
                    None
                }
                Err(misfits) => {
                    Options::no_box(shipment, misfits, report);
                    None
                }
            };
            let load = summaries.as_deref();
            let load = load.map(|all| OutgoingLoad::for_supplier(shipment, all, supplier));
            let load = match load.transpose() {
                Ok(load) => load,
                Err(overflow) => {
                    return Exit::BadData(Options::say(&format!("error: {overflow}")));
                }
            };
            let (prices, wishes) = (args.prices.clone(), args.wishes.clone());
            let letter = Letter { goods, load, asked: Requests { prices, until: args.until, wishes } };
            for (day, lines) in letter.lapsed() {
                let lines = lines.join(", ");
                Options::say(&format!(
                    "the price of line {lines} ended on {day}: the letter asks for it anew"
                ));
            }
            say_what_goes_out(&letter.asked);
            let page = show::letter(&letter, options.units(), options.width());
            options.put(report, page, &|out: &mut dyn Write| show::json::letter(&letter, out))
        },
    )
}

/// Says what of ours leaves the house.
pub(super) fn say_what_goes_out(asked: &Requests) {
    for one in asked.lets_out() {
        Options::say(&format!("the letter tells the supplier {one}"));
    }
}

/// The supplier whose invoice is named, or the only one there is; otherwise those there are are told.
pub(super) fn supplier<'a>(shipment: &'a Shipment, invoice: Option<&str>) -> Result<&'a str, Exit> {
    let all = Goods::suppliers(shipment);
    let found = match (invoice, &all[..]) {
        (None, [(only, _)]) => Some(*only),
        (None, _) => None,
        (Some(number), _) => {
            let of = all.iter().find(|(_, numbers)| numbers.contains(&number));
            of.map(|(supplier, _)| *supplier)
        }
    };
    found.ok_or_else(|| {
        let said = Options::say(&match invoice {
            Some(number) => format!("error: no invoice of {} has the number {number}", shipment.name),
            None => format!(
                "error: {} is of several suppliers: name an invoice of the one meant with --invoice",
                shipment.name
            ),
        });
        for (supplier, numbers) in &all {
            Options::say(&format!("  {supplier}: {}", numbers.join(", ")));
        }
        Exit::BadCommand(said)
    })
}
