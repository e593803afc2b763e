//! Legs inside a seller's price, priced at our own rates: a memo to bargain with, never booked.
//!
//! Decided on 2026-11-25. Each leg is priced alone, in the boxes as loaded, at the cheapest offer. Entry and
//! duty are not among the legs.

use super::candidates::{offered, whole};
use super::cheapest::{Costed, ordered};
use crate::bill::{Charge, Sets};
use crate::charges::{Job, unchecked};
use crate::fault::tried;
use crate::price::{importer_bears, may_fit};
use crate::quantity::Money;
use crate::trade::{Incoterm, Invoice, Leg, Shipment, Tariffs};

/// A leg inside the price, at our own rates.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct OwnLeg {
    /// The leg.
    pub leg: Leg,
    /// What our own rates come to, at the cheapest offer, in the book currency.
    pub amount: Money,
}

/// The legs without a memo: goods, their packing, and services that only the importer of record can buy.
const NOT_OURS: [Leg; 4] = [Leg::Goods, Leg::ExportPacking, Leg::ImportClearance, Leg::DutyAndTax];

/// What the legs inside the sellers' prices would cost us, in the boxes as they are loaded: those
/// for which the tables have rows. Each leg is taken out of the price alone, all else as it is.
pub fn own_legs(shipment: &Shipment, tariffs: &Tariffs, costed: &Costed) -> Vec<OwnLeg> {
    let legs = Leg::ALL.iter().map(|(leg, _)| *leg).filter(|leg| !NOT_OURS.contains(leg));
    legs.filter_map(|leg| own_leg(shipment, tariffs, costed, leg)).collect()
}

fn own_leg(shipment: &Shipment, tariffs: &Tariffs, costed: &Costed, leg: Leg) -> Option<OwnLeg> {
    if shipment.carried().all(|invoice| importer_bears(invoice, leg)) {
        return None;
    }
    let rows = || tariffs.charges.iter().filter(|row| row.leg == leg && !row.by_importer);
    if !rows().any(|row| may_fit(shipment, row)) {
        return None;
    }
    let mut head = shipment.clone();
    head.invoices = shipment.invoices.iter().map(|invoice| without(invoice, leg)).collect();
    let sets = Sets::new(&head);
    let offered = tried(|report| offered(&head, tariffs, report))?;
    let amounts = whole(&offered).into_iter().filter_map(|choice| {
        let job = Job { shipment: &head, tariffs, plan: &costed.plan, choice: &choice };
        let order = ordered(&head, tariffs, &choice).ok()?;
        let charges = tried(|report| unchecked(job, &order, sets.clone(), report))?;
        // What is ours whatever the term is not inside the price.
        let of_row = |name: &str| rows().any(|row| row.name == name);
        let own = charges.iter().filter(|charge| charge.leg == leg && of_row(&charge.name));
        let amount = Money::total(shipment.yard.currency, own.map(Charge::book)).ok()?;
        (!amount.is_zero()).then_some(amount)
    });
    let amount = amounts.min_by_key(|amount| amount.amount())?;
    Some(OwnLeg { leg, amount })
}

/// The invoice with one more leg left to us: under EXW, with all else that its term has in the
/// price named as included.
fn without(invoice: &Invoice, leg: Leg) -> Invoice {
    let mut changed = invoice.clone();
    let sellers = Leg::ALL.iter().map(|(one, _)| *one).filter(|one| !importer_bears(invoice, *one));
    changed.includes = sellers.filter(|one| *one != leg).collect();
    changed.term.value.rule = Incoterm::Exw;
    changed
}
