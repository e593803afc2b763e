//! What must hold at every date, to the cent.

use std::collections::BTreeMap;

use super::state::Ledger;
use crate::quantity::Money;
use crate::trade::{Account, Treatment};

/// Something that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// What it is about.
    pub what: String,
    /// What the accounts have, in minor units.
    pub accounts: i64,
    /// What it should be.
    pub should_be: i64,
}

/// The words for something that may not hold: they are made where it does not.
type Named<'n> = &'n dyn Fn() -> String;

/// Everything that does not hold. The accounts are summed up from the lines of all entries, and held against how
/// slabs, charges and open items stand.
pub fn identities(ledger: &Ledger<'_>) -> Vec<Broken> {
    let mut broken = Vec::new();
    let mut hold = |what: Named<'_>, accounts: i64, should_be: i64| {
        if accounts != should_be {
            broken.push(Broken { what: what(), accounts, should_be });
        }
    };
    for entry in &ledger.entries {
        let sum = entry.lines.iter().map(|line| line.book).sum();
        hold(&|| format!("debits and credits of {}", entry.id), sum, 0);
    }
    monetary(ledger, &mut hold);
    stock(ledger, &mut hold);
    of_shipments(ledger, &mut hold);
    broken
}

/// Every account of money: what its lines come to is what is open, in its own currency and in the books.
fn monetary(ledger: &Ledger<'_>, hold: &mut impl FnMut(Named<'_>, i64, i64)) {
    type Sums<'a> = BTreeMap<(Account, &'a str, &'a str), (i64, i64)>;
    let mut lines: Sums<'_> = BTreeMap::new();
    for entry in &ledger.entries {
        for line in entry.lines.iter().filter(|line| line.account.is_monetary()) {
            let own = line.amount.map_or(entry.currency, Money::currency);
            let key = (line.account, own.code(), entry.currency.code());
            let sum = lines.entry(key).or_default();
            sum.0 += line.amount.map_or(line.book, |amount| amount.minor().unwrap_or(0));
            sum.1 += line.book;
        }
    }
    let mut open: Sums<'_> = BTreeMap::new();
    for item in &ledger.open {
        let key = (item.account, item.currency.code(), item.book_currency.code());
        let sum = open.entry(key).or_default();
        sum.0 += item.amount;
        sum.1 += item.book;
        let named = || format!("{} {} {}", item.account.word(), item.party, item.number);
        if item.amount == 0 {
            hold(&|| format!("the rest of {}", named()), item.book, 0);
        }
        if item.currency == item.book_currency {
            hold(&named, item.amount, item.book);
        }
    }
    let keys: Vec<_> = lines.keys().chain(open.keys()).copied().collect();
    for key in keys {
        let (account, own, books) = key;
        let (line, item) = (lines.get(&key).copied(), open.get(&key).copied());
        let (line, item) = (line.unwrap_or_default(), item.unwrap_or_default());
        hold(&|| format!("{} in {own}", account.word()), line.0, item.0);
        hold(&|| format!("{} in {own}, in {books}", account.word()), line.1, item.1);
    }
}

/// Every account that holds the cost of slabs: what its lines come to is the sum of its slabs.
fn stock(ledger: &Ledger<'_>, hold: &mut impl FnMut(Named<'_>, i64, i64)) {
    let mut lines: BTreeMap<(Account, &str, usize), i64> = BTreeMap::new();
    for line in ledger.entries.iter().flat_map(|entry| &entry.lines) {
        if let Some(shipment) = line.shipment.filter(|_| line.account.is_of_slabs()) {
            *lines.entry((line.account, line.yard.as_str(), shipment)).or_default() += line.book;
        }
    }
    let mut slabs: BTreeMap<(Account, &str, usize), i64> = BTreeMap::new();
    for (shipment, all) in ledger.slabs.iter().enumerate() {
        for slab in all {
            let (account, yard) = slab.at.account();
            *slabs.entry((account, yard, shipment)).or_default() += slab.held;
            if slab.allowance != 0 {
                *slabs.entry((Account::Allowance, "", shipment)).or_default() -= slab.allowance;
                // A write-down is a cost of sales; what leaves stock takes it along.
                *slabs.entry((Account::CostOfSales, "", shipment)).or_default() += slab.allowance;
            }
        }
    }
    let keys: Vec<_> = lines.keys().chain(slabs.keys()).copied().collect();
    for key in keys {
        let (account, yard, shipment) = key;
        let called = ledger.freeze(shipment).map_or("", |freeze| freeze.shipment.as_str());
        let of = |sums: &BTreeMap<_, i64>| sums.get(&key).copied().unwrap_or(0);
        hold(&|| format!("{} {yard} of {called}", account.word()), of(&lines), of(&slabs));
    }
}

/// The sums of a shipment's lines: those on the accounts of slabs, and the cost and the accrual of each charge.
#[derive(Default)]
struct Lines<'l> {
    of_slabs: i64,
    by_charge: BTreeMap<&'l str, (i64, i64)>,
}

/// The lines of each shipment, looked through once.
fn lines_by_shipment<'l>(ledger: &'l Ledger<'_>) -> BTreeMap<usize, Lines<'l>> {
    let mut all: BTreeMap<usize, Lines<'l>> = BTreeMap::new();
    for line in ledger.entries.iter().flat_map(|entry| &entry.lines) {
        let Some(shipment) = line.shipment else { continue };
        let own = all.entry(shipment).or_default();
        if !line.charge.is_empty() {
            let (cost, accrued) = own.by_charge.entry(&line.charge).or_default();
            *(if line.account == Account::Accrued { accrued } else { cost }) += line.book;
        }
        if line.account.is_of_slabs() {
            own.of_slabs += line.book;
        }
    }
    all
}

/// Shipment by shipment: what charges came to is what slabs bear, and each slab's account holds what it bears.
fn of_shipments(ledger: &Ledger<'_>, hold: &mut impl FnMut(Named<'_>, i64, i64)) {
    let mut lines = lines_by_shipment(ledger);
    for (shipment, (slabs, charges)) in ledger.slabs.iter().zip(&ledger.charges).enumerate() {
        let called = ledger.freeze(shipment).map_or("", |freeze| freeze.shipment.as_str());
        let of = |treatment: Treatment| {
            let own = charges.iter().filter(move |charge| charge.treatment == treatment);
            own.map(|charge| charge.booked).sum::<i64>()
        };
        let recognised: i64 = slabs.iter().map(|slab| slab.recognised).sum();
        hold(&|| format!("stock charges of {called}"), recognised, of(Treatment::Stock));
        let taken: i64 = slabs.iter().map(|slab| slab.taken).sum();
        let given: i64 = slabs.iter().map(|slab| slab.given).sum();
        hold(&|| format!("normal loss of {called}"), taken, given);
        for (at, slab) in slabs.iter().enumerate() {
            let bears = slab.recognised + slab.taken - slab.given;
            if bears != slab.held
                || slab.allowance < 0
                || (slab.allowance > 0 && !slab.at.is_stock())
            {
                let id = ledger.slab_name((shipment, at));
                hold(&|| format!("slab {id} of {called}"), slab.held, bears);
            }
            if let Some(worth) = slab.worth.filter(|_| slab.at.is_stock() && slab.allowance > 0) {
                hold(&|| format!("a write-down of {called}"), slab.held - slab.allowance, worth);
            }
        }
        let own = lines.remove(&shipment).unwrap_or_default();
        let what = || format!("goods and stock charges of {called}");
        hold(&what, own.of_slabs, of(Treatment::Stock));
        for charge in charges {
            let lines = own.by_charge.get(charge.key.as_str()).copied().unwrap_or_default();
            hold(&|| format!("{} of {called}", charge.key), lines.0, charge.booked);
            let open =
                charge.accrual.and_then(|at| ledger.open.get(at)).map_or(0, |open| open.book);
            hold(&|| format!("accrued for {} of {called}", charge.key), lines.1, open);
        }
    }
}
