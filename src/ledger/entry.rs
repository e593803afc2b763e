//! One event's lines, balanced in the currency of the books.

use std::hash::{BuildHasher, Hash};

use rustc_hash::{FxBuildHasher, FxHashMap};
use smol_str::SmolStr;

use crate::quantity::{Currency, Exact, Money, Overflow, Quote};
use crate::trade::{Account, Date};

/// The lines of one event.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The event, by position in [`crate::read::Books::events`].
    pub event: usize,
    /// The name of the event; with the position of a line it stays for ever.
    pub id: String,
    /// The day it stands under.
    pub posted: Date,
    /// The currency of the books.
    pub currency: Currency,
    /// Its lines.
    pub lines: Vec<Line>,
}

/// One line of an entry.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The account.
    pub account: Account,
    /// The yard of goods on hand.
    pub yard: SmolStr,
    /// The party.
    pub party: SmolStr,
    /// The number of the party's paper.
    pub number: SmolStr,
    /// The shipment, by position in [`crate::read::Books::freezes`]; none for what is of no one shipment.
    pub shipment: Option<usize>,
    /// The charge, by its key.
    pub charge: SmolStr,
    /// How many slabs it is about.
    pub slabs: usize,
    /// The amount in its own currency, where that is not the book's; a debit is above nothing.
    pub amount: Option<Money>,
    /// The rate between the two.
    pub rate: Option<Quote>,
    /// The amount in minor units of the books; a debit is above nothing.
    pub book: i64,
}

impl Line {
    /// A line on an account.
    pub(super) fn on(account: Account, book: i64) -> Self {
        Self {
            account,
            yard: SmolStr::default(),
            party: SmolStr::default(),
            number: SmolStr::default(),
            shipment: None,
            charge: SmolStr::default(),
            slabs: 0,
            amount: None,
            rate: None,
            book,
        }
    }

    /// Whether it moves anything.
    pub(super) fn moves(&self) -> bool {
        self.book != 0 || self.amount.is_some()
    }

    /// Whether it is the line of what is the same but for its amounts.
    fn is_like(&self, other: &Self) -> bool {
        self.likeness() == other.likeness() && self.amount.is_none() && other.amount.is_none()
    }

    /// All but its amounts.
    fn likeness(&self) -> impl PartialEq + Hash + '_ {
        (self.account, self.shipment, &self.charge, &self.yard, &self.party, &self.number)
    }
}

/// Where the last line of each likeness stands in an entry, by its hash: a close has lines by the thousand.
pub(super) type Likes = FxHashMap<u64, usize>;

impl Entry {
    /// Adds a line; what is of one account, party, shipment and charge is one line.
    pub(super) fn add(&mut self, line: Line, likes: &mut Likes) -> Result<(), Overflow> {
        if line.book == 0 && line.amount.is_none_or(Money::is_zero) {
            return Ok(());
        }
        if line.amount.is_some() {
            self.lines.push(line);
            return Ok(());
        }
        let last = likes.entry(FxBuildHasher.hash_one(line.likeness())).or_insert(self.lines.len());
        match self.lines.get_mut(*last).filter(|own| own.is_like(&line)) {
            Some(own) => {
                own.book = checked(own.book, line.book)?;
                own.slabs += line.slabs;
            }
            None => {
                *last = self.lines.len();
                self.lines.push(line);
            }
        }
        Ok(())
    }

    /// What debits and credits come to together: nothing.
    ///
    /// # Errors
    /// Where the sum cannot be held.
    pub fn sum(&self) -> Result<i64, Overflow> {
        self.lines.iter().try_fold(0, |sum, line| checked(sum, line.book))
    }
}

/// The part of an amount in minor units that some of a whole is, rounded once; all of it of all.
///
/// # Errors
/// Where it cannot be held.
pub(super) fn part_of(
    amount: i64,
    (some, whole): (i64, i64),
    currency: Currency,
) -> Result<i64, Overflow> {
    if some == whole {
        return Ok(amount);
    }
    let exact = |minor: i64| Exact::from(Money::from_minor(minor, currency));
    exact(amount).share(&exact(some), &exact(whole)).round()?.minor()
}

/// A sum of minor units.
pub(super) fn checked(one: i64, other: i64) -> Result<i64, Overflow> {
    one.checked_add(other).ok_or(Overflow { what: "an amount of the ledger" })
}
