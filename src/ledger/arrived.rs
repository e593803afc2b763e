//! What stood on the rack against the packing list, line by line and box by box.

use std::collections::BTreeMap;

use super::state::Ledger;
use super::whereabouts::Where;
use crate::quantity::{Area, Currency, Money, Overflow};
use crate::trade::{BookKind, Found, FoundState};

/// The slabs of one line of an invoice in one box.
#[derive(Debug, Clone)]
pub struct Arrived<'l> {
    /// The line.
    pub line: &'l str,
    /// The box.
    pub container: &'l str,
    /// How many slabs were packed, and what they measure.
    pub packed: usize,
    /// Their area.
    pub shipped: Area,
    /// How many have not arrived yet.
    pub waits: usize,
    /// How many were broken, and how many not there.
    pub broken: usize,
    /// How many were not there.
    pub short: usize,
    /// The area of both.
    pub lost: Area,
    /// What of their cost the sound slabs took, as its loss is normal.
    pub taken: Money,
    /// What of it is expensed.
    pub expensed: Money,
}

impl Arrived<'_> {
    /// How many stand on the rack as they were packed.
    pub fn sound(&self) -> usize {
        self.packed - self.waits - self.broken - self.short
    }
}

/// The lines of a shipment in its boxes, as they arrived.
///
/// # Errors
/// Where a sum cannot be held.
pub fn arrived<'l>(ledger: &'l Ledger<'_>, shipment: usize) -> Result<Vec<Arrived<'l>>, Overflow> {
    let Some(freeze) = ledger.freeze(shipment) else { return Ok(Vec::new()) };
    let found = self::found(ledger, shipment).map(|one| (one.slab.value.as_str(), one.state));
    let found: BTreeMap<&str, FoundState> = found.collect();
    let mut rows: BTreeMap<(usize, usize), Arrived<'l>> = BTreeMap::new();
    let states = ledger.slabs.get(shipment).map_or(&[][..], |slabs| slabs);
    for (slab, state) in freeze.slabs.iter().zip(states) {
        let line = freeze.lines.get(slab.line).map_or("", |line| &line.id);
        let container = freeze.boxes.get(slab.container).map_or("", |one| &one.label);
        let row = rows
            .entry((slab.container, slab.line))
            .or_insert_with(|| begun(line, container, freeze.currency));
        row.packed += 1;
        row.shipped = row.shipped.plus(slab.billed)?;
        row.waits += usize::from(matches!(state.at, Where::Abroad | Where::Transit));
        let how = found.get(slab.id.as_str()).filter(|_| state.at == Where::Lost);
        let Some(how) = how else { continue };
        row.broken += usize::from(*how == FoundState::Broken);
        row.short += usize::from(*how == FoundState::Short);
        row.lost = row.lost.plus(slab.billed)?;
        row.taken = row.taken.plus(Money::from_minor(state.given, freeze.currency))?;
        row.expensed = row.expensed.plus(Money::from_minor(state.held, freeze.currency))?;
    }
    Ok(rows.into_values().collect())
}

/// What was found otherwise than it was packed as the boxes of a shipment were unloaded.
pub fn found<'l>(ledger: &'l Ledger<'_>, shipment: usize) -> impl Iterator<Item = &'l Found> {
    let own = ledger.freeze(shipment).map(|freeze| freeze.shipment.as_str());
    let posted = ledger.entries.iter().filter(|one| !ledger.reversed.contains_key(&one.event));
    let events = posted.filter_map(|entry| ledger.books.events.get(entry.event));
    let found = events.filter(move |event| event.shipment.as_deref() == own).map(|event| {
        match &event.what {
            BookKind::Arrive { found, .. } => &found[..],
            _ => &[],
        }
    });
    found.flatten()
}

fn begun<'l>(line: &'l str, container: &'l str, currency: Currency) -> Arrived<'l> {
    Arrived {
        line,
        container,
        packed: 0,
        shipped: Area::ZERO,
        waits: 0,
        broken: 0,
        short: 0,
        lost: Area::ZERO,
        taken: Money::zero(currency),
        expensed: Money::zero(currency),
    }
}
