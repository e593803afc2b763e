//! `quaystone topup`: what else to take of a supplier's list.

use super::footed::{Footed, several_sorts, words};
use super::job::{Exit, Lapsed, Options};
use super::progress::Progress;
use crate::decide::{Aim, Offer, Within, compare, topup};
use crate::load::Known;
use crate::quantity::{Decimal, Money, Written, parse_decimal};
use crate::read::{self, Asked};
use crate::show::{self, TopupPage};
use crate::trade::Tariffs;

/// Arguments of `topup`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path. In its packing list, the column `take` marks bundles that may be chosen
    /// with open, those that are taken with keep, and those that are not with no
    shipment: String,
    /// The way to buy it, by the `id` of a [[way]] [default: as it is written]
    #[arg(long, value_name = "ID")]
    way: Option<String>,
    /// Choose the whole purchase for these boxes, such as "2x20gp" or "1x20gp, 1x40gp": bundles without a
    /// mark are open, too [default: the boxes that the bundles taken need]
    #[arg(long, value_name = "BOXES", allow_hyphen_values = true)]
    boxes: Option<String>,
    /// Take the most area in place of the lowest cost per area
    #[arg(long)]
    most_area: bool,
    /// The most bundles of one block
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    of_a_block: Option<u32>,
    /// The most that all of it may cost with finance, such as "60000 USD"
    #[arg(long, value_name = "MONEY", value_parser = budget, allow_hyphen_values = true)]
    budget: Option<Money>,
    #[command(flatten)]
    on: Footed,
    #[command(flatten)]
    lapsed: Lapsed,
}

fn budget(text: &str) -> Result<Money, String> {
    let read = Money::read(text).map_err(|malformed| match parse_decimal(text.trim()) {
        Some(_) => format!("write its currency as well: \"{} USD\"", text.trim()),
        None => malformed.to_string(),
    })?;
    let is_above = read.amount() > Decimal::ZERO;
    is_above.then_some(read).ok_or_else(|| "a budget is above 0".to_owned())
}

fn wrong(said: &str) -> Exit {
    Exit::BadCommand(Options::say(&format!("error: {said}")))
}

/// Boxes as the command line says them: "2x20gp, 1x40gp".
fn boxes(text: &str, tariffs: &Tariffs) -> Result<Vec<(String, u32)>, String> {
    let mut all: Vec<(String, u32)> = Vec::new();
    for one in text.split(',') {
        // "2 20gp" and "2x20gp" alike; a type alone is one box of it.
        let one = one.trim();
        let digits = one.find(|c: char| !c.is_ascii_digit()).unwrap_or(one.len());
        let (count, kind) = one.split_at(digits);
        let kind = kind.trim_start();
        let kind = kind.strip_prefix(['x', 'X']).unwrap_or(kind).trim();
        let (count, kind) =
            if tariffs.container(one).is_some() { ("1", one) } else { (count, kind) };
        let count: Option<u32> = count.parse().ok().filter(|count| *count > 0);
        let count = count.filter(|_| !kind.is_empty() && !kind.starts_with(['.', ',']));
        let count = count.ok_or_else(|| {
            format!("--boxes \"{text}\": write how many of which type, such as \"2x20gp, 1x40gp\"")
        })?;
        let known = tariffs.containers.iter().find(|one| one.id.eq_ignore_ascii_case(kind));
        let kind = known.map_or(kind, |one| one.id.as_str());
        if tariffs.container(kind).is_none() {
            let known: Vec<&str> = tariffs.containers.iter().map(|one| one.id.as_str()).collect();
            return Err(format!(
                "--boxes \"{text}\": there is no container type \"{kind}\"; rates/containers.toml has {}",
                known.join(", ")
            ));
        }
        match all.iter_mut().find(|(known, _)| known == kind) {
            Some((_, all)) => *all = all.saturating_add(count),
            None => all.push((kind.to_owned(), count)),
        }
    }
    Ok(all)
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let boxes = args.boxes.as_deref().map(|text| boxes(text, &tariffs)).transpose();
    let boxes = match boxes {
        Ok(boxes) => boxes,
        Err(said) => return wrong(&said),
    };
    let named = Asked { name: &args.shipment, way: args.way.as_deref() };
    let read = read::on_offer(&workspace, named, &tariffs, &mut report);
    let (shipment, offered) = match Options::told(&report, read) {
        Ok(read) => read,
        Err(exit) => return exit,
    };
    let asked = args.on.asked(&tariffs);
    let currency = shipment.yard.currency;
    if let Some(budget) = args.budget.filter(|budget| budget.currency() != currency) {
        return wrong(&format!(
            "--budget {budget}: the books of yard {} are in {currency}",
            shipment.yard.id
        ));
    }
    let outcome = Err(String::new());
    let Some(offer) = Offer::of(&shipment, outcome, &tariffs, &asked.allowances) else {
        return wrong("a figure of the list is too large to be held");
    };
    let comparison = match compare(vec![offer], &asked) {
        Ok(comparison) => comparison,
        Err(refusal) => return wrong(&words(&refusal)),
    };
    if comparison.groups.len() > 1 {
        return wrong(&several_sorts("the list has", &comparison.groups, options.units()));
    }
    let known = Known::default();
    let of = (&shipment, &tariffs);
    let bid = args.on.bid(of, (&comparison, &known), args.lapsed.carry, options);
    let aim = if args.most_area { Aim::Area } else { Aim::Cost };
    let of_a_block = args.of_a_block.and_then(|most| usize::try_from(most).ok());
    let within = Within { boxes, of_a_block, budget: args.budget };
    let topped = {
        let _shown = Progress::show();
        topup(&bid, &offered, aim, &within)
    };
    let topped = match topped {
        Ok(topped) => topped,
        Err(why) => return Exit::No(Options::say(&format!("{}: {why}", shipment.called()))),
    };
    let page = TopupPage {
        shipment: &shipment,
        offered: &offered,
        comparison: &comparison,
        aim,
        within: &within,
        topped: &topped,
        units: options.units(),
    };
    options.put(&report, show::topup(&page), &|out| show::json::topup(&page, out))
}
