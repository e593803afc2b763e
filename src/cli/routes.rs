//! `quaystone routes`: by which ports and with which ship.

use super::footed::{Footed, words};
use super::job::{Exit, Lapsed, Options};
use super::progress::Progress;
use crate::decide::{Bid, Offer, compare, routes};
use crate::fault::gathered;
use crate::load::Known;
use crate::read::{self, Asked};
use crate::show::{self, RoutesPage};
use crate::trade::Shipment;

/// Arguments of `routes`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path
    #[arg(required = true)]
    shipments: Vec<String>,
    #[command(flatten)]
    on: Footed,
    #[command(flatten)]
    lapsed: Lapsed,
}

fn wrong(said: &str) -> Exit {
    Exit::BadCommand(Options::say(&format!("error: {said}")))
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    if let Err(exit) = Options::refuse_one_shipment_twice(&args.shipments, &workspace) {
        return exit;
    }
    let rates = report.clone();
    let read = gathered(args.shipments.iter().map(|name| {
        let mut own = rates.clone();
        let read = read::shipment(&workspace, Asked::from(name), &tariffs, &mut own);
        report.absorb(own);
        read
    }));
    let shipments: Vec<Shipment> = match Options::told(&report, read) {
        Ok(read) => read,
        Err(exit) => return exit,
    };
    let asked = args.on.asked(&tariffs);
    let offers = shipments
        .iter()
        .map(|shipment| Offer::of(shipment, Err(String::new()), &tariffs, &asked.allowances));
    let Some(offers) = offers.collect::<Option<Vec<_>>>() else {
        return wrong("a figure of an offer is too large to be held");
    };
    let comparison = match compare(offers, &asked) {
        Ok(comparison) => comparison,
        Err(refusal) => return wrong(&words(&refusal)),
    };
    let known = Known::default();
    let bids = shipments.iter().map(|shipment| {
        args.on.bid((shipment, &tariffs), (&comparison, &known), args.lapsed.carry, options)
    });
    let bids: Vec<Bid<'_>> = bids.collect();
    let routes = {
        let _shown = Progress::show();
        routes(&bids)
    };
    let page = RoutesPage {
        comparison: &comparison,
        shipments: &shipments,
        routes: &routes,
        units: options.units(),
    };
    let put = options.put(&report, show::routes(&page), &|out| show::json::routes(&page, out));
    match put {
        Exit::Done(_) if routes.cheapest.is_none() => {
            Exit::No(Options::say("no chain has a cost: the page says why"))
        }
        other => other,
    }
}
