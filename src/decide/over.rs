//! Which of two offers is the cheaper at each number of bundles: no one price answers that.
//!
//! Decided on 2026-11-27. Over the number of bundles a cost per area is a saw-tooth: a bundle more may take a box
//! more. So every number is costed, for nominal offers, and the answer is a list of all ranges.

use std::cmp::Ordering;

use rayon::prelude::*;

use super::counter::{Bid, Cost};
use super::part::Like;
use crate::trade::{Bundle, Covers, Shipment, Slab};

/// Two offers at one number of bundles.
#[derive(Debug, Clone)]
pub struct AtCount {
    /// The number of bundles.
    pub bundles: u32,
    /// What the offer comes to, or why it cannot be had so.
    pub own: Result<Cost, String>,
    /// What the other comes to.
    pub other: Result<Cost, String>,
}

/// Who is the cheaper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Winner {
    /// The offer.
    Own,
    /// The other.
    Other,
    /// Both cost the same.
    Both,
    /// Neither can be had so.
    None,
}

impl AtCount {
    /// Who is the cheaper per area, exactly; one that cannot be had is not.
    pub fn winner(&self) -> Winner {
        match (&self.own, &self.other) {
            (Ok(own), Ok(other)) => match own.per_area.cmp(&other.per_area) {
                Ordering::Less => Winner::Own,
                Ordering::Greater => Winner::Other,
                Ordering::Equal => Winner::Both,
            },
            (Ok(_), Err(_)) => Winner::Own,
            (Err(_), Ok(_)) => Winner::Other,
            (Err(_), Err(_)) => Winner::None,
        }
    }
}

/// Costs two offers at each number of bundles from the first to the last. `None`: one of them is no nominal
/// offer of bundles that are all alike, or what it is filed or loaded by names single bundles.
pub fn over_bundles(
    own: &Bid<'_>,
    other: &Bid<'_>,
    goods: &Like,
    (first, last): (u32, u32),
) -> Option<Vec<AtCount>> {
    let counts: Vec<u32> = (first..=last).collect();
    let at = |bundles: &u32| -> Option<AtCount> {
        let cost = |bid: &Bid<'_>| Some(bid.cost(goods, &of_bundles(bid.shipment, *bundles)?));
        Some(AtCount { bundles: *bundles, own: cost(own)?, other: cost(other)? })
    };
    counts.par_iter().map(at).collect()
}

/// The numbers in ranges of one winner, by their ends.
pub fn ranges(all: &[AtCount]) -> Vec<(&AtCount, &AtCount)> {
    let mut ranges: Vec<(&AtCount, &AtCount)> = Vec::new();
    for one in all {
        match ranges.last_mut() {
            Some((first, last)) if first.winner() == one.winner() => *last = one,
            _ => ranges.push((one, one)),
        }
    }
    ranges
}

/// A nominal shipment with another number of bundles, named as a file with that number has them.
fn of_bundles(shipment: &Shipment, count: u32) -> Option<Shipment> {
    let [line] = &shipment.lines[..] else { return None };
    let first = shipment.bundles.first()?;
    let is_alike = |bundle: &Bundle| {
        (bundle.slabs, bundle.mass, bundle.length) == (first.slabs, first.mass, first.length)
    };
    let load = &shipment.load;
    let names_some = !(load.together.is_empty() && load.apart.is_empty() && load.fixed.is_empty());
    let lists = |covers: &Covers| matches!(covers, Covers::Bundles(_));
    let is_listed = shipment.bills.iter().any(|bill| lists(&bill.covers))
        || shipment.filings.iter().any(|filing| lists(&filing.covers));
    if !line.nominal || !shipment.bundles.iter().all(is_alike) || names_some || is_listed {
        return None;
    }
    let slabs: Vec<&Slab> = shipment.slabs.iter().filter(|slab| slab.bundle == 0).collect();
    let mut other = Shipment {
        bundles: Vec::new(),
        slabs: Vec::new(),
        boxes: Vec::new(),
        kept: None,
        ..shipment.clone()
    };
    other.leave_out_bills(&[0]);
    for bundle in 0..count {
        let name = format!("{}-B{}", line.id, bundle + 1);
        for (at, slab) in slabs.iter().enumerate() {
            let id = format!("{name}-{}", at + 1).into();
            other.slabs.push(Slab { id, bundle, ..(*slab).clone() });
        }
        other.bundles.push(Bundle { id: name.into(), ..first.clone() });
    }
    Some(other)
}
