//! The least order of a supplier: what is missing of it.

use super::more::with_more;
use crate::bill::{free_slabs, ordered};
use crate::load::median;
use crate::quantity::{Overflow, Units};
use crate::trade::{Bundle, Least, Shipment};

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

/// The shipment with one more bundle like its median one, in boxes of our own.
fn with_one_more(shipment: &Shipment) -> Option<(Shipment, &Bundle)> {
    let like = median(&shipment.bundles)?;
    Some((with_more(shipment, like, 1)?, shipment.bundles.get(like)?))
}
