//! What was estimated against what was billed, charge by charge.

use std::collections::BTreeMap;

use super::grouped::age_class;
use super::state::Ledger;
use crate::quantity::{Currency, Money, Overflow};
use crate::trade::{Date, FrozenCharge, Treatment};

/// One charge, settled or not.
#[derive(Debug, Clone)]
pub struct Settled<'l> {
    /// The charge as it was estimated; `None`: it never was.
    pub frozen: Option<&'l FrozenCharge>,
    /// Its key.
    pub key: &'l str,
    /// What it is called.
    pub name: &'l str,
    /// How many charges of that name it stands for: one, unless they are shown together.
    pub count: usize,
    /// Who bills it.
    pub payee: &'l str,
    /// Where it goes.
    pub treatment: Treatment,
    /// What was estimated, as it is charged.
    pub estimate: Option<Money>,
    /// What was billed so far, less what was credited, in each currency.
    pub billed: Vec<Money>,
    /// What it came to in the books less what was estimated; nothing before it is owed.
    pub differs: Option<Money>,
    /// What is still to be billed.
    pub open: Option<Money>,
    /// The day it was owed.
    pub owed: Option<Date>,
    /// The days since, while something is to come.
    pub age: Option<i64>,
}

/// The charges of a shipment on a day, in the order of the estimate.
///
/// # Errors
/// Where a sum cannot be held.
pub fn settled<'l>(
    ledger: &'l Ledger<'_>,
    shipment: usize,
    on: Date,
) -> Result<Vec<Settled<'l>>, Overflow> {
    let Some(freeze) = ledger.freeze(shipment) else { return Ok(Vec::new()) };
    let charges = ledger.charges.get(shipment).map_or(&[][..], |all| all);
    let own = charges.iter().enumerate();
    let own =
        own.filter(|(_, charge)| charge.treatment != Treatment::Notional && !charge.is_gone());
    let settled = own.map(|(at, charge)| {
        let minor = |minor: i64, currency: Currency| Money::from_minor(minor, currency);
        let estimate = charge.estimate.map_or(0, |(_, book, _)| book);
        let open = charge.accrual.and_then(|at| ledger.open.get(at));
        Ok(Settled {
            frozen: freeze.charges.get(at),
            key: &charge.key,
            name: &charge.name,
            count: 1,
            payee: &charge.payee,
            treatment: charge.treatment,
            estimate: charge.estimate.map(|(amount, ..)| amount),
            billed: charge.billed_so_far()?,
            differs: charge.owed.as_ref().map(|_| minor(charge.booked - estimate, freeze.currency)),
            open: open.map(|open| minor(-open.amount, open.currency)),
            owed: charge.owed.as_ref().map(|owed| owed.posted),
            age: charge
                .owed
                .as_ref()
                .filter(|_| open.is_some_and(|open| open.amount != 0))
                .map(|owed| (on - owed.posted).num_days()),
        })
    });
    settled.collect()
}

/// The charges with those of one name together, where all of that name stand alike to the cent: what each bundle is
/// unloaded for is one row then.
///
/// # Errors
/// Where a sum cannot be held.
pub fn together<'l>(settled: &[Settled<'l>]) -> Result<Vec<Settled<'l>>, Overflow> {
    let mut named: BTreeMap<&str, Vec<&Settled<'l>>> = BTreeMap::new();
    for one in settled {
        named.entry(one.name).or_default().push(one);
    }
    let mut rows = Vec::new();
    for one in settled {
        let all = named.get(one.name).map_or(&[][..], |all| all);
        let is_first = all.first().is_some_and(|first| first.key == one.key);
        if all.len() < 2 || !all.iter().all(|other| one.stands_as(other)) {
            rows.push(one.clone());
        } else if is_first {
            let sum = |of: fn(&Settled<'l>) -> Option<Money>| {
                let mut each = all.iter().filter_map(|one| of(one));
                let first = each.next();
                first.map(|first| each.try_fold(first, Money::plus)).transpose()
            };
            let billed = match one.billed[..] {
                [_] => sum(|one| one.billed.first().copied())?.into_iter().collect(),
                _ => Vec::new(),
            };
            rows.push(Settled {
                count: all.len(),
                estimate: sum(|one| one.estimate)?,
                billed,
                differs: sum(|one| one.differs)?,
                open: sum(|one| one.open)?,
                ..one.clone()
            });
        }
    }
    Ok(rows)
}

impl Settled<'_> {
    /// Whether another charge stands as this one does.
    fn stands_as(&self, other: &Self) -> bool {
        let of = |one: &Self| (one.treatment, one.estimate, one.differs, one.open, one.owed);
        self.billed.len() < 2
            && of(self) == of(other)
            && (self.payee, &self.billed) == (other.payee, &other.billed)
    }
}

/// What is still to come, by the class of the days since it was owed, in each currency.
///
/// # Errors
/// Where a sum cannot be held.
pub fn open_by_age(settled: &[Settled<'_>]) -> Result<Vec<(&'static str, Money)>, Overflow> {
    let mut sums: BTreeMap<(usize, &str), (&'static str, Money)> = BTreeMap::new();
    for one in settled {
        let Some((open, days)) = one.open.zip(one.age).filter(|(open, _)| !open.is_zero()) else {
            continue;
        };
        let (rank, word) = age_class(days);
        let own = sums.entry((rank, open.currency().code()));
        let (_, sum) = own.or_insert((word, Money::zero(open.currency())));
        *sum = sum.plus(open)?;
    }
    Ok(sums.into_values().collect())
}

/// What the charges of a shipment come to in one currency.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sums {
    /// What was estimated.
    pub estimate: Money,
    /// What was billed so far.
    pub billed: Money,
    /// What is still to be billed of what is owed.
    pub open: Money,
    /// What was estimated of charges that are not owed yet.
    pub waits: Money,
    /// What those that are owed came to in the books beyond their estimates; of the currency of the books alone.
    pub differs: Option<Money>,
}

/// The sums of charges, by currency.
///
/// # Errors
/// Where a sum cannot be held.
pub fn by_currency(settled: &[Settled<'_>]) -> Result<Vec<Sums>, Overflow> {
    let mut all: BTreeMap<&str, Sums> = BTreeMap::new();
    let mut add = |amount: Money, of: fn(&mut Sums) -> &mut Money| {
        let none = Money::zero(amount.currency());
        let sums = Sums { estimate: none, billed: none, open: none, waits: none, differs: None };
        let sum = of(all.entry(amount.currency().code()).or_insert(sums));
        *sum = sum.plus(amount)?;
        Ok(())
    };
    for one in settled {
        one.estimate.map_or(Ok(()), |amount| add(amount, |sums| &mut sums.estimate))?;
        one.open.map_or(Ok(()), |amount| add(amount, |sums| &mut sums.open))?;
        one.billed.iter().try_for_each(|amount| add(*amount, |sums| &mut sums.billed))?;
        let waits = one.estimate.filter(|_| one.owed.is_none());
        waits.map_or(Ok(()), |amount| add(amount, |sums| &mut sums.waits))?;
        one.differs.map_or(Ok(()), |amount| {
            add(amount, |sums| sums.differs.get_or_insert(Money::zero(sums.estimate.currency())))
        })?;
    }
    Ok(all.into_values().collect())
}
