//! The slabs of a stock list by class: alike in all that a buyer asks for.

use std::collections::BTreeMap;

use crate::ledger::{Ledger, Listed, Where};
use crate::quantity::{Area, Currency, Length, Written};
use crate::trade::{Class, Freeze, SoldBy};

/// A slab of a class.
#[derive(Debug, Clone, Copy)]
pub struct Lot<'l> {
    /// The slab as the stock list has it.
    pub listed: Listed<'l>,
    /// The estimate it was booked by.
    pub freeze: &'l Freeze,
}

impl Lot<'_> {
    /// Its cost in minor units of the books, written down by nothing.
    pub fn cost(&self) -> i64 {
        self.listed.state.held
    }

    /// The currency of its books.
    pub fn currency(&self) -> Currency {
        self.freeze.currency
    }

    /// The area that is sold of it.
    pub fn area(&self, sold: SoldBy) -> Area {
        match sold {
            SoldBy::Gross => self.listed.slab.gross,
            SoldBy::Billed => self.listed.slab.billed,
        }
    }

    /// Its thickness.
    pub fn thickness(&self) -> Option<Length> {
        Length::read(&self.listed.line.thickness).ok()
    }

    /// Whether it stands in a yard.
    pub fn is_on_hand(&self) -> bool {
        matches!(self.listed.state.at, Where::Yard(_))
    }
}

/// The class of a slab: one on the way is counted to the yard it goes to.
pub(super) fn class_of(listed: &Listed<'_>, freeze: &Freeze) -> Class {
    let yard = match &listed.state.at {
        Where::Yard(yard) => yard.to_string(),
        _ => freeze.yard.clone(),
    };
    Class {
        stone: listed.line.stone.clone(),
        finish: listed.line.finish.clone(),
        thickness: listed.line.thickness.clone(),
        quality: listed.slab.quality.as_ref().map(ToString::to_string).unwrap_or_default(),
        yard,
    }
}

/// The slabs of a stock list by class, classes and slabs in order.
pub fn classes<'l>(ledger: &'l Ledger<'_>, listed: &[Listed<'l>]) -> BTreeMap<Class, Vec<Lot<'l>>> {
    let freezes: BTreeMap<&str, &Freeze> =
        ledger.books.freezes.iter().map(|one| (one.shipment.as_str(), one)).collect();
    let mut all: BTreeMap<Class, Vec<Lot<'l>>> = BTreeMap::new();
    for one in listed {
        let Some(freeze) = freezes.get(one.shipment) else { continue };
        all.entry(class_of(one, freeze)).or_default().push(Lot { listed: *one, freeze });
    }
    all
}
