//! `quaystone report`: one page to keep, for ourselves or for others.

use super::footed::Footed;
use super::job::{Exit, Lapsed, One, Options, Sheets};
use super::load::{Whom, told_to};
use super::progress::Progress;
use crate::bill::Charge;
use crate::choose::{Costed, own_legs};
use crate::cost::Cash;
use crate::decide::{Asking, Named, Offer, compare, first_fault, named, what_if};
use crate::fault::Report;
use crate::load::{self, Known};
use crate::quantity::{Decimal, Money, Percent, Written};
use crate::show::Load;
use crate::trade::{ExchangeUse, Leg, Shipment, Tariffs};
use crate::{read, show};

/// Arguments of `report`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// A page for others, with no more than they may be told
    #[arg(long = "for", value_enum, value_name = "WHOM")]
    audience: Option<Whom>,
    /// With --for supplier, an invoice of that supplier, by its number, where there are several
    #[arg(long, value_name = "NUMBER", requires = "audience")]
    invoice: Option<String>,
    #[command(flatten)]
    sheets: Sheets,
    #[command(flatten)]
    lapsed: Lapsed,
}

/// By how much each thing is moved to see what it changes.
const MORE: &str = "+10 %";

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_paid(&args.one, &args.lapsed, |shipment, costed, tariffs, (cash, report)| {
        load::prefer(&mut costed.plan, &costed.verdict, shipment, tariffs, options.units());
        put(args, (shipment, costed, tariffs), &cash, (options, report)).unwrap_or_else(|exit| exit)
    })
}

fn put(
    args: &Args,
    (shipment, costed, tariffs): (&Shipment, &Costed, &Tariffs),
    cash: &Cash,
    (options, report): (&Options, &Report),
) -> Result<Exit, Exit> {
    let summaries = Options::summed_up(shipment, costed, tariffs)?;
    let load = Load { shipment, costed, summaries: &summaries };
    if let Some(whom) = args.audience {
        let told = told_to(whom, args.invoice.as_deref(), load)?;
        let page = show::outgoing_load(&told, &[], options.units(), args.sheets.ground(options));
        return Ok(options.put_kept(report, page));
    }
    let own = own_legs(shipment, tariffs, costed);
    let levers = {
        let _shown = Progress::show();
        levers(args, (shipment, tariffs), costed, options).unwrap_or_default()
    };
    let of = show::Report {
        load,
        own: &own,
        cash,
        levers: &levers,
        version: env!("CARGO_PKG_VERSION"),
        units: options.units(),
        ground: args.sheets.ground(options),
    };
    Ok(options.put_kept(report, show::report(&of)))
}

/// By how much the cost with finance moves where one thing is more, the largest first. `None` where it cannot be
/// held.
fn levers(
    args: &Args,
    (shipment, tariffs): (&Shipment, &Tariffs),
    costed: &Costed,
    options: &Options,
) -> Option<Vec<(String, Money)>> {
    let workspace = options.workspace(&mut options.report()).ok()?;
    let footed = Footed::default();
    let asked = footed.asked(tariffs);
    let offer = Offer::of(shipment, Ok(costed), tariffs, &asked.allowances)?;
    let comparison = compare(vec![offer], &asked).ok()?;
    let known = Known::default();
    let bid = footed.bid((shipment, tariffs), (&comparison, &known), args.lapsed.carry, options);
    // What has no row of its own here is not moved.
    let changes = moved(costed).into_iter();
    let changes = changes.filter_map(|words| {
        named(&words, (&[shipment], &comparison), tariffs, &mut options.report()).ok()
    });
    let changes: Vec<_> = changes.collect();
    let rates = options.report();
    let read = |tariffs: &Tariffs| {
        let mut own = rates.clone();
        read::shipment(&workspace, args.one.asked(), tariffs, &mut own)
            .map_err(|_| first_fault(&own))
    };
    let cases = what_if(&[Asking { bid, read: &read }], None, &changes);
    let cost = |at: usize| cases.get(at)?.costs.first()?.as_ref().ok().map(|cost| cost.decision);
    let as_offered = cost(0)?;
    let of_change = |(at, change): (usize, &Named)| {
        let moved = cost(at + 1)?.minus(as_offered).ok()?;
        Some((change.words.clone(), moved)).filter(|_| !moved.is_zero())
    };
    let mut all: Vec<(String, Money)> = changes.iter().enumerate().filter_map(of_change).collect();
    all.sort_by_key(|(_, moved)| std::cmp::Reverse(moved.amount().abs()));
    Some(all)
}

/// What is moved: the price, each leg with charges, and each planning rate of exchange.
fn moved(costed: &Costed) -> Vec<String> {
    let mut all = vec![format!("price {MORE}")];
    let charges = || costed.landed.charges.iter();
    for (leg, word) in Leg::ALL {
        if leg != Leg::Goods
            && charges().any(|charge| charge.leg == leg && !charge.book().is_zero())
        {
            all.push(format!("leg {word} {MORE}"));
        }
    }
    for conversion in charges().filter_map(Charge::exchange) {
        let quote = &conversion.quote;
        let Ok(more) = Percent::read(MORE.trim_start_matches('+')) else { continue };
        let Some(rate) = quote.rate().checked_mul(Decimal::ONE + more.fraction()) else { continue };
        let words = format!("1 {} = {} {}", quote.base(), rate.normalize(), quote.counter());
        if conversion.used_for == ExchangeUse::Plan && !all.contains(&words) {
            all.push(words);
        }
    }
    all
}
