//! The list of slabs on a day.

use super::entry::part_of;
use super::reserve::{Reservation, reservation};
use super::state::{ChargeState, Ledger, SlabState};
use super::whereabouts::Where;
use crate::quantity::Area;
use crate::trade::{Date, Freeze, FrozenLine, FrozenSlab, Treatment};

/// A slab of the list.
#[derive(Debug, Clone, Copy)]
pub struct Listed<'l> {
    /// The estimate it was booked by.
    pub freeze: &'l Freeze,
    /// The slab as it was packed, or the piece.
    pub slab: &'l FrozenSlab,
    /// Its line.
    pub line: &'l FrozenLine,
    /// How it stands.
    pub state: &'l SlabState,
    /// The days since it came to a yard.
    pub age: Option<i64>,
    /// What its booked estimate still brings, in minor units of the books: its share of the charges that are not
    /// owed yet.
    pub to_come: i64,
    /// Whether all that is part of its cost is billed.
    pub is_billed: bool,
    /// For whom it is set aside.
    pub reserved: Option<Reservation<'l>>,
}

impl<'l> Listed<'l> {
    /// Its gross area: as it was measured in the yard, where it was.
    pub fn gross(&self) -> Area {
        self.state.measured.unwrap_or(self.slab.gross)
    }

    /// What it costs with all that its estimate still brings, in minor units of the books.
    pub fn cost(&self) -> i64 {
        self.state.held + self.to_come
    }

    /// Its quality, as it was found.
    pub fn quality(&self) -> Option<&'l str> {
        self.state.quality.as_deref().or(self.slab.quality.as_deref())
    }
}

/// The slabs that are stock on a day, shipment by shipment, those that have cost before control passes among them;
/// with `all`, whatever became of them.
pub fn stock<'l>(ledger: &'l Ledger<'_>, on: Date, all: bool) -> Vec<Listed<'l>> {
    let mut listed = Vec::new();
    for (at, states) in ledger.slabs.iter().enumerate() {
        let Some(freeze) = ledger.freeze(at) else { continue };
        let charges = ledger.charges.get(at).map_or(&[][..], |charges| charges);
        let of_stock = |one: &&ChargeState| one.treatment == Treatment::Stock && !one.is_gone();
        let is_billed = charges.iter().filter(of_stock).all(|one| {
            let is_open = |open: usize| ledger.open.get(open).is_some_and(|open| open.amount != 0);
            one.owed.is_some() && !one.accrual.is_some_and(is_open)
        });
        let to_come = to_come(freeze, charges);
        let pieces = ledger.pieces.get(at).map_or(&[][..], |pieces| pieces);
        let slabs = freeze.slabs.iter().chain(pieces.iter().map(|piece| &piece.slab));
        for (position, (slab, state)) in slabs.zip(states).enumerate() {
            let Some(line) = freeze.lines.get(slab.line) else { continue };
            // A charge that is owed before control passes stands in transit, and its slabs with it.
            let is_charged = state.at == Where::Abroad && state.held != 0;
            if all && state.at != Where::Abroad || state.at.is_stock() || is_charged {
                listed.push(Listed {
                    freeze,
                    slab,
                    line,
                    state,
                    age: state.arrived.map(|arrived| (on - arrived).num_days()),
                    to_come: to_come.get(position).copied().unwrap_or(0),
                    is_billed,
                    reserved: reservation(&ledger.books.events, state, on),
                });
            }
        }
    }
    listed
}

/// What an estimate still brings to each of its slabs: of its share of each list of charges, what the charges make
/// that are part of cost and not owed yet. A piece of a slab has none: a slab is cut once it is here.
fn to_come(freeze: &Freeze, charges: &[ChargeState]) -> Vec<i64> {
    let mut lists = vec![(0_i64, 0_i64); freeze.sharings.len()];
    for (frozen, state) in freeze.charges.iter().zip(charges) {
        let own = lists.get_mut(frozen.sharing).filter(|_| frozen.treatment == Treatment::Stock);
        if let (Some((whole, waits)), Ok(book)) = (own, frozen.book.minor()) {
            *whole += book;
            *waits += if state.owed.is_none() { book } else { 0 };
        }
    }
    let mut all = vec![0; freeze.slabs.len()];
    let lists = freeze.sharings.iter().zip(lists).filter(|(_, (_, waits))| *waits != 0);
    for (sharing, (whole, waits)) in lists {
        for (slab, share) in sharing.slabs.iter().zip(&sharing.shares) {
            let part = part_of(*share, (waits, whole), freeze.currency);
            if let (Some(own), Ok(part)) = (all.get_mut(*slab), part) {
                *own += part;
            }
        }
    }
    all
}
