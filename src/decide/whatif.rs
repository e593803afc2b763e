//! What offers come to under changes: each change alone, and all of them together.

use rayon::prelude::*;

use super::change::{Change, Changed, changed};
use super::counter::{Bid, Cost};
use super::footing::Allowances;
use super::named::Named;
use super::part::Like;
use crate::trade::{Shipment, Tariffs};

/// The offers under some of the changes.
#[derive(Debug)]
pub struct Case {
    /// The changes, by position: none as offered.
    pub changes: Vec<usize>,
    /// What each offer comes to, or why it cannot be had so.
    pub costs: Vec<Result<Cost, String>>,
}

/// An offer whose cost is asked for, and how it is read again by other tables.
pub struct Asking<'a> {
    /// The offer.
    pub bid: Bid<'a>,
    /// Reads it again; what is wrong with it then, in a sentence.
    pub read: &'a (dyn Fn(&Tariffs) -> Result<Shipment, String> + Sync),
}

/// Costs some goods of offers, or all, as offered, under each change alone, and where there are several under
/// all together.
pub fn what_if(offers: &[Asking<'_>], goods: Option<&Like>, changes: &[Named]) -> Vec<Case> {
    let alone = (0..changes.len()).map(|at| vec![at]);
    let all = (changes.len() > 1).then(|| (0..changes.len()).collect());
    let cases: Vec<Vec<usize>> = std::iter::once(Vec::new()).chain(alone).chain(all).collect();
    let costed = cases.into_par_iter().map(|own| {
        let taken: Vec<&Named> = own.iter().filter_map(|at| changes.get(*at)).collect();
        let costs = offers.iter().enumerate().map(|(at, offer)| {
            let of_it = taken.iter().filter(|one| one.offer.is_none_or(|offer| offer == at));
            let changes: Vec<&Change> = of_it.map(|one| &one.change).collect();
            offer.cost(goods, &changes)
        });
        let costs = costs.collect();
        Case { changes: own, costs }
    });
    costed.collect()
}

impl<'a> Asking<'a> {
    /// The offer and its tables under changes.
    ///
    /// # Errors
    /// Why it cannot be had so.
    pub fn under(&self, changes: &[&Change]) -> Result<Changed<'a>, String> {
        changed((self.bid.shipment, self.bid.tariffs), changes, self.read)
    }

    fn cost(&self, goods: Option<&Like>, changes: &[&Change]) -> Result<Cost, String> {
        let under = self.under(changes)?;
        self.bid.on(&under).cost(goods, &under.0)
    }
}

impl<'a> Bid<'a> {
    /// The same offer under changes, its allowances by the tables so changed.
    #[must_use]
    pub fn on<'c>(&self, (shipment, tariffs): &'c Changed<'a>) -> Bid<'c>
    where
        'a: 'c,
    {
        let mut bid = Bid { shipment, tariffs, ..*self };
        if let Allowances::Table(_) = self.asked.allowances {
            bid.asked.allowances = Allowances::Table(tariffs);
        }
        bid
    }
}
