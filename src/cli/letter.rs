//! `quaystone letter`: what is asked of one supplier, with the load.

use std::io::Write;

use super::job::{Exit, One, Options, Sheets, day};
use super::progress::Progress;
use super::starter::Starters;
use crate::choose::Costed;
use crate::cost::{Carried, Landed};
use crate::decide::lapsed;
use crate::load;
use crate::outgoing::{Goods, Letter, OutgoingLoad, Requests};
use crate::quantity::{Price, Written};
use crate::trade::{Date, Shipment};
use crate::{read, show};

/// Arguments of `letter`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    #[command(flatten)]
    sheets: Sheets,
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
    let price = Price::read(price.trim()).map_err(|_| {
        let meant = read::meant::<Price>(price.trim());
        meant.map_or_else(
            || format!("\"{price}\" is no price: {form}"),
            |meant| format!("{meant}, behind {line}="),
        )
    })?;
    Ok((line.trim().to_owned(), price))
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let read = read::shipment(&workspace, args.one.asked(), &tariffs, &mut report);
    let shipment = match read.or_else(|reported| Options::told(&report, Err(reported))) {
        Ok(shipment) => shipment,
        Err(exit) => return exit,
    };
    let supplier = match supplier(&shipment, args.invoice.as_deref()) {
        Ok(supplier) => supplier,
        Err(exit) => return exit,
    };
    let goods = Goods::of(&shipment, supplier, &tariffs);
    if let Err(exit) = own_prices(&args.prices, &goods) {
        return exit;
    }
    // No price stands in a letter: what has lapsed of his is asked for anew, and the load is planned with what
    // served last.
    let served = {
        let _shown = Progress::show();
        options.served((&shipment, &tariffs), true, &mut report)
    };
    let left_out = if served.is_err() { lapsed(&report) } else { None };
    if left_out.is_some() {
        report.soften();
    }
    if let Err(exit) = Options::tell(&report) {
        return exit;
    }
    let mut tried = served.ok().map(|served| served.made);
    if let Some(Ok(costed)) = &mut tried {
        load::prefer(&mut costed.plan, &costed.verdict, &shipment, &tariffs, options.units());
    }
    if let Some(Ok(costed)) = &tried
        && let Err(exit) = args.starters.allow(&shipment, costed)
    {
        return exit;
    }
    if let Some(why) = left_out {
        say_left_out(&why);
    }
    let summaries = match &tried {
        Some(Ok(costed)) if costed.verdict.holds() && !goods.is_nominal => {
            match Options::summed_up(&shipment, costed, &tariffs) {
                Ok(summaries) => {
                    say_planned_with(costed);
                    Some(summaries)
                }
                Err(exit) => return exit,
            }
        }
        Some(Ok(costed)) => {
            for what in costed.verdict.broken() {
                say_left_out(&what);
            }
            None
        }
        Some(Err(misfits)) => {
            Options::no_box(&shipment, misfits, &report);
            None
        }
        None => None,
    };
    let load = summaries.as_deref();
    let load = load.map(|all| OutgoingLoad::for_supplier(&shipment, all, supplier));
    let load = match Options::fitted(load.transpose()) {
        Ok(load) => load,
        Err(exit) => return exit,
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
    let page = show::letter(&letter, options.units(), args.sheets.ground(options));
    options.put(&report, page, &|out: &mut dyn Write| show::json::letter(&letter, out))
}

/// Sees that prices are asked for lines of the supplier's, each once.
fn own_prices(prices: &[(String, Price)], goods: &Goods<'_>) -> Result<(), Exit> {
    for (at, (line, _)) in prices.iter().enumerate() {
        if prices.iter().take(at).any(|(other, _)| other == line) {
            let twice = format!("error: --price names line {line} twice");
            return Err(Exit::BadCommand(Options::say(&twice)));
        }
        if !goods.lines.iter().any(|own| own.id == line) {
            let own: Vec<&str> = goods.lines.iter().map(|own| own.id).collect();
            let (supplier, known) = (goods.supplier, own.join(", "));
            return Err(Exit::BadCommand(Options::say(&format!(
                "error: --price names line {line}, which {supplier} does not offer: its lines are {known}"
            ))));
        }
    }
    Ok(())
}

fn say_left_out(why: &str) {
    Options::say(&format!("the load is left out of the letter: {why}"));
}

/// Says which rates of ours have lapsed that the load is planned with.
fn say_planned_with(costed: &Costed) {
    let Landed { charges, headline, .. } = &costed.landed;
    let is_price = |one: &&Carried| {
        charges.iter().any(|charge| charge.goods_of.is_some() && charge.name == one.what)
    };
    for Carried { what, until, .. } in headline.carried.iter().filter(|one| !is_price(one)) {
        Options::say(&format!("our rate of {what} ended on {until}: the load is planned with it"));
    }
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
