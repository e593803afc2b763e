//! `quaystone audit`: whether the books reconcile, account by account.

use std::collections::BTreeMap;
use std::io::Write;

use super::job::{Exit, Options, day};
use super::ledger::{in_order, ledger_of, with_books, with_parts};
use crate::fault::Report;
use crate::ledger::{
    Audited, Broken, Closed, Entry, Ledger, Part, Reading, Whole, added, at_once, audited, debits,
    identities,
};
use crate::quantity::{Currency, Money};
use crate::show;
use crate::trade::Date;

/// Arguments of `audit`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The first day [default: that of the first entry]
    #[arg(long, value_name = "DATE", value_parser = day, conflicts_with = "close")]
    from: Option<Date>,
    /// The last day [default: that of the last event]
    #[arg(long, value_name = "DATE", value_parser = day, conflicts_with = "close")]
    to: Option<Date>,
    /// The period of the close that ends on this day, as draft or final
    #[arg(long, value_name = "DATE", value_parser = day)]
    close: Option<Date>,
    /// Each shipment and charge of an account alone
    #[arg(long)]
    charges: bool,
}

/// What entries come to.
struct Sums {
    accounts: Vec<Audited>,
    debits: Vec<Money>,
    first: Option<Date>,
}

impl Sums {
    fn of(
        (ledger, entries): (&Ledger<'_>, &[&Entry]),
        (from, to): (Option<Date>, Date),
        by_charge: bool,
    ) -> Self {
        let all = || entries.iter().copied();
        // Without a first day nothing comes before it.
        let days = (from.unwrap_or(Date::MIN), to);
        let currencies: BTreeMap<&str, Currency> =
            all().map(|entry| (entry.currency.code(), entry.currency)).collect();
        let debits = currencies.into_values().map(|currency| {
            Money::from_minor(debits(all().filter(|entry| entry.currency == currency)), currency)
        });
        Self {
            accounts: audited((ledger, all()), days, by_charge),
            debits: debits.collect(),
            first: all().map(|entry| entry.posted).min(),
        }
    }
}

/// What is kept of a part of the books: its sums, and what does not hold in it.
type Kept = (Sums, Vec<Broken>);

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if let Err(exit) = in_order(args.from, args.to) {
        return exit;
    }
    let keep = |part: &Part<'_>, days: (Option<Date>, Date)| -> Kept {
        let entries: Vec<&Entry> = part.entries().map(|(_, entry)| entry).collect();
        (Sums::of((part.ledger, &entries), days, args.charges), identities(part.ledger))
    };
    let Some(until) = args.close else {
        let on = ((args.to, Reading::Posted), false);
        let keep = |part: &Part<'_>, to: Date| Ok(keep(part, (args.from, to)));
        return with_parts(options, options.report(), on, keep, |whole, to, report| {
            audit((whole, None), (args.from, to), (args, options), report)
        });
    };
    with_books(options, options.report(), |workspace, books, mut report| {
        let Some(closed) = Closed::of(&books, until) else {
            let said = format!("error: no close ends on {until}; {}", Closed::known(&books));
            return Exit::BadCommand(Options::say(&said));
        };
        let days = (closed.from, until);
        let ledger = ledger_of((&workspace, &books), (Some(until), Reading::Posted), &mut report);
        let whole = ledger
            .and_then(|ledger| Options::fitted(at_once(&ledger, |part| Ok(keep(part, days)))));
        match whole {
            Ok(whole) => audit((&whole, Some(&closed)), days, (args, options), &report),
            Err(exit) => exit,
        }
    })
}

fn audit(
    (whole, closed): (&Whole<Kept>, Option<&Closed>),
    (from, to): (Option<Date>, Date),
    (args, options): (&Args, &Options),
    report: &Report,
) -> Exit {
    let closes: Vec<&Entry> = whole.closes.iter().map(|(_, entry)| entry).collect();
    let of_closes = Sums::of((&whole.ledger(), &closes), (from, to), args.charges);
    let all = || whole.parts.iter().map(|(sums, _)| sums).chain([&of_closes]);
    let broken: Vec<Broken> = whole.parts.iter().flat_map(|(_, broken)| broken).cloned().collect();
    let first = from.or_else(|| all().filter_map(|sums| sums.first).min());
    let days = (first.unwrap_or(to), to);
    let accounts = added(all().flat_map(|sums| &sums.accounts).cloned());
    let mut debits: BTreeMap<&str, Money> = BTreeMap::new();
    for own in all().flat_map(|sums| &sums.debits) {
        let sum = debits.entry(own.currency().code()).or_insert(Money::zero(own.currency()));
        *sum = match Options::fitted(sum.plus(*own)) {
            Ok(sum) => sum,
            Err(exit) => return exit,
        };
    }
    let debits: Vec<Money> = debits.into_values().collect();
    let json = |out: &mut dyn Write| show::json::audit((&accounts, closed), &broken, days, out);
    let exit = options.put(report, show::audit((&accounts, closed), &broken, days, &debits), &json);
    match exit {
        Exit::Done(said) if !broken.is_empty() => Exit::BadData(said),
        exit => exit,
    }
}
