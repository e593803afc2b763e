//! `quaystone compare`: offers side by side.

use std::collections::BTreeSet;

use clap::ValueEnum;

use super::job::{Exit, Options};
use super::progress::Progress;
use crate::decide::{Across, Offer, Refusal, compare};
use crate::fault::Reported;
use crate::read::{self, Asked};
use crate::show;

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path: each way to buy one of them is an offer
    #[arg(required = true)]
    shipments: Vec<String>,
    /// Compare although these differ
    #[arg(long, value_enum, value_delimiter = ',')]
    across: Vec<AcrossArg>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AcrossArg {
    /// The offers are of different stones
    Stones,
    /// The offers go to different yards
    Yards,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut named = BTreeSet::new();
    if let Some(again) = args.shipments.iter().find(|name| !named.insert(name.as_str())) {
        return Exit::BadCommand(Options::say(&format!("error: \"{again}\" is named twice")));
    }
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let shown = Progress::show();
    let mut offers = Vec::new();
    let mut misfit = None;
    let rates = report.clone();
    let names = args.shipments.iter().map(|name| (name, read::ways_of(&workspace, name)));
    let named: Vec<(&String, Vec<String>)> = names.collect();
    if let [(name, ways)] = &named[..]
        && ways.is_empty()
    {
        return Exit::BadCommand(Options::say(&format!(
            "error: {name} is one offer: name another beside it, or write another [[way]] to buy it"
        )));
    }
    let each = named.iter().flat_map(|(name, ways)| {
        let ways = [None].into_iter().chain(ways.iter().map(|way| Some(way.as_str())));
        ways.map(|way| Asked { name: name.as_str(), way })
    });
    for asked in each {
        // A report of its own, so that the faults of one offer do not hide those of the next.
        let mut own = rates.clone();
        let costed = options.costed(&workspace, asked, &tariffs, &mut own);
        report.absorb(own);
        match costed {
            Ok((shipment, Ok(costed))) => {
                let stones = shipment.lines.iter().map(|line| line.stone.value.clone());
                let stones: BTreeSet<String> = stones.collect();
                offers.extend(Offer::of(&shipment, &costed, stones));
            }
            Ok((shipment, Err(misfits))) => {
                misfit = misfit.or(Some((shipment, misfits)));
            }
            Err(Reported { .. }) => {}
        }
    }
    drop(shown);
    if let Err(exit) = Options::tell(&report) {
        return exit;
    }
    if let Some((shipment, misfits)) = misfit {
        return Options::no_box(&shipment, &misfits);
    }
    let across = Across {
        stones: args.across.contains(&AcrossArg::Stones),
        yards: args.across.contains(&AcrossArg::Yards),
    };
    match compare(offers, across) {
        Ok(comparison) => {
            let page = show::compared(&comparison, options.units());
            options.put(&report, page, &|out| show::json::compare(&comparison, out))
        }
        Err(refusal) => Exit::BadCommand(Options::say(&format!("error: {}", words(&refusal)))),
    }
}

fn words(refusal: &Refusal) -> String {
    match refusal {
        Refusal::Stones(stones) => format!(
            "these offers are of different stones ({}); --across stones compares them",
            stones.join("; ")
        ),
        Refusal::Yards(yards) => format!(
            "these offers go to different yards ({}); --across yards compares them",
            yards.join("; ")
        ),
        Refusal::Currencies => "these yards keep their books in different currencies".to_owned(),
        Refusal::NoFigures => "no offer has an area to compare by".to_owned(),
    }
}
