//! `quaystone audit`: whether the books reconcile, account by account.

use std::io::Write;

use super::job::{Exit, Options, day};
use super::ledger::with_ledger;
use crate::ledger::{Reading, audited, debits, identities};
use crate::quantity::{Currency, Money};
use crate::show;
use crate::trade::Date;

/// Arguments of `audit`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The first day [default: that of the first entry]
    #[arg(long, value_name = "DATE", value_parser = day)]
    from: Option<Date>,
    /// The last day [default: that of the last event]
    #[arg(long, value_name = "DATE", value_parser = day)]
    to: Option<Date>,
    /// Each shipment and charge of an account alone
    #[arg(long)]
    charges: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    with_ledger(options, options.report(), (args.to, Reading::Posted), |ledger, to, report| {
        let first = ledger.entries.first().map_or(to, |entry| entry.posted);
        let days = (args.from.unwrap_or(first), to);
        let (accounts, broken) = (audited(ledger, days, args.charges), identities(ledger));
        let json = |out: &mut dyn Write| show::json::audit(&accounts, &broken, days, out);
        let mut currencies: Vec<Currency> =
            ledger.entries.iter().map(|entry| entry.currency).collect();
        currencies.sort_by_key(|currency| currency.code());
        currencies.dedup();
        let sum = |currency: &Currency| {
            let own = ledger.entries.iter().filter(|entry| entry.currency == *currency);
            Money::from_minor(debits(own), *currency)
        };
        let sums: Vec<Money> = currencies.iter().map(sum).collect();
        let exit = options.put(report, show::audit(&accounts, &broken, days, &sums), &json);
        match exit {
            Exit::Done(said) if !broken.is_empty() => Exit::BadData(said),
            exit => exit,
        }
    })
}
