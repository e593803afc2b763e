//! `quaystone audit`: whether the books reconcile, account by account.

use std::io::Write;

use super::job::{Exit, Options, day};
use super::ledger::{ledger_of, with_books, with_ledger};
use crate::fault::Report;
use crate::ledger::{Closed, Ledger, Reading, audited, debits, identities};
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

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if let Some(until) = args.close {
        return with_books(options, options.report(), |workspace, books, mut report| {
            let Some(closed) = Closed::of(&books, until) else {
                let said = format!("error: no close ends on {until}; {}", Closed::known(&books));
                return Exit::BadCommand(Options::say(&said));
            };
            let on = (Some(until), Reading::Posted);
            match ledger_of((&workspace, &books), on, &mut report) {
                Ok(ledger) => {
                    audit((&ledger, Some(&closed)), (closed.from, until), args, options, &report)
                }
                Err(exit) => exit,
            }
        });
    }
    with_ledger(options, options.report(), (args.to, Reading::Posted), |ledger, to, report| {
        audit((ledger, None), (args.from, to), args, options, report)
    })
}

fn audit(
    (ledger, closed): (&Ledger<'_>, Option<&Closed>),
    (from, to): (Option<Date>, Date),
    args: &Args,
    options: &Options,
    report: &Report,
) -> Exit {
    let first = ledger.entries.first().map_or(to, |entry| entry.posted);
    let days = (from.unwrap_or(first), to);
    let (accounts, broken) = (audited(ledger, days, args.charges), identities(ledger));
    let json = |out: &mut dyn Write| show::json::audit((&accounts, closed), &broken, days, out);
    let mut currencies: Vec<Currency> = ledger.entries.iter().map(|entry| entry.currency).collect();
    currencies.sort_by_key(|currency| currency.code());
    currencies.dedup();
    let sum = |currency: &Currency| {
        let own = ledger.entries.iter().filter(|entry| entry.currency == *currency);
        Money::from_minor(debits(own), *currency)
    };
    let sums: Vec<Money> = currencies.iter().map(sum).collect();
    let exit = options.put(report, show::audit((&accounts, closed), &broken, days, &sums), &json);
    match exit {
        Exit::Done(said) if !broken.is_empty() => Exit::BadData(said),
        exit => exit,
    }
}
