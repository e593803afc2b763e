//! The boxes already needed, filled with bundles like the offer's median one until none fits.
//!
//! Decided on 2026-11-27. The boxes stay as they are loaded, and what is added is made up: nobody offered it.
//! Prices by quantity, forwarders and the classes of the boxes are those of the full quantity.

use super::cheapest::Costed;
use super::more::with_bundles;
use crate::fault::At;
use crate::load::spare;
use crate::trade::{GivenBox, Shipment};

/// A shipment as it would be with its boxes full.
#[derive(Debug)]
pub struct Full {
    /// The shipment, with its load given.
    pub shipment: Shipment,
    /// How many bundles are added.
    pub added: usize,
}

/// A shipment with its boxes full, where one more bundle like its median one fits. `None`: nothing more fits, or
/// figures cannot be held.
pub fn full(shipment: &Shipment, costed: &Costed) -> Option<Full> {
    let plan = &costed.plan;
    let spare = spare(plan, &shipment.bundles).ok()??;
    if spare.bundles == 0 {
        return None;
    }
    let mut next = shipment.bundles.len();
    let mut larger = with_bundles(shipment, spare.like, next.checked_add(spare.bundles)?)?;
    let mut given = shipment.boxes.iter();
    for (filled, more) in plan.boxes.iter().zip(&spare.in_each) {
        let container = plan.variant(filled)?.container.id.clone();
        let place = &shipment.packing_file;
        let named = || GivenBox::named(filled.label.clone(), place.clone());
        let mut one = given.next().cloned().unwrap_or_else(named);
        one.kind = Some(At { value: container, place: place.clone() });
        one.places = Vec::new();
        one.bundles.clone_from(&filled.bundles);
        one.bundles.extend(next..next.checked_add(*more)?);
        next = next.checked_add(*more)?;
        larger.boxes.push(one);
    }
    Some(Full { shipment: larger, added: spare.bundles })
}
