//! `quaystone counter`: the price to ask for.

use super::footed::{Footed, words};
use super::job::{Exit, One, Options};
use super::progress::Progress;
use crate::decide::{
    Bid, Comparison, Grid, Lever, Meeting, NoGrid, NoMeeting, Offer, Step, compare, counter, meet,
    over_bundles, target, unfit,
};
use crate::fault::Report;
use crate::load::Misfit;
use crate::quantity::{Percent, Price, PricedBy, Units, Written};
use crate::read::Asked as Named;
use crate::show::{self, Against, CounterPage, OverPage};
use crate::trade::Shipment;

/// Arguments of `counter`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// The offer that it shall not be dearer than, by name or path
    #[arg(long, value_name = "SHIPMENT", required_unless_present = "target")]
    against: Option<String>,
    /// The way to buy that one, by the `id` of a [[way]] [default: as it is written]
    #[arg(long, value_name = "ID", requires = "against")]
    against_way: Option<String>,
    /// The cost with finance per area that it shall not exceed, such as "9.50 USD/ft2"
    #[arg(long, value_name = "COST", conflicts_with = "against", value_parser = cost_per_area)]
    target: Option<Price>,
    /// The line whose price moves [default: the only one; of several, all by one percentage]
    #[arg(long, value_name = "ID")]
    line: Option<String>,
    /// The step of prices, such as "0.05 USD/ft2", or "0.5 %" for all lines [default: the decimals of the
    /// quoted price; 0.1 % for all lines]
    #[arg(long, value_name = "STEP", value_parser = step)]
    step: Option<Step>,
    /// Which is the cheaper at each number of bundles, of nominal offers, such as "bundles=1..24"
    #[arg(long, value_name = "RANGE", conflicts_with_all = ["target", "line", "step"], value_parser = bundles)]
    over: Option<(u32, u32)>,
    #[command(flatten)]
    on: Footed,
}

fn bundles(text: &str) -> Result<(u32, u32), String> {
    let form =
        "write the first and the last number of bundles, 1 to 200, such as \"bundles=1..24\"";
    let range = text.strip_prefix("bundles=").and_then(|range| range.split_once(".."));
    let (first, last) = range.ok_or(form)?;
    let number = |text: &str| text.trim().parse::<u32>().map_err(|_| form);
    let (first, last) = (number(first)?, number(last)?);
    if first < 1 || last < first || last > 200 {
        return Err(form.to_owned());
    }
    Ok((first, last))
}

fn cost_per_area(text: &str) -> Result<Price, String> {
    let form = "write a cost for an area, such as \"9.50 USD/ft2\" or \"102.00 USD/m2\"";
    let price = Price::read(text).map_err(|_| form)?;
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
    let named = |name| Named { name, way: args.against_way.as_deref() };
    let other = args.against.as_deref().map(named);
    let rates = report.clone();
    let read_one = |asked: Named<'_>, report: &mut Report| {
        let mut own = rates.clone();
        let costed = options.costed(&workspace, asked, &tariffs, &mut own);
        report.absorb(own);
        costed
    };
    let own = read_one(args.one.asked(), &mut report);
    let other = other.map(|asked| read_one(asked, &mut report)).transpose();
    drop(shown);
    let both = own.and_then(|own| Ok((own, other?)));
    let ((shipment, costed), other) = match Options::told(&report, both) {
        Ok(both) => both,
        Err(exit) => return exit,
    };
    let grid = match grid(args, &shipment) {
        Ok(grid) => grid,
        Err(exit) => return exit,
    };
    let asked = args.on.asked(&tariffs);
    let offer = |shipment: &Shipment, costed: &Result<_, Vec<Misfit>>| {
        let outcome = costed.as_ref().map_err(|misfits| unfit(shipment, misfits));
        Offer::of(shipment, outcome, &tariffs, &asked.allowances)
    };
    let offers = std::iter::once((&shipment, &costed)).chain(other.iter().map(|(s, c)| (s, c)));
    let offers: Option<Vec<Offer>> = offers.map(|(one, costed)| offer(one, costed)).collect();
    let Some(offers) = offers else { return wrong("a figure of an offer is too large to be held") };
    let comparison = match compare(offers, &asked) {
        Ok(comparison) => comparison,
        Err(refusal) => return wrong(&words(&refusal)),
    };
    let moved: Vec<usize> = grid.quoted.iter().map(|(at, _)| *at).collect();
    let meeting = match meet(&comparison, &moved) {
        Ok(meeting) => meeting,
        Err(why) => return unmet(&why, args, options.units()),
    };
    let (goal, against) = match (&args.target, &meeting.other, &other) {
        (Some(price), _, _) => {
            if price.currency != comparison.currency {
                let books = comparison.currency;
                return wrong(&format!(
                    "the target is in {}, and the costs of {} are in {books}",
                    price.currency,
                    shipment.called()
                ));
            }
            (target(price), Against::Target(*price))
        }
        (None, Some(goal), Some((other, Ok(costed)))) => {
            (Some(goal.clone()), Against::Offer(other.called(), costed.verdict.sure.clone()))
        }
        _ => return wrong("there is nothing to hold the offer against"),
    };
    let bid = Bid {
        shipment: &shipment,
        tariffs: &tariffs,
        effort: options.effort(),
        units: options.units(),
        asked,
        footing: comparison.footing,
        grid: &grid,
    };
    if let (Some(range), Some((other, _))) = (args.over, &other) {
        return over(
            &bid,
            &Bid { shipment: other, ..bid },
            (&comparison, &meeting, range),
            options,
            &report,
        );
    }
    let found = {
        let _shown = Progress::show();
        goal.as_ref().and_then(|goal| counter(&bid, &meeting, goal))
    };
    let (Some(found), Some(goal)) = (found, goal) else {
        return wrong("a price or a cost is too large to be held");
    };
    let page = CounterPage {
        shipment: &shipment,
        comparison: &comparison,
        goods: &meeting.goods,
        grid: &grid,
        goal: &goal,
        against,
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

/// Both offers at each number of bundles.
fn over(
    own: &Bid<'_>,
    other: &Bid<'_>,
    (comparison, meeting, range): (&Comparison, &Meeting, (u32, u32)),
    options: &Options,
    report: &Report,
) -> Exit {
    let all = {
        let _shown = Progress::show();
        over_bundles(own, other, &meeting.goods, range)
    };
    let Some(all) = all else {
        return wrong(
            "--over bundles is for nominal offers of one line, stated as `bundles`, of which nothing \
             names single bundles",
        );
    };
    let goods = &meeting.goods;
    let page = OverPage { comparison, goods, all: &all, units: options.units() };
    options.put(report, show::over(&page), &|out| show::json::over(&page, out))
}

/// The prices that are tried, as the command line says them.
fn grid(args: &Args, shipment: &Shipment) -> Result<Grid, Exit> {
    let ids: Vec<&str> = shipment.lines.iter().map(|line| line.id.as_str()).collect();
    let has_several = shipment.lines.iter().any(|line| line.prices_of_goods().nth(1).is_some());
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
        // Several prices of one line, by quantity or quality, move by one percentage.
        (None, [_]) if !has_several => Lever::Line(0),
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
        NoGrid::OtherLever(Lever::Line(_)) => {
            "one line moves by a price: write --step such as \"0.05 USD/ft2\"".to_owned()
        }
        NoGrid::OtherLever(Lever::All) => format!(
            "all lines move by a percentage: write --step such as \"0.5 %\", or name one with --line ({})",
            ids.join(", ")
        ),
        NoGrid::Several => {
            "the line has several prices, by quantity or quality: leave --line out, and all prices move by one percentage".to_owned()
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
