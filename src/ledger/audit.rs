//! Accounts from one day to another: opening, movements, closing.

use std::collections::BTreeMap;

use super::entry::{Entry, Line};
use super::state::Ledger;
use crate::quantity::Currency;
use crate::trade::{Account, Date};

/// One account over some days, in minor units of a currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Audited {
    /// The account.
    pub account: Account,
    /// What it is kept by: a yard, a party, a shipment.
    pub of: String,
    /// The shipment and the charge, by its key, where the account is looked at charge by charge.
    pub charge: Option<(String, String)>,
    /// The currency: of the books, or of the account where it holds foreign money.
    pub currency: Currency,
    /// Whether it is that of the account.
    pub is_foreign: bool,
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
/// currency as well. With `by_charge` each shipment and charge of an account stands alone; what is of no one charge,
/// such as a payment, stands under none.
pub fn audited<'e>(
    (ledger, entries): (&Ledger<'_>, impl Iterator<Item = &'e Entry>),
    (from, to): (Date, Date),
    by_charge: bool,
) -> Vec<Audited> {
    let mut all: BTreeMap<(Account, &str, _, bool, &str), Audited> = BTreeMap::new();
    for entry in entries.filter(|entry| entry.posted <= to) {
        for line in &entry.lines {
            let of = kept_by(ledger, line);
            let charge = by_charge.then(|| (shipment(ledger, line), line.charge.as_str()));
            let own = line.amount.map(|amount| (amount.currency(), amount.minor().unwrap_or(0)));
            let books = Some((entry.currency, line.book));
            for (is_foreign, (currency, units)) in
                [(false, books), (true, own)].into_iter().filter_map(|(own, sum)| Some((own, sum?)))
            {
                let key = (line.account, of, charge, is_foreign, currency.code());
                let account = all.entry(key).or_insert_with(|| Audited {
                    account: line.account,
                    of: of.to_owned(),
                    charge: charge.map(|(of, key)| (of.to_owned(), key.to_owned())),
                    currency,
                    is_foreign,
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

/// The accounts of several parts of the books, each once.
pub fn added(parts: impl Iterator<Item = Audited>) -> Vec<Audited> {
    let mut all: BTreeMap<_, Audited> = BTreeMap::new();
    for one in parts {
        let (of, charge) = (one.of.clone(), one.charge.clone());
        let key = (one.account, of, charge, one.is_foreign, one.currency.code());
        let Some(sum) = all.get_mut(&key) else {
            all.insert(key, one);
            continue;
        };
        sum.opening += one.opening;
        sum.debits += one.debits;
        sum.credits += one.credits;
        sum.closing += one.closing;
    }
    all.into_values().collect()
}

/// What the account of a line is kept by: a yard, a party, a shipment, or nothing.
pub fn kept_by<'l>(ledger: &'l Ledger<'_>, line: &'l Line) -> &'l str {
    match line.account.kept_by() {
        Some("yard") => &line.yard,
        Some("party") => &line.party,
        Some(_) => shipment(ledger, line),
        None => "",
    }
}

fn shipment<'l>(ledger: &'l Ledger<'_>, line: &Line) -> &'l str {
    line.shipment.and_then(|at| ledger.freeze(at)).map_or("", |freeze| &freeze.shipment)
}
