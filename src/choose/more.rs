//! A shipment with more bundles like one that it has: what a fuller box or the next step of a price comes to.

use crate::trade::{Covers, Invoice, Shipment};

/// The shipment with so many more bundles like one of its own, by position. Nobody sold them: what suppliers
/// made out for the quantity that is written is left out, and so are a least order and a load that is given.
/// `None`: there is no such bundle.
pub(super) fn with_more(shipment: &Shipment, like: usize, count: usize) -> Option<Shipment> {
    let bundle = shipment.bundles.get(like)?;
    let invoices = shipment.invoices.iter().map(|one| Invoice { least: None, ..one.clone() });
    let mut larger = Shipment {
        invoices: invoices.collect(),
        boxes: Vec::new(),
        kept: None,
        ..shipment.clone()
    };
    let own = shipment.slabs.iter().filter(|slab| usize::try_from(slab.bundle) == Ok(like));
    for more in 1..=count {
        let new = larger.bundles.len();
        for slab in own.clone() {
            let mut slab = slab.clone();
            slab.bundle = u32::try_from(new).ok()?;
            slab.id = format!("{} more {more}", slab.id).into();
            larger.slabs.push(slab);
        }
        let mut bundle = bundle.clone();
        bundle.id = format!("{} more {more}", bundle.id).into();
        larger.bundles.push(bundle);
        let of_bills = larger.bills.iter_mut().map(|bill| &mut bill.covers);
        let of_entries = larger.filings.iter_mut().map(|filing| &mut filing.covers);
        for covers in of_bills.chain(of_entries) {
            if let Covers::Bundles(all) = covers
                && all.contains(&like)
            {
                all.push(new);
            }
        }
    }
    let lines: Vec<usize> = (0..larger.lines.len()).collect();
    larger.leave_out_bills(&lines);
    Some(larger)
}
