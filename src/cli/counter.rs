//! `quaystone counter`: the price to ask for.

use super::footed::{Footed, words};
use super::job::{Exit, Lapsed, One, Options, Read};
use super::over::{self, Ranged};
use super::progress::Progress;
use super::starter::Starters;
use crate::decide::{
    Bid, Grid, Lever, NoGrid, NoMeeting, Offer, Over, Step, compare, counter, is_on_lane, meet,
    target, term, unfit,
};
use crate::fault::Report;
use crate::load::Known;
use crate::quantity::{Percent, Price, PricedBy, Units, Written};
use crate::read::{self, Asked as Named};
use crate::show::{self, Against, CounterPage};
use crate::trade::{DeliveryTerm, Shipment};

/// Arguments of `counter`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// Another offer, by name or path: ours is to be no dearer
    #[arg(long, value_name = "SHIPMENT", required_unless_present_any = ["target", "term", "pay"])]
    against: Option<String>,
    /// The way to buy the offer of --against, by the `id` of a [[way]] [default: as it is written]
    #[arg(long, value_name = "ID", requires = "against")]
    against_way: Option<String>,
    /// The highest cost with finance per area, such as "9.50 USD/ft2"
    #[arg(long, value_name = "COST", conflicts_with = "against", value_parser = cost_per_area)]
    target: Option<Price>,
    /// The line whose price moves, or whose goods are compared over a range [default: the only one; of several, all by one percentage]
    #[arg(long, value_name = "ID")]
    line: Option<String>,
    /// The step of prices, such as "0.05 USD/ft2", or "0.5 %" for all lines [default: the decimals of the
    /// quoted price, whole units of a price per m3 or t; 0.1 % for all lines]
    #[arg(long, value_name = "STEP", value_parser = step)]
    step: Option<Step>,
    /// Ask under another delivery term, such as "CIF USSAV": the price that lands the same as the offer as it
    /// is written, or as the other
    #[arg(long, value_name = "TERM", value_parser = term)]
    term: Option<DeliveryTerm>,
    /// Ask for other payments, such as "30 % on order, rest 60 days after arrival": the price that costs the
    /// same with finance
    #[arg(long, value_name = "PAYMENTS")]
    pay: Option<String>,
    /// Which is the cheaper over a range, or where the offer is not dearer than --target: "bundles=1..24" of
    /// nominal offers, "sails=2026-04-01..2026-06-30", a planning rate "1 EUR = 1.05..1.15 USD", or a charge
    /// of the tables "ocean freight = 80..130 %"
    #[arg(
        long,
        value_name = "RANGE",
        conflicts_with_all = ["step", "term", "pay"],
        value_parser = over::range
    )]
    over: Option<Over>,
    #[command(flatten)]
    on: Footed,
    #[command(flatten)]
    starters: Starters,
    #[command(flatten)]
    lapsed: Lapsed,
}

fn cost_per_area(text: &str) -> Result<Price, String> {
    let form = "write a cost for an area, such as \"9.50 USD/ft2\" or \"102.00 USD/m2\"";
    let price =
        Price::read(text).map_err(|_| read::meant::<Price>(text).unwrap_or(form.to_owned()))?;
    let is_area = matches!(price.by, PricedBy::M2 | PricedBy::Ft2);
    if is_area { Ok(price) } else { Err(form.to_owned()) }
}

fn step(text: &str) -> Result<Step, String> {
    let form = "write a step of the price, such as \"0.05 USD/ft2\", or of a percentage, \"0.5 %\"";
    if text.trim_end().ends_with('%') {
        return Percent::read(text).map(Step::Percent).map_err(|_| form.to_owned());
    }
    Price::read(text).map(Step::Price).map_err(|_| form.to_owned())
}

fn wrong(said: &str) -> Exit {
    Exit::BadCommand(Options::say(&format!("error: {said}")))
}

#[expect(clippy::too_many_lines, reason = "the steps of one command, in their order")]
pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let shown = Progress::show();
    let carry = args.lapsed.carry;
    let named = |name| Named { name, way: args.against_way.as_deref() };
    let other = args.against.as_deref().map(named);
    let rates = report.clone();
    let read_one = |asked: Named<'_>, report: &mut Report| {
        let mut own = rates.clone();
        let costed = options.costed(&workspace, (asked, carry), &tariffs, &mut own);
        report.absorb(own);
        costed
    };
    let own = read_one(args.one.asked(), &mut report);
    let other = other.map(|asked| read_one(asked, &mut report)).transpose();
    drop(shown);
    let both = own.and_then(|own| Ok((own, other?)));
    let (own, other) = match Options::told(&report, both) {
        Ok(both) => both,
        Err(exit) => return exit,
    };
    for (one, _, costed) in std::iter::once(&own).chain(&other) {
        if let Ok(costed) = costed
            && let Err(exit) = args.starters.allow(one, costed)
        {
            return exit;
        }
    }
    let grid = match grid(args, &own.0) {
        Ok(grid) => grid,
        Err(exit) => return exit,
    };
    let moved: Vec<usize> = grid.quoted.iter().map(|(at, _)| *at).collect();
    let under = match under(args, &own.0, &moved, &mut options.report()) {
        Ok(under) => under,
        Err(exit) => return exit,
    };
    // Under other terms an offer is held against itself as it is written, unless against another.
    let is_own = args.against.is_none() && args.target.is_none();
    let (own, other, under) = match under {
        None => (own, other, None),
        Some(Under { shipment: asked, words, left_out }) => {
            // What is asked of the offer as it is written is told by now.
            let mut again = report.clone();
            let served = {
                let _shown = Progress::show();
                options.served((&asked, &tariffs), carry, &mut again)
            };
            let served = match served.or_else(|reported| Options::told(&again, Err(reported))) {
                Ok(served) => served,
                Err(exit) => return exit,
            };
            let asked = (served.shipment.into_owned(), served.tariffs, served.made);
            let other = if is_own { Some(own) } else { other };
            (asked, other, Some((words, left_out)))
        }
    };
    let asked = args.on.asked(&tariffs);
    let offer = |(shipment, tariffs, costed): &Read<'_>| {
        let outcome = costed.as_ref().map_err(|misfits| unfit(shipment, misfits));
        Offer::of(shipment, outcome, tariffs, &asked.allowances)
    };
    let offers: Option<Vec<Offer>> = std::iter::once(&own).chain(&other).map(offer).collect();
    let Some(offers) = offers else {
        return wrong("a figure of an offer is too large to be held");
    };
    let (shipment, _, _) = &own;
    let comparison = match compare(offers, &asked) {
        Ok(comparison) => comparison,
        Err(refusal) => return wrong(&words(&refusal)),
    };
    let meeting = match meet(&comparison, &moved) {
        Ok(meeting) => meeting,
        Err(why) => return unmet(&why, args, options.units()),
    };
    let (goal, against) = match (&args.target, &meeting.other, &other) {
        (Some(price), _, _) => {
            if price.currency != comparison.currency {
                let books = comparison.currency;
                return wrong(&format!(
                    "the target is in {}, and the costs of {} are in {books}: is --target \"{} {books}/{}\" meant?",
                    price.currency,
                    shipment.called(),
                    price.amount,
                    price.by.word()
                ));
            }
            (target(price), Against::Target(*price))
        }
        (None, Some(goal), Some((other, _, Ok(costed)))) => {
            let written = if is_own { ", as it is written" } else { "" };
            let name = format!("{}{written}", other.called());
            (Some(goal.clone()), Against::Offer(name, costed.verdict.sure.clone()))
        }
        _ => return wrong("there is nothing to hold the offer against"),
    };
    let known = Known::default();
    let bid = args.on.bid((shipment, &tariffs), (&comparison, &known), carry, options);
    let too_large = || wrong("a price or a cost is too large to be held");
    let Some(goal) = goal else { return too_large() };
    if let Some(range) = &args.over {
        let other = other.as_ref().map(|(shipment, ..)| Bid { shipment, ..bid });
        let bids: Vec<Bid<'_>> = std::iter::once(bid).chain(other).collect();
        let target = match &against {
            Against::Target(price) => Some((price, &goal)),
            Against::Offer(..) => None,
        };
        let of = Ranged {
            comparison: &comparison,
            bids: &bids,
            goods: Some(&meeting.goods),
            target,
            changes: &[],
            range,
            chart: None,
        };
        return over::run(&of, options, &report);
    }
    let found = {
        let _shown = Progress::show();
        counter(&bid, &grid, &meeting, &goal)
    };
    let Some(found) = found else { return too_large() };
    let page = CounterPage {
        shipment,
        comparison: &comparison,
        goods: &meeting.goods,
        grid: &grid,
        goal: &goal,
        against,
        under: under.as_ref().map(|(words, left)| (words.as_str(), &left[..])),
        found: &found,
        units: options.units(),
    };
    let written =
        options.put(&report, show::counter(&page), &|out| show::json::counter(&page, out));
    match written {
        Exit::Done(_) if found.answer.is_none() => Exit::No(Options::say(&format!(
            "no price of {} down to half of what is quoted does it",
            shipment.called()
        ))),
        other => other,
    }
}

/// An offer under the terms that are asked for.
struct Under {
    shipment: Shipment,
    /// Those terms.
    words: String,
    /// What was said of the written ones: of which invoice, by which key.
    left_out: Vec<(String, &'static str)>,
}

/// The offer under another delivery term or with other payments, of the invoices whose lines move; `None`
/// where neither is asked for.
fn under(
    args: &Args,
    shipment: &Shipment,
    moved: &[usize],
    report: &mut Report,
) -> Result<Option<Under>, Exit> {
    let mut asked =
        Under { shipment: shipment.clone(), words: String::new(), left_out: Vec::new() };
    let lines = moved.iter().filter_map(|at| shipment.lines.get(*at));
    let mut invoices: Vec<usize> = lines.map(|line| line.invoice).collect();
    invoices.dedup();
    let mut words: Vec<String> = Vec::new();
    if let Some(term) = &args.term {
        is_on_lane(term, shipment).map_err(|why| wrong(&why))?;
        for at in &invoices {
            asked.left_out.extend(asked.shipment.put_under(*at, term));
        }
        words.push(term.to_string());
    }
    if let Some(text) = &args.pay {
        let payments = read::payments_in_words(text, report);
        let payments = payments.map_err(|why| wrong(&format!("--pay: {why}")))?;
        for at in &invoices {
            if !asked.shipment.put_paid(*at, &payments) {
                return Err(wrong("--pay: an amount is in another currency than the prices"));
            }
        }
        words.push(format!("paid {text}"));
    }
    asked.words = words.join(", ");
    Ok((!words.is_empty()).then_some(asked))
}

/// The prices that are tried, as the command line says them.
fn grid(args: &Args, shipment: &Shipment) -> Result<Grid, Exit> {
    let ids: Vec<&str> = shipment.lines.iter().map(|line| line.id.as_str()).collect();
    let lever = match (&args.line, &ids[..]) {
        (Some(line), _) => {
            let at = ids.iter().position(|id| *id == line);
            let known = ids.join(", ");
            let at = at.ok_or_else(|| {
                wrong(&format!(
                    "{} has no line \"{line}\": its lines are {known}",
                    shipment.called()
                ))
            })?;
            Lever::Line(at)
        }
        (None, [_]) => Lever::Line(0),
        (None, _) => Lever::All,
    };
    let why = match Grid::of(shipment, lever, args.step) {
        Ok(grid) => return Ok(grid),
        Err(why) => why,
    };
    Err(wrong(&match why {
        NoGrid::OtherUnit(price) => format!(
            "--step is in another unit than the price, which is {price}: write it in {}/{}",
            price.currency,
            price.by.word()
        ),
        NoGrid::IsPrice => {
            "one line moves by a price: write --step such as \"0.05 USD/ft2\"".to_owned()
        }
        NoGrid::IsPercent if lever == Lever::All => format!(
            "all lines move by a percentage: write --step such as \"0.5 %\", or name one with --line ({})",
            ids.join(", ")
        ),
        NoGrid::IsPercent => {
            "the line has several prices, by quantity or quality, and all move by one percentage: write --step such as \"0.5 %\"".to_owned()
        }
        NoGrid::Nothing => "the quoted price is nothing: there is none to counter".to_owned(),
        NoGrid::Width => {
            "--step leaves no price between half and twice what is quoted, or over a million"
                .to_owned()
        }
    }))
}

/// Says why two offers do not meet.
fn unmet(why: &NoMeeting, args: &Args, units: Units) -> Exit {
    match why {
        NoMeeting::Several(goods) => {
            let all: Vec<String> =
                goods.iter().map(|one| show::goods_in_words(one, units)).collect();
            let way = if args.line.is_some() {
                "let them stand together with --across"
            } else {
                "name one line with --line, or let them stand together with --across"
            };
            wrong(&format!("the lines are of several goods ({}): {way}", all.join("; ")))
        }
        NoMeeting::Unlike(goods) => wrong(&format!(
            "{} holds no {}: what differs stands together with --across thickness, finish or quality",
            args.against.as_deref().unwrap_or("the other"),
            show::goods_in_words(goods, units)
        )),
        NoMeeting::NoRank(name, why) => {
            Exit::No(Options::say(&format!("{name} has no rank: {}", show::reason(why))))
        }
    }
}
