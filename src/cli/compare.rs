//! `quaystone compare`: offers side by side.

use std::collections::BTreeSet;

use clap::ValueEnum;

use super::job::{Exit, Options};
use super::progress::Progress;
use crate::decide::{
    self, Across, Allowances, Comparison, Footing, Offer, Refusal, compare, lapsed, unfit,
};
use crate::fault::{Report, Reported};
use crate::quantity::Written;
use crate::read::{self, Asked, Workspace};
use crate::show;
use crate::trade::{Allowance, Tariffs};

/// Arguments of `compare`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path: each way to buy one of them is an offer
    #[arg(required = true)]
    shipments: Vec<String>,
    /// Compare although these differ
    #[arg(long, value_enum, value_delimiter = ',')]
    across: Vec<AcrossArg>,
    /// The area to compare on [default: usable where an allowance is stated for all, else gross]
    #[arg(long, value_enum)]
    footing: Option<FootingArg>,
    /// What cannot be used of a slab, in the place of rates/stones.toml: off its length and height, and
    /// lost of the rest, such as "5 x 4 cm, 3 %"
    #[arg(long, value_name = "ALLOWANCE", value_parser = allowance)]
    allowance: Option<Allowance>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum AcrossArg {
    /// The goods are different stones
    Stones,
    /// They are of different thickness
    Thickness,
    /// They are finished differently
    Finish,
    /// They are of different quality
    Quality,
    /// The offers go to different yards
    Yards,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum FootingArg {
    /// As sawn
    Gross,
    /// What is left of that after our allowance
    Usable,
}

fn allowance(text: &str) -> Result<Allowance, String> {
    Allowance::read(text).map_err(|malformed| malformed.to_string())
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
    let allowances = args.allowance.map_or(Allowances::Table(&tariffs), Allowances::Asked);
    let mut offers = Vec::new();
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
        let offer = offer(asked, options, (&workspace, &tariffs, allowances), &mut own);
        report.absorb(own);
        // One that is not there was told, and ends it once all are read.
        offers.extend(offer.ok());
    }
    drop(shown);
    if let Err(exit) = Options::tell(&report) {
        return exit;
    }
    let across = |one: AcrossArg| args.across.contains(&one);
    let asked = decide::Asked {
        footing: args.footing.map(|footing| match footing {
            FootingArg::Gross => Footing::Gross,
            FootingArg::Usable => Footing::Usable,
        }),
        allowances,
        across: Across {
            stones: across(AcrossArg::Stones),
            thickness: across(AcrossArg::Thickness),
            finish: across(AcrossArg::Finish),
            quality: across(AcrossArg::Quality),
            yards: across(AcrossArg::Yards),
        },
    };
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
    (workspace, tariffs, allowances): (&Workspace, &Tariffs, Allowances<'_>),
    report: &mut Report,
) -> Result<Offer, Reported> {
    let shipment = read::shipment(workspace, asked, tariffs, report)?;
    report.sound()?;
    let offer = match options.estimated(&shipment, tariffs, report) {
        Ok(Ok(costed)) => Offer::of(&shipment, Ok(&costed), tariffs, &allowances),
        Ok(Err(misfits)) => {
            let why = unfit(&shipment, &misfits);
            Offer::of(&shipment, Err(why), tariffs, &allowances)
        }
        Err(reported) => {
            let why = lapsed(report).ok_or(reported)?;
            report.soften();
            Offer::of(&shipment, Err(why), tariffs, &allowances)
        }
    };
    report.found(offer, "the figures of an offer")
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
        Refusal::NoFigures => "a figure of these offers is too large to be held".to_owned(),
    }
}
