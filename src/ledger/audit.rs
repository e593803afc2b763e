//! Accounts from one day to another: opening, movements, closing.

use std::collections::BTreeMap;

use super::account::Account;
use super::entry::Line;
use super::state::Ledger;
use crate::quantity::Currency;
use crate::trade::Date;

/// One account over some days, in minor units of a currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Audited {
    /// The account.
    pub account: Account,
    /// What it is kept by: a yard, a party, a shipment.
    pub of: String,
    /// The currency: of the books, or of the account where it holds foreign money.
    pub currency: Currency,
    /// What it held before the first day.
    pub opening: i64,
    /// What was added.
    pub debits: i64,
    /// What was taken off.
    pub credits: i64,
    /// What it holds after the last day.
    pub closing: i64,
}

/// Every account from one day to another, both included: in the books, and those of foreign money in their own
/// currency as well.
pub fn audited(ledger: &Ledger<'_>, (from, to): (Date, Date)) -> Vec<Audited> {
    let mut all: BTreeMap<(Account, String, bool, &str), Audited> = BTreeMap::new();
    for entry in ledger.entries.iter().filter(|entry| entry.posted <= to) {
        for line in &entry.lines {
            let of = kept_by(ledger, line);
            let own = line.amount.map(|amount| (amount.currency(), amount.minor().unwrap_or(0)));
            let books = Some((entry.currency, line.book));
            for (is_foreign, (currency, units)) in
                [(false, books), (true, own)].into_iter().filter_map(|(own, sum)| Some((own, sum?)))
            {
                let key = (line.account, of.clone(), is_foreign, currency.code());
                let account = all.entry(key).or_insert_with(|| Audited {
                    account: line.account,
                    of: of.clone(),
                    currency,
                    opening: 0,
                    debits: 0,
                    credits: 0,
                    closing: 0,
                });
                account.closing += units;
                if entry.posted < from {
                    account.opening += units;
                } else if units > 0 {
                    account.debits += units;
                } else {
                    account.credits -= units;
                }
            }
        }
    }
    all.into_values().collect()
}

/// What an account is kept by.
fn kept_by(ledger: &Ledger<'_>, line: &Line) -> String {
    let shipment = || {
        let freeze = line.shipment.and_then(|at| ledger.freeze(at));
        freeze.map_or_else(String::new, |freeze| freeze.shipment.clone())
    };
    match line.account {
        Account::Yard => line.yard.clone(),
        Account::Bank | Account::Exchange | Account::Period | Account::Hedge => String::new(),
        account if account.is_monetary() || account == Account::Advances => line.party.clone(),
        _ => shipment(),
    }
}
