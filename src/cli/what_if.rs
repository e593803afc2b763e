//! `quaystone what-if`: what offers come to under changes.

use std::path::{Path, PathBuf};

use rayon::prelude::*;

use super::footed::{Footed, several_sorts, words};
use super::job::{Exit, Lapsed, Options, Read};
use super::over::{self, Ranged};
use super::progress::Progress;
use super::sweep;
use crate::decide::{
    Asking, Bid, Change, Comparison, Draws, Group, Like, Named, Offer, Over, compare, first_fault,
    named, unfit, what_if,
};
use crate::fault::{Report, Reported, at_commas, gathered};
use crate::load::Known;
use crate::read::{self, Asked, Workspace};
use crate::show::{self, WhatIfPage};
use crate::trade::{Shipment, Tariffs};

/// So many draws, where nothing else is asked.
const DRAWS: usize = 10_000;

/// Arguments of `what-if`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path: each way to buy one of them is an offer
    #[arg(required = true)]
    shipments: Vec<String>,
    /// A change, by the names that pages use; any number of them: "ocean freight +20 %", "main carriage
    /// -5 %", "1 EUR = 1.22 USD", "section 122 surcharge = 15 %" or "... ends 2026-05-01", "price of A =
    /// 48.00 EUR/m2", "payment = 30 % on order, rest 60 days after arrival", "term = CIF USSAV", "density
    /// +3 %", "loss = 5 %", "bundles = 9", "sails = 2026-05-16"
    #[arg(long, value_name = "CHANGE")]
    set: Vec<String>,
    /// The cost at each value of a range, and where the cheapest changes: "sails=2026-04-01..2026-08-31",
    /// "bundles=1..24", "1 EUR = 1.05..1.15 USD", "ocean freight = 80..130 %"; with changes, they hold at
    /// every value
    #[arg(long, value_name = "RANGE", value_parser = over::range)]
    over: Option<Over>,
    /// Draw the costs over the range as lines, in SVG, to this file
    #[arg(long, value_name = "FILE.svg", requires = "over")]
    chart: Option<PathBuf>,
    /// Draw rates and prices from the ranges of a file, and say how far costs spread and who wins how often
    #[arg(long, value_name = "FILE.toml", conflicts_with_all = ["set", "over"])]
    sweep: Option<PathBuf>,
    /// How many draws [default: 10000]
    #[arg(long, value_name = "N", requires = "sweep", conflicts_with_all = ["set", "over"], value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    draws: Option<u32>,
    /// The seed: the same one draws the same [default: 1]
    #[arg(long, value_name = "S", requires = "sweep", conflicts_with_all = ["set", "over"])]
    seed: Option<u64>,
    #[command(flatten)]
    on: Footed,
    #[command(flatten)]
    lapsed: Lapsed,
}

impl Args {
    /// Whether it writes a file beside the result.
    pub(super) fn writes(&self) -> bool {
        self.chart.is_some()
    }
}

fn wrong(said: &str) -> Exit {
    Exit::BadCommand(Options::say(&format!("error: {said}")))
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if args.set.is_empty() && args.over.is_none() && args.sweep.is_none() {
        return wrong("say what changes: --set, --over or --sweep is needed, as --help shows");
    }
    let chart: Vec<&Path> = args.chart.iter().map(PathBuf::as_path).collect();
    let is_svg = |path: &&Path| path.extension().is_some_and(|end| end.eq_ignore_ascii_case("svg"));
    if let Some(other) = chart.iter().find(|path| !is_svg(path)) {
        return wrong(&format!(
            "--chart draws SVG: write {}",
            other.with_extension("svg").display()
        ));
    }
    if let Err(exit) = options.refuse_one_path_twice(&chart) {
        return exit;
    }
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    if let Err(exit) = Options::refuse_one_shipment_twice(&args.shipments, &workspace) {
        return exit;
    }
    let asked = args.on.asked(&tariffs);
    let known = Known::default();
    let all = read_all(args, (&workspace, &tariffs), &known, options, &mut report);
    let all = match Options::told(&report, all) {
        Ok(all) => all,
        Err(exit) => return exit,
    };
    let offers: Option<Vec<Offer>> = all
        .iter()
        .map(|(_, (shipment, tariffs, costed))| {
            let outcome = costed.as_ref().map_err(|misfits| unfit(shipment, misfits));
            Offer::of(shipment, outcome, tariffs, &asked.allowances)
        })
        .collect();
    let Some(offers) = offers else {
        return wrong("a figure of an offer is too large to be held");
    };
    let comparison = match compare(offers, &asked) {
        Ok(comparison) => comparison,
        Err(refusal) => return wrong(&words(&refusal)),
    };
    let shipments: Vec<&Shipment> = all.iter().map(|(_, (shipment, ..))| shipment).collect();
    let bid = |shipment| {
        args.on.bid((shipment, &tariffs), (&comparison, &known), args.lapsed.carry, options)
    };
    if let Some(path) = &args.sweep {
        let bids: Vec<Bid<'_>> = shipments.iter().copied().map(bid).collect();
        let of = sweep::Asked { comparison: &comparison, bids: &bids, tariffs: &tariffs, path };
        let count = args.draws.map_or(DRAWS, |count| usize::try_from(count).unwrap_or(1));
        let draws = Draws { count, seed: args.seed.unwrap_or(1) };
        return sweep::run(&of, draws, options, &mut report);
    }
    let goods = match goods(&comparison, options) {
        Ok(goods) => goods,
        Err(exit) => return exit,
    };
    let set = (&args.set[..], args.over.is_some());
    let changes = match changes(set, (&shipments, &comparison), &tariffs, options) {
        Ok(changes) => changes,
        Err(exit) => return exit,
    };
    let rates = options.report();
    let readers: Vec<_> = all
        .iter()
        .map(|(asked, _)| {
            |tariffs: &Tariffs| {
                let mut own = rates.clone();
                let read = read::shipment(&workspace, asked.asked(), tariffs, &mut own);
                read.map_err(|_| first_fault(&own))
            }
        })
        .collect();
    let bids = shipments.iter().zip(&readers);
    let bids = bids.map(|(shipment, read)| Asking { bid: bid(shipment), read });
    let bids: Vec<Asking<'_>> = bids.collect();
    if let Some(range) = &args.over {
        let to = (range, args.chart.as_deref());
        return ranged((&bids, &changes), (&comparison, goods.as_ref()), to, options, &report);
    }
    let cases = {
        let _shown = Progress::show();
        what_if(&bids, goods.as_ref(), &changes)
    };
    let page = WhatIfPage {
        comparison: &comparison,
        goods: goods.as_ref(),
        changes: &changes,
        cases: &cases,
        units: options.units(),
    };
    let put = options.put(&report, show::what_if(&page), &|out| show::json::what_if(&page, out));
    let mut changed = cases.iter().skip(1).flat_map(|case| &case.costs);
    match put {
        Exit::Done(_) if !changed.any(Result::is_ok) => {
            Exit::No(Options::say("no offer has a cost under these changes: the page says why"))
        }
        other => other,
    }
}

/// The offers over a range, under changes that hold at every value.
fn ranged(
    (offers, changes): (&[Asking<'_>], &[Named]),
    (comparison, goods): (&Comparison, Option<&Like>),
    (range, chart): (&Over, Option<&Path>),
    options: &Options,
    report: &Report,
) -> Exit {
    let under = offers.iter().enumerate().map(|(at, offer)| {
        let own = changes.iter().filter(|one| one.offer.is_none_or(|own| own == at));
        let own: Vec<&Change> = own.map(|one| &one.change).collect();
        offer.under(&own).map_err(|why| {
            let name = offer.bid.shipment.called();
            Exit::No(Options::say(&format!("{name} cannot be changed so: {why}")))
        })
    });
    match under.collect::<Result<Vec<_>, Exit>>() {
        Ok(under) => {
            let bids = offers.iter().zip(&under).map(|(offer, own)| offer.bid.on(own));
            let bids: Vec<Bid<'_>> = bids.collect();
            let of = Ranged { comparison, bids: &bids, goods, target: None, changes, range, chart };
            over::run(&of, options, report)
        }
        Err(exit) => exit,
    }
}

/// Reads and costs each offer that is named, with the ways to buy it.
fn read_all<'a, 't>(
    args: &'a Args,
    (workspace, tariffs): (&Workspace, &'t Tariffs),
    known: &Known,
    options: &Options,
    report: &mut Report,
) -> Result<Vec<(OneWay<'a>, Read<'t>)>, Reported> {
    let _shown = Progress::show();
    let rates = report.clone();
    let each = args.shipments.iter().flat_map(|name| {
        let ways = read::ways_of(workspace, name).into_iter().map(Some);
        std::iter::once(None).chain(ways).map(move |way| OneWay { name, way })
    });
    let each: Vec<OneWay<'a>> = each.collect();
    // Side by side; what is told stays in the order of the names.
    let read = each.into_par_iter().map(|one| {
        let mut own = rates.clone();
        let of = (one.asked(), args.lapsed.carry);
        let read = options.costed_knowing(workspace, of, (tariffs, known), &mut own);
        (one, read, own)
    });
    let read: Vec<_> = read.collect();
    gathered(read.into_iter().map(|(one, read, own)| {
        report.absorb(own);
        Ok((one, read?))
    }))
}

/// A shipment and the way to buy it.
struct OneWay<'a> {
    name: &'a str,
    way: Option<String>,
}

impl OneWay<'_> {
    fn asked(&self) -> Asked<'_> {
        Asked { name: self.name, way: self.way.as_deref() }
    }
}

/// The goods that every offer holds; `None`: all goods of one offer. Each must have a cost.
fn goods(comparison: &Comparison, options: &Options) -> Result<Option<Like>, Exit> {
    let count = comparison.offers.len();
    let held = |group: &&Group| group.entries.len() == count;
    let all: Vec<&Group> = comparison.groups.iter().filter(held).collect();
    for entry in all.iter().flat_map(|group| &group.entries) {
        if let Err(why) = &entry.standing {
            let name = comparison.offers.get(entry.offer).map_or("", |offer| offer.name.as_str());
            let said = format!("{name} has no rank: {}", show::reason(why));
            return Err(Exit::No(Options::say(&said)));
        }
    }
    match &all[..] {
        [group] => Ok(Some(group.goods.clone())),
        _ if count == 1 => Ok(None),
        _ => Err(wrong(&several_sorts("the offers have", &comparison.groups, options.units()))),
    }
}

/// The changes, all that is wrong with them at once.
fn changes(
    (set, is_over): (&[String], bool),
    offers: (&[&Shipment], &Comparison),
    tariffs: &Tariffs,
    options: &Options,
) -> Result<Vec<Named>, Exit> {
    let mut all: Vec<Named> = Vec::new();
    let mut said = None;
    for text in set {
        let read = named(text, offers, tariffs, &mut options.report()).and_then(|own| {
            // Over a range all of them hold at once; else each has a case of its own.
            let is_same = |other: &&Named| {
                is_over && own.offer == other.offer && own.change.is_of_same(&other.change)
            };
            match all.iter().find(is_same) {
                Some(other) => {
                    Err(format!("\"{}\" changes the same: write one of the two", other.words))
                }
                None => Ok(own),
            }
        });
        match read {
            Ok(change) => all.push(change),
            Err(why) => {
                let whole = format!("error: --set \"{text}\": {why}");
                for line in whole.lines().flat_map(|line| at_commas(line, 160)) {
                    said = Some(Options::say(&line));
                }
            }
        }
    }
    said.map_or(Ok(all), |said| Err(Exit::BadCommand(said)))
}
