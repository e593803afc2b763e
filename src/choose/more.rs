//! A shipment with another number of bundles: what fuller boxes, the next step of a price or a range of
//! bundles come to.

use std::sync::Arc;

use crate::trade::{Covers, Shipment, Slab};

/// The shipment with so many bundles: its first ones, and then more like one of its own, by position. Nobody
/// sold so many. So the suppliers' totals and a given load are dropped. Where it has fewer, nothing may name
/// the bundles that are gone. `None`: there is no such bundle, or
/// they come of a block, which makes so many and no more.
pub fn with_bundles(shipment: &Shipment, like: usize, count: usize) -> Option<Shipment> {
    let bundle = shipment.bundles.get(like)?;
    if shipment.lines.iter().any(|line| line.sawing.is_some()) {
        return None;
    }
    let is_of = |slab: &&Slab| usize::try_from(slab.bundle) == Ok(like);
    let own: Vec<&Slab> = shipment.slabs.iter().filter(is_of).collect();
    let made_up = own.first().and_then(|slab| shipment.lines.get(usize::try_from(slab.line).ok()?));
    let made_up = made_up.filter(|line| line.nominal);
    let mut other = Shipment { boxes: Vec::new(), kept: None, ..shipment.clone() };
    other.bundles.truncate(count);
    let slabs = Arc::make_mut(&mut other.slabs);
    slabs.retain(|slab| usize::try_from(slab.bundle).is_ok_and(|at| at < count));
    for new in shipment.bundles.len()..count {
        let more = new - shipment.bundles.len() + 1;
        // One that is made up is called as a file with that number has it.
        let name = match made_up {
            Some(line) => format!("{}-B{}", line.id, new + 1),
            None => format!("{} more {more}", bundle.id),
        };
        for (at, slab) in own.iter().enumerate() {
            let id = match made_up {
                Some(_) => format!("{name}-{}", at + 1),
                None => format!("{} more {more}", slab.id),
            };
            let (id, bundle) = (id.into(), u32::try_from(new).ok()?);
            slabs.push(Slab { id, bundle, ..(*slab).clone() });
        }
        let mut bundle = bundle.clone();
        bundle.id = name.into();
        other.bundles.push(bundle);
    }
    let of_bills = other.bills.iter_mut().map(|bill| &mut bill.covers);
    let of_entries = other.filings.iter_mut().map(|filing| &mut filing.covers);
    for covers in of_bills.chain(of_entries) {
        if let Covers::Bundles(all) = covers
            && all.contains(&like)
        {
            all.extend(shipment.bundles.len()..count);
        }
    }
    let lines: Vec<usize> = (0..other.lines.len()).collect();
    other.leave_out_bills(&lines);
    Some(other)
}

/// The shipment with so many more bundles like one of its own, whatever its suppliers sell at least.
pub(super) fn with_more(shipment: &Shipment, like: usize, more: usize) -> Option<Shipment> {
    let mut larger = with_bundles(shipment, like, shipment.bundles.len().checked_add(more)?)?;
    for invoice in &mut larger.invoices {
        invoice.least = None;
    }
    Some(larger)
}
