//! The boxes already needed, filled with bundles like the offer's median one until none fits.
//!
//! Decided on 2026-11-27. The boxes stay as they are loaded, and what is added is made up: nobody offered it.
//! Prices by quantity, forwarders and the classes of the boxes are those of the full quantity.

use super::cheapest::Costed;
use super::more::with_bundles;
use crate::load::{given_again, spare};
use crate::trade::Shipment;

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
    let plan = &*costed.plan.to_top_up();
    let spare = spare(plan, &shipment.bundles).ok()??;
    if spare.bundles == 0 {
        return None;
    }
    let first = shipment.bundles.len();
    let mut larger = with_bundles(shipment, spare.like, first.checked_add(spare.bundles)?)?;
    larger.boxes = given_again(plan, (&shipment.boxes, &shipment.packing_file), |at, filled| {
        let more = |boxes: usize| first + spare.in_each.iter().take(boxes).sum::<usize>();
        filled.bundles.iter().copied().chain(more(at)..more(at + 1)).collect()
    })?;
    Some(Full { shipment: larger, added: spare.bundles })
}
