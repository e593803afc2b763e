//! `quaystone compare`: offers side by side.

use super::footed::{Footed, words};
use super::job::{Exit, Lapsed, Options};
use super::progress::Progress;
use crate::choose::{Costed, full};
use crate::decide::{Allowances, Comparison, Full, Offer, compare, first_fault, lapsed, unfit};
use crate::fault::{Report, Reported};
use crate::load::Misfit;
use crate::read::{self, Asked, Workspace};
use crate::show;
use crate::trade::{Shipment, Tariffs};

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path: each way to buy one of them is an offer
    #[arg(required = true)]
    shipments: Vec<String>,
    #[command(flatten)]
    on: Footed,
    #[command(flatten)]
    lapsed: Lapsed,
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
    let shown = Progress::show();
    let allowances = args.on.allowances(&tariffs);
    let mut offers = Vec::new();
    let rates = report.clone();
    let names = args.shipments.iter().map(|name| (name, read::ways_of(&workspace, name)));
    let named: Vec<(&String, Vec<String>)> = names.collect();
    if let [(name, ways)] = &named[..]
        && ways.is_empty()
    {
        let names = workspace.shipment_names();
        let others: Vec<&str> =
            names.iter().map(String::as_str).filter(|one| one != name).collect();
        let beside = match &others[..] {
            [] => format!(", such as quaystone compare {name} SHIPMENT"),
            [other, ..] => format!(", such as quaystone compare {name} {other}"),
        };
        return Exit::BadCommand(Options::say(&format!(
            "error: {name} is one offer: name another beside it{beside}, or write another [[way]] to buy it"
        )));
    }
    let each = named.iter().flat_map(|(name, ways)| {
        let ways = [None].into_iter().chain(ways.iter().map(|way| Some(way.as_str())));
        ways.map(|way| Asked { name: name.as_str(), way })
    });
    for asked in each {
        // A report of its own, so that the faults of one offer do not hide those of the next.
        let mut own = rates.clone();
        let of = (&workspace, &tariffs, allowances, args.lapsed.carry);
        let offer = offer(asked, options, of, &mut own);
        report.absorb(own);
        // One that is not there was told, and ends it once all are read.
        offers.extend(offer.ok());
    }
    drop(shown);
    if let Err(exit) = Options::tell(&report) {
        return exit;
    }
    let asked = args.on.asked(&tariffs);
    match compare(offers, &asked) {
        Ok(comparison) => put(&comparison, options, &report),
        Err(refusal) => Exit::BadCommand(Options::say(&format!("error: {}", words(&refusal)))),
    }
}

/// Reads and costs an offer. One that is sound and cannot be had so, as a price or a rate is missing or has
/// lapsed or a bundle fits in no box, stands on the page with its reason.
fn offer(
    asked: Asked<'_>,
    options: &Options,
    (workspace, tariffs, allowances, carry): (&Workspace, &Tariffs, Allowances<'_>, bool),
    report: &mut Report,
) -> Result<Offer, Reported> {
    let shipment = read::shipment(workspace, asked, tariffs, report)?;
    report.sound()?;
    let of = |shipment: &Shipment, tariffs: &Tariffs, costed: Result<&Costed, String>| {
        Offer::of(shipment, costed, tariffs, &allowances)
    };
    let offer = match options.served((&shipment, tariffs), carry, report) {
        Ok(served) => tried_offer(&served.shipment, &served.tariffs, served.made, options, of),
        Err(reported) => {
            let why = lapsed(report).ok_or(reported)?;
            report.soften();
            of(&shipment, tariffs, Err(why))
        }
    };
    report.found(offer, "the figures of an offer")
}

/// A shipment's offer, as offered and with its boxes full. A shipment that fits in no box has an offer without
/// a cost.
fn tried_offer(
    shipment: &Shipment,
    tariffs: &Tariffs,
    tried: Result<Costed, Vec<Misfit>>,
    options: &Options,
    of: impl Fn(&Shipment, &Tariffs, Result<&Costed, String>) -> Option<Offer>,
) -> Option<Offer> {
    let costed = match tried {
        Ok(costed) => costed,
        Err(misfits) => return of(shipment, tariffs, Err(unfit(shipment, &misfits))),
    };
    let mut offer = of(shipment, tariffs, Ok(&costed))?;
    if let Some(full) = full(shipment, &costed) {
        let larger = &full.shipment;
        let mut own = options.report();
        let filled = match options.estimated(larger, tariffs, &mut own) {
            Ok(Ok(costed)) => of(larger, tariffs, Ok(&costed))?,
            Ok(Err(misfits)) => of(larger, tariffs, Err(unfit(larger, &misfits)))?,
            // What the page says of it is enough: nobody offered so much.
            Err(_) => of(larger, tariffs, Err(first_fault(&own)))?,
        };
        offer.full = Some(Box::new(Full { added: full.added, offer: filled }));
    }
    Some(offer)
}

fn put(comparison: &Comparison, options: &Options, report: &Report) -> Exit {
    let page = show::compared(comparison, options.units());
    let written = options.put(report, page, &|out| show::json::compare(comparison, out));
    let mut entries = comparison.groups.iter().flat_map(|group| &group.entries);
    match written {
        Exit::Done(_) if !entries.any(|entry| entry.standing.is_ok()) => {
            Exit::No(Options::say("no offer has a rank: the page says why of each"))
        }
        other => other,
    }
}
