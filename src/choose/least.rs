//! The least order of a supplier: what is missing of it.

use crate::bill::{free_slabs, ordered};
use crate::quantity::{Overflow, Units};
use crate::trade::{Bundle, Invoice, Least, Shipment};

/// An invoice under the least order of its supplier.
#[derive(Debug, Clone)]
pub struct UnderLeast {
    /// What is missing, in a sentence.
    pub what: String,
}

/// The invoices under their supplier's least order. `loaded` says how many boxes a shipment takes, `boxes`
/// how many this one has.
///
/// # Errors
/// Where a figure cannot be held exactly.
pub(super) fn under_least(
    shipment: &Shipment,
    boxes: usize,
    units: Units,
    loaded: impl Fn(&Shipment) -> Option<usize>,
) -> Result<Vec<UnderLeast>, Overflow> {
    let free = free_slabs(shipment);
    let mut all = Vec::new();
    for (at, invoice) in shipment.invoices.iter().enumerate() {
        let Some(least) = &invoice.least else { continue };
        let number = &invoice.number;
        let what = match least.value {
            Least::Goods(least) => {
                let has = ordered(shipment, &free, |line| line.invoice == at, least.by)?;
                let missing = least.figure.checked_sub(has.figure);
                let missing = missing.ok_or(Overflow { what: "a least order" })?;
                if has.figure >= least.figure {
                    continue;
                }
                format!(
                    "{number} is sold from {least} on, and has {has}; missing: {}",
                    least.of(missing)
                )
            }
            Least::Containers(_) => {
                let Some((larger, bundle)) = with_one_more(shipment) else { continue };
                // The boxes are full where one more bundle needs another.
                let fits = loaded(&larger).is_some_and(|larger| larger <= boxes);
                let full = if fits { boxes.saturating_sub(1) } else { boxes };
                if least.value.containers().is_none_or(|least| full >= least) {
                    continue;
                }
                let room = if fits {
                    format!("; there is room for another bundle of {}", bundle.mass.show(units))
                } else {
                    String::new()
                };
                format!(
                    "{number} is sold from {} on, and fills {full} of {boxes}{room}",
                    least.value
                )
            }
        };
        all.push(UnderLeast { what });
    }
    Ok(all)
}

/// The shipment with one more bundle like its median one, by mass, in boxes of our own.
fn with_one_more(shipment: &Shipment) -> Option<(Shipment, Bundle)> {
    let mut by_mass: Vec<usize> = (0..shipment.bundles.len()).collect();
    by_mass.sort_by_key(|at| shipment.bundles.get(*at).map(|bundle| bundle.mass));
    let median = *by_mass.get(by_mass.len() / 2)?;
    let bundle = shipment.bundles.get(median)?.clone();
    let invoices = shipment.invoices.iter().map(|one| Invoice { least: None, ..one.clone() });
    let mut larger = Shipment {
        invoices: invoices.collect(),
        boxes: Vec::new(),
        kept: None,
        ..shipment.clone()
    };
    let new = u32::try_from(larger.bundles.len()).ok()?;
    let own = shipment.slabs.iter().filter(|slab| usize::try_from(slab.bundle) == Ok(median));
    for (at, slab) in own.enumerate() {
        let mut slab = slab.clone();
        slab.bundle = new;
        slab.id = format!("{} more {at}", slab.id).into();
        larger.slabs.push(slab);
    }
    larger.bundles.push(Bundle { id: format!("{} more", bundle.id).into(), ..bundle.clone() });
    Some((larger, bundle))
}
